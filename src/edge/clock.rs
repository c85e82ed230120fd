//! What time is it on the watch? One clock that never runs backwards and never hides that the computer slept.
//!
//! A computer has two clocks and neither will do alone. The wall clock is stepped, back too, whenever somebody or
//! the network corrects it. The steady clock cannot be stepped but stands still while the lid is closed (Linux
//! `CLOCK_MONOTONIC`, clock_gettime(2)), so a night asleep would look like a second. [`Clock`] counts on the
//! steady one, compares it with the others at every reading, and jumps forward when they have run ahead.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use crate::watch::units::{Span, WatchTime};

/// How far the steady clock may lag before it is taken for sleep or a step of the clock. Above what scheduling, a
/// leap second or the network's usual small corrections do; below the shortest gap a watchkeeper cares for. Our choice.
const LAG_MAX: Span = Span::from_secs(2);

/// The computer's clocks, to be replaced in tests.
pub trait TimeSource: Send + Sync {
    /// Unix time in milliseconds. May be stepped either way at any moment.
    fn wall_ms(&self) -> i64;
    /// Time for which the computer has run, from any zero. Never stepped; stands still in suspend on some systems.
    fn running(&self) -> Duration;
    /// Like [`running`](Self::running) from a zero of its own but counting suspend too, where the system has it.
    fn running_and_asleep(&self) -> Option<Duration>;
}

/// A stretch in which the watch did not run: the computer slept, or its clock was put forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The last moment at which the watch is known to have run.
    pub from: WatchTime,
    /// The moment at which it was found out.
    pub until: WatchTime,
}

impl Gap {
    /// How long the watch did not run.
    #[must_use]
    pub fn length(self) -> Span {
        self.until.since(self.from)
    }
}

/// The watch's clock: Unix milliseconds when it was made, counted on from there, never backwards. Clones are the
/// same clock.
#[derive(Clone)]
pub struct Clock {
    source: Arc<dyn TimeSource>,
    state: Arc<Mutex<State>>,
}

struct State {
    /// Watch time minus [`TimeSource::running`], in milliseconds.
    offset_ms: i64,
    /// Suspended time that the offset already holds: the lead of the third clock over the second.
    slept_ms: Option<i64>,
    last: WatchTime,
    gap: Option<Gap>,
    /// So far it runs ahead of the wall clock because it was asked to.
    led: Span,
    /// So far the watch's time is ahead of this computer's wall clock, because another computer began it.
    shift_ms: i64,
}

impl Clock {
    /// A clock on the computer's own clocks.
    #[must_use]
    pub fn system() -> Self {
        Self::on(Arc::new(SystemTimeSource { zero: Instant::now() }))
    }

    /// A clock on any clocks.
    #[must_use]
    pub fn on(source: Arc<dyn TimeSource>) -> Self {
        let wall_ms = source.wall_ms();
        let state = State {
            offset_ms: wall_ms - millis(source.running()),
            slept_ms: slept_ms(source.as_ref()),
            last: WatchTime(wall_ms),
            gap: None,
            led: Span::ZERO,
            shift_ms: 0,
        };
        Self { source, state: Arc::new(Mutex::new(state)) }
    }

    /// Now. Never less than what was returned before, from any clone.
    ///
    /// When the computer has slept or its clock was put forward by more than 2 s this jumps with it and keeps the
    /// gap for [`resync`](Self::resync). A clock put back is ignored.
    #[must_use]
    pub fn now(&self) -> WatchTime {
        self.read().last
    }

    /// The gap since this was last called, if there was one, and several as one.
    ///
    /// Call it before every input is handled: then the watch hears of a gap before the first line after it.
    #[must_use]
    pub fn resync(&self) -> Option<Gap> {
        self.read().gap.take()
    }

    /// Goes on from `at`, if that is ahead: nothing that is stamped already may lie in the future, where it would hold
    /// everything up until the clock has come there. A wall clock that lost its time in a power cut starts so.
    pub fn reach(&self, at: WatchTime) {
        self.read().reach(at);
    }

    /// The same for a recording that is played faster than it happened: that the wall clock is behind is then no fault.
    pub fn lead(&self, at: WatchTime) {
        let mut state = self.read();
        let ahead = at.since(state.last);
        if ahead > Span::ZERO {
            state.led = state.led + ahead;
            state.reach(at);
        }
    }

    /// Goes on from `at`, back too: from now on it shows the time of a watch that another computer began, whose clocks may go
    /// otherwise. What was read before means nothing any more.
    pub fn goes_on_from(&self, at: WatchTime) {
        let mut state = self.read();
        let by = at.0.saturating_sub(state.last.0);
        state.offset_ms = state.offset_ms.saturating_add(by);
        state.shift_ms = state.shift_ms.saturating_add(by);
        (state.last, state.gap) = (at, None);
    }

