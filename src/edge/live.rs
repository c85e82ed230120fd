//! Puts the parts together for a watch: feeds or a simulated night, the keeper, sound, and the screen or none.

use std::io::{IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::sync::{Arc, Once};
use std::time::{Duration, Instant};

use anyhow::Context as _;
use tokio::sync::mpsc;

use super::clock::{Clock, TimeSource};
use super::feed::{self, FeedSpec, Patience, Source};
use super::folder::timestamp;
use super::keeper::{Inflow, Keeper, Lookout, Order, Setup, Word};
use super::sound::{SoundDesk, SoundReport, play_failure};
use super::stderr::Diverted;
use super::terminal::{self, Left};
use crate::config::RodeMark;
use crate::sim;
use crate::tui::app::{App, Options};
use crate::watch::alert::AlertChange;
use crate::watch::boat::Settings;
use crate::watch::input::Device;

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
        scenario: Box<sim::Scenario>,
        /// How many times faster.
        speed: f64,
    },
}

/// How a watch is run.
pub struct Run {
    /// Boat, tackle, limits, feeds.
    pub settings: Settings,
    /// Marks on the rode.
    pub marks: Vec<RodeMark>,
    /// Where rides are kept; `None`: nowhere.
    pub rides: Option<PathBuf>,
    /// Whether an unfinished ride is taken up.
    pub take_up: bool,
    /// What is heard.
    pub cast: Cast,
    /// Whether alert sounds are played.
    pub sound: bool,
    /// The screen's options; `None`: no screen.
    pub screen: Option<Options>,
    /// The program's own log, for what libraries print while the screen is up.
    pub log_file: Option<PathBuf>,
}

/// Keeps the watch until the crew ends it.
///
/// # Errors
/// In words, what could not be started.
pub fn run(run: Run) -> anyhow::Result<()> {
    alarm_on_panic();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .context("The operating system gives no thread to run on.")?;
    let done = runtime.block_on(keep(run));
    // A reader that waits for its keyboard or port must not keep a finished program alive.
    runtime.shutdown_timeout(Duration::from_millis(200));
    done
}

async fn keep(run: Run) -> anyhow::Result<()> {
    let (clock, speed) = match &run.cast {
        Cast::Feeds(_) => (Clock::system(), 1.0),
        Cast::Simulated { scenario, speed } => {
            (Clock::on(Arc::new(FastTime::new(scenario.start.0, *speed))), *speed)
        }
    };
    let setup =
        Setup { settings: run.settings, marks: run.marks, rides: run.rides, clock: clock.clone(), speed };
    let (mut keeper, lookout) = Keeper::new(setup);
    let taken_up = if run.take_up { keeper.take_up()? } else { None };
    let (orders, orders_in) = mpsc::unbounded_channel();
    let mut tasks = Vec::new();
    let inflow = match run.cast {
        Cast::Feeds(sources) => {
            let (feeder, intake) = feed::queue(clock, Patience::default());
            for NamedSource { name, source } in sources {
                let feed = keeper.feed_id(&name).context("There can be no more than 32 feeds.")?;
                tasks.push(feeder.spawn(&FeedSpec { feed, name, source }));
            }
            Inflow::Feeds(intake)
        }
        Cast::Simulated { scenario, .. } => {
            for name in scenario.feed_names() {
                keeper.feed_id(&name);
            }
            Inflow::Night(Box::new(sim::Night::new(*scenario).peekable()))
        }
    };
    let desk = run.sound.then(|| start_desk(&orders)).flatten();
    let keeping = tokio::spawn(keeper.keep(inflow, orders_in));
    let Lookout { snapshots, words } = lookout;
    let (notices, notices_in) = mpsc::unbounded_channel();
    let listening = tokio::spawn(listen(words, desk, notices, run.screen.is_none()));
    match run.screen {
        Some(options) => {
            let _diverted = divert(run.log_file.as_deref());
            let left = tokio::select! {
                left = terminal::show(App::new(options), snapshots, notices_in, &orders) => left?,
                () = told_to_end() => Left::Quit,
            };
            if left == Left::Gone {
                // The terminal closed: the anchor is still down, so the watch goes on until it is told to end.
                told_to_end().await;
            }
        }
        None => {
            headless_words(taken_up.as_deref());
            told_to_end().await;
        }
    }
    let _ = orders.send(Order::Quit);
    let _ = keeping.await;
    listening.abort();
    Ok(())
}

