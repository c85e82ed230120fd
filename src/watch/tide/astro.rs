//! Where sun and moon stand, as the tide counts it: mean longitudes, and Schureman's node factors.
//!
//! # Sources
//! Mean longitudes: J. Meeus, *Astronomical Algorithms*, 2nd ed. (1998), chapters 25 and 47. Node factors and angles:
//! P. Schureman, *Manual of Harmonic Analysis and Prediction of Tides*, US Coast and Geodetic Survey Special
//! Publication 98 (1940, reprinted 1958); equation numbers are given beside each.

use std::f64::consts::{PI, TAU};

use crate::watch::units::WatchTime;

/// 2000 January 1, 12:00, in milliseconds since the Unix epoch. UTC stands in for dynamical time: the minute or so
/// between them moves the moon by 0.01°.
const J2000_MS: f64 = 946_728_000_000.0;
const MS_PER_DAY: f64 = 86_400_000.0;
const DAYS_PER_CENTURY: f64 = 36_525.0;
const HOURS_PER_CENTURY: f64 = DAYS_PER_CENTURY * 24.0;

/// How many angles an equilibrium argument is put together from.
pub(super) const ANGLES: usize = 6;

/// Mean longitudes in degrees as polynomials in Julian centuries from J2000.
const MOON: [f64; 3] = [218.316_447_7, 481_267.881_234_21, -0.001_578_6];
const SUN: [f64; 3] = [280.466_46, 36_000.769_83, 0.000_303_2];
const LUNAR_PERIGEE: [f64; 3] = [83.353_246_5, 4_069.013_728_7, -0.010_320];
const LUNAR_NODE: [f64; 3] = [125.044_547_9, -1_934.136_289_1, 0.002_075_4];
/// The sun's mean longitude less its mean anomaly.
const SOLAR_PERIGEE: [f64; 3] = [282.937_35, 1.719_53, 0.000_456_9];

fn polynomial(c: [f64; 3], t: f64) -> f64 {
    (c[2] * t + c[1]) * t + c[0]
}

/// The angles at one moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sky {
    /// τ, s, h, p, p′ and a right angle, in radians, in the order of Doodson's numbers without the node. τ is
    /// lunar time counted from the moon's lower transit.
    angles: [f64; ANGLES],
    /// Longitude of the moon's ascending node, radians.
    node: f64,
}

impl Sky {
    pub(super) fn at(t: WatchTime) -> Self {
        let days = (t.0 as f64 - J2000_MS) / MS_PER_DAY;
        let centuries = days / DAYS_PER_CENTURY;
        let longitude = |c| (polynomial(c, centuries) % 360.0).to_radians();
        let (s, h) = (longitude(MOON), longitude(SUN));
        // Mean solar time from midnight.
        let solar = (t.0 as f64 / MS_PER_DAY).rem_euclid(1.0) * TAU;
        Self {
            angles: [solar + h - s, s, h, longitude(LUNAR_PERIGEE), longitude(SOLAR_PERIGEE), PI / 2.0],
            node: longitude(LUNAR_NODE),
        }
    }

    /// Equilibrium argument V of a constituent, radians, from how often each angle goes into it.
    pub(super) fn argument(&self, numbers: &[i8; ANGLES]) -> f64 {
        dot(numbers, &self.angles)
    }

    /// The angles as phasors, each turned up to `most` times by multiplying.
    pub(super) fn turns(&self, most: usize) -> Turns {
        let mut powers = [[Phasor::ONE; 2 * TIMES_MOST + 1]; MOVING];
        let mut once = [Phasor::ONE; MOVING];
        once.iter_mut().zip(self.angles).for_each(|(once, angle)| *once = Phasor::polar(1.0, angle));
        // Angle by angle inside, so that no product waits for the one before it.
        for times in 1..=most.min(TIMES_MOST) {
            for (powers, once) in powers.iter_mut().zip(once) {
                let power = powers[TIMES_MOST + times - 1].times(once);
                powers[TIMES_MOST + times] = power;
                powers[TIMES_MOST - times] = power.conjugate();
            }
        }
        Turns { sky: *self, most: most.min(TIMES_MOST) as i8, powers }
    }

    /// Speed of a constituent, radians an hour.
    pub(super) fn speed(numbers: &[i8; ANGLES]) -> f64 {
        let rate = |c: [f64; 3]| (c[1] / HOURS_PER_CENTURY).to_radians();
        let (s, h) = (rate(MOON), rate(SUN));
        dot(numbers, &[TAU / 24.0 + h - s, s, h, rate(LUNAR_PERIGEE), rate(SOLAR_PERIGEE), 0.0])
    }

