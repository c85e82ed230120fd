//! Position receivers: each one's latest fix and its quality, which of them is believed, and how a change from one
//! to another is kept from looking like a movement of the boat.

use super::channel::{Channel, Rank};
use super::fixgate::{Doubt, FixGate, Sight};
use super::geo::{Local, Plane, Position};
use super::input::FeedId;
use super::latch::Lasting;
use super::nmea::{Fix, FixKind, FixMode, Observation, TimeOfDay};
use super::tuning::receiver::{
    ATTRIBUTE_AGE, DISAGREE_FOR, DISAGREE_M, ERROR_PER_HDOP_M, OFFSET_SECONDS, RECEIVERS_MAX, VELOCITY_AGE,
};
use super::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// A talker on a feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Source {
    /// The feed.
    pub feed: FeedId,
    /// Its two letters.
    pub talker: [u8; 2],
}

/// A fix of the believed receiver, ready for the geometry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BelievedFix {
    /// When it came.
    pub at: WatchTime,
    /// The antenna's position as received, shifted so that a change of receiver makes no step.
    pub position: Position,
    /// The same as received, without that shift.
    pub received: Position,
    /// The shifted one on the plane of the watch's first position.
    pub home: Local,
    /// Time of day as printed.
    pub utc: Option<TimeOfDay>,
    /// How it was made.
    pub kind: FixKind,
    /// Decimals of a minute as printed.
    pub minute_decimals: u8,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Satellites used.
    pub satellites: Option<u8>,
    /// Expected error, one standard deviation per axis.
    pub sigma: Metres,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground.
    pub cog: Option<TrueBearing>,
    /// Number of the receiver; changes when another is believed.
    pub receiver: u8,
    /// Where it comes from.
    pub source: Source,
    /// Why it is not trusted, if it is not.
    pub doubt: Option<Doubt>,
}

/// What a talker reports about its fixes in sentences of their own.
#[derive(Clone, Copy, Debug, Default)]
struct Attributes {
    velocity: Option<(WatchTime, Knots, Option<TrueBearing>)>,
    mode: Option<(WatchTime, FixMode)>,
    hdop: Option<(WatchTime, f64)>,
    satellites: Option<(WatchTime, u8)>,
    sigma: Option<(WatchTime, f64)>,
}

#[derive(Clone, Debug)]
struct Receiver {
    source: Source,
    gate: FixGate,
    latest: Option<(WatchTime, Fix)>,
    unjudged: bool,
    point: Local,
    doubt: Option<Doubt>,
    offset: Local,
    offset_weight: f64,
}

/// All receivers.
#[derive(Clone, Debug, Default)]
pub struct Receivers {
    home: Option<Plane>,
    receivers: Vec<Receiver>,
    attributes: Vec<(Source, Attributes)>,
    channel: Channel<Source, usize>,
    believed: Option<usize>,
    /// The two lie apart.
    apart: Lasting,
    /// Of this second: what the others say beside the believed one.
    aside: Vec<BelievedFix>,
}

impl Receivers {
    /// Takes what a sentence said of a position, its quality or the movement.
    pub fn hear(&mut self, at: WatchTime, source: Source, priority: u8, observation: &Observation) {
        match observation {
            Observation::Fix(fix) => self.hear_fix(at, source, priority, fix),
            Observation::NoFix { .. } => {
                if let Some(receiver) = self.receivers.iter_mut().find(|r| r.source == source) {
                    receiver.gate.no_fix();
                } else if self.receivers.len() < RECEIVERS_MAX {
                    let mut receiver = Receiver::new(source);
                    receiver.gate.no_fix();
                    self.receivers.push(receiver);
                }
            }
            Observation::Velocity { sog, cog } => {
                self.attributes_of(source).velocity = Some((at, *sog, *cog));
            }
            Observation::FixMode { mode, hdop, .. } => {
                let attributes = self.attributes_of(source);
                attributes.mode = Some((at, *mode));
                attributes.hdop = hdop.map(|h| (at, h)).or(attributes.hdop);
            }
            Observation::Accuracy { lat_sd, lon_sd, .. } => {
                let sigma = ((lat_sd.0.powi(2) + lon_sd.0.powi(2)) / 2.0).sqrt();
                self.attributes_of(source).sigma = Some((at, sigma));
            }
            _ => {}
        }
    }

    fn hear_fix(&mut self, at: WatchTime, source: Source, priority: u8, fix: &Fix) {
        let attributes = self.attributes_of(source);
        attributes.hdop = fix.hdop.map(|h| (at, h)).or(attributes.hdop);
        attributes.satellites = fix.satellites.map(|n| (at, n)).or(attributes.satellites);
        let index = match self.receivers.iter().position(|r| r.source == source) {
            Some(index) => index,
            None if self.receivers.len() < RECEIVERS_MAX => {
                self.receivers.push(Receiver::new(source));
                self.receivers.len() - 1
            }
            None => return,
        };
        self.receivers[index].take(at, fix);
        self.channel.hear(at, source, rank(priority, source.talker), index);
    }

