//! Who is told of alerts, as it is written under `[alerts]`, `out`.

use std::str::FromStr;

use super::sink::{Sink, SinkError};
use crate::edge::feed::{SignalKServer, Source};

/// A listener.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Listener {
    /// It hears alert sentences.
    Sentences(Sink),
    /// A Signal K server, which is told where the anchor lies too.
    SignalK(SignalKServer),
}

impl FromStr for Listener {
    type Err = SinkError;

    fn from_str(text: &str) -> Result<Self, SinkError> {
        if !text.starts_with("signalk") {
            return text.parse().map(Self::Sentences);
        }
        match text.parse()? {
            Source::SignalK(server) => Ok(Self::SignalK(server)),
            _ => Err(SinkError::Kind(text.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_is_told_from_a_listener_of_sentences_and_a_wrong_one_says_what_to_write() {
        assert!(
            matches!("signalk:".parse(), Ok(Listener::SignalK(to)) if to.to_string() == "signalk:localhost:3000")
        );
        assert!(
            matches!("signalk-wss:mast".parse(), Ok(Listener::SignalK(to)) if to.tls && to.server.port == 3443)
        );
        assert!(matches!("udp:10111".parse(), Ok(Listener::Sentences(_))));
        for text in ["signalk", "signalk:[", "signalk-wss:mast:0", "signalk-http:mast"] {
            let error = text.parse::<Listener>().unwrap_err().to_string();
            assert!(error.contains("[alerts], out"), "{text}: {error}");
        }
    }
}
