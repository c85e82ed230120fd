//! What the feeds give, what is missing for the watch, and what to do about it: as text and as JSON.

mod tally;
mod verdict;

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Value, json};

use super::words::{NO_BREAK, push_wrapped};
use crate::watch::input::Link;
use crate::watch::units::{Span, WatchTime};

pub use tally::{Gives, Stream, Tally};
pub use verdict::{Status, Verdict};

/// Kinds of sentence named one by one. A noisy line mangles some names and still hits on a right checksum.
const KINDS_SHOWN: usize = 16;

/// What was found out.
#[derive(Clone, Debug, Default)]
pub struct Survey {
    /// Serial ports of the computer, by name.
    pub ports: Vec<PortHeard>,
    /// Feeds listened to.
    pub feeds: Vec<FeedHeard>,
    /// For how long.
    pub listened: Span,
    /// When the listening ended.
    pub ended: WatchTime,
}

/// A serial port and what was heard on it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PortHeard {
    /// Device file or Windows name.
    pub device: String,
    /// A link to it that stays when it is plugged in elsewhere.
    pub lasting_name: Option<String>,
    /// What is plugged in, in words.
    pub attached: String,
    /// What was heard.
    #[serde(flatten)]
    pub heard: PortSays,
}

/// What was heard on a port while its rate was sought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "heard")]
pub enum PortSays {
    /// Sentences at this rate.
    Sentences {
        /// Bits a second.
        baud: u32,
    },
    /// Something, but no sentence at any usual rate.
    Unreadable,
    /// Nothing.
    Silent,
    /// It could not be listened to.
    Failed {
        /// Why, in words.
        why: String,
    },
    /// It was left alone.
    NotTried,
}

/// A feed and what it gave.
#[derive(Clone, Debug)]
pub struct FeedHeard {
    /// What the crew calls it.
    pub name: String,
    /// Where its lines come from, as written.
    pub source: String,
    /// What came.
    pub tally: Tally,
}

/// The feeds as text, with the verdict at the end. The ports come before it, as [`ports_text`].
#[must_use]
pub fn text(survey: &Survey) -> String {
    let mut out = String::new();
    for feed in &survey.feeds {
        push_feed(&mut out, feed, survey);
    }
    let verdict = Verdict::of(&survey.feeds);
    let _ = writeln!(out, "Verdict: {}.", verdict.in_one_line());
    for advice in &verdict.advice {
        push_wrapped(&mut out, "  ", advice);
    }
    out
}

/// What was found where nobody had named it: what each is, what it gives, and the words for boat.toml of those that give a
/// position.
#[must_use]
pub fn found_text(found: &[&FeedHeard]) -> String {
    if found.is_empty() {
        return "Nothing was heard in the usual places.\n\n".to_owned();
    }
    let mut out = "Found\n".to_owned();
    for feed in found {
        push_wrapped(&mut out, "  ", &format!("{}: {}", feed.source, feed.tally.in_short()));
    }
    let with_position = found.iter().filter(|feed| feed.tally.stream(Gives::Position).is_some());
    for (feed, number) in with_position.zip(1..) {
        let _ = write!(out, "\n  [[feed]]\n  name = \"found{number}\"\n  source = \"{}\"\n", feed.source);
    }
    out.push('\n');
    out
}

/// The serial ports as text.
#[must_use]
pub fn ports_text(ports: &[PortHeard]) -> String {
    if ports.is_empty() {
        return "No serial port is there.\n\n".to_owned();
    }
    let mut out = "Serial ports\n".to_owned();
    let width = ports.iter().map(|port| port.device.chars().count()).max().unwrap_or(0);
    for port in ports {
        let says = match &port.heard {
            PortSays::Sentences { baud } => format!(": sentences at {baud} baud"),
            PortSays::Unreadable => ": no NMEA 0183 at any usual rate".to_owned(),
            PortSays::Silent => ": silent".to_owned(),
            PortSays::Failed { .. } | PortSays::NotTried => String::new(),
        };
        let _ = writeln!(out, "  {:width$}  {}{says}", port.device, port.attached);
        if let PortSays::Failed { why } = &port.heard {
            push_wrapped(&mut out, &" ".repeat(width + 4), why);
        }
        if let Some(name) = &port.lasting_name {
            let _ = writeln!(out, "  {:width$}  always {name}", "");
        }
    }
    out.push('\n');
    out
}

