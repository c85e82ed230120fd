//! Bearings by eye: from where in the circle is a mark seen how, and where is she by three of them?
//!
//! Angles are computed on the plane about the drop point. A mark a few miles off is seen under the same bearing from the
//! whole circle to within a fraction of a degree; a near one swings through its arc as she swings.

mod acts;

use std::f64::consts::TAU;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

pub(super) use self::acts::{Marks, Swing};
use super::geo::{Local, Position};
use super::units::{Metres, TrueBearing, WatchTime};

/// How a mark is entered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "at")]
pub enum MarkEntered {
    /// A position from the chart.
    Position {
        /// There.
        position: Position,
    },
    /// By a bearing from the bow as it lies now, and how far it is thought to be.
    FromBow {
        /// True bearing.
        bearing: TrueBearing,
        /// Estimated distance.
        distance: Metres,
    },
    /// Two marks that have been entered, in line.
    InLine {
        /// The nearer one's name.
        near: String,
        /// The farther one's name.
        far: String,
    },
}

/// The bearings under which a mark is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bearings {
    /// From every side: it lies within the circle.
    AllRound,
    /// Clockwise from one bearing to another.
    Between {
        /// The first.
        from: TrueBearing,
        /// The last.
        to: TrueBearing,
    },
}

/// The arc of bearings under which a mark is seen from anywhere in a circle about the origin.
///
/// # Formula
/// For a mark at distance `d` and bearing `b` of the centre, and radius `r < d`: from `b − asin(r/d)` to `b + asin(r/d)`,
/// the tangents; else it is seen under every bearing. Plane geometry.
#[must_use]
pub fn arc(mark: Local, radius: Metres) -> Bearings {
    let distance_m = mark.length_m();
    if !(radius.0 >= 0.0 && distance_m > radius.0) {
        return Bearings::AllRound;
    }
    let half_deg = (radius.0 / distance_m).asin().to_degrees();
    let middle = mark.bearing();
    Bearings::Between { from: middle.turned(-half_deg), to: middle.turned(half_deg) }
}

impl Bearings {
    /// Degrees that a bearing lies outside the arc; 0 within.
    #[must_use]
    pub fn outside_by_deg(self, bearing: TrueBearing) -> f64 {
        let Self::Between { from, to } = self else { return 0.0 };
        let width = (to.degrees() - from.degrees()).rem_euclid(360.0);
        let into = (bearing.degrees() - from.degrees()).rem_euclid(360.0);
        if into <= width { 0.0 } else { (into - width).min(360.0 - into) }
    }
}

/// The greatest angle by which two marks in line can be seen apart from anywhere in a circle about the origin, degrees.
/// `None` if one of them lies within it.
///
/// The angle has no maximum inside the circle away from the marks, so its edge is searched: steps of half a degree, the
/// greatest refined.
#[must_use]
pub fn opening_deg(near: Local, far: Local, radius: Metres) -> Option<f64> {
    if near.length_m() <= radius.0 || far.length_m() <= radius.0 {
        return None;
    }
    let apart = |angle: f64| {
        let from = Local::new(radius.0 * angle.sin(), radius.0 * angle.cos());
        (near - from).bearing().turn_to((far - from).bearing()).abs()
    };
    let steps = 720;
    let step = TAU / f64::from(steps);
    let best = (0..steps).map(|i| f64::from(i) * step).max_by(|a, b| apart(*a).total_cmp(&apart(*b)))?;
    let (mut low, mut high) = (best - step, best + step);
    for _ in 0..60 {
        let third = (high - low) / 3.0;
        if apart(low + third) < apart(high - third) { low += third } else { high -= third }
    }
    Some(apart((low + high) / 2.0))
}

/// A fix by three bearings: the cocked hat of their lines and the point nearest to all three.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossFix {
    /// Where the lines 1 and 2, 2 and 3, 3 and 1 cross.
    pub hat: [Local; 3],
    /// Its longest side.
    pub longest_side: Metres,
    /// The point from which the squares of the distances to the lines sum to the least.
    pub point: Local,
}

/// The fix by three marks and the bearings under which they are seen; `None` where two lines are as good as parallel.
///
/// # Formula
/// A line through mark `m` with bearing `b` is `e·cos b − n·sin b = mₑ·cos b − mₙ·sin b`. Two of them cross where both
/// hold; the least squares of all three are their normal equations, 2 by 2.
#[must_use]
pub fn cross_fix(sights: [(Local, TrueBearing); 3]) -> Option<CrossFix> {
    let line = |(mark, bearing): (Local, TrueBearing)| {
        let (sin, cos) = bearing.radians().sin_cos();
        (cos, -sin, mark.east_m * cos - mark.north_m * sin)
    };
    let lines = sights.map(line);
    let cross = |i: usize, j: usize| {
        let ((a, b, c), (d, e, f)) = (lines[i], lines[j]);
        let determinant = a * e - b * d;
        // Lines within half a degree of parallel cross anywhere.
        (determinant.abs() > 0.0087)
            .then(|| Local::new((c * e - b * f) / determinant, (a * f - c * d) / determinant))
    };
    let hat = [cross(0, 1)?, cross(1, 2)?, cross(2, 0)?];
    let (mut aa, mut ab, mut bb, mut ac, mut bc) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (a, b, c) in lines {
        aa += a * a;
        ab += a * b;
        bb += b * b;
        ac += a * c;
        bc += b * c;
    }
    let determinant = aa * bb - ab * ab;
    let point = Local::new((ac * bb - ab * bc) / determinant, (aa * bc - ab * ac) / determinant);
    let side = |i: usize, j: usize| (hat[i] - hat[j]).length_m();
    let longest_side = Metres(side(0, 1).max(side(1, 2)).max(side(2, 0)));
    Some(CrossFix { hat, longest_side, point })
}

