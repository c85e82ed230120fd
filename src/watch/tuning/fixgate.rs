//! When is a position believed?

use crate::watch::units::Span;

/// HDOP above which the position can be tens of metres off (error = HDOP × range error, GPS user manual ch. 3).
pub const HDOP_MAX: f64 = 5.0;
/// Up to here such a position still tells within tens of metres whether she lies in her circle. Our choice.
pub const HDOP_COARSE: f64 = 10.0;
/// So many standard deviations a coarse position may be off.
pub const COARSE_SIGMAS: f64 = 3.0;
/// A receiver that started from nothing wanders in its first minute.
pub const SETTLING: Span = Span::from_secs(60);
/// One that was at work already when the watch came needs only to be seen steady.
pub const FIRST_SIGHT: Span = Span::from_secs(5);
/// A hole after which a receiver counts as started anew.
pub const HOLE: Span = Span::from_secs(60);
/// The same time of day in every sentence for this long: its output is frozen.
pub const SAME_TIME: Span = Span::from_secs(5);
/// Not one digit of the position has changed for this long, printed to a decimetre or so.
pub const SAME_PLACE: Span = Span::from_secs(180);
/// The same where minutes have three decimals or fewer, steps of 1.85 m, in which a boat in a calm may stay, or the receiver
/// says that her speed is nothing.
pub const SAME_PLACE_COARSE: Span = Span::from_mins(15);
/// A receiver that has stood still for so long and moved on again, ...
pub const HOLDS_STILL: Span = Span::from_secs(20);
/// ... so often tonight, holds its position still while she moves little: that is its way, and no fault, ...
pub const HOLDS_STILL_TIMES: u32 = 3;
/// ... up to this long. So does one that says a speed of nothing while what it says of its satellites has changed ...
pub const SAME_PLACE_HELD: Span = Span::from_mins(60);
/// ... within so long: one that hangs repeats them too.
pub const SAME_SKY: Span = Span::from_mins(5);
/// What a boat may do between two fixes: position noise, and her speed under tow or engine.
pub const JUMP_M: f64 = 15.0;
pub const JUMP_MPS: f64 = 8.0;
/// For so many seconds at most, or for as long as this receiver's fixes lie apart.
pub const JUMP_ALLOWED_S: f64 = 20.0;
/// Fixes in a row at the new place after which a jump is taken for true.
pub const JUMP_FIXES: u32 = 20;
/// Fixes in a row, each farther on than the one before, after which she is taken to go that way: faster than a yacht
/// goes, or reported seldom.
pub const WAY_FIXES: u32 = 3;
/// That must last so long: a reflection swings out and back in less.
pub const WAY_LASTS: Span = Span::from_secs(20);
/// Nothing on the water goes faster than this, 50 kn.
pub const WAY_MPS: f64 = 26.0;
