//! How long has something been so, and is it so for long enough to count?

use super::units::{Span, WatchTime};

/// How long something has been so without a break.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lasting {
    since: Option<WatchTime>,
}

impl Lasting {
    /// So from this moment on.
    #[must_use]
    pub const fn beginning(now: WatchTime) -> Self {
        Self { since: Some(now) }
    }

    /// Since when it is so without a break; `None` while it is not.
    pub fn note(&mut self, now: WatchTime, so: bool) -> Option<Span> {
        self.since = so.then(|| self.since.unwrap_or(now));
        self.length(now)
    }

    /// Whether it has been so for at least so long.
    #[must_use]
    pub fn is_for(&self, now: WatchTime, span: Span) -> bool {
        self.length(now).is_some_and(|length| length >= span)
    }

    /// The same as [`Lasting::note`] without noting anything.
    #[must_use]
    pub fn length(&self, now: WatchTime) -> Option<Span> {
        self.since.map(|since| now.since(since))
    }
}

/// How long a latch waits before it goes on, and before it goes off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// So long must what sets it last.
    pub on: Span,
    /// So long must what clears it last.
    pub off: Span,
}

impl Patience {
    /// Goes on and off at once.
    pub const NONE: Self = Self { on: Span::ZERO, off: Span::ZERO };
}

/// Goes on when one thing has lasted, and off when another has; between the two it stays as it is.
#[derive(Clone, Copy, Debug, Default)]
pub struct Latch {
    sets: Lasting,
    clears: Lasting,
    on: bool,
}

impl Latch {
    /// Takes this second's word on what sets it and what clears it; gives whether it is on.
    pub fn note(&mut self, now: WatchTime, sets: bool, clears: bool, patience: Patience) -> bool {
        let set_for = self.sets.note(now, sets);
        let clear_for = self.clears.note(now, clears);
        if set_for.is_some_and(|span| span >= patience.on) {
            self.on = true;
        } else if clear_for.is_some_and(|span| span >= patience.off) {
            self.on = false;
        }
        self.on
    }

    /// Nothing is known this second: it stays as it is, and what was lasting has to last anew.
    pub fn unknown(&mut self) -> bool {
        (self.sets, self.clears) = (Lasting::default(), Lasting::default());
        self.on
    }

    /// Off, whatever it was.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// Whether it is on.
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// How long what sets it has lasted.
    #[must_use]
    pub fn set_for(&self, now: WatchTime) -> Option<Span> {
        self.sets.length(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PATIENCE: Patience = Patience { on: Span::from_secs(10), off: Span::from_secs(30) };

    fn run(latch: &mut Latch, seconds: std::ops::Range<i64>, so: bool) -> Vec<i64> {
        seconds.filter(|s| latch.note(WatchTime(s * 1000), so, !so, PATIENCE)).collect()
    }

    #[test]
    fn it_waits_before_it_goes_on_and_before_it_goes_off() {
        let mut latch = Latch::default();
        assert_eq!(run(&mut latch, 0..12, true), [10, 11]);
        let on = run(&mut latch, 12..60, false);
        assert_eq!((on.first(), on.last()), (Some(&12), Some(&41)));
    }

    #[test]
    fn what_comes_and_goes_sets_nothing() {
        let mut latch = Latch::default();
        for s in 0..100 {
            let so = s % 5 != 0;
            assert!(!latch.note(WatchTime(s * 1000), so, !so, PATIENCE));
        }
    }

    #[test]
    fn while_nothing_is_known_it_stays_as_it_is() {
        let mut latch = Latch::default();
        run(&mut latch, 0..20, true);
        assert!(latch.unknown());
        assert!(!run(&mut latch, 20..40, false).is_empty(), "clearing begins anew");
    }
}
