//! Who notices that the watch has stopped judging? A thread outside it, with a clock, a sound and a hook of its own.
//!
//! The keeper beats a [`Pulse`] at each second that the watch has judged. When it has not beaten for [`SILENCE_MAX`] the
//! watchdog raises an alarm without asking anybody: the core may hang, and with it every task of its runtime. A service
//! manager that supervises the program is fed from the same pulse, so that it restarts a watch that only looks alive.
//!
//! # Source
//! The datagrams to `$NOTIFY_SOCKET` are those of systemd's sd_notify(3).

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// So long may the watch judge nothing. It ticks once a second; twice as long as it takes for a sleep of its own.
pub const SILENCE_MAX: Duration = Duration::from_secs(10);
/// The watchdog looks this often.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// More than this cannot have passed between two looks while the program ran: the rest was a closed lid, or a stopped
/// program, in which the watch could not beat either.
const LOOK_MAX: Duration = Duration::from_secs(2);

/// Beats as long as the watch judges. Clones are the same pulse.
#[derive(Clone, Debug, Default)]
pub struct Pulse(Arc<Beats>);

#[derive(Debug, Default)]
struct Beats {
    count: AtomicU64,
    is_silent: AtomicBool,
}

impl Pulse {
    /// The watch has judged another second.
    pub fn beat(&self) {
        self.0.count.fetch_add(1, Ordering::Relaxed);
    }

    /// Whether the watch has judged lately, as far as the watchdog knows.
    #[must_use]
    pub fn is_judging(&self) -> bool {
        !self.0.is_silent.load(Ordering::Relaxed)
    }

    /// How often it has beaten.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.0.count.load(Ordering::Relaxed)
    }
}

/// What the watchdog does when the watch is silent. Called from its thread.
pub trait Alarm: Send {
    /// The watch has judged nothing for so long.
    fn raise(&mut self, silent: Duration);
    /// It judges again, after so long.
    fn over(&mut self, silent: Duration);
}

/// What a look at the pulse found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Found {
    /// It has beaten since the last look.
    Beats,
    /// Not since the last look, but not for long.
    Waits,
    /// Not for too long, which is news.
    Silent(Duration),
    /// Still not.
    StillSilent,
    /// It beats again after so long.
    Over(Duration),
}

/// How long the pulse has been silent.
#[derive(Debug, Default)]
struct Silence {
    seen: u64,
    lasting: Duration,
}

impl Silence {
    fn look(&mut self, beats: u64, passed: Duration) -> Found {
        let before = self.lasting;
        if beats != self.seen {
            (self.seen, self.lasting) = (beats, Duration::ZERO);
            return if before >= SILENCE_MAX { Found::Over(before) } else { Found::Beats };
        }
        self.lasting += passed.min(LOOK_MAX);
        match (before >= SILENCE_MAX, self.lasting >= SILENCE_MAX) {
            (true, _) => Found::StillSilent,
            (false, true) => Found::Silent(self.lasting),
            (false, false) => Found::Waits,
        }
    }
}

/// The running watchdog. Dropping it ends it.
#[derive(Debug)]
pub struct Watchdog {
    stop: Sender<()>,
}

impl Watchdog {
    /// Starts the thread.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn start(pulse: Pulse, alarm: impl Alarm + 'static) -> io::Result<Self> {
        let begun = Instant::now();
        Self::start_by(move || begun.elapsed(), LOOK_EVERY, pulse, alarm)
    }

    /// The same by any clock, looking at it so often.
    fn start_by(
        clock: impl Fn() -> Duration + Send + 'static,
        every: Duration,
        pulse: Pulse,
        mut alarm: impl Alarm + 'static,
    ) -> io::Result<Self> {
        let (stop, stopped) = channel();
        let supervisor = Supervisor::of_this_process();
        thread::Builder::new().name("watchdog".into()).spawn(move || {
            let mut silence = Silence::default();
            let mut looked = clock();
            while stopped.recv_timeout(every) == Err(RecvTimeoutError::Timeout) {
                let now = clock();
                let found = silence.look(pulse.count(), now.saturating_sub(looked));
                looked = now;
                act(found, &pulse, &supervisor, &mut alarm);
            }
            supervisor.notify("STOPPING=1");
        })?;
        Ok(Self { stop })
    }
}

fn act(found: Found, pulse: &Pulse, supervisor: &Supervisor, alarm: &mut impl Alarm) {
    match found {
        Found::Beats => supervisor.notify("READY=1\nWATCHDOG=1"),
        Found::Waits | Found::StillSilent => {}
        Found::Silent(silent) => {
            pulse.0.is_silent.store(true, Ordering::Relaxed);
            alarm.raise(silent);
        }
        Found::Over(silent) => {
            pulse.0.is_silent.store(false, Ordering::Relaxed);
            supervisor.notify("WATCHDOG=1");
            alarm.over(silent);
        }
    }
}

impl Drop for Watchdog {
    fn drop(&mut self) {
        // It may have ended already; nobody is left to hear it.
        let _ = self.stop.send(());
    }
}

