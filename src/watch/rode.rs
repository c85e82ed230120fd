//! How far can the bow lie from the anchor, and how does the rode pull?
//!
//! A rode is chain at the anchor and, perhaps, rope at the bow: one [`Line`]. Given the height of the bow roller above
//! the seabed and the horizontal pull, [`shape`] gives its reach, what lies on the bottom and the angles and tensions
//! at both ends. The formulas are derived in `docs/inside/rode.md`.

mod advice;
mod beaufort;
mod catenary;
mod gear;
mod ground;
mod hardest;
mod load;
mod lying;
mod proof;
mod push;
mod rules;
mod snatch;
mod waves;

pub use advice::{ANGLES_DEG, Needed, Thresholds, USELESS_DEG, needed, pull_raising, thresholds};
pub use beaufort::beaufort;
pub use catenary::{Shape, points, pull_at, pull_per_metre, shape};
pub use gear::{CHAINS, ChainSize, Fibre, GRAVITY, Locker, SEA_KG_PER_M3, chain, chain_mass_kg_per_m, rope};
pub use ground::{Hold, Seabed, hold, left_at};
pub use hardest::{AskedBy, Hardest, OpenWater, Out, WavePull, fetches_up};
pub use load::{
    AIR_KG_PER_M3, GUST_FACTOR, Load, Weather, Windage, abyc_h40, abyc_h40_by_beam, design_load, pressure_pa,
    sheer_factor, usual_sheer, usual_sheer_deg, wind_with_stream,
};
pub use proof::{Engine, Proved};
pub use push::stream_push;
pub use rules::{Published, RULES, RodeKind, Rule, RuleFor, RuleInput, published, scope_factor};
pub use snatch::{Snatch, SnubberAdvice, WORKED, snubber_for, worked};
pub use waves::{
    Fetch, FetchError, GREATEST, MILE, Sea, fetch_for, fetch_in_words, parse_fetch, sea, sea_under_stress,
};

use super::units::Metres;

/// A uniform length of chain or rope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Length without load.
    pub length: Metres,
    /// Weight in sea water, N/m. Never negative: a rope that floats counts as weightless.
    pub weight_n_per_m: f64,
    /// Axial stiffness EA in newtons: the pull that would double the length. `None` does not stretch.
    pub stiffness_n: Option<f64>,
}

/// What is veered, from the anchor up: chain, then rope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The part at the anchor. Its length may be zero for a rode of rope alone.
    pub chain: Section,
    /// The part at the bow: warp, or the snubber of an all-chain rode.
    pub rope: Option<Section>,
}

impl Line {
    /// Chain alone, as it is taken for most purposes: its own stretch is centimetres.
    #[must_use]
    pub fn chain(length: Metres, weight_n_per_m: f64) -> Self {
        Self { chain: Section { length, weight_n_per_m, stiffness_n: None }, rope: None }
    }

    /// The whole length out, without load.
    #[must_use]
    pub fn veered(&self) -> Metres {
        self.chain.length + self.rope.map_or(Metres(0.0), |rope| rope.length)
    }
}

/// Why a rode's shape cannot be given.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum RodeError {
    /// The anchor cannot lie on the bottom.
    #[error(
        "{:.1} m of rode does not reach from the bow to the bottom, {:.1} m down. The anchor hangs clear. Veer more.",
        rode.0, height.0
    )]
    TooShort {
        /// Length veered.
        rode: Metres,
        /// Bow roller above the seabed.
        height: Metres,
    },
    /// More asked for than there is.
    #[error("{:.0} m asked for, but only {:.0} m of rode is aboard. Veer less, or choose less depth.", asked.0, carried.0)]
    NotCarried {
        /// The length asked for.
        asked: Metres,
        /// All that she carries.
        carried: Metres,
    },
    /// The bow cannot be so far from an anchor that stands.
    #[error(
        "The bow is {:.2} m from the anchor, but this rode reaches {:.2} m at most. \
         The anchor moved, or its mark or the length veered is wrong.",
        reach.0, limit.0
    )]
    BeyondReach {
        /// The distance asked about.
        reach: Metres,
        /// The distance of a straight rode.
        limit: Metres,
    },
    /// A number outside what a rode can have.
    #[error("A {what} of {value} {unit} makes no sense here: it must lie between {least} and {most} {unit}.")]
    OutOfRange {
        /// Which quantity, in words.
        what: &'static str,
        /// Its unit.
        unit: &'static str,
        /// The value given.
        value: f64,
        /// The least that is accepted.
        least: f64,
        /// The most that is accepted.
        most: f64,
    },
}

/// Horizontal distance from anchor to bow of a rode pulled straight: √(L² − h²).
///
/// # Errors
/// [`RodeError::TooShort`] unless `veered` exceeds `height`, the bow roller above the seabed;
/// [`RodeError::OutOfRange`] for a height that is not positive or a number that is not finite.
pub fn reach_limit(veered: Metres, height: Metres) -> Result<Metres, RodeError> {
    catenary::check_height(height)?;
    catenary::check("rode", "m", veered.0, 0.0, catenary::LENGTH_M_MOST)?;
    if veered.0 <= height.0 {
        return Err(RodeError::TooShort { rode: veered, height });
    }
    // The product form keeps its digits where the two are nearly equal.
    Ok(Metres(((veered.0 - height.0) * (veered.0 + height.0)).sqrt()))
}
