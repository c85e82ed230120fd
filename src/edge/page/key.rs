//! The key of the page: who has it may look. Chance, kept in a file that only its owner can read.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use subtle::ConstantTimeEq as _;

use crate::edge::files::make_folders;

/// Bytes of chance: 128 bits are not guessed in the age of the world.
const BYTES: usize = 16;
/// The same in letters.
const LETTERS: usize = 2 * BYTES;

/// A key, as letters.
#[derive(Clone, PartialEq, Eq)]
pub struct Key(String);

/// It stands in no log.
impl std::fmt::Debug for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Key")
    }
}

impl Key {
    /// A key that was never there before.
    ///
    /// # Errors
    /// If the system has no chance to give.
    pub fn new() -> io::Result<Self> {
        let mut bytes = [0; BYTES];
        getrandom::fill(&mut bytes).map_err(io::Error::other)?;
        Ok(Self(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// That of a file.
    ///
    /// # Errors
    /// If there is none, or others can read it, or it holds something else.
    pub fn read(file: &Path) -> io::Result<Self> {
        let open = fs::File::open(file)?;
        for_its_owner(&open)?;
        let mut text = String::new();
        io::Read::read_to_string(&mut io::Read::take(open, 2 * LETTERS as u64), &mut text)?;
        let text = text.trim();
        let is_key = text.len() == LETTERS && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        if is_key { Ok(Self(text.to_owned())) } else { Err(io::Error::other("it holds no key")) }
    }

    /// That of a file; a new one where there is none that is good.
    ///
    /// # Errors
    /// If none can be kept there.
    pub fn read_or_make(file: &Path) -> io::Result<Self> {
        Self::read(file).or_else(|_| Self::make(file))
    }

    /// A new one in a file, in place of what is there. Only its owner can read it.
    ///
    /// # Errors
    /// If it cannot be kept there.
    pub fn make(file: &Path) -> io::Result<Self> {
        let folder = file.parent().unwrap_or(Path::new("."));
        make_folders(folder)?;
        let key = Self::new()?;
        // Made for its owner alone, and moved into its place whole.
        let mut made = tempfile::NamedTempFile::new_in(folder)?;
        writeln!(made, "{}", key.0)?;
        made.as_file().sync_all()?;
        made.persist(file).map_err(|error| error.error)?;
        Ok(key)
    }

    /// Whether this is it. That takes as long for a wrong one as for the right one.
    #[must_use]
    pub fn is(&self, offered: &[u8]) -> bool {
        offered.len() == LETTERS && bool::from(self.0.as_bytes().ct_eq(offered))
    }

    /// Its letters, for the one place where they are shown.
    #[must_use]
    pub fn letters(&self) -> &str {
        &self.0
    }
}

#[cfg(unix)]
fn for_its_owner(file: &fs::File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt as _;
    match file.metadata()?.permissions().mode() & 0o077 {
        0 => Ok(()),
        _ => Err(io::Error::new(io::ErrorKind::PermissionDenied, "others can read it")),
    }
}

#[cfg(not(unix))]
fn for_its_owner(_: &fs::File) -> io::Result<()> {
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::PermissionsExt as _;

    use super::*;

    #[test]
    fn a_key_is_for_its_owner_alone_and_another_one_after_it_was_changed() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("state/page-key");
        let first = Key::read_or_make(&file).unwrap();
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
        assert_eq!(Key::read_or_make(&file).unwrap(), first);
        let second = Key::make(&file).unwrap();
        assert!(second != first && !second.is(first.letters().as_bytes()));
        assert_eq!(Key::read(&file).unwrap(), second);
        assert_eq!(fs::read_dir(file.parent().unwrap()).unwrap().count(), 1, "nothing else is left there");
    }

    #[test]
    fn a_key_that_others_could_read_is_worthless() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("page-key");
        let first = Key::make(&file).unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o644)).unwrap();
        assert!(Key::read(&file).is_err());
        assert_ne!(Key::read_or_make(&file).unwrap(), first);
        for wrong in ["", "abc", &"g".repeat(32), &"a".repeat(100_000)] {
            fs::write(&file, wrong).unwrap();
            assert!(Key::read(&file).is_err(), "{} letters", wrong.len());
        }
    }

    #[test]
    fn only_the_whole_key_is_it() {
        let key = Key::new().unwrap();
        let letters = key.letters().to_owned();
        assert!(key.is(letters.as_bytes()));
        let mut other = letters.clone().into_bytes();
        other[31] ^= 1;
        assert!(!key.is(&other) && !key.is(&letters.as_bytes()[..31]) && !key.is(b""));
        assert!(
            !key.is(format!("{letters}0").as_bytes()) && !key.is(letters.to_uppercase().as_bytes())
                || letters == letters.to_uppercase()
        );
        assert_eq!(format!("{key:?}"), "Key", "it stands in no log");
    }
}
