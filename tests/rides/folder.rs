//! The ride folder from outside: what is written is read again, whatever happens to the disk in between.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::support::{self, Run};
use nightrode::config::{DropMark, RideFile};
use nightrode::edge::folder::{
    Entry, FolderError, JOURNAL, NIGHT, RIDE, Recorded, Recorder, RideReader, Stamper, find_unfinished,
    read_ride_file,
};
use nightrode::watch::Watch;
use nightrode::watch::alert::{Alert, AlertChange, AlertKind, AlertState, Change, Priority, Reason};
use nightrode::watch::boat::{FeedSettings, Settings};
use nightrode::watch::geo::Local;
use nightrode::watch::geo::Position;
use nightrode::watch::input::{Command, Event, FeedId, Link};
use nightrode::watch::output::Output;
use nightrode::watch::units::Span;
use nightrode::watch::units::{Knots, Metres, WatchTime};
use proptest::prelude::*;

const START: WatchTime = WatchTime(1_780_430_520_000);
/// Longer than any disk in a test takes; nothing waits for it unless something is broken.
const PATIENCE: Duration = Duration::from_secs(30);

fn at(ms: i64) -> WatchTime {
    WatchTime(START.0 + ms)
}

fn ride() -> RideFile {
    let mut settings = Settings::default();
    settings.boat.name = "Marram".into();
    settings.limits.wind_high = Knots(25.1 + 0.2);
    settings.feeds = ["gps", "wind"].map(|name| FeedSettings { name: name.into(), priority: 0 }).into();
    RideFile { place: "Hollow Ness".into(), began: Some(START), settings, ..RideFile::default() }
}

fn let_go() -> Event {
    Event::Crew(Command::LetGo {
        veered: Some(Metres(30.0)),
        depth: Some(Metres(4.6)),
        place: "Hollow Ness".into(),
    })
}

fn note(text: &str) -> Event {
    Event::Crew(Command::Note { text: text.into() })
}

fn alert_at(at: WatchTime) -> AlertChange {
    let alert = Alert {
        kind: AlertKind::FixLost,
        priority: Priority::Warning,
        state: AlertState::Unacknowledged,
        raised: at,
        rectified: None,
        escalated: false,
        reason: Reason { what: "No position for 15 s.".into(), action: "Check the receiver.".into() },
    };
    AlertChange { at, change: Change::Raised, alert }
}

/// A recorder in a fresh folder, with an anchor down and one line received.
fn recording(rides: &Path) -> Recorder {
    let recorder = Recorder::begin(rides, START, ride()).unwrap();
    recorder.event(at(1), &let_go());
    recorder.line("gps", at(2), b"$GPHDT,236.7,T*35");
    recorder.flush(PATIENCE).unwrap();
    recorder
}

fn only_folder(rides: &Path) -> PathBuf {
    let folders: Vec<PathBuf> = fs::read_dir(rides).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(folders.len(), 1, "{folders:?}");
    folders[0].clone()
}

fn read(folder: &Path) -> Vec<Entry> {
    RideReader::open(folder).unwrap().map(Result::unwrap).collect()
}

fn lines(entries: &[Entry]) -> Vec<&[u8]> {
    entries
        .iter()
        .filter_map(|entry| match &entry.what {
            Recorded::Line { bytes, .. } => Some(bytes.as_slice()),
            _ => None,
        })
        .collect()
}

