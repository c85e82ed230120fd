//! The keeper: owns the one watch, feeds it, and does what it wants done.
//!
//! Everything that comes in is stamped, kept in the ride's folder and handed to the watch, in that order of time. A
//! slow disk, a dead sound card or a closed screen never holds it up: each has a thread or a task of its own.
//!
//! The minutes before the anchor is let go, with a reconnaissance in them, are kept in memory. On letting go a fresh
//! watch hears them first, so that the watch that goes on is, to the last bit, the one that the ride's folder gives
//! back.

use std::collections::VecDeque;
use std::iter::Peekable;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use super::clock::Clock;
use super::feed::{Arrival, Intake};
use super::folder::{FolderError, RIDE, Recorder, RideReader, Stamper, find_unfinished, read_ride_file};
use crate::config::{DropMark, RideFile};
use crate::sim;
use crate::watch::Watch;
use crate::watch::alert::{AlertChange, Sound};
use crate::watch::boat::Settings;
use crate::watch::input::{
    Command, Device, EndedBy, Event, FeedId, Input, Keepsake, Link, Output, TideEntered,
};
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::{Span, WatchTime};

/// What is kept of the time before letting go; while a reconnaissance goes on, or has gone on, from its beginning.
const PRE_ROLL: Span = Span::from_mins(15);
/// But of no more than this.
const PRE_ROLL_RECON: Span = Span::from_mins(60);
/// Lines that are kept of it at most: a busy network for that long.
const PRE_ROLL_LINES: usize = 60_000;
/// Without an input for this long the watch was asleep: the keeper ticks once a second.
const ASLEEP: Span = Span::from_secs(5);
/// An unfinished ride whose last word is older than this is not taken up by itself.
const TAKE_UP_WITHIN: Span = Span::from_mins(36 * 60);
/// How long the end of a ride may wait for the disk.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// What the screen, the signals and the devices send to the keeper.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// The crew did or told something.
    Crew(Command),
    /// A device about the watch came or went.
    Device(Device),
    /// End the program; the ride stays unfinished and is taken up at the next start.
    Quit,
}

/// What the keeper tells whoever listens: the sound desk, the terminal's bell, the log.
#[derive(Clone, Debug, PartialEq)]
pub enum Word {
    /// The sound that should be heard.
    Sound(Sound),
    /// An alert changed.
    Alert(AlertChange),
    /// A command was refused.
    Refused(String),
    /// What the crew of a simulated night does and why.
    Caption(String),
    /// The ride is over: why, and what is worth keeping of it.
    Ended(EndedBy, Box<Keepsake>),
    /// A feed came or went.
    Feed {
        /// Its name.
        name: String,
        /// How it stands.
        link: Link,
    },
}

/// What is kept of the time before letting go.
enum Before {
    /// A line.
    Line(FeedId, Box<[u8]>),
    /// What the crew did to make ready.
    Crew(Command),
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
    pub rides: Option<PathBuf>,
    /// The watch's clock.
    pub clock: Clock,
    /// How many times faster than the world that clock runs: 1 but for the demo.
    pub speed: f64,
}

