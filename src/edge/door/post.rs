//! What is this machine to the watch: does it keep it, or stand by, by what right, and who stands by it?

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch;

use super::frame::{Claim, Keeps};

/// That, for whoever comes to the door. Clones are the same.
#[derive(Clone, Debug)]
pub struct Post(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    held: Mutex<Held>,
    offers: watch::Sender<u64>,
}

#[derive(Debug, Default)]
struct Held {
    claim: Claim,
    stands_by: bool,
    feeds: Vec<String>,
    /// Machines that stand by, by their links, and whether their feeds give a position.
    look_outs: Vec<(u64, bool)>,
    links: u64,
}

impl Default for Post {
    fn default() -> Self {
        Self(Arc::new(Shared { held: Mutex::default(), offers: watch::channel(0).0 }))
    }
}

impl Post {
    fn held(&self) -> MutexGuard<'_, Held> {
        // Whoever panicked has left whole values behind.
        self.0.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// It keeps a watch by this claim, or stands by the one that does.
    pub fn take(&self, claim: Claim, stands_by: bool) {
        let mut held = self.held();
        (held.claim, held.stands_by) = (claim, stands_by);
    }

    /// It reads these feeds itself.
    pub fn reads(&self, feeds: Vec<String>) {
        self.held().feeds = feeds;
    }

    /// Who keeps the watch, as it is now.
    #[must_use]
    pub fn of(&self, keeps: &Keeps) -> Keeps {
        let held = self.held();
        Keeps {
            claim: held.claim.clone(),
            stands_by: held.stands_by,
            feeds: held.feeds.clone(),
            ..keeps.clone()
        }
    }

    /// A number for a link.
    #[must_use]
    pub fn link(&self) -> u64 {
        let mut held = self.held();
        held.links += 1;
        held.links
    }

    /// The machine behind a link stands by.
    pub fn stands(&self, link: u64, good: bool) {
        let mut held = self.held();
        held.look_outs.retain(|(other, _)| *other != link);
        held.look_outs.push((link, good));
    }

    /// It has gone.
    pub fn gone(&self, link: u64) {
        self.held().look_outs.retain(|(other, _)| *other != link);
    }

    /// How many machines stand by, and how many of them have a position.
    #[must_use]
    pub fn look_outs(&self) -> (usize, usize) {
        let held = self.held();
        (held.look_outs.len(), held.look_outs.iter().filter(|(_, good)| *good).count())
    }

    /// Resolves when the watch is offered to those that stand by.
    #[must_use]
    pub fn offers(&self) -> watch::Receiver<u64> {
        self.0.offers.subscribe()
    }

    /// Offers the watch to those that stand by.
    pub fn offer(&self) {
        self.0.offers.send_modify(|offers| *offers += 1);
    }
}
