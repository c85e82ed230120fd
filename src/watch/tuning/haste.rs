//! When is the next round due earlier?

use crate::watch::latch::Patience;
use crate::watch::units::{Knots, Span};

/// No round is due sooner than this after the last, however it blows: the watchkeeper needs to sit down.
pub const LEAST_INTERVAL: Span = Span::from_mins(10);
/// Shares of the crew's limits from which rounds come sooner: common practice, no source.
pub const WINDY_SHARE: f64 = 0.75;
pub const RISING_SHARE: f64 = 0.5;
pub const SHIFT_SHARE: f64 = 0.6;
pub const EVIDENCE: f64 = 0.5;
/// So much more wind than half an hour before is rising.
pub const RISES: Knots = Knots(5.0);
pub const RISES_OVER_MIN: usize = 30;
/// Means change slowly: looked at this often.
pub const HASTE_LOOKED_AT: Span = Span::from_secs(10);
/// What shortens the interval must last a little, and be gone for longer before it is forgotten: the time of the next
/// round must not jump about.
pub const PATIENCE: Patience = Patience { on: Span::from_mins(2), off: Span::from_mins(15) };
