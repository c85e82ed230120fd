//! What ends the hooks of a watch that was killed: a process of its own that outlives it.
//!
//! It reads from a pipe which groups of processes run and which have ended. The pipe closes however the watch ends, by
//! a kill or a crash too; then whatever still runs is ended. The hooks themselves are started without its help, so that
//! nothing here can keep an alarm from going out.

use std::collections::BTreeSet;
use std::io::{self, BufRead as _, BufReader, Read, Write as _};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Mutex, PoisonError};

/// What the program is called with to be this process. Not for crews.
pub const COMMAND: &str = "end-hooks";

/// The process, as the watch sees it.
#[derive(Debug)]
pub(super) struct Survivor {
    to: Mutex<ChildStdin>,
    _process: Child,
}

impl Survivor {
    /// Starts it.
    ///
    /// # Errors
    /// If the program cannot be started once more.
    pub fn start() -> io::Result<Self> {
        let mut command = Command::new(std::env::current_exe()?);
        command.arg(COMMAND).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
        // An interrupt typed at the watch is not for it.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut process = command.spawn()?;
        let to = process.stdin.take().ok_or(io::ErrorKind::BrokenPipe)?;
        Ok(Self { to: Mutex::new(to), _process: process })
    }

    /// A group of processes runs.
    pub fn runs(&self, group: u32) {
        self.say('+', group);
    }

    /// It has ended.
    pub fn has_ended(&self, group: u32) {
        self.say('-', group);
    }

    fn say(&self, what: char, group: u32) {
        let mut to = self.to.lock().unwrap_or_else(PoisonError::into_inner);
        // Without it a hook is only not ended when the watch is killed.
        let _ = writeln!(to, "{what}{group}").and_then(|()| to.flush());
    }
}

/// The process itself: reads until the watch is gone, then ends what runs.
pub fn outlive(watch: impl Read) {
    for group in running_at_the_end(watch) {
        end(group);
    }
}

/// The groups that had begun and not ended when the words ceased.
fn running_at_the_end(words: impl Read) -> BTreeSet<i32> {
    let mut running = BTreeSet::new();
    for line in BufReader::new(words).lines().map_while(Result::ok) {
        let group = |digits: &str| digits.parse().ok().filter(|group| *group > 1);
        if let Some(group) = line.strip_prefix('+').and_then(group) {
            running.insert(group);
        } else if let Some(group) = line.strip_prefix('-').and_then(group) {
            running.remove(&group);
        }
    }
    running
}

#[cfg(unix)]
fn end(group: i32) {
    if let Some(group) = rustix::process::Pid::from_raw(group) {
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
    }
}

#[cfg(not(unix))]
fn end(_group: i32) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_began_and_did_not_end_is_ended_and_nothing_else_is() {
        let words = b"+17\n+18\n-17\n+0\n+1\n+-5\nnonsense\n-99\n+20";
        assert_eq!(running_at_the_end(&words[..]), BTreeSet::from([18, 20]));
    }
}
