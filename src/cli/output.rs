//! What is printed: pages to standard output, remarks to standard error.

use std::io::{ErrorKind, Write as _};
use std::path::Path;

use anyhow::Context as _;

use crate::config::{Problems, Read};
use crate::report::printable;

/// Prints to standard output. A reader that has gone away, as `head` does, is no failure. Names and notes come from
/// files and feeds: what could steer a terminal is not printed.
pub(super) fn print(page: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(printable(page).as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        done => done.context("The page cannot be printed"),
    }
}

/// Prints a drawing of this program's own, with the colours that it steers the terminal to.
pub(super) fn print_drawing(drawing: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(drawing.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        done => done.context("The drawing cannot be printed"),
    }
}

/// Whether a file named on the command line stands for standard output.
pub(super) fn is_stdout(path: &Path) -> bool {
    path == Path::new("-")
}

/// Nothing is written over unasked.
pub(super) fn may_write(path: &Path, force: bool) -> anyhow::Result<()> {
    anyhow::ensure!(
        force || is_stdout(path) || !path.exists(),
        "{} exists already and is left as it is. Name another file, or add --force.",
        path.display()
    );
    Ok(())
}

/// Writes a file, or to standard output, and says so.
pub(super) fn write(path: &Path, text: &str) -> anyhow::Result<()> {
    if is_stdout(path) {
        return print(text);
    }
    std::fs::write(path, text).with_context(|| {
        format!("{} cannot be written. Name a file in a folder that you may write", path.display())
    })?;
    note(&format!("{} written", path.display()));
    Ok(())
}

/// Something to know that does not belong to the page.
pub(super) fn note(words: &str) {
    // If standard error is gone, nobody can read it.
    let _ = writeln!(std::io::stderr(), "{}", printable(words));
}

/// What was read; what looks odd in it is reported on standard error.
pub(super) fn undoubted<T>(read: Read<T>) -> T {
    let doubts: &Problems = &read.doubts;
    if !doubts.is_empty() {
        note(&doubts.to_string());
    }
    read.value
}
