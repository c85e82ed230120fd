//! A window that is too small: says so, and still shows the verdict.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, waits};
use crate::tui::text::{Pen, metres, wrap};
use crate::watch::alert::Priority;

/// The smallest window that the screens are laid out for.
pub const LEAST: (u16, u16) = (60, 20);

/// Draws verdict, alert and room, then what size is needed, as far as there are rows.
pub fn render(scene: &Scene, notice: Option<&str>, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let room = scene.snap.room.map(|room| format!("  {} {}", metres(room.left), room.name()));
    let verdict = [scene.snap.verdict.word(), &room.unwrap_or_default()].concat();
    let mut lines: Vec<_> =
        wrap(&verdict, area.width).into_iter().map(|line| (line, scene.verdict_ink())).collect();
    if let Some(alert) = scene.headline() {
        let flashes = waits(alert) && alert.priority == Priority::Alarm && scene.lit;
        lines.push((alert.kind.title().to_owned(), if flashes { Ink::Fill } else { Ink::Trouble }));
    }
    if scene.asks().is_some() {
        lines.push(("a acknowledge".to_owned(), Ink::Text));
    }
    let notice = notice.map(|notice| wrap(notice, area.width)).unwrap_or_default();
    lines.extend(notice.into_iter().map(|line| (line, Ink::Trouble)));
    let (columns, rows) = LEAST;
    let size =
        format!("The window is {} by {}. Make it {columns} by {rows} or larger.", area.width, area.height);
    lines.extend(wrap(&size, area.width).into_iter().map(|line| (line, Ink::Dim)));
    for (y, (line, ink)) in (0..area.height).zip(lines) {
        pen.put(0, y, &line, scene.ink(ink));
    }
}
