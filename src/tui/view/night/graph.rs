//! One graph of the night: its name and figure at the left, its scale, its lines. Where nothing was known nothing is drawn.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::look::Look;
use super::minute_at;
use crate::tui::dots::{Dot, Dots, Pattern};
use crate::tui::palette::Ink;
use crate::tui::plot::{Plot, marks};
use crate::tui::scene::Scene;
use crate::tui::stretch::Stretch;
use crate::tui::text::{Pen, depth, knots, metres, point, rounded, width};
use crate::tui::view::strip::between;
use crate::watch::circular::DirectionMean;
use crate::watch::snapshot::Minute;
use crate::watch::units::{Metres, Span, TrueBearing, WatchTime};

/// Columns at the left for name, figure and scale.
pub const GUTTER: u16 = 15;
/// Minutes farther apart than this are not joined: between them nothing was recorded.
const JOINED: Span = Span::from_secs(150);
/// The same in that part of the night that is kept thinned, one minute in ten.
const JOINED_OLD: Span = Span::from_mins(11);
const THINNED_AFTER: Span = Span::from_mins(47 * 60);

/// What a graph shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Distance of the stern from the anchor, with the circle and how far the rode reaches.
    Distance,
    /// Wind speed, with gusts and limit.
    Wind,
    /// Depth by the sounder and by the tide, with the limit under the keel.
    Depth,
    /// Heading, and where the wind comes from.
    Heading,
}

impl Kind {
    /// From top to bottom.
    pub const ALL: [Self; 4] = [Self::Distance, Self::Wind, Self::Depth, Self::Heading];

    const fn name(self) -> &'static str {
        match self {
            Self::Distance => "stern out",
            Self::Wind => "wind",
            Self::Depth => "depth",
            Self::Heading => "heading",
        }
    }

    /// What the thinner lines are.
    const fn others(self) -> &'static str {
        match self {
            Self::Distance => "╌ circle  · on a straight rode",
            Self::Wind => "╌ limit  · gusts",
            Self::Depth => "╌ limit  · tide",
            Self::Heading => "· wind",
        }
    }

    const fn nothing(self) -> &'static str {
        match self {
            Self::Distance => "no position from an anchor down",
            Self::Wind => "no wind heard",
            Self::Depth => "no depth: neither sounder nor tide",
            Self::Heading => "neither heading nor wind direction heard",
        }
    }

    /// The figure of a minute.
    fn figure(self, minute: &Minute) -> Option<String> {
        match self {
            Self::Distance => stern(minute).map(metres),
            Self::Wind => minute.wind.map(knots),
            Self::Depth => minute.depth.or(minute.predicted).map(depth),
            Self::Heading => minute.heading.map(|heading| heading.to_string()),
        }
    }
}

/// A line of the graph.
struct Line<'a> {
    value: &'a dyn Fn(&Minute) -> Option<f64>,
    pattern: Pattern,
    ink: Ink,
    layer: u8,
}

/// Draws one graph.
pub fn render(scene: &Scene, look: &Look, kind: Kind, stretch: Stretch, area: Rect, buf: &mut Buffer) {
    if area.height == 0 || area.width <= GUTTER {
        return;
    }
    let minutes = between(&scene.snap.minutes, stretch.from, stretch.to);
    gutter(scene, look, kind, area, buf);
    let place = Rect { x: area.x + GUTTER, width: area.width - GUTTER, ..area };
    let plot = Plot { area: place, stretch, low: 0.0, high: 1.0 };
    let drawn = match kind {
        Kind::Distance => distance(scene, minutes, plot, buf),
        Kind::Wind => wind(scene, minutes, plot, buf),
        Kind::Depth => water(scene, minutes, plot, buf),
        Kind::Heading => heading(scene, minutes, plot, buf),
    };
    match drawn {
        Some(labels) => scale(scene, &labels, area, buf),
        None => {
            Pen::new(buf, place).put(1, area.height / 2, kind.nothing(), scene.ink(Ink::Dim));
        }
    }
    moments(scene, look, &plot, buf);
    if drawn_legend(area) {
        let words = kind.others();
        let mut pen = Pen::new(buf, place);
        pen.put_right(place.width, 0, &format!(" {words}"), scene.ink(Ink::Dim));
    }
}

/// Whether there is room for the names of the lines.
fn drawn_legend(area: Rect) -> bool {
    area.height >= 4 && area.width >= 70
}

fn gutter(scene: &Scene, look: &Look, kind: Kind, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    pen.put(0, 0, kind.name(), scene.ink(Ink::Dim));
    let minute = match look.ruler {
        Some(at) => minute_at(scene, at),
        None => scene.snap.minutes.last().filter(|minute| scene.snap.at.since(minute.at) <= JOINED),
    };
    let (text, ink) = match minute.and_then(|minute| kind.figure(minute)) {
        Some(text) => (text, Ink::Strong),
        None => ("–".to_owned(), Ink::Dim),
    };
    if area.height >= 2 {
        pen.put(0, 1, &text, scene.ink(ink));
    }
}

