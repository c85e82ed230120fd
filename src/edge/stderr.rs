//! Where do the lines go that libraries write past us? Into the log, while the screen is drawn.
//!
//! The sound library of some systems writes complaints straight to the standard error stream, where they would tear
//! the screen. While a [`Diverted`] lives they go into a file instead.

use std::fs::File;
use std::io;

/// Standard error goes into a file until this is dropped, or [`give_back`] is called.
#[derive(Debug)]
pub struct Diverted(());

impl Drop for Diverted {
    fn drop(&mut self) {
        give_back();
    }
}

#[cfg(unix)]
mod kept {
    use std::os::fd::OwnedFd;
    use std::sync::Mutex;

    /// The stream that standard error was before it was diverted.
    pub(super) static TERMINAL: Mutex<Option<OwnedFd>> = Mutex::new(None);
}

#[cfg(unix)]
impl Diverted {
    /// Points standard error at `log`.
    ///
    /// # Errors
    /// If the operating system has no file descriptor left.
    pub fn into(log: &File) -> io::Result<Self> {
        let terminal = rustix::io::fcntl_dupfd_cloexec(rustix::stdio::stderr(), 3)?;
        rustix::stdio::dup2_stderr(log)?;
        *kept::TERMINAL.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = Some(terminal);
        Ok(Self(()))
    }
}

/// Points standard error back at what it was. Harmless if it was never diverted, or given back before.
#[cfg(unix)]
pub fn give_back() {
    let terminal = kept::TERMINAL.lock().unwrap_or_else(std::sync::PoisonError::into_inner).take();
    if let Some(terminal) = terminal {
        // If this failed there would be nowhere left to say so.
        let _ = rustix::stdio::dup2_stderr(&terminal);
    }
}

#[cfg(not(unix))]
impl Diverted {
    /// Does nothing: the sound libraries of this system keep quiet.
    ///
    /// # Errors
    /// Never.
    pub fn into(_: &File) -> io::Result<Self> {
        Ok(Self(()))
    }
}

/// Does nothing: nothing was diverted.
#[cfg(not(unix))]
pub fn give_back() {}

#[cfg(all(test, unix))]
mod tests {
    use std::io::{Read as _, Seek as _, Write as _};

    use super::*;

    #[test]
    fn what_is_written_past_us_lands_in_the_log_and_later_on_the_terminal_again() {
        let mut log = tempfile::tempfile().unwrap();
        let diverted = Diverted::into(&log).unwrap();
        io::stderr().write_all(b"a complaint\n").unwrap();
        drop(diverted);
        io::stderr().write_all(b"(this line belongs on the terminal)\n").unwrap();
        let mut text = String::new();
        log.rewind().unwrap();
        log.read_to_string(&mut text).unwrap();
        assert!(text.contains("a complaint") && !text.contains("terminal"), "{text}");
    }
}
