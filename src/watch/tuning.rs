//! Every number of the method outside the judgement of the anchor: its meaning, unit and source.
//!
//! What the crew can set is not here but in [`super::boat::ranges`]; the numbers of the judgement are in
//! `watch/holding`. Where no source is named the number is our own choice, by common practice.

pub mod ahead;
pub mod allows;
pub mod anchor_check;
pub mod channel;
pub mod circle;
pub mod fixgate;
pub mod haste;
pub mod motion;
pub mod picture;
pub mod pull;
pub mod receiver;
pub mod ride;
pub mod sea;
pub mod setting;
pub mod traffic;
pub mod water;
pub mod weighing;
pub mod wind;

use super::latch::Patience;
use super::units::{Knots, Metres, Span};

/// A silence longer than this in which nobody reported a gap is one all the same: running through it second by
/// second would take longer than it is worth.
pub const SILENCE_MAX: Span = Span::from_mins(3 * 24 * 60);
/// A position is good for letting go, and for her place on the plane, for this long.
pub const FIX_AGE: Span = Span::from_secs(10);
/// The receiver's time of day is held against the clock for so long after it came: one wrong time before a hole says nothing
/// of the clock. Our choice.
pub const TIME_OF_DAY_AGE: Span = Span::from_secs(5);
/// The sentences of one fix, which have one time, come within this: our choice.
pub const TIME_STANDS: Span = Span::from_secs(2);
/// The receiver's speed shows for this long how far she has come since letting go.
pub const SPEED_AGE: Span = Span::from_secs(3);
/// What the judge takes her to lie to where neither rode nor depth are known: short rather than long, so that it speaks
/// too soon rather than too late.
pub const RODE_GUESSED: Metres = Metres(20.0);
/// The longest rode that can be entered.
pub const VEERED_MAX: Metres = Metres(1000.0);
/// A rehearsal of the alarm of which the sound reports nothing for so long has not sounded: twice what it lasts.
pub const REHEARSED_WITHIN: Span = Span::from_secs(60);
/// Notes longer than this, in bytes, are cut: the journal is no place for floods.
pub const NOTE_MAX: usize = 2000;
/// After letting go without "brought up" for this long, dragging sounds all the same; and weighing for this long is
/// reported: somebody forgot the key.
pub const SETTING_MAX: Span = Span::from_mins(20);

/// A doubtful position is worth waking for when it has lasted this long.
pub const DOUBT_AFTER: Span = Span::from_secs(20);
/// A boat that drags goes to leeward at no more than this share of the wind's speed: our choice, half of what a yacht adrift
/// with her beam to it makes (common practice, no source).
pub const DRIFT_SHARE: f64 = 0.05;
/// Where no wind is known so much is taken to blow.
pub const WIND_ASSUMED: Knots = Knots(15.0);
/// So much more wind than she has held tonight is a load that the anchor has not been tried with.
pub const BLOWS_HARDER: Knots = Knots(2.0);
/// An anchor that has held more than now pulls at it, or as much for hours, is trusted so many times as long at most.
pub const HELD_MOST: f64 = 6.0;
/// So much of the wind counts as nearly as much.
pub const HELD_NEARLY: f64 = 0.9;
/// She goes unjudged in silence for no longer than this, ...
pub const BLIND_MOST: Span = Span::from_mins(10);
/// ... and as if she had at least so much room.
pub const BLIND_ROOM_LEAST: Metres = Metres(10.0);
/// Once it has sounded it is over when she has been judged for so long: what comes and goes sounds once.
pub const BLIND_OVER: Span = Span::from_mins(3);
/// Soundings so near are of the place where she would lie.
pub const SOUNDED_WITHIN: Metres = Metres(15.0);
/// A vessel nearer than this to where she would lie is in her way: two small yachts' lengths, our choice.
pub const NEIGHBOUR_CLEAR: Metres = Metres(20.0);
/// Depths about the anchor are learned on squares of so many metres, ...
pub const GROUND_SIDE_M: f64 = 5.0;
/// ... each known once she has lain there for so many seconds, ...
pub const GROUND_KNOWN_S: u32 = 60;
/// ... and followed over so many.
pub const GROUND_MEMORY_S: u32 = 6 * 3600;
/// No more squares than these are kept.
pub const GROUND_MOST: usize = 4000;
/// A leap of her place about the mark by so much: the mark was moved, and what was learned about it is nothing.
pub const GROUND_LEAP_M: f64 = 10.0;
/// A drag that goes on after it was answered sounds again with each further so much, ...
pub const DRAGS_ON: Metres = Metres(10.0);
/// ... and as the room left falls below each of these.
pub const ROOM_RUNS_OUT: [Metres; 2] = [Metres(10.0), Metres(0.0)];
/// The judge is sure that she holds while the evidence against it is below this share of what calls `drag`.
pub const HOLDS_FOR_SURE: f64 = 0.25;
/// The boat counts as back inside when she has so much room again, more than the noise of positions, ...
pub const BACK_INSIDE_M: f64 = 2.0;
/// ... for this long.
pub const BACK_INSIDE: Span = Span::from_secs(10);
/// How fast she goes away from the anchor is taken over this long, ...
pub const OPENING_OVER: Span = Span::from_mins(1);
/// ... and is worth a word from this rate, metres a minute.
pub const OPENING_M_PER_MIN: f64 = 1.0;

