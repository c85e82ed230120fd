//! How much do this receiver's fixes wander, here and tonight?

use std::collections::VecDeque;

use crate::watch::geo::Local;

/// Follows a quantile of a stream of positive numbers by a fixed share at a time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quantile {
    pub value: f64,
    share: f64,
    pace: f64,
    seen: f64,
}

impl Quantile {
    pub fn new(start: f64, share: f64, pace: f64) -> Self {
        Self { value: start, share, pace, seen: 0.0 }
    }

    pub fn push(&mut self, x: f64) {
        let below = if x < self.value { 1.0 } else { 0.0 };
        // Quick at first, then at its own pace.
        self.seen = (self.seen + 1.0).min(1000.0);
        let pace = self.pace.max(1.0 / (3.0 + self.seen / 4.0));
        self.value *= (pace * (self.share - below)).exp();
        self.value = self.value.clamp(0.02, 50.0);
    }
}

fn ramp(x: f64, from: f64, to: f64) -> f64 {
    ((x - from) / (to - from)).clamp(0.0, 1.0)
}

/// Learns the error over minutes from the distance between anchor and bow, which in truth hardly changes.
#[derive(Clone, Debug)]
pub(super) struct Noise {
    distances: VecDeque<f64>,
    pub half_minute: Quantile,
    pub minute: Quantile,
    pub two_minutes: Quantile,
    last_velocity: Option<Local>,
    /// Mean square of the change of velocity from second to second, over half a minute.
    rough2: f64,
    usual_rough: Quantile,
    hdop: Option<f64>,
    usual_hdop: Option<Quantile>,
    /// How surely the reflections are bad now, `0..=1`.
    pub burst: f64,
}

impl Noise {
    pub fn new() -> Self {
        Self {
            distances: VecDeque::new(),
            half_minute: Quantile::new(0.8, 0.5, 0.02),
            minute: Quantile::new(1.0, 0.5, 0.02),
            two_minutes: Quantile::new(1.2, 0.5, 0.02),
            last_velocity: None,
            rough2: 0.0,
            usual_rough: Quantile::new(0.1, 0.5, 0.02),
            hdop: None,
            usual_hdop: None,
            burst: 0.0,
        }
    }

    pub fn gap(&mut self) {
        self.distances.clear();
        self.last_velocity = None;
    }

    /// One second's velocity and HDOP.
    pub fn second(&mut self, velocity: Option<Local>, hdop: Option<f64>) {
        if let (Some(now), Some(before)) = (velocity, self.last_velocity) {
            let change = now - before;
            self.rough2 += (change.dot(change) - self.rough2) / 30.0;
        }
        self.last_velocity = velocity;
        self.hdop = hdop;
    }

    /// Ends a step of 5 s.
    pub fn judge_burst(&mut self) {
        let rough = self.rough2.sqrt();
        let by_velocity = ramp(rough / self.usual_rough.value.max(0.05), 2.0, 3.5);
        self.usual_rough.push(rough.max(0.021));
        let by_hdop = match (self.hdop, &mut self.usual_hdop) {
            (Some(hdop), Some(usual)) => {
                let ratio = hdop / usual.value;
                usual.push(hdop);
                ramp(ratio, 1.06, 1.2)
            }
            (Some(hdop), None) => {
                self.usual_hdop = Some(Quantile::new(hdop, 0.5, 0.01));
                0.0
            }
            _ => 0.0,
        };
        let now = by_velocity.max(by_hdop);
        // Reflections do not end with the second in which they are last seen.
        self.burst = now.max(self.burst * (-5.0_f64 / 90.0).exp());
    }

    pub fn push(&mut self, distance_m: f64) {
        self.distances.push_back(distance_m);
        if self.distances.len() > 25 {
            self.distances.pop_front();
        }
        let n = self.distances.len();
        let lag = |k: usize| (n > k).then(|| (distance_m - self.distances[n - 1 - k]).abs());
        let (a, b, c) = (lag(6), lag(12), lag(24));
        if let Some(x) = a {
            self.half_minute.push(x);
        }
        if let Some(x) = b {
            self.minute.push(x);
        }
        if let Some(x) = c {
            self.two_minutes.push(x);
        }
    }
}
