//! One line of `journal.jsonl`, to text and back.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::watch::alert::AlertChange;
use crate::watch::boat::Settings;
use crate::watch::input::Event;
use crate::watch::units::WatchTime;

/// The journal's format. It changes when an older program could no longer read what a newer one writes, or could no longer
/// show damage: from 2 on every line has its number and a checksum.
pub const FORMAT: u32 = 2;
/// From this format on a line without a checksum is damaged.
pub(super) const SEALED_FROM: u32 = 2;

/// The journal's first line: what is needed to read the rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// The format; [`FORMAT`] where this version wrote it.
    pub format: u32,
    /// The version of the program that wrote it.
    pub version: String,
    /// When the recording began.
    pub at: WatchTime,
    /// The same as text.
    pub time: String,
    /// The settings that the watch began with.
    pub settings: Settings,
}

/// Any other line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// When.
    pub at: WatchTime,
    /// The same as text, for people; ignored when read.
    pub time: String,
    /// What.
    #[serde(flatten)]
    pub what: What,
}

/// What a line of the journal says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// An input of the watch.
    Event(Event),
    /// An alert changed: an output, kept for whoever reads.
    Alert(AlertChange),
    /// So many received lines were not kept, because the disk did not take them.
    LostLines(u64),
}

impl Header {
    /// The header of a recording that begins now.
    #[must_use]
    pub fn new(at: WatchTime, settings: &Settings) -> Self {
        Self {
            format: FORMAT,
            version: env!("CARGO_PKG_VERSION").into(),
            at,
            time: timestamp(at),
            settings: settings.clone(),
        }
    }

    pub(super) fn to_line(&self) -> Vec<u8> {
        line(self)
    }
}

impl Record {
    /// A record of what happens at `at`.
    #[must_use]
    pub fn new(at: WatchTime, what: What) -> Self {
        Self { at, time: timestamp(at), what }
    }

    pub(super) fn to_line(&self) -> Vec<u8> {
        line(self)
    }
}

fn line(value: &impl Serialize) -> Vec<u8> {
    let mut text = serde_json::to_vec(value).expect("types of our own with text for keys always become JSON");
    text.push(b'\n');
    text
}

