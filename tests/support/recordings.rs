//! Where recordings by others lie: in the folder that `NIGHTRODE_SHARED` names, else in `shared` beside the project.

use std::path::{Path, PathBuf};

/// A folder of recordings; `None`, said out loud, where there is none.
pub fn recordings(folder: &str) -> Option<PathBuf> {
    let shared = std::env::var_os("NIGHTRODE_SHARED")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let found = shared.join("data").join(folder);
    if found.is_dir() {
        return Some(found);
    }
    println!("skipped: no recordings in {}", found.display());
    None
}
