//! A window that is too small: says so, and still shows the verdict.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, waits};
use crate::tui::text::{Pen, metres, wrap};
use crate::watch::alert::{Alert, Priority};

/// The smallest window that the screens are laid out for.
pub const LEAST: (u16, u16) = (60, 20);

/// Draws the worst thing that is so, verdict and room, then what size is needed, as far as there are rows.
pub fn render(scene: &Scene, unwatched: Option<&str>, notice: Option<&str>, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    if let Some(words) = unwatched {
        for (y, line) in (0..area.height).zip(wrap(words, area.width)) {
            pen.put(0, y, &line, scene.ink(if scene.lit { Ink::Fill } else { Ink::Trouble }));
        }
        return;
    }
    let room = scene.snap.room.map(|room| format!("  {} {}", metres(room.left), room.name()));
    let verdict = [scene.snap.verdict.word(), &room.unwrap_or_default()].concat();
    let alert = scene.headline();
    let flashes = |alert: &Alert| waits(alert) && alert.priority == Priority::Alarm && scene.lit;
    let alarm = alert.map(|alert| if flashes(alert) { Ink::Fill } else { Ink::Trouble });
    let title =
        alert.filter(|alert| !scene.is_verdict(alert.kind)).map(|alert| alert.kind.title().to_owned());
    let verdict_ink = alarm.filter(|_| title.is_none()).unwrap_or(scene.verdict_ink());
    let mut lines: Vec<_> = title.into_iter().zip(alarm).collect();
    lines.extend(wrap(&verdict, area.width).into_iter().map(|line| (line, verdict_ink)));
    if scene.asks().is_some() {
        lines.push(("a acknowledge".to_owned(), Ink::Text));
    }
    let notice = notice.map(|notice| wrap(notice, area.width)).unwrap_or_default();
    lines.extend(notice.into_iter().map(|line| (line, Ink::Strong)));
    let (columns, rows) = LEAST;
    let size =
        format!("The window is {} by {}. Make it {columns} by {rows} or larger.", area.width, area.height);
    lines.extend(wrap(&size, area.width).into_iter().map(|line| (line, Ink::Dim)));
    for (y, (line, ink)) in (0..area.height).zip(lines) {
        pen.put(0, y, &line, scene.ink(ink));
    }
}
