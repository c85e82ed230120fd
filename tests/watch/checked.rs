//! The five-minute check of the anchor: what it shows, what its answers do, and what they can never do.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use nightrode::config::RideFile;
use nightrode::edge::folder::Recorder;
use nightrode::edge::replay::Replay;
use nightrode::sim::Dice;
use nightrode::watch::alert::AlertKind;
use nightrode::watch::anchor_check::{Outcome, Phase};
use nightrode::watch::boat::{Limits, Settings};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{CheckItem, Command, Finding, Found, MarkEntered};
use nightrode::watch::output::Output;
use nightrode::watch::refusal::Refusal;
use nightrode::watch::snapshot::{CheckView, Snapshot};
use nightrode::watch::units::{Metres, TrueBearing};

use crate::support::{Run, START};

/// She sheers at the end of her rode.
fn sheers(s: i64) -> Local {
    Local::new(3.0 * (s as f64 / 15.0).sin(), -28.0)
}

fn find(run: &mut Run, item: CheckItem, found: Option<Found>) -> Vec<Output> {
    run.crew(Command::CheckFound(Finding { item, found }))
}

fn check(run: &Run) -> CheckView {
    run.snapshot().check.expect("a check")
}

fn movement(run: &Run) -> f64 {
    run.snapshot().holding.evidence_percent.expect("she is judged")
}

/// Brought up for a quarter of an hour.
fn lying() -> Run {
    let mut run = Run::anchored();
    run.lie_for(900, sheers);
    run
}

#[test]
fn a_check_runs_five_minutes_and_asks_again_at_their_end() {
    let mut run = lying();
    let entered = MarkEntered::FromBow { bearing: TrueBearing::new(90.0), distance: Metres(400.0) };
    run.crew(Command::Mark { name: "perch".into(), entered });
    run.crew(Command::BeginCheck);
    let begun = check(&run);
    assert_eq!((begun.phase, begun.outcome), (Phase::Runs, Outcome::Unseen));
    let shows: Vec<&str> = begun.lines.iter().map(|line| line.shows.as_str()).collect();
    assert!(shows[0].starts_with("perch: by the receiver it bears"), "{shows:?}");
    assert!(shows[2].contains("by the sounder; ") && shows[3].starts_with("Mean 12 kn"), "{shows:?}");
    assert_eq!(begun.lines[3].found, Some(Found::Well), "the instruments answer");
    find(&mut run, CheckItem::Transit, Some(Found::Well));
    run.lie_for(301, sheers);
    let asks = check(&run);
    assert!(asks.phase == Phase::Asks && asks.lines[0].asks_again, "{asks:?}");
    assert!(asks.since.starts_with("Moved ") && asks.since.contains("room"), "{}", asks.since);
    find(&mut run, CheckItem::Transit, Some(Found::Well));
    find(&mut run, CheckItem::Rode, Some(Found::Well));
    run.lie_for(1, sheers);
    let over = check(&run);
    assert_eq!((over.phase, over.outcome), (Phase::Over, Outcome::Stands));
    assert!(over.advice.starts_with("It holds. Do nothing; look again in 30 min."), "{}", over.advice);
    let snap = run.snapshot();
    assert!(snap.coming.iter().any(|coming| Some(coming.at) == over.again));
    let log: Vec<&str> = snap.happenings.iter().map(|happening| happening.text.as_str()).collect();
    assert!(log.iter().any(|text| text.contains("transit, bearing holds so far")), "{log:?}");
    assert!(
        log.iter().any(|text| text.starts_with("anchor check: Moved") && text.contains("It holds")),
        "{log:?}"
    );
}

#[test]
fn a_rode_that_jerks_counts_at_once_and_says_what_to_do() {
    let mut run = lying();
    let before = movement(&run);
    run.crew(Command::BeginCheck);
    find(&mut run, CheckItem::Rode, Some(Found::Wrong));
    let jerks = movement(&run);
    assert!(jerks > before + 15.0, "{before} {jerks}");
    assert_eq!(check(&run).outcome, Outcome::Moves);
    let advice = check(&run).advice;
    assert!(advice.starts_with("The anchor moves. Engine on.") && advice.contains("eer"), "{advice}");
    find(&mut run, CheckItem::Transit, Some(Found::Wrong));
    let both = movement(&run);
    assert!(both > jerks + 25.0);
    // Alone it is no alarm, and it fades.
    run.lie_for(3600, sheers);
    assert!(run.active(AlertKind::Drag).is_none());
    assert!(movement(&run) < both - 20.0);
    // An answer that was wrong is taken back.
    run.crew(Command::BeginCheck);
    let faded = movement(&run);
    find(&mut run, CheckItem::Rode, Some(Found::Wrong));
    find(&mut run, CheckItem::Rode, None);
    assert!(movement(&run) <= faded + 1.0);
}

#[test]
fn what_blows_harder_than_she_has_held_is_said() {
    let mut run = lying();
    run.crew(Command::BeginCheck);
    find(&mut run, CheckItem::Wind, Some(Found::Wrong));
    run.lie_for(300, sheers);
    find(&mut run, CheckItem::Transit, Some(Found::Well));
    let advice = check(&run).advice;
    assert!(advice.contains("blows harder than she has held") && advice.contains("10 min"), "{advice}");
}

