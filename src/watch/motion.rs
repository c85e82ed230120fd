//! How she moves in the sea, by an instrument that measures it: a further word on the waves, beside what the wind is reckoned to
//! raise.
//!
//! Heave gives a sea: significant height four times its standard deviation (Longuet-Higgins 1952: H_s = 4·√m₀) and the mean
//! period between crossings of its mean, upwards. She follows waves longer than herself and less of shorter ones, and a swell
//! comes from anywhere, so what is measured only ever adds to what is reckoned.

use std::collections::VecDeque;

use super::nmea::{Observation, Transducer};
use super::receiver::Source;
use super::rode::Sea;
use super::tuning::motion::{
    CROSSINGS_LEAST, HEAVE_M_MOST, KEPT, PITCH_DEG_MOST, SAMPLES_MOST, SAMPLES_PER_WAVE, SILENT, SPAN_LEAST,
};
use super::units::{Metres, WatchTime};

/// How she moves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MotionView {
    /// The sea by her heave.
    pub sea: Option<Sea>,
    /// How far she pitches: twice the standard deviation, degrees; and how often, seconds.
    pub pitch: Option<(f64, f64)>,
}

/// What the instrument has shown of late.
#[derive(Clone, Debug, Default)]
pub(super) struct Motion {
    heave: Series,
    pitch: Series,
}

impl Motion {
    /// Takes what an instrument says; anything that is no heave or pitch, or can be none, is left aside.
    pub(super) fn hear(&mut self, at: WatchTime, source: Source, observation: &Observation) {
        let Observation::Transducer(transducer) = observation else { return };
        if let Some(metres) = heave_m(transducer) {
            self.heave.hear(at, source, metres);
        } else if let Some(degrees) = pitch_deg(transducer) {
            self.pitch.hear(at, source, degrees);
        }
    }

    /// What it comes to now.
    pub(super) fn view(&self, now: WatchTime) -> Option<MotionView> {
        let sea = self
            .heave
            .waves(now)
            .map(|(deviation, period_s)| Sea { height: Metres(4.0 * deviation), period_s });
        let pitch = self.pitch.waves(now).map(|(deviation, period_s)| (2.0 * deviation, period_s));
        (sea.is_some() || pitch.is_some()).then_some(MotionView { sea, pitch })
    }
}

/// XDR, IEC 61162-1: a linear displacement `D` in metres `M`; the name is the maker's own.
fn heave_m(transducer: &Transducer) -> Option<f64> {
    let is_heave = (transducer.kind, transducer.unit) == (b'D', b'M') && named(transducer, &["HEAV"]);
    Some(transducer.value).filter(|metres| is_heave && metres.abs() <= HEAVE_M_MOST)
}

/// An angular displacement `A` in degrees `D`.
fn pitch_deg(transducer: &Transducer) -> Option<f64> {
    let is_pitch =
        (transducer.kind, transducer.unit) == (b'A', b'D') && named(transducer, &["PITCH", "PTCH"]);
    Some(transducer.value).filter(|degrees| is_pitch && degrees.abs() <= PITCH_DEG_MOST)
}

fn named(transducer: &Transducer, parts: &[&str]) -> bool {
    let name = transducer.name.as_str().to_ascii_uppercase();
    parts.iter().any(|part| name.contains(part))
}

/// One quantity of one source over the last minutes.
#[derive(Clone, Debug, Default)]
struct Series {
    source: Option<Source>,
    samples: VecDeque<(WatchTime, f64)>,
}

impl Series {
    fn hear(&mut self, at: WatchTime, source: Source, value: f64) {
        let is_silent = self.samples.back().is_none_or(|(last, _)| at.since(*last) > SILENT);
        if self.source != Some(source) {
            // Two instruments in one row would be no motion of hers.
            if !is_silent {
                return;
            }
            self.source = Some(source);
            self.samples.clear();
        } else if is_silent {
            self.samples.clear();
        }
        self.samples.push_back((at, value));
        let old = |(first, _): &(WatchTime, f64)| at.since(*first) > KEPT;
        while self.samples.len() > SAMPLES_MOST || self.samples.front().is_some_and(old) {
            self.samples.pop_front();
        }
    }

    /// Standard deviation and mean period; `None` while too little was heard, it is silent, or comes too seldom to show waves.
    fn waves(&self, now: WatchTime) -> Option<(f64, f64)> {
        let ((first, _), (last, _)) = (self.samples.front()?, self.samples.back()?);
        let span = last.since(*first);
        if now.since(*last) > SILENT || span < SPAN_LEAST {
            return None;
        }
        let count = self.samples.len() as f64;
        let mean = self.samples.iter().map(|(_, value)| value).sum::<f64>() / count;
        let variance = self.samples.iter().map(|(_, value)| (value - mean).powi(2)).sum::<f64>() / count;
        let ups = self.crossings(mean);
        let (from, to) = (ups.first()?, ups.last()?);
        let period_s = to.since(*from).seconds() / (ups.len().checked_sub(1)?.max(1)) as f64;
        let enough = ups.len() > CROSSINGS_LEAST && period_s >= SAMPLES_PER_WAVE * span.seconds() / count;
        enough.then(|| (variance.sqrt(), period_s))
    }

