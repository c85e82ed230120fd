//! How often what was so: the wind's rose, distances against the reach, loads.

use std::f64::consts::TAU;

use super::super::{Review, Sample};
use crate::report::svg::{Anchor, Spot, Svg, marks};

const SECTORS: usize = 16;
/// Winds at which the rose's rings of speed part, knots: Beaufort 4 ends at 16, Beaufort 6 begins at 22.
const SPEEDS: [f64; 2] = [16.0, 22.0];
const SIZE: Spot = (360.0, 300.0);
const BINS: usize = 12;

/// A picture, its size, its title and what it shows.
pub(super) type Picture = (Svg, Spot, &'static str, String);

/// The pictures for which there is data.
pub(super) fn pictures(review: &Review) -> Vec<Picture> {
    let samples: Vec<&Sample> = review.samples.iter().filter(|sample| sample.anchored).collect();
    [rose(&samples), distances(review, &samples), loads(&samples)].into_iter().flatten().collect()
}

fn rose(samples: &[&Sample]) -> Option<Picture> {
    let mut counts = [[0_u32; 3]; SECTORS];
    for sample in samples {
        if let (Some(from), Some(wind)) = (sample.direction, sample.wind) {
            let sector = (from.degrees() / 360.0 * SECTORS as f64).round() as usize % SECTORS;
            let speed = SPEEDS.iter().filter(|least| wind.0 >= **least).count();
            counts[sector][speed] += 1;
        }
    }
    let all: u32 = counts.iter().flatten().sum();
    let most = counts.iter().map(|speeds| speeds.iter().sum::<u32>()).max().unwrap_or(0);
    if all < 10 {
        return None;
    }
    let mut svg = Svg::default();
    let (cx, cy, radius) = (SIZE.0 / 2.0, 134.0, 104.0);
    let share = f64::from(most) / f64::from(all);
    let rings = marks(0.0, share * 100.0, 3.0);
    for ring in rings.iter().filter(|ring| **ring > 0.0) {
        svg.circle("grid", (cx, cy), radius * ring / 100.0 / share);
    }
    for (sector, speeds) in counts.iter().enumerate() {
        let mut inner = 0.0;
        for (speed, count) in speeds.iter().enumerate().filter(|(_, count)| **count > 0) {
            let outer = inner + radius * f64::from(*count) / f64::from(most);
            svg.area(&format!("bar{speed}"), &wedge((cx, cy), sector, inner, outer));
            inner = outer;
        }
    }
    for ring in rings.iter().filter(|ring| **ring > 0.0) {
        let y = cy - radius * ring / 100.0 / share;
        svg.text("halo", (cx + 4.0, y + 4.0), Anchor::Start, &format!("{ring:.0} %"));
    }
    for (words, dx, dy) in [("N", 0.0, -112.0), ("E", 118.0, 4.0), ("S", 0.0, 122.0), ("W", -118.0, 4.0)] {
        svg.text("strong", (cx + dx, cy + dy), Anchor::Middle, words);
    }
    let names = [
        format!("below {:.0} kn", SPEEDS[0]),
        format!("{:.0} to {:.0}", SPEEDS[0], SPEEDS[1]),
        format!("{:.0} and more", SPEEDS[1]),
    ];
    for (i, (name, x)) in names.iter().zip([40.0, 150.0, 240.0]).enumerate() {
        svg.rect(&format!("bar{i}"), (x, 272.0), (11.0, 11.0));
        svg.text("label", (x + 16.0, 282.0), Anchor::Start, name);
    }
    Some((svg, SIZE, "Wind rose", "Where the mean wind came from, share of the time at anchor.".into()))
}

fn wedge((cx, cy): Spot, sector: usize, inner: f64, outer: f64) -> Vec<Spot> {
    let middle = sector as f64 / SECTORS as f64 * TAU;
    let half = TAU / SECTORS as f64 * 0.42;
    let at = |angle: f64, radius: f64| (cx + radius * angle.sin(), cy - radius * angle.cos());
    let arc: Vec<f64> = (0..=6).map(|i| middle - half + 2.0 * half * f64::from(i) / 6.0).collect();
    let out = arc.iter().map(|angle| at(*angle, outer));
    out.chain(arc.iter().rev().map(|angle| at(*angle, inner))).collect()
}

fn distances(review: &Review, samples: &[&Sample]) -> Option<Picture> {
    let values: Vec<f64> = samples.iter().filter_map(|sample| sample.distance).map(|m| m.0).collect();
    let lines = [
        (review.holding.reach.map(|m| m.0), "dashed", "reach"),
        (review.circle.set.map(|m| m.0), "limit", "circle"),
    ];
    let (svg, size) = histogram(&values, "m from the drop point", &lines)?;
    let about = "Greatest distance of each minute; the dashed line is the farthest reach of the rode, the strong one the \
                 circle.";
    Some((svg, size, "Distances", about.into()))
}

fn loads(samples: &[&Sample]) -> Option<Picture> {
    let values: Vec<f64> = samples.iter().filter_map(|sample| sample.load).map(|n| n.0 / 1000.0).collect();
    let (svg, size) = histogram(&values, "kN on the rode", &[])?;
    Some((
        svg,
        size,
        "Loads",
        "Load calculated from wind and stream, not measured; waves come on top.".into(),
    ))
}

/// Columns of the share of minutes; `lines` are values to compare with.
fn histogram(values: &[f64], unit: &str, lines: &[(Option<f64>, &str, &str)]) -> Option<(Svg, Spot)> {
    if values.len() < 10 {
        return None;
    }
    let most = values.iter().copied().chain(lines.iter().filter_map(|(v, ..)| *v)).fold(0.0, f64::max);
    let step = marks(0.0, most, BINS as f64).get(1).copied()?;
    let bins = ((most / step).floor() as usize + 1).min(60);
    let mut counts = vec![0_u32; bins];
    for value in values {
        counts[((value / step).max(0.0) as usize).min(bins - 1)] += 1;
    }
    let tallest = f64::from(counts.iter().copied().max().unwrap_or(1).max(1));
    let (left, top, wide, high) = (40.0, 24.0, SIZE.0 - 54.0, 210.0);
    let x = |value: f64| left + value / (step * bins as f64) * wide;
    let mut svg = Svg::default();
    let percent = tallest / values.len() as f64 * 100.0;
    for mark in marks(0.0, percent, 4.0) {
        let y = top + high - mark / percent * high;
        svg.line("grid", (left, y), (left + wide, y));
        svg.text("label", (left - 6.0, y + 4.0), Anchor::End, &format!("{mark:.0}"));
    }
    svg.text("label", (left, top - 10.0), Anchor::Start, "% of the time");
    for (i, count) in counts.iter().enumerate() {
        let tall = f64::from(*count) / tallest * high;
        let from = x(i as f64 * step);
        svg.rect("bar1", (from + 0.75, top + high - tall), (x(step) - left - 1.5, tall));
    }
    for (index, (value, class, name)) in lines.iter().enumerate() {
        if let Some(value) = value {
            svg.line(class, (x(*value), top), (x(*value), top + high));
            // Beside each other's lines: a row each.
            svg.text("halo", (x(*value) + 5.0, top + 11.0 + 15.0 * index as f64), Anchor::Start, name);
        }
    }
    svg.line("axis", (left, top + high), (left + wide, top + high));
    for mark in marks(0.0, step * bins as f64, 6.0) {
        let words = if step < 1.0 { format!("{mark:.1}") } else { format!("{mark:.0}") };
        svg.text("label", (x(mark), top + high + 17.0), Anchor::Middle, &words);
    }
    svg.text("label", (left + wide, top + high + 36.0), Anchor::End, unit);
    Some((svg, SIZE))
}