    /// Every node factor and angle at this moment, indexed by `Node`.
    pub(super) fn nodes(&self) -> Nodes {
        Nodes::new(self.node, self.angles[3])
    }
}

fn dot(numbers: &[i8; ANGLES], angles: &[f64; ANGLES]) -> f64 {
    numbers.iter().zip(angles).map(|(number, angle)| f64::from(*number) * angle).sum()
}

/// An amplitude with its phase, as a complex number: phases are added by multiplying, without a sine for each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Phasor {
    pub(super) re: f64,
    pub(super) im: f64,
}

impl Phasor {
    pub(super) const ONE: Self = Self { re: 1.0, im: 0.0 };
    pub(super) const NONE: Self = Self { re: 0.0, im: 0.0 };

    pub(super) fn polar(amplitude: f64, phase: f64) -> Self {
        let (sin, cos) = phase.sin_cos();
        Self { re: amplitude * cos, im: amplitude * sin }
    }

    #[inline]
    pub(super) fn times(self, by: Self) -> Self {
        Self { re: self.re * by.re - self.im * by.im, im: self.re * by.im + self.im * by.re }
    }

    /// Of length one, in the direction of a point that is not the origin.
    fn towards(x: f64, y: f64) -> Self {
        let length = (x * x + y * y).sqrt();
        Self { re: x / length, im: y / length }
    }

    #[inline]
    pub(super) fn plus(self, other: Self) -> Self {
        Self { re: self.re + other.re, im: self.im + other.im }
    }

    #[inline]
    pub(super) fn scaled(self, by: f64) -> Self {
        Self { re: self.re * by, im: self.im * by }
    }

    /// Its length, and its phase in radians.
    pub(super) fn amplitude_and_phase(self) -> (f64, f64) {
        (self.re.hypot(self.im), self.im.atan2(self.re))
    }

    /// Turned the other way.
    pub(super) fn conjugate(self) -> Self {
        Self { im: -self.im, ..self }
    }
}

/// Most times that an angle goes into a constituent, either way, without a sine of its own. M12 and its like have 12.
const TIMES_MOST: usize = 12;
/// Angles that move; the sixth is a right angle.
const MOVING: usize = ANGLES - 1;

/// The angles of one moment as phasors, each turned up to `TIMES_MOST` times either way.
#[derive(Clone, Debug)]
pub(super) struct Turns {
    sky: Sky,
    most: i8,
    powers: [[Phasor; 2 * TIMES_MOST + 1]; MOVING],
}

impl Turns {
    /// The phasor of the equilibrium argument without its right angles, times `start`.
    ///
    /// Each product adds a rounding of 2⁻⁵³: after twelve, less than a millionth of the 0.0003° that Schureman's own
    /// figures leave.
    #[inline]
    pub(super) fn argument(&self, start: Phasor, numbers: &[i8; ANGLES]) -> Phasor {
        let [tau, s, h, p, perihelion, _] = *numbers;
        // Two halves, so that neither waits for the other.
        let turned = self.power(0, tau).times(self.power(1, s));
        let turned = turned.times(start.times(self.power(2, h)).times(self.power(3, p)));
        if perihelion == 0 { turned } else { turned.times(self.power(4, perihelion)) }
    }

    #[inline]
    fn power(&self, angle: usize, times: i8) -> Phasor {
        if times.unsigned_abs() > self.most.unsigned_abs() {
            return Phasor::polar(1.0, f64::from(times) * self.sky.angles[angle]);
        }
        self.powers[angle][(TIMES_MOST as isize + isize::from(times)) as usize]
    }
}

/// The elementary node corrections, from which all others are multiplied together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Node {
    Mm,
    Mf,
    O1,
    J1,
    Oo1,
    K1,
    M1,
    M2,
    Eta2,
    L2,
    K2,
    M3,
}

const NODES: usize = 12;

/// Node factor f and node angle u for each `Node`, as a phasor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nodes {
    phasors: [Phasor; NODES],
}

