//! Where settings are kept.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use etcetera::BaseStrategy as _;

/// The folder of `boat.toml`: as told, else the platform's configuration folder.
pub(super) fn config(told: Option<&Path>) -> anyhow::Result<PathBuf> {
    if let Some(folder) = told {
        return Ok(folder.to_owned());
    }
    let platform = etcetera::choose_base_strategy().context(
        "No home folder is known here, so no settings are found. Name their folder with --config.",
    )?;
    Ok(platform.config_dir().join("nightrode"))
}
