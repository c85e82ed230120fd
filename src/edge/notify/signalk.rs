//! What a Signal K server is told: where the anchor lies, how far she may go and has gone, and the most urgent alert.
//!
//! | path | value |
//! | --- | --- |
//! | `navigation.anchor.position` | the drop point |
//! | `navigation.anchor.maxRadius` | the circle that raises `outside`, else that in which she swings, metres |
//! | `navigation.anchor.currentRadius` | from the bow (else the antenna) to the drop point, metres |
//! | `notifications.navigation.anchor` | the most urgent alert, in words; `null` if there is none |
//!
//! With the anchor aweigh each is `null`. All of it is sent again every few seconds: a server that was started anew knows it soon,
//! and one that hears nothing more knows that.
//!
//! # Source
//! The Signal K specification 1.5.1: `schemas/groups/navigation.json` (`anchor`), `schemas/groups/notifications.json`,
//! `schemas/definitions.json` (`alarmState`, `alarmMethodEnum`), `schemas/delta.json`; the page "Alarm, Alert, and Notification
//! Handling".

use std::time::Duration;

use futures_util::{SinkExt as _, StreamExt as _};
use serde_json::{Value, json};
use tokio::time::{Instant, interval, timeout};
use tokio_tungstenite::tungstenite::Message;

use super::{Standing, Trouble};
use crate::edge::feed::{Backoff, Patience, ServerKeys, SignalKServer, Socket, open_stream};
use crate::watch::alert::{Alert, AlertState, Priority};
use crate::watch::snapshot::{Snapshot, Stage};

/// So often all is sent again. Our choice.
const REPEAT: Duration = Duration::from_secs(5);
/// A server that takes nothing for this long is gone.
const WRITE_WITHIN: Duration = Duration::from_secs(10);
/// A server passes on to its readers what it is sent, this program among them. One that does not within this time has perhaps
/// thrown it away: no answer says so.
const HEARD_WITHIN: Duration = Duration::from_secs(20);

/// Where alerts go; the server is asked to pass them on to this program too.
const NOTIFICATION: &str = "notifications.navigation.anchor";

/// Tells one server for as long as the watch lasts; connects again by itself.
pub(super) async fn keep_informed(
    to: SignalKServer,
    keys: ServerKeys,
    patience: Patience,
    mut standing: Standing,
    trouble: Trouble,
) {
    let mut backoff = Backoff::new(patience);
    loop {
        let opened = Instant::now();
        let lost = match open_stream(&to, &keys, patience).await {
            Ok(socket) => inform(&to, socket, &mut standing, &trouble).await,
            Err(why) => Some(why.to_string()),
        };
        let Some(why) = lost else { return };
        trouble.report(format!("Alerts are not sent to {to}: {why}. It is tried again by itself."));
        backoff.was_open_for(opened.elapsed());
        tokio::time::sleep(backoff.next_wait()).await;
        if standing.snapshots.has_changed().is_err() {
            return;
        }
    }
}

/// Sends until the connection breaks, and says why; `None` when the watch has ended.
async fn inform(
    to: &SignalKServer,
    mut socket: Socket,
    standing: &mut Standing,
    trouble: &Trouble,
) -> Option<String> {
    let subscribe =
        json!({ "context": "vessels.self", "subscribe": [{ "path": NOTIFICATION, "policy": "instant" }] });
    if let Err(why) = say(&mut socket, &subscribe).await {
        return Some(why);
    }
    let (mut repeat, mut told, mut unheard) = (interval(REPEAT), Value::Null, None);
    loop {
        let is_due = tokio::select! {
            _ = repeat.tick() => true,
            changed = standing.snapshots.changed() => match changed {
                Ok(()) => false,
                Err(_) => {
                    let _ = say(&mut socket, &delta(&Snapshot::default(), true)).await;
                    return None;
                }
            },
            message = socket.next() => match message {
                Some(Ok(Message::Text(text))) => {
                    if text.contains(NOTIFICATION) {
                        unheard = None;
                        trouble.over();
                    }
                    continue;
                }
                Some(Ok(Message::Close(_))) | None => return Some("it closed the connection".into()),
                Some(Ok(_)) => continue,
                Some(Err(error)) => return Some(format!("the connection broke ({error})")),
            },
        };
        let snapshot = standing.snapshots.borrow_and_update().clone();
        let delta = delta(&snapshot, standing.pulse.is_judging());
        let alert = delta["updates"][0]["values"][0].clone();
        if !is_due && alert == told {
            continue;
        }
        if let Err(why) = say(&mut socket, &delta).await {
            return Some(why);
        }
        told = alert;
        if unheard.get_or_insert_with(Instant::now).elapsed() >= HEARD_WITHIN {
            trouble.report(format!(
                "{to} takes alerts and passes none on: perhaps its token may only read. Give it one that may write \
                 (`nightrode signalk {to} --token`)."
            ));
        }
    }
}

