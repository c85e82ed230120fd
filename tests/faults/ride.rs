//! One ride: a boat, a crew, feeds, clocks and a disk, and what fails of them, all from one seed.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use jiff::Timestamp;
use nightrode::edge::clock::{Clock, TimeSource};
use nightrode::edge::feed::Arrival;
use nightrode::edge::folder::{FolderError, Hand, JOURNAL, NIGHT, RIDE, Shelf, Turned};
use nightrode::edge::keeper::{Keeper, Lookout, Order, Setup, TAKE_UP_WITHIN, Word};
use nightrode::edge::watchdog::Pulse;
use nightrode::watch::alert::{AlertKind, AlertState, Sound};
use nightrode::watch::boat::{Limits, Settings};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::input::{Command, DropMove, FeedId};
use nightrode::watch::nmea::checksum;
use nightrode::watch::snapshot::{Snapshot, Stage};
use nightrode::watch::units::{Metres, WatchTime};

use super::chance::Chance;
use super::disk::{Fault, SimDisk};
use super::senses::{self, Card, Ears};

/// 2026-06-03 20:00:00 UTC.
const START_MS: i64 = 1_780_516_800_000;
/// The same for the watch.
pub const START: WatchTime = WatchTime(START_MS);
/// She lies far outside when she is this far from her anchor.
const FAR_M: f64 = 900.0;
/// After a resume far outside sounds within this, in seconds.
const JUDGED_WITHIN: u32 = 15;
/// While the watch runs: the leave to be outside, the time that a leap of the position is doubted, and some.
const CALLED_WITHIN: u32 = 75;
/// No position: this long until it is reported, and some.
const MISSED_WITHIN: u32 = 30;

/// What was met with in all rides.
#[derive(Clone, Debug, Default)]
pub struct Sum {
    pub seconds: u64,
    pub kills: u64,
    pub amid_writes: u64,
    pub power_cuts: u64,
    pub damages: u64,
    pub damages_reported: u64,
    pub refusals: u64,
    pub far_outside_judged: u64,
    pub disk_faults: u64,
    pub clock_steps: u64,
    pub folders_gone: u64,
    pub sound_cards_changed: u64,
    pub screens_drawn: u64,
    pub folders_lost_for_good: u64,
}

impl Sum {
    pub fn add(&mut self, other: &Self) {
        self.seconds += other.seconds;
        self.kills += other.kills;
        self.amid_writes += other.amid_writes;
        self.power_cuts += other.power_cuts;
        self.damages += other.damages;
        self.damages_reported += other.damages_reported;
        self.refusals += other.refusals;
        self.far_outside_judged += other.far_outside_judged;
        self.disk_faults += other.disk_faults;
        self.clock_steps += other.clock_steps;
        self.folders_gone += other.folders_gone;
        self.sound_cards_changed += other.sound_cards_changed;
        self.screens_drawn += other.screens_drawn;
        self.folders_lost_for_good += other.folders_lost_for_good;
    }
}

/// The computer's clocks.
#[derive(Debug, Default)]
pub struct Hands {
    pub wall_ms: i64,
    running_ms: u64,
    asleep_ms: u64,
}

#[derive(Debug)]
struct SimTime(Arc<Mutex<Hands>>);

impl TimeSource for SimTime {
    fn wall_ms(&self) -> i64 {
        self.0.lock().expect("whole").wall_ms
    }
    fn running(&self) -> Duration {
        Duration::from_millis(self.0.lock().expect("whole").running_ms)
    }
    fn running_and_asleep(&self) -> Option<Duration> {
        let hands = self.0.lock().expect("whole");
        Some(Duration::from_millis(hands.running_ms + hands.asleep_ms))
    }
}

/// What must be the same after a resume.
#[derive(Clone, Debug, PartialEq)]
struct Facts {
    stage: Stage,
    drop: Option<Position>,
    veered: Option<Metres>,
    limits: Limits,
}

