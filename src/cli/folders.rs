//! Where settings are kept, and the boat's file in them.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::output::undoubted;
use crate::config::checks_file::read_checks;
use crate::config::{BoatFile, read_boat};
use crate::edge::files::read_text;
use crate::edge::places;
use crate::watch::checks::Checks;

/// The folder of `boat.toml`: as given, else the platform's configuration folder.
pub(super) fn config(entered: Option<&Path>) -> anyhow::Result<PathBuf> {
    match entered {
        Some(folder) => Ok(folder.to_owned()),
        None => places::default_config().context(
            "No home folder is known here, so no settings are found. Name their folder with --config.",
        ),
    }
}

/// What a file says; `None` where there is no such file.
fn read_if_any(path: &Path) -> anyhow::Result<Option<String>> {
    match read_text(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        text => text.map(Some).with_context(|| format!("{} cannot be read", path.display())),
    }
}

/// The crew's check lists: their own, in `checks.toml` beside `boat.toml`, take the place of the usual ones.
pub(super) fn checks(entered: Option<&Path>) -> anyhow::Result<Checks> {
    let path = config(entered)?.join("checks.toml");
    let Some(text) = read_if_any(&path)? else { return Ok(Checks::default()) };
    Ok(undoubted(read_checks(&text, &path.display().to_string())?))
}

/// The path of `boat.toml`, and what it says; `None` where there is no such file. What looks odd in it is reported on
/// standard error.
pub(super) fn boat(entered: Option<&Path>) -> anyhow::Result<(PathBuf, Option<BoatFile>)> {
    let path = config(entered)?.join("boat.toml");
    let Some(text) = read_if_any(&path)? else { return Ok((path, None)) };
    let boat = undoubted(read_boat(&text, &path.display().to_string())?);
    Ok((path, Some(boat)))
}
