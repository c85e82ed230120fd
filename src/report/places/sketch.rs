//! A place as a sketch on A4: marks where they are seen from it, depths found, winds not to lie in, and what is known.

use std::f64::consts::SQRT_2;

use super::page;
use crate::report::svg::{Anchor, Spot, Svg, marks};
use crate::watch::boat::Sector;
use crate::watch::geo::{Local, Plane};
use crate::watch::place::{Day, Place, PlaceSounding};

/// A4 at 96 units an inch.
const PAGE: Spot = (794.0, 1123.0);
/// The sketch's middle, and half its side.
const MIDDLE: Spot = (397.0, 350.0);
const HALF: f64 = 280.0;
/// Ground that is shown at least and at most, from the middle, metres. Marks farther off stand at the edge.
const LEAST_M: f64 = 60.0;
const MOST_M: f64 = 1500.0;
/// Depths nearer to each other than this cannot be read: the shoaler one stands.
const APART: f64 = 26.0;
const LINE: f64 = 16.0;

/// The sketch as SVG; `today` decides which notes are in force.
#[must_use]
pub fn sketch(place: &Place, today: Option<Day>) -> String {
    let mut drawing = Drawing::new(place);
    drawing.ground(place);
    drawing.depths(place);
    drawing.marks(place);
    let mut y = MIDDLE.1 + HALF + 60.0;
    for line in page(place, today).lines() {
        drawing.svg.text("mono", (MIDDLE.0 - HALF, y), Anchor::Start, &line.replace(' ', "\u{a0}"));
        y += LINE;
    }
    let about =
        "Marks, depths at datum and winds not to lie in, about the place where one anchors; north is up.";
    drawing.svg.file((PAGE.0, PAGE.1.max(y + LINE)), &place.name, about)
}

struct Drawing {
    svg: Svg,
    plane: Plane,
    /// Metres of half a side.
    reach_m: f64,
}

impl Drawing {
    fn new(place: &Place) -> Self {
        let plane = Plane::new(place.position);
        let far = |at| plane.to_local(at).length_m();
        let soundings = place.soundings.iter().map(|sounding| far(sounding.position));
        let marks = place.marks.iter().map(|(_, position)| far(*position)).filter(|far| *far <= MOST_M);
        let farthest = soundings.chain(marks).filter(|far| far.is_finite()).fold(LEAST_M, f64::max);
        Self { svg: Svg::default(), plane, reach_m: (farthest * 1.15).min(MOST_M) }
    }

    fn spot(&self, at: Local) -> Spot {
        from_middle(at.scaled(HALF / self.reach_m))
    }

    /// North, scale, the place, and the winds not to lie in.
    fn ground(&mut self, place: &Place) {
        for sector in &place.barred {
            self.barred(*sector);
        }
        let (x, y) = MIDDLE;
        self.svg.rect("axis", (x - HALF, y - HALF), (2.0 * HALF, 2.0 * HALF));
        self.svg.line("cross", (x - 7.0, y), (x + 7.0, y));
        self.svg.line("cross", (x, y - 7.0), (x, y + 7.0));
        self.svg.text("mono head", (x, y - HALF - 12.0), Anchor::Middle, &place.name);
        self.svg.text("mono", (x + HALF, y - HALF - 12.0), Anchor::End, "north up");
        let Some(length_m) = marks(0.0, self.reach_m, 4.0).into_iter().nth(1) else { return };
        let long = length_m * HALF / self.reach_m;
        let base = y + HALF + 20.0;
        self.svg.line("limit", (x - HALF, base), (x - HALF + long, base));
        self.svg.text(
            "mono",
            (x - HALF + long + 8.0, base + 4.0),
            Anchor::Start,
            &format!("{length_m:.0} m; depths in m at datum"),
        );
    }

