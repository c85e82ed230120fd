//! Puts the parts together for a watch: feeds or a simulated night, the keeper, sound, and the screen or none.

pub(super) mod console;
mod doorway;
mod fault;
mod places;
mod tied;
mod unwatched;
mod worker;

use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use anyhow::Context as _;
use tokio::sync::{Notify, broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;

use self::console::Console;
use self::doorway::Shut;
pub use self::fault::alarm_on_panic;
use self::places::{Nearness, keep_place};
use self::tied::Tied;
use self::unwatched::Unwatched;
pub(super) use self::unwatched::sound_until_over;
pub(super) use self::worker::to_its_end;
use super::battery::BatteryWatch;
use super::book::Book;
use super::clock::{Clock, TimeSource};
use super::computer::ComputerWatch;
use super::door::frame::{Keeps, Words};
use super::door::link::Way;
use super::feed::{self, FeedSpec, FeedTask, Patience, ServerKeys, Source};
use super::folder::Shelf;
use super::keeper::{Inflow, Keeper, Lookout, Order, Setup, Simulated, Word};
use super::log;
use super::notify::{Addressees, Notifier};
use super::page::code::{NOT_SET, Shown};
use super::page::{self, Page};
use super::said::Said;
use super::signals::{Asked, Signals};
use super::sound::{SoundDesk, SoundReport};
use super::stderr::Diverted;
use super::terminal::{self, Gallery, Left};
use super::watchdog::{Pulse, Watchdog};
use crate::report::zone::Zone;
use crate::tui::app::App;
use crate::tui::options::Options;
use crate::watch::alert::{AlertChange, Sound};
use crate::watch::boat::Settings;
use crate::watch::input::{Device, Link};
use crate::watch::output::{EndedBy, Keepsake};
use crate::watch::snapshot::Snapshot;
use crate::watch::units::{Span, WatchTime};

/// How long a terminal may take to be given back when a signal ends the program: a held one never is.
const GIVE_BACK_WITHIN: Duration = Duration::from_secs(2);

/// A feed by name and source.
#[derive(Clone, Debug)]
pub struct NamedSource {
    /// What the crew calls it.
    pub name: String,
    /// Where its lines come from.
    pub source: Source,
}

/// What lines the watch hears.
pub enum Cast {
    /// Real feeds.
    Feeds(Vec<NamedSource>),
    /// A simulated night, so many times faster than it would last.
    Simulated {
        /// The night.
        night: Simulated,
        /// When it begins.
        start: WatchTime,
        /// Names of its feeds in the order of their numbers.
        feeds: Vec<String>,
        /// How many times faster.
        pace: Pace,
    },
}

/// How many times faster than it would last a simulated night passes, from so long after its start on.
#[derive(Clone, Debug, PartialEq)]
pub struct Pace(Vec<(Span, f64)>);

impl Pace {
    /// The same all night.
    #[must_use]
    pub fn steady(speed: f64) -> Self {
        Self(vec![(Span::ZERO, speed)])
    }

    /// Changing: the first is from the start on.
    #[must_use]
    pub fn changing(first: f64, then: &[(Span, f64)]) -> Self {
        Self(std::iter::once((Span::ZERO, first)).chain(then.iter().copied()).collect())
    }

    fn fastest(&self) -> f64 {
        self.0.iter().map(|(_, speed)| *speed).fold(1.0, f64::max)
    }

    /// How much of the night has passed after so long.
    fn passed(&self, real: Duration) -> Duration {
        let mut left_s = real.as_secs_f64();
        let mut passed_s = 0.0;
        for (i, (from, speed)) in self.0.iter().enumerate() {
            let until_s = self.0.get(i + 1).map_or(f64::INFINITY, |(next, _)| next.seconds());
            let whole_s = (until_s - from.seconds()) / speed;
            passed_s = from.seconds() + left_s.min(whole_s) * speed;
            if left_s <= whole_s {
                break;
            }
            left_s -= whole_s;
        }
        Duration::from_secs_f64(passed_s.max(0.0))
    }
}

/// How a watch is run.
pub struct Run {
    /// Boat, tackle, limits, feeds.
    pub settings: Settings,
    /// Where rides are kept; `None`: nowhere.
    pub rides: Option<PathBuf>,
    /// How long ago the last word of an unfinished ride may be that is taken up; `None`: none is.
    pub take_up: Option<Span>,
    /// What is heard.
    pub cast: Cast,
    /// Whether alert sounds are played.
    pub sound: bool,
    /// Who else hears of alerts.
    pub addressees: Addressees,
    /// What Signal K servers are known by, and what they know this program by.
    pub servers: ServerKeys,
    /// The screen's options; `None`: no screen.
    pub screen: Option<Options>,
    /// The program's own log, for what libraries print while the screen is up.
    pub log_file: Option<PathBuf>,
    /// The zone in which lines without a screen give times.
    pub zone: Zone,
    /// Folder of the door by which other screens join; `None`: there is none.
    pub door: Option<PathBuf>,
    /// The page for phones; `None`: there is none.
    pub page: Option<page::Setup>,
    /// The watch of another machine that this one stands by at first.
    pub stands_by: Option<StandsBy>,
    /// How the program ends when it breaks.
    pub broken: fn() -> !,
}

/// A watch of another machine that this one stands by.
pub struct StandsBy {
    /// Where it is reached.
    pub way: Way,
    /// What it is called: "the watch on nav".
    pub station: String,
}

/// Keeps the watch until the crew ends it, or, without a screen, until a simulated night is over.
///
/// # Errors
/// In words, what could not be started.
pub fn run(run: Run) -> anyhow::Result<()> {
    to_its_end(run.broken, keep(run))
}

async fn keep(run: Run) -> anyhow::Result<()> {
    // From the first moment on: a signal that comes before the screen is up must not leave it up.
    let mut signals = Signals::catch();
    let console = Console::start(run.screen.is_none()).context("The operating system gives no thread.")?;
    let log = start_log(run.log_file.as_deref());
    let (clock, speed) = clock_for(&run.cast);
    let book = run.rides.as_deref().map(Book::beside);
    let pulse = Pulse::default();
    let first = match &run.stands_by {
        Some(other) => Some(tied::link_to(other, &run.cast).await?),
        None => None,
    };
    let keeps = who_keeps(&run);
    let rides_folder = run.rides.clone();
    let rides = run.rides.map(Shelf::at);
    let settings = run.settings.clone();
    let is_real = matches!(run.cast, Cast::Feeds(_));
    let setup = Setup { settings: run.settings, rides, clock: clock.clone(), speed, pulse: pulse.clone() };
    let (mut keeper, lookout) = Keeper::new(setup);
    let shut = Shut::beside(&mut keeper, &settings);
    let (words_through_door, orders_from_outside) = (shut.words(), shut.orders());
    let tied = is_real.then(|| Tied::beside(&mut keeper, run.stands_by, &keeps, &run.zone));
    let taken_up = run.take_up.map(|within| keeper.take_up(within)).transpose()?.flatten();
    // Whatever went wrong so far has been said on it; from here on libraries alone would write there.
    let diverted = log.as_ref().and_then(|log| Diverted::into(log).ok());
    let (orders, orders_in) = mpsc::unbounded_channel();
    let (notices, notices_in) = mpsc::unbounded_channel();
    let news = match &run.cast {
        Cast::Feeds(_) => SoundNews::ToKeeper(orders.clone()),
        Cast::Simulated { .. } => SoundNews::ToScreen(notices.clone(), orders.clone()),
    };
    // A simulated night is not kept by this computer's battery, and no watch ends because it cannot be read.
    let computer =
        is_real.then(|| (start_battery(orders.clone()), start_computer(rides_folder, orders.clone())));
    let to_screen = notices.clone();
    let servers = run.servers.telling(move |words| drop(to_screen.send(Said::Notice(words))));
    let desk = run.sound.then(|| start_desk(news, &orders, &console)).flatten();
    let (inflow, feeds) = start_inflow(run.cast, clock, &mut keeper, servers.clone())?;
    let Lookout { snapshots, words } = lookout;
    let over = Arc::new(Notify::new());
    let notifier = Notifier::start(run.addressees, &servers, &snapshots, &notices, &orders, &pulse);
    let (sounding, hook) = (Arc::default(), notifier.hook());
    let unwatched =
        Unwatched { console: console.clone(), notices: notices.clone(), hook, sound: run.sound, sounding };
    let (door_pulse, page_pulse) = (pulse.clone(), pulse.clone());
    let awake = is_real.then(|| keep_awake(&snapshots, orders.clone())).flatten();
    let watchdog = Watchdog::start(pulse, unwatched).context("The operating system gives no thread.")?;
    let behind = shut.behind(keeps, door_pulse, snapshots.clone(), tied.as_ref());
    let tether = tied.map(|tied| tokio::spawn(tied.tether(behind.clone()).hold(first)));
    let door = doorway::open(run.door.as_ref(), behind);
    if let Err(why) = &door {
        let _ = notices.send(Said::Notice(why.clone()));
    }
    let behind = page::Behind {
        snapshots: snapshots.clone(),
        pulse: page_pulse,
        orders: orders_from_outside,
        zone: run.zone.clone(),
    };
    let (page, phone) = serve_page(run.page, behind, &notices);
    let offering = book.clone().map(|book| {
        let nearness = Nearness::new(book, notices.clone(), orders.clone());
        tokio::spawn(nearness.offer_places(snapshots.clone()))
    });
    let keeping = tokio::spawn(keeper.keep(inflow, orders_in));
    let (zone, at_the_end) = (run.zone, over.clone());
    let listeners = Listeners {
        desk,
        notifier,
        notices,
        orders: orders.clone(),
        book,
        console: console.clone(),
        zone,
        over: at_the_end,
        words: words_through_door,
    };
    let listening = tokio::spawn(listen(words, listeners));
    let gallery = Gallery { snapshots, notices: notices_in, orders: orders.clone(), phone };
    let shown = match run.screen {
        Some(options) => watch_on_screen(App::new(options), gallery, &mut signals, &console).await,
        None => {
            headless_words(taken_up.as_deref(), &console);
            watch_without_a_screen(gallery, &mut signals, &console, &over).await;
            Ok(())
        }
    };
    drop((watchdog, door, page));
    let _ = orders.send(Order::Quit);
    let _ = keeping.await;
    listening.abort();
    offering.iter().for_each(JoinHandle::abort);
    awake.iter().chain(&tether).for_each(JoinHandle::abort);
    drop((feeds, diverted, computer));
    console.finish();
    shown
}

/// Serves the page for phones, and what the screen shows to one. A watch without a page is kept all the same.
fn serve_page(
    setup: Option<page::Setup>,
    behind: page::Behind,
    notices: &mpsc::UnboundedSender<Said>,
) -> (Option<Page>, Shown) {
    let Some(setup) = setup else { return (None, Shown::Not(NOT_SET.to_owned())) };
    let to = notices.clone();
    let say = move |words: String| drop(to.send(Said::Notice(words)));
    match Page::serve(&setup, behind, say.clone()) {
        Ok(page) => (Some(page), Shown::Of(setup)),
        Err(why) => {
            say(why.clone());
            (None, Shown::Not(why))
        }
    }
}

/// Who keeps the watch, for whoever comes to the door.
fn who_keeps(run: &Run) -> Keeps {
    Keeps {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        process: std::process::id(),
        boat: run.settings.boat.name.clone(),
        rides: run.rides.as_deref().map(|rides| rides.display().to_string()).unwrap_or_default(),
        simulated: matches!(run.cast, Cast::Simulated { .. }),
        machine: tied::machine(run.stands_by.as_ref()),
        ..Keeps::default()
    }
}

/// The clock of the watch, and how many times faster than it would last it may run.
fn clock_for(cast: &Cast) -> (Clock, f64) {
    match cast {
        Cast::Feeds(_) => (Clock::system(), 1.0),
        Cast::Simulated { start, pace, .. } => {
            // Woken by the fastest, the keeper looks more often than it need where it is slower.
            (Clock::on(Arc::new(FastTime::new(start.0, pace.clone()))), pace.fastest())
        }
    }
}

/// Keeps on until a signal ends it, or a simulated night is over.
async fn watch_without_a_screen(gallery: Gallery, signals: &mut Signals, console: &Console, over: &Notify) {
    drop(tokio::spawn(print_notices(gallery.notices, console.clone())));
    tokio::select! {
        () = asked_to_finish(signals) => {}
        () = over.notified() => {}
    }
}

/// Starts what brings lines: the tasks of real feeds, or a simulated night.
fn start_inflow(
    cast: Cast,
    clock: Clock,
    keeper: &mut Keeper,
    servers: ServerKeys,
) -> anyhow::Result<(Inflow, Vec<FeedTask>)> {
    match cast {
        Cast::Feeds(sources) => {
            let (feeder, intake) = feed::queue(clock, Patience::default());
            let feeder = feeder.with_keys(servers);
            let mut tasks = Vec::new();
            for NamedSource { name, source } in sources {
                let feed = keeper.reads(&name).context("There can be no more than 32 feeds.")?;
                tasks.push(feeder.spawn(&FeedSpec { feed, name, source }));
            }
            Ok((Inflow::Feeds(intake), tasks))
        }
        Cast::Simulated { night, feeds, .. } => {
            for name in feeds {
                keeper.feed_id(&name);
            }
            Ok((Inflow::Night(night.peekable()), Vec::new()))
        }
    }
}

/// Shows the watch until the crew quits or a signal ends it. A terminal that goes away does not: the anchor is still
/// down, so the watch goes on without it until it is asked to end.
async fn watch_on_screen(
    app: App,
    gallery: Gallery,
    signals: &mut Signals,
    console: &Console,
) -> anyhow::Result<()> {
    let (stop, stopped) = oneshot::channel();
    // A thread of its own: a terminal that is held stops what draws, and must not stop what hears the signals.
    let runtime = tokio::runtime::Handle::current();
    let mut showing =
        tokio::task::spawn_blocking(move || runtime.block_on(terminal::show(app, gallery, stopped)));
    let left = tokio::select! {
        left = &mut showing => left.context("The screen broke.")??,
        asked = signals.next() => {
            let _ = stop.send(());
            let _ = tokio::time::timeout(GIVE_BACK_WITHIN, showing).await;
            if asked == Asked::End { Left::Quit } else { Left::Gone }
        }
    };
    if left == Left::Gone {
        console.screen_is_gone();
        console.line(format!(
            "The terminal is gone. The watch goes on without a screen: process {}. To see it again, end that \
             one and start `nightrode watch` anew: it takes the ride up.",
            std::process::id()
        ));
        asked_to_finish(signals).await;
    }
    Ok(())
}

/// Waits to be asked to end. Without a screen a terminal that hangs up is no loss.
async fn asked_to_finish(signals: &mut Signals) {
    while signals.next().await != Asked::End {}
}

/// Begins the program's own log; without one the watch is kept all the same.
fn start_log(path: Option<&Path>) -> Option<File> {
    log::start(path?).ok()
}

/// Begins to read the battery. Without a thread for it the watch is kept all the same.
fn start_battery(keeper: mpsc::UnboundedSender<Order>) -> Option<BatteryWatch> {
    BatteryWatch::start(move |device| drop(keeper.send(Order::Device(device)))).ok()
}

/// Begins to read heat and disk. Without a thread for it the watch is kept all the same.
fn start_computer(rides: Option<PathBuf>, keeper: mpsc::UnboundedSender<Order>) -> Option<ComputerWatch> {
    ComputerWatch::start(rides, move |device| drop(keeper.send(Order::Device(device)))).ok()
}

/// Keeps the computer awake while an anchor is down.
#[cfg(target_os = "linux")]
fn keep_awake(
    snapshots: &watch::Receiver<Arc<Snapshot>>,
    keeper: mpsc::UnboundedSender<Order>,
) -> Option<JoinHandle<()>> {
    let report = move |device| drop(keeper.send(Order::Device(device)));
    Some(tokio::spawn(super::awake::keep_awake(snapshots.clone(), report)))
}

/// This system has nobody that is asked.
#[cfg(not(target_os = "linux"))]
fn keep_awake(_: &watch::Receiver<Arc<Snapshot>>, _: mpsc::UnboundedSender<Order>) -> Option<JoinHandle<()>> {
    None
}

/// Who hears whether sounds play.
#[derive(Clone)]
enum SoundNews {
    /// The keeper: on a real watch silence is an alert.
    ToKeeper(mpsc::UnboundedSender<Order>),
    /// The screen, in one quiet line, and its view of the computer: nobody is woken by a simulated night.
    ToScreen(mpsc::UnboundedSender<Said>, mpsc::UnboundedSender<Order>),
}

impl SoundNews {
    fn report(&self, failed: Option<String>) {
        match (self, failed) {
            // Nobody listens any more: the program is ending.
            (Self::ToKeeper(keeper), failed) => drop(keeper.send(Order::Device(Device::Sound { failed }))),
            // In one row of the smallest window; why not is for `nightrode sound` to say.
            (Self::ToScreen(screen, keeper), Some(why)) => {
                drop(keeper.send(Order::Device(Device::Unheard { why: Some(why) })));
                let words = "No sound card plays here: the terminal's bell stands in.".to_owned();
                drop(screen.send(Said::Notice(words)));
            }
            (Self::ToScreen(_, keeper), None) => {
                drop(keeper.send(Order::Device(Device::Unheard { why: None })))
            }
        }
    }
}

/// Starts the sound desk, which reports by itself.
fn start_desk(
    news: SoundNews,
    keeper: &mpsc::UnboundedSender<Order>,
    console: &Console,
) -> Option<SoundDesk> {
    let (to, bell, keeper) = (news.clone(), console.clone(), keeper.clone());
    let report = move |report: SoundReport| match report {
        SoundReport::Works => to.report(None),
        SoundReport::Failed { why } => to.report(Some(why)),
        SoundReport::Rehearsed { failed } => drop(keeper.send(Order::Device(Device::Rehearsal { failed }))),
        SoundReport::Loudspeaker { gone } => drop(keeper.send(Order::Device(Device::Loudspeaker { gone }))),
        SoundReport::Ring(_) => bell.ring(),
    };
    let desk = SoundDesk::start(report);
    if let Err(error) = &desk {
        news.report(Some(format!("the operating system gives no thread for it ({error})")));
    }
    desk.ok()
}

/// To whom the keeper's words go.
struct Listeners {
    desk: Option<SoundDesk>,
    notifier: Notifier,
    notices: mpsc::UnboundedSender<Said>,
    orders: mpsc::UnboundedSender<Order>,
    book: Option<Book>,
    console: Console,
    zone: Zone,
    over: Arc<Notify>,
    words: broadcast::Sender<Words>,
}

impl Listeners {
    /// To the screen, and to whoever has joined.
    fn say(&self, said: Said) {
        let words = match &said {
            Said::Notice(text) => Some(Words::Notice(text.clone())),
            Said::Caption(text) => Some(Words::Caption(text.clone())),
            // Whoever has joined finds that out by itself.
            Said::Unwatched(_) => None,
            // It is this machine's, not theirs.
            Said::Post { .. } => None,
        };
        // Nobody looks on: the watch goes on all the same.
        words.map(|words| self.words.send(words).is_ok());
        let _ = self.notices.send(said);
    }

    /// The sound and the hook, as at a real alarm. Where no sound is played that is said.
    fn rehearse(&self, at: WatchTime, sounds: bool) {
        match (&self.desk, sounds) {
            (Some(desk), true) => desk.rehearse(),
            (Some(desk), false) => desk.end_rehearsal(),
            (None, true) => {
                self.console.ring();
                let failed = Some("the watch was started without sound".to_owned());
                drop(self.orders.send(Order::Device(Device::Rehearsal { failed })));
            }
            (None, false) => {}
        }
        if sounds {
            self.notifier.rehearse(at);
        }
    }
}

/// Carries the keeper's words to the sound, to whoever else hears of it, to the screen, and to standard output where
/// there is none.
async fn listen(mut words: mpsc::UnboundedReceiver<Word>, to: Listeners) {
    while let Some(word) = words.recv().await {
        match word {
            Word::Sound(sound) => match &to.desk {
                Some(desk) => desk.follow(sound),
                None if sound != Sound::Quiet => to.console.ring(),
                None => {}
            },
            Word::Alert(change) => {
                to.notifier.change(&change);
                to.console.line(line_of(&change, &to.zone));
            }
            Word::Rehearsal { at, sounds } => to.rehearse(at, sounds),
            Word::Feed { name, link } => to.console.line(feed_words(&name, &link)),
            Word::Ended(why, kept) => {
                let words = ended_words(why, &kept);
                let kept_in = keep_place(to.book.clone(), kept).await;
                to.say(Said::Notice(format!("{words}{kept_in}")));
            }
            Word::NightOver => {
                to.console.line("The simulated night is over.");
                to.over.notify_one();
            }
            Word::Notice(words) => to.say(Said::Notice(words)),
            Word::Caption(text) => to.say(Said::Caption(text)),
            Word::Post { stands_by, words } => {
                to.console.line(words.clone());
                to.say(Said::Post { stands_by, words });
            }
            Word::Refused(why) => {
                if let Some(desk) = to.desk.as_ref().filter(|_| why.is_heard()) {
                    desk.refuse();
                }
                let _ = to.notices.send(Said::Notice(why.to_string()));
            }
        }
    }
}

/// One line for a ride that is over.
fn ended_words(why: EndedBy, kept: &Keepsake) -> String {
    let why = match why {
        EndedBy::Crew => "Anchor aweigh",
        EndedBy::UnderWay => "Plainly under way: the anchor is taken to be aweigh",
    };
    format!("{why}. The ride at {} is over. {}", kept.place, kept.holding.words)
}

/// One line for a feed that came or went.
fn feed_words(name: &str, link: &Link) -> String {
    match link {
        Link::Opening => format!("feed {name}: is being opened"),
        Link::Open => format!("feed {name}: open"),
        Link::Lost { why } => format!("feed {name}: {why}. It is tried again by itself."),
        Link::Ended => format!("feed {name}: at its end"),
    }
}

async fn print_notices(mut notices: mpsc::UnboundedReceiver<Said>, console: Console) {
    while let Some(said) = notices.recv().await {
        match said {
            Said::Notice(words) | Said::Caption(words) => console.line(words),
            // Have their own lines.
            Said::Unwatched(_) | Said::Post { .. } => {}
        }
    }
}

/// ISO 8601 with the zone: `2026-06-03T02:14:07+02:00`.
const STAMP: &str = "%Y-%m-%dT%H:%M:%S%:z";

/// One line for one change of an alert, for a log or a pipe.
fn line_of(change: &AlertChange, zone: &Zone) -> String {
    let alert = &change.alert;
    format!(
        "{} {} {} {}: {}",
        zone.format(change.at, STAMP),
        serde_word(&alert.priority),
        alert.kind.name(),
        serde_word(&change.change),
        alert.reason.what
    )
}

/// A value's name as it stands in files.
fn serde_word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}

