//! The plan of the night: circle, reach, track, drop point, where the anchor was thought to lie, alerts.

use super::super::{Review, Sample};
use crate::report::svg::{Anchor, Spot, Svg, marks};
use crate::report::zone::Zone;
use crate::watch::geo::{Local, Plane, Position};
use crate::watch::units::{Metres, TrueBearing, WatchTime};

const SIDE: f64 = 640.0;
const MARGIN: f64 = 18.0;
/// Below the plan: the scale of time.
const FOOT: f64 = 56.0;
/// Steps of the track's ramp.
const STEPS: usize = 5;
/// Points farther apart in time are not joined: nobody knows what she did between.
const JOINED_MS: i64 = 5 * 60_000;
/// Alerts that are marked.
const ALERTS: usize = 40;

/// Metres to the picture.
struct View {
    plane: Plane,
    centre: Local,
    metres: f64,
}

impl View {
    fn spot(&self, at: Local) -> Spot {
        let scale = (SIDE / 2.0 - MARGIN) / self.metres;
        (
            SIDE / 2.0 + (at.east_m - self.centre.east_m) * scale,
            SIDE / 2.0 - (at.north_m - self.centre.north_m) * scale,
        )
    }

    fn long(&self, metres: f64) -> f64 {
        metres * (SIDE / 2.0 - MARGIN) / self.metres
    }
}

/// What it shows, in words.
pub(super) fn about(review: &Review) -> String {
    let farthest = review.holding.farthest.map_or_else(String::new, |(far, at)| {
        format!(" Farthest from the drop point {:.0} m, {}.", far.0, review.zone.moment(at))
    });
    format!("The track of the bow about the anchor, north up.{farthest}")
}

/// The plan and its size; `None` where no position was seen.
pub(super) fn picture(review: &Review) -> Option<(Svg, Spot)> {
    let began = review.ride.began.unwrap_or(WatchTime(i64::MIN));
    let ended = review.ride.ended.unwrap_or(WatchTime(i64::MAX));
    let at_anchor: Vec<(WatchTime, Position)> =
        review.track.iter().copied().filter(|(at, _)| (began..=ended).contains(at)).collect();
    let track = if at_anchor.len() > 1 { &at_anchor } else { &review.track };
    let origin =
        review.ride.drop.or(review.holding.anchor.map(|(at, _)| at)).or(track.first().map(|(_, at)| *at))?;
    let plane = Plane::new(origin);
    let points: Vec<(WatchTime, Local)> =
        track.iter().map(|(at, place)| (*at, plane.to_local(*place))).collect();
    let view = fitted(review, plane, &points)?;
    let mut svg = Svg::default();
    circles(&mut svg, &view, review);
    draw_track(&mut svg, &view, &points);
    belief(&mut svg, &view, review.samples.iter().rev().find_map(|sample: &Sample| sample.anchor));
    if review.ride.drop.is_some() {
        let (x, y) = view.spot(Local::default());
        svg.line("cross", (x - 7.0, y), (x + 7.0, y));
        svg.line("cross", (x, y - 7.0), (x, y + 7.0));
    }
    alerts(&mut svg, &view, review, &points);
    corners(&mut svg, &view, &review.zone, &points);
    Some((svg, (SIDE, SIDE + FOOT)))
}

/// All of circle, reach and track, as large as it goes.
fn fitted(review: &Review, plane: Plane, points: &[(WatchTime, Local)]) -> Option<View> {
    let round = review.circle.set.or(review.holding.reach).filter(|_| review.ride.drop.is_some());
    let mut low = Local::new(f64::INFINITY, f64::INFINITY);
    let mut high = Local::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
    let mut take = |east: f64, north: f64| {
        low = Local::new(low.east_m.min(east), low.north_m.min(north));
        high = Local::new(high.east_m.max(east), high.north_m.max(north));
    };
    points.iter().for_each(|(_, at)| take(at.east_m, at.north_m));
    if let Some(Metres(radius)) = round {
        take(-radius, -radius);
        take(radius, radius);
    }
    let centre = Local::new((low.east_m + high.east_m) / 2.0, (low.north_m + high.north_m) / 2.0);
    let metres = ((high.east_m - low.east_m).max(high.north_m - low.north_m) / 2.0 * 1.06).max(10.0);
    metres.is_finite().then_some(View { plane, centre, metres })
}

fn circles(svg: &mut Svg, view: &View, review: &Review) {
    if review.ride.drop.is_none() {
        return;
    }
    let middle = view.spot(Local::default());
    if let Some(reach) = review.holding.reach {
        svg.circle("dashed", middle, view.long(reach.0));
    }
    let Some(circle) = review.circle.set else { return };
    svg.circle("limit", middle, view.long(circle.0));
    let label = view.spot(Local::polar(TrueBearing::new(135.0), circle.0));
    svg.text("halo", (label.0 - 6.0, label.1 - 6.0), Anchor::End, &format!("{:.0} m", circle.0));
}

