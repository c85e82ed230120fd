//! `nightrode plan`: a page on what to veer, from flags, from a file, or from both.

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};
use jiff::Timestamp;
use jiff::tz::Offset;

use super::flags::{Spot, mark, neighbour, seabed, shore, slope, snubber, utc_offset, way_out};
use super::folders;
use super::known_place::with_known_place;
use super::output::{note, print, undoubted};
use super::watch::palette;
use super::wind_file::with_wind_file;
use crate::config::{plan_toml, read_plan};
use crate::edge::files::read_text;
use crate::edge::terminal;
use crate::report::plan::{Heading, json, text, unbroken};
use crate::tui::plan_form::{PlanForm, Step};
use crate::watch::boat::{Boat, Sector, Settings, ranges};
use crate::watch::geo::Position;
use crate::watch::plan::{Asked, AskedError, Now, OtherBoat, Plan, Snubber, TideAsked, WindFile};
use crate::watch::rode::Seabed;
use crate::watch::room::Mark;
use crate::watch::slope::Slope;
use crate::watch::tide::stations::Stations;
use crate::watch::tide::turns::Rule;
use crate::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use crate::watch::way_out::WayOut;

/// The flags. Each has its key in plan.toml, over which it goes.
#[derive(Args, Debug, Default)]
pub struct PlanArgs {
    /// Read the plan from this file; a flag overrides it.
    #[arg(long, value_name = "PLAN.TOML")]
    pub file: Option<PathBuf>,
    /// Depth from the surface: metres, or feet as in 15ft.
    #[arg(long, value_name = "M", value_parser = |text: &str| ranges::plan::DEPTH_M.read(text))]
    pub depth: Option<f64>,
    /// When that depth was sounded: 18:30, or with its day [default: now].
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// When you mean to leave [default: twelve hours later].
    #[arg(long, value_name = "TIME")]
    pub until: Option<String>,
    /// High and low waters from the local table: "HW 20:10 4.8, LW 02:25 0.9".
    #[arg(long, value_name = "TABLE", conflicts_with = "station")]
    pub tide: Option<String>,
    /// A bundled tide station, by its id. See --near.
    #[arg(long, value_name = "ID")]
    pub station: Option<String>,
    /// Where she is to lie: 50.20,-3.77. Without --station lists the nearest tide stations, and does nothing else.
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub near: Option<Spot>,
    /// The rule between typed high and low waters [default: cosine].
    #[arg(long, value_name = "RULE")]
    pub tide_rule: Option<TideRule>,
    /// The typed tide is right, though its turns are less than 3 or more than 9 hours apart.
    #[arg(long)]
    pub odd_tide_meant: bool,
    /// Mean wind expected, knots.
    #[arg(long, value_name = "KN", value_parser = |text: &str| ranges::plan::WIND_KN.read(text))]
    pub wind: Option<f64>,
    /// Gusts expected, knots [default: 1.4 times the mean].
    #[arg(long, value_name = "KN", value_parser = |text: &str| ranges::plan::GUST_KN.read(text))]
    pub gust: Option<f64>,
    /// Where the wind comes from, degrees true.
    #[arg(long, value_name = "DEG", value_parser = |text: &str| ranges::plan::WIND_FROM_DEG.read(text))]
    pub wind_from: Option<f64>,
    /// Wind by the hour from the forecast: "18: SW 15 g22, 00: W 25 g35, 04: NW 18".
    #[arg(long, value_name = "LINE")]
    pub wind_by_hour: Option<String>,
    /// The same from a GRIB2 file that you have; with --position.
    #[arg(long, value_name = "FILE", conflicts_with = "wind_by_hour")]
    pub wind_file: Option<PathBuf>,
    /// Where the anchor is to lie, for the wind of a file: 50.20,-3.77.
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub position: Option<Spot>,
    /// Land or shoal water, as two bearings from the anchor, clockwise: 020-110. May be repeated.
    #[arg(long, value_name = "FROM-TO", value_parser = shore)]
    pub shore: Vec<Sector>,
    /// Your way out: the true course that is safe from there, and how far in nautical miles: 140,0.4.
    #[arg(long, value_name = "COURSE,NM", value_parser = way_out)]
    pub way_out: Option<WayOut>,
    /// Greatest rate of the stream, knots [default: 0].
    #[arg(long, value_name = "KN", value_parser = |text: &str| ranges::plan::STREAM_KN.read(text))]
    pub stream: Option<f64>,
    /// How far she sheers to each side, degrees [default: 40; under 8 m 60; more than one
    /// hull 52, on a bridle 41].
    #[arg(long, value_name = "DEG", value_parser = |text: &str| ranges::plan::SHEER_DEG.read(text))]
    pub sheer: Option<f64>,
    /// She rides to a bridle: of more than one hull.
    #[arg(long)]
    pub bridle: bool,
    /// Open water by direction, in sea miles: "SW 2, W 0.5, 330 1"; one figure is all round.
    #[arg(long, value_name = "FETCH")]
    pub fetch: Option<String>,
    /// Depth of that water: metres, or feet as in 30ft [default: deep].
    #[arg(long, value_name = "M", value_parser = |text: &str| ranges::plan::FETCH_DEPTH_M.read(text))]
    pub fetch_depth: Option<f64>,
    /// How the bottom slopes: where it falls to, degrees, and by how much in 100: 120,5.
    #[arg(long, value_name = "DEG,PERCENT", value_parser = slope)]
    pub slope: Option<Slope>,
    /// What you think of veering: metres, or feet as in 100ft [default: what is advised].
    #[arg(long, value_name = "M", value_parser = |text: &str| ranges::VEERED_ENTERED_M.read(text))]
    pub veer: Option<f64>,
    /// The bottom.
    #[arg(long, value_name = "BOTTOM", value_parser = seabed)]
    pub seabed: Option<Seabed>,
    /// A nylon snubber, millimetres by metres: 12x6.
    #[arg(long, value_name = "MMxM", value_parser = snubber)]
    pub snubber: Option<Snubber>,
    /// A mark to keep clear of, from where the anchor is to lie: NAME,BEARING,DISTANCE[,EXTENT]. May be repeated.
    #[arg(long, value_name = "MARK", value_parser = mark)]
    pub mark: Vec<Mark>,
    /// A boat near by: BEARING,DISTANCE,LENGTH,chain|rope|mooring|METRES OUT. May be repeated.
    #[arg(long, value_name = "BOAT", value_parser = neighbour)]
    pub neighbour: Vec<OtherBoat>,
    /// Name of the place.
    #[arg(long, value_name = "NAME")]
    pub place: Option<String>,
    /// Sizes that look like feet are metres all the same.
    #[arg(long)]
    pub metres_meant: bool,
    /// How far your clock is ahead of UTC: +1, -3:30 [default: this computer's].
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true, value_parser = utc_offset)]
    pub utc_offset: Option<Offset>,
    /// Folder of the rides, beside which the book of places lies, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// Calculate as if it were this moment, for tests.
    #[arg(long, hide = true, value_name = "TIME")]
    pub now: Option<Timestamp>,
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
    /// Ask on the screen, with the other flags already filled in; so too if nothing at all is said in a terminal.
    #[arg(long, conflicts_with_all = ["json", "near"])]
    pub ask: bool,
}

