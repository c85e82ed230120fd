//! What goes to the disk, and what to do when it refuses.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::journal::Header;
use super::{FolderError, JOURNAL, NIGHT, RIDE, folder_name, lock, tail};
use crate::config::RideFile;

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
        "the ride folder was removed or replaced; a new one will be made, without what was in the old one"
    )]
    Gone,
    #[error("the disk is full")]
    Full,
    #[error("{} cannot be written ({error})", .path.display())]
    Refused { path: PathBuf, error: io::Error },
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
    /// The folder of all rides.
    rides: PathBuf,
    folder: Option<PathBuf>,
    header: Header,
    first_place: String,
    lock: Option<File>,
    files: Option<Files>,
    /// How much of each file is known to be good, from before the disk refused.
    known: [Option<(FileId, u64)>; 2],
    last_ride: Option<RideFile>,
    synced: Instant,
    /// The crew's acts written so far: written again if the folder vanishes, so that a watch can still be taken up.
    acts: Vec<u8>,
    /// Lines for the night.
    pub(super) night: Vec<u8>,
    /// Lines for the journal.
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

impl Writer {
    /// A writer that will make a new folder below `rides`.
    pub(super) fn begin(rides: PathBuf, header: Header, place: String) -> Self {
        Self {
            rides,
            folder: None,
            header,
            first_place: place,
            lock: None,
            files: None,
            known: [None, None],
            last_ride: None,
            synced: Instant::now(),
            acts: Vec::new(),
            night: Vec::new(),
            journal: Vec::new(),
            journal_acts: Vec::new(),
            ride: None,
            place: None,
        }
    }

    /// A writer that goes on in `folder`, which `lock` holds and whose journal has told `acts` so far.
    pub(super) fn resume(folder: PathBuf, header: Header, lock: File, acts: Vec<u8>) -> Self {
        let rides = folder.parent().map(Path::to_owned).unwrap_or_default();
        let begun = Self::begin(rides, header, String::new());
        Self { folder: Some(folder), lock: Some(lock), acts, ..begun }
    }

    /// The ride's folder, once it has been made.
    pub(super) fn folder(&self) -> Option<PathBuf> {
        self.folder.clone()
    }

    /// Writes everything there is to write, as far as the disk takes it.
    pub(super) fn write(&mut self) -> Result<(), WriteError> {
        let written = self.try_write();
        if written.is_err() {
            self.close();
        }
        written
    }

    fn close(&mut self) {
        if let Some(files) = self.files.take() {
            self.known = [files.night.good(), files.journal.good()];
        }
    }

