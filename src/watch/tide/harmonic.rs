//! Height of tide from a place's harmonic constants, with f and u calculated at each moment.
//!
//! `h(t) = z0 + Σ f A cos(V + u - g)`: A and g are the place's amplitude and Greenwich phase lag, V the equilibrium
//! argument, f and u Schureman's node factor and angle (SP 98, paragraphs 1 to 9 and table 2).

use std::f64::consts::FRAC_PI_2;

use super::astro::{ANGLES, Phasor, Sky};
use super::constituent::Constituent;
use super::{MetresPerHour, Turn, TurnKind};
use crate::watch::units::{Metres, Span, WatchTime};

const MS_PER_HOUR: f64 = 3_600_000.0;

/// A constituent's constants at one place, as lists publish them.
#[derive(Clone, Debug, PartialEq)]
pub struct Constant {
    /// The constituent's name in any of the usual spellings.
    pub name: String,
    /// Half its range.
    pub amplitude: Metres,
    /// Greenwich phase lag g in degrees, for times in UTC.
    pub lag_deg: f64,
}

/// Constituents that the calculation leaves out because their names are unknown.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LeftOut {
    /// Their names, in the order given.
    pub names: Vec<String>,
    /// The sum of their amplitudes: the most that leaving them out can put a height wrong.
    pub amplitude: Metres,
}

/// A constituent's equilibrium argument and node corrections at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Modulation {
    /// Node factor f, on the amplitude.
    pub factor: f64,
    /// Node angle u, degrees.
    pub angle_deg: f64,
    /// Equilibrium argument V at Greenwich, degrees, `0.0..360.0`.
    pub argument_deg: f64,
}

/// The argument and node corrections of a constituent, to compare with published tables; `None` if its name is
/// unknown.
#[must_use]
pub fn modulation(name: &str, t: WatchTime) -> Option<Modulation> {
    let of = Constituent::named(name)?;
    let sky = Sky::at(t);
    let (factor, u) = of.modulation(&sky.nodes());
    let argument_deg = sky.argument(&of.numbers).to_degrees().rem_euclid(360.0);
    Some(Modulation { factor, angle_deg: u.to_degrees(), argument_deg })
}

/// A place's tide as a sum of constituents. Knows its height at any time, without end.
#[derive(Clone, Debug)]
pub struct Harmonic {
    mean_level: Metres,
    terms: Vec<Term>,
    /// Most times that any angle goes into any of them.
    times_most: usize,
    left_out: LeftOut,
}

#[derive(Clone, Debug)]
struct Term {
    of: Constituent,
    /// The same number for those that take the same node corrections.
    alike: usize,
    /// Amplitude in metres, at minus the lag, with the right angles of its argument.
    start: Phasor,
    /// Radians an hour.
    speed: f64,
}

impl Harmonic {
    /// From the height of mean level above the datum and the constants. Constants that are not finite are left out
    /// like unknown ones.
    #[must_use]
    pub fn new(mean_level: Metres, constants: &[Constant]) -> Self {
        let mut tide = Self { mean_level, terms: Vec::new(), times_most: 0, left_out: LeftOut::default() };
        for constant in constants {
            tide.add(constant);
        }
        tide
    }

    fn add(&mut self, constant: &Constant) {
        let finite = constant.amplitude.0.is_finite() && constant.lag_deg.is_finite();
        match Constituent::named(&constant.name).filter(|_| finite) {
            Some(of) => {
                let speed = Sky::speed(&of.numbers);
                let right_angles = f64::from(of.numbers[ANGLES - 1]) * FRAC_PI_2;
                let start = Phasor::polar(constant.amplitude.0, right_angles - constant.lag_deg.to_radians());
                let times = of.numbers.iter().map(|n| usize::from(n.unsigned_abs())).max().unwrap_or(0);
                self.times_most = self.times_most.max(times);
                // Those with the same corrections stand together, so that these are calculated once.
                let behind = self.terms.iter().rposition(|term| term.of.moves_with(&of));
                let (place, alike) = match behind {
                    Some(n) => (n + 1, self.terms[n].alike),
                    None => (self.terms.len(), self.terms.len()),
                };
                self.terms.insert(place, Term { of, alike, start, speed });
            }
            None => {
                self.left_out.names.push(constant.name.clone());
                if finite {
                    self.left_out.amplitude = self.left_out.amplitude + Metres(constant.amplitude.0.abs());
                }
            }
        }
    }

    /// The constituents that are not in it.
    #[must_use]
    pub fn left_out(&self) -> &LeftOut {
        &self.left_out
    }

