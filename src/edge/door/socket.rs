//! Where do the sockets of running watches lie, and which of them has a watch behind it?
//!
//! In a folder for its owner alone: below the runtime folder of the login where there is one, else in the program's folder
//! of state. Each watch has one of its own, named by its process. Who looks for one looks in both, for a service has
//! another environment than a login.

use std::fs;
use std::io;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tokio::net::{UnixListener, UnixStream};
use tokio::sync::Semaphore;
use tokio::task::JoinHandle;

use super::peer::{Behind, Left, serve, turn_away};
use crate::edge::files::make_folders;

/// Name of the folder.
const FOLDER: &str = "nightrode";
/// How a socket's name ends.
const ENDS: &str = "door";
/// Peers at once: more screens than any yacht has, and few enough to be served by one small computer.
const PEERS: usize = 32;

/// Folders in which a socket may lie; the first is where this program makes its own.
#[must_use]
pub fn folders(state: Option<PathBuf>) -> Vec<PathBuf> {
    let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|path| path.is_absolute());
    let login = PathBuf::from(format!("/run/user/{}", rustix::process::getuid().as_raw()));
    let state = state.map(|state| state.join("doors"));
    let mut folders: Vec<PathBuf> = runtime.iter().map(|runtime| runtime.join(FOLDER)).collect();
    folders.extend(state);
    // A login that has no variable for it, as under some service managers.
    if runtime.is_none() && login.join(FOLDER).is_dir() {
        folders.push(login.join(FOLDER));
    }
    folders
}

/// The sockets that lie there, of whatever process.
#[must_use]
pub fn sockets(folders: &[PathBuf]) -> Vec<PathBuf> {
    let listed =
        folders.iter().filter(|folder| is_ours(folder)).filter_map(|folder| fs::read_dir(folder).ok());
    let mut found: Vec<PathBuf> = listed
        .flatten()
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|ends| ends == ENDS))
        .collect();
    found.sort();
    found
}

/// An open door. Dropping it shuts it.
#[derive(Debug)]
pub struct Door {
    path: PathBuf,
    accepting: JoinHandle<()>,
}

impl Door {
    /// Opens the door of this process in a folder.
    ///
    /// # Errors
    /// If the folder is not for its owner alone, or the socket cannot be made there.
    pub fn open(folder: &Path, behind: Behind) -> io::Result<Self> {
        make_folders(folder)?;
        if !is_ours(folder) {
            let why = format!("{} belongs to somebody else, or others may write there", folder.display());
            return Err(io::Error::new(io::ErrorKind::PermissionDenied, why));
        }
        clear(folder);
        let path = folder.join(format!("{}.{ENDS}", behind.keeps.process));
        let listener = UnixListener::bind(&path)?;
        fs::set_permissions(&path, fs::Permissions::from_mode(0o600))?;
        Ok(Self { accepting: tokio::spawn(accept(listener, behind)), path })
    }

    /// Its socket.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        self.accepting.abort();
        // Whoever comes later finds nobody behind it, if it stays.
        let _ = fs::remove_file(&self.path);
    }
}

/// Takes the sockets of dead watches away: nobody answers behind them.
fn clear(folder: &Path) {
    for path in sockets(&[folder.to_owned()]) {
        let answers = std::os::unix::net::UnixStream::connect(&path);
        if answers.is_err_and(|error| error.kind() == io::ErrorKind::ConnectionRefused) {
            let _ = fs::remove_file(&path);
        }
    }
}

/// Whether a folder belongs to this user, and nobody else may write there.
fn is_ours(folder: &Path) -> bool {
    let ours = rustix::process::getuid().as_raw();
    fs::symlink_metadata(folder).is_ok_and(|is| is.is_dir() && is.uid() == ours && is.mode() & 0o022 == 0)
}

async fn accept(listener: UnixListener, behind: Behind) {
    let places = Arc::new(Semaphore::new(PEERS));
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            // Too many open files, as a rule: it passes.
            tokio::time::sleep(std::time::Duration::from_secs(1)).await;
            continue;
        };
        match Arc::clone(&places).try_acquire_owned() {
            Ok(place) => {
                let behind = behind.clone();
                tokio::spawn(async move {
                    let turned = behind.turned.clone();
                    match serve(stream, behind).await {
                        // Whoever follows over it holds no place at the door.
                        Ok(Left::Turned(stream)) => drop(turned.map(|turned| turned.try_send(stream))),
                        Ok(Left::Gone) => {}
                        Err(why) => tracing::debug!(%why, "a peer at the door has gone"),
                    }
                    drop(place);
                });
            }
            Err(_) => turned_away(stream),
        }
    }
}

/// One who comes to a full house hears why, if that fits into what the system holds for it: nobody waits.
fn turned_away(stream: UnixStream) {
    let words = format!("{PEERS} screens have joined this watch already. Close one of them.");
    drop(tokio::spawn(async move { turn_away(stream, &words).await }));
}

/// Between standard input and output and a socket, until the socket or standard output ends.
///
/// # Errors
/// If nobody answers behind it, or there is no thread.
pub fn pass_through(path: &Path) -> io::Result<()> {
    let mut read = std::os::unix::net::UnixStream::connect(path)?;
    let mut write = read.try_clone()?;
    std::thread::Builder::new().name("pipe".into()).spawn(move || {
        let _ = io::copy(&mut io::stdin(), &mut write);
        // Whoever asked has gone: the watch shall know.
        let _ = write.shutdown(std::net::Shutdown::Both);
    })?;
    let (mut out, mut piece) = (io::stdout(), vec![0; 1 << 16]);
    loop {
        match io::Read::read(&mut read, &mut piece)? {
            0 => return Ok(()),
            count => {
                io::Write::write_all(&mut out, &piece[..count]).and_then(|()| io::Write::flush(&mut out))?
            }
        }
    }
}
