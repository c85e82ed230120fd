//! The tide of the night at the drop point: depth over time, the limit under the keel, now and what happened.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::suppose::Suppose;
use crate::tui::dots::{Dot, Dots, Pattern};
use crate::tui::hits::{Hits, Target};
use crate::tui::keys::{Act, label};
use crate::tui::palette::Ink;
use crate::tui::plot::{Plot, marks};
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Pen, rounded, width, wrap};
use crate::tui::view::strip::hours;
use crate::watch::input::TurnKind;
use crate::watch::what_if::Answer;

/// Columns for the depths at the left edge.
const DEPTHS: u16 = 3;

/// Draws the tide, or says why there is none.
pub fn render(
    scene: &Scene,
    answer: &Answer,
    suppose: &Suppose,
    area: Rect,
    buf: &mut Buffer,
    hits: &mut Hits,
) {
    if area.height < 5 || area.width < 16 {
        return;
    }
    let tide = &scene.snap.tide;
    let mut pen = Pen::new(buf, area);
    pen.put(0, 0, "depth by the tide, m", scene.ink(Ink::Text));
    if tide.curve.is_empty() {
        let why = format!(
            "No tide to show: none was entered, or no depth was known at letting go. Depth and scope are taken to \
             stay as they are. {} enters the tide.",
            label(Act::Tide)
        );
        for (y, line) in (2..area.height).zip(wrap(&why, area.width)) {
            pen.put(0, y, &line, scene.ink(Ink::Text));
        }
        return;
    }
    // Title above; hours and credit below.
    let shown = tide.credit.as_ref().filter(|words| area.height >= 8 && width(words) <= area.width);
    let credit = u16::from(shown.is_some());
    let rows = area.height.saturating_sub(2 + credit);
    let plot_area =
        Rect { x: area.x + DEPTHS + 1, y: area.y + 1, width: area.width - DEPTHS - 1, height: rows };
    let stretch = Stretch::night(scene);
    let deepest_m = tide.curve.iter().map(|(_, depth)| depth.0).fold(1.0, f64::max);
    let plot = Plot { area: plot_area, stretch, low: 0.0, high: deepest_m * 1.08 };
    curve(scene, suppose, &plot, buf);
    let mut pen = Pen::new(buf, area);
    for mark in marks(0.0, plot.high, usize::from(rows / 2).clamp(1, 6)) {
        if let Some(row) = plot.row(mark) {
            pen.put_right(DEPTHS, 1 + row, &rounded(mark, 0), scene.ink(Ink::Dim));
        }
    }
    names(scene, answer, &plot, buf);
    hours(scene, stretch, Rect { y: plot_area.bottom(), height: 1, ..plot_area }, buf);
    hits.add(Rect { height: rows + 1, ..plot_area }, Target::Time { from: stretch.from, to: stretch.to });
    if let Some(words) = shown {
        Pen::new(buf, area).put(0, area.height - 1, words, scene.ink(Ink::Dim));
    }
}

fn curve(scene: &Scene, suppose: &Suppose, plot: &Plot, buf: &mut Buffer) {
    let snap = scene.snap;
    let mut dots = Dots::new(plot.area);
    let dotted = |ink| {
        move |dots: &mut Dots, x: f64| dots.path(&[(x, 0.0), (x, dots.height())], Pattern::Every(2), ink, 1)
    };
    let limit = plot.y(limit_m(scene));
    dots.path(&[(0.0, limit), (dots.width(), limit)], Pattern::Dashes(3, 3), limit_ink(scene), 2);
    let points = |ahead: bool| -> Vec<Dot> {
        let wanted = snap.tide.curve.iter().filter(|(at, _)| (*at >= snap.at) == ahead);
        wanted.map(|(at, depth)| plot.dot(*at, depth.0)).collect()
    };
    let mut ahead = points(true);
    let behind = points(false);
    // The two parts join at the last point behind now.
    ahead.splice(0..0, behind.last().copied());
    dots.path(&behind, Pattern::Solid, Ink::Dim, 3);
    dots.path(&ahead, Pattern::Solid, Ink::Strong, 4);
    dotted(Ink::Dim)(&mut dots, plot.x(snap.at));
    if let Some(at) = suppose.what_if.at {
        dotted(Ink::Strong)(&mut dots, plot.x(at));
    }
    dots.print(scene.palette, buf);
}

/// The depth at which the crew's limit under the keel is reached.
fn limit_m(scene: &Scene) -> f64 {
    (scene.snap.settings.boat.draft + scene.snap.limits.under_keel).0
}

/// Trouble only where the tide ahead goes below the limit.
fn limit_ink(scene: &Scene) -> Ink {
    let mut ahead = scene.snap.tide.curve.iter().filter(|(at, _)| *at >= scene.snap.at);
    if ahead.any(|(_, depth)| depth.0 < limit_m(scene)) { Ink::Trouble } else { Ink::Dim }
}

/// The turns with their depths, and the limit.
fn names(scene: &Scene, answer: &Answer, plot: &Plot, buf: &mut Buffer) {
    let snap = scene.snap;
    let mut pen = Pen::new(buf, plot.area);
    if let Some(row) = plot.row(limit_m(scene)) {
        let words = format!("least {} under keel", rounded(snap.limits.under_keel.0, 1));
        let below = (row + 1).min(plot.area.height.saturating_sub(1));
        pen.put_right(plot.area.width, below, &words, scene.ink(limit_ink(scene)));
    }
    for turn in &snap.tide.turns {
        let (Some(column), Some(row)) = (plot.column(turn.at), plot.row(turn.depth.0)) else { continue };
        let words =
            format!("{} {}", if turn.kind == TurnKind::High { "HW" } else { "LW" }, rounded(turn.depth.0, 1));
        // Below the crest and above the trough, where the curve is not; if there is a row.
        let row = match turn.kind {
            TurnKind::High => row + 2,
            TurnKind::Low => row.saturating_sub(2),
        };
        let start =
            column.saturating_sub(width(&words) / 2).min(plot.area.width.saturating_sub(width(&words)));
        let ink = if turn.at == answer.at { Ink::Strong } else { Ink::Text };
        // In a small graph they would stand in the curve's way; the table beside it has them too.
        if plot.area.height >= 9 && plot.area.width >= 40 {
            pen.put(start, row, &words, scene.ink(ink));
        }
    }
}
