//! Which ride was the watch keeping when it stopped?

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::disk::{Disk, own_disk};
use super::facts::{Facts, read_facts};
use super::journal::Record;
use super::lock::is_held;
use super::reader::{Recorded, RideReader};
use super::seal::{Seal, look_at};
use super::{FolderError, JOURNAL, NIGHT, RIDE, tail};
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
    /// Why its journal cannot be read, in words.
    pub trouble: Option<String>,
}

/// The rides below `rides` in which an anchor was let go and is not yet aweigh, newest first. A missing folder holds
/// none. Where the files that would show it are damaged the anchor is taken to be down.
///
/// # Errors
/// If the folder of the rides cannot be listed.
pub fn find_unfinished(rides: &Path) -> Result<Vec<Unfinished>, FolderError> {
    find_unfinished_on(&own_disk(), rides)
}

/// The same on any disk.
///
/// # Errors
/// If the folder of the rides cannot be listed.
pub fn find_unfinished_on(disk: &Arc<dyn Disk>, rides: &Path) -> Result<Vec<Unfinished>, FolderError> {
    let mut folders = match disk.list(rides) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        folders => folders.map_err(FolderError::io(rides))?,
    };
    // Names begin with the UTC start.
    folders.sort_by(|a, b| b.file_name().cmp(&a.file_name()));
    let looked: Vec<Looked> = folders.iter().filter_map(|folder| look(disk, folder)).collect();
    Ok(looked
        .iter()
        .filter(|ride| !is_older_copy(ride, &looked))
        .filter_map(|l| l.unfinished.clone())
        .collect())
}

/// What one folder turned out to be.
struct Looked {
    /// When the recording began, and where, as far as that can be read: what tells one ride from another.
    began: Option<WatchTime>,
    place: Option<String>,
    /// How often the watch over it has gone from one machine to another, and one.
    term: u32,
    last: Option<WatchTime>,
    /// `None`: the ride is over.
    unfinished: Option<Unfinished>,
}

/// Another folder holds the same ride, and more of it: this one was moved away, or copied, while it went on, or another
/// machine has taken the watch over since.
fn is_older_copy(ride: &Looked, all: &[Looked]) -> bool {
    let is_same_place = |other: &Looked| match (&other.place, &ride.place) {
        (Some(other), Some(this)) => other == this,
        _ => true,
    };
    let holds_more = |other: &Looked| {
        other.began == ride.began && (other.term, other.last) > (ride.term, ride.last) && is_same_place(other)
    };
    ride.began.is_some() && all.iter().any(holds_more)
}

fn look(disk: &Arc<dyn Disk>, folder: &Path) -> Option<Looked> {
    let has = |name: &str| disk.status(&folder.join(name)).is_ok();
    if !has(NIGHT) && !has(JOURNAL) && !has(RIDE) {
        return None;
    }
    let facts = read_facts(disk.as_ref(), &folder.join(RIDE));
    let last = last_moment(disk, folder);
    let journal = RideReader::journal_of(disk, folder);
    let began = journal.as_ref().ok().and_then(|journal| journal.header()).map(|header| header.at);
    let place = facts.ride().map(|ride| ride.place.clone());
    let term = facts.ride().map_or(1, |ride| ride.term);
    if facts.ride().is_some_and(|ride| ride.ended.is_some()) {
        return Some(Looked { began, place, term, last, unfinished: None });
    }
    let (is_down, trouble) = match journal {
        Err(error) => (true, Some(error.to_string())),
        Ok(mut journal) => (anchor_is_down(&mut journal, &facts), None),
    };
    let unfinished = is_down.then(|| Unfinished {
        place: place.clone().unwrap_or_default(),
        began,
        last,
        held: is_held(disk, folder),
        folder: folder.to_owned(),
        trouble,
    });
    Some(Looked { began, place, term, last, unfinished })
}

/// By the last act of the crew; where none is left, by `ride.toml`; where both are damaged, to be safe.
fn anchor_is_down(journal: &mut RideReader, facts: &Facts) -> bool {
    let mut is_damaged = journal.header().is_none();
    let mut down = None;
    for entry in journal.map_while(Result::ok) {
        is_damaged |= matches!(entry.what, Recorded::Damaged { .. });
        down = anchor_act(&entry.what).or(down);
    }
    down.unwrap_or_else(|| match facts.ride() {
        Some(ride) => ride.drop.is_some() || is_damaged && ride.began.is_some(),
        None => is_damaged,
    })
}

/// Whether the anchor is down after this.
fn anchor_act(what: &Recorded) -> Option<bool> {
    match what {
        Recorded::Event(Event::Crew(Command::LetGo { .. } | Command::Lying { .. })) => Some(true),
        Recorded::Event(Event::Crew(Command::Aweigh)) => Some(false),
        _ => None,
    }
}

/// The last time that stands at the end of either file.
fn last_moment(disk: &Arc<dyn Disk>, folder: &Path) -> Option<WatchTime> {
    let of_journal = |line: &[u8]| {
        let record = serde_json::from_slice::<Record>(line).ok()?;
        (look_at(line) != Seal::Broken).then_some(record.at)
    };
    let of_night = |line: &[u8]| strip_tag(line).ok()?.tag.unix_ms.map(WatchTime);
    let last = |name, time: &dyn Fn(&[u8]) -> Option<WatchTime>| last_in(disk, &folder.join(name), time);
    last(JOURNAL, &of_journal).max(last(NIGHT, &of_night))
}

fn last_in(
    disk: &Arc<dyn Disk>,
    path: &Path,
    time: &dyn Fn(&[u8]) -> Option<WatchTime>,
) -> Option<WatchTime> {
    let mut file = disk.open(path).ok()?;
    let length = file.status().ok()?.length;
    let lines = tail::last_lines(file.as_mut(), length, TAIL).ok()?;
    lines.rsplit(|b| *b == b'\n').find_map(time)
}
