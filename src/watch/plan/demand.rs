//! Why is so much to be veered?

use crate::watch::boat::{Boat, Tackle};
use crate::watch::rode::{
    ANGLES_DEG, Load, Locker, Needed, RodeError, RodeKind, RuleInput, USELESS_DEG, Weather, needed, published,
};
use crate::watch::units::{Metres, Newtons};

/// Why so much is to be veered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// The pull at the anchor stays along the bottom in the mean wind.
    BottomInMeanWind,
    /// In a gust, while she sheers, it points no more than 8° up.
    EightDegreesInGusts,
    /// In a squall, while she sheers, it points no more than 12° up: what is kept in reserve.
    TwelveDegreesInSquall,
    /// In a gust, with a snatch of the waves on top of it, no more than 12°.
    TwelveDegreesInSnatch,
    /// The least that published rules ask of this kind of rode.
    RuleForRode(RodeKind),
    /// The crew's least scope at the highest water.
    LeastScope,
}

/// A length that an aim asks for, at the highest water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// The aim.
    pub aim: Aim,
    /// The length, whether it is aboard or not.
    pub length: Metres,
}

/// What is to be asked.
#[derive(Clone, Copy, Debug)]
pub struct Asking<'a> {
    /// The boat.
    pub boat: &'a Boat,
    /// Her rode.
    pub tackle: &'a Tackle,
    /// The same, ready to be veered.
    pub locker: &'a Locker,
    /// Depth at the highest water.
    pub depth: Metres,
    /// The crew's least scope.
    pub least_scope: f64,
}

impl Asking<'_> {
    fn high(&self) -> Metres {
        self.depth.max(Metres(0.0)) + self.boat.bow_height
    }

    /// All that asks for length in this weather, greatest first; without weather what asks for it in any. The rule is that
    /// of the rode that would be out: chain as long as chain is enough.
    ///
    /// # Errors
    /// If the rode cannot be calculated with.
    pub fn demands(&self, weather: Option<&Weather>) -> Result<Vec<Demand>, RodeError> {
        let mut all = vec![Demand { aim: Aim::LeastScope, length: self.high() * self.least_scope }];
        if let Some(weather) = weather {
            all.extend(demands_of_wind(self.locker, self.high(), &Load::of(self.boat, weather))?);
            all.push(self.in_squall(weather)?);
        }
        let on_chain = self.by_rule(RodeKind::Chain, weather);
        let longest = all.iter().fold(on_chain.length, |most, demand| most.max(demand.length));
        all.push(match RodeKind::of(self.tackle, longest.min(self.locker.carried())) {
            RodeKind::Chain => on_chain,
            RodeKind::Rope => self.by_rule(RodeKind::Rope, weather),
        });
        sort(&mut all);
        Ok(all)
    }

    fn by_rule(&self, kind: RodeKind, weather: Option<&Weather>) -> Demand {
        let input = RuleInput {
            depth: self.depth.max(Metres(0.0)),
            bow: self.boat.bow_height,
            wind: weather.map(|weather| weather.mean).unwrap_or_default(),
            loa: self.boat.loa,
        };
        Demand { aim: Aim::RuleForRode(kind), length: published(kind, &input, self.boat.hull).least }
    }

    fn in_squall(&self, weather: &Weather) -> Result<Demand, RodeError> {
        let pull = Load::of(self.boat, &weather.squall()).greatest();
        let length = length_for(self.locker, self.high(), pull, USELESS_DEG)?;
        Ok(Demand { aim: Aim::TwelveDegreesInSquall, length })
    }
}

/// Greatest first.
pub(super) fn sort(demands: &mut [Demand]) {
    demands.sort_by(|a, b| b.length.0.total_cmp(&a.length.0));
}

fn length_for(locker: &Locker, high: Metres, pull: Newtons, angle_deg: f64) -> Result<Metres, RodeError> {
    Ok(match needed(locker, high, pull, angle_deg)? {
        Needed::Veer(length) => length,
        Needed::NotCarried { would_take, .. } => would_take,
    })
}

/// What wind and stream ask for at the highest water, bow roller `high` above the bottom, whether it is aboard or not.
///
/// # Errors
/// If the rode cannot be calculated with.
pub fn demands_of_wind(locker: &Locker, high: Metres, load: &Load) -> Result<[Demand; 2], RodeError> {
    let to_hold = |pull, angle_deg| length_for(locker, high, pull, angle_deg);
    Ok([
        Demand { aim: Aim::BottomInMeanWind, length: to_hold(load.steady(), 0.0)? },
        Demand { aim: Aim::EightDegreesInGusts, length: to_hold(load.greatest(), ANGLES_DEG[1])? },
    ])
}