fn notes(entries: &[Entry]) -> Vec<&str> {
    entries
        .iter()
        .filter_map(|entry| match &entry.what {
            Recorded::Event(Event::Crew(Command::Note { text })) => Some(text.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn a_night_is_read_again_in_the_order_in_which_it_happened() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = Recorder::begin(rides.path(), START, ride()).unwrap();
    let mut stamper = Stamper::new(START);
    let mut entered = Vec::new();
    for second in 0..50 {
        // Everything of one second arrives in the same millisecond.
        let now = at(second * 1000);
        for (feed, bytes) in [(0, &b"$GPHDT,236.7,T*35"[..]), (1, b"\x80\xff\\junk,*\r"), (0, b"")] {
            let stamp = stamper.line(now);
            recorder.line(["gps", "wind"][feed], stamp, bytes);
            let line = Recorded::Line { feed: FeedId(feed as u8), bytes: bytes.to_vec() };
            entered.push(Entry { at: stamp, what: line });
        }
        let stamp = stamper.event(now);
        recorder.event(stamp, &note(&second.to_string()));
        entered.push(Entry { at: stamp, what: Recorded::Event(note(&second.to_string())) });
        recorder.alert(&alert_at(stamp));
        entered.push(Entry { at: stamp, what: Recorded::Alert(alert_at(stamp)) });
        let stamp = stamper.line(now);
        recorder.line("gps", stamp, b"after");
        entered.push(Entry { at: stamp, what: Recorded::Line { feed: FeedId(0), bytes: b"after".to_vec() } });
    }
    drop(recorder);
    let folder = only_folder(rides.path());
    assert_eq!(folder.file_name().unwrap(), "20260602T200200Z-hollow-ness");
    assert_eq!(read(&folder), entered);
    assert_eq!(*RideReader::open(&folder).unwrap().settings(), ride().settings, "to the last bit");
}

#[test]
fn a_recorded_night_raises_the_same_alerts_to_the_millisecond() {
    let rides = tempfile::tempdir().unwrap();
    let settings = ride().settings;
    let mut run = Run::with(settings.clone());
    run.recorder = Some(Recorder::begin(rides.path(), support::START, ride()).unwrap());
    run.ticks_per_second = 3;
    run.let_go_and_bring_up();
    run.lie_for(700, |_| Local::new(0.0, -20.0));
    run.instruments.wind_from = 80.0;
    run.lie_for(700, |_| Local::new(5.0, -20.0));
    run.instruments.position = false;
    run.lie_for(100, |_| Local::new(5.0, -20.0));
    run.crew(Command::Silence);
    run.lie_for(45, |_| Local::new(5.0, -20.0));
    run.crew(Command::Acknowledge { kind: None });
    run.instruments.position = true;
    run.sleep_for(Span::from_mins(12));
    run.lie_for(400, |s| Local::new(0.0, -20.0 - s as f64 / 4.0));
    // In the end nothing comes in any more, and that alone raises alerts.
    (run.instruments.position, run.instruments.heading) = (false, false);
    (run.instruments.wind, run.instruments.depth) = (false, false);
    run.lie_for(200, |_| Local::default());
    let live = run.changes();
    run.recorder = None;

    let reader = RideReader::open(&only_folder(rides.path())).unwrap();
    let mut watch = Watch::new(reader.settings().clone());
    let (mut replayed, mut recorded) = (Vec::new(), Vec::new());
    for entry in reader.map(Result::unwrap) {
        if let Recorded::Alert(change) = &entry.what {
            recorded.push(change.clone());
        }
        replayed.extend(watch.handle(entry.at, entry.what.input()).into_iter().filter_map(|output| {
            match output {
                Output::Alert(change) => Some(change),
                _ => None,
            }
        }));
    }
    let kinds: Vec<AlertKind> = live.iter().map(|change| change.alert.kind).collect();
    assert!(kinds.contains(&AlertKind::Outside) && kinds.contains(&AlertKind::FixLost), "{kinds:?}");
    assert!(kinds.contains(&AlertKind::WindShift) && kinds.contains(&AlertKind::Gap), "{kinds:?}");
    assert_eq!(recorded, live);
    assert_eq!(replayed, live);
}

#[test]
fn the_facts_of_a_ride_are_replaced_in_one_stroke() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    let position = Position::new(50.2031, -3.7712).unwrap();
    let drop = DropMark { position, time: Some(START), depth: Some(Metres(4.6)) };
    let newer = RideFile { veered: Some(Metres(35.0)), drop: Some(drop), ..ride() };
    recorder.ride(newer.clone());
    recorder.flush(PATIENCE).unwrap();
    let folder = recorder.folder().unwrap();
    assert_eq!(read_ride_file(&folder.join(RIDE)).unwrap().value, newer);
    let names: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(!names.iter().any(|name| name == "ride.toml.new"), "{names:?}");
}

#[test]
fn torn_last_lines_are_cut_off_wherever_the_power_went() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    recorder.event(at(3), &note("last"));
    recorder.line("gps", at(4), b"$GPHDT,240.0,T*31");
    drop(recorder);
    let folder = only_folder(rides.path());
    let whole = read(&folder);
    for name in [JOURNAL, NIGHT] {
        let text = fs::read(folder.join(name)).unwrap();
        let last_line = text[..text.len() - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
        for length in (last_line..text.len()).step_by(5) {
            fs::write(folder.join(name), &text[..length]).unwrap();
            let resumed = Recorder::resume(&folder, at(9)).unwrap();
            assert_eq!(resumed.cut, (length - last_line) as u64);
            assert_eq!(read(&folder).len(), whole.len() - 1);
            resumed.recorder.event(at(10), &note("resumed"));
            drop(resumed);
            assert_eq!(notes(&read(&folder)).last(), Some(&"resumed"));
            assert!(!read(&folder).iter().any(|entry| matches!(entry.what, Recorded::Damaged { .. })));
            // As it was, for the next cut.
            let journal = if name == JOURNAL { text.clone() } else { strip_last_line(&folder.join(JOURNAL)) };
            fs::write(folder.join(JOURNAL), journal).unwrap();
            fs::write(folder.join(name), &text).unwrap();
        }
    }
}

fn strip_last_line(path: &Path) -> Vec<u8> {
    let mut text = fs::read(path).unwrap();
    text.pop();
    let end = text.iter().rposition(|b| *b == b'\n').unwrap() + 1;
    text.truncate(end);
    text
}

#[test]
fn a_ride_is_taken_up_where_it_was_left() {
    let rides = tempfile::tempdir().unwrap();
    drop(recording(rides.path()));
    let folder = only_folder(rides.path());
    let resumed = Recorder::resume(&folder, at(60_000)).unwrap();
    resumed.recorder.event(at(60_000), &Event::Gap { from: at(2) });
    resumed.recorder.line("gps", at(60_001), b"$GPHDT,238.0,T*38");
    drop(resumed);
    let entries = read(&folder);
    assert_eq!(entries[0].what, Recorded::Event(let_go()));
    assert_eq!(entries[2].what, Recorded::Event(Event::Gap { from: at(2) }));
    assert_eq!(lines(&entries), [&b"$GPHDT,236.7,T*35"[..], b"$GPHDT,238.0,T*38"]);
    assert_eq!(RideReader::open(&folder).unwrap().header().unwrap().at, START, "one header");
}

#[test]
fn damage_in_the_middle_is_told_and_skipped() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    recorder.event(at(3), &note("before"));
    recorder.flush(PATIENCE).unwrap();
    let folder = recorder.folder().unwrap();
    drop(recorder);
    for (name, junk) in
        [(JOURNAL, &b"{\"at\":12,\"ti\0\0\n"[..]), (NIGHT, b"$GPHDT,no tag*00\r\n\\s:gps,c:1*00\\x\r\n")]
    {
        let mut text = fs::read(folder.join(name)).unwrap();
        text.extend_from_slice(junk);
        fs::write(folder.join(name), text).unwrap();
    }
    let resumed = Recorder::resume(&folder, at(9)).unwrap();
    resumed.recorder.event(at(10), &note("after"));
    resumed.recorder.line("gps", at(11), b"after");
    drop(resumed);
    let entries = read(&folder);
    assert_eq!(notes(&entries), ["before", "after"]);
    assert_eq!(lines(&entries).last(), Some(&&b"after"[..]));
    let damaged: Vec<(&str, u64)> = entries
        .iter()
        .filter_map(|entry| match &entry.what {
            Recorded::Damaged { file, line, .. } => Some((*file, *line)),
            _ => None,
        })
        .collect();
    assert_eq!(damaged.len(), 3, "{entries:?}");
    assert!(
        damaged.contains(&(JOURNAL, 4)) && damaged.contains(&(NIGHT, 2)) && damaged.contains(&(NIGHT, 3))
    );
}

#[test]
fn a_ride_has_one_watch_at_a_time() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    let folder = recorder.folder().unwrap();
    assert!(matches!(Recorder::resume(&folder, at(9)), Err(FolderError::Held { .. })));
    assert!(find_unfinished(rides.path()).unwrap()[0].held);
    drop(recorder);
    assert!(!find_unfinished(rides.path()).unwrap()[0].held);
    Recorder::resume(&folder, at(9)).unwrap();
}

