//! A rehearsal of the alarm: it sounds, is answered and logged, and never comes between the crew and a real alert.

use nightrode::watch::alert::{AlertKind, AlertState, Sound};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{Command, Device, Event};
use nightrode::watch::output::Output;
use nightrode::watch::refusal::Refusal;
use nightrode::watch::rehearsal::Rehearsing;
use nightrode::watch::snapshot::RehearsalView;

use crate::support::Run;

fn lying() -> Run {
    let mut run = Run::anchored();
    run.lie_for(60, lies);
    run
}

fn lies(s: i64) -> Local {
    Local::new((s as f64 / 15.0).sin(), -20.0)
}

fn rehearsal(run: &Run) -> RehearsalView {
    run.snapshot().rehearsal.expect("a rehearsal")
}

fn logged(run: &Run, words: &str) -> bool {
    run.snapshot().happenings.iter().any(|happening| happening.text == format!("alarm rehearsed: {words}"))
}

#[test]
fn it_sounds_raises_nothing_and_the_answer_is_logged() {
    let mut run = lying();
    let [Output::Rehearsal { sounds: true, .. }] = run.crew(Command::Rehearse)[..] else { panic!("silent") };
    let snap = run.snapshot();
    assert_eq!((snap.sound, snap.alerts.len()), (Sound::Quiet, 0), "no alert is raised");
    let [Output::Rehearsal { sounds: false, .. }] = run.crew(Command::Rehearsed { heard: Some(true) })[..]
    else {
        panic!("it goes on")
    };
    assert!(logged(&run, "heard in the bunk"));
    run.crew(Command::Rehearse);
    run.event(Event::Device(Device::Rehearsal { failed: None }));
    assert_eq!(rehearsal(&run).state, Rehearsing::Sounded);
    run.crew(Command::Rehearsed { heard: Some(false) });
    assert!(logged(&run, "not heard in the bunk"));
    assert!(rehearsal(&run).words().contains("Turn up the computer's volume"));
}

#[test]
fn a_sound_that_cannot_play_or_of_which_nothing_is_heard_is_said() {
    let mut run = lying();
    run.crew(Command::Rehearse);
    run.event(Event::Device(Device::Rehearsal { failed: Some("no card".into()) }));
    assert_eq!(rehearsal(&run).state, Rehearsing::Failed("no card".into()));
    assert!(rehearsal(&run).words().starts_with("Nothing sounded: no card."));
    assert!(logged(&run, "nothing sounded: no card"));
    run.crew(Command::Rehearse);
    run.lie_for(61, lies);
    assert!(matches!(rehearsal(&run).state, Rehearsing::Failed(_)));
}

#[test]
fn a_real_alert_takes_over_at_once_and_waits_for_its_own_answer() {
    let mut run = lying();
    run.crew(Command::Rehearse);
    run.instruments.position = false;
    run.lie_for(50, lies);
    assert_eq!(rehearsal(&run).state, Rehearsing::TakenOver);
    assert!(logged(&run, "a real alert took over"));
    // The answer to the rehearsal is none to the alert.
    run.crew(Command::Rehearsed { heard: Some(true) });
    let lost = run.active(AlertKind::FixLost).expect("raised");
    assert_eq!(lost.state, AlertState::Unacknowledged);
    assert!(run.snapshot().sound != Sound::Quiet);
    let [Output::Refused { why: Refusal::AlertSounds, .. }] = run.crew(Command::Rehearse)[..] else {
        panic!("rehearsed over a real alert")
    };
}

/// The same night with and without rehearsals: every alert the same, to the millisecond.
#[test]
fn a_rehearsal_changes_no_alert() {
    let night = |rehearses: bool| {
        let mut run = lying();
        for turn in 0..8 {
            if rehearses {
                run.crew(Command::Rehearse);
            }
            run.instruments.position = turn % 4 < 2;
            run.lie_for(40, lies);
            if rehearses {
                run.crew(Command::Rehearsed { heard: Some(turn % 2 == 0) });
            }
            run.lie_for(20, lies);
        }
        run.changes()
    };
    assert_eq!(night(true), night(false));
}