impl Facts {
    fn of(snapshot: &Snapshot) -> Self {
        Self {
            stage: snapshot.stage,
            drop: snapshot.drop.as_ref().map(|drop| drop.position),
            veered: snapshot.rode.veered,
            limits: snapshot.limits.clone(),
        }
    }
}

pub struct Program {
    pub keeper: Keeper,
    lookout: Lookout,
    clock: Clock,
    pub sound: Sound,
    pub notices: Vec<String>,
}

/// When a kill or a power cut comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moments {
    /// Between the writer's rounds.
    BetweenRounds,
    /// At any write, cut, forcing or name as well.
    Any,
}

/// Everything about one ride.
pub struct World {
    chance: Chance,
    moments: Moments,
    pub disk: SimDisk,
    turned: Turned,
    pub hands: Arc<Mutex<Hands>>,
    /// True time.
    utc_ms: i64,
    pub program: Option<Program>,
    /// Where the antenna is, metres about the place.
    pub boat: Local,
    pub has_position: bool,
    /// What the crew hears.
    ears: Ears,
    /// The writer does not get to the disk.
    is_held: bool,
    /// What is certainly on the disk.
    kept: Option<Facts>,
    /// What was so at any time since: a power cut may leave any of it.
    since: Vec<Facts>,
    /// Somebody removed the folder, and it is not certain that another is on the disk.
    is_folder_gone: bool,
    /// One of the two places of what is essential went while the disk refused to write it again, and that was reported.
    is_copy_gone: bool,
    /// Then the other was damaged as well: where the anchor lies is nowhere, and the alert says so.
    is_drop_lost: bool,
    /// The watch reports that nothing is written.
    is_loss_reported: bool,
    /// The files may be damaged: the disk failed, the power went, somebody was at the folder.
    may_be_damaged: bool,
    /// Each second is printed.
    is_told: bool,
    /// Alarm must stand by then.
    far_for: u32,
    lost_for: u32,
    fresh_for: u32,
    sum: Sum,
}

fn rides() -> &'static Path {
    Path::new("/rides")
}

fn plane() -> Plane {
    Plane::new(Position::new(52.0, -20.0).expect("on the earth"))
}

/// Plays the ride of a seed.
///
/// # Errors
/// In words, what should not be.
pub fn run(seed: u64, moments: Moments) -> Result<Sum, String> {
    let mut world = World { moments, ..World::new(seed) };
    world.start()?;
    world.pass(25)?;
    world.act(Command::LetGo {
        veered: Some(Metres(30.0)),
        depth: Some(Metres(5.0)),
        place: "Hollow Ness".into(),
    })?;
    world.pass(20)?;
    world.act(Command::BroughtUp)?;
    world.pass(5)?;
    for _ in 0..5 {
        world.something_happens()?;
    }
    world.goes_off()?;
    Ok(world.sum)
}

impl World {
    pub fn new(seed: u64) -> Self {
        let hands = Hands { wall_ms: START_MS, running_ms: 5_000, asleep_ms: 0 };
        let disk = SimDisk::new();
        let mut chance = Chance::of(seed);
        disk.set_short_reads(chance.once_in(3));
        Self {
            chance,
            moments: Moments::BetweenRounds,
            disk,
            turned: Turned::default(),
            hands: Arc::new(Mutex::new(hands)),
            utc_ms: START_MS,
            program: None,
            boat: Local::new(0.0, -20.0),
            has_position: true,
            ears: Ears::default(),
            is_held: false,
            kept: None,
            since: Vec::new(),
            is_folder_gone: false,
            is_copy_gone: false,
            is_drop_lost: false,
            is_loss_reported: false,
            may_be_damaged: false,
            is_told: super::number("NIGHTRODE_SEED").is_some(),
            far_for: 0,
            lost_for: 0,
            fresh_for: 0,
            sum: Sum::default(),
        }
    }

    fn shelf(&self) -> Shelf {
        let hand = Hand::Turned(self.turned.clone());
        Shelf { folder: rides().to_owned(), disk: Arc::new(self.disk.clone()), hand }
    }

