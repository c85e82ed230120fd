//! The card for the chart table says what the watch knows, and nothing else.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::time::Duration;

use crate::support::{Run, START};
use jiff::tz::TimeZone;
use nightrode::config::{DropMark, RideFile};
use nightrode::edge::card::{CardError, of_file, of_ride};
use nightrode::edge::folder::Recorder;
use nightrode::report::card::{svg, text};
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::input::{Command, MarkEntered};
use nightrode::watch::marks::{Bearings, MarkView};
use nightrode::watch::units::Metres;
use quick_xml::Reader;
use quick_xml::events::Event;

fn place(east: f64, north: f64) -> Position {
    Plane::new(Position::new(52.0, -20.0).unwrap()).to_position(Local::new(east, north))
}

#[test]
fn the_card_of_a_ride_tells_the_arcs_that_the_watch_found() {
    let rides = tempfile::tempdir().unwrap();
    let settings = Settings::default();
    let mut run = Run::with(settings.clone());
    let file = RideFile { place: "Hollow Ness".into(), settings, ..RideFile::default() };
    run.recorder = Some(Recorder::begin(rides.path(), START, file).unwrap());
    run.let_go_and_bring_up();
    for (name, east, north) in [("beacon <2>", 400.0, 20.0), ("church", -300.0, 500.0)] {
        let entered = MarkEntered::Position { position: place(east, north) };
        run.crew(Command::Mark { name: name.into(), entered });
    }
    run.crew(Command::Mark {
        name: "in line".into(),
        entered: MarkEntered::InLine { near: "church".into(), far: "beacon <2>".into() },
    });
    run.lie_for(120, |_| Local::new(0.0, -20.0));
    run.recorder.as_ref().unwrap().flush(Duration::from_secs(30)).unwrap();
    let folder = run.recorder.as_ref().unwrap().folder().unwrap();

    let snapshot = of_ride(&folder).unwrap();
    let live = run.snapshot();
    let arcs =
        |marks: &[MarkView]| marks.iter().map(|m| (m.name.clone(), m.arc, m.opening_deg)).collect::<Vec<_>>();
    assert_eq!(arcs(&snapshot.marks), arcs(&live.marks), "the card is made of the same watch");
    let card = text(&snapshot, &TimeZone::UTC);
    for mark in live.marks.iter().filter(|mark| mark.far.is_none()) {
        let Bearings::Between { from, to } = mark.arc else { panic!("{mark:?}") };
        let variation = snapshot.variation_deg.unwrap();
        assert!(card.contains(&format!("{from} to {to}")), "{card}");
        let compass = format!("{} to {}", from.turned(-variation), to.turned(-variation));
        assert!(card.contains(&compass), "{compass}: {card}");
    }
    assert!(card.contains("in line; opens") && card.contains("Hollow Ness"), "{card}");

    let picture = svg(&snapshot, &TimeZone::UTC);
    let mut reader = Reader::from_str(&picture);
    let mut texts = 0;
    loop {
        match reader.read_event().expect("well-formed") {
            Event::Eof => break,
            Event::Start(tag) if tag.local_name().as_ref() == "text" => texts += 1,
            _ => {}
        }
    }
    assert!(texts > card.lines().count() / 2, "every line stands in the picture");
    assert!(picture.contains("beacon &lt;2&gt;"));
}

#[test]
fn a_ride_file_alone_makes_a_card() {
    let drop = DropMark { position: place(0.0, 0.0), time: Some(START), depth: Some(Metres(6.0)) };
    let ride = RideFile {
        place: "Hollow Ness".into(),
        veered: Some(Metres(30.0)),
        drop: Some(drop),
        marks: vec![
            ("beacon".into(), MarkEntered::Position { position: place(400.0, 20.0) }),
            ("church".into(), MarkEntered::Position { position: place(900.0, 40.0) }),
            ("leading line".into(), MarkEntered::InLine { near: "beacon".into(), far: "church".into() }),
        ],
        ..RideFile::default()
    };
    let card = text(&of_file(&ride, START).unwrap(), &TimeZone::UTC);
    assert!(card.contains("52°00.000′N  020°00.000′W"), "{card}");
    assert!(card.contains("beacon") && card.contains("in line; opens"), "{card}");
    assert!(card.contains("30 m out") && card.contains("variation"), "{card}");
    assert!(matches!(of_file(&RideFile::default(), START), Err(CardError::NoDrop)));
}
