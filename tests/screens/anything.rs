//! Whatever is pressed, pasted or clicked, at whatever size and in whatever light: the screen stands.

use nightrode::tui::app::App;
use nightrode::tui::palette::{Colours, Light};
use nightrode::watch::units::Span;
use proptest::prelude::*;
use ratatui::crossterm::event::{
    Event, KeyCode, KeyEvent, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
};

use super::drawn::{cells, options};
use super::scenes;

const COLUMNS_MAX: u16 = 250;
const ROWS_MAX: u16 = 70;

fn any_key() -> impl Strategy<Value = Event> {
    let code = prop_oneof![
        8 => prop::char::range(' ', '~').prop_map(KeyCode::Char),
        2 => any::<char>().prop_map(KeyCode::Char),
        6 => prop::sample::select(vec![
            KeyCode::Enter, KeyCode::Esc, KeyCode::Tab, KeyCode::BackTab, KeyCode::Up, KeyCode::Down, KeyCode::Left,
            KeyCode::Right, KeyCode::PageUp, KeyCode::PageDown, KeyCode::Home, KeyCode::End, KeyCode::Backspace,
            KeyCode::Delete, KeyCode::F(1),
        ]),
    ];
    let modifiers = prop::sample::select(vec![KeyModifiers::NONE, KeyModifiers::NONE, KeyModifiers::CONTROL]);
    (code, modifiers).prop_map(|(code, modifiers)| Event::Key(KeyEvent::new(code, modifiers)))
}

fn any_mouse() -> impl Strategy<Value = Event> {
    let kind = prop::sample::select(vec![
        MouseEventKind::Down(MouseButton::Left),
        MouseEventKind::Drag(MouseButton::Left),
        MouseEventKind::Up(MouseButton::Left),
        MouseEventKind::ScrollUp,
        MouseEventKind::ScrollDown,
        MouseEventKind::Moved,
    ]);
    // A click may come for a screen that has just been made smaller.
    (kind, 0..=COLUMNS_MAX, 0..=ROWS_MAX).prop_map(|(kind, column, row)| {
        Event::Mouse(MouseEvent { kind, column, row, modifiers: KeyModifiers::NONE })
    })
}

fn any_event() -> impl Strategy<Value = Event> {
    prop_oneof![
        9 => any_key(),
        3 => any_mouse(),
        1 => any::<String>().prop_map(Event::Paste),
        1 => (1..=COLUMNS_MAX, 1..=ROWS_MAX).prop_map(|(columns, rows)| Event::Resize(columns, rows)),
    ]
}

fn any_light() -> impl Strategy<Value = (Light, Colours)> {
    (
        prop::sample::select(vec![Light::Day, Light::Dusk, Light::Night]),
        prop::sample::select(vec![Colours::TrueColour, Colours::Cube256, Colours::Ansi16, Colours::Mono]),
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn no_keys_or_clicks_panic_at_any_size(
        events in prop::collection::vec((any_event(), 1..=COLUMNS_MAX, 1..=ROWS_MAX, any::<bool>()), 0..50),
        scene in 0..scenes::ALL.len() + scenes::RODE.len(),
        (light, colours) in any_light(),
        cell_aspect in prop_oneof![0.2..2.0, Just(0.0), Just(f64::NAN)],
        notice in prop::option::of(any::<String>()),
    ) {
        let mut snap = scenes::ALL.iter().chain(&scenes::RODE).nth(scene).expect("in range").1();
        let mut app = App::new(nightrode::tui::options::Options { cell_aspect, ..options(light, colours) });
        for (event, columns, rows, lit) in events {
            app.on_event(&event, &snap);
            cells(&mut app, &snap, lit, (columns, rows));
            snap.at += Span::from_secs(7);
            if let Some(text) = &notice {
                app.notice(text.clone(), snap.at);
            }
        }
    }
}
