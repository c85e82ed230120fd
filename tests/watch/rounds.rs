//! Rounds and rota through the whole watch: due, overdue, answered; what brings them nearer together; whom they name.

use crate::support::Run;
use nightrode::watch::alert::{AlertKind, Change, Priority};
use nightrode::watch::boat::{Crew, Limits, RotaTurn, Settings};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{Command, Differs, RoundItem, RoundMade};
use nightrode::watch::output::Output;
use nightrode::watch::rounds::RoundState;
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Span, WatchTime};

const HOUR: i64 = 3600;

fn settings() -> Settings {
    // The runs begin at 20:00 UTC.
    let turn = |name: &str, from_h: u16, to_h: u16| RotaTurn {
        name: name.into(),
        from_min: 60 * from_h,
        to_min: 60 * to_h,
    };
    Settings {
        limits: Limits { round_every: Some(Span::from_mins(120)), ..Limits::default() },
        crew: Crew {
            names: vec!["Tove".into(), "Ansel".into()],
            rota: vec![turn("Tove", 20, 0), turn("Ansel", 0, 4)],
            own_checks: vec!["bilge".into()],
        },
        ..Settings::default()
    }
}

fn quiet(run: &mut Run, seconds: i64) {
    run.lie_for(seconds, |s| Local::new(0.4 * (s as f64 / 40.0).sin(), -20.0));
}

/// Brought up, with a round due every two hours.
fn riding() -> (Run, WatchTime) {
    let mut run = Run::with(settings());
    run.let_go_and_bring_up();
    let since = run.now();
    (run, since)
}

fn round(checked: &[RoundItem]) -> Command {
    Command::Round(RoundMade { by: None, checked: checked.to_vec(), differs: Vec::new() })
}

fn due_after(snapshot: &Snapshot, from: WatchTime) -> i64 {
    snapshot.rounds.due.expect("a round is asked for").since(from).0 / 60_000
}

#[test]
fn a_round_is_due_then_overdue_then_an_alarm() {
    let (mut run, since) = riding();
    quiet(&mut run, 3 * HOUR);
    let due = run.raised_of(AlertKind::RoundDue).expect("a caution").clone();
    assert_eq!((due.alert.priority, due.at.since(since).0 / 60_000), (Priority::Caution, 120));
    assert!(due.alert.reason.what.contains("Tove is on watch"), "{}", due.alert.reason.what);
    let risen: Vec<_> = run
        .changes()
        .into_iter()
        .filter(|c| c.alert.kind == AlertKind::RoundDue && c.change == Change::Risen)
        .map(|c| (c.alert.priority, c.at.since(since).0 / 60_000))
        .collect();
    // Ten minutes late; five minutes after that nobody has answered; half an hour late it would be one in any case.
    assert_eq!(risen, [(Priority::Warning, 130), (Priority::Alarm, 135), (Priority::Alarm, 150)]);
    assert_eq!(run.snapshot().rounds.state, RoundState::Overdue);
}

#[test]
fn a_warning_that_was_answered_rises_when_the_round_is_not_made_all_the_same() {
    let (mut run, since) = riding();
    quiet(&mut run, 131 * 60);
    run.crew(Command::Acknowledge { kind: Some(AlertKind::RoundDue) });
    quiet(&mut run, HOUR);
    let risen =
        run.change_of(AlertKind::RoundDue, Change::Risen).map(|c| (c.alert.priority, c.alert.escalated));
    assert!(risen.is_some());
    let alarm = run.changes().into_iter().rfind(|c| c.change == Change::Risen).expect("it rose");
    assert_eq!((alarm.alert.priority, alarm.at.since(since).0 / 60_000), (Priority::Alarm, 150));
}

#[test]
fn a_round_made_ends_the_alert_and_the_next_counts_from_it() {
    let (mut run, _) = riding();
    quiet(&mut run, 125 * 60);
    assert!(run.active(AlertKind::RoundDue).is_some());
    let made = run.now();
    assert_eq!(run.crew(round(&RoundItem::USUAL)), []);
    quiet(&mut run, 60);
    assert!(run.active(AlertKind::RoundDue).is_none());
    let snapshot = run.snapshot();
    assert_eq!((due_after(&snapshot, made), snapshot.rounds.state), (120, RoundState::Ahead));
    let done = &snapshot.rounds.done[0];
    assert_eq!((done.at, done.by.as_deref(), done.checked.len()), (made, Some("Tove"), 6));
}

#[test]
fn what_differs_is_logged_in_the_watchkeepers_words() {
    let (mut run, _) = riding();
    let differs = vec![Differs { item: RoundItem::Snubber, note: "chafed at the roller".into() }];
    run.crew(Command::Round(RoundMade {
        by: Some("Ansel".into()),
        checked: vec![RoundItem::Lights],
        differs,
    }));
    let snapshot = run.snapshot();
    let said = &snapshot.happenings.last().expect("something happened").text;
    assert_eq!(said, "round by Ansel: differs: snubber and chafe: chafed at the roller; lights in order");
}