    /// A ride of a boat that is brought up to 30 m of rode.
    pub fn anchored(seed: u64) -> Result<Self, String> {
        let mut world = Self::new(seed);
        world.start()?;
        world.pass(25)?;
        let place = "Hollow Ness".into();
        world.act(Command::LetGo { veered: Some(Metres(30.0)), depth: Some(Metres(5.0)), place })?;
        world.pass(20)?;
        world.act(Command::BroughtUp)?;
        world.pass(5)?;
        Ok(world)
    }

    /// Everything there is to see.
    pub fn snapshot(&mut self) -> Snapshot {
        self.program().expect("it runs").keeper.snapshot()
    }

    /// Whether an alert stands.
    pub fn stands(&mut self, kind: AlertKind) -> bool {
        self.snapshot().alerts.iter().any(|alert| alert.kind == kind)
    }

    /// The program is killed, and is away for so many seconds.
    pub fn kill_for(&mut self, seconds: u64) {
        self.disk.kill();
        self.turned.forget();
        self.program = None;
        self.tick_clocks(seconds * 1_000);
    }

    /// Starts the program, which takes the ride up if there is one. Whether it did.
    pub fn start(&mut self) -> Result<Option<PathBuf>, String> {
        let clock = Clock::on(Arc::new(SimTime(Arc::clone(&self.hands))));
        let setup = Setup {
            settings: Settings::default(),
            rides: Some(self.shelf()),
            clock: clock.clone(),
            speed: 1.0,
            pulse: Pulse::default(),
        };
        let (mut keeper, lookout) = Keeper::new(setup);
        let taken_up = keeper.take_up(TAKE_UP_WITHIN);
        keeper.feed_id("gps").ok_or("no feed")?;
        self.program = Some(Program { keeper, lookout, clock, sound: Sound::Quiet, notices: Vec::new() });
        self.ears = self.ears.started_anew();
        self.fresh_for = 0;
        match taken_up {
            Ok(folder) => Ok(folder),
            Err(FolderError::CannotTakeUp { .. }) => Err("refused".into()),
            Err(error) => Err(format!("not taken up: {error}")),
        }
    }

    pub fn program(&mut self) -> Result<&mut Program, String> {
        self.program.as_mut().ok_or_else(|| "no program".into())
    }

    /// Seconds pass, in which she lies where she lies.
    pub fn pass(&mut self, seconds: u32) -> Result<(), String> {
        for _ in 0..seconds {
            self.second()?;
        }
        Ok(())
    }

    fn second(&mut self) -> Result<(), String> {
        self.sum.seconds += 1;
        self.tick_clocks(1_000);
        let line = self.has_position.then(|| self.rmc());
        let before = self.program()?.clock.now();
        let program = self.program()?;
        if let Some(bytes) = line {
            let at = program.clock.now();
            program.keeper.arrival(Arrival::Line { feed: FeedId(0), at, bytes });
        }
        program.keeper.run_due();
        // What the screen is given, each second.
        let snapshot = program.lookout.snapshots.borrow_and_update().clone();
        if snapshot.at.0 < before.0 - 1_000 {
            return Err(format!("time stands still: {} where the clock says {}", snapshot.at.0, before.0));
        }
        self.hear();
        self.turn(&snapshot);
        if self.is_told {
            println!("{} {:?} {}", snapshot.at.0, self.boat, words(&snapshot));
        }
        self.check(&snapshot)
    }

    pub fn tick_clocks(&mut self, ms: u64) {
        let mut hands = self.hands.lock().expect("whole");
        hands.running_ms += ms;
        hands.wall_ms += ms as i64;
        self.utc_ms += ms as i64;
        self.disk.pass(Duration::from_millis(ms));
    }

