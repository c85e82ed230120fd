//! How good is the watch? Many simulated nights, scored against the truth and against the plain circle.
//!
//! What counts as what stands in `docs/inside/trial.md`. In short: an alarm is *false* when it comes while the anchor has not
//! moved by [`MOVED_M`] yet; a night is *missed* when the anchor moved by that and no alarm came at all. Everything is
//! calculated from the nights' scores in their order, so that the result does not depend on who calculated which night.

mod limit;
mod page;
mod stats;
mod sum;

pub use limit::{Limit, SAMPLES_BETWEEN_FALSE, fix_error, found_within, path_limit};
pub use page::{json, text};
pub use stats::{Share, Spread};
pub use sum::{Line, Sleep, Sum, by_class, sum};

use std::collections::BTreeMap;

use crate::watch::alert::AlertKind;
use crate::watch::units::{Metres, Span};

/// The anchor counts as moved from here on: twice what an anchor that bites may move (see `docs/inside/simulator.md`), and
/// less than anybody could see. Our choice.
pub const MOVED_M: f64 = 1.0;
/// A miss of this size is counted by itself: about two boat's lengths.
pub const FAR_M: f64 = 20.0;
/// Evidence at which `drag` might be called instead, nats: what each would have done is printed beside.
pub const BARS_NATS: [f64; 8] = [5.0, 5.5, 6.0, 6.5, 7.0, 8.0, 9.0, 11.0];
/// Margins of the plain circles that are tried beside the watch.
pub const MARGINS_M: [f64; 3] = [5.0, 10.0, 20.0];
/// A plain circle calls after so many fixes outside it, one after the other.
pub const OUTSIDE_FIXES: u32 = 20;

/// What an alarm did in a night: its first call decides.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Call {
    /// It never came.
    #[default]
    Never,
    /// It came while the anchor had not moved.
    False {
        /// How long after she was brought up.
        after: Span,
    },
    /// It came after the anchor had moved.
    True {
        /// How far the anchor had moved by then.
        moved: Metres,
        /// How long after it had moved by [`MOVED_M`].
        delay: Span,
    },
}

/// What was seen in one simulated night.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NightScore {
    /// Its class.
    pub class: &'static str,
    /// Its seed.
    pub seed: u64,
    /// The class means the anchor to move. In truth it may stand all the same.
    pub drags: bool,
    /// How far the anchor moved at most.
    pub greatest: Metres,
    /// How long she was watched after being brought up.
    pub watched: Span,
    /// How long of that the watch could not judge, or had no position.
    pub unjudged: Span,
    /// The first `drag`.
    pub drag: Call,
    /// The first `creep`.
    pub creep: Call,
    /// The first of both.
    pub first: Call,
    /// The first of `drag` and `outside`: what wakes the crew because she has gone.
    pub gone: Call,
    /// Audible alerts that came while the anchor had not moved, by kind.
    pub heard: BTreeMap<AlertKind, u32>,
    /// The first time that the evidence passed each of [`BARS_NATS`].
    pub bars: [Call; BARS_NATS.len()],
    /// The plain circles, by margin.
    pub circles: [Call; 3],
    /// Reach of the rode as entered; without it, or without a mark, there is no circle.
    pub reach: Option<Metres>,
    /// Error of the believed fixes and how long it lasts.
    pub fix_error: Option<(Metres, Span)>,
    /// How far the anchor had moved when the best possible test could have called: see [`path_limit`].
    pub limit: Option<Metres>,
}

impl NightScore {
    /// The anchor moved.
    #[must_use]
    pub fn moved(&self) -> bool {
        self.greatest.0 >= MOVED_M
    }
}

/// A trial that has been run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trial {
    /// First seed.
    pub seed: u64,
    /// Nights of each class: the seeds that follow on the first.
    pub nights: u64,
    /// What the seeds are for, in words.
    pub seeds_are: &'static str,
    /// What is special about each class, in the order of the nights.
    pub classes: Vec<(&'static str, &'static str)>,
    /// Scores by class, then by seed.
    pub scores: Vec<NightScore>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An eight-hour night of a class on which the anchor moved so far.
    pub(super) fn night(greatest_m: f64) -> NightScore {
        NightScore {
            class: "quiet",
            greatest: Metres(greatest_m),
            watched: Span::from_mins(480),
            unjudged: Span::from_mins(24),
            reach: Some(Metres(35.0)),
            fix_error: Some((Metres(1.9), Span::from_secs(390))),
            ..NightScore::default()
        }
    }
}
