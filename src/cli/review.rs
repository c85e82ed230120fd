//! `nightrode review`: how well did she hold, by a recorded night?

use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::Args;

use super::output::{is_stdout, may_write, print, undoubted, write};
use super::rides;
use crate::edge::folder::read_ride_file;
use crate::edge::review;
use crate::edge::what_if::Altered;
use crate::report::review::{Review, WhatIfReview, export, html, json, text};
use crate::report::zone::Zone;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct ReviewArgs {
    /// A ride's folder; or logs of NMEA sentences, TAG-block or bare, or GPX tracks, plain or .gz, in any order.
    #[arg(value_name = "LOG|RIDE", required_unless_present = "all")]
    pub log: Vec<PathBuf>,
    /// Compare all rides of the data folder, or of --rides.
    #[arg(long, conflicts_with_all = ["log", "ride", "what_if", "html", "svg", "gpx", "geojson", "csv"])]
    pub all: bool,
    /// Folder of the rides for --all, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES", requires = "all")]
    pub rides: Option<PathBuf>,
    /// What the crew knew: boat, tackle, drop point, tide and limits. Without it the anchor is looked for in her swing.
    #[arg(long, value_name = "RIDE.TOML")]
    pub ride: Option<PathBuf>,
    /// Judge the night again with other settings: radius=45, veered=40, draft=2.1, drop=54.2,10.4, or any limit of
    /// boat.toml, as wind_high_kn=20; several with `;` between them. May be given several times.
    #[arg(long, value_name = "KEY=VALUE")]
    pub what_if: Vec<Altered>,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// Write a page for a browser: pictures and tables in one file; `-` is standard output, here and below.
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Write the plan of the night as a picture.
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write track and marks as GPX.
    #[arg(long, value_name = "FILE")]
    pub gpx: Option<PathBuf>,
    /// Write track, circle and marks as GeoJSON.
    #[arg(long, value_name = "FILE")]
    pub geojson: Option<PathBuf>,
    /// Write a line about every minute as CSV.
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write over files that exist.
    #[arg(long)]
    pub force: bool,
}

pub(super) fn run(args: &ReviewArgs, zone: &Zone) -> anyhow::Result<()> {
    if args.all {
        return rides::compare(args.rides.as_deref(), args.json, zone);
    }
    let files = [&args.html, &args.svg, &args.gpx, &args.geojson, &args.csv];
    let files: Vec<&Path> = files.into_iter().flatten().map(PathBuf::as_path).collect();
    // Before the work, not after it.
    may_write_all(&files, args.force)?;
    let entered = args.ride.as_deref().map(read_ride_file).transpose()?.map(undoubted);
    let mut reviewed = review::review(&args.log, entered.as_ref(), |_| {})?;
    for altered in &args.what_if {
        let review = review::review_altered(&args.log, entered.as_ref(), altered, |_| {})?;
        reviewed.what_if.push(WhatIfReview { asked: altered.to_string(), review: Box::new(review) });
    }
    let reviewed = reviewed.told_in(zone);
    write_files(args, &reviewed)?;
    if args.json {
        return print(&format!("{:#}\n", json(&reviewed)));
    }
    // What goes to standard output must not have a page of text before it.
    if files.iter().any(|file| is_stdout(file)) { Ok(()) } else { print(&text(&reviewed)) }
}

fn write_files(args: &ReviewArgs, review: &Review) -> anyhow::Result<()> {
    if let Some(path) = &args.html {
        write(path, &html::html(review))?;
    }
    if let Some(path) = &args.svg {
        let picture = html::plan_svg(review);
        let picture =
            picture.context("No position was seen, so there is no plan to draw. Leave --svg out.")?;
        write(path, &picture)?;
    }
    if let Some(path) = &args.gpx {
        write(path, &export::gpx(review))?;
    }
    if let Some(path) = &args.geojson {
        write(path, &format!("{:#}\n", export::geojson(review)))?;
    }
    if let Some(path) = &args.csv {
        write(path, &export::csv(review))?;
    }
    Ok(())
}

/// Nothing is written over unasked, and standard output takes one thing.
fn may_write_all(files: &[&Path], force: bool) -> anyhow::Result<()> {
    if files.iter().filter(|path| is_stdout(path)).count() > 1 {
        bail!("Standard output can take one of these only. Name files for the others.");
    }
    files.iter().try_for_each(|path| may_write(path, force))
}
