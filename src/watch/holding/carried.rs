//! The antenna carried on by the receiver's own velocity, and what the fixes do that this velocity knows nothing of.
//!
//! Reflections move the position and, in most receivers, hardly the velocity; a boat that goes moves both. Two antennas
//! are carried. The strict one believes what is printed: a speed of zero, or a blank course, is no motion. The lenient
//! one allows for a receiver that prints zero, or holds its position, while she goes.

use super::tuning::carried as tuning;
use crate::watch::geo::Local;
use crate::watch::units::TrueBearing;

/// A velocity as printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// Metres a second over ground.
    pub mps: f64,
    /// Course over ground; blank on many receivers when slow.
    pub course: Option<TrueBearing>,
}

/// How far the fix lies from each carried antenna.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Gaps {
    pub strict: Local,
    pub lenient: Local,
}

/// Carries both.
#[derive(Clone, Debug, Default)]
pub(super) struct Carried {
    /// Strict and lenient.
    antennas: Option<(Local, Local)>,
    last_fix: Option<Local>,
    held_s: f64,
    zeros: u32,
    /// A run of zeros was seen tonight.
    prints_zero: bool,
    /// Since the last fix that had a velocity.
    since_s: f64,
    /// Sum and count of the gaps of this step.
    gaps: (Gaps, u32),
}

impl Carried {
    /// A gap in the watch: begun anew at the next fix.
    pub fn restart(&mut self) {
        self.antennas = None;
        self.last_fix = None;
        self.gaps = (Gaps::default(), 0);
    }

    /// A fix, `interval_s` after the last.
    pub fn second(&mut self, fix: Local, way: Option<Way>, interval_s: f64) {
        self.since_s += interval_s;
        let Some(way) = way else { return };
        let is_held = self.last_fix.replace(fix) == Some(fix);
        self.held_s = if is_held { self.held_s + interval_s } else { 0.0 };
        let since_s = std::mem::take(&mut self.since_s);
        let (mut strict, mut lenient) =
            self.antennas.filter(|_| since_s <= tuning::HOLE_S).unwrap_or((fix, fix));
        let (carry, unknown_mps) = self.believe(way, since_s.min(tuning::CARRIES_S));
        strict = pulled(strict + carry, fix, 0.0, tuning::FAR_M.1, 1.0 / tuning::PULLED_S);
        lenient = pulled(lenient + carry, fix, unknown_mps, tuning::FAR_M.0, tuning::PULL_MOST);
        self.antennas = Some((strict, lenient));
        let (sum, count) = self.gaps;
        let sum = Gaps { strict: sum.strict + (fix - strict), lenient: sum.lenient + (fix - lenient) };
        self.gaps = (sum, count + 1);
    }

    /// How far a velocity carries, and how fast she may go without it showing that, m/s.
    fn believe(&mut self, way: Way, seconds: f64) -> (Local, f64) {
        if way.mps == 0.0 {
            self.zeros += 1;
            self.prints_zero |= self.zeros >= tuning::ZEROS;
            let hides =
                if self.prints_zero { tuning::ZERO_HIDES_MPS } else { tuning::ZERO_HIDES_AT_FIRST_MPS };
            return (Local::default(), hides);
        }
        self.zeros = 0;
        match way.course {
            Some(course) if self.held_s < tuning::HELD_S && way.mps <= tuning::FASTEST_MPS => {
                (Local::polar(course, way.mps * seconds), 0.0)
            }
            _ => (Local::default(), way.mps),
        }
    }

    /// Ends a step: the mean of its gaps, if there was a velocity.
    pub fn take(&mut self) -> Option<Gaps> {
        let (sum, count) = std::mem::take(&mut self.gaps);
        let share = 1.0 / f64::from(count.max(1));
        (count > 0).then(|| Gaps { strict: sum.strict.scaled(share), lenient: sum.lenient.scaled(share) })
    }
}

/// An antenna pulled towards the fix: slowly, and by `most` a second where its velocity does not know all or it is far off.
fn pulled(antenna: Local, fix: Local, unknown_mps: f64, far_m: f64, most: f64) -> Local {
    let gap = fix - antenna;
    let gap_m = gap.length_m();
    let more_mps = unknown_mps + (gap_m - far_m).max(0.0) / tuning::FAR_S;
    let most = if more_mps > 0.0 { most } else { 1.0 / tuning::PULLED_S };
    antenna + gap.scaled(((tuning::RATE_MPS + more_mps) / gap_m.max(1e-9)).min(most))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The gaps after so many seconds of a way, the fix starting to go east at `mps` after ten minutes.
    fn after(seconds: u32, mps: f64, way: impl Fn(f64) -> Way) -> Gaps {
        let mut carried = Carried::default();
        let mut gaps = Gaps::default();
        for s in 0..600 + seconds {
            let goes = f64::from(s.saturating_sub(600)) * mps;
            let speed = if s > 600 { mps } else { 0.0 };
            carried.second(Local::new(goes, 0.01 * f64::from(s % 2)), Some(way(speed)), 1.0);
            if s % 5 == 4 {
                gaps = carried.take().unwrap_or_default();
            }
        }
        gaps
    }

    fn east(mps: f64) -> Way {
        Way { mps: mps.max(1e-6), course: Some(TrueBearing::new(90.0)) }
    }

    #[test]
    fn velocity_knows_of_a_boat_that_goes_and_not_of_an_excursion() {
        let goes = after(60, 0.2, east);
        assert!(goes.strict.length_m() < 2.0 && goes.lenient.length_m() < 2.0, "{goes:?}");
        let excursion = after(60, 0.2, |_| east(0.0));
        assert!(excursion.strict.east_m > 8.0, "{excursion:?}");
    }

    #[test]
    fn a_velocity_that_no_boat_at_anchor_has_carries_nothing() {
        let mut carried = Carried::default();
        carried.second(Local::default(), Some(east(0.1)), 1.0);
        carried.take();
        // Thrown 12 m off within a second, and the velocity with it.
        carried.second(Local::new(12.0, 0.0), Some(east(12.0)), 1.0);
        let gaps = carried.take().unwrap_or_default();
        assert!(gaps.strict.east_m > 11.0, "{gaps:?}");
    }

    #[test]
    fn a_receiver_that_prints_zero_is_not_believed_to_stand() {
        let zero = after(60, 0.2, |_| Way { mps: 0.0, course: None });
        assert!(zero.strict.east_m > 8.0 && zero.lenient.length_m() < 2.0, "{zero:?}");
    }
}
