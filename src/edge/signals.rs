//! How does an operating system ask a program to end, and how does it say that the terminal hung up?

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

#[cfg(unix)]
use tokio::signal::unix::{Signal, SignalKind, signal};

/// The signals of this process, caught from when this is made.
#[cfg(unix)]
pub(super) struct Signals {
    terminate: Option<Signal>,
    interrupt: Option<Signal>,
    hangup: Option<Signal>,
}

/// What was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// To end.
    End,
    /// To do without the terminal: it is gone.
    HungUp,
}

#[cfg(unix)]
impl Signals {
    pub(super) fn catch() -> Self {
        let caught = |kind| signal(kind).ok();
        Self {
            terminate: caught(SignalKind::terminate()),
            interrupt: caught(SignalKind::interrupt()),
            hangup: caught(SignalKind::hangup()),
        }
    }

    /// The next of them.
    pub(super) async fn next(&mut self) -> Asked {
        let Self { terminate, interrupt, hangup } = self;
        tokio::select! {
            () = next_of(terminate) => Asked::End,
            () = next_of(interrupt) => Asked::End,
            () = next_of(hangup) => Asked::HungUp,
        }
    }
}

#[cfg(unix)]
async fn next_of(signal: &mut Option<Signal>) {
    match signal {
        Some(signal) => drop(signal.recv().await),
        None => std::future::pending().await,
    }
}

/// The signals of this process.
#[cfg(not(unix))]
pub(super) struct Signals;

#[cfg(not(unix))]
impl Signals {
    pub(super) fn catch() -> Self {
        Self
    }

    /// The next of them.
    pub(super) async fn next(&mut self) -> Asked {
        match tokio::signal::ctrl_c().await {
            Ok(()) => Asked::End,
            Err(_) => std::future::pending().await,
        }
    }
}

/// Notes when the program is asked to end, or its terminal hangs up: for a screen that waits for keys alone.
///
/// # Errors
/// If there can be no thread to wait.
pub(super) fn asked_to_end() -> io::Result<Arc<AtomicBool>> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let asked = Arc::new(AtomicBool::new(false));
    let noted = Arc::clone(&asked);
    // Caught before anything is drawn: a signal that comes sooner would end the program and leave the terminal taken.
    let mut signals = {
        let _within = runtime.enter();
        Signals::catch()
    };
    std::thread::Builder::new().name("signals".into()).spawn(move || {
        runtime.block_on(signals.next());
        noted.store(true, Ordering::Relaxed);
    })?;
    Ok(asked)
}