    fn attributes_of(&mut self, source: Source) -> &mut Attributes {
        let index = self.attributes.iter().position(|(s, _)| *s == source).unwrap_or_else(|| {
            if self.attributes.len() == 4 * RECEIVERS_MAX {
                self.attributes.remove(0);
            }
            self.attributes.push((source, Attributes::default()));
            self.attributes.len() - 1
        });
        &mut self.attributes[index].1
    }

    /// The watch did not run.
    pub fn slept(&mut self) {
        for receiver in &mut self.receivers {
            // What came before and was not looked at yet is of before.
            receiver.unjudged = false;
            receiver.gate.slept();
        }
    }

    /// Once a second: judges new fixes and gives the believed receiver's, if it has a new one.
    pub fn second(&mut self, now: WatchTime) -> Option<BelievedFix> {
        for index in 0..self.receivers.len() {
            if self.receivers[index].unjudged {
                self.place(index);
                let sight = self.sight(index, now);
                self.receivers[index].judge(now, sight);
            }
        }
        self.aside.clear();
        let index = self.choose(now)?;
        self.learn_offsets(now, index);
        let believed = self.new_fix(index, now);
        for other in (0..self.receivers.len()).filter(|other| *other != index) {
            if self.receivers[other].doubt.is_none()
                && let Some(fix) = self.new_fix(other, now)
            {
                self.aside.push(fix);
            }
        }
        for receiver in &mut self.receivers {
            receiver.unjudged = false;
        }
        believed
    }

    /// The believed receiver holds its position still until she has moved far or fast enough.
    #[must_use]
    pub fn holds_still(&self) -> bool {
        self.believed.is_some_and(|index| self.receivers[index].gate.holds_still())
    }

    /// New fixes of this second that are trusted, of receivers other than the believed one.
    #[must_use]
    pub fn aside(&self) -> &[BelievedFix] {
        &self.aside
    }

    /// The fix of a receiver that came in this second, if one did.
    fn new_fix(&self, index: usize, now: WatchTime) -> Option<BelievedFix> {
        self.receivers[index].unjudged.then(|| self.believed_fix(index, now)).flatten()
    }

    /// Puts the latest fix on the plane: once a second, for a geodesic costs more than a sentence.
    fn place(&mut self, index: usize) {
        let receiver = &mut self.receivers[index];
        if let Some((_, fix)) = receiver.latest {
            receiver.point = self.home.get_or_insert_with(|| Plane::new(fix.position)).to_local(fix.position);
        }
    }

    fn sight(&self, index: usize, now: WatchTime) -> Sight {
        let receiver = &self.receivers[index];
        let (utc, minute_decimals) = receiver.latest.map_or((None, 0), |(_, f)| (f.utc, f.minute_decimals));
        Sight {
            point: receiver.point,
            utc,
            minute_decimals,
            mode: self.attribute(receiver.source, now, |a| a.mode, ATTRIBUTE_AGE),
            hdop: self.attribute(receiver.source, now, |a| a.hdop, ATTRIBUTE_AGE),
            satellites: self.attribute(receiver.source, now, |a| a.satellites, ATTRIBUTE_AGE),
            sog: self.attribute(
                receiver.source,
                now,
                |a| a.velocity.map(|(at, sog, _)| (at, sog)),
                VELOCITY_AGE,
            ),
        }
    }

    /// An attribute reported by the receiver's own talker, else by another satellite talker of the same feed: receivers
    /// of several systems send `GN` positions and `GP` or `GL` quality.
    fn attribute<V>(
        &self,
        source: Source,
        now: WatchTime,
        of: impl Fn(&Attributes) -> Option<(WatchTime, V)>,
        age: Span,
    ) -> Option<V> {
        let fresh = |a: &Attributes| of(a).filter(|(at, _)| now.since(*at) <= age).map(|(_, value)| value);
        let own = self.attributes.iter().find(|(s, _)| *s == source).and_then(|(_, a)| fresh(a));
        own.or_else(|| {
            self.attributes
                .iter()
                .filter(|(s, _)| s.feed == source.feed && is_satellite_talker(s.talker))
                .find_map(|(_, a)| fresh(a))
        })
    }

