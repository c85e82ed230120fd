//! What does the crew owe: a round, or a change of light and ball?

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::snapshot::Stage;
use crate::watch::units::Span;

/// A round is due.
pub fn round_due(facts: &Facts) -> Condition {
    let Some(due) = facts.duties.round_due else { return Condition::Absent };
    let (late, grace) = (facts.now.since(due), facts.limits.round_grace);
    let priority = match late {
        late if late < grace => Priority::Caution,
        late if late < Span(grace.0 * 3) => Priority::Warning,
        _ => Priority::Alarm,
    };
    let who = facts.duties.on_watch.as_ref().map_or_else(String::new, |name| format!(" {name} is on watch."));
    let what = match priority {
        Priority::Caution => format!("A round is due.{who}"),
        _ => format!("A round is {late} overdue: nobody has looked.{who}"),
    };
    Condition::present(AlertKind::RoundDue, priority, what)
}

/// The sun has risen or set while she rides, or had set before: until a round has looked at the lights.
pub fn light_due(facts: &Facts) -> Condition {
    let crossed = facts.duties.sun.filter(|crossed| {
        facts.stage == Stage::BroughtUp
            && (crossed.at > facts.stage_since || !crossed.rises)
            && !facts.duties.lights_seen
    });
    let Some(crossed) = crossed else { return Condition::Absent };
    let what = if crossed.rises {
        "The sun has risen: the anchor light out, the ball up."
    } else {
        "The sun has set: the ball down, the anchor light on."
    };
    Condition::present(AlertKind::LightDue, Priority::Caution, what.to_owned())
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::sun::Crossing;

    #[test]
    fn a_round_that_nobody_makes_rises_from_caution_to_alarm() {
        let calm = Calm::default();
        let at = |minute: i64| {
            let mut facts = calm.facts(second(minute * 60));
            facts.duties.round_due = Some(second(0));
            facts.duties.on_watch = Some("Tove".into());
            round_due(&facts)
        };
        let priorities = [0, 9, 10, 29, 30].map(|minute| at(minute).priority());
        use Priority::{Alarm, Caution, Warning};
        assert_eq!(priorities, [Caution, Caution, Warning, Warning, Alarm].map(Some));
        let Condition::Present { reason, .. } = at(12) else { panic!() };
        assert!(reason.what.contains("12 min overdue") && reason.what.contains("Tove"), "{reason:?}");
        assert_eq!(round_due(&calm.facts(second(0))), Condition::Absent);
    }

    #[test]
    fn lights_are_due_until_they_were_seen_also_after_anchoring_in_the_dark() {
        let calm = Calm::default();
        let at = |minute: i64, seen: bool| {
            let mut facts = calm.facts(second(600 + minute * 60));
            facts.duties.sun = Some(Crossing { at: second(600), rises: false });
            facts.duties.lights_seen = seen;
            light_due(&facts).is_present()
        };
        assert!(at(0, false) && at(300, false) && !at(5, true));
        let mut facts = calm.facts(second(600));
        facts.stage_since = second(300);
        facts.duties.sun = Some(Crossing { at: second(0), rises: false });
        assert!(light_due(&facts).is_present(), "anchored after sunset");
        facts.duties.sun = Some(Crossing { at: second(0), rises: true });
        assert!(!light_due(&facts).is_present(), "anchored by day: nothing has changed");
    }
}
