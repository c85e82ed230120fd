//! What a Signal K server says in its deltas.
//!
//! | path | gives |
//! | --- | --- |
//! | `navigation.position`, `.gnss.methodQuality`, `.gnss.horizontalDilution`, `.gnss.satellites` | position |
//! | `navigation.speedOverGround`, `.courseOverGroundTrue` | movement over the ground |
//! | `navigation.headingTrue`, `.headingMagnetic`, `.magneticVariation` | heading |
//! | `navigation.speedThroughWater`, `navigation.datetime` | speed through the water, UTC |
//! | `environment.depth.belowTransducer`, `.belowKeel`, `.belowSurface` | depth |
//! | `environment.wind.angleApparent`, `.speedApparent`; `.angleTrueWater`, `.speedTrue`; `.directionTrue`, `.speedTrue` | wind |
//! | `environment.outside.pressure`, `propulsion.*.revolutions` | pressure of the air, revolutions |
//! | other vessels | see `vessels` |
//!
//! # Source
//! The Signal K specification 1.5.1 (signalk.org, its schemas and the pages "Data Model" and "Streaming API"): SI units,
//! radians, `null` for "not known". Each path may come in a delta of its own, so speed and angle of a wind are put together
//! here; every source (`$source`) is a talker of its own.

mod vessels;

use serde::Deserialize;
use serde_json::Value;

use super::{Form, Heard, instant, talker, utc};
use crate::watch::nmea::{
    DepthBelow, Fix, FixKind, Machine, MagneticHeading, NoFix, Observation, Remark, ShortName, TimeOfDay,
    Transducer,
};
use crate::watch::si::{self, Notes};
use crate::watch::units::{Knots, Span, TrueBearing, WatchTime};
use vessels::{Vessels, mmsi_of, named_mmsi, own};

/// Sources whose last words are kept. Our choice.
const SOURCES_MAX: usize = 32;

/// Values that belong together come within this: instruments tell at least once a second.
const PAIR_AGE: Span = Span::from_millis(2500);

/// What is said of the sky holds for so long.
const SKY_AGE: Span = Span::from_secs(10);

/// A value measured longer than this before the newest of its source is one that the server has kept. Our choice.
const STALE_MS: i64 = 10_000;

/// Decimals of a minute: the deltas have no fixed number.
const DECIMALS: u8 = 5;

/// One server.
#[derive(Clone, Debug, Default)]
pub(super) struct SignalK {
    /// The boat's own name, as the server's greeting says it.
    own: Option<String>,
    sources: Vec<Source>,
    vessels: Vessels,
}

/// What a source said last.
#[derive(Clone, Debug)]
struct Source {
    talker: [u8; 2],
    /// Newest stamp, milliseconds of Unix time.
    newest_ms: i64,
    no_fix: Option<NoFix>,
    kind: FixKind,
    hdop: Option<(WatchTime, f64)>,
    satellites: Option<(WatchTime, u8)>,
    cog: Option<(WatchTime, TrueBearing)>,
    apparent: Option<(WatchTime, Knots)>,
    true_wind: Option<(WatchTime, Knots)>,
}

#[derive(Deserialize)]
struct Update {
    #[serde(rename = "$source")]
    name: Option<String>,
    source: Option<Value>,
    timestamp: Option<String>,
    #[serde(default)]
    values: Vec<Said>,
}

#[derive(Deserialize)]
struct Said {
    path: String,
    value: Value,
}

impl SignalK {
    /// The server's greeting names the boat.
    pub(super) fn hello(&mut self, own: &str) {
        self.own = Some(own.strip_prefix("vessels.").unwrap_or(own).chars().take(128).collect());
    }

    /// Reads a delta; `None` if it is not in its form. Other vessels are read once the greeting has told which is this boat.
    pub(super) fn delta(
        &mut self,
        at: WatchTime,
        context: Option<&Value>,
        updates: Value,
        out: &mut Vec<Observation>,
    ) -> Option<Heard> {
        let updates: Vec<Update> = serde_json::from_value(updates).ok()?;
        let mut heard = Heard::new(Form::SignalK, None);
        if !self.is_own(context) {
            self.stranger(at, context, &updates, &mut heard, out);
            return Some(heard);
        }
        let (from, mut notes) = (out.len(), Notes::default());
        for update in &updates {
            let talker = talker(&name_of(update));
            let time = update.timestamp.as_deref().and_then(instant);
            let source = self.source(talker);
            let stamp_ms = time.map_or(source.newest_ms, jiff::Timestamp::as_millisecond);
            if stamp_ms < source.newest_ms.saturating_sub(STALE_MS) {
                notes.note(Remark::Stale);
                continue;
            }
            source.newest_ms = source.newest_ms.max(stamp_ms);
            let time = time.and_then(utc).map(|(time, _)| time);
            for said in &update.values {
                source.take(at, time, said, &mut notes, out);
                out.extend(named_mmsi(said).map(|mmsi| Observation::Vessel(own(mmsi))));
            }
            heard.said_by.push((talker, out.len() - from));
        }
        let is_empty = out.len() == from;
        heard.remark = notes.remark().or(is_empty.then_some(Remark::NotNeeded));
        Some(heard)
    }

