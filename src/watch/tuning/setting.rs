//! Setting the anchor: pulls, soundings, and leaving her.

use crate::watch::units::Span;

/// Pulls that are kept.
pub const PULLS_MAX: usize = 12;
/// What is over sooner is no pull, but a key pressed twice: in less no speed can be judged. Our choice.
pub const PULL_LEAST: Span = Span::from_secs(5);
/// Seconds before a pull that are kept.
pub const RECENT: usize = 10;
/// Evidence from which leaving her is reasonable, percent: about half an hour in 10 kn of wind after pulls that held.
/// Common practice, no source.
pub const LEAVE_PERCENT: f64 = 60.0;
/// With so much the wind has proved it, pulls or no pulls, percent.
pub const PROVED_BY_WIND_PERCENT: f64 = 80.0;
/// Time that must pass before she is left in any case: common practice, no source.
pub const LEAVE_AFTER: Span = Span::from_mins(20);
/// How far the sounder sits aft of the bow, as a share of her length: ahead of the keel. Common practice, no source.
pub const SOUNDER_AFT: f64 = 0.4;
/// The last metre is not counted.
pub const COUNTED_M: f64 = 1.0;
