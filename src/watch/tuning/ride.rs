//! How long a mark that was asked for waits for a position.

use crate::watch::units::Span;

/// A position that comes so long after letting go marks nothing any more: she has swung meanwhile.
pub const MARK_WITHIN: Span = Span::from_mins(10);
/// Falling back from an anchor without a speed to go by, metres a second: a knot. Common practice, no source.
pub const BLIND_MPS: f64 = 0.5;
/// Error of a receiver's speed over ground that has not settled yet, metres a second: some 0.2 m/s are usual of a settled
/// one, from memory, no source; doubled.
pub const SEEN_MPS: f64 = 0.4;