/// A moment as RFC 3339 in UTC with milliseconds: `2026-06-03T02:14:00.000Z`.
#[must_use]
pub fn timestamp(at: WatchTime) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "beyond the calendar".into(),
        |time| time.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string(),
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::watch::alert::{Alert, AlertKind, AlertState, Change, Priority, Reason};
    use crate::watch::boat::{Limits, Sector};
    use crate::watch::forecast::{Forecast, WindThen};
    use crate::watch::geo::Position;
    use crate::watch::input::{
        CheckItem, Command, Device, Differs, DropMove, FeedId, Finding, Found, Link, PullKind, RoundItem,
        RoundMade, TideEntered, Transit, TurnKind, TypedTurn,
    };
    use crate::watch::units::{Knots, Metres, TrueBearing};
    use crate::watch::wake::WakeFor;
    use crate::watch::way_out::WayOut;

    fn back(record: &Record) -> Record {
        let line = record.to_line();
        assert_eq!(line.iter().filter(|b| **b == b'\n').count(), 1, "one record, one line");
        serde_json::from_slice(&line).unwrap()
    }

    #[test]
    fn every_kind_of_record_comes_back_as_it_was_written() {
        let at = WatchTime(1_780_430_520_123);
        let limits = Limits {
            barred: vec![Sector { from: TrueBearing::new(200.1), to: TrueBearing::new(290.0) }],
            circle: Some(Metres(41.3)),
            ..Limits::default()
        };
        let turns = vec![TypedTurn { time: at, height: Metres(4.4), kind: TurnKind::High }];
        let position = Position::new(50.123_456_789_012_3, -3.1).unwrap();
        let calm = WindThen { at, from: None, mean: Knots(3.0), gust: None };
        let commands = [
            Command::LetGo { veered: Some(Metres(30.1)), depth: None, place: "Hollow\nNess".into() },
            Command::LetGo { veered: None, depth: None, place: String::new() },
            Command::DropDepth { depth: Metres(4.6) },
            Command::NamePlace { name: "Hollow Ness".into() },
            Command::Lying { veered: None, place: String::new() },
            Command::Lying { veered: Some(Metres(40.0)), place: "Hollow Ness".into() },
            Command::Veered { length: Metres(35.0) },
            Command::BeginRecon,
            Command::EndRecon,
            Command::VeerTo { length: Metres(40.0) },
            Command::Pull { kind: PullKind::HalfThrottle },
            Command::Transit { seen: Transit::Stood },
            Command::Neutral,
            Command::Round(RoundMade {
                by: Some("Tove".into()),
                checked: vec![RoundItem::Bearings, RoundItem::Own("bilge".into())],
                differs: vec![Differs { item: RoundItem::Snubber, note: "chafed".into() }],
            }),
            Command::BroughtUp,
            Command::MoveDrop(DropMove::Position { position }),
            Command::MoveDrop(DropMove::FromBow { bearing: TrueBearing::new(47.3), distance: Metres(31.0) }),
            Command::MoveDrop(DropMove::BowAt { at }),
            Command::Acknowledge { kind: None },
            Command::Acknowledge { kind: Some(AlertKind::FixLost) },
            Command::Silence,
            Command::Limits(limits),
            Command::Tide(TideEntered::Table { turns }),
            Command::Tide(TideEntered::Nothing),
            Command::Note { text: "said \"hi\"".into() },
            Command::Weigh,
            Command::Stay,
            Command::LiesHere,
            Command::BeginCheck,
            Command::CheckFound(Finding { item: CheckItem::Rode, found: Some(Found::Wrong) }),
            Command::CheckFound(Finding { item: CheckItem::Transit, found: None }),
            Command::EndCheck,
            Command::Rehearse,
            Command::Rehearsed { heard: Some(false) },
            Command::Wake(WakeFor { at: Some(at), turn: true, wind: Some(Knots(25.0)) }),
            Command::WindAhead { winds: Forecast::try_from(vec![calm]).ok() },
            Command::WindAhead { winds: None },
            Command::Berth { berth: Box::default() },
            Command::WayOut { way: Some(WayOut { course: TrueBearing::new(140.0), distance_nm: 0.4 }) },
            Command::Aweigh,
        ];
        let events = commands.into_iter().map(Event::Crew).chain([
            Event::Feed { feed: FeedId(3), name: "gps".into(), link: Link::Lost { why: "unplugged".into() } },
            Event::Feed { feed: FeedId(3), name: "gps".into(), link: Link::Open },
            Event::Device(Device::Sound { failed: Some("gone".into()) }),
            Event::Device(Device::Disk { failed: None }),
            Event::Device(Device::Rehearsal { failed: Some("no card".into()) }),
            Event::Gap { from: WatchTime(5) },
        ]);
        for event in events {
            let record = Record::new(at, What::Event(event));
            assert_eq!(back(&record), record);
        }
        for state in [AlertState::Silenced { until: at }, AlertState::Rectified, AlertState::Normal] {
            let alert = Alert {
                kind: AlertKind::WindShift,
                priority: Priority::Warning,
                state,
                raised: at,
                rectified: Some(at),
                escalated: true,
                reason: Reason { what: "backed 50°".into(), action: "look".into() },
            };
            let record = Record::new(at, What::Alert(AlertChange { at, change: Change::Silenced, alert }));
            assert_eq!(back(&record), record);
        }
        let record = Record::new(at, What::LostLines(7));
        assert_eq!(back(&record), record);
    }

    #[test]
    fn letting_go_as_older_journals_have_it_is_read() {
        let old = r#"{"at":5,"time":"","event":{"crew":{"act":"let_go","veered":30.0,"depth":null,"place":"Hollow Ness"}}}"#;
        let record: Record = serde_json::from_str(old).unwrap();
        let command = Command::LetGo { veered: Some(Metres(30.0)), depth: None, place: "Hollow Ness".into() };
        assert_eq!(record.what, What::Event(Event::Crew(command)));
    }

    #[test]
    fn times_are_written_with_milliseconds_and_never_fail() {
        assert_eq!(timestamp(WatchTime(1_780_430_520_000)), "2026-06-02T20:02:00.000Z");
        assert_eq!(timestamp(WatchTime(i64::MAX)), "beyond the calendar");
    }

    proptest! {
        // Without care the last bit of a number is lost on its way through text, and a night would not replay.
        #[test]
        fn numbers_keep_their_last_bit(metres in any::<f64>().prop_filter("finite", |x| x.is_finite()), at in any::<i64>()) {
            let event = Event::Crew(Command::Veered { length: Metres(metres) });
            let record = Record::new(WatchTime(at), What::Event(event));
            prop_assert_eq!(back(&record), record);
        }
    }
}
