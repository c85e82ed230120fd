//! What is to be borne in mind beside the verdicts of a plan?

use super::{Inputs, Plan, PlanClock};
use crate::watch::boat::Hull;
use crate::watch::rode::{GUST_FACTOR, Proved};
use crate::watch::setting::PullKind;
use crate::watch::tide::{Assumed, Tide};
use crate::watch::units::{Knots, Metres, Newtons, WatchTime};

/// Something to bear in mind.
#[derive(Clone, Debug, PartialEq)]
pub enum Caution {
    /// All the rode aboard is not enough.
    NotEnoughRode {
        /// What it would take.
        would_take: Metres,
        /// What is aboard.
        carried: Metres,
    },
    /// The skipper's length is less than advised.
    LessThanAdvised {
        /// The skipper's.
        veered: Metres,
        /// The advised.
        advised: Metres,
    },
    /// The tide is not known to the end of the stay.
    TideEnds {
        /// Known until then.
        at: WatchTime,
    },
    /// No tide was given.
    NoTide,
    /// Turns of the tide before those that were entered are assumed.
    TideAssumed(Assumed),
    /// The tide's own caution.
    Tide(String),
    /// Gusts were not given.
    GustsAssumed {
        /// The gusts allowed for.
        gust: Knots,
    },
    /// The windage was not given.
    WindageEstimated,
    /// Waves and snatching are in no figure.
    Waves {
        /// The design table's load for the gusts expected.
        design_load: Option<Newtons>,
    },
    /// The rules of thumb are doubled for a catamaran.
    CatamaranScope,
    /// A neighbour's anchor is taken to be where she is: the wind was not given.
    NeighboursAnchor,
    /// A hard pull of the engine proves less than may be asked.
    ProvesLess(Proved),
    /// The bottom is not known.
    BottomUnknown,
}

impl Caution {
    /// In a sentence.
    #[must_use]
    pub fn in_words(&self, clock: &PlanClock) -> String {
        match self {
            Self::NotEnoughRode { would_take, carried } => format!(
                "It would take {:.0} m; {:.0} m are aboard. Choose less depth or more shelter, or be ready to leave.",
                would_take.0.ceil(),
                carried.0
            ),
            Self::LessThanAdvised { veered, advised } => {
                format!("{:.0} m is less than the {:.0} m advised.", veered.0, advised.0)
            }
            Self::TideAssumed(assumed) => assumed.in_words(clock.utc_offset),
            Self::TideEnds { at } => format!(
                "No tide after {}, before you leave. What comes later is not included. Add the next high or low water.",
                clock.show(*at)
            ),
            Self::NoTide => "No tide given: the depth is taken to stay as sounded.".to_owned(),
            Self::Tide(words) => words.clone(),
            Self::GustsAssumed { gust } => {
                format!("Gusts not given: {:.0} kn taken, {GUST_FACTOR} times the mean.", gust.0)
            }
            Self::WindageEstimated => {
                "Windage estimated from her size: the pull may be a third more or less.".to_owned()
            }
            Self::Waves { design_load: Some(load) } => format!(
                "Waves and snatching are not in the pull: nobody said how far the water is open (--fetch). The ABYC design load, \
                 which has them, is {:.1} kN in these gusts.",
                load.0 / 1000.0
            ),
            Self::Waves { design_load: None } => {
                "Waves and snatching are not in the pull: nobody said how far the water is open (--fetch).".to_owned()
            }
            Self::CatamaranScope => {
                "Rules of thumb are doubled: a catamaran needs twice the scope of a monohull (common practice, no source)."
                    .to_owned()
            }
            Self::NeighboursAnchor => {
                "No wind direction given: each neighbour's anchor is taken to lie under her bow.".to_owned()
            }
            Self::ProvesLess(proved) => format!(
                "A hard burst astern proves about {:.1} kN; gusts of {:.0} kn may ask {:.1}.",
                proved.pull.0 / 1000.0,
                proved.asked.map_or(proved.gust, |(gust, _)| gust).0,
                proved.asked.map_or(proved.pull, |(_, asked)| asked).0 / 1000.0
            ),
            Self::BottomUnknown => {
                "Bottom or anchor not given: nothing is said about holding. Back down hard and watch a transit."
                    .to_owned()
            }
        }
    }
}

pub(super) fn cautions(inputs: &Inputs, plan: &Plan, known_until: Option<WatchTime>) -> Vec<Caution> {
    let mut all = Vec::new();
    let mut when = |true_here: bool, caution: Caution| {
        if true_here {
            all.push(caution);
        }
    };
    let would_take = plan.demands.first().map_or(Metres(0.0), |demand| demand.length);
    when(would_take.0 > plan.carried.0, Caution::NotEnoughRode { would_take, carried: plan.carried });
    when(
        plan.veered.0 < plan.advised.0,
        Caution::LessThanAdvised { veered: plan.veered, advised: plan.advised },
    );
    if let Some(at) = known_until {
        when(true, Caution::TideEnds { at });
    }
    if let Some(assumed) = inputs.tide.as_ref().and_then(Tide::assumed) {
        when(true, Caution::TideAssumed(assumed.clone()));
    }
    when(inputs.tide.is_none(), Caution::NoTide);
    for words in inputs.tide.iter().flat_map(|tide| tide.cautions()) {
        when(true, Caution::Tide(words.clone()));
    }
    when(inputs.gusts_assumed, Caution::GustsAssumed { gust: inputs.weather.gust });
    when(inputs.boat.windage_m2.is_none(), Caution::WindageEstimated);
    when(plan.waves.is_none(), Caution::Waves { design_load: plan.design_load });
    when(inputs.boat.hull == Hull::Catamaran, Caution::CatamaranScope);
    when(!inputs.others.is_empty() && inputs.wind_from.is_none(), Caution::NeighboursAnchor);
    let hardest = inputs.site.engine.proves(inputs.boat.loa, PullKind::HardBurst);
    let proved = hardest
        .map(|pull| Proved::beside(pull, &inputs.boat, inputs.weather.sheer_deg, Some(&inputs.weather)));
    if let Some(proved) = proved.filter(Proved::short) {
        when(true, Caution::ProvesLess(proved));
    }
    when(inputs.seabed.is_none() || inputs.tackle.anchor_kg.is_none(), Caution::BottomUnknown);
    all
}
