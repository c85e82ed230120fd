//! The rode view: what it looks like at each state of tide and wind, what may be missing, and what the crew supposes.

use std::sync::Arc;

use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Knots, Metres, Span, WatchTime};
use proptest::prelude::*;

use super::drawn::{app, cells, drawn, keys};
use super::scenes;
use super::views::looks;

#[test]
fn the_rode_view_looks_as_it_should_at_each_tide_and_wind() {
    for (name, scene) in scenes::RODE {
        looks(&format!("rode_{name}"), &scene(), "2");
    }
    looks("rode_alarm", &scenes::alarm(), "2");
    looks("rode_empty", &scenes::empty(), "2");
}

#[test]
fn what_is_supposed_is_marked_and_one_key_leads_back() {
    let snap = scenes::quiet();
    looks("rode_what_if", &snap, "2↑↑↑↑→↑→↑");
    let mut app = app();
    keys(&mut app, &snap, "2");
    let before = drawn(&mut app, &snap, (120, 40));
    keys(&mut app, &snap, "↑↑");
    assert!(drawn(&mut app, &snap, (120, 40)).contains("WHAT IF"));
    keys(&mut app, &snap, "0");
    assert_eq!(drawn(&mut app, &snap, (120, 40)), before);
}

#[test]
fn leaving_the_view_forgets_what_was_supposed() {
    let snap = scenes::quiet();
    let mut app = app();
    keys(&mut app, &snap, "2↑12");
    assert!(!drawn(&mut app, &snap, (120, 40)).contains("WHAT IF"));
}

#[test]
fn what_is_missing_is_said_in_words_and_never_as_nought() {
    for (scene, words) in
        [("no_tide", "No tide to show"), ("no_wind", "Wind not known"), ("no_depth", "Depth not known")]
    {
        let snap = scenes::RODE.iter().find(|(name, _)| *name == scene).expect("a scene").1();
        let mut app = app();
        keys(&mut app, &snap, "2");
        let screen = drawn(&mut app, &snap, (120, 40));
        assert!(screen.contains(words), "{screen}");
        let pull = screen.lines().find(|line| line.trim_start().starts_with("anchor kN"));
        assert!(scene == "no_tide" || pull.is_none_or(|line| !line.contains('0')), "{screen}");
    }
}

#[test]
fn a_keel_out_of_this_world_does_not_hold_the_screen_up() {
    for draft in [-1e17, -1e300, f64::NEG_INFINITY, f64::NAN, 1e300] {
        let mut snap = scenes::quiet();
        Arc::make_mut(&mut snap.settings).boat.draft = Metres(draft);
        let mut app = app();
        keys(&mut app, &snap, "2");
        assert!(!drawn(&mut app, &snap, (120, 40)).is_empty());
    }
}

fn any_length() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -5.0..300.0,
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, 1e300, -1e300]),
    ]
}

/// A watch whose figures may be anything at all.
fn any_snapshot() -> impl Strategy<Value = Snapshot> {
    let lengths = prop::collection::vec(any_length(), 12);
    let curve = prop::collection::vec((any::<i64>(), any_length()), 0..40);
    (lengths, curve, prop::option::of(any_length()), 0..scenes::RODE.len(), -900_i64..900).prop_map(
        |(l, mut curve, wind, scene, minutes)| {
            let mut snap = scenes::RODE[scene].1();
            snap.at += Span::from_mins(minutes);
            snap.rode.veered = Some(Metres(l[0]));
            snap.rode.height = Some(Metres(l[1]));
            snap.wind.mean = wind.map(Knots);
            snap.wind.gust = wind.map(|_| Knots(l[2]));
            snap.limits.under_keel = Metres(l[3]);
            let settings = Arc::make_mut(&mut snap.settings);
            settings.boat.loa = Metres(l[4]);
            settings.boat.draft = Metres(l[5]);
            settings.boat.bow_height = Metres(l[6]);
            settings.tackle.chain = Metres(l[7]);
            settings.tackle.rope = Metres(l[8]);
            settings.tackle.rope_mm = l[9];
            snap.rode.shape = vec![(l[10], l[11]), (l[0], l[1])];
            for turn in &mut snap.tide.turns {
                turn.depth = Metres(l[3]);
            }
            if !curve.is_empty() {
                curve.sort_by_key(|(at, _)| *at);
                snap.tide.curve =
                    Arc::new(curve.into_iter().map(|(at, depth)| (WatchTime(at), Metres(depth))).collect());
            }
            snap
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn no_figures_break_the_rode_view_or_the_night(
        snap in any_snapshot(),
        columns in 1..250_u16,
        rows in 1..70_u16,
        typed in "[23↑↓←→0]{0,12}",
    ) {
        let mut app = app();
        keys(&mut app, &snap, &typed);
        cells(&mut app, &snap, true, (columns, rows));
    }
}