    /// When it passed its mean, upwards.
    fn crossings(&self, mean: f64) -> Vec<WatchTime> {
        let pairs = self.samples.iter().zip(self.samples.iter().skip(1));
        pairs
            .filter(|((_, before), (_, after))| *before < mean && *after >= mean)
            .map(|(_, (at, _))| *at)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::input::FeedId;
    use super::super::nmea::ShortName;
    use super::*;

    const ONE: Source = Source { feed: FeedId(0), talker: *b"YX" };
    const OTHER: Source = Source { feed: FeedId(1), talker: *b"YX" };

    fn xdr(kind: u8, value: f64, unit: u8, name: &str) -> Observation {
        Observation::Transducer(Transducer { kind, value, unit, name: ShortName::new(name.as_bytes()) })
    }

    /// Five minutes of a sine of this amplitude every `period_s`, so many samples a second.
    fn heaving(amplitude: f64, period_s: f64, per_s: i64) -> (Motion, WatchTime) {
        let mut motion = Motion::default();
        let mut at = WatchTime(0);
        for n in 0..300 * per_s {
            at = WatchTime(n * 1000 / per_s);
            let value = 0.7 + amplitude * (std::f64::consts::TAU * at.0 as f64 / 1000.0 / period_s).sin();
            motion.hear(at, ONE, &xdr(b'D', value, b'M', "HEAVE"));
        }
        (motion, at)
    }

    /// A sine of amplitude a has a standard deviation of a/√2, so H_s is 2·√2·a.
    #[test]
    fn a_sine_of_heave_is_a_sea_of_its_height_and_period() {
        let (motion, now) = heaving(0.3, 3.0, 4);
        let sea = motion.view(now).unwrap().sea.unwrap();
        assert!((sea.height.0 / (8.0_f64.sqrt() * 0.3) - 1.0).abs() < 0.02, "{sea:?}");
        assert!((sea.period_s - 3.0).abs() < 0.05, "{sea:?}");
        assert_eq!(motion.view(now + SILENT + SILENT), None, "silent");
    }

    #[test]
    fn too_few_samples_too_short_a_time_and_nonsense_say_nothing() {
        let (seldom, now) = heaving(0.3, 2.2, 1);
        assert_eq!(seldom.view(now), None);
        let mut motion = Motion::default();
        for n in 0..600 {
            let at = WatchTime(n * 500);
            for (kind, value, unit, name) in [
                (b'D', f64::from(n as i32 % 4) * 100.0, b'M', "HEAVE"),
                (b'D', 0.3, b'M', "TANK"),
                (b'A', 0.3, b'M', "HEAVE"),
                (b'A', 300.0 * f64::from(n as i32 % 2), b'D', "PITCH"),
                (b'A', 2.0, b'D', "RUDDER"),
            ] {
                motion.hear(at, ONE, &xdr(kind, value, unit, name));
            }
        }
        assert_eq!(motion.view(WatchTime(300_000)), None);
    }

    #[test]
    fn two_instruments_are_never_one_row_and_memory_is_bounded() {
        let (mut motion, now) = heaving(0.3, 3.0, 4);
        for n in 0..40_000 {
            let at = now + super::super::units::Span(n * 20);
            motion.hear(at, OTHER, &xdr(b'D', 5.0, b'M', "HEAVE"));
            motion.hear(at, ONE, &xdr(b'D', 0.0, b'M', "HEAVE"));
        }
        assert!(motion.heave.samples.len() <= SAMPLES_MOST);
        assert!(motion.heave.samples.iter().all(|(_, value)| *value < 2.0));
    }

    #[test]
    fn pitch_is_told_and_is_no_sea() {
        let mut motion = Motion::default();
        let mut at = WatchTime(0);
        for n in 0..900 {
            at = WatchTime(n * 333);
            let value = 4.0 * (std::f64::consts::TAU * at.0 as f64 / 2500.0).sin();
            motion.hear(at, ONE, &xdr(b'A', value, b'D', "PTCH"));
        }
        let MotionView { sea, pitch } = motion.view(at).unwrap();
        let (degrees, period_s) = pitch.unwrap();
        assert_eq!(sea, None);
        assert!((degrees - 5.66).abs() < 0.1 && (period_s - 2.5).abs() < 0.1, "{degrees} {period_s}");
    }
}
