//! May this receiver's position be trusted? Start-up, two dimensions, poor geometry, jumps and frozen output.
//!
//! A doubtful fix is shown, but never feeds the track, the circle or the judgement. The limits here are common
//! practice, no source, unless a comment names one.

use super::geo::Local;
use super::latch::Lasting;
use super::nmea::{FixMode, TimeOfDay};
use super::tuning::fixgate::{
    FIRST_SIGHT, HDOP_COARSE, HDOP_MAX, HOLDS_STILL, HOLDS_STILL_TIMES, HOLE, JUMP_ALLOWED_S, JUMP_FIXES,
    JUMP_M, JUMP_MPS, SAME_PLACE, SAME_PLACE_COARSE, SAME_PLACE_HELD, SAME_SKY, SAME_TIME, SETTLING,
    WAY_FIXES, WAY_LASTS, WAY_MPS,
};
use super::units::{Knots, Span, WatchTime};

/// What the gate needs to know of one fix.
#[derive(Clone, Copy, Debug)]
pub struct Sight {
    /// On a plane that stays the same.
    pub point: Local,
    /// Time of day as printed.
    pub utc: Option<TimeOfDay>,
    /// Decimals of a minute as printed.
    pub minute_decimals: u8,
    /// Dimensions, where the receiver reports them.
    pub mode: Option<FixMode>,
    /// Horizontal dilution of precision, where it reports it.
    pub hdop: Option<f64>,
    /// Satellites used, where it reports them.
    pub satellites: Option<u8>,
    /// Speed over ground, where it reports it.
    pub sog: Option<Knots>,
}

/// Why a fix is not trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// The receiver has only just begun to give positions.
    Settling,
    /// Two dimensions only.
    TwoD,
    /// Poor geometry of the satellites.
    Hdop(f64),
    /// Farther from the last than a boat can go.
    Jumped(f64),
    /// The time in its sentences stands still.
    SameTime(Span),
    /// Not a digit of its position changes.
    SamePlace(Span),
    /// Another receiver says otherwise.
    Disagree(f64),
}

impl Doubt {
    /// Too poor to judge the anchor by, and good enough to tell within tens of metres whether she lies in her circle.
    #[must_use]
    pub fn is_coarse(self) -> bool {
        matches!(self, Self::Hdop(hdop) if hdop <= HDOP_COARSE)
    }

    /// The kind of doubt in words, without its figures.
    #[must_use]
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Settling => "the receiver is still settling",
            Self::TwoD => "2D fix: too few satellites",
            Self::Hdop(_) => "satellites badly placed",
            Self::Jumped(_) => "jumped faster than a boat can go",
            Self::SameTime(_) => "receiver frozen, its time stands still",
            Self::SamePlace(_) => "frozen, not a digit changed",
            Self::Disagree(_) => "two receivers lie apart",
        }
    }
}

impl Doubt {
    /// In two or three words, for a column.
    #[must_use]
    pub fn short(self) -> String {
        match self {
            Self::Settling => "settling".to_owned(),
            Self::TwoD => "2D fix".to_owned(),
            Self::Hdop(hdop) => format!("HDOP {hdop:.1}"),
            Self::Jumped(metres) => format!("jumped {metres:.0} m"),
            Self::SameTime(span) | Self::SamePlace(span) => format!("frozen for {span}"),
            Self::Disagree(metres) => format!("two, {metres:.0} m apart"),
        }
    }
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Settling | Self::TwoD => f.write_str(self.kind()),
            Self::Hdop(hdop) => write!(f, "{}, HDOP {hdop:.1}", self.kind()),
            Self::Jumped(metres) => write!(f, "jumped {metres:.0} m, faster than a boat can go"),
            Self::SameTime(span) => write!(f, "{} for {span}", self.kind()),
            Self::SamePlace(span) => write!(f, "{} for {span}", self.kind()),
            Self::Disagree(metres) => write!(f, "two receivers lie {metres:.0} m apart"),
        }
    }
}

