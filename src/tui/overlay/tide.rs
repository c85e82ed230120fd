//! The tide that is being entered, as it is typed: its curve where she lies, the least water, when she touches and floats
//! again.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::dots::{Dot, Dots, Pattern};
use crate::tui::palette::Ink;
use crate::tui::plot::{Plot, marks};
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Clock, Pen, rounded};
use crate::tui::view::strip::hours;
use crate::watch::input::TideEntered;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Metres, Span};
use crate::watch::water::{Foresight, foresee};

/// Rows that the curve wants, the hours below it included.
pub const ROWS: u16 = 7;
/// And the fewest that show anything.
const ROWS_LEAST: u16 = 4;
/// Columns for the depths at the left edge.
const DEPTHS: u16 = 4;
/// A tide that is known for less than this ahead leaves a part of the night open.
const NIGHT: Span = Span::from_mins(12 * 60);

/// What a tide would mean; `None` where none is chosen, or nothing can be foreseen by it.
#[must_use]
pub fn foresight(entered: &TideEntered, snap: &Snapshot) -> Option<Foresight> {
    (*entered != TideEntered::Nothing).then(|| foresee(entered, snap).ok())?
}

/// The same in words, the worst first.
#[must_use]
pub fn words(foresight: &Foresight, snap: &Snapshot, clock: &Clock) -> String {
    let view = &foresight.view;
    let mut words = match foresight.least_under_keel {
        None => "No depth is known yet: the tide ties to the sounder when she lets go.".to_owned(),
        Some((left, at)) => {
            let least = match left {
                left if left.0 < -0.05 => {
                    format!("{} m too little at {}", rounded(-left.0, 1), clock.hm(at))
                }
                left => format!("Least {} m under the keel at {}", rounded(left.0, 1), clock.hm(at)),
            };
            format!("{least}{}.", grounding(foresight, snap, clock))
        }
    };
    if let Some(until) = view.known_until.filter(|until| *until < snap.at + NIGHT) {
        words.push_str(&format!(" Nothing is known after {}: add the next one.", clock.hm(until)));
    }
    if view.afar.0 >= 0.05 {
        let doubt = rounded((view.afar.0 * 10.0).ceil() / 10.0, 1);
        words.push_str(&format!(" The station lies elsewhere: {doubt} m of doubt allowed for."));
    }
    if let Some(assumed) = &view.assumed {
        let turns: Vec<String> = assumed
            .turns
            .iter()
            .map(|turn| format!("{} {} {}", turn.kind, clock.hm(turn.at), rounded(turn.height.0, 1)))
            .collect();
        let doubt = rounded((assumed.doubt.0 * 10.0).ceil() / 10.0, 1);
        words.push_str(&format!(" Assumed before: {}, {doubt} m of doubt allowed for.", turns.join(", ")));
    }
    words
}

fn grounding(foresight: &Foresight, snap: &Snapshot, clock: &Clock) -> String {
    let Some(grounding) = foresight.grounding else { return String::new() };
    let touches = if grounding.touches <= snap.at {
        "she is aground now".to_owned()
    } else {
        format!("touches {}", clock.hm(grounding.touches))
    };
    match grounding.floats {
        Some(at) => format!("; {touches}, floats again {}", clock.hm(at)),
        None => format!("; {touches}, and when she floats again is not known"),
    }
}

/// Draws the depth over the hours ahead, the keel's depth as a line across it.
pub fn render(scene: &Scene, foresight: &Foresight, area: Rect, buf: &mut Buffer) {
    let curve = &foresight.view.curve;
    let (Some((_, last)), true) = (curve.last().map(|p| (p.0, p.0)), area.height >= ROWS_LEAST) else {
        return;
    };
    if area.width < DEPTHS + 16 {
        return;
    }
    let graph = Rect { x: area.x + DEPTHS, width: area.width - DEPTHS, height: area.height - 1, ..area };
    let from = scene.snap.at - Span::from_mins(60);
    let stretch = Stretch { from, to: last.max(from + Span::from_mins(240)) };
    let shown = || curve.iter().filter(|(at, _)| *at >= from);
    let deepest_m = shown().map(|(_, depth)| depth.0).fold(1.0, f64::max);
    let shoalest_m = shown().map(|(_, depth)| depth.0).fold(0.0, f64::min);
    let plot = Plot { area: graph, stretch, low: shoalest_m, high: deepest_m * 1.05 };
    draw(scene, &plot, &shown().map(|(at, depth)| plot.dot(*at, depth.0)).collect::<Vec<_>>(), buf);
    let mut pen = Pen::new(buf, area);
    for mark in marks(plot.low, plot.high, usize::from(graph.height / 2).max(1)) {
        if let Some(row) = plot.row(mark) {
            pen.put_right(DEPTHS - 1, row, &rounded(mark, 0), scene.ink(Ink::Dim));
        }
    }
    hours(scene, stretch, Rect { y: graph.bottom(), height: 1, ..graph }, buf);
}

/// The curve: what lies below the keel's depth in the colour of trouble.
fn draw(scene: &Scene, plot: &Plot, points: &[Dot], buf: &mut Buffer) {
    let mut dots = Dots::new(plot.area);
    let keel = plot.y(scene.snap.settings.boat.draft.max(Metres(0.0)).0);
    let is_deep = |dot: &Dot| dot.1 <= keel;
    let ink = if points.iter().all(is_deep) { Ink::Dim } else { Ink::Trouble };
    dots.path(&[(0.0, keel), (dots.width(), keel)], Pattern::Dashes(3, 3), ink, 2);
    for part in points.chunk_by(|a, b| is_deep(a) == is_deep(b)) {
        let ink = if part.iter().all(is_deep) { Ink::Strong } else { Ink::Trouble };
        dots.path(part, Pattern::Solid, ink, 3);
    }
    let now = plot.x(scene.snap.at);
    dots.path(&[(now, 0.0), (now, dots.height())], Pattern::Every(2), Ink::Dim, 1);
    dots.print(scene.palette, buf);
    Pen::new(buf, plot.area).put_right(plot.area.width, 0, "keel ╌", scene.ink(Ink::Dim));
}
