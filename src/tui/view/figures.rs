//! A few figures as tall as the rows allow, for the cockpit and for small screens.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::glyphs;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, metres, rounded, shift, width, wrap};
use crate::tui::view::bar;
use crate::watch::snapshot::Reading;

/// One figure with its unit and what it means.
#[derive(Clone, Debug)]
pub struct Figure {
    value: Option<String>,
    unit: &'static str,
    name: String,
    note: String,
    bar: Option<f64>,
    ink: Ink,
}

impl Figure {
    /// A figure of at most four characters.
    #[must_use]
    pub fn of(value: String, unit: &'static str, name: &str, note: String) -> Self {
        Self { value: Some(value), unit, name: name.into(), note, bar: None, ink: Ink::Strong }
    }

    /// A value that is not there, and why.
    #[must_use]
    pub fn missing(name: &str, why: &str) -> Self {
        Self { value: None, unit: "", name: name.into(), note: why.into(), bar: None, ink: Ink::Dim }
    }

    /// The same in another ink.
    #[must_use]
    pub fn in_ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }

    /// The same with a bar of that share, `0.0..=1.0`.
    #[must_use]
    pub fn with_bar(self, share: f64) -> Self {
        Self { bar: Some(share), ..self }
    }
}

/// Columns kept for the widest figure, `12.3`, so that nothing beside it jumps.
const FIGURE: &str = "00.0";
/// The column of the note beside a figure in plain words.
const NOTE: u16 = 30;
/// Columns for the words beside a figure.
const WORDS: u16 = 24;

/// The figures of a boat that rides to her anchor; the room among them unless it stands above already.
#[must_use]
pub fn riding(scene: &Scene, room_above: bool) -> Vec<Figure> {
    let room = (!room_above).then(|| room(scene));
    room.into_iter().chain([anchor(scene), wind(scene), keel(scene)]).collect()
}

/// Draws figures, in one or two columns, whichever lets them be taller. Gives the rows used.
pub fn render(scene: &Scene, figures: &[Figure], area: Rect, buf: &mut Buffer) -> u16 {
    let count = figures.len().clamp(1, 8) as u16;
    // A row between them, none below the last.
    let rows = area.height + 1;
    let scale = |across: u16, down: u16| {
        let room = ((area.width / across).saturating_sub(WORDS + 4), (rows / down).saturating_sub(1));
        glyphs::fitting(FIGURE, room, 6).unwrap_or(0)
    };
    let across = if scale(2, count.div_ceil(2)) > scale(1, count) { 2 } else { 1 };
    let down = count.div_ceil(across);
    let scale = scale(across, down);
    // A row clear of what stands above, if there is one to spare.
    let used = (down * (glyphs::rows(scale.max(1)) + 1)).saturating_sub(1);
    let area = if scale > 0 && area.height > used {
        Rect { y: area.y + 1, height: area.height - 1, ..area }
    } else {
        area
    };
    // Two to a row when not even the smallest tall figures fit: plain words.
    let (width, height) = (area.width / across, (rows / down).max(1));
    for (i, figure) in (0_u16..).zip(figures) {
        let (column, row) = (i % across, i / across);
        let y = area.y.saturating_add(row * height);
        let cell = Rect { x: area.x + column * width, y, width, height }.intersection(area);
        if scale == 0 { plain(scene, figure, cell, buf) } else { tall(scene, figure, scale, cell, buf) }
    }
    (down * height).min(area.height)
}

fn tall(scene: &Scene, figure: &Figure, scale: u16, area: Rect, buf: &mut Buffer) {
    let value = figure.value.as_deref().unwrap_or("-");
    let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(1), ..area };
    let columns = glyphs::columns(FIGURE, scale);
    // To the right, as figures stand under each other.
    let indent = columns.saturating_sub(glyphs::columns(value, scale));
    let spot = Rect { x: inner.x + indent, width: inner.width.saturating_sub(indent), ..inner };
    let ink = if figure.value.is_some() { figure.ink } else { Ink::Dim };
    glyphs::put(buf, spot, value, scale, scene.ink(ink));
    let words = Rect { x: inner.x + columns + 2, width: inner.width.saturating_sub(columns + 3), ..inner };
    let mut pen = Pen::new(buf, words);
    if figure.value.is_some() {
        pen.put(0, 0, figure.unit, scene.ink(ink));
    }
    let x = if figure.value.is_some() { (width(figure.unit) + 1).max(3) } else { 0 };
    pen.put(x, 0, &figure.name, scene.ink(Ink::Text));
    let mut y = 1;
    if let Some(share) = figure.bar {
        let long = pen.width().min(30);
        bar::put(scene, &mut pen, (0, y), long, share, ink);
        y += 1;
    }
    for line in
        wrap(&figure.note, words.width).iter().take(usize::from(glyphs::rows(scale).saturating_sub(y)))
    {
        pen.put(0, y, line, scene.ink(Ink::Dim));
        y += 1;
    }
}

