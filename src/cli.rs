//! What was typed on the command line: arguments in, an exit code out.

#![allow(
    rustdoc::broken_intra_doc_links,
    reason = "clap shows doc comments as they stand, and brackets there mean what may be left out"
)]

pub mod act;
pub mod card;
pub mod feeds;
mod flags;
mod folders;
pub mod health;
pub mod join;
mod joined;
mod keeping;
mod known_place;
mod night;
mod output;
pub mod page;
pub mod places;
pub mod plan;
pub mod replay;
pub mod review;
pub mod rides;
pub mod signalk;
mod stand_by;
pub mod trial;
mod waiting;
pub mod watch;
mod wind_file;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;
use clap::{CommandFactory as _, Parser, Subcommand};
use jiff::tz::TimeZone;

use crate::edge::notify::survivor;
use crate::edge::stderr::Diverted;
use crate::edge::{log, places as folders_of, sound};
use crate::report::printable;
use crate::report::zone::Zone;

/// Keeps the anchor watch on a small yacht.
#[derive(Debug, Parser)]
#[command(name = "nightrode", version, about, max_term_width = 100)]
pub struct Cli {
    /// Folder of boat.toml, instead of the platform's own.
    #[arg(long, global = true, value_name = "FOLDER", env = "NIGHTRODE_CONFIG")]
    pub config: Option<PathBuf>,
    /// Show times in UTC instead of the computer's zone. JSON and exports are always in UTC.
    #[arg(long, global = true)]
    pub utc: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

impl Cli {
    /// The zone in which times are shown.
    fn zone(&self) -> Zone {
        Zone(if self.utc { TimeZone::UTC } else { TimeZone::system() })
    }
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Keep the anchor watch: the live screen, or --headless.
    Watch(watch::WatchArgs),
    /// Do something on the watch that runs here, from a script or a switch: acknowledge, silence, mark, veer, note, status.
    Act(act::ActArgs),
    /// Another screen of the watch that runs here, or of one on another machine: ssh:HOST. Leaving it never ends the
    /// watch. With feeds of its own this machine stands by, and keeps the watch when the other falls silent.
    Join(join::JoinArgs),
    /// The code that opens the page for a phone, where boat.toml names an address for it.
    Page(page::PageArgs),
    /// An invented night at anchor, simulated: a wind shift, lost fixes and a drag in it. Needs no hardware.
    Demo(watch::DemoArgs),
    /// Before letting go: how much to veer, what holds, will she float.
    Plan(Box<plan::PlanArgs>),
    /// The book of anchorages: list, show, new, import, export.
    Places(places::PlacesArgs),
    /// Check lists: before letting go, on leaving her, before weighing.
    Checks(places::ChecksArgs),
    /// What each source gives, what is missing, and whether it is enough for a watch.
    Feeds(feeds::FeedsArgs),
    /// Who a Signal K server is: greeting, certificate; the token for it.
    #[command(name = "signalk")]
    SignalK(signalk::SignalKArgs),
    /// A card for the chart table: bearings, depths, limits and what to do, for when everything electric is off.
    Card(card::CardArgs),
    /// A recorded night on the same screen: run, stop, step, go to any moment.
    Replay(replay::ReplayArgs),
    /// How well did she hold? A recorded night through the same watch: verdict, alerts, numbers.
    Review(review::ReviewArgs),
    /// The rides that were kept: place, dates, hours, verdict, worst wind.
    Rides(rides::RidesArgs),
    /// Many simulated nights through the watch: how often an alarm is false, how early it calls, what it misses.
    Trial(trial::TrialArgs),
    /// Will this computer last the night? Power, sleep, disk, clock, heat.
    Health(health::HealthArgs),
    /// Play every alert sound, and report whether they really played.
    Sound {
        /// List the loudspeakers instead; one goes into boat.toml as `device` under `[sound]`.
        #[arg(long)]
        list: bool,
    },
    /// Completions for a shell, on standard output.
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
    /// The manual page, on standard output.
    Man {
        /// Write the pages of all commands into this folder instead.
        #[arg(long, value_name = "FOLDER")]
        all: Option<PathBuf>,
    },
    /// Ends the hooks of a watch that was killed; started by the watch itself.
    #[command(name = survivor::COMMAND, hide = true)]
    EndHooks,
}

/// How the program ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// All done.
    Done = 0,
    /// It could not be done; the reason stands on standard error.
    Failed = 1,
    /// The arguments cannot be read (clap's own code).
    Usage = 2,
    /// `feeds` heard no position: no watch can be kept on these sources.
    NoWatch = 3,
    /// `act`, `join`: no watch runs on this machine.
    NoneRuns = 4,
    /// `act`: the watch refused, in words.
    Refused = 5,
    /// The program itself broke (the code of Rust's own panics). A ride that was being kept is taken up at the next start.
    Broken = 101,
}

