//! A recorded night on the screen: its bar, its keys, and that nothing in it can be changed.

use std::sync::Arc;

use nightrode::tui::app::App;
use nightrode::tui::replay::{Act, Playing};
use nightrode::tui::request::Request;
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::{Span, WatchTime};
use ratatui::crossterm::event::{
    Event, KeyCode, KeyEvent, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
};

use super::drawn::{Size, app, drawn, keys};
use super::recorded::night;
use super::views::looks_drawn;
use super::{crew, scenes};

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
        looks_drawn(&format!("replay_{name}"), |size| {
            let mut app = replaying(&snap, name != "big", size);
            keys(&mut app, &snap, typed);
            drawn(&mut app, &snap, size)
        });
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
fn help_tells_the_keys_of_a_recorded_night_and_leaves_it_as_it_is() {
    let snap = scenes::alarm();
    let mut app = replaying(&snap, false, (120, 40));
    keys(&mut app, &snap, "?");
    let help = drawn(&mut app, &snap, (120, 40));
    for words in ["HELP: A RECORDED NIGHT", "[ ]       Go to the event before", "The anchor is in the middle"]
    {
        assert!(help.contains(words), "{words}\n{help}");
    }
    assert!(!help.lines().last().unwrap_or_default().contains("acknowledge"), "{help}");
    assert_eq!(keys(&mut app, &snap, "as"), [], "no alert is answered from under it");
    let ctrl_c = Event::Key(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL));
    assert_eq!(app.on_event(&ctrl_c, &snap), [Request::Quit]);
}

#[test]
fn nothing_in_a_recorded_night_can_be_changed() {
    for snap in [scenes::alarm(), crew::veering(), crew::rounds()] {
        for key in "asdlwtnrA".chars() {
            let mut app = replaying(&snap, false, (120, 40));
            assert_eq!(keys(&mut app, &snap, &key.to_string()), [], "{key}");
            assert!(drawn(&mut app, &snap, (120, 40)).contains("This is a recorded night"), "{key}");
        }
    }
    let snap = crew::veering();
    let mut app = replaying(&snap, false, (80, 24));
    keys(&mut app, &snap, "b");
    drawn(&mut app, &snap, (80, 24));
    assert_eq!(keys(&mut app, &snap, "⏎"), [], "no pull is entered on deck");
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
