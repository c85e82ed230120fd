//! Chance: seeded generators, and noise with a memory.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng as _;

use super::exact::{exp, log};

/// A seeded source of chance. Every part of the simulator has one of its own, so that the same boat lies in the
/// same wind whatever instruments look on.
#[derive(Clone, Debug)]
pub struct Dice {
    generator: Pcg32,
    spare: Option<f64>,
}

impl Dice {
    /// The generator number `stream` of the family `seed`.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        Self { generator: Pcg32::new(seed, stream), spare: None }
    }

    /// Evenly from `0.0..1.0`.
    pub fn unit(&mut self) -> f64 {
        // The upper 53 bits fill a double's mantissa.
        (self.generator.next_u64() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    /// Evenly from `low..high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly by ratio from `low..high`, both above zero.
    pub fn ratio_between(&mut self, low: f64, high: f64) -> f64 {
        low * exp(self.unit() * log(high / low))
    }

    /// True once in `1/probability` times.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Either sign.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// One index of `0..count`; `count` is at least 1.
    pub fn index(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Gaussian with mean 0 and standard deviation 1.
    ///
    /// # Source
    /// Polar method: Marsaglia and Bray 1964, SIAM Review 6.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.unit() - 1.0, 2.0 * self.unit() - 1.0);
            let s = x * x + y * y;
            if s > 0.0 && s < 1.0 {
                let scale = (-2.0 * log(s) / s).sqrt();
                self.spare = Some(y * scale);
                return x * scale;
            }
        }
    }

    /// How long until the next of events that come `per_hour` times an hour, seconds; endless when they never come.
    pub fn wait_s(&mut self, per_hour: f64) -> f64 {
        if per_hour <= 0.0 { f64::INFINITY } else { -log(1.0 - self.unit()) * 3600.0 / per_hour }
    }
}

/// Noise that forgets: a first-order Gauss-Markov (Ornstein-Uhlenbeck) process with mean 0.
///
/// Its autocorrelation falls to 1/e after `tau` seconds.
#[derive(Clone, Debug)]
pub(super) struct Drift {
    value: f64,
    keep: f64,
    kick: f64,
}

impl Drift {
    /// In its stationary state, with standard deviation `sigma`, for steps of `step_s` seconds.
    pub(super) fn new(sigma: f64, tau_s: f64, step_s: f64, dice: &mut Dice) -> Self {
        let keep = exp(-step_s / tau_s);
        Self { value: sigma * dice.normal(), keep, kick: sigma * (1.0 - keep * keep).sqrt() }
    }

    /// The next value.
    pub(super) fn step(&mut self, dice: &mut Dice) -> f64 {
        self.value = self.value * self.keep + self.kick * dice.normal();
        self.value
    }

    /// The value now.
    pub(super) fn value(&self) -> f64 {
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaussians_have_mean_0_and_deviation_1() {
        let mut dice = Dice::new(1, 1);
        let draws: Vec<f64> = (0..100_000).map(|_| dice.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 1e5;
        let variance = draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 1e5;
        assert!(mean.abs() < 0.015 && (variance - 1.0).abs() < 0.02, "{mean} {variance}");
    }

    #[test]
    fn a_drift_forgets_within_its_time() {
        let mut dice = Dice::new(2, 1);
        let mut drift = Drift::new(2.0, 50.0, 1.0, &mut dice);
        let values: Vec<f64> = (0..200_000).map(|_| drift.step(&mut dice)).collect();
        let at_lag = |lag: usize| values.iter().zip(&values[lag..]).map(|(a, b)| a * b).sum::<f64>() / 2e5;
        assert!((at_lag(0) - 4.0).abs() < 0.4, "{}", at_lag(0));
        assert!((at_lag(50) / at_lag(0) - (-1f64).exp()).abs() < 0.06, "{}", at_lag(50) / at_lag(0));
    }
}
