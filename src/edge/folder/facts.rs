//! What `ride.toml` says of a ride that is to be taken up, and how far that can be believed.

use std::io::{self, Read as _};
use std::path::Path;

use super::disk::Disk;
use super::seal::is_whole;
use crate::config::{RideFile, read_ride};

/// A `ride.toml` longer than this is none.
const LONGEST: u64 = 1 << 20;

/// A ride's `ride.toml`.
#[derive(Clone, Debug, PartialEq)]
pub enum Facts {
    /// There is none.
    Missing,
    /// It cannot be read, or is not as it was written.
    Damaged {
        /// Why, in words.
        why: String,
    },
    /// As the program wrote it.
    Sound(Box<RideFile>),
    /// Readable, but without a checksum: a hand, or an older program, wrote it.
    Unsealed(Box<RideFile>),
}

impl Facts {
    /// What it says, where it can be believed.
    #[must_use]
    pub fn ride(&self) -> Option<&RideFile> {
        match self {
            Self::Sound(ride) | Self::Unsealed(ride) => Some(ride),
            Self::Missing | Self::Damaged { .. } => None,
        }
    }

    /// As the program wrote it, and all of it.
    #[must_use]
    pub fn sound(&self) -> Option<&RideFile> {
        if let Self::Sound(ride) = self { Some(ride) } else { None }
    }
}

/// Reads a ride's `ride.toml`.
#[must_use]
pub fn read_facts(disk: &dyn Disk, path: &Path) -> Facts {
    let damaged = |why: String| Facts::Damaged { why };
    let bytes = match read_text(disk, path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Facts::Missing,
        Err(error) => return damaged(error.to_string()),
        Ok(bytes) => bytes,
    };
    let seal = is_whole(&bytes);
    let Ok(text) = String::from_utf8(bytes) else { return damaged("it is no text".into()) };
    let read = read_ride(&text, "ride.toml").map(|read| Box::new(read.value));
    match (seal, read) {
        (Some(false), _) => damaged("its checksum is wrong".into()),
        (_, Err(problems)) => damaged(problems.to_string()),
        (Some(true), Ok(ride)) => Facts::Sound(ride),
        (None, Ok(ride)) => Facts::Unsealed(ride),
    }
}

/// All of a text file, up to a bound.
pub(super) fn read_text(disk: &dyn Disk, path: &Path) -> io::Result<Vec<u8>> {
    let mut text = Vec::new();
    disk.open(path)?.as_mut().take(LONGEST).read_to_end(&mut text)?;
    Ok(text)
}
