//! What comes out of the watch.

use serde::{Deserialize, Serialize};

use super::alert::{AlertChange, Sound};
use super::boat::Berth;
use super::geo::Position;
use super::refusal::Refusal;
use super::setting::Sounding;
use super::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use super::way_out::WayOut;

/// What the watch wants done or known.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// An alert changed.
    Alert(AlertChange),
    /// The sound that should be heard changed, or a warning's signal is to be given again.
    Sound {
        /// When.
        at: WatchTime,
        /// Which.
        sound: Sound,
    },
    /// The alarm is to be rehearsed, or that is to stop. It is no alert.
    Rehearsal {
        /// When.
        at: WatchTime,
        /// Whether it is to sound.
        sounds: bool,
    },
    /// A ride began.
    RideBegan {
        /// When.
        at: WatchTime,
        /// Where, in the crew's word.
        place: String,
    },
    /// The ride ended.
    RideEnded {
        /// When.
        at: WatchTime,
        /// Why: the crew said so, or she is plainly under way.
        why: EndedBy,
        /// What the book of places keeps of it.
        kept: Box<Keepsake>,
    },
    /// The anchor was let go without a settled position, and its place has now been marked.
    Marked {
        /// When.
        at: WatchTime,
    },
    /// A command could not be carried out.
    Refused {
        /// When.
        at: WatchTime,
        /// Why, and what to do.
        why: Refusal,
    },
}

/// What ended a ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EndedBy {
    /// The crew said "aweigh".
    Crew,
    /// She was weighing and is plainly under way.
    UnderWay,
}

/// What is worth keeping of a ride: the next visit is better for it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Keepsake {
    /// The crew's name of the place.
    pub place: String,
    /// When the anchor was let go.
    pub let_go: Option<WatchTime>,
    /// Where it was let go.
    pub drop: Option<Position>,
    /// Where it is thought to have lain at the end.
    pub anchor: Option<Position>,
    /// Depth at the drop point when it was let go, from the surface.
    pub depth: Option<Metres>,
    /// The same reduced to the datum of the tide entered; `None` without a tide.
    pub charted: Option<Metres>,
    /// Most rode that was out.
    pub veered: Option<Metres>,
    /// What was known of the berth.
    #[serde(default)]
    pub berth: Berth,
    /// The crew's way out.
    #[serde(default)]
    pub way_out: Option<WayOut>,
    /// Marks whose positions were entered, by name.
    pub marks: Vec<(String, Position)>,
    /// How she held.
    pub holding: HoldingSeen,
    /// Soundings of the reconnaissance before, oldest first.
    pub soundings: Vec<Sounding>,
}

/// How she held, in numbers and in words.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HoldingSeen {
    /// How long she rode to it, brought up.
    pub rode_for: Span,
    /// Greatest mean wind of ten minutes meanwhile.
    pub wind: Option<Knots>,
    /// Greatest gust of three seconds meanwhile.
    pub gust: Option<Knots>,
    /// Where the mean wind blew from when it was greatest.
    pub from: Option<TrueBearing>,
    /// Whether an alarm of dragging was raised.
    pub dragged: bool,
    /// Pulls of the engine that it held, and that it did not.
    pub pulls: (u32, u32),
    /// All that in a sentence.
    pub words: String,
}
