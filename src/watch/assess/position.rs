//! Does the anchor move, does she lie outside her circle, and is her position known?

use super::blind::{Blind, Exposure, Sight};
use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::fixgate;
use crate::watch::holding::{Doubt, HoldingState};
use crate::watch::latch::{Lasting, Latch, Patience};
use crate::watch::snapshot::{Room, Stage, from_mark};
use crate::watch::tuning::{
    BACK_INSIDE, BACK_INSIDE_M, DOUBT_AFTER, DRAGS_ON, FOUND_FAR, FOUND_FAR_FOR, FOUND_WITHIN,
    HOLDS_FOR_SURE, OPENING_M_PER_MIN, OPENING_OVER, ROOM_RUNS_OUT,
};
use crate::watch::units::{Knots, Metres, Span, WatchTime};

/// What must be remembered about the position from second to second.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    outside: Latch,
    doubt: Lasting,
    lost: Blind,
    doubted: Blind,
    exposure: Exposure,
    opening: Opening,
    answered: Option<Answered>,
    /// She went off from an anchor that nobody marked, and the crew has not yet answered.
    pub has_left: bool,
    /// When the last gap ended, until she is seen inside her circle.
    found: Option<WatchTime>,
}

impl Memory {
    /// She lies outside her circle, and has done so for long enough.
    pub fn is_outside(&self) -> bool {
        self.outside.is_on()
    }

    /// The greatest mean wind in which she was judged to hold.
    pub fn held_wind(&self) -> Knots {
        self.exposure.held()
    }

    /// An alert about positions stands and says why nothing can be judged.
    pub fn explains(&self, facts: &Facts) -> bool {
        let doubted = self.doubt.length(facts.now).is_some_and(|span| span >= doubt_patience(facts));
        doubted || lost_for(facts) >= facts.limits.fix_lost_after
    }

    /// The watch did not run until then.
    pub fn gap(&mut self, to: WatchTime) {
        self.found = Some(to);
    }

    /// How long she must lie outside before it counts. Where the watch wakes and finds her far off, no longer than it
    /// takes to be sure of the position.
    fn outside_patience(&mut self, facts: &Facts, room: Room) -> Span {
        if room.left.0 >= 0.0 {
            self.found = None;
        }
        let is_found = self.found.is_some_and(|woke| facts.now.since(woke) <= FOUND_WITHIN);
        let is_far = room.left.0 < -room.of.0 * (FOUND_FAR - 1.0);
        if is_found && is_far {
            FOUND_FAR_FOR.min(facts.limits.outside_after)
        } else {
            facts.limits.outside_after
        }
    }

    /// One second: how fast she goes away from the anchor.
    pub fn second(&mut self, facts: &Facts) {
        self.exposure.note(facts);
        if let Some((distance, _)) = facts.position.to_anchor {
            self.opening.note(facts.now, distance.0);
        }
    }

    /// One second of a drag that the crew has answered, or of none: whether it must sound again.
    pub fn drags_on(&mut self, is_answered: bool, facts: &Facts) -> bool {
        let moved = facts.position.judged.moved.map(|moved| moved.distance);
        let Some(moved) = moved.filter(|_| is_answered) else {
            self.answered = None;
            return false;
        };
        let room = facts.position.room.map(|room| room.left);
        let answered = *self.answered.get_or_insert(Answered { moved, room });
        let is_outgrown = answered.is_outgrown(moved, room);
        if is_outgrown {
            self.answered = None;
        }
        is_outgrown
    }
}

/// Where a drag stood when the crew answered it.
#[derive(Clone, Copy, Debug)]
pub struct Answered {
    moved: Metres,
    room: Option<Metres>,
}

impl Answered {
    /// It has grown so much since that it must sound again.
    fn is_outgrown(self, moved: Metres, room: Option<Metres>) -> bool {
        let crossed = |limit: Metres| {
            self.room.is_some_and(|room| room >= limit) && room.is_some_and(|room| room < limit)
        };
        moved - self.moved >= DRAGS_ON || ROOM_RUNS_OUT.into_iter().any(crossed)
    }
}

/// How fast the distance from the anchor grows, taken once a minute.
#[derive(Clone, Copy, Debug, Default)]
struct Opening {
    then: Option<(WatchTime, f64)>,
    m_per_min: f64,
}

impl Opening {
    fn note(&mut self, now: WatchTime, distance_m: f64) {
        let Some((then, before)) = self.then else {
            self.then = Some((now, distance_m));
            return;
        };
        let passed = now.since(then);
        if passed >= OPENING_OVER {
            self.m_per_min = (distance_m - before) / (passed.seconds() / 60.0);
            self.then = Some((now, distance_m));
        }
    }