    /// Height above the datum.
    #[must_use]
    pub fn height_at(&self, t: WatchTime) -> Metres {
        self.knot(t).0
    }

    /// How fast it rises; negative while it falls. The slow change of f and u is not in it.
    #[must_use]
    pub fn rate_at(&self, t: WatchTime) -> MetresPerHour {
        self.knot(t).1
    }

    fn knot(&self, t: WatchTime) -> (Metres, MetresPerHour) {
        let sky = Sky::at(t);
        let (turns, nodes) = (sky.turns(self.times_most), sky.nodes());
        let (mut height, mut rate) = (self.mean_level.0, 0.0);
        for alike in self.terms.chunk_by(|a, b| a.alike == b.alike) {
            let (mut level, mut slope) = (Phasor::NONE, Phasor::NONE);
            for term in alike {
                let now = turns.argument(term.start, &term.of.numbers);
                level = level.plus(now);
                slope = slope.plus(now.scaled(term.speed));
            }
            let nodal = alike[0].of.modulated(&nodes);
            height += level.times(nodal).re;
            rate -= slope.times(nodal).im;
        }
        (Metres(height), MetresPerHour(rate))
    }

    /// The same tide drawn as a curve from `from` to `until`, for looking up many heights: some 10 ns each instead
    /// of microseconds. `until` is moved back where the curve would be longer than `Curve::LONGEST`.
    #[must_use]
    pub fn curve(&self, from: WatchTime, until: WatchTime) -> Curve {
        let length = Span(until.since(from).0.clamp(0, Curve::LONGEST.0));
        let steps = (length.0 + Curve::STEP.0 - 1) / Curve::STEP.0;
        let knots = (0..=steps.max(1))
            .map(|i| {
                let (height, rate) = self.knot(from + Span(i * Curve::STEP.0));
                Knot { height_m: height.0, rate_m_per_h: rate.0 }
            })
            .collect();
        Curve { from, knots }
    }
}

/// A stretch of tide as heights and rates ten minutes apart, with cubics between (Hermite interpolation).
///
/// Between knots the cubic is wrong by at most `A ω⁴ step⁴ / 384`: for 5 m of M2, with ω = 0.506 rad/h and a sixth
/// of an hour, 0.7 µm.
#[derive(Clone, Debug)]
pub struct Curve {
    from: WatchTime,
    /// At least two.
    knots: Vec<Knot>,
}

#[derive(Clone, Copy, Debug)]
struct Knot {
    height_m: f64,
    rate_m_per_h: f64,
}

impl Curve {
    /// Time between knots.
    pub const STEP: Span = Span::from_mins(10);
    /// The longest stretch one curve covers.
    pub const LONGEST: Span = Span::from_mins(60 * 24 * 400);

    /// Where the curve begins.
    #[must_use]
    pub fn from(&self) -> WatchTime {
        self.from
    }

    /// Where the curve ends: up to one step later than was asked for.
    #[must_use]
    pub fn until(&self) -> WatchTime {
        self.from + Span((self.knots.len() as i64 - 1) * Self::STEP.0)
    }

    /// Height above the datum; `None` outside the curve.
    #[must_use]
    pub fn height_at(&self, t: WatchTime) -> Option<Metres> {
        let (cubic, x) = self.cubic_at(t)?;
        Some(Metres(cubic.height_m(x)))
    }

    /// How fast it rises; `None` outside the curve.
    #[must_use]
    pub fn rate_at(&self, t: WatchTime) -> Option<MetresPerHour> {
        let (cubic, x) = self.cubic_at(t)?;
        Some(MetresPerHour(cubic.slope_m(x) / Cubic::HOURS))
    }

    /// High and low waters within the curve, in order of time; kinds alternate. One at its first moment is not seen.
    #[must_use]
    pub fn turns(&self) -> Vec<Turn> {
        self.turns_between(self.from, self.until())
    }

    /// High and low waters of the curve from `from` to `until`, both included.
    #[must_use]
    pub fn turns_between(&self, from: WatchTime, until: WatchTime) -> Vec<Turn> {
        let last = self.knots.len() - 2;
        let step_of =
            |t: WatchTime| usize::try_from(t.since(self.from).0 / Self::STEP.0).unwrap_or(0).min(last);
        // A step early: a turn on a knot belongs to the step before it.
        let steps = step_of(from).saturating_sub(1)..=step_of(until);
        steps.filter_map(|i| self.turn_in(i)).filter(|turn| (from..=until).contains(&turn.at)).collect()
    }

