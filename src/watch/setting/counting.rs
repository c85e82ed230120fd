//! How much to veer, and which mark of the rode shows how much is out.

use std::sync::Arc;

use super::{MarkSeen, MarksView, Target, TargetBy};
use crate::watch::boat::{Boat, Limits, RodeMark, Settings};
use crate::watch::plan::{Aim, Asking, Demand};
use crate::watch::rode::Locker;
use crate::watch::units::Metres;

/// A mark this near to the roller is at it.
const AT_ROLLER_M: f64 = 0.3;

/// Depths of the night at the drop point, or under her before there is one, from the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depths {
    /// At the highest water.
    pub highest: Metres,
    /// At the lowest.
    pub lowest: Metres,
}

/// How much to veer: what the crew entered, else what their least scope and the wind that the plan was made for ask for at
/// the highest water, as far as the room and the rode go.
#[must_use]
pub fn target(
    entered: Option<Metres>,
    depths: Depths,
    settings: &Settings,
    limits: &Limits,
) -> Option<Target> {
    let (boat, tackle) = (&settings.boat, &settings.tackle);
    let high = depths.highest + boat.bow_height;
    if high.0 <= 0.0 {
        return None;
    }
    let by_scope = Metres((high * limits.scope).0.ceil());
    let demands = demands(depths.highest, settings, limits);
    let longest = |counts: fn(Aim) -> bool| {
        let lengths = demands.iter().filter(|demand| counts(demand.aim)).map(|demand| demand.length);
        lengths.reduce(Metres::max).map(|length| Metres(length.0.ceil()))
    };
    let by_wind = longest(|aim| !matches!(aim, Aim::LeastScope | Aim::RuleForRode(_)));
    let by_rule = longest(|aim| matches!(aim, Aim::RuleForRode(_))).unwrap_or(by_scope);
    let asked = by_wind.map_or(by_scope, |by_wind| by_wind.max(by_scope)).max(by_rule);
    let room = limits.circle.map(|circle| fits(circle, depths.lowest + boat.bow_height, boat));
    let aboard = tackle.chain + tackle.rope;
    let (length, by) = match (entered, room) {
        (Some(entered), _) => (entered, TargetBy::Crew),
        (None, Some(room)) if room < asked && room < aboard => (room, TargetBy::Room),
        (None, _) if aboard < asked => (aboard, TargetBy::Aboard),
        (None, _) if by_wind == Some(asked) && asked > by_scope => (asked, TargetBy::Wind),
        (None, _) if asked > by_scope => (asked, TargetBy::Rule),
        (None, _) => (by_scope, TargetBy::Scope),
    };
    Some(Target { length, by, by_scope, by_wind, high_water: depths.highest, scope: length.0 / high.0 })
}

/// What the wind that the plan was made for and the published rules ask for, by the plan's own sum.
fn demands(highest: Metres, settings: &Settings, limits: &Limits) -> Vec<Demand> {
    let (boat, tackle) = (&settings.boat, &settings.tackle);
    let Ok(locker) = Locker::of(tackle) else { return Vec::new() };
    let asking = Asking { boat, tackle, locker: &locker, depth: highest, least_scope: limits.scope };
    asking.demands(settings.expected.as_ref()).unwrap_or_default()
}

/// The longest rode whose swing, at the lowest water, stays within the circle, in whole metres: by Pythagoras with the
/// roller `low` above the bottom, as the reach itself.
fn fits(circle: Metres, low: Metres, boat: &Boat) -> Metres {
    let reach = (circle - boat.loa).max(Metres(0.0));
    Metres(reach.0.hypot(low.0.max(0.0)).floor())
}

