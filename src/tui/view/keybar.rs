//! The keys that act here, and at the end how many alerts there are.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{self, Act, Hint};
use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, alert_ink};
use crate::tui::stands::View;
use crate::tui::text::{Pen, width};
use crate::watch::alert::AlertState;

/// Columns between two hints.
const GAP: u16 = 3;

/// Draws as many hints as there is room for, whole or not at all: the way to help and the way back before all others,
/// then the first ones.
pub fn render(scene: &Scene, hints: &[Hint], area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let mut pen = Pen::new(buf, area);
    let mut x = 1;
    for hint in fitting(hints, area.width) {
        let behind = pen.put(x, 0, hint.label, scene.ink(Ink::Boat));
        let end = pen.put(behind + 1, 0, hint.word, scene.ink(Ink::Dim));
        if !hint.pair {
            hits.add(pen.spot(x, 0, end - x), Target::Key(hint.press.code));
        }
        x = end + GAP;
    }
}

/// Draws at the end of the row how many alerts there are. Gives the columns before it.
pub fn count(scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) -> u16 {
    let mut pen = Pen::new(buf, area);
    let key = key_of_alerts();
    let listed = || scene.snap.alerts.iter().filter(|alert| alert.state != AlertState::Normal);
    // In the ink of the worst of them: a caution is no alarm.
    let ink = listed().map(alert_ink).max().unwrap_or(Ink::Dim);
    let count = match listed().count() {
        0 => "no alerts".to_owned(),
        1 => format!("one alert: {key}"),
        n => format!("{n} alerts: {key}"),
    };
    let start = pen.put_right(area.width.saturating_sub(1), 0, &count, scene.ink(ink));
    hits.add(pen.spot(start, 0, width(&count)), Target::View(View::Alerts));
    start.saturating_sub(1)
}

/// The hints that fit into so many columns, in their order.
fn fitting(hints: &[Hint], columns: u16) -> Vec<&Hint> {
    let is_kept = |hint: &Hint| hint.label == "?" || hint.label == "Esc";
    let mut room = i32::from(columns) - 1;
    let mut takes = |hint: &Hint| {
        let wanted = i32::from(width(hint.label) + 1 + width(hint.word));
        let fits = wanted <= room;
        room -= if fits { wanted + i32::from(GAP) } else { 0 };
        fits
    };
    let mut shown: Vec<bool> = hints.iter().map(|hint| is_kept(hint) && takes(hint)).collect();
    for (hint, shown) in hints.iter().zip(&mut shown) {
        *shown = *shown || (!is_kept(hint) && takes(hint));
    }
    hints.iter().zip(shown).filter(|(_, shown)| *shown).map(|(hint, _)| hint).collect()
}

fn key_of_alerts() -> &'static str {
    keys::label(Act::Show(View::Alerts))
}
