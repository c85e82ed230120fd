//! Is there water enough under her, and rode enough over it: now, and through the night?

use super::facts::Facts;
use super::ground::Ground;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::geo::Local;
use crate::watch::latch::{Latch, Patience};
use crate::watch::snapshot::Stage;
use crate::watch::tide::turns::Uncovered;
use crate::watch::tuning::{DEPTH_EASE, ODD_AFTER, SHALLOW_AFTER, TIDE_ENDS_SOON};
use crate::watch::units::{Metres, Span};

/// What must be remembered about the water from second to second.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    shallow: Latch,
    odd: Latch,
    ground: Ground,
}

impl Memory {
    /// The depth that was sounded at a place about the mark before, where it is `predicted` at the anchor now.
    pub fn usual_depth(&self, place: Local, predicted: Metres) -> Option<Metres> {
        self.ground.known(place).map(|off_m| predicted + Metres(off_m))
    }
}

/// Too little water under the keel now.
pub fn shallow(memory: &mut Memory, facts: &Facts) -> Condition {
    let Some(depth) = facts.water.sounded.filter(|_| facts.anchored()) else {
        memory.shallow.clear();
        return Condition::Absent;
    };
    let under_keel = depth - facts.boat.draft;
    let limit = facts.limits.under_keel;
    let patience = Patience { on: SHALLOW_AFTER, off: Span::ZERO };
    let is_shallow =
        memory.shallow.note(facts.now, under_keel < limit, under_keel >= limit + DEPTH_EASE, patience);
    Condition::when(is_shallow, || {
        let what = format!(
            "{} by the sounder; your limit is {:.1} m.{}",
            keel_words(under_keel),
            limit.0,
            relief(facts, depth)
        );
        Condition::present(AlertKind::Shallow, Priority::Alarm, what)
    })
}

/// Water under the keel in words; below zero she is aground.
fn keel_words(under_keel: Metres) -> String {
    if under_keel.0 < 0.0 {
        format!("aground by {:.1} m", -under_keel.0)
    } else {
        format!("{:.1} m under the keel", under_keel.0)
    }
}

/// When the tide will have brought back the water that is wanted, in words. It must rise by what the sounder lacks:
/// where she lies the bottom may be higher than at the anchor.
fn relief(facts: &Facts, sounded: Metres) -> String {
    let water = facts.water.at_drop;
    let lacks = facts.boat.draft + facts.limits.under_keel - sounded;
    let enough = water.depth_at(facts.now).map(|predicted| predicted + lacks);
    match enough.and_then(|depth| water.next_passing(depth, facts.now)) {
        Some(at) => format!(" By the tide there is enough again in {}.", at.since(facts.now)),
        None => String::new(),
    }
}

/// Too little water under the keel at the next low water, where she has lain; or so if the sea goes on falling off the tide.
pub fn shoaling(facts: &Facts) -> Condition {
    let outlook = facts.water.at_drop.outlook();
    let Some((depth, at)) = outlook.least.filter(|_| facts.anchored()) else { return Condition::Absent };
    let (draft, limit) = (facts.boat.draft, facts.limits.under_keel);
    let when = format!("at low water {}, in {}", at.in_utc(), at.since(facts.now));
    let under_keel = depth - draft;
    let grown = outlook.least_if_grows.map(|depth| depth - draft).filter(|grown| *grown < limit);
    if under_keel < limit {
        let keel = keel_words(under_keel);
        let what =
            format!("{}{keel} {when}; your limit is {:.1} m.{}", touching(facts), limit.0, measured(facts));
        return Condition::present(AlertKind::Shoaling, Priority::Warning, what);
    }
    // Where the sea really goes on falling, what is measured falls below the limit long before low water: nobody is woken yet.
    let Some(grown) = grown else { return Condition::Absent };
    let what = format!(
        "{} {when}, if the sea goes on falling below the tide as in the last hour; your limit is {:.1} m.{}",
        keel_words(grown),
        limit.0,
        measured(facts)
    );
    Condition::present(AlertKind::Shoaling, Priority::Caution, what)
}

/// When she touches and floats again, in words.
fn touching(facts: &Facts) -> String {
    let Some(grounding) = facts.water.at_drop.grounding(facts.boat.draft, facts.now) else {
        return String::new();
    };
    let touches = if grounding.touches <= facts.now {
        "Aground now".to_owned()
    } else {
        format!("Touches {}, in {}", grounding.touches.in_utc(), grounding.touches.since(facts.now))
    };
    match grounding.floats {
        Some(at) => format!("{touches}; floats again {}: ", at.in_utc()),
        None => format!("{touches}; when she floats again is not known: "),
    }
}

/// What was measured beside the tide that makes the forecast what it is.
fn measured(facts: &Facts) -> String {
    let water = facts.water.at_drop;
    let sea = water.correction(facts.now).filter(|correction| correction.for_least().0 <= -0.05);
    let sea = sea.map(|correction| format!(" {}.", correction.in_words(facts.now)));
    let shoals = Some(water.shoals()).filter(|shoals| shoals.0 >= 0.05);
    let shoals = shoals
        .map(|shoals| format!(" Where she has swung it is {:.1} m shallower than at the anchor.", shoals.0));
    [sea, shoals].into_iter().flatten().collect()
}

