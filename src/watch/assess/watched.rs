//! Is she watched at all? What holds in every second: while an anchor is down, drop point, circle and anchor are judged, or
//! an alert says why not.

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::holding::HoldingState;
use crate::watch::latch::Lasting;
use crate::watch::snapshot::Stage;
use crate::watch::tuning::{LOOKING_MAX, SETTING_MAX, UNJUDGED_MAX, UNSEEN_MAX, UNWATCHED_AFTER};
use crate::watch::units::{Metres, Span};

/// What must be remembered from second to second.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// Drop point or circle are missing.
    missing: Lasting,
    /// The circle is not watched, and no other alert says why.
    unseen: Lasting,
    /// The anchor is not judged, and no other alert says why.
    unjudged: Lasting,
}

/// What is not watched, and why.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Blind {
    /// The anchor was let go, and its place is not known.
    NoDrop,
    /// She lies at an anchor that the crew says nobody marked; it has been looked for in her swing so long.
    Looking(Span),
    /// The same, and the judge has found it: only the circle is missing.
    FoundUnmarked,
    /// The rode that is out makes no circle, or nobody has entered how much that is.
    NoCircle(Option<Metres>),
    /// No position has been held against the circle for so long.
    Unseen(Span),
    /// Whether she drags has not been judged for so long.
    Unjudged(Span),
    /// The crew has been weighing for so long.
    Weighing(Span),
}

/// She rides, and something that would wake the crew is not watched. `explained`: another alert says why positions
/// cannot be judged.
pub fn unwatched(memory: &mut Memory, facts: &Facts, explained: bool) -> Condition {
    match memory.blind(facts, explained) {
        Some(blind) => {
            let found = Condition::present(AlertKind::Unwatched, blind.priority(), blind.words());
            match blind.action() {
                Some(action) => found.with_action(action),
                None => found,
            }
        }
        None => Condition::Absent,
    }
}

impl Memory {
    fn blind(&mut self, facts: &Facts, explained: bool) -> Option<Blind> {
        let now = facts.now;
        let complete = facts.is_marked && facts.circle.is_some();
        let missing = self.missing.note(now, facts.rides() && !complete);
        let sees = facts.position.room.is_some();
        let unseen = self.unseen.note(now, facts.rides() && complete && !sees && !explained);
        let judges =
            !matches!(facts.position.judged.state, HoldingState::NotSet | HoldingState::CannotJudge(_));
        let unjudged = self.unjudged.note(now, facts.drag_counts && complete && !judges && !explained);
        let longer_than = |lasting: Option<Span>, most: Span| lasting.filter(|span| *span >= most);
        if facts.stage == Stage::Weighing {
            return longer_than(Some(now.since(facts.stage_since)), SETTING_MAX).map(Blind::Weighing);
        }
        longer_than(missing, UNWATCHED_AFTER)
            .map(|lasting| missing_what(facts, lasting, judges))
            .or_else(|| longer_than(unseen, UNSEEN_MAX).map(Blind::Unseen))
            .or_else(|| longer_than(unjudged, UNJUDGED_MAX).map(Blind::Unjudged))
    }
}

fn missing_what(facts: &Facts, lasting: Span, judges: bool) -> Blind {
    match (facts.is_marked, facts.lies_unmarked) {
        (true, _) => Blind::NoCircle(facts.veered),
        (false, false) => Blind::NoDrop,
        (false, true) if judges => Blind::FoundUnmarked,
        (false, true) => Blind::Looking(lasting),
    }
}

impl Blind {
    /// What the crew has chosen, and knows of, wakes nobody: unless it goes on for longer than it should.
    fn priority(self) -> Priority {
        match self {
            Self::FoundUnmarked => Priority::Caution,
            Self::Looking(lasting) if lasting < LOOKING_MAX => Priority::Caution,
            _ => Priority::Warning,
        }
    }