/// Doubtful fixes away from the last trusted one.
#[derive(Clone, Copy, Debug)]
struct Away {
    place: Local,
    at: WatchTime,
    /// How many in a row lie in one place.
    still: u32,
    /// The last step, how many in a row went on like it, and for how long.
    step: Local,
    onward: u32,
    on_its_way: Lasting,
}

impl Away {
    /// The first fix away from the trusted one.
    fn first(at: WatchTime, place: Local, (trusted_at, trusted): (WatchTime, Local)) -> Self {
        Self {
            place,
            at,
            still: 1,
            step: place - trusted,
            onward: 1,
            on_its_way: Lasting::beginning(trusted_at),
        }
    }

    fn next(self, at: WatchTime, place: Local) -> Self {
        let step = place - self.place;
        let is_still = step.length_m() < 2.0 * JUMP_M;
        let can_be_gone = step.length_m() <= WAY_MPS * at.since(self.at).seconds();
        let goes_on = !is_still && can_be_gone && step.dot(self.step) > 0.0;
        Self {
            place,
            at,
            still: if is_still { self.still + 1 } else { 1 },
            step,
            onward: if goes_on { self.onward + 1 } else { 1 },
            on_its_way: if goes_on { self.on_its_way } else { Lasting::beginning(self.at) },
        }
    }

    /// Twenty in one place are a place, and a few that go on and on a way: a lone outlier is neither.
    fn is_true(&self) -> bool {
        let is_way = self.onward >= WAY_FIXES && self.on_its_way.is_for(self.at, WAY_LASTS);
        self.still >= JUMP_FIXES || is_way
    }
}

/// What one receiver has shown so far.
#[derive(Clone, Debug, Default)]
pub struct FixGate {
    last: Option<(WatchTime, Sight)>,
    /// Between the last fix and the one before it.
    pace: Span,
    /// The shorter of the last two such times: that of a receiver that speaks seldom, and no single hole.
    usual: Span,
    /// Since it began to speak, and how long it is doubted from then on.
    speaking: Lasting,
    wait: Span,
    /// Not a digit of its time, or of its place, has changed.
    same_time: Lasting,
    same_place: Lasting,
    /// What it says of its satellites has not changed.
    same_sky: Lasting,
    /// So often it has stood still for a while and moved on.
    held_still: u32,
    trusted: Option<(WatchTime, Local)>,
    away: Option<Away>,
    was_without: bool,
}

impl FixGate {
    /// The receiver said that it has no position.
    pub fn no_fix(&mut self) {
        self.was_without = true;
    }

    /// The watch did not run. The receiver may have been at work all the time: it needs only to be seen steady,
    /// wherever it finds itself now.
    pub fn slept(&mut self) {
        (self.last, self.trusted, self.away) = (None, None, None);
    }

    /// It holds its position still until she has moved far or fast enough: a slow drag shows late.
    #[must_use]
    pub const fn holds_still(&self) -> bool {
        self.held_still >= HOLDS_STILL_TIMES
    }

    /// Judges the next fix of this receiver; `None` means that it can be trusted.
    pub fn judge(&mut self, at: WatchTime, sight: Sight) -> Option<Doubt> {
        self.note_continuity(at, &sight);
        self.last = Some((at, sight));
        let doubt =
            self.frozen(at, &sight).or_else(|| self.poor(at, &sight)).or_else(|| self.jumped(at, &sight));
        if doubt.is_none() {
            self.trusted = Some((at, sight.point));
        }
        doubt
    }