fn headless_words(taken_up: Option<&Path>, console: &Console) {
    console.line(match taken_up {
        Some(folder) => format!("watching; the ride in {} is taken up again", folder.display()),
        None => "watching".into(),
    });
    console.line("An aid, not a look-out: keep a proper look-out (COLREG Rule 5).");
}

/// Clocks of a simulated night: they begin at its start and run so many times faster.
struct FastTime {
    start_ms: i64,
    pace: Pace,
    zero: Instant,
}

impl FastTime {
    fn new(start_ms: i64, pace: Pace) -> Self {
        Self { start_ms, pace, zero: Instant::now() }
    }
}

impl TimeSource for FastTime {
    fn wall_ms(&self) -> i64 {
        self.start_ms + i64::try_from(self.running().as_millis()).unwrap_or(i64::MAX)
    }

    fn running(&self) -> Duration {
        self.pace.passed(self.zero.elapsed())
    }

    fn running_and_asleep(&self) -> Option<Duration> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dead_sound_card_is_an_alert_on_a_real_watch_and_a_quiet_line_in_a_demo() {
        let (orders, mut orders_in) = mpsc::unbounded_channel();
        let (notices, mut notices_in) = mpsc::unbounded_channel();
        SoundNews::ToKeeper(orders.clone()).report(Some("no card".into()));
        let failed = Some("no card".to_owned());
        assert_eq!(orders_in.try_recv(), Ok(Order::Device(Device::Sound { failed })));
        SoundNews::ToScreen(notices, orders).report(Some("no card".into()));
        let why = Some("no card".to_owned());
        assert_eq!(
            orders_in.try_recv(),
            Ok(Order::Device(Device::Unheard { why })),
            "its view of the computer tells it"
        );
        let Ok(Said::Notice(words)) = notices_in.try_recv() else { panic!("nothing was said") };
        assert_eq!(words, "No sound card plays here: the terminal's bell stands in.");
        assert!(words.len() <= 58, "one row of a window of 60 columns");
    }

    #[test]
    fn a_night_passes_at_its_pace() {
        let pace = Pace::changing(10.0, &[(Span::from_secs(100), 100.0), (Span::from_secs(1100), 1.0)]);
        let passed = |real_s: u64| pace.passed(Duration::from_secs(real_s)).as_secs_f64();
        assert_eq!([0, 5, 10, 15, 20, 23].map(passed), [0.0, 50.0, 100.0, 600.0, 1100.0, 1103.0]);
        assert_eq!(Pace::steady(60.0).passed(Duration::from_secs(2)), Duration::from_secs(120));
    }
}
