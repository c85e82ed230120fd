//! `nightrode watch` and `nightrode demo`: the live watch, on real feeds or on an invented night.

use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};

use super::feeds::look_about;
use super::folders;
use super::keeping::{by_boat, unnamed};
use super::night::NightArgs;
use super::output::note;
use super::page::{address, served};
use super::waiting::wait_for;
use crate::config::{BoatFile, FeedSource, FirstFacts, boat_toml, read_boat};
use crate::edge::door::find::{self, Found};
use crate::edge::feed::{ServerKeys, Source};
use crate::edge::keeper::{Simulated, TAKE_UP_WITHIN};
use crate::edge::live::{self, Cast, NamedSource, Pace, Run};
use crate::edge::{places, terminal};
use crate::report::zone::Zone;
use crate::sim;
use crate::tui::first::{Done, FirstStart, Offered};
use crate::tui::options::{NOTICE_FOR, Options};
use crate::tui::palette::{Colours, Light, Palette};
use crate::watch::boat::{FeedSettings, Settings};
use crate::watch::checks::Checks;
use crate::watch::units::Span;

/// How the screen looks.
#[derive(Args, Debug)]
pub struct LookArgs {
    /// The light to begin with; `p` changes it.
    #[arg(long, value_name = "LIGHT", default_value = "dusk")]
    pub light: LightArg,
    /// Colours of the terminal [default: what it reports].
    #[arg(long, value_name = "COLOURS")]
    pub colours: Option<ColoursArg>,
    /// How the chart is drawn [default: braille, on the Linux console half-blocks].
    #[arg(long, value_name = "DOTS")]
    pub dots: Option<DotsArg>,
}

/// How the watch is shown and heard.
#[derive(Args, Debug)]
pub struct ScreenArgs {
    /// How the screen looks.
    #[command(flatten)]
    pub look: LookArgs,
    /// Keep the same watch without a screen; alerts are printed, a line each.
    #[arg(long)]
    pub headless: bool,
    /// Play no sounds. The terminal's bell rings instead.
    #[arg(long)]
    pub silent: bool,
}

/// Light about the screen.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum LightArg {
    /// Dark on light.
    Day,
    /// Light on dark.
    Dusk,
    /// Reds only.
    Night,
}

/// What the chart is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DotsArg {
    /// Eight dots to a letter's place.
    Braille,
    /// Two blocks to a letter's place, for fonts without braille.
    Blocks,
}

/// Colours that a terminal has.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ColoursArg {
    /// Sixteen million.
    True,
    /// 256.
    #[value(name = "256")]
    Cube,
    /// Sixteen.
    #[value(name = "16")]
    Sixteen,
    /// None.
    Mono,
}

/// Flags of `watch`.
#[derive(Args, Debug)]
pub struct WatchArgs {
    /// Feeds, beside those of boat.toml: serial:/dev/ttyUSB0@4800, udp:10110, tcp:host:10110,
    /// gpsd:localhost:2947, signalk:localhost:3000, signalk-wss:HOST:3443, can:can0, file:night.nmea, or - for standard input; with a name in front: masthead=udp:10110.
    #[arg(value_name = "FEED")]
    pub feeds: Vec<String>,
    /// Folder of the rides, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// What is known of the night and the berth.
    #[command(flatten)]
    pub night: NightArgs,
    /// Begin a new ride even if there is an unfinished one.
    #[arg(long)]
    pub anew: bool,
    /// Take up the newest unfinished ride however long ago its last word was: by itself only one of the last 36 h is.
    #[arg(long, conflicts_with = "anew")]
    pub take_up: bool,
    /// How it looks.
    #[command(flatten)]
    pub screen: ScreenArgs,
}

/// Flags of `demo`.
#[derive(Args, Debug)]
pub struct DemoArgs {
    /// How many times faster than it would last: 1 to 3600. With --job the crew's own work passes ten times slower than
    /// that, and the hours between four times faster.
    #[arg(long, value_name = "N", default_value_t = 60.0, value_parser = speed)]
    pub speed: f64,
    /// Another night of the same kind.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// End after so many hours, for tests.
    #[arg(long, hide = true, value_name = "HOURS")]
    pub hours: Option<i64>,
    /// The whole job instead of a night: soundings, letting go, digging in, rounds, weighing; each step has a caption.
    #[arg(long)]
    pub job: bool,
    /// Keep the ride in this folder; without it nothing is kept.
    #[arg(long, value_name = "FOLDER")]
    pub rides: Option<PathBuf>,
    /// Serve the page for phones on this address, as 127.0.0.1:8460; `nightrode page --at` the same shows the code that
    /// opens it.
    #[arg(long, value_name = "ADDRESS", value_parser = address)]
    pub page: Option<SocketAddr>,
    /// How it looks.
    #[command(flatten)]
    pub screen: ScreenArgs,
}

fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if (1.0..=3600.0).contains(&speed) { Ok(speed) } else { Err("1 to 3600".into()) }
}

/// Runs `nightrode watch`.
///
/// # Errors
/// In words, what kept the watch from starting.
pub fn run(args: WatchArgs, config: Option<&Path>, zone: &Zone) -> anyhow::Result<()> {
    let screen =
        screen(&args.screen, zone)?.map(|options| Options { checks: check_lists(config), ..options });
    if let Some(options) = &screen {
        first_start(config, options, &named(&args.feeds)?)?;
    }
    if !args.anew
        && let Some(found) = another_watch(args.rides.as_deref())?
    {
        return join_instead(&found, screen, args.screen.silent, config, zone);
    }
    let boat = read_boat_file(config)?;
    let sources = sources(&boat, &args.feeds)?;
    if sources.is_empty() {
        bail!(
            "No feed is named, so there is no position to watch. Name one (`nightrode watch udp:10110`) or write it \
             into boat.toml; `nightrode feeds` finds out what is connected."
        );
    }
    let mut settings = boat.settings.clone();
    (settings.expected, settings.planned) = args.night.known(&settings, zone)?;
    for (source, priority) in sources.iter().zip(0u8..) {
        if !settings.feeds.iter().any(|f| f.name == source.name) {
            settings.feeds.push(FeedSettings { name: source.name.clone(), priority });
        }
    }
    let rides = writable_rides(args.rides)?;
    let watch = unnamed(settings, Cast::Feeds(sources), screen, zone);
    let watch = by_boat(&boat, config, rides, args.screen.silent, watch)?;
    live::run(Run { take_up: take_up(args.anew, args.take_up), ..watch })
}

/// The folder of the rides, which must take what is written.
pub(super) fn writable_rides(entered: Option<PathBuf>) -> anyhow::Result<PathBuf> {
    let rides = match entered {
        Some(rides) => rides,
        None => {
            places::default_rides().context("No home folder is known here. Name a folder with --rides.")?
        }
    };
    places::try_to_write(&rides).with_context(|| {
        format!(
            "Rides cannot be kept in {}. The night would not be logged, and after a crash nothing could be taken up. \
             Name a folder that you may write with --rides",
            rides.display()
        )
    })?;
    Ok(rides)
}

/// A watch that runs here already and keeps its rides in the same folder.
fn another_watch(rides: Option<&Path>) -> anyhow::Result<Option<Found>> {
    let rides = rides.map(Path::to_owned).or_else(|| places::default_rides().ok());
    let rides = rides.map(|rides| rides.display().to_string());
    let (found, _) = wait_for(find::running(places::doors()))?;
    Ok(found.into_iter().find(|found| !found.keeps.simulated && Some(&found.keeps.rides) == rides.as_ref()))
}

/// Says that a watch runs already, and joins it if the crew wants that.
fn join_instead(
    found: &Found,
    screen: Option<Options>,
    silent: bool,
    config: Option<&Path>,
    zone: &Zone,
) -> anyhow::Result<()> {
    let runs = format!(
        "A watch runs here already (process {}) and keeps rides in {}.",
        found.keeps.process, found.keeps.rides
    );
    let advice = format!(
        "Two would disagree. `nightrode join` shows it, `kill {}` ends it, and `--anew` begins another beside it.",
        found.keeps.process
    );
    let Some(screen) = screen.filter(|_| std::io::stdin().is_terminal()) else { bail!("{runs} {advice}") };
    note(&format!("{runs} Join it? Enter joins, n leaves it alone."));
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer)?;
    if answer.is_empty() || answer.trim_start().starts_with(['n', 'N']) {
        bail!("{advice}");
    }
    super::joined::here(found, screen, silent, config, zone)
}

