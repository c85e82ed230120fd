//! How does the bottom slope, and what does that make of depth and pull about the anchor?
//!
//! A plane through the depths found, by least squares. A bottom that falls away from the anchor towards the bow turns the
//! pull: seen from the bottom it points up by the slope more than seen from the level, as if the bow stood so much higher.

use serde::{Deserialize, Serialize};

use super::boat::ranges::plan as ranges;
use super::geo::Local;
use super::units::{Metres, TrueBearing};

/// Soundings needed.
const LEAST_OF: usize = 8;
/// They must spread so far across as well as along, metres (standard deviation along the shorter axis).
const LEAST_SPREAD_M: f64 = 2.5;
/// A slope counts from so many of its own standard errors.
const SURE: f64 = 3.0;
/// Steeper is no anchorage but a mistake.
const STEEPEST: f64 = 0.6;

/// So much of the rode's length up is as good as up and down, and can still be calculated with.
const UP_AND_DOWN: f64 = 0.999;

/// A bottom that slopes evenly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Slope {
    /// The direction in which it falls.
    pub falls_to: TrueBearing,
    /// Metres deeper for every metre that way.
    pub gradient: f64,
}

/// The plane fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    /// Its slope.
    pub slope: Slope,
    /// Depth at the origin, by the same level as the soundings.
    pub depth: Metres,
    /// One standard error of the gradient.
    pub doubt: f64,
    /// What the soundings stray from the plane by, one standard deviation.
    pub rough: Metres,
    /// Soundings that it was fitted to.
    pub of: usize,
}

impl Slope {
    /// `120,5`: where the bottom falls to, degrees true, and by how much in 100.
    ///
    /// # Errors
    /// How one is written, or what is out of range.
    pub fn read(text: &str) -> Result<Self, String> {
        let parts: Vec<&str> = text.split([',', ' ']).filter(|part| !part.is_empty()).collect();
        let [to, percent] = parts[..] else {
            return Err("write where the bottom falls to and by how much in 100: 120,5".to_owned());
        };
        let falls_to = ranges::SLOPE_TO_DEG.read(to).map_err(|error| error.to_string())?;
        let percent = ranges::SLOPE_PERCENT.read(percent).map_err(|error| error.to_string())?;
        Ok(Self { falls_to: TrueBearing::new(falls_to), gradient: percent / 100.0 })
    }

    /// As [`Self::read`] reads it.
    #[must_use]
    pub fn typed(&self) -> String {
        // To a hundredth: what is typed in hundredths comes back as it was.
        let percent = (self.gradient * 1e4).round() / 100.0;
        format!("{},{percent}", self.falls_to.degrees())
    }

    /// How much deeper the bottom lies for every metre in a direction; negative: it rises.
    #[must_use]
    pub fn towards(&self, direction: TrueBearing) -> f64 {
        self.gradient * (direction.degrees() - self.falls_to.degrees()).to_radians().cos()
    }

    /// How much deeper it lies for every metre towards her bow at worst, when the wind comes from there and shifts by 45°;
    /// without a wind's direction in the direction in which it falls. Never negative: what rises takes nothing off the pull.
    #[must_use]
    pub fn downhill(&self, wind_from: Option<TrueBearing>) -> f64 {
        let Some(wind) = wind_from else { return self.gradient };
        let off = (wind.reversed().degrees() - self.falls_to.degrees() + 180.0).rem_euclid(360.0) - 180.0;
        (self.gradient * (off.abs() - 45.0).max(0.0).to_radians().cos()).max(0.0)
    }

    /// How much shoaler it lies for every metre towards her stern at worst, for the same winds.
    #[must_use]
    pub fn uphill(&self, wind_from: Option<TrueBearing>) -> f64 {
        Self { falls_to: self.falls_to.reversed(), ..*self }.downhill(wind_from)
    }

    /// How much deeper the bottom lies at a place than at the origin.
    #[must_use]
    pub fn deeper_at(&self, place: Local) -> Metres {
        Metres(self.gradient * Local::polar(self.falls_to, 1.0).dot(place))
    }

    /// "falls to 120° by 5 in 100".
    #[must_use]
    pub fn in_words(&self) -> String {
        format!("falls to {} by {:.0} in 100", self.falls_to, 100.0 * self.gradient)
    }
}

/// How high a bow roller, `height` above the bottom at the anchor, stands as the pull sees it with so much out, where the
/// bottom falls by `falls` for every metre towards her. Where it rises nothing is taken off; no straight rode reaches
/// farther than to where it would be up and down.
#[must_use]
pub fn seen_from(height: Metres, veered: Metres, falls: f64) -> Metres {
    (height + veered * falls.max(0.0)).min(veered * UP_AND_DOWN).max(height)
}

