//! JSON objects, one a line: what Signal K and gpsd say.
//!
//! Each object says itself what it is: a delta of Signal K has `updates`, a report of gpsd a `class`. Objects are at most
//! `MAX_OBJECT` long and the parser has a limit of depth; memory is bounded.

mod gpsd;
mod signalk;

use serde::Deserialize;
use serde_json::Value;

use super::nmea::{Observation, Rejected, Remark, TimeOfDay};
use super::units::WatchTime;
use gpsd::Gpsd;
use signalk::SignalK;

/// What an object was.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Whose form it has.
    pub form: Form,
    /// What kept it from being used whole, if anything.
    pub remark: Option<Remark>,
    /// Who said the observations, and up to which of them.
    said_by: Vec<([u8; 2], usize)>,
}

/// Whose form an object has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Signal K.
    SignalK,
    /// gpsd.
    Gpsd,
    /// Some other.
    Other,
}

impl Form {
    /// Its name in a list.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::SignalK => "Signal K",
            Self::Gpsd => "gpsd JSON",
            Self::Other => "other JSON",
        }
    }
}

impl Heard {
    fn new(form: Form, remark: Option<Remark>) -> Self {
        Self { form, remark, said_by: Vec::new() }
    }

    /// Who says the observation of that number.
    pub(super) fn talker_of(&self, index: usize) -> [u8; 2] {
        let known = self.said_by.iter().find(|(_, end)| index < *end).or(self.said_by.last());
        known.map_or(*b"--", |(talker, _)| *talker)
    }
}

/// Reads the objects of one feed.
#[derive(Clone, Debug, Default)]
pub(super) struct Objects {
    signalk: SignalK,
    gpsd: Gpsd,
}

/// Any object: what tells its form, and the rest as it stands.
#[derive(Deserialize)]
struct Any {
    class: Option<String>,
    updates: Option<Value>,
    context: Option<Value>,
    #[serde(rename = "self")]
    own: Option<Value>,
}

impl Objects {
    /// Reads a line and appends what it says to `out`; `None` if it does not begin as an object.
    ///
    /// # Errors
    /// `BrokenObject` if it is not whole or not in the form of its kind. `out` is then as it was.
    pub(super) fn read(
        &mut self,
        at: WatchTime,
        line: &[u8],
        out: &mut Vec<Observation>,
    ) -> Option<Result<Heard, Rejected>> {
        line.starts_with(b"{\"").then(|| self.object(at, line, out).ok_or(Rejected::BrokenObject))
    }

    fn object(&mut self, at: WatchTime, line: &[u8], out: &mut Vec<Observation>) -> Option<Heard> {
        let any: Any = serde_json::from_slice(line).ok()?;
        if let Some(updates) = any.updates {
            return self.signalk.delta(at, any.context.as_ref(), updates, out);
        }
        if let Some(class) = any.class {
            return self.gpsd.report(at, &class, line, out);
        }
        if let Some(own) = any.own {
            self.signalk.hello(own.as_str()?);
            return Some(Heard::new(Form::SignalK, Some(Remark::NotNeeded)));
        }
        Some(Heard::new(Form::Other, Some(Remark::UnknownType)))
    }
}

/// Two characters for a source of any name. Names that come to the same are taken for one: one in 1296.
fn talker(name: &str) -> [u8; 2] {
    const LETTERS: &[u8; 36] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789";
    // FNV-1a, which is the same on every computer.
    let sum = name
        .bytes()
        .fold(0xCBF2_9CE4_8422_2325_u64, |sum, byte| (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3));
    [LETTERS[(sum >> 32) as usize % 36], LETTERS[(sum >> 48) as usize % 36]]
}

/// A time as ISO 8601 writes it, with its date.
fn instant(text: &str) -> Option<jiff::Timestamp> {
    text.parse().ok()
}