async fn say(socket: &mut Socket, words: &Value) -> Result<(), String> {
    match timeout(WRITE_WITHIN, socket.send(Message::text(words.to_string()))).await {
        Ok(sent) => sent.map_err(|error| format!("the connection broke ({error})")),
        Err(_) => Err(format!("it took nothing for {} s", WRITE_WITHIN.as_secs())),
    }
}

/// How things stand, as one delta. The alert comes first.
fn delta(snapshot: &Snapshot, is_judging: bool) -> Value {
    let is_down = snapshot.stage != Stage::NotSet;
    let place = snapshot.drop.filter(|_| is_down).map(|drop| drop.position);
    let metres = |value: Option<f64>| value.map_or(Value::Null, |m| json!((m * 10.0).round() / 10.0));
    let (most, now) = (snapshot.circle.radius(), snapshot.anchor_off.map(|(off, _)| off));
    let values = [
        (NOTIFICATION, notification(&snapshot.alerts, is_judging)),
        (
            "navigation.anchor.position",
            place.map_or(Value::Null, |p| json!({ "latitude": p.lat_deg(), "longitude": p.lon_deg() })),
        ),
        ("navigation.anchor.maxRadius", metres(place.and(most).map(|m| m.0))),
        ("navigation.anchor.currentRadius", metres(place.and(now).map(|m| m.0))),
    ];
    let values = values.map(|(path, value)| json!({ "path": path, "value": value }));
    let mut update = json!({ "source": { "label": "nightrode" }, "values": values });
    // Before the first line the watch knows no time; the server then takes its own.
    if let Ok(time) = jiff::Timestamp::from_millisecond(snapshot.at.0)
        && snapshot.at.0 > 0
    {
        update["timestamp"] = json!(format!("{time:.3}"));
    }
    json!({ "context": "vessels.self", "updates": [update] })
}

/// The most urgent alert.
fn notification(alerts: &[Alert], is_judging: bool) -> Value {
    if !is_judging {
        let words = "NOBODY WATCHES: the anchor watch runs and judges nothing. Look out yourself, then at the computer.";
        return json!({ "state": "alarm", "method": ["visual", "sound"], "message": words });
    }
    let Some(worst) = alerts.iter().max_by_key(|alert| (lasts(alert), alert.priority, is_heard(alert)))
    else {
        return Value::Null;
    };
    let more = match alerts.len() - 1 {
        0 => String::new(),
        more => format!(" ({more} more)"),
    };
    let state = match (lasts(worst), worst.priority) {
        (false, _) | (_, Priority::Caution) => "alert",
        (_, Priority::Warning) => "warn",
        (_, Priority::Alarm) => "alarm",
    };
    let method: &[&str] = if is_heard(worst) { &["visual", "sound"] } else { &["visual"] };
    let words = format!("{} {}{more}", worst.reason.what, worst.reason.action);
    json!({ "state": state, "method": method, "message": words })
}

/// Whether its cause is still there.
fn lasts(alert: &Alert) -> bool {
    alert.state != AlertState::Rectified
}