    /// How far the computer's wall clock is behind the watch's time: it was put back, or had lost its time when the
    /// watch began.
    #[must_use]
    pub fn wall_behind(&self) -> Span {
        let state = self.read();
        let wall_ms = self.source.wall_ms().saturating_add(state.shift_ms);
        Span(state.last.0.saturating_sub(wall_ms).saturating_sub(state.led.0).max(0))
    }

    fn read(&self) -> MutexGuard<'_, State> {
        // A panic elsewhere leaves whole numbers behind: they are still good.
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.advance(self.source.as_ref());
        state
    }
}

impl State {
    fn reach(&mut self, at: WatchTime) {
        if at > self.last {
            self.offset_ms = self.offset_ms.saturating_add(at.0 - self.last.0);
            self.last = at;
        }
    }

    fn advance(&mut self, source: &dyn TimeSource) {
        let steady_ms = self.offset_ms.saturating_add(millis(source.running()));
        let slept_ms = slept_ms(source);
        let asleep_ms = match (slept_ms, self.slept_ms) {
            (Some(now), Some(before)) => now - before,
            _ => 0,
        };
        let wall_ms = source.wall_ms().saturating_add(self.shift_ms);
        let lag_ms = wall_ms.saturating_sub(steady_ms).max(asleep_ms);
        if lag_ms <= LAG_MAX.0 {
            self.last = self.last.max(WatchTime(steady_ms));
            return;
        }
        self.offset_ms = self.offset_ms.saturating_add(lag_ms);
        self.slept_ms = slept_ms;
        let until = self.last.max(WatchTime(steady_ms.saturating_add(lag_ms)));
        self.gap = Some(Gap { from: self.gap.map_or(self.last, |gap| gap.from), until });
        self.last = until;
    }
}

fn slept_ms(source: &dyn TimeSource) -> Option<i64> {
    source.running_and_asleep().map(|both| millis(both) - millis(source.running()))
}

fn millis(duration: Duration) -> i64 {
    i64::try_from(duration.as_millis()).unwrap_or(i64::MAX)
}

struct SystemTimeSource {
    zero: Instant,
}

impl TimeSource for SystemTimeSource {
    fn wall_ms(&self) -> i64 {
        // A computer whose clock stands before 1970 has lost its battery; zero is as good as any.
        SystemTime::UNIX_EPOCH.elapsed().map_or(0, millis)
    }

    fn running(&self) -> Duration {
        self.zero.elapsed()
    }

    #[cfg(target_os = "linux")]
    fn running_and_asleep(&self) -> Option<Duration> {
        let time = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
        Duration::try_from(time).ok()
    }

    #[cfg(not(target_os = "linux"))]
    fn running_and_asleep(&self) -> Option<Duration> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START_MS: i64 = 1_767_225_600_000;

    #[derive(Default)]
    struct Hands {
        wall_ms: i64,
        running_ms: u64,
        asleep_ms: Option<u64>,
    }

    #[derive(Default)]
    struct FakeSource(Mutex<Hands>);

    impl FakeSource {
        fn set(&self, turn: impl FnOnce(&mut Hands)) {
            turn(&mut self.0.lock().unwrap());
        }
        fn runs(&self, ms: u64) {
            self.set(|h| {
                h.running_ms += ms;
                h.wall_ms += ms as i64;
            });
        }
        fn sleeps(&self, ms: u64) {
            self.set(|h| {
                h.wall_ms += ms as i64;
                h.asleep_ms = h.asleep_ms.map(|asleep| asleep + ms);
            });
        }
    }

    impl TimeSource for FakeSource {
        fn wall_ms(&self) -> i64 {
            self.0.lock().unwrap().wall_ms
        }
        fn running(&self) -> Duration {
            Duration::from_millis(self.0.lock().unwrap().running_ms)
        }
        fn running_and_asleep(&self) -> Option<Duration> {
            let hands = self.0.lock().unwrap();
            hands.asleep_ms.map(|asleep| Duration::from_millis(hands.running_ms + asleep + 777_000))
        }
    }

    fn clock(asleep_ms: Option<u64>) -> (Arc<FakeSource>, Clock) {
        let source =
            Arc::new(FakeSource(Mutex::new(Hands { wall_ms: START_MS, running_ms: 5_000, asleep_ms })));
        (source.clone(), Clock::on(source))
    }

    #[test]
    fn it_counts_from_unix_time_at_the_start() {
        let (source, clock) = clock(Some(0));
        assert_eq!(clock.now(), WatchTime(START_MS));
        source.runs(1_234);
        assert_eq!(clock.now(), WatchTime(START_MS + 1_234));
        assert_eq!(clock.resync(), None);
    }

