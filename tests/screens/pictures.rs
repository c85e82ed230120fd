//! The pictures in `docs/pictures`: `cargo run --example gallery -- --pictures` makes them, a test holds them.

use std::path::PathBuf;

use nightrode::tui::app::App;
use nightrode::tui::palette::{Colours, Light};
use nightrode::watch::snapshot::Snapshot;

use super::drawn::{Size, cells, keys, options};
use super::recorded::playing;
use super::{crew, scenes, svg};

/// One picture: its name, what it shows, in which light, after which keys, how large.
pub type Shot = (&'static str, fn() -> Snapshot, Light, &'static str, Size);

/// Pictures of a recorded night, with its bar.
const RECORDED: [&str; 2] = ["replay", "replay_night"];

/// Every picture.
pub const ALL: [Shot; 15] = [
    ("swing_day", scenes::quiet, Light::Day, "", (120, 40)),
    ("swing_dusk", scenes::quiet, Light::Dusk, "", (120, 40)),
    ("swing_night", scenes::quiet, Light::Night, "", (120, 40)),
    ("alert", scenes::alarm, Light::Dusk, "", (120, 40)),
    ("big", scenes::quiet, Light::Dusk, "b", (80, 24)),
    ("rode", scenes::quiet, Light::Dusk, "2", (120, 40)),
    ("night", scenes::quiet, Light::Dusk, "3", (120, 40)),
    ("feeds", scenes::quiet, Light::Dusk, "6", (100, 30)),
    ("deck_sounding", crew::sounding, Light::Day, "b", (60, 20)),
    ("deck_held", crew::held, Light::Day, "b", (60, 20)),
    ("deck_weighing", crew::heaving_in, Light::Night, "b", (80, 24)),
    ("rounds", crew::rounds, Light::Night, "4", (100, 30)),
    ("replay", scenes::quiet, Light::Dusk, "", (120, 40)),
    ("replay_night", scenes::alarm, Light::Night, "", (80, 24)),
    ("help", scenes::quiet, Light::Dusk, "?", (100, 30)),
];

/// One sheet of every step on deck: its name, light, size.
pub type Sheet = (&'static str, Light, Size);

/// Every sheet.
pub const SHEETS: [Sheet; 4] = [
    ("deck_60x20_day", Light::Day, (60, 20)),
    ("deck_60x20_night", Light::Night, (60, 20)),
    ("deck_80x24_day", Light::Day, (80, 24)),
    ("deck_80x24_night", Light::Night, (80, 24)),
];

/// Steps on deck as they follow each other, and how two of them can go wrong.
const STEPS: [scenes::Named; 11] = [
    ("coming to a place of the book", crew::near),
    ("sounding", crew::sounding),
    ("veering", crew::veering),
    ("astern", crew::pulling),
    ("neutral: it held", crew::held),
    ("neutral: it moved", crew::moved),
    ("neutral: taut too soon", crew::short),
    ("all out, no pull yet", crew::lying),
    ("heaving in", crew::heaving_in),
    ("up and down", crew::up_and_down),
    ("aweigh", crew::aweigh),
];

/// A sheet as SVG.
fn sheet(&(_, light, size): &Sheet) -> String {
    let steps = STEPS.map(|(name, scene)| {
        let snap = scene();
        let mut app = App::new(options(light, Colours::TrueColour));
        keys(&mut app, &snap, "b");
        (name, svg::picture(&cells(&mut app, &snap, true, size)))
    });
    svg::sheet(&steps, 2, size)
}

/// Every file of `docs/pictures` that is made here, and what is in it.
pub fn files() -> impl Iterator<Item = (PathBuf, String)> {
    let shots = ALL.iter().map(|shot| (path(shot.0), drawn(shot)));
    shots.chain(SHEETS.iter().map(|of| (path(of.0), sheet(of))))
}

/// The picture as SVG.
fn drawn(&(name, scene, light, typed, size): &Shot) -> String {
    let snap = scene();
    let mut app = App::new(options(light, Colours::TrueColour));
    if RECORDED.contains(&name) {
        app.show_recorded(playing());
    }
    keys(&mut app, &snap, typed);
    svg::picture(&cells(&mut app, &snap, true, size))
}

/// Where it is kept.
fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("docs/pictures/{name}.svg"))
}

#[test]
fn the_pictures_in_the_documents_show_the_screens_of_today() {
    let stale: Vec<PathBuf> = files()
        .filter(|(path, picture)| std::fs::read_to_string(path).ok().as_ref() != Some(picture))
        .map(|(path, _)| path)
        .collect();
    assert!(stale.is_empty(), "make them anew with: cargo run --example gallery -- --pictures\n{stale:?}");
}
