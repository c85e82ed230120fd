//! The night by time: distance, wind, its direction, depth and heading under one another, on one axis.

use super::super::{Review, Sample};
use crate::report::svg::{Anchor, Spot, Svg, marks};
use crate::report::zone::Zone;
use crate::watch::units::WatchTime;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 14.0;
/// Rows above a panel for its title, and its own height.
const TITLE: f64 = 30.0;
const PANEL: f64 = 120.0;
/// For the numbers of alerts, and below all for the hours.
const TOP: f64 = 18.0;
const FOOT: f64 = 26.0;
/// Samples farther apart are not joined.
const JOINED_MS: i64 = 10 * 60_000;
/// Numbers of alerts nearer to each other would be read as one.
const APART: f64 = 15.0;

/// How a line is drawn, and what it is called.
type Line = (&'static str, &'static str, fn(&Sample) -> Option<f64>);

/// One graph.
struct Panel {
    title: &'static str,
    unit: &'static str,
    lines: Vec<Line>,
    extent: Extent,
}

/// What the axis of values spans.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Extent {
    /// What is measured, and some room.
    Free,
    /// From nothing up.
    FromZero,
    /// From nothing to all of it.
    Percent,
    /// Degrees of a compass: a whole circle about the mean; lines that cross its end are broken.
    Compass,
}

fn panels() -> Vec<Panel> {
    let straight = |title, unit, lines, extent| Panel { title, unit, lines, extent };
    let compass = |title, lines| Panel { title, unit: "° true", lines, extent: Extent::Compass };
    vec![
        straight(
            "Distance from the drop point",
            "m",
            vec![
                ("limit", "circle", |s| s.circle.map(|m| m.0)),
                ("dashed", "reach", |s| s.reach.filter(|_| s.anchored).map(|m| m.0)),
                ("bow", "bow, greatest", |s| s.distance.map(|m| m.0)),
            ],
            Extent::FromZero,
        ),
        straight(
            "Wind",
            "kn",
            vec![
                ("thin", "gusts", |s| s.gust.map(|kn| kn.0)),
                ("bow", "mean of ten minutes", |s| s.wind.map(|kn| kn.0)),
            ],
            Extent::FromZero,
        ),
        compass("Wind from", vec![("bow", "mean", |s| s.direction.map(|d| d.degrees()))]),
        straight(
            "Depth",
            "m",
            vec![
                ("dashed", "by the tide, at the anchor", |s| s.predicted.map(|m| m.0)),
                ("bow", "by the sounder", |s| s.sounded.map(|m| m.0)),
            ],
            Extent::Free,
        ),
        compass("Heading", vec![("bow", "heading", |s| s.heading.map(|d| d.degrees()))]),
        straight(
            "Evidence that the anchor moved",
            "%",
            vec![("bow", "greatest", |s| s.evidence)],
            Extent::Percent,
        ),
    ]
}

/// What it shows, in words.
pub(super) fn about(review: &Review) -> String {
    let shown: Vec<&str> =
        panels().iter().filter(|panel| has_data(panel, &review.samples)).map(|p| p.title).collect();
    format!("Graphs under one another on one axis of time: {}.", shown.join(", "))
}

fn has_data(panel: &Panel, samples: &[Sample]) -> bool {
    let (_, _, of) = panel.lines[panel.lines.len() - 1];
    samples.iter().filter_map(of).take(2).count() == 2
}

struct Axis {
    from: WatchTime,
    to: WatchTime,
}

impl Axis {
    fn x(&self, at: WatchTime) -> f64 {
        let share = at.since(self.from).0 as f64 / self.to.since(self.from).0.max(1) as f64;
        LEFT + share.clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT)
    }
}

