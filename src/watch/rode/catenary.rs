//! The elastic catenary: a heavy, stretching line between anchor and bow, part of which may lie on the bottom.
//!
//! The horizontal pull is given and the reach follows, never the other way round inside a formula: near taut a
//! millimetre of reach is worth kilonewtons. Only the vertical pull at the bow is sought, by Newton's method kept
//! inside a bracket, so that it always ends.

use super::{Line, RodeError, Section, reach_limit};
use crate::watch::units::{Metres, Newtons};

/// The longest section accepted, metres. Far beyond any yacht's locker; keeps every product finite.
pub(super) const LENGTH_M_MOST: f64 = 10_000.0;
/// The heaviest section accepted, N/m in water: ship's chain of 120 mm.
const WEIGHT_N_PER_M_MOST: f64 = 3_000.0;
/// The hardest pull accepted, newtons.
const PULL_N_MOST: f64 = 1e7;
/// The softest line accepted, newtons: a line that pulls to double its length under a kilogram.
const STIFFNESS_N_LEAST: f64 = 10.0;
/// The stiffest, newtons.
const STIFFNESS_N_MOST: f64 = 1e15;
/// Pulls weaker than this, in newtons, leave the rode hanging straight down. Well below the force of a breath.
const PULL_N_LEAST: f64 = 1e-6;
/// Agreement in height, relative, at which the search for the vertical pull ends. 1e-12 of 20 m is less than an atom.
const HEIGHT_TOLERANCE: f64 = 1e-12;
/// Agreement in reach, relative, at which the search for the pull ends: the last digits of the reach itself.
const REACH_TOLERANCE: f64 = 4e-16;
/// Each search halves its bracket at least every fourth step, so this many steps exhaust an `f64`.
const STEPS_MOST: usize = 400;

/// A rode at rest: where it lies and how it pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// Horizontal distance from anchor to bow. With no pull at all, the greatest it can be with the bow end
    /// hanging straight down: the bow may then lie anywhere nearer.
    pub reach: Metres,
    /// Length that lies on the bottom, measured without load.
    pub grounded: Metres,
    /// Length off the bottom, measured without load.
    pub lifted: Metres,
    /// Angle of the pull at the anchor above the horizontal, degrees.
    pub angle_anchor_deg: f64,
    /// Angle below the horizon at which the rode leads down from the bow, degrees.
    pub angle_bow_deg: f64,
    /// Tension at the bow.
    pub tension_bow: Newtons,
    /// Tension at the anchor.
    pub tension_anchor: Newtons,
    /// Vertical part of the pull at the bow: weight that the bow carries.
    pub v_bow: Newtons,
}

/// The shape of a rode under a steady horizontal pull, on a flat bottom without friction, in still water.
///
/// For each section with tension T = √(H² + V²) at its ends a (upper) and b (lower), V_b = V_a − wL:
///
/// x = (H/w)·(asinh(V_a/H) − asinh(V_b/H)) + H·L/EA
///
/// z = (T_a − T_b)/w + (V_a + V_b)·L/(2·EA)
///
/// and where V_a < wL only V_a/w of it is lifted and the rest lies flat. Rope is weighed as submerged throughout.
///
/// # Units
/// `height` of the bow roller above the seabed, metres; `pull` is the horizontal force on the bow, newtons.
/// # Errors
/// [`RodeError::TooShort`] unless the rode is longer than `height`; [`RodeError::OutOfRange`] for anything that is
/// not a rode's number.
/// # Source
/// Irvine 1981, *Cable Structures*, § 1.3 (from memory); derived in `docs/inside/rode.md`, checked against MoorPy there.
pub fn shape(line: &Line, height: Metres, pull: Newtons) -> Result<Shape, RodeError> {
    let rode = Rode::checked(line, height)?;
    check("pull", "N", pull.0, 0.0, PULL_N_MOST)?;
    Ok(rode.settle(pull.0).shape(pull.0, line.veered().0))
}