    /// The receiver to believe: by rank, but a doubtful one gives way to one that is not.
    fn choose(&mut self, now: WatchTime) -> Option<usize> {
        let ranked = self.channel.believe(now)?.value;
        let fresh = |r: &Receiver| r.latest.is_some_and(|(at, _)| now.since(at) <= Span::from_secs(3));
        let sound = |r: &Receiver| fresh(r) && r.doubt.is_none();
        let keep = self.believed.filter(|i| *i == ranked || !sound(&self.receivers[ranked]));
        let chosen = match keep {
            Some(current) if sound(&self.receivers[current]) => current,
            _ if sound(&self.receivers[ranked]) => ranked,
            _ => self.receivers.iter().position(sound).unwrap_or(ranked),
        };
        self.believed = Some(chosen);
        Some(chosen)
    }

    /// Learns how far each other receiver lies from the believed one, and whether any two contradict each other.
    fn learn_offsets(&mut self, now: WatchTime, believed: usize) {
        let reference = &self.receivers[believed];
        if !reference.unjudged || reference.doubt.is_some() {
            return;
        }
        let (raw, aligned) = (reference.point, reference.point + reference.offset);
        // Where the believed one stands all others are laid: a few seconds beside another must not move it.
        self.receivers[believed].offset_weight = OFFSET_SECONDS;
        let mut apart_m = 0.0_f64;
        for (index, other) in self.receivers.iter_mut().enumerate() {
            if index == believed || !other.unjudged || other.doubt.is_some() {
                continue;
            }
            other.offset_weight = (other.offset_weight + 1.0).min(OFFSET_SECONDS);
            let step = (aligned - (other.point + other.offset)).scaled(1.0 / other.offset_weight);
            other.offset = other.offset + step;
            apart_m = apart_m.max((other.point - raw).length_m());
        }
        if self.apart.note(now, apart_m > DISAGREE_M).is_some_and(|span| span >= DISAGREE_FOR) {
            self.receivers[believed].doubt = Some(Doubt::Disagree(apart_m));
        }
    }

    fn believed_fix(&self, index: usize, now: WatchTime) -> Option<BelievedFix> {
        let receiver = &self.receivers[index];
        let (at, fix) = receiver.latest?;
        let home_plane = self.home.as_ref()?;
        let home = receiver.point + receiver.offset;
        // Without a shift the position is passed on to the last digit.
        let shifted = receiver.offset != Local::default();
        let position = if shifted { home_plane.to_position(home) } else { fix.position };
        let hdop = self.attribute(receiver.source, now, |a| a.hdop, ATTRIBUTE_AGE);
        let entered = self.attribute(receiver.source, now, |a| a.sigma, ATTRIBUTE_AGE);
        let sigma = entered.unwrap_or(hdop.unwrap_or(1.5) * ERROR_PER_HDOP_M);
        let velocity = self.attribute(
            receiver.source,
            now,
            |a| a.velocity.map(|(at, sog, cog)| (at, (sog, cog))),
            VELOCITY_AGE,
        );
        Some(BelievedFix {
            at,
            position,
            received: fix.position,
            home,
            utc: fix.utc,
            kind: fix.kind,
            minute_decimals: fix.minute_decimals,
            hdop,
            satellites: self.attribute(receiver.source, now, |a| a.satellites, ATTRIBUTE_AGE),
            sigma: Metres(sigma),
            sog: velocity.map(|(sog, _)| sog),
            cog: velocity.and_then(|(_, cog)| cog),
            receiver: index as u8,
            source: receiver.source,
            doubt: receiver.doubt,
        })
    }
}

impl Receiver {
    fn new(source: Source) -> Self {
        Self {
            source,
            gate: FixGate::default(),
            latest: None,
            unjudged: false,
            point: Local::default(),
            doubt: None,
            offset: Local::default(),
            offset_weight: 0.0,
        }
    }

    /// Takes a fix; a second sentence of the same cycle only adds digits to it.
    fn take(&mut self, at: WatchTime, fix: &Fix) {
        let same_cycle =
            self.unjudged && self.latest.is_some_and(|(_, last)| last.utc.is_some() && last.utc == fix.utc);
        if same_cycle && self.latest.is_some_and(|(_, last)| last.minute_decimals > fix.minute_decimals) {
            return;
        }
        self.latest = Some((at, *fix));
        self.unjudged = true;
    }

    fn judge(&mut self, now: WatchTime, sight: Sight) {
        self.doubt = self.gate.judge(now, sight);
    }
}

/// Talkers of satellite systems, as IEC 61162-1 assigns them.
fn is_satellite_talker(talker: [u8; 2]) -> bool {
    matches!(&talker, b"GP" | b"GN" | b"GL" | b"GA" | b"GB" | b"GQ" | b"GI" | b"BD")
}

/// A receiver's own words are believed before those of an instrument that repeats them.
fn rank(priority: u8, talker: [u8; 2]) -> Rank {
    (priority, u8::from(!is_satellite_talker(talker)))
}
