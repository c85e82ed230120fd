//! The computer that keeps the watch: will it last the night?

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, wrap};
use crate::watch::health::HealthLine;

/// Columns of the labels.
const LABEL: u16 = 8;

/// Draws what it comes to in a line, then every fact, what is trouble first.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let inner = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let mut lines = scene.snap.health.lines(scene.snap.night_left);
    lines.sort_by_key(|line| !line.is_trouble);
    let mut pen = Pen::new(buf, inner);
    let (verdict, ink) = verdict(&lines);
    let mut y = 0;
    for row in wrap(&verdict, inner.width) {
        pen.put(0, y, &row, scene.ink(ink));
        y += 1;
    }
    y += 1;
    for line in &lines {
        let ink = if line.is_trouble { Ink::Trouble } else { Ink::Text };
        pen.put(0, y, line.label, scene.ink(Ink::Dim));
        for row in wrap(&line.words, inner.width.saturating_sub(LABEL)) {
            pen.put(LABEL, y, &row, scene.ink(ink));
            y += 1;
        }
    }
}

fn verdict(lines: &[HealthLine]) -> (String, Ink) {
    let troubles: Vec<&str> = lines.iter().filter(|line| line.is_trouble).map(|line| line.label).collect();
    match troubles[..] {
        [] => ("Nothing is known that would end the watch tonight.".to_owned(), Ink::Strong),
        _ => (format!("Look after: {}.", troubles.join(", ")), Ink::Trouble),
    }
}
