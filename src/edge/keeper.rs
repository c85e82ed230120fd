//! The keeper: owns the one watch, feeds it, and does what it wants done.
//!
//! Everything that comes in is stamped, kept in the ride's folder and handed to the watch, in that order of time. A
//! slow disk, a dead sound card or a closed screen never holds it up: each has a thread or a task of its own.
//!
//! The minutes before the anchor is let go, with a reconnaissance in them, are kept in memory. On letting go a fresh
//! watch hears them first, so that the watch that goes on is, to the last bit, the one that the ride's folder gives
//! back.

mod before;
mod resume;
mod ride;
mod stand_by;

use std::collections::BTreeMap;
use std::iter::Peekable;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use self::before::Before;
use self::resume::{Offer, TakenUp};
use self::ride::Ride;
use self::stand_by::StandBy;
pub use self::stand_by::Tie;
use super::clock::Clock;
use super::door::frame::{Claim, Heard, Refused, RideBegan};
use super::door::past::Past;
use super::door::peer::{self, Handing};
use super::door::tether::News;
use super::feed::{Arrival, Intake};
use super::folder::{FolderError, Shelf, Stamper};
use super::watchdog::Pulse;
use crate::config::RideFile;
use crate::sim;
use crate::watch::Watch;
use crate::watch::alert::{AlertChange, Sound};
use crate::watch::boat::Settings;
use crate::watch::input::{Command, Device, Event, FeedId, Input, Kept, Link, MarkEntered};
use crate::watch::output::{EndedBy, Keepsake, Output};
use crate::watch::refusal::Refusal;
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Span, WatchTime};

/// Events of a simulated night that are played without a look at anything else.
const IN_ONE_GO: usize = 1000;
/// Without an input for this long the watch was asleep: the keeper ticks once a second.
const ASLEEP: Span = Span::from_secs(5);
/// An unfinished ride whose last word is older than this is not taken up by itself.
pub const TAKE_UP_WITHIN: Span = Span::from_mins(36 * 60);
/// The computer's clock is wrong when it is so far behind the watch's time: more than the network usually corrects, less
/// than matters to a tide. Our choice.
const WALL_BEHIND: Span = Span::from_mins(1);

/// What the screen, the signals and the devices send to the keeper.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// The crew did or entered something.
    Crew(Command),
    /// A device about the watch came or went.
    Device(Device),
    /// Another machine is to keep the watch: this one if it stands by, else one that does.
    ChangePlaces,
    /// End the program; the ride stays unfinished and is taken up at the next start.
    Quit,
}

/// What the keeper says to whoever listens: the sound desk, the terminal's bell, the log.
#[derive(Clone, Debug, PartialEq)]
pub enum Word {
    /// The sound that should be heard.
    Sound(Sound),
    /// An alert changed.
    Alert(AlertChange),
    /// The alarm is to be rehearsed, or that is to stop.
    Rehearsal {
        /// When.
        at: WatchTime,
        /// Whether it is to sound.
        sounds: bool,
    },
    /// A command was refused.
    Refused(Refusal),
    /// Something that the crew should know.
    Notice(String),
    /// What the crew of a simulated night does and why.
    Caption(String),
    /// The simulated night is over.
    NightOver,
    /// The ride is over: why, and what is worth keeping of it.
    Ended(EndedBy, Box<Keepsake>),
    /// What this machine is to the watch.
    Post {
        /// Another machine keeps it.
        stands_by: bool,
        /// In words.
        words: String,
    },
    /// A feed came or went.
    Feed {
        /// Its name.
        name: String,
        /// How it stands.
        link: Link,
    },
}

/// Where lines come from.
pub enum Inflow {
    /// Real feeds.
    Feeds(Intake),
    /// A simulated night: its lines and its crew.
    Night(Peekable<Simulated>),
}

/// The events of a simulated night, in order of time.
pub type Simulated = Box<dyn Iterator<Item = sim::Event> + Send>;

/// How the keeper is set up.
pub struct Setup {
    /// Boat, tackle, limits and feeds.
    pub settings: Settings,
    /// Where rides are kept; `None`: nothing is kept.
    pub rides: Option<Shelf>,
    /// The watch's clock.
    pub clock: Clock,
    /// How many times faster than the world that clock runs: 1 but for the demo.
    pub speed: f64,
    /// Beats as long as the watch judges.
    pub pulse: Pulse,
}