/// The marks about the length that is out.
#[must_use]
pub fn marks_about(marks: &[RodeMark], out: Option<Metres>, target: Option<Metres>) -> MarksView {
    let seen = |mark: &RodeMark| MarkSeen { at: mark.at, look: Arc::from(mark.look.as_str()) };
    let out = out.unwrap_or_default().0;
    MarksView {
        here: marks.iter().rfind(|m| m.at.0 <= out + AT_ROLLER_M).map(seen),
        out: marks.iter().find(|m| m.at.0 > out + AT_ROLLER_M).map(seen),
        inward: marks.iter().rfind(|m| m.at.0 < out - AT_ROLLER_M).map(seen),
        target: target.and_then(|target| {
            let off = |m: &&RodeMark| (m.at - target).0.abs();
            marks.iter().min_by(|a, b| off(a).total_cmp(&off(b))).map(seen)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::boat::Tackle;
    use crate::watch::rode::Weather;
    use crate::watch::units::Knots;

    fn marks() -> Vec<RodeMark> {
        ["red", "white", "blue"]
            .iter()
            .zip([10.0, 20.0, 30.0])
            .map(|(look, at)| RodeMark { at: Metres(at), look: (*look).into() })
            .collect()
    }

    fn looks(view: &MarksView) -> [Option<&str>; 4] {
        [&view.here, &view.out, &view.inward, &view.target].map(|m| m.as_ref().map(|m| &*m.look))
    }

    #[test]
    fn the_marks_tell_what_is_at_the_roller_and_what_comes_next_either_way() {
        let at = |out| marks_about(&marks(), Some(Metres(out)), Some(Metres(27.0)));
        assert_eq!(looks(&at(7.0)), [None, Some("red"), None, Some("blue")]);
        assert_eq!(looks(&at(20.0)), [Some("white"), Some("blue"), Some("red"), Some("blue")]);
        assert_eq!(looks(&at(24.0)), [Some("white"), Some("blue"), Some("white"), Some("blue")]);
        assert_eq!(looks(&at(40.0)), [Some("blue"), None, Some("blue"), Some("blue")]);
        assert_eq!(looks(&marks_about(&[], None, None)), [None; 4]);
    }

    #[test]
    fn the_target_is_the_least_scope_at_high_water_as_far_as_room_and_rode_go() {
        let boat = Boat { bow_height: Metres(1.0), loa: Metres(10.0), ..Boat::default() };
        let depths = Depths { highest: Metres(7.0), lowest: Metres(3.0) };
        let limits = Limits { scope: 4.0, ..Limits::default() };
        let settings = Settings { boat, ..Settings::default() };
        let of = |entered, tackle: &Tackle, limits: &Limits| {
            let settings = Settings { tackle: tackle.clone(), ..settings.clone() };
            target(entered, depths, &settings, limits).unwrap()
        };
        let free = of(None, &Tackle::default(), &limits);
        assert_eq!((free.length, free.by, free.scope), (Metres(32.0), TargetBy::Scope, 4.0));
        // A circle of 30 m leaves a reach of 20 m, at low water 4 m above the bottom: 20.4 m of rode.
        let tight = of(None, &Tackle::default(), &Limits { circle: Some(Metres(30.0)), ..limits.clone() });
        assert_eq!((tight.length, tight.by, tight.by_scope), (Metres(20.0), TargetBy::Room, Metres(32.0)));
        let short = of(None, &Tackle { chain: Metres(25.0), ..Tackle::default() }, &limits);
        assert_eq!((short.length, short.by), (Metres(25.0), TargetBy::Aboard));
        assert_eq!(of(Some(Metres(40.0)), &Tackle::default(), &limits).by, TargetBy::Crew);
    }

    #[test]
    fn the_target_heeds_the_wind_that_the_plan_was_made_for() {
        let depths = Depths { highest: Metres(7.0), lowest: Metres(3.0) };
        let limits = Limits { scope: 3.0, ..Limits::default() };
        let in_wind = |mean: Option<f64>| {
            let boat = Boat::default();
            let expected = mean.map(|mean| Weather::usual(Knots(mean), boat.hull));
            target(None, depths, &Settings { boat, expected, ..Settings::default() }, &limits).unwrap()
        };
        let (none, light, strong) = (in_wind(None), in_wind(Some(5.0)), in_wind(Some(18.0)));
        assert_eq!((none.by, none.by_wind), (TargetBy::Scope, None));
        // In a light wind it is the reserve for a squall of 22 kn that asks for more than the scope of 3.
        assert_eq!((light.by, light.length, none.length), (TargetBy::Wind, Metres(28.0), Metres(25.0)));
        assert!(strong.length > none.length && strong.by == TargetBy::Wind, "{strong:?}");
        assert_eq!(in_wind(Some(60.0)).by, TargetBy::Aboard);
    }
}