fn plain(scene: &Scene, figure: &Figure, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let Some(value) = &figure.value else {
        pen.put(9, 0, &figure.name, scene.ink(Ink::Dim));
        pen.put(NOTE, 0, &figure.note, scene.ink(Ink::Dim));
        return;
    };
    pen.put_right(5, 0, value, scene.ink(figure.ink));
    pen.put(6, 0, figure.unit, scene.ink(figure.ink));
    pen.put_within(9, 0, NOTE - 1, &figure.name, scene.ink(Ink::Text));
    match figure.bar {
        Some(share) => {
            let long = pen.width().saturating_sub(NOTE + 1).min(20);
            bar::put(scene, &mut pen, (NOTE, 0), long, share, figure.ink);
        }
        None => {
            pen.put(NOTE, 0, &figure.note, scene.ink(Ink::Dim));
        }
    }
}

fn room(scene: &Scene) -> Figure {
    let Some(room) = scene.snap.room else {
        let why = if scene.snap.drop.is_none() { "no anchor down" } else { "no position" };
        return Figure::missing("room", why);
    };
    let beyond = room.left.0 < 0.0;
    let (value, unit) = split(&metres(room.left));
    Figure {
        value: Some(value),
        unit,
        name: room.name().into(),
        note: format!("circle {} about the anchor", metres(room.of)),
        bar: Some(bar::share(room.left.0, room.of.0)),
        ink: if beyond { Ink::Trouble } else { Ink::Strong },
    }
}

fn anchor(scene: &Scene) -> Figure {
    let snap = scene.snap;
    let Some((distance, bearing)) = snap.anchor_off else {
        let why = if snap.drop.is_none() { "d as it goes down" } else { "no position" };
        return Figure::missing("anchor", why);
    };
    let (value, unit) = split(&metres(distance));
    let reach = snap.reach.map(|reach| format!("rode reaches {}", metres(reach))).unwrap_or_default();
    let note = match snap.holding.moved {
        Some(moved) => format!("anchor moved {}", metres(moved.distance)),
        None => reach,
    };
    let name = scene.to_anchor(bearing);
    Figure { value: Some(value), unit, name, note, bar: None, ink: Ink::Strong }
}

fn wind(scene: &Scene) -> Figure {
    let wind = &scene.snap.wind;
    let Reading::Now { value, .. } = &wind.apparent else {
        let silent = wind.apparent.at().map(|at| format!("silent for {}", scene.snap.at.since(at)));
        return Figure::missing("wind", &silent.unwrap_or_else(|| "no sensor heard".into()));
    };
    let from = wind.mean_direction.or(wind.direction).map(|d| format!("from {d}")).unwrap_or_default();
    let gust = wind.gust.map(|gust| format!("gusts {}", rounded(gust.0, 0)));
    let turned = wind.shift_deg.map(shift);
    let note = [gust, turned].into_iter().flatten().collect::<Vec<_>>().join(", ");
    let value = rounded(wind.mean.unwrap_or(value.1).0, 0);
    Figure { value: Some(value), unit: "kn", name: from, note, bar: None, ink: Ink::Strong }
}

fn keel(scene: &Scene) -> Figure {
    let depth = &scene.snap.depth;
    let limit = scene.snap.limits.under_keel;
    let Some(keel) = depth.under_keel else {
        let silent = depth.sounded.at().map(|at| format!("silent for {}", scene.snap.at.since(at)));
        return Figure::missing("under keel", &silent.unwrap_or_else(|| "no sounder heard".into()));
    };
    let least = depth.least_under_keel;
    let note = least.map(|(least, at)| format!("least {} at {}", rounded(least.0, 1), scene.clock.hm(at)));
    Figure {
        value: Some(rounded(keel.0, 1)),
        unit: "m",
        name: "under keel".into(),
        note: note.unwrap_or_default(),
        bar: None,
        ink: if keel.0 < limit.0 { Ink::Trouble } else { Ink::Strong },
    }
}

/// The figures and the unit of a distance.
fn split(distance: &str) -> (String, &'static str) {
    match distance.split_once(' ') {
        Some((value, "km")) => (value.to_owned(), "km"),
        Some((value, _)) => (value.to_owned(), "m"),
        None => (distance.to_owned(), ""),
    }
}
