//! The night as graphs, one below the other on one time: distance, wind, depth, and which way she lay.

pub mod graph;
pub mod look;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::hits::{Hits, Target};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Pen, depth, knots, metres, width};
use crate::tui::view::strip::{between, hours};
use crate::watch::snapshot::{Happening, Minute};
use crate::watch::units::{Knots, Metres, Span, WatchTime};
use graph::Kind;
use look::Look;

/// A minute this near to the ruler stands for it.
const NEAR: Span = Span::from_mins(2);
/// Rows of what happened, at most.
const HAPPENINGS_MOST: u16 = 8;

/// Draws the view.
pub fn render(scene: &Scene, look: &Look, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let area = Rect { x: area.x + 1.min(area.width), width: area.width.saturating_sub(2), ..area };
    if area.height < 3 || area.width < graph::GUTTER + 8 {
        return;
    }
    let look = look.settled(scene.snap);
    let stretch = look.stretch(scene);
    sentence(scene, &look, stretch, area, buf);
    let last = if area.height >= 21 { (area.height / 6).min(HAPPENINGS_MOST) } else { 0 };
    let graphs = area.height - 2 - last;
    let each = (graphs / Kind::ALL.len() as u16).max(1);
    let gap = u16::from(each >= 5);
    let mut y = area.y + 1;
    for kind in Kind::ALL {
        let height = (each - gap).min((area.y + 1 + graphs).saturating_sub(y));
        graph::render(scene, &look, kind, stretch, Rect { y, height, ..area }, buf);
        y += each;
    }
    // No empty row between the last graph and the hours: what the gaps left over goes below.
    let foot = y.saturating_sub(gap).min(area.bottom() - 1);
    let plot = Rect { x: area.x + graph::GUTTER, width: area.width - graph::GUTTER, y: foot, height: 1 };
    hours(scene, stretch, plot, buf);
    if let Some(at) = look.ruler {
        ruler_time(scene, stretch, at, plot, buf);
    }
    let clickable = Rect { y: area.y + 1, height: foot - area.y, ..plot };
    hits.add(clickable, Target::Time { from: stretch.from, to: stretch.to });
    let list = Rect { y: foot + 1, height: area.bottom().saturating_sub(foot + 1), ..area };
    happenings(scene, &look, list, buf);
}

/// The time at the ruler, below it.
fn ruler_time(scene: &Scene, stretch: Stretch, at: WatchTime, area: Rect, buf: &mut Buffer) {
    let text = scene.clock.hm(at);
    let x = (stretch.across(at) * f64::from(area.width)).clamp(0.0, f64::from(area.width)) as u16;
    let start = x.saturating_sub(width(&text) / 2).min(area.width.saturating_sub(width(&text)));
    Pen::new(buf, area).put(start, 0, &text, scene.ink(Ink::Picked));
}

/// The whole in a sentence; with the ruler out, the moment under it.
fn sentence(scene: &Scene, look: &Look, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    let parts = match look.ruler {
        Some(at) => moment(scene, at),
        None => summary(scene, stretch),
    };
    let mut pen = Pen::new(buf, area);
    let mut x = 0;
    for (i, (words, ink)) in parts.iter().enumerate() {
        let start = if i == 0 { 0 } else { x + 2 };
        if i > 0 && start + width(words) > area.width {
            continue;
        }
        x = pen.put(start, 0, words, scene.ink(*ink));
    }
}

fn summary(scene: &Scene, stretch: Stretch) -> Vec<(String, Ink)> {
    let minutes = between(&scene.snap.minutes, stretch.from, stretch.to);
    if minutes.is_empty() {
        return vec![("Nothing recorded in this time.".to_owned(), Ink::Strong)];
    }
    let most = |value: fn(&Minute) -> Option<f64>| {
        let known = minutes.iter().filter_map(|minute| Some((minute.at, value(minute)?)));
        known.filter(|(_, v)| v.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1))
    };
    let mut said = Vec::new();
    if let Some((at, room)) = most(|m| m.room.map(|room| -room.0)) {
        let words = format!("Least room {} at {}.", metres(Metres(-room)), scene.clock.hm(at));
        said.push((words, if room > 0.0 { Ink::Trouble } else { Ink::Strong }));
    }
    if let Some((at, gust)) = most(|m| m.gust.or(m.wind).map(|k| k.0)) {
        let words = format!("Strongest wind {} at {}.", knots(Knots(gust)), scene.clock.hm(at));
        said.push((words, Ink::Strong));
    }
    let alerts = within(scene, stretch).filter(|happening| happening.alert).count();
    said.push(match alerts {
        0 => ("No alert.".to_owned(), Ink::Text),
        1 => ("One alert.".to_owned(), Ink::Text),
        n => (format!("{n} alerts."), Ink::Text),
    });
    said
}

fn within<'a>(scene: &'a Scene, stretch: Stretch) -> impl Iterator<Item = &'a Happening> {
    scene.snap.happenings.iter().filter(move |h| h.at >= stretch.from && h.at <= stretch.to)
}

/// What was known at a moment, in words; what was not is not said.
fn moment(scene: &Scene, at: WatchTime) -> Vec<(String, Ink)> {
    let mut said = vec![(format!(" {} ", scene.clock.hm(at)), Ink::Picked)];
    let Some(minute) = minute_at(scene, at) else {
        said.push(("Nothing recorded then.".to_owned(), Ink::Strong));
        return said;
    };
    if let (Some(stern), Some(room)) = (graph::stern(minute), minute.room) {
        said.push((format!("stern {} from the anchor, room {}", metres(stern), metres(room)), Ink::Strong));
    }
    if let Some(wind) = minute.wind {
        let from = minute.direction.map_or_else(String::new, |d| format!(" from {d}"));
        let gust = minute.gust.map_or_else(String::new, |g| format!(", gust {:.0}", g.0));
        said.push((format!("wind {}{from}{gust}", knots(wind)), Ink::Text));
    }
    if let Some(sounded) = minute.depth {
        let tide = minute.predicted.map_or_else(String::new, |p| format!(", by the tide {}", depth(p)));
        said.push((format!("depth {}{tide}", depth(sounded)), Ink::Text));
    }
    if let Some(heading) = minute.heading {
        said.push((format!("heading {heading}"), Ink::Text));
    }
    said
}

/// The recorded minute that stands for a moment.
fn minute_at<'a>(scene: &'a Scene, at: WatchTime) -> Option<&'a Minute> {
    between(&scene.snap.minutes, at - NEAR, at + NEAR).iter().min_by_key(|minute| minute.at.since(at).0.abs())
}

/// What happened, up to the ruler or to now, the latest first.
fn happenings(scene: &Scene, look: &Look, area: Rect, buf: &mut Buffer) {
    let until = look.ruler.map_or(scene.snap.at, |at| at + Span::from_mins(1));
    let mut pen = Pen::new(buf, area);
    let past = scene.snap.happenings.iter().rev().filter(|happening| happening.at <= until);
    for (y, was) in (0..area.height).zip(past) {
        let newest = y == 0 && look.ruler.is_some();
        let ink = match (was.alert, newest) {
            (true, _) => Ink::Text,
            (false, true) => Ink::Strong,
            (false, false) => Ink::Dim,
        };
        pen.put(0, y, &scene.clock.hm(was.at), scene.ink(if newest { Ink::Strong } else { Ink::Dim }));
        pen.put(graph::GUTTER.min(8), y, &was.text, scene.ink(ink));
    }
}
