//! How much do this receiver's fixes wander, here and tonight?

use std::collections::VecDeque;

use super::quantile::Quantile;

/// Steps of 5 s in the three spans over which a change is taken: half a minute, one, two.
const SPANS: [usize; 3] = [6, 12, 24];

/// Learns the error over minutes from the distance between anchor and bow, which in truth hardly changes.
#[derive(Clone, Debug)]
pub(super) struct Noise {
    /// Of the last two minutes, one a step, oldest first.
    distances: VecDeque<f64>,
    half_minute: Quantile,
    minute: Quantile,
    two_minutes: Quantile,
}

impl Noise {
    pub fn new() -> Self {
        Self {
            distances: VecDeque::new(),
            half_minute: Quantile::median(0.8),
            minute: Quantile::median(1.0),
            two_minutes: Quantile::median(1.2),
        }
    }

    /// After a gap the last minutes have nothing to say.
    pub fn gap(&mut self) {
        self.distances.clear();
    }

    /// Ends a step: the distance from the best place for the anchor to the bow, learned from if `learns`.
    pub fn step(&mut self, learns: bool, distance_m: f64) {
        if learns {
            self.follow_distance(distance_m);
        } else {
            self.distances.clear();
        }
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
