//! `nightrode card`: bearings, depths and limits on paper, for when everything electric is off.

use std::path::PathBuf;

use anyhow::Context as _;
use clap::Args;

use super::output::{may_write, print, undoubted, write};
use crate::edge::clock::Clock;
use crate::edge::folder::{find_unfinished, read_ride_file};
use crate::edge::{card, places};
use crate::report::card::{svg, text};
use crate::report::zone::Zone;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct CardArgs {
    /// The ride's folder; without one, the ride whose anchor is down now.
    #[arg(value_name = "RIDE")]
    pub ride_folder: Option<PathBuf>,
    /// A ride.toml instead of a folder: boat, drop point, rode, tide and limits.
    #[arg(long, value_name = "RIDE.TOML", conflicts_with = "ride_folder")]
    pub ride: Option<PathBuf>,
    /// Folder of the rides, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// Write it as a picture that prints on A4; `-` is standard output.
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write over a file that exists.
    #[arg(long)]
    pub force: bool,
}

pub(super) fn run(args: &CardArgs, Zone(zone): &Zone) -> anyhow::Result<()> {
    let snapshot = match (&args.ride, &args.ride_folder) {
        (Some(path), _) => card::of_file(&undoubted(read_ride_file(path)?), Clock::system().now())?,
        (None, Some(folder)) => card::of_ride(folder)?,
        (None, None) => card::of_ride(&at_anchor(args)?)?,
    };
    match &args.svg {
        None => print(&text(&snapshot, zone)),
        Some(path) => {
            may_write(path, args.force)?;
            write(path, &svg(&snapshot, zone))
        }
    }
}

fn at_anchor(args: &CardArgs) -> anyhow::Result<PathBuf> {
    let rides = match &args.rides {
        Some(rides) => rides.clone(),
        None => {
            places::default_rides().context("No home folder is known here. Name a folder with --rides.")?
        }
    };
    let found = find_unfinished(&rides)?.into_iter().next();
    let found = found.with_context(|| {
        format!(
            "No ride in {} has its anchor down. Name a ride's folder, or a file with --ride.",
            rides.display()
        )
    })?;
    Ok(found.folder)
}
