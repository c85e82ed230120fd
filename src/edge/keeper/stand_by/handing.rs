//! Who keeps the watch, and how does it change hands?

use tokio::sync::oneshot;

use super::{StandBy, refused};
use crate::edge::door::frame::{Change, Claim, Keeps, Refused};
use crate::edge::door::peer::Handing;
use crate::edge::door::tether::{Meeting, Wish};
use crate::edge::keeper::Keeper;

impl Keeper {
    /// What becomes of a link to that machine.
    pub fn met(&mut self, keeps: &Keeps) -> Meeting {
        let theirs = &keeps.claim;
        if let Some(stand_by) = &mut self.stands_by {
            stand_by.station.clone_from(&theirs.by);
            (stand_by.is_linked, stand_by.said_good) = (true, None);
            self.claim = theirs.clone();
            let from = stand_by.replica.place();
            self.holds_post();
            return Meeting::Follow(from);
        }
        let has_ride = self.claim.ride.is_some();
        if has_ride && (self.claim.outranks(theirs) || keeps.stands_by && *theirs == self.claim) {
            return Meeting::Claims(self.claim.clone());
        }
        if has_ride && *theirs == self.claim {
            return Meeting::Leaves;
        }
        self.gives_way(theirs);
        Meeting::Follow(None)
    }

    /// Another machine keeps the watch by a claim that holds against this one's.
    fn gives_way(&mut self, theirs: &Claim) {
        let words = format!(
            "{} took the watch over at {} and keeps it. This machine no longer keeps it: it stands by, and what it kept alone \
             since then stays in the ride's older folder. W takes the watch back, or `nightrode act take`.",
            theirs.by,
            self.clock_words(theirs.since)
        );
        self.stands_aside(theirs.clone());
        self.notice(words);
    }

    /// Keeps nothing more: the ride's folder is closed, and the other machine is followed.
    pub(super) fn stands_aside(&mut self, claim: Claim) {
        self.close_ride();
        let now = self.setup.clock.now();
        self.stands_by = Some(Box::new(StandBy::new(claim.by.clone(), now, true, true)));
        self.claim = claim;
        self.holds_post();
    }

    /// Does, or refuses, what concerns who keeps the watch.
    pub fn handing(&mut self, handing: Handing) {
        let Handing { change, answer } = handing;
        let done = match change {
            Change::Yield { claim: Some(theirs) } => self.yields_to(&theirs),
            Change::Yield { claim: None } => self.gives_watch(),
            Change::HandOver => self.hands_over(),
            Change::Take => match self.may_take() {
                None => {
                    self.takes(Some(answer));
                    return;
                }
                refused => refused,
            },
        };
        let _ = answer.send(done);
    }

    fn yields_to(&mut self, theirs: &Claim) -> Option<Refused> {
        let is_followed = self.stands_by.as_ref().is_some_and(|stand_by| stand_by.is_linked);
        if !theirs.outranks(&self.claim) && (self.stands_by.is_none() || *theirs != self.claim || is_followed)
        {
            return refused(format!("{} keeps the watch by a later claim.", self.claim.by));
        }
        if self.stands_by.is_some() {
            self.wish(Wish::Leave);
            self.stands_aside(theirs.clone());
        } else {
            self.gives_way(theirs);
        }
        None
    }

    /// The machine that asks takes the watch over.
    fn gives_watch(&mut self) -> Option<Refused> {
        if let Some(stand_by) = &self.stands_by {
            return refused(format!("{} keeps the watch: ask that machine.", stand_by.station));
        }
        self.stands_aside(self.claim.clone());
        None
    }

    fn hands_over(&mut self) -> Option<Refused> {
        if self.stands_by.is_some() {
            return refused(
                "This machine stands by, and keeps no watch: `nightrode act take` takes it over.",
            );
        }
        let tie = self.tie.as_ref()?;
        match tie.post.look_outs() {
            (0, _) => refused("No other machine stands by: the watch stays here."),
            (_, 0) => {
                refused("The feeds of the machine that stands by give no position: the watch stays here.")
            }
            _ => {
                tie.post.offer();
                None
            }
        }
    }

    /// The crew wants the other machine to keep the watch: this one if it stands by, else one that does.
    pub(in crate::edge::keeper) fn changes_places(&mut self) {
        let refused = if self.stands_by.is_none() { self.hands_over() } else { self.may_take() };
        match refused {
            Some(refused) => self.notice(refused.why),
            None if self.stands_by.is_some() => self.takes(None),
            None => {}
        }
    }

    pub(super) fn may_take(&self) -> Option<Refused> {
        if self.stands_by.is_none() {
            return refused("This machine keeps the watch already.");
        }
        if self.has_position() {
            return None;
        }
        refused(
            "The feeds of this machine give no position, so it could not judge: the watch stays where it is.",
        )
    }

    pub(super) fn takes(&mut self, answer: Option<oneshot::Sender<Option<Refused>>>) {
        let Some(stand_by) = &mut self.stands_by else { return };
        if stand_by.is_linked {
            stand_by.taking = answer;
            self.wish(Wish::Take);
        } else {
            // Nobody is left to ask.
            self.take_over(None);
            answer.map(|answer| answer.send(None));
        }
    }
}
