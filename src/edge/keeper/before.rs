//! What is kept of the time before the anchor goes down, so that a ride can begin with it?
//!
//! The watch that keeps a ride has heard the minutes before it: what stands (feeds, devices, the tide), the lines,
//! and what the crew did to make ready. All of it goes into the ride's folder too.

use std::collections::VecDeque;

use crate::edge::folder::{Entry, Recorded};
use crate::watch::input::{Command, Event, FeedId, TideEntered};
use crate::watch::units::{Span, WatchTime};

/// What is kept of the time before letting go; while a reconnaissance goes on, or has gone on, from its beginning.
const PRE_ROLL: Span = Span::from_mins(15);
/// But of no more than this.
const PRE_ROLL_RECON: Span = Span::from_mins(60);
/// Lines that are kept of it at most: a busy network for that long.
const PRE_ROLL_LINES: usize = 60_000;

/// The minutes before the anchor goes down.
#[derive(Default)]
pub(super) struct Before {
    /// What stands until it is reported anew, however long ago that was.
    standing: Vec<Event>,
    /// Lines, and what the crew did to make ready; oldest first.
    minutes: VecDeque<Entry>,
    /// When the reconnaissance began that the minutes reach back to.
    recon_began: Option<WatchTime>,
    /// What the crew did to make ready so long ago that the minutes no longer reach it.
    outlived: Vec<Command>,
}

/// What an act of the crew means for a ride that has not begun.
enum Meaning {
    /// It stands until the same is entered again, and for the rides after this one too.
    Stands,
    /// It makes ready for the ride that comes next.
    MakesReady,
    /// Nothing: it concerns an anchor that is down, or a moment that is over, or the settings hold it already.
    Nothing,
}

impl Before {
    /// Keeps a line, and lets go of what is too old.
    pub(super) fn line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        let keep =
            self.recon_began.map_or(PRE_ROLL, |began| at.since(began).max(PRE_ROLL).min(PRE_ROLL_RECON));
        while self.minutes.len() >= PRE_ROLL_LINES
            || self.minutes.front().is_some_and(|oldest| at.since(oldest.at) > keep)
        {
            let oldest = self.minutes.pop_front().map(|entry| entry.what);
            if let Some(Recorded::Event(Event::Crew(command))) = oldest {
                self.outlived.retain(|other| !replaces(&command, other));
                self.outlived.push(command);
            }
        }
        self.minutes.push_back(Entry { at, what: Recorded::Line { feed, bytes: bytes.to_vec() } });
    }

    /// Keeps what the crew did, if it is of use for a ride to come. `anchored`: a ride goes on already.
    pub(super) fn act(&mut self, at: WatchTime, command: &Command, anchored: bool) {
        match meaning(command) {
            Meaning::Stands => self.stands(Event::Crew(command.clone())),
            Meaning::MakesReady if !anchored => self.made_ready(at, command),
            Meaning::MakesReady | Meaning::Nothing => {}
        }
    }

    fn made_ready(&mut self, at: WatchTime, command: &Command) {
        if *command == Command::BeginRecon {
            self.recon_began = Some(at);
        }
        if self.minutes.len() < PRE_ROLL_LINES {
            let what = Recorded::Event(Event::Crew(command.clone()));
            self.minutes.push_back(Entry { at, what });
        }
    }

    /// Keeps how something stands, in place of how it stood.
    pub(super) fn stands(&mut self, event: Event) {
        self.standing.retain(|before| !same_subject(before, &event));
        self.standing.push(event);
    }

    /// What stands until it is reported anew.
    pub(super) fn standing(&self) -> &[Event] {
        &self.standing
    }

    /// The lines of these feeds, oldest first.
    pub(super) fn lines_of(&self, feeds: &[FeedId]) -> Vec<Entry> {
        let is_theirs =
            |entry: &&Entry| matches!(&entry.what, Recorded::Line { feed, .. } if feeds.contains(feed));
        self.minutes.iter().filter(is_theirs).cloned().collect()
    }

    /// The tide as it was last entered.
    pub(super) fn tide(&self) -> TideEntered {
        let entered = self.standing.iter().find_map(|event| match event {
            Event::Crew(Command::Tide(entered)) => Some(entered.clone()),
            _ => None,
        });
        entered.unwrap_or(TideEntered::Nothing)
    }

    /// When a ride begins whose anchor goes down at `at`: with the oldest line that is kept.
    pub(super) fn begins(&self, at: WatchTime) -> WatchTime {
        self.minutes.front().map_or(at, |oldest| oldest.at)
    }

    /// All that a ride begins with, in order of time. What stands is kept for the next ride, the minutes are not.
    pub(super) fn hand_over(&mut self, at: WatchTime) -> Vec<Entry> {
        let from = self.begins(at);
        let outlived = self.outlived.drain(..).map(Event::Crew);
        let first = self.standing.iter().cloned().chain(outlived);
        let first = first.map(|event| Entry { at: from, what: Recorded::Event(event) });
        self.recon_began = None;
        first.chain(self.minutes.drain(..)).collect()
    }
}

