//! Where do the crew's files lie, unless another is named? In the folders that the platform sets aside for them.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use etcetera::{BaseStrategy, HomeDirError, choose_base_strategy};

use super::files::make_folders;

const PROGRAM: &str = "nightrode";

/// The folder that holds the rides: `~/.local/share/nightrode/rides` on Linux.
///
/// # Errors
/// If the account has no home folder.
pub fn default_rides() -> Result<PathBuf, HomeDirError> {
    Ok(choose_base_strategy()?.data_dir().join(PROGRAM).join("rides"))
}

/// The folder that holds the boat's file: `~/.config/nightrode` on Linux.
///
/// # Errors
/// If the account has no home folder.
pub fn default_config() -> Result<PathBuf, HomeDirError> {
    Ok(choose_base_strategy()?.config_dir().join(PROGRAM))
}

/// The program's own log of what it did, for when something went wrong: `~/.local/state/nightrode/nightrode.log`
/// on Linux.
///
/// # Errors
/// If the account has no home folder.
pub fn default_log_file() -> Result<PathBuf, HomeDirError> {
    Ok(default_state()?.join("nightrode.log"))
}

/// The folder of what the program itself keeps: `~/.local/state/nightrode` on Linux.
fn default_state() -> Result<PathBuf, HomeDirError> {
    let places = choose_base_strategy()?;
    Ok(places.state_dir().unwrap_or_else(|| places.cache_dir()).join(PROGRAM))
}

/// The file of the key of the page for phones.
///
/// # Errors
/// If the account has no home folder.
pub fn page_key() -> Result<PathBuf, HomeDirError> {
    Ok(default_state()?.join("page-key"))
}

/// Folders in which the doors of running watches lie; the first is where one is opened. None where the system has no
/// such doors.
#[must_use]
pub fn door_folders() -> Vec<PathBuf> {
    #[cfg(unix)]
    return super::door::socket::folders(default_state().ok());
    #[cfg(not(unix))]
    Vec::new()
}

/// The doors that lie there, whether a watch is behind them or not.
#[must_use]
pub fn doors() -> Vec<PathBuf> {
    #[cfg(unix)]
    return super::door::socket::sockets(&door_folders());
    #[cfg(not(unix))]
    Vec::new()
}

/// Makes a folder if need be, and tries whether files can be made in it. A full disk passes: a watch is better than
/// none, and says so when it has something to write.
///
/// # Errors
/// What the operating system says against it.
pub fn try_to_write(folder: &Path) -> io::Result<()> {
    make_folders(folder)?;
    let trial = folder.join(format!(".trial-{}", std::process::id()));
    match File::create(&trial) {
        Err(error) if error.kind() == io::ErrorKind::StorageFull => Ok(()),
        made => made.and_then(|_| fs::remove_file(&trial)),
    }
}
