//! A pull of the engine: did she come home, plough, or hold?

use crate::watch::units::Span;

/// Seconds of a pull that are kept: nobody pulls for longer, and a forgotten key must not grow memory.
pub const KEPT: usize = 600;
/// What counts as the place before the pull: the mean of the last seconds.
pub const BEFORE: Span = Span::from_secs(5);
/// A speed is taken over so many seconds at most, and at least.
pub const WINDOW_S: f64 = 15.0;
pub const WINDOW_LEAST_S: f64 = 6.0;
/// Positions in a window, at least.
pub const WINDOW_POINTS: usize = 5;
/// Slower than this she lies still, metres a minute: 0.1 kn is 3.
pub const STILL_M_PER_MIN: f64 = 3.0;
/// Faster than this, with a steady pull and a rode that is all but straight, the anchor comes with her. Slower it may
/// still be chain that is drawn straight over the ground.
pub const COMES_M_PER_MIN: f64 = 8.0;
/// What she goes away while lying still, and is not the anchor's doing: chain lifts, snubber and bow give.
pub const GIVES_M: f64 = 1.5;
/// And an anchor that ploughs goes on at this speed at least, metres a minute.
pub const PLOUGHS_M_PER_MIN: f64 = 1.0;
/// A position no older than this is now.
pub const NOW: Span = Span::from_secs(5);
/// Errors so large that nothing can be judged, metres a minute.
pub const TOO_ROUGH_M_PER_MIN: f64 = 9.0;
/// With the engine astern and a rode on her bow she does not go ahead: a position that says so is wrong.
pub const AHEAD_M_PER_MIN: f64 = 5.0;
/// A receiver whose positions wander so far from its own velocity, over the last seconds, sees reflections.
pub const UNEXPLAINED_M: f64 = 3.0;
pub const UNEXPLAINED_WITHIN_S: f64 = 45.0;
/// A receiver that prints the same position for so long does not show slow movement at all; looked for in the last seconds.
pub const STUCK_S: f64 = 5.0;
pub const STUCK_WITHIN_S: f64 = 30.0;
/// Nearer than so much to the reach the rode is all but straight, and so much beyond it the anchor has come along.
/// Chain that hangs in a curve, and the mark's own error.
pub const STRAIGHT_M: f64 = 2.0;
/// A rode that stops her by so much nearer than it reaches is short: share of the reach, and metres.
pub const SHORT_SHARE: f64 = 0.1;
pub const SHORT_M: f64 = 4.0;
/// How slowly a receiver's error changes: the 390 s measured on receivers at rest (`docs/inside/holding.md`), rounded down.
pub const ERROR_LASTS_S: f64 = 300.0;
/// The part of a receiver's error that changes from second to second.
pub const JITTER: f64 = 0.1;
