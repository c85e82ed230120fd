//! The picture: for each quantity the value to believe now, where it comes from and how old it is.

use std::sync::Arc;

use super::boat::Boat;
use super::channel::{Channel, Heard};
use super::feed::{Feeds, Quantity};
use super::fixgate::Doubt;
use super::geo::Position;
use super::input::FeedId;
use super::magvar;
use super::nmea::{DepthBelow, Machine, MagneticHeading, Observation, TimeOfDay};
use super::receiver::{BelievedFix, Receivers, Source};
use super::snapshot::{FixQuality, FixView, Heading, HeadingBasis, Reading};
use super::tuning::picture::{
    OFFSET_UNLIKE, THERE_AFTER, TOO_FAST, UNDER_WAY, VARIATION_AGE, VARIATION_MOVED,
};
use super::tuning::{TIME_OF_DAY_AGE, TIME_STANDS};
use super::units::{Knots, Metres, Span, TrueBearing, WatchTime};

/// A heading as a source gave it.
#[derive(Clone, Copy, Debug)]
enum HeadingHeard {
    True(TrueBearing),
    Magnetic(MagneticHeading),
}

/// Wind as a source gave it.
#[derive(Clone, Copy, Debug)]
enum WindHeard {
    /// Over the boat: angle from the bow, speed.
    Apparent(f64, Knots),
    /// Over the water: angle from the bow, speed.
    Relative(f64, Knots),
    /// By the compass: from true north or from magnetic north.
    Direction { true_from: Option<TrueBearing>, magnetic_from_deg: Option<f64>, speed: Knots },
}

/// True wind at the boat, one second's worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindNow {
    /// Speed.
    pub speed: Knots,
    /// Where it comes from, where the heading is known.
    pub direction: Option<TrueBearing>,
}

/// A sensor that may be there, be gone, or never have been.
#[derive(Clone, Copy, Debug, Default)]
pub struct Presence {
    heard: u32,
    last: Option<WatchTime>,
}

impl Presence {
    fn note(&mut self, now: WatchTime, there: bool) {
        if there {
            self.heard = (self.heard + 1).min(THERE_AFTER);
            self.last = Some(now);
        }
    }

    /// How long a sensor that was there has been gone; `None` while it speaks, or if it never did for long.
    #[must_use]
    pub fn gone(&self, now: WatchTime) -> Option<Span> {
        let last = self.last.filter(|_| self.heard >= THERE_AFTER)?;
        let gone = now.since(last);
        (gone > Span::ZERO).then_some(gone)
    }
}

/// Everything the instruments say.
#[derive(Clone, Debug, Default)]
pub struct Picture {
    receivers: Receivers,
    headings: Channel<(Source, u8), HeadingHeard>,
    winds: Channel<(Source, u8), WindHeard>,
    depths: Channel<(Source, u8), Metres>,
    water_speeds: Channel<Source, Knots>,
    revolutions: Channel<(Source, u8, u8), f64>,
    pressures: Channel<Source, f64>,
    feed_variation: Option<(WatchTime, f64)>,
    model_variation: Option<(Position, Option<f64>)>,
    clock_error: Option<(WatchTime, Span)>,
    /// The receiver's time, and since when it has been that.
    utc: Option<(TimeOfDay, WatchTime)>,
    date: Option<jiff::civil::Date>,
    now: WatchTime,
    fix: Option<BelievedFix>,
    good_fix: Option<BelievedFix>,
    heading: Option<Heading>,
    wind: Option<WindNow>,
    apparent: Option<(f64, Knots)>,
    water_speed: Option<Knots>,
    rpm: Option<f64>,
    pressure_hpa: Option<f64>,
    depth: Option<Metres>,
    depth_ring: Vec<Metres>,
    /// The sounder's offset where it is not what was entered.
    offset_unlike: Option<Metres>,
    /// Whether a heading sensor is there.
    pub heading_presence: Presence,
    /// Whether a wind sensor is there.
    pub wind_presence: Presence,
    /// Whether a sounder is there.
    pub depth_presence: Presence,
}

/// Whether a sounder's offset is another than the boat's figures give: up to the water it is positive, down to the keel negative.
fn is_unlike(boat: &Boat, offset: Metres) -> bool {
    let sits = boat.sounder_below_water;
    let entered = if offset.0 > 0.0 { sits } else { sits - boat.draft };
    (offset - entered).0.abs() > OFFSET_UNLIKE.0
}

