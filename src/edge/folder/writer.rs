//! What goes to the disk, and what to do when it refuses.

use std::io::{self, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::disk::{Disk, DiskFile, FileId, Shelf, Status};
use super::journal::{Header, Record, What};
use super::lock::{Lock, lock, lock_file};
use super::seal::{seal_lines, seal_text};
use super::{FolderError, JOURNAL, NIGHT, RIDE, folder_name, tail};
use crate::config::RideFile;
use crate::watch::input::{Command, DropMove, Event};

/// Received lines are handed to the operating system each second, and forced to the disk this often: a power cut
/// costs at most so much of the night, and a second. The journal is forced at once. Our choice: the wear of some
/// 15,000 small writes a night is nothing to a disk, and the boat's last minute before the cut may matter.
const SYNC_EVERY: Duration = Duration::from_secs(3);
/// How many rides may begin in one second at one place.
const MOST_NAMESAKES: u32 = 100;

/// Why something was not written.
#[derive(Debug, thiserror::Error)]
pub(super) enum WriteError {
    #[error(
        "the ride's files were removed or replaced; they are made anew, without the lines received so far"
    )]
    Gone,
    #[error("the disk is full")]
    Full,
    #[error("{} cannot be written ({error})", .path.display())]
    Refused { path: PathBuf, error: io::Error },
    #[error("{} cannot be forced to the disk ({error}); what it may have lost is written again", .path.display())]
    Unforced { path: PathBuf, error: io::Error },
    #[error("{0}")]
    Folder(#[from] FolderError),
}

impl WriteError {
    fn at(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        |error| match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full,
            _ => Self::Refused { path: path.to_owned(), error },
        }
    }
}

/// Writes one ride's folder. What the disk did not take stays here for the next try.
#[derive(Debug)]
pub(super) struct Writer {
    disk: Arc<dyn Disk>,
    /// The folder of all rides.
    rides: PathBuf,
    folder: Option<PathBuf>,
    header: Header,
    first_place: String,
    lock: Option<Lock>,
    /// The lock on the journal of a ride that is taken up, until it is opened to be written.
    journal_lock: Option<Box<dyn DiskFile>>,
    files: Option<Files>,
    /// How much of each file is known to be good, from before the disk refused.
    known: [Option<Good>; 2],
    /// The journal that is ours, wherever it lies now.
    our_journal: Option<FileId>,
    /// Number of the next line of the journal.
    next_number: u64,
    last_ride: Option<RideFile>,
    /// The `ride.toml` that we wrote.
    our_ride: Option<Status>,
    synced: Duration,
    /// The crew's acts written so far: written again if the folder vanishes, so that a watch can still be taken up.
    acts: Vec<u8>,
    /// What was written of the night since it was last forced to the disk: a disk that fails at that may have lost it.
    night_unforced: Vec<u8>,
    /// The same of the journal.
    journal_unforced: Vec<u8>,
    /// Lines for the night.
    pub(super) night: Vec<u8>,
    /// Lines for the journal, without number and checksum.
    pub(super) journal: Vec<u8>,
    /// Those of them that are acts of the crew.
    pub(super) journal_acts: Vec<u8>,
    /// A new `ride.toml`.
    pub(super) ride: Option<RideFile>,
    /// A new name of the place.
    pub(super) place: Option<String>,
}

#[derive(Debug)]
struct Files {
    night: Appender,
    journal: Appender,
}

/// So much of a file is known to be whole.
#[derive(Clone, Copy, Debug)]
struct Good {
    id: FileId,
    length: u64,
}

impl Writer {
    /// A writer that will make a new folder on the shelf.
    pub(super) fn begin(shelf: &Shelf, header: Header, place: String) -> Self {
        Self {
            rides: shelf.folder.clone(),
            disk: Arc::clone(&shelf.disk),
            folder: None,
            header,
            first_place: place,
            lock: None,
            journal_lock: None,
            files: None,
            known: [None, None],
            our_journal: None,
            next_number: 1,
            last_ride: None,
            our_ride: None,
            synced: shelf.disk.steady(),
            acts: Vec::new(),
            night_unforced: Vec::new(),
            journal_unforced: Vec::new(),
            night: Vec::new(),
            journal: Vec::new(),
            journal_acts: Vec::new(),
            ride: None,
            place: None,
        }
    }