    #[test]
    fn a_clock_put_back_is_ignored() {
        let (source, clock) = clock(Some(0));
        source.set(|h| h.wall_ms -= 3_600_000);
        source.runs(500);
        assert_eq!((clock.now(), clock.resync()), (WatchTime(START_MS + 500), None));
    }

    #[test]
    fn a_closed_lid_is_a_gap_from_the_last_reading() {
        for asleep_ms in [None, Some(0)] {
            let (source, clock) = clock(asleep_ms);
            source.runs(1_000);
            let before = clock.now();
            source.sleeps(7_200_000);
            source.runs(300);
            let until = WatchTime(START_MS + 7_201_300);
            assert_eq!(clock.now(), until, "a line that comes before the tick is stamped after the gap");
            assert_eq!(clock.resync(), Some(Gap { from: before, until }));
            assert_eq!(clock.resync(), None, "a gap is reported once");
            source.runs(1_000);
            assert_eq!((clock.now(), clock.resync()), (until + Span(1_000), None));
        }
    }

    #[test]
    fn sleep_is_seen_even_when_the_clock_was_put_back_meanwhile() {
        let (source, clock) = clock(Some(0));
        source.set(|h| h.wall_ms -= 3_600_000);
        source.sleeps(600_000);
        assert_eq!(clock.resync().unwrap().length(), Span(600_000));
        assert_eq!(clock.now(), WatchTime(START_MS + 600_000));
    }

    #[test]
    fn a_clock_put_forward_is_a_gap_and_small_corrections_are_not() {
        let (source, clock) = clock(Some(0));
        source.set(|h| h.wall_ms += 2_000);
        assert_eq!((clock.now(), clock.resync()), (WatchTime(START_MS), None));
        source.set(|h| h.wall_ms += 1);
        assert_eq!(clock.resync().unwrap().length(), Span(2_001));
    }

    #[test]
    fn two_gaps_before_anybody_asks_are_told_as_one() {
        let (source, clock) = clock(None);
        source.sleeps(10_000);
        let _ = clock.now();
        source.runs(1_000);
        source.sleeps(10_000);
        let gap = clock.resync().unwrap();
        assert_eq!((gap.from, gap.until), (WatchTime(START_MS), WatchTime(START_MS + 21_000)));
    }

    #[test]
    fn a_wall_clock_behind_the_log_does_not_hold_time_up_and_is_reported() {
        let (source, clock) = clock(Some(0));
        let last = WatchTime(START_MS + 1_200_000);
        clock.reach(last);
        assert_eq!((clock.now(), clock.wall_behind()), (last, Span(1_200_000)));
        source.runs(1_500);
        assert_eq!((clock.now(), clock.resync()), (last + Span(1_500), None), "the steady clock goes on");
        // The network puts the clock right: now it is known how long nobody watched.
        source.set(|h| h.wall_ms += 1_800_000);
        assert_eq!(clock.now(), WatchTime(START_MS + 1_801_500));
        assert_eq!(clock.resync().unwrap().from, last + Span(1_500));
        assert_eq!(clock.wall_behind(), Span::ZERO);
    }

    #[test]
    fn a_wall_clock_put_back_is_reported_and_a_recording_that_runs_ahead_is_not() {
        let (source, clock) = clock(Some(0));
        source.set(|h| h.wall_ms -= 3_600_000);
        assert_eq!(clock.wall_behind(), Span(3_600_000));
        let (_, clock) = self::clock(Some(0));
        clock.lead(WatchTime(START_MS + 8 * 3_600_000));
        assert_eq!((clock.now(), clock.wall_behind()), (WatchTime(START_MS + 8 * 3_600_000), Span::ZERO));
        clock.lead(WatchTime(START_MS));
        assert_eq!(clock.now(), WatchTime(START_MS + 8 * 3_600_000));
    }

    #[test]
    fn a_watch_of_another_computer_goes_on_by_its_time_without_a_gap() {
        for ahead_ms in [-90_000, 0, 90_000] {
            let (source, clock) = clock(Some(0));
            let theirs = WatchTime(START_MS - ahead_ms);
            clock.goes_on_from(theirs);
            source.runs(1_500);
            assert_eq!((clock.now(), clock.resync()), (theirs + Span(1_500), None));
            assert_eq!(clock.wall_behind(), Span::ZERO);
            source.sleeps(60_000);
            assert_eq!(clock.resync().unwrap().length(), Span(60_000), "{ahead_ms}");
        }
    }

    #[test]
    fn the_computers_own_clock_does_not_run_backwards() {
        let clock = Clock::system();
        let times: Vec<_> = (0..1_000).map(|_| clock.now()).collect();
        assert!(times.is_sorted());
        assert_eq!(clock.resync(), None);
    }
}
