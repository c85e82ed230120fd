//! The copy of the ride on this machine's own disk: what the other machine heard, and its own feeds in their place.

use std::collections::{BTreeMap, VecDeque};

use crate::config::RideFile;
use crate::edge::door::frame::{Heard, Start};
use crate::edge::feed::Arrival;
use crate::edge::folder::{Entry, Recorded, Stamper};
use crate::edge::keeper::ride::Ride;
use crate::edge::keeper::{Before, Keeper, name_of};
use crate::watch::Watch;
use crate::watch::input::{Event, FeedId, Input, Kept, Link};
use crate::watch::snapshot::Stage;
use crate::watch::units::{Span, WatchTime};

/// An own line that is so much older than what was heard is of before, and left out.
const OWN_LATE: Span = Span::from_secs(2);

/// What the machine has of its own, beside what it hears from the other.
#[derive(Default)]
pub(super) struct Side {
    /// What its feeds brought, and is not older than what was heard.
    pub(super) own: VecDeque<Arrival>,
    /// How its feeds stand.
    pub(super) links: BTreeMap<FeedId, Link>,
    /// So far is its clock ahead of the watch's time.
    pub(super) lag: Option<Span>,
    /// Names of the other machine's feeds, by its numbers.
    theirs: Vec<String>,
    /// What stood where the hearing began.
    standing: Vec<Event>,
}

impl Keeper {
    /// A fresh watch hears all that the other heard, and a folder of this machine's own is begun if that is a ride.
    pub(super) fn begins_to_hear(&mut self, start: &Start, side: &mut Side) {
        self.close_ride();
        self.keep_own_minutes(side);
        self.setup.settings = start.settings.clone();
        self.watch = Watch::new(start.settings.clone());
        self.feeds.clear();
        self.before = Before::default();
        self.stamper = Stamper::new(WatchTime(0));
        self.heard_last = WatchTime(0);
        if let Some(past) = self.past() {
            past.begin(&start.settings, &[], start.ride.clone());
        }
        for name in &start.feeds {
            self.feed_id(name);
        }
        self.number_own_feeds();
        (side.theirs, side.standing) = (start.feeds.clone(), start.standing.clone());
        for (feed, link) in side.links.clone() {
            side.own.push_front(Arrival::Link { feed, at: WatchTime(0), link });
        }
        self.ride = start.ride.as_ref().map(|ride| {
            let (place, settings) = (ride.place.clone(), start.settings.clone());
            let file = RideFile { place, settings, keeper: self.claim.by.clone(), ..RideFile::default() };
            Ride::begin(self.setup.rides.as_ref(), ride.began, file)
        });
        self.claim.ride = start.ride.as_ref().map(|ride| ride.began);
        self.holds_post();
    }

    /// A ride begins with the minutes before it: the own lines of those are heard once more too.
    fn keep_own_minutes(&self, side: &mut Side) {
        let Some(lag) = side.lag else { return };
        let own: Vec<FeedId> = self.own_ids.values().copied().collect();
        for Entry { at, what } in self.before.lines_of(&own).into_iter().rev() {
            if let Recorded::Line { feed: known, bytes } = what
                && let Some((feed, _)) = self.own_ids.iter().find(|(_, id)| **id == known)
            {
                side.own.push_front(Arrival::Line { feed: *feed, at: at + lag, bytes });
            }
        }
    }

    /// The numbers of this machine's own feeds in a watch that has begun anew.
    pub(super) fn number_own_feeds(&mut self) {
        for (id, name) in self.reads.clone() {
            if let Some(now) = self.feed_id(&name) {
                self.own_ids.insert(id, now);
            }
        }
    }

    /// From now on this machine's folder holds all that the other's does, and counts as much.
    pub(super) fn copy_is_whole(&mut self) {
        let at = self.heard_last;
        if let Some(ride) = &mut self.ride {
            ride.kept(&Kept { term: self.claim.term, by: self.claim.by.clone(), silent_since: None });
            ride.renew(at, &self.watch);
        }
    }

