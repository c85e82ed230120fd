//! `nightrode rides`: the rides that were kept.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use clap::Args;

use super::output::print;
use crate::edge::{places, rides};
use crate::report::rides::{Listed, comparison, json, text};

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

pub(super) fn run(args: &RidesArgs) -> anyhow::Result<()> {
    let listed = listed(args.rides.as_deref())?;
    print(&if args.json { format!("{:#}\n", json(&listed)) } else { text(&listed) })
}

/// `nightrode review --all`.
pub(super) fn compare(folder: Option<&Path>, as_json: bool) -> anyhow::Result<()> {
    let listed = listed(folder)?;
    print(&if as_json { format!("{:#}\n", json(&listed)) } else { comparison(&listed) })
}

fn listed(folder: Option<&Path>) -> anyhow::Result<Vec<Listed>> {
    let folder = match folder {
        Some(folder) => folder.to_owned(),
        None => {
            places::default_rides().context("No home folder is known here. Name a folder with --rides.")?
        }
    };
    rides::list(&folder).with_context(|| {
        format!("The rides in {} cannot be listed. Name their folder with --rides", folder.display())
    })
}
