//! How a watch stands, in a few values: for scripts, remote switches and whoever asks from the shell.

use serde::{Deserialize, Serialize};

use super::frame::Keeps;
use crate::edge::folder::timestamp;
use crate::watch::alert::{AlertKind, AlertState, Priority, Sound};
use crate::watch::snapshot::{Snapshot, Stage, Verdict};
use crate::watch::units::WatchTime;

/// How a watch stands. Metres, knots, degrees; what is not known is absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Status {
    /// Name of the boat.
    pub boat: String,
    /// Process that keeps the watch.
    pub process: u32,
    /// It is a simulated night.
    pub simulated: bool,
    /// Another machine keeps the watch, and this one stands by.
    #[serde(default)]
    pub stands_by: bool,
    /// The machine that keeps it.
    #[serde(default)]
    pub keeper: String,
    /// How often it has gone from one machine to another, and one.
    #[serde(default)]
    pub term: u32,
    /// The watch has judged within the last seconds.
    pub judges: bool,
    /// Until when it has judged, Unix milliseconds.
    pub at: WatchTime,
    /// The same as text, UTC.
    pub time: String,
    /// Name of the place.
    pub place: String,
    /// How far the crew has come.
    pub stage: Stage,
    /// The verdict.
    pub verdict: Verdict,
    /// The verdict as on the screen.
    pub verdict_words: String,
    /// Metres until she lies beyond the circle; negative beyond it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub room_m: Option<f64>,
    /// Radius of the circle.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub circle_m: Option<f64>,
    /// Rode out.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rode_m: Option<f64>,
    /// Water under the keel.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub under_keel_m: Option<f64>,
    /// Mean wind of ten minutes.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub wind_kn: Option<f64>,
    /// Where it blows from.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub wind_from_deg: Option<f64>,
    /// The sound that should be heard.
    pub sound: Sound,
    /// Alerts that stand.
    pub alerts: Vec<Stands>,
}

/// An alert that stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stands {
    /// Which.
    pub kind: AlertKind,
    /// Its priority.
    pub priority: Priority,
    /// Where it stands.
    #[serde(flatten)]
    pub state: AlertState,
    /// Why.
    pub what: String,
    /// What to do.
    pub action: String,
}

impl Status {
    /// How the watch of a snapshot stands.
    #[must_use]
    pub fn of(snap: &Snapshot, keeps: &Keeps, judges: bool) -> Self {
        let alerts = snap.alerts.iter().filter(|alert| alert.state != AlertState::Normal);
        let alerts = alerts.map(|alert| Stands {
            kind: alert.kind,
            priority: alert.priority,
            state: alert.state,
            what: alert.reason.what.clone(),
            action: alert.reason.action.clone(),
        });
        Self {
            boat: keeps.boat.clone(),
            process: keeps.process,
            simulated: keeps.simulated,
            stands_by: keeps.stands_by,
            keeper: keeps.claim.by.clone(),
            term: keeps.claim.term,
            judges,
            at: snap.at,
            time: timestamp(snap.at),
            place: snap.place.to_string(),
            stage: snap.stage,
            verdict: snap.verdict,
            verdict_words: snap.verdict.word().to_owned(),
            room_m: snap.room.map(|room| room.left.0),
            circle_m: snap.circle.set.map(|circle| circle.0),
            rode_m: snap.rode.veered.map(|veered| veered.0),
            under_keel_m: snap.depth.under_keel.map(|depth| depth.0),
            wind_kn: snap.wind.mean.map(|wind| wind.0),
            wind_from_deg: snap.wind.mean_direction.map(|from| from.degrees()),
            sound: snap.sound,
            alerts: alerts.collect(),
        }
    }
}