    fn try_write(&mut self) -> Result<(), WriteError> {
        if self.files.as_ref().is_some_and(|files| !files.night.is_in_place() || !files.journal.is_in_place())
        {
            (self.files, self.lock, self.known) = (None, None, [None, None]);
            return Err(WriteError::Gone);
        }
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

    fn write_night(&mut self, night: &mut Appender) -> Result<(), WriteError> {
        night.append(&self.night)?;
        self.night.clear();
        if self.synced.elapsed() >= SYNC_EVERY {
            self.synced = Instant::now();
            night.sync()?;
        }
        Ok(())
    }

    fn write_journal(&mut self, files: &mut Files) -> Result<(), WriteError> {
        if self.journal.is_empty() {
            return Ok(());
        }
        files.journal.append(&self.journal)?;
        self.journal.clear();
        self.acts.append(&mut self.journal_acts);
        // The lines ahead of an event belong to it.
        files.night.sync()?;
        files.journal.sync()
    }

    /// Replaces `ride.toml` in one stroke: a crash leaves the old one or the new one.
    fn write_ride(&mut self) -> Result<(), WriteError> {
        let (Some(ride), Some(folder)) = (&self.ride, &self.folder) else { return Ok(()) };
        let new = folder.join("ride.toml.new");
        let written = File::create(&new).and_then(|mut file| {
            file.write_all(ride.to_toml().as_bytes())?;
            file.sync_all()
        });
        written.and_then(|()| fs::rename(&new, folder.join(RIDE))).map_err(WriteError::at(&new))?;
        sync_folder(folder);
        self.last_ride = self.ride.take();
        Ok(())
    }

    fn open(&mut self) -> Result<Files, WriteError> {
        let folder = match &self.folder {
            Some(folder) => {
                fs::create_dir_all(folder).map_err(WriteError::at(folder))?;
                folder.clone()
            }
            None => self.make_folder()?,
        };
        if self.lock.is_none() {
            self.lock = Some(lock(&folder)?);
        }
        let [night_good, journal_good] = self.known;
        let night = Appender::open(folder.join(NIGHT), night_good)?;
        let mut journal = Appender::open(folder.join(JOURNAL), journal_good)?;
        if journal.length == 0 {
            let beginning = [&self.header.to_line()[..], &self.acts[..]].concat();
            journal.append(&beginning)?;
            journal.sync()?;
        }
        if self.ride.is_none() && !folder.join(RIDE).exists() {
            self.ride.clone_from(&self.last_ride);
        }
        sync_folder(&folder);
        self.folder = Some(folder);
        Ok(Files { night, journal })
    }

    fn make_folder(&self) -> Result<PathBuf, WriteError> {
        fs::create_dir_all(&self.rides).map_err(WriteError::at(&self.rides))?;
        let folder = self.free_name(&self.first_place);
        fs::create_dir(&folder).map_err(WriteError::at(&folder))?;
        sync_folder(&self.rides);
        Ok(folder)
    }

    /// A name below the rides that no folder has yet.
    fn free_name(&self, place: &str) -> PathBuf {
        let name = folder_name(self.header.at, place);
        let namesakes = (2..MOST_NAMESAKES).map(|n| self.rides.join(format!("{name}-{n}")));
        let plain = self.rides.join(&name);
        std::iter::once(plain.clone()).chain(namesakes).find(|path| !path.exists()).unwrap_or(plain)
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
        fs::rename(&folder, &new).map_err(|error| {
            self.place = Some(place);
            WriteError::at(&folder)(error)
        })?;
        sync_folder(&self.rides);
        self.folder = Some(new);
        Ok(())
    }
}

/// Forces a folder's list of files to the disk, where the system can. Where it cannot, a power cut within seconds
/// of the start may cost the folder; nothing can be done about that.
fn sync_folder(folder: &Path) {
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
}

/// A file that lines are appended to.
#[derive(Debug)]
struct Appender {
    path: PathBuf,
    file: File,
    id: FileId,
    /// Its length, all of it whole lines.
    length: u64,
}

/// What tells a file from another of the same name.
type FileId = (u64, u64);

#[cfg(unix)]
fn file_id(metadata: &fs::Metadata) -> FileId {
    use std::os::unix::fs::MetadataExt as _;
    (metadata.dev(), metadata.ino())
}

/// Without identities from the system any file of the name is the same one.
#[cfg(not(unix))]
fn file_id(_: &fs::Metadata) -> FileId {
    (0, 0)
}

impl Appender {
    /// Opens or makes the file. `good`: the same file was known to be whole up to there before the disk refused;
    /// what stands behind is cut off, as is a torn last line.
    fn open(path: PathBuf, good: Option<(FileId, u64)>) -> Result<Self, WriteError> {
        let opened = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path);
        let prepared = opened.and_then(|mut file| {
            let metadata = file.metadata()?;
            let id = file_id(&metadata);
            if metadata.is_file() {
                if let Some((_, length)) = good.filter(|(was, length)| *was == id && *length < metadata.len())
                {
                    file.set_len(length)?;
                }
                tail::cut_torn_line(&mut file)?;
            }
            let length = file.metadata()?.len();
            Ok((file, id, length))
        });
        match prepared {
            Ok((file, id, length)) => Ok(Self { path, file, id, length }),
            Err(error) => Err(WriteError::at(&path)(error)),
        }
    }

    /// Appends whole lines, or nothing.
    fn append(&mut self, lines: &[u8]) -> Result<(), WriteError> {
        let place = SeekFrom::Start(self.length);
        if let Err(error) = self.file.seek(place).and_then(|_| self.file.write_all(lines)) {
            // Half a line may have gone through. If this fails too, the next opening cuts it off.
            let _ = self.file.set_len(self.length);
            return Err(WriteError::at(&self.path)(error));
        }
        self.length += lines.len() as u64;
        Ok(())
    }

    fn sync(&self) -> Result<(), WriteError> {
        self.file.sync_data().map_err(WriteError::at(&self.path))
    }

    fn good(&self) -> Option<(FileId, u64)> {
        Some((self.id, self.length))
    }

    /// Whether the file still lies where it was opened: a removed file can be written for ever, for nobody.
    fn is_in_place(&self) -> bool {
        fs::metadata(&self.path).is_ok_and(|metadata| file_id(&metadata) == self.id)
    }
}
