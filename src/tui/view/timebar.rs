//! The time bar of a replay: the night at a glance, and where in it the screen stands.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::replay::{MarkKind, Night, Playing};
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Pen, width};
use crate::watch::units::{Span, WatchTime};

/// Rows that it wants.
pub const ROWS: u16 = 4;
/// From these shares of the circle on the strip grows denser: the last is beyond it.
const STEPS: [f64; 4] = [0.5, 0.7, 0.85, 1.0];
const SHADES: [&str; 5] = ["·", "░", "▒", "▓", "█"];

/// Draws state, strip, marks and hours, as far as rows go.
pub fn render(scene: &Scene, playing: &Playing, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    if area.width < 20 || area.height == 0 {
        return;
    }
    let bar = Rect { x: area.x + 1, width: area.width - 2, ..area };
    let night = &*playing.night;
    let stretch = Stretch { from: night.from, to: night.to.max(WatchTime(night.from.0 + 1)) };
    state(scene, playing, Rect { height: 1, ..bar }, buf);
    let below = Rect { y: bar.y + 1, height: bar.height - 1, ..bar };
    hits.add(below, Target::Moment { from: stretch.from, to: stretch.to });
    strip(scene, playing, stretch, below, buf);
    if below.height > 1 {
        marks(scene, night, stretch, Rect { y: below.y + 1, height: 1, ..below }, buf);
    }
    if below.height > 2 {
        hours(scene, stretch, Rect { y: below.y + 2, height: 1, ..below }, buf);
    }
}

/// Whether it runs, where it stands, and what comes next.
fn state(scene: &Scene, playing: &Playing, area: Rect, buf: &mut Buffer) {
    let night = &playing.night;
    let mut pen = Pen::new(buf, area);
    let runs = match (playing.runs, playing.now >= night.to) {
        (_, true) => "■ at its end".to_owned(),
        (true, _) => format!("▶ {:.0} times as fast", playing.speed),
        (false, _) => "■ stands still".to_owned(),
    };
    let mut x = pen.put(0, 0, &runs, scene.ink(Ink::Boat));
    if !night.what_if.is_empty() {
        x = pen.put_within(
            x + 3,
            0,
            area.width / 2,
            &format!("WHAT IF {}", night.what_if),
            scene.ink(Ink::Trouble),
        );
    }
    let passed = playing.now.since(night.from);
    let whole = format!("{passed} of {}", night.to.since(night.from));
    let next = night.marks.get(night.marks.partition_point(|mark| mark.at <= playing.now));
    let next =
        next.map_or_else(String::new, |mark| format!("next {} {}", scene.clock.hm(mark.at), mark.words));
    let start = area.width.saturating_sub(width(&next));
    let x = pen.put_within(x + 3, 0, area.width, &whole, scene.ink(Ink::Text));
    // What comes next is left out where there is no room for both.
    if start > x + 2 {
        pen.put(start, 0, &next, scene.ink(Ink::Dim));
    }
}

/// How far out she lay, and the moment shown.
fn strip(scene: &Scene, playing: &Playing, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    let night = &*playing.night;
    let mut pen = Pen::new(buf, area);
    for column in 0..area.width {
        let (from, to) = stretch.slice(column, area.width);
        let is_gap = night.gaps.iter().any(|(asleep, awake)| *asleep < to && *awake > from);
        let shares = slice(night, from, to);
        let (shade, ink) = match shares {
            _ if is_gap => ("╳", Ink::Trouble),
            None => (" ", Ink::Faint),
            Some(share) => {
                let step = STEPS.iter().filter(|least| share >= **least).count();
                (SHADES[step], if step == STEPS.len() { Ink::Trouble } else { Ink::Dim })
            }
        };
        pen.put(column, 0, shade, scene.ink(ink));
    }
    let across = stretch.across(playing.now).clamp(0.0, 1.0);
    let column = (across * f64::from(area.width.saturating_sub(1))).round() as u16;
    pen.put(column, 0, "┃", scene.ink(Ink::Boat));
}

/// The farthest that she lay out in a slice of time; the last before it where the slice holds none.
fn slice(night: &Night, from: WatchTime, to: WatchTime) -> Option<f64> {
    let first = night.heat.partition_point(|heat| heat.at < from);
    let within = night.heat[first..].iter().take_while(|heat| heat.at < to);
    let farthest = within.filter_map(|heat| heat.share).reduce(f64::max);
    let last = || night.heat.get(first.checked_sub(1)?).and_then(|heat| heat.share);
    match night.heat.get(first).is_some_and(|heat| heat.at < to) {
        true => farthest,
        false => last(),
    }
}

/// Alerts and acts; an alarm is never hidden by what is less.
fn marks(scene: &Scene, night: &Night, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let order = [MarkKind::Act, MarkKind::Warning, MarkKind::Shift, MarkKind::Alarm];
    for kind in order {
        let (sign, ink) = match kind {
            MarkKind::Act => ("·", Ink::Text),
            MarkKind::Warning => ("!", Ink::Text),
            MarkKind::Shift => ("~", Ink::Strong),
            MarkKind::Alarm => ("!", Ink::Trouble),
        };
        for mark in night.marks.iter().filter(|mark| mark.kind == kind) {
            let column = stretch.across(mark.at).clamp(0.0, 1.0) * f64::from(area.width.saturating_sub(1));
            pen.put(column.round() as u16, 0, sign, scene.ink(ink));
        }
    }
}

/// Round times along the bar, as many as can be read.
fn hours(scene: &Scene, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    const STEPS_MIN: [i64; 12] = [1, 5, 10, 30, 60, 120, 180, 360, 720, 1440, 2880, 7200];
    /// Columns for a time of day and a gap.
    const APART: i64 = 9;
    let most = (i64::from(area.width) / APART).max(1);
    let minutes = stretch.length().0 / 60_000;
    let step = STEPS_MIN.into_iter().find(|step| minutes / step < most);
    let step = step.unwrap_or((minutes / most / 1440 + 1) * 1440);
    let step = Span::from_mins(step);
    // Round by the clock that is shown, not by UTC.
    let into = scene.clock.hour_of_day(stretch.from).unwrap_or(0.0);
    let midnight = stretch.from.0 - (into * 3_600_000.0).round() as i64;
    let first = midnight + (stretch.from.0 - midnight).div_euclid(step.0) * step.0;
    let mut pen = Pen::new(buf, area);
    let mut at = WatchTime(first);
    while at <= stretch.to {
        let across = stretch.across(at);
        let words = if step.0 >= 86_400_000 { scene.clock.day(at) } else { scene.clock.hm(at) };
        let column = (across * f64::from(area.width.saturating_sub(1))).round();
        if across >= 0.0 && column + f64::from(width(&words)) <= f64::from(area.width) {
            pen.put(column as u16, 0, &words, scene.ink(Ink::Dim));
        }
        at += step;
    }
}
