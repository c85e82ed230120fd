//! How much do this receiver's fixes wander, here and tonight, and does its velocity say that she goes astern?

use std::collections::VecDeque;

use super::quantile::Quantile;
use crate::watch::geo::Local;

/// Steps of 5 s in the three spans over which sternway is summed: half a minute, one, two.
const SPANS: [usize; 3] = [6, 12, 24];

/// Learns the error over minutes from the distance between anchor and bow, which in truth hardly changes.
#[derive(Clone, Debug)]
pub(super) struct Noise {
    /// Of the last two minutes, one a step, oldest first.
    distances: VecDeque<f64>,
    half_minute: Quantile,
    minute: Quantile,
    two_minutes: Quantile,
    last_velocity: Option<Local>,
    /// Mean square of the change of velocity from second to second, over half a minute.
    rough2: f64,
    usual_rough: Quantile,
    /// Sum and count of the velocities of this step.
    step_velocity: (Local, u32),
    /// Metres astern in each step of the last two minutes by the velocity, oldest first.
    astern: VecDeque<f64>,
    usual_astern: [Quantile; 3],
    sternway: f64,
}

impl Noise {
    pub fn new() -> Self {
        Self {
            distances: VecDeque::new(),
            half_minute: Quantile::median(0.8),
            minute: Quantile::median(1.0),
            two_minutes: Quantile::median(1.2),
            last_velocity: None,
            rough2: 0.0,
            usual_rough: Quantile::median(0.1),
            step_velocity: (Local::default(), 0),
            astern: VecDeque::new(),
            usual_astern: [0.8, 1.0, 1.4].map(Quantile::median),
            sternway: 0.0,
        }
    }

    /// After a gap the last minutes have nothing to say.
    pub fn gap(&mut self) {
        self.distances.clear();
        self.astern.clear();
        self.step_velocity = (Local::default(), 0);
        self.last_velocity = None;
        self.sternway = 0.0;
    }

    /// One second's velocity, m/s, where the receiver gives it.
    pub fn second(&mut self, velocity: Option<Local>) {
        if let (Some(now), Some(before)) = (velocity, self.last_velocity) {
            let change = now - before;
            self.rough2 += (change.dot(change) - self.rough2) / 30.0;
        }
        self.last_velocity = velocity;
        if let Some(velocity) = velocity {
            let (sum, count) = self.step_velocity;
            self.step_velocity = (sum + velocity, count + 1);
        }
    }

    /// Ends a step: `lies`, from the best place for the anchor to the bow; its length is learned from if `learns`.
    pub fn step(&mut self, learns: bool, lies: Local, length_s: f64) {
        let distance_m = lies.length_m();
        if learns {
            self.follow_distance(distance_m);
        } else {
            self.distances.clear();
        }
        self.usual_rough.push(self.rough2.sqrt());
        self.follow_sternway(lies.scaled(1.0 / distance_m.max(1e-9)), length_s);
    }

    fn follow_distance(&mut self, distance_m: f64) {
        self.distances.push_back(distance_m);
        if self.distances.len() > SPANS[2] + 1 {
            self.distances.pop_front();
        }
        let medians = [&mut self.half_minute, &mut self.minute, &mut self.two_minutes];
        for (median, span) in medians.into_iter().zip(SPANS) {
            if let Some(before) = self.distances.iter().rev().nth(span) {
                median.push((distance_m - before).abs());
            }
        }
    }

    fn follow_sternway(&mut self, astern: Local, length_s: f64) {
        let (sum, count) = std::mem::take(&mut self.step_velocity);
        self.sternway = 0.0;
        if count == 0 {
            self.astern.clear();
            return;
        }
        self.astern.push_back(sum.dot(astern) / f64::from(count) * length_s);
        if self.astern.len() > SPANS[2] {
            self.astern.pop_front();
        }
        // A velocity that shakes more than usual goes with reflections and is believed so much less.
        let shakes = (self.rough2.sqrt() / self.usual_rough.value().max(0.05)).max(1.0);
        for (usual, span) in self.usual_astern.iter_mut().zip(SPANS) {
            if self.astern.len() < span {
                break;
            }
            let metres: f64 = self.astern.iter().rev().take(span).sum();
            let sigma = (1.5 * usual.value()).max(1.0) * shakes;
            let z = metres.max(0.0) / sigma;
            self.sternway = self.sternway.max(0.5 * z * z);
            usual.push(metres.abs());
        }
    }

    /// What the receiver's velocity says for sternway over the last half, one or two minutes, against what it usually
    /// says of her tonight: nats.
    ///
    /// A receiver that prints 0.0, or whose velocity goes with its reflections, has shown so and is not leant on.
    pub fn sternway_nats(&self) -> f64 {
        self.sternway
    }

    /// Median change of the distance within a minute, metres.
    pub fn minute_m(&self) -> f64 {
        self.minute.value()
    }

    /// Share of the variance over a minute that is left in a mean over five, `0.12..=0.5`.
    ///
    /// Errors forgotten within half a minute change the distance as much in half a minute as in two; those with a
    /// longer memory do not, and a mean takes less of them. For an error of memory τ the squared changes go as
    /// 1 − e^(−t/τ) and a mean of memory T keeps τ/(τ + T) of the variance; the line lies above that, for bursts.
    pub fn share_kept(&self) -> f64 {
        let ratio = (self.half_minute.value() / self.two_minutes.value()).powi(2);
        (0.5 - 1.5 * (ratio - 0.35)).clamp(0.12, 0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steady_sternway_is_evidence_and_a_receiver_that_says_zero_gives_none() {
        let out = Local::new(0.0, 1.0);
        for (speed, least, most) in [(0.0, 0.0, 0.0), (0.3, 8.0, f64::INFINITY)] {
            let mut noise = Noise::new();
            for step in 0..200 {
                let speed = if step < 180 { 0.0 } else { speed };
                for _ in 0..5 {
                    noise.second(Some(out.scaled(speed)));
                }
                noise.step(true, out.scaled(30.0), 5.0);
            }
            assert!((least..=most).contains(&noise.sternway_nats()), "{speed}: {}", noise.sternway_nats());
        }
    }
}
