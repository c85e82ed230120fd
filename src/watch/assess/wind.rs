//! Has the wind turned, and is there too much of it?

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::latch::{Latch, Patience};
use crate::watch::snapshot::Stage;
use crate::watch::tuning::{SHIFT_EASE_DEG, WIND_EASE};
use crate::watch::units::{Knots, TrueBearing};

/// What must be remembered about the wind from second to second.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    shifted: Latch,
    windy: Latch,
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
    Condition::when(shifted, || {
        let word = if turned_deg > 0.0 { "veered" } else { "backed" };
        let what = format!(
            "The wind has {word} {:.0}°, to {mean}. She will swing, and the anchor may turn.",
            turned_deg.abs()
        );
        Condition::present(AlertKind::WindShift, Priority::Warning, what)
    })
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

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::boat::Sector;
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
}
