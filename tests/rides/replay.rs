//! A recorded night from each of its moments: what is shown at a time is what the watch showed then.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::Duration;

use crate::support::{Run, START};
use nightrode::config::RideFile;
use nightrode::edge::folder::Recorder;
use nightrode::edge::replay::Replay;
use nightrode::edge::review::review;
use nightrode::tui::replay::MarkKind;
use nightrode::watch::alert::Change;
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::Local;
use nightrode::watch::input::{Command, Link};
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Span, WatchTime};
use proptest::prelude::*;

/// Longer than any disk in a test takes; nothing waits for it unless something is broken.
const PATIENCE: Duration = Duration::from_secs(30);

/// A stay of an hour and a half with a lost fix, strong wind, a closed lid and a drag, kept as the live watch keeps it; with
/// what the watch showed at some of its moments.
fn kept(rides: &Path) -> (Run, PathBuf, Vec<(WatchTime, String)>) {
    let settings = Settings::default();
    let mut run = Run::with(settings.clone());
    let ride = RideFile { place: "Hollow Ness".into(), settings, ..RideFile::default() };
    run.recorder = Some(Recorder::begin(rides, START, ride).unwrap());
    let mut shown = Vec::new();
    let mut look = |run: &Run| shown.push((run.now(), seen(&run.snapshot())));
    run.let_go_and_bring_up();
    look(&run);
    run.lie_for(1800, |s| Local::new(3.0 * (s as f64 / 40.0).sin(), -20.0));
    look(&run);
    run.instruments.position = false;
    run.lie_for(80, |_| Local::new(0.0, -20.0));
    look(&run);
    run.instruments.position = true;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    run.crew(Command::Acknowledge { kind: None });
    run.instruments.wind_kn = 31.0;
    run.lie_for(1500, |_| Local::new(0.0, -21.0));
    look(&run);
    run.sleep_for(Span::from_mins(25));
    run.lie_for(300, |_| Local::new(0.0, -21.0));
    run.lie_for(180, |s| Local::new(0.0, -21.0 - (s as f64 * 0.5).min(70.0)));
    run.crew(Command::Note { text: "that was all".into() });
    look(&run);
    run.recorder.as_ref().unwrap().flush(PATIENCE).unwrap();
    let folder = run.recorder.as_ref().unwrap().folder().unwrap();
    (run, folder, shown)
}

/// All that a snapshot shows, but for the links of feeds: the boat of these tests opens none.
fn seen(snapshot: &Snapshot) -> String {
    let mut snapshot = snapshot.clone();
    for feed in &mut snapshot.feeds {
        (feed.link, feed.link_since) = (Link::Open, START);
    }
    format!("{snapshot:?}")
}

fn replayed(folder: &Path) -> Replay {
    Replay::open(&[folder.to_owned()], None).unwrap()
}

#[test]
fn what_is_shown_at_a_time_is_what_the_watch_showed_then() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder, shown) = kept(rides.path());
    let mut replay = replayed(&folder);
    for (at, then) in shown.iter().rev().chain(&shown) {
        replay.seek(*at).unwrap();
        let now = seen(&replay.snapshot());
        let differs = now.bytes().zip(then.bytes()).position(|(a, b)| a != b).map(|i| i.saturating_sub(120));
        let about = |text: &str, from: usize| text.chars().skip(from).take(240).collect::<String>();
        assert!(
            now == *then,
            "at {at:?}\n{:?}\n{:?}",
            differs.map(|i| about(&now, i)),
            differs.map(|i| about(then, i))
        );
    }
}

#[test]
fn the_same_night_kept_reviewed_and_replayed_has_the_same_alerts_to_the_millisecond() {
    let rides = tempfile::tempdir().unwrap();
    let (run, folder, _) = kept(rides.path());
    let raised: Vec<(WatchTime, String)> = run
        .changes()
        .iter()
        .filter(|change| change.change == Change::Raised)
        .map(|change| (change.at, change.alert.kind.title().to_owned()))
        .collect();
    assert!(raised.len() >= 5, "{raised:?}");
    let reviewed = review(std::slice::from_ref(&folder), None, |_| {}).unwrap();
    let in_review: Vec<_> =
        reviewed.alarms.iter().map(|alarm| (alarm.raised, alarm.kind.title().to_owned())).collect();
    let mut replay = replayed(&folder);
    let marks: Vec<_> =
        replay.night().marks.iter().filter(|mark| mark.kind != MarkKind::Act).cloned().collect();
    let in_replay: Vec<_> = marks.iter().map(|mark| (mark.at, mark.words.clone())).collect();
    assert_eq!(in_review, raised);
    assert_eq!(in_replay, raised);
    for (at, title) in raised {
        let stands = |replay: &Replay| replay.snapshot().alerts.iter().any(|a| a.kind.title() == title);
        replay.seek(at).unwrap();
        assert!(stands(&replay), "{title} stands at its own millisecond");
    }
}

