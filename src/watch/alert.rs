//! Alerts: their kinds, priorities and states, as the published standard on bridge alert management names them.
//!
//! Source: IMO MSC.302(87), "Performance standards for bridge alert management"; states as in IEC 62923-1.

mod kinds;
pub mod machine;

use serde::{Deserialize, Serialize};

use super::units::WatchTime;
pub use kinds::{About, AlertKind, Category};

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