    /// A writer that goes on in `folder`, which `lock` holds, and whose journal holds `acts` in lines up to
    /// `next_number`.
    pub(super) fn resume(shelf: &Shelf, folder: PathBuf, left: Left) -> Self {
        let begun = Self::begin(shelf, left.header, String::new());
        let our_journal =
            shelf.disk.status(&folder.join(JOURNAL)).ok().filter(|s| s.length > 0).map(|s| s.id);
        Self {
            folder: Some(folder),
            lock: Some(left.lock),
            journal_lock: left.journal_lock,
            acts: left.acts,
            next_number: left.next_number,
            our_journal,
            ..begun
        }
    }

    /// The ride's folder, once it has been made.
    pub(super) fn folder(&self) -> Option<PathBuf> {
        self.folder.clone()
    }

    /// Writes everything there is to write, as far as the disk takes it.
    pub(super) fn write(&mut self) -> Result<(), WriteError> {
        let written = self.try_write();
        match &written {
            Ok(()) => {}
            Err(WriteError::Unforced { .. }) => self.take_back(),
            Err(_) => self.close(),
        }
        written
    }

    fn close(&mut self) {
        if let Some(files) = self.files.take() {
            self.known = [files.night.good(), files.journal.good()];
        }
    }

    /// A disk that fails to force what was written may have dropped it, and will say once only: all of it is to be
    /// written again.
    fn take_back(&mut self) {
        let Some(files) = self.files.take() else { return };
        self.known = [files.night.forced(), files.journal.forced()];
        self.next_number -= lines_in(&self.journal_unforced);
        prepend(&mut self.night, &mut self.night_unforced);
        prepend(&mut self.journal, &mut self.journal_unforced);
    }

    fn try_write(&mut self) -> Result<(), WriteError> {
        self.look_after_folder()?;
        self.rename()?;
        let mut files = match self.files.take() {
            Some(files) => files,
            None => self.open()?,
        };
        // The journal must not wait for a night that cannot be written, nor the other way round.
        let night = self.write_night(&mut files.night);
        let journal = self.write_journal(&mut files);
        self.files = Some(files);
        night.and(journal)?;
        self.write_ride()
    }

    /// Whether what was opened still lies in its place; what is missing beside it is made anew.
    fn look_after_folder(&mut self) -> Result<(), WriteError> {
        let Some(files) = &self.files else { return Ok(()) };
        if !files.night.is_in_place(&self.disk) || !files.journal.is_in_place(&self.disk) {
            (self.files, self.lock, self.our_ride) = (None, None, None);
            // What was only handed to the system went with the file, or stays with it.
            self.night_unforced.clear();
            self.journal_unforced.clear();
            self.known = [None, None];
            return Err(WriteError::Gone);
        }
        let Some(folder) = &self.folder else { return Ok(()) };
        if self.lock.as_ref().is_some_and(|lock| !lock.is_in_place(&self.disk, folder)) {
            // Somebody tidied up. The journal is locked too, so nobody can have come in between.
            self.lock = None;
            self.lock = Some(lock(&self.disk, folder)?);
        }
        let ride = self.disk.status(&folder.join(RIDE)).ok();
        if self.ride.is_none() && self.our_ride.is_some() && ride != self.our_ride {
            self.ride.clone_from(&self.last_ride);
        }
        Ok(())
    }

    fn write_night(&mut self, night: &mut Appender) -> Result<(), WriteError> {
        if !self.night.is_empty() {
            night.append(&self.night)?;
            self.night_unforced.append(&mut self.night);
        }
        if self.disk.steady().saturating_sub(self.synced) >= SYNC_EVERY {
            self.force_night(night)?;
        }
        Ok(())
    }

    fn force_night(&mut self, night: &mut Appender) -> Result<(), WriteError> {
        self.synced = self.disk.steady();
        night.force()?;
        self.night_unforced.clear();
        Ok(())
    }

    fn write_journal(&mut self, files: &mut Files) -> Result<(), WriteError> {
        if self.journal.is_empty() {
            return Ok(());
        }
        files.journal.append(&seal_lines(&self.journal, self.next_number))?;
        self.next_number += lines_in(&self.journal);
        self.journal_unforced.append(&mut self.journal);
        self.acts.append(&mut self.journal_acts);
        // The lines ahead of an event belong to it.
        self.force_night(&mut files.night)?;
        files.journal.force()?;
        self.journal_unforced.clear();
        Ok(())
    }