impl Nodes {
    /// From the longitudes of the moon's node and perigee, radians.
    fn new(node: f64, perigee: f64) -> Self {
        let Inclination { cos_i, xi, nu } = Inclination::of(node);
        let sin2_i = 1.0 - cos_i * cos_i;
        let sin_i = sin2_i.sqrt();
        let sin_2i = 2.0 * sin_i * cos_i;
        let (half_sin2, half_cos2) = (0.5 - 0.5 * cos_i, 0.5 + 0.5 * cos_i);
        let (xi_once, nu_once) = (Phasor::polar(1.0, xi), Phasor::polar(1.0, nu));
        let (xi_twice, nu_twice) = (xi_once.times(xi_once), nu_once.times(nu_once));
        // ξ - ν, and twice that.
        let once = xi_once.times(nu_once.conjugate());
        let twice = once.times(once);
        // Equations 73 to 79 over their means 65 to 71.
        let f_o1 = sin_i * half_cos2 / 0.3800;
        let f_m2 = half_cos2 * half_cos2 / 0.9154;

        let mut phasors = [Phasor::ONE; NODES];
        let mut set = |node: Node, f: f64, u: Phasor| phasors[node as usize] = u.scaled(f);
        set(Node::Mm, (2.0 / 3.0 - sin2_i) / 0.5021, Phasor::ONE);
        set(Node::Mf, sin2_i / 0.1578, xi_twice.conjugate());
        set(Node::O1, f_o1, xi_once.times(once));
        set(Node::J1, sin_2i / 0.7214, nu_once.conjugate());
        set(Node::Oo1, sin_i * half_sin2 / 0.0164, xi_twice.times(nu_once).conjugate());
        set(Node::M2, f_m2, twice);
        set(Node::Eta2, sin2_i / 0.1565, nu_twice.conjugate());
        set(Node::M3, half_cos2 * half_cos2 * half_cos2 / 0.8758, twice.times(once));

        // Equations 227 and 224.
        let (cos_nu, sin_nu) = (nu_once.re, nu_once.im);
        let k1 = 0.8965 * sin_2i * sin_2i + 0.6001 * sin_2i * cos_nu + 0.1006;
        set(Node::K1, k1.sqrt(), Phasor::towards(sin_2i * cos_nu + 0.3347, -sin_2i * sin_nu));
        // Equations 235 and 232.
        let (cos_2nu, sin_2nu) = (nu_twice.re, nu_twice.im);
        let k2 = 19.0444 * sin2_i * sin2_i + 2.7702 * sin2_i * cos_2nu + 0.0981;
        set(Node::K2, k2.sqrt(), Phasor::towards(sin2_i * cos_2nu + 0.0727, -sin2_i * sin_2nu));

        // The perigee counted from the lunar intersection, P.
        let p = Phasor::polar(1.0, perigee - xi);
        let Phasor { re: cos_2p, im: sin_2p } = p.times(p);
        // Equations 213 to 215.
        let tan2 = half_sin2 / half_cos2;
        let inv_ra = (1.0 - 12.0 * tan2 * cos_2p + 36.0 * tan2 * tan2).sqrt();
        let r = Phasor::towards(1.0 / (6.0 * tan2) - cos_2p, sin_2p);
        set(Node::L2, f_m2 * inv_ra, twice.times(r.conjugate()));
        // Equations 197, 202 and 206.
        let inv_qa = 0.25 + 1.5 * cos_i / half_cos2 * cos_2p + 2.25 * cos_i * cos_i / (half_cos2 * half_cos2);
        let q = Phasor::towards((7.0 * cos_i + 1.0) * p.re, (5.0 * cos_i - 1.0) * p.im);
        set(Node::M1, f_o1 * inv_qa.sqrt(), once.times(q));
        Self { phasors }
    }

    /// f and u of one elementary correction.
    pub(super) fn of(&self, node: Node) -> Phasor {
        self.phasors[node as usize]
    }
}

/// The moon's orbit seen from the equator: the cosine of its inclination I, and the longitude ξ and right ascension ν of the
/// point where it crosses, in radians.
struct Inclination {
    cos_i: f64,
    xi: f64,
    nu: f64,
}

impl Inclination {
    /// Schureman's page 156: obliquity 23.452°, inclination of the orbit to the ecliptic 5.145°.
    fn of(node: f64) -> Self {
        let cos_i = 0.91370 - 0.03569 * node.cos();
        let tan_half = (node / 2.0).tan();
        let (sum, difference) = ((1.01883 * tan_half).atan(), (0.64412 * tan_half).atan());
        let xi = node - sum - difference;
        // Wrapped: half the node's longitude passes a right angle once a revolution.
        Self { cos_i, xi: (xi + PI).rem_euclid(TAU) - PI, nu: sum - difference }
    }
}
