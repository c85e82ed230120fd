//! Means of directions, where 350° and 10° lie twenty degrees apart.

use super::units::TrueBearing;

/// Below this resultant length the directions scatter all round and their mean means nothing.
///
/// Source: `R` of a uniform scatter of n directions is about `1/√n` (Mardia & Jupp 2000, *Directional Statistics*,
/// §4.7, from memory): 0.05 is that of 400 directions.
pub const RESULTANT_MIN: f64 = 0.05;

/// A direction as its sine and cosine, so that sums need no trigonometry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    sin: f64,
    cos: f64,
}

impl Unit {
    /// The unit vector that points in `direction`.
    #[must_use]
    pub fn of(direction: TrueBearing) -> Self {
        let (sin, cos) = direction.radians().sin_cos();
        Self { sin, cos }
    }
}

/// The vector sum of directions, each with its weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DirectionMean {
    sin: f64,
    cos: f64,
    weight: f64,
}

impl DirectionMean {
    /// Adds one direction. A weight of 0 or less adds nothing.
    pub fn add(&mut self, direction: TrueBearing, weight: f64) {
        self.add_unit(Unit::of(direction), weight);
    }

    /// Adds one direction that is a unit vector already.
    pub fn add_unit(&mut self, unit: Unit, weight: f64) {
        if weight > 0.0 {
            self.sin += weight * unit.sin;
            self.cos += weight * unit.cos;
            self.weight += weight;
        }
    }

    /// Adds every direction of another sum.
    pub fn merge(&mut self, other: &Self) {
        self.sin += other.sin;
        self.cos += other.cos;
        self.weight += other.weight;
    }

    /// Resultant length, `0.0..=1.0`: 1 when all directions agree. 0 when there are none.
    #[must_use]
    pub fn resultant(&self) -> f64 {
        if self.weight > 0.0 { (self.sin.hypot(self.cos) / self.weight).min(1.0) } else { 0.0 }
    }

    /// The mean direction; `None` where the directions scatter too widely to have one.
    #[must_use]
    pub fn mean(&self) -> Option<TrueBearing> {
        (self.resultant() >= RESULTANT_MIN).then(|| TrueBearing::new(self.sin.atan2(self.cos).to_degrees()))
    }

    /// Circular standard deviation in degrees, `√(−2 ln R)`; infinite where there is no mean.
    ///
    /// # Source
    /// Mardia & Jupp 2000, *Directional Statistics*, eq. 2.3.11 (number from memory).
    #[must_use]
    pub fn deviation_deg(&self) -> f64 {
        (-2.0 * self.resultant().ln()).sqrt().to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_north_by_two_sides_is_north() {
        let mut mean = DirectionMean::default();
        mean.add(TrueBearing::new(350.0), 1.0);
        mean.add(TrueBearing::new(10.0), 1.0);
        assert!(mean.mean().unwrap().turn_to(TrueBearing::new(0.0)).abs() < 1e-9);
    }

    #[test]
    fn opposite_directions_have_no_mean() {
        let mut mean = DirectionMean::default();
        assert_eq!(mean.mean(), None);
        mean.add(TrueBearing::new(90.0), 1.0);
        mean.add(TrueBearing::new(270.0), 1.0);
        assert_eq!(mean.mean(), None);
    }
}
