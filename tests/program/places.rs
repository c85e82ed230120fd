//! The book of places on the command line: written, listed, shown, and exchanged with other programs.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use crate::support::{Run, START};
use nightrode::watch::boat::{Sector, Settings};
use nightrode::watch::geo::{Local, Position};
use nightrode::watch::input::{self, MarkEntered, TideEntered, TypedTurn};
use nightrode::watch::place::{Day, Place, PlaceNote, PlaceSounding, Season};
use nightrode::watch::tide::TurnKind;
use nightrode::watch::units::{Metres, Span, TrueBearing};

fn nightrode(home: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_nightrode")).args(args).env("HOME", home).output().unwrap()
}

fn printed(home: &Path, args: &[&str]) -> String {
    let done = nightrode(home, args);
    assert!(done.status.success(), "{args:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

#[test]
fn places_are_written_listed_and_shown_with_the_crews_own_words() {
    let home = tempfile::tempdir().unwrap();
    let rides = home.path().join("rides").display().to_string();
    let book = |args: &[&str]| printed(home.path(), &[&["places", "--rides", &rides], args].concat());
    assert!(book(&[]).contains("book of places is empty"));
    book(&["new", "Hollow Ness", "--at", "54.2,-10.4"]);
    assert!(
        book(&["list"]).contains("Hollow Ness  54°12.000′N  010°24.000′W  no ride yet"),
        "{}",
        book(&["list"])
    );
    let file = home.path().join("rides/places/hollow-ness.toml");
    let text = fs::read_to_string(&file).unwrap() + "\n[[note]]\ntext = \"weed in the north\"\n";
    fs::write(&file, text).unwrap();
    assert!(book(&["show", "hollow"]).contains("weed in the north"));
    let picture = book(&["show", "hollow", "--svg", "-"]);
    assert!(
        picture.contains("<svg") && picture.contains("weed in the north".replace(' ', "\u{a0}").as_str())
    );
    let again =
        nightrode(home.path(), &["places", "--rides", &rides, "new", "Hollow Ness", "--at", "54.2,-10.4"]);
    assert!(String::from_utf8_lossy(&again.stderr).contains("left as it is"));
    let wrong = nightrode(home.path(), &["places", "--rides", &rides, "new", "x", "--at", "99,0"]);
    assert!(!wrong.status.success() && String::from_utf8_lossy(&wrong.stderr).contains("is no position"));
}

#[test]
fn places_go_to_other_programs_and_come_back() {
    let home = tempfile::tempdir().unwrap();
    let rides = |name: &str| home.path().join(name).display().to_string();
    let (one, two, three) = (rides("one"), rides("two"), rides("three"));
    for (name, at) in [("Hollow & Ness", "54.2,10.4"), ("Cold Hole", "-54.25,10.5")] {
        printed(home.path(), &["places", "--rides", &one, "new", name, "--at", at]);
    }
    for (format, into) in [("gpx", &two), ("geojson", &three)] {
        let file = home.path().join(format);
        fs::write(&file, printed(home.path(), &["places", "--rides", &one, "export", format])).unwrap();
        printed(home.path(), &["places", "--rides", into, "import", &file.display().to_string()]);
        let list = |rides: &str| printed(home.path(), &["places", "--rides", rides, "list"]);
        assert_eq!(list(into), list(&one), "{format}");
    }
}

#[test]
fn check_lists_are_short_and_the_crews_own_take_their_place() {
    let home = tempfile::tempdir().unwrap();
    let config = home.path().join("config");
    fs::create_dir(&config).unwrap();
    let config_text = config.display().to_string();
    let all = printed(home.path(), &["--config", &config_text, "checks"]);
    for title in ["BEFORE LETTING GO", "ON LEAVING HER", "BEFORE WEIGHING"] {
        assert!(all.contains(title), "{all}");
    }
    fs::write(config.join("checks.toml"), "weighing = [\"kettle off\"]\n").unwrap();
    let weighing = printed(home.path(), &["--config", &config_text, "checks", "weighing"]);
    assert_eq!(weighing, "BEFORE WEIGHING\n  [ ] kettle off\n");
}

/// A place of the book about the plane's origin.
fn hollow(run: &Run) -> Place {
    let at = |east: f64, north: f64| run.plane().to_position(Local::new(east, north));
    let sounding = |charted: f64, days_ago: i64| PlaceSounding {
        position: at(3.0, 4.0),
        charted: Metres(charted),
        on: START - Span::from_mins(days_ago * 24 * 60),
    };
    let season =
        |from, to| Some(Season { from: Day { month: from, day: 1 }, to: Day { month: to, day: 30 } });
    let note = |text: &str, season| PlaceNote { text: text.into(), season };
    Place {
        marks: vec![("beacon".into(), at(400.0, 20.0)), ("church".into(), at(-300.0, 500.0))],
        barred: vec![Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(30.0) }],
        notes: vec![note("terns nest", season(4, 7)), note("ice", season(12, 2)), note("weed", None)],
        soundings: vec![sounding(3.5, 700), sounding(3.0, 340)],
        ..Place::new("Hollow Ness", at(100.0, 0.0))
    }
}

/// A tide that hardly moves.
fn slack() -> TideEntered {
    let turn = |hours: i64, kind| TypedTurn {
        time: START + Span::from_mins(60 * hours),
        height: Metres(if kind == TurnKind::High { 2.1 } else { 2.0 }),
        kind,
    };
    TideEntered::Table {
        turns: vec![turn(-6, TurnKind::Low), turn(1, TurnKind::High), turn(7, TurnKind::Low)],
    }
}

#[test]
fn sailing_over_a_place_of_the_book_shows_that_it_has_silted_up() {
    let mut run = Run::with(Settings::default());
    let place = Box::new(hollow(&run));
    run.crew(input::Command::Tide(slack()));
    run.crew(input::Command::Near { place });
    run.crew(input::Command::BeginRecon);
    run.lie_for(40, |s| Local::new(0.0, 100.0 - s as f64));
    assert_eq!(run.snapshot().recon.last_time, None, "the last soundings lie 30 m off and more");
    run.lie_for(60, |s| Local::new(0.0, 60.0 - s as f64));
    let snap = run.snapshot();
    let last = snap.recon.last_time.expect("a sounding within 30 m");
    assert_eq!((last.charted, last.on), (Metres(3.0), START - Span::from_mins(340 * 24 * 60)));
    let now = snap.recon.here.and_then(|here| here.charted).expect("a tide was entered");
    assert_eq!(last.shoaled, Some(Metres(3.0) - now));
    let near = snap.near.expect("within a mile");
    assert_eq!(
        (&*near.name, near.notes.as_slice()),
        ("Hollow Ness", ["terns nest".to_owned(), "weed".into()].as_slice())
    );
    run.lie_for(60, |s| Local::new(0.0, 60.0 * s as f64));
    assert!(run.snapshot().near.is_none(), "more than a mile off");
}

#[test]
fn marks_and_barred_sectors_of_a_place_are_taken_over_and_left_behind_with_it() {
    let mut run = Run::with(Settings::default());
    let place = hollow(&run);
    run.lie_for(30, |_| Local::default());
    // A name that the crew has given is theirs.
    let own = run.plane().to_position(Local::new(0.0, 900.0));
    run.crew(input::Command::Mark {
        name: "church".into(),
        entered: MarkEntered::Position { position: own },
    });
    run.crew(input::Command::Near { place: Box::new(place.clone()) });
    assert!(run.snapshot().limits.barred.is_empty());
    run.let_go_and_bring_up();
    let snap = run.snapshot();
    let names: Vec<&str> = snap.marks.iter().map(|mark| &*mark.name).collect();
    assert_eq!(names, ["church", "beacon"]);
    assert!((snap.marks[0].distance.0 - 900.0).abs() < 15.0);
    assert_eq!(snap.limits.barred, place.barred);
    run.crew(input::Command::Weigh);
    run.crew(input::Command::Aweigh);
    let snap = run.snapshot();
    assert!(snap.marks.is_empty() && snap.limits.barred.is_empty());
}

#[test]
fn a_place_far_away_and_limits_of_the_crews_own_change_nothing() {
    let mut run = Run::with(Settings::default());
    let mut place = hollow(&run);
    place.position = Position::new(53.0, -20.0).unwrap();
    run.crew(input::Command::Near { place: Box::new(place.clone()) });
    run.let_go_and_bring_up();
    assert!(run.snapshot().marks.is_empty() && run.snapshot().limits.barred.is_empty());
    // Told while she lies there, the marks come at once; the sectors that the crew has set stay.
    let own = vec![Sector { from: TrueBearing::new(100.0), to: TrueBearing::new(140.0) }];
    run.crew(input::Command::Limits(nightrode::watch::boat::Limits {
        barred: own.clone(),
        ..run.snapshot().limits
    }));
    let here = Box::new(hollow(&run));
    run.crew(input::Command::Near { place: here });
    let snap = run.snapshot();
    assert_eq!((snap.marks.len(), snap.limits.barred), (2, own));
}

#[test]
fn what_is_told_of_a_place_goes_through_the_journal_unchanged() {
    let run = Run::with(Settings::default());
    let entered = input::Event::Crew(input::Command::Near { place: Box::new(hollow(&run)) });
    let line = serde_json::to_string(&entered).unwrap();
    assert_eq!(serde_json::from_str::<input::Event>(&line).unwrap(), entered);
}

#[test]
fn nothing_in_a_place_steers_the_terminal() {
    let home = tempfile::tempdir().unwrap();
    let rides = home.path().join("rides").display().to_string();
    let book = |args: &[&str]| printed(home.path(), &[&["places", "--rides", &rides], args].concat());
    let file = home.path().join("theirs.geojson");
    let name = "Hollow\\u001b[2J Ness\\u009b1m";
    let point = "{\"type\": \"Point\", \"coordinates\": [-10.4, 54.2]}";
    let place = format!(
        "{{\"type\": \"Feature\", \"geometry\": {point}, \"properties\": {{\"name\": \"{name}\", \"note\": \"{name}\"}}}}"
    );
    fs::write(&file, format!("{{\"type\": \"FeatureCollection\", \"features\": [{place}]}}")).unwrap();
    book(&["import", &file.display().to_string()]);
    for args in [&["list"][..], &["show", "hollow"], &["export", "gpx"], &["export", "geojson"]] {
        let page = book(args);
        assert!(page.contains("Hollow") && !page.chars().any(|c| c.is_control() && c != '\n'), "{page:?}");
    }
}
