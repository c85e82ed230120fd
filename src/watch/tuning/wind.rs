//! Means and gusts.

use crate::watch::units::Knots;

/// Length of the mean and of the gust's search, seconds.
pub const MEAN_S: usize = 600;
/// Length of a gust, seconds.
pub const GUST_S: usize = 3;
/// Below this the vane wanders; such seconds have no direction (common practice, no source).
pub const DIRECTION_FROM: Knots = Knots(2.0);
