//! `nightrode rides`: the rides that were kept.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use clap::Args;

use super::output::print;
use crate::edge::{places, rides};
use crate::report::rides::{Listed, comparison, json, text};
use crate::report::zone::Zone;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct RidesArgs {
    /// Folder of the rides, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

pub(super) fn run(args: &RidesArgs, zone: &Zone) -> anyhow::Result<()> {
    let listed = listed(args.rides.as_deref(), zone)?;
    print(&if args.json { format!("{:#}\n", json(&listed)) } else { text(&listed) })
}

/// `nightrode review --all`.
pub(super) fn compare(folder: Option<&Path>, as_json: bool, zone: &Zone) -> anyhow::Result<()> {
    let listed = listed(folder, zone)?;
    print(&if as_json { format!("{:#}\n", json(&listed)) } else { comparison(&listed) })
}

fn listed(folder: Option<&Path>, zone: &Zone) -> anyhow::Result<Vec<Listed>> {
    let folder = match folder {
        Some(folder) => folder.to_owned(),
        None => {
            places::default_rides().context("No home folder is known here. Name a folder with --rides.")?
        }
    };
    let mut listed = rides::list(&folder).with_context(|| {
        format!("The rides in {} cannot be listed. Name their folder with --rides", folder.display())
    })?;
    for ride in &mut listed {
        ride.review = ride.review.take().map(|review| Box::new(review.told_in(zone)));
    }
    Ok(listed)
}