    fn rmc(&mut self) -> Vec<u8> {
        let noise = Local::new(self.chance.share() - 0.5, self.chance.share() - 0.5);
        let place = plane().to_position(self.boat + noise);
        let time = Timestamp::from_millisecond(self.utc_ms).expect("in the calendar");
        let minutes = |degrees: f64, width: usize| {
            // In whole hundred-thousandths of a minute, so that 59.999999 does not become 60.
            let units = (degrees.abs() * 6_000_000.0).round() as u64;
            let (whole, rest) = (units / 6_000_000, units % 6_000_000);
            format!("{whole:0width$}{:02}.{:05}", rest / 100_000, rest % 100_000)
        };
        let body = format!(
            "GPRMC,{},A,{},N,{},W,0.2,180.0,{},,,A",
            time.strftime("%H%M%S.00"),
            minutes(place.lat_deg(), 2),
            minutes(place.lon_deg(), 3),
            time.strftime("%d%m%y")
        );
        format!("${body}*{:02X}", checksum::xor(body.as_bytes())).into_bytes()
    }

    pub fn hear(&mut self) {
        let now = Duration::from_millis(self.hands.lock().expect("whole").running_ms);
        let Some(program) = &mut self.program else { return };
        let mut devices = Vec::new();
        while let Ok(word) = program.lookout.words.try_recv() {
            match word {
                Word::Sound(sound) => {
                    program.sound = sound;
                    devices.extend(self.ears.follow(now, sound));
                }
                Word::Notice(words) => program.notices.push(words),
                _ => {}
            }
        }
        devices.extend(self.ears.run(now));
        for device in devices {
            program.keeper.order(Order::Device(device));
        }
    }

    /// The writer gets its turn, unless it is held up.
    fn turn(&mut self, snapshot: &Snapshot) {
        let facts = Facts::of(snapshot);
        if self.since.last() != Some(&facts) {
            self.since.push(facts.clone());
        }
        if !self.disk.is_program_dead() {
            self.is_loss_reported = snapshot.alerts.iter().any(|alert| alert.kind == AlertKind::DiskLow);
        }
        if self.is_held {
            return;
        }
        self.turned.turn();
        if self.disk.is_program_dead() {
            return;
        }
        if self.disk.fault() == Fault::None && !self.is_loss_reported {
            self.is_folder_gone &= self.newest_folder().is_none();
            self.is_copy_gone = false;
            self.kept = Some(facts.clone());
            self.since = vec![facts];
        }
    }

    /// Nothing may be calm that is not judged.
    fn check(&mut self, snapshot: &Snapshot) -> Result<(), String> {
        let anchored = matches!(snapshot.stage, Stage::Setting | Stage::BroughtUp);
        self.fresh_for += 1;
        let far = anchored && self.has_position && self.boat.length_m() >= FAR_M;
        self.far_for = if far { self.far_for + 1 } else { 0 };
        self.lost_for = if anchored && !self.has_position { self.lost_for + 1 } else { 0 };
        let stands = |kinds: &[AlertKind]| snapshot.alerts.iter().any(|alert| kinds.contains(&alert.kind));
        self.is_drop_lost &= snapshot.drop.is_none();
        let called = stands(&[AlertKind::Outside, AlertKind::Drag])
            || self.is_drop_lost && stands(&[AlertKind::RideDamaged, AlertKind::Unwatched]);
        let bound = if self.far_for == self.fresh_for { JUDGED_WITHIN } else { CALLED_WITHIN };
        if self.far_for > bound && !called {
            return Err(format!("{} s far outside without a call: {}", self.far_for, words(snapshot)));
        }
        if self.lost_for > MISSED_WITHIN && !stands(&[AlertKind::FixLost]) {
            return Err(format!(
                "{} s without a position and nothing said: {}",
                self.lost_for,
                words(snapshot)
            ));
        }
        let waits = snapshot.alerts.iter().any(|a| {
            a.state == AlertState::Unacknowledged && a.priority == nightrode::watch::alert::Priority::Alarm
        });
        let sounds = self.program.as_ref().is_some_and(|program| program.sound == Sound::Alarm);
        if waits && !sounds {
            return Err(format!("an alarm stands and nothing sounds: {}", words(snapshot)));
        }
        let now = Duration::from_millis(self.hands.lock().expect("whole").running_ms);
        self.ears.check(now)
    }