/// How heights between typed turns are found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum TideRule {
    /// Half a cosine wave.
    Cosine,
    /// The rule of twelfths.
    Twelfths,
}

impl PlanArgs {
    /// The answers: those of the flags, else those of the file.
    fn over(&self, mut asked: Asked) -> Asked {
        fn put<T>(answer: &mut Option<T>, flag: Option<T>) {
            if flag.is_some() {
                *answer = flag;
            }
        }
        put(&mut asked.place, self.place.clone());
        put(&mut asked.depth, self.depth.map(Metres));
        put(&mut asked.at, self.at.clone());
        put(&mut asked.until, self.until.clone());
        put(&mut asked.wind, self.wind.map(Knots));
        put(&mut asked.gust, self.gust.map(Knots));
        put(&mut asked.wind_from, self.wind_from.filter(|deg| deg.is_finite()).map(TrueBearing::new));
        put(&mut asked.winds, self.wind_by_hour.clone());
        if let Some(path) = &self.wind_file {
            asked.winds = None;
            asked.wind_file = Some(WindFile { path: path.display().to_string(), position: None, read: None });
        }
        if let Some(Spot(position)) = self.position.or(self.near) {
            asked.here = Some(position);
            if let Some(file) = &mut asked.wind_file {
                file.position = Some(position);
            }
        }
        asked.shore.extend(self.shore.iter().copied());
        put(&mut asked.way_out, self.way_out);
        put(&mut asked.stream, self.stream.map(Knots));
        put(&mut asked.sheer_deg, self.sheer);
        put(&mut asked.veered, self.veer.map(Metres));
        put(&mut asked.seabed, self.seabed);
        put(&mut asked.snubber, self.snubber);
        if let Some(table) = &self.tide {
            asked.tide = TideAsked::Typed(table.clone());
        }
        if let Some(id) = &self.station {
            asked.tide = TideAsked::Station(id.clone());
        }
        if let Some(rule) = self.tide_rule {
            asked.rule = match rule {
                TideRule::Cosine => Rule::Cosine,
                TideRule::Twelfths => Rule::Twelfths,
            };
        }
        asked.odd_tide_meant |= self.odd_tide_meant;
        put(&mut asked.fetch, self.fetch.clone());
        put(&mut asked.fetch_depth, self.fetch_depth.map(Metres));
        put(&mut asked.slope, self.slope);
        asked.bridle |= self.bridle;
        asked.metres_meant |= self.metres_meant;
        asked.marks.extend(self.mark.iter().cloned());
        asked.others.extend(self.neighbour.iter().copied());
        asked
    }
}

