//! The page for a phone: how the watch stands, in a browser on the boat's own network. It shows; it decides nothing.
//!
//! Off unless the crew names an address. Who has not the key gets nothing, not even a refusal; who has it sees the words
//! and the picture of the screen, and acknowledges alerts only where the crew allows it, by the same way in as any
//! command through the door. Each phone is served by a task of its own that takes the newest snapshot when it has room
//! for it: nothing is queued, and one that takes nothing loses its link. The watch never waits for any of them.

mod answer;
mod asked;
mod guests;
pub mod key;
mod keyring;
mod mute;
mod serve;
mod stream;
mod told;

pub mod code;
pub mod trial;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::{mpsc, watch};

use self::keyring::Keyring;
pub use self::serve::Page;
use super::door::peer::Order;
use super::watchdog::Pulse;
use crate::report::zone::Zone;
use crate::watch::snapshot::Snapshot;

/// How the page is served.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setup {
    /// Where.
    pub address: SocketAddr,
    /// Whether alerts may be acknowledged on it.
    pub acknowledge: bool,
    /// The file of its key.
    pub key: PathBuf,
}

/// What lies behind the page. Clones are the same.
#[derive(Clone)]
pub struct Behind {
    /// How the watch stands.
    pub snapshots: watch::Receiver<Arc<Snapshot>>,
    /// Beats as long as it judges.
    pub pulse: Pulse,
    /// Takes commands.
    pub orders: mpsc::Sender<Order>,
    /// The zone of its times of day.
    pub zone: Zone,
}

/// What every request is answered from.
struct Desk {
    behind: Behind,
    keyring: Keyring,
    acknowledge: bool,
}
