//! The swing chart: the anchor and where it may lie, the circles, the track, the boat, wind and stream at the rim.

mod soundings;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::tui::chart::{Chart, arrow, scale_length_m};
use crate::tui::dots::{Dots, Pattern};
use crate::tui::palette::Ink;
use crate::tui::scene::Scene;
use crate::tui::text::{Pen, knots, metres, rounded, width};
use crate::watch::boat::Sector;
use crate::watch::geo::Local;
use crate::watch::snapshot::{Stage, TrackPoint};
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};

/// Which way is up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Up {
    /// True north.
    #[default]
    North,
    /// Where the mean wind comes from.
    Wind,
    /// Where the boat heads.
    Head,
}

impl Up {
    /// The next one round.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::North => Self::Wind,
            Self::Wind => Self::Head,
            Self::Head => Self::North,
        }
    }
}

/// How the chart is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Look {
    /// Which way is up.
    pub up: Up,
    /// Steps closer (positive) or wider than what shows the whole circle.
    pub zoom: i8,
    /// A moment of the past to be marked on the track.
    pub mark: Option<WatchTime>,
}

/// The part of half the sheet that the circle takes; the rest is the rim for arrows and names.
const CIRCLE_SHARE: f64 = 0.82;
/// Where the tip of an arrow stands, in radii of the circle: clear of its line.
const OFF_RIM: f64 = 1.05;
/// What is shown about the boat while there is no circle, metres.
const BARE_RADIUS_M: f64 = 40.0;
/// Below this rate a stream has no direction, and would be written as none.
const NO_STREAM: Knots = Knots(0.05);
/// One step of zoom.
const ZOOM_STEP: f64 = 1.4;

// Layers of ink, lower ones first.
const HATCH: u8 = 0;
const TRACK: u8 = 1;
const RODE: u8 = 3;
const CIRCLES: u8 = 4;
const ARROWS: u8 = 5;
const BOAT: u8 = 6;

/// Draws the chart.
pub fn render(scene: &Scene, look: Look, area: Rect, buf: &mut Buffer) {
    if area.width < 8 || area.height < 5 {
        return;
    }
    let mut dots = Dots::new(area);
    let extent = extent(scene);
    let up = up(scene, look.up);
    let radius_m = extent.radius_m / CIRCLE_SHARE * ZOOM_STEP.powi(-i32::from(look.zoom));
    let chart = Chart::fitting(&dots, scene.cell_aspect, extent.centre, radius_m, up.0);
    let rim = CIRCLE_SHARE * (dots.width() / chart.across).min(dots.height()) / 2.0;
    let mut names = Names::default();

    for sector in &scene.snap.limits.barred {
        hatch(&mut dots, &chart, *sector, rim);
    }
    track(scene, &mut dots, &chart);
    circles(scene, &mut dots, &chart, &mut names);
    anchor(scene, &mut dots, &chart, &mut names);
    boat(scene, &mut dots, &chart);
    vessels(scene, &mut dots, &chart, &mut names);
    marks(scene, &dots, &chart, &mut names);
    rim_arrows(scene, &mut dots, &chart, rim, &mut names);
    north(&chart, rim, &mut names);
    if let Some(at) = look.mark {
        mark(scene, &chart, at, &mut names);
    }
    dots.print(scene.palette, buf);
    soundings::render(scene, &chart, area, buf);
    names.print(scene, area, buf);
    corners(scene, look, up.1, &chart, area, buf);
}

/// What the chart shows at its own choice.
struct Extent {
    centre: Local,
    radius_m: f64,
}

fn extent(scene: &Scene) -> Extent {
    let snap = scene.snap;
    let boat = snap.bow.or(snap.antenna);
    let loa_m = snap.settings.boat.loa.0;
    let circle = snap.circle.radius().or(snap.reach).filter(|_| snap.drop.is_some());
    match (circle, boat) {
        // The circle fills the chart, and it widens in steps when she leaves, so that it does not creep.
        (Some(circle), Some(boat)) => {
            let needed = boat.length_m() + loa_m;
            let radius_m = if needed <= circle.0 * 1.1 { circle.0 } else { stepped(needed) };
            Extent { centre: Local::default(), radius_m: radius_m.max(circle.0) }
        }
        (Some(circle), None) => Extent { centre: Local::default(), radius_m: circle.0 },
        (None, Some(boat)) => Extent { centre: boat, radius_m: BARE_RADIUS_M.max(2.0 * loa_m) },
        (None, None) => Extent { centre: Local::default(), radius_m: BARE_RADIUS_M },
    }
}

