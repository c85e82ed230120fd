//! From metres about the anchor to dots on the sheet: the only geometry that the screen does.

use std::f64::consts::TAU;

use super::dots::{Dot, Dots, Pattern};
use super::palette::Ink;
use crate::watch::boat::Hull;
use crate::watch::geo::Local;
use crate::watch::units::TrueBearing;

/// A plan of the water: what point is in the middle, how large, and which way is up.
#[derive(Clone, Copy, Debug)]
pub struct Chart {
    /// The point in the middle.
    pub centre: Local,
    /// Metres from one dot to the next one below.
    pub metres_per_dot: f64,
    /// The bearing that points up.
    pub up: TrueBearing,
    /// The middle of the sheet in dots.
    pub middle: Dot,
    /// Dots across for each dot down at the same distance: 1 where a cell is twice as high as wide.
    pub across: f64,
}

impl Chart {
    /// A chart on the sheet that shows everything within `radius_m` of `centre`.
    #[must_use]
    pub fn fitting(dots: &Dots, cell_aspect: f64, centre: Local, radius_m: f64, up: TrueBearing) -> Self {
        let aspect = if cell_aspect.is_finite() { cell_aspect.clamp(0.2, 2.0) } else { 0.5 };
        let across = 1.0 / (2.0 * aspect);
        let half = (dots.width() / across).min(dots.height()) / 2.0;
        let radius_m = if radius_m.is_finite() { radius_m.max(1.0) } else { 1.0 };
        Self {
            centre,
            metres_per_dot: radius_m / half.max(1.0),
            up,
            middle: (dots.width() / 2.0, dots.height() / 2.0),
            across,
        }
    }

    /// The dot of a point on the plane.
    #[must_use]
    pub fn dot(&self, point: Local) -> Dot {
        let off = point - self.centre;
        let (sin, cos) = self.up.radians().sin_cos();
        let right = off.east_m * cos - off.north_m * sin;
        let ahead = off.east_m * sin + off.north_m * cos;
        (
            self.middle.0 + right / self.metres_per_dot * self.across,
            self.middle.1 - ahead / self.metres_per_dot,
        )
    }

    /// The dot so many dots (down the sheet) from the middle on a bearing.
    #[must_use]
    pub fn rim(&self, bearing: TrueBearing, dots: f64) -> Dot {
        let (sin, cos) = bearing.turned(-self.up.degrees()).radians().sin_cos();
        (self.middle.0 + dots * sin * self.across, self.middle.1 - dots * cos)
    }

    /// Points round an ellipse on the plane, closed.
    #[must_use]
    pub fn ellipse(&self, centre: Local, major_m: f64, minor_m: f64, axis: TrueBearing) -> Vec<Dot> {
        (0..=180)
            .map(|i| {
                let (sin, cos) = (f64::from(i) * TAU / 180.0).sin_cos();
                let along = Local::polar(axis, major_m * cos);
                self.dot(centre + along + Local::polar(axis.turned(90.0), minor_m * sin))
            })
            .collect()
    }

    /// Points round a circle on the plane, closed.
    #[must_use]
    pub fn circle(&self, centre: Local, radius_m: f64) -> Vec<Dot> {
        self.ellipse(centre, radius_m, radius_m, TrueBearing::new(0.0))
    }