    /// The turn between knot `i` and the next.
    fn turn_in(&self, i: usize) -> Option<Turn> {
        let (left, right) = (self.knots[i], self.knots[i + 1]);
        let cubic = Cubic::between(left, right);
        let x = cubic.turn()?;
        let kind = if left.rate_m_per_h > 0.0 { TurnKind::High } else { TurnKind::Low };
        let at = self.from + Span(i as i64 * Self::STEP.0 + (x * Self::STEP.0 as f64).round() as i64);
        Some(Turn { at, height: Metres(cubic.height_m(x)), kind })
    }

    fn cubic_at(&self, t: WatchTime) -> Option<(Cubic, f64)> {
        let since = t.since(self.from).0;
        if since < 0 || t > self.until() {
            return None;
        }
        let i = usize::try_from(since / Self::STEP.0).ok()?.min(self.knots.len() - 2);
        let x = (since - i as i64 * Self::STEP.0) as f64 / Self::STEP.0 as f64;
        Some((Cubic::between(self.knots[i], self.knots[i + 1]), x))
    }
}

/// The cubic between two knots: `h(x) = a + b x + c x² + d x³` for x from 0 to 1.
#[derive(Clone, Copy)]
struct Cubic {
    a: f64,
    b: f64,
    c: f64,
    d: f64,
}

impl Cubic {
    const HOURS: f64 = Curve::STEP.0 as f64 / MS_PER_HOUR;

    fn between(left: Knot, right: Knot) -> Self {
        let (b, b_right) = (left.rate_m_per_h * Self::HOURS, right.rate_m_per_h * Self::HOURS);
        let rise = right.height_m - left.height_m;
        Self { a: left.height_m, b, c: 3.0 * rise - 2.0 * b - b_right, d: b + b_right - 2.0 * rise }
    }

    fn height_m(self, x: f64) -> f64 {
        ((self.d * x + self.c) * x + self.b) * x + self.a
    }

    /// dh/dx.
    fn slope_m(self, x: f64) -> f64 {
        (3.0 * self.d * x + 2.0 * self.c) * x + self.b
    }

    /// Where the slope changes sign: at or after the left knot, before the right.
    fn turn(self) -> Option<f64> {
        let (left, right) = (self.slope_m(0.0), self.slope_m(1.0));
        let changes = (left > 0.0 && right <= 0.0) || (left < 0.0 && right >= 0.0);
        if !changes {
            return None;
        }
        let root = (self.c * self.c - 3.0 * self.d * self.b).max(0.0).sqrt();
        // The form of the quadratic's roots that loses no digits where d is nearly nothing.
        let q = -(self.c + root.copysign(self.c));
        [self.b / q, q / (3.0 * self.d)]
            .into_iter()
            .find(|x| (0.0..=1.0).contains(x))
            .or(Some(left / (left - right)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sum as Schureman writes it, a cosine for each constituent.
    fn plainly(constants: &[Constant], t: WatchTime) -> f64 {
        let sky = Sky::at(t);
        let known = constants.iter().filter_map(|c| Some((c, Constituent::named(&c.name)?)));
        known
            .map(|(constant, of)| {
                let (f, u) = of.modulation(&sky.nodes());
                let phase = sky.argument(&of.numbers) + u - constant.lag_deg.to_radians();
                f * constant.amplitude.0 * phase.cos()
            })
            .sum()
    }

    #[test]
    fn phases_added_by_multiplying_are_the_phases_added() {
        const NAMES: [&str; 36] = [
            "M2", "S2", "N2", "K2", "K1", "O1", "P1", "Q1", "M1", "J1", "OO1", "L2", "ETA2", "M3", "MM",
            "MF", "SA", "SSA", "T2", "R2", "2N2", "NU2", "LAMBDA2", "M4", "MS4", "MN4", "MK3", "2MS2",
            "2MK5", "MSK6", "2SM2", "MKS2", "M6", "M8", "4MS10", "M12",
        ];
        let constants: Vec<Constant> = (0_u32..)
            .zip(NAMES)
            .map(|(n, name)| Constant {
                name: name.to_owned(),
                amplitude: Metres(0.1 + 0.01 * f64::from(n)),
                lag_deg: 37.0 * f64::from(n),
            })
            .collect();
        assert!(constants.iter().all(|constant| Constituent::named(&constant.name).is_some()));
        let tide = Harmonic::new(Metres(0.0), &constants);
        for days in [0, 4000, 9125, 20_454, 30_000] {
            let t = WatchTime(days * 86_400_000 + 12_345_678);
            let off = tide.height_at(t).0 - plainly(&constants, t);
            assert!(off.abs() < 1e-10, "{days}: {off:e}");
        }
    }
}