/// Too little scope at the next high water.
pub fn scope_short(facts: &Facts) -> Condition {
    let limit = facts.limits.scope;
    let least = facts.water.least_scope.filter(|_| facts.lies_to_her_rode);
    let Some((scope, at)) = least.filter(|(scope, _)| *scope < limit) else { return Condition::Absent };
    let more = facts.veered.unwrap_or_default().0 * (limit / scope - 1.0);
    let what = format!(
        "Scope {scope:.1} at high water in {}; your limit is {limit:.1}. {:.0} m more would do.",
        at.since(facts.now),
        more.ceil()
    );
    Condition::present(AlertKind::ScopeShort, Priority::Warning, what)
}

/// The sounder shows what neither the tide nor what it showed here before explains.
pub fn depth_odd(memory: &mut Memory, facts: &Facts) -> Condition {
    let water = facts.water.at_drop;
    let watching = facts.stage == Stage::BroughtUp && water.has_tide();
    let known = facts.water.sounded.zip(water.depth_by_tide(facts.now)).filter(|_| watching);
    let place =
        facts.position.to_anchor.map(|(distance, bearing)| Local::polar(bearing.reversed(), distance.0));
    let limit = facts.limits.depth_odd;
    let off_m = known.zip(place).map_or(0.0, |((sounded, predicted), place)| {
        memory.ground.odd_m(place, (sounded - predicted).0, limit.0)
    });
    let patience = Patience { on: ODD_AFTER, off: Span::ZERO };
    let clears = off_m.abs() <= (limit - DEPTH_EASE).0;
    let is_odd = memory.odd.note(facts.now, off_m.abs() > limit.0, clears, patience);
    Condition::when(is_odd, || {
        let (sounded, predicted) = known.unwrap_or_default();
        let what = format!(
            "The sounder shows {:.1} m, {:.1} m {} than it was here before, corrected for the tide (at the anchor the tide \
             makes it {:.1} m). She has moved, or the tide was entered wrong.",
            sounded.0,
            off_m.abs(),
            if off_m > 0.0 { "deeper" } else { "shallower" },
            predicted.0
        );
        Condition::present(AlertKind::DepthOdd, Priority::Warning, what)
    })
}