pub(super) fn run(args: &PlanArgs, config: Option<&Path>, utc: bool) -> anyhow::Result<()> {
    if let Some(Spot(position)) = args.near.filter(|_| args.station.is_none()) {
        return print(&stations_near(position)?);
    }
    let utc_offset = args.utc_offset.or(utc.then_some(Offset::UTC));
    let (settings, asked) = entered(args, config)?;
    if args.ask || (asked == Asked::default() && !args.json && in_a_terminal()) {
        return ask(asked, &settings, args.rides.as_ref(), || now(args.now, utc_offset));
    }
    let now = now(args.now, utc_offset);
    let (asked, taken) = with_known_place(asked, args.rides.as_ref());
    if let Some(words) = taken {
        note(&words);
    }
    let asked = with_wind_file(asked, now)?;
    let inputs = asked.inputs(&settings, now)?;
    let plan = Plan::make(&inputs)?;
    let heading = heading(&asked, now);
    if args.json {
        let page = serde_json::to_string_pretty(&json(&inputs, &plan, &heading))?;
        print(&format!("{page}\n"))
    } else {
        print(&text(&inputs, &plan, &heading))
    }
}

fn heading(asked: &Asked, now: Now) -> Heading {
    let utc_offset = Span::from_secs(i64::from(now.utc_offset.seconds()));
    Heading { place: asked.place.clone(), utc_offset }
}

/// The page for answers; the form breaks it to fit.
fn page(asked: &Asked, settings: &Settings, now: Now) -> Result<String, AskedError> {
    let asked = &with_wind_file(asked.clone(), now)?;
    let inputs = asked.inputs(settings, now)?;
    let plan = Plan::make(&inputs)?;
    Ok(unbroken(&inputs, &plan, &heading(asked, now)))
}

fn in_a_terminal() -> bool {
    std::io::stdin().is_terminal() && std::io::stdout().is_terminal()
}