impl Picture {
    /// Takes one observation.
    pub fn hear(
        &mut self,
        at: WatchTime,
        source: Source,
        priority: u8,
        boat: &Boat,
        observation: &Observation,
    ) {
        match observation {
            Observation::Fix(_)
            | Observation::NoFix { .. }
            | Observation::Velocity { .. }
            | Observation::FixMode { .. }
            | Observation::Accuracy { .. } => self.receivers.hear(at, source, priority, observation),
            Observation::Utc { time, date } => self.hear_utc(at, *time, *date),
            Observation::HeadingTrue(heading) => {
                self.headings.hear(at, (source, 0), (priority, 0), HeadingHeard::True(*heading));
            }
            Observation::HeadingMagnetic(heading) => {
                let kind = if heading.variation_deg.is_some() { 1 } else { 2 };
                self.headings.hear(at, (source, kind), (priority, kind), HeadingHeard::Magnetic(*heading));
            }
            Observation::Variation { east_deg } => self.feed_variation = Some((at, *east_deg)),
            Observation::ApparentWind { angle_deg, speed } => {
                self.winds.hear(at, (source, 0), (priority, 0), WindHeard::Apparent(*angle_deg, *speed));
            }
            Observation::TrueWindRelative { angle_deg, speed } => {
                self.winds.hear(at, (source, 1), (priority, 1), WindHeard::Relative(*angle_deg, *speed));
            }
            Observation::WindDirection { true_from, magnetic_from_deg, speed: Some(speed) } => {
                let heard = WindHeard::Direction {
                    true_from: *true_from,
                    magnetic_from_deg: *magnetic_from_deg,
                    speed: *speed,
                };
                self.winds.hear(at, (source, 2), (priority, 2), heard);
            }
            Observation::Depth { below, depth, offset } => {
                self.hear_depth(at, source, priority, boat, *below, *depth, *offset)
            }
            Observation::Revolutions { of, number, rpm } => {
                // The engine's own before the shaft's; with two engines the one with the lower number.
                let kind = u8::from(*of == Machine::Shaft);
                self.revolutions.hear(at, (source, kind, *number), (priority, kind), rpm.abs());
            }
            Observation::Transducer(transducer) => {
                if let Some(hpa) = transducer.barometer_hpa() {
                    self.pressures.hear(at, source, (priority, 0), hpa);
                }
            }
            Observation::WaterSpeed(speed) => self.water_speeds.hear(at, source, (priority, 0), *speed),
            _ => {}
        }
    }

    /// Depths count from the surface from here on.
    #[allow(clippy::too_many_arguments, reason = "the fields of one sentence, used once")]
    fn hear_depth(
        &mut self,
        at: WatchTime,
        source: Source,
        priority: u8,
        boat: &Boat,
        below: DepthBelow,
        depth: Metres,
        offset: Option<Metres>,
    ) {
        let (kind, from_surface) = match below {
            DepthBelow::Transducer => {
                let offset = offset.filter(|offset| *offset != Metres(0.0));
                self.offset_unlike = offset.filter(|offset| is_unlike(boat, *offset));
                // A positive offset is the sounder's own word for how deep it sits; a negative one leads to the keel. One that is
                // not what was entered counts where it makes the water shallower.
                let entered = boat.sounder_below_water;
                let sits = match offset.filter(|offset| offset.0 > 0.0) {
                    Some(offset) if is_unlike(boat, offset) => offset.min(entered),
                    Some(offset) => offset,
                    None => entered,
                };
                (0, depth + sits)
            }
            DepthBelow::Surface => (1, depth),
            DepthBelow::Keel => (2, depth + boat.draft),
        };
        self.depths.hear(at, (source, kind), (priority, kind), from_surface);
    }

    fn hear_utc(&mut self, at: WatchTime, time: TimeOfDay, date: Option<jiff::civil::Date>) {
        self.date = date.or(self.date);
        let since = self.utc.filter(|(last, _)| *last == time).map_or(at, |(_, since)| since);
        self.utc = Some((time, since));
        // A time that stands still says nothing of the clock.
        if let Some(date) = date.filter(|_| at.since(since) < TIME_STANDS) {
            self.clock_error = Some((at, Span(time.unix_ms_on(date) - at.0)));
        }
    }