/// The horizontal pull that holds the bow `reach` from the anchor; zero while the rode still hangs straight down.
///
/// Ask [`pull_per_metre`] how far to trust it: near taut no position fix is good enough to tell the load.
///
/// # Errors
/// As [`shape`], and [`RodeError::BeyondReach`] where no pull stretches the rode so far.
pub fn pull_at(line: &Line, height: Metres, reach: Metres) -> Result<Newtons, RodeError> {
    let rode = Rode::checked(line, height)?;
    check("reach", "m", reach.0, 0.0, LENGTH_M_MOST)?;
    let beyond = |limit| RodeError::BeyondReach { reach, limit: Metres(limit) };
    if !rode.stretches() {
        let limit = reach_limit(line.veered(), height)?.0;
        if reach.0 >= limit {
            return Err(beyond(limit));
        }
    }
    if reach.0 <= rode.settle(0.0).x {
        return Ok(Newtons(0.0));
    }
    let hardest = rode.settle(PULL_N_MOST).x;
    if reach.0 >= hardest {
        return Err(beyond(hardest));
    }
    Ok(Newtons(rode.pull_reaching(reach.0)))
}

/// How much harder the rode pulls for each metre farther from the anchor, N/m, at a given pull.
///
/// Times the uncertainty of the distance this is the uncertainty of a pull from [`pull_at`]: once it exceeds the pull
/// itself, the distance no longer gives the load.
///
/// # Errors
/// As [`shape`]; and [`RodeError::OutOfRange`] for no pull at all, where the rode hangs and offers none.
pub fn pull_per_metre(line: &Line, height: Metres, pull: Newtons) -> Result<f64, RodeError> {
    let rode = Rode::checked(line, height)?;
    check("pull", "N", pull.0, PULL_N_LEAST, PULL_N_MOST)?;
    Ok(rode.settle(pull.0).pull_per_metre())
}

/// Points along the rode for drawing, from the anchor at (0, 0) to the bow: metres along, metres above the seabed.
///
/// `count` of them, at least two, evenly spaced along the rode; the point where it leaves the bottom is not singled out.
///
/// # Errors
/// As [`shape`].
pub fn points(
    line: &Line,
    height: Metres,
    pull: Newtons,
    count: usize,
) -> Result<Vec<(f64, f64)>, RodeError> {
    let rode = Rode::checked(line, height)?;
    check("pull", "N", pull.0, 0.0, PULL_N_MOST)?;
    let ends = rode.settle(pull.0);
    let steps = count.max(2) - 1;
    let veered_m = line.veered().0;
    Ok((0..=steps).map(|i| rode.point(&ends, pull.0, veered_m * i as f64 / steps as f64)).collect())
}

pub(super) fn check(
    what: &'static str,
    unit: &'static str,
    value: f64,
    least: f64,
    most: f64,
) -> Result<(), RodeError> {
    // A NaN is in no range.
    if (least..=most).contains(&value) {
        Ok(())
    } else {
        Err(RodeError::OutOfRange { what, unit, value, least, most })
    }
}

pub(super) fn check_height(height: Metres) -> Result<(), RodeError> {
    // A centimetre: with the bow nearer to the bottom than that, she is not at anchor.
    check("bow height above the seabed", "m", height.0, 0.01, LENGTH_M_MOST)
}

/// A section in plain numbers; `give` is 1/EA, zero for one that does not stretch.
#[derive(Clone, Copy, Debug)]
struct Piece {
    length: f64,
    weight: f64,
    give: f64,
}

impl Piece {
    fn checked(section: &Section) -> Result<Self, RodeError> {
        check("length of rode", "m", section.length.0, 0.0, LENGTH_M_MOST)?;
        check("weight in water", "N/m", section.weight_n_per_m, 0.0, WEIGHT_N_PER_M_MOST)?;
        if let Some(stiffness_n) = section.stiffness_n {
            check("stiffness", "N", stiffness_n, STIFFNESS_N_LEAST, STIFFNESS_N_MOST)?;
        }
        Ok(Self {
            length: section.length.0,
            weight: section.weight_n_per_m,
            give: section.stiffness_n.map_or(0.0, f64::recip),
        })
    }

