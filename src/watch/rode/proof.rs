//! What does a pull of the engine prove?

use serde::{Deserialize, Serialize};

use super::load::{Load, Weather, Windage, design_load, sheer_factor};
use crate::watch::boat::Boat;
use crate::watch::setting::PullKind;
use crate::watch::units::{Knots, Metres, Newtons};

/// The engine that sets the anchor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Engine {
    /// Power at the propeller, kilowatts.
    #[serde(default)]
    pub kw: Option<f64>,
    /// Diameter of the propeller, millimetres.
    #[serde(default)]
    pub propeller_mm: Option<f64>,
}

const KW_PER_HP: f64 = 0.745_7;
const NEWTONS_PER_LBF: f64 = 4.448_22;

/// A fixed propeller turned astern pulls so much of what it pushes ahead, its blades the wrong way round (common practice,
/// no source; a folding one less).
const ASTERN: f64 = 0.7;
/// Diameter where it was not entered, as a share of her length: the small end (common practice, no source).
const SMALL_PROPELLER: f64 = 0.035;

impl Engine {
    /// Its pull at a standstill, full ahead: 62.72·(shaft horsepower × diameter in feet)^0.67 pounds (D. Gerr, *Propeller
    /// Handbook*, as quoted). `None` without its power.
    #[must_use]
    pub fn bollard_pull(&self, loa: Metres) -> Option<Newtons> {
        let feet = self.propeller_mm.map_or(SMALL_PROPELLER * loa.0, |mm| mm / 1000.0) / 0.3048;
        let horsepower = self.kw? / KW_PER_HP;
        Some(Newtons(62.72 * (horsepower * feet).powf(0.67) * NEWTONS_PER_LBF))
    }

    /// What a pull astern puts on the anchor, on the low side: more is not proved.
    #[must_use]
    pub fn proves(&self, loa: Metres, kind: PullKind) -> Option<Newtons> {
        Some(self.bollard_pull(loa)? * (ASTERN * thrust_share(kind)))
    }
}

/// Thrust of a throttle beside that of full: it goes with the square of the revolutions, taken as three, six and nine
/// tenths of the greatest (common practice, no source).
fn thrust_share(kind: PullKind) -> f64 {
    let revolutions: f64 = match kind {
        PullKind::Slow => 0.3,
        PullKind::HalfThrottle => 0.6,
        PullKind::HardBurst => 0.9,
    };
    revolutions * revolutions
}

/// What the anchor has been proved to, beside what is to be expected of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proved {
    /// The hardest pull that it was seen to hold.
    pub pull: Newtons,
    /// The gust that pulls so hard on a boat that sheers.
    pub gust: Knots,
    /// What the wind expected asks: its gust, and the greatest pull in it, the design table's where that is higher.
    pub asked: Option<(Knots, Newtons)>,
}

impl Proved {
    /// Beside the weather that the stay was planned for, if it was.
    #[must_use]
    pub fn beside(pull: Newtons, boat: &Boat, sheer_deg: f64, expected: Option<&Weather>) -> Self {
        let on_bow = Newtons(pull.0 / sheer_factor(sheer_deg));
        let asked = expected.map(|weather| {
            let sum = Load::of(boat, weather).greatest();
            (weather.gust, design_load(boat, weather.gust).map_or(sum, |design| design.max(sum)))
        });
        Self { pull, gust: Windage::of(boat).wind_for(on_bow), asked }
    }

    /// True if more is to be expected than was proved.
    #[must_use]
    pub fn short(&self) -> bool {
        self.asked.is_some_and(|(_, asked)| asked > self.pull)
    }

    /// In a sentence: "Proved to about 2.5 kN; gusts of 30 kn may ask 3.1."
    #[must_use]
    pub fn in_words(&self) -> String {
        let proved = self.pull.0 / 1000.0;
        match self.asked {
            Some((gust, asked)) => {
                format!(
                    "Proved to about {proved:.1} kN; gusts of {:.0} kn may ask {:.1}.",
                    gust.0,
                    asked.0 / 1000.0
                )
            }
            None => format!(
                "Proved to about {proved:.1} kN: what a gust of {:.0} kn pulls while she sheers.",
                self.gust.0.floor()
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A load cell on a mooring, published: 44 hp, a propeller of 16 inches, 80 % of its revolutions astern: "average
    /// loads were under 500 pounds". 80 % is 0.64 of the thrust.
    #[test]
    fn a_measured_pull_astern_is_not_overstated() {
        let engine = Engine { kw: Some(44.0 * KW_PER_HP), propeller_mm: Some(16.0 * 25.4) };
        let at_80 = engine.bollard_pull(Metres(11.0)).unwrap().0 * ASTERN * 0.64 / NEWTONS_PER_LBF;
        assert!((350.0..500.0).contains(&at_80), "{at_80} lbf");
    }

    #[test]
    fn harder_pulls_prove_more_and_without_an_engine_nothing_is_proved() {
        let engine = Engine { kw: Some(15.0), propeller_mm: None };
        let proves = |kind| engine.proves(Metres(9.6), kind).unwrap().0;
        assert!(proves(PullKind::Slow) < proves(PullKind::HalfThrottle));
        assert!(proves(PullKind::HalfThrottle) < proves(PullKind::HardBurst));
        assert_eq!(Engine::default().proves(Metres(9.6), PullKind::Slow), None);
    }

    #[test]
    fn what_was_proved_stands_beside_what_the_gusts_may_ask() {
        let weather = Weather { mean: Knots(21.5), gust: Knots(30.0), stream: Knots(0.0), sheer_deg: 40.0 };
        let proved = Proved::beside(Newtons(2480.0), &Boat::default(), 40.0, Some(&weather));
        assert!(proved.short());
        assert!(
            proved.in_words().starts_with("Proved to about 2.5 kN; gusts of 30 kn may ask "),
            "{}",
            proved.in_words()
        );
        let alone = Proved::beside(Newtons(2480.0), &Boat::default(), 40.0, None);
        assert!((15.0..30.0).contains(&alone.gust.0) && !alone.short(), "{alone:?}");
    }
}
