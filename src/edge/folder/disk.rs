//! What a ride's folder asks of a disk, and the computer's own disk.
//!
//! All that the recorder and the reader do to files goes through [`Disk`], so that the tests can put a disk in its place
//! that fails as real ones do.

use std::fmt::Debug;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::edge::files::{for_owner, make_folder, make_folders, open_plain};

/// What is known of a file without reading it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Status {
    /// Tells it from another file of the same name.
    pub id: FileId,
    /// Its length in bytes.
    pub length: u64,
    /// A plain file: no folder, pipe or device.
    pub is_file: bool,
}

/// What tells a file from another of the same name.
pub type FileId = (u64, u64);

/// A disk.
pub trait Disk: Debug + Send + Sync {
    /// Opens a plain file for reading.
    ///
    /// # Errors
    /// What the system says; `InvalidInput` if it is no plain file: to open a pipe would wait for ever.
    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;
    /// Opens a file for reading and writing. Where there is none it is made, readable by its owner alone.
    ///
    /// # Errors
    /// What the system says.
    fn open_to_write(&self, path: &Path) -> io::Result<Box<dyn DiskFile>>;
    /// What is known of a file.
    ///
    /// # Errors
    /// What the system says.
    fn status(&self, path: &Path) -> io::Result<Status>;
    /// Makes a folder, and those that it lies in where they are missing, for their owner alone.
    ///
    /// # Errors
    /// What the system says.
    fn make_folders(&self, path: &Path) -> io::Result<()>;
    /// Makes one folder that is not there yet, for its owner alone.
    ///
    /// # Errors
    /// What the system says.
    fn make_folder(&self, path: &Path) -> io::Result<()>;
    /// What lies in a folder.
    ///
    /// # Errors
    /// What the system says.
    fn list(&self, path: &Path) -> io::Result<Vec<PathBuf>>;
    /// Gives a file or folder another name; a file that has that name is replaced in one stroke.
    ///
    /// # Errors
    /// What the system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Forces a folder's list of files to the disk, where the system can. Where it cannot, a power cut within seconds
    /// of the start may cost the folder; nothing can be done about that.
    fn sync_folder(&self, path: &Path);
    /// Time by a clock that is never set, from any zero.
    fn steady(&self) -> Duration;
}

/// An open file.
pub trait DiskFile: Read + Write + Seek + Debug + Send {
    /// What is known of it.
    ///
    /// # Errors
    /// What the system says.
    fn status(&self) -> io::Result<Status>;
    /// Cuts it to that length.
    ///
    /// # Errors
    /// What the system says.
    fn cut(&mut self, length: u64) -> io::Result<()>;
    /// Forces what was written to the disk. After an error nothing is known of what was written since the last time.
    ///
    /// # Errors
    /// What the system says.
    fn sync(&mut self) -> io::Result<()>;
    /// Takes the lock on it, which ends when it is closed, however the program ends.
    ///
    /// # Errors
    /// `WouldBlock` if another has it.
    fn lock(&self) -> Result<(), TryLockError>;
}

/// Where rides are kept: a folder on a disk.
#[derive(Clone, Debug)]
pub struct Shelf {
    /// The folder of all rides.
    pub folder: PathBuf,
    /// The disk it lies on.
    pub disk: Arc<dyn Disk>,
    /// Who does the writing.
    pub hand: super::Hand,
}

impl Shelf {
    /// On the computer's own disk, written by a thread.
    #[must_use]
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into(), disk: own_disk(), hand: super::Hand::Thread }
    }
}

/// The computer's own disk.
#[must_use]
pub fn own_disk() -> Arc<dyn Disk> {
    Arc::new(OwnDisk { zero: Instant::now() })
}

#[derive(Debug)]
struct OwnDisk {
    zero: Instant,
}

impl Disk for OwnDisk {
    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        Ok(Box::new(open_plain(path)?))
    }

    fn open_to_write(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut how = OpenOptions::new();
        how.read(true).write(true).create(true).truncate(false);
        Ok(Box::new(for_owner(&mut how).open(path)?))
    }

    fn status(&self, path: &Path) -> io::Result<Status> {
        fs::metadata(path).map(|metadata| status(&metadata))
    }

    fn make_folders(&self, path: &Path) -> io::Result<()> {
        make_folders(path)
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        make_folder(path)
    }

    fn list(&self, path: &Path) -> io::Result<Vec<PathBuf>> {
        Ok(fs::read_dir(path)?.flatten().map(|entry| entry.path()).collect())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn sync_folder(&self, path: &Path) {
        let _ = File::open(path).and_then(|folder| folder.sync_all());
    }

    fn steady(&self) -> Duration {
        self.zero.elapsed()
    }
}

impl DiskFile for File {
    fn status(&self) -> io::Result<Status> {
        self.metadata().map(|metadata| status(&metadata))
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.set_len(length)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn lock(&self) -> Result<(), TryLockError> {
        self.try_lock()
    }
}

fn status(metadata: &fs::Metadata) -> Status {
    Status { id: file_id(metadata), length: metadata.len(), is_file: metadata.is_file() }
}

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