    /// A piece clear of the bottom: `v` newtons of vertical pull at its upper end, `h` of horizontal pull.
    fn hanging(&self, h: f64, v: f64) -> Stretch {
        let length = self.length;
        let v_low = v - self.weight * length;
        let (t, t_low) = (tension(h, v), tension(h, v_low));
        let (v_sum, t_sum) = (v + v_low, t + t_low);
        // Forms that need no division by the weight, which for rope is nearly nothing.
        let k = (1.0 + v_sum / t_sum) / (v_low + t_low);
        // (sin of the upper slope − sin of the lower) ÷ (weight × length); a weightless line with no vertical pull lies level.
        let sinus = if v > 0.0 { h * h * v_sum / ((v * t_low + v_low * t) * t * t_low) } else { h.recip() };
        let x = h * length * k * log_ratio(self.weight * length * k);
        let cross = -h * length * v_sum / (t_sum * t * t_low);
        let dz_dv = length * (sinus + self.give);
        Stretch {
            x: x + h * length * self.give,
            z: length * v_sum * (1.0 / t_sum + 0.5 * self.give),
            dx_dh: x / h - length * (sinus - self.give),
            cross,
            dz_dv,
        }
    }

    /// A piece whose lower part lies on the bottom: only `v / weight` of it is lifted. Gives the length that lies.
    fn landing(&self, h: f64, v: f64) -> (Stretch, f64) {
        let (w, t) = (self.weight, tension(h, v));
        let lifted = v / w;
        let rise = (v / h).asinh() / w;
        let cross = -v * v / ((t + h) * t * w);
        let lying = self.length - lifted;
        let stretch = Stretch {
            x: lying + h * rise + h * self.length * self.give,
            z: v * lifted * (1.0 / (t + h) + 0.5 * self.give),
            dx_dh: rise - lifted / t + self.length * self.give,
            cross,
            dz_dv: lifted * (1.0 / t + self.give),
        };
        (stretch, lying)
    }

    /// A piece that lies flat, pulled straight by `h`.
    fn lying(&self, h: f64) -> Stretch {
        let give = self.length * self.give;
        Stretch { x: self.length + h * give, dx_dh: give, ..Stretch::default() }
    }
}

/// What a piece spans, and how that changes with the pulls at its upper end. `cross` is ∂x/∂V, which equals ∂z/∂H.
#[derive(Clone, Copy, Debug, Default)]
struct Stretch {
    x: f64,
    z: f64,
    dx_dh: f64,
    cross: f64,
    dz_dv: f64,
}

impl std::ops::AddAssign for Stretch {
    fn add_assign(&mut self, other: Self) {
        self.x += other.x;
        self.z += other.z;
        self.dx_dh += other.dx_dh;
        self.cross += other.cross;
        self.dz_dv += other.dz_dv;
    }
}

/// A whole rode under given pulls at the bow.
#[derive(Clone, Copy, Debug)]
struct Ends {
    x: f64,
    /// How far `x` and the height change with the pulls; absent while the rode just hangs.
    change: Option<Stretch>,
    v_bow: f64,
    v_anchor: f64,
    grounded: f64,
}

impl Ends {
    fn shape(&self, h: f64, veered_m: f64) -> Shape {
        // With no pull at all there is no angle at the anchor: atan2(0, 0) is zero, as wanted.
        Shape {
            reach: Metres(self.x),
            grounded: Metres(self.grounded),
            lifted: Metres(veered_m - self.grounded),
            angle_anchor_deg: self.v_anchor.atan2(h).to_degrees(),
            angle_bow_deg: self.v_bow.atan2(h).to_degrees(),
            tension_bow: Newtons(tension(h, self.v_bow)),
            tension_anchor: Newtons(tension(h, self.v_anchor)),
            v_bow: Newtons(self.v_bow),
        }
    }

