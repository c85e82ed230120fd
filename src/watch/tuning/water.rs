//! How far ahead and behind the water is worked out.

use crate::watch::units::Span;

/// How far the crew looks ahead: past the next high and the next low water, both.
pub const AHEAD: Span = Span::from_mins(13 * 60);
/// How far the curve looks back.
pub const BEHIND: Span = Span::from_mins(12 * 60);
/// One point of the curve.
pub const CURVE_STEP: Span = Span::from_mins(10);
/// The outlook is made anew this often.
pub const OUTLOOK_AGE: Span = Span::from_mins(5);
