//! What is kept of a ride, and how is it read again?
//!
//! A ride is a folder `<UTC start>-<place>/` of three files, documented in `docs/sailing/files.md`: `ride.toml`,
//! `night.nmea` (every received line as it came, behind a TAG block) and `journal.jsonl` (everything else that went
//! into the watch, and every change of an alert). [`Recorder`] writes them on a thread of its own, so that a slow,
//! full or vanished disk never delays the watch; [`RideReader`] reads them back in the order in which they happened.
//!
//! # Order
//! Night and journal are merged by time, the journal first where times are equal. That is the order in which the
//! watch saw them if every event is stamped later than any line before it: [`Stamper`] does so.

pub mod disk;
mod facts;
pub mod find;
pub mod journal;
mod lock;
pub mod reader;
pub mod recorder;
mod seal;
mod tail;
mod writer;

use std::io;
use std::path::{Path, PathBuf};

use crate::config::{Problems, Read, RideFile, read_ride};
use crate::watch::units::{Span, WatchTime};
pub use disk::{Disk, Shelf, own_disk};
pub use facts::{Facts, read_facts};
pub use find::{Unfinished, find_unfinished, find_unfinished_on};
pub use journal::{Header, timestamp};
pub use reader::{Entry, Recorded, RideReader};
pub use recorder::{Hand, Recorder, Resumed, Turned};

/// Name of the log of received lines.
pub const NIGHT: &str = "night.nmea";
/// Name of the journal.
pub const JOURNAL: &str = "journal.jsonl";
/// Name of the ride's facts.
pub const RIDE: &str = "ride.toml";

/// What can keep a ride from being read or taken up again.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// Another watch writes it.
    #[error(
        "Another watch{} keeps the ride in {}, perhaps one whose terminal was closed. Two would disagree. End it{}, then start \
         again: this ride is taken up with its alerts. `--anew` begins another beside it.",
        .process.map_or_else(String::new, |id| format!(" (process {id})")),
        .folder.display(),
        .process.map_or_else(String::new, |id| format!(" with `kill {id}`"))
    )]
    Held {
        /// The ride's folder.
        folder: PathBuf,
        /// The other watch's process, if it said so.
        process: Option<u32>,
    },
    /// The operating system refused.
    #[error("{} cannot be read or written ({source})", .path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What it said.
        source: io::Error,
    },
    /// Its `ride.toml` is wrong.
    #[error("{0}")]
    Ride(Problems),
    /// A later version of this program wrote it.
    #[error("{} was written by version {version}, which keeps its journal in format {format}; this one reads format {}: use the newer program", .path.display(), journal::FORMAT)]
    Newer {
        /// The journal.
        path: PathBuf,
        /// Its format.
        format: u32,
        /// The version that wrote it.
        version: String,
    },
    /// Its journal says a format that no version has.
    #[error(
        "{} says format {format:?}, which no version of this program writes: it is damaged. Look at it, or begin another \
         ride beside it with `--anew`",
        .path.display()
    )]
    NoFormat {
        /// The journal.
        path: PathBuf,
        /// What stands there.
        format: String,
    },
    /// The newest unfinished ride cannot be read at all.
    #[error(
        "The newest ride, {}, was not ended, and cannot be taken up: {why}. Nothing watches until you decide: mend it, or \
         begin another beside it with `--anew`.",
        .folder.display()
    )]
    CannotTakeUp {
        /// The ride's folder.
        folder: PathBuf,
        /// Why, in words.
        why: String,
    },
}

impl FolderError {
    fn io(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        |source| Self::Io { path: path.to_owned(), source }
    }
}

/// Reads a ride's `ride.toml`.
///
/// # Errors
/// If it cannot be read, or is wrong.
pub fn read_ride_file(path: &Path) -> Result<Read<RideFile>, FolderError> {
    let text = facts::read_text(own_disk().as_ref(), path).map_err(FolderError::io(path))?;
    let text = String::from_utf8(text)
        .map_err(|_| FolderError::io(path)(io::Error::new(io::ErrorKind::InvalidData, "it is no text")))?;
    read_ride(&text, &path.display().to_string()).map_err(FolderError::Ride)
}

/// Name of a ride's folder: `20260602T200200Z-hollow-ness`. What does not belong in a file's name becomes a dash.
#[must_use]
pub fn folder_name(start: WatchTime, place: &str) -> String {
    let stamp: String = timestamp(start).chars().filter(|c| !"-:".contains(*c)).collect();
    let seconds = stamp.split('.').next().unwrap_or_default();
    format!("{seconds}Z-{}", plain(place))
}

/// A place as part of a file's name: letters and digits of any script, dashes between, at most 40 characters.
fn plain(place: &str) -> String {
    let spaced: String = place.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let name: String = words.join("-").to_lowercase().chars().take(40).collect();
    let name = name.trim_end_matches('-');
    if name.is_empty() { "anchorage".into() } else { name.to_owned() }
}

/// Stamps inputs so that the order in which they were stamped can be read from the files: time never runs
/// backwards, and an event is later than every line before it.
#[derive(Clone, Copy, Debug)]
pub struct Stamper {
    last: WatchTime,
    last_line: WatchTime,
}

impl Stamper {
    /// Nothing will be stamped before `start`.
    #[must_use]
    pub fn new(start: WatchTime) -> Self {
        Self { last: start, last_line: start }
    }

    /// The stamp of a line, or of a tick, that arrives when the clock says `now`.
    pub fn line(&mut self, now: WatchTime) -> WatchTime {
        self.last = self.last.max(now);
        self.last_line = self.last;
        self.last
    }

    /// The stamp of an event that arrives when the clock says `now`.
    pub fn event(&mut self, now: WatchTime) -> WatchTime {
        self.last = self.last.max(now).max(self.last_line + Span(1));
        self.last
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_named_by_its_start_and_place() {
        let start = WatchTime(1_780_430_520_123);
        assert_eq!(folder_name(start, "Hollow Ness"), "20260602T200200Z-hollow-ness");
        assert_eq!(folder_name(start, "../Sør-Øya: 3 m/"), "20260602T200200Z-sør-øya-3-m");
        assert_eq!(folder_name(start, " \n/."), "20260602T200200Z-anchorage");
    }

    #[test]
    fn an_event_is_stamped_later_than_the_lines_before_it_and_nothing_runs_backwards() {
        let mut stamper = Stamper::new(WatchTime(100));
        let stamps = [
            stamper.line(WatchTime(50)),
            stamper.line(WatchTime(120)),
            stamper.event(WatchTime(120)),
            stamper.event(WatchTime(90)),
            stamper.line(WatchTime(121)),
            stamper.event(WatchTime(121)),
        ];
        assert_eq!(stamps.map(|stamp| stamp.0), [100, 120, 121, 121, 121, 122]);
    }

    #[test]
    fn one_ride_has_one_watch() {
        let folder = tempfile::tempdir().unwrap();
        let disk = own_disk();
        let held = lock::lock(&disk, folder.path()).unwrap();
        assert!(matches!(lock::lock(&disk, folder.path()), Err(FolderError::Held { .. })));
        assert!(lock::is_held(&disk, folder.path()));
        drop(held);
        lock::lock(&disk, folder.path()).unwrap();
    }
}
