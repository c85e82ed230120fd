//! Who else hears of an alert? A command of the crew's own, and addressees for alert sentences.
//!
//! Neither ever delays the watch: each has a queue of its own that is bounded, and takes its time elsewhere.

mod hook;
mod sentence;
mod sink;
pub mod survivor;

use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::{mpsc, watch};

pub use hook::Hook;
pub use sink::{Sink, SinkError};

use self::sentence::Report;
use super::feed::Patience;
use super::said::Said;
use super::watchdog::Pulse;
use crate::watch::alert::AlertChange;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::WatchTime;

/// Who hears of alerts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Addressees {
    /// Name of the boat, for messages.
    pub boat: String,
    /// The hook: a command and its arguments; empty for none.
    pub hook: Vec<String>,
    /// Addressees for alert sentences.
    pub sinks: Vec<Sink>,
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
    /// Begins, on the current tokio runtime. What goes wrong is said in words to `trouble`, and in the log.
    #[must_use]
    pub fn start(
        addressees: Addressees,
        snapshots: &watch::Receiver<Arc<Snapshot>>,
        trouble: &mpsc::UnboundedSender<Said>,
        pulse: &Pulse,
    ) -> Self {
        let mut notifier = Self::default();
        if !addressees.hook.is_empty() {
            let to = Trouble::new(trouble.clone());
            match Hook::start(addressees.hook, addressees.boat, to.clone()) {
                Ok(hook) => notifier.hook = Some(hook),
                Err(error) => to.report(format!("The alert hook cannot be run ({error}).")),
            }
        }
        for sink in addressees.sinks {
            let (changes, waiting) = mpsc::channel(sink::WAITING);
            let to = Trouble::new(trouble.clone());
            let standing = Standing { snapshots: snapshots.clone(), pulse: pulse.clone() };
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
    said: Arc<Mutex<Option<String>>>,
}

impl Trouble {
    fn new(notices: mpsc::UnboundedSender<Said>) -> Self {
        Self { notices, said: Arc::default() }
    }

    fn report(&self, words: String) {
        tracing::warn!("{words}");
        let before = self.said.lock().unwrap_or_else(PoisonError::into_inner).replace(words.clone());
        if before.as_ref() != Some(&words) {
            let _ = self.notices.send(Said::Notice(words));
        }
    }

    fn over(&self) {
        *self.said.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}