/// Asks on the screen. The last page stays in the terminal when the screen is left.
fn ask(
    asked: Asked,
    settings: &Settings,
    rides: Option<&PathBuf>,
    now: impl Fn() -> Now,
) -> anyhow::Result<()> {
    if !in_a_terminal() {
        bail!(
            "There is no terminal to ask on. Give the depth (--depth) and the wind expected (--wind) instead."
        );
    }
    let boat = &settings.boat.name;
    let whose = if boat == &Boat::default().name { "a sloop of 10 m".to_owned() } else { boat.clone() };
    let form = PlanForm::new(asked, &whose, palette());
    let mut last = None;
    terminal::ask_plan(form, |step, form| match step {
        Step::Calculate(asked) => {
            let page = page(&with_known_place(*asked, rides).0, settings, now());
            form.answer(page.as_deref());
            last = page.ok().or(last.take());
        }
        Step::Write(asked) => form.report(match write_plan(&asked) {
            Ok(()) => format!("Written to {WRITTEN_TO}. nightrode plan --file {WRITTEN_TO} reads it."),
            Err(error) => error,
        }),
        Step::Leave => {}
    })
    .context("The terminal cannot be drawn on or read")?;
    last.map_or(Ok(()), |page| print(&page))
}

/// Where a plan is written to, in the folder that the program was started in.
const WRITTEN_TO: &str = "plan.toml";

/// Writes answers where no file is yet: nothing is lost by a key.
fn write_plan(asked: &Asked) -> Result<(), String> {
    use std::io::Write as _;
    let file = std::fs::OpenOptions::new().write(true).create_new(true).open(WRITTEN_TO);
    file.and_then(|mut file| file.write_all(plan_toml(asked).as_bytes())).map_err(|error| {
        match error.kind() {
            std::io::ErrorKind::AlreadyExists => {
                format!("{WRITTEN_TO} is there already, and stays as it is. Move it away first.")
            }
            _ => format!("{WRITTEN_TO} cannot be written: {error}."),
        }
    })
}

/// The boat and the answers, from flags and files. What looks odd in a file is reported on standard error.
fn entered(args: &PlanArgs, config: Option<&Path>) -> anyhow::Result<(Settings, Asked)> {
    let plan = match &args.file {
        Some(path) => undoubted(read_plan(&read_file(path)?, &path.display().to_string())?),
        None => crate::config::PlanFile::default(),
    };
    let settings = match plan.settings {
        Some(settings) => settings,
        None => boat(config)?,
    };
    Ok((settings, args.over(plan.asked)))
}

/// The boat of `boat.toml`; without it a middling sloop, which is said.
fn boat(config: Option<&Path>) -> anyhow::Result<Settings> {
    let (path, boat) = folders::boat(config)?;
    Ok(boat.map_or_else(
        || {
            note(&format!(
                "No {} found: calculated for a sloop of 10 m with 50 m of 8 mm chain. Describe yours there.",
                path.display()
            ));
            Settings::default()
        },
        |boat| boat.settings,
    ))
}

fn read_file(path: &Path) -> anyhow::Result<String> {
    read_text(path).with_context(|| format!("{} cannot be read", path.display()))
}

fn now(entered: Option<Timestamp>, utc_offset: Option<Offset>) -> Now {
    let now = entered.unwrap_or_else(Timestamp::now);
    let at = WatchTime(now.as_millisecond());
    let utc_offset = utc_offset.unwrap_or_else(|| jiff::tz::TimeZone::system().to_offset(now));
    Now { at, utc_offset }
}

/// How many stations are offered.
const STATIONS_OFFERED: usize = 8;

fn stations_near(position: Position) -> anyhow::Result<String> {
    let stations = Stations::bundled()?;
    let mut page =
        String::from("Tide stations near by. Choose one with --station ID; none may be like your place.\n");
    for near in stations.nearest(position, STATIONS_OFFERED) {
        let miles = near.distance.0 / 1852.0;
        let station = near.station;
        page.push_str(&format!("  {miles:>6.1} M  {}  {:<24} {}\n", near.bearing, station.id, station.name));
    }
    Ok(page)
}

