//! Fixes that leave and come back within minutes teach nothing of the anchor: while they are away the slow account
//! stands still. And satellites that stand worse than usual tonight.

use super::quantile::Quantile;
use super::tuning::{excursion as tuning, noise};

/// How long the bow has been shown far beyond the reach.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Excursion {
    lasts_s: f64,
}

impl Excursion {
    /// A step in which the bow lay `beyond_m` beyond the reach, fixes wandering by `quiet_m`; true while it may be one.
    pub fn step(&mut self, beyond_m: f64, quiet_m: f64, length_s: f64) -> bool {
        if beyond_m > tuning::BEYOND_M.max(tuning::BEYOND * quiet_m) {
            self.lasts_s += length_s;
        } else if self.lasts_s < tuning::MOST_S {
            self.lasts_s = (self.lasts_s - tuning::FORGOTTEN * length_s).max(0.0);
        } else {
            self.lasts_s = 0.0;
        }
        self.lasts_s > 0.0 && self.lasts_s < tuning::MOST_S
    }
}

/// How the satellites stand, against how they usually stand tonight.
#[derive(Clone, Copy, Debug)]
pub(super) struct Geometry {
    usual: Quantile,
    now: Option<f64>,
}

impl Geometry {
    pub fn new() -> Self {
        Self { usual: Quantile::median(1.0), now: None }
    }

    /// The highest HDOP of a step, where it is known.
    pub fn step(&mut self, hdop: Option<f64>) {
        self.now = hdop.filter(|hdop| *hdop > 0.0);
        if let Some(hdop) = self.now {
            self.usual.push(hdop);
        }
    }

    /// The weight of a step in the slow account.
    pub fn weight(&self) -> f64 {
        match self.now {
            Some(hdop) if hdop > self.usual.value() + noise::HDOP_SLOW => (self.usual.value() / hdop).powi(2),
            _ => 1.0,
        }
    }

    /// Bursts are likelier.
    pub fn is_poor(&self) -> bool {
        self.now.is_some_and(|hdop| hdop > self.usual.value() + noise::HDOP_BURST)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_excursion_is_one_for_minutes_and_a_departure_after_that() {
        let mut excursion = Excursion::default();
        let away: Vec<bool> = (0..60).map(|_| excursion.step(12.0, 1.5, 5.0)).collect();
        assert!(away[..47].iter().all(|is_one| *is_one) && away[47..].iter().all(|is_one| !*is_one));
        assert!(!excursion.step(0.0, 1.5, 5.0));
        assert!(!excursion.step(3.9, 1.0, 5.0));
    }

    #[test]
    fn satellites_that_stand_worse_than_tonights_usual_weigh_less() {
        let mut geometry = Geometry::new();
        for _ in 0..500 {
            geometry.step(Some(0.9));
        }
        assert_eq!((geometry.weight(), geometry.is_poor()), (1.0, false));
        geometry.step(Some(1.8));
        assert!(geometry.weight() < 0.3 && geometry.is_poor(), "{geometry:?}");
        geometry.step(None);
        assert_eq!((geometry.weight(), geometry.is_poor()), (1.0, false));
    }
}