/// The tide table ends soon, or has ended.
pub fn tide_ends(facts: &Facts) -> Condition {
    if let Some(Uncovered::BeginsLater { first, .. }) =
        facts.water.at_drop.uncovered(facts.now).filter(|_| facts.anchored())
    {
        let what = format!(
            "The tide table begins {} after letting go, too late to be tied to her depth. Nothing is foreseen.",
            first.at.since(facts.stage_since)
        );
        return Condition::present(AlertKind::TideEnds, Priority::Warning, what);
    }
    let until = facts.water.at_drop.known_until().filter(|_| facts.anchored());
    let left = until.map(|until| until.since(facts.now));
    let Some(left) = left.filter(|left| *left < TIDE_ENDS_SOON) else { return Condition::Absent };
    let what = if left > Span::ZERO {
        format!("The tide table ends in {left}. After that depth and scope are not foreseen.")
    } else {
        format!("The tide table ended {} ago. Depth and scope are not foreseen.", Span(-left.0))
    };
    Condition::present(AlertKind::TideEnds, Priority::Warning, what)
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::input::{TideEntered, TurnKind, TypedTurn};
    use crate::watch::units::WatchTime;

    const HOUR_S: i64 = 3600;

    /// 6 m of water at high water, which is now; low water in six hours, `range_m` lower.
    fn falling(range_m: f64) -> Calm {
        let mut calm = Calm::default();
        let turn =
            |h: i64, height: f64, kind| TypedTurn { time: second(h * HOUR_S), height: Metres(height), kind };
        let turns = vec![
            turn(0, 1.0 + range_m, TurnKind::High),
            turn(6, 1.0, TurnKind::Low),
            turn(12, 1.0 + range_m, TurnKind::High),
        ];
        calm.water.enter(&TideEntered::Table { turns }, second(0), None).unwrap();
        calm.water.tie(Some((second(0), Metres(6.0))), second(0));
        calm
    }

    #[test]
    fn shallow_water_is_told_after_five_seconds_and_ends_two_decimetres_above_its_limit() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut raised = |s: i64, depth: f64| {
            let mut facts = calm.facts(second(s));
            facts.water.sounded = Some(Metres(depth));
            shallow(&mut memory, &facts).is_present()
        };
        // She draws 1.8 m and wants 0.5 m.
        assert_eq!((0..10).find(|s| raised(*s, 2.2)), Some(5));
        assert!(raised(10, 2.45) && !raised(11, 2.55));
    }

    #[test]
    fn aground_is_said_as_such() {
        assert_eq!(keel_words(Metres(-0.3)), "aground by 0.3 m");
    }

    #[test]
    fn shoaling_looks_at_the_next_low_water() {
        assert_eq!(shoaling(&falling(3.0).facts(second(0))), Condition::Absent);
        let Condition::Present { reason, .. } = shoaling(&falling(4.0).facts(second(0))) else { panic!() };
        assert!(reason.what.starts_with("0.2 m under the keel at low water"), "{reason:?}");
    }

    #[test]
    fn water_too_little_ahead_is_told_with_its_times() {
        // 6 m at high water falls by 4.5 m; she draws 1.8 m.
        let Condition::Present { reason, .. } = shoaling(&falling(4.5).facts(second(0))) else { panic!() };
        assert_eq!(
            reason.what,
            "Touches 05:00 UTC, in 5 h 00 min; floats again 06:59 UTC: aground by 0.3 m at low water 06:00 UTC, in 6 h \
             00 min; your limit is 0.5 m."
        );
    }

    /// Four hours of a sea that falls `fall_m` an hour off the tide, as the sounder shows it over one spot.
    fn falls_off(range_m: f64, fall_m: f64) -> Calm {
        let mut calm = falling(range_m);
        for s in 0..4 * HOUR_S {
            let now = second(s);
            calm.water.second(now);
            let sea_m = -fall_m * s as f64 / 3600.0;
            let depth = calm.water.depth_by_tide(now).unwrap() + Metres(sea_m);
            calm.water.hear(now, Some((depth, Local::new(3.0, -28.0))), None);
        }
        calm
    }

    #[test]
    fn a_sea_that_stands_below_the_tide_takes_from_the_least_water() {
        // By the table 0.8 m at low water; the sea falls by 10 cm an hour for four hours.
        let calm = falls_off(3.4, 0.1);
        let Condition::Present { reason, .. } = shoaling(&calm.facts(second(4 * HOUR_S))) else { panic!() };
        assert!(reason.what.starts_with("0.3 m under the keel at low water 06:00 UTC"), "{reason:?}");
        assert!(
            reason.what.contains("The sea stands 0.4 m below the tide, within 0.3 m, by the sounder"),
            "{reason:?}"
        );
    }

    #[test]
    fn a_growing_difference_is_told_before_it_eats_the_limit() {
        // By the table 1.05 m at low water: less by half a metre with what was measured, and it goes on.
        let calm = falls_off(3.15, 0.1);
        let found = shoaling(&calm.facts(second(4 * HOUR_S)));
        assert_eq!(found.priority(), Some(Priority::Caution), "it wakes nobody yet");
        let Condition::Present { reason, .. } = found else { panic!() };
        assert!(reason.what.contains("if the sea goes on falling below the tide"), "{reason:?}");
        assert_eq!(shoaling(&falls_off(3.15, 0.0).facts(second(4 * HOUR_S))), Condition::Absent);
    }

    #[test]
    fn a_bank_that_she_has_lain_over_counts_at_low_water() {
        let mut calm = falling(3.4);
        for s in 0..2 * HOUR_S {
            let now = second(s);
            calm.water.second(now);
            // 0.6 m shallower where she lies than at the anchor.
            let depth = calm.water.depth_by_tide(now).unwrap() - Metres(0.6);
            calm.water.hear(now, Some((depth, Local::new(3.0, -28.0))), None);
        }
        let Condition::Present { reason, .. } = shoaling(&calm.facts(second(2 * HOUR_S))) else { panic!() };
        assert!(reason.what.starts_with("0.2 m under the keel"), "{reason:?}");
        assert!(reason.what.contains("0.6 m shallower than at the anchor"), "{reason:?}");
    }

    #[test]
    fn scope_is_judged_by_what_she_lies_to() {
        let calm = Calm::default();
        let mut facts = calm.facts(second(0));
        facts.water.least_scope = Some((2.5, second(HOUR_S)));
        let Condition::Present { reason, .. } = scope_short(&facts) else { panic!() };
        assert!(reason.what.contains("6 m more would do"), "{reason:?}");
        facts.lies_to_her_rode = false;
        assert_eq!(scope_short(&facts), Condition::Absent);
    }

    #[test]
    fn a_depth_that_was_not_so_here_before_is_odd_after_three_minutes() {
        let (calm, mut memory) = (falling(3.0), Memory::default());
        let mut odd = |s: i64, depth: f64| {
            let mut facts = calm.facts(second(s));
            facts.water.sounded = Some(Metres(depth));
            depth_odd(&mut memory, &facts).is_present()
        };
        // Steadily deeper than at the anchor: the bottom slopes.
        assert!(!(0..300).any(|s| odd(s, 4.0)));
        assert_eq!((300..600).find(|s| odd(*s, 6.0)), Some(480));
    }

    #[test]
    fn the_end_of_the_tide_table_is_told_an_hour_before() {
        let calm = falling(3.0);
        let at = |s: i64| tide_ends(&calm.facts(WatchTime(s * 1000)));
        assert_eq!(at(11 * HOUR_S), Condition::Absent);
        assert!(at(11 * HOUR_S + 1).is_present());
        let Condition::Present { reason, .. } = at(13 * HOUR_S) else { panic!() };
        assert!(reason.what.contains("ended 1 h"), "{reason:?}");
    }
}