#[cfg(test)]
mod tests {
    use clap::Parser as _;

    use super::*;
    use crate::cli::{Cli, Command};
    use crate::watch::room::RidesTo;

    fn parsed(args: &[&str]) -> Result<PlanArgs, String> {
        let all = ["nightrode", "plan"].into_iter().chain(args.iter().copied());
        match Cli::try_parse_from(all).map_err(|error| error.to_string())?.command {
            Command::Plan(args) => Ok(*args),
            other => Err(format!("{other:?}")),
        }
    }

    #[test]
    fn flags_go_over_the_file() {
        let args = parsed(&["--wind", "25", "--neighbour", "120,60,12,rope", "--seabed", "mud"]).unwrap();
        let file = Asked { depth: Some(Metres(4.0)), wind: Some(Knots(15.0)), ..Asked::default() };
        let asked = args.over(file);
        assert_eq!((asked.depth, asked.wind), (Some(Metres(4.0)), Some(Knots(25.0))));
        assert_eq!((asked.seabed, asked.others[0].rides_to), (Some(Seabed::Mud), RidesTo::Rope));
    }

    #[test]
    fn every_length_is_read_in_metres_or_feet_with_a_point_or_a_comma() {
        let close = |read: Metres, m: f64| assert!((read.0 - m).abs() < 1e-9, "{read:?} {m}");
        let asked = |args: &[&str]| parsed(args).unwrap().over(Asked::default());
        close(asked(&["--depth", "15ft"]).depth.unwrap(), 4.572);
        close(asked(&["--depth", "4,5 m"]).depth.unwrap(), 4.5);
        close(asked(&["--veer", "100'"]).veered.unwrap(), 30.48);
        close(asked(&["--snubber", "12x20ft"]).snubber.unwrap().length, 6.096);
        let mark = &asked(&["--mark", "Perch rock,050,100ft,10ft"]).marks[0];
        close(mark.distance, 30.48);
        close(mark.extent, 3.048);
        let boat = asked(&["--neighbour", "120,200ft,40ft,150ft"]).others[0];
        close(boat.distance, 60.96);
        close(boat.loa, 12.192);
        assert_eq!(boat.rides_to, RidesTo::Entered(Metres::read("150ft").unwrap()));
    }

    #[test]
    fn slips_in_a_flag_are_answered_with_an_example() {
        for (args, entered) in [
            (["--mark", "rock"], "Perch rock,050,38,3"),
            (["--mark", "rock,x,2"], "Perch rock,050,38,3"),
            (["--neighbour", "120,60"], "120,60,12,rope"),
            (["--neighbour", "120,60,NaN,rope"], "120,60,12,rope"),
            (["--snubber", "12"], "12x6"),
            (["--seabed", "jelly"], "one of sand, loose-sand"),
            (["--utc-offset", "+15"], "+1, 0, -3:30"),
            (["--near", "91,0"], "50.20,-3.77"),
            (["--depth", "deep"], "is not a number. Write 0.1 to 300 m."),
            (["--depth", "400"], "is out of range. Write 0.1 to 300 m."),
            (["--wind", "15ft"], "is not a number. Write 0 to 150 kn."),
        ] {
            let error = parsed(&args).unwrap_err();
            assert!(error.contains(entered), "{args:?}: {error}");
        }
    }

    #[test]
    fn a_clock_may_be_half_an_hour_west() {
        assert_eq!(parsed(&["--utc-offset", "-3:30"]).unwrap().utc_offset.unwrap().seconds(), -12_600);
        assert_eq!(parsed(&["--utc-offset", "-0:30"]).unwrap().utc_offset.unwrap().seconds(), -1800);
        assert_eq!(parsed(&["--utc-offset", "+5:45"]).unwrap().utc_offset.unwrap().seconds(), 20_700);
    }

    #[test]
    fn two_tides_at_once_are_refused() {
        assert!(parsed(&["--tide", "HW 20:10 4.8", "--station", "x"]).is_err());
    }
}
