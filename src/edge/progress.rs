//! How far is it? A line on standard error for work that takes more than a second, with the time that is left.

use std::io::{IsTerminal as _, Write as _};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Work that is done sooner shows nothing.
const SHOW_AFTER: Duration = Duration::from_secs(1);
/// The line is drawn this often at most.
const DRAW_EVERY: Duration = Duration::from_millis(200);
/// Characters of the bar.
const BAR: usize = 30;

/// Progress of one piece of work. Threads may share it. Nothing is drawn unless standard error is a terminal.
#[derive(Debug)]
pub struct Progress {
    what: &'static str,
    total: u64,
    begun: Instant,
    /// `None`: there is nobody to see it.
    drawn: Option<Mutex<Drawn>>,
}

#[derive(Debug, Default)]
struct Drawn {
    done: u64,
    last: Option<Instant>,
}

impl Progress {
    /// Of work that is done when `total` is.
    #[must_use]
    pub fn new(what: &'static str, total: u64) -> Self {
        let drawn = std::io::stderr().is_terminal().then(Mutex::default);
        Self { what, total, begun: Instant::now(), drawn }
    }

    /// Of work that is part of other work, which shows its own.
    #[must_use]
    pub fn unseen() -> Self {
        Self { what: "", total: 0, begun: Instant::now(), drawn: None }
    }

    /// So much more is done.
    pub fn add(&self, done: u64) {
        let Some(drawn) = &self.drawn else { return };
        // A count that a panicking thread left behind is still a count.
        let mut drawn = drawn.lock().unwrap_or_else(PoisonError::into_inner);
        drawn.done += done;
        let passed = self.begun.elapsed();
        let due = drawn.last.is_none_or(|last| last.elapsed() >= DRAW_EVERY);
        if passed >= SHOW_AFTER && due {
            drawn.last = Some(Instant::now());
            draw(&format!("\r{}\x1b[K", line(self.what, drawn.done, self.total, passed)));
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(drawn) = &self.drawn
            && drawn.lock().unwrap_or_else(PoisonError::into_inner).last.is_some()
        {
            draw("\r\x1b[K");
        }
    }
}

fn draw(text: &str) {
    let mut out = std::io::stderr().lock();
    // If standard error is gone, there is nobody to see it.
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

fn line(what: &str, done: u64, total: u64, passed: Duration) -> String {
    let share = if total == 0 { 0.0 } else { (done as f64 / total as f64).clamp(0.0, 1.0) };
    let full = (share * BAR as f64) as usize;
    let left = if share > 0.0 { passed.as_secs_f64() * (1.0 - share) / share } else { 0.0 };
    let left = match left.round() as u64 {
        seconds @ 0..100 => format!("{seconds} s"),
        seconds => format!("{} min", (seconds + 30) / 60),
    };
    format!("{what} [{}{}] {:.0} %, {left} left", "#".repeat(full), ".".repeat(BAR - full), share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_left_follows_from_the_time_taken() {
        let at = |done, seconds| line("nights", done, 100, Duration::from_secs(seconds));
        assert_eq!(at(25, 10), "nights [#######.......................] 25 %, 30 s left");
        assert_eq!(at(50, 600), "nights [###############...............] 50 %, 10 min left");
        assert_eq!(at(100, 7), "nights [##############################] 100 %, 0 s left");
        assert!(line("log", 5, 0, Duration::from_secs(9)).contains("0 %"), "an empty file has no end to see");
    }
}