    /// A delta of another vessel.
    fn stranger(
        &mut self,
        at: WatchTime,
        context: Option<&Value>,
        updates: &[Update],
        heard: &mut Heard,
        out: &mut Vec<Observation>,
    ) {
        let vessel = context.and_then(Value::as_str).and_then(|context| context.strip_prefix("vessels."));
        let mmsi = vessel.filter(|_| self.own.is_some()).and_then(mmsi_of);
        let mut notes = Notes::default();
        let report = mmsi.and_then(|mmsi| self.vessels.take(at, mmsi, updates, &mut notes));
        heard.remark = notes.remark().or(report.is_none().then_some(Remark::NotNeeded));
        if let Some(report) = report {
            let name = updates.first().map(name_of).unwrap_or_default();
            out.push(Observation::Vessel(report));
            heard.said_by.push((talker(&name), 1));
        }
    }

    #[cfg(test)]
    pub(super) fn count_of_vessels(&self) -> usize {
        self.vessels.count()
    }

    #[cfg(test)]
    pub(super) fn count_of_sources(&self) -> usize {
        self.sources.len()
    }

    /// A delta without context is of the boat herself.
    fn is_own(&self, context: Option<&Value>) -> bool {
        let Some(context) = context.and_then(Value::as_str) else { return context.is_none() };
        let vessel = context.strip_prefix("vessels.").unwrap_or(context);
        vessel == "self" || self.own.as_deref() == Some(vessel)
    }

    fn source(&mut self, talker: [u8; 2]) -> &mut Source {
        let index = self.sources.iter().position(|s| s.talker == talker).unwrap_or_else(|| {
            if self.sources.len() == SOURCES_MAX {
                self.sources.remove(0);
            }
            self.sources.push(Source::new(talker));
            self.sources.len() - 1
        });
        &mut self.sources[index]
    }
}

/// The source's name: its path, else its label with the sender behind it.
fn name_of(update: &Update) -> String {
    if let Some(name) = &update.name {
        return name.clone();
    }
    let Some(source) = &update.source else { return String::new() };
    let part = |key: &str| source[key].as_str().unwrap_or_default();
    format!("{}.{}{}", part("label"), part("src"), part("talker"))
}

fn fresh<T: Copy>(kept: Option<(WatchTime, T)>, at: WatchTime, age: Span) -> Option<T> {
    kept.filter(|(when, _)| at.since(*when) <= age).map(|(_, value)| value)
}

impl Source {
    fn new(talker: [u8; 2]) -> Self {
        Self {
            talker,
            newest_ms: i64::MIN,
            no_fix: None,
            kind: FixKind::Autonomous,
            hdop: None,
            satellites: None,
            cog: None,
            apparent: None,
            true_wind: None,
        }
    }

    /// Takes one value.
    fn take(
        &mut self,
        at: WatchTime,
        utc: Option<TimeOfDay>,
        said: &Said,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let Some((group, rest)) = said.path.split_once('.') else { return };
        match group {
            "navigation" => self.navigation(at, utc, rest, &said.value, notes, out),
            "environment" => self.environment(at, rest, &said.value, notes, out),
            "propulsion" => engine(rest, &said.value, out),
            _ => {}
        }
    }

    fn navigation(
        &mut self,
        at: WatchTime,
        utc: Option<TimeOfDay>,
        path: &str,
        value: &Value,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let number = value.as_f64();
        match path {
            "position" => self.position(at, utc, value, notes, out),
            "gnss.methodQuality" => self.quality(value.as_str().unwrap_or_default()),
            "gnss.horizontalDilution" => {
                let hdop = number.and_then(|hdop| notes.take(si::within(hdop, 0.0, 100.0)));
                self.hdop = hdop.map(|hdop| (at, hdop));
            }
            "gnss.satellites" => {
                let count = value.as_u64().and_then(|count| u8::try_from(count).ok());
                self.satellites = count.map(|count| (at, count));
            }
            "courseOverGroundTrue" => {
                let cog = number.and_then(|angle| notes.take(si::bearing(angle)));
                self.cog = cog.map(|cog| (at, cog));
            }
            "speedOverGround" => {
                let cog = fresh(self.cog, at, PAIR_AGE);
                let sog = number.and_then(|mps| notes.take(si::sog(mps)));
                out.extend(sog.map(|sog| Observation::Velocity { sog, cog }));
            }
            "headingTrue" => {
                let heading = number.and_then(|angle| notes.take(si::bearing(angle)));
                out.extend(heading.map(Observation::HeadingTrue));
            }
            "headingMagnetic" => {
                let heading = number.and_then(|angle| notes.take(si::degrees(angle)));
                out.extend(heading.map(|compass_deg| {
                    let (deviation_deg, variation_deg) = (None, None);
                    Observation::HeadingMagnetic(MagneticHeading {
                        compass_deg,
                        deviation_deg,
                        variation_deg,
                    })
                }));
            }
            "magneticVariation" => {
                let variation = number.and_then(|angle| notes.take(si::east_deg(angle)));
                out.extend(variation.map(|east_deg| Observation::Variation { east_deg }));
            }
            "speedThroughWater" => {
                let speed = number.and_then(|mps| notes.take(si::speed(mps)));
                out.extend(speed.map(Observation::WaterSpeed));
            }
            "datetime" => {
                let told = value.as_str().and_then(instant).and_then(super::utc);
                out.extend(
                    told.map(|(time, date)| Observation::Utc { time, date: notes.take(si::date(date)) }),
                );
            }
            _ => {}
        }
    }

