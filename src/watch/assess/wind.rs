//! Has the wind turned, and is there too much of it?

use super::facts::{Facts, LiesTo};
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::latch::{Latch, Patience};
use crate::watch::snapshot::Stage;
use crate::watch::tuning::ahead::UNLIKE;
use crate::watch::tuning::{NEIGHBOUR_CLEAR, SHIFT_EASE_DEG, WIND_EASE};
use crate::watch::units::{Knots, TrueBearing};

/// What must be remembered about the wind from second to second.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    shifted: Latch,
    windy: Latch,
    unlike: Latch,
    /// What was told last, while it lingers.
    told: Option<(Priority, String)>,
}

/// The mean wind has turned since she was brought up, or blows from a barred sector.
pub fn shift(memory: &mut Memory, facts: &Facts) -> Condition {
    let Some(mean) = facts.wind.mean.filter(|_| facts.stage == Stage::BroughtUp) else {
        return Condition::Absent;
    };
    let turned_deg = facts.wind.shift_from.map_or(0.0, |from| from.turn_to(mean));
    let limit_deg = facts.limits.wind_shift_deg;
    let sets = turned_deg.abs() > limit_deg;
    let clears = turned_deg.abs() <= limit_deg - SHIFT_EASE_DEG;
    let shifted = memory.shifted.note(facts.now, sets, clears, Patience::NONE);
    if facts.limits.barred.iter().any(|sector| sector.contains(mean)) {
        return barred(mean);
    }
    let worse = facts.wind.lies_to.and_then(|lies| worse(lies, facts));
    let blows = facts.wind.speeds.is_some_and(|speeds| speeds.mean >= facts.limits.wind_shift_from);
    let priority = if blows || worse.is_some() { Priority::Warning } else { Priority::Caution };
    Condition::when(shifted, || {
        let word = if turned_deg > 0.0 { "veered" } else { "backed" };
        let what = format!(
            "The wind has {word} {:.0}°, to {mean}.{} The anchor may turn.{}",
            turned_deg.abs(),
            lies_words(facts.wind.lies_to),
            worse.unwrap_or_default()
        );
        Condition::present(AlertKind::WindShift, priority, what)
    })
}

/// Where she will lie and how deep.
fn lies_words(lies: Option<LiesTo>) -> String {
    let Some(lies) = lies else { return " She will swing.".to_owned() };
    let depth = lies.depth.map_or_else(
        || ", where nothing was sounded".to_owned(),
        |depth| {
            format!(
                ", in {:.1} m by the soundings{}",
                depth.0,
                if lies.at_low_water { ", at low water" } else { "" }
            )
        },
    );
    format!(" She will lie {} of the anchor{depth}.", lies.bearing)
}

/// Why it is worse there.
fn worse(lies: LiesTo, facts: &Facts) -> Option<String> {
    let under_keel = lies.depth.map(|depth| depth - facts.boat.draft);
    if let Some(under_keel) = under_keel.filter(|under| *under < facts.limits.under_keel) {
        return Some(format!(" There she has {:.1} m under the keel.", under_keel.0));
    }
    let near = lies.neighbour.filter(|off| *off < NEIGHBOUR_CLEAR)?;
    Some(format!(" Another vessel lies {:.0} m from there.", near.0.max(0.0)))
}

fn barred(mean: TrueBearing) -> Condition {
    let what = format!("The wind now blows from {mean}, a sector you barred.");
    Condition::present(AlertKind::WindShift, Priority::Warning, what)
        .with_action("Look at the lee side and the room there. Be ready to leave.")
}

/// Mean or gust over the limit, or over what lifts the rode at the anchor.
pub fn high(memory: &mut Memory, facts: &Facts) -> Condition {
    let Some(speeds) = facts.wind.speeds.filter(|_| facts.anchored()) else {
        memory.windy.clear();
        return Condition::Absent;
    };
    let limits = facts.limits;
    let lifted_over = |ease: Knots| facts.wind.lifts.is_some_and(|wind| speeds.mean > wind - ease);
    let over = |ease: Knots| {
        speeds.mean > limits.wind_high - ease || speeds.gust > limits.gust_high - ease || lifted_over(ease)
    };
    let was_windy = memory.windy.is_on();
    let windy = memory.windy.note(facts.now, over(Knots(0.0)), !over(WIND_EASE), Patience::NONE);
    Condition::when(windy, || {
        let mut what = format!(
            "Wind {:.0} kn, gusts {:.0} kn; your limits are {:.0} and {:.0}.",
            speeds.mean.0, speeds.gust.0, limits.wind_high.0, limits.gust_high.0
        );
        let ease = if was_windy { WIND_EASE } else { Knots(0.0) };
        if let Some(wind) = facts.wind.lifts.filter(|_| lifted_over(ease)) {
            let lifts = wind.0;
            what += &format!(
                " From {lifts:.0} kn on the rode out is calculated to pull up at the anchor by 8° or more."
            );
        }
        Condition::present(AlertKind::WindHigh, Priority::Warning, what)
    })
}