#[test]
fn while_the_watch_was_asleep_it_shows_its_last_moment() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder, _) = kept(rides.path());
    let mut replay = replayed(&folder);
    let (asleep, awake) = replay.night().gaps[0];
    replay.seek(asleep).unwrap();
    let then = seen(&replay.snapshot());
    replay.seek(asleep + Span(awake.since(asleep).0 / 2)).unwrap();
    assert!(seen(&replay.snapshot()) == then, "nothing was watched meanwhile");
    replay.seek(awake).unwrap();
    assert!(seen(&replay.snapshot()) != then);
}

#[test]
fn a_silence_in_a_log_is_a_gap_on_the_bar_and_the_watch_went_on_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("silent.nmea");
    let line = |second: i64| {
        let body = format!("SDDPT,{}.0,0.5", 5 + second % 3);
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let tag = format!("s:depth,c:{}", START.0 / 1000 + second);
        let tag_sum = tag.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("\\{tag}*{tag_sum:02X}\\${body}*{sum:02X}\r\n")
    };
    let lines: String = (0..300).chain(2700..3000).map(line).collect();
    fs::write(&log, lines).unwrap();
    let mut replay = replayed(&log);
    let (from, to) = (START + Span::from_secs(299), START + Span::from_secs(2700));
    assert_eq!(replay.night().gaps, [(from, to)]);
    replay.seek(START + Span::from_secs(1500)).unwrap();
    assert_eq!(replay.snapshot().at, START + Span::from_secs(1500));
}

#[test]
fn replaying_leaves_the_ride_as_it_is() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder, _) = kept(rides.path());
    let files = |folder: &Path| {
        let mut files: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| {
                let path = entry.unwrap().path();
                let changed = fs::metadata(&path).unwrap().modified().unwrap();
                (path.clone(), fs::read(&path).unwrap(), changed)
            })
            .collect();
        files.sort();
        files
    };
    let before = files(&folder);
    let mut replay = replayed(&folder);
    replay.seek(replay.night().to).unwrap();
    replay.seek(replay.night().from).unwrap();
    drop(replay);
    assert!(files(&folder) == before);
}

#[test]
fn marks_are_gone_to_forward_and_back() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder, _) = kept(rides.path());
    let replay = replayed(&folder);
    let marks = &replay.night().marks;
    let mut at = replay.night().from - Span(1);
    let mut seen = Vec::new();
    while let Some(mark) = replay.mark_from(at, true) {
        seen.push(mark.at);
        at = mark.at;
    }
    let mut times: Vec<_> = marks.iter().map(|mark| mark.at).collect();
    times.dedup();
    assert_eq!(seen, times);
    assert_eq!(replay.mark_from(times[1], false).map(|mark| mark.at), Some(times[0]));
    assert_eq!(replay.mark_from(times[0], false), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// However one came to a moment, it looks the same.
    #[test]
    fn every_way_to_a_moment_shows_the_same(ways in prop::collection::vec(0.0..=1.0_f64, 2..6)) {
        static KEPT: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
        let (_, folder) = KEPT.get_or_init(|| {
            let rides = tempfile::tempdir().unwrap();
            let folder = kept(rides.path()).1;
            (rides, folder)
        });
        let mut wandering = replayed(folder);
        let (from, to) = (wandering.night().from, wandering.night().to);
        let moment = |share: f64| from + Span((to.since(from).0 as f64 * share) as i64);
        for share in &ways {
            wandering.seek(moment(*share)).unwrap();
        }
        let mut straight = replayed(folder);
        straight.seek(moment(ways[ways.len() - 1])).unwrap();
        prop_assert!(seen(&wandering.snapshot()) == seen(&straight.snapshot()));
    }
}

#[test]
fn a_night_is_replayed_as_it_would_have_been_with_another_circle() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder, _) = kept(rides.path());
    let wide =
        Replay::open_altered(std::slice::from_ref(&folder), None, &"circle=200".parse().unwrap()).unwrap();
    let outside =
        |replay: &Replay| replay.night().marks.iter().any(|mark| mark.words == "OUTSIDE THE CIRCLE");
    assert!(outside(&replayed(&folder)) && !outside(&wide));
    assert_eq!(wide.night().what_if, "circle_m = 200");
}