/// The owner of the watch.
pub struct Keeper {
    setup: Setup,
    watch: Watch,
    feeds: Vec<String>,
    standing: Vec<Event>,
    pre_roll: VecDeque<(WatchTime, Before)>,
    /// When the reconnaissance began that the pre-roll reaches back to.
    recon_began: Option<WatchTime>,
    /// What the crew did to make ready, so long ago that the pre-roll no longer reaches it.
    outlived: Vec<Command>,
    recorder: Option<Recorder>,
    ride: Option<RideFile>,
    stamper: Stamper,
    heard_last: WatchTime,
    disk_failed: Option<String>,
    out: Vec<Output>,
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
            standing: Vec::new(),
            pre_roll: VecDeque::new(),
            recon_began: None,
            outlived: Vec::new(),
            recorder: None,
            ride: None,
            stamper: Stamper::new(now),
            heard_last: now,
            disk_failed: None,
            out: Vec::new(),
            snapshots,
            words,
        };
        (keeper, Lookout { snapshots: snapshots_out, words: words_out })
    }

    /// Takes up the newest unfinished ride, if there is one that is young enough: the watch hears the whole ride
    /// again, and then that it was asleep since. Gives the ride's folder.
    ///
    /// # Errors
    /// If the rides cannot be listed, or the ride cannot be read, or another watch keeps it.
    pub fn take_up(&mut self) -> Result<Option<PathBuf>, FolderError> {
        let Some(rides) = self.setup.rides.clone() else { return Ok(None) };
        let now = self.setup.clock.now();
        let young = |last: Option<WatchTime>| last.is_some_and(|last| now.since(last) <= TAKE_UP_WITHIN);
        let Some(found) = find_unfinished(&rides)?.into_iter().find(|r| young(r.last)) else {
            return Ok(None);
        };
        let resumed = Recorder::resume(&found.folder, now)?;
        let mut reader = RideReader::open(&found.folder)?;
        let mut watch = Watch::new(reader.settings().clone());
        let mut last = WatchTime(0);
        let mut heard = Vec::new();
        let mut tide = TideEntered::Nothing;
        for entry in &mut reader {
            let entry = entry.map_err(|source| FolderError::Io { path: found.folder.clone(), source })?;
            let input = entry.what.input();
            if let Input::Event(Event::Crew(Command::Tide(entered))) = &input {
                tide = entered.clone();
            }
            watch.handle_into(entry.at, input, &mut heard);
            heard.clear();
            last = entry.at;
        }
        self.feeds = reader.feeds().to_vec();
        let settings = reader.settings().clone();
        self.watch = watch;
        // What the ride's own file knows beside stays in it when it is next written.
        let known = read_ride_file(&found.folder.join(RIDE)).map(|read| read.value).unwrap_or_default();
        self.ride = Some(RideFile { place: found.place, settings, tide, ..known });
        self.stamper = Stamper::new(last.max(now));
        self.recorder = Some(resumed.recorder);
        // The new feeds keep the numbers that the ride gave them.
        for feed in self.setup.settings.feeds.clone() {
            self.feed_id(&feed.name);
        }
        self.event(now, Event::Gap { from: last });
        self.heard_last = now;
        self.publish();
        Ok(Some(found.folder))
    }

    /// The watch's number for the feed of that name.
    pub fn feed_id(&mut self, name: &str) -> Option<FeedId> {
        let id = self.watch.feed_named(name)?;
        let index = usize::from(id.0);
        if index >= self.feeds.len() {
            self.feeds.resize(index + 1, String::new());
        }
        self.feeds[index] = name.to_owned();
        Some(id)
    }

    /// Keeps the watch until it is told to quit.
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
        self.finish();
    }

    /// How long until the watch, or the simulated night, next has something to do.
    fn until_next(&self, inflow: &mut Inflow) -> Duration {
        let now = self.setup.clock.now();
        let due = self.watch.next_deadline().unwrap_or(now);
        let due = match inflow {
            Inflow::Night(night) => night.peek().map_or(due, |event| due.min(event.at())),
            Inflow::Feeds(_) => due,
        };
        // A clock that runs fast is looked at 50 times a second, not at each of its milliseconds.
        let shortest = if self.setup.speed > 1.0 { 0.02 } else { 0.001 };
        Duration::from_secs_f64((due.since(now).seconds() / self.setup.speed).clamp(shortest, 1.0))
    }

    /// Plays what is due of a simulated night, ticks, looks after the disk, and publishes once a second.
    fn catch_up(&mut self, inflow: &mut Inflow) {
        let now = self.setup.clock.now();
        let before = self.heard_last;
        match inflow {
            Inflow::Feeds(_) => self.note_gap(now),
            Inflow::Night(night) => {
                if night.peek().is_none() {
                    // The simulated night is over: its last moment stays on the screen.
                    return;
                }
                while let Some(event) = night.next_if(|event| event.at() <= now) {
                    self.simulated(event);
                }
            }
        }
        if now.0.div_euclid(1000) != before.0.div_euclid(1000) {
            self.hear(now, Input::Tick);
            self.look_after_disk(now);
            self.publish();
        }
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

    fn arrival(&mut self, arrival: Arrival) {
        match arrival {
            Arrival::Line { feed, at, bytes } => self.line(at, feed, &bytes),
            Arrival::Link { feed, at, link } => self.link(at, feed, link),
        }
    }

    fn order(&mut self, order: Order) {
        let now = self.setup.clock.now();
        match order {
            Order::Crew(command) => self.crew(now, command),
            Order::Device(device) => {
                self.standing.retain(|e| !same_device(e, &device));
                self.standing.push(Event::Device(device.clone()));
                self.event(now, Event::Device(device));
            }
            Order::Quit => {}
        }
        self.publish();
    }

    fn link(&mut self, at: WatchTime, feed: FeedId, link: Link) {
        let name = self.feeds.get(usize::from(feed.0)).cloned().unwrap_or_default();
        self.standing.retain(|e| !matches!(e, Event::Feed { feed: other, .. } if *other == feed));
        // Nobody listens any more: the watch goes on all the same.
        let _ = self.words.send(Word::Feed { name: name.clone(), link: link.clone() });
        let event = Event::Feed { feed, name, link };
        self.standing.push(event.clone());
        self.event(at, event);
    }

    fn line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        self.note_gap(at);
        self.keep_line(at, feed, bytes);
    }

    fn keep_line(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        let at = self.stamper.line(at);
        match &self.recorder {
            Some(recorder) => {
                let name = self.feeds.get(usize::from(feed.0)).map_or("feed", String::as_str);
                recorder.line(name, at, bytes);
            }
            None => self.remember(at, feed, bytes),
        }
        self.hear(at, Input::Line { feed, bytes });
    }

    /// Keeps a line for the time before the anchor is let go.
    fn remember(&mut self, at: WatchTime, feed: FeedId, bytes: &[u8]) {
        let keep =
            self.recon_began.map_or(PRE_ROLL, |began| at.since(began).max(PRE_ROLL).min(PRE_ROLL_RECON));
        while self.pre_roll.len() >= PRE_ROLL_LINES
            || self.pre_roll.front().is_some_and(|(then, _)| at.since(*then) > keep)
        {
            if let Some((_, Before::Crew(command))) = self.pre_roll.pop_front() {
                self.outlived.retain(|other| !same_act(other, &command));
                self.outlived.push(command);
            }
        }
        self.pre_roll.push_back((at, Before::Line(feed, bytes.into())));
    }

    /// Keeps what the crew does to make ready, before the anchor is let go.
    fn remember_crew(&mut self, at: WatchTime, command: &Command) {
        if self.recorder.is_some() || self.watch.stage() != Stage::NotSet {
            return;
        }
        match command {
            Command::BeginRecon => self.recon_began = Some(at),
            Command::EndRecon | Command::VeerTo { .. } => {}
            _ => return,
        }
        if self.pre_roll.len() < PRE_ROLL_LINES {
            self.pre_roll.push_back((at, Before::Crew(command.clone())));
        }
    }

    /// An input that the journal keeps. Gives the time it was stamped with.
    fn event(&mut self, at: WatchTime, event: Event) -> WatchTime {
        let at = self.stamper.event(at);
        if let Some(recorder) = &self.recorder {
            recorder.event(at, &event);
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
        let kept = command.clone();
        let stamped = self.event(at, Event::Crew(command));
        self.remember_crew(stamped, &kept);
        self.note_in_ride_file(at, &kept);
    }

    /// A fresh watch hears the minutes before, and a folder is begun with them.
    fn begin_ride(&mut self, at: WatchTime, place: String) {
        let snapshot = self.watch.snapshot();
        let settings = Settings { limits: snapshot.limits, ..self.setup.settings.clone() };
        let from = self.pre_roll.front().map_or(at, |(at, _)| *at);
        let mut watch = Watch::new(settings.clone());
        for name in &self.feeds {
            watch.feed_named(name);
        }
        let tide = self.tide();
        let ride = RideFile { place, settings, tide, ..RideFile::default() };
        let recorder = self.setup.rides.as_deref().and_then(|rides| self.begin_folder(rides, from, &ride));
        let mut unheard = Vec::new();
        for event in &self.standing {
            if let Some(recorder) = &recorder {
                recorder.event(from, event);
            }
            watch.handle_into(from, Input::Event(event.clone()), &mut unheard);
        }
        // What the crew did before all that is kept still stands.
        let outlived = self.outlived.drain(..).map(|command| (from, Before::Crew(command)));
        for (at, before) in outlived.chain(self.pre_roll.drain(..)) {
            match before {
                Before::Line(feed, bytes) => {
                    if let Some(recorder) = &recorder {
                        let name = self.feeds.get(usize::from(feed.0)).map_or("feed", String::as_str);
                        recorder.line(name, at, &bytes);
                    }
                    watch.handle_into(at, Input::Line { feed, bytes: &bytes }, &mut unheard);
                }
                Before::Crew(command) => {
                    let event = Event::Crew(command);
                    if let Some(recorder) = &recorder {
                        recorder.event(at, &event);
                    }
                    watch.handle_into(at, Input::Event(event), &mut unheard);
                }
            }
        }
        self.recon_began = None;
        self.watch = watch;
        self.recorder = recorder;
        self.ride = Some(ride);
    }

    fn begin_folder(&self, rides: &Path, from: WatchTime, ride: &RideFile) -> Option<Recorder> {
        Recorder::begin(rides, from, ride.clone())
            .map_err(|error| tracing::error!(%error, "no ride writer"))
            .ok()
    }

    fn tide(&self) -> TideEntered {
        let entered = self.standing.iter().rev().find_map(|e| match e {
            Event::Crew(Command::Tide(entered)) => Some(entered.clone()),
            _ => None,
        });
        entered.unwrap_or(TideEntered::Nothing)
    }

    /// Keeps `ride.toml` true after what the crew did.
    fn note_in_ride_file(&mut self, at: WatchTime, command: &Command) {
        if let Command::Tide(_) | Command::Near { .. } = command {
            let kind = std::mem::discriminant(command);
            self.standing
                .retain(|e| !matches!(e, Event::Crew(other) if std::mem::discriminant(other) == kind));
            self.standing.push(Event::Crew(command.clone()));
        }
        let changes = !matches!(
            command,
            Command::Acknowledge { .. }
                | Command::BeginRecon
                | Command::EndRecon
                | Command::VeerTo { .. }
                | Command::Pull { .. }
                | Command::Neutral
                | Command::Bearing { .. }
                | Command::Round(_)
                | Command::Silence
                | Command::Note { .. }
                | Command::Weigh
                | Command::Stay
        );
        if !changes {
            return;
        }
        let snapshot = self.watch.snapshot();
        let Some(ride) = &mut self.ride else { return };
        ride.settings.limits = snapshot.limits;
        if snapshot.stage != Stage::NotSet {
            ride.marks = self.watch.marks_entered();
        }
        ride.veered = snapshot.rode.veered.or(ride.veered);
        ride.drop = snapshot
            .drop
            .map(|d| DropMark { position: d.position, time: Some(d.let_go), depth: d.depth })
            .or(ride.drop);
        match command {
            Command::LetGo { .. } | Command::Lying { .. } => ride.began = Some(at),
            Command::BroughtUp => ride.brought_up = Some(at),
            Command::Tide(entered) => ride.tide = entered.clone(),
            _ => {}
        }
        if let Some(recorder) = &self.recorder {
            recorder.ride(ride.clone());
        }
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
        self.heard_last = self.heard_last.max(at);
        let mut out = std::mem::take(&mut self.out);
        self.watch.handle_into(at, input, &mut out);
        for output in out.drain(..) {
            self.carry_out(output);
        }
        self.out = out;
    }

    fn carry_out(&mut self, output: Output) {
        let word = match output {
            Output::Alert(change) => {
                if let Some(recorder) = &self.recorder {
                    recorder.alert(&change);
                }
                Word::Alert(change)
            }
            Output::Sound { sound, .. } => Word::Sound(sound),
            Output::Refused { why, .. } => Word::Refused(why),
            Output::RideBegan { .. } => return,
            Output::RideEnded { at, why, kept } => {
                self.note_end(at);
                Word::Ended(why, kept)
            }
        };
        // Nobody listens any more: the watch goes on all the same.
        let _ = self.words.send(word);
    }

    /// The ride is over, whether the crew said so or not.
    fn note_end(&mut self, at: WatchTime) {
        let Some(ride) = &mut self.ride else { return };
        ride.ended = Some(at);
        if let Some(recorder) = &self.recorder {
            recorder.ride(ride.clone());
        }
    }

    /// Once a second: whether the ride is being written; after the ride's end, whether it may be closed.
    fn look_after_disk(&mut self, now: WatchTime) {
        let Some(recorder) = &self.recorder else { return };
        let failed = recorder.health().err();
        if failed != self.disk_failed {
            self.disk_failed = failed.clone();
            self.event(now, Event::Device(Device::Disk { failed }));
        }
        if self.watch.stage() == Stage::NotSet {
            self.close_ride();
        }
    }

    fn close_ride(&mut self) {
        if let Some(recorder) = self.recorder.take()
            && let Err(why) = recorder.flush(LAST_WORDS)
        {
            tracing::error!(why, "the end of the ride could not be written");
        }
        self.ride = None;
        self.disk_failed = None;
    }

    fn publish(&self) {
        if self.snapshots.receiver_count() > 0 {
            self.snapshots.send_replace(Arc::new(self.watch.snapshot()));
        }
    }

    fn finish(mut self) {
        if let Some(recorder) = self.recorder.take() {
            let _ = recorder.flush(LAST_WORDS);
        }
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

/// A later one of these makes the earlier void: a reconnaissance begins or ends, a length is told.
fn same_act(one: &Command, other: &Command) -> bool {
    let kind = |command: &Command| matches!(command, Command::VeerTo { .. });
    kind(one) == kind(other)
}

fn same_device(event: &Event, device: &Device) -> bool {
    matches!(event, Event::Device(other) if std::mem::discriminant(other) == std::mem::discriminant(device))
}