/// The next of 50, 63, 79, 100, 126 … metres: ten steps to each factor of ten.
fn stepped(metres: f64) -> f64 {
    10_f64.powf((metres.max(1.0).log10() * 10.0).ceil() / 10.0)
}

/// The bearing that points up and its words; north where the wished one is not known.
fn up(scene: &Scene, wish: Up) -> (TrueBearing, &'static str) {
    let wind = scene.snap.wind.mean_direction.or(scene.snap.wind.direction);
    let head = scene.snap.heading.now().map(|heading| heading.bearing);
    match (wish, wind, head) {
        (Up::Wind, Some(wind), _) => (wind, "wind up"),
        (Up::Head, _, Some(head)) => (head, "head up"),
        _ => (TrueBearing::new(0.0), "north up"),
    }
}

/// A barred wind direction: strokes across the rim where the wind's arrow must not stand.
fn hatch(dots: &mut Dots, chart: &Chart, sector: Sector, rim: f64) {
    let sweep = (sector.to.degrees() - sector.from.degrees()).rem_euclid(360.0);
    let strokes = (sweep / 4.0).ceil().max(1.0);
    let (inner, outer) = (rim * 1.04, rim * 1.16);
    let mut stroke = 0.0;
    while stroke <= strokes {
        let bearing = sector.from.turned(sweep * stroke / strokes);
        dots.line(chart.rim(bearing, inner), chart.rim(bearing.turned(3.0), outer), Ink::Trouble, HATCH);
        stroke += 1.0;
    }
}

fn track(scene: &Scene, dots: &mut Dots, chart: &Chart) {
    /// Points farther apart in time are not joined: nobody knows what she did between.
    const JOINED: Span = Span::from_mins(5);
    let now = scene.snap.at;
    for pair in scene.snap.track.windows(2) {
        let [from, to] = [pair[0], pair[1]];
        let (ink, layer) = faded(now.since(to.at));
        if to.at.since(from.at) <= JOINED {
            dots.line(chart.dot(from.point), chart.dot(to.point), ink, layer);
        } else {
            dots.dot(chart.dot(to.point), ink, layer);
        }
    }
}

/// The ink of a track of that age.
fn faded(age: Span) -> (Ink, u8) {
    if age <= Span::from_mins(10) {
        (Ink::Text, TRACK + 1)
    } else if age <= Span::from_mins(90) {
        (Ink::Dim, TRACK)
    } else {
        (Ink::Faint, HATCH)
    }
}

fn circles(scene: &Scene, dots: &mut Dots, chart: &Chart, names: &mut Names) {
    let snap = scene.snap;
    if snap.drop.is_none() {
        return;
    }
    let centre = Local::default();
    if let Some(reach) = snap.reach {
        dots.path(&chart.circle(centre, reach.0), Pattern::Every(3), Ink::Dim, CIRCLES);
    }
    let Some(circle) = snap.circle.radius() else { return };
    let centre = snap.circle.centre;
    let ink = if snap.room.is_some_and(|room| room.left.0 < 0.0) { Ink::Trouble } else { Ink::Strong };
    // Two dots thick: the line that counts.
    dots.path(&chart.circle(centre, circle.0), Pattern::Solid, ink, CIRCLES + 1);
    dots.path(&chart.circle(centre, circle.0 + chart.metres_per_dot), Pattern::Solid, ink, CIRCLES + 1);
    let spot = chart.dot(centre + Local::polar(TrueBearing::new(135.0 + chart.up.degrees()), circle.0));
    names.add(Place::Beside, (spot.0 + 3.0, spot.1 + 2.0), metres(circle), Ink::Text);
}

