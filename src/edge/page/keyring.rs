//! The key as it is now. It can be changed while the page is served.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::Semaphore;
use tokio::time::timeout;

use super::key::Key;

/// A disk that takes longer to tell is not waited for: the key that was known last counts.
const TELLS_WITHIN: Duration = Duration::from_secs(1);

/// Knows the key. Clones are the same.
#[derive(Clone)]
pub(super) struct Keyring {
    /// `None`: it is never changed.
    file: Option<PathBuf>,
    known: Arc<Mutex<Key>>,
    /// One looks at a time: a disk that hangs holds one thread, not one for each request.
    looks: Arc<Semaphore>,
}

impl Keyring {
    pub(super) fn new(file: PathBuf, key: Key) -> Self {
        Self { file: Some(file), ..Self::of(key) }
    }

    /// A key that is kept nowhere.
    pub(super) fn of(key: Key) -> Self {
        Self { file: None, known: Arc::new(Mutex::new(key)), looks: Arc::new(Semaphore::new(1)) }
    }

    /// The key of this moment.
    pub(super) async fn now(&self) -> Key {
        let look = async {
            let file = self.file.clone()?;
            let turn = Arc::clone(&self.looks).acquire_owned().await.ok()?;
            let read = tokio::task::spawn_blocking(move || {
                let key = Key::read(&file);
                drop(turn);
                key
            });
            read.await.ok()?.ok()
        };
        let read = timeout(TELLS_WITHIN, look).await.ok().flatten();
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(read) = read {
            *known = read;
        }
        known.clone()
    }
}
