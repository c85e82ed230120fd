//! A screen joined to a watch that runs elsewhere: a replica hears what it hears, and is shown.
//!
//! The screen is a look-out of its own: when the link or the watch's heartbeat fails for ten seconds, a thread outside
//! all of this says so aloud, as the watch's own watchdog would. Meanwhile what was known last is shown, dimmed, and
//! the link is made anew. Nothing that happens here ends the watch.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::Context as _;
use jiff::Timestamp;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::time::timeout;

use super::door::find;
use super::door::frame::{Asked, Change, Told, Words};
use super::door::link::{Link, LinkError, Way};
use super::door::replica::Replica;
use super::keeper::Order;
use super::live::console::Console;
use super::live::{sound_until_over, to_its_end};
use super::log;
use super::page::code::{ELSEWHERE, Shown};
use super::places;
use super::said::Said;
use super::signals::Signals;
use super::sound::{SoundDesk, SoundReport};
use super::stderr::Diverted;
use super::terminal::{self, Gallery};
use super::watchdog::{Alarm, Pulse, Watchdog};
use crate::report::zone::Zone;
use crate::tui::app::App;
use crate::tui::options::Options;
use crate::watch::input::{Command, Kept};
use crate::watch::output::Output;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};
use crate::watch::words::capital;

/// A lost link is made anew after this.
const AGAIN_AFTER: Duration = Duration::from_secs(2);
/// A link over which nothing comes for so long is made anew: the watch beats each second.
const DEAD_AFTER: Duration = Duration::from_secs(15);
/// How long a terminal may take to be given back when a signal ends the program.
const GIVE_BACK_WITHIN: Duration = Duration::from_secs(2);

/// How a watch is joined.
pub struct Join {
    /// Where it is reached.
    pub way: Way,
    /// What it is called: "the watch on nav".
    pub station: String,
    /// The screen's options.
    pub screen: Options,
    /// Whether alert sounds are played beside those of the watch: where it runs on another machine.
    pub sounds_along: bool,
    /// Whether the sound card is used when the watch falls silent; the bell rings in any case.
    pub sound: bool,
    /// The program's own log.
    pub log_file: Option<PathBuf>,
    /// The zone of times in words.
    pub zone: Zone,
    /// How the program ends when it breaks.
    pub broken: fn() -> !,
}

/// Shows the watch until the crew leaves the screen.
///
/// # Errors
/// In words, why it cannot be joined.
pub fn run(join: Join) -> anyhow::Result<()> {
    to_its_end(join.broken, keep_company(join))
}

async fn keep_company(join: Join) -> anyhow::Result<()> {
    let cannot = || format!("{} cannot be joined.", capital(&join.station));
    let mut link = Link::make(&join.way).await.with_context(cannot)?;
    let (ours, theirs) = (env!("CARGO_PKG_VERSION"), link.keeps().version.clone());
    anyhow::ensure!(
        ours == theirs,
        "{} is kept by version {theirs} of the program, and this is {ours}: they might judge differently. Use the same on \
         both.",
        capital(&join.station)
    );
    // Nothing is shown before all of it is known: an empty screen would say that no anchor is down.
    let mut replica = Replica::default();
    hear_all(&mut link, &mut replica).await.with_context(cannot)?;
    let mut signals = Signals::catch();
    let console = Console::start(false).context("The operating system gives no thread.")?;
    let log = join.log_file.as_deref().and_then(|path| log::start(path).ok());
    let diverted = log.as_ref().and_then(|log| Diverted::into(log).ok());
    let (notices, notices_in) = mpsc::unbounded_channel();
    let (orders, orders_in) = mpsc::unbounded_channel();
    let (snapshots_in, snapshots) = watch::channel(Arc::new(replica.snapshot()));
    let (pulse, sounding) = (Pulse::default(), Arc::new(AtomicBool::new(false)));
    let silent = Silent {
        station: join.station.clone(),
        zone: join.zone.clone(),
        notices: notices.clone(),
        console: console.clone(),
        sound: join.sound,
        sounding: Arc::clone(&sounding),
    };
    pulse.beat();
    let watchdog = Watchdog::start(pulse.clone(), silent).context("The operating system gives no thread.")?;
    let desk = (join.sound && join.sounds_along).then(|| start_desk(&notices, &console)).flatten();
    let joined = Joined {
        way: without_questions(join.way),
        rides: link.keeps().rides.clone(),
        station: join.station,
        replica,
        snapshots: snapshots_in,
        notices,
        orders: orders_in,
        pulse,
        sounding: Arc::clone(&sounding),
        desk,
        number: 0,
        kept: None,
        zone: join.zone.clone(),
        out: Vec::new(),
    };
    let following = tokio::spawn(joined.follow(link));
    let gallery = Gallery { snapshots, notices: notices_in, orders, phone: Shown::Not(ELSEWHERE.to_owned()) };
    let shown = show(App::new(join.screen), gallery, &mut signals).await;
    sounding.store(false, Ordering::Relaxed);
    drop(watchdog);
    following.abort();
    drop(diverted);
    console.finish();
    shown
}

