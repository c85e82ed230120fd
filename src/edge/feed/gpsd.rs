//! Lines from gpsd: sentences, asked for with its JSON protocol.
//!
//! # Source
//! `gpsd_json(5)`: `?WATCH={"enable":true,"nmea":true}` turns on NMEA 0183 sentences, made from the receiver's own
//! protocol where it speaks another; answers and news come between them as JSON objects with a `class`. A device that gives
//! no sentence is heard by its reports of position and sky (TPV, SKY).

use serde::Deserialize;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::tcp::{connect, silent};
use super::{Came, Ended, Link, Outlet, Patience, Server};
use crate::watch::nmea::{LineSplitter, MAX_OBJECT};
use crate::watch::units::{Span, WatchTime};

const WATCH: &[u8] = b"?WATCH={\"enable\":true,\"nmea\":true,\"json\":true}\n";

/// Reports in JSON are taken when no sentence with a position has come for so long: receivers that give both would be heard
/// twice. Our choice: five of a receiver's cycles.
const SENTENCES_FIRST: Span = Span::from_secs(5);

pub(super) struct Gpsd {
    server: Server,
    patience: Patience,
}

impl Gpsd {
    pub(super) fn new(server: Server, patience: Patience) -> Self {
        Self { server, patience }
    }

    pub(super) async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
        let mut stream = match connect(&self.server, self.patience).await {
            Ok(stream) => stream,
            Err(why) => return Ended::Lost(why.to_string()),
        };
        if let Err(error) = stream.write_all(WATCH).await {
            return Ended::Lost(format!("gpsd at {} does not listen: {error}", self.server));
        }
        self.listen(&mut stream, came, outlet).await
    }

    async fn listen(&self, stream: &mut TcpStream, came: Came, outlet: &mut Outlet) -> Ended {
        let mut splitter = JsonAside::default();
        let mut choice = Choice { position_at: outlet.now() };
        let mut buffer = [0; 4096];
        loop {
            let Ok(read) = timeout(self.patience.silence, stream.read(&mut buffer)).await else {
                return Ended::Silent(silent(&self.server, self.patience));
            };
            let at = outlet.now();
            let count = match read {
                Ok(0) => return Ended::Lost(format!("gpsd at {} closed the connection", self.server)),
                Ok(count) => count,
                Err(error) => {
                    return Ended::Lost(format!("the connection to {} broke: {error}", self.server));
                }
            };
            for piece in splitter.split(&buffer[..count]) {
                match piece {
                    Piece::Sentence(line) => {
                        choice.note(at, &line);
                        outlet.line_or_drop(at, line).await;
                    }
                    Piece::Report(line) if choice.takes_report(at) => outlet.line_or_drop(at, line).await,
                    Piece::Report(_) => {}
                    Piece::News(news) => match link(&news) {
                        Some(Link::Open) => outlet.connected(came).await,
                        Some(link) => outlet.report(link).await,
                        None => {}
                    },
                }
            }
        }
    }
}

/// Sentences or reports?
struct Choice {
    /// When a sentence last told of a position; at first, when the connection was made.
    position_at: WatchTime,
}

impl Choice {
    fn note(&mut self, at: WatchTime, line: &[u8]) {
        let kind = line.get(3..6).unwrap_or_default();
        if [b"RMC", b"GGA", b"GLL", b"GNS"].iter().any(|position| kind == *position) {
            self.position_at = at;
        }
    }

    fn takes_report(&self, at: WatchTime) -> bool {
        at.since(self.position_at) > SENTENCES_FIRST
    }
}

/// What gpsd reports about itself, as far as a watch needs it.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(tag = "class")]
enum News {
    #[serde(rename = "DEVICES")]
    Devices { devices: Vec<Device> },
    #[serde(rename = "DEVICE")]
    Device(Device),
    #[serde(rename = "ERROR")]
    Error { message: String },
    #[serde(rename = "TPV", alias = "SKY")]
    Report,
    #[serde(other)]
    Other,
}

#[derive(Clone, Debug, Deserialize, PartialEq)]
struct Device {
    #[serde(default)]
    path: String,
    /// When it was opened: a time as text, or the number 0 when it is closed.
    activated: Option<serde_json::Value>,
}

/// What the news means for the feed.
fn link(news: &News) -> Option<Link> {
    let lost = |why: String| Some(Link::Lost { why });
    match news {
        News::Devices { devices } if devices.is_empty() => {
            lost("gpsd answers and has no receiver".to_owned())
        }
        News::Devices { .. } => Some(Link::Open),
        News::Device(Device { path, activated: Some(at) }) if at.as_f64() == Some(0.0) => {
            lost(format!("gpsd has lost its receiver {path}"))
        }
        News::Error { message } => lost(format!("gpsd reports: {message}")),
        News::Device(_) | News::Report | News::Other => None,
    }
}

/// Reads a stream of gpsd's, cut after so many bytes; gives how many sentences and how many pieces of news it holds. What
/// the feed does with a stream, for whoever tries any bytes on it.
#[must_use]
pub fn read_stream(stream: &[u8], cut: usize) -> (usize, usize) {
    let mut parted = JsonAside::default();
    let (head, tail) = stream.split_at(cut.min(stream.len()));
    let pieces = [parted.split(head), parted.split(tail)].concat();
    let sentences = pieces.iter().filter(|piece| matches!(piece, Piece::Sentence(_))).count();
    let news =
        pieces.iter().filter(|piece| matches!(piece, Piece::News(news) if link(news).is_some())).count();
    (sentences, news)
}

