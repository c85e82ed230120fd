//! Depths of the reconnaissance on the chart, where they were found, as they stand at the lowest tide of the night.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::chart::Chart;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, rounded, width};
use crate::watch::geo::Local;
use crate::watch::setting::SoundingView;
use crate::watch::slope;
use crate::watch::snapshot::Stage;
use crate::watch::units::Metres;

/// Draws them as far as they do not lie on each other: the shoalest first, as those decide.
pub(super) fn render(scene: &Scene, chart: &Chart, area: Rect, buf: &mut Buffer) {
    if !matches!(scene.snap.stage, Stage::NotSet | Stage::Setting) {
        round(scene, chart, area, buf);
        return;
    }
    let mut soundings: Vec<&SoundingView> = scene.snap.recon.soundings.iter().collect();
    soundings.sort_by(|a, b| at_lowest(a).0.total_cmp(&at_lowest(b).0));
    let least = scene.snap.settings.boat.draft + scene.snap.limits.under_keel;
    let mut pen = Pen::new(buf, area);
    let mut taken: Vec<(u16, u16, u16)> = Vec::new();
    for sounding in soundings {
        let depth = at_lowest(sounding);
        let text = rounded(depth.0, 1);
        let long = width(&text);
        let Some((column, row)) = cell(chart, sounding.point, long, area) else { continue };
        let is_taken =
            taken.iter().any(|(y, from, to)| *y == row && column < *to && *from < column + long + 1);
        if is_taken {
            continue;
        }
        taken.push((row, column, column + long + 1));
        let ink = if depth < least { Ink::Trouble } else { Ink::Dim };
        pen.put(column, row, &text, scene.ink(ink));
    }
}

/// Depths over the circle at the lowest water, where the bottom is known to slope: eight of them, and where they are less
/// than she needs in the ink of trouble.
fn round(scene: &Scene, chart: &Chart, area: Rect, buf: &mut Buffer) {
    let snap = scene.snap;
    let Some((view, circle)) = snap.recon.slope.zip(snap.circle.radius()) else { return };
    let least = snap.settings.boat.draft + snap.limits.under_keel;
    let mut pen = Pen::new(buf, area);
    for (bearing, depth) in slope::round(&view.fitted.slope, view.lowest, circle * WITHIN) {
        let text = rounded(depth.0, 1);
        let long = width(&text);
        let place = Local::polar(bearing, circle.0 * WITHIN);
        let Some((column, row)) = cell(chart, place, long, area) else { continue };
        let ink = if depth < least { Ink::Trouble } else { Ink::Dim };
        pen.put(column, row, &text, scene.ink(ink));
    }
}

/// Inside the circle's line, so that both can be read.
const WITHIN: f64 = 0.85;

/// Depth at the lowest tide of the night; without a tide, as it was sounded.
fn at_lowest(sounding: &SoundingView) -> Metres {
    sounding.lowest.unwrap_or(sounding.depth)
}

/// Where figures so many columns long stand so that their middle is on the place; `None` beyond the chart.
fn cell(chart: &Chart, place: Local, long: u16, area: Rect) -> Option<(u16, u16)> {
    let (x, y) = chart.dot(place);
    let (column, row) = ((x / 2.0).floor() - f64::from(long / 2), (y / 4.0).floor());
    let inside = (0.0..f64::from(area.width.saturating_sub(long))).contains(&column)
        && (0.0..f64::from(area.height)).contains(&row);
    // Inside an area, whose sides are 16 bits wide.
    inside.then_some((column as u16, row as u16))
}