    fn words(self) -> &'static str {
        match self.m_per_min {
            rate if rate > OPENING_M_PER_MIN => "still opening",
            rate if rate < -OPENING_M_PER_MIN => "closing again",
            _ => "not opening",
        }
    }
}

/// The anchor moves.
pub fn drag(memory: &Memory, facts: &Facts) -> Condition {
    if memory.has_left && facts.drag_counts {
        return left(facts);
    }
    let drags = facts.drag_counts && facts.position.judged.state == HoldingState::Dragging;
    Condition::when(drags, || Condition::present(AlertKind::Drag, Priority::Alarm, moved_words(facts)))
}

fn left(facts: &Facts) -> Condition {
    let speed = facts.position.sog.unwrap_or_default();
    let what = format!(
        "She is plainly under way, {:.1} kn, from where she lay. Drag is not judged until she lies again.",
        speed.0
    );
    Condition::present(AlertKind::Drag, Priority::Alarm, what).with_action(
        "If you mean to leave, enter weighing and then anchor aweigh. If not, go on deck and start the engine.",
    )
}

/// The anchor probably moves.
pub fn creep(facts: &Facts) -> Condition {
    let creeps = facts.drag_counts && facts.position.judged.state == HoldingState::Creeping;
    Condition::when(creeps, || {
        let present = Condition::present(AlertKind::Creep, Priority::Warning, moved_words(facts));
        match &facts.check_says {
            Some(todo) => present.with_action(todo),
            None => present,
        }
    })
}

/// How the anchor has moved, and where that leaves her.
fn moved_words(facts: &Facts) -> String {
    let position = &facts.position;
    let moved = match (position.moved, position.judged.moved) {
        (Some(moved), Some(judged)) => {
            let when = format!("in {}", facts.now.since(moved.since));
            format!("Anchor {}, now {:.1} kn.", moved.words(&when), judged.speed.0)
        }
        _ => "No place of the anchor explains where she lies.".to_owned(),
    };
    match position.to_anchor {
        Some((distance, _)) => [moved, from_mark(position.bow_known, distance, position.reach)].join(" "),
        None => moved,
    }
}

/// She lies outside the circle.
pub fn outside(memory: &mut Memory, facts: &Facts) -> Condition {
    if !facts.rides() {
        memory.outside.clear();
        return Condition::Absent;
    }
    let Some(room) = facts.position.room else { return outside_coarsely(memory, facts) };
    let patience = Patience { on: memory.outside_patience(facts, room), off: BACK_INSIDE };
    let is_out = room.left.0 < 0.0;
    let is_back = room.left.0 > BACK_INSIDE_M;
    let raised = memory.outside.note(facts.now, is_out, is_back, patience);
    Condition::when(raised, || {
        Condition::present(AlertKind::Outside, Priority::Alarm, outside_words(memory, facts))
    })
}

/// Without a position that can be trusted an alarm that stands goes on standing; a coarse one raises it where she lies
/// farther outside than that may be off, and ends none.
fn outside_coarsely(memory: &mut Memory, facts: &Facts) -> Condition {
    let Some((room, off)) = facts.position.coarse else {
        return Condition::when(memory.outside.unknown(), outside_unseen);
    };
    let is_out = room.left.0 < -off.0;
    let patience = Patience { on: facts.limits.outside_after, off: BACK_INSIDE };
    let raised = memory.outside.note(facts.now, is_out, false, patience);
    Condition::when(raised, || {
        if !is_out {
            return outside_unseen();
        }
        let what = format!(
            "{} {:.0} m from the anchor, {:.0} m beyond the circle of {:.0} m, by a position that may be {:.0} m off.",
            room.end.word(),
            (room.of - room.left).0,
            -room.left.0,
            room.of.0,
            off.0
        );
        Condition::present(AlertKind::Outside, Priority::Alarm, what)
    })
}

fn outside_unseen() -> Condition {
    let what = "She lay outside the circle when the position was lost.".to_owned();
    Condition::present(AlertKind::Outside, Priority::Alarm, what)
        .with_action("Go on deck and take bearings; find out why there is no position.")
}

fn outside_words(memory: &Memory, facts: &Facts) -> String {
    let (Some((_, to_anchor)), Some(room)) = (facts.position.to_anchor, facts.position.room) else {
        return String::new();
    };
    let judged = facts.position.judged;
    let sure = if judged.state == HoldingState::Holding && judged.evidence < HOLDS_FOR_SURE {
        " One place of the anchor explains every position: it may hold, the circle be too small."
    } else {
        ""
    };
    let beyond = match -room.left.0 {
        out if out > 0.0 => format!("{out:.0} m beyond"),
        _ => "back inside".to_owned(),
    };
    format!(
        "{} {:.0} m from the anchor, {beyond} the circle of {:.0} m, outside for {}, {}, towards {}.{sure}",
        room.end.word(),
        (room.of - room.left).0,
        room.of.0,
        memory.outside.set_for(facts.now).unwrap_or_default(),
        memory.opening.words(),
        to_anchor.reversed()
    )
}

