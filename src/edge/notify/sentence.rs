//! How does an alert read as sentences? ALF, ALR, ALC and HBT of IEC 61162-1, for plotters, repeaters and alarm panels.
//!
//! # Source
//! Field orders: those by which pynmeagps 1.1.8 reads `tests/reference/alert_sentences.jsonl`. Codes, the limits of
//! 82 characters a sentence and 16 a title, and the repetition every 30 s: IEC 61162-1 and IEC 62923-1, from memory.

use std::collections::BTreeMap;

use crate::watch::alert::{About, Alert, AlertChange, AlertKind, AlertState, Category, Change, Priority};
use crate::watch::nmea::checksum;
use crate::watch::units::WatchTime;

/// The standing alerts, their list and the heartbeat are said again this often, in seconds.
pub const REPEAT_S: u8 = 30;

/// Longest text between `$` and `*`: 82 characters less `$`, `*hh` and the line end.
const LONGEST_BODY: usize = 76;
/// Longest title of an alert.
const LONGEST_TITLE: usize = 16;
/// First number of those that makers of equipment give to alerts of their own.
const OWN_IDS_FROM: u16 = 10_000;
/// There is never more than one alert of a kind.
const INSTANCE: u8 = 1;

/// Where an alert stands, for a listener.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stand {
    Unacknowledged,
    Silenced,
    Acknowledged,
    Rectified,
    Normal,
}

impl Stand {
    fn of(alert: &Alert) -> Self {
        match alert.state {
            AlertState::Normal => Self::Normal,
            AlertState::Unacknowledged => Self::Unacknowledged,
            AlertState::Silenced { .. } => Self::Silenced,
            AlertState::Acknowledged => Self::Acknowledged,
            AlertState::Rectified => Self::Rectified,
        }
    }

    const fn letter(self) -> char {
        match self {
            Self::Unacknowledged => 'V',
            Self::Silenced => 'S',
            Self::Acknowledged => 'A',
            Self::Rectified => 'U',
            Self::Normal => 'N',
        }
    }

    /// ALR's condition and acknowledgement.
    const fn condition_and_answer(self) -> (char, char) {
        match self {
            Self::Unacknowledged | Self::Silenced => ('A', 'V'),
            Self::Acknowledged => ('A', 'A'),
            Self::Rectified => ('V', 'V'),
            Self::Normal => ('V', 'A'),
        }
    }
}

/// What one listener has been sent, and the next thing to send.
#[derive(Debug, Default)]
pub struct Report {
    sent: BTreeMap<AlertKind, Sent>,
    /// How often each alert has changed; goes on when an alert ends and comes back.
    revisions: BTreeMap<AlertKind, u8>,
    /// The maker's code; empty for none.
    maker: String,
    pairs: u8,
    lists: u8,
    beats: u8,
}

#[derive(Debug)]
struct Sent {
    alert: Alert,
    changed: WatchTime,
}

impl Report {
    /// A report with a maker's code in it; empty for none.
    pub fn by(maker: &str) -> Self {
        Self { maker: maker.to_owned(), ..Self::default() }
    }

    /// The sentences for a change of one alert, each with its line end.
    pub fn change(&mut self, change: &AlertChange) -> String {
        let AlertChange { at, change, alert } = change;
        self.revise(alert.kind);
        let stand = if *change == Change::Ended { Stand::Normal } else { Stand::of(alert) };
        let mut out = String::new();
        self.say(alert, stand, *at, &mut out);
        if stand == Stand::Normal {
            self.sent.remove(&alert.kind);
        } else {
            self.sent.insert(alert.kind, Sent { alert: alert.clone(), changed: *at });
        }
        out
    }

    /// The sentences for every alert that stands at `at`, with the words it has now; then their list, then the
    /// heartbeat, which says whether the watch judges. An alert whose end was missed is said to be normal.
    pub fn standing(&mut self, at: WatchTime, alerts: &[Alert], is_judging: bool) -> String {
        let mut out = String::new();
        let ended: Vec<AlertKind> =
            self.sent.keys().copied().filter(|kind| !alerts.iter().any(|a| a.kind == *kind)).collect();
        for kind in ended {
            if let Some(Sent { alert, .. }) = self.sent.remove(&kind) {
                self.revise(kind);
                self.say(&alert, Stand::Normal, at, &mut out);
            }
        }
        for alert in alerts {
            let changed = self.bring_up_to_date(alert);
            self.say(alert, Stand::of(alert), changed, &mut out);
        }
        self.list(&mut out);
        self.beats = (self.beats + 1) % 10;
        // A: in normal operation; V: not (IEC 61162-1, from memory). A program that runs and judges nothing is not.
        let status = if is_judging { 'A' } else { 'V' };
        end_sentence(&format!("IIHBT,{REPEAT_S}.0,{status},{}", self.beats), &mut out);
        out
    }