fn draw_track(svg: &mut Svg, view: &View, points: &[(WatchTime, Local)]) {
    let (Some((first, _)), Some((last, _))) = (points.first(), points.last()) else { return };
    let span = (last.0 - first.0).max(1) as f64;
    let step = |at: WatchTime| (((at.0 - first.0) as f64 / span * STEPS as f64) as usize).min(STEPS - 1);
    let mut line: Vec<Spot> = Vec::new();
    let mut before: Option<(WatchTime, usize)> = None;
    for (at, place) in points {
        let spot = view.spot(*place);
        if let Some((earlier, class)) = before {
            let gap = at.0 - earlier.0 > JOINED_MS;
            if gap || class != step(*at) {
                if !gap {
                    line.push(spot);
                }
                svg.path(&format!("track{class}"), &line);
                line.clear();
            }
        }
        // A dot less than a third of a unit away is not seen.
        let near = line.last().is_some_and(|(x, y)| (x - spot.0).hypot(y - spot.1) < 0.35);
        if !near {
            line.push(spot);
        }
        before = Some((*at, step(*at)));
    }
    if let Some((_, class)) = before {
        svg.path(&format!("track{class}"), &line);
    }
}

fn belief(svg: &mut Svg, view: &View, thought: Option<super::super::series::AnchorThought>) {
    let Some(thought) = thought else { return };
    let centre = view.spot(view.plane.to_local(thought.centre));
    let axes = (view.long(2.0 * thought.major.0).max(2.0), view.long(2.0 * thought.minor.0).max(2.0));
    svg.ellipse("belief", centre, axes, thought.axis.degrees() - 90.0);
}

fn alerts(svg: &mut Svg, view: &View, review: &Review, points: &[(WatchTime, Local)]) {
    let mut taken: Vec<Spot> = Vec::new();
    for (number, alarm) in (1..).zip(review.alarms.iter().take(ALERTS)) {
        let after = points.partition_point(|(at, _)| *at < alarm.raised);
        let Some((at, place)) = points.get(after) else { continue };
        if at.0 - alarm.raised.0 > JOINED_MS {
            continue;
        }
        let spot = view.spot(*place);
        svg.circle("alarm", spot, 3.5);
        let free =
            |spot: &Spot| taken.iter().all(|(x, y)| (x - spot.0).abs() > 18.0 || (y - spot.1).abs() > 13.0);
        let around = [(7.0, -6.0), (7.0, 12.0), (-16.0, -6.0), (-16.0, 12.0), (7.0, -20.0), (7.0, 26.0)];
        let label = around.map(|(dx, dy)| (spot.0 + dx, spot.1 + dy)).into_iter().find(free);
        if let Some(label) = label {
            svg.text("number", label, Anchor::Start, &number.to_string());
            taken.push(label);
        }
    }
}

/// Scale, north, and the ramp of the track with its times.
fn corners(svg: &mut Svg, view: &View, zone: &Zone, points: &[(WatchTime, Local)]) {
    let length = marks(0.0, view.metres * 0.6, 4.0).last().copied().unwrap_or(view.metres / 2.0);
    let (x, y) = (MARGIN, SIDE - 10.0);
    let end = x + view.long(length);
    svg.line("axis", (x, y), (end, y));
    svg.line("axis", (x, y - 4.0), (x, y + 4.0));
    svg.line("axis", (end, y - 4.0), (end, y + 4.0));
    svg.text("halo", (end + 6.0, y + 4.0), Anchor::Start, &format!("{length:.0} m"));
    let (nx, ny) = (SIDE - MARGIN - 4.0, MARGIN + 6.0);
    svg.area("ramp4", &[(nx, ny - 12.0), (nx - 5.0, ny + 6.0), (nx, ny + 2.0), (nx + 5.0, ny + 6.0)]);
    svg.text("halo", (nx, ny + 20.0), Anchor::Middle, "N");
    let (Some((first, _)), Some((last, _))) = (points.first(), points.last()) else { return };
    let (left, top, wide) = (MARGIN, SIDE + 16.0, SIDE - 2.0 * MARGIN);
    for step in 0..STEPS {
        let x = left + wide * step as f64 / STEPS as f64;
        svg.rect(&format!("ramp{step}"), (x, top), (wide / STEPS as f64, 8.0));
    }
    svg.text("strong", (left, top + 26.0), Anchor::Start, &zone.moment(*first));
    svg.text("label", (left + wide / 2.0, top + 26.0), Anchor::Middle, "track, by time");
    svg.text("strong", (left + wide, top + 26.0), Anchor::End, &zone.moment(*last));
}