    /// The crew does something, and sees that it is accepted.
    pub fn act(&mut self, command: Command) -> Result<(), String> {
        let program = self.program()?;
        program.keeper.order(Order::Crew(command));
        let snapshot = program.keeper.snapshot();
        self.hear();
        self.turn(&snapshot);
        Ok(())
    }

    fn something_happens(&mut self) -> Result<(), String> {
        type Happens = fn(&mut World) -> Result<(), String>;
        const HAPPENINGS: [(&str, Happens); 13] = [
            ("the crew does something", World::crew_does_something),
            ("the crew does something", World::crew_does_something),
            ("a feed is lost", World::feed_is_lost),
            ("the disk fails", World::disk_fails),
            ("the clock is set", World::clock_is_set),
            ("the lid is closed", World::lid_is_closed),
            ("a feed floods", World::feed_floods),
            ("the folder goes", World::folder_goes),
            ("it is killed", World::is_killed),
            ("it is killed", World::is_killed),
            ("the power is lost", World::loses_power),
            ("files are damaged", World::files_are_damaged),
            ("the sound card changes", World::sound_fails),
        ];
        let (what, happen) = HAPPENINGS[self.chance.below(HAPPENINGS.len() as u64) as usize];
        if self.is_told {
            println!("{what}");
        }
        happen(self)?;
        let seconds = 3 + self.chance.below(12) as u32;
        self.pass(seconds)?;
        self.sum.screens_drawn += 1;
        let snapshot = self.snapshot();
        senses::look(&snapshot, &mut self.chance)
    }

    fn crew_does_something(&mut self) -> Result<(), String> {
        let limits =
            Limits { circle: Some(Metres(60.0 + self.chance.below(30) as f64)), ..Limits::default() };
        let veered = Metres(30.0 + self.chance.below(20) as f64);
        let by = self.chance.share() * 4.0;
        let command = match self.chance.below(6) {
            0 => Command::Limits(limits),
            1 => Command::Veered { length: veered },
            2 => Command::MoveDrop(DropMove::Position { position: plane().to_position(Local::new(by, by)) }),
            3 => Command::Acknowledge { kind: None },
            4 => Command::Note { text: "looked about".into() },
            _ => Command::Silence,
        };
        self.act(command)
    }

    fn feed_is_lost(&mut self) -> Result<(), String> {
        self.has_position = false;
        let seconds = 5 + self.chance.below(50) as u32;
        self.pass(seconds)?;
        self.has_position = true;
        Ok(())
    }

    fn disk_fails(&mut self) -> Result<(), String> {
        self.sum.disk_faults += 1;
        self.may_be_damaged = true;
        let fault = [Fault::Full, Fault::Refuses, Fault::ForceFails][self.chance.below(3) as usize];
        self.disk.set_fault(fault);
        self.is_held = self.chance.once_in(4);
        if self.chance.once_in(2) {
            self.crew_does_something()?;
        }
        let seconds = 2 + self.chance.below(10) as u32;
        self.pass(seconds)?;
        self.is_held = false;
        if !self.chance.once_in(4) {
            self.disk.set_fault(Fault::None);
            self.pass(6)?;
        }
        Ok(())
    }

    fn clock_is_set(&mut self) -> Result<(), String> {
        self.sum.clock_steps += 1;
        let by_ms = [-3_600_000, -1_200_000, 3_600_000, 90_000, -START_MS][self.chance.below(5) as usize];
        self.hands.lock().expect("whole").wall_ms += by_ms;
        self.pass(3)
    }

    pub fn lid_is_closed(&mut self) -> Result<(), String> {
        let ms = 10_000 + self.chance.below(3_600_000);
        {
            let mut hands = self.hands.lock().expect("whole");
            hands.asleep_ms += ms;
            hands.wall_ms += ms as i64;
        }
        self.utc_ms += ms as i64;
        self.pass(2)?;
        self.expect(AlertKind::Gap, "after a closed lid")
    }

