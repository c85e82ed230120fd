//! A step on deck: three tall figures, and below them what was seen and what to do.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::deck::Deck;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, wrap};
use crate::tui::view::figures;

/// Rows that the words get before the figures grow beyond their smallest size.
const WORDS: u16 = 5;
/// Rows of three figures at their smallest, with a row between them.
const FIGURES: u16 = 11;

/// Draws figures, then words as far as rows go.
pub fn render(scene: &Scene, deck: &Deck, area: Rect, buf: &mut Buffer) {
    let lines: Vec<(String, Ink)> = deck
        .says
        .iter()
        .flat_map(|(text, ink)| wrap(text, area.width.saturating_sub(2)).into_iter().map(|line| (line, *ink)))
        .collect();
    let asked = (lines.len() as u16 + 1).min(WORDS.max(area.height / 3));
    let words = asked.min(area.height.saturating_sub(FIGURES));
    let above = Rect { height: area.height - words, ..area };
    let used = figures::render(scene, &deck.figures, above, buf).min(above.height);
    let below = Rect { y: area.y + used, height: area.height - used, ..area };
    let mut pen = Pen::new(buf, below);
    let first = u16::from(below.height > lines.len() as u16);
    for (y, (line, ink)) in (first..below.height).zip(&lines) {
        pen.put(1, y, line, scene.ink(*ink));
    }
}