fn meaning(command: &Command) -> Meaning {
    match command {
        Command::Tide(_) | Command::WindAhead { .. } | Command::Near { .. } => Meaning::Stands,
        Command::BeginRecon
        | Command::EndRecon
        | Command::VeerTo { .. }
        | Command::Wake(_)
        | Command::WayOut { .. }
        | Command::Berth { .. }
        | Command::Mark { .. }
        | Command::Unmark { .. } => Meaning::MakesReady,
        Command::LetGo { .. }
        | Command::Lying { .. }
        | Command::DropDepth { .. }
        | Command::NamePlace { .. }
        | Command::Pull { .. }
        | Command::Transit { .. }
        | Command::Neutral
        | Command::Veered { .. }
        | Command::BroughtUp
        | Command::MoveDrop(_)
        | Command::Acknowledge { .. }
        | Command::Silence
        | Command::Limits(_)
        | Command::Note { .. }
        | Command::Round(_)
        | Command::Bearing { .. }
        | Command::Weigh
        | Command::Stay
        | Command::LiesHere
        | Command::BeginCheck
        | Command::CheckFound(_)
        | Command::EndCheck
        | Command::Rehearse
        | Command::Rehearsed { .. }
        | Command::Aweigh => Meaning::Nothing,
    }
}

/// Whether the later of two acts that make ready makes the earlier void.
fn replaces(later: &Command, earlier: &Command) -> bool {
    match (later, earlier) {
        (Command::BeginRecon | Command::EndRecon, Command::BeginRecon | Command::EndRecon)
        | (Command::VeerTo { .. }, Command::VeerTo { .. })
        | (Command::Wake(_), Command::Wake(_))
        | (Command::WayOut { .. }, Command::WayOut { .. })
        | (Command::Berth { .. }, Command::Berth { .. }) => true,
        (Command::Unmark { name }, Command::Mark { name: other, .. }) => name == other,
        _ => false,
    }
}

/// Whether two events say how the same thing stands.
fn same_subject(one: &Event, other: &Event) -> bool {
    use std::mem::discriminant;
    match (one, other) {
        (Event::Feed { feed, .. }, Event::Feed { feed: other, .. }) => feed == other,
        (Event::Device(one), Event::Device(other)) => discriminant(one) == discriminant(other),
        (Event::Crew(one), Event::Crew(other)) => discriminant(one) == discriminant(other),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::geo::Position;
    use crate::watch::input::{Link, MarkEntered};
    use crate::watch::units::Metres;

    const FEED: FeedId = FeedId(0);

    fn minute(minute: i64) -> WatchTime {
        WatchTime(0) + Span::from_mins(minute)
    }

    fn mark(name: &str) -> Command {
        let position = Position::new(50.2, -4.1).expect("on the globe");
        Command::Mark { name: name.into(), entered: MarkEntered::Position { position } }
    }

    /// What a ride begins with, when a line came each minute until `until` and the crew did these things meanwhile.
    fn handed_over(acts: &[(i64, Command)], until: i64) -> Vec<Entry> {
        let mut before = Before::default();
        for now in 0..=until {
            before.line(minute(now), FEED, b"$HEHDT,34.5,T*2B");
            for (_, act) in acts.iter().filter(|(at, _)| *at == now) {
                before.act(minute(now), act, false);
            }
        }
        before.hand_over(minute(until))
    }

    fn acts(entries: &[Entry]) -> Vec<&Command> {
        entries
            .iter()
            .filter_map(|entry| match &entry.what {
                Recorded::Event(Event::Crew(command)) => Some(command),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn a_ride_begins_with_a_quarter_of_an_hour_or_with_the_reconnaissance() {
        let from = |acts: &[(i64, Command)]| handed_over(acts, 90)[0].at;
        assert_eq!(from(&[]), minute(75));
        assert_eq!(from(&[(50, Command::BeginRecon)]), minute(50));
        assert_eq!(from(&[(10, Command::BeginRecon)]), minute(30), "an hour at most");
    }

    #[test]
    fn what_the_crew_made_ready_is_heard_however_long_ago_it_was() {
        let veer_to = |length| Command::VeerTo { length: Metres(length) };
        let done = [(1, veer_to(30.0)), (2, mark("Old Tower")), (3, mark("Perch")), (4, veer_to(40.0))];
        let entries = handed_over(&done, 60);
        assert_eq!(acts(&entries), [&mark("Old Tower"), &mark("Perch"), &veer_to(40.0)]);
        assert!(entries.is_sorted_by_key(|entry| entry.at));
    }

    #[test]
    fn a_mark_that_was_removed_again_is_not_made() {
        let removed = Command::Unmark { name: "Perch".into() };
        let entries = handed_over(&[(1, mark("Perch")), (2, removed.clone())], 60);
        assert_eq!(acts(&entries), [&removed]);
    }

    #[test]
    fn what_stands_is_handed_to_every_ride_and_only_as_it_stands_now() {
        let link = |link| Event::Feed { feed: FEED, name: "masthead".into(), link };
        let mut before = Before::default();
        before.stands(link(Link::Opening));
        before.stands(link(Link::Open));
        for ride in 1..=2 {
            let entries = before.hand_over(minute(ride));
            let open = Entry { at: minute(ride), what: Recorded::Event(link(Link::Open)) };
            assert_eq!(entries, [open], "ride {ride}");
        }
    }

    #[test]
    fn an_anchor_that_is_down_makes_nothing_ready() {
        let mut before = Before::default();
        before.act(minute(1), &mark("Perch"), true);
        assert!(before.hand_over(minute(2)).is_empty());
    }
}
