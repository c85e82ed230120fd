//! A page without a network and without a watch, for whoever tries requests on it: any bytes in, what is answered out.

use std::io;
use std::sync::Arc;

use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _, duplex};
use tokio::runtime::{Builder, Runtime};
use tokio::sync::{mpsc, watch};
use tokio::task::yield_now;

use super::key::Key;
use super::keyring::Keyring;
use super::serve::serve;
use super::{Behind, Desk};
use crate::edge::door::peer::Order;
use crate::edge::watchdog::Pulse;
use crate::report::zone::Zone;
use crate::watch::snapshot::Snapshot;

/// More than any answer has.
const MOST: usize = 1 << 16;
/// Turns that an answer may take.
const TURNS: usize = 64;
/// With this a stream begins, which has no end.
const STREAM: &[u8] = b"event: greeting";

/// The page, and what it needs to be served.
pub struct Trial {
    runtime: Runtime,
    desk: Arc<Desk>,
    key: Key,
    /// As long as these are held there is a watch.
    _watch: (watch::Sender<Arc<Snapshot>>, mpsc::Receiver<Order>),
}

impl Trial {
    /// A page with a key of its own, on which nothing may be acknowledged.
    ///
    /// # Errors
    /// If the system gives no chance or no runtime.
    pub fn new() -> io::Result<Self> {
        let runtime = Builder::new_current_thread().enable_all().build()?;
        let (key, (snapshots, seen), (orders, taken)) =
            (Key::new()?, watch::channel(Arc::default()), mpsc::channel(1));
        let behind = Behind { snapshots: seen, pulse: Pulse::default(), orders, zone: Zone::default() };
        let desk = Arc::new(Desk { behind, keyring: Keyring::of(key.clone()), acknowledge: false });
        Ok(Self { runtime, desk, key, _watch: (snapshots, taken) })
    }

    /// Its key.
    #[must_use]
    pub fn key(&self) -> &Key {
        &self.key
    }

    /// What is answered to these bytes; of a stream its beginning.
    #[must_use]
    pub fn answer(&self, request: &[u8]) -> Vec<u8> {
        let (mut phone, ours) = duplex(MOST);
        let asking = async {
            let mut answer = Vec::new();
            // One that is cut off in the middle has no more to say.
            let _ = phone.write_all(&request[..request.len().min(MOST)]).await;
            // In memory a whole request is answered within some turns; one that is not is taken for the beginning of one.
            for _ in 0..TURNS {
                yield_now().await;
            }
            let _ = phone.shutdown().await;
            let mut piece = [0; 4096];
            while let Ok(count @ 1..) = phone.read(&mut piece).await {
                answer.extend_from_slice(&piece[..count]);
                if answer.len() > MOST || answer.windows(STREAM.len()).any(|words| words == STREAM) {
                    break;
                }
            }
            answer
        };
        self.runtime.block_on(async {
            let serving = serve(ours, Arc::clone(&self.desk));
            tokio::pin!(serving);
            tokio::select! {
                answer = asking => answer,
                () = async { serving.await; std::future::pending().await } => Vec::new(),
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stranger_gets_nothing_and_the_key_opens() {
        let trial = Trial::new().unwrap();
        assert!(trial.answer(b"GET /watch/ HTTP/1.1\r\n\r\n").is_empty());
        assert!(trial.answer(b"GET /wat").is_empty());
        let cookie = format!("Cookie: nightrode={}\r\n\r\n", trial.key().letters());
        let page = trial.answer(format!("GET /watch/ HTTP/1.1\r\n{cookie}").as_bytes());
        assert!(page.starts_with(b"HTTP/1.1 200 OK\r\n"));
        let stream = trial.answer(format!("GET /watch/stream HTTP/1.1\r\n{cookie}").as_bytes());
        assert!(stream.windows(STREAM.len()).any(|words| words == STREAM));
    }
}