/// The graphs and their size; `None` where there is nothing to draw.
pub(super) fn picture(review: &Review) -> Option<(Svg, Spot)> {
    let samples = &review.samples;
    let (from, to) = (samples.first()?.at, samples.last()?.at);
    let shown: Vec<Panel> = panels().into_iter().filter(|panel| has_data(panel, samples)).collect();
    if shown.is_empty() || to <= from {
        return None;
    }
    let axis = Axis { from, to };
    let height = TOP + shown.len() as f64 * (TITLE + PANEL) + FOOT;
    let mut svg = Svg::default();
    for (index, panel) in shown.iter().enumerate() {
        let top = TOP + TITLE + index as f64 * (TITLE + PANEL);
        hours(&mut svg, &axis, &review.zone, top, index + 1 == shown.len());
        gaps(&mut svg, &axis, review, top);
        draw(&mut svg, &axis, panel, samples, top);
        alert_lines(&mut svg, &axis, review, top);
    }
    numbers(&mut svg, &axis, review);
    Some((svg, (WIDTH, height)))
}

/// Lines at round hours; below the last panel their words.
fn hours(svg: &mut Svg, axis: &Axis, zone: &Zone, top: f64, labelled: bool) {
    const STEPS_MIN: [i64; 12] = [1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440];
    let minutes = axis.to.since(axis.from).0 / 60_000;
    let step_ms = STEPS_MIN
        .into_iter()
        .find(|step| minutes / step <= 10)
        .map_or_else(|| (minutes / 1440 / 10 + 1) * 86_400_000, |step| step * 60_000);
    // Round hours are those of the zone.
    let ahead_ms = zone.ahead_ms(axis.from);
    let mut at = WatchTime((axis.from.0 + ahead_ms + step_ms - 1).div_euclid(step_ms) * step_ms - ahead_ms);
    while at <= axis.to {
        let x = axis.x(at);
        svg.line("grid", (x, top), (x, top + PANEL));
        if labelled {
            let format = if step_ms >= 86_400_000 { "%-d %b" } else { "%H:%M" };
            svg.text("label", (x, top + PANEL + 17.0), Anchor::Middle, &zone.format(at, format));
        }
        at = WatchTime(at.0 + step_ms);
    }
}

fn gaps(svg: &mut Svg, axis: &Axis, review: &Review, top: f64) {
    for gap in &review.gaps {
        let (from, to) = (axis.x(gap.from), axis.x(gap.to));
        svg.rect("gap", (from, top), ((to - from).max(1.5), PANEL));
    }
}

fn draw(svg: &mut Svg, axis: &Axis, panel: &Panel, samples: &[Sample], top: f64) {
    let (low, high) = range(panel, samples);
    let y = |value: f64| top + PANEL - (value - low) / (high - low) * PANEL;
    for mark in if panel.extent == Extent::Compass { compass_marks(low, high) } else { marks(low, high, 4.0) }
    {
        svg.line("grid", (LEFT, y(mark)), (WIDTH - RIGHT, y(mark)));
        let words = if panel.extent == Extent::Compass {
            format!("{:03.0}", mark.rem_euclid(360.0))
        } else if (high - low) < 4.0 {
            format!("{mark:.1}")
        } else {
            format!("{mark:.0}")
        };
        svg.text("label", (LEFT - 7.0, y(mark) + 4.0), Anchor::End, &words);
    }
    svg.line("axis", (LEFT, top + PANEL), (WIDTH - RIGHT, top + PANEL));
    title(svg, panel, samples, top);
    for (class, _, of) in &panel.lines {
        let mut line: Vec<Spot> = Vec::new();
        let mut before: Option<(WatchTime, f64)> = None;
        for sample in samples {
            let Some(value) = of(sample) else { continue };
            let value =
                if panel.extent == Extent::Compass { nearest_turn(value, (low + high) / 2.0) } else { value };
            let broken = before.is_some_and(|(at, earlier)| {
                sample.at.0 - at.0 > JOINED_MS
                    || (panel.extent == Extent::Compass && (value - earlier).abs() > 180.0)
            });
            if broken {
                svg.path(class, &line);
                line.clear();
            }
            line.push((axis.x(sample.at), y(value).clamp(top - 1.0, top + PANEL + 1.0)));
            before = Some((sample.at, value));
        }
        svg.path(class, &line);
    }
}