    /// A wedge from the edge inwards, hatched: wind from there is not to be lain in.
    fn barred(&mut self, Sector { from, to }: Sector) {
        let wide = (to.degrees() - from.degrees()).rem_euclid(360.0);
        let steps = (wide / 3.0).ceil().max(1.0) as u32;
        let bearings = (0..=steps).map(|i| from.turned(wide * f64::from(i) / f64::from(steps)));
        let ring = |far: f64| -> Vec<Spot> {
            bearings.clone().map(|bearing| from_middle(Local::polar(bearing, far))).collect()
        };
        let (outer, inner) = (ring(HALF * 0.98), ring(HALF * 0.80));
        let corners: Vec<Spot> = outer.iter().copied().chain(inner.into_iter().rev()).collect();
        self.svg.area("gap", &corners);
        self.svg.path("alarm", &outer);
    }

    /// Depths where they were found, the shoaler of two that are too near to each other to be read.
    fn depths(&mut self, place: &Place) {
        let mut found: Vec<&PlaceSounding> = place.soundings.iter().collect();
        found.sort_by(|a, b| a.charted.0.total_cmp(&b.charted.0));
        let mut drawn: Vec<Spot> = Vec::new();
        for sounding in found {
            let at = self.spot(self.plane.to_local(sounding.position));
            if inside(at) && drawn.iter().all(|other| (other.0 - at.0).hypot(other.1 - at.1) > APART) {
                let words = format!("{:.1}", sounding.charted.0);
                self.svg.text("mono", (at.0, at.1 + 4.0), Anchor::Middle, &words);
                drawn.push(at);
            }
        }
    }

    /// Marks with their bearing and distance; one beyond the sketch stands at its edge.
    fn marks(&mut self, place: &Place) {
        for (name, position) in &place.marks {
            let local = self.plane.to_local(*position);
            let spot = self.spot(local);
            let (bearing, far) = (local.bearing(), local.length_m());
            let from = |share: f64| from_middle(Local::polar(bearing, HALF * share));
            let shown = if inside(spot) { spot } else { from(0.9) };
            self.svg.line("dashed", from(0.06), shown);
            self.svg.circle("limit", shown, 4.0);
            let end = if shown.0 > MIDDLE.0 + HALF / SQRT_2 { Anchor::End } else { Anchor::Start };
            let words = format!("{name} {bearing}, {far:.0} m");
            self.svg.text(
                "mono head",
                (shown.0 + if end == Anchor::End { -8.0 } else { 8.0 }, shown.1 - 6.0),
                end,
                &words,
            );
        }
    }
}

/// A way from the sketch's middle, north up, in its own units.
fn from_middle(way: Local) -> Spot {
    (MIDDLE.0 + way.east_m, MIDDLE.1 - way.north_m)
}

fn inside(spot: Spot) -> bool {
    (spot.0 - MIDDLE.0).abs() <= HALF * 0.96 && (spot.1 - MIDDLE.1).abs() <= HALF * 0.96
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::Position;
    use crate::watch::units::{Metres, TrueBearing, WatchTime};

    #[test]
    fn a_sketch_has_marks_depths_and_sectors_and_escapes_their_names() {
        let at = |east: f64, north: f64| {
            Plane::new(Position::new(54.2, 10.4).unwrap()).to_position(Local::new(east, north))
        };
        let mut place = Place::new("Hollow <Ness>", at(0.0, 0.0));
        place.marks = vec![("beacon".into(), at(200.0, 0.0)), ("far church".into(), at(0.0, 9000.0))];
        place.barred = vec![Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(30.0) }];
        let sounding = |east: f64, charted: f64| PlaceSounding {
            position: at(east, 10.0),
            charted: Metres(charted),
            on: WatchTime(0),
        };
        place.soundings = vec![sounding(20.0, 2.4), sounding(21.0, 1.8), sounding(-90.0, -0.4)];
        let svg = sketch(&place, None);
        assert!(svg.contains("beacon 090°, 200 m") && svg.contains("far church 000°, 9000 m"), "{svg}");
        assert!(
            svg.contains(">1.8<") && svg.contains(">-0.4<") && !svg.contains(">2.4<"),
            "the shoaler stands"
        );
        assert!(svg.contains("class=\"gap\"") && svg.contains("Hollow &lt;Ness&gt;"));
        // A place of which nothing is known is drawn too.
        assert!(sketch(&Place::new("x", at(0.0, 0.0)), None).contains("north up"));
    }
}
