//! The verdict and the room in tall letters, how long it has been so, what it rests on; then place, boat and time.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::tall::{Piece, Tall};
use crate::tui::glyphs;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, metres, rounded, width};
use crate::watch::snapshot::{Stage, Verdict};

/// Columns beside the tall letters in which words have a place; else they stand in a row below.
const WORDS: u16 = 28;
/// Columns between the words and what stands at the right edge.
const APART: u16 = 2;

/// Rows for the header in so many columns, with letters of that scale: those of the letters, one more where the words
/// find no room beside them, and one where not even the letters do.
#[must_use]
pub fn height(scene: &Scene, columns: u16, scale: u16) -> u16 {
    tops(scene, columns, scale).map_or(1, |tall| rows(&tall, columns))
}

/// What stands below an alert in tall letters: verdict and room, or the step on deck. `None` where it is too wide.
fn under(scene: &Scene, step: Option<&str>, columns: u16, scale: u16) -> Option<Tall> {
    let columns = columns.saturating_sub(2);
    match step {
        Some(step) => Tall::of(&[Piece::word(step, Ink::Strong)], columns, scale),
        None => tops(scene, columns + 2, scale),
    }
}

/// Rows of the header below an alert.
#[must_use]
pub fn height_under(scene: &Scene, step: Option<&str>, columns: u16, scale: u16) -> u16 {
    [scale, 1]
        .into_iter()
        .find_map(|scale| under(scene, step, columns, scale))
        .map_or(1, |tall| tall.height())
}

/// Draws the header below an alert, which has the time and the names in its own lines. A row to spare is above it.
pub fn render_under(scene: &Scene, step: Option<&str>, area: Rect, buf: &mut Buffer) {
    let talls = [2, 1].into_iter().filter_map(|scale| under(scene, step, area.width, scale));
    let tall = talls.filter(|tall| tall.height() <= area.height).max_by_key(Tall::height);
    let clear = u16::from(area.height > tall.as_ref().map_or(1, Tall::height));
    let inner = Rect {
        x: area.x + 1,
        y: area.y + clear,
        width: area.width.saturating_sub(2),
        height: area.height - clear.min(area.height),
    };
    let mut pen = Pen::new(buf, inner);
    let Some(tall) = tall else {
        let ink = step.map_or(scene.verdict_ink(), |_| Ink::Strong);
        let x = pen.put(0, 0, step.unwrap_or(scene.snap.verdict.word()), scene.ink(ink));
        let room = scene.snap.room.filter(|_| step.is_none());
        let room = room.map(|room| format!("{} {}", metres(room.left), room.name()));
        pen.put(x + 3, 0, &room.unwrap_or_default(), scene.ink(Ink::Strong));
        return;
    };
    tall.put(scene, None, inner, buf);
    let words = [Some(since_of(scene, step)), evidence(scene), advice(scene).filter(|_| step.is_none())];
    let x = tall.last_columns() + 3;
    let longest = words.iter().flatten().map(|text| width(text)).max().unwrap_or(0);
    if x + longest <= inner.width {
        let mut pen = Pen::new(buf, inner);
        for (y, text) in (0..tall.height()).zip(words.iter().flatten()) {
            pen.put(x, y, text, scene.ink(Ink::Text));
        }
    }
}

/// How long the verdict has stood, with its word where a step on deck has the tall letters.
fn since_of(scene: &Scene, step: Option<&str>) -> String {
    if step.is_some_and(|step| step != scene.snap.verdict.word()) {
        verdict_since(scene)
    } else {
        since(scene)
    }
}

/// Draws the header: as tall as the area has room for, or in one row.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let fits = |tall: &Tall| area.height >= rows(tall, area.width);
    let tall = [2, 1].into_iter().filter_map(|scale| tops(scene, area.width, scale)).find(fits);
    let Some(tall) = tall else { return row(scene, area, buf) };
    let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
    tall.put(scene, None, inner, buf);
    if has_room(&tall, area.width) {
        beside(scene, tall.last_columns() + 3, inner, buf);
    } else {
        let y = area.y + tall.height();
        let room = scene.snap.room.filter(|_| !tall.names_room).map(|room| room.name());
        below(scene, room, Rect { y, height: 1, ..inner }, buf);
    }
}

