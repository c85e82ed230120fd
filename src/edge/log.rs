//! The program's own log: what it did and what went wrong, for whoever looks into it afterwards.
//!
//! Written by a thread of its own, and never to the terminal. What the disk does not take in time is dropped.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;

use tracing_subscriber::filter::LevelFilter;

use super::files::{for_owner, make_folders};

/// A log longer than this is put aside at the next start, over the one put aside before.
const LONGEST: u64 = 1 << 20;
/// Lines that may wait for the disk.
const WAITING: usize = 256;

/// Begins to write what the program and its libraries log into `path`, from the level "info" upwards. Gives the
/// open file, for what libraries print past us.
///
/// # Errors
/// If the file cannot be written.
pub fn start(path: &Path) -> io::Result<File> {
    let file = open(path)?;
    let (lines, waiting) = sync_channel::<Vec<u8>>(WAITING);
    let mut writer = file.try_clone()?;
    thread::Builder::new().name("log".into()).spawn(move || {
        for line in waiting {
            let _ = writer.write_all(&line);
        }
    })?;
    let logged = tracing_subscriber::fmt()
        .with_max_level(LevelFilter::INFO)
        .with_ansi(false)
        .with_writer(move || Lines(lines.clone()))
        .try_init();
    // Somebody else listens already: then there is nothing for this log.
    drop(logged);
    Ok(file)
}

fn open(path: &Path) -> io::Result<File> {
    if let Some(folder) = path.parent() {
        make_folders(folder)?;
    }
    if fs::metadata(path).is_ok_and(|metadata| metadata.len() > LONGEST) {
        // If it cannot be put aside, the log grows on.
        let _ = fs::rename(path, path.with_extension("log.old"));
    }
    for_owner(OpenOptions::new().create(true).append(true)).open(path)
}

/// Passes each formatted line to the thread.
struct Lines(SyncSender<Vec<u8>>);

impl Write for Lines {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        let _ = self.0.try_send(line.to_vec());
        Ok(line.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_log_is_put_aside() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("state/nightrode.log");
        open(&path).unwrap().write_all(&vec![b'x'; LONGEST as usize + 1]).unwrap();
        open(&path).unwrap().write_all(b"new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert_eq!(fs::metadata(path.with_extension("log.old")).unwrap().len(), LONGEST + 1);
    }
}