/// A bearing taken by hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakenView {
    /// When.
    pub at: WatchTime,
    /// True bearing.
    pub bearing: TrueBearing,
    /// Degrees outside the arc of the set circle; 0 within.
    pub outside_deg: f64,
    /// The bearing by hand less the one from the bow by the receiver, degrees.
    pub off_fix_deg: Option<f64>,
}

/// A mark as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkView {
    /// Its name.
    pub name: Arc<str>,
    /// Where it is; of two in line, the nearer.
    pub point: Local,
    /// Where the farther of two in line is.
    pub far: Option<Local>,
    /// Distance from the drop point.
    pub distance: Metres,
    /// Bearing from the drop point.
    pub bearing: TrueBearing,
    /// Bearings from anywhere in the circle that is set.
    pub arc: Bearings,
    /// Bearings from anywhere that she can reach now, by the tide.
    pub arc_now: Bearings,
    /// Bearing from the bow (else the antenna) now.
    pub seen: Option<TrueBearing>,
    /// Two in line: the most that they can open, degrees, from anywhere in the circle.
    pub opening_deg: Option<f64>,
    /// Two in line: how far they are open now, degrees.
    pub open_now_deg: Option<f64>,
    /// The last bearing taken by hand.
    pub taken: Option<TakenView>,
}

/// Where she is by bearings of three marks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossView {
    /// When the last of the three was taken.
    pub at: WatchTime,
    /// The fix.
    pub fix: CrossFix,
    /// From the bow (else the antenna) by the receiver to the fix: how far, which way.
    pub off: Option<(Metres, TrueBearing)>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rows of a reference file as numbers; empty fields are `None`.
    fn rows(text: &str) -> Vec<Vec<Option<f64>>> {
        text.lines().skip(1).map(|line| line.split(',').map(|field| field.parse().ok()).collect()).collect()
    }

    fn apart_deg(a: TrueBearing, b: f64) -> f64 {
        a.turn_to(TrueBearing::new(b)).abs()
    }

    /// Source: a numerical search over the circle with shapely and scipy, tests/reference/gen_bearings.py.
    #[test]
    fn arcs_agree_with_a_numerical_search_over_the_circle() {
        let rows = rows(include_str!("../../tests/reference/swing_bearing.csv"));
        assert_eq!(rows.len(), 80);
        for row in rows {
            let number = |i: usize| row[i].unwrap();
            let mark = Local::new(number(3), number(4));
            match (arc(mark, Metres(number(0))), row[6], row[7]) {
                (Bearings::AllRound, None, None) => {}
                (Bearings::Between { from, to }, Some(first), Some(last)) => {
                    assert!(apart_deg(from, first) < 1e-5 && apart_deg(to, last) < 1e-5, "{row:?}");
                }
                (other, ..) => panic!("{other:?}: {row:?}"),
            }
        }
    }

    /// Source: shapely's intersections and numpy's least squares, tests/reference/gen_bearings.py; tolerance 1 mm and,
    /// where flat crossings magnify the six decimals of its input, a part in a hundred thousand of the hat.
    #[test]
    fn cross_fixes_agree_with_shapely_and_numpy() {
        let rows = rows(include_str!("../../tests/reference/cross_fix.csv"));
        assert_eq!(rows.len(), 50);
        for row in rows {
            let number = |i: usize| row[i].unwrap();
            let sight = |i: usize| (Local::new(number(i), number(i + 1)), TrueBearing::new(number(i + 2)));
            let fix = cross_fix([sight(3), sight(6), sight(9)]).unwrap();
            let tolerance = 1e-3 + 1e-5 * number(19);
            for (corner, i) in fix.hat.iter().zip([12, 14, 16]) {
                let expected = Local::new(number(i), number(i + 1));
                assert!((*corner - expected).length_m() < tolerance, "{row:?}\n{fix:?}");
            }
            assert!((fix.longest_side.0 - number(19)).abs() < tolerance, "{row:?}");
            let point = Local::new(number(24), number(25));
            assert!((fix.point - point).length_m() < tolerance, "{row:?}\n{fix:?}");
        }
    }

    #[test]
    fn a_bearing_lies_outside_an_arc_by_the_shorter_way() {
        let arc = Bearings::Between { from: TrueBearing::new(350.0), to: TrueBearing::new(20.0) };
        let outside = |deg| arc.outside_by_deg(TrueBearing::new(deg));
        assert_eq!([355.0, 0.0, 20.0, 25.0, 340.0].map(outside), [0.0, 0.0, 0.0, 5.0, 10.0]);
        assert_eq!(Bearings::AllRound.outside_by_deg(TrueBearing::new(3.0)), 0.0);
    }

    /// Two marks in line 200 m and 1000 m off, seen from 40 m abeam: the far one opens by atan(40/200) − atan(40/1000).
    #[test]
    fn a_transit_opens_most_from_the_edge_of_the_circle() {
        let opening = opening_deg(Local::new(0.0, 200.0), Local::new(0.0, 1000.0), Metres(40.0)).unwrap();
        let abeam = (0.2_f64.atan() - 0.04_f64.atan()).to_degrees();
        assert!(opening >= abeam && opening < abeam * 1.05, "{opening} {abeam}");
        assert_eq!(opening_deg(Local::new(0.0, 30.0), Local::new(0.0, 99.0), Metres(40.0)), None);
    }

    #[test]
    fn parallel_bearings_give_no_fix() {
        let sight = |east: f64, bearing: f64| (Local::new(east, 500.0), TrueBearing::new(bearing));
        assert_eq!(cross_fix([sight(0.0, 0.0), sight(50.0, 0.2), sight(300.0, 40.0)]), None);
    }
}