    /// Keeps since when the receiver speaks, and since when its time and place stand still.
    fn note_continuity(&mut self, at: WatchTime, sight: &Sight) {
        let Some((last_at, last)) = self.last else {
            let wait = if self.was_without { SETTLING } else { FIRST_SIGHT };
            self.start(at, wait);
            return;
        };
        let gap = at.since(last_at);
        // One that speaks once a minute has no hole at each fix: a recording that was thinned, a buoy.
        let is_hole = gap > HOLE && gap.0 > 2 * self.pace.0;
        self.usual = self.pace.min(gap);
        self.pace = gap;
        if is_hole || self.was_without && at.since(last_at) > Span::from_secs(15) {
            self.start(at, SETTLING);
            return;
        }
        self.was_without = false;
        if sight.utc.is_none() || sight.utc != last.utc {
            self.same_time = Lasting::beginning(at);
        }
        if (sight.hdop, sight.satellites) != (last.hdop, last.satellites) {
            self.same_sky = Lasting::beginning(at);
        }
        if sight.point != last.point {
            if self.same_place.is_for(at, HOLDS_STILL) {
                self.held_still = self.held_still.saturating_add(1);
            }
            self.same_place = Lasting::beginning(at);
        }
    }

    fn start(&mut self, at: WatchTime, wait: Span) {
        let beginning = Lasting::beginning(at);
        (self.speaking, self.same_time) = (beginning, beginning);
        (self.same_place, self.same_sky) = (beginning, beginning);
        self.wait = wait;
        self.was_without = false;
        // Where she was before the hole says little about where she can be now.
        self.trusted = self.trusted.filter(|(t, _)| at.since(*t) < Span::from_mins(10));
        self.away = None;
    }

    fn frozen(&self, at: WatchTime, sight: &Sight) -> Option<Doubt> {
        let same_time = self.same_time.length(at).unwrap_or_default();
        if same_time > SAME_TIME {
            return Some(Doubt::SameTime(same_time));
        }
        let says_still = sight.sog == Some(Knots(0.0));
        let is_alive = !self.same_sky.is_for(at, SAME_SKY);
        let limit = match sight.minute_decimals {
            // One that says that she stands may well hold her still: as long as its sky changes it does not hang.
            _ if self.holds_still() || says_still && is_alive => SAME_PLACE_HELD,
            4.. if !says_still => SAME_PLACE,
            _ => SAME_PLACE_COARSE,
        };
        let same_place = self.same_place.length(at).unwrap_or_default();
        (same_place > limit).then_some(Doubt::SamePlace(same_place))
    }

    fn poor(&self, at: WatchTime, sight: &Sight) -> Option<Doubt> {
        if sight.mode == Some(FixMode::TwoD) {
            return Some(Doubt::TwoD);
        }
        if let Some(hdop) = sight.hdop.filter(|h| *h > HDOP_MAX) {
            return Some(Doubt::Hdop(hdop));
        }
        (!self.speaking.is_for(at, self.wait)).then_some(Doubt::Settling)
    }