/// How long ago the last word of a ride may be that is taken up.
fn take_up(anew: bool, any: bool) -> Option<Span> {
    match (anew, any) {
        (true, _) => None,
        (false, true) => Some(Span(i64::MAX)),
        (false, false) => Some(TAKE_UP_WITHIN),
    }
}

/// The simulated night that the flags ask for, and what its crew has in the boat's file.
fn simulated(args: &DemoArgs) -> (Settings, Cast) {
    let (scenario, settings, night): (_, _, Simulated) = if args.job {
        let job = sim::job(args.seed);
        (job.scenario().clone(), job.settings(), Box::new(job))
    } else {
        let scenario = sim::demo(args.seed);
        (scenario.clone(), scenario.settings(), Box::new(sim::Night::new(scenario)))
    };
    let pace = if args.job { pace_of_job(args.speed) } else { Pace::steady(args.speed) };
    let (start, feeds) = (scenario.start, scenario.feed_names());
    let night: Simulated = match args.hours {
        Some(hours) => {
            Box::new(night.take_while(move |event| event.at() < start + Span::from_mins(60 * hours)))
        }
        None => night,
    };
    (settings, Cast::Simulated { night, start, feeds, pace })
}

/// Slow enough to read while the crew works, fast through the hours between.
fn pace_of_job(speed: f64) -> Pace {
    let (work, hours) = ((speed / 10.0).max(1.0), (speed * 4.0).min(3600.0));
    Pace::changing(work, &[(sim::JOB_SET_BY, hours), (sim::JOB_WEIGHS_FROM, work)])
}

/// Runs `nightrode demo`.
///
/// # Errors
/// In words, what kept it from starting.
pub fn run_demo(args: DemoArgs, zone: &Zone) -> anyhow::Result<()> {
    let (settings, cast) = simulated(&args);
    // A notice stays as long for the reader as on a watch that is kept.
    let speed = if args.job { (args.speed / 10.0).max(1.0) } else { args.speed };
    let notice_for = Span((NOTICE_FOR.0 as f64 * speed) as i64);
    let screen = screen(&args.screen, zone)?.map(|options| Options { tall: args.job, notice_for, ..options });
    let (sound, page) = (!args.screen.silent, served(args.page, true)?);
    live::run(Run { rides: args.rides, sound, page, ..unnamed(settings, cast, screen, zone) })
}

/// Where there is no boat.toml yet, asks the few facts that the watch cannot guess and writes one. A crew that leaves
/// the questions is asked again next time.
fn first_start(config: Option<&Path>, options: &Options, entered: &[NamedSource]) -> anyhow::Result<()> {
    let folder = folders::config(config)?;
    let path = folder.join("boat.toml");
    if path.exists() {
        return Ok(());
    }
    let palette = Palette { light: options.light, colours: options.colours };
    let Done::Answers(answers) =
        terminal::ask_first(FirstStart::new(proposed(entered, ServerKeys::beside(&folder))?, palette))?
    else {
        return Ok(());
    };
    let feeds = first_feeds(entered, &answers.sources);
    let facts = FirstFacts { boat: answers.boat, tackle: answers.tackle, crew: Vec::new(), feeds };
    std::fs::create_dir_all(&folder)
        .and_then(|()| std::fs::write(&path, boat_toml(&facts)))
        .with_context(|| format!("{} cannot be written.", path.display()))
}

/// The sources that the first form offers: those named on the command line, else what is heard here.
fn proposed(entered: &[NamedSource], keys: ServerKeys) -> anyhow::Result<Vec<Offered>> {
    if !entered.is_empty() {
        return Ok(entered.iter().map(|feed| feed.source.to_string().into()).collect());
    }
    note("Listening to serial ports, the network and this computer's servers for some seconds ...");
    wait_for(look_about(keys)).context("The ports cannot be listened to: the system gives no timer")
}