/// Shows the screen until it is left, its terminal goes, or a signal comes: the watch is elsewhere and goes on.
async fn show(app: App, gallery: Gallery, signals: &mut Signals) -> anyhow::Result<()> {
    let (stop, stopped) = oneshot::channel();
    let runtime = tokio::runtime::Handle::current();
    let mut showing =
        tokio::task::spawn_blocking(move || runtime.block_on(terminal::show(app, gallery, stopped)));
    tokio::select! {
        left = &mut showing => drop(left.context("The screen broke.")??),
        _ = signals.next() => {
            let _ = stop.send(());
            let _ = timeout(GIVE_BACK_WITHIN, showing).await;
        }
    }
    Ok(())
}

/// Hears all that there is so far.
async fn hear_all(link: &mut Link, replica: &mut Replica) -> Result<(), LinkError> {
    link.ask(&Asked::Follow { from: replica.place() }).await?;
    while !replica.is_up() {
        let told = timeout(DEAD_AFTER, link.told()).await.map_err(|_| LinkError::Silent(DEAD_AFTER))?;
        let (told, whole) = told?;
        replica.take(told, whole, &mut Vec::new())?;
    }
    Ok(())
}

/// Under a screen nobody can be asked for a passphrase.
pub(super) fn without_questions(way: Way) -> Way {
    match way {
        Way::Ssh { host, .. } => Way::Ssh { host, may_ask: false },
        here @ Way::Socket(_) => here,
    }
}

fn start_desk(notices: &mpsc::UnboundedSender<Said>, console: &Console) -> Option<SoundDesk> {
    let (notices, bell) = (notices.clone(), console.clone());
    let report = move |report: SoundReport| match report {
        SoundReport::Failed { why } => {
            let words = format!("No sound card plays here ({why}): the terminal's bell stands in.");
            drop(notices.send(Said::Notice(words)));
        }
        SoundReport::Ring(_) => bell.ring(),
        SoundReport::Loudspeaker { gone: Some(name) } => {
            let words = format!("The loudspeaker \"{name}\" is gone: the default one plays instead.");
            drop(notices.send(Said::Notice(words)));
        }
        SoundReport::Works | SoundReport::Rehearsed { .. } | SoundReport::Loudspeaker { gone: None } => {}
    };
    SoundDesk::start(report).ok()
}

/// A joined screen's side of the link.
struct Joined {
    way: Way,
    /// Folder of its rides: on this machine it may come again as another process.
    rides: String,
    station: String,
    replica: Replica,
    snapshots: watch::Sender<Arc<Snapshot>>,
    notices: mpsc::UnboundedSender<Said>,
    orders: mpsc::UnboundedReceiver<Order>,
    pulse: Pulse,
    sounding: Arc<AtomicBool>,
    desk: Option<SoundDesk>,
    number: u32,
    /// The machine that keeps the watch, where it is not the one that began it, as was said.
    kept: Option<(WatchTime, Kept)>,
    zone: Zone,
    out: Vec<Output>,
}

impl Joined {
    /// Follows the watch, and makes the link anew whenever it is lost.
    async fn follow(mut self, first: Link) {
        let mut link = Some(first);
        self.sound(true);
        loop {
            if let Some(mut link) = link.take() {
                let why = self.hear(&mut link).await;
                self.replica.falls_behind();
                self.say(format!("The link to {} is lost. {why} It is made anew by itself.", self.station));
            }
            tokio::select! {
                order = self.orders.recv() => match order {
                    Some(order) => self.unheard(&order),
                    None => return,
                },
                () = tokio::time::sleep(AGAIN_AFTER) => link = self.again().await,
            }
        }
    }

    /// Makes the link anew, and goes on from where this has come to.
    async fn again(&mut self) -> Option<Link> {
        let mut link = match Link::make(&self.way).await {
            Ok(link) => link,
            Err(_) => self.another_process().await?,
        };
        link.ask(&Asked::Follow { from: self.replica.place() }).await.ok()?;
        Some(link)
    }

    /// A watch of this machine that was started anew and has taken the ride up.
    async fn another_process(&mut self) -> Option<Link> {
        let Way::Socket(_) = self.way else { return None };
        let (found, _) = find::running(places::doors()).await;
        let found = found.into_iter().find(|found| found.keeps.rides == self.rides)?;
        self.way = Way::Socket(found.path);
        Link::make(&self.way).await.ok()
    }

    async fn hear(&mut self, link: &mut Link) -> LinkError {
        loop {
            let done = tokio::select! {
                told = timeout(DEAD_AFTER, link.told()) => match told {
                    Ok(Ok((told, whole))) => self.take(told, whole, link),
                    Ok(Err(why)) => Err(why),
                    Err(_) => Err(LinkError::Silent(DEAD_AFTER)),
                },
                Some(order) = self.orders.recv() => self.order(order, link).await,
            };
            if let Err(why) = done {
                return why;
            }
        }
    }