    /// Once a second: settles what to believe. Gives the believed receiver's fix if a new one came.
    pub fn second(&mut self, now: WatchTime) -> Option<BelievedFix> {
        self.now = now;
        let fix = self.receivers.second(now);
        if let Some(fix) = fix {
            self.fix = Some(fix);
            if fix.doubt.is_none() {
                self.good_fix = Some(fix);
            }
        }
        self.heading = self.believe_heading(now);
        self.apparent = None;
        self.wind = self.believe_wind(now);
        self.depth = self.believe_depth(now);
        self.rpm = self.revolutions.believe(now).map(|h| h.value);
        self.water_speed = self.water_speeds.believe(now).map(|h| h.value);
        self.pressure_hpa = self.pressures.believe(now).map(|h| h.value);
        self.heading_presence.note(now, self.heading.is_some());
        self.wind_presence.note(now, self.wind.is_some());
        self.depth_presence.note(now, self.depth.is_some());
        fix
    }

    fn believe_heading(&mut self, now: WatchTime) -> Option<Heading> {
        let heard = self.headings.believe(now)?.value;
        match heard {
            HeadingHeard::True(bearing) => {
                Some(Heading { bearing, basis: HeadingBasis::True, variation_deg: None })
            }
            HeadingHeard::Magnetic(magnetic) => {
                let (variation_deg, basis) = match magnetic.variation_deg {
                    Some(stated) => (stated, HeadingBasis::FeedVariation),
                    None => self.variation(now)?,
                };
                let bearing = magnetic.to_true(variation_deg);
                Some(Heading { bearing, basis, variation_deg: Some(variation_deg) })
            }
        }
    }

    /// The variation to apply: the feed's own, else the World Magnetic Model's at the position and date.
    pub fn variation(&mut self, now: WatchTime) -> Option<(f64, HeadingBasis)> {
        if let Some((at, stated)) = self.feed_variation
            && now.since(at) <= VARIATION_AGE
        {
            return Some((stated, HeadingBasis::FeedVariation));
        }
        let position = self.fix?.position;
        let kept = self.model_variation.filter(|(at, _)| at.distance_to(position) < VARIATION_MOVED);
        let modelled = match kept {
            Some((_, modelled)) => modelled,
            None => {
                let date = self.date.or_else(|| date_of(now))?;
                let modelled = magvar::variation(position, date).ok();
                self.model_variation = Some((position, modelled));
                modelled
            }
        };
        modelled.map(|deg| (deg, HeadingBasis::ModelVariation))
    }

    /// The variation as far as it is known, degrees east: the feed's own, else the model's at the position and date.
    pub fn known_variation(&self, now: WatchTime) -> Option<f64> {
        if let Some((_, stated)) = self.feed_variation.filter(|(at, _)| now.since(*at) <= VARIATION_AGE) {
            return Some(stated);
        }
        let position = self.fix.as_ref()?.position;
        match self.model_variation.filter(|(at, _)| at.distance_to(position) < VARIATION_MOVED) {
            Some((_, modelled)) => modelled,
            None => magvar::variation(position, self.date.or_else(|| date_of(now))?).ok(),
        }
    }

    /// True wind. A boat at anchor has no way on, so her apparent wind is the true one; under way her own movement
    /// over the ground is taken out.
    fn believe_wind(&mut self, now: WatchTime) -> Option<WindNow> {
        let heard = self.winds.believe(now)?.value;
        let heading = self.heading.map(|h| h.bearing);
        Some(match heard {
            WindHeard::Apparent(angle_deg, speed) => {
                self.apparent = Some((angle_deg, speed));
                self.over_ground(speed, heading.map(|h| h.turned(angle_deg)))
            }
            WindHeard::Relative(angle_deg, speed) => {
                WindNow { speed, direction: heading.map(|h| h.turned(angle_deg)) }
            }
            WindHeard::Direction { true_from, magnetic_from_deg, speed } => {
                let direction = true_from.or_else(|| {
                    let magnetic = magnetic_from_deg?;
                    self.variation(now).map(|(deg, _)| TrueBearing::new(magnetic + deg))
                });
                if let (Some(from), Some(heading)) = (direction, heading) {
                    self.apparent = Some((heading.turn_to(from), speed));
                }
                WindNow { speed, direction }
            }
        })
    }

    /// Takes the boat's own way out of the wind over her: the vector sum of apparent wind and her movement.
    fn over_ground(&self, speed: Knots, from: Option<TrueBearing>) -> WindNow {
        use super::geo::Local;
        let way = self.good_fix.filter(|f| self.now.since(f.at) <= Span::from_secs(3));
        let moving =
            way.and_then(|f| Some((f.sog?, f.cog?))).filter(|(sog, _)| (UNDER_WAY..TOO_FAST).contains(sog));
        match (from, moving) {
            (Some(from), Some((sog, cog))) => {
                let blows_to = Local::polar(from.reversed(), speed.0) + Local::polar(cog, sog.0);
                WindNow { speed: Knots(blows_to.length_m()), direction: Some(blows_to.bearing().reversed()) }
            }
            _ => WindNow { speed, direction: from },
        }
    }

