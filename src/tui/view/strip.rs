//! The night along the bottom: behind now what was, ahead what is known.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Pen, width};
use crate::watch::plan::Grade;
use crate::watch::snapshot::Minute;
use crate::watch::units::{Span, WatchTime};

const HOUR_MS: i64 = 3_600_000;
/// Columns for the names of the rows.
const NAMES: u16 = 8;

/// Draws the strip: three rows where there are four or more, else one, and the hours below.
pub fn render(scene: &Scene, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    if area.height < 2 || area.width < NAMES + 10 {
        return;
    }
    let stretch = Stretch::night(scene);
    let plot = Rect { x: area.x + NAMES + 1, width: area.width - NAMES - 2, ..area };
    hits.add(plot, Target::Time { from: stretch.from, to: stretch.to });
    let rows: &[Line] =
        if area.height >= 4 { &[Line::Room, Line::Wind, Line::Keel] } else { &[Line::RoomThenKeel] };
    let high = (area.height - 1) / rows.len() as u16;
    for (i, line) in (0_u16..).zip(rows) {
        let row = Rect { y: area.y + i * high, height: high, ..area };
        bars(scene, stretch, *line, row, plot, buf);
    }
    hours(scene, stretch, Rect { y: area.y + area.height - 1, height: 1, ..plot }, buf);
}

/// What a row shows.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Line {
    Room,
    Wind,
    Keel,
    RoomThenKeel,
}

/// A bar: its height as a part of the row, and whether it is beyond its limit.
struct Level {
    share: f64,
    trouble: bool,
    ahead: bool,
}

fn bars(scene: &Scene, stretch: Stretch, line: Line, row: Rect, plot: Rect, buf: &mut Buffer) {
    let name = match line {
        Line::Room | Line::RoomThenKeel => "room",
        Line::Wind => "wind",
        Line::Keel => "keel",
    };
    Pen::new(buf, row).put(1, row.height - 1, name, scene.ink(Ink::Dim));
    let scale = Scale::of(scene, stretch);
    for column in 0..plot.width {
        let (from, to) = stretch.slice(column, plot.width);
        let Some(level) = level(scene, line, &scale, from, to) else { continue };
        let ink = match (level.trouble, level.ahead) {
            (true, _) => Ink::Trouble,
            (false, true) => Ink::Faint,
            (false, false) => Ink::Dim,
        };
        let eighths = (level.share * f64::from(row.height) * 8.0)
            .round()
            .clamp(1.0, f64::from(row.height) * 8.0) as u16;
        for step in 0..row.height {
            let here = eighths.saturating_sub(step * 8).min(8);
            let spot = (plot.x + column, row.y + row.height - 1 - step);
            if let (1.., Some(cell)) = (here, buf.cell_mut(spot)) {
                cell.set_char(BLOCKS[usize::from(here) - 1]).set_style(scene.ink(ink));
            }
        }
    }
}

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// What a full bar means in each row.
struct Scale {
    room_m: f64,
    wind_kn: f64,
    keel_m: f64,
}

impl Scale {
    fn of(scene: &Scene, stretch: Stretch) -> Self {
        let snap = scene.snap;
        let draft_m = snap.settings.boat.draft.0;
        let minutes = between(&snap.minutes, stretch.from, stretch.to);
        let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.1_f64, f64::max);
        let tide = snap.tide.curve.iter().map(|(_, depth)| depth.0 - draft_m);
        let sounded = minutes.iter().filter_map(|m| m.depth).map(|depth| depth.0 - draft_m);
        let ahead = snap.ahead.forecast.iter().flat_map(|f| f.winds()).filter(|w| w.at <= stretch.to);
        Self {
            room_m: most(&mut minutes.iter().filter_map(|m| m.room).map(|r| r.0)),
            wind_kn: most(&mut minutes.iter().filter_map(|m| m.gust.or(m.wind)).map(|k| k.0))
                .max(ahead.map(|w| w.mean.0).fold(snap.limits.wind_high.0, f64::max)),
            keel_m: most(&mut tide.chain(sounded)),
        }
    }
}

fn level(scene: &Scene, line: Line, scale: &Scale, from: WatchTime, to: WatchTime) -> Option<Level> {
    let snap = scene.snap;
    let ahead = from > snap.at;
    let minutes = between(&snap.minutes, from, to);
    let least = |values: &mut dyn Iterator<Item = f64>| values.reduce(f64::min);
    let known = |value: f64, whole: f64, trouble: bool| {
        Some(Level { share: (value / whole).clamp(0.0, 1.0), trouble, ahead })
    };
    match line {
        Line::RoomThenKeel if ahead => {
            let keel = level(scene, Line::Keel, scale, from, to);
            let level = keel.or_else(|| level(scene, Line::Wind, scale, from, to))?;
            Some(Level { trouble: level.trouble || is_bad(scene, from), ..level })
        }
        Line::Room if ahead => {
            // What there will be between her and the nearest mark.
            let (_, room) = snap.ahead.night.as_ref()?.near(from)?.room.as_ref()?;
            known(room.0, scale.room_m.max(room.0), room.0 < 0.0)
        }
        Line::Wind if ahead => {
            let wind_kn = snap.ahead.forecast.as_ref()?.hardest(from, to).mean.0;
            known(wind_kn, scale.wind_kn, wind_kn > snap.limits.wind_high.0 || is_bad(scene, from))
        }
        Line::Room | Line::RoomThenKeel => {
            let room_m = least(&mut minutes.iter().filter_map(|m| m.room).map(|r| r.0))?;
            known(room_m, scale.room_m, room_m < 0.0)
        }
        Line::Wind => {
            let winds = minutes.iter().filter_map(|m| m.wind).map(|k| k.0);
            let wind_kn = winds.reduce(f64::max)?;
            known(wind_kn, scale.wind_kn, wind_kn > snap.limits.wind_high.0)
        }
        Line::Keel => {
            let sounded = minutes.iter().filter_map(|m| m.depth.or(m.predicted)).map(|d| d.0);
            let depth_m = least(&mut sounded.chain(tide_at(scene, from, to)))?;
            let keel_m = depth_m - snap.settings.boat.draft.0;
            known(keel_m, scale.keel_m, keel_m < snap.limits.under_keel.0)
        }
    }
}

