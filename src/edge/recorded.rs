//! Whatever was recorded, as what the watch hears: a ride's folder, one log or several, a GPX track.
//!
//! A ride's folder holds everything that the watch heard. A log from elsewhere holds lines only, and a track positions:
//! what the crew would have entered comes from a `ride.toml`, or else the boat is taken to lie at an anchor that nobody
//! marked. One entry comes after the other in order of time; memory does not grow with the night.

mod acts;
mod gpx;
mod log;

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use self::gpx::{read_track, sentence, waypoints};
use self::log::LogReader;
use super::folder::{Entry, FolderError, JOURNAL, NIGHT, Recorded, RideReader};
use super::progress::Progress;
use crate::config::RideFile;
use crate::watch::boat::Settings;
use crate::watch::units::Span;

/// A TAG block with time and source, and the line's end, take about as many bytes.
const TAG_BYTES: u64 = 40;

/// What keeps a recording from being read.
#[derive(Debug, thiserror::Error)]
pub enum RecordedError {
    /// The operating system refused, or the archive is damaged from its beginning.
    #[error("{} cannot be read ({source}). Name a log of NMEA sentences or a GPX track, plain or .gz, or a ride's folder.", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What it said.
        source: io::Error,
    },
    /// A folder, but none of a ride.
    #[error("{} holds neither {NIGHT} nor {JOURNAL}, so it is no ride. Name a ride's folder, or a log.", .path.display())]
    NoRide {
        /// The folder.
        path: PathBuf,
    },
    /// A ride's folder among others.
    #[error("{} is a folder: a ride is read by itself. Name one folder, or logs only.", .path.display())]
    RideAmongOthers {
        /// The folder.
        path: PathBuf,
    },
    /// The ride's folder cannot be read.
    #[error(transparent)]
    Folder(#[from] FolderError),
}

/// What a recording turned out to be, beside its entries.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Nature {
    /// So often its clock went back by more than clocks of two instruments differ.
    pub put_back: u64,
    /// A track of positions this far apart, where that is farther than any receiver's.
    pub point_every: Option<Span>,
}

/// A recording being read.
pub struct Reader {
    name: String,
    from: From,
    progress: Arc<Progress>,
}

enum From {
    Ride(Box<RideReader>),
    Log(Box<LogReader>),
}

impl Reader {
    /// Opens a ride's folder, or one or more logs. `entered` stands in for what the crew entered, in place of the ride's own
    /// journal.
    ///
    /// # Errors
    /// `RecordedError` if there is nothing that could be read.
    pub fn open(paths: &[PathBuf], entered: Option<&RideFile>) -> Result<Self, RecordedError> {
        let name = name_of(paths);
        match paths {
            [path] if path.is_dir() && entered.is_none() => {
                let total = std::fs::metadata(path.join(NIGHT)).map_or(0, |data| data.len());
                Self::ride(path, name, Progress::new("ride", total))
            }
            [path] if path.is_dir() => Self::logs(&[path.join(NIGHT)], entered, name),
            paths => match paths.iter().find(|path| path.is_dir()) {
                Some(path) => Err(RecordedError::RideAmongOthers { path: path.clone() }),
                None => Self::logs(paths, entered, name),
            },
        }
    }

    /// Opens a ride's folder as one of many: its progress is not shown.
    ///
    /// # Errors
    /// `RecordedError` if there is nothing that could be read.
    pub fn open_one_of_many(ride: &Path) -> Result<Self, RecordedError> {
        Self::ride(ride, name_of(&[ride.to_owned()]), Progress::unseen())
    }

    fn ride(path: &Path, name: String, progress: Progress) -> Result<Self, RecordedError> {
        if ![NIGHT, JOURNAL].iter().any(|name| path.join(name).exists()) {
            return Err(RecordedError::NoRide { path: path.to_owned() });
        }
        Ok(Self { name, from: From::Ride(Box::new(RideReader::open(path)?)), progress: Arc::new(progress) })
    }

    fn logs(paths: &[PathBuf], entered: Option<&RideFile>, name: String) -> Result<Self, RecordedError> {
        let total = paths.iter().filter_map(|path| std::fs::metadata(path).ok()).map(|data| data.len()).sum();
        let progress = Arc::new(Progress::new("log", total));
        let log = LogReader::open(paths, entered, &progress)?;
        Ok(Self { name, from: From::Log(Box::new(log)), progress })
    }

    /// Name of the folder or file, the first of several.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The settings that the watch begins with.
    #[must_use]
    pub fn settings(&self) -> Settings {
        match &self.from {
            From::Ride(ride) => ride.settings().clone(),
            From::Log(log) => log.settings().clone(),
        }
    }

    /// What it has turned out to be so far.
    #[must_use]
    pub fn nature(&self) -> Nature {
        match &self.from {
            From::Ride(_) => Nature::default(),
            From::Log(log) => log.nature(),
        }
    }
}

impl Iterator for Reader {
    type Item = io::Result<Entry>;

    fn next(&mut self) -> Option<Self::Item> {
        match &mut self.from {
            From::Log(log) => log.next(),
            From::Ride(ride) => {
                let entry = ride.next();
                if let Some(Ok(Entry { what: Recorded::Line { bytes, .. }, .. })) = &entry {
                    self.progress.add(bytes.len() as u64 + TAG_BYTES);
                }
                entry
            }
        }
    }
}

fn name_of(paths: &[PathBuf]) -> String {
    let name = |path: &PathBuf| {
        path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
    };
    match paths {
        [] => String::new(),
        [path] => name(path),
        [first, others @ ..] => format!("{} and {} more", name(first), others.len()),
    }
}

/// A file that knows how far it has been read.
struct Counted {
    file: File,
    progress: Arc<Progress>,
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(buffer)?;
        self.progress.add(count as u64);
        Ok(count)
    }
}
