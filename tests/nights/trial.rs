//! The trial at a small fixed size: exact counts, whatever the machine and the number of threads.

use std::fmt::Write as _;

use nightrode::edge::trial;
use nightrode::report::trial::{Call, NightScore, json, text};
use nightrode::sim::{Class, HELD_OUT, class};
use nightrode::watch::units::Span;

fn classes(names: &[&str]) -> Vec<&'static Class> {
    names.iter().map(|name| class(name).expect("a class")).collect()
}

fn words(call: Call) -> String {
    match call {
        Call::Never => "never".into(),
        Call::False { after } => format!("false after {:.0} s", after.seconds()),
        Call::True { moved, delay } => format!("at {:.1} m, after {:.0} s", moved.0, delay.seconds()),
    }
}

fn line(score: &NightScore) -> String {
    let share = 100.0 * score.unjudged.seconds() / score.watched.seconds();
    let circles: Vec<String> = score.circles.iter().map(|call| words(*call)).collect();
    let heard: Vec<String> =
        score.heard.iter().map(|(kind, count)| format!("{} {count}", kind.name())).collect();
    format!(
        "{} {}: moved {:.1} m; woken {}; drag {}; creep {}; circles {}; {share:.1} % unjudged; heard {}",
        score.class,
        score.seed,
        score.greatest.0,
        words(score.gone),
        words(score.drag),
        words(score.creep),
        circles.join(", "),
        if heard.is_empty() { "nothing".into() } else { heard.join(", ") },
    )
}

/// Nights nobody tunes on, by the seed that follows on the trial's default ones of twenty a class.
#[test]
fn a_small_trial_gives_the_same_counts_everywhere() {
    let classes = classes(&["gale", "calm-lap", "wandering-fix", "break-out", "plough-0.5", "trip"]);
    let trial = trial::run(&classes, HELD_OUT.start + 100, 1);
    let mut found = String::new();
    for score in &trial.scores {
        let _ = writeln!(found, "{}", line(score));
    }
    crate::expected::expect("trial/small.expected", &found);
    let page = text(&trial);
    assert!(page.contains("held out") && page.contains("break-out"), "{page}");
    assert_eq!(json(&trial)["classes"].as_array().expect("classes").len(), classes.len());
    for score in &trial.scores {
        assert_eq!(score.moved(), score.drags, "{}: truth does what its class says", line(score));
        assert!(score.watched > Span::from_mins(7 * 60), "{}", line(score));
        let (sigma, memory) = score.fix_error.expect("fixes came");
        assert!((0.2..8.0).contains(&sigma.0) && memory > Span::ZERO, "{sigma:?} {memory:?}");
    }
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| trial::run(&classes(&["light-air-drag"]), 7, 2))
    };
    assert_eq!(on(1), on(3));
}