/// There is no position.
pub fn fix_lost(memory: &mut Memory, facts: &Facts) -> Condition {
    let lost_for = lost_for(facts);
    let patience = memory.exposure.patience();
    let is_lost = facts.anchored() && lost_for >= facts.limits.fix_lost_after;
    let sight = Sight::of(is_lost, false);
    let Some(mut priority) = memory.lost.note(facts.now, sight, memory.exposure.further(facts)) else {
        return Condition::Absent;
    };
    if !facts.anchored() {
        return Condition::Absent;
    }
    if !is_lost {
        let what = "The position comes and goes; now there is one.";
        return Condition::lingering(AlertKind::FixLost, what.to_owned());
    }
    if lost_for >= facts.limits.fix_lost_alarm_after.max(patience + patience) {
        priority = Priority::Alarm;
    }
    let what =
        format!("No position for {lost_for}. She can move without an alarm.{}", waits(priority, patience));
    Condition::present(AlertKind::FixLost, priority, what)
}

/// In words how long it waits before it sounds.
fn waits(priority: Priority, patience: Span) -> String {
    match priority {
        Priority::Caution => {
            format!(" It sounds after {patience}: at this load a drag takes so long to use up the room.")
        }
        _ => String::new(),
    }
}

/// How long no position has come, while somebody could have seen it.
fn lost_for(facts: &Facts) -> Span {
    let seen = facts.position.fix_at.unwrap_or(facts.stage_since);
    facts.now.since(seen.max(facts.position.watching_since))
}

/// There is a position, and it cannot be trusted.
pub fn fix_doubtful(memory: &mut Memory, facts: &Facts) -> Condition {
    let why = doubt(facts).or_else(|| cannot_judge(facts));
    let lasting = memory.doubt.note(facts.now, facts.anchored() && why.is_some());
    let is_doubted = lasting.is_some_and(|span| span >= doubt_patience(facts));
    let sight = Sight::of(is_doubted, facts.seen_inside());
    let priority = memory.doubted.note(facts.now, sight, memory.exposure.further(facts));
    let Some(priority) = priority.filter(|_| facts.anchored()) else { return Condition::Absent };
    let Some(why) = why.filter(|_| is_doubted) else {
        let what = "The position was not to be trusted, and now it is.";
        return Condition::lingering(AlertKind::FixDoubtful, what.to_owned());
    };
    let what = format!(
        "The position cannot be trusted: {why}. Whether she drags cannot be judged.{}",
        match sight {
            Sight::Circle => " By it she lies within her circle; it sounds when she does not.".to_owned(),
            _ => waits(priority, memory.exposure.patience()),
        }
    );
    Condition::present(AlertKind::FixDoubtful, priority, what)
}

/// Where a position may come seldom, none for a while is no doubt yet.
fn doubt_patience(facts: &Facts) -> Span {
    DOUBT_AFTER.max(facts.limits.fix_lost_after)
}

/// A receiver that settles after a hole comes right by itself: the hole has been reported already.
fn doubt(facts: &Facts) -> Option<String> {
    facts.position.doubt.filter(|doubt| *doubt != fixgate::Doubt::Settling).map(|doubt| doubt.to_string())
}

