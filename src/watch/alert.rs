//! Alerts: their kinds, priorities and states, as the published standard on bridge alert management names them.
//!
//! Source: IMO MSC.302(87), "Performance standards for bridge alert management"; states as in IEC 62923-1.

pub mod machine;

use serde::{Deserialize, Serialize};

use super::units::WatchTime;

/// How much an alert asks of the crew. Later is more urgent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Priority {
    /// Awareness of something out of the ordinary; silent, needs no answer.
    Caution,
    /// Immediate attention, for precaution.
    Warning,
    /// Immediate attention and action.
    Alarm,
}

/// What an alert is about. One situation gives one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AlertKind {
    /// The positions seen cannot be explained by the anchor where it was.
    Drag,
    /// Slow movement of the anchor, likely but not certain.
    Creep,
    /// The boat lies outside the circle that the crew set.
    Outside,
    /// No valid position.
    FixLost,
    /// A position that cannot be trusted.
    FixDoubtful,
    /// The wind has turned, or blows from a barred sector.
    WindShift,
    /// Too much wind.
    WindHigh,
    /// Too little water under the keel now.
    Shallow,
    /// Too little water under the keel at the next low water.
    Shoaling,
    /// Too little scope at the next high water.
    ScopeShort,
    /// Sounder and predicted tide disagree.
    DepthOdd,
    /// The prediction of the tide runs out.
    TideEnds,
    /// A heading sensor that was there is gone.
    HeadingLost,
    /// A wind sensor that was there is gone.
    WindLost,
    /// A sounder that was there is gone.
    DepthLost,
    /// Another vessel closes on the swing circle.
    Closing,
    /// A round is due.
    RoundDue,
    /// Light or ball to be changed.
    LightDue,
    /// The watch itself was asleep.
    Gap,
    /// The computer's battery runs low.
    PowerLow,
    /// The disk is full or the ride folder gone.
    DiskLow,
    /// Alert sounds do not play.
    SoundFailed,
}

impl AlertKind {
    /// Every kind, in the order in which the screen lists equals.
    pub const ALL: [Self; 22] = [
        Self::Drag,
        Self::Outside,
        Self::Shallow,
        Self::FixLost,
        Self::Creep,
        Self::FixDoubtful,
        Self::WindHigh,
        Self::WindShift,
        Self::Shoaling,
        Self::ScopeShort,
        Self::DepthOdd,
        Self::TideEnds,
        Self::Closing,
        Self::Gap,
        Self::SoundFailed,
        Self::DiskLow,
        Self::PowerLow,
        Self::RoundDue,
        Self::LightDue,
        Self::HeadingLost,
        Self::WindLost,
        Self::DepthLost,
    ];

    /// The name used in files and reports, `fix_lost`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Drag => "drag",
            Self::Creep => "creep",
            Self::Outside => "outside",
            Self::FixLost => "fix_lost",
            Self::FixDoubtful => "fix_doubtful",
            Self::WindShift => "wind_shift",
            Self::WindHigh => "wind_high",
            Self::Shallow => "shallow",
            Self::Shoaling => "shoaling",
            Self::ScopeShort => "scope_short",
            Self::DepthOdd => "depth_odd",
            Self::TideEnds => "tide_ends",
            Self::HeadingLost => "heading_lost",
            Self::WindLost => "wind_lost",
            Self::DepthLost => "depth_lost",
            Self::Closing => "closing",
            Self::RoundDue => "round_due",
            Self::LightDue => "light_due",
            Self::Gap => "gap",
            Self::PowerLow => "power_low",
            Self::DiskLow => "disk_low",
            Self::SoundFailed => "sound_failed",
        }
    }

    /// The words that head the alert on the screen.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Drag => "DRAGGING",
            Self::Creep => "CREEPING",
            Self::Outside => "OUTSIDE THE CIRCLE",
            Self::FixLost => "NO POSITION",
            Self::FixDoubtful => "POSITION DOUBTFUL",
            Self::WindShift => "WIND SHIFT",
            Self::WindHigh => "STRONG WIND",
            Self::Shallow => "SHALLOW",
            Self::Shoaling => "SHOALING",
            Self::ScopeShort => "SCOPE SHORT",
            Self::DepthOdd => "DEPTH ODD",
            Self::TideEnds => "TIDE RUNS OUT",
            Self::HeadingLost => "NO HEADING",
            Self::WindLost => "NO WIND",
            Self::DepthLost => "NO DEPTH",
            Self::Closing => "VESSEL CLOSING",
            Self::RoundDue => "ROUND DUE",
            Self::LightDue => "LIGHT DUE",
            Self::Gap => "WATCH WAS ASLEEP",
            Self::PowerLow => "POWER LOW",
            Self::DiskLow => "NOT RECORDING",
            Self::SoundFailed => "NO SOUND",
        }
    }
}

/// Where an alert stands between the boat and the crew.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "state")]
pub enum AlertState {
    /// Nothing wrong, nothing to answer.
    #[default]
    Normal,
    /// Present; nobody has answered.
    Unacknowledged,
    /// Present; nobody has answered, but the sound is off until then.
    Silenced {
        /// When the sound starts again.
        until: WatchTime,
    },
    /// Present; the crew knows.
    Acknowledged,
    /// Gone again; nobody has answered.
    Rectified,
}

/// Why an alert is raised and what to do about it, in words for the screen.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// What happened, with its numbers and units.
    pub what: String,
    /// What to do next.
    pub action: String,
}

/// One alert that is not normal, as the screen and the report show it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Alert {
    /// What it is about.
    pub kind: AlertKind,
    /// Its priority now (a warning may have risen).
    pub priority: Priority,
    /// Where it stands.
    #[serde(flatten)]
    pub state: AlertState,
    /// When it was raised.
    pub raised: WatchTime,
    /// When the condition went away, if it has.
    pub rectified: Option<WatchTime>,
    /// True if it rose to its priority because nobody answered.
    pub escalated: bool,
    /// Why, and what to do. Kept up to date while the condition lasts.
    pub reason: Reason,
}

/// What happened to an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// It was raised.
    Raised,
    /// Its priority rose, through its cause or because nobody answered.
    Risen,
    /// Its priority fell with its cause.
    Eased,
    /// Its sound was silenced for a while.
    Silenced,
    /// The silence ended.
    Resounded,
    /// The crew acknowledged it.
    Acknowledged,
    /// Its condition went away before anybody answered.
    Rectified,
    /// Its condition came back before anybody answered.
    Returned,
    /// It ended.
    Ended,
}

/// One change of one alert: what the journal keeps and the edge passes on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlertChange {
    /// When.
    pub at: WatchTime,
    /// What happened.
    pub change: Change,
    /// The alert after it.
    pub alert: Alert,
}

/// The sound that should be heard now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sound {
    /// Silence.
    #[default]
    Quiet,
    /// Two short signals, once.
    Warning,
    /// Three short signals, again and again until answered.
    Alarm,
}