impl Exit {
    /// Every way to end.
    pub const ALL: [Self; 7] =
        [Self::Done, Self::Failed, Self::Usage, Self::NoWatch, Self::NoneRuns, Self::Refused, Self::Broken];
}

/// Ends a program of which a part is dead: a panic can come on any thread, and this is the only code that ends it there.
fn end_broken() -> ! {
    std::process::exit(Exit::Broken as i32)
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// Reads the arguments and does what they say.
#[must_use]
pub fn run() -> Exit {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come as errors too. Nothing is left to do if even this cannot be printed.
            let _ = error.print();
            return if error.use_stderr() { Exit::Usage } else { Exit::Done };
        }
    };
    carry_out(cli).unwrap_or_else(|error| {
        let _ = writeln!(std::io::stderr(), "{}", printable(&format!("{error:#}")));
        Exit::Failed
    })
}

fn carry_out(cli: Cli) -> anyhow::Result<Exit> {
    let zone = cli.zone();
    let config = cli.config.as_deref();
    match cli.command {
        Command::Watch(args) => watch::run(args, config, &zone),
        Command::Act(args) => return act::run(args, &zone),
        Command::Join(args) => return join::run(args, config, &zone),
        Command::Page(args) => page::run(&args, config),
        Command::Demo(args) => watch::run_demo(args, &zone),
        Command::Plan(args) => plan::run(&args, config, cli.utc),
        Command::Places(args) => places::run(&args, &zone),
        Command::Checks(args) => places::checks(&args, config),
        Command::Feeds(args) => return feeds::run(&args, config),
        Command::SignalK(args) => signalk::run(&args, config),
        Command::Card(args) => card::run(&args, &zone),
        Command::Replay(args) => replay::run(&args, &zone),
        Command::Review(args) => review::run(&args, &zone),
        Command::Rides(args) => rides::run(&args, &zone),
        Command::Trial(args) => trial::run(&args),
        Command::Health(args) => health::run(&args),
        Command::Sound { list } => try_sounds(config, list),
        Command::Completions { shell } => completions(shell),
        Command::Man { all } => manual(all.as_deref()),
        Command::EndHooks => {
            survivor::outlive(std::io::stdin().lock());
            Ok(())
        }
    }?;
    Ok(Exit::Done)
}

/// Plays every sound; that they do not play is a failure.
fn try_sounds(config: Option<&Path>, list: bool) -> anyhow::Result<()> {
    // Complaints of the sound library itself go to the log, where there is one.
    let log = folders_of::default_log_file().ok().and_then(|path| log::start(&path).ok());
    let diverted = log.as_ref().and_then(|log| Diverted::into(log).ok());
    if list {
        return Ok(sound::list(&mut std::io::stdout())?);
    }
    if let (_, Some(boat)) = folders::boat(config)? {
        boat.loudspeaker.iter().for_each(|device| sound::choose(device));
    }
    let played = sound::try_all(&mut std::io::stdout())?;
    drop(diverted);
    anyhow::ensure!(
        played,
        "Alert sounds do not play here: only the terminal's bell and the screen will call you."
    );
    Ok(())
}

fn completions(shell: clap_complete::Shell) -> anyhow::Result<()> {
    clap_complete::generate(shell, &mut Cli::command(), "nightrode", &mut std::io::stdout());
    Ok(())
}

fn manual(all: Option<&Path>) -> anyhow::Result<()> {
    if let Some(folder) = all {
        return clap_mangen::generate_to(Cli::command(), folder).with_context(|| {
            format!("The pages cannot be written into {}. Name a folder that exists", folder.display())
        });
    }
    Ok(clap_mangen::Man::new(Cli::command()).render(&mut std::io::stdout())?)
}
