//! How far the night is looked ahead, and when the wind is not as forecast.

use crate::watch::latch::Patience;
use crate::watch::units::{Knots, Span};

/// The night is calculated so far ahead: past the next high and the next low water, both.
pub const AHEAD: Span = Span::from_mins(13 * 60);
/// It is calculated anew this often.
pub const AGE: Span = Span::from_mins(1);

/// Forecasts err by an hour: the measured wind is held against the hardest of so much before and after. Our choice.
pub const HOUR_OFF: Span = Span::from_mins(60);
/// So much more mean wind than that is stronger than forecast: a force of the Beaufort scale at the strength that matters.
pub const STRONGER_MEAN: Knots = Knots(5.0);
/// The same for gusts.
pub const STRONGER_GUST: Knots = Knots(7.0);
/// In less wind than this, gusts in the second place, nothing is stronger than forecast.
pub const WORTH_TELLING: Knots = Knots(12.0);
/// A mean direction so far from every one forecast in that time is from elsewhere: an eighth of the compass.
pub const ELSEWHERE_DEG: f64 = 45.0;
/// The wind of a later hour is here already if the direction lies so near to it, ...
pub const ALIKE_DEG: f64 = 30.0;
/// ... and the mean is not less by more than this.
pub const ALIKE_MEAN: Knots = Knots(3.0);
/// So far ahead such an hour is looked for: no front is earlier.
pub const EARLY_MOST: Span = Span::from_mins(6 * 60);
/// What is to come of it wakes only if it comes within this: there is sleep before then, and another forecast.
pub const WAKES_WITHIN: Span = Span::from_mins(6 * 60);
/// Sooner than planned by less than this is as planned.
pub const SOONER_BY: Span = Span::from_mins(60);
/// The mean of ten minutes must stay unlike for so long, and alike for longer before it is over.
pub const UNLIKE: Patience = Patience { on: Span::from_mins(5), off: Span::from_mins(15) };
/// A forecast says nothing of the wind so long after its last hour.
pub const SAYS_FOR: Span = Span::from_mins(3 * 60);