/// The panel's name and unit, and at the right what its lines are.
fn title(svg: &mut Svg, panel: &Panel, samples: &[Sample], top: f64) {
    svg.text("title", (LEFT, top - 9.0), Anchor::Start, &format!("{}, {}", panel.title, panel.unit));
    if panel.lines.len() < 2 {
        return;
    }
    let mut x = WIDTH - RIGHT;
    for (class, name, of) in panel.lines.iter().rev() {
        if samples.iter().any(|sample| of(sample).is_some()) {
            svg.text("label", (x, top - 9.0), Anchor::End, name);
            // About six and a half units a letter.
            x -= 6.6 * name.len() as f64 + 8.0;
            svg.line(class, (x - 22.0, top - 13.0), (x, top - 13.0));
            x -= 38.0;
        }
    }
}

/// The values that a panel spans.
fn range(panel: &Panel, samples: &[Sample]) -> (f64, f64) {
    let values = || {
        let lines = panel.lines.iter();
        lines.flat_map(|(_, _, of)| samples.iter().filter_map(of)).filter(|value| value.is_finite())
    };
    if panel.extent == Extent::Compass {
        let (sin, cos) =
            values().fold((0.0, 0.0), |(s, c), v| (s + v.to_radians().sin(), c + v.to_radians().cos()));
        let mean = f64::atan2(sin, cos).to_degrees();
        let most = values().map(|v| (nearest_turn(v, mean) - mean).abs()).fold(20.0, f64::max).min(180.0);
        let half = (most / 15.0).ceil() * 15.0;
        let middle = (mean / 15.0).round() * 15.0;
        return (middle - half, middle + half);
    }
    let (low, high) = values().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    match panel.extent {
        Extent::Percent => (0.0, 100.0),
        Extent::FromZero => (0.0, (high * 1.08).max(1.0)),
        Extent::Free | Extent::Compass => {
            let pad = ((high - low) * 0.1).max(0.25);
            ((low - pad).max(0.0), high + pad)
        }
    }
}

fn compass_marks(low: f64, high: f64) -> Vec<f64> {
    let step = [15.0, 30.0, 45.0, 90.0].into_iter().find(|step| (high - low) / step <= 5.0).unwrap_or(90.0);
    let first = (low / step).ceil() * step;
    (0..30).map(|i| first + f64::from(i) * step).take_while(|mark| *mark <= high).collect()
}

/// The same direction, within half a circle of `about`.
fn nearest_turn(degrees: f64, about: f64) -> f64 {
    about + (degrees - about + 180.0).rem_euclid(360.0) - 180.0
}

fn alert_lines(svg: &mut Svg, axis: &Axis, review: &Review, top: f64) {
    for alarm in &review.alarms {
        let x = axis.x(alarm.raised);
        svg.line("alarm", (x, top), (x, top + PANEL));
    }
}

/// Numbers of the alerts above all panels, as far as they do not lie on each other.
fn numbers(svg: &mut Svg, axis: &Axis, review: &Review) {
    let mut free_from = 0.0;
    for (number, alarm) in (1..).zip(&review.alarms) {
        let x = axis.x(alarm.raised);
        if x >= free_from {
            svg.text("number", (x, TOP - 5.0), Anchor::Middle, &number.to_string());
            free_from = x + APART;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direction_is_taken_on_the_side_of_the_axis_where_it_is_nearest() {
        assert_eq!(nearest_turn(350.0, 10.0), -10.0);
        assert_eq!(nearest_turn(10.0, 350.0), 370.0);
        assert_eq!(nearest_turn(200.0, 190.0), 200.0);
    }
}