/// How a keeper is reached through the door.
pub struct Doorway {
    /// What it hears is kept here for others.
    pub past: Past,
    /// Commands come here.
    pub orders: mpsc::Receiver<peer::Order>,
}

/// The owner of the watch.
pub struct Keeper {
    setup: Setup,
    watch: Watch,
    feeds: Vec<String>,
    before: Before,
    ride: Option<Ride>,
    stamper: Stamper,
    heard_last: WatchTime,
    /// The whole second, counted as Unix time, of which a snapshot was published last.
    published: i64,
    /// So far a simulated night has been played, while more of it is due: the computer does not keep up with its speed.
    behind: Option<WatchTime>,
    /// How far the computer's clock is behind, as last reported.
    wall_behind: Option<Span>,
    out: Vec<Output>,
    door: Option<Doorway>,
    tie: Option<Tie>,
    /// By what right the watch is kept, here or by the machine that this one stands by.
    claim: Claim,
    /// Another machine keeps the watch.
    stands_by: Option<Box<StandBy>>,
    /// What comes out of the watch is kept, and nobody is told: the other machine does that.
    is_aside: bool,
    /// Feeds that this machine reads itself: the numbers under which their lines come, and their names.
    reads: Vec<(FeedId, String)>,
    /// The numbers under which the watch knows them.
    own_ids: BTreeMap<FeedId, FeedId>,
    post_said: Option<(bool, String)>,
    /// Why the command that is being carried out was refused, where whoever gave it is waiting for that.
    asked: Option<Option<Refusal>>,
    snapshots: watch::Sender<Arc<Snapshot>>,
    words: mpsc::UnboundedSender<Word>,
}

/// The keeper's other ends.
pub struct Lookout {
    /// The newest snapshot.
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// What the keeper says.
    pub words: mpsc::UnboundedReceiver<Word>,
}

impl Keeper {
    /// A keeper of a fresh watch.
    #[must_use]
    pub fn new(setup: Setup) -> (Self, Lookout) {
        let watch = Watch::new(setup.settings.clone());
        let now = setup.clock.now();
        let (snapshots, snapshots_out) = watch::channel(Arc::new(watch.snapshot()));
        let (words, words_out) = mpsc::unbounded_channel();
        let keeper = Self {
            feeds: setup.settings.feeds.iter().map(|f| f.name.clone()).collect(),
            setup,
            watch,
            before: Before::default(),
            ride: None,
            stamper: Stamper::new(now),
            heard_last: now,
            published: whole_second(now),
            behind: None,
            wall_behind: None,
            out: Vec::new(),
            door: None,
            tie: None,
            claim: Claim { term: 1, since: now, ..Claim::default() },
            stands_by: None,
            is_aside: false,
            reads: Vec::new(),
            own_ids: BTreeMap::new(),
            post_said: None,
            asked: None,
            snapshots,
            words,
        };
        (keeper, Lookout { snapshots: snapshots_out, words: words_out })
    }

    /// Lets others hear what it hears from now on, and give commands.
    pub fn open_to(&mut self, door: Doorway) {
        self.door = Some(door);
    }

    fn past(&self) -> Option<&Past> {
        self.door.as_ref().map(|door| &door.past)
    }

    /// Takes up the newest unfinished ride whose last word is no older than `within`, if there is one: the watch hears
    /// the whole ride again, and then that it was asleep since. Gives the ride's folder. An older one is named.
    ///
    /// # Errors
    /// If the rides cannot be listed, or the ride cannot be read, or another watch keeps it.
    pub fn take_up(&mut self, within: Span) -> Result<Option<PathBuf>, FolderError> {
        let Some(shelf) = &self.setup.rides else { return Ok(None) };
        let now = self.setup.clock.now();
        match resume::take_up(shelf, now, within, &self.setup.settings, self.past())? {
            Offer::Nothing => Ok(None),
            Offer::TooOld(ride) => {
                let _ = self.words.send(Word::Notice(resume::offer_words(&ride, now)));
                Ok(None)
            }
            Offer::TakenUp(taken_up) => Ok(Some(self.go_on(*taken_up))),
        }
    }

