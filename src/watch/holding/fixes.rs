//! Which fixes are to be believed, and where the antenna is once their noise is smoothed.

use super::carried::Way;
use super::verdict::Doubt;
use crate::watch::geo::{Local, Position};
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};

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

    /// Velocity over ground as printed, if the receiver gives it.
    pub(super) fn way(&self) -> Option<Way> {
        self.sog.map(|sog| Way { mps: sog.mps(), course: self.cog })
    }
}

/// HDOP above which no judgement is made: common practice, no source.
const HDOP_MOST: f64 = 5.0;
/// The start of a receiver's fixes that is not judged, milliseconds.
const START_MS: i64 = 300_000;
/// How long a doubt outlasts its cause, milliseconds.
const DOUBT_HELD_MS: i64 = 120_000;
/// After such a hole the first fixes may be tens of metres off, milliseconds.
const SETTLE_MS: i64 = 20_000;
/// A leap that lasts as long is believed.
const LEAP_LASTS: Span = Span::from_secs(20);
/// A hole longer than this starts the smoothing anew, milliseconds.
const HOLE_MS: i64 = 30_000;

/// What one second of fixes says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    /// Number of the receiver.
    pub receiver: u8,
    /// Antenna position on the plane.
    pub antenna: Local,
    /// Velocity over ground as printed, if the receiver gives it.
    pub way: Option<Way>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Seconds since the fix before.
    pub interval_s: f64,
}

/// Screens fixes and smooths what is left, once a second.
#[derive(Clone, Debug, Default)]
pub(super) struct Fixes {
    pending: Option<(WatchTime, Fix, Local)>,
    last: Option<(WatchTime, Fix)>,
    same: u32,
    smoothed: Option<Local>,
    refused_since: Option<WatchTime>,
    first_at: Option<WatchTime>,
    doubt: Option<(Doubt, WatchTime)>,
    settle_until: WatchTime,
    /// Time between the last two fixes.
    usual_ms: i64,
}

impl Fixes {
    pub fn new() -> Self {
        Self::default()
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
        self.refused_since = None;
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
        let usual_ms = std::mem::replace(&mut self.usual_ms, interval_ms.min(120_000));
        if interval_ms > HOLE_MS.max(2 * usual_ms) {
            self.smoothed = None;
            self.settle_until = at + Span(SETTLE_MS);
        }
        self.first_at.get_or_insert(at);
        if let Some(why) = poor(&fix) {
            self.doubt = Some((why, now + Span(DOUBT_HELD_MS)));
            self.last = Some((at, fix));
            return None;
        }
        if let Some((_, last)) = self.last {
            self.same = if fix.position == last.position { self.same + 1 } else { 0 };
        }
        self.last = Some((at, fix));
        let dt = (interval_ms as f64 / 1000.0).min(HOLE_MS as f64 / 1000.0);
        self.take(at, &fix, z, dt)
    }

    fn take(&mut self, at: WatchTime, fix: &Fix, z: Local, dt: f64) -> Option<Sample> {
        if let Some(before) = self.smoothed {
            let leap = (z - before).length_m();
            // Nothing at anchor moves at 4 m/s; a leap is believed when it lasts.
            if leap > 15.0 + 4.0 * dt {
                let since = *self.refused_since.get_or_insert(at);
                if at.since(since) < LEAP_LASTS {
                    return None;
                }
            }
        }
        self.refused_since = None;
        self.smoothed = Some(z);
        if at < self.settle_until {
            return None;
        }
        Some(Sample { receiver: fix.receiver, antenna: z, way: fix.way(), hdop: fix.hdop, interval_s: dt })
    }
}

fn poor(fix: &Fix) -> Option<Doubt> {
    if fix.doubtful || matches!(fix.kind, FixKind::TwoD | FixKind::Estimated) {
        return Some(Doubt::PoorKind);
    }
    fix.hdop.is_some_and(|hdop| hdop > HDOP_MOST).then_some(Doubt::PoorGeometry)
}