    /// Replaces `ride.toml` in one stroke: a crash leaves the old one or the new one.
    fn write_ride(&mut self) -> Result<(), WriteError> {
        let (Some(ride), Some(folder)) = (&self.ride, &self.folder) else { return Ok(()) };
        let (new, path) = (folder.join("ride.toml.new"), folder.join(RIDE));
        let text = seal_text(&ride.to_toml());
        let written = self.disk.open_to_write(&new).and_then(|mut file| {
            file.cut(0)?;
            file.write_all(text.as_bytes())?;
            file.sync()
        });
        written.and_then(|()| self.disk.rename(&new, &path)).map_err(WriteError::at(&new))?;
        self.disk.sync_folder(folder);
        self.our_ride = self.disk.status(&path).ok();
        self.last_ride = self.ride.take();
        Ok(())
    }

    fn open(&mut self) -> Result<Files, WriteError> {
        if self.is_taken_by_others() {
            // Another ride's files, or an older copy of ours: not to be mixed with this one.
            self.folder = None;
        }
        let folder = match &self.folder {
            Some(folder) => {
                self.disk.make_folders(folder).map_err(WriteError::at(folder))?;
                folder.clone()
            }
            None => self.make_folder()?,
        };
        self.folder = Some(folder.clone());
        if self.lock.is_none() {
            self.lock = Some(lock(&self.disk, &folder)?);
        }
        let [night_good, journal_good] = self.known;
        let night = Appender::open(&self.disk, folder.join(NIGHT), night_good)?;
        let mut journal = Appender::open(&self.disk, folder.join(JOURNAL), journal_good)?;
        self.journal_lock = None;
        lock_file(journal.file.as_ref(), &self.disk, &folder, &journal.path)?;
        if journal.length == 0 {
            let (beginning, lines) = self.beginning();
            journal.append(&beginning)?;
            journal.force()?;
            self.next_number = lines + 1;
        }
        self.our_journal = Some(journal.id);
        if self.ride.is_none() && self.disk.status(&folder.join(RIDE)).is_err() {
            self.ride.clone_from(&self.last_ride);
        }
        self.disk.sync_folder(&folder);
        Ok(Files { night, journal })
    }

    /// Whether the journal that lies in our place is another one.
    fn is_taken_by_others(&self) -> bool {
        let Some(folder) = &self.folder else { return false };
        let there = self.disk.status(&folder.join(JOURNAL)).ok().filter(|status| status.length > 0);
        there.is_some_and(|there| Some(there.id) != self.our_journal)
    }

    /// What a journal begins with that is made, or made anew: the header, the crew's acts so far, and where the anchor
    /// lies, which the acts alone do not show without the night.
    fn beginning(&self) -> (Vec<u8>, u64) {
        let mut lines = self.header.to_line();
        lines.extend_from_slice(&self.acts);
        let ride = self.ride.as_ref().or(self.last_ride.as_ref());
        if let Some(drop) = ride.and_then(|ride| ride.drop).filter(|_| !self.acts.is_empty()) {
            let at = ride.and_then(|ride| ride.noted).unwrap_or(self.header.at);
            let act = Command::MoveDrop(DropMove::Position { position: drop.position });
            lines.extend(Record::new(at, What::Event(Event::Crew(act))).to_line());
        }
        (seal_lines(&lines, 1), lines_in(&lines))
    }

    fn make_folder(&self) -> Result<PathBuf, WriteError> {
        self.disk.make_folders(&self.rides).map_err(WriteError::at(&self.rides))?;
        let folder = self.free_name(&self.first_place);
        self.disk.make_folder(&folder).map_err(WriteError::at(&folder))?;
        self.disk.sync_folder(&self.rides);
        Ok(folder)
    }

    /// A name below the rides that no folder has yet.
    fn free_name(&self, place: &str) -> PathBuf {
        let name = folder_name(self.header.at, place);
        let namesakes = (2..MOST_NAMESAKES).map(|n| self.rides.join(format!("{name}-{n}")));
        let plain = self.rides.join(&name);
        let mut names = std::iter::once(plain.clone()).chain(namesakes);
        names.find(|path| self.disk.status(path).is_err()).unwrap_or(plain)
    }