/// A receiver that has only just started is no reason to wake anybody, and one that says nothing has its own alert.
fn cannot_judge(facts: &Facts) -> Option<String> {
    match facts.position.judged.state {
        HoldingState::CannotJudge(Doubt::JustStarted | Doubt::NoFix) => None,
        HoldingState::CannotJudge(why) if facts.stage == Stage::BroughtUp => Some(why.to_string()),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::snapshot::{End, Room};
    use crate::watch::units::Metres;

    fn room(left_m: f64) -> Option<Room> {
        Some(Room { left: Metres(left_m), of: Metres(45.0), end: End::Stern })
    }

    /// The first of 100 seconds in which `find` raises its alert, with its priority.
    fn first(mut find: impl FnMut(WatchTime) -> Condition) -> Option<(i64, Priority)> {
        (0..100).find_map(|s| Some((s, find(second(s)).priority()?)))
    }

    #[test]
    fn outside_waits_as_long_as_the_limit_says_and_ends_well_inside() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut at = |s: i64, left_m: f64| {
            let mut facts = calm.facts(second(s));
            facts.position.room = room(left_m);
            outside(&mut memory, &facts).is_present()
        };
        let raised: Vec<i64> = (0..60).filter(|s| at(*s, -3.0)).collect();
        assert_eq!(raised.first(), Some(&10));
        assert!((60..100).all(|s| at(s, 1.0)), "inside by less than noise");
        assert!(!(100..130).all(|s| at(s, 3.0)));
    }

    #[test]
    fn outside_goes_on_standing_when_the_position_is_lost() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut facts = calm.facts(second(0));
        for s in 0..30 {
            facts.now = second(s);
            facts.position.room = room(-3.0);
            outside(&mut memory, &facts);
        }
        facts.position.room = None;
        let Condition::Present { reason, .. } = outside(&mut memory, &facts) else { panic!("it went away") };
        assert!(reason.action.contains("why there is no position"), "{reason:?}");
    }

    #[test]
    fn no_position_is_silent_at_first_and_then_a_warning_and_an_alarm() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        memory.second(&calm.facts(second(0)));
        let mut seen = Vec::new();
        for s in 0..100 {
            let mut facts = calm.facts(second(s));
            facts.position.fix_at = Some(second(0));
            let priority = fix_lost(&mut memory, &facts).priority();
            if seen.last().map(|(_, before)| *before) != Some(priority) {
                seen.push((s, priority));
            }
        }
        // 15 m of room in 15 kn: some 40 s.
        let priorities: Vec<_> = seen.iter().map(|(_, priority)| *priority).collect();
        let expected = [None, Some(Priority::Caution), Some(Priority::Warning), Some(Priority::Alarm)];
        assert_eq!(priorities, expected, "{seen:?}");
        assert!(seen[1].0 == 15 && (30..50).contains(&seen[2].0) && seen[3].0 >= 60, "{seen:?}");
        assert_eq!(fix_lost(&mut Memory::default(), &calm.facts(second(60))), Condition::Absent);
    }

    #[test]
    fn a_frozen_receiver_is_doubted_and_one_that_settles_is_not() {
        let calm = Calm::default();
        for (doubt, raised) in [
            (fixgate::Doubt::SameTime(Span::from_secs(9)), Some((20, Priority::Caution))),
            (fixgate::Doubt::Settling, None),
        ] {
            let mut memory = Memory::default();
            let found = first(|now| {
                let mut facts = calm.facts(now);
                facts.position.doubt = Some(doubt);
                memory.second(&facts);
                fix_doubtful(&mut memory, &facts)
            });
            assert_eq!(found, raised, "{doubt}");
        }
    }

    #[test]
    fn poor_satellites_wait_in_silence_while_they_show_her_within_her_circle() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut priority = |s: i64, left_m: f64| {
            let mut facts = calm.facts(second(s));
            facts.position.doubt = Some(fixgate::Doubt::Hdop(7.0));
            (facts.position.room, facts.position.coarse) =
                (None, room(left_m).map(|room| (room, Metres(31.5))));
            memory.second(&facts);
            let outside = outside(&mut memory, &facts).priority();
            (fix_doubtful(&mut memory, &facts).priority(), outside)
        };
        assert!((0..3600).all(|s| priority(s, 5.0).0 != Some(Priority::Warning)));
        // Outside, but not by more than they may be off: nobody sees her.
        let sounds = (3600..3800).find(|s| priority(*s, -20.0).0 == Some(Priority::Warning));
        assert!(sounds.is_some_and(|s| s < 3700), "{sounds:?}");
        assert!((3800..3900).all(|s| priority(s, -20.0).1.is_none()));
        assert_eq!((3900..4000).find(|s| priority(*s, -40.0).1 == Some(Priority::Alarm)), Some(3910));
        assert_eq!(priority(4000, 5.0).1, Some(Priority::Alarm), "a coarse position ends no alarm");
    }

    #[test]
    fn drag_counts_only_when_the_crew_is_not_at_work_on_the_anchor() {
        let mut calm = Calm::default();
        for (state, drags, creeps) in
            [(HoldingState::Dragging, true, false), (HoldingState::Creeping, false, true)]
        {
            calm.judged.state = state;
            let mut facts = calm.facts(second(0));
            assert_eq!(drag(&Memory::default(), &facts).is_present(), drags);
            assert_eq!(creep(&facts).is_present(), creeps);
            facts.drag_counts = false;
            assert!(!drag(&Memory::default(), &facts).is_present() && !creep(&facts).is_present());
        }
    }

    #[test]
    fn leaving_an_anchor_that_nobody_marked_is_an_alarm() {
        let memory = Memory { has_left: true, ..Memory::default() };
        assert_eq!(drag(&memory, &Calm::default().facts(second(0))).priority(), Some(Priority::Alarm));
    }
}