/// The feeds of the first boat file: those named on the command line that last, and those that were chosen. One alone is called
/// for what it is; of several each by its kind.
fn first_feeds(entered: &[NamedSource], chosen: &[String]) -> Vec<FeedSource> {
    let lasts = |feed: &&NamedSource| !matches!(feed.source, Source::File { .. } | Source::Stdin);
    let mut feeds: Vec<(String, String)> =
        entered.iter().filter(lasts).map(|feed| (feed.name.clone(), feed.source.to_string())).collect();
    let is_named = |text: &str| {
        text.parse().is_ok_and(|source: Source| entered.iter().any(|feed| feed.source == source))
    };
    let new: Vec<&str> = chosen.iter().map(|text| text.trim()).filter(|text| !is_named(text)).collect();
    for text in &new {
        let kind = if new.len() == 1 { "instruments" } else { text.split(':').next().unwrap_or("feed") };
        let is_taken = |feeds: &[(String, String)], name: &str| feeds.iter().any(|(taken, _)| taken == name);
        let numbered = std::iter::once(kind.to_owned()).chain((2..).map(|n| format!("{kind}{n}")));
        if let Some(name) = numbered.take(feeds.len() + 1).find(|name| !is_taken(&feeds, name)) {
            feeds.push((name, (*text).to_owned()));
        }
    }
    feeds
        .into_iter()
        .zip(0u8..)
        .map(|((name, source), priority)| FeedSource { name, source, priority })
        .collect()
}

/// The crew's check lists. A file that is wrong keeps no watch from beginning: the usual lists stand in for it.
fn check_lists(config: Option<&Path>) -> Checks {
    folders::checks(config).unwrap_or_else(|wrong| {
        note(&format!("{wrong:#} The usual check lists are shown instead."));
        Checks::default()
    })
}

fn screen(args: &ScreenArgs, zone: &Zone) -> anyhow::Result<Option<Options>> {
    if args.headless {
        return Ok(None);
    }
    if !std::io::stdout().is_terminal() {
        bail!("Standard output is no terminal, so there is no screen to draw on. Use --headless.");
    }
    look(&args.look, zone).map(Some)
}

/// The screen's options. There must be a terminal.
pub(super) fn look(args: &LookArgs, zone: &Zone) -> anyhow::Result<Options> {
    if !std::io::stdout().is_terminal() {
        bail!("Standard output is no terminal, so there is no screen to draw on.");
    }
    let light = match args.light {
        LightArg::Day => Light::Day,
        LightArg::Dusk => Light::Dusk,
        LightArg::Night => Light::Night,
    };
    let colours = match args.colours {
        Some(ColoursArg::True) => Colours::TrueColour,
        Some(ColoursArg::Cube) => Colours::Cube256,
        Some(ColoursArg::Sixteen) => Colours::Ansi16,
        Some(ColoursArg::Mono) => Colours::Mono,
        None => colours_told(),
    };
    let time_zone = zone.0.clone();
    let cell_aspect = terminal::cell_aspect();
    let braille = args.dots.map_or_else(has_braille, |dots| dots == DotsArg::Braille);
    Ok(Options { light, colours, braille, cell_aspect, time_zone, ..Options::default() })
}

/// The palette of a screen of which nothing was said.
pub(super) fn palette() -> Palette {
    Palette { light: Light::default(), colours: colours_told() }
}

fn colours_told() -> Colours {
    colours_of(
        std::env::var("NO_COLOR").is_ok_and(|v| !v.is_empty()),
        &std::env::var("COLORTERM").unwrap_or_default(),
        &std::env::var("TERM").unwrap_or_default(),
    )
}

/// The kernel's own console has a font of 256 signs without braille.
fn has_braille() -> bool {
    std::env::var("TERM").as_deref() != Ok("linux")
}

/// What a terminal reports of its colours, by the usual environment variables.
fn colours_of(no_color: bool, colorterm: &str, term: &str) -> Colours {
    match (no_color, colorterm, term) {
        (true, ..) | (_, _, "dumb") => Colours::Mono,
        (_, "truecolor" | "24bit", _) => Colours::TrueColour,
        (_, _, term) if term.contains("direct") => Colours::TrueColour,
        (_, _, term) if term.contains("256color") => Colours::Cube256,
        _ => Colours::Ansi16,
    }
}

/// `boat.toml`, or its defaults where there is none.
fn read_boat_file(config: Option<&Path>) -> anyhow::Result<BoatFile> {
    match folders::boat(config)? {
        (_, Some(boat)) => Ok(boat),
        (path, None) => {
            note(&format!(
                "There is no {}, so a middling sloop is taken: 10 m long, 1.8 m of draft, the antenna 9 m aft of the \
                 bow, 50 m of chain. Circle and depths are only as right as that. Without --headless, `nightrode \
                 watch` asks for yours and writes the file.",
                path.display()
            ));
            Ok(read_boat("", &path.display().to_string())?.value)
        }
    }
}