#[test]
fn there_is_no_check_without_an_anchor_and_none_is_left_when_she_weighs() {
    let mut run = Run::with(Settings::default());
    run.lie_for(5, |_| Local::default());
    let refused = |out: Vec<Output>| match &out[..] {
        [Output::Refused { why, .. }] => why.clone(),
        _ => panic!("{out:?}"),
    };
    assert_eq!(refused(run.crew(Command::BeginCheck)), Refusal::NoAnchorDown);
    run.let_go_and_bring_up();
    assert_eq!(refused(find(&mut run, CheckItem::Rode, Some(Found::Well))), Refusal::NoCheck);
    assert_eq!(refused(run.crew(Command::EndCheck)), Refusal::NoCheck);
    run.crew(Command::BeginCheck);
    run.crew(Command::Weigh);
    assert_eq!(run.snapshot().check, None);
    assert_eq!(refused(run.crew(Command::BeginCheck)), Refusal::Weighing);
}

#[test]
fn whoever_answers_that_all_is_well_is_still_woken_outside_the_circle_and_when_she_breaks_out() {
    let settings = Settings {
        limits: Limits { circle: Some(Metres(60.0)), ..Limits::default() },
        ..Settings::default()
    };
    let mut run = Run::with(settings);
    run.let_go_and_bring_up();
    run.lie_for(900, sheers);
    let mut drag = None;
    for minute in 0..12_i64 {
        run.crew(Command::BeginCheck);
        run.lie_for(10, |s| Local::new(0.0, -28.0 - 0.1 * (60 * minute + s) as f64));
        for item in CheckItem::ALL {
            find(&mut run, item, Some(Found::Well));
        }
        run.lie_for(50, |s| Local::new(0.0, -28.0 - 0.1 * (60 * minute + 10 + s) as f64));
        if run.active(AlertKind::Drag).is_some() && drag.is_none() {
            drag = Some(minute);
        }
    }
    assert!(run.active(AlertKind::Outside).is_some());
    assert!(drag.is_some_and(|minute| minute <= 6), "0.1 m/s from the first minute on: {drag:?}");
}

/// Answers at random, at random times, on nights in which she drags from the twentieth minute on: each is called, and no
/// later than without a word by more than the bound of what can be taken off is worth.
#[test]
fn answers_at_random_never_leave_a_break_out_uncalled() {
    let called = |seed: u64, answers: bool| {
        let mut dice = Dice::new(seed, 7);
        let mut run = lying();
        for second in 0..2400_i64 {
            if answers && second % 20 == 0 {
                let item = CheckItem::ALL[(dice.unit() * 4.0) as usize % 4];
                match dice.unit() {
                    r if r < 0.1 => drop(run.crew(Command::BeginCheck)),
                    r if r < 0.9 => drop(find(&mut run, item, Some(Found::Well))),
                    r if r < 0.95 => drop(find(&mut run, item, None)),
                    _ => drop(run.crew(Command::EndCheck)),
                }
            }
            let moved = 0.15 * (second - 1200).max(0) as f64;
            run.lie_for(1, |_| Local::new(sheers(second).east_m, -28.0 - moved));
            if run.active(AlertKind::Drag).is_some() {
                return Some(second);
            }
        }
        None
    };
    let untold = called(0, false).expect("called");
    for seed in 0..4 {
        let told = called(seed, true).expect("called");
        println!("seed {seed}: called after {} s, untold {} s", told - 1200, untold - 1200);
        assert!(told <= untold + 30, "seed {seed}: {told} {untold}");
    }
}

#[test]
fn the_journal_keeps_a_check_and_the_night_reads_the_same_again() {
    let rides = tempfile::tempdir().unwrap();
    let mut run = Run::with(Settings::default());
    run.recorder = Some(Recorder::begin(rides.path(), START, RideFile::default()).unwrap());
    run.let_go_and_bring_up();
    run.lie_for(600, sheers);
    run.crew(Command::BeginCheck);
    find(&mut run, CheckItem::Rode, Some(Found::Wrong));
    run.lie_for(120, sheers);
    run.crew(Command::Note { text: "engine warm".into() });
    let recorder = run.recorder.as_ref().unwrap();
    recorder.flush(std::time::Duration::from_secs(30)).unwrap();
    let folder = recorder.folder().unwrap();
    let journal = std::fs::read_to_string(folder.join("journal.jsonl")).unwrap();
    assert!(journal.contains(r#""act":"check_found","item":"rode","found":"wrong""#), "{journal}");
    let mut replay = Replay::open(&[folder], None).unwrap();
    replay.seek(run.now()).unwrap();
    let (again, live) = (replay.snapshot(), run.snapshot());
    assert_eq!((&again.check, again.holding.evidence_percent), (&live.check, live.holding.evidence_percent));
    let log = |snap: &Snapshot| snap.happenings.iter().map(|one| one.text.clone()).collect::<Vec<_>>();
    assert_eq!(log(&again), log(&live));
    assert!(log(&again).contains(&"anchor check: hand on the rode jerks".to_owned()), "{:?}", log(&again));
}
