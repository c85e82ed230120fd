//! Every alert that is not over, and what happened so far.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::scene::{Scene, alert_ink, priority_word};
use crate::tui::text::{Pen, width, wrap};
use crate::watch::alert::{Alert, AlertKind, AlertState, Priority};
use crate::watch::snapshot::Snapshot;

/// The alerts in the order of the list.
#[must_use]
pub fn listed(snap: &Snapshot) -> Vec<&Alert> {
    snap.alerts.iter().filter(|alert| alert.state != AlertState::Normal).collect()
}

/// The alert that is picked: the crew's if it is still there, else the first.
#[must_use]
pub fn picked(snap: &Snapshot, wanted: Option<AlertKind>) -> Option<AlertKind> {
    let all = listed(snap);
    let kind = |alert: &&Alert| Some(alert.kind) == wanted;
    all.iter().copied().find(kind).or(all.first().copied()).map(|alert| alert.kind)
}

/// The alert above (−1) or below (+1) the picked one.
#[must_use]
pub fn step(snap: &Snapshot, from: Option<AlertKind>, by: isize) -> Option<AlertKind> {
    let all = listed(snap);
    let here = picked(snap, from);
    let at = all.iter().position(|alert| Some(alert.kind) == here)?;
    let next = at.saturating_add_signed(by).min(all.len() - 1);
    Some(all[next].kind)
}

/// Where an alert stands, in words.
fn state(scene: &Scene, alert: &Alert) -> String {
    let base = match alert.state {
        AlertState::Normal => "over".to_owned(),
        AlertState::Unacknowledged if alert.priority == Priority::Caution => "still so".to_owned(),
        AlertState::Unacknowledged => "not acknowledged".to_owned(),
        AlertState::Silenced { until } => {
            format!("not acknowledged, silent until {}", scene.clock.hms(until))
        }
        AlertState::Acknowledged => "acknowledged, still so".to_owned(),
        AlertState::Rectified => "over, not acknowledged".to_owned(),
    };
    if alert.escalated { format!("{base}, risen because nobody answered") } else { base }
}

/// Its priority and where it stands: `alarm, not acknowledged`.
#[must_use]
pub fn how(scene: &Scene, alert: &Alert) -> String {
    format!("{}, {}", priority_word(alert.priority), state(scene, alert))
}

/// Draws the list, then what happened.
pub fn render(scene: &Scene, wanted: Option<AlertKind>, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let inner = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    let all = listed(scene.snap);
    let picked = picked(scene.snap, wanted);
    let blocks: Vec<(AlertKind, Vec<(String, Ink)>)> =
        all.iter().map(|alert| (alert.kind, block(scene, alert, inner.width))).collect();
    let here = blocks.iter().position(|(kind, _)| Some(*kind) == picked).unwrap_or(0);
    let mut pen = Pen::new(buf, inner);
    if blocks.is_empty() {
        pen.put(0, 0, "No alerts.", scene.ink(Ink::Strong));
        pen.put(0, 1, "Nothing is wrong that can be seen from here.", scene.ink(Ink::Dim));
    }
    // The first block drawn is the latest from which the picked one still fits whole.
    let rows =
        |range: &[(AlertKind, Vec<(String, Ink)>)]| range.iter().map(|(_, b)| b.len() + 1).sum::<usize>();
    let mut first = 0;
    while first < here && rows(&blocks[first..=here]) > usize::from(inner.height) + 1 {
        first += 1;
    }
    let mut y = if blocks.is_empty() { 3 } else { 0 };
    for (kind, lines) in &blocks[first..] {
        if y >= inner.height {
            break;
        }
        let tall = (lines.len() as u16).min(inner.height - y);
        hits.add(Rect { y: inner.y + y, height: tall, ..inner }, Target::Alert(*kind));
        for (i, (line, ink)) in lines.iter().enumerate().take(usize::from(tall)) {
            let is_picked = i == 0 && Some(*kind) == picked;
            if is_picked {
                pen.blank(y..y + 1, scene.ink(Ink::Picked));
            }
            pen.put(u16::from(i > 0) * 2, y, line, scene.ink(if is_picked { Ink::Picked } else { *ink }));
            y += 1;
        }
        y += 1;
    }
    if rows(&blocks[first..]) > usize::from(inner.height) + 1 {
        pen.put_more(inner.height.saturating_sub(1), "↓ more", scene.ink(Ink::Boat));
    }
    happened(scene, &mut pen, y);
}

/// An alert in lines: title, state and time; why; what to do.
fn block(scene: &Scene, alert: &Alert, columns: u16) -> Vec<(String, Ink)> {
    let since = format!("since {}, {}", scene.clock.hm(alert.raised), scene.snap.at.since(alert.raised));
    let head = format!("{}  {}", alert.kind.title(), how(scene, alert));
    let mut lines = Vec::new();
    let ink = alert_ink(alert);
    if width(&head) + 3 + width(&since) <= columns {
        let gap = " ".repeat(usize::from(columns - width(&head) - width(&since)));
        lines.push((format!("{head}{gap}{since}"), ink));
    } else {
        lines.push((head, ink));
        lines.push((since, Ink::Dim));
    }
    let room = columns.saturating_sub(2);
    lines.extend(wrap(&scene.why(alert), room).into_iter().map(|line| (line, Ink::Text)));
    lines.extend(wrap(&alert.reason.action, room).into_iter().map(|line| (line, Ink::Strong)));
    lines
}

/// What happened, the latest first, where rows are left.
fn happened(scene: &Scene, pen: &mut Pen, mut y: u16) {
    if y + 3 > pen.height() || scene.snap.happenings.is_empty() {
        return;
    }
    pen.put(0, y, "so far", scene.ink(Ink::Dim));
    y += 1;
    for was in scene.snap.happenings.iter().rev() {
        if y >= pen.height() {
            return;
        }
        pen.put(0, y, &scene.clock.hm(was.at), scene.ink(Ink::Dim));
        pen.put(8, y, &was.text, scene.ink(if was.alert { Ink::Text } else { Ink::Dim }));
        y += 1;
    }
}