#[derive(Clone)]
enum Piece {
    Sentence(Vec<u8>),
    /// Position or sky, as JSON.
    Report(Vec<u8>),
    News(News),
}

/// Parts sentences from JSON. Objects are lines of their own that begin with `{`; inside them `$` and `!` may stand
/// in strings, so they must not reach the splitter of sentences.
#[derive(Default)]
struct JsonAside {
    sentences: LineSplitter,
    line: Vec<u8>,
    stage: Stage,
}

#[derive(Clone, Copy, Default, PartialEq)]
enum Stage {
    #[default]
    LineStart,
    Sentence,
    Json,
}

/// Longest JSON object that is read; longer ones are skipped. A list of forty satellites is shorter.
const JSON_MAX: usize = MAX_OBJECT;

impl JsonAside {
    fn split(&mut self, bytes: &[u8]) -> Vec<Piece> {
        let mut pieces = Vec::new();
        for run in bytes.split_inclusive(|&b| b == b'\n') {
            if self.stage == Stage::LineStart {
                self.stage = if run.first() == Some(&b'{') { Stage::Json } else { Stage::Sentence };
            }
            if self.stage == Stage::Json {
                let room = JSON_MAX.saturating_sub(self.line.len());
                self.line.extend_from_slice(&run[..run.len().min(room)]);
            } else {
                self.sentences.push(run, |line| pieces.push(Piece::Sentence(line.to_vec())));
            }
            if run.ends_with(b"\n") {
                // News that cannot be read are of a later version, and not for us.
                pieces.extend(serde_json::from_slice(&self.line).ok().map(|news| match news {
                    News::Report => Piece::Report(self.line.trim_ascii_end().to_vec()),
                    news => Piece::News(news),
                }));
                self.line.clear();
                self.stage = Stage::LineStart;
            }
        }
        pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lost(why: &str) -> Option<Link> {
        Some(Link::Lost { why: why.to_owned() })
    }

    #[test]
    fn news_of_receivers_become_the_state_of_the_feed() {
        let link = |json: &str| link(&serde_json::from_str(json).unwrap());
        assert_eq!(link(r#"{"class":"VERSION","release":"3.25","proto_major":3}"#), None);
        assert_eq!(link(r#"{"class":"DEVICES","devices":[]}"#), lost("gpsd answers and has no receiver"));
        assert_eq!(
            link(r#"{"class":"DEVICES","devices":[{"class":"DEVICE","path":"/dev/ttyACM0","bps":9600}]}"#),
            Some(Link::Open)
        );
        assert_eq!(
            link(r#"{"class":"DEVICE","path":"/dev/ttyACM0","activated":0}"#),
            lost("gpsd has lost its receiver /dev/ttyACM0")
        );
        assert_eq!(
            link(r#"{"class":"DEVICE","path":"/dev/ttyACM0","activated":"2026-06-03T02:14:00.000Z"}"#),
            None
        );
        assert_eq!(link(r#"{"class":"ERROR","message":"no"}"#), lost("gpsd reports: no"));
    }

    #[test]
    fn reports_are_taken_only_where_no_sentence_tells_of_a_position() {
        let mut choice = Choice { position_at: WatchTime(0) };
        assert!(!choice.takes_report(WatchTime(5_000)), "sentences may still come");
        choice.note(WatchTime(4_000), b"!AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0*26");
        assert!(choice.takes_report(WatchTime(6_000)), "others' positions are no position");
        choice.note(WatchTime(6_000), b"$GPRMC,,V,,,,,,,,,,N*53");
        assert!(!choice.takes_report(WatchTime(7_000)));
        assert!(choice.takes_report(WatchTime(12_000)));
    }

    #[test]
    fn sentences_and_json_are_parted_wherever_the_stream_is_cut() {
        let stream = b"{\"class\":\"ERROR\",\"message\":\"$1!\"}\r\n$GPHDT,236.7,T*35\r\n{\"class\":\"TPV\"}\n{oops\n$GPHDT,236.8,T*3A\r\n";
        for cut in 0..stream.len() {
            let mut aside = JsonAside::default();
            let mut pieces = aside.split(&stream[..cut]);
            pieces.extend(aside.split(&stream[cut..]));
            let entered: Vec<_> = pieces
                .iter()
                .map(|piece| match piece {
                    Piece::Sentence(line) => String::from_utf8_lossy(line).into_owned(),
                    Piece::Report(line) => String::from_utf8_lossy(line).into_owned(),
                    Piece::News(news) => format!("{news:?}"),
                })
                .collect();
            assert_eq!(
                entered,
                [
                    "Error { message: \"$1!\" }",
                    "$GPHDT,236.7,T*35",
                    "{\"class\":\"TPV\"}",
                    "$GPHDT,236.8,T*3A"
                ],
                "cut at {cut}"
            );
        }
    }

    #[test]
    fn an_endless_object_does_not_grow() {
        let mut aside = JsonAside::default();
        aside.split(b"{");
        for _ in 0..100 {
            assert!(aside.split(&[b'x'; 1000]).is_empty());
        }
        assert_eq!(aside.line.len(), JSON_MAX);
        aside.split(b"\n");
        assert!(matches!(&aside.split(b"{\"class\":\"X\"}\n")[..], [Piece::News(News::Other)]));
    }
}
