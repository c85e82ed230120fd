//! How does a machine stand by a watch that another one keeps, take it over, and give it up?
//!
//! It runs two watches. The one that is shown and heard is the other machine's, to the last bit. The one that is kept on
//! disk and takes over hears the same, and the machine's own feeds besides: so it knows how its own receivers lie to the
//! others before it has nothing else. Its folder is its own: nobody ever writes into that of another machine.

mod copy;
mod handing;

use std::collections::BTreeMap;

use tokio::sync::{mpsc, oneshot};

use copy::{Side, earlier};

use super::{Keeper, Order, Word, whole_second};
use crate::edge::door::frame::{Answer, Claim, Refused, Told, Words};
use crate::edge::door::peer::{self, Handing};
use crate::edge::door::post::Post;
use crate::edge::door::replica::Replica;
use crate::edge::door::tether::{CHANGES, News, Wish};
use crate::edge::feed::Arrival;
use crate::edge::watchdog::SILENCE_MAX;
use crate::report::zone::Zone;
use crate::watch::input::{Command, Device, Event, FeedId, Kept};
use crate::watch::output::Output;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

/// More than this cannot have passed between two looks while the program ran: the rest was a closed lid, in which
/// nothing could be heard.
const LOOK_MAX: Span = Span::from_secs(2);
/// Lines of one's own feeds that wait for the other machine's, at most: ten seconds of a busy network, and ample room.
const OWN_WAITING: usize = 20_000;

/// What ties a keeper to other machines.
pub struct Tie {
    /// What its link brings.
    pub news: mpsc::Receiver<News>,
    /// What it wants of the other machine.
    pub wishes: mpsc::UnboundedSender<Wish>,
    /// Changes of the machine that keeps the watch, from its own door.
    pub handings: mpsc::Receiver<Handing>,
    /// What it is, for whoever comes.
    pub post: Post,
    /// Its name.
    pub machine: String,
    /// The zone of times in words.
    pub zone: Zone,
}

/// A machine that stands by.
pub(super) struct StandBy {
    /// The machine that keeps the watch.
    station: String,
    /// What is shown and heard.
    replica: Replica,
    side: Side,
    /// It has heard all there was, once.
    was_up: bool,
    /// It kept the watch before.
    kept_before: bool,
    /// Alerts sound here too.
    sounds: bool,
    is_linked: bool,
    silent: Span,
    looked: WatchTime,
    said_good: Option<bool>,
    number: u32,
    asked: BTreeMap<u32, Option<oneshot::Sender<Option<Refused>>>>,
    taking: Option<oneshot::Sender<Option<Refused>>>,
    /// How this machine's own devices stand.
    devices: Vec<Device>,
    out: Vec<Output>,
}

impl StandBy {
    fn new(station: String, looked: WatchTime, kept_before: bool, sounds: bool) -> Self {
        Self {
            station,
            replica: Replica::default(),
            side: Side::default(),
            was_up: false,
            kept_before,
            sounds,
            is_linked: false,
            silent: Span::ZERO,
            looked,
            said_good: None,
            number: CHANGES,
            asked: BTreeMap::new(),
            taking: None,
            devices: Vec::new(),
            out: Vec::new(),
        }
    }

    /// What is shown; `None` while nothing is known.
    pub(super) fn snapshot(&self) -> Option<Snapshot> {
        self.was_up.then(|| self.replica.snapshot())
    }

    /// Takes what an own feed brought.
    pub(super) fn arrival(&mut self, arrival: Arrival) {
        if let Arrival::Link { feed, link, .. } = &arrival {
            self.side.links.insert(*feed, link.clone());
        }
        if self.side.own.len() == OWN_WAITING {
            self.side.own.pop_front();
        }
        self.side.own.push_back(arrival);
    }

    fn device(&mut self, device: Device) {
        self.devices.retain(|other| std::mem::discriminant(other) != std::mem::discriminant(&device));
        self.devices.push(device);
    }

