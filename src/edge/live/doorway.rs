//! The door beside a watch: others on this machine come in by it. A watch without one is kept all the same.

use std::path::PathBuf;
use std::sync::Arc;

use jiff::Timestamp;
use tokio::sync::{broadcast, mpsc, watch};

use super::tied::Tied;
use crate::edge::door::frame::{Keeps, Words};
use crate::edge::door::past::Past;
use crate::edge::door::peer::{Behind, Order};
use crate::edge::door::post::Post;
#[cfg(unix)]
use crate::edge::door::socket::Door;
use crate::edge::keeper::{Doorway, Keeper};
use crate::edge::watchdog::Pulse;
use crate::watch::boat::Settings;
use crate::watch::snapshot::Snapshot;

/// Commands that wait for the keeper, of all peers.
const WAITING: usize = 16;
/// Words that wait for a peer; a slow one misses the oldest.
const WORDS: usize = 64;

/// A door that is still shut.
pub(super) struct Shut {
    past: Past,
    orders: mpsc::Sender<Order>,
    words: broadcast::Sender<Words>,
}

impl Shut {
    /// From now on what the keeper hears is kept for whoever comes.
    pub(super) fn beside(keeper: &mut Keeper, settings: &Settings) -> Self {
        let process = u64::from(std::process::id());
        let seed = (Timestamp::now().as_millisecond().cast_unsigned() << 20) ^ process;
        let past = Past::new(seed, settings.clone());
        let (orders, orders_in) = mpsc::channel(WAITING);
        keeper.open_to(Doorway { past: past.clone(), orders: orders_in });
        Self { past, orders, words: broadcast::channel(WORDS).0 }
    }

    /// Where words for the crew go, to be heard behind the door too.
    pub(super) fn words(&self) -> broadcast::Sender<Words> {
        self.words.clone()
    }

    /// Where commands from outside go, to be stamped, kept and answered.
    pub(super) fn orders(&self) -> mpsc::Sender<Order> {
        self.orders.clone()
    }

    /// What lies behind it.
    pub(super) fn behind(
        self,
        keeps: Keeps,
        pulse: Pulse,
        snapshots: watch::Receiver<Arc<Snapshot>>,
        tied: Option<&Tied>,
    ) -> Behind {
        let Self { past, orders, words } = self;
        let post = tied.map_or_else(Post::default, Tied::post);
        let (handings, turned) = (tied.map(Tied::handings), tied.map(Tied::turned));
        Behind { keeps, past, pulse, snapshots, words, orders, post, handings, turned }
    }
}

/// Opens a door.
///
/// # Errors
/// In words, why it stays shut.
#[cfg(unix)]
pub(super) fn open(folder: Option<&PathBuf>, behind: Behind) -> Result<Option<Door>, String> {
    let Some(folder) = folder else { return Ok(None) };
    Door::open(folder, behind).map(Some).map_err(|why| {
        format!("No other screen can join this watch: there can be no door in {} ({why}).", folder.display())
    })
}

/// This system has no such sockets.
#[cfg(not(unix))]
pub(super) fn open(_: Option<&PathBuf>, _: Behind) -> Result<Option<()>, String> {
    Ok(None)
}
