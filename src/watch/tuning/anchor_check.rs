//! The five-minute check of the anchor. All are our choice.

use crate::watch::units::{Metres, Span};

/// So long she is looked after: several sheers of a yacht, and 2 m of a slow drag.
pub const CHECK_FOR: Span = Span::from_mins(5);
/// So long the answers are waited for once it is over.
pub const ANSWERS_WITHIN: Span = Span::from_mins(10);
/// What it came to is shown for so long after it.
pub const SHOWN_FOR: Span = Span::from_mins(30);
/// So much farther from the anchor at the end than at the beginning, whatever was seen: more than a good receiver wanders in
/// five minutes.
pub const FARTHER: Metres = Metres(5.0);
/// When to look again, if she holds and nothing else is wrong, ...
pub const AGAIN_CALM: Span = Span::from_mins(30);
/// ... if the positions still say that she creeps, ...
pub const AGAIN_CREEPS: Span = Span::from_mins(15);
/// ... and if something does not fit.
pub const AGAIN_SOON: Span = Span::from_mins(10);
/// Room that is left when rode is veered into it, for the sheer that a longer rode brings.
pub const VEER_CLEAR: Metres = Metres(5.0);
/// Rode is veered by whole marks of so many metres.
pub const VEER_STEP: f64 = 5.0;