    /// Nobody answers any more what was asked.
    fn forget_asked(&mut self) {
        let why = "Not done: there is no link to the machine that keeps the watch.";
        let waiting = std::mem::take(&mut self.asked).into_values().flatten().chain(self.taking.take());
        for answer in waiting {
            let _ = answer.send(Some(Refused { why: why.to_owned(), is_heard: true }));
        }
    }
}

fn refused(why: impl Into<String>) -> Option<Refused> {
    Some(Refused { why: why.into(), is_heard: true })
}

impl Keeper {
    /// Ties it to other machines.
    pub fn tie(&mut self, tie: Tie) {
        self.claim.by.clone_from(&tie.machine);
        self.tie = Some(tie);
        self.holds_post();
    }

    /// It stands by another machine from its beginning. `sounds`: alerts sound here too.
    pub fn stand_by(&mut self, station: String, sounds: bool) {
        let now = self.setup.clock.now();
        self.stands_by = Some(Box::new(StandBy::new(station, now, false, sounds)));
        self.holds_post();
    }

    /// Whether another machine keeps the watch.
    #[must_use]
    pub fn is_standing_by(&self) -> bool {
        self.stands_by.is_some()
    }

    /// By what right this machine, or the one that it stands by, keeps the watch.
    #[must_use]
    pub fn claim(&self) -> &Claim {
        &self.claim
    }

    /// A feed that this machine reads itself, by the number under which its lines come.
    pub fn reads(&mut self, name: &str) -> Option<FeedId> {
        let id = self.feed_id(name)?;
        self.reads.push((id, name.to_owned()));
        self.own_ids.insert(id, id);
        if let Some(tie) = &self.tie {
            tie.post.reads(self.reads.iter().map(|(_, name)| name.clone()).collect());
        }
        Some(id)
    }

    pub(super) fn holds_post(&self) {
        if let Some(tie) = &self.tie {
            // While it hears a message it has that in hand.
            tie.post.take(self.claim.clone(), self.stands_by.is_some() || self.is_aside);
        }
    }

    fn machine(&self) -> String {
        self.tie.as_ref().map(|tie| tie.machine.clone()).unwrap_or_default()
    }

    fn wish(&self, wish: Wish) {
        if let Some(tie) = &self.tie {
            // Without a link nothing comes of it.
            let _ = tie.wishes.send(wish);
        }
    }

    fn notice(&self, words: String) {
        let _ = self.words.send(Word::Notice(words));
    }

    fn clock_words(&self, at: WatchTime) -> String {
        let zone = self.tie.as_ref().map_or_else(Zone::default, |tie| tie.zone.clone());
        zone.format(at, "%H:%M")
    }

    /// Takes what the link brings.
    pub fn news(&mut self, news: News) {
        match news {
            News::Met(keeps, answer) => drop(answer.send(self.met(&keeps))),
            News::Told(told, whole) => self.told(told, whole),
            News::Lost(why) => {
                if let Some(stand_by) = &mut self.stands_by {
                    stand_by.is_linked = false;
                    stand_by.replica.falls_behind();
                    stand_by.forget_asked();
                    let words =
                        format!("The link to {} is lost. {why} It is made anew by itself.", stand_by.station);
                    self.notice(words);
                }
            }
            News::Turned => self.take_over(None),
        }
    }

    /// Whether this machine's own feeds give a position.
    #[must_use]
    pub fn has_position(&self) -> bool {
        let own: Vec<&str> = self.reads.iter().map(|(_, name)| &**name).collect();
        let gives = |delivers: &[(&str, f64)]| delivers.iter().any(|(what, _)| *what == "position");
        let feeds = self.watch.snapshot().feeds;
        feeds.iter().any(|feed| own.contains(&&*feed.name) && gives(&feed.delivers))
    }

