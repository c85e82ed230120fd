//! Shows the screens on made-up watches in a real terminal, to look at them: `gallery --scene alarm`.
//!
//! Keys act on the screen only. `,` and `.` go through the scenes. `--svg FILE` draws the scene into a picture instead, as
//! large as `--size 120x40` says and after the keys of `--keys`; `--pictures` draws those of the documents.
//! `--recorded` shows the scene as a moment of a recorded night.

#[path = "../screens/crew.rs"]
mod crew;
#[path = "../screens/drawn.rs"]
#[allow(dead_code, reason = "shared with the tests")]
mod drawn;
#[path = "../screens/pictures.rs"]
mod pictures;
#[path = "../screens/recorded.rs"]
mod recorded;
#[path = "../screens/scenes.rs"]
mod scenes;
#[path = "../screens/svg.rs"]
mod svg;

use std::time::{Duration, Instant};

use nightrode::tui::app::App;
use nightrode::tui::options::Options;
use nightrode::tui::palette::{Colours, Light};
use nightrode::tui::request::Request;
use ratatui::crossterm::event::{self, DisableMouseCapture, EnableMouseCapture, Event, KeyCode};
use ratatui::crossterm::execute;

fn main() -> std::io::Result<()> {
    let argument = |name: &str| std::env::args().skip_while(|a| a != name).nth(1);
    let mut options =
        Options { time_zone: jiff::tz::TimeZone::fixed(jiff::tz::offset(2)), ..Options::default() };
    options.light = match argument("--light").as_deref() {
        Some("day") => Light::Day,
        Some("night") => Light::Night,
        _ => Light::Dusk,
    };
    options.colours = match argument("--colours").as_deref() {
        Some("256") => Colours::Cube256,
        Some("16") => Colours::Ansi16,
        Some("mono") => Colours::Mono,
        _ => Colours::TrueColour,
    };
    options.braille = argument("--dots").as_deref() != Some("blocks");
    let scene = argument("--scene").unwrap_or_else(|| "quiet".into());
    let all: Vec<scenes::Named> = scenes::ALL.into_iter().chain(scenes::RODE).chain(crew::ALL).collect();
    let mut shown = all.iter().position(|(name, _)| *name == scene).unwrap_or(0);
    if std::env::args().any(|a| a == "--pictures") {
        return pictures::files().try_for_each(|(path, picture)| std::fs::write(path, picture));
    }
    let mut app = App::new(options);
    if std::env::args().any(|a| a == "--recorded") {
        app.show_recorded(recorded::playing());
    }
    if let Some(file) = argument("--svg") {
        let size = argument("--size").unwrap_or_else(|| "120x40".into());
        let size = size.split_once('x').and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
        let size = size.ok_or_else(|| std::io::Error::other("the size is written as 120x40"))?;
        let snap = all[shown].1();
        drawn::keys(&mut app, &snap, &argument("--keys").unwrap_or_default());
        return std::fs::write(file, svg::picture(&drawn::cells(&mut app, &snap, true, size)));
    }
    let mut terminal = ratatui::init();
    execute!(std::io::stdout(), EnableMouseCapture)?;
    let began = Instant::now();
    loop {
        let snap = all[shown].1();
        let lit = (began.elapsed().as_millis() / 500).is_multiple_of(2);
        terminal.draw(|frame| {
            let area = frame.area();
            app.render(&snap, lit, area, frame.buffer_mut());
        })?;
        if !event::poll(Duration::from_millis(100))? {
            continue;
        }
        let event = event::read()?;
        match &event {
            Event::Key(key) if key.code == KeyCode::Char('.') => shown = (shown + 1) % all.len(),
            Event::Key(key) if key.code == KeyCode::Char(',') => {
                shown = (shown + all.len() - 1) % all.len();
            }
            _ => {
                if app.on_event(&event, &snap).contains(&Request::Quit) {
                    break;
                }
            }
        }
    }
    execute!(std::io::stdout(), DisableMouseCapture)?;
    ratatui::restore();
    Ok(())
}