/// Starts the sound desk, which reports to the keeper by itself.
fn start_desk(orders: &mpsc::UnboundedSender<Order>) -> Option<SoundDesk> {
    let to_keeper = orders.clone();
    let report = move |report: SoundReport| match report {
        SoundReport::Works => drop(to_keeper.send(Order::Device(Device::Sound { failed: None }))),
        SoundReport::Failed { why } => {
            drop(to_keeper.send(Order::Device(Device::Sound { failed: Some(why) })));
        }
        SoundReport::Ring(_) => terminal::ring(),
    };
    match SoundDesk::start(report) {
        Ok(desk) => Some(desk),
        Err(error) => {
            let failed = Some(format!("the operating system gives no thread for it ({error})"));
            let _ = orders.send(Order::Device(Device::Sound { failed }));
            None
        }
    }
}

/// Carries the keeper's words to sound, screen and, without a screen, to standard output.
async fn listen(
    mut words: mpsc::UnboundedReceiver<Word>,
    desk: Option<SoundDesk>,
    notices: mpsc::UnboundedSender<String>,
    headless: bool,
) {
    while let Some(word) = words.recv().await {
        match word {
            Word::Sound(sound) => match &desk {
                Some(desk) => desk.follow(sound),
                None if sound != crate::watch::alert::Sound::Quiet => terminal::ring(),
                None => {}
            },
            Word::Alert(change) if headless => print_change(&change),
            Word::Alert(_) => {}
            Word::Refused(why) => {
                if let Some(desk) = &desk {
                    desk.refuse();
                }
                let _ = notices.send(why);
            }
        }
    }
}

/// One line for one change of an alert, for a log or a pipe.
fn print_change(change: &AlertChange) {
    let alert = &change.alert;
    let line = format!(
        "{} {} {} {}: {}",
        timestamp(change.at),
        serde_word(&alert.priority),
        alert.kind.name(),
        serde_word(&change.change),
        alert.reason.what
    );
    // A closed pipe is no reason to stop watching.
    let _ = writeln!(std::io::stdout(), "{line}");
}

/// A value's name as it stands in files.
fn serde_word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}

fn headless_words(taken_up: Option<&std::path::Path>) {
    let mut out = std::io::stdout();
    let words = match taken_up {
        Some(folder) => format!("watching; the ride in {} is taken up again", folder.display()),
        None => "watching".into(),
    };
    let _ = writeln!(out, "{words}");
    let _ = writeln!(out, "An aid, not a look-out: keep a proper look-out (COLREG Rule 5).");
}

/// What libraries print to standard error would tear the screen: it goes to the log file while the screen is up.
fn divert(log_file: Option<&std::path::Path>) -> Option<Diverted> {
    if !std::io::stderr().is_terminal() {
        return None;
    }
    let path = log_file?;
    std::fs::create_dir_all(path.parent()?).ok()?;
    let file = std::fs::OpenOptions::new().create(true).append(true).open(path).ok()?;
    Diverted::into(&file).ok()
}

/// Waits for the signals by which an operating system asks a program to end.
async fn told_to_end() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let (Ok(mut terminate), Ok(mut interrupt)) =
            (signal(SignalKind::terminate()), signal(SignalKind::interrupt()))
        else {
            return std::future::pending().await;
        };
        // A closed terminal must not end the watch.
        let _hangup = signal(SignalKind::hangup());
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
    }
    #[cfg(not(unix))]
    {
        let _ = tokio::signal::ctrl_c().await;
    }
}

/// A panic gives the terminal back, says so, sounds the failure alarm and ends the program.
fn alarm_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let report = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            terminal::give_back();
            report(panic);
            let _ = writeln!(
                std::io::stderr(),
                "THE WATCH HAS ENDED through a fault in the program. Keep watch by eye and start it again."
            );
            if !play_failure() {
                terminal::ring();
            }
            std::process::exit(101);
        }));
    });
}

/// Clocks of a simulated night: they begin at its start and run so many times faster.
struct FastTime {
    start_ms: i64,
    speed: f64,
    zero: Instant,
}

impl FastTime {
    fn new(start_ms: i64, speed: f64) -> Self {
        Self { start_ms, speed, zero: Instant::now() }
    }
}

impl TimeSource for FastTime {
    fn wall_ms(&self) -> i64 {
        self.start_ms + i64::try_from(self.running().as_millis()).unwrap_or(i64::MAX)
    }

    fn running(&self) -> Duration {
        self.zero.elapsed().mul_f64(self.speed)
    }

    fn running_and_asleep(&self) -> Option<Duration> {
        None
    }
}
