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

    /// The angles as phasors.
    pub(super) fn turns(&self) -> Turns {
        let mut powers = [[Phasor::ONE; 2 * TIMES_MOST + 1]; MOVING];
        for (powers, angle) in powers.iter_mut().zip(self.angles) {
            let once = Phasor::polar(1.0, angle);
            for times in 1..=TIMES_MOST {
                let power = powers[TIMES_MOST + times - 1].times(once);
                powers[TIMES_MOST + times] = power;
                powers[TIMES_MOST - times] = power.conjugate();
            }
        }
        Turns { sky: *self, powers }
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

    pub(super) fn polar(amplitude: f64, phase: f64) -> Self {
        let (sin, cos) = phase.sin_cos();
        Self { re: amplitude * cos, im: amplitude * sin }
    }

    pub(super) fn times(self, by: Self) -> Self {
        Self { re: self.re * by.re - self.im * by.im, im: self.re * by.im + self.im * by.re }
    }

    /// Turned the other way.
    pub(super) fn conjugate(self) -> Self {
        Self { im: -self.im, ..self }
    }
}

/// Most times that an angle goes into a constituent, either way, without a sine of its own. M12 and its like have 12.
const TIMES_MOST: usize = 16;
/// Angles that move; the sixth is a right angle.
const MOVING: usize = ANGLES - 1;

/// The angles of one moment as phasors, each turned up to `TIMES_MOST` times either way.
#[derive(Clone, Debug)]
pub(super) struct Turns {
    sky: Sky,
    powers: [[Phasor; 2 * TIMES_MOST + 1]; MOVING],
}

impl Turns {
    /// The phasor of the equilibrium argument without its right angles, times `start`.
    ///
    /// Each product adds a rounding of 2⁻⁵³: after sixteen, less than a millionth of the 0.0003° that Schureman's own
    /// figures leave.
    pub(super) fn argument(&self, start: Phasor, numbers: &[i8; ANGLES]) -> Phasor {
        let mut turned = start;
        for (angle, number) in numbers.iter().take(MOVING).enumerate() {
            turned = turned.times(self.power(angle, *number));
        }
        turned
    }

    #[inline]
    fn power(&self, angle: usize, times: i8) -> Phasor {
        let index = TIMES_MOST as isize + isize::from(times);
        match self.powers[angle].get(index as usize) {
            Some(power) => *power,
            None => Phasor::polar(1.0, f64::from(times) * self.sky.angles[angle]),
        }
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

/// Node factor f and node angle u (radians) for each `Node`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nodes {
    fu: [(f64, f64); NODES],
}

impl Nodes {
    /// From the longitudes of the moon's node and perigee, radians.
    fn new(node: f64, perigee: f64) -> Self {
        let m = Inclination::of(node);
        let Inclination { i, xi, nu } = m;
        let (sin_i, sin_2i) = (i.sin(), (2.0 * i).sin());
        let (half_sin, half_cos) = (i / 2.0).sin_cos();
        // Equations 73 to 79 over their means 65 to 71.
        let f_o1 = sin_i * half_cos.powi(2) / 0.3800;
        let f_m2 = half_cos.powi(4) / 0.9154;
        let u_m2 = 2.0 * xi - 2.0 * nu;

        let mut fu = [(1.0, 0.0); NODES];
        let mut set = |node: Node, f: f64, u: f64| fu[node as usize] = (f, u);
        set(Node::Mm, (2.0 / 3.0 - sin_i.powi(2)) / 0.5021, 0.0);
        set(Node::Mf, sin_i.powi(2) / 0.1578, -2.0 * xi);
        set(Node::O1, f_o1, 2.0 * xi - nu);
        set(Node::J1, sin_2i / 0.7214, -nu);
        set(Node::Oo1, sin_i * half_sin.powi(2) / 0.0164, -2.0 * xi - nu);
        set(Node::M2, f_m2, u_m2);
        set(Node::Eta2, sin_i.powi(2) / 0.1565, -2.0 * nu);
        set(Node::M3, half_cos.powi(6) / 0.8758, 1.5 * u_m2);

        // Equations 227 and 224.
        let k1 = 0.8965 * sin_2i.powi(2) + 0.6001 * sin_2i * nu.cos() + 0.1006;
        set(Node::K1, k1.sqrt(), -(sin_2i * nu.sin()).atan2(sin_2i * nu.cos() + 0.3347));
        // Equations 235 and 232.
        let sin2_i = sin_i.powi(2);
        let k2 = 19.0444 * sin2_i.powi(2) + 2.7702 * sin2_i * (2.0 * nu).cos() + 0.0981;
        set(Node::K2, k2.sqrt(), -(sin2_i * (2.0 * nu).sin()).atan2(sin2_i * (2.0 * nu).cos() + 0.0727));

        // The perigee counted from the lunar intersection, P.
        let p = perigee - xi;
        let (sin_2p, cos_2p) = (2.0 * p).sin_cos();
        // Equations 213 to 215.
        let tan2 = (half_sin / half_cos).powi(2);
        let inv_ra = (1.0 - 12.0 * tan2 * cos_2p + 36.0 * tan2.powi(2)).sqrt();
        set(Node::L2, f_m2 * inv_ra, u_m2 - sin_2p.atan2(1.0 / (6.0 * tan2) - cos_2p));
        // Equations 197, 202 and 206.
        let cos_i = i.cos();
        let inv_qa = 0.25 + 1.5 * cos_i / half_cos.powi(2) * cos_2p + 2.25 * cos_i.powi(2) / half_cos.powi(4);
        let q = ((5.0 * cos_i - 1.0) * p.sin()).atan2((7.0 * cos_i + 1.0) * p.cos());
        set(Node::M1, f_o1 * inv_qa.sqrt(), xi - nu + q);
        Self { fu }
    }

    /// f and u of every correction as one phasor, indexed by `Node`.
    pub(super) fn phasors(&self) -> NodePhasors {
        NodePhasors(self.fu.map(|(f, u)| Phasor::polar(f, u)))
    }

    /// f and u (radians) of one elementary correction.
    pub(super) fn of(&self, node: Node) -> (f64, f64) {
        self.fu[node as usize]
    }
}

/// Node factor and angle as one phasor for each `Node`.
#[derive(Clone, Copy, Debug)]
pub(super) struct NodePhasors([Phasor; NODES]);

impl NodePhasors {
    /// That of one elementary correction.
    pub(super) fn of(&self, node: Node) -> Phasor {
        self.0[node as usize]
    }
}

/// The moon's orbit seen from the equator: its inclination I, and the longitude ξ and right ascension ν of the
/// point where it crosses, in radians.
struct Inclination {
    i: f64,
    xi: f64,
    nu: f64,
}

impl Inclination {
    /// Schureman's page 156: obliquity 23.452°, inclination of the orbit to the ecliptic 5.145°.
    fn of(node: f64) -> Self {
        let i = (0.91370 - 0.03569 * node.cos()).acos();
        let tan_half = (node / 2.0).tan();
        let (sum, difference) = ((1.01883 * tan_half).atan(), (0.64412 * tan_half).atan());
        let xi = node - sum - difference;
        // Wrapped: half the node's longitude passes a right angle once a revolution.
        Self { i, xi: (xi + PI).rem_euclid(TAU) - PI, nu: sum - difference }
    }
}