    /// Notes the alert as it is now; gives the time of its last change of state.
    fn bring_up_to_date(&mut self, alert: &Alert) -> WatchTime {
        let changed = match self.sent.get(&alert.kind) {
            Some(sent) if sent.alert == *alert => return sent.changed,
            Some(sent) => sent.changed,
            None => alert.rectified.unwrap_or(alert.raised),
        };
        self.revise(alert.kind);
        self.sent.insert(alert.kind, Sent { alert: alert.clone(), changed });
        changed
    }

    /// 1 to 99, and round again.
    fn revise(&mut self, kind: AlertKind) {
        let revision = self.revisions.entry(kind).or_default();
        *revision = *revision % 99 + 1;
    }

    fn revision(&self, kind: AlertKind) -> u8 {
        self.revisions.get(&kind).copied().unwrap_or(1)
    }

    fn say(&mut self, alert: &Alert, stand: Stand, changed: WatchTime, out: &mut String) {
        self.pairs = (self.pairs + 1) % 10;
        let About { number, category, short_title: title, .. } = *alert.kind.about();
        let time = time_of_day(changed);
        let first = Alf {
            total: 2,
            number: 1,
            pair: self.pairs,
            time: &time,
            judged: Some((category, alert.priority, stand)),
            maker: &self.maker,
            id: OWN_IDS_FROM + number,
            instance: INSTANCE,
            revision: self.revision(alert.kind),
            escalation: u8::from(alert.escalated),
        };
        end_sentence(&first.body(&cut(title, LONGEST_TITLE)), out);
        let second = Alf { number: 2, time: "", judged: None, ..first };
        let room = LONGEST_BODY.saturating_sub(second.body("").len());
        end_sentence(&second.body(&cut(&alert.reason.what, room)), out);
        let (condition, answer) = stand.condition_and_answer();
        end_sentence(&alr(&time, number, condition, answer, &cut(title, LONGEST_TITLE)), out);
    }

    /// The cyclic list of all alerts that are not normal, as many sentences as it needs.
    fn list(&mut self, out: &mut String) {
        let entries: Vec<String> = self
            .sent
            .keys()
            .map(|kind| {
                let id = OWN_IDS_FROM + kind.about().number;
                format!(",{},{id},{INSTANCE},{}", self.maker, self.revision(*kind))
            })
            .collect();
        // `IIALC,01,01,00,4` and four entries of at most 15 characters are 76: they always fit.
        let mut sentences: Vec<&[String]> = entries.chunks(4).collect();
        if sentences.is_empty() {
            sentences.push(&[]);
        }
        let total = sentences.len();
        for (n, entries) in (1..).zip(sentences) {
            let body =
                format!("IIALC,{total:02},{n:02},{:02},{}{}", self.lists, entries.len(), entries.concat());
            end_sentence(&body, out);
        }
        self.lists = (self.lists + 1) % 100;
    }
}

/// The fields of an ALF before its text. The standard wants the maker's registered code with alerts that are the maker's own,
/// as all of these are, and none with standard ones (from memory). None is registered for this program: the crew may set one.
#[derive(Clone, Copy)]
struct Alf<'a> {
    total: u8,
    number: u8,
    pair: u8,
    time: &'a str,
    /// Category, priority and state; empty in a second sentence.
    judged: Option<(Category, Priority, Stand)>,
    maker: &'a str,
    id: u16,
    instance: u8,
    revision: u8,
    escalation: u8,
}

impl Alf<'_> {
    fn body(&self, text: &str) -> String {
        let Self { total, number, pair, time, judged, maker, id, instance, revision, escalation } = *self;
        let judged = judged.map_or_else(
            || ",,".into(),
            |(category, priority, stand)| {
                let category = match category {
                    Category::Chart => 'A',
                    Category::Text => 'B',
                };
                let priority = match priority {
                    Priority::Alarm => 'A',
                    Priority::Warning => 'W',
                    Priority::Caution => 'C',
                };
                format!("{category},{priority},{}", stand.letter())
            },
        );
        format!(
            "IIALF,{total},{number},{pair},{time},{judged},{maker},{id},{instance},{revision},{escalation},{text}"
        )
    }
}

fn alr(time: &str, number: u16, condition: char, answer: char, title: &str) -> String {
    format!("IIALR,{time},{number:03},{condition},{answer},{title}")
}

fn end_sentence(body: &str, out: &mut String) {
    let [high, low] = checksum::to_hex(checksum::xor(body.as_bytes())).map(char::from);
    out.push('$');
    out.push_str(body);
    out.extend(['*', high, low, '\r', '\n']);
}