    fn feed_floods(&mut self) -> Result<(), String> {
        for _ in 0..200 {
            let length = self.chance.below(90) as usize;
            let bytes: Vec<u8> =
                (0..length).map(|_| self.chance.any() as u8).filter(|b| *b != b'\n').collect();
            let program = self.program()?;
            let at = program.clock.now();
            program.keeper.arrival(Arrival::Line { feed: FeedId(0), at, bytes });
        }
        Ok(())
    }

    fn sound_fails(&mut self) -> Result<(), String> {
        self.sum.sound_cards_changed += 1;
        let card = Card::of(&mut self.chance);
        self.ears.set_card(card);
        // What hangs is found by the next signal, or when the card is next tried.
        let seconds = if self.chance.once_in(4) { 330 } else { 5 };
        self.pass(seconds)?;
        if seconds > 300 && card != Card::Works {
            self.expect(AlertKind::SoundFailed, "a dead sound card")?;
        }
        Ok(())
    }

    fn folder_goes(&mut self) -> Result<(), String> {
        self.sum.folders_gone += 1;
        self.may_be_damaged = true;
        let Some(folder) = self.newest_folder() else { return Ok(()) };
        match self.chance.below(5) {
            0 => {
                self.is_folder_gone = true;
                self.disk.remove_folder(&folder);
            }
            1 => self.disk.move_folder(&folder, &rides().join("aside")),
            2 => self.disk.remove(&folder.join(RIDE)),
            3 => self.disk.remove(&folder.join(JOURNAL)),
            _ => self.disk.overwrite(&folder.join(JOURNAL), Vec::new()),
        }
        // It is noticed, and made anew where the disk can be written.
        self.pass(8)?;
        self.is_copy_gone |= self.is_loss_reported;
        Ok(())
    }

    pub fn newest_folder(&self) -> Option<PathBuf> {
        self.disk
            .files()
            .into_iter()
            .filter(|file| file.ends_with(NIGHT))
            .filter_map(|f| f.parent().map(Path::to_owned))
            .max()
    }

    fn is_killed(&mut self) -> Result<(), String> {
        self.sum.kills += 1;
        self.dies_amid_writes()?;
        self.disk.kill();
        self.down()?;
        self.up("after a kill")
    }

    /// Its end comes while it writes, if this ride has that. What it did after is as if it had not been.
    fn dies_amid_writes(&mut self) -> Result<(), String> {
        if self.moments == Moments::BetweenRounds || self.chance.once_in(2) {
            return Ok(());
        }
        self.disk.kill_after(self.chance.below(12));
        if self.chance.once_in(2) {
            self.crew_does_something()?;
        }
        let seconds = self.chance.below(4) as u32;
        self.pass(seconds)?;
        self.sum.amid_writes += u64::from(self.disk.is_program_dead());
        Ok(())
    }

    fn loses_power(&mut self) -> Result<(), String> {
        self.sum.power_cuts += 1;
        self.may_be_damaged = true;
        self.dies_amid_writes()?;
        self.disk.cut_power(&mut self.chance);
        self.down()?;
        // A computer without a clock of its own.
        if self.chance.once_in(3) {
            self.hands.lock().expect("whole").wall_ms -= 1_200_000;
        }
        self.up("after a power cut")
    }

    fn files_are_damaged(&mut self) -> Result<(), String> {
        self.sum.damages += 1;
        self.may_be_damaged = true;
        self.disk.kill();
        self.down()?;
        let Some(folder) = self.newest_folder() else { return self.up("without a folder") };
        let path = folder.join(if self.chance.once_in(2) { JOURNAL } else { RIDE });
        let bytes = self.disk.read(&path);
        let damaged = super::damage::damage(bytes, &mut self.chance);
        match damaged {
            Some(bytes) => self.disk.overwrite(&path, bytes),
            None => self.disk.remove(&path),
        }
        self.up_again("after damage", true)
    }