/// A shift of wind ends when the turn is so far, in degrees, on the good side of its limit.
pub const SHIFT_EASE_DEG: f64 = 10.0;
/// Strong wind ends so far below its limit.
pub const WIND_EASE: Knots = Knots(2.0);
/// The wind that the rode is calculated to hold is calculated this often: it changes with the tide.
pub const LIFT_AGE: Span = Span::from_mins(1);

/// Shallow water, and a sounder that disagrees with the tide, end so far on the good side of their limits.
pub const DEPTH_EASE: Metres = Metres(0.2);
/// Shallow water is believed when it has lasted this long (the sounder's median takes care of single echoes).
pub const SHALLOW_AFTER: Span = Span::from_secs(5);
/// Sounder and tide must disagree for this long: she swings over holes and humps.
pub const ODD_AFTER: Span = Span::from_mins(3);
/// A tide table that ends sooner than this is worth an alert.
pub const TIDE_ENDS_SOON: Span = Span::from_mins(60);

/// A sensor is gone when it has been silent for this long.
pub const SENSOR_GONE: Span = Span::from_secs(30);
/// A course must lead to the circle for so long, not only while a vessel turns; and away from it for so long before the
/// alert ends.
pub const CLOSING: Patience = Patience { on: Span::from_secs(10), off: Span::from_secs(30) };

/// Without drop point or circle for this long she is not watched. It leaves time to enter the rode, and for a position
/// to come.
pub const UNWATCHED_AFTER: Span = Span::from_secs(30);
/// No position held against the circle for this long, and no other alert that says why: a receiver settles in a
/// minute, and no position is reported after 120 s at most.
pub const UNSEEN_MAX: Span = Span::from_secs(90);
/// The anchor not judged for this long, and no other alert that says why: a receiver that has just started is not
/// believed for five minutes.
pub const UNJUDGED_MAX: Span = Span::from_mins(10);
/// An anchor that nobody marked is looked for in her swing; for longer than this the crew is warned aloud.
pub const LOOKING_MAX: Span = Span::from_mins(30);

/// The computer's clock is wrong when it differs from the receiver's time by more: instruments and networks delay a sentence
/// by seconds, and a minute is nothing to a tide. Our choice.
pub const CLOCK_OFF: Span = Span::from_secs(60);
/// It must differ for this long: longer than a few wrong times before a hole count (`TIME_OF_DAY_AGE`), and short enough that the
/// crew hears of it within 15 s.
pub const CLOCK_OFF_FOR: Span = Span::from_secs(10);
/// So soon after a gap she is judged by where she is found: far outside her circle there is nothing to wait for.
pub const FOUND_WITHIN: Span = Span::from_secs(60);
/// Far outside: so many times the circle from the anchor.
pub const FOUND_FAR: f64 = 2.0;
/// For so long, which several fixes need.
pub const FOUND_FAR_FOR: Span = Span::from_secs(3);
