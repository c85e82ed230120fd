//! Lines from a Signal K server: deltas over its WebSocket, one a line.
//!
//! # Source
//! The Signal K specification 1.5.1, "Streaming API" and "Subscription Protocol": `/signalk/v1/stream?subscribe=none`, a
//! greeting that names the boat, then what was subscribed to. Values that the server has only kept are not asked for.

use futures_util::{SinkExt as _, StreamExt as _};
use tokio::time::{Instant, timeout};
use tokio_tungstenite::tungstenite::{Error, Message};

use super::deltas::open_stream;
use super::keys::ServerKeys;
use super::source::SignalKServer;
use super::tcp::silent;
use super::{Came, Ended, Outlet, Patience};
use crate::watch::nmea::MAX_OBJECT;
use crate::watch::units::{Span, WatchTime};

/// What is asked for: the paths that the watch uses, each as soon as it changes, at most twice a second.
const SUBSCRIBE: &str = r#"{"context":"vessels.self","subscribe":[
{"path":"navigation.position","policy":"instant","minPeriod":500},
{"path":"navigation.gnss.methodQuality","policy":"instant","minPeriod":500},
{"path":"navigation.gnss.horizontalDilution","policy":"instant","minPeriod":500},
{"path":"navigation.gnss.satellites","policy":"instant","minPeriod":500},
{"path":"navigation.courseOverGroundTrue","policy":"instant","minPeriod":500},
{"path":"navigation.speedOverGround","policy":"instant","minPeriod":500},
{"path":"navigation.headingTrue","policy":"instant","minPeriod":500},
{"path":"navigation.headingMagnetic","policy":"instant","minPeriod":500},
{"path":"navigation.magneticVariation","policy":"instant","minPeriod":500},
{"path":"navigation.speedThroughWater","policy":"instant","minPeriod":500},
{"path":"navigation.datetime","policy":"instant","minPeriod":500},
{"path":"environment.depth.*","policy":"instant","minPeriod":500},
{"path":"environment.wind.*","policy":"instant","minPeriod":500},
{"path":"environment.outside.pressure","policy":"instant","minPeriod":500},
{"path":"propulsion.*.revolutions","policy":"instant","minPeriod":500}]}"#;

/// And of the others, whose transponders the server hears: where they are and who. The name is a value of the vessel
/// herself, whose path is empty.
const SUBSCRIBE_OTHERS: &str = r#"{"context":"vessels.*","subscribe":[
{"path":"navigation.position","policy":"instant","minPeriod":1000},
{"path":"navigation.courseOverGroundTrue","policy":"instant","minPeriod":1000},
{"path":"navigation.speedOverGround","policy":"instant","minPeriod":1000},
{"path":"navigation.headingTrue","policy":"instant","minPeriod":1000},
{"path":"navigation.state","policy":"instant","minPeriod":1000},
{"path":"","policy":"instant","minPeriod":1000},
{"path":"design.length","policy":"instant","minPeriod":1000},
{"path":"design.beam","policy":"instant","minPeriod":1000},
{"path":"sensors.ais.*","policy":"instant","minPeriod":1000}]}"#;

/// The greeting is passed on again so often: a ride that begins later must hold it, for only it says which deltas are of
/// this boat. Well below the quarter of an hour that goes into a ride on letting go.
const GREET_AGAIN: Span = Span::from_mins(5);

pub(super) struct SignalK {
    to: SignalKServer,
    patience: Patience,
    keys: ServerKeys,
}

impl SignalK {
    pub(super) fn new(to: SignalKServer, patience: Patience, keys: ServerKeys) -> Self {
        Self { to, patience, keys }
    }