#[test]
fn the_unfinished_ride_is_found_and_the_finished_are_not() {
    let rides = tempfile::tempdir().unwrap();
    assert_eq!(find_unfinished(&rides.path().join("none yet")).unwrap(), []);
    fs::write(rides.path().join("a stray file"), "x").unwrap();
    fs::create_dir(rides.path().join("20990101T000000Z-empty")).unwrap();
    for (days, aweigh) in [(0, true), (1, false), (2, true)] {
        let start = at(days * 86_400_000);
        let recorder = Recorder::begin(rides.path(), start, ride()).unwrap();
        recorder.event(start, &let_go());
        if aweigh {
            recorder.event(start, &Event::Crew(Command::Aweigh));
        }
        recorder.line("gps", WatchTime(start.0 + 5000), b"$GPHDT,236.7,T*35");
    }
    // A watch that never let go an anchor.
    drop(Recorder::begin(rides.path(), at(3 * 86_400_000), ride()).unwrap());
    let found = find_unfinished(rides.path()).unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].place, "Hollow Ness");
    assert_eq!(found[0].began, Some(at(86_400_000)));
    assert_eq!(found[0].last, Some(at(86_405_000)));
}

#[test]
fn a_recording_begun_under_way_gets_the_name_of_the_place() {
    let rides = tempfile::tempdir().unwrap();
    let recorder =
        Recorder::begin(rides.path(), START, RideFile { place: "under way".into(), ..ride() }).unwrap();
    recorder.line("gps", at(1), b"one");
    recorder.flush(PATIENCE).unwrap();
    recorder.name_place("Hollow Ness");
    recorder.line("gps", at(2), b"two");
    recorder.flush(PATIENCE).unwrap();
    let folder = only_folder(rides.path());
    assert_eq!(folder.file_name().unwrap(), "20260602T200200Z-hollow-ness");
    assert_eq!(recorder.folder(), Some(folder.clone()));
    recorder.line("gps", at(3), b"three");
    drop(recorder);
    assert_eq!(lines(&read(&folder)), [&b"one"[..], b"two", b"three"]);
}

