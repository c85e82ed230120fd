//! Lines from standard input: another program's pipe, stamped as they come.

use std::io::{self, Read};

use tokio::sync::mpsc;

use super::{Ended, Link, Outlet};
use crate::watch::nmea::LineSplitter;
use crate::watch::units::WatchTime;

pub(super) async fn run(outlet: &mut Outlet) -> Ended {
    outlet.report(Link::Open).await;
    let (chunks, mut received) = mpsc::channel(4);
    let clock = outlet.clock.clone();
    // A thread, because a read from a terminal or pipe cannot be broken off: at the end it is left behind.
    std::thread::spawn(move || pump(io::stdin().lock(), || clock.now(), &chunks));
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
