//! What several sources say of her, put together.

use crate::watch::units::{Knots, Metres, Span};

/// The variation of a place changes by less than 0.01° over this distance almost everywhere.
pub const VARIATION_MOVED: Metres = Metres(500.0);
/// The variation that a feed gave is good for a day; it changes by minutes of arc a year.
pub const VARIATION_AGE: Span = Span::from_mins(24 * 60);
/// A sensor counts as one that is there when it has spoken for this long in all.
pub const THERE_AFTER: u32 = 30;
/// Below this speed over ground the boat's own way is not taken out of the wind (GNSS noise would be put in).
pub const UNDER_WAY: Knots = Knots(1.0);
/// Above this speed it is not a small yacht's way but a receiver's error.
pub const TOO_FAST: Knots = Knots(20.0);
/// A sounder's offset this far from what was entered is asked about: more than a boat sinks when she is loaded. Our choice.
pub const OFFSET_UNLIKE: Metres = Metres(0.3);