/// Words on the scale, each at its row.
type Labels = Vec<(u16, String)>;

fn scale(scene: &Scene, labels: &Labels, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    for (row, text) in labels {
        // Name and figure stand in the first two rows: a short figure leaves room beside them.
        pen.put_right(GUTTER - 1, *row, text, scene.ink(Ink::Dim));
    }
}

fn numbers(plot: &Plot) -> Labels {
    let most = usize::from(plot.area.height / 2).clamp(1, 5);
    let all = marks(plot.low, plot.high, most);
    all.into_iter().filter_map(|mark| Some((plot.row(mark)?, rounded(mark, 0)))).collect()
}

/// The greatest of some figures, at least `least`; `None` if there are none.
fn greatest(values: impl Iterator<Item = f64>, least: f64) -> Option<f64> {
    values.filter(|v| v.is_finite()).reduce(f64::max).map(|most| most.max(least))
}

/// How far the end of the hull that is nearest to the circle lay from the anchor: as a rule her stern.
pub fn stern(minute: &Minute) -> Option<Metres> {
    Some(minute.circle? - minute.room?)
}

/// The lower edge of a scale: near the least value, on a round number, or nothing where that is not far off.
fn floor(least: f64, most: f64) -> f64 {
    let low = ((least - 2.0) / 5.0).floor() * 5.0;
    if low > most * 0.2 { low } else { 0.0 }
}

fn distance(scene: &Scene, minutes: &[Minute], plot: Plot, buf: &mut Buffer) -> Option<Labels> {
    let far = greatest(minutes.iter().filter_map(stern).map(|d| d.0), 1.0)?;
    let near = minutes.iter().filter_map(stern).map(|d| d.0).fold(far, f64::min);
    let circle = greatest(minutes.iter().filter_map(|m| m.circle).map(|c| c.0), far)?;
    let loa = scene.snap.settings.boat.loa;
    let out = minutes.iter().any(|m| m.room.is_some_and(|room| room.0 < 0.0));
    let low = floor(near, circle);
    let plot = Plot { low, high: circle + 0.08 * (circle - low), ..plot };
    let ring = if out { Ink::Trouble } else { Ink::Dim };
    let reach = |m: &Minute| m.reach.map(|r| (r + loa).0).filter(|r| *r >= low);
    lines(
        scene,
        minutes,
        &plot,
        buf,
        &[
            Line { value: &reach, pattern: Pattern::Every(4), ink: Ink::Dim, layer: 1 },
            Line { value: &|m| m.circle.map(|c| c.0), pattern: Pattern::Dashes(3, 3), ink: ring, layer: 2 },
            Line { value: &|m| stern(m).map(|d| d.0), pattern: Pattern::Solid, ink: Ink::Strong, layer: 3 },
        ],
    );
    Some(numbers(&plot))
}

fn wind(scene: &Scene, minutes: &[Minute], plot: Plot, buf: &mut Buffer) -> Option<Labels> {
    let limit = scene.snap.limits.wind_high.0;
    let hardest = greatest(minutes.iter().filter_map(|m| m.gust.or(m.wind)).map(|k| k.0), 5.0)?;
    let over = minutes.iter().any(|m| m.wind.is_some_and(|w| w.0 > limit));
    let plot = Plot { high: hardest.max(limit) * 1.08, ..plot };
    let bound = if over { Ink::Trouble } else { Ink::Dim };
    lines(
        scene,
        minutes,
        &plot,
        buf,
        &[
            Line { value: &|m| m.gust.map(|g| g.0), pattern: Pattern::Every(2), ink: Ink::Dim, layer: 1 },
            Line { value: &|_| Some(limit), pattern: Pattern::Dashes(3, 3), ink: bound, layer: 2 },
            Line { value: &|m| m.wind.map(|w| w.0), pattern: Pattern::Solid, ink: Ink::Strong, layer: 3 },
        ],
    );
    Some(numbers(&plot))
}

fn water(scene: &Scene, minutes: &[Minute], plot: Plot, buf: &mut Buffer) -> Option<Labels> {
    let snap = scene.snap;
    let ahead: Vec<(WatchTime, f64)> = snap
        .tide
        .curve
        .iter()
        .filter(|(at, _)| *at > snap.at && *at <= plot.stretch.to)
        .map(|(at, depth)| (*at, depth.0))
        .collect();
    let known = minutes.iter().flat_map(|m| [m.depth, m.predicted]).flatten().map(|d| d.0);
    let limit = (snap.settings.boat.draft + snap.limits.under_keel).0;
    let known: Vec<f64> = known.chain(ahead.iter().map(|(_, depth)| *depth)).collect();
    let deepest = greatest(known.iter().copied(), 1.0)?;
    let low = (known.into_iter().fold(limit, f64::min) - 0.5).floor().max(0.0);
    let short = minutes.iter().any(|m| m.depth.is_some_and(|d| d.0 < limit));
    let high = deepest.max(limit);
    let plot = Plot { low, high: high + 0.08 * (high - low), ..plot };
    let bound = if short { Ink::Trouble } else { Ink::Dim };
    let mut dots = Dots::new(plot.area);
    let line: Vec<Dot> = ahead.iter().map(|(at, depth)| plot.dot(*at, *depth)).collect();
    dots.path(&line, Pattern::Every(3), Ink::Text, 1);
    dots.print(scene.palette, buf);
    lines(
        scene,
        minutes,
        &plot,
        buf,
        &[
            Line { value: &|_| Some(limit), pattern: Pattern::Dashes(3, 3), ink: bound, layer: 1 },
            Line {
                value: &|m| m.predicted.map(|p| p.0),
                pattern: Pattern::Every(3),
                ink: Ink::Text,
                layer: 2,
            },
            Line { value: &|m| m.depth.map(|d| d.0), pattern: Pattern::Solid, ink: Ink::Strong, layer: 3 },
        ],
    );
    Some(numbers(&plot))
}

