//! The rode from the side, what it holds in figures, and the tide of the night: as it is, or as the crew supposes.

pub mod profile;
pub mod sums;
pub mod suppose;
pub mod tide;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, knots, metres, width, wrap};
use crate::tui::view::ahead;
use crate::watch::input::TurnKind;
use crate::watch::units::WatchTime;
use crate::watch::what_if::Answer;
use suppose::{Suppose, Supposed};

/// Columns that the table of figures wants, and the tide beside it at least.
const TABLE: u16 = 50;
const TIDE_LEAST: u16 = 26;
/// Rows that figures and tide want above the night ahead.
const FIGURES_ROWS: u16 = 14;
/// Rows of the table that must stay, its heading included.
const TABLE_ROWS_LEAST: u16 = 7;

/// Draws the view.
pub fn render(
    scene: &Scene,
    answer: &Answer,
    suppose: &Suppose,
    area: Rect,
    buf: &mut Buffer,
    hits: &mut Hits,
) {
    let area = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let y = verdict(scene, answer, suppose, area, buf);
    let y = y + question(scene, answer, suppose, below(area, y), buf, hits);
    let rest = below(area, y);
    // The picture gives way to the figures: they say the same in fewer rows.
    let share = if scene.snap.ahead.night.is_some() && !suppose.any() {
        rest.height * 2 / 5
    } else {
        rest.height * 3 / 5
    };
    let most = rest.height.saturating_sub(TABLE_ROWS_LEAST + 1).min(share);
    let scale = profile::Scale::fitting(scene, answer, rest.width, most);
    let rows = scale.as_ref().map_or(0, profile::Scale::rows);
    if let Some(scale) = &scale {
        profile::render(scene, answer, suppose.any(), scale, Rect { height: rows, ..rest }, buf);
    }
    let gap = u16::from(rest.height > rows + 14);
    let mut foot = below(rest, rows + gap);
    if let Some(night) = scene.snap.ahead.night.as_deref().filter(|_| !suppose.any()) {
        // The night stands where the figures do, until something is supposed; below them where there is room for both.
        let spare = foot.height.saturating_sub(FIGURES_ROWS + 1);
        if spare < ahead::ROWS {
            ahead::render(scene, night, foot, buf);
            return;
        }
        ahead::render(scene, night, below(foot, FIGURES_ROWS + 1), buf);
        foot.height = FIGURES_ROWS;
    }
    if foot.width >= TABLE + 2 + TIDE_LEAST {
        let table = TABLE + (foot.width - TABLE - TIDE_LEAST).min(30) / 3;
        sums::render(scene, answer, suppose, Rect { width: table, ..foot }, buf);
        let x = foot.x + table + 3;
        let beside = Rect { x, width: foot.right().saturating_sub(x), ..foot };
        tide::render(scene, answer, suppose, beside, buf, hits);
    } else {
        sums::render(scene, answer, suppose, foot, buf);
    }
}

/// What is left of an area below its first rows.
fn below(area: Rect, rows: u16) -> Rect {
    let rows = rows.min(area.height);
    Rect { y: area.y + rows, height: area.height - rows, ..area }
}

/// A moment of the tide in words: `HW 08:56` at a turn, else the time alone.
fn moment(scene: &Scene, at: WatchTime) -> String {
    let time = scene.clock.hm(at);
    match scene.snap.tide.turns.iter().find(|turn| turn.at == at).map(|turn| turn.kind) {
        Some(TurnKind::High) => format!("HW {time}"),
        Some(TurnKind::Low) => format!("LW {time}"),
        None => time,
    }
}

/// What it comes to, in a sentence or two. Gives the rows used.
fn verdict(scene: &Scene, answer: &Answer, suppose: &Suppose, area: Rect, buf: &mut Buffer) -> u16 {
    let mut pen = Pen::new(buf, area);
    let mut y = 0;
    let mut x = 0;
    for (words, ink) in sums::verdict(scene, answer, suppose) {
        if x > 0 && x + 2 + width(&words) <= area.width {
            x = pen.put(x + 2, y - 1, &words, scene.ink(ink));
            continue;
        }
        for line in wrap(&words, area.width) {
            x = pen.put(0, y, &line, scene.ink(ink));
            y += 1;
        }
    }
    y.min(area.height)
}

/// What is supposed, and how to suppose something else. Gives the rows used.
fn question(
    scene: &Scene,
    answer: &Answer,
    suppose: &Suppose,
    area: Rect,
    buf: &mut Buffer,
    hits: &mut Hits,
) -> u16 {
    if area.height == 0 || answer.veered.is_none() {
        return 0;
    }
    let mut pen = Pen::new(buf, area);
    let (head, ink) = if suppose.any() { (" WHAT IF ", Ink::Picked) } else { ("what if", Ink::Dim) };
    let mut x = pen.put(0, 0, head, scene.ink(ink)) + 2;
    for (row, supposed) in Supposed::ALL.into_iter().enumerate() {
        let changed = match supposed {
            Supposed::Wind => suppose.what_if.wind.is_some(),
            Supposed::Rode => suppose.what_if.veered.is_some(),
            Supposed::Tide => suppose.what_if.at.is_some(),
        };
        let words = match supposed {
            Supposed::Wind => {
                answer.wind.map_or_else(|| "wind not known".to_owned(), |w| format!("wind {}", knots(w)))
            }
            Supposed::Rode => answer.veered.map_or_else(String::new, |v| format!("rode {}", metres(v))),
            Supposed::Tide if changed => format!("tide {}", moment(scene, answer.at)),
            Supposed::Tide => "tide now".to_owned(),
        };
        let here = suppose.at_hand == supposed;
        let ink = match (changed, here) {
            (true, _) => Ink::Strong,
            (false, true) => Ink::Text,
            (false, false) => Ink::Dim,
        };
        let start = x;
        x = pen.put(x, 0, if here { "‹" } else { " " }, scene.ink(Ink::Boat));
        x = pen.put(x, 0, &words, scene.ink(ink));
        x = pen.put(x, 0, if here { "›" } else { " " }, scene.ink(Ink::Boat));
        hits.add(pen.spot(start, 0, x - start), Target::Row(row));
        x += 1;
    }
    let back = "0 back to now";
    if suppose.any() {
        let start = pen.put_right(area.width, 0, back, scene.ink(Ink::Boat));
        hits.add(pen.spot(start, 0, width(back)), Target::Key(KeyCode::Home));
    } else {
        let how = "←→ choose  ↑↓ change";
        if x + 1 + width(how) <= area.width {
            pen.put_right(area.width, 0, how, scene.ink(Ink::Dim));
        }
    }
    1
}