    pub(super) async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
        let mut socket = match open_stream(&self.to, &self.keys, self.patience).await {
            Ok(socket) => socket,
            Err(why) => return Ended::Lost(why.to_string()),
        };
        for asked in [SUBSCRIBE, SUBSCRIBE_OTHERS] {
            if let Err(error) = socket.send(Message::text(asked)).await {
                return Ended::Lost(self.broke(&error));
            }
        }
        outlet.connected(came).await;
        let (mut greeting, mut heard) = (Greeting::default(), Instant::now());
        loop {
            let left = self.patience.silence.saturating_sub(heard.elapsed());
            let Ok(message) = timeout(left, socket.next()).await else {
                return Ended::Silent(silent(&self.to.server, self.patience));
            };
            let at = outlet.now();
            match message {
                Some(Ok(Message::Text(text))) => {
                    heard = Instant::now();
                    greeting.before(at, outlet).await;
                    for line in lines(&text) {
                        greeting.notice(at, &line);
                        outlet.line_or_drop(at, line).await;
                    }
                }
                // The library answers pings; they prove a connection and no instrument.
                Some(Ok(Message::Close(_))) | None => {
                    return Ended::Lost(format!("{} closed the connection", self.to.server));
                }
                Some(Ok(_)) => {}
                Some(Err(error)) => return Ended::Lost(self.broke(&error)),
            }
        }
    }

    fn broke(&self, error: &Error) -> String {
        format!("the connection to {} broke: {error}", self.to.server)
    }
}

/// An object a line. One that is too long is cut, so that it is refused and counted.
fn lines(text: &str) -> Vec<Vec<u8>> {
    let is_one = text.len() <= MAX_OBJECT && !text.contains(['\r', '\n', '\0']);
    if is_one {
        return vec![text.as_bytes().to_vec()];
    }
    // Line ends stand between values only: inside strings JSON writes them otherwise.
    let mut line: Vec<u8> = text.bytes().filter(|b| !b"\r\n\0".contains(b)).take(MAX_OBJECT + 1).collect();
    line.shrink_to_fit();
    vec![line]
}

/// The server's greeting, and when it was passed on last.
#[derive(Default)]
struct Greeting {
    line: Vec<u8>,
    passed_on: Option<WatchTime>,
}

impl Greeting {
    fn notice(&mut self, at: WatchTime, line: &[u8]) {
        if self.line.is_empty() && is_greeting(line) {
            self.line = line.to_vec();
            self.passed_on = Some(at);
        }
    }

    async fn before(&mut self, at: WatchTime, outlet: &mut Outlet) {
        if self.passed_on.is_some_and(|then| at.since(then) >= GREET_AGAIN) {
            self.passed_on = Some(at);
            outlet.line_or_drop(at, self.line.clone()).await;
        }
    }
}

/// Says who "self" is and brings no values.
fn is_greeting(line: &[u8]) -> bool {
    let object: Option<serde_json::Value> = serde_json::from_slice(line).ok();
    object.is_some_and(|object| object.get("self").is_some() && object.get("updates").is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_for_is_json_and_has_all_that_is_read() {
        let asked: serde_json::Value = serde_json::from_str(SUBSCRIBE).unwrap();
        assert_eq!(asked["subscribe"].as_array().unwrap().len(), 15);
        let others: serde_json::Value = serde_json::from_str(SUBSCRIBE_OTHERS).unwrap();
        assert_eq!(
            (&others["context"], others["subscribe"].as_array().unwrap().len()),
            (&"vessels.*".into(), 9)
        );
    }

    #[test]
    fn a_message_is_one_line_and_a_long_one_is_cut_to_be_refused() {
        assert_eq!(lines("{\"a\":\r\n1}"), [b"{\"a\":1}"]);
        assert_eq!(lines(&"x".repeat(MAX_OBJECT * 3))[0].len(), MAX_OBJECT + 1);
    }

    #[test]
    fn the_greeting_is_told_from_values() {
        assert!(is_greeting(br#"{"self":"vessels.urn:x","version":"1.5.1"}"#));
        assert!(!is_greeting(br#"{"self":"vessels.urn:x","updates":[]}"#));
        assert!(!is_greeting(br#"{"updates":[]}"#));
    }
}
