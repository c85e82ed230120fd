//! The keys that act here, and at the end how many alerts there are.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::keys::Hint;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stands::View;
use crate::tui::text::{Pen, width};
use crate::watch::alert::AlertState;

/// Draws as many hints as fit, the first ones first.
pub fn render(scene: &Scene, hints: &[Hint], area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let mut pen = Pen::new(buf, area);
    let (count, ink) = count(scene);
    let stop = pen.put_right(area.width.saturating_sub(1), 0, &count, scene.ink(ink));
    hits.add(pen.spot(stop, 0, width(&count)), Target::View(View::Alerts));
    let mut x = 1;
    for hint in hints {
        let end = x + width(hint.key) + 1 + width(hint.word);
        if end + 2 > stop {
            continue;
        }
        let behind = pen.put(x, 0, hint.key, scene.ink(Ink::Boat));
        pen.put(behind + 1, 0, hint.word, scene.ink(Ink::Dim));
        if let Some(key) = hint.key.chars().next().filter(|_| hint.key.chars().count() == 1) {
            hits.add(pen.spot(x, 0, end - x), Target::Key(key));
        }
        x = end + 3;
    }
}

fn count(scene: &Scene) -> (String, Ink) {
    match scene.snap.alerts.iter().filter(|alert| alert.state != AlertState::Normal).count() {
        0 => ("no alerts".to_owned(), Ink::Dim),
        1 => ("one alert: 5".to_owned(), Ink::Trouble),
        n => (format!("{n} alerts: 5"), Ink::Trouble),
    }
}