    /// Takes a message and all that came with it, and shows what is so then.
    fn take(&mut self, told: Told, whole: u64, link: &mut Link) -> Result<(), LinkError> {
        let mut next = Some((told, whole));
        let was_up = self.replica.is_up();
        while let Some((told, whole)) = next {
            self.message(told, whole)?;
            next = link.told_already()?;
        }
        if self.replica.is_up() {
            self.sound(!was_up);
            let snapshot = self.replica.snapshot();
            if snapshot.kept != self.kept {
                self.kept.clone_from(&snapshot.kept);
                self.say_who_keeps();
            }
            self.snapshots.send_replace(Arc::new(snapshot));
        }
        Ok(())
    }

    fn message(&mut self, told: Told, whole: u64) -> Result<(), LinkError> {
        match told {
            Told::Beat if self.replica.is_up() => self.pulse.beat(),
            Told::Words(Words::Notice(words)) => self.say(words),
            Told::Words(Words::Caption(words)) => drop(self.notices.send(Said::Caption(words))),
            Told::Answer(answer) => {
                if let Some(refused) = answer.refused {
                    if let Some(desk) = self.desk.as_ref().filter(|_| refused.is_heard) {
                        desk.refuse();
                    }
                    self.say(refused.why);
                }
            }
            other => {
                let differed = self.replica.differs();
                self.replica.take(other, whole, &mut self.out)?;
                if self.replica.differs() && !differed {
                    self.say(format!(
                        "This screen judges otherwise than {}: look at that one. Is the program the same on both?",
                        self.station
                    ));
                }
            }
        }
        Ok(())
    }

    /// Plays what should be heard; all of it anew after a link was made.
    fn sound(&mut self, anew: bool) {
        for output in self.out.drain(..) {
            match (&self.desk, output) {
                (Some(desk), Output::Sound { sound, .. }) => desk.follow(sound),
                (Some(desk), Output::Rehearsal { sounds: true, .. }) => desk.rehearse(),
                (Some(desk), Output::Rehearsal { sounds: false, .. }) => desk.end_rehearsal(),
                _ => {}
            }
        }
        if let Some(desk) = self.desk.as_ref().filter(|_| anew) {
            desk.follow(self.replica.watch().sound());
        }
    }

    /// Who keeps the watch, and since when, above the keys.
    fn say_who_keeps(&self) {
        let Some((since, kept)) = &self.kept else { return };
        let since = self.zone.format(*since, "%H:%M");
        let words =
            format!("JOINED: {} keeps this watch since {since}. It goes on when you leave (q).", kept.by);
        let _ = self.notices.send(Said::Caption(words));
    }

    async fn order(&mut self, order: Order, link: &mut Link) -> Result<(), LinkError> {
        if order == Order::ChangePlaces {
            let change = if link.keeps().stands_by { Change::Take } else { Change::HandOver };
            self.number = self.number.wrapping_add(1);
            return link.ask(&Asked::Change { number: self.number, change }).await;
        }
        let Order::Crew(command) = order else { return Ok(()) };
        if !self.pulse.is_judging() {
            self.hush(&command);
        }
        self.number = self.number.wrapping_add(1);
        link.ask(&Asked::Act { number: self.number, command: Box::new(command) }).await
    }

    /// What the crew wants while there is no link.
    fn unheard(&mut self, order: &Order) {
        let Order::Crew(command) = order else { return };
        if !self.hush(command) {
            self.say(format!("Not done: there is no link to {}.", self.station));
        }
    }

    /// The alarm that the watch is silent is this screen's own: it is answered here.
    fn hush(&self, command: &Command) -> bool {
        let answers = matches!(command, Command::Silence | Command::Acknowledge { .. });
        let sounded = answers && self.sounding.swap(false, Ordering::Relaxed);
        if sounded {
            self.say(format!("The sound is off here. {} is still silent: look out.", capital(&self.station)));
        }
        sounded
    }

    fn say(&self, words: String) {
        // A screen that is gone hears nothing.
        let _ = self.notices.send(Said::Notice(words));
    }
}

/// The alarm that a joined watch is silent.
struct Silent {
    station: String,
    zone: Zone,
    notices: mpsc::UnboundedSender<Said>,
    console: Console,
    sound: bool,
    sounding: Arc<AtomicBool>,
}

impl Alarm for Silent {
    fn raise(&mut self, silent: Duration) {
        let since = now() - Span(i64::try_from(silent.as_millis()).unwrap_or(0));
        let words = format!(
            "{} has been silent since {}. What is shown is from then. Look out by eye, and look at that machine; s ends the \
             sound here.",
            capital(&self.station),
            self.zone.format(since, "%H:%M:%S")
        );
        tracing::error!("{words}");
        sound_until_over(&self.console, self.sound, &self.sounding);
        let _ = self.notices.send(Said::Unwatched(Some(words)));
    }

    fn over(&mut self, silent: Duration) {
        self.sounding.store(false, Ordering::Relaxed);
        let words = format!("{} is heard again, after {} s.", capital(&self.station), silent.as_secs());
        let _ = self.notices.send(Said::Unwatched(None));
        let _ = self.notices.send(Said::Notice(words));
    }
}

fn now() -> WatchTime {
    WatchTime(Timestamp::now().as_millisecond())
}