    /// dH/dx while the height stays: from dz = 0, dV = −(∂z/∂H ÷ ∂z/∂V)·dH.
    fn pull_per_metre(&self) -> f64 {
        self.change.map_or(0.0, |c| (c.dx_dh - c.cross * c.cross / c.dz_dv).recip())
    }
}

/// A checked rode at one bow height.
#[derive(Clone, Copy, Debug)]
struct Rode {
    chain: Piece,
    rope: Piece,
    height: f64,
}

impl Rode {
    fn checked(line: &Line, height: Metres) -> Result<Self, RodeError> {
        check_height(height)?;
        let chain = Piece::checked(&line.chain)?;
        let rope = match &line.rope {
            Some(rope) => Piece::checked(rope)?,
            None => Piece { length: 0.0, weight: 0.0, give: 0.0 },
        };
        if line.veered().0 <= height.0 {
            return Err(RodeError::TooShort { rode: line.veered(), height });
        }
        Ok(Self { chain, rope, height: height.0 })
    }

    fn stretches(&self) -> bool {
        [self.chain, self.rope].iter().any(|piece| piece.give > 0.0 && piece.length > 0.0)
    }

    /// The rode at rest under a horizontal pull.
    fn settle(&self, h: f64) -> Ends {
        if h < PULL_N_LEAST { self.hang() } else { self.lie(h) }
    }

    /// No pull: the bow end hangs straight down, stretched by its own weight, and the rest lies on the bottom.
    fn hang(&self) -> Ends {
        let (rope, chain) = (&self.rope, &self.chain);
        let rope_hung = hung(self.height, rope.weight, rope.give, 1.0);
        let ends = |grounded, v_bow| Ends { x: grounded, change: None, v_bow, v_anchor: 0.0, grounded };
        if rope_hung < rope.length {
            return ends(chain.length + rope.length - rope_hung, rope.weight * rope_hung);
        }
        // The chain that hangs below stretches the rope as well: one more linear term.
        let own = rope.length * (1.0 + 0.5 * rope.weight * rope.length * rope.give);
        let pulled = 1.0 + chain.weight * rope.length * rope.give;
        let chain_hung = hung(self.height - own, chain.weight, chain.give, pulled).min(chain.length);
        ends(chain.length - chain_hung, rope.weight * rope.length + chain.weight * chain_hung)
    }

    fn lie(&self, h: f64) -> Ends {
        let mut v = self.first_guess(h);
        let (mut low, mut high) = (0.0, f64::INFINITY);
        let mut ends = self.spanned(h, v);
        let mut last_miss = f64::INFINITY;
        for _ in 0..STEPS_MOST {
            let miss = ends.1.z - self.height;
            if miss.abs() <= HEIGHT_TOLERANCE * self.height {
                break;
            }
            if miss > 0.0 {
                high = v;
            } else {
                low = v;
            }
            let newton = v - miss / ends.1.dz_dv;
            // Newton's step while it pays; else halve the bracket, or open it.
            let next = if newton > low && newton < high && miss.abs() < 0.5 * last_miss {
                newton
            } else if high.is_finite() {
                0.5 * (low + high)
            } else {
                2.0 * v
            };
            if next == v {
                break;
            }
            (v, last_miss) = (next, miss.abs());
            ends = self.spanned(h, v);
        }
        ends.0
    }

    /// The vertical pull at the bow of a chain of the same weight that does not stretch, exact for one such section.
    fn first_guess(&self, h: f64) -> f64 {
        let length = self.chain.length + self.rope.length;
        let weight = (self.chain.weight * self.chain.length + self.rope.weight * self.rope.length) / length;
        let height = self.height;
        // The length that a lifted catenary of this height needs: s² = h² + 2ah.
        if (weight * height).powi(2) + 2.0 * h * weight * height < (weight * length).powi(2) {
            (height * weight * (weight * height + 2.0 * h)).sqrt()
        } else {
            let chord2 = (length - height) * (length + height);
            0.5 * (weight * length + height * (weight * weight + 4.0 * h * h / chord2).sqrt())
        }
    }