/// The service manager that started this program, if it wants to know how it is.
#[derive(Debug)]
struct Supervisor {
    #[cfg(unix)]
    socket: Option<std::os::unix::net::UnixDatagram>,
}

impl Supervisor {
    #[cfg(unix)]
    fn of_this_process() -> Self {
        let named = std::env::var_os("NOTIFY_SOCKET");
        Self { socket: named.and_then(|name| Self::connect(&name).ok()) }
    }

    #[cfg(not(unix))]
    fn of_this_process() -> Self {
        Self {}
    }

    /// A path, or a name behind `@` on a system that has sockets without files.
    #[cfg(unix)]
    fn connect(name: &std::ffi::OsStr) -> io::Result<std::os::unix::net::UnixDatagram> {
        use std::os::unix::ffi::OsStrExt as _;
        use std::os::unix::net::UnixDatagram;
        let socket = UnixDatagram::unbound()?;
        // A manager that does not read must not hold the watchdog up.
        socket.set_nonblocking(true)?;
        match name.as_bytes() {
            #[cfg(target_os = "linux")]
            [b'@', rest @ ..] => {
                use std::os::linux::net::SocketAddrExt as _;
                socket.connect_addr(&std::os::unix::net::SocketAddr::from_abstract_name(rest)?)?;
            }
            _ => socket.connect(name)?,
        }
        Ok(socket)
    }

    /// Nobody supervises, or nobody reads: then nobody is informed.
    fn notify(&self, words: &str) {
        #[cfg(unix)]
        if let Some(socket) = &self.socket {
            let _ = socket.send(words.as_bytes());
        }
        #[cfg(not(unix))]
        let _ = words;
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;

    const SECOND: Duration = Duration::from_secs(1);

    #[test]
    fn ten_silent_seconds_are_reported_once_and_the_end_of_them_too() {
        let mut silence = Silence::default();
        assert_eq!(silence.look(1, SECOND), Found::Beats);
        let found: Vec<Found> = (0..12).map(|_| silence.look(1, SECOND)).collect();
        assert_eq!(
            found[8..],
            [Found::Waits, Found::Silent(SILENCE_MAX), Found::StillSilent, Found::StillSilent]
        );
        assert_eq!(silence.look(2, SECOND), Found::Over(12 * SECOND));
        assert_eq!(silence.look(3, SECOND), Found::Beats);
    }

    #[test]
    fn a_closed_lid_is_no_silence_of_the_watch() {
        let mut silence = Silence::default();
        silence.look(1, SECOND);
        assert_eq!(silence.look(1, Duration::from_secs(3600)), Found::Waits);
        assert_eq!(silence.look(2, SECOND), Found::Beats);
    }

    struct Heard(Sender<bool>);

    impl Alarm for Heard {
        fn raise(&mut self, _: Duration) {
            let _ = self.0.send(true);
        }
        fn over(&mut self, _: Duration) {
            let _ = self.0.send(false);
        }
    }

    #[test]
    fn the_thread_raises_the_alarm_by_its_own_clock_and_calls_it_off() {
        const SOON: Duration = Duration::from_secs(30);
        let (sender, heard) = channel();
        let seconds = Arc::new(Mutex::new(Duration::ZERO));
        // Each look finds a second more.
        let clock = move || {
            let mut now = seconds.lock().unwrap();
            *now += SECOND;
            *now
        };
        let pulse = Pulse::default();
        let dog = Watchdog::start_by(clock, Duration::from_millis(1), pulse.clone(), Heard(sender)).unwrap();
        assert_eq!(heard.recv_timeout(SOON), Ok(true));
        assert!(!pulse.is_judging());
        pulse.beat();
        assert_eq!(heard.recv_timeout(SOON), Ok(false));
        drop(dog);
        while heard.recv_timeout(SOON).is_ok() {}
    }

    #[cfg(unix)]
    #[test]
    fn a_supervisor_is_told_by_datagrams() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let manager = std::os::unix::net::UnixDatagram::bind(&path).unwrap();
        let supervisor = Supervisor { socket: Supervisor::connect(path.as_os_str()).ok() };
        let (sender, _heard) = channel();
        let pulse = Pulse::default();
        act(Found::Beats, &pulse, &supervisor, &mut Heard(sender.clone()));
        act(Found::Waits, &pulse, &supervisor, &mut Heard(sender.clone()));
        act(Found::Silent(SILENCE_MAX), &pulse, &supervisor, &mut Heard(sender.clone()));
        act(Found::Over(SILENCE_MAX), &pulse, &supervisor, &mut Heard(sender));
        let mut words = [0; 64];
        let mut next = || manager.recv(&mut words).map(|n| String::from_utf8_lossy(&words[..n]).into_owned());
        assert_eq!(next().unwrap(), "READY=1\nWATCHDOG=1");
        assert_eq!(next().unwrap(), "WATCHDOG=1");
        manager.set_nonblocking(true).unwrap();
        assert!(next().is_err(), "a silent watch feeds nobody");
    }
}