/// Directions about the middle of those that occurred, so that north does not tear the line.
fn heading(scene: &Scene, minutes: &[Minute], plot: Plot, buf: &mut Buffer) -> Option<Labels> {
    let mut mean = DirectionMean::default();
    let all = || minutes.iter().flat_map(|m| [m.heading, m.direction]).flatten();
    all().for_each(|direction| mean.add(direction, 1.0));
    let some = all().next()?;
    // Of directions all round there is no middle: any will do.
    let middle = mean.mean().unwrap_or(some).degrees();
    let middle = TrueBearing::new((middle / 45.0).round() * 45.0);
    let off = |direction: TrueBearing| middle.turn_to(direction);
    let widest = greatest(all().map(|direction| off(direction).abs()), 45.0)?;
    let half = ((widest / 45.0).ceil() * 45.0).min(180.0);
    let plot = Plot { low: -half, high: half, ..plot };
    lines(
        scene,
        minutes,
        &plot,
        buf,
        &[
            Line { value: &|m| m.direction.map(off), pattern: Pattern::Every(3), ink: Ink::Text, layer: 1 },
            Line { value: &|m| m.heading.map(off), pattern: Pattern::Solid, ink: Ink::Strong, layer: 2 },
        ],
    );
    let wanted: &[f64] = if plot.area.height >= 3 { &[half, 0.0, -half] } else { &[0.0] };
    let named = |turn: &f64| Some((plot.row(*turn)?, point(middle.turned(*turn)).to_owned()));
    Some(wanted.iter().filter_map(named).collect())
}

/// Draws lines through the minutes, torn where nothing was known.
fn lines(scene: &Scene, minutes: &[Minute], plot: &Plot, buf: &mut Buffer, lines: &[Line]) {
    let mut dots = Dots::new(plot.area);
    let newest = scene.snap.minutes.last().map_or(WatchTime(0), |minute| minute.at);
    // A jump by more than half of all directions is no turn: the line went over the edge.
    let torn = if plot.low < 0.0 { 180.0 } else { f64::INFINITY };
    for line in lines {
        let mut run: Vec<Dot> = Vec::new();
        let mut last: Option<(WatchTime, f64)> = None;
        for minute in minutes {
            let value = (line.value)(minute).filter(|value| value.is_finite());
            let near = if newest.since(minute.at) > THINNED_AFTER { JOINED_OLD } else { JOINED };
            let joins = last.zip(value).is_some_and(|((at, before), value)| {
                minute.at.since(at) <= near && (value - before).abs() <= torn
            });
            if !joins {
                draw_run(&mut dots, &run, line);
                run.clear();
            }
            if let Some(value) = value {
                let dot = plot.dot(minute.at, value);
                // Several minutes on one dot would make a broken line whole.
                if line.pattern == Pattern::Solid || run.last().is_none_or(|last| dot.0 - last.0 >= 2.0) {
                    run.push(dot);
                }
            }
            last = value.map(|value| (minute.at, value));
        }
        draw_run(&mut dots, &run, line);
    }
    dots.print(scene.palette, buf);
}

fn draw_run(dots: &mut Dots, run: &[Dot], line: &Line) {
    match run {
        [] => {}
        [lone] => dots.dot(*lone, line.ink, line.layer),
        _ => dots.path(run, line.pattern, line.ink, line.layer),
    }
}

/// Now, and the moment under the ruler, down through the graph where nothing else is drawn.
fn moments(scene: &Scene, look: &Look, plot: &Plot, buf: &mut Buffer) {
    for (at, sign, ink) in [(Some(scene.snap.at), "┊", Ink::Dim), (look.ruler, "│", Ink::Boat)] {
        let Some(column) = at.and_then(|at| plot.column(at)) else { continue };
        for row in 0..plot.area.height {
            if let Some(cell) = buf.cell_mut((plot.area.x + column, plot.area.y + row))
                && (cell.symbol() == " " || width(cell.symbol()) != 1)
            {
                cell.set_symbol(sign).set_style(scene.ink(ink));
            }
        }
    }
}
