//! The morning after: how well did she hold, what woke the crew, and how far can the judgement be trusted?
//!
//! [`Gatherer`] looks on while a recorded night runs through the watch: it takes every change of an alert, and a
//! snapshot about once a minute. What it keeps does not grow with the night. [`text`] and [`json`] put the
//! [`Review`] on paper; the JSON is a contract, written down in `docs/sailing/review.md`.

mod circles;
pub mod export;
mod gather;
pub mod html;
mod json;
pub mod series;
mod text;
mod way;
mod words;

pub use circles::Circles;
pub use gather::Gatherer;
pub use json::json;
pub use series::Sample;
pub use text::text;

use super::zone::Zone;
use crate::watch::alert::{AlertKind, Priority, Reason};
use crate::watch::allows::Allows;
use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};

/// A value and when it was so.
pub type Then<T> = Option<(T, WatchTime)>;

/// A recorded night, looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Review {
    /// What was read.
    pub read: ReadFacts,
    /// The stay.
    pub ride: RideFacts,
    /// Alerts in the order in which they were raised.
    pub alarms: Vec<Alarm>,
    /// Alerts beyond those that are kept.
    pub alarms_left_out: u64,
    /// Whether she held.
    pub holding: HoldingFacts,
    /// The wind.
    pub wind: WindFacts,
    /// The water.
    pub depth: DepthFacts,
    /// The position.
    pub fix: FixFacts,
    /// When nothing was watched or heard.
    pub gaps: Vec<Gap>,
    /// How she was set.
    pub set: SetFacts,
    /// Which circle would have been right.
    pub circle: CircleFacts,
    /// The night as it passed, about a minute apart, oldest first.
    pub samples: Vec<Sample>,
    /// Where the bow was, oldest first.
    pub track: Vec<(WatchTime, Position)>,
    /// Her length.
    pub loa: Metres,
    /// The same night judged with other settings.
    pub what_if: Vec<WhatIfReview>,
    /// The zone in which text and pictures give times; JSON and exports are in UTC.
    pub zone: Zone,
}

impl Review {
    /// The review, and those with other settings, with their times in a zone.
    #[must_use]
    pub fn told_in(mut self, zone: &Zone) -> Self {
        for other in &mut self.what_if {
            other.review.zone = zone.clone();
        }
        self.zone = zone.clone();
        self
    }

    /// What the times are called: `UTC`, `UTC+02:00`.
    fn zone_name(&self) -> String {
        let first = self.ride.began.or(self.read.span.map(|(first, _)| first));
        first.map_or_else(|| "UTC".into(), |at| self.zone.name_at(at))
    }
}

/// The night judged with other settings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WhatIfReview {
    /// What was asked, in words.
    pub asked: String,
    /// How the night would have been.
    pub review: Box<Review>,
}

/// How she was set, as far as the crew entered it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SetFacts {
    /// From letting go to brought up.
    pub took: Option<Span>,
    /// What was seen of each pull of the engine, in words.
    pub pulls: Vec<String>,
    /// The last pull was the hardest that is made, and the anchor held it.
    pub proved: Option<bool>,
}

/// Which circle would have been right.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CircleFacts {
    /// The radius that was set at the end.
    pub set: Option<Metres>,
    /// The smallest radius that would have been silent while she held.
    pub smallest_silent: Option<Metres>,
    /// For reach, length and each of three margins: margin, radius, and when it would first have raised `outside`.
    pub margins: Vec<(Metres, Metres, Option<WatchTime>)>,
    /// The rode that the crew's least scope asks for at the highest water of the stay.
    pub rode_by_scope: Option<Metres>,
}

/// What was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadFacts {
    /// Name of the file or folder.
    pub name: String,
    /// Lines received.
    pub lines: u64,
    /// The first and the last of them.
    pub span: Option<(WatchTime, WatchTime)>,
    /// Lines of the files that could not be used.
    pub damaged: u64,
    /// Received lines that the disk did not take at the time.
    pub lost: u64,
    /// So often the recording's clock went back; it runs on from there all the same.
    pub put_back: u64,
    /// Positions came only this far apart, as in a track that was thinned.
    pub point_every: Option<Span>,
    /// The log gives no date: times count from the first day of 1970.
    pub undated: bool,
    /// Why the rest could not be read, in words.
    pub broken_off: Option<String>,
}

/// The stay, as entered.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RideFacts {
    /// Name of the place; empty where nobody entered it.
    pub place: String,
    /// Name of the boat.
    pub boat: String,
    /// When the anchor was let go, or, where nobody entered it, when the recording began.
    pub began: Option<WatchTime>,
    /// When she was brought up.
    pub brought_up: Option<WatchTime>,
    /// When the anchor was aweigh.
    pub ended: Option<WatchTime>,
    /// Rode out at the end.
    pub veered: Option<Metres>,
    /// The drop point.
    pub drop: Option<Position>,
    /// Commands that the watch refused, in its words.
    pub refused: Vec<String>,
}

