//! How much do the rules of thumb say to veer?

use crate::watch::boat::{Hull, Tackle};
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

/// What she would ride to with so much out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RodeKind {
    /// Chain to the bow.
    Chain,
    /// Rope, with or without chain at the anchor.
    Rope,
}

impl RodeKind {
    /// Her kind of rode with this length out.
    #[must_use]
    pub fn of(tackle: &Tackle, veered: Metres) -> Self {
        if veered > tackle.chain { Self::Rope } else { Self::Chain }
    }

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Chain => "all chain",
            Self::Rope => "rope with chain",
        }
    }
}

/// For which rode, and in what weather, a rule was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleFor {
    /// All chain. Those that do not say were made for it, or ask for no more than it needs.
    Chain,
    /// Rope with chain.
    Rope,
    /// Rope with chain in a gale or worse.
    RopeInAGale,
    /// Ships: shown, but nothing follows from it.
    Ships,
}

/// A gale: the least wind of force 8, knots (World Meteorological Organization, from memory).
const GALE_KN: f64 = 34.0;

impl RuleFor {
    fn counts(self, kind: RodeKind, wind: Knots) -> bool {
        match self {
            Self::Chain => kind == RodeKind::Chain,
            Self::Rope => kind == RodeKind::Rope && wind.0 < GALE_KN,
            Self::RopeInAGale => kind == RodeKind::Rope && wind.0 >= GALE_KN,
            Self::Ships => false,
        }
    }
}

/// The range of the published rules for one kind of rode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Published {
    /// The kind.
    pub kind: RodeKind,
    /// The shortest length that any of them asks for.
    pub least: Metres,
    /// The longest, storms included.
    pub most: Metres,
}

/// What the published rules ask of this kind of rode here, doubled for a catamaran ([`scope_factor`]).
#[must_use]
pub fn published(kind: RodeKind, input: &RuleInput, hull: Hull) -> Published {
    let lengths = |counts: &dyn Fn(RuleFor) -> bool| {
        RULES.iter().filter(|rule| counts(rule.made_for)).map(|rule| rule.length(input).0).collect::<Vec<_>>()
    };
    let now = lengths(&|made_for| made_for.counts(kind, input.wind));
    let ever =
        lengths(&|made_for| made_for.counts(kind, Knots(0.0)) || made_for.counts(kind, Knots(GALE_KN)));
    let times = scope_factor(hull);
    Published {
        kind,
        least: Metres(now.iter().copied().fold(f64::INFINITY, f64::min) * times),
        most: Metres(ever.iter().copied().fold(0.0, f64::max) * times),
    }
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
    /// What it was made for.
    pub made_for: RuleFor,
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
        made_for: RuleFor::Chain,
        length_m: |d, _, _, _| 4.0 * d,
    },
    Rule {
        name: "rya_rope_6x",
        formula: "6 x D",
        source: "RYA, chain and rope, quoted by two training sites",
        made_for: RuleFor::Rope,
        length_m: |d, _, _, _| 6.0 * d,
    },
    Rule {
        name: "chain_4x_bow",
        formula: "4 x (D + B)",
        source: "a sail training site, for shallow water",
        made_for: RuleFor::Chain,
        length_m: |d, b, _, _| 4.0 * (d + b),
    },
    Rule {
        name: "three_d_plus_10",
        formula: "3 x D + 10 m",
        source: "P. Farren, club guide (2016), quoted by a gear site",
        made_for: RuleFor::Chain,
        length_m: |d, _, _, _| 3.0 * d + 10.0,
    },
    Rule {
        name: "fifteen_plus_2d",
        formula: "15 m + 2 x D",
        source: "R. Macfarlane (gear site); 10 m more in strong winds",
        made_for: RuleFor::Chain,
        length_m: |d, _, _, _| 15.0 + 2.0 * d,
    },
    Rule {
        name: "seven_to_one",
        formula: "7 x (D + B)",
        source: "US Sailing, Basic Keelboat, 5th ed.",
        made_for: RuleFor::Rope,
        length_m: |d, b, _, _| 7.0 * (d + b),
    },
    Rule {
        name: "storm_10x",
        formula: "10 x (D + B)",
        source: "a ground-tackle handbook (Sechez): least in storms",
        made_for: RuleFor::RopeInAGale,
        length_m: |d, b, _, _| 10.0 * (d + b),
    },
    Rule {
        name: "wind_plus_loa",
        formula: "W + L",
        source: "C. Smith, Yachting Monthly (2019), from memory",
        made_for: RuleFor::Chain,
        length_m: |_, _, w, l| w + l,
    },
    Rule {
        name: "sqrt_12",
        formula: "12 x sqrt(D)",
        source: "common practice, no source",
        made_for: RuleFor::Chain,
        length_m: |d, _, _, _| 12.0 * d.sqrt(),
    },
    Rule {
        name: "navy_shackles",
        formula: "1.5 x sqrt(D) shackles of 27.5 m",
        source: "Admiralty manuals, from memory; made for ships",
        made_for: RuleFor::Ships,
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

#[cfg(test)]
mod tests {
    use super::*;

    fn input(depth: f64, wind: f64) -> RuleInput {
        RuleInput { depth: Metres(depth), bow: Metres(1.1), wind: Knots(wind), loa: Metres(9.6) }
    }

    #[test]
    fn rope_with_chain_needs_more_than_chain() {
        for depth in [2.0, 4.0, 6.0, 10.0, 20.0] {
            let of = |kind| published(kind, &input(depth, 18.0), Hull::Monohull).least;
            assert!(of(RodeKind::Rope) > of(RodeKind::Chain), "{depth} m");
        }
        // 6 m: 6 x 6 to 10 x 7.1.
        let rope = published(RodeKind::Rope, &input(6.0, 18.0), Hull::Monohull);
        assert!((rope.least.0 - 36.0).abs() < 1e-9 && (rope.most.0 - 71.0).abs() < 1e-9, "{rope:?}");
    }

    #[test]
    fn a_gale_asks_ten_times_of_rope_and_a_catamaran_twice_of_anything() {
        let of = |wind, hull| published(RodeKind::Rope, &input(6.0, wind), hull).least.0;
        assert!((of(38.0, Hull::Monohull) - 71.0).abs() < 1e-9);
        assert!((of(18.0, Hull::Catamaran) - 72.0).abs() < 1e-9);
    }
}
