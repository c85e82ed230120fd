//! The wind that the crew has in a file, for a plan.

use std::path::Path;

use crate::edge::grib::read_wind_file;
use crate::watch::plan::{Asked, AskedError, Now};

/// The answers with the wind that their file has for the stay, if they name one.
///
/// # Errors
/// Why the file gives none.
pub(super) fn with_wind_file(mut asked: Asked, now: Now) -> Result<Asked, AskedError> {
    let stay = asked.stay(now)?;
    let here = asked.here;
    if let Some(file) = &mut asked.wind_file {
        let wrong = |why: String| AskedError::WindFile { path: file.path.clone(), why };
        let place = file.position.or(here).ok_or_else(|| {
            wrong(
                "Whose wind? Say where the anchor is to lie: --position, or lat and lon in the plan."
                    .to_owned(),
            )
        })?;
        let read =
            read_wind_file(Path::new(&file.path), place, stay).map_err(|why| wrong(why.to_string()))?;
        file.read = Some(read);
    }
    Ok(asked)
}
