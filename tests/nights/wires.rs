//! One night by three ways: what her instruments say as NMEA 0183, NMEA 2000 and Signal K gives the same alerts.
//!
//! Each sentence of a simulated night is read, and what it says is written again as frames and as deltas. Each way has its own
//! steps: sentences of the night as the receiver prints them, frames 1e-7°, 0.0001 rad, 0.01 m/s and 1 cm, deltas all digits.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;

use nightrode::sim::{Event, Night, demo};
use nightrode::watch::Watch;
use nightrode::watch::alert::{AlertKind, Change};
use nightrode::watch::input::{self, FeedId, Input};
use nightrode::watch::nmea::{DepthBelow, Observation, parse};
use nightrode::watch::output::Output;
use nightrode::watch::units::{Knots, Span, WatchTime};
use serde_json::{Value, json};

/// A way for observations to come.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    Sentences,
    Frames,
    Deltas,
}

/// One frame of up to eight bytes from address 1.
fn frame(pgn: u32, bytes: &[u8]) -> Vec<u8> {
    let mut data = bytes.to_vec();
    data.resize(8, 0xFF);
    let hexed: Vec<_> = data.iter().map(|byte| format!("{byte:02X}")).collect();
    format!("17:33:21.107 R {:08X} {}", 0x0800_0001 | pgn << 8, hexed.join(" ")).into_bytes()
}

/// A message in frames of a sequence.
fn frames(pgn: u32, sequence: u8, message: &[u8]) -> Vec<Vec<u8>> {
    let (first, rest) = message.split_at(6);
    let head = [&[sequence << 5, message.len() as u8], first].concat();
    let tails = rest.chunks(7).zip(1_u8..).map(|(part, n)| [&[sequence << 5 | n], part].concat());
    std::iter::once(head).chain(tails).map(|data| frame(pgn, &data)).collect()
}

fn u16le(value: f64, step: f64) -> [u8; 2] {
    ((value / step).round() as u16).to_le_bytes()
}

fn angle(degrees: f64) -> [u8; 2] {
    u16le(degrees.rem_euclid(360.0).to_radians(), 1e-4)
}

/// What a sentence says, as frames.
fn as_frames(at: WatchTime, said: &[Observation]) -> Vec<Vec<u8>> {
    let mut lines = Vec::new();
    for observation in said {
        match *observation {
            Observation::Fix(fix) => {
                let (lat, lon) = (fix.position.lat_deg(), fix.position.lon_deg());
                let mut message = vec![1];
                message.extend(((at.0 / 86_400_000) as u16).to_le_bytes());
                message.extend((fix.utc.unwrap().millis() * 10).to_le_bytes());
                message.extend(((lat * 1e16) as i64).to_le_bytes());
                message.extend(((lon * 1e16) as i64).to_le_bytes());
                message.extend(i64::MAX.to_le_bytes());
                message.extend([0x10, 0xFC, fix.satellites.unwrap_or(0xFF)]);
                message.extend(fix.hdop.map_or(i16::MAX, |hdop| (hdop * 100.0).round() as i16).to_le_bytes());
                message.extend([0xFF, 0x7F, 0xFF, 0xFF, 0xFF, 0x7F, 0]);
                lines.extend(frames(129_029, (at.0 / 1000 % 8) as u8, &message));
                let rapid = [(lat * 1e7).round() as i32, (lon * 1e7).round() as i32].map(i32::to_le_bytes);
                lines.push(frame(129_025, &rapid.concat()));
            }
            Observation::NoFix { .. } => {
                let mut message = vec![0xFF; 31];
                message.extend([0, 0xFC, 0xFF, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0xFF, 0xFF, 0x7F, 0]);
                lines.extend(frames(129_029, (at.0 / 1000 % 8) as u8, &message));
            }
            Observation::Velocity { sog, cog } => {
                let cog = cog.map_or([0xFF; 2], |cog| angle(cog.degrees()));
                lines.push(frame(129_026, &[&[1, 0xFC], &cog[..], &u16le(sog.mps(), 0.01)].concat()));
            }
            Observation::HeadingTrue(heading) => {
                let tail = [0xFF, 0x7F, 0xFF, 0x7F, 0xFC];
                lines.push(frame(127_250, &[&[1], &angle(heading.degrees())[..], &tail].concat()));
            }
            Observation::HeadingMagnetic(heading) => {
                let small = |deg: Option<f64>| {
                    deg.map_or(i16::MAX, |deg| (deg.to_radians() / 1e-4).round() as i16).to_le_bytes()
                };
                let (deviation, variation) = (small(heading.deviation_deg), small(heading.variation_deg));
                let compass = angle(heading.compass_deg);
                lines.push(frame(127_250, &[&[1], &compass[..], &deviation, &variation, &[0xFD]].concat()));
            }
            Observation::ApparentWind { angle_deg, speed } => lines.push(wind(speed, angle_deg, 0xFA)),
            Observation::TrueWindRelative { angle_deg, speed } => lines.push(wind(speed, angle_deg, 0xFC)),
            Observation::Depth { below: DepthBelow::Transducer, depth, offset } => {
                let depth = ((depth.0 * 100.0).round() as u32).to_le_bytes();
                let offset = offset.map_or(i16::MAX, |o| (o.0 * 1000.0).round() as i16).to_le_bytes();
                lines.push(frame(128_267, &[&[1], &depth[..], &offset].concat()));
            }
            _ => {}
        }
    }
    lines
}

