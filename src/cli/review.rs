//! `nightrode review`: how well did she hold, by a recorded night?

use std::path::PathBuf;

use clap::Args;

use super::output::{print, undoubted};
use crate::edge::folder::read_ride_file;
use crate::edge::review;
use crate::report::review::{json, text};

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct ReviewArgs {
    /// A ride's folder, or a log of NMEA sentences: TAG-block or bare, plain or .gz.
    #[arg(value_name = "LOG|RIDE")]
    pub log: PathBuf,
    /// What the crew knew: boat, tackle, drop point, tide and limits. Without it the anchor is looked for in her swing.
    #[arg(long, value_name = "RIDE.TOML")]
    pub ride: Option<PathBuf>,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

pub(super) fn run(args: &ReviewArgs) -> anyhow::Result<()> {
    let told = args.ride.as_deref().map(read_ride_file).transpose()?.map(undoubted);
    let review = review::review(&args.log, told.as_ref(), |_| {})?;
    if args.json { print(&format!("{:#}\n", json(&review))) } else { print(&text(&review)) }
}