fn push_feed(out: &mut String, feed: &FeedHeard, survey: &Survey) {
    let tally = &feed.tally;
    let same = feed.name == feed.source;
    let title = if same { feed.source.clone() } else { format!("{}  {}", feed.name, feed.source) };
    push_wrapped(out, "", &format!("{title}  {}", link_words(tally, survey.ended)));
    let mut sentences = format!("{} good", tally.good);
    for (count, what) in [
        (tally.void(), "incomplete or void"),
        (tally.ignored(), "not for us"),
        (tally.rejected(), "rejected"),
    ] {
        if count > 0 {
            let _ = write!(sentences, ", {count} {what}");
        }
    }
    if tally.dropped > 0 {
        let _ = write!(sentences, ", {} dropped because too many came", tally.dropped);
    }
    push_wrapped(out, "  ", &sentences);
    let reasons: Vec<_> = tally.reasons().iter().map(|(reason, count)| format!("{count} {reason}")).collect();
    if !reasons.is_empty() {
        push_wrapped(out, "  ", &format!("of these: {}", reasons.join("; ")));
    }
    let kinds = tally.sentences();
    let (shown, others) = kinds.split_at(kinds.len().min(KINDS_SHOWN));
    if !shown.is_empty() {
        let shown: Vec<_> = shown
            .iter()
            .map(|(name, stream)| format!("{name}{NO_BREAK}{}", unbroken(&stream.often())))
            .collect();
        let others =
            if others.is_empty() { String::new() } else { format!(" and {} rarer kinds", others.len()) };
        push_wrapped(out, "  ", &format!("sentences: {}{others}", shown.join(", ")));
    }
    let gives: Vec<_> = tally
        .gives()
        .map(|(gives, stream)| unbroken(&format!("{} {}", gives.word(), stream.often())))
        .collect();
    let gives = if gives.is_empty() { "nothing the watch can use".to_owned() } else { gives.join(", ") };
    push_wrapped(out, "  ", &format!("gives {gives}"));
    out.push('\n');
}

fn link_words(tally: &Tally, ended: WatchTime) -> String {
    let last = match tally.last {
        Some(last) => format!("last line {:.1} s ago", ended.since(last).seconds().max(0.0)),
        None => "no line".to_owned(),
    };
    match &tally.link {
        Link::Opening => "not open yet".to_owned(),
        Link::Open => format!("open, {last}"),
        Link::Lost { why } => format!("lost: {why}"),
        Link::Ended => "read to its end".to_owned(),
    }
}

fn unbroken(text: &str) -> String {
    text.replace(' ', &NO_BREAK.to_string())
}

/// The survey as one JSON object. Rates a second, times in seconds.
#[must_use]
pub fn json(survey: &Survey) -> Value {
    let verdict = Verdict::of(&survey.feeds);
    json!({
        "listened_s": survey.listened.seconds(),
        "ports": survey.ports,
        "feeds": survey.feeds.iter().map(|feed| feed_json(feed, survey.ended)).collect::<Vec<_>>(),
        "verdict": verdict,
    })
}