    /// Takes a message of the machine that keeps the watch.
    pub fn told(&mut self, told: Told, whole: u64) {
        let Some(mut stand_by) = self.stands_by.take() else {
            // It has taken the watch over meanwhile.
            self.wish(Wish::Leave);
            return;
        };
        self.is_aside = true;
        let offered = told == Told::Offered;
        match told {
            // Also while there is more to hear: it judges.
            Told::Beat => stand_by.silent = Span::ZERO,
            Told::Words(Words::Notice(words)) => self.notice(words),
            Told::Answer(answer) => self.answered(&mut stand_by, answer),
            other => self.heard(&mut stand_by, other, whole),
        }
        self.is_aside = false;
        self.stands_by = Some(stand_by);
        if offered && self.may_take().is_none() {
            self.takes(None);
        }
        self.publish();
    }

    fn answered(&mut self, stand_by: &mut StandBy, answer: Answer) {
        let waiting = match answer.number {
            CHANGES => stand_by.taking.take(),
            number => stand_by.asked.remove(&number).flatten(),
        };
        match (waiting, answer.refused) {
            (Some(waiting), refused) => drop(waiting.send(refused)),
            (None, Some(refused)) => self.notice(refused.why),
            (None, None) => {}
        }
    }

    /// Both watches hear a message.
    fn heard(&mut self, stand_by: &mut StandBy, told: Told, whole: u64) {
        let StandBy { replica, side, out, .. } = stand_by;
        let was_up = replica.is_up();
        if let Told::Start(start) = &told {
            self.begins_to_hear(start, side);
        }
        let taken = replica.take_with(told, whole, out, &mut |heard| self.hears(heard, side, was_up));
        if taken.is_err() {
            self.wish(Wish::Leave);
            return;
        }
        if replica.is_up() && !was_up {
            (stand_by.was_up, stand_by.silent) = (true, Span::ZERO);
            self.copy_is_whole();
            if stand_by.sounds {
                let _ = self.words.send(Word::Sound(stand_by.replica.watch().sound()));
            }
        }
        for output in stand_by.out.drain(..).collect::<Vec<_>>() {
            self.passes_on(output, stand_by.sounds);
        }
    }

    fn passes_on(&self, output: Output, sounds: bool) {
        let word = match output {
            Output::Sound { sound, .. } if sounds => Word::Sound(sound),
            Output::Rehearsal { at, sounds: loud } if sounds => Word::Rehearsal { at, sounds: loud },
            _ => return,
        };
        let _ = self.words.send(word);
    }

    /// Once a second while it stands by.
    pub(super) fn look_at_other(&mut self, now: WatchTime) {
        let good = self.has_position();
        let Some(stand_by) = &mut self.stands_by else { return };
        stand_by.silent = stand_by.silent + now.since(stand_by.looked).min(LOOK_MAX);
        stand_by.looked = now;
        let silence = Span(i64::try_from(SILENCE_MAX.as_millis()).unwrap_or(i64::MAX));
        let (silent, is_linked) = (stand_by.silent, stand_by.is_linked);
        if is_linked && stand_by.said_good.replace(good) != Some(good) {
            self.wish(Wish::Stand(good));
        }
        if silent >= silence && self.stands_by.as_ref().is_some_and(|by| by.was_up || by.kept_before) {
            self.take_over(Some(silent));
        }
    }