    /// The program is gone, for a while.
    fn down(&mut self) -> Result<(), String> {
        self.turned.forget();
        self.program = None;
        let away = 1 + self.chance.below(600);
        self.tick_clocks(away * 1_000);
        Ok(())
    }

    fn up(&mut self, when: &str) -> Result<(), String> {
        self.up_again(when, false)
    }

    fn up_again(&mut self, when: &str, is_damaged: bool) -> Result<(), String> {
        let taken_up = match self.start() {
            Err(why) if is_damaged && why == "refused" => {
                // In words, and nothing is watched: the crew knows.
                self.sum.refusals += 1;
                return Ok(());
            }
            taken_up => taken_up?,
        };
        let Some(kept) = self.kept.clone().filter(|kept| kept.stage != Stage::NotSet) else { return Ok(()) };
        if taken_up.is_none() && (self.is_folder_gone || self.is_copy_gone) && self.is_loss_reported {
            // It was said at the time: her ride is nowhere.
            self.sum.folders_lost_for_good += 1;
            self.kept = None;
            return Ok(());
        }
        if taken_up.is_none() {
            return Err(format!("{when}: a plain start, though {kept:?}"));
        }
        self.tick_clocks(1_000);
        let program = self.program()?;
        program.keeper.run_due();
        let snapshot = program.keeper.snapshot();
        self.hear();
        let facts = Facts::of(&snapshot);
        let is_known = facts == kept || self.since.contains(&facts);
        let is_reported = snapshot.alerts.iter().any(|alert| alert.kind == AlertKind::RideDamaged);
        self.sum.damages_reported += u64::from(is_reported && is_damaged);
        self.is_drop_lost = self.is_copy_gone && is_reported && facts.drop.is_none();
        if is_reported && !self.may_be_damaged {
            return Err(format!("{when}: damage is reported where there is none: {}", words(&snapshot)));
        }
        if !is_known && !is_reported {
            return Err(format!("{when}: {facts:?} and not a word, where {kept:?} was accepted"));
        }
        self.kept = Some(facts.clone());
        self.since = vec![facts];
        self.pass(2)?;
        self.expect(AlertKind::Gap, when)
    }

    fn expect(&mut self, kind: AlertKind, when: &str) -> Result<(), String> {
        let snapshot = self.program()?.keeper.snapshot();
        let stands = snapshot.alerts.iter().any(|alert| alert.kind == kind);
        let anchored = snapshot.stage != Stage::NotSet;
        if anchored && !stands {
            return Err(format!("{when}: no {kind:?}: {}", words(&snapshot)));
        }
        Ok(())
    }

    /// In the end she is found far off, or goes there; it must be called.
    fn goes_off(&mut self) -> Result<(), String> {
        let anchored = Facts::of(&self.program()?.keeper.snapshot()).drop.is_some();
        if !anchored {
            return Ok(());
        }
        if self.chance.once_in(2) {
            self.disk.kill();
            self.down()?;
            // Nobody goes a mile in less.
            self.tick_clocks(300_000);
            self.boat = Local::new(1_600.0, 0.0);
            self.start()?;
            self.is_drop_lost = self.is_copy_gone;
            self.far_for = 0;
            self.pass(JUDGED_WITHIN + 5)?;
        } else {
            for _ in 0..150 {
                self.boat = self.boat + Local::new(9.0, 0.0);
                self.second()?;
            }
            self.pass(CALLED_WITHIN + 5)?;
        }
        self.sum.far_outside_judged += 1;
        Ok(())
    }
}

fn words(snapshot: &Snapshot) -> String {
    let mut words = format!("{:?} {:?};", snapshot.stage, snapshot.verdict);
    for alert in &snapshot.alerts {
        let _ = write!(words, " {} {:?}", alert.kind.name(), alert.state);
    }
    for alert in snapshot.alerts.iter().filter(|alert| alert.kind == AlertKind::RideDamaged) {
        let _ = write!(words, "; {}", alert.reason.what);
    }
    let _ = write!(words, "; position {:?}", snapshot.fix.quality);
    words
}
