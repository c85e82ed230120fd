//! The verdict, how long it has been so, the room left; then place, boat and time.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::glyphs;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, metres, width};
use crate::tui::view::bar;
use crate::watch::snapshot::{Stage, Verdict};

/// Columns beside a tall verdict for how long it has been so, and for day and time.
const BESIDE_TALL: u16 = 42;

/// Rows for the header in so many columns: three for a tall verdict, one if it leaves no room for the words.
#[must_use]
pub fn height(scene: &Scene, columns: u16) -> u16 {
    let word = glyphs::columns(scene.snap.verdict.word(), 1);
    if word.saturating_add(BESIDE_TALL) <= columns { glyphs::rows(1) } else { 1 }
}

/// Draws the header: in tall letters where the area has room for them, else in one row.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    if area.height >= height(scene, area.width).max(2) {
        tall(scene, area, buf)
    } else {
        row(scene, area, buf)
    }
}

fn row(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let snap = scene.snap;
    let mut pen = Pen::new(buf, area);
    let time = scene.clock.hms(snap.at);
    let day = scene.clock.day(snap.at);
    let wide = area.width >= 76;
    let clock = if wide { format!("{day}  {time}") } else { time };
    let mut right = pen.put_right(area.width.saturating_sub(1), 0, &clock, scene.ink(Ink::Text));
    let mut x = pen.put(1, 0, snap.verdict.word(), scene.ink(scene.verdict_ink()));
    x = pen.put_within(x + 2, 0, right.saturating_sub(1), &since(scene), scene.ink(Ink::Text));
    let second = evidence(scene).unwrap_or_default();
    if x + 3 + width(&second) + 2 < right {
        x = pen.put(x + 3, 0, &second, scene.ink(Ink::Text));
    }
    for name in [snap.settings.boat.name.as_str(), &snap.place] {
        if !name.is_empty() && x + 3 + width(name) + 3 < right {
            right = pen.put_right(right - 3, 0, name, scene.ink(Ink::Dim));
        }
    }
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
    let since = if is_verdict { since(scene) } else { verdict_since(scene) };
    let mut x = pen.put_within(1, 0, stop, &since, scene.ink(Ink::Strong));
    for text in [evidence(scene), advice(scene).filter(|_| is_verdict)].into_iter().flatten() {
        if x + 3 + width(&text) <= stop {
            x = pen.put(x + 3, 0, &text, scene.ink(Ink::Text));
        }
    }
}

fn tall(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let snap = scene.snap;
    let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
    let word = glyphs::put(buf, inner, snap.verdict.word(), 1, scene.ink(scene.verdict_ink()));
    let mut pen = Pen::new(buf, inner);
    let right = [&*snap.place, snap.settings.boat.name.as_str(), &scene.clock.day(snap.at)];
    let time = format!("{}  {}", right[2], scene.clock.hms(snap.at));
    let end = inner.width;
    let mut names = pen.put_right(end, 2, &time, scene.ink(Ink::Text));
    names = names.min(pen.put_right(end, 0, right[0], scene.ink(Ink::Strong)));
    names = names.min(pen.put_right(end, 1, right[1], scene.ink(Ink::Dim)));

    let x = word + 3;
    let stop = names.saturating_sub(2);
    let mut widest = pen.put_within(x, 0, stop, &since(scene), scene.ink(Ink::Strong));
    if let Some(text) = evidence(scene) {
        widest = widest.max(pen.put_within(x, 1, stop, &text, scene.ink(Ink::Text)));
    }
    if let Some(text) = advice(scene) {
        widest = widest.max(pen.put_within(x, 2, stop, &text, scene.ink(Ink::Dim)));
    }
    room(scene, inner, (widest.max(x + 22) + 3, stop), buf);
}

/// The room in tall figures with its bar, between two columns, if it fits there.
fn room(scene: &Scene, area: Rect, (start, stop): (u16, u16), buf: &mut Buffer) {
    const BAR: u16 = 14;
    let Some(room) = scene.snap.room else { return };
    let whole = metres(room.left);
    let (figures, unit) = whole.split_once(' ').unwrap_or((&whole, ""));
    let columns = glyphs::columns(figures, 1);
    if start + columns + 2 + BAR > stop {
        return;
    }
    let ink = if room.left.0 < 0.0 { Ink::Trouble } else { Ink::Strong };
    let spot = Rect { x: area.x + start, width: columns, ..area };
    glyphs::put(buf, spot, figures, 1, scene.ink(ink));
    let mut pen = Pen::new(buf, area);
    let x = start + columns + 2;
    pen.put(x, 0, unit, scene.ink(ink));
    pen.put(x, 1, if room.left.0 < 0.0 { "beyond limit" } else { "of room" }, scene.ink(Ink::Text));
    bar::put(scene, &mut pen, (x, 2), BAR, bar::share(room.left.0, room.of.0), ink);
}

/// How long the verdict has stood; before there is anything to judge, what begins it.
fn since(scene: &Scene) -> String {
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
fn evidence(scene: &Scene) -> Option<String> {
    let holding = &scene.snap.holding;
    match (&holding.cannot, holding.evidence_percent) {
        (Some(why), _) => Some(why.clone()),
        (None, Some(percent)) => Some(format!("movement {percent:.0} %")),
        (None, None) => None,
    }
}

/// What the crew does next at this stage.
fn advice(scene: &Scene) -> Option<String> {
    let holding = &scene.snap.holding;
    match (scene.snap.stage, holding.ready_percent) {
        (Stage::NotSet, _) => None,
        (Stage::Setting, _) => Some("u once she has proved to hold".to_owned()),
        (Stage::BroughtUp, Some(ready)) if ready < 99.5 => {
            Some(format!("sure enough to leave: {ready:.0} %"))
        }
        (Stage::BroughtUp, _) => None,
        (Stage::Weighing, _) => Some("w when she is aweigh, or stays".to_owned()),
    }
}
