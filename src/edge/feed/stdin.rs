//! Lines from standard input: another program's pipe, stamped as they come.

use std::io::{self, Read};

use tokio::sync::mpsc;

use super::{Ended, Link, Outlet};
use crate::watch::nmea::LineSplitter;
use crate::watch::units::WatchTime;

/// Passes on the lines of `input` until it ends. Waits for room: a pipe can wait too.
pub(super) async fn run(input: impl Read + Send + 'static, outlet: &mut Outlet) -> Ended {
    outlet.report(Link::Open).await;
    let (chunks, mut received) = mpsc::channel(4);
    let clock = outlet.clock.clone();
    // A thread, because a read from a terminal or pipe cannot be broken off: at the end it is left behind.
    std::thread::spawn(move || pump(input, || clock.now(), &chunks));
    let mut splitter = LineSplitter::new();
    while let Some((at, bytes)) = received.recv().await {
        let mut lines = Vec::new();
        splitter.push(&bytes, |line| lines.push(line.to_vec()));
        for line in lines {
            outlet.line(at, line).await;
        }
    }
    let mut rest = None;
    splitter.finish(|line| rest = Some(line.to_vec()));
    if let Some(line) = rest {
        outlet.line(outlet.now(), line).await;
    }
    Ended::Done
}

fn pump(mut input: impl Read, now: impl Fn() -> WatchTime, chunks: &mpsc::Sender<(WatchTime, Vec<u8>)>) {
    let mut buffer = [0; 8192];
    loop {
        match input.read(&mut buffer) {
            Ok(0) => return,
            Ok(count) => {
                if chunks.blocking_send((now(), buffer[..count].to_vec())).is_err() {
                    return;
                }
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => {
                tracing::warn!(%error, "standard input failed");
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::clock::Clock;
    use crate::edge::feed::{Arrival, Patience, SHARE, queue};
    use crate::watch::input::FeedId;

    #[tokio::test]
    async fn a_pipe_waits_for_room_and_loses_no_line() {
        let (feeder, mut intake) = queue(Clock::system(), Patience::default());
        let mut outlet = feeder.outlet(FeedId(0));
        let input = io::Cursor::new("$A\r\n".repeat(3 * SHARE) + "$LAST");
        let task = tokio::spawn(async move { run(input, &mut outlet).await });
        drop(feeder);
        let mut lines = Vec::new();
        while let Some(arrival) = intake.recv().await {
            if let Arrival::Line { bytes, .. } = arrival {
                lines.push(bytes);
            }
        }
        assert_eq!(task.await.unwrap(), Ended::Done);
        assert_eq!((lines.len(), lines.last().unwrap().as_slice()), (3 * SHARE + 1, &b"$LAST"[..]));
    }
}
