//! A disk that fails as real ones do.
//!
//! What is written goes to a cache, and to the disk when it is forced there. A power cut keeps what was forced, and of the
//! rest a part: nothing, a beginning, all of it, or its length with zeros in it. A disk that fails to force says so once,
//! and has dropped what it failed on. Names are made and changed in the cache too, until their folder is forced.

use std::collections::BTreeMap;
use std::fs::TryLockError;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use nightrode::edge::folder::disk::{Disk, DiskFile, Status};

use super::chance::Chance;

/// What is wrong with the disk now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Fault {
    #[default]
    None,
    /// No room.
    Full,
    /// Every write fails.
    Refuses,
    /// The next time that something is forced, that fails, and what should have been forced is dropped.
    ForceFails,
}

#[derive(Clone, Debug, Default)]
struct Inode {
    /// What whoever reads it sees.
    cached: Vec<u8>,
    /// What a power cut leaves.
    durable: Vec<u8>,
    /// From here to there the cache is believed to be on the disk, and is not.
    dropped: Option<(usize, usize)>,
    /// Reading fails from this byte on, as of a card that dies.
    unreadable_from: Option<usize>,
    is_locked: bool,
}

#[derive(Default)]
struct State {
    inodes: BTreeMap<u64, Inode>,
    names: BTreeMap<PathBuf, u64>,
    durable_names: BTreeMap<PathBuf, u64>,
    folders: BTreeMap<PathBuf, ()>,
    next: u64,
    fault: Fault,
    short_reads: bool,
    steady: Duration,
    /// Programs that were killed have old numbers: their handles do nothing.
    life: u64,
    /// The program is killed when it has changed so much more: from then on it changes nothing.
    strokes_left: Option<u64>,
}

/// The disk. Clones are the same one.
#[derive(Clone)]
pub struct SimDisk(Arc<Mutex<State>>);

impl std::fmt::Debug for SimDisk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("SimDisk")
    }
}

fn not_found() -> io::Error {
    io::ErrorKind::NotFound.into()
}

impl SimDisk {
    pub fn new() -> Self {
        Self(Arc::default())
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn set_fault(&self, fault: Fault) {
        self.state().fault = fault;
    }

    pub fn fault(&self) -> Fault {
        self.state().fault
    }

    pub fn set_short_reads(&self, short: bool) {
        self.state().short_reads = short;
    }

    pub fn pass(&self, time: Duration) {
        self.state().steady += time;
    }

    /// The program gets to change this much more, and is killed amid what it does: whole writes, cuts, forcings, names.
    pub fn kill_after(&self, strokes: u64) {
        self.state().strokes_left = Some(strokes);
    }

    /// It has come to that.
    pub fn is_program_dead(&self) -> bool {
        self.state().strokes_left == Some(0)
    }

    /// The program is gone, as SIGKILL leaves it: what was handed to the system stays.
    pub fn kill(&self) {
        let mut state = self.state();
        state.life += 1;
        state.strokes_left = None;
        state.fault = Fault::None;
        state.inodes.values_mut().for_each(|inode| inode.is_locked = false);
    }

    /// The power goes.
    pub fn cut_power(&self, chance: &mut Chance) {
        self.kill();
        let mut state = self.state();
        let State { inodes, names, durable_names, .. } = &mut *state;
        // A name that was not forced is there or not, each by itself; a replaced one is old or new.
        let mut after = durable_names.clone();
        for (path, id) in names.iter() {
            if durable_names.get(path) != Some(id) && chance.once_in(2) {
                after.insert(path.clone(), *id);
            }
        }
        // What was renamed away stays only where its new name was lost.
        after.retain(|path, id| names.contains_key(path) || !names.values().any(|other| other == id));
        for inode in inodes.values_mut() {
            inode.lose(chance);
        }
        *names = after.clone();
        *durable_names = after;
    }

    /// Paths of all files.
    pub fn files(&self) -> Vec<PathBuf> {
        self.state().names.keys().cloned().collect()
    }

    pub fn read(&self, path: &Path) -> Vec<u8> {
        let state = self.state();
        state.names.get(path).and_then(|id| state.inodes.get(id)).map_or_else(Vec::new, |i| i.cached.clone())
    }

    /// Puts that into a file, as damage at rest does.
    pub fn overwrite(&self, path: &Path, bytes: Vec<u8>) {
        let mut state = self.state();
        let Some(id) = state.names.get(path).copied() else { return };
        if let Some(inode) = state.inodes.get_mut(&id) {
            (inode.durable, inode.cached, inode.dropped) = (bytes.clone(), bytes, None);
        }
    }

    /// The file is there with these bytes, whether it was or not.
    pub fn put(&self, path: &Path, bytes: Vec<u8>) {
        let mut state = self.state();
        state.next += 1;
        let id = state.names.get(path).copied().unwrap_or(state.next);
        state.inodes.insert(id, Inode { cached: bytes.clone(), durable: bytes, ..Inode::default() });
        state.names.insert(path.to_owned(), id);
        state.durable_names.insert(path.to_owned(), id);
    }

    /// Reading this file fails from `at` on.
    pub fn spoil_from(&self, path: &Path, at: usize) {
        let mut state = self.state();
        let Some(id) = state.names.get(path).copied() else { return };
        if let Some(inode) = state.inodes.get_mut(&id) {
            inode.unreadable_from = Some(at);
        }
    }

    pub fn remove(&self, path: &Path) {
        let mut state = self.state();
        state.names.remove(path);
        state.durable_names.remove(path);
    }

    /// Removes a folder with all that is in it.
    pub fn remove_folder(&self, folder: &Path) {
        let mut state = self.state();
        state.names.retain(|path, _| !path.starts_with(folder));
        state.durable_names.retain(|path, _| !path.starts_with(folder));
        state.folders.retain(|path, ()| !path.starts_with(folder));
    }

    /// Gives a folder another name, with all that is in it.
    pub fn move_folder(&self, from: &Path, to: &Path) {
        let mut state = self.state();
        let moved =
            |path: &PathBuf| path.strip_prefix(from).map_or_else(|_| path.clone(), |rest| to.join(rest));
        state.names = state.names.iter().map(|(path, id)| (moved(path), *id)).collect();
        state.durable_names = state.durable_names.iter().map(|(path, id)| (moved(path), *id)).collect();
        state.folders = state.folders.keys().map(|path| (moved(path), ())).collect();
    }

    fn handle(&self, id: u64) -> Box<dyn DiskFile> {
        let life = self.state().life;
        Box::new(Handle { disk: self.clone(), id, at: 0, life, holds: std::cell::Cell::new(false) })
    }
}

impl Inode {
    fn lose(&mut self, chance: &mut Chance) {
        let forced = self.durable.len();
        let grew = self.cached.len() > forced && self.cached.starts_with(&self.durable);
        if grew {
            let extra = self.cached[forced..].to_vec();
            match chance.below(4) {
                0 => {}
                1 => self.durable.extend_from_slice(&extra),
                2 => {
                    let kept = chance.below(extra.len() as u64 + 1) as usize;
                    self.durable.extend_from_slice(&extra[..kept]);
                }
                // The length came through, what should be there did not.
                _ => self.durable.resize(forced + extra.len(), 0),
            }
        } else if self.cached != self.durable && chance.once_in(2) {
            self.durable.clone_from(&self.cached);
        }
        self.cached.clone_from(&self.durable);
        self.dropped = None;
    }
}

impl Disk for SimDisk {
    fn open(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let id = self.state().names.get(path).copied().ok_or_else(not_found)?;
        Ok(self.handle(id))
    }

