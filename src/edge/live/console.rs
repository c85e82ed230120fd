//! The hand that writes on the terminal for the watch: lines without a screen, and the bell.
//!
//! A thread of its own: a terminal that is held, or a pipe that nobody reads, stops this thread and never the watch.

use std::io::{self, Write as _};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use crate::edge::terminal;
use crate::report::printable;

/// What may wait for a reader that is slow; the rest is dropped.
const WAITING: usize = 256;
/// How long the end of the program waits for the last lines.
const LAST_WORDS: Duration = Duration::from_millis(500);

enum Say {
    Line(String),
    Bell,
    /// Everything before this is written.
    Done(SyncSender<()>),
}

/// Writes lines and rings the bell. Clones write on the same terminal.
#[derive(Clone)]
pub(in crate::edge) struct Console {
    queue: SyncSender<Say>,
    lines: Arc<AtomicBool>,
}

impl Console {
    /// Starts the thread. With `lines` false a screen has the terminal: only the bell is given.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub(in crate::edge) fn start(lines: bool) -> io::Result<Self> {
        let (queue, says) = sync_channel(WAITING);
        thread::Builder::new().name("console".into()).spawn(move || says.iter().for_each(say))?;
        let lines = Arc::new(AtomicBool::new(lines));
        Ok(Self { queue, lines })
    }

    /// There is no screen any more: lines are written from now on.
    pub(in crate::edge) fn screen_is_gone(&self) {
        self.lines.store(true, Ordering::Relaxed);
    }

    /// Writes a line, unless a screen has the terminal.
    pub(in crate::edge) fn line(&self, words: impl Into<String>) {
        if self.lines.load(Ordering::Relaxed) {
            self.put(Say::Line(printable(&words.into())));
        }
    }

    /// Rings the terminal's bell.
    pub(in crate::edge) fn ring(&self) {
        self.put(Say::Bell);
    }

    fn put(&self, what: Say) {
        // A reader that does not keep up misses lines; the journal has them all.
        let _ = self.queue.try_send(what);
    }

    /// Writes what waits, if the reader takes it soon.
    pub(in crate::edge) fn finish(self) {
        let (done, written) = sync_channel(1);
        self.put(Say::Done(done));
        let _ = written.recv_timeout(LAST_WORDS);
    }
}

fn say(what: Say) {
    match what {
        // A closed pipe is no reason to stop watching.
        Say::Line(line) => drop(writeln!(io::stdout(), "{line}")),
        Say::Bell => terminal::ring(),
        Say::Done(done) => drop(done.send(())),
    }
}