    /// The median of the last five soundings: fish, weed and wake make single wild ones.
    fn believe_depth(&mut self, now: WatchTime) -> Option<Metres> {
        let Some(heard) = self.depths.believe(now) else {
            self.depth_ring.clear();
            return None;
        };
        if heard.at > now - Span::from_secs(1) {
            if self.depth_ring.len() == 5 {
                self.depth_ring.remove(0);
            }
            self.depth_ring.push(heard.value);
        }
        let mut sorted = self.depth_ring.clone();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        sorted.get(sorted.len() / 2).copied()
    }

    /// The believed receiver's last fix, trusted or not.
    #[must_use]
    pub fn fix(&self) -> Option<&BelievedFix> {
        self.fix.as_ref()
    }

    /// Trusted fixes of this second from receivers beside the believed one.
    #[must_use]
    pub fn fixes_aside(&self) -> &[BelievedFix] {
        self.receivers.aside()
    }

    /// The believed receiver holds its position still until she has moved far or fast enough.
    #[must_use]
    pub fn receiver_holds_still(&self) -> bool {
        self.receivers.holds_still()
    }

    /// The last fix that was trusted, if it is no older than `age`.
    #[must_use]
    pub fn good_fix(&self, age: Span) -> Option<&BelievedFix> {
        self.good_fix.as_ref().filter(|f| self.now.since(f.at) <= age)
    }

    /// Why the last fix is not trusted, while fixes still come.
    #[must_use]
    pub fn doubt(&self) -> Option<Doubt> {
        self.fix.filter(|f| self.now.since(f.at) <= Span::from_secs(5)).and_then(|f| f.doubt)
    }

    /// True heading.
    #[must_use]
    pub fn heading(&self) -> Option<Heading> {
        self.heading
    }

    /// True wind.
    #[must_use]
    pub fn wind(&self) -> Option<WindNow> {
        self.wind
    }

    /// Apparent wind: angle from the bow, positive to starboard, and speed.
    #[must_use]
    pub fn apparent(&self) -> Option<(f64, Knots)> {
        self.apparent
    }

    /// Depth from the surface.
    #[must_use]
    pub fn depth(&self) -> Option<Metres> {
        self.depth
    }

    /// The offset that the sounder reports, where it is not what was entered for the boat: to be asked about.
    #[must_use]
    pub fn offset_unlike(&self) -> Option<Metres> {
        self.depth.and(self.offset_unlike)
    }

    /// Pressure of the air, hectopascals.
    #[must_use]
    pub fn pressure_hpa(&self) -> Option<f64> {
        self.pressure_hpa
    }

    /// Revolutions of the engine a minute.
    #[must_use]
    pub fn revolutions(&self) -> Option<f64> {
        self.rpm
    }

    /// The same as the screen shows it.
    #[must_use]
    pub fn revolutions_reading(&self, feeds: &Feeds) -> Reading<f64> {
        let last = self.revolutions.last();
        reading(last, |k| k.0, self.rpm, last.map(|h| h.value), feeds)
    }

    /// The stream past an anchored boat: direction it sets to, and rate, by the log and the heading.
    #[must_use]
    pub fn stream(&self) -> Option<(TrueBearing, Knots)> {
        self.heading.zip(self.water_speed).map(|(h, rate)| (h.bearing.reversed(), rate))
    }

    /// The watch did not run: receivers are looked at afresh, for nothing is known of what lies between.
    pub fn slept(&mut self) {
        // However fresh it seems by a clock that may have stood still.
        self.good_fix = None;
        self.receivers.slept();
    }

    /// GNSS time minus the watch's time.
    #[must_use]
    pub fn clock_error(&self) -> Option<Span> {
        let (heard, error) = self.clock_error?;
        (self.now.since(heard) <= TIME_OF_DAY_AGE).then_some(error)
    }