    fn go_on(&mut self, taken_up: TakenUp) -> PathBuf {
        let TakenUp { ride, folder, watch, feeds, last, began, mending, damage } = taken_up;
        self.claim = ride.claim(began);
        self.watch = watch;
        self.feeds = feeds;
        self.ride = Some(ride);
        // A computer without a clock of its own may have lost more than the time of the power cut: the watch's time
        // goes on from the last stamp, or it would stand still until the clock had come there.
        self.setup.clock.reach(last);
        let now = self.setup.clock.now();
        self.stamper = Stamper::new(last);
        // The new feeds keep the numbers that the ride gave them.
        for feed in self.setup.settings.feeds.clone() {
            self.feed_id(&feed.name);
        }
        for act in mending {
            self.event(last, Event::Crew(act));
        }
        self.look_at_wall_clock(now);
        if let Some(damage) = damage {
            self.event(now, damage);
        }
        let at = self.event(now, Event::Gap { from: last });
        self.setup.clock.reach(at);
        self.keeps_what_another_kept(at, last);
        if let Some(ride) = &mut self.ride {
            ride.renew(at, &self.watch);
        }
        self.heard_last = self.heard_last.max(at);
        // What sounded when the watch stopped sounds again: hearing the ride again was silent.
        let _ = self.words.send(Word::Sound(self.watch.sound()));
        self.publish();
        folder
    }

    /// The computer's clock was put back, or had lost its time: the watch's goes on, but the crew is warned.
    fn look_at_wall_clock(&mut self, now: WatchTime) {
        let behind = Some(self.setup.clock.wall_behind()).filter(|behind| *behind > WALL_BEHIND);
        if behind.is_some() != self.wall_behind.is_some() {
            self.wall_behind = behind;
            self.event(now, Event::Device(Device::Clock { behind }));
        }
    }

    /// The watch's number for the feed of that name.
    pub fn feed_id(&mut self, name: &str) -> Option<FeedId> {
        let id = self.watch.feed_named(name)?;
        let index = usize::from(id.0);
        if index >= self.feeds.len() {
            self.feeds.resize(index + 1, String::new());
        }
        self.feeds[index] = name.to_owned();
        if let Some(past) = self.past() {
            past.heard(&Heard::Feed(name.to_owned()));
        }
        Some(id)
    }

    /// Keeps the watch until it is asked to quit.
    pub async fn keep(mut self, mut inflow: Inflow, mut orders: mpsc::UnboundedReceiver<Order>) {
        if let Inflow::Night(night) = &mut inflow
            && let Some(first) = night.peek()
        {
            self.open_simulated(first.at());
        }
        loop {
            let wait = self.until_next(&mut inflow);
            let mut arrived = None;
            tokio::select! {
                biased;
                order = orders.recv() => match order {
                    Some(Order::Quit) | None => break,
                    Some(order) => self.order(order),
                },
                Some(order) = next_asked(&mut self.door) => self.asked(order),
                Some(tied) = next_tied(&mut self.tie) => match tied {
                    Tied::Handing(handing) => self.handing(handing),
                    Tied::News(news) => self.news(news),
                },
                arrival = next_arrival(&mut inflow) => arrived = arrival,
                () = tokio::time::sleep(wait) => {}
            }
            if let Some(arrival) = arrived {
                self.arrival(arrival);
                // What is queued behind it is taken in one go.
                while let Inflow::Feeds(intake) = &mut inflow
                    && let Some(arrival) = intake.try_recv()
                {
                    self.arrival(arrival);
                }
            }
            self.catch_up(&mut inflow);
        }
        self.close_ride();
    }

    /// How long until the watch, or the simulated night, next has something to do.
    fn until_next(&self, inflow: &mut Inflow) -> Duration {
        let now = self.setup.clock.now();
        if self.stands_by.is_some() {
            // The other machine's time is in what it says.
            return Duration::from_millis(1000 - now.0.rem_euclid(1000).unsigned_abs());
        }
        let due = self.watch.next_deadline().unwrap_or(now);
        let due = match inflow {
            Inflow::Night(night) => night.peek().map_or(due, |event| due.min(event.at())),
            Inflow::Feeds(_) => due,
        };
        // A clock that runs fast is looked at 50 times a second, not at each of its milliseconds.
        let shortest = if self.setup.speed > 1.0 { 0.02 } else { 0.001 };
        Duration::from_secs_f64((due.since(now).seconds() / self.setup.speed).clamp(shortest, 1.0))
    }

