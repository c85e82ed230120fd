//! Four panes that belong together, where the screen is large: the swing chart; the rode from the side with the tide
//! below it; figures and what comes next; alerts, neighbours, the next round.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::rode::suppose::Suppose;
use super::rode::{profile, sums, tide};
use super::swing::Look;
use super::{around, facts, swing};
use crate::tui::hits::Hits;
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, whole_sentences};
use crate::watch::what_if::Answer;

/// The part of the width that the chart takes at most, in hundredths; the rode needs its length.
const CHART_SHARE: u16 = 48;
/// Columns between panes.
const GAP: u16 = 3;
/// The part of the right side that rode and tide take, in hundredths.
const RODE_SHARE: u16 = 54;
/// The part of the figures in what lies below them, in hundredths.
const FIGURES_SHARE: u16 = 52;

/// The four areas.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Panes {
    chart: Rect,
    rode: Rect,
    figures: Rect,
    around: Rect,
}

impl Panes {
    fn of(body: Rect) -> Self {
        // A chart as wide as it is high, a cell being about twice as high as wide.
        let chart = (body.height * 2 + 2).min(body.width * CHART_SHARE / 100);
        let x = body.x + 1 + chart + GAP;
        let right = Rect { x, width: body.right().saturating_sub(x + 1), ..body };
        let upper = right.height * RODE_SHARE / 100;
        let y = right.y + upper + 1;
        let lower = Rect { y, height: right.bottom().saturating_sub(y), ..right };
        let figures = lower.width * FIGURES_SHARE / 100;
        let beside = lower.x + figures + GAP;
        Self {
            chart: Rect { x: body.x + 1, width: chart, ..body },
            rode: Rect { height: upper, ..right },
            figures: Rect { width: figures, ..lower },
            around: Rect { x: beside, width: lower.right().saturating_sub(beside), ..lower },
        }
    }
}

/// Draws the panes.
pub fn render(scene: &Scene, look: Look, answer: &Answer, body: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let panes = Panes::of(body);
    swing::render(scene, look, panes.chart, buf);
    rode(scene, answer, panes.rode, buf, hits);
    let y = facts::facts_in(scene, panes.figures, 0, buf);
    facts::coming(scene, &mut Pen::new(buf, panes.figures), y);
    around::render(scene, panes.around, buf);
}

/// What it comes to, the rode from the side, and the tide in the rows that are left.
fn rode(scene: &Scene, answer: &Answer, area: Rect, buf: &mut Buffer, hits: &mut Hits) {
    let suppose = Suppose::default();
    let said = sums::verdict(scene, answer, &suppose);
    let mut pen = Pen::new(buf, area);
    let mut y = 0;
    for (words, ink) in said {
        for line in whole_sentences(&words, area.width, 1) {
            pen.put(0, y, &line, scene.ink(if ink == Ink::Strong { Ink::Text } else { ink }));
            y += 1;
        }
    }
    let rest = Rect { y: area.y + y, height: area.height.saturating_sub(y), ..area };
    let scale = profile::Scale::fitting(scene, answer, rest.width, rest.height * 3 / 5);
    let rows = scale.as_ref().map_or(0, profile::Scale::rows);
    if let Some(scale) = &scale {
        profile::render(scene, answer, false, scale, Rect { height: rows, ..rest }, buf);
    }
    let rows = rows + 1;
    let below = Rect { y: rest.y + rows, height: rest.height.saturating_sub(rows), ..rest };
    tide::render(scene, answer, &suppose, below, buf, hits);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_panes_stand_side_by_side_without_overlap() {
        for (width, height) in [(160, 30), (200, 46), (240, 70), (0, 0)] {
            let body = Rect::new(0, 4, width, height);
            let Panes { chart, rode, figures, around } = Panes::of(body);
            for (a, b) in
                [(chart, rode), (chart, figures), (rode, figures), (rode, around), (figures, around)]
            {
                assert!(a.intersection(b).is_empty(), "{width}x{height}: {a:?} {b:?}");
            }
            assert!([chart, rode, figures, around].iter().all(|pane| pane.bottom() <= body.bottom().max(5)));
        }
    }
}
