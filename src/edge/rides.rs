//! All rides of a folder, each reviewed, on all cores.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::folder::{JOURNAL, NIGHT, find_unfinished};
use super::progress::Progress;
use super::review::review_one_of_many;
use crate::report::rides::{Listed, State};

/// Every ride of the folder, the latest first. One that cannot be read is listed with the reason: none fails the
/// others. A folder that is not there holds none.
///
/// # Errors
/// If the folder cannot be read.
pub fn list(rides: &Path) -> io::Result<Vec<Listed>> {
    let entries = match fs::read_dir(rides) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut folders: Vec<PathBuf> =
        entries.flatten().map(|entry| entry.path()).filter(|path| is_ride(path)).collect();
    // Names begin with the UTC start.
    folders.sort_by(|a, b| b.file_name().cmp(&a.file_name()));
    let unfinished: Vec<PathBuf> =
        find_unfinished(rides).unwrap_or_default().into_iter().map(|ride| ride.folder).collect();
    let progress = Progress::new("rides", folders.len() as u64);
    Ok(folders
        .par_iter()
        .map(|folder| {
            let listed = listed(folder, unfinished.contains(folder));
            progress.add(1);
            listed
        })
        .collect())
}

fn is_ride(path: &Path) -> bool {
    path.is_dir() && [NIGHT, JOURNAL].iter().any(|name| path.join(name).exists())
}

fn listed(folder: &Path, is_unfinished: bool) -> Listed {
    let name = folder.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    match review_one_of_many(folder) {
        Ok(mut review) => {
            // A table needs no pictures, and a season of rides would hold many.
            (review.samples, review.track) = (Vec::new(), Vec::new());
            let state = if is_unfinished { State::Unfinished } else { State::Ended };
            Listed { name, state, review: Some(Box::new(review)) }
        }
        Err(error) => Listed { name, state: State::Damaged { why: error.to_string() }, review: None },
    }
}