/// The feeds of boat.toml and of the command line, each with a name of its own.
fn sources(boat: &BoatFile, entered: &[String]) -> anyhow::Result<Vec<NamedSource>> {
    let mut sources = Vec::new();
    for FeedSource { name, source, .. } in &boat.feeds {
        let source =
            source.parse().with_context(|| format!("The feed {name} of boat.toml cannot be used"))?;
        sources.push(NamedSource { name: name.clone(), source });
    }
    for NamedSource { name, source } in named(entered)? {
        // Named in the file and on the command line it is one feed, by the name in the file.
        if sources.iter().any(|s| s.source == source) {
            continue;
        }
        if sources.iter().any(|s| s.name == name) {
            bail!("Two feeds are called {name}. Give each a name of its own: `{name}2=…`.");
        }
        sources.push(NamedSource { name, source });
    }
    Ok(sources)
}

/// The feeds of the command line: `masthead=udp:10110`, or a source alone, which gets a name by its number.
fn named(entered: &[String]) -> anyhow::Result<Vec<NamedSource>> {
    let read = |(index, text): (usize, &String)| {
        let (name, source) = match text.split_once('=') {
            Some((name, source)) if !name.contains(':') => (name.to_owned(), source),
            _ => (format!("feed{}", index + 1), text.as_str()),
        };
        Ok(NamedSource { name, source: source.parse()? })
    };
    entered.iter().enumerate().map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_feed_that_was_named_goes_into_the_first_boat_file() {
        let entered =
            |texts: &[&str]| named(&texts.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>()).unwrap();
        let written = |texts: &[&str], answered: &str| -> Vec<String> {
            let chosen: Vec<String> = answered.split(' ').map(str::to_owned).collect();
            let feeds = first_feeds(&entered(texts), &chosen);
            feeds.iter().map(|feed| format!("{} {}={}", feed.priority, feed.name, feed.source)).collect()
        };
        assert_eq!(
            written(&["mast=udp:10110", "tcp:host:10111"], "udp:10110"),
            ["0 mast=udp:127.0.0.1:10110", "1 feed2=tcp:host:10111"]
        );
        assert_eq!(
            written(&["mast=udp:10110"], "udp:9"),
            ["0 mast=udp:127.0.0.1:10110", "1 instruments=udp:9"]
        );
        assert_eq!(written(&["file:night.nmea"], "file:night.nmea"), [""; 0], "a recording is no instrument");
        assert_eq!(written(&[], "udp:9"), ["0 instruments=udp:9"]);
        assert_eq!(
            written(&[], "udp:9 udp:10 signalk-wss:mast:3443"),
            ["0 udp=udp:9", "1 udp2=udp:10", "2 signalk-wss=signalk-wss:mast:3443"]
        );
    }

    #[test]
    fn colours_follow_what_the_terminal_says() {
        assert_eq!(colours_of(false, "truecolor", "xterm-256color"), Colours::TrueColour);
        assert_eq!(colours_of(false, "", "xterm-256color"), Colours::Cube256);
        assert_eq!(colours_of(false, "", "linux"), Colours::Ansi16);
        assert_eq!(colours_of(false, "", "xterm"), Colours::Ansi16);
        assert_eq!(colours_of(true, "truecolor", "xterm"), Colours::Mono);
        assert_eq!(colours_of(false, "", "dumb"), Colours::Mono);
    }

    #[test]
    fn feeds_have_names_and_no_two_the_same() {
        let boat = read_boat("", "boat.toml").unwrap().value;
        let entered =
            |texts: &[&str]| sources(&boat, &texts.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>());
        let two = entered(&["masthead=udp:10110", "tcp:localhost:10111"]).unwrap();
        assert_eq!([&*two[0].name, &*two[1].name], ["masthead", "feed2"]);
        assert!(entered(&["a=udp:1", "a=udp:2"]).is_err());
        assert_eq!(entered(&["a=udp:1", "b=udp:1"]).unwrap().len(), 1, "one source is one feed");
        assert!(entered(&["nonsense"]).is_err());
    }
}