    fn open_to_write(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let known = self.state().names.get(path).copied();
        if let Some(id) = known {
            return Ok(self.handle(id));
        }
        let mut state = self.state();
        state.may_write()?;
        state.stroke()?;
        if !path.parent().is_some_and(|folder| state.folders.contains_key(folder)) {
            return Err(not_found());
        }
        state.next += 1;
        let id = state.next;
        state.inodes.insert(id, Inode::default());
        state.names.insert(path.to_owned(), id);
        drop(state);
        Ok(self.handle(id))
    }

    fn status(&self, path: &Path) -> io::Result<Status> {
        let state = self.state();
        if state.folders.contains_key(path) {
            return Ok(Status { id: (1, 0), length: 0, is_file: false });
        }
        let id = state.names.get(path).copied().ok_or_else(not_found)?;
        let inode = state.inodes.get(&id).ok_or_else(not_found)?;
        Ok(Status { id: (0, id), length: inode.cached.len() as u64, is_file: true })
    }

    fn make_folders(&self, path: &Path) -> io::Result<()> {
        let mut state = self.state();
        if !state.folders.contains_key(path) {
            state.may_write()?;
            state.stroke()?;
            state.folders.extend(path.ancestors().map(|folder| (folder.to_owned(), ())));
        }
        Ok(())
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        self.make_folders(path)
    }

    fn list(&self, path: &Path) -> io::Result<Vec<PathBuf>> {
        let state = self.state();
        if !state.folders.contains_key(path) {
            return Err(not_found());
        }
        let all = state.folders.keys().chain(state.names.keys());
        Ok(all.filter(|inside| inside.parent() == Some(path)).cloned().collect())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut state = self.state();
        state.may_write()?;
        state.stroke()?;
        let id = state.names.remove(from).ok_or_else(not_found)?;
        state.names.insert(to.to_owned(), id);
        Ok(())
    }

    fn sync_folder(&self, path: &Path) {
        let mut state = self.state();
        if state.fault != Fault::None || state.stroke().is_err() {
            return;
        }
        let is_in = |name: &PathBuf| name.parent() == Some(path);
        let names: Vec<_> =
            state.names.iter().filter(|(name, _)| is_in(name)).map(|(n, id)| (n.clone(), *id)).collect();
        state.durable_names.retain(|name, _| !is_in(name));
        state.durable_names.extend(names);
    }