/// The plane through depths found at places about an origin; `None` where they are too few, lie in one line, or show no
/// slope beyond their own scatter.
#[must_use]
pub fn fit(found: &[(Local, Metres)]) -> Option<Fitted> {
    let of = found.len();
    if of < LEAST_OF {
        return None;
    }
    let n = of as f64;
    let mean = |value: &dyn Fn(&(Local, Metres)) -> f64| found.iter().map(value).sum::<f64>() / n;
    let (east, north, depth) = (mean(&|s| s.0.east_m), mean(&|s| s.0.north_m), mean(&|s| s.1.0));
    let product =
        |a: &dyn Fn(&(Local, Metres)) -> f64, b: &dyn Fn(&(Local, Metres)) -> f64| mean(&|s| a(s) * b(s));
    let (x, y, z) = (
        |s: &(Local, Metres)| s.0.east_m - east,
        |s: &(Local, Metres)| s.0.north_m - north,
        |s: &(Local, Metres)| s.1.0 - depth,
    );
    let (xx, yy, xy, xz, yz) =
        (product(&x, &x), product(&y, &y), product(&x, &y), product(&x, &z), product(&y, &z));
    let shorter = 0.5 * (xx + yy - ((xx - yy).powi(2) + 4.0 * xy * xy).sqrt());
    if shorter <= LEAST_SPREAD_M * LEAST_SPREAD_M {
        return None;
    }
    let determinant = xx * yy - xy * xy;
    let fall = Local::new((xz * yy - yz * xy) / determinant, (yz * xx - xz * xy) / determinant);
    let stray = mean(&|s| (z(s) - fall.east_m * x(s) - fall.north_m * y(s)).powi(2)) * n / (n - 3.0);
    let (gradient, doubt) = (fall.length_m(), (stray / (n * shorter)).sqrt());
    (gradient > SURE * doubt && gradient < STEEPEST).then(|| Fitted {
        slope: Slope { falls_to: fall.bearing(), gradient },
        depth: Metres(depth - fall.east_m * east - fall.north_m * north),
        doubt,
        rough: Metres(stray.sqrt()),
        of,
    })
}

/// Depths at the anchor and at so far from it to each of the eight points, from north clockwise.
#[must_use]
pub fn round(slope: &Slope, at_anchor: Metres, radius: Metres) -> [(TrueBearing, Metres); 8] {
    std::array::from_fn(|point| {
        let bearing = TrueBearing::new(45.0 * point as f64);
        (bearing, at_anchor + radius * slope.towards(bearing))
    })
}

/// Those depths as a small map, north up, one row a line.
#[must_use]
pub fn map(round: &[(TrueBearing, Metres); 8], at_anchor: Metres) -> [String; 5] {
    let at = |point: usize| format!("{:.1}", round[point].1.0);
    [
        format!("{:>16}", at(0)),
        format!("{:>9}{:>14}", at(7), at(1)),
        format!("{:>6}{:>10}{:>10}", at(6), format!("({:.1})", at_anchor.0), at(2)),
        format!("{:>9}{:>14}", at(5), at(3)),
        format!("{:>16}", at(4)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bottom of one in twelve towards 130°, sailed over in a figure of eight, a sounder rounding to 0.1 m.
    fn synthetic(gradient: f64) -> Vec<(Local, Metres)> {
        let bottom = Slope { falls_to: TrueBearing::new(130.0), gradient };
        (0..60)
            .map(|i| {
                let turn = f64::from(i) * 0.21;
                let place = Local::new(30.0 * turn.sin(), 22.0 * (2.0 * turn).sin() + 5.0);
                let depth = 5.3 + bottom.deeper_at(place).0;
                (place, Metres((depth * 10.0).round() / 10.0))
            })
            .collect()
    }

    #[test]
    fn the_slope_of_a_synthetic_bottom_comes_back() {
        let fitted = fit(&synthetic(1.0 / 12.0)).unwrap();
        assert!((fitted.slope.gradient - 1.0 / 12.0).abs() < 0.002, "{fitted:?}");
        assert!((fitted.slope.falls_to.degrees() - 130.0).abs() < 2.0, "{fitted:?}");
        assert!((fitted.depth.0 - 5.3).abs() < 0.03 && fitted.rough.0 < 0.05, "{fitted:?}");
    }

    #[test]
    fn a_level_bottom_a_straight_line_and_few_soundings_show_no_slope() {
        assert_eq!(fit(&synthetic(0.0)), None);
        let line: Vec<_> =
            (0..40).map(|i| (Local::new(f64::from(i), 0.0), Metres(4.0 + 0.1 * f64::from(i)))).collect();
        assert_eq!(fit(&line), None);
        assert_eq!(fit(&synthetic(0.1)[..5]), None);
    }

    #[test]
    fn it_is_shoaler_uphill_and_deeper_downhill() {
        let slope = Slope { falls_to: TrueBearing::new(90.0), gradient: 0.05 };
        let round = round(&slope, Metres(4.0), Metres(40.0));
        assert!((round[2].1.0 - 6.0).abs() < 1e-9 && (round[6].1.0 - 2.0).abs() < 1e-9, "{round:?}");
        assert!((round[0].1.0 - 4.0).abs() < 1e-9);
        assert_eq!(map(&round, Metres(4.0))[2], "   2.0     (4.0)       6.0");
    }
}