fn rows(tall: &Tall, columns: u16) -> u16 {
    tall.height() + u16::from(!has_room(tall, columns))
}

/// Verdict and room, in one row of tall letters or two.
fn tops(scene: &Scene, columns: u16, scale: u16) -> Option<Tall> {
    let verdict = Piece::word(scene.snap.verdict.word(), scene.verdict_ink());
    let tall = Tall::fitting(scene, &[verdict], columns.saturating_sub(2), scale)?;
    (tall.height() <= 2 * glyphs::rows(1) + 1).then_some(tall)
}

fn has_room(tall: &Tall, columns: u16) -> bool {
    tall.last_columns() + 2 + WORDS <= columns
}

/// The words beside the tall letters, and at the right edge place, boat and time.
fn beside(scene: &Scene, x: u16, area: Rect, buf: &mut Buffer) {
    let snap = scene.snap;
    let mut pen = Pen::new(buf, area);
    let end = area.width;
    let time = scene.clock.hms(snap.at);
    let dated = format!("{}  {time}", scene.clock.day(snap.at));
    let words = [Some(since(scene)), evidence(scene), advice(scene)];
    let long = words.iter().flatten().map(|text| width(text)).max().unwrap_or(0);
    let room = end.saturating_sub(x + long + APART);
    let time = if width(&dated) <= room { dated } else { time };
    let names =
        [(&*snap.place, Ink::Strong), (snap.settings.boat.name.as_str(), Ink::Dim), (&time, Ink::Text)];
    let mut stop = end;
    for (y, (name, ink)) in (0..).zip(names) {
        if width(name) <= room.max(width(&time)) {
            stop = stop.min(pen.put_right(end, y, name, scene.ink(ink)));
        }
    }
    let inks = [Ink::Strong, Ink::Text, Ink::Text];
    for (y, (text, ink)) in (0..).zip(words.into_iter().zip(inks)) {
        pen.put_within(x, y, stop.saturating_sub(APART), &text.unwrap_or_default(), scene.ink(ink));
    }
}

/// The words in a row below the tall letters, with the name of the room where it found no place above.
fn below(scene: &Scene, room: Option<&str>, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let mut right = pen
        .put_right(area.width, 0, &scene.clock.hms(scene.snap.at), scene.ink(Ink::Text))
        .saturating_sub(APART);
    let mut x = pen.put_within(0, 0, right, &since(scene), scene.ink(Ink::Strong));
    for text in [room.map(str::to_owned), evidence(scene), advice(scene)].into_iter().flatten() {
        if x + 3 + width(&text) <= right {
            x = pen.put(x + 3, 0, &text, scene.ink(Ink::Text));
        }
    }
    names(scene, &mut pen, x, &mut right);
}

/// Day, boat and place leftwards from `right`, as far as they fit behind column `x`.
fn names(scene: &Scene, pen: &mut Pen, x: u16, right: &mut u16) {
    let snap = scene.snap;
    let day = scene.clock.day(snap.at);
    for name in [day.as_str(), &snap.settings.boat.name, &snap.place] {
        if !name.is_empty() && x + 3 + width(name) <= *right {
            *right = pen.put_right(*right, 0, name, scene.ink(Ink::Dim)).saturating_sub(APART);
        }
    }
}