    /// Plays what is due of a simulated night, and runs the second that has begun.
    fn catch_up(&mut self, inflow: &mut Inflow) {
        let now = self.setup.clock.now();
        let now = match inflow {
            Inflow::Feeds(_) => {
                if self.stands_by.is_none() {
                    self.note_gap(now);
                }
                now
            }
            Inflow::Night(night) => {
                let played = self.play(night, now);
                if night.peek().is_none() {
                    // The simulated night is over: its last moment stays on the screen.
                    self.setup.pulse.beat();
                    return;
                }
                played
            }
        };
        self.run_second(now);
    }

    /// Runs what is due by the clock, for whoever drives the keeper step by step.
    pub fn run_due(&mut self) {
        let now = self.setup.clock.now();
        if self.stands_by.is_none() {
            self.note_gap(now);
        }
        self.run_second(now);
    }

    /// Everything there is to see.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        let other = self.stands_by.as_ref().map(|stand_by| stand_by.snapshot());
        other.flatten().unwrap_or_else(|| self.watch.snapshot())
    }

    /// Once in each whole second, however many inputs have fallen into it already: ticks, looks after the disk, and
    /// publishes.
    fn run_second(&mut self, now: WatchTime) {
        let second = whole_second(now);
        if second == self.published {
            return;
        }
        self.published = second;
        self.say_post();
        if self.stands_by.is_some() {
            self.look_at_other(now);
            self.publish();
            self.setup.pulse.beat();
            return;
        }
        self.hear(now, Input::Tick);
        self.look_at_wall_clock(now);
        self.look_after_disk(now);
        self.follow_facts(now);
        if let Some(past) = self.past() {
            let anchored = self.watch.stage() != Stage::NotSet;
            past.bound(anchored, &self.feeds, || self.before.standing().to_vec());
        }
        self.publish();
        self.setup.pulse.beat();
    }

    /// Plays what is due of a simulated night, but no more than [`IN_ONE_GO`]: between two goes the screen and the crew
    /// have their turn, however slow the computer. Gives how far it was played.
    fn play(&mut self, night: &mut Peekable<Simulated>, now: WatchTime) -> WatchTime {
        if night.peek().is_none() {
            return now;
        }
        for _ in 0..IN_ONE_GO {
            let Some(event) = night.next_if(|event| event.at() <= now) else { break };
            self.simulated(event);
        }
        self.behind = night.peek().map(sim::Event::at).filter(|next| *next <= now);
        if night.peek().is_none() {
            self.publish();
            // Nobody listens any more: its last moment stays all the same.
            let _ = self.words.send(Word::NightOver);
        }
        self.behind.unwrap_or(now)
    }

    /// The feeds of a simulated night are open from its beginning.
    fn open_simulated(&mut self, at: WatchTime) {
        for id in (0..=u8::MAX).map(FeedId).take(self.feeds.len()) {
            self.link(at, id, Link::Open);
        }
    }

    fn simulated(&mut self, event: sim::Event) {
        match event {
            sim::Event::Line { at, feed, bytes } => self.keep_line(at, feed, &bytes),
            sim::Event::Crew { at, command } => self.crew(at, command),
            // Nobody listens any more: the night goes on all the same.
            sim::Event::Caption { text, .. } => drop(self.words.send(Word::Caption(text))),
            sim::Event::Truth(_) => {}
        }
    }

    /// Takes what a feed brings.
    pub fn arrival(&mut self, arrival: Arrival) {
        if let Some(stand_by) = &mut self.stands_by {
            stand_by.arrival(arrival);
            return;
        }
        match arrival {
            Arrival::Line { feed, at, bytes } => self.line(at, self.own_id(feed), &bytes),
            Arrival::Link { feed, at, link } => self.link(at, self.own_id(feed), link),
            Arrival::Dropped { feed, lines, .. } => self.dropped(self.own_id(feed), lines),
        }
    }

    /// Does what the crew, or a device, wants done.
    pub fn order(&mut self, order: Order) {
        let now = self.behind.unwrap_or_else(|| self.setup.clock.now());
        match order {
            Order::Crew(command) if self.stands_by.is_some() => self.pass_on(command, None),
            Order::Crew(command) => self.crew(now, command),
            Order::ChangePlaces => self.changes_places(),
            Order::Device(device) if self.stands_by.is_some() => self.note_device(device),
            Order::Device(device) => {
                if device.stands() {
                    self.before.stands(Event::Device(device.clone()));
                }
                self.event(now, Event::Device(device));
            }
            Order::Quit => {}
        }
        self.publish();
    }

    /// Does what came through the door, and answers.
    pub fn asked(&mut self, order: peer::Order) {
        if self.stands_by.is_some() {
            self.pass_on_asked(order);
            return;
        }
        let now = self.behind.unwrap_or_else(|| self.setup.clock.now());
        self.asked = Some(None);
        self.crew(now, order.command);
        let refused = self.asked.take().flatten();
        let refused = refused.map(Refused::from);
        // It may have left.
        let _ = order.answer.send(refused);
        self.publish();
    }

    /// A feed that babbles is bounded, or it would fill the disk: the crew is warned, and so is whoever reads the ride.
    fn dropped(&mut self, feed: FeedId, lines: u64) {
        let name = name_of(&self.feeds, feed);
        let words =
            format!("Feed {name} sends more than any instruments do: {lines} lines of it were left out.");
        if let Some(ride) = &self.ride {
            ride.lost(lines);
        }
        let _ = self.words.send(Word::Notice(words));
    }

    fn link(&mut self, at: WatchTime, feed: FeedId, link: Link) {
        let name = self.feeds.get(usize::from(feed.0)).cloned().unwrap_or_default();
        // Nobody listens any more: the watch goes on all the same.
        let _ = self.words.send(Word::Feed { name: name.clone(), link: link.clone() });
        let event = Event::Feed { feed, name, link };
        self.before.stands(event.clone());
        self.event(at, event);
    }

    fn line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        // A recording that is played fast is ahead of the clock, and nothing may wait for the clock afterwards.
        self.setup.clock.lead(at);
        self.note_gap(at);
        self.keep_line(at, feed, bytes);
    }

    fn keep_line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        let at = self.stamper.line(at);
        match &self.ride {
            Some(ride) => ride.line(name_of(&self.feeds, feed), at, bytes),
            None => self.before.line(at, feed, bytes),
        }
        self.hear(at, Input::Line { feed, bytes });
    }

    /// An input that the journal keeps. Gives the time it was stamped with.
    fn event(&mut self, at: WatchTime, event: Event) -> WatchTime {
        let at = self.stamper.event(at);
        if let Some(ride) = &self.ride {
            ride.event(at, &event);
        }
        self.hear(at, Input::Event(event));
        at
    }

    fn crew(&mut self, at: WatchTime, command: Command) {
        if let Command::LetGo { place, .. } | Command::Lying { place, .. } = &command
            && self.watch.stage() == Stage::NotSet
        {
            self.begin_ride(at, place.clone());
        }
        let at = self.event(at, Event::Crew(command.clone()));
        self.acted(at, &command);
    }

    /// Keeps what an act that the watch has heard means for the ride, or for the next.
    fn acted(&mut self, at: WatchTime, command: &Command) {
        self.before.act(at, &self.as_heard_again(command), self.watch.stage() != Stage::NotSet);
        if let Some(ride) = &mut self.ride {
            ride.acted(at, command, &self.watch);
        }
    }

    /// The same act, to be heard at another time: a mark seen from the bow by its position.
    fn as_heard_again(&self, command: &Command) -> Command {
        match command {
            Command::Mark { name, entered: MarkEntered::FromBow { .. } } => {
                let marks = self.watch.marks_entered();
                let entered = marks.into_iter().find(|(other, _)| other == name);
                entered.map_or(command.clone(), |(name, entered)| Command::Mark { name, entered })
            }
            _ => command.clone(),
        }
    }

    /// A fresh watch hears the minutes before, and a ride is begun with them.
    fn begin_ride(&mut self, at: WatchTime, place: String) {
        let settings = Settings { limits: self.watch.snapshot().limits, ..self.setup.settings.clone() };
        let mut watch = Watch::new(settings.clone());
        for name in &self.feeds {
            watch.feed_named(name);
        }
        let file =
            RideFile { place, settings: settings.clone(), tide: self.before.tide(), ..RideFile::default() };
        let began = self.before.begins(at);
        let of_ride = RideBegan { began, place: file.place.clone() };
        let ride = Ride::begin(self.setup.rides.as_ref(), began, file);
        let mut unheard = Vec::new();
        if let Some(past) = self.past() {
            past.begin(&settings, &self.feeds, Some(of_ride));
        }
        self.claim = Claim { ride: Some(began), term: 1, since: at, by: self.claim.by.clone() };
        self.holds_post();
        for entry in self.before.hand_over(at) {
            ride.entry(&entry, &self.feeds);
            if let Some(past) = self.past() {
                past.entry(&entry);
            }
            watch.handle_into(entry.at, entry.what.input(), &mut unheard);
        }
        self.watch = watch;
        self.ride = Some(ride);
    }

    /// The watch was not running if nothing at all was heard, not even a tick.
    fn note_gap(&mut self, now: WatchTime) {
        let from = self.heard_last;
        let entered = self.setup.clock.resync();
        if now.since(from) > ASLEEP || entered.is_some() {
            let from = entered.map_or(from, |gap| gap.from.min(from));
            self.heard_last = now;
            self.event(now, Event::Gap { from });
        }
    }

    fn hear(&mut self, at: WatchTime, input: Input<'_>) {
        let has_judged = whole_second(at) > whole_second(self.heard_last);
        self.heard_last = self.heard_last.max(at);
        if let Some(past) = self.past() {
            match &input {
                Input::Line { feed, bytes } => past.line(at, *feed, bytes),
                Input::Event(event) => past.event(at, event),
                Input::Tick => past.heard(&Heard::Tick { at }),
            }
        }
        let mut out = std::mem::take(&mut self.out);
        self.watch.handle_into(at, input, &mut out);
        for output in out.drain(..) {
            self.carry_out(output);
        }
        self.out = out;
        if has_judged {
            // Also in the middle of a long row of inputs: a simulated night may bring minutes at once.
            self.setup.pulse.beat();
        }
    }

    fn carry_out(&mut self, output: Output) {
        let word = match output {
            Output::Alert(change) => {
                if let Some(ride) = &mut self.ride {
                    ride.alert(&change);
                }
                if let Some(past) = self.past() {
                    past.heard(&Heard::Alert(change.clone()));
                }
                Word::Alert(change)
            }
            Output::Sound { at, sound } => {
                if let Some(past) = self.past() {
                    past.heard(&Heard::Sound { at, sound });
                }
                Word::Sound(sound)
            }
            Output::Rehearsal { at, sounds } => Word::Rehearsal { at, sounds },
            Output::Refused { why, .. } => match &mut self.asked {
                Some(refused) => {
                    refused.get_or_insert(why);
                    return;
                }
                None => Word::Refused(why),
            },
            // Where the anchor lies is noted when the second has run.
            Output::RideBegan { .. } | Output::Marked { .. } => return,
            Output::RideEnded { at, why, kept } => {
                if let Some(ride) = &mut self.ride {
                    ride.ended(at);
                }
                Word::Ended(why, kept)
            }
        };
        if !self.is_aside {
            // Nobody listens any more: the watch goes on all the same.
            let _ = self.words.send(word);
        }
    }

    /// Once a second: whether the ride is being written; after the ride's end it is closed.
    fn look_after_disk(&mut self, now: WatchTime) {
        if let Some(news) = self.ride.as_mut().and_then(Ride::news_of_disk) {
            self.event(now, Event::Device(news));
        }
        if self.watch.stage() == Stage::NotSet {
            self.close_ride();
        }
    }

    fn close_ride(&mut self) {
        if let Some(ride) = self.ride.take() {
            ride.close();
        }
        if self.claim.ride.take().is_some() {
            self.holds_post();
        }
    }

    /// Says what this machine is to the watch, where that is new.
    fn say_post(&mut self) {
        let post = self.post_words();
        if post == self.post_said {
            return;
        }
        self.post_said.clone_from(&post);
        let (stands_by, words) = post.unwrap_or_default();
        let _ = self.words.send(Word::Post { stands_by, words });
    }

    /// A ride that is taken up from a copy, of a watch that another machine kept last.
    fn keeps_what_another_kept(&mut self, at: WatchTime, last: WatchTime) {
        let machine = self.tie.as_ref().map(|tie| tie.machine.clone()).unwrap_or_default();
        if self.claim.by.is_empty() || self.claim.by == machine {
            self.claim.by = machine;
            self.holds_post();
            return;
        }
        let kept = Kept { term: self.claim.term + 1, by: machine, silent_since: Some(last) };
        let at = self.event(at, Event::Kept(kept.clone()));
        self.keeps_now(at, &kept);
    }

    fn publish(&self) {
        if self.snapshots.receiver_count() == 0 {
            return;
        }
        match &self.stands_by {
            None => drop(self.snapshots.send_replace(Arc::new(self.watch.snapshot()))),
            // What was known last stays until all is known.
            Some(stand_by) => {
                stand_by.snapshot().map(|snapshot| self.snapshots.send_replace(Arc::new(snapshot)));
            }
        }
    }

    /// Keeps `ride.toml` true to what became so without any act.
    fn follow_facts(&mut self, now: WatchTime) {
        let drop = self.watch.drop_point().copied();
        if let Some(ride) = &mut self.ride
            && ride.lacks(drop)
        {
            ride.renew(now, &self.watch);
        }
    }
}