fn anchor(scene: &Scene, dots: &mut Dots, chart: &Chart, names: &mut Names) {
    let snap = scene.snap;
    if snap.drop.is_none() {
        return;
    }
    if let Some(belief) = snap.holding.belief {
        let (major, minor) = (belief.major.0, belief.minor.0);
        let ink = if snap.holding.moved.is_some() { Ink::Trouble } else { Ink::Strong };
        dots.path(&chart.ellipse(belief.centre, major, minor, belief.axis), Pattern::Solid, ink, CIRCLES);
    }
    let held = match (snap.holding.moved, snap.holding.belief) {
        (Some(_), Some(belief)) => belief.centre,
        _ => Local::default(),
    };
    if let Some(bow) = snap.bow.or(snap.antenna) {
        dots.path(&[chart.dot(held), chart.dot(bow)], Pattern::Every(4), Ink::Boat, RODE);
    }
    names.add(Place::On, chart.dot(Local::default()), "┼".to_owned(), Ink::Strong);
}

fn boat(scene: &Scene, dots: &mut Dots, chart: &Chart) {
    let snap = scene.snap;
    let boat = &snap.settings.boat;
    match (snap.bow, snap.heading.now()) {
        (Some(bow), Some(heading)) => {
            let long_dots = boat.loa.0 / chart.metres_per_dot;
            // Smaller than this no outline can be seen: she is drawn larger, never lost.
            let grow = (7.0 / long_dots).max(1.0);
            let (loa_m, beam_m) = (boat.loa.0 * grow, boat.beam.0 * grow);
            for outline in chart.boat(bow, heading.bearing, boat.hull, loa_m, beam_m) {
                dots.fill(&outline, Ink::Boat, BOAT);
            }
        }
        _ => {
            let Some(at) = snap.bow.or(snap.antenna) else { return };
            let radius_m = 2.2 * chart.metres_per_dot;
            dots.fill(&chart.circle(at, radius_m), Ink::Boat, BOAT);
        }
    }
}

/// Other vessels: a ring as large as each, with the way that she makes in a minute.
fn vessels(scene: &Scene, dots: &mut Dots, chart: &Chart, names: &mut Names) {
    for vessel in scene.snap.vessels.iter() {
        let closes = vessel.closes_in.is_some();
        let ink = if closes { Ink::Trouble } else { Ink::Dim };
        let radius_m = vessel.extent.0.max(2.5 * chart.metres_per_dot);
        dots.path(&chart.circle(vessel.point, radius_m), Pattern::Solid, ink, ARROWS);
        if let (Some(cog), Some(sog)) = (vessel.cog, vessel.sog) {
            let ahead = |metres: f64| chart.dot(vessel.point + Local::polar(cog, metres));
            dots.path(&[ahead(radius_m), ahead(radius_m + sog.mps() * 60.0)], Pattern::Every(2), ink, ARROWS);
        }
        let (x, y) = chart.dot(vessel.point);
        let beside = (x + radius_m / chart.metres_per_dot + 3.0, y);
        names.add(Place::Beside, beside, vessel.called(), ink);
    }
}

/// Marks to take bearings of, as far as they lie on the sheet.
fn marks(scene: &Scene, dots: &Dots, chart: &Chart, names: &mut Names) {
    for mark in scene.snap.marks.iter().filter(|mark| mark.far.is_none()) {
        let (x, y) = chart.dot(mark.point);
        if (0.0..dots.width()).contains(&x) && (0.0..dots.height()).contains(&y) {
            names.add(Place::On, (x, y), "◇".to_owned(), Ink::Strong);
            names.add(Place::Beside, (x + 4.0, y), mark.name.to_string(), Ink::Text);
        }
    }
}