/// UTC as `hhmmss.ss`.
fn time_of_day(at: WatchTime) -> String {
    let ms = at.0.rem_euclid(86_400_000);
    let (minutes, centiseconds) = (ms / 60_000, ms % 60_000 / 10);
    let (hour, minute) = (minutes / 60, minutes % 60);
    format!("{hour:02}{minute:02}{:02}.{:02}", centiseconds / 100, centiseconds % 100)
}

/// Text as it may stand in a sentence, at most `longest` characters of it: whole words where there is a choice.
fn cut(text: &str, longest: usize) -> String {
    let mut out = String::new();
    let mut last_word_ends = 0;
    for piece in text.chars().map(escaped) {
        if out.len() + piece.len() > longest {
            if last_word_ends > 0 {
                out.truncate(last_word_ends);
            }
            break;
        }
        if piece == " " {
            last_word_ends = out.len();
        }
        out.push_str(&piece);
    }
    out
}

/// A character as sentences carry it: reserved ones and those of ISO 8859-1 behind a `^`, common signs in ASCII.
fn escaped(c: char) -> String {
    match c {
        '°' => " deg".into(),
        '\u{2013}' | '\u{2014}' | '\u{2212}' => "-".into(),
        '\u{2018}' | '\u{2019}' => "'".into(),
        '!' | '$' | '*' | ',' | '\\' | '^' | '~' => format!("^{:02X}", u32::from(c)),
        ' '..='}' => c.to_string(),
        c if u32::from(c) < 256 => format!("^{:02X}", u32::from(c)),
        _ => "?".into(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::watch::alert::Reason;

    /// 2026-06-03 02:14:00.120 UTC.
    const AT: WatchTime = WatchTime(1_780_452_840_120);

    fn alert(kind: AlertKind, priority: Priority, state: AlertState, what: &str) -> Alert {
        let reason = Reason { what: what.into(), action: "Look.".into() };
        Alert { kind, priority, state, raised: AT, rectified: None, escalated: false, reason }
    }

    fn drag(state: AlertState) -> Alert {
        let what = "41 m from the anchor; 35 m of rode reaches 33 m. 3 min, still opening, 062°";
        alert(AlertKind::Drag, Priority::Alarm, state, what)
    }

    fn change(change: Change, alert: Alert) -> AlertChange {
        AlertChange { at: AT, change, alert }
    }

    /// What a listener hears in a short night. The page of sentences as another program reads them:
    /// `tests/reference/alerts_sent.jsonl`, made by pynmeagps 1.1.8 from these very sentences.
    fn short_night() -> String {
        let mut report = Report::default();
        let silenced = AlertState::Silenced { until: AT };
        let mut risen = alert(
            AlertKind::FixLost,
            Priority::Alarm,
            AlertState::Unacknowledged,
            "No position for 5 min, 3 s.",
        );
        risen.escalated = true;
        [
            report.change(&change(Change::Raised, drag(AlertState::Unacknowledged))),
            report.change(&change(Change::Silenced, drag(silenced))),
            report.change(&change(Change::Acknowledged, drag(AlertState::Acknowledged))),
            report.change(&change(Change::Risen, risen.clone())),
            report.standing(AT, &[drag(AlertState::Acknowledged), risen.clone()], true),
            report.change(&change(Change::Rectified, Alert { state: AlertState::Rectified, ..risen })),
            report.change(&change(Change::Ended, drag(AlertState::Acknowledged))),
            report.standing(AT, &[], true),
        ]
        .concat()
    }

    #[test]
    fn another_program_reads_from_the_sentences_what_was_meant() {
        let read = include_str!("../../../tests/reference/alerts_sent.jsonl");
        let known: Vec<String> = read
            .lines()
            .map(|line| {
                serde_json::from_str::<serde_json::Value>(line).unwrap()["raw"].as_str().unwrap().into()
            })
            .collect();
        assert_eq!(short_night().lines().collect::<Vec<_>>(), known);
    }

    /// What the letters of a reference sentence say; `None` for what ours never say: emergencies, and a responsibility
    /// handed over.
    fn judged(category: &str, priority: &str, state: &str) -> Option<Option<(Category, Priority, Stand)>> {
        if category.is_empty() {
            return Some(None);
        }
        if priority == "E" || category == "C" {
            return None;
        }
        let category = if category == "A" { Category::Chart } else { Category::Text };
        let priority = match priority {
            "A" => Priority::Alarm,
            "W" => Priority::Warning,
            _ => Priority::Caution,
        };
        let stand = match state {
            "V" => Stand::Unacknowledged,
            "S" => Stand::Silenced,
            "A" => Stand::Acknowledged,
            "U" => Stand::Rectified,
            "N" => Stand::Normal,
            _ => return None,
        };
        Some(Some((category, priority, stand)))
    }

    #[test]
    fn sentences_written_from_the_fields_of_the_reference_are_those_of_the_reference() {
        let mut checked = 0;
        for line in include_str!("../../../tests/reference/alert_sentences.jsonl").lines() {
            let vector: serde_json::Value = serde_json::from_str(line).unwrap();
            let field = |name: &str| vector["fields"][name].as_str().unwrap_or_default().to_owned();
            let number = |name: &str| vector["fields"][name].as_u64().unwrap_or_default() as u8;
            let time = |name: &str| field(name).replace(':', "").chars().take(9).collect::<String>();
            let body = match vector["type"].as_str().unwrap() {
                "ALF" => {
                    let Some(judged) =
                        judged(&field("alertcat"), &field("alertpriority"), &field("alertstate"))
                    else {
                        continue;
                    };
                    let alf = Alf {
                        total: number("numSen"),
                        number: number("senNum"),
                        pair: number("seqmid"),
                        time: &time("timelastchange"),
                        judged,
                        maker: "",
                        id: field("alertid").parse().unwrap(),
                        instance: field("alertinst").parse().unwrap(),
                        revision: field("revisionctr").parse().unwrap(),
                        escalation: field("escalationctr").parse().unwrap(),
                    };
                    alf.body(&field("alerttxt"))
                }
                "ALR" => {
                    let letter = |name: &str| field(name).chars().next().unwrap();
                    alr(
                        &time("timealarmchange"),
                        field("alarmnum").parse().unwrap(),
                        letter("alarmcond"),
                        letter("alarmstate"),
                        &field("alarmtext"),
                    )
                }
                _ => continue,
            };
            let mut sentence = String::new();
            end_sentence(&body, &mut sentence);
            assert_eq!(sentence.trim_end(), vector["raw"].as_str().unwrap());
            checked += 1;
        }
        assert!(checked >= 10, "{checked}");
    }

    #[test]
    fn an_alert_whose_end_was_missed_is_said_to_be_normal() {
        let mut report = Report::default();
        report.change(&change(Change::Raised, drag(AlertState::Unacknowledged)));
        let said = report.standing(AT, &[], true);
        assert!(said.contains(",A,A,N,,10001,1,2,0,DRAGGING"), "{said}");
        assert!(said.contains("$IIALC,01,01,00,0*"), "{said}");
        assert!(!report.standing(AT, &[], true).contains("DRAGGING"));
    }

    #[test]
    fn the_revision_counts_what_changes_and_not_what_is_repeated() {
        let mut report = Report::default();
        let standing = [drag(AlertState::Unacknowledged)];
        assert!(report.standing(AT, &standing, true).contains(",10001,1,1,0,DRAGGING"));
        assert!(report.standing(AT, &standing, true).contains(",10001,1,1,0,DRAGGING"));
        let farther = [Alert {
            reason: Reason { what: "50 m from the anchor".into(), ..Reason::default() },
            ..drag(AlertState::Unacknowledged)
        }];
        assert!(report.standing(AT, &farther, true).contains(",10001,1,2,0,50 m from the anchor"));
    }

    /// All alerts are the maker's own, so a code that was set stands in ALF and in each entry of ALC.
    #[test]
    fn a_makers_code_stands_with_every_alert_of_its_own() {
        let said = Report::by("XYZ").standing(AT, &[drag(AlertState::Unacknowledged)], true);
        assert!(said.contains(",A,A,V,XYZ,10001,1,1,0,DRAGGING"), "{said}");
        assert!(said.contains("IIALF,2,2,1,,,,,XYZ,10001,1,1,0,41 m"), "{said}");
        assert!(said.contains("$IIALC,01,01,00,1,XYZ,10001,1,1*"), "{said}");
    }

    #[test]
    fn text_is_cut_at_a_word_and_never_inside_an_escape() {
        assert_eq!(cut("three short words", 12), "three short");
        assert_eq!(cut("a,b", 3), "a");
        assert_eq!(cut("062°, Sør", 40), "062 deg^2C S^F8r");
    }

    proptest! {
        #[test]
        fn whatever_the_words_a_sentence_is_never_too_long_and_its_text_is_one_field(
            maker in "XYZ|", what in "\\PC{0,120}|[,*$!^~\\\\\r\n°]{0,60}", kind in prop::sample::select(AlertKind::ALL.to_vec())
        ) {
            let mut report = Report::by(&maker);
            let alert = alert(kind, Priority::Warning, AlertState::Unacknowledged, &what);
            let said = report.change(&change(Change::Raised, alert.clone()))
                + &report.standing(AT, &AlertKind::ALL.map(|kind| Alert { kind, ..alert.clone() }), true);
            for sentence in said.split_inclusive("\r\n") {
                prop_assert!(sentence.len() <= 82, "{sentence}");
                prop_assert!(sentence.is_ascii());
                if sentence.contains("ALF") {
                    prop_assert_eq!(sentence.matches(',').count(), 13, "{}", sentence);
                }
            }
        }
    }
}