/// The wind is earlier, stronger or from elsewhere than was forecast.
pub fn not_as_forecast(memory: &mut Memory, facts: &Facts) -> Condition {
    let held = facts.held.filter(|_| facts.rides());
    let is_unlike = memory.unlike.note(facts.now, held.is_some(), held.is_none(), UNLIKE);
    if let Some(held) = held {
        let priority = if held.wakes { Priority::Warning } else { Priority::Caution };
        memory.told = Some((priority, held.words.clone()));
    }
    if !is_unlike {
        memory.told = None;
    }
    memory.told.as_ref().filter(|_| is_unlike).map_or(Condition::Absent, |(priority, what)| {
        Condition::present(AlertKind::NotAsForecast, *priority, what.clone())
    })
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::boat::Sector;
    use crate::watch::units::Metres;
    use crate::watch::wind::Speeds;

    fn turned(calm: &Calm, memory: &mut Memory, to_deg: f64) -> Condition {
        let mut facts = calm.facts(second(0));
        facts.wind.shift_from = Some(TrueBearing::new(350.0));
        facts.wind.mean = Some(TrueBearing::new(to_deg));
        shift(memory, &facts)
    }

    #[test]
    fn a_shift_is_told_from_the_limit_on_and_ends_ten_degrees_inside_it() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let raised: Vec<bool> =
            [30.0, 36.0, 27.0, 24.0, 30.0].map(|deg| turned(&calm, &mut memory, deg).is_present()).into();
        assert_eq!(raised, [false, true, true, false, false]);
        let Condition::Present { reason, .. } = turned(&calm, &mut memory, 290.0) else { panic!() };
        assert!(reason.what.contains("backed 60°"), "{reason:?}");
    }

    #[test]
    fn in_light_air_a_shift_wakes_only_where_she_would_lie_worse() {
        let priority = |kn: f64, depth: Option<f64>, neighbour: Option<f64>| {
            let calm = Calm::default();
            let mut facts = calm.facts(second(0));
            facts.wind.shift_from = Some(TrueBearing::new(350.0));
            facts.wind.mean = Some(TrueBearing::new(90.0));
            facts.wind.speeds = Some(Speeds { mean: Knots(kn), gust: Knots(kn) });
            let bearing = TrueBearing::new(270.0);
            let (depth, neighbour) = (depth.map(Metres), neighbour.map(Metres));
            facts.wind.lies_to = Some(LiesTo { bearing, depth, at_low_water: true, neighbour });
            shift(&mut Memory::default(), &facts).priority()
        };
        assert_eq!(priority(9.0, None, None), Some(Priority::Warning));
        assert_eq!(priority(2.0, Some(8.0), Some(80.0)), Some(Priority::Caution));
        assert_eq!(priority(2.0, Some(1.0), None), Some(Priority::Warning));
        assert_eq!(priority(2.0, None, Some(12.0)), Some(Priority::Warning));
    }

    #[test]
    fn a_barred_sector_is_told_without_any_shift() {
        let mut calm = Calm::default();
        calm.settings.limits.barred =
            vec![Sector { from: TrueBearing::new(340.0), to: TrueBearing::new(20.0) }];
        assert!(turned(&calm, &mut Memory::default(), 355.0).is_present());
        assert!(!turned(&calm, &mut Memory::default(), 25.0).is_present());
    }

    #[test]
    fn strong_wind_ends_two_knots_below_its_limit() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut blows = |mean: f64, gust: f64, lifts: Option<f64>| {
            let mut facts = calm.facts(second(0));
            facts.wind.speeds = Some(Speeds { mean: Knots(mean), gust: Knots(gust) });
            facts.wind.lifts = lifts.map(Knots);
            high(&mut memory, &facts)
        };
        assert!(!blows(24.0, 30.0, None).is_present());
        assert!(blows(25.5, 30.0, None).is_present());
        assert!(blows(23.5, 30.0, None).is_present());
        assert!(!blows(22.5, 30.0, None).is_present());
        assert!(blows(10.0, 35.0, None).is_present());
        assert!(!blows(10.0, 20.0, None).is_present());
        let Condition::Present { reason, .. } = blows(16.0, 20.0, Some(15.0)) else { panic!() };
        assert!(reason.what.contains("From 15 kn"), "{reason:?}");
    }

    #[test]
    fn without_wind_nothing_is_told_of_it() {
        let calm = Calm::default();
        let facts = calm.facts(second(0));
        assert_eq!(shift(&mut Memory::default(), &facts), Condition::Absent);
        assert_eq!(high(&mut Memory::default(), &facts), Condition::Absent);
    }

    #[test]
    fn a_wind_unlike_the_forecast_is_told_after_five_minutes_and_sounds_where_it_matters() {
        use crate::watch::ahead::{Differs, Held};
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut at = |s: i64, wakes: Option<bool>| {
            let held = wakes.map(|wakes| Held { differs: Differs::Stronger, words: "So.".into(), wakes });
            let facts = Facts { held: held.as_ref(), ..calm.facts(second(s)) };
            not_as_forecast(&mut memory, &facts).priority()
        };
        assert_eq!((at(0, Some(false)), at(299, Some(false))), (None, None));
        assert_eq!(at(300, Some(false)), Some(Priority::Caution));
        assert_eq!(at(360, Some(true)), Some(Priority::Warning));
        assert_eq!(at(400, None), Some(Priority::Warning), "for a while it lingers");
        assert_eq!(at(1301, None), None);
    }
}
