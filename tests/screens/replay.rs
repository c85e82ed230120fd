//! A recorded night on the screen: its bar, its keys, and that nothing in it can be changed.

use std::sync::Arc;

use nightrode::tui::app::{App, Request};
use nightrode::tui::replay::{Act, Heat, Mark, MarkKind, Night, Playing};
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Span, WatchTime};
use ratatui::crossterm::event::{Event, KeyModifiers, MouseButton, MouseEvent, MouseEventKind};

use super::drawn::{Size, app, drawn, keys};
use super::views::SIZES;
use super::{crew, scenes};

/// A night of ten hours about the scenes' own moment.
pub fn night() -> Night {
    let from = scenes::NOW - Span::from_mins(382);
    let at = |minutes: i64| from + Span::from_mins(minutes);
    let share = |minutes: i64| match minutes {
        0..10 => None,
        10..400 => Some(0.66 + 0.12 * (minutes as f64 / 37.0).sin()),
        _ => Some(0.7 + (minutes - 400) as f64 / 500.0),
    };
    let mark = |minutes, kind, words: &str| Mark { at: at(minutes), kind, words: words.into() };
    Night {
        name: "20260602T175207Z-hollow-ness".into(),
        from,
        to: at(600),
        heat: (0..600).map(|minute| Heat { at: at(minute), share: share(minute) }).collect(),
        marks: vec![
            mark(2, MarkKind::Act, "let go"),
            mark(10, MarkKind::Act, "brought up"),
            mark(251, MarkKind::Warning, "STRONG WIND"),
            mark(330, MarkKind::Shift, "WIND SHIFT"),
            mark(520, MarkKind::Alarm, "DRAGGING"),
        ],
        gaps: vec![(at(440), at(452))],
    }
}

/// A screen that replays the night, drawn once.
fn replaying(snap: &Snapshot, runs: bool, size: Size) -> App {
    let mut app = app();
    app.show_recorded(Playing { night: Arc::new(night()), now: scenes::NOW, runs, speed: 60.0 });
    drawn(&mut app, snap, size);
    app
}

#[test]
fn the_time_bar_looks_as_it_should_under_every_view() {
    for (name, snap, typed) in [
        ("swing", scenes::quiet(), ""),
        ("night", scenes::quiet(), "3"),
        ("big", scenes::quiet(), "b"),
        ("alarm", scenes::alarm(), ""),
    ] {
        for (columns, rows) in SIZES {
            let mut app = replaying(&snap, name != "big", (columns, rows));
            keys(&mut app, &snap, typed);
            let screen = drawn(&mut app, &snap, (columns, rows));
            insta::assert_snapshot!(format!("replay_{name}_{columns}x{rows}"), screen);
        }
    }
}

#[test]
fn keys_move_through_the_night() {
    let snap = scenes::quiet();
    let mut app = replaying(&snap, false, (120, 40));
    for (key, act) in [
        (" ", Act::RunOrStop),
        ("]", Act::Mark { forward: true }),
        ("[", Act::Mark { forward: false }),
        (".", Act::Step(Span::from_secs(1))),
        ("<", Act::Step(Span::from_mins(-1))),
        ("+", Act::Speed { faster: true }),
    ] {
        assert_eq!(keys(&mut app, &snap, key), [Request::Replay(act)], "{key}");
    }
    assert_eq!(keys(&mut app, &snap, "q"), [Request::Quit], "nothing is lost, so nothing is asked");
}

#[test]
fn nothing_in_a_recorded_night_can_be_changed() {
    for snap in [scenes::alarm(), crew::veering(), crew::rounds()] {
        for key in "asdulwtnrA".chars() {
            let mut app = replaying(&snap, false, (120, 40));
            assert_eq!(keys(&mut app, &snap, &key.to_string()), [], "{key}");
            assert!(drawn(&mut app, &snap, (120, 40)).contains("This is a recorded night"), "{key}");
        }
    }
    let snap = crew::veering();
    let mut app = replaying(&snap, false, (80, 24));
    keys(&mut app, &snap, "b");
    drawn(&mut app, &snap, (80, 24));
    assert_eq!(keys(&mut app, &snap, "⏎"), [], "no pull is told on deck");
}

#[test]
fn a_click_on_the_bar_goes_there_and_dragging_along_it_follows() {
    let snap = scenes::quiet();
    let mut app = replaying(&snap, false, (120, 40));
    let row = (0..40)
        .rev()
        .find(|row| {
            drawn(&mut app, &snap, (120, 40)).lines().nth(*row).is_some_and(|line| line.contains('┃'))
        })
        .expect("the bar shows the moment");
    let mut to = |kind, column| {
        let mouse = MouseEvent { kind, column, row: row as u16, modifiers: KeyModifiers::NONE };
        app.on_event(&Event::Mouse(mouse), &snap)
    };
    let share = |at: WatchTime| at.since(night().from).0 as f64 / night().to.since(night().from).0 as f64;
    for (kind, column) in
        [(MouseEventKind::Down(MouseButton::Left), 30), (MouseEventKind::Drag(MouseButton::Left), 90)]
    {
        let [Request::Replay(Act::To(at))] = to(kind, column)[..] else { panic!("{kind:?}") };
        assert!((share(at) - (f64::from(column) - 0.5) / 118.0).abs() < 0.01, "{kind:?}");
    }
}