    /// What the rode spans with pulls `h` and `v` at the bow, worked from the bow down.
    fn spanned(&self, h: f64, v: f64) -> (Ends, Stretch) {
        let mut sum = Stretch::default();
        let (v_anchor, grounded) = self.descend(h, v, &mut sum);
        (Ends { x: sum.x, change: Some(sum), v_bow: v, v_anchor, grounded }, sum)
    }

    fn descend(&self, h: f64, v: f64, sum: &mut Stretch) -> (f64, f64) {
        let (rope, chain) = (&self.rope, &self.chain);
        if v < rope.weight * rope.length {
            let (stretch, lying) = rope.landing(h, v);
            *sum += stretch;
            *sum += chain.lying(h);
            return (0.0, lying + chain.length);
        }
        if rope.length > 0.0 {
            *sum += rope.hanging(h, v);
        }
        let v = v - rope.weight * rope.length;
        if v < chain.weight * chain.length {
            let (stretch, lying) = chain.landing(h, v);
            *sum += stretch;
            return (0.0, lying);
        }
        if chain.length > 0.0 {
            *sum += chain.hanging(h, v);
        }
        (v - chain.weight * chain.length, 0.0)
    }

    /// The pull whose reach is `reach`, which lies strictly between those of no pull and of the hardest.
    fn pull_reaching(&self, reach: f64) -> f64 {
        let (mut low, mut high) = (0.0_f64, PULL_N_MOST);
        let mut h = (self.chain.weight * self.height).clamp(1.0, 1e4);
        let (mut last_miss, mut slow) = (f64::INFINITY, 0);
        for _ in 0..STEPS_MOST {
            let ends = self.settle(h);
            let miss = ends.x - reach;
            if miss.abs() <= REACH_TOLERANCE * reach {
                break;
            }
            if miss > 0.0 {
                high = h;
            } else {
                low = h;
            }
            // A step in ln H: over a rode's range the pull grows a thousandfold.
            let newton = h * (-miss * ends.pull_per_metre() / h).clamp(-3.0, 3.0).exp();
            slow = if miss.abs() < 0.5 * last_miss { 0 } else { slow + 1 };
            let next = if newton > low && newton < high && slow < 3 {
                newton
            } else {
                slow = 0;
                (low.max(PULL_N_LEAST) * high).sqrt()
            };
            if next <= low || next >= high {
                break;
            }
            (h, last_miss) = (next, miss.abs());
        }
        h
    }

    /// Where the point lies that is `along` metres of unloaded rode from the anchor.
    fn point(&self, ends: &Ends, h: f64, along: f64) -> (f64, f64) {
        // Whatever lies below the point is another, shorter rode that pulls just as hard.
        let (rope, chain) = (&self.rope, &self.chain);
        let on_chain = along.min(chain.length);
        let on_rope = along - on_chain;
        let lift = (along - ends.grounded).max(0.0);
        let chain_lift = lift - on_rope.min(lift);
        let v = ends.v_anchor + rope.weight * on_rope.min(lift) + chain.weight * chain_lift;
        if h < PULL_N_LEAST {
            return self.point_hanging(ends, along);
        }
        let mut sum = Stretch::default();
        let below = Self {
            chain: Piece { length: on_chain, ..*chain },
            rope: Piece { length: on_rope, ..*rope },
            height: self.height,
        };
        below.descend(h, v, &mut sum);
        (sum.x, sum.z)
    }

    fn point_hanging(&self, ends: &Ends, along: f64) -> (f64, f64) {
        if along <= ends.grounded {
            return (along, 0.0);
        }
        let hung = self.chain.length + self.rope.length - ends.grounded;
        (ends.x, self.height * (along - ends.grounded) / hung)
    }
}

