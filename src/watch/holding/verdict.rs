//! What the judgement says, and in which words.

use std::fmt;

use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, TrueBearing, WatchTime};

/// Does she hold?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HoldingState {
    /// No anchor is down, the crew is weighing, or she has not yet been watched long enough to say.
    NotSet,
    /// The anchor where it is explains every position seen.
    Holding,
    /// Slow movement of the anchor is likely, not certain.
    Creeping,
    /// No place of the anchor explains the positions seen.
    Dragging,
    /// The fixes do not allow a judgement.
    CannotJudge(Doubt),
}

/// Why the fixes do not allow a judgement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// No usable fix for a while.
    NoFix,
    /// The first five minutes of a receiver's fixes wander too much to be believed.
    JustStarted,
    /// The receiver repeats itself: same position, same time or no movement at all.
    Frozen,
    /// A two-dimensional or estimated fix, or the receiver itself calls it doubtful.
    PoorKind,
    /// Satellites badly placed: HDOP above 5.
    PoorGeometry,
    /// The position jumps about, as by reflections from shore, rigging or other boats.
    Jumping,
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoFix => "no usable position",
            Self::JustStarted => "the receiver has only just started",
            Self::Frozen => "the receiver repeats the same position",
            Self::PoorKind => "the receiver gives only a two-dimensional or estimated position",
            Self::PoorGeometry => "the satellites stand badly (HDOP above 5)",
            Self::Jumping => "the position jumps about",
        })
    }
}

/// Where the watch believes the anchor lies: an ellipse on the earth, or on the plane of a screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief<P = Position> {
    /// Mean of the belief.
    pub centre: P,
    /// Semi-axis of the one-sigma ellipse, the longer one.
    pub major: Metres,
    /// Semi-axis of the one-sigma ellipse, the shorter one.
    pub minor: Metres,
    /// Direction of the longer axis.
    pub axis: TrueBearing,
}

/// The most likely place of an anchor that stands, and of the rode's true length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learned {
    /// Where it lies.
    pub anchor: Position,
    /// The rode's true length as a share of the entered one.
    pub rode_share: f64,
    /// What the fixes of the believed receiver err by over minutes.
    pub wander: Metres,
}

/// How the anchor has moved, as far as the positions tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// How far from where it was: the distance by which the bow lies beyond every place that was possible.
    pub distance: Metres,
    /// Which way.
    pub bearing: TrueBearing,
    /// When it began.
    pub since: WatchTime,
    /// How fast she makes sternway now, over the last half minute.
    pub speed: Knots,
}

/// What the judge has to go by.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Means {
    /// What the bow's place errs by over minutes.
    pub wander: Metres,
    /// The receiver gives her speed over ground.
    pub velocity: bool,
    /// The wind is measured.
    pub wind: bool,
    /// The heading is known for most of the time.
    pub heading: bool,
    /// The depth at the drop is known.
    pub depth: bool,
    /// The place of the anchor was marked.
    pub mark: bool,
}

/// The judgement as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Does she hold?
    pub state: HoldingState,
    /// How near the test is to its threshold for `drag`: 0 nothing speaks for a moved anchor, 1 the alarm.
    pub evidence: f64,
    /// Where the anchor is thought to lie; `None` before there is anything to go by.
    pub belief: Option<Belief>,
    /// Where the anchor is thought to lie differs from the mark by this much and lies this way from it.
    pub from_mark: Option<(Metres, TrueBearing)>,
    /// What is learned of an anchor that stands; `None` while nothing is, or once it has moved.
    pub learned: Option<Learned>,
    /// How it has moved; `None` while she holds.
    pub moved: Option<Moved>,
    /// How far the bow lies beyond the reach from the best place for the anchor; negative inside.
    pub beyond_best_cell: Metres,
    /// Distance from the best place for the anchor to the bow.
    pub distance: Metres,
    /// How far the rode reaches now.
    pub reach: Metres,
    /// Evidence that the anchor has been tested and holds, `0..=1`: "ready to leave her".
    pub ready: f64,
    /// What it goes by; `None` before there is anything.
    pub means: Option<Means>,
}