/// All of it in one row.
fn row(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let snap = scene.snap;
    let mut pen = Pen::new(buf, area);
    let time = scene.clock.hms(snap.at);
    let mut right =
        pen.put_right(area.width.saturating_sub(1), 0, &time, scene.ink(Ink::Text)).saturating_sub(APART);
    let mut x = pen.put_within(1, 0, right, snap.verdict.word(), scene.ink(scene.verdict_ink()));
    if let Some(room) = snap.room {
        let ink = if room.left.0 < 0.0 { Ink::Trouble } else { Ink::Strong };
        let text = format!("{} {}", metres(room.left), room.name());
        x = pen.put_within(x + 3, 0, right, &text, scene.ink(ink));
    }
    for text in [Some(since(scene)), evidence(scene)].into_iter().flatten() {
        if x + 3 + width(&text) <= right {
            x = pen.put(x + 3, 0, &text, scene.ink(Ink::Text));
        }
    }
    names(scene, &mut pen, x, &mut right);
}

/// Rows that the verdict takes where it is as wide as the screen, with a row of words below it.
#[must_use]
pub fn big_height(word: &str, area: Rect) -> u16 {
    big_scale(word, Rect { height: area.height / 3, ..area }).map_or(1, |scale| glyphs::rows(scale) + 1)
}

fn big_scale(word: &str, area: Rect) -> Option<u16> {
    glyphs::fitting(word, (area.width, area.height), 6)
}

/// Draws a word, the verdict or the step on deck, as large as the area allows, and below it how long, the evidence,
/// and the time.
pub fn big(scene: &Scene, word: &str, area: Rect, buf: &mut Buffer) {
    let rows = area.height.saturating_sub(1);
    let Some(scale) = big_scale(word, Rect { height: rows, ..area }) else {
        row(scene, area, buf);
        return;
    };
    let margin = area.width.saturating_sub(glyphs::columns(word, scale)).min(1);
    let spot = Rect { x: area.x + margin, width: area.width - margin, height: rows, ..area };
    glyphs::put(buf, spot, word, scale, scene.ink(scene.verdict_ink()));
    let mut pen = Pen::new(buf, Rect { y: area.y + rows, height: 1, ..area });
    let time = scene.clock.hms(scene.snap.at);
    let stop = pen.put_right(area.width.saturating_sub(1), 0, &time, scene.ink(Ink::Text)).saturating_sub(2);
    let is_verdict = word == scene.snap.verdict.word();
    let mut x = pen.put_within(1, 0, stop, &since_of(scene, Some(word)), scene.ink(Ink::Strong));
    for text in [evidence(scene), advice(scene).filter(|_| is_verdict)].into_iter().flatten() {
        if x + 3 + width(&text) <= stop {
            x = pen.put(x + 3, 0, &text, scene.ink(Ink::Text));
        }
    }
}

/// How long the verdict has stood; before there is anything to judge, what begins it.
#[must_use]
pub fn since(scene: &Scene) -> String {
    match scene.snap.verdict {
        Verdict::NotSet => "d as the anchor goes down".to_owned(),
        _ => format!("for {}", scene.snap.at.since(scene.snap.verdict_since)),
    }
}

/// The verdict in small letters, where another word takes the tall ones.
fn verdict_since(scene: &Scene) -> String {
    match scene.snap.verdict {
        Verdict::NotSet => since(scene),
        verdict => format!("{} {}", verdict.word().to_lowercase(), since(scene)),
    }
}

/// What the judgement rests on.
#[must_use]
pub fn evidence(scene: &Scene) -> Option<String> {
    let holding = &scene.snap.holding;
    match (&holding.cannot, holding.evidence_percent) {
        (Some(why), _) => Some(why.clone()),
        (None, Some(percent)) => Some(format!("drag evidence {} %", rounded(percent, 0))),
        (None, None) => None,
    }
}

/// What the crew does next at this stage.
fn advice(scene: &Scene) -> Option<String> {
    match scene.snap.stage {
        Stage::NotSet | Stage::BroughtUp => None,
        Stage::Setting => Some("u once she has proved to hold".to_owned()),
        Stage::Weighing => Some("w when she is aweigh, or stays".to_owned()),
    }
}
