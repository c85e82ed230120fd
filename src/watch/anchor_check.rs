//! The five-minute check: what do eyes, hands and instruments say of the anchor, and what is to be done?
//!
//! Common practice, no source: a transit or bearing, a hand on the rode, the depth, the wind. Nothing of it shares the
//! errors of the receiver, so its answers go to the judge as evidence of their own (`docs/inside/holding.md`).

mod acts;
mod words;

use serde::{Deserialize, Serialize};

use super::geo::Position;
use super::holding::Seen;
use super::tuning::anchor_check::{ANSWERS_WITHIN, CHECK_FOR};
use super::units::{Metres, WatchTime};

/// What is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckItem {
    /// Two things in line ashore, or a bearing of one.
    Transit,
    /// A hand on the rode: an anchor that drags over the bottom is felt.
    Rode,
    /// The depth, against what was sounded here before.
    Depth,
    /// The wind, against what she has held.
    Wind,
}

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// As it is with an anchor that holds.
    Well,
    /// As it is with one that moves, or may soon.
    Wrong,
}

/// One answer of the crew.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// To what.
    pub item: CheckItem,
    /// What they found; `None` takes an answer back.
    pub found: Option<Found>,
}

impl CheckItem {
    /// All, in the order in which they are looked at.
    pub const ALL: [Self; 4] = [Self::Transit, Self::Rode, Self::Depth, Self::Wind];

    /// What it is called.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Transit => "transit, bearing",
            Self::Rode => "hand on the rode",
            Self::Depth => "depth",
            Self::Wind => "wind",
        }
    }

    /// An answer in words.
    #[must_use]
    pub const fn word(self, found: Found) -> &'static str {
        match (self, found) {
            (Self::Transit, Found::Well) => "holds",
            (Self::Transit, Found::Wrong) => "has opened",
            (Self::Rode, Found::Well) => "steady",
            (Self::Rode, Found::Wrong) => "jerks",
            (Self::Depth, Found::Well) => "as before",
            (Self::Depth, Found::Wrong) => "differs",
            (Self::Wind, Found::Well) => "no more",
            (Self::Wind, Found::Wrong) => "more",
        }
    }
}

/// How far a check has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// The five minutes run. What is well so far must be so at their end.
    Runs,
    /// They are over, and the answers are waited for.
    Asks,
    /// It is over.
    Over,
}

/// What it comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing was seen yet that says either.
    Unseen,
    /// What was seen speaks for an anchor that stands.
    Stands,
    /// It speaks for one that moves.
    Moves,
}

/// A line of the check, as the screen shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckLine {
    /// What is looked at.
    pub item: CheckItem,
    /// What the instruments know of it, or how to find out.
    pub shows: String,
    /// The answer so far: the crew's, else that of the instruments.
    pub found: Option<Found>,
    /// It was well before the end, and is to be looked at again.
    pub asks_again: bool,
}

/// The check, as the screen shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckView {
    /// When it began.
    pub began: WatchTime,
    /// When the five minutes are over.
    pub ends: WatchTime,
    /// How far it has come.
    pub phase: Phase,
    /// Transit, rode, depth, wind.
    pub lines: Vec<CheckLine>,
    /// How she has moved since it began, and the room, in words.
    pub since: String,
    /// What it comes to.
    pub outcome: Outcome,
    /// What to do, in words.
    pub advice: String,
    /// When to look again.
    pub again: Option<WatchTime>,
}

/// Where she lay when the check began.
#[derive(Clone, Copy, Debug)]
struct Start {
    antenna: Option<Position>,
    from_anchor: Option<Metres>,
    room: Option<Metres>,
}

#[derive(Clone, Copy, Debug)]
struct Answer {
    at: WatchTime,
    found: Found,
}

/// A check that goes on, or the last one.
#[derive(Clone, Debug)]
pub(super) struct AnchorCheck {
    began: WatchTime,
    start: Start,
    answers: [Option<Answer>; 4],
    /// When it was over, what it came to, and the movement until then.
    over: Option<(WatchTime, String)>,
}

impl AnchorCheck {
    fn new(began: WatchTime, start: Start) -> Self {
        Self { began, start, answers: [None; 4], over: None }
    }

    fn ends(&self) -> WatchTime {
        self.began + CHECK_FOR
    }

    fn phase(&self, now: WatchTime) -> Phase {
        match self.over {
            Some(_) => Phase::Over,
            None if now < self.ends() => Phase::Runs,
            None => Phase::Asks,
        }
    }

    fn answer(&self, item: CheckItem) -> Option<Answer> {
        self.answers[item as usize]
    }

    /// The answer as evidence: what is wrong counts at once, what is well at the end of the five minutes.
    fn counts(&self, item: CheckItem) -> Option<Found> {
        let answer = self.answer(item)?;
        (answer.found == Found::Wrong || answer.at >= self.ends()).then_some(answer.found)
    }

    fn take(&mut self, at: WatchTime, finding: Finding) {
        self.answers[finding.item as usize] = finding.found.map(|found| Answer { at, found });
    }

    /// Its answers as the judge takes them.
    fn seen(&self) -> Seen {
        Seen { transit: self.counts(CheckItem::Transit), rode: self.counts(CheckItem::Rode) }
    }

    fn outcome(&self) -> Outcome {
        let Seen { transit, rode } = self.seen();
        match [transit, rode] {
            seen if seen.contains(&Some(Found::Wrong)) => Outcome::Moves,
            [None, None] => Outcome::Unseen,
            _ => Outcome::Stands,
        }
    }

    /// Nothing more is waited for.
    fn is_answered(&self, now: WatchTime) -> bool {
        let Seen { transit, rode } = self.seen();
        now >= self.ends() && transit.is_some() && rode.is_some() || now.since(self.ends()) >= ANSWERS_WITHIN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check() -> AnchorCheck {
        AnchorCheck::new(WatchTime(0), Start { antenna: None, from_anchor: None, room: None })
    }

    fn find(check: &mut AnchorCheck, minute: i64, item: CheckItem, found: Option<Found>) {
        check.take(WatchTime(minute * 60_000), Finding { item, found });
    }

    #[test]
    fn what_is_wrong_counts_at_once_and_what_is_well_at_the_end() {
        let mut check = check();
        find(&mut check, 1, CheckItem::Transit, Some(Found::Well));
        assert_eq!(check.outcome(), Outcome::Unseen);
        find(&mut check, 2, CheckItem::Rode, Some(Found::Wrong));
        assert_eq!(check.outcome(), Outcome::Moves);
        find(&mut check, 3, CheckItem::Rode, None);
        assert_eq!(check.outcome(), Outcome::Unseen);
        find(&mut check, 5, CheckItem::Rode, Some(Found::Well));
        assert_eq!(check.outcome(), Outcome::Stands);
        assert!(!check.is_answered(WatchTime(5 * 60_000)), "the transit was not looked at again");
        find(&mut check, 6, CheckItem::Transit, Some(Found::Well));
        assert!(check.is_answered(WatchTime(6 * 60_000)));
    }

    #[test]
    fn depth_and_wind_alone_say_nothing_of_the_anchor() {
        let mut check = check();
        find(&mut check, 6, CheckItem::Depth, Some(Found::Wrong));
        find(&mut check, 6, CheckItem::Wind, Some(Found::Well));
        assert_eq!((check.outcome(), check.seen()), (Outcome::Unseen, Seen::default()));
    }

    #[test]
    fn answers_are_not_waited_for_for_ever() {
        assert!(!check().is_answered(WatchTime(14 * 60_000)) && check().is_answered(WatchTime(15 * 60_000)));
    }
}
