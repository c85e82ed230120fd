//! Rides listed and compared: none that cannot be read fails the others.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::time::Duration;

use crate::support::{Run, START};
use nightrode::config::RideFile;
use nightrode::edge::folder::Recorder;
use nightrode::edge::rides::list;
use nightrode::report::review::Held;
use nightrode::report::rides::{State, comparison, json, text};
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::Local;
use nightrode::watch::input::Command;

fn ride(rides: &Path, place: &str, ends: bool) {
    let settings = Settings::default();
    let mut run = Run::with(settings.clone());
    let file = RideFile { place: place.into(), settings, ..RideFile::default() };
    run.recorder = Some(Recorder::begin(rides, START, file).unwrap());
    run.let_go_and_bring_up();
    run.lie_for(900, |s| Local::new((s as f64 / 40.0).sin(), -20.0));
    if ends {
        run.crew(Command::Weigh);
        run.crew(Command::Aweigh);
    }
    run.recorder.as_ref().unwrap().flush(Duration::from_secs(30)).unwrap();
}

#[test]
fn rides_are_listed_whatever_state_they_are_in() {
    let rides = tempfile::tempdir().unwrap();
    ride(rides.path(), "Hollow Ness", true);
    ride(rides.path(), "Cold Hole", false);
    let damaged = rides.path().join("20260101T000000Z-nowhere");
    fs::create_dir(&damaged).unwrap();
    fs::write(damaged.join("night.nmea"), b"").unwrap();
    fs::write(rides.path().join("notes.txt"), b"not a ride").unwrap();

    let listed = list(rides.path()).unwrap();
    assert_eq!(listed.len(), 3, "{listed:?}");
    let state = |name: &str| listed.iter().find(|ride| ride.name.ends_with(name)).unwrap().state.clone();
    assert_eq!(state("hollow-ness"), State::Ended);
    assert_eq!(state("cold-hole"), State::Unfinished);
    assert!(listed.iter().any(|ride| matches!(ride.state, State::Damaged { .. })));
    assert!(listed.iter().flat_map(|ride| &ride.review).all(|review| review.holding.verdict == Held::Held));

    let page = text(&listed);
    assert!(page.contains("Hollow Ness") && page.contains("held") && page.contains("12 kn"), "{page}");
    assert!(page.contains("the anchor is still down") && page.contains("nowhere: cannot be read"), "{page}");
    let compared = comparison(&listed);
    let head: Vec<&str> = compared.lines().next().unwrap().split_whitespace().collect();
    assert!(["load", "farthest", "circle", "alarms"].iter().all(|word| head.contains(word)), "{compared}");
    let json = json(&listed);
    assert_eq!(json["rides"].as_array().unwrap().len(), 3);
    assert!(json["rides"].as_array().unwrap().iter().any(|r| r["review"]["holding"]["verdict"] == "held"));
}

#[test]
fn a_folder_that_is_not_there_holds_no_ride() {
    let none = list(Path::new("/nowhere/at/all")).unwrap();
    assert!(none.is_empty());
    assert!(text(&none).starts_with("No ride was kept yet."));
}