/// The length that hangs `height` down: p·s + w·s²/(2·EA) = height.
fn hung(height: f64, weight: f64, give: f64, pulled: f64) -> f64 {
    let height = height.max(0.0);
    2.0 * height / (pulled + (pulled * pulled + 2.0 * weight * give * height).sqrt())
}

fn tension(h: f64, v: f64) -> f64 {
    (h * h + v * v).sqrt()
}

/// ln(1 + q)/q, which tends to 1 for a weightless line.
fn log_ratio(q: f64) -> f64 {
    if q.abs() < 1e-8 { 1.0 - 0.5 * q } else { q.ln_1p() / q }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chain_8mm(length_m: f64) -> Line {
        Line::chain(Metres(length_m), 11.9366)
    }

    #[test]
    fn a_slack_rode_hangs_straight_down_and_lies_straight_out() {
        let s = shape(&chain_8mm(40.0), Metres(10.0), Newtons(0.0)).unwrap();
        assert_eq!((s.reach, s.grounded, s.lifted), (Metres(30.0), Metres(30.0), Metres(10.0)));
        assert_eq!((s.angle_anchor_deg, s.angle_bow_deg), (0.0, 90.0));
        assert!((s.v_bow.0 - 119.366).abs() < 1e-9);
    }

    #[test]
    fn a_rode_shorter_than_the_depth_is_named() {
        let error = shape(&chain_8mm(8.0), Metres(9.5), Newtons(100.0)).unwrap_err();
        assert_eq!(error, RodeError::TooShort { rode: Metres(8.0), height: Metres(9.5) });
        assert!(error.to_string().starts_with("8.0 m of rode does not reach"));
    }

    #[test]
    fn the_pull_comes_back_from_the_reach() {
        let line = chain_8mm(40.0);
        for pull in [0.01, 1.0, 50.0, 400.0, 1500.0, 8000.0] {
            let reach = shape(&line, Metres(8.0), Newtons(pull)).unwrap().reach;
            let back = pull_at(&line, Metres(8.0), reach).unwrap().0;
            assert!((back / pull - 1.0).abs() < 1e-6, "{pull} came back as {back}");
        }
    }

    #[test]
    fn no_pull_holds_her_beyond_a_straight_rode() {
        let error = pull_at(&chain_8mm(40.0), Metres(8.0), Metres(39.5)).unwrap_err();
        assert!(matches!(error, RodeError::BeyondReach { .. }), "{error}");
    }

    #[test]
    fn near_taut_a_millimetre_tells_nothing() {
        // 40 m of 8 mm chain in 8 m: 0.1 mm changes 8 kN by 1 %.
        let slope = pull_per_metre(&chain_8mm(40.0), Metres(8.0), Newtons(8000.0)).unwrap();
        assert!((0.5..2.0).contains(&(slope * 1e-4 / 80.0)), "{slope} N/m");
    }

    #[test]
    fn the_drawn_rode_ends_at_the_bow() {
        let rope = Section { length: Metres(20.0), weight_n_per_m: 0.15, stiffness_n: Some(3e5) };
        let line = Line { rope: Some(rope), ..chain_8mm(25.0) };
        for pull in [0.0, 0.5, 30.0, 400.0, 5000.0] {
            let drawn = points(&line, Metres(9.0), Newtons(pull), 40).unwrap();
            let s = shape(&line, Metres(9.0), Newtons(pull)).unwrap();
            let (x, z) = drawn[39];
            assert_eq!(drawn[0], (0.0, 0.0));
            assert!((x - s.reach.0).abs() < 1e-9 && (z - 9.0).abs() < 1e-9, "{pull} N: ({x}, {z})");
            assert!(drawn.windows(2).all(|p| p[1].0 >= p[0].0 && p[1].1 >= p[0].1), "{pull} N: {drawn:?}");
        }
    }
}