/// An alert, from its raising to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct Alarm {
    /// What it was about.
    pub kind: AlertKind,
    /// Its highest priority.
    pub priority: Priority,
    /// It rose because nobody answered.
    pub escalated: bool,
    /// When it was raised.
    pub raised: WatchTime,
    /// When somebody answered.
    pub acknowledged: Option<WatchTime>,
    /// When its cause went away, if it did not come back.
    pub rectified: Option<WatchTime>,
    /// When it ended.
    pub ended: Option<WatchTime>,
    /// Why, and what to do, as it was raised.
    pub reason: Reason,
}

/// Whether she held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Held {
    /// No anchor was down, or none was found.
    #[default]
    NoAnchor,
    /// Too little of the night could be judged.
    CannotJudge,
    /// The anchor stood.
    Held,
    /// It likely moved, slowly.
    Crept,
    /// It moved.
    Dragged,
    /// Nobody marked an anchor, and she was under way for most of the time.
    UnderWay,
}

impl Held {
    /// The name in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::NoAnchor => "no_anchor",
            Self::CannotJudge => "cannot_judge",
            Self::Held => "held",
            Self::Crept => "crept",
            Self::Dragged => "dragged",
            Self::UnderWay => "under_way",
        }
    }

    /// An anchor was judged: it held, or it did not.
    #[must_use]
    pub const fn is_judged(self) -> bool {
        match self {
            Self::Held | Self::Crept | Self::Dragged => true,
            Self::NoAnchor | Self::CannotJudge | Self::UnderWay => false,
        }
    }
}

/// How far a verdict can be trusted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// Hardly.
    #[default]
    Low,
    /// With what limits it in mind.
    Medium,
    /// As far as the watch can be trusted at all.
    High,
}

impl Confidence {
    /// The word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }
}

/// The judgement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HoldingFacts {
    /// The verdict.
    pub verdict: Held,
    /// How far to trust it.
    pub confidence: Confidence,
    /// What limits that, in words.
    pub limits: Vec<String>,
    /// When `drag`, else `creep`, was first raised.
    pub called: Option<WatchTime>,
    /// How far the anchor moved in all, and which way.
    pub moved: Option<(Metres, TrueBearing)>,
    /// Since when it was first said to.
    pub since: Option<WatchTime>,
    /// Greatest evidence that the anchor had moved, percent.
    pub evidence: Then<f64>,
    /// Where the anchor was thought to lie at the end, and the longer half axis of that (one standard deviation).
    pub anchor: Option<(Position, Metres)>,
    /// Farthest that the bow lay from the drop point.
    pub farthest: Then<Metres>,
    /// Greatest reach of the rode.
    pub reach: Option<Metres>,
    /// Greatest load calculated from wind and stream.
    pub load: Then<Newtons>,
    /// How long she was watched at anchor.
    pub watched: Span,
    /// How long of that could not be judged.
    pub unjudged: Span,
    /// How long she made way, where nobody marked an anchor.
    pub made_way: Span,
    /// What the instruments allowed, when that was last looked at before anything was called.
    pub allows: Option<Allows>,
}

/// The wind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WindFacts {
    /// Mean of the night.
    pub mean: Option<Knots>,
    /// Strongest mean of ten minutes.
    pub strongest_mean: Then<Knots>,
    /// Strongest gust of three seconds.
    pub strongest_gust: Then<Knots>,
    /// Mean direction when she was brought up, and at the end.
    pub from: Option<TrueBearing>,
    /// The last mean direction.
    pub to: Option<TrueBearing>,
    /// Greatest turn since brought up, degrees; positive veered.
    pub greatest_shift: Then<f64>,
}

/// The water.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DepthFacts {
    /// Least sounding, from the surface.
    pub least: Then<Metres>,
    /// Greatest sounding.
    pub greatest: Then<Metres>,
    /// Least water under the keel.
    pub least_under_keel: Then<Metres>,
    /// Greatest difference of sounder and tide.
    pub off_prediction: Then<Metres>,
}

/// The position.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FixFacts {
    /// How long it could be trusted.
    pub good: Span,
    /// How long it came and could not be trusted.
    pub doubtful: Span,
    /// How long there was none.
    pub none: Span,
    /// What was most often wrong with it, in words.
    pub worst_doubt: Option<String>,
    /// What each feed gave.
    pub feeds: Vec<FeedFacts>,
}

/// What a feed gave.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FeedFacts {
    /// Its name.
    pub name: String,
    /// Good sentences.
    pub good: u64,
    /// Well formed, not used.
    pub unused: u64,
    /// Rejected.
    pub rejected: u64,
    /// Both by reason, the commonest first.
    pub reasons: Vec<(&'static str, u64)>,
}

/// A time in which nothing was watched, or nothing came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Its beginning.
    pub from: WatchTime,
    /// Its end.
    pub to: WatchTime,
    /// The watch did not run; else it ran and heard nothing.
    pub asleep: bool,
}