/// A caution is silent, and so is what somebody has answered or silenced.
fn is_heard(alert: &Alert) -> bool {
    alert.priority > Priority::Caution && alert.state == AlertState::Unacknowledged
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::alert::{AlertKind, Reason};
    use crate::watch::geo::Position;
    use crate::watch::snapshot::{CircleView, DropPoint, MarkedHow};
    use crate::watch::units::{Metres, TrueBearing, WatchTime};

    fn alert(kind: AlertKind, priority: Priority, state: AlertState) -> Alert {
        let reason = Reason { what: format!("{} is so.", kind.name()), action: "Do something.".to_owned() };
        let raised = WatchTime(1_780_430_520_000);
        Alert { kind, priority, state, raised, rectified: None, escalated: false, reason }
    }

    fn told(alerts: &[Alert]) -> (String, usize, String) {
        let said = notification(alerts, true);
        let text = |key: &str| said[key].as_str().unwrap_or_default().to_owned();
        (text("state"), said["method"].as_array().map_or(0, Vec::len), text("message"))
    }

    #[test]
    fn the_most_urgent_alert_that_lasts_is_told_and_heard_until_somebody_answers() {
        use AlertState::{Acknowledged, Rectified, Unacknowledged};
        use Priority::{Alarm, Caution, Warning};
        let words = |kind: AlertKind| format!("{} is so. Do something.", kind.name());
        let (dragging, lost) = (AlertKind::Drag, AlertKind::FixLost);
        for (alerts, state, ways, message) in [
            (vec![alert(lost, Warning, Unacknowledged)], "warn", 2, words(lost)),
            (vec![alert(lost, Caution, Unacknowledged)], "alert", 1, words(lost)),
            (vec![alert(dragging, Alarm, Acknowledged)], "alarm", 1, words(dragging)),
            (vec![alert(dragging, Alarm, Rectified)], "alert", 1, words(dragging)),
            (
                vec![alert(dragging, Alarm, Rectified), alert(lost, Warning, Unacknowledged)],
                "warn",
                2,
                words(lost) + " (1 more)",
            ),
        ] {
            assert_eq!(told(&alerts), (state.to_owned(), ways, message));
        }
        assert_eq!(notification(&[], true), Value::Null);
        assert_eq!(notification(&[], false)["state"], "alarm");
    }

    /// A boat that lies to her anchor, and drags.
    fn anchored(alerts: Vec<Alert>) -> Snapshot {
        let at = WatchTime(1_780_430_520_250);
        let drop = DropPoint {
            position: Position::new(50.2, -5.7).unwrap(),
            let_go: at,
            how: MarkedHow::Bow,
            depth: None,
            fixed: at,
            doubt: Metres(0.0),
        };
        let circle = CircleView { set: Some(Metres(41.04)), ..CircleView::default() };
        let anchor_off = Some((Metres(43.26), TrueBearing::new(10.0)));
        let stage = Stage::BroughtUp;
        Snapshot { at, stage, drop: Some(drop), circle, anchor_off, alerts, ..Snapshot::default() }
    }

    /// `tests/signalk/check` holds these against the schemas of the specification.
    #[test]
    fn what_is_sent_is_what_the_schemas_were_asked_about() {
        let drags = alert(AlertKind::Drag, Priority::Alarm, AlertState::Unacknowledged);
        let sent: String = [
            delta(&Snapshot::default(), true),
            delta(&anchored(Vec::new()), true),
            delta(&anchored(vec![drags]), true),
            delta(&anchored(Vec::new()), false),
        ]
        .map(|delta| format!("{delta}\n"))
        .concat();
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/signalk/sent.jsonl");
        if std::env::var_os("NIGHTRODE_RENEW").is_some() {
            std::fs::write(path, &sent).unwrap();
        }
        assert_eq!(std::fs::read_to_string(path).unwrap(), sent);
    }

    #[test]
    fn with_the_anchor_aweigh_nothing_of_it_is_left() {
        let delta = delta(&Snapshot::default(), true);
        let values = delta["updates"][0]["values"].as_array().unwrap();
        assert_eq!(values.len(), 4);
        assert!(values.iter().all(|value| value["value"].is_null()), "{delta}");
    }
}
