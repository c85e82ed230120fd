//! Which ride was the watch keeping when it stopped?

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::journal::Record;
use super::reader::{Recorded, RideReader};
use super::{FolderError, JOURNAL, NIGHT, RIDE, lock, read_ride_file, tail};
use crate::watch::input::{Command, Event};
use crate::watch::nmea::strip_tag;
use crate::watch::units::WatchTime;

/// How much of the end of a file is searched for its last time.
const TAIL: u64 = 1 << 17;

/// A ride whose anchor is still down, as far as its files know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// Its folder.
    pub folder: PathBuf,
    /// Name of the place.
    pub place: String,
    /// When its recording began.
    pub began: Option<WatchTime>,
    /// The last moment from which anything is kept.
    pub last: Option<WatchTime>,
    /// Whether another watch keeps it now.
    pub held: bool,
}

/// The rides below `rides` in which an anchor was let go and is not yet aweigh, newest first. A missing folder holds
/// none; a ride that cannot be read is left out.
///
/// # Errors
/// If the folder of the rides cannot be listed.
pub fn find_unfinished(rides: &Path) -> Result<Vec<Unfinished>, FolderError> {
    let entries = match fs::read_dir(rides) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.map_err(FolderError::io(rides))?,
    };
    let mut folders: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    // Names begin with the UTC start.
    folders.sort_by(|a, b| b.file_name().cmp(&a.file_name()));
    Ok(folders.iter().filter_map(|folder| unfinished(folder)).collect())
}

fn unfinished(folder: &Path) -> Option<Unfinished> {
    let ride = read_ride_file(&folder.join(RIDE)).ok().map(|read| read.value);
    if ride.as_ref().is_some_and(|ride| ride.ended.is_some()) {
        return None;
    }
    let journal = RideReader::journal_of(folder).ok()?;
    let began = journal.header().map(|header| header.at);
    let anchor_down = journal.map_while(Result::ok).filter_map(|entry| anchor_act(&entry.what)).last();
    // Without a journal the ride's own file tells.
    let entered_in_file = ride.as_ref().is_some_and(|ride| ride.drop.is_some());
    if !anchor_down.map_or(entered_in_file, |act| act == AnchorAct::Down) {
        return None;
    }
    Some(Unfinished {
        place: ride.map_or_else(String::new, |ride| ride.place),
        began,
        last: last_moment(folder),
        held: matches!(lock(folder), Err(FolderError::Held { .. })),
        folder: folder.to_owned(),
    })
}

#[derive(PartialEq, Eq)]
enum AnchorAct {
    Down,
    Up,
}

fn anchor_act(what: &Recorded) -> Option<AnchorAct> {
    match what {
        Recorded::Event(Event::Crew(Command::LetGo { .. } | Command::Lying { .. })) => Some(AnchorAct::Down),
        Recorded::Event(Event::Crew(Command::Aweigh)) => Some(AnchorAct::Up),
        _ => None,
    }
}

/// The last time that stands at the end of either file.
fn last_moment(folder: &Path) -> Option<WatchTime> {
    let of_journal = |line: &[u8]| serde_json::from_slice::<Record>(line).ok().map(|record| record.at);
    let of_night = |line: &[u8]| strip_tag(line).ok()?.tag.unix_ms.map(WatchTime);
    last_in(&folder.join(JOURNAL), of_journal).max(last_in(&folder.join(NIGHT), of_night))
}

fn last_in(path: &Path, time: impl Fn(&[u8]) -> Option<WatchTime>) -> Option<WatchTime> {
    let mut file = File::open(path).ok()?;
    let length = file.metadata().ok()?.len();
    let lines = tail::last_lines(&mut file, length, TAIL).ok()?;
    lines.rsplit(|b| *b == b'\n').find_map(time)
}