fn feed_json(feed: &FeedHeard, ended: WatchTime) -> Value {
    let tally = &feed.tally;
    let rates = |streams: Vec<(String, &Stream)>| -> Value {
        let entry = |(name, stream): (String, &Stream)| {
            (name, json!({ "count": stream.count, "per_second": stream.per_second() }))
        };
        Value::Object(streams.into_iter().map(entry).collect())
    };
    json!({
        "name": feed.name,
        "source": feed.source,
        "link": tally.link,
        "last_line_s_ago": tally.last.map(|last| ended.since(last).seconds()),
        "good": tally.good,
        "void": tally.void(),
        "not_used": tally.ignored(),
        "rejected": tally.rejected(),
        "reasons": tally.reasons().into_iter().collect::<std::collections::BTreeMap<_, _>>(),
        "dropped": tally.dropped,
        "sentences": rates(tally.sentences()),
        "gives": rates(tally.gives().map(|(gives, stream)| (gives.word().to_owned(), stream)).collect()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(body: &str) -> Vec<u8> {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}").into_bytes()
    }

    /// Ten seconds of a receiver with a compass.
    pub(super) fn masthead() -> FeedHeard {
        let mut tally = Tally::default();
        tally.link = Link::Open;
        for tenth in 0..100_i64 {
            let at = WatchTime(tenth * 100);
            tally.hear(at, &line("HEHDT,231.5,T"));
            if tenth % 10 == 0 {
                tally.hear(at, &line("GPRMC,020304,A,5012.345,N,00512.345,W,0.1,,030626,,,A"));
                tally.hear(at, &line("GPGGA,020304,5012.345,N,00512.345,W,1,09,0.9,4.0,M,50.0,M,,"));
            }
        }
        tally.hear(WatchTime(9_950), b"$HEHDT,231.5,T*00");
        FeedHeard { name: "masthead".to_owned(), source: "serial:/dev/ttyUSB0@38400".to_owned(), tally }
    }

    fn survey() -> Survey {
        let ports = vec![
            PortHeard {
                device: "/dev/ttyS0".to_owned(),
                lasting_name: None,
                attached: "on the board".to_owned(),
                heard: PortSays::Silent,
            },
            PortHeard {
                device: "/dev/ttyUSB0".to_owned(),
                lasting_name: Some("/dev/serial/by-id/usb-receiver-if00".to_owned()),
                attached: "USB 1234:abcd, invented maker, serial 17".to_owned(),
                heard: PortSays::Sentences { baud: 38_400 },
            },
        ];
        Survey { ports, feeds: vec![masthead()], listened: Span::from_secs(10), ended: WatchTime(10_000) }
    }

    #[test]
    fn the_text_ends_with_the_verdict() {
        let survey = survey();
        insta::assert_snapshot!(ports_text(&survey.ports) + &text(&survey), @r"
        Serial ports
          /dev/ttyS0    on the board: silent
          /dev/ttyUSB0  USB 1234:abcd, invented maker, serial 17: sentences at 38400 baud
                        always /dev/serial/by-id/usb-receiver-if00

        masthead  serial:/dev/ttyUSB0@38400  open, last line 0.1 s ago
          120 good, 1 rejected
          of these: 1 wrong checksum
          sentences: HEHDT 10/s, GPGGA 1/s, GPRMC 1/s
          gives position 1/s, speed over ground 1/s, heading 10/s

        Verdict: position yes 1/s, heading yes 10/s, wind no, depth no.
          Without wind, a shift or a rising wind raises no alert: watch the sky yourself.
          Without a depth, shallow water raises no alert, and you must type the depth when you let go.
          A drag would show after about 19 m; with a wind sensor after about 14 m. That is with a good
            receiver.
        ");
    }

    #[test]
    fn json_says_the_same() {
        let json = json(&survey());
        assert_eq!(json["ports"][1]["baud"], 38_400);
        assert_eq!(json["feeds"][0]["sentences"]["HEHDT"]["count"], 100);
        assert_eq!(json["feeds"][0]["gives"]["position"]["per_second"], 1.0);
        assert_eq!(json["feeds"][0]["reasons"]["wrong checksum"], 1);
        assert_eq!(json["verdict"]["heading"]["status"], "yes");
        assert_eq!(json["verdict"]["wind"]["status"], "no");
    }

    #[test]
    fn what_is_found_is_named_and_only_what_gives_a_position_is_proposed() {
        let heard = |source: &str, lines: &[&str]| {
            let mut tally = Tally::default();
            lines.iter().for_each(|line| tally.hear(WatchTime(0), line.as_bytes()));
            FeedHeard { name: source.to_owned(), source: source.to_owned(), tally }
        };
        let network = heard("udp:0.0.0.0:2000", &["17:33:21.107 R 09F80101 F1 2B 6B 1B 8E 5E 36 FF"]);
        let server = heard(
            "signalk:localhost:3000",
            &[r#"{"updates":[{"values":[{"path":"environment.depth.belowKeel","value":3.1}]}]}"#],
        );
        let text = found_text(&[&network, &server]);
        assert!(text.contains("udp:0.0.0.0:2000: NMEA 2000 as text; gives position once"), "{text}");
        assert!(text.contains("signalk:localhost:3000: Signal K; gives depth once"), "{text}");
        assert_eq!(text.matches("[[feed]]").count(), 1, "{text}");
        assert!(found_text(&[]).contains("Nothing was heard"));
    }

    #[test]
    fn nothing_found_is_said_in_words() {
        assert_eq!(ports_text(&[]), "No serial port is there.\n\n");
        let text = text(&Survey::default());
        assert!(text.contains("position no"), "{text}");
        assert!(text.contains("No watch can be kept"), "{text}");
    }
}
