//! Which fixes are to be believed, and where the antenna is once their noise is smoothed.

use super::verdict::Doubt;
use crate::watch::geo::{Local, Position};
use crate::watch::units::{Knots, TrueBearing, WatchTime};

/// What kind of fix a receiver says it has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum FixKind {
    /// It does not say.
    #[default]
    Unknown,
    /// Height is assumed, not measured.
    TwoD,
    /// A plain three-dimensional fix.
    ThreeD,
    /// With differential corrections.
    Differential,
    /// Carrier phase, fixed or float.
    Rtk,
    /// Dead reckoning, typed in, or simulated.
    Estimated,
}

/// A valid position as a receiver gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// Where the antenna is.
    pub position: Position,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground; blank on many receivers when slow.
    pub cog: Option<TrueBearing>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// What kind of fix.
    pub kind: FixKind,
    /// Time of the fix as the receiver gives it: milliseconds, of the day or since any epoch.
    pub utc_ms: Option<i64>,
    /// Decimals of a minute in which the position was written; 0 if not known.
    pub minute_decimals: u8,
    /// Changes whenever the position comes from another receiver.
    pub receiver: u8,
    /// The watch has its own reason to doubt this fix: two receivers disagree, the receiver says so.
    pub doubtful: bool,
}

impl Fix {
    /// A plain fix at `position`, with nothing else known.
    #[must_use]
    pub fn at(position: Position) -> Self {
        Self {
            position,
            sog: None,
            cog: None,
            hdop: None,
            kind: FixKind::Unknown,
            utc_ms: None,
            minute_decimals: 0,
            receiver: 0,
            doubtful: false,
        }
    }
}

/// HDOP above which no judgement is made: common practice, no source.
const HDOP_MOST: f64 = 5.0;
/// A position repeated for this many seconds with speed 0 is static hold or a frozen receiver: no news.
const STATIC_S: u32 = 5;
/// Identical fixes in a row, whatever the speed says, after which a receiver is called frozen.
const SAME_MOST: u32 = 20;
/// The start of a receiver's fixes that is not judged, milliseconds.
const START_MS: i64 = 300_000;
/// How long a doubt outlasts its cause, milliseconds.
const DOUBT_HELD_MS: i64 = 120_000;
/// A hole longer than this starts the smoothing anew, milliseconds.
const HOLE_MS: i64 = 30_000;

/// What one second of fixes says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    /// Smoothed antenna position on the plane.
    pub antenna: Local,
    /// Distance of the raw fix from the smoothed one, metres.
    pub residual_m: f64,
    /// HDOP, 1.5 where none is told.
    pub hdop: f64,
    /// Seconds since the fix before.
    pub interval_s: f64,
    /// The receiver leaves COG blank when she is slow.
    pub cog_blanks: bool,
}

/// Screens fixes and smooths what is left, once a second.
#[derive(Clone, Debug, Default)]
pub(super) struct Fixes {
    pending: Option<(WatchTime, Fix, Local)>,
    last: Option<(WatchTime, Fix)>,
    same: u32,
    still: u32,
    smoothed: Option<Local>,
    refused: u32,
    first_at: Option<WatchTime>,
    doubt: Option<(Doubt, WatchTime)>,
    /// Share of fixes with a course although slow: forgetting over about five minutes.
    cog_given: f64,
    /// Share of fixes with a speed.
    sog_given: f64,
    /// Mean square residual over about five minutes, m².
    residual_m2: f64,
    /// Mean square residual over about two hours, each at most 12 m, m².
    noise_m2: f64,
    seen: bool,
}

impl Fixes {
    pub fn new() -> Self {
        Self { noise_m2: 2.0 * 1.5 * 1.5, cog_given: 1.0, ..Self::default() }
    }

    /// Takes a fix as it arrives; `local` is its place on the plane.
    pub fn push(&mut self, at: WatchTime, fix: &Fix, local: Local) {
        let mut fix = *fix;
        if let Some((_, before, _)) = &self.pending
            && before.receiver == fix.receiver
        {
            // One receiver spreads a fix over several sentences: keep what the others said in the same second.
            fix.sog = fix.sog.or(before.sog);
            fix.cog = fix.cog.or(before.cog);
            fix.hdop = fix.hdop.or(before.hdop);
            if fix.kind == FixKind::Unknown {
                fix.kind = before.kind;
            }
        }
        self.pending = Some((at, fix, local));
    }

    /// Forgets the smoothing: after a gap, or when another receiver speaks.
    pub fn restart(&mut self) {
        self.smoothed = None;
        self.refused = 0;
    }

    /// Why the fixes do not allow a judgement now, if so.
    pub fn doubt(&self, now: WatchTime) -> Option<Doubt> {
        let Some(first) = self.first_at else { return Some(Doubt::NoFix) };
        if self.last.is_none_or(|(at, _)| now.since(at).0 > self.patience_ms()) {
            return Some(Doubt::NoFix);
        }
        if let Some((why, until)) = self.doubt
            && now < until
        {
            return Some(why);
        }
        (now.since(first).0 < START_MS).then_some(Doubt::JustStarted)
    }

    /// Standard deviation of the fixes about the smoothed track, per axis, metres: 1 to 4, without velocity 2 to 4.
    pub fn sigma_m(&self) -> f64 {
        let least = if self.has_velocity() { 1.0 } else { 2.0 };
        (self.noise_m2 / 2.0).sqrt().clamp(least, 4.0)
    }

