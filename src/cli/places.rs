//! `nightrode places`: the book of anchorages; `nightrode checks`: what to look at before.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::{Args, Subcommand, ValueEnum};

use super::folders;
use super::output::{may_write, note, print, write};
use crate::edge::book::Book;
use crate::edge::clock::Clock;
use crate::edge::files::read_text;
use crate::edge::places;
use crate::edge::recorded::waypoints;
use crate::report::places::{from_geojson, geojson, gpx, list, page, sketch};
use crate::report::zone::Zone;
use crate::watch::checks::CheckList;
use crate::watch::geo::Position;
use crate::watch::place::{Day, Place};
use crate::watch::units::WatchTime;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct PlacesArgs {
    /// Folder of the rides, beside which the book lies, instead of the platform's own.
    #[arg(long, global = true, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// What to do; without it the places are listed.
    #[command(subcommand)]
    pub act: Option<Act>,
}

/// What to do with the book.
#[derive(Clone, Debug, PartialEq, Subcommand)]
pub enum Act {
    /// A line a place.
    List,
    /// All that is known of a place.
    Show {
        /// Its name, or how it begins.
        name: String,
        /// Draw it as a sketch that prints on A4; `-` is standard output.
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// Write over a file that exists.
        #[arg(long)]
        force: bool,
    },
    /// Write a new place.
    New {
        /// Its name.
        name: String,
        /// Degrees of latitude and longitude, south and west negative: 54.2,10.4.
        #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
        at: String,
    },
    /// Take places from a GPX file (waypoints) or GeoJSON (points with a name).
    Import {
        /// The file.
        file: PathBuf,
    },
    /// Print all places as GPX or GeoJSON.
    Export {
        /// As what.
        format: Format,
    },
}

/// A format of other programs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// GPX 1.1.
    Gpx,
    /// GeoJSON, RFC 7946.
    Geojson,
}

pub(super) fn run(args: &PlacesArgs, zone: &Zone) -> anyhow::Result<()> {
    let rides = match &args.rides {
        Some(rides) => rides.clone(),
        None => {
            places::default_rides().context("No home folder is known here. Name a folder with --rides.")?
        }
    };
    let book = Book::beside(&rides);
    let (entries, wrong) = book.entries();
    wrong.iter().for_each(|why| note(&why.to_string()));
    let all: Vec<Place> = entries.into_iter().map(|entry| entry.place).collect();
    match args.act.as_ref().unwrap_or(&Act::List) {
        Act::List => print(&list(&all)),
        Act::Show { name, svg, force } => {
            let begins = |place: &&Place| place.name.to_lowercase().starts_with(&name.to_lowercase());
            let place = all.iter().find(begins);
            let place = place.with_context(|| format!("No place of the book is called {name}."))?;
            let now = Clock::system().now();
            let today = Day::of(WatchTime(now.0 + zone.ahead_ms(now)));
            match svg {
                None => print(&page(place, today)),
                Some(path) => {
                    may_write(path, *force)?;
                    write(path, &sketch(place, today))
                }
            }
        }
        Act::New { name, at } => {
            let position = position(at).with_context(|| {
                format!("{at} is no position. Write degrees, as 54.2,10.4; south and west are negative")
            })?;
            add(&book, &Place::new(name, position))
        }
        Act::Import { file } => {
            let found = import(file)?;
            if found.is_empty() {
                bail!("{} holds no named point, so nothing was taken.", file.display());
            }
            found.iter().try_for_each(|place| add(&book, place))
        }
        Act::Export { format: Format::Gpx } => print(&gpx(&all)),
        Act::Export { format: Format::Geojson } => print(&format!("{:#}\n", geojson(&all))),
    }
}

fn add(book: &Book, place: &Place) -> anyhow::Result<()> {
    match book.add(place) {
        Ok(path) => note(&format!("{} written", path.display())),
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            note(&format!("{} is in the book already and is left as it is.", place.name));
        }
        Err(error) => return Err(error).context("The book of places cannot be written"),
    }
    Ok(())
}

fn import(file: &Path) -> anyhow::Result<Vec<Place>> {
    let unreadable = || format!("{} cannot be read", file.display());
    let text = read_text(file).with_context(unreadable)?;
    if text.trim_start().starts_with('{') {
        return from_geojson(&text).with_context(unreadable);
    }
    waypoints(&text).with_context(unreadable)
}

fn position(text: &str) -> Option<Position> {
    let (lat, lon) = text.split_once(',')?;
    Position::new(lat.trim().parse().ok()?, lon.trim().parse().ok()?).ok()
}

/// The arguments of `checks`.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct ChecksArgs {
    /// Which list; all of them without it.
    pub which: Option<Which>,
}

/// A check list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Which {
    /// Before letting go.
    Before,
    /// Before leaving her.
    Leaving,
    /// Before weighing.
    Weighing,
}

/// Prints check lists.
pub(super) fn checks(args: &ChecksArgs, config: Option<&Path>) -> anyhow::Result<()> {
    let checks = folders::checks(config)?;
    let wanted = |list: &CheckList| args.which.is_none_or(|which| which.list() == *list);
    let mut out = String::new();
    for list in CheckList::ALL.into_iter().filter(wanted) {
        out.push_str(list.title());
        out.push('\n');
        checks.of(list).iter().for_each(|line| out.push_str(&format!("  [ ] {line}\n")));
    }
    print(&out)
}

impl Which {
    const fn list(self) -> CheckList {
        match self {
            Self::Before => CheckList::Before,
            Self::Leaving => CheckList::Leaving,
            Self::Weighing => CheckList::Weighing,
        }
    }
}
