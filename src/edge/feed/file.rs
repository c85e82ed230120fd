//! Lines from a recording, played at its own pace, faster, or as fast as it can be read.

use std::io;
use std::path::PathBuf;

use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until};

use super::{Ended, Link, Outlet, Pace, Recorded, Recording};
use crate::watch::units::{Span, WatchTime};

/// Lines handed over at a time.
const BATCH: usize = 256;

pub(super) struct File {
    path: PathBuf,
    pace: Pace,
}

impl File {
    pub(super) fn new(path: PathBuf, pace: Pace) -> Self {
        Self { path, pace }
    }

    pub(super) async fn run(&mut self, outlet: &mut Outlet) -> Ended {
        let (batches, mut received) = mpsc::channel(2);
        let path = self.path.clone();
        // A thread, because a slow disk or a named pipe may block for long. It ends when nobody listens any more.
        std::thread::spawn(move || read(&path, &batches));
        let mut player = None;
        while let Some(batch) = received.recv().await {
            match batch {
                Ok(lines) => {
                    let Some(first) = lines.first() else { continue };
                    let player = player.get_or_insert_with(|| Player::new(self.pace, first.at, outlet.now()));
                    player.play(lines, outlet).await;
                }
                Err(error) if player.is_none() => return Ended::Lost(self.unreadable(&error)),
                Err(error) => {
                    // To begin again would play the night twice.
                    outlet.report(Link::Lost { why: self.broken_off(&error) }).await;
                    break;
                }
            }
        }
        Ended::Done
    }

    fn unreadable(&self, error: &io::Error) -> String {
        format!("{} cannot be read: {error}", self.path.display())
    }

    fn broken_off(&self, error: &io::Error) -> String {
        format!("{} breaks off: {error}. All before that has been played", self.path.display())
    }
}

fn read(path: &std::path::Path, batches: &mpsc::Sender<io::Result<Vec<Recorded>>>) {
    let mut recording = match Recording::open(path) {
        Ok(recording) => recording,
        Err(error) => {
            let _ = batches.blocking_send(Err(error));
            return;
        }
    };
    loop {
        let mut failed = None;
        let lines: Vec<_> = recording
            .by_ref()
            .take(BATCH)
            .map_while(|line| line.map_err(|error| failed = Some(error)).ok())
            .collect();
        let ended = lines.len() < BATCH;
        if batches.blocking_send(Ok(lines)).is_err() {
            return;
        }
        if let Some(error) = failed {
            let _ = batches.blocking_send(Err(error));
            return;
        }
        if ended {
            return;
        }
    }
}

/// Gives each line when it is due.
struct Player {
    pace: Pace,
    /// Time of the first line in the recording, on the watch's clock, and on the timer's.
    recorded: WatchTime,
    begun: WatchTime,
    timer: Instant,
}

impl Player {
    fn new(pace: Pace, recorded: WatchTime, begun: WatchTime) -> Self {
        Self { pace, recorded, begun, timer: Instant::now() }
    }

    async fn play(&self, lines: Vec<Recorded>, outlet: &mut Outlet) {
        for line in lines {
            let span = line.at.since(self.recorded);
            self.wait_for(span).await;
            let at = match self.pace {
                Pace::Recorded => outlet.now(),
                // Faster than it happened: stamped as if the clock ran as fast, or no boat could move so.
                Pace::Times(_) | Pace::Max => self.begun + span,
            };
            outlet.line(at, line.bytes).await;
        }
    }

    async fn wait_for(&self, span: Span) {
        let seconds = match self.pace {
            Pace::Recorded => span.seconds(),
            Pace::Times(factor) => span.seconds() / factor,
            Pace::Max => return,
        };
        let due = std::time::Duration::try_from_secs_f64(seconds)
            .ok()
            .and_then(|wait| self.timer.checked_add(wait));
        if let Some(due) = due
            && due > Instant::now()
        {
            sleep_until(due).await;
        }
    }
}