/// The next command that comes through the door, if there is one.
async fn next_asked(door: &mut Option<Doorway>) -> Option<peer::Order> {
    match door {
        Some(door) => door.orders.recv().await,
        None => std::future::pending().await,
    }
}

/// What comes from other machines.
enum Tied {
    /// By the link that this one follows.
    News(News),
    /// Through the door, about who keeps the watch.
    Handing(Handing),
}

/// That, if there is any.
async fn next_tied(tie: &mut Option<Tie>) -> Option<Tied> {
    let Some(tie) = tie else { return std::future::pending().await };
    tokio::select! {
        Some(news) = tie.news.recv() => Some(Tied::News(news)),
        Some(handing) = tie.handings.recv() => Some(Tied::Handing(handing)),
        else => None,
    }
}

/// The next arrival of real feeds; a simulated night plays by the clock alone.
async fn next_arrival(inflow: &mut Inflow) -> Option<Arrival> {
    match inflow {
        Inflow::Feeds(intake) => match intake.recv().await {
            Some(arrival) => Some(arrival),
            // Every feed has ended: the watch goes on, and says that there is no position.
            None => std::future::pending().await,
        },
        Inflow::Night(_) => std::future::pending().await,
    }
}

/// Name of a feed as it stands in the ride's log.
fn name_of(feeds: &[String], feed: FeedId) -> &str {
    feeds.get(usize::from(feed.0)).map_or("feed", String::as_str)
}