    /// The position as the screen shows it.
    #[must_use]
    pub fn fix_view(&self, feeds: &Feeds) -> FixView {
        let Some(fix) = self.fix else { return FixView::default() };
        let quality = match fix.doubt {
            _ if self.now.since(fix.at) > Span::from_secs(5) => FixQuality::Lost,
            Some(why) => FixQuality::Doubtful { why },
            None => FixQuality::Good,
        };
        FixView {
            quality,
            position: Some(fix.position),
            at: Some(fix.at),
            source: source_name(feeds, fix.source),
            sigma: Some(fix.sigma),
            satellites: fix.satellites,
            hdop: fix.hdop,
            sog: fix.sog,
            cog: fix.cog,
        }
    }

    /// The heading as the screen shows it.
    #[must_use]
    pub fn heading_reading(&self, feeds: &Feeds) -> Reading<Heading> {
        reading(self.headings.last(), |k| k.0, self.heading, self.last_heading(), feeds)
    }

    fn last_heading(&self) -> Option<Heading> {
        let variation = self.feed_variation.map(|(_, deg)| deg);
        self.headings.last().map(|h| match h.value {
            HeadingHeard::True(bearing) => {
                Heading { bearing, basis: HeadingBasis::True, variation_deg: None }
            }
            HeadingHeard::Magnetic(m) => Heading {
                bearing: m.to_true(m.variation_deg.or(variation).unwrap_or(0.0)),
                basis: HeadingBasis::FeedVariation,
                variation_deg: m.variation_deg.or(variation),
            },
        })
    }

    /// Apparent wind as the screen shows it.
    #[must_use]
    pub fn wind_reading(&self, feeds: &Feeds) -> Reading<(f64, Knots)> {
        let last = self.winds.last().and_then(|h| match h.value {
            WindHeard::Apparent(angle_deg, speed) | WindHeard::Relative(angle_deg, speed) => {
                Some((angle_deg, speed))
            }
            WindHeard::Direction { .. } => None,
        });
        reading(self.winds.last(), |k| k.0, self.apparent, last, feeds)
    }

    /// The sounder as the screen shows it.
    #[must_use]
    pub fn depth_reading(&self, feeds: &Feeds) -> Reading<Metres> {
        let last = self.depths.last().map(|h| h.value);
        reading(self.depths.last(), |k| k.0, self.depth, last, feeds)
    }

    /// The quantities for which a feed is the one believed now.
    #[must_use]
    pub fn believed_for(&self, feed: FeedId) -> Vec<&'static str> {
        let fresh = |there: bool, source: Option<Source>| there && source.is_some_and(|s| s.feed == feed);
        let mut list = Vec::new();
        let position = self.fix.filter(|f| self.now.since(f.at) <= Span::from_secs(5)).map(|f| f.source);
        if fresh(true, position) {
            list.push(Quantity::Position.name());
        }
        if fresh(self.heading.is_some(), self.headings.last().map(|h| h.key.0)) {
            list.push(Quantity::Heading.name());
        }
        if fresh(self.wind.is_some(), self.winds.last().map(|h| h.key.0)) {
            list.push(Quantity::Wind.name());
        }
        if fresh(self.depth.is_some(), self.depths.last().map(|h| h.key.0)) {
            list.push(Quantity::Depth.name());
        }
        if fresh(self.rpm.is_some(), self.revolutions.last().map(|h| h.key.0)) {
            list.push(Quantity::Revolutions.name());
        }
        list
    }
}

/// `masthead/WI`.
fn source_name(feeds: &Feeds, source: Source) -> Option<Arc<str>> {
    let feed = feeds.get(source.feed)?;
    let talker = String::from_utf8_lossy(&source.talker);
    Some(format!("{}/{talker}", feed.name()).into())
}

/// A quantity as it stands: fresh, lost or never there.
fn reading<K, T: Copy, H>(
    heard: Option<&Heard<K, H>>,
    source: impl Fn(&K) -> Source,
    now: Option<T>,
    last: Option<T>,
    feeds: &Feeds,
) -> Reading<T> {
    match (heard, now, last) {
        (Some(heard), Some(value), _) => Reading::Now {
            value,
            at: heard.at,
            source: source_name(feeds, source(&heard.key)).unwrap_or_else(|| "".into()),
        },
        (Some(heard), None, Some(last)) => Reading::Lost { last, at: heard.at },
        _ => Reading::Never,
    }
}

/// The date of a moment of the watch.
fn date_of(at: WatchTime) -> Option<jiff::civil::Date> {
    let timestamp = jiff::Timestamp::from_millisecond(at.0).ok()?;
    Some(jiff::tz::TimeZone::UTC.to_datetime(timestamp).date())
}
