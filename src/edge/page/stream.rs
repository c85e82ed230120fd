//! News for one phone: the newest snapshot, as soon as there is room for it, and at most once a second.

use std::sync::Arc;
use std::time::Duration;

use hyper::body::Bytes;
use serde::Serialize;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep};

use super::Desk;
use super::key::Key;
use super::told::{Chart, Greeting, Told};
use crate::tui::text::Clock;

/// No phone is told more often.
const EVERY: Duration = Duration::from_secs(1);
/// So often it is looked whether the key was changed.
const KEY_EVERY: Duration = Duration::from_secs(10);

/// Begins to tell a phone that has shown this key.
pub(super) fn begin(desk: Arc<Desk>, key: Key) -> mpsc::Receiver<Bytes> {
    let (pieces, taken) = mpsc::channel(1);
    tokio::spawn(async move {
        // Either the phone has gone, or the watch has ended: nobody is left to be told why.
        let _ = tell(&desk, key, &pieces).await;
    });
    taken
}

/// The phone has gone, or the watch, or the key is another.
struct Over;

async fn tell(desk: &Desk, key: Key, to: &mpsc::Sender<Bytes>) -> Result<(), Over> {
    let mut snapshots = desk.behind.snapshots.clone();
    let clock = Clock::new(desk.behind.zone.0.clone());
    let (mut shown, mut key_at, mut beats) = (Chart::new(), Instant::now(), None);
    send(to, "greeting", &Greeting::new(desk.acknowledge)).await?;
    loop {
        let snapshot = Arc::clone(&snapshots.borrow_and_update());
        // A watch that judges nothing has no news: its last snapshot is no sign of life.
        let pulse = &desk.behind.pulse;
        let before = beats.replace(pulse.count());
        if before != beats && pulse.is_judging() {
            send(to, "watch", &Told::of(&snapshot, &clock, &mut shown)).await?;
        }
        drop(snapshot);
        tokio::select! {
            () = to.closed() => return Err(Over),
            () = sleep(EVERY) => {}
        }
        tokio::select! {
            () = to.closed() => return Err(Over),
            changed = snapshots.changed() => changed.map_err(|_| Over)?,
            // A simulated night that is over has no news either, and is still watched.
            () = sleep(EVERY) => {}
        }
        if key_at.elapsed() >= KEY_EVERY {
            key_at = Instant::now();
            if desk.keyring.now().await != key {
                return Err(Over);
            }
        }
    }
}

/// Waits until there is room for it: the phone's own task waits, and nobody else.
async fn send(to: &mpsc::Sender<Bytes>, event: &str, value: &impl Serialize) -> Result<(), Over> {
    let data = serde_json::to_string(value).map_err(|_| Over)?;
    to.send(Bytes::from(format!("event: {event}\ndata: {data}\n\n"))).await.map_err(|_| Over)
}
