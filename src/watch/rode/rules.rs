//! How much do the rules of thumb say to veer?

use crate::watch::boat::Hull;
use crate::watch::units::{Knots, Metres};

/// What a rule of thumb is fed with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RuleInput {
    /// D: depth at the highest water of the stay.
    pub depth: Metres,
    /// B: bow roller above the water.
    pub bow: Metres,
    /// W: wind.
    pub wind: Knots,
    /// L: length overall.
    pub loa: Metres,
}

/// A rule of thumb for the length to veer.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// A short name.
    pub name: &'static str,
    /// The rule in letters: D depth, B bow height, W wind in knots, L length of the boat, metres.
    pub formula: &'static str,
    /// Who says so.
    pub source: &'static str,
    length_m: fn(f64, f64, f64, f64) -> f64,
}

impl Rule {
    /// The length that it asks for.
    #[must_use]
    pub fn length(&self, input: &RuleInput) -> Metres {
        Metres((self.length_m)(input.depth.0, input.bow.0, input.wind.0, input.loa.0))
    }
}

/// The rules, in the order of the reference table that they are tested against.
pub const RULES: [Rule; 10] = [
    Rule {
        name: "rya_chain_4x",
        formula: "4 x D",
        source: "RYA, all chain, quoted in a yachting magazine (2019)",
        length_m: |d, _, _, _| 4.0 * d,
    },
    Rule {
        name: "rya_rope_6x",
        formula: "6 x D",
        source: "RYA, chain and rope, quoted by two training sites",
        length_m: |d, _, _, _| 6.0 * d,
    },
    Rule {
        name: "chain_4x_bow",
        formula: "4 x (D + B)",
        source: "a sail training site, for shallow water",
        length_m: |d, b, _, _| 4.0 * (d + b),
    },
    Rule {
        name: "three_d_plus_10",
        formula: "3 x D + 10 m",
        source: "P. Farren, club guide (2016), quoted by a gear site",
        length_m: |d, _, _, _| 3.0 * d + 10.0,
    },
    Rule {
        name: "fifteen_plus_2d",
        formula: "15 m + 2 x D",
        source: "R. Macfarlane (gear site); 10 m more in strong winds",
        length_m: |d, _, _, _| 15.0 + 2.0 * d,
    },
    Rule {
        name: "seven_to_one",
        formula: "7 x (D + B)",
        source: "US Sailing, Basic Keelboat, 5th ed.",
        length_m: |d, b, _, _| 7.0 * (d + b),
    },
    Rule {
        name: "storm_10x",
        formula: "10 x (D + B)",
        source: "a ground-tackle handbook (Sechez): least in storms",
        length_m: |d, b, _, _| 10.0 * (d + b),
    },
    Rule {
        name: "wind_plus_loa",
        formula: "W + L",
        source: "C. Smith, Yachting Monthly (2019), from memory",
        length_m: |_, _, w, l| w + l,
    },
    Rule {
        name: "sqrt_12",
        formula: "12 x sqrt(D)",
        source: "common practice, no source",
        length_m: |d, _, _, _| 12.0 * d.sqrt(),
    },
    Rule {
        name: "navy_shackles",
        formula: "1.5 x sqrt(D) shackles of 27.5 m",
        source: "Admiralty manuals, from memory; made for ships",
        length_m: |d, _, _, _| 1.5 * d.sqrt() * 27.5,
    },
];

/// How many times a monohull's scope she needs: a catamaran twice (common practice, no source).
#[must_use]
pub fn scope_factor(hull: Hull) -> f64 {
    match hull {
        Hull::Monohull | Hull::Trimaran => 1.0,
        Hull::Catamaran => 2.0,
    }
}