#[test]
fn a_round_before_brought_up_or_of_nothing_is_refused() {
    let mut run = Run::with(settings());
    assert!(matches!(run.crew(round(&RoundItem::USUAL))[..], [Output::Refused { .. }]));
    run.let_go_and_bring_up();
    assert!(matches!(run.crew(round(&[]))[..], [Output::Refused { .. }]));
}

#[test]
fn who_does_not_ask_for_rounds_is_not_called_to_any() {
    let mut run = Run::anchored();
    quiet(&mut run, 9 * HOUR);
    // Only the sun calls: sunset falls into these hours.
    assert_eq!(run.raised(), [AlertKind::LightDue]);
    let rounds = run.snapshot().rounds;
    assert_eq!((rounds.state, rounds.due), (RoundState::None, None));
}

#[test]
fn wind_near_the_limit_brings_rounds_nearer_together_and_says_why() {
    let (mut run, since) = riding();
    quiet(&mut run, 1200);
    assert_eq!(due_after(&run.snapshot(), since), 120);
    run.instruments.wind_kn = 20.0;
    quiet(&mut run, 1200);
    let rounds = run.snapshot().rounds;
    assert!(rounds.shortened.iter().any(|why| why.contains("near your limits")), "{:?}", rounds.shortened);
    assert!(rounds.shortened.iter().any(|why| why.contains("has risen 8 kn")), "{:?}", rounds.shortened);
    assert_eq!((rounds.every, rounds.every_now), (Some(Span::from_mins(120)), Some(Span::from_mins(40))));
    run.instruments.wind_kn = 8.0;
    quiet(&mut run, HOUR);
    assert_eq!(run.snapshot().rounds.every_now, Some(Span::from_mins(120)), "forgotten when it is over");
}

#[test]
fn the_next_round_and_the_next_watch_are_among_what_comes() {
    let (mut run, _) = riding();
    quiet(&mut run, 60);
    let snapshot = run.snapshot();
    let coming: Vec<&str> = snapshot.coming.iter().map(|c| c.text.as_str()).collect();
    let suns = ["sunset: ball down, anchor light on", "sunrise: light out, ball up"];
    assert_eq!(coming, [suns[0], "round, Tove on watch", "Ansel's watch", suns[1]]);
    let rounds = snapshot.rounds;
    assert_eq!(rounds.on_now.expect("somebody is on").name.as_ref(), "Tove");
    assert_eq!(rounds.next.expect("somebody is called").name.as_ref(), "Ansel");
    assert_eq!(rounds.lines.last().expect("items").item, RoundItem::Own("bilge".into()));
    assert!(rounds.lines.iter().any(|line| line.shows.contains("m by the sounder")), "{:?}", rounds.lines);
}

#[test]
fn a_shift_brings_rounds_nearer_together_before_it_is_a_warning() {
    let (mut run, _) = riding();
    quiet(&mut run, 1200);
    run.instruments.wind_from = 32.0;
    quiet(&mut run, 1200);
    let rounds = run.snapshot().rounds;
    assert_eq!(rounds.shortened, ["the wind has turned 32°"]);
    assert_eq!(rounds.every_now, Some(Span::from_mins(60)));
    assert!(run.raised_of(AlertKind::WindShift).is_none());
}

#[test]
fn a_round_that_weather_made_due_is_not_late_at_once_and_stays_due_when_it_is_over() {
    let (mut run, since) = riding();
    quiet(&mut run, 100 * 60);
    run.instruments.wind_kn = 20.0;
    quiet(&mut run, 10 * 60);
    let due = run.raised_of(AlertKind::RoundDue).expect("a caution");
    assert_eq!(
        due.alert.priority,
        Priority::Caution,
        "it would have been due half an hour ago, had anybody known"
    );
    assert!(due.at.since(since) < Span::from_mins(120));
    run.instruments.wind_kn = 8.0;
    run.crew(round(&RoundItem::USUAL));
    quiet(&mut run, 3 * HOUR);
    let again = run.changes().into_iter().rfind(|c| c.change == Change::Raised).expect("the next");
    assert_eq!(again.alert.kind, AlertKind::RoundDue);
    assert!(
        run.active(AlertKind::RoundDue).is_some(),
        "nobody made it: it does not go away with the weather"
    );
}

#[test]
fn rounds_turned_off_call_nobody_and_turned_on_again_count_from_the_last() {
    let (mut run, since) = riding();
    quiet(&mut run, 125 * 60);
    assert!(run.active(AlertKind::RoundDue).is_some());
    run.crew(Command::Limits(Limits::default()));
    quiet(&mut run, 60);
    assert!(run.active(AlertKind::RoundDue).is_none());
    let every = Some(Span::from_mins(300));
    run.crew(Command::Limits(Limits { round_every: every, ..Limits::default() }));
    quiet(&mut run, 60);
    assert_eq!(due_after(&run.snapshot(), since), 300);
    assert!(run.active(AlertKind::RoundDue).is_none());
}
