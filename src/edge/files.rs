//! How are files made and read that hold where she lies? For their owner alone, and never without a bound.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _};
use std::path::Path;

/// The longest text that is read whole: no file of the crew's is near it.
pub const LONGEST_TEXT: u64 = 16 << 20;

/// Opens a plain file for reading. To open a pipe would wait for ever for whoever writes into it.
///
/// # Errors
/// What the system says; `InvalidInput` if it is no plain file.
pub fn open_plain(path: &Path) -> io::Result<File> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is no plain file"));
    }
    File::open(path)
}

/// Reads a text file of the crew's whole.
///
/// # Errors
/// What the system says; if it is no plain file, no text, or longer than any of these files.
pub fn read_text(path: &Path) -> io::Result<String> {
    let file = open_plain(path)?;
    if file.metadata()?.len() > LONGEST_TEXT {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "it is longer than any file of this kind"));
    }
    let mut bytes = Vec::new();
    file.take(LONGEST_TEXT).read_to_end(&mut bytes)?;
    String::from_utf8(bytes).map_err(|error| {
        let line = 1 + error
            .as_bytes()
            .iter()
            .take(error.utf8_error().valid_up_to())
            .filter(|b| **b == b'\n')
            .count();
        let why = format!(
            "line {line} is no text in UTF-8; it may be compressed, or not be the file that is meant"
        );
        io::Error::new(io::ErrorKind::InvalidData, why)
    })
}

/// Reads a file of the crew's whole; `None` if it is longer than so many bytes.
///
/// # Errors
/// What the system says; if it is no plain file.
pub fn read_bytes_up_to(path: &Path, most: usize) -> io::Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    open_plain(path)?.take(most as u64 + 1).read_to_end(&mut bytes)?;
    Ok((bytes.len() <= most).then_some(bytes))
}

/// Makes a folder, and those that it lies in where they are missing, for their owner alone.
///
/// # Errors
/// What the system says.
pub fn make_folders(path: &Path) -> io::Result<()> {
    folder_for_owner().recursive(true).create(path)
}

/// Makes one folder that is not there yet, for its owner alone.
///
/// # Errors
/// What the system says.
pub fn make_folder(path: &Path) -> io::Result<()> {
    folder_for_owner().create(path)
}

/// What these options make is readable by its owner alone.
#[cfg(unix)]
pub fn for_owner(how: &mut OpenOptions) -> &mut OpenOptions {
    use std::os::unix::fs::OpenOptionsExt as _;
    how.mode(0o600)
}

/// What these options make is readable by whom the folder allows.
#[cfg(not(unix))]
pub fn for_owner(how: &mut OpenOptions) -> &mut OpenOptions {
    how
}

#[cfg(unix)]
fn folder_for_owner() -> fs::DirBuilder {
    use std::os::unix::fs::DirBuilderExt as _;
    let mut how = fs::DirBuilder::new();
    how.mode(0o700);
    how
}

#[cfg(not(unix))]
fn folder_for_owner() -> fs::DirBuilder {
    fs::DirBuilder::new()
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::PermissionsExt as _;

    use super::*;

    #[test]
    fn what_is_made_is_for_its_owner_alone() {
        let there = tempfile::tempdir().unwrap();
        let folder = there.path().join("a/b");
        make_folders(&folder).unwrap();
        let file = folder.join("file");
        for_owner(OpenOptions::new().create(true).write(true)).open(&file).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode(&folder), mode(&file)), (0o700, 0o600));
    }

    #[test]
    fn a_pipe_is_no_file_and_does_not_hang_whoever_reads_it() {
        let there = tempfile::tempdir().unwrap();
        let pipe = there.path().join("boat.toml");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
        assert!(made.success());
        assert_eq!(read_text(&pipe).unwrap_err().kind(), io::ErrorKind::InvalidInput);
        assert_eq!(read_text(there.path()).unwrap_err().kind(), io::ErrorKind::InvalidInput);
    }

    #[test]
    fn what_is_no_text_is_refused_with_the_line_where_it_ceases_to_be_one() {
        let there = tempfile::tempdir().unwrap();
        let path = there.path().join("boat.toml");
        fs::write(&path, b"[boat]\nname = \"M\xff\"\n").unwrap();
        let why = read_text(&path).unwrap_err();
        assert!(why.to_string().starts_with("line 2 is no text"), "{why}");
    }

    #[test]
    fn an_endless_text_is_refused() {
        let there = tempfile::tempdir().unwrap();
        let path = there.path().join("boat.toml");
        File::create(&path).unwrap().set_len(LONGEST_TEXT + 1).unwrap();
        assert_eq!(read_text(&path).unwrap_err().kind(), io::ErrorKind::InvalidData);
    }
}
