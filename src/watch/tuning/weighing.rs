//! Heaving in.

use crate::watch::units::{Knots, Metres, Span};

/// The rode that is left may be so much longer than from roller to bottom and still lead straight down: what lies in
/// the anchor's own shank, and the last mark's error.
pub const STRAIGHT_M: f64 = 1.5;
/// She is plainly under way when she is so far beyond all the rode that was out, at this speed, for so long.
pub const BEYOND: Metres = Metres(200.0);
pub const UNDER_WAY: Knots = Knots(2.0);
pub const UNDER_WAY_FOR: Span = Span::from_secs(60);
/// Drift is shown for so long after the anchor is aweigh.
pub const AFTER: Span = Span::from_mins(15);
