//! What is done when the watch has stopped judging: all of it without the core, which may hang with all of its tasks.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use jiff::Timestamp;
use tokio::sync::mpsc;

use super::console::Console;
use crate::edge::notify::Hook;
use crate::edge::said::Said;
use crate::edge::sound::sound_on_its_own;
use crate::edge::watchdog::Alarm;
use crate::watch::alert::{Alert, AlertChange, AlertKind, AlertState, Change, Priority, Reason};
use crate::watch::units::WatchTime;

/// The alarm is given again this often: as often as that of any alarm.
const AGAIN_EVERY: Duration = Duration::from_secs(5);

/// The alarm of a watch that judges nothing.
pub(super) struct Unwatched {
    pub console: Console,
    pub notices: mpsc::UnboundedSender<Said>,
    pub hook: Option<Hook>,
    /// Whether the sound card is used; the bell rings in any case.
    pub sound: bool,
    pub sounding: Arc<AtomicBool>,
}

impl Alarm for Unwatched {
    fn raise(&mut self, silent: Duration) {
        let words = format!(
            "The watch has judged nothing for {} s. Look out by eye; end the program and start it again: it takes the ride \
             up.",
            silent.as_secs()
        );
        tracing::error!("{words}");
        sound_until_over(&self.console, self.sound, &self.sounding);
        // A screen that is gone hears nothing.
        let _ = self.notices.send(Said::Unwatched(Some(words.clone())));
        self.notify(&format!("NOBODY WATCHES. {words}"), Change::Raised, AlertState::Unacknowledged);
    }

    fn over(&mut self, silent: Duration) {
        self.sounding.store(false, Ordering::Relaxed);
        let words = format!("The watch judges again. It judged nothing for {} s.", silent.as_secs());
        tracing::warn!("{words}");
        let _ = self.notices.send(Said::Unwatched(None));
        self.notify(&words, Change::Rectified, AlertState::Rectified);
    }
}

impl Unwatched {
    fn notify(&self, words: &str, change: Change, state: AlertState) {
        self.console.line(words);
        if let Some(hook) = &self.hook {
            hook.change(&self.change(words, change, state));
        }
    }

    /// As the watch itself would report that it was asleep, but at once and as an alarm.
    fn change(&self, words: &str, change: Change, state: AlertState) -> AlertChange {
        let at = WatchTime(Timestamp::now().as_millisecond());
        let reason = Reason { what: words.to_owned(), action: AlertKind::Gap.about().action.to_owned() };
        let alert = Alert {
            kind: AlertKind::Gap,
            priority: Priority::Alarm,
            state,
            raised: at,
            rectified: (change == Change::Rectified).then_some(at),
            escalated: false,
            reason,
        };
        AlertChange { at, change, alert }
    }
}

/// Sounds until it is over: a thread of its own, and a sound card of its own to play on.
pub(in crate::edge) fn sound_until_over(console: &Console, sound: bool, sounding: &Arc<AtomicBool>) {
    sounding.store(true, Ordering::Relaxed);
    let (sounding, console) = (Arc::clone(sounding), console.clone());
    // Without a thread the bell has rung at least.
    console.ring();
    let _ = thread::Builder::new().name("unwatched".into()).spawn(move || {
        while sounding.load(Ordering::Relaxed) {
            if !sound || !sound_on_its_own(&|| !sounding.load(Ordering::Relaxed)) {
                console.ring();
            }
            thread::park_timeout(AGAIN_EVERY);
        }
    });
}