/// Wind blows in from the rim; the stream runs in from the rim where it comes from.
fn rim_arrows(scene: &Scene, dots: &mut Dots, chart: &Chart, rim: f64, names: &mut Names) {
    let snap = scene.snap;
    let length = (rim * 0.17).clamp(5.0, 12.0);
    let wind = snap.wind.mean_direction.or(snap.wind.direction);
    let fresh = snap.wind.apparent.now().is_some();
    if let (Some(from), true) = (wind, fresh) {
        let words = snap.wind.mean.or(snap.wind.apparent.now().map(|a| a.1)).map(knots).unwrap_or_default();
        one_arrow(dots, chart, from, (rim, length), Pattern::Solid, Ink::Strong);
        names.add(Place::Outside(chart.up), chart.rim(from, rim * OFF_RIM + length), words, Ink::Strong);
        names.outward(from);
    }
    if let Some((sets, rate)) = snap.stream.filter(|(_, rate)| *rate >= NO_STREAM) {
        let mut from = sets.reversed();
        // Two arrows in one place would hide each other.
        if let Some(wind) = wind
            && wind.turn_to(from).abs() < 16.0
        {
            from = wind.turned(if wind.turn_to(from) < 0.0 { -16.0 } else { 16.0 });
        }
        one_arrow(dots, chart, from, (rim, length), Pattern::Dashes(2, 2), Ink::Dim);
        let words = format!("stream {}", rounded(rate.0, 1));
        names.add(Place::Outside(chart.up), chart.rim(from, rim * OFF_RIM + length), words, Ink::Dim);
        names.outward(from);
    }
}

fn one_arrow(
    dots: &mut Dots,
    chart: &Chart,
    from: TrueBearing,
    (rim, length): (f64, f64),
    line: Pattern,
    ink: Ink,
) {
    let (base, tip) = (chart.rim(from, rim * OFF_RIM + length), chart.rim(from, rim * OFF_RIM));
    let (dx, dy) = (tip.0 - base.0, tip.1 - base.1);
    let far = dx.hypot(dy).max(1e-9);
    arrow(dots, tip, (dx / far, dy / far), length, line, ink, ARROWS);
}

fn north(chart: &Chart, rim: f64, names: &mut Names) {
    names.add(Place::On, chart.rim(TrueBearing::new(0.0), rim * 1.09), "N".to_owned(), Ink::Dim);
}

/// Where the bow was at a moment that the crew looks at.
fn mark(scene: &Scene, chart: &Chart, at: WatchTime, names: &mut Names) {
    if let Some(point) = nearest(&scene.snap.track, at) {
        names.add(Place::On, chart.dot(point.point), "×".to_owned(), Ink::Trouble);
    }
}

/// The point of the track nearest in time.
#[must_use]
pub fn nearest(track: &[TrackPoint], at: WatchTime) -> Option<&TrackPoint> {
    let after = track.partition_point(|point| point.at < at);
    let around = [after.checked_sub(1), Some(after)];
    around
        .into_iter()
        .flatten()
        .filter_map(|i| track.get(i))
        .min_by_key(|p| p.at.since(at).0.saturating_abs())
}

/// Words on the chart, printed over the dots.
#[derive(Default)]
struct Names {
    words: Vec<Name>,
}

struct Name {
    place: Place,
    dot: (f64, f64),
    text: String,
    ink: Ink,
    outward: Option<TrueBearing>,
}

#[derive(Clone, Copy)]
enum Place {
    /// Its middle on the dot.
    On,
    /// Beginning at the dot.
    Beside,
    /// Beyond the dot as seen from the middle of the chart, with this bearing up.
    Outside(TrueBearing),
}

impl Names {
    fn add(&mut self, place: Place, dot: (f64, f64), text: String, ink: Ink) {
        self.words.push(Name { place, dot, text, ink, outward: None });
    }

    /// Tells which way the last name lies from the middle.
    fn outward(&mut self, bearing: TrueBearing) {
        if let Some(last) = self.words.last_mut() {
            last.outward = Some(bearing);
        }
    }