    /// Keeps the watch from now on, because the other machine is silent for so long, or the crew wants it.
    fn take_over(&mut self, silent: Option<Span>) {
        let Some(mut stand_by) = self.stands_by.take() else { return };
        stand_by.forget_asked_but_taking();
        let lag = stand_by.side.lag.unwrap_or(Span::ZERO);
        let now = self.setup.clock.now();
        if !stand_by.was_up {
            self.take_own_ride_up();
        }
        self.setup.clock.goes_on_from((now - lag).max(self.heard_last));
        for arrival in std::mem::take(&mut stand_by.side.own) {
            self.arrival(earlier(arrival, lag));
        }
        let now = self.setup.clock.now();
        self.note_gap(now);
        let (term, by) = (self.claim.term + 1, self.machine());
        let silent_since = silent.map(|silent| now - silent);
        let kept = Kept { term, by, silent_since };
        let at = self.event(now, Event::Kept(kept.clone()));
        self.keeps_now(at, &kept);
        for device in stand_by.devices.drain(..) {
            self.order(Order::Device(device));
        }
        if let Some(ride) = &mut self.ride {
            ride.renew(at, &self.watch);
        }
        self.published = whole_second(at) - 1;
        let _ = self.words.send(Word::Sound(self.watch.sound()));
        stand_by.taking.take().map(|taking| taking.send(None));
        self.wish(Wish::Leave);
        self.notice(match silent {
            Some(_) => {
                format!("{} is silent. This machine keeps the watch now, by its own feeds.", stand_by.station)
            }
            None => format!("This machine keeps the watch now. {} stands by.", stand_by.station),
        });
        self.publish();
    }

    /// A machine that gave the watch up and heard nothing of its successor goes on with its own ride.
    fn take_own_ride_up(&mut self) {
        self.close_ride();
        match self.take_up(Span(i64::MAX)) {
            Ok(_) => self.number_own_feeds(),
            Err(error) => self.notice(format!("What is heard from now on is not kept: {error}")),
        }
    }

    /// Does what the crew of a machine that stands by wants: the other one does it.
    pub(super) fn pass_on(&mut self, command: Command, answer: Option<oneshot::Sender<Option<Refused>>>) {
        let Some(stand_by) = &mut self.stands_by else { return };
        if !stand_by.is_linked {
            let refused = refused(format!("Not done: there is no link to {}.", stand_by.station));
            match answer {
                Some(answer) => drop(answer.send(refused)),
                None => self.notice(refused.map(|refused| refused.why).unwrap_or_default()),
            }
            return;
        }
        stand_by.number = stand_by.number.wrapping_add(1).max(CHANGES + 1);
        let number = stand_by.number;
        stand_by.asked.insert(number, answer);
        self.wish(Wish::Act { number, command: Box::new(command) });
    }

    /// The same for what came through its door.
    pub(super) fn pass_on_asked(&mut self, order: peer::Order) {
        self.pass_on(order.command, Some(order.answer));
    }

    /// Keeps how a device of a machine that stands by stands, for when it keeps the watch.
    pub(super) fn note_device(&mut self, device: Device) {
        if let Some(stand_by) = &mut self.stands_by {
            stand_by.device(device);
        }
    }

    /// What this machine is to the watch, in words; whether it stands by. `None`: it keeps one as it always did.
    pub(super) fn post_words(&self) -> Option<(bool, String)> {
        let tie = self.tie.as_ref()?;
        let since = self.clock_words(self.claim.since);
        if let Some(stand_by) = &self.stands_by {
            let feed = match self.has_position() {
                true => "own feed gives a position",
                false => "OWN FEED GIVES NO POSITION",
            };
            let link = if stand_by.is_linked { "" } else { "; NO LINK" };
            let words =
                format!("STANDS BY: {} keeps the watch since {since}{link}; {feed}.", stand_by.station);
            return Some((true, words));
        }
        let (others, good) = tie.post.look_outs();
        if self.claim.term < 2 && others == 0 {
            return None;
        }
        let others = match (others, good) {
            (0, _) => "no other machine stands by",
            (_, 0) => "the one that stands by has NO POSITION",
            _ => "another stands by",
        };
        Some((false, format!("KEEPS THE WATCH since {since}; {others}.")))
    }
}

impl StandBy {
    fn forget_asked_but_taking(&mut self) {
        let taking = self.taking.take();
        self.forget_asked();
        self.taking = taking;
    }
}