#[test]
fn two_rides_that_begin_in_one_second_at_one_place_keep_apart() {
    let rides = tempfile::tempdir().unwrap();
    let (first, second) = (recording(rides.path()), recording(rides.path()));
    assert_ne!(first.folder(), second.folder());
}

#[test]
fn a_folder_removed_under_the_watch_is_told_and_made_anew_with_the_crews_acts() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    let folder = recorder.folder().unwrap();
    fs::remove_dir_all(&folder).unwrap();
    recorder.line("gps", at(5000), b"meanwhile");
    let entered = recorder.flush(PATIENCE).unwrap_err();
    assert!(entered.contains("removed"), "{entered}");
    assert_eq!(recorder.health(), Err(entered));
    recorder.flush(PATIENCE).unwrap();
    assert_eq!(recorder.health(), Ok(()));
    assert_eq!(recorder.folder(), Some(folder.clone()));
    drop(recorder);
    let entries = read(&folder);
    assert_eq!(entries[0].what, Recorded::Event(let_go()));
    assert_eq!(lines(&entries), [b"meanwhile"]);
    assert_eq!(read_ride_file(&folder.join(RIDE)).unwrap().value, ride());
    assert_eq!(find_unfinished(rides.path()).unwrap()[0].folder, folder);
}

#[test]
fn a_place_that_cannot_be_written_is_told_and_used_once_it_can() {
    let disk = tempfile::tempdir().unwrap();
    let rides = disk.path().join("rides");
    fs::write(&rides, "a file where the folder should be").unwrap();
    let recorder = Recorder::begin(&rides, START, ride()).unwrap();
    recorder.event(at(1), &let_go());
    recorder.line("gps", at(2), b"kept in memory");
    assert!(recorder.flush(PATIENCE).is_err());
    assert!(recorder.health().is_err() && recorder.folder().is_none());
    fs::remove_file(&rides).unwrap();
    recorder.flush(PATIENCE).unwrap();
    let folder = recorder.folder().unwrap();
    drop(recorder);
    let entries = read(&folder);
    assert_eq!(entries.len(), 2, "each act once: {entries:?}");
    assert_eq!(lines(&entries), [b"kept in memory"]);
}