    /// True while the receiver gives speed over ground.
    pub fn has_velocity(&self) -> bool {
        self.sog_given > 0.5
    }

    /// Root mean square residual over five minutes, metres.
    pub fn residual_rms_m(&self) -> f64 {
        self.residual_m2.sqrt()
    }

    /// A receiver that reports once a minute is not lost after half of one.
    fn patience_ms(&self) -> i64 {
        90_000
    }

    /// Ends the second: what the fixes of it say, or `None` if there is nothing new to believe.
    pub fn second(&mut self, now: WatchTime) -> Option<Sample> {
        let (at, fix, z) = self.pending.take()?;
        if let Some((_, last)) = self.last
            && last.receiver != fix.receiver
        {
            self.restart();
            self.last = None;
        }
        let interval_ms = self.last.map_or(1000, |(before, _)| at.since(before).0.max(1));
        if interval_ms > HOLE_MS {
            self.smoothed = None;
        }
        self.first_at.get_or_insert(at);
        if let Some(why) = poor(&fix) {
            self.doubt = Some((why, now + crate::watch::units::Span(DOUBT_HELD_MS)));
            self.last = Some((at, fix));
            return None;
        }
        if self.is_repeat(&fix) {
            if self.same >= SAME_MOST && fix.sog.is_none_or(|sog| sog.0 > 0.0) {
                self.doubt = Some((Doubt::Frozen, now + crate::watch::units::Span(10_000)));
            }
            self.last = Some((at, fix));
            return None;
        }
        self.last = Some((at, fix));
        let dt = (interval_ms as f64 / 1000.0).min(HOLE_MS as f64 / 1000.0);
        let sample = self.smooth(&fix, z, dt)?;
        if self.residual_rms_m() > 8.0 {
            self.doubt = Some((Doubt::Jumping, now + crate::watch::units::Span(DOUBT_HELD_MS)));
        }
        Some(sample)
    }

    fn is_repeat(&mut self, fix: &Fix) -> bool {
        let Some((_, last)) = self.last else { return false };
        if fix.utc_ms.is_some() && fix.utc_ms == last.utc_ms {
            self.same += 1;
            return true;
        }
        if fix.position == last.position {
            self.same += 1;
            self.still = if fix.sog.is_some_and(|sog| sog.0 == 0.0) { self.still + 1 } else { 0 };
        } else {
            (self.same, self.still) = (0, 0);
        }
        self.still >= STATIC_S || self.same >= SAME_MOST
    }

    fn smooth(&mut self, fix: &Fix, z: Local, dt: f64) -> Option<Sample> {
        let forget = |seconds: f64| 1.0 - (-dt / seconds).exp();
        self.sog_given += forget(60.0) * (f64::from(u8::from(fix.sog.is_some())) - self.sog_given);
        if !self.seen && fix.sog.is_some() {
            self.sog_given = 1.0;
        }
        self.seen = true;
        if fix.sog.is_some() {
            self.cog_given += forget(300.0) * (f64::from(u8::from(fix.cog.is_some())) - self.cog_given);
        }
        let cog_blanks = self.cog_given < 0.7;
        let velocity = fix.sog.map(|sog| match fix.cog {
            Some(cog) => Local::polar(cog, sog.mps()),
            None => Local::default(),
        });
        let (time_s, clip_m) = match velocity {
            Some(_) if cog_blanks => (120.0, 6.0),
            Some(_) => (300.0, 6.0),
            None => (10.0, f64::INFINITY),
        };
        let Some(before) = self.smoothed else {
            self.smoothed = Some(z);
            return Some(sample(fix, z, 0.0, dt, cog_blanks));
        };
        let led = before + velocity.unwrap_or_default().scaled(dt);
        let r = z - led;
        let residual = r.length_m();
        if residual > 40.0 {
            self.refused += 1;
            if self.refused < 20 {
                self.smoothed = Some(led);
                return None;
            }
            self.restart();
            self.smoothed = Some(z);
            return Some(sample(fix, z, 0.0, dt, cog_blanks));
        }
        self.refused = 0;
        let pull = (clip_m / residual.max(1e-9)).min(1.0) * (dt / time_s).min(1.0);
        let p = led + r.scaled(pull);
        self.smoothed = Some(p);
        self.residual_m2 += forget(300.0) * (residual * residual - self.residual_m2);
        let clipped = residual.min(12.0);
        self.noise_m2 += forget(7200.0) * (clipped * clipped - self.noise_m2);
        Some(sample(fix, p, residual, dt, cog_blanks))
    }
}

fn sample(fix: &Fix, antenna: Local, residual_m: f64, interval_s: f64, cog_blanks: bool) -> Sample {
    Sample { antenna, residual_m, hdop: fix.hdop.unwrap_or(1.5), interval_s, cog_blanks }
}

fn poor(fix: &Fix) -> Option<Doubt> {
    if fix.doubtful || matches!(fix.kind, FixKind::TwoD | FixKind::Estimated) {
        return Some(Doubt::PoorKind);
    }
    fix.hdop.is_some_and(|hdop| hdop > HDOP_MOST).then_some(Doubt::PoorGeometry)
}