/// The time of day of an instant, and its date.
fn utc(instant: jiff::Timestamp) -> Option<(TimeOfDay, jiff::civil::Date)> {
    let civil = jiff::tz::Offset::UTC.to_datetime(instant);
    let narrow = |value: i8| u32::try_from(value).ok();
    let millis = u32::try_from(civil.subsec_nanosecond() / 1_000_000).ok()?;
    let time =
        TimeOfDay::new(narrow(civil.hour())?, narrow(civil.minute())?, narrow(civil.second())?, millis)?;
    Some((time, civil.date()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::nmea::{DepthBelow, FixKind, FixMode, NoFix};
    use crate::watch::units::{Knots, Metres};

    /// What a row of lines says, a second apart: each line's remark, and all observations.
    fn read(lines: &[&str]) -> (Vec<Option<Remark>>, Vec<Observation>) {
        let (mut objects, mut out, mut remarks) = (Objects::default(), Vec::new(), Vec::new());
        for (second, line) in lines.iter().enumerate() {
            let heard = objects.read(WatchTime(second as i64 * 1000), line.as_bytes(), &mut out);
            remarks.push(heard.unwrap().unwrap().remark);
        }
        (remarks, out)
    }

    fn delta(values: &str) -> String {
        let head = r#"{"updates":[{"$source":"a.GP","timestamp":"2026-06-03T02:14:07.500Z","values":["#;
        format!("{head}{values}]}}]}}")
    }

    fn said(path: &str, value: &str) -> String {
        format!(r#"{{"path":"{path}","value":{value}}}"#)
    }

    /// In the form of the specification's `samples/delta/docs-data_model.json` (Signal K specification, CC BY-SA 2.0).
    #[test]
    fn values_are_si_and_each_update_is_its_sources() {
        let line = r#"{"context":"vessels.urn:mrn:imo:mmsi:234567890","updates":[
            {"source":{"label":"N2000-01","type":"NMEA2000","src":"017","pgn":127488},
             "timestamp":"2010-01-07T07:18:44Z","values":[{"path":"propulsion.0.revolutions","value":16.341667}]},
            {"source":{"label":"N2000-01","type":"NMEA2000","src":"115","pgn":128267},
             "timestamp":"2014-08-15T16:00:00.081Z","values":[
             {"path":"navigation.courseOverGroundTrue","value":2.971},{"path":"navigation.speedOverGround","value":3.85}]},
            {"source":{"label":"N2000-01"},"values":[{"path":"","value":{"name":"X"}}]}]}"#;
        let hello = r#"{"version":"1.0.4","self":"vessels.urn:mrn:imo:mmsi:234567890"}"#;
        let (mut objects, mut out) = (Objects::default(), Vec::new());
        let stranger = objects.read(WatchTime(0), line.as_bytes(), &mut out).unwrap().unwrap();
        assert_eq!(
            (stranger.remark, out.len()),
            (Some(Remark::NotNeeded), 0),
            "another vessel's, for all we know"
        );
        objects.read(WatchTime(0), hello.as_bytes(), &mut out).unwrap().unwrap();
        let heard = objects.read(WatchTime(0), line.as_bytes(), &mut out).unwrap().unwrap();
        let [Observation::Revolutions { rpm, .. }, Observation::Velocity { sog, cog }] = out[..] else {
            panic!("{out:?}");
        };
        assert!((rpm - 980.5).abs() < 1e-3 && (sog.mps() - 3.85).abs() < 1e-9);
        assert!((cog.unwrap().degrees() - 2.971_f64.to_degrees()).abs() < 1e-9);
        assert_ne!(heard.talker_of(0), heard.talker_of(1));
    }

    #[test]
    fn a_position_has_its_time_and_what_was_said_of_its_sky() {
        let place = said("navigation.position", r#"{"latitude":50.25,"longitude":-5.5}"#);
        let sky =
            [said("navigation.gnss.horizontalDilution", "0.9"), said("navigation.gnss.satellites", "11")];
        let (remarks, out) = read(&[&delta(&sky.join(",")), &delta(&place)]);
        assert_eq!(remarks, [Some(Remark::NotNeeded), None]);
        let [Observation::Fix(fix)] = out[..] else { panic!("{out:?}") };
        assert_eq!((fix.position.lat_deg(), fix.position.lon_deg()), (50.25, -5.5));
        assert_eq!((fix.hdop, fix.satellites, fix.kind), (Some(0.9), Some(11), FixKind::Autonomous));
        assert_eq!(fix.utc, TimeOfDay::new(2, 14, 7, 500));
    }

    #[test]
    fn a_position_that_is_not_measured_or_not_there_is_none() {
        let place = said("navigation.position", r#"{"latitude":50.25,"longitude":-5.5}"#);
        let quality = |words: &str| said("navigation.gnss.methodQuality", &format!("\"{words}\""));
        for (values, why) in [
            (format!("{},{place}", quality("Estimated (DR) mode")), NoFix::Estimated),
            (format!("{},{place}", quality("no GPS")), NoFix::Void),
            (said("navigation.position", "null"), NoFix::Void),
            (said("navigation.position", r#"{"latitude":95,"longitude":0}"#), NoFix::Unusable),
        ] {
            let (_, out) = read(&[&delta(&values)]);
            assert!(
                matches!(out[..], [Observation::NoFix { why: told, .. }] if told == why),
                "{values}: {out:?}"
            );
        }
    }

    #[test]
    fn speed_and_angle_of_a_wind_come_in_deltas_of_their_own() {
        let speed = delta(&said("environment.wind.speedApparent", "5.144444444444444"));
        let angle = delta(&said("environment.wind.angleApparent", "-0.7853981633974483"));
        let (_, out) = read(&[&speed, &angle]);
        let [Observation::ApparentWind { angle_deg, speed: Knots(knots) }] = out[..] else {
            panic!("{out:?}")
        };
        assert!((angle_deg + 45.0).abs() < 1e-9 && (knots - 10.0).abs() < 1e-9);
        let other = delta(&said("navigation.headingTrue", "1.0"));
        let (_, out) = read(&[&speed, &other, &other, &other, &angle]);
        assert_eq!(out.len(), 3, "a speed of long ago is none: {out:?}");
    }

    #[test]
    fn depths_headings_and_air_are_read_and_what_cannot_be_is_left_out() {
        let (_, out) = read(&[&delta(&said("environment.depth.belowKeel", "2.5"))]);
        assert_eq!(out, [Observation::Depth { below: DepthBelow::Keel, depth: Metres(2.5), offset: None }]);
        let (remarks, out) = read(&[&delta(&said("environment.depth.belowSurface", "-1"))]);
        assert_eq!((remarks, out.len()), (vec![Some(Remark::OutOfRange)], 0));
        let (_, out) = read(&[&delta(&said("environment.outside.pressure", "101320"))]);
        assert!(matches!(&out[..], [Observation::Transducer(t)] if t.barometer_hpa() == Some(1013.2)));
    }

    #[test]
    fn what_the_server_has_kept_from_long_before_is_not_used() {
        let now = delta(&said("navigation.headingTrue", "1.0"));
        let old = now.replace("02:14:07", "02:13:50");
        let (remarks, out) = read(&[&now, &old, &now]);
        assert_eq!((remarks, out.len()), (vec![None, Some(Remark::Stale), None], 2));
    }

    #[test]
    fn broken_objects_are_refused_and_leave_nothing() {
        let (mut objects, mut out) = (Objects::default(), Vec::new());
        let deep = format!("{{\"a\":{}", "[".repeat(4000));
        for line in [
            "{\"",
            "{\"updates\":7}",
            "{\"updates\":[{\"values\":3}]}",
            "{\"class\":\"TPV\",\"mode\":\"x\"}",
            &deep,
        ] {
            let read = objects.read(WatchTime(0), line.as_bytes(), &mut out);
            assert_eq!(read, Some(Err(Rejected::BrokenObject)), "{line}");
        }
        assert!(objects.read(WatchTime(0), b"{x", &mut out).is_none() && out.is_empty());
    }

    /// The examples of `gpsd_json(5)` (gpsd, BSD-2-Clause).
    #[test]
    fn reports_of_gpsd_are_positions() {
        let tpv = r#"{"class":"TPV","device":"/dev/pts/1","time":"2005-06-08T10:34:48.283Z","ept":0.005,"lat":46.498293369,"lon":7.567411672,"alt":1343.127,"eph":36.000,"epv":32.321,"track":10.3788,"speed":0.091,"climb":-0.085,"mode":3}"#;
        let sky = r#"{"class":"SKY","device":"/dev/pts/1","hdop":1.2,"uSat":8}"#;
        let (remarks, out) = read(&[sky, tpv]);
        assert_eq!(remarks, [None, None]);
        let [
            Observation::Utc { .. },
            Observation::FixMode { mode, .. },
            Observation::Fix(fix),
            Observation::Velocity { sog, .. },
        ] = out[..]
        else {
            panic!("{out:?}")
        };
        assert_eq!((mode, fix.hdop, fix.satellites), (FixMode::ThreeD, Some(1.2), Some(8)));
        assert_eq!((fix.position.lat_deg(), fix.utc), (46.498293369, TimeOfDay::new(10, 34, 48, 283)));
        assert!((sog.mps() - 0.091).abs() < 1e-9);
        for (from, to, why) in [
            ("\"mode\":3", "\"mode\":1", NoFix::Void),
            ("\"mode\":3", "\"mode\":3,\"status\":8", NoFix::Simulated),
            ("\"lat\":46.498293369,", "", NoFix::Unusable),
        ] {
            let (_, out) = read(&[&tpv.replace(from, to)]);
            assert!(
                out.iter().any(|o| matches!(o, Observation::NoFix { why: told, .. } if *told == why)),
                "{to}"
            );
            assert!(!out.iter().any(|o| matches!(o, Observation::Fix(_))));
        }
    }

    #[test]
    fn sources_without_end_do_not_grow() {
        let mut objects = Objects::default();
        let mut out = Vec::new();
        for n in 0..2000 {
            let line = delta(&said("navigation.headingTrue", "1.0")).replace("a.GP", &n.to_string());
            objects.read(WatchTime(n), line.as_bytes(), &mut out).unwrap().unwrap();
        }
        assert_eq!(objects.signalk.count_of_sources(), 32);
    }
}