    fn position(
        &self,
        at: WatchTime,
        utc: Option<TimeOfDay>,
        value: &Value,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let place = value["latitude"].as_f64().zip(value["longitude"].as_f64());
        let kind = self.no_fix.map_or(Ok(self.kind), Err);
        out.push(match notes.fix(kind, place.map(|(lat, lon)| si::position(lat, lon))) {
            Ok((position, kind)) => {
                let hdop = fresh(self.hdop, at, SKY_AGE);
                let satellites = fresh(self.satellites, at, SKY_AGE);
                Observation::Fix(Fix { position, utc, kind, minute_decimals: DECIMALS, hdop, satellites })
            }
            Err(why) => Observation::NoFix { utc, why },
        });
    }

    /// How the positions that follow are made, until it says otherwise.
    fn quality(&mut self, quality: &str) {
        (self.no_fix, self.kind) = match quality {
            "no GPS" | "Error" => (Some(NoFix::Void), FixKind::Autonomous),
            "Estimated (DR) mode" => (Some(NoFix::Estimated), FixKind::Autonomous),
            "Manual input" => (Some(NoFix::Manual), FixKind::Autonomous),
            "Simulator mode" => (Some(NoFix::Simulated), FixKind::Autonomous),
            "DGNSS fix" => (None, FixKind::Differential),
            "Precise GNSS" => (None, FixKind::Precise),
            "RTK fixed integer" => (None, FixKind::Rtk),
            "RTK float" => (None, FixKind::FloatRtk),
            _ => (None, FixKind::Autonomous),
        };
    }

    fn environment(
        &mut self,
        at: WatchTime,
        path: &str,
        value: &Value,
        notes: &mut Notes,
        out: &mut Vec<Observation>,
    ) {
        let Some(number) = value.as_f64() else { return };
        match path {
            "depth.belowTransducer" => push_depth(DepthBelow::Transducer, number, notes, out),
            "depth.belowKeel" => push_depth(DepthBelow::Keel, number, notes, out),
            "depth.belowSurface" => push_depth(DepthBelow::Surface, number, notes, out),
            "wind.speedApparent" => self.apparent = notes.take(si::wind_speed(number)).map(|s| (at, s)),
            "wind.speedTrue" => self.true_wind = notes.take(si::wind_speed(number)).map(|s| (at, s)),
            "wind.angleApparent" => {
                let wind = notes.take(si::from_bow(number)).zip(fresh(self.apparent, at, PAIR_AGE));
                out.extend(wind.map(|(angle_deg, speed)| Observation::ApparentWind { angle_deg, speed }));
            }
            "wind.angleTrueWater" => {
                let wind = notes.take(si::from_bow(number)).zip(fresh(self.true_wind, at, PAIR_AGE));
                out.extend(wind.map(|(angle_deg, speed)| Observation::TrueWindRelative { angle_deg, speed }));
            }
            "wind.directionTrue" => {
                let speed = fresh(self.true_wind, at, PAIR_AGE);
                let from = notes.take(si::bearing(number));
                out.extend(from.zip(speed).map(|(from, speed)| Observation::WindDirection {
                    true_from: Some(from),
                    magnetic_from_deg: None,
                    speed: Some(speed),
                }));
            }
            "outside.pressure" => {
                let name = ShortName::new(b"BARO");
                out.push(Observation::Transducer(Transducer { kind: b'P', value: number, unit: b'P', name }));
            }
            _ => {}
        }
    }
}

fn push_depth(below: DepthBelow, metres: f64, notes: &mut Notes, out: &mut Vec<Observation>) {
    let depth = notes.take(si::depth(metres));
    out.extend(depth.map(|depth| Observation::Depth { below, depth, offset: None }));
}

/// Revolutions a second; two engines are told apart by their usual names.
fn engine(path: &str, value: &Value, out: &mut Vec<Observation>) {
    let Some((name, "revolutions")) = path.split_once('.') else { return };
    let number = u8::from(matches!(name, "starboard" | "1" | "right"));
    let rpm = value.as_f64().map(|hz| hz * 60.0).filter(|rpm| rpm.abs() <= 100_000.0);
    out.extend(rpm.map(|rpm| Observation::Revolutions { of: Machine::Engine, number, rpm }));
}