/// On a full disk; `/dev/full` refuses every write as a full disk does.
#[cfg(target_os = "linux")]
mod full {
    use std::os::unix::fs::symlink;

    use super::*;

    fn fill_up(folder: &Path, name: &str) {
        fs::rename(folder.join(name), folder.join("before")).unwrap();
        symlink("/dev/full", folder.join(name)).unwrap();
    }

    fn make_room(folder: &Path, name: &str) {
        fs::remove_file(folder.join(name)).unwrap();
        fs::rename(folder.join("before"), folder.join(name)).unwrap();
    }

    /// The first round finds that the file is another one, the next that it takes nothing.
    fn flush_until_full(recorder: &Recorder) {
        let entered = recorder.flush(PATIENCE).and_then(|()| recorder.flush(PATIENCE)).unwrap_err();
        let entered =
            if entered.contains("removed") { recorder.flush(PATIENCE).unwrap_err() } else { entered };
        assert_eq!(entered, "the disk is full");
    }

    #[test]
    fn a_full_disk_is_told_and_nothing_is_lost_once_there_is_room() {
        let rides = tempfile::tempdir().unwrap();
        let recorder = recording(rides.path());
        let folder = recorder.folder().unwrap();
        fill_up(&folder, NIGHT);
        recorder.line("gps", at(3), b"full one");
        flush_until_full(&recorder);
        recorder.line("gps", at(4), b"full two");
        recorder.event(at(5), &note("the journal still has room"));
        assert!(recorder.flush(PATIENCE).is_err());
        assert_eq!(notes(&read(&folder)), ["the journal still has room"]);
        make_room(&folder, NIGHT);
        // The file has changed again, which is told once.
        let _ = recorder.flush(PATIENCE);
        recorder.flush(PATIENCE).unwrap();
        drop(recorder);
        let entries = read(&folder);
        assert_eq!(lines(&entries), [&b"$GPHDT,236.7,T*35"[..], b"full one", b"full two"]);
    }

    #[test]
    fn what_a_full_disk_leaves_in_memory_is_bounded_and_the_loss_is_told() {
        let rides = tempfile::tempdir().unwrap();
        let recorder = recording(rides.path());
        let folder = recorder.folder().unwrap();
        fill_up(&folder, NIGHT);
        recorder.line("gps", at(3), b"full");
        flush_until_full(&recorder);
        let long = [b'x'; 60_000];
        for ms in 0..600 {
            recorder.line("gps", at(10 + ms), &long);
        }
        make_room(&folder, NIGHT);
        while recorder.flush(PATIENCE).is_err() {}
        recorder.flush(PATIENCE).unwrap();
        recorder.flush(PATIENCE).unwrap();
        drop(recorder);
        let (mut kept, mut lost) = (0, 0);
        for entry in read(&folder) {
            match entry.what {
                Recorded::Line { .. } => kept += 1,
                Recorded::LostLines(count) => lost += count,
                _ => {}
            }
        }
        assert!(kept < 400, "{kept}");
        assert_eq!(kept + lost, 602);
    }
}

#[test]
fn a_journal_of_a_later_format_is_refused_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(JOURNAL), "{\"format\":99,\"version\":\"7.0\",\"stars\":[]}\n").unwrap();
    let Err(error) = RideReader::open(folder.path()) else { panic!("read") };
    assert!(error.to_string().contains("version 7.0"), "{error}");
}