/// The hour is bad, by the wind that was entered.
fn is_bad(scene: &Scene, at: WatchTime) -> bool {
    let night = scene.snap.ahead.night.as_ref();
    night.and_then(|night| night.near(at)).is_some_and(|hour| hour.grade() == Grade::Bad)
}

/// Predicted depth in metres in a slice ahead of now.
fn tide_at(scene: &Scene, from: WatchTime, to: WatchTime) -> Option<f64> {
    let curve = &scene.snap.tide.curve;
    let after = curve.partition_point(|(at, _)| *at < from);
    let (at, depth) = curve.get(after)?;
    // The curve has a point every ten minutes; a slice between two of them takes the next.
    (from > scene.snap.at && at.since(to) < Span::from_mins(10)).then_some(depth.0)
}

/// The minutes in a slice of time.
#[must_use]
pub fn between(minutes: &[Minute], from: WatchTime, to: WatchTime) -> &[Minute] {
    let start = minutes.partition_point(|minute| minute.at < from);
    let end = minutes.partition_point(|minute| minute.at < to);
    minutes.get(start..end.max(start)).unwrap_or_default()
}

/// The hours, now, and what happened.
pub fn hours(scene: &Scene, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    let column = |at: WatchTime| stretch.across(at) * f64::from(area.width);
    let inside = |at: &WatchTime| *at >= stretch.from && *at <= stretch.to;
    let marks = happened(scene, inside, column);
    let now = Some(scene.snap.at).filter(inside).map(|at| column(at) as u16).filter(|x| *x < area.width);
    let taken: Vec<u16> = marks.iter().map(|(x, _)| *x).chain(now).collect();
    let mut pen = Pen::new(buf, area);
    for (at, text) in times(scene, stretch, area.width) {
        let long = width(&text);
        let x = column(at);
        // Neither over a mark nor over the edge: half a number says nothing.
        if x >= 0.0 && x + f64::from(long) <= f64::from(area.width) {
            let x = x as u16;
            if !taken.iter().any(|mark| (x..x + long).contains(mark)) {
                pen.put(x, 0, &text, scene.ink(Ink::Dim));
            }
        }
    }
    for (x, alert) in marks {
        let (sign, ink) = if alert { ("!", Ink::Strong) } else { ("·", Ink::Text) };
        pen.put(x, 0, sign, scene.ink(ink));
    }
    let night = scene.snap.ahead.night.as_ref().filter(|night| night.grade() != Grade::Good);
    let worst = night.map(|night| night.worst().at).filter(|at| inside(at) && *at > scene.snap.at);
    if let Some(x) = worst.map(|at| column(at) as u16).filter(|x| *x < area.width) {
        pen.put(x, 0, "▾", scene.ink(Ink::Trouble));
    }
    if let Some(x) = now {
        pen.put(x, 0, "▲", scene.ink(Ink::Strong));
    }
}

/// Columns of what happened, alerts over what else happened there.
fn happened(
    scene: &Scene,
    inside: impl Fn(&WatchTime) -> bool,
    column: impl Fn(WatchTime) -> f64,
) -> Vec<(u16, bool)> {
    let within = scene.snap.happenings.iter().filter(|happening| inside(&happening.at));
    let mut marks: Vec<(u16, bool)> = within.map(|h| (column(h.at) as u16, h.alert)).collect();
    marks.sort_by_key(|(_, alert)| *alert);
    marks
}

/// Steps between two times that are named, minutes, and columns that a name wants.
const STEPS_MIN: [i64; 11] = [5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440];

/// Round times by the clock that is shown, as many as can be read: whole hours as `04`, others as `04:30`.
fn times(scene: &Scene, stretch: Stretch, columns: u16) -> Vec<(WatchTime, String)> {
    let minute_columns = f64::from(columns) / (stretch.length().0 as f64 / 60_000.0).max(1.0);
    let wants = |step: i64| if step < 60 { 9.0 } else { 7.0 };
    let step = STEPS_MIN.into_iter().find(|step| *step as f64 * minute_columns >= wants(*step));
    let step = step.unwrap_or(STEPS_MIN[STEPS_MIN.len() - 1]);
    let into_day = scene.clock.hour_of_day(stretch.from).unwrap_or(0.0) * HOUR_MS as f64;
    let midnight = stretch.from.0 - into_day.round() as i64;
    let step_ms = step * 60_000;
    let first = (stretch.from.0 - midnight).div_euclid(step_ms);
    let most = stretch.length().0 / step_ms + 1;
    let named = |n: i64| {
        let at = WatchTime(midnight + (first + n) * step_ms);
        let time = scene.clock.hm(at);
        (at, if step < 60 { time } else { time.split(':').next().unwrap_or_default().to_owned() })
    };
    (0..=most).map(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_are_found_by_time() {
        let minutes: Vec<Minute> =
            (0..10).map(|i| Minute { at: WatchTime(i), ..Minute::default() }).collect();
        assert_eq!(between(&minutes, WatchTime(3), WatchTime(5)).len(), 2);
        assert_eq!(between(&minutes, WatchTime(20), WatchTime(5)).len(), 0);
    }
}