    /// The watch that takes over hears what the other machine's heard.
    pub(super) fn hears(&mut self, heard: &Heard, side: &mut Side, is_up: bool) {
        match heard {
            Heard::Feed(name) => {
                self.feed_id(name);
                if !side.theirs.contains(name) {
                    side.theirs.push(name.clone());
                }
            }
            Heard::Line { at, feed, bytes } => {
                self.hears_before(*at, side);
                if let Some(feed) = self.feed_of(*feed, &side.theirs) {
                    self.keep_line(*at, feed, bytes);
                }
            }
            Heard::Event { at, event } => {
                self.hears_before(*at, side);
                let event = self.numbered(event, &side.theirs);
                self.hears_event(*at, event);
            }
            Heard::Tick { at } => {
                if is_up {
                    side.lag = Some(self.setup.clock.now().since(*at));
                }
                self.hears_before(*at, side);
                self.hear(*at, Input::Tick);
                if self.watch.stage() == Stage::NotSet {
                    self.close_ride();
                }
                self.follow_facts(*at);
            }
            // They are what comes out of this watch too.
            Heard::Alert(_) | Heard::Sound { .. } => {}
        }
    }

    /// What stood at the beginning, and what the own feeds brought before `at`.
    fn hears_before(&mut self, at: WatchTime, side: &mut Side) {
        for event in std::mem::take(&mut side.standing) {
            let event = self.numbered(&event, &side.theirs);
            self.hears_event(at, event);
        }
        let Some(lag) = side.lag else { return };
        while side.own.front().is_some_and(|arrival| stamp(arrival) - lag < at) {
            side.own.pop_front().into_iter().for_each(|arrival| self.hears_own(arrival, lag));
        }
    }

    fn hears_own(&mut self, arrival: Arrival, lag: Span) {
        let at = stamp(&arrival) - lag;
        let is_late = self.heard_last.since(at) > OWN_LATE;
        match arrival {
            Arrival::Line { .. } | Arrival::Dropped { .. } if is_late => {}
            Arrival::Line { feed, bytes, .. } => self.keep_line(at, self.own_id(feed), &bytes),
            Arrival::Link { feed, link, .. } => self.link(at, self.own_id(feed), link),
            Arrival::Dropped { lines, .. } => {
                self.ride.iter().for_each(|ride| ride.lost(lines));
            }
        }
    }

    /// The number under which the watch knows an own feed.
    pub(in crate::edge::keeper) fn own_id(&self, feed: FeedId) -> FeedId {
        self.own_ids.get(&feed).copied().unwrap_or(feed)
    }

    fn feed_of(&mut self, theirs: FeedId, names: &[String]) -> Option<FeedId> {
        self.watch.feed_named(name_of(names, theirs))
    }

    /// The same event by this watch's numbers of feeds.
    fn numbered(&mut self, event: &Event, names: &[String]) -> Event {
        match event {
            Event::Feed { feed, name, link } => {
                let feed = self.feed_of(*feed, names).unwrap_or(*feed);
                Event::Feed { feed, name: name.clone(), link: link.clone() }
            }
            other => other.clone(),
        }
    }

    fn hears_event(&mut self, at: WatchTime, event: Event) {
        let at = self.event(at, event.clone());
        match &event {
            Event::Crew(command) => self.acted(at, command),
            Event::Feed { .. } => self.before.stands(event),
            Event::Device(device) if device.stands() => self.before.stands(event),
            Event::Kept(kept) => self.keeps_now(at, kept),
            Event::Device(_) | Event::Gap { .. } | Event::Damage { .. } => {}
        }
    }

    /// A machine keeps the watch from then on.
    pub(in crate::edge::keeper) fn keeps_now(&mut self, at: WatchTime, kept: &Kept) {
        (self.claim.term, self.claim.since, self.claim.by) = (kept.term, at, kept.by.clone());
        if let Some(ride) = &mut self.ride {
            ride.kept(kept);
        }
        self.holds_post();
    }
}

fn stamp(arrival: &Arrival) -> WatchTime {
    match arrival {
        Arrival::Line { at, .. } | Arrival::Link { at, .. } | Arrival::Dropped { at, .. } => *at,
    }
}

/// The same, so much earlier.
pub(super) fn earlier(arrival: Arrival, by: Span) -> Arrival {
    match arrival {
        Arrival::Line { feed, at, bytes } => Arrival::Line { feed, at: at - by, bytes },
        Arrival::Link { feed, at, link } => Arrival::Link { feed, at: at - by, link },
        Arrival::Dropped { feed, at, lines } => Arrival::Dropped { feed, at: at - by, lines },
    }
}