    /// The boat's outline from above: one polygon for each hull, and what joins them.
    #[must_use]
    pub fn boat(
        &self,
        bow: Local,
        heading: TrueBearing,
        hull: Hull,
        loa_m: f64,
        beam_m: f64,
    ) -> Vec<Vec<Dot>> {
        let at = |aft: f64, starboard: f64| {
            self.dot(
                bow + Local::polar(heading, -aft * loa_m)
                    + Local::polar(heading.turned(90.0), starboard * beam_m),
            )
        };
        let shape = |outline: &[(f64, f64)], middle: f64, breadth: f64| -> Vec<Dot> {
            let port = outline.iter().rev().map(|&(aft, side)| at(aft, middle - side * breadth));
            outline.iter().map(|&(aft, side)| at(aft, middle + side * breadth)).chain(port).collect()
        };
        // Half breadths along the length, as parts of the greatest breadth: a plausible yacht, nothing more.
        const SLOOP: [(f64, f64); 6] =
            [(0.0, 0.0), (0.12, 0.2), (0.3, 0.4), (0.55, 0.5), (0.85, 0.42), (1.0, 0.34)];
        match hull {
            Hull::Monohull => vec![shape(&SLOOP, 0.0, 1.0)],
            Hull::Catamaran => vec![shape(&SLOOP, -0.38, 0.24), shape(&SLOOP, 0.38, 0.24), self.deck(&at)],
            Hull::Trimaran => vec![
                shape(&SLOOP, 0.0, 0.28),
                shape(&SLOOP, -0.44, 0.12),
                shape(&SLOOP, 0.44, 0.12),
                self.deck(&at),
            ],
        }
    }

    fn deck(&self, at: &impl Fn(f64, f64) -> Dot) -> Vec<Dot> {
        vec![at(0.35, -0.38), at(0.35, 0.38), at(0.7, 0.38), at(0.7, -0.38)]
    }
}

/// An arrow of `length` dots whose tip is at `tip` and which points along `direction` (across, down).
pub fn arrow(dots: &mut Dots, tip: Dot, direction: Dot, length: f64, pattern: Pattern, ink: Ink, layer: u8) {
    let back = |by: f64, side: f64| {
        (tip.0 - direction.0 * by - direction.1 * side, tip.1 - direction.1 * by + direction.0 * side)
    };
    dots.path(&[tip, back(length, 0.0)], pattern, ink, layer);
    let head = (length * 0.45).clamp(2.0, 5.0);
    dots.fill(&[tip, back(head, head * 0.55), back(head, -head * 0.55)], ink, layer);
}

/// The round length for a scale bar that is at most `most_m` long: 1, 2 or 5 times a power of ten.
#[must_use]
pub fn scale_length_m(most_m: f64) -> f64 {
    if !(most_m.is_finite() && most_m > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(most_m.log10().floor());
    let steps = [5.0, 2.0, 1.0];
    steps.into_iter().map(|step| step * power).find(|length| *length <= most_m).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::layout::Rect;

    fn chart(up_deg: f64, cell_aspect: f64) -> Chart {
        let dots = Dots::new(Rect::new(0, 0, 40, 20));
        Chart::fitting(&dots, cell_aspect, Local::default(), 40.0, TrueBearing::new(up_deg))
    }

    #[test]
    fn what_is_up_lies_above_the_middle() {
        let (x, y) = chart(0.0, 0.5).dot(Local::new(0.0, 40.0));
        assert!((x - 40.0).abs() < 1e-9 && y.abs() < 1e-9);
        let (x, y) = chart(90.0, 0.5).dot(Local::new(40.0, 0.0));
        assert!((x - 40.0).abs() < 1e-9 && y.abs() < 1e-9);
    }

    #[test]
    fn a_circle_is_round_on_any_shape_of_cell() {
        for aspect in [0.4, 0.5, 0.6] {
            let chart = chart(0.0, aspect);
            let (right, _) = chart.dot(Local::new(20.0, 0.0));
            let (_, top) = chart.dot(Local::new(0.0, 20.0));
            // A dot is half a cell wide and a quarter of a cell high.
            let (width, height) = ((right - 40.0) * aspect / 2.0, (40.0 - top) / 4.0);
            assert!((width - height).abs() < 1e-9, "{aspect}: {width} {height}");
        }
    }

    #[test]
    fn scale_bars_have_round_lengths() {
        assert_eq!([0.7, 14.0, 26.0, 999.0].map(scale_length_m), [0.5, 10.0, 20.0, 500.0]);
        assert_eq!(scale_length_m(f64::NAN), 1.0);
    }
}
