//! Where do the crew's files lie, unless told otherwise? In the folders that the platform sets aside for them.

use std::path::PathBuf;

use etcetera::{BaseStrategy, HomeDirError, choose_base_strategy};

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
    let places = choose_base_strategy()?;
    Ok(places.state_dir().unwrap_or_else(|| places.cache_dir()).join(PROGRAM).join("nightrode.log"))
}