    fn words(self) -> String {
        match self {
            Self::NoDrop => {
                "The anchor is down and its place is not known: neither circle nor drag is watched.".into()
            }
            Self::Looking(lasting) => format!(
                "Nobody marked the anchor, and it has been looked for in her swing for {lasting}: neither circle nor \
                 drag is watched."
            ),
            Self::FoundUnmarked => {
                "Nobody marked the anchor: no circle is watched. Drag is judged by her swing alone.".into()
            }
            Self::NoCircle(None) => {
                "The rode that is out has not been entered: there is no circle to watch.".into()
            }
            Self::NoCircle(Some(veered)) => {
                format!("{:.0} m of rode make no circle: nothing warns when she lies too far off.", veered.0)
            }
            Self::Unseen(lasting) => {
                format!(
                    "No position has been held against the circle for {lasting}: the receiver starts again and again."
                )
            }
            Self::Unjudged(lasting) => {
                format!("Whether she drags has not been judged for {lasting}. Only the circle is watched.")
            }
            Self::Weighing(lasting) => {
                format!("Weighing for {lasting}: neither circle nor drag is watched.")
            }
        }
    }

    /// What to do where it is not what the table of kinds says.
    fn action(self) -> Option<&'static str> {
        match self {
            Self::NoDrop | Self::Looking(_) | Self::FoundUnmarked => None,
            Self::NoCircle(_) => Some("Enter the rode that is out, or set a circle among the limits."),
            Self::Unseen(_) | Self::Unjudged(_) => {
                Some("Take bearings. Look at receiver, cable and power; a second receiver would help.")
            }
            Self::Weighing(_) => Some("If she still lies to her anchor, enter that she stays."),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;

    /// The first second in which the alert stands, with its priority, of an hour.
    fn first(explained: bool, change: impl Fn(&mut Facts)) -> Option<(i64, Priority)> {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        (0..3600).find_map(|s| {
            let mut facts = calm.facts(second(s));
            change(&mut facts);
            Some((s, unwatched(&mut memory, &facts, explained).priority()?))
        })
    }

    fn held() -> crate::watch::holding::Verdict {
        let mut judged = Calm::default().judged;
        judged.state = HoldingState::Holding;
        judged
    }

    #[test]
    fn without_drop_point_or_circle_she_is_not_watched_within_thirty_seconds() {
        let judged = held();
        let warning = Some((30, Priority::Warning));
        let without_drop = |facts: &mut Facts| (facts.is_marked, facts.circle) = (false, None);
        assert_eq!(first(false, without_drop), warning);
        assert_eq!(first(true, without_drop), warning, "whatever else stands");
        let while_setting = |facts: &mut Facts| {
            without_drop(facts);
            facts.stage = Stage::Setting;
        };
        assert_eq!(first(false, while_setting), warning);
        let rode_in = |facts: &mut Facts| (facts.circle, facts.veered) = (None, Some(Metres(0.0)));
        assert_eq!(first(false, rode_in), warning);
        let (calm, mut memory) = (Calm { judged, ..Calm::default() }, Memory::default());
        let quiet = (0..3600).all(|s| !unwatched(&mut memory, &calm.facts(second(s)), false).is_present());
        assert!(quiet, "all is watched");
    }

    #[test]
    fn an_anchor_that_nobody_marked_is_a_caution_until_it_has_been_looked_for_too_long() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut at = |s: i64| {
            let mut facts = calm.facts(second(s));
            (facts.is_marked, facts.circle, facts.lies_unmarked) = (false, None, true);
            unwatched(&mut memory, &facts, false).priority()
        };
        assert_eq!((at(0), at(30), at(1799)), (None, Some(Priority::Caution), Some(Priority::Caution)));
        assert_eq!(at(1800), Some(Priority::Warning));
    }

    #[test]
    fn a_receiver_that_starts_again_and_again_is_not_a_calm_screen() {
        let starts = |facts: &mut Facts| facts.position.room = None;
        assert_eq!(first(false, starts), Some((UNSEEN_MAX.0 / 1000, Priority::Warning)));
        assert_eq!(first(true, starts), None, "another alert says it");
        assert_eq!(
            first(false, |_| ()),
            Some((UNJUDGED_MAX.0 / 1000, Priority::Warning)),
            "the judge is not set"
        );
    }

    #[test]
    fn weighing_that_nobody_ended_is_told() {
        let weighs = |facts: &mut Facts| (facts.stage, facts.drag_counts) = (Stage::Weighing, false);
        assert_eq!(first(false, weighs), Some((SETTING_MAX.0 / 1000, Priority::Warning)));
    }
}
