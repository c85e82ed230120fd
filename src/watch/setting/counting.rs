//! How much to veer, and which mark of the rode tells how much is out.

use std::sync::Arc;

use super::{MarkSeen, MarksView, Target, TargetBy};
use crate::watch::boat::{Boat, Limits, RodeMark, Tackle};
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

/// How much to veer: what the crew told, else what their least scope asks for at the highest water, as far as the room
/// and the rode go.
#[must_use]
pub fn target(
    entered: Option<Metres>,
    depths: Depths,
    boat: &Boat,
    tackle: &Tackle,
    limits: &Limits,
) -> Option<Target> {
    let high = depths.highest + boat.bow_height;
    if high.0 <= 0.0 {
        return None;
    }
    let by_scope = Metres((high * limits.scope).0.ceil());
    let room = limits.circle.map(|circle| fits(circle, depths.lowest + boat.bow_height, boat));
    let aboard = tackle.chain + tackle.rope;
    let (length, by) = match (entered, room) {
        (Some(entered), _) => (entered, TargetBy::Crew),
        (None, Some(room)) if room < by_scope && room < aboard => (room, TargetBy::Room),
        (None, _) if aboard < by_scope => (aboard, TargetBy::Aboard),
        (None, _) => (by_scope, TargetBy::Scope),
    };
    Some(Target { length, by, by_scope, high_water: depths.highest, scope: length.0 / high.0 })
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
        let of = |entered, tackle: &Tackle, limits: &Limits| {
            target(entered, depths, &boat, tackle, limits).unwrap()
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
}
