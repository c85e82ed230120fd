//! Who else hears of an alert? A command of the crew's own, addressees for alert sentences, and Signal K servers.
//!
//! Neither ever delays the watch: each has a queue of its own that is bounded, and takes its time elsewhere.

mod hook;
mod listener;
mod sentence;
mod signalk;
mod sink;
pub mod survivor;

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::{mpsc, watch};

pub use hook::Hook;
pub use listener::Listener;
pub use sink::{Sink, SinkError};

use self::sentence::Report;
use super::feed::{Patience, ServerKeys};
use super::keeper::Order;
use super::said::Said;
use super::watchdog::Pulse;
use crate::watch::alert::AlertChange;
use crate::watch::input::Device;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::WatchTime;

/// Who hears of alerts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Addressees {
    /// Name of the boat, for messages.
    pub boat: String,
    /// The hook: a command and its arguments; empty for none.
    pub hook: Vec<String>,
    /// Whoever else is told.
    pub listeners: Vec<Listener>,
    /// The maker's code in those sentences; empty for none.
    pub maker: String,
}

/// Passes changes of alerts on to whoever is to hear of them.
#[derive(Debug, Default)]
pub struct Notifier {
    hook: Option<Hook>,
    sinks: Vec<mpsc::Sender<AlertChange>>,
}

impl Notifier {
    /// Begins, on the current tokio runtime. What goes wrong is said in words to `trouble`, and in the log; whether the
    /// hook goes through also to the keeper.
    #[must_use]
    pub fn start(
        addressees: Addressees,
        keys: &ServerKeys,
        snapshots: &watch::Receiver<Arc<Snapshot>>,
        trouble: &mpsc::UnboundedSender<Said>,
        keeper: &mpsc::UnboundedSender<Order>,
        pulse: &Pulse,
    ) -> Self {
        let mut notifier = Self::default();
        if !addressees.hook.is_empty() {
            let to = Trouble::new(trouble.clone()).of_the_hook(keeper.clone());
            match Hook::start(addressees.hook, addressees.boat, to.clone()) {
                Ok(hook) => notifier.hook = Some(hook),
                Err(error) => {
                    let words = format!("The alert hook cannot be run ({error}).");
                    to.report(words.clone());
                    to.given_up(words);
                }
            }
        }
        for listener in addressees.listeners {
            let to = Trouble::new(trouble.clone());
            let standing = Standing { snapshots: snapshots.clone(), pulse: pulse.clone() };
            let sink = match listener {
                Listener::Sentences(sink) => sink,
                Listener::SignalK(server) => {
                    let telling =
                        signalk::keep_informed(server, keys.clone(), Patience::default(), standing, to);
                    tokio::spawn(telling);
                    continue;
                }
            };
            let (changes, waiting) = mpsc::channel(sink::WAITING);
            let report = Report::by(&addressees.maker);
            tokio::spawn(sink::keep_informed((sink, report), Patience::default(), waiting, standing, to));
            notifier.sinks.push(changes);
        }
        notifier
    }

    /// The hook, for whoever must run it by himself.
    #[must_use]
    pub fn hook(&self) -> Option<Hook> {
        self.hook.clone()
    }

    /// Informs everybody, without waiting for anybody.
    pub fn change(&self, change: &AlertChange) {
        if let Some(hook) = &self.hook {
            hook.change(change);
        }
        for sink in &self.sinks {
            // A listener so slow that its queue is full hears how things stand at the next repetition.
            let _ = sink.try_send(change.clone());
        }
    }
}

impl Notifier {
    /// Has the hook run for a rehearsal of the alarm. No alert sentence is sent: those have no word for a rehearsal, and
    /// whoever heard one would take it for an alert.
    pub fn rehearse(&self, at: WatchTime) {
        if let Some(hook) = &self.hook {
            hook.rehearse(at);
        }
    }
}

/// How things stand, for whoever hears it again and again.
#[derive(Clone, Debug)]
struct Standing {
    snapshots: watch::Receiver<Arc<Snapshot>>,
    pulse: Pulse,
}

/// What goes wrong with one of them, said once until it works again.
#[derive(Clone, Debug)]
struct Trouble {
    notices: mpsc::UnboundedSender<Said>,
    now: Arc<Mutex<Wrong>>,
    /// The watch itself cautions where nobody elsewhere is told.
    keeper: Option<mpsc::UnboundedSender<Order>>,
}

/// What is wrong just now, in words.
#[derive(Debug, Default)]
struct Wrong {
    /// As it was said last.
    said: Option<String>,
    /// As the watch knows it.
    known: Option<String>,
}

impl Trouble {
    fn new(notices: mpsc::UnboundedSender<Said>) -> Self {
        Self { notices, now: Arc::default(), keeper: None }
    }

    fn of_the_hook(self, keeper: mpsc::UnboundedSender<Order>) -> Self {
        Self { keeper: Some(keeper), ..self }
    }

    fn now(&self) -> MutexGuard<'_, Wrong> {
        // Whoever panicked has left whole words behind.
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Something went wrong; it may be tried again.
    fn report(&self, words: String) {
        tracing::warn!("{words}");
        let before = self.now().said.replace(words.clone());
        if before.as_ref() != Some(&words) {
            let _ = self.notices.send(Said::Notice(words));
        }
    }

    /// It is no longer tried.
    fn given_up(&self, words: String) {
        let before = self.now().known.replace(words.clone());
        if before.as_ref() != Some(&words) {
            self.tell_keeper(Some(words));
        }
    }

    fn over(&self) {
        let before = std::mem::take(&mut *self.now());
        if before.known.is_some() {
            self.tell_keeper(None);
        }
    }

    fn tell_keeper(&self, failed: Option<String>) {
        if let Some(keeper) = &self.keeper {
            // Nobody listens any more: the program is ending.
            drop(keeper.send(Order::Device(Device::Hook { failed })));
        }
    }
}