    /// A fix farther from the last trusted one than a boat can go, until it has stayed there or gone on from there.
    fn jumped(&mut self, at: WatchTime, sight: &Sight) -> Option<Doubt> {
        let (trusted_at, trusted) = self.trusted?;
        let seconds = at.since(trusted_at).seconds();
        let distance_m = (sight.point - trusted).length_m();
        let allowed_s = seconds.min(JUMP_ALLOWED_S.max(self.usual.seconds()));
        if distance_m <= JUMP_M + JUMP_MPS * allowed_s {
            self.away = None;
            return None;
        }
        let away = match self.away {
            Some(away) => away.next(at, sight.point),
            None => Away::first(at, sight.point, (trusted_at, trusted)),
        };
        self.away = Some(away);
        (!away.is_true()).then_some(Doubt::Jumped(distance_m))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sight(east_m: f64, second: i64) -> Sight {
        let second = second as u32;
        Sight {
            point: Local::new(east_m, 0.0),
            utc: TimeOfDay::new(1, second / 60 % 60, second % 60, 0),
            minute_decimals: 4,
            mode: None,
            hdop: Some(0.9),
            satellites: None,
            sog: None,
        }
    }

    /// A gate that has seen a minute of good fixes with a little noise.
    fn settled() -> FixGate {
        let mut gate = FixGate::default();
        for s in 0..60 {
            gate.judge(WatchTime(s * 1000), sight(0.1 * (s % 3) as f64, s));
        }
        gate
    }

    #[test]
    fn a_receiver_that_started_from_nothing_settles_for_a_minute() {
        let mut gate = FixGate::default();
        gate.no_fix();
        let verdicts: Vec<_> =
            (0..70).map(|s| gate.judge(WatchTime(s * 1000), sight(s as f64 * 0.01, s)).is_none()).collect();
        assert_eq!(verdicts.iter().position(|good| *good), Some(60));
    }

    #[test]
    fn after_a_long_sleep_of_the_watch_it_needs_only_to_be_seen_steady_wherever_it_is() {
        let mut gate = settled();
        gate.slept();
        let good: Vec<_> = (600..620)
            .map(|s| gate.judge(WatchTime(s * 1000), sight(1600.0 + 0.1 * (s % 3) as f64, s)).is_none())
            .collect();
        assert_eq!(good.iter().position(|good| *good), Some(5));
    }

    #[test]
    fn one_that_speaks_once_a_minute_is_not_started_anew_at_each_word() {
        let mut gate = FixGate::default();
        let verdicts: Vec<_> =
            (0..20).map(|n| gate.judge(WatchTime(n * 61_000), sight(n as f64, n * 61)).is_none()).collect();
        assert!(verdicts[3..].iter().all(|good| *good), "{verdicts:?}");
        // A real hole is one all the same.
        let late = 19 * 61_000 + 600_000;
        assert_eq!(gate.judge(WatchTime(late), sight(20.0, late / 1000)), Some(Doubt::Settling));
    }

    #[test]
    fn one_spike_is_doubted_and_twenty_fixes_in_one_place_are_believed() {
        let mut gate = settled();
        assert!(matches!(gate.judge(WatchTime(60_000), sight(60.0, 60)), Some(Doubt::Jumped(_))));
        assert_eq!(gate.judge(WatchTime(61_000), sight(0.2, 61)), None);
        let away: Vec<_> = (62..90)
            .map(|s| gate.judge(WatchTime(s * 1000), sight(200.0 + 0.1 * (s % 3) as f64, s)).is_none())
            .collect();
        assert_eq!(away.iter().position(|good| *good), Some(19));
    }

    /// A minute of good fixes at the end of which one a minute comes, `east_m` of the minute.
    fn once_a_minute(east_m: impl Fn(i64) -> f64) -> Vec<bool> {
        let mut gate = FixGate::default();
        for minute in -9..=0 {
            let s = 600 + 60 * minute;
            gate.judge(WatchTime(s * 1000), sight(0.1 * (minute % 3) as f64, s));
        }
        let fixes = (1..40).map(|minute| (600 + 60 * minute, east_m(minute)));
        fixes.map(|(s, east_m)| gate.judge(WatchTime(s * 1000), sight(east_m, s)).is_none()).collect()
    }

    #[test]
    fn one_that_goes_off_fast_is_believed_within_three_fixes() {
        let believed = once_a_minute(|minute| 700.0 * minute as f64);
        assert!(!believed[0] && believed[2..].iter().all(|good| *good), "{believed:?}");
    }

    #[test]
    fn leaps_to_and_fro_or_out_and_still_are_not_believed_as_a_way() {
        let and_fro = once_a_minute(|minute| if minute % 2 == 1 { 700.0 } else { 1400.0 });
        assert!(!and_fro.iter().any(|good| *good), "{and_fro:?}");
        let and_still = once_a_minute(|minute| 700.0 + (minute % 3) as f64);
        assert_eq!(and_still.iter().position(|good| *good), Some(19));
        // Faster than anything on the water, however straight.
        let flown = once_a_minute(|minute| 3000.0 * minute as f64);
        assert!(!flown.iter().any(|good| *good), "{flown:?}");
    }

    #[test]
    fn a_swing_out_and_back_within_seconds_is_not_believed() {
        let mut gate = settled();
        let out = |s: i64| 25.0 * (if s < 67 { s - 59 } else { 74 - s }) as f64;
        for s in 60..74 {
            let doubt = gate.judge(WatchTime(s * 1000), sight(out(s), s));
            let is_far = out(s) > JUMP_M + JUMP_MPS * (s - 59) as f64;
            assert!(!is_far || matches!(doubt, Some(Doubt::Jumped(_))), "{s}: {doubt:?}");
        }
    }

    #[test]
    fn one_that_speaks_once_a_minute_may_go_as_far_as_a_boat_goes_in_one() {
        let believed = once_a_minute(|minute| 400.0 * minute as f64);
        assert!(believed.iter().all(|good| *good), "{believed:?}");
    }

    #[test]
    fn a_clock_that_stands_still_is_frozen_within_seconds() {
        let mut gate = settled();
        let doubts: Vec<_> = (60..70).map(|s| gate.judge(WatchTime(s * 1000), sight(0.0, 59))).collect();
        assert!(doubts[3].is_none() && matches!(doubts[9], Some(Doubt::SameTime(_))), "{doubts:?}");
    }

    #[test]
    fn digits_that_never_change_are_frozen_after_minutes() {
        let mut gate = settled();
        let first = (60..400)
            .find(|s| matches!(gate.judge(WatchTime(s * 1000), sight(0.0, *s)), Some(Doubt::SamePlace(_))));
        assert!(first.is_some_and(|s| s >= 180 + 57), "{first:?}");
    }

    #[test]
    fn one_that_says_that_she_stands_is_frozen_after_a_quarter_of_an_hour() {
        let mut gate = settled();
        let standing = |s: i64| Sight { sog: Some(Knots(0.0)), ..sight(0.0, s) };
        let first = (60..2000)
            .find(|s| matches!(gate.judge(WatchTime(s * 1000), standing(*s)), Some(Doubt::SamePlace(_))));
        assert!(first.is_some_and(|s| (957..=961).contains(&s)), "{first:?}");
    }

    #[test]
    fn one_that_holds_still_and_moves_on_is_not_frozen_for_an_hour() {
        let mut gate = settled();
        for s in 60..240 {
            assert_eq!(gate.judge(WatchTime(s * 1000), sight((s / 40) as f64, s)), None);
        }
        assert!(gate.holds_still());
        let frozen =
            |s: &i64| matches!(gate.judge(WatchTime(s * 1000), sight(6.0, *s)), Some(Doubt::SamePlace(_)));
        let first = (240..5000).find(frozen);
        assert!(first.is_some_and(|s| (240 + 3600..=242 + 3600).contains(&s)), "{first:?}");
    }

    #[test]
    fn one_that_says_still_is_believed_for_an_hour_while_its_sky_changes_and_for_a_quarter_while_it_does_not()
    {
        let frozen_at = |satellites: fn(i64) -> Option<u8>| {
            let mut gate = settled();
            (60..5000).find(|s| {
                let still = Sight { sog: Some(Knots(0.0)), satellites: satellites(*s), ..sight(0.0, *s) };
                matches!(gate.judge(WatchTime(s * 1000), still), Some(Doubt::SamePlace(_)))
            })
        };
        assert!(frozen_at(|s| Some(7 + (s / 200 % 2) as u8)).is_some_and(|s| s > 3600));
        assert!(frozen_at(|_| Some(9)).is_some_and(|s| (900..1000).contains(&s)));
    }

    #[test]
    fn two_dimensions_and_poor_geometry_are_doubtful() {
        let mut gate = settled();
        let flat = Sight { mode: Some(FixMode::TwoD), ..sight(0.1, 60) };
        assert_eq!(gate.judge(WatchTime(60_000), flat), Some(Doubt::TwoD));
        let wide = Sight { hdop: Some(7.2), ..sight(0.1, 61) };
        assert_eq!(gate.judge(WatchTime(61_000), wide), Some(Doubt::Hdop(7.2)));
    }
}