    fn steady(&self) -> Duration {
        self.state().steady
    }
}

fn killed() -> io::Error {
    io::Error::other("killed")
}

impl State {
    /// The program changes something, if it still can.
    fn stroke(&mut self) -> io::Result<()> {
        match &mut self.strokes_left {
            Some(0) => Err(killed()),
            Some(left) => {
                *left -= 1;
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn may_write(&self) -> io::Result<()> {
        match self.fault {
            Fault::None | Fault::ForceFails => Ok(()),
            Fault::Full => Err(io::ErrorKind::StorageFull.into()),
            Fault::Refuses => Err(io::Error::other("input or output error")),
        }
    }
}

struct Handle {
    disk: SimDisk,
    id: u64,
    at: u64,
    life: u64,
    holds: std::cell::Cell<bool>,
}

impl std::fmt::Debug for Handle {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Handle {}", self.id)
    }
}

impl Handle {
    fn is_dead(&self, state: &State) -> bool {
        state.life != self.life
    }
}

impl Drop for Handle {
    fn drop(&mut self) {
        let mut state = self.disk.state();
        if self.holds.get()
            && !self.is_dead(&state)
            && let Some(inode) = state.inodes.get_mut(&self.id)
        {
            inode.is_locked = false;
        }
    }
}

impl Read for Handle {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let state = self.disk.state();
        let Some(inode) = state.inodes.get(&self.id) else { return Ok(0) };
        let readable = inode.unreadable_from.map_or(&inode.cached[..], |from| &inode.cached[..from]);
        let rest = readable.get(self.at as usize..).unwrap_or_default();
        if rest.is_empty() && inode.unreadable_from.is_some() {
            return Err(io::Error::other("input/output error"));
        }
        let most = if state.short_reads { 7 } else { usize::MAX };
        let count = rest.len().min(buffer.len()).min(most);
        buffer[..count].copy_from_slice(&rest[..count]);
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for Handle {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let length = self.disk.state().inodes.get(&self.id).map_or(0, |inode| inode.cached.len() as u64);
        self.at = match to {
            SeekFrom::Start(at) => at,
            SeekFrom::End(by) => length.saturating_add_signed(by),
            SeekFrom::Current(by) => self.at.saturating_add_signed(by),
        };
        Ok(self.at)
    }
}

impl Write for Handle {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.disk.state();
        if self.is_dead(&state) {
            return Err(killed());
        }
        state.stroke()?;
        let allowed = state.may_write();
        // A full disk takes a part first.
        let count = match &allowed {
            Ok(()) => bytes.len(),
            Err(error) if error.kind() == io::ErrorKind::StorageFull && bytes.len() > 40 => bytes.len() / 3,
            Err(_) => 0,
        };
        let Some(inode) = state.inodes.get_mut(&self.id) else { return Err(not_found()) };
        let at = self.at as usize;
        if count > 0 {
            inode.cached.resize(inode.cached.len().max(at + count), 0);
            inode.cached[at..at + count].copy_from_slice(&bytes[..count]);
            self.at += count as u64;
        }
        if count == bytes.len() || count > 0 { Ok(count) } else { allowed.map(|()| 0) }
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl DiskFile for Handle {
    fn status(&self) -> io::Result<Status> {
        let state = self.disk.state();
        let inode = state.inodes.get(&self.id).ok_or_else(not_found)?;
        Ok(Status { id: (0, self.id), length: inode.cached.len() as u64, is_file: true })
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut state = self.disk.state();
        if self.is_dead(&state) || state.fault == Fault::Refuses {
            return Err(io::Error::other("input or output error"));
        }
        state.stroke()?;
        if let Some(inode) = state.inodes.get_mut(&self.id) {
            inode.cached.truncate(length as usize);
            inode.dropped = inode.dropped.filter(|(from, _)| *from < length as usize);
        }
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.disk.state();
        if self.is_dead(&state) || state.fault == Fault::Refuses {
            return Err(io::Error::other("input or output error"));
        }
        state.stroke()?;
        let fails = state.fault == Fault::ForceFails;
        let Some(inode) = state.inodes.get_mut(&self.id) else { return Err(not_found()) };
        let fresh = inode.durable.len().min(inode.cached.len());
        if fails && inode.cached.len() > fresh {
            // What it failed on is taken for written from now on, and is not.
            inode.dropped = Some((fresh, inode.cached.len()));
            state.fault = Fault::None;
            return Err(io::Error::other("input or output error"));
        }
        inode.durable.clone_from(&inode.cached);
        if let Some((from, to)) = inode.dropped {
            let end = to.min(inode.durable.len());
            inode.durable[from.min(end)..end].fill(0);
        }
        Ok(())
    }

    fn lock(&self) -> Result<(), TryLockError> {
        let mut state = self.disk.state();
        match state.inodes.get_mut(&self.id) {
            Some(inode) if inode.is_locked && !self.holds.get() => Err(TryLockError::WouldBlock),
            Some(inode) => {
                inode.is_locked = true;
                self.holds.set(true);
                Ok(())
            }
            None => Ok(()),
        }
    }
}
