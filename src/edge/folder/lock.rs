//! One ride has one watch: the lock that says so.
//!
//! It lies on the file `.lock` and, where a lock keeps nobody from reading, on the open journal too: a `.lock` that was
//! deleted by whoever tidied up lets nobody else in.

use std::fs::TryLockError;
use std::io::{self, Read as _, Write as _};
use std::path::Path;
use std::sync::Arc;

use super::FolderError;
use super::disk::{Disk, DiskFile, FileId};

/// Name of the file whose lock says that a watch keeps this ride. It is empty but for that watch's process number.
const LOCK: &str = ".lock";

/// The lock on a ride's folder. It is given up when dropped, however the program ends: a lock left by a dead watch does
/// not exist.
#[derive(Debug)]
pub(super) struct Lock {
    _file: Box<dyn DiskFile>,
    id: FileId,
}

impl Lock {
    /// Whether the file that is locked still lies in its place.
    pub(super) fn is_in_place(&self, disk: &Arc<dyn Disk>, folder: &Path) -> bool {
        disk.status(&folder.join(LOCK)).is_ok_and(|status| status.id == self.id)
    }
}

/// Takes the lock that says "a watch keeps this ride".
pub(super) fn lock(disk: &Arc<dyn Disk>, folder: &Path) -> Result<Lock, FolderError> {
    let path = folder.join(LOCK);
    let mut file = disk.open_to_write(&path).map_err(FolderError::io(&path))?;
    take(file.as_ref(), disk, folder, &path)?;
    // For whoever looks; the lock itself is what counts.
    let _ = file.cut(0).and_then(|()| writeln!(file, "{}", std::process::id()));
    let id = file.status().map_err(FolderError::io(&path))?.id;
    Ok(Lock { _file: file, id })
}

/// Locks the journal until it is opened to be written; `None` where there is none, or where a lock keeps others from
/// reading.
pub(super) fn lock_journal(
    disk: &Arc<dyn Disk>,
    folder: &Path,
) -> Result<Option<Box<dyn DiskFile>>, FolderError> {
    let path = folder.join(super::JOURNAL);
    match disk.open(&path) {
        Ok(file) => lock_file(file.as_ref(), disk, folder, &path).map(|()| Some(file)),
        // What else is wrong with it is found when it is read.
        Err(_) => Ok(None),
    }
}

/// Locks an open file of the ride, where that keeps nobody from reading it.
pub(super) fn lock_file(
    file: &dyn DiskFile,
    disk: &Arc<dyn Disk>,
    folder: &Path,
    path: &Path,
) -> Result<(), FolderError> {
    if cfg!(unix) { take(file, disk, folder, path) } else { Ok(()) }
}

/// Whether another watch keeps the ride.
pub(super) fn is_held(disk: &Arc<dyn Disk>, folder: &Path) -> bool {
    let held = |name: &str| {
        let path = folder.join(name);
        let locked = disk.open(&path).map(|file| file.lock());
        matches!(locked, Ok(Err(TryLockError::WouldBlock)))
    };
    held(LOCK) || cfg!(unix) && held(super::JOURNAL)
}

fn take(file: &dyn DiskFile, disk: &Arc<dyn Disk>, folder: &Path, path: &Path) -> Result<(), FolderError> {
    match file.lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(held(disk, folder)),
        // Some network file systems know no locks: better to watch without than not at all.
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(error)) => Err(FolderError::io(path)(error)),
    }
}

/// Another watch keeps this ride.
fn held(disk: &Arc<dyn Disk>, folder: &Path) -> FolderError {
    let mut written = String::new();
    if let Ok(mut file) = disk.open(&folder.join(LOCK)) {
        let _ = file.as_mut().take(16).read_to_string(&mut written);
    }
    FolderError::Held { folder: folder.to_owned(), process: written.trim().parse().ok() }
}