fn whole_second(at: WatchTime) -> i64 {
    at.0.div_euclid(1000)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::clock::TimeSource;
    use crate::edge::feed::{Patience, queue};

    /// A start between two whole seconds.
    const START_MS: i64 = 1_780_452_840_250;

    /// The computer's clocks, as the paused clock of the tests has them, so many times as fast.
    struct PausedTime {
        zero: tokio::time::Instant,
        speed: u32,
    }

    fn clock(speed: u32) -> Clock {
        Clock::on(Arc::new(PausedTime { zero: tokio::time::Instant::now(), speed }))
    }

    impl TimeSource for PausedTime {
        fn wall_ms(&self) -> i64 {
            START_MS + i64::try_from(self.running().as_millis()).expect("a short test")
        }
        fn running(&self) -> Duration {
            self.zero.elapsed() * self.speed
        }
        fn running_and_asleep(&self) -> Option<Duration> {
            None
        }
    }

    /// Seconds since the start of which a snapshot was published, while lines come in at that interval.
    async fn published_while_lines_come(every: Duration, watched: Duration) -> Vec<i64> {
        let clock = clock(1);
        let setup = Setup {
            settings: Settings::default(),
            rides: None,
            clock: clock.clone(),
            speed: 1.0,
            pulse: Pulse::default(),
        };
        let (mut keeper, Lookout { mut snapshots, .. }) = Keeper::new(setup);
        let feed = keeper.feed_id("masthead").expect("room for a feed");
        let (feeder, intake) = queue(clock, Patience::default());
        let mut outlet = feeder.outlet(feed);
        let (orders, orders_in) = mpsc::unbounded_channel();
        let keeping = tokio::spawn(keeper.keep(Inflow::Feeds(intake), orders_in));
        let talking = tokio::spawn(async move {
            loop {
                tokio::time::sleep(every).await;
                outlet.line(outlet.now(), b"$HEHDT,34.5,T*2B".to_vec()).await;
            }
        });
        let mut seconds = Vec::new();
        let looking = async {
            while snapshots.changed().await.is_ok() {
                seconds.push(snapshots.borrow_and_update().at.0.div_euclid(1000) - START_MS / 1000);
            }
        };
        // Just before a whole second, so that all of those before it are over.
        let _ = tokio::time::timeout(watched, looking).await;
        talking.abort();
        orders.send(Order::Quit).expect("the keeper listens");
        keeping.await.expect("the keeper ends");
        seconds
    }

    #[tokio::test(start_paused = true)]
    async fn a_simulated_night_that_is_over_is_said_and_nothing_is_heard_after_it() {
        let clock = clock(1);
        let setup =
            Setup { settings: Settings::default(), rides: None, clock, speed: 1.0, pulse: Pulse::default() };
        let (keeper, Lookout { snapshots, mut words }) = Keeper::new(setup);
        let line = |at| {
            let bytes = b"$HEHDT,34.5,T*2B".to_vec();
            sim::Event::Line { at: WatchTime(START_MS + at), feed: FeedId(0), bytes }
        };
        let night: Simulated = Box::new([line(1000), line(2500)].into_iter());
        let (orders, orders_in) = mpsc::unbounded_channel();
        let keeping = tokio::spawn(keeper.keep(Inflow::Night(night.peekable()), orders_in));
        while words.recv().await.expect("the night ends") != Word::NightOver {}
        // Long enough for a lost heading to be noticed, were seconds still run.
        tokio::time::sleep(Duration::from_secs(120)).await;
        assert!(snapshots.borrow().at <= WatchTime(START_MS + 2500));
        orders.send(Order::Quit).expect("the keeper listens");
        keeping.await.expect("the keeper ends");
        assert!(words.try_recv().is_err(), "a word after the end");
    }

    #[tokio::test(start_paused = true)]
    async fn a_night_that_passes_faster_than_the_computer_can_play_it_is_shown_on_the_way() {
        // After the first wait the whole night is due.
        let setup = Setup {
            settings: Settings::default(),
            rides: None,
            clock: clock(1_000_000),
            speed: 1e6,
            pulse: Pulse::default(),
        };
        let (mut keeper, Lookout { mut snapshots, .. }) = Keeper::new(setup);
        let feed = keeper.feed_id("masthead").expect("room for a feed");
        let at = |second: i64| WatchTime(START_MS + second * 1000);
        let line =
            move |second| sim::Event::Line { at: at(second), feed, bytes: b"$HEHDT,34.5,T*2B".to_vec() };
        let night: Simulated = Box::new((0..10_000).map(line));
        let (_orders, orders_in) = mpsc::unbounded_channel();
        let keeping = tokio::spawn(keeper.keep(Inflow::Night(night.peekable()), orders_in));
        let mut shown = Vec::new();
        while snapshots.borrow().at < at(9_999) {
            snapshots.changed().await.expect("the keeper goes on");
            shown.push(snapshots.borrow_and_update().at);
        }
        keeping.abort();
        assert!(shown.len() >= 10_000 / IN_ONE_GO, "{shown:?}");
        assert!(shown.is_sorted() && shown.iter().all(|then| *then <= at(9_999)), "{shown:?}");
    }

    #[tokio::test(start_paused = true)]
    async fn every_second_is_published_once_however_the_lines_fall() {
        for every_ms in [3, 10, 250, 999, 1000, 1001, 5_000] {
            let every = Duration::from_millis(every_ms);
            let seconds = published_while_lines_come(every, Duration::from_millis(30_740)).await;
            assert_eq!(seconds, (1..=30).collect::<Vec<_>>(), "a line every {every_ms} ms");
        }
    }
}
