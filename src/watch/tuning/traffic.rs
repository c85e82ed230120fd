//! Vessels that come near.

use crate::watch::units::{Knots, Metres, Span};

/// Vessels that are kept at most; then the one heard longest ago is forgotten. A busy port has a few hundred in
/// reach of a masthead.
pub const VESSELS_MAX: usize = 512;
/// A vessel that moves reports every 2 to 30 s (ITU-R M.1371, table of reporting intervals, from memory); after so
/// long her course says nothing any more.
pub const COURSE_AGE: Span = Span::from_secs(90);
/// One at anchor or moored reports every 3 min; after so long she is gone.
pub const GONE_AFTER: Span = Span::from_mins(10);
/// Slower than this a vessel swings at her own anchor, and what she reports is her receiver's noise.
pub const MOVING: Knots = Knots(0.7);
/// Faster than anything afloat: 102.2 kn is the greatest that a report can hold.
pub const FASTEST: Knots = Knots(102.2);
/// How far ahead her course is drawn out: common practice, no source. Time to look, to light up, to call.
pub const AHEAD: Span = Span::from_mins(5);
/// Clear water that is wanted about the swing circle: common practice, no source.
pub const CLEAR: Metres = Metres(20.0);
/// Half the length of a vessel that has not reported it.
pub const EXTENT: Metres = Metres(15.0);
