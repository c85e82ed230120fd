//! How the sounder is held against the tide. Our choices, by common practice, where no source is named.

use crate::watch::units::Span;

/// What is sounded is taken together for so long, ...
pub const SPELL: Span = Span::from_secs(60);
/// ... by squares of so many metres, ...
pub const SQUARE_SIDE_M: f64 = 5.0;
/// ... where there were so many seconds at least.
pub const SPELL_LEAST_S: u32 = 5;
/// A square of the bottom is known after so many seconds, and is then taken as it is: else it would learn the sea's wandering.
pub const BOTTOM_KNOWN_S: u32 = 120;
/// No more squares than these are kept.
pub const SQUARES_MOST: usize = 4000;
/// The mean of a minute of soundings is right within so many metres (one standard deviation): waves, rounding, position.
pub const SOUNDING_M: f64 = 0.10;
/// A bottom slopes by so much (one standard deviation): 1 in 10, ...
pub const SLOPE: f64 = 0.10;
/// ... and a square of it departs from the slope by so much.
pub const ROUGH_M: f64 = 0.3;
/// In an hour the sea wanders so far off any tide entered (one standard deviation): surges of 0.1 to 0.5 m within half a day,
/// and tables whose range is wrong by a tenth.
pub const WANDER_M: f64 = 0.20;
/// A new tide may differ from the one before by so much (one standard deviation).
pub const NEW_TIDE_M: f64 = 1.0;
/// A sounding so far off what is known here teaches nothing.
pub const WILD_M: f64 = 1.0;
/// The sounder counts after so many minutes over a bottom that is known, ...
pub const COUNTS_AFTER_MIN: u32 = 20;
/// ... while what it says is sure within so much (one standard deviation).
pub const UNSURE_M: f64 = 0.25;
/// However long it is heard, the sea's part is not surer than this: the sounding of letting go has its own error.
pub const DOUBT_LEAST_M: f64 = 0.05;
/// Growth of the difference is taken over this long, ...
pub const GROWTH_OVER: Span = Span::from_mins(60);
/// ... counts from so many metres on: less is waves and rounding, ...
pub const GROWTH_LEAST_M: f64 = 0.08;
/// ... is taken to go on for so long where it takes water, ...
pub const FALLS_SURELY_H: f64 = 1.0;
/// ... and may go on for so long: that is told, too.
pub const GROWS_FOR_H: f64 = 3.0;

/// Rise of the sea for each hectopascal that the pressure falls, metres: the inverse barometer (D. T. Pugh, *Tides, Surges and
/// Mean Sea-Level*, Wiley 1987, chapter 6: 1 mbar lowers or raises the sea by 0.01 m; from memory).
pub const METRES_PER_HPA: f64 = 0.01;
/// The pressure's tendency is taken over three hours, as weather reports do (WMO code 0200; from memory).
pub const TENDENCY_OVER: Span = Span::from_mins(180);
/// A barometer is good for so long after it was heard.
pub const BAROMETER_AGE: Span = Span::from_mins(15);
