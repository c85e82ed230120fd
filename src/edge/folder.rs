//! What is kept of a ride, and how is it read again?
//!
//! A ride is a folder `<UTC start>-<place>/` of three files, documented in `docs/files.md`: `ride.toml`,
//! `night.nmea` (every received line as it came, behind a TAG block) and `journal.jsonl` (everything else that went
//! into the watch, and every change of an alert). [`Recorder`] writes them on a thread of its own, so that a slow,
//! full or vanished disk never delays the watch; [`RideReader`] reads them back in the order in which they happened.
//!
//! # Order
//! Night and journal are merged by time, the journal first where times are equal. That is the order in which the
//! watch saw them if every event is stamped later than any line before it: [`Stamper`] does so.

pub mod find;
pub mod journal;
pub mod reader;
pub mod recorder;
mod tail;
mod writer;

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use crate::config::{Problems, Read, RideFile, read_ride};
use crate::watch::units::{Span, WatchTime};
pub use find::{Unfinished, find_unfinished};
pub use journal::{Header, timestamp};
pub use reader::{Entry, Recorded, RideReader};
pub use recorder::{Recorder, Resumed};

/// Name of the log of received lines.
pub const NIGHT: &str = "night.nmea";
/// Name of the journal.
pub const JOURNAL: &str = "journal.jsonl";
/// Name of the ride's facts.
pub const RIDE: &str = "ride.toml";
/// Name of the file whose lock says that a watch keeps this ride. It is empty but for that watch's process number.
const LOCK: &str = ".lock";

/// A `ride.toml` longer than this is none.
const LONGEST_RIDE_FILE: u64 = 1 << 20;

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
    use std::io::Read as _;
    let mut text = String::new();
    File::open(path)
        .and_then(|file| file.take(LONGEST_RIDE_FILE).read_to_string(&mut text))
        .map_err(FolderError::io(path))?;
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

/// Another watch keeps this ride.
fn held(folder: &Path) -> FolderError {
    let written = std::fs::read_to_string(folder.join(LOCK)).unwrap_or_default();
    FolderError::Held { folder: folder.to_owned(), process: written.trim().parse().ok() }
}

/// Takes the lock that says "a watch keeps this ride". It is given up when the file is closed, however the program
/// ends: a lock left by a dead watch does not exist.
fn lock(folder: &Path) -> Result<File, FolderError> {
    let path = folder.join(LOCK);
    let mut file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(FolderError::io(&path))?;
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => return Err(held(folder)),
        // Some network file systems know no locks: better to watch without than not at all.
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {}
        Err(TryLockError::Error(error)) => return Err(FolderError::io(&path)(error)),
        Ok(()) => {}
    }
    // For whoever looks; the lock itself is what counts.
    let _ = file.set_len(0).and_then(|()| writeln!(file, "{}", std::process::id()));
    Ok(file)
}

/// Stamps inputs so that the order in which they were stamped can be told from the files: time never runs
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
        let held = lock(folder.path()).unwrap();
        assert!(matches!(lock(folder.path()), Err(FolderError::Held { .. })));
        drop(held);
        lock(folder.path()).unwrap();
    }
}