    fn print(&self, scene: &Scene, area: Rect, buf: &mut Buffer) {
        let mut pen = Pen::new(buf, area);
        let mut taken: Vec<(f64, f64, f64)> = Vec::new();
        for name in &self.words {
            let (column, row) = ((name.dot.0 / 2.0).floor(), (name.dot.1 / 4.0).floor());
            let long = f64::from(width(&name.text));
            let shown =
                column >= 0.0 && row >= 0.0 && column < f64::from(area.width) && row < f64::from(area.height);
            let column = match (name.place, name.outward) {
                (Place::On | Place::Beside, _) | (_, None) if !shown => continue,
                (Place::On, _) => column - ((long - 1.0) / 2.0).floor(),
                (Place::Beside, _) | (_, None) => column,
                (Place::Outside(up), Some(bearing)) => {
                    let side = bearing.turned(-up.degrees()).radians().sin();
                    // From right beside the dot to left of it as the arrow goes round.
                    if side > 0.4 {
                        column + 1.0
                    } else if side < -0.4 {
                        column - long
                    } else {
                        column + 2.0
                    }
                }
            };
            let most = (f64::from(area.width) - long).max(0.0);
            // Without room beside its arrow a name goes a row farther from the middle, clear of it.
            let beside = column.clamp(0.0, most) == column;
            let away = if row < f64::from(area.height) / 2.0 { -1.0 } else { 1.0 };
            let row = if beside { row } else { row + away };
            let last = f64::from(area.height) - 1.0;
            let column = column.clamp(0.0, most);
            let free = |row: &f64| {
                (0.0..=last).contains(row)
                    && !taken.iter().any(|(r, from, to)| r == row && column < *to && *from < column + long)
            };
            // Two names in one place would be read as one: the later goes a row aside.
            let row = row.clamp(0.0, last);
            let row = [row, row - away, row + away].into_iter().find(free).unwrap_or(row);
            taken.push((row, column, column + long + 1.0));
            // Both are clamped into the area, whose sides are 16 bits wide.
            pen.put(column as u16, row as u16, &name.text, scene.ink(name.ink));
        }
    }
}

/// Scale bar and orientation, in the corners.
fn corners(scene: &Scene, look: Look, up: &str, chart: &Chart, area: Rect, buf: &mut Buffer) {
    let mut pen = Pen::new(buf, area);
    let metres_per_column = chart.metres_per_dot * 2.0 / chart.across;
    let length_m = scale_length_m(metres_per_column * (f64::from(area.width) / 5.0).clamp(6.0, 24.0));
    let columns = (length_m / metres_per_column).round().clamp(2.0, 60.0) as usize;
    let bottom = area.height - 1;
    let x = pen.put(0, bottom, &format!("├{}┤", "─".repeat(columns.saturating_sub(2))), scene.ink(Ink::Dim));
    let words = if length_m < 1.0 {
        format!("{length_m:.1} m")
    } else {
        metres(crate::watch::units::Metres(length_m))
    };
    pen.put(x + 1, bottom, &words, scene.ink(Ink::Dim));
    pen.put(0, 0, up, scene.ink(Ink::Dim));
    if look.zoom != 0 {
        pen.put(0, 1, "0 shows the circle", scene.ink(Ink::Dim));
    }
    if scene.snap.antenna.is_none() && scene.snap.bow.is_none() {
        let why = if scene.snap.stage == Stage::NotSet {
            "no position yet"
        } else {
            "no position: the boat is not drawn"
        };
        pen.put_middle(area.height / 2 + 2, why, scene.ink(Ink::Trouble));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_point_of_the_track_is_found_on_both_sides() {
        let point = |s: i64| TrackPoint { at: WatchTime(s), point: Local::default() };
        let track = [point(10), point(20), point(30)];
        let found = |s| nearest(&track, WatchTime(s)).map(|p| p.at.0);
        assert_eq!([found(0), found(14), found(16), found(99)], [Some(10), Some(10), Some(20), Some(30)]);
        assert_eq!(nearest(&[], WatchTime(0)), None);
    }

    #[test]
    fn a_leaving_boat_widens_the_chart_in_steps() {
        assert_eq!(stepped(50.0).round(), 50.0);
        assert_eq!(stepped(51.0), stepped(60.0));
        assert!(stepped(1e9) >= 1e9 && stepped(f64::NAN) == 1.0);
    }
}
