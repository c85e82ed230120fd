//! The night as graphs: what it looks like, that gaps are gaps, and the ruler that is laid on a moment.

use nightrode::watch::snapshot::Snapshot;
use ratatui::crossterm::event::{Event, KeyModifiers, MouseButton, MouseEvent, MouseEventKind};

use super::drawn::{app, drawn, keys};
use super::scenes;
use super::views::looks;

fn scene(name: &str) -> Snapshot {
    scenes::ALL.iter().chain(&scenes::RODE).find(|(n, _)| *n == name).expect("a scene").1()
}

#[test]
fn the_night_looks_as_it_should() {
    for name in ["quiet", "gaps", "no_depth", "empty", "alarm"] {
        looks(&format!("night_{name}"), &scene(name), "3");
    }
    looks("night_ruler", &scene("quiet"), "3z←←←");
}

#[test]
fn nothing_is_drawn_where_nothing_was_known() {
    let mut app = app();
    let snap = scene("gaps");
    keys(&mut app, &snap, "3");
    let screen = drawn(&mut app, &snap, (120, 40));
    let row = |name: &str| {
        let at = screen.lines().position(|line| line.starts_with(&format!(" {name}"))).expect("a graph");
        screen.lines().skip(at).take(5).map(str::to_owned).collect::<Vec<_>>()
    };
    // Half an hour asleep, two hours without wind: three pieces of the wind's line, none of them on the ground.
    let pieces = |rows: &[String], columns: std::ops::Range<usize>| {
        rows.iter().any(|line| {
            line.chars()
                .skip(columns.start)
                .take(columns.len())
                .any(|c| ('\u{2801}'..='\u{28ff}').contains(&c))
        })
    };
    // Columns of the silence, below the limit's line in the first row.
    assert!(!pieces(&row("wind")[1..], 70..98), "{screen}");
    assert!(pieces(&row("wind")[1..], 20..48), "{screen}");
    assert!(!pieces(&row("depth"), 57..62), "{screen}");
}

#[test]
fn the_ruler_tells_what_was_known_and_one_key_leads_back() {
    let snap = scene("quiet");
    let mut app = app();
    keys(&mut app, &snap, "3");
    let now = drawn(&mut app, &snap, (120, 40));
    keys(&mut app, &snap, "↑");
    let then = drawn(&mut app, &snap, (120, 40));
    assert!(then.contains("00:08") && then.contains("from the anchor"), "{then}");
    keys(&mut app, &snap, "0");
    assert_eq!(drawn(&mut app, &snap, (120, 40)), now);
}

#[test]
fn a_click_lays_the_ruler() {
    let snap = scene("quiet");
    let mut app = app();
    keys(&mut app, &snap, "3");
    drawn(&mut app, &snap, (120, 40));
    let click = MouseEvent {
        kind: MouseEventKind::Down(MouseButton::Left),
        column: 60,
        row: 20,
        modifiers: KeyModifiers::NONE,
    };
    app.on_event(&Event::Mouse(click), &snap);
    let screen = drawn(&mut app, &snap, (120, 40));
    assert!(screen.contains("from the anchor"), "{screen}");
}
