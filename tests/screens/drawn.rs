//! A screen without a terminal: keys typed into it, and what it draws as text or as inks.

use jiff::tz::{TimeZone, offset};
use nightrode::tui::app::App;
use nightrode::tui::options::Options;
use nightrode::tui::palette::{Colours, Ink, Light, Palette};
use nightrode::tui::request::Request;
use nightrode::watch::snapshot::Snapshot;
use ratatui::buffer::{Buffer, Cell};
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;

/// Columns and rows.
pub type Size = (u16, u16);

/// A screen at dusk, two hours east of Greenwich.
pub fn app() -> App {
    App::new(options(Light::Dusk, Colours::TrueColour))
}

/// The same in another light or with fewer colours.
pub fn options(light: Light, colours: Colours) -> Options {
    Options { light, colours, time_zone: TimeZone::fixed(offset(2)), ..Options::default() }
}

/// A key without modifiers.
pub fn press(code: KeyCode) -> Event {
    Event::Key(KeyEvent::new(code, KeyModifiers::NONE))
}

/// Types letters; `⏎` is Enter, `⇥` Tab, `⎋` Esc, `←→↑↓` the arrows, `⌫` empties a field.
pub fn keys(app: &mut App, snap: &Snapshot, keys: &str) -> Vec<Request> {
    let mut requests = Vec::new();
    for c in keys.chars() {
        let event = match c {
            '⏎' => press(KeyCode::Enter),
            '⇥' => press(KeyCode::Tab),
            '⎋' => press(KeyCode::Esc),
            '→' => press(KeyCode::Right),
            '↓' => press(KeyCode::Down),
            '←' => press(KeyCode::Left),
            '↑' => press(KeyCode::Up),
            '⌫' => Event::Key(KeyEvent::new(KeyCode::Char('u'), KeyModifiers::CONTROL)),
            c => press(KeyCode::Char(c)),
        };
        requests.extend(app.on_event(&event, snap));
    }
    requests
}

/// The cells of a screen, in the lit half of the flash or the other.
pub fn cells(app: &mut App, snap: &Snapshot, lit: bool, (columns, rows): Size) -> Buffer {
    let area = Rect::new(0, 0, columns, rows);
    let mut buf = Buffer::empty(area);
    app.render(snap, lit, area, &mut buf);
    buf
}

/// The screen as text.
pub fn drawn(app: &mut App, snap: &Snapshot, size: Size) -> String {
    text(&cells(app, snap, true, size))
}

/// What is written in the cells.
pub fn text(buf: &Buffer) -> String {
    lines(buf, |cell| cell.symbol().to_owned())
}

/// One letter a cell for its ink; a blank where nothing is written.
pub fn inks(buf: &Buffer, palette: Palette) -> String {
    lines(buf, |cell| {
        let letter = Ink::ALL.into_iter().find(|ink| {
            let style = palette.style(*ink);
            let marks = style.add_modifier;
            style.fg == Some(cell.fg) && style.bg == Some(cell.bg) && marks == cell.modifier
        });
        let filled = matches!(letter, Some(Ink::Fill | Ink::Picked));
        match letter {
            _ if cell.symbol() == " " && !filled => " ",
            Some(Ink::Faint) => "f",
            Some(Ink::Dim) => "d",
            Some(Ink::Text) => "t",
            Some(Ink::Strong) => "S",
            Some(Ink::Boat) => "b",
            Some(Ink::Trouble) => "R",
            Some(Ink::Fill) => "#",
            Some(Ink::Picked) => "=",
            None => "?",
        }
        .to_owned()
    })
}

fn lines(buf: &Buffer, letter: impl Fn(&Cell) -> String) -> String {
    let columns = usize::from(buf.area.width).max(1);
    let row = |cells: &[Cell]| cells.iter().map(&letter).collect::<String>().trim_end().to_owned();
    buf.content().chunks(columns).map(row).collect::<Vec<_>>().join("\n")
}