    /// Gives the folder the name of a place that has become known.
    fn rename(&mut self) -> Result<(), WriteError> {
        let Some(place) = self.place.take() else { return Ok(()) };
        self.first_place.clone_from(&place);
        let Some(folder) = self.folder.clone() else { return Ok(()) };
        if folder.file_name().is_some_and(|name| name == folder_name(self.header.at, &place).as_str()) {
            return Ok(());
        }
        // Some systems do not rename a folder with open files in it.
        self.close();
        self.lock = None;
        let new = self.free_name(&place);
        self.disk.rename(&folder, &new).map_err(|error| {
            self.place = Some(place);
            WriteError::at(&folder)(error)
        })?;
        self.disk.sync_folder(&self.rides);
        self.folder = Some(new);
        Ok(())
    }
}

/// Where a ride was left that is taken up.
pub(super) struct Left {
    /// The journal's header.
    pub(super) header: Header,
    /// The lock on its folder.
    pub(super) lock: Lock,
    /// That on its journal.
    pub(super) journal_lock: Option<Box<dyn DiskFile>>,
    /// The crew's acts so far.
    pub(super) acts: Vec<u8>,
    /// Number of the journal's next line.
    pub(super) next_number: u64,
}

fn lines_in(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|byte| **byte == b'\n').count() as u64
}

/// Puts `front` before `rest` and leaves it empty.
fn prepend(rest: &mut Vec<u8>, front: &mut Vec<u8>) {
    front.append(rest);
    std::mem::swap(rest, front);
}

/// A file that lines are appended to.
#[derive(Debug)]
struct Appender {
    path: PathBuf,
    file: Box<dyn DiskFile>,
    id: FileId,
    /// Its length, all of it whole lines.
    length: u64,
    /// So much of it was forced to the disk.
    forced: u64,
    /// A plain file, whose length means something.
    is_file: bool,
}

impl Appender {
    /// Opens or makes the file. `good`: the same file was known to be whole up to there before the disk refused;
    /// what stands behind is cut off, as is a torn last line.
    fn open(disk: &Arc<dyn Disk>, path: PathBuf, good: Option<Good>) -> Result<Self, WriteError> {
        let prepared = disk.open_to_write(&path).and_then(|mut file| {
            let status = file.status()?;
            if status.is_file {
                if let Some(good) = good.filter(|good| good.id == status.id && good.length < status.length) {
                    file.cut(good.length)?;
                }
                tail::cut_torn_line(file.as_mut())?;
            }
            let length = file.status()?.length;
            Ok((file, status, length))
        });
        match prepared {
            Ok((file, status, length)) => {
                Ok(Self { path, file, id: status.id, length, forced: length, is_file: status.is_file })
            }
            Err(error) => Err(WriteError::at(&path)(error)),
        }
    }

    /// Appends whole lines, or nothing.
    fn append(&mut self, lines: &[u8]) -> Result<(), WriteError> {
        let place = SeekFrom::Start(self.length);
        if let Err(error) = self.file.seek(place).and_then(|_| self.file.write_all(lines)) {
            // Half a line may have gone through. If this fails too, the next opening cuts it off.
            let _ = self.file.cut(self.length);
            return Err(WriteError::at(&self.path)(error));
        }
        self.length += lines.len() as u64;
        Ok(())
    }

    fn force(&mut self) -> Result<(), WriteError> {
        self.file.sync().map_err(|error| WriteError::Unforced { path: self.path.clone(), error })?;
        self.forced = self.length;
        Ok(())
    }

    fn good(&self) -> Option<Good> {
        Some(Good { id: self.id, length: self.length })
    }

    fn forced(&self) -> Option<Good> {
        Some(Good { id: self.id, length: self.forced })
    }

    /// Whether the file still lies where it was opened, and nothing was cut off it: a removed file can be written for
    /// ever, for nobody.
    fn is_in_place(&self, disk: &Arc<dyn Disk>) -> bool {
        let is_ours =
            |status: Status| status.id == self.id && (!self.is_file || status.length >= self.length);
        disk.status(&self.path).is_ok_and(is_ours)
    }
}