#[test]
fn a_night_without_a_journal_is_read_with_its_feeds_told() {
    let rides = tempfile::tempdir().unwrap();
    let recorder = recording(rides.path());
    recorder.line("masthead", at(3), b"$WIMWV");
    drop(recorder);
    let folder = only_folder(rides.path());
    fs::remove_file(folder.join(JOURNAL)).unwrap();
    let entries = read(&folder);
    let feed = |feed, name: &str| {
        Recorded::Event(Event::Feed { feed: FeedId(feed), name: name.into(), link: Link::Open })
    };
    let whats: Vec<&Recorded> = entries.iter().map(|entry| &entry.what).collect();
    assert_eq!(whats.len(), 3, "the feeds of ride.toml need no word: {whats:?}");
    assert_eq!(*whats[1], feed(2, "masthead"));
    assert_eq!(*whats[2], Recorded::Line { feed: FeedId(2), bytes: b"$WIMWV".to_vec() });
}

#[test]
fn an_endless_line_takes_no_memory_and_hides_nothing_behind_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = vec![b'x'; 3 << 20];
    night.extend_from_slice(b"\r\n");
    nightrode::watch::nmea::write_tag("gps", START.0, b"good", &mut night);
    night.extend_from_slice(b"\r\n");
    fs::write(folder.path().join(NIGHT), night).unwrap();
    let entries = read(folder.path());
    assert!(matches!(entries[0].what, Recorded::Damaged { line: 1, .. }));
    assert_eq!(lines(&entries), [b"good"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn any_bytes_but_a_line_feed_survive(night in prop::collection::vec(
        prop::collection::vec(any::<u8>().prop_filter("no line feed", |b| *b != b'\n'), 0..120), 1..20)
    ) {
        let rides = tempfile::tempdir().unwrap();
        let recorder = Recorder::begin(rides.path(), START, ride()).unwrap();
        for bytes in &night {
            recorder.line("gps", START, bytes);
        }
        drop(recorder);
        let entries = read(&only_folder(rides.path()));
        prop_assert_eq!(lines(&entries), night.iter().map(Vec::as_slice).collect::<Vec<_>>());
    }

    #[test]
    fn no_files_panic_or_run_backwards(
        night in "([\\\\s:gpsc,0-9*\\r\n$]|.){0,400}",
        journal in "([{}\":,a-z0-9\n]|.){0,400}",
    ) {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(NIGHT), night).unwrap();
        fs::write(folder.path().join(JOURNAL), journal).unwrap();
        if let Ok(reader) = RideReader::open(folder.path()) {
            let times: Vec<WatchTime> = reader.map(|entry| entry.unwrap().at).collect();
            prop_assert!(times.is_sorted());
        }
        let _ = find_unfinished(folder.path());
        let _ = Recorder::resume(folder.path(), START);
    }
}

#[test]
fn the_examples_of_the_handbook_are_read_as_they_stand() {
    let page = include_str!("../../docs/sailing/files.md");
    let block = |language: &str| {
        let start = page.find(&format!("\n```{language}\n")).unwrap() + language.len() + 5;
        &page[start..start + page[start..].find("```").unwrap()]
    };
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(RIDE), block("toml")).unwrap();
    fs::write(folder.path().join(JOURNAL), block("json")).unwrap();
    let night = page.lines().find(|line| line.starts_with("\\s:gps")).unwrap();
    fs::write(folder.path().join(NIGHT), format!("{night}\r\n")).unwrap();

    let ride = read_ride_file(&folder.path().join(RIDE)).unwrap();
    assert!(ride.doubts.is_empty() && ride.value.drop.is_some(), "{}", ride.doubts);
    let entries = read(folder.path());
    assert_eq!(lines(&entries), [b"$GPHDT,236.7,T*35"]);
    assert!(entries.iter().any(|entry| matches!(entry.what, Recorded::Alert(_))));
    assert!(!entries.iter().any(|entry| matches!(entry.what, Recorded::Damaged { .. })), "{entries:?}");
}