fn wind(speed: Knots, angle_deg: f64, reference: u8) -> Vec<u8> {
    let speed = u16le(speed.mps(), 0.01);
    frame(130_306, &[&[1], &speed[..], &angle(angle_deg), &[reference]].concat())
}

/// What a sentence says, as one delta.
fn as_delta(at: WatchTime, said: &[Observation]) -> Vec<Vec<u8>> {
    let mut values: Vec<Value> = Vec::new();
    let mut add = |path: &str, value: Value| values.push(json!({ "path": path, "value": value }));
    let mut name = "instruments";
    for observation in said {
        match *observation {
            Observation::Fix(fix) => {
                name = "receiver";
                if let Some(hdop) = fix.hdop {
                    add("navigation.gnss.horizontalDilution", json!(hdop));
                }
                if let Some(satellites) = fix.satellites {
                    add("navigation.gnss.satellites", json!(satellites));
                }
                let (lat, lon) = (fix.position.lat_deg(), fix.position.lon_deg());
                add("navigation.position", json!({ "latitude": lat, "longitude": lon }));
            }
            Observation::NoFix { .. } => {
                name = "receiver";
                add("navigation.position", Value::Null);
            }
            Observation::Velocity { sog, cog } => {
                name = "receiver";
                add("navigation.courseOverGroundTrue", json!(cog.map(|cog| cog.radians())));
                add("navigation.speedOverGround", json!(sog.mps()));
            }
            Observation::HeadingTrue(heading) => add("navigation.headingTrue", json!(heading.radians())),
            Observation::HeadingMagnetic(heading) => {
                let magnetic = heading.compass_deg + heading.deviation_deg.unwrap_or(0.0);
                add("navigation.headingMagnetic", json!(magnetic.to_radians()));
            }
            Observation::Variation { east_deg } => {
                add("navigation.magneticVariation", json!(east_deg.to_radians()));
            }
            Observation::ApparentWind { angle_deg, speed } => {
                add("environment.wind.speedApparent", json!(speed.mps()));
                add("environment.wind.angleApparent", json!(angle_deg.to_radians()));
            }
            Observation::TrueWindRelative { angle_deg, speed } => {
                add("environment.wind.speedTrue", json!(speed.mps()));
                add("environment.wind.angleTrueWater", json!(angle_deg.to_radians()));
            }
            Observation::Depth { below: DepthBelow::Transducer, depth, .. } => {
                add("environment.depth.belowTransducer", json!(depth.0));
            }
            _ => {}
        }
    }
    if values.is_empty() {
        return Vec::new();
    }
    let stamp = jiff::Timestamp::from_millisecond(at.0).unwrap().to_string();
    let update = json!({ "$source": name, "timestamp": stamp, "values": values });
    vec![format!("{{\"context\":\"vessels.self\",\"updates\":[{update}]}}").into_bytes()]
}

/// When each alert was raised, minutes after the start.
fn alerts_by(way: Way, hours: i64) -> BTreeMap<AlertKind, Vec<f64>> {
    let scenario = demo(1);
    let (start, mut watch) = (scenario.start, Watch::new(scenario.settings()));
    let mut raised: BTreeMap<AlertKind, Vec<f64>> = BTreeMap::new();
    let mut said = Vec::new();
    for event in Night::new(scenario).take_while(|event| event.at() < start + Span::from_mins(60 * hours)) {
        let mut take = |at: WatchTime, input: Input<'_>| {
            for output in watch.handle(at, input) {
                if let Output::Alert(change) = output
                    && change.change == Change::Raised
                {
                    let minutes = change.at.since(start).seconds() / 60.0;
                    raised.entry(change.alert.kind).or_default().push(minutes);
                }
            }
        };
        match event {
            Event::Crew { at, command } => take(at, Input::Event(input::Event::Crew(command))),
            Event::Line { at, feed, bytes } => {
                said.clear();
                let lines = match way {
                    Way::Sentences => vec![bytes],
                    // What is damaged on the line is another matter.
                    _ if parse(&bytes, &mut said).is_err() => continue,
                    Way::Frames => as_frames(at, &said),
                    Way::Deltas => as_delta(at, &said),
                };
                lines.iter().for_each(|line| take(at, Input::Line { feed: FeedId(feed.0), bytes: line }));
            }
            Event::Caption { .. } | Event::Truth(_) => {}
        }
    }
    raised
}

#[test]
fn one_night_by_three_ways_gives_the_same_alerts() {
    let sentences = alerts_by(Way::Sentences, 8);
    assert!(sentences.len() >= 3, "the night has alerts: {sentences:?}");
    for way in [Way::Frames, Way::Deltas] {
        let other = alerts_by(way, 8);
        println!("{other:?}");
        let kinds = |raised: &BTreeMap<AlertKind, Vec<f64>>| raised.keys().copied().collect::<Vec<_>>();
        assert_eq!(kinds(&sentences), kinds(&other), "{sentences:?} {other:?}");
        for (kind, at) in &sentences {
            let apart = (at[0] - other[kind][0]).abs();
            assert!(apart <= 2.0, "{kind:?} is {apart:.1} min apart: {at:?} {:?}", other[kind]);
        }
    }
}
