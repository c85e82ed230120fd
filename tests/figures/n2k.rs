//! NMEA 2000 against frames from outside this program: `tests/reference/n2k.jsonl`, made by the encoder of the Python library
//! nmea2000 2026.10.3 (Apache-2.0), and short excerpts of captures that the canboat project publishes (Apache-2.0), decoded by it.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;

use nightrode::watch::nmea::{AisReport, DepthBelow, NavStatus, NoFix, Observation};
use nightrode::watch::units::WatchTime;
use nightrode::watch::wire::{Reader, Told};
use serde_json::Value;

/// What a row says, as an observation's figures: name and value, in the watch's units.
type Figures = BTreeMap<&'static str, f64>;

fn figures(observations: &[Observation]) -> Figures {
    let mut all = Figures::new();
    for observation in observations {
        match *observation {
            Observation::Utc { time, date } => {
                all.insert("time_s", f64::from(time.millis()) / 1000.0);
                all.extend(date.map(|date| ("days", time.unix_ms_on(date).div_euclid(86_400_000) as f64)));
            }
            Observation::Fix(fix) => {
                all.insert("lat", fix.position.lat_deg());
                all.insert("lon", fix.position.lon_deg());
                all.extend(fix.hdop.map(|hdop| ("hdop", hdop)));
                all.extend(fix.satellites.map(|count| ("satellites", f64::from(count))));
            }
            Observation::NoFix { why, .. } => {
                all.insert("no_fix", if why == NoFix::Void { 0.0 } else { 1.0 });
            }
            Observation::Velocity { sog, cog } => {
                all.insert("sog", sog.mps());
                all.extend(cog.map(|cog| ("cog", cog.degrees())));
            }
            Observation::HeadingTrue(heading) => {
                all.insert("heading_true", heading.degrees());
            }
            Observation::HeadingMagnetic(heading) => {
                all.insert("compass", heading.compass_deg);
                all.extend(heading.deviation_deg.map(|deg| ("deviation", deg)));
            }
            Observation::Variation { east_deg } => {
                all.insert("variation", east_deg);
            }
            Observation::ApparentWind { angle_deg, speed } => {
                all.insert("apparent", angle_deg.rem_euclid(360.0));
                all.insert("wind", speed.mps());
            }
            Observation::TrueWindRelative { angle_deg, speed } => {
                all.insert("relative", angle_deg.rem_euclid(360.0));
                all.insert("wind", speed.mps());
            }
            Observation::WindDirection { true_from, magnetic_from_deg, speed } => {
                all.extend(true_from.map(|from| ("from_true", from.degrees())));
                all.extend(magnetic_from_deg.map(|from| ("from_magnetic", from)));
                all.extend(speed.map(|speed| ("wind", speed.mps())));
            }
            Observation::Depth { below: DepthBelow::Transducer, depth, offset } => {
                all.insert("depth", depth.0);
                all.extend(offset.map(|offset| ("offset", offset.0)));
            }
            Observation::WaterSpeed(speed) => {
                all.insert("water_speed", speed.mps());
            }
            Observation::Revolutions { number, rpm, .. } => {
                all.insert("engine", f64::from(number));
                all.insert("rpm", rpm);
            }
            ref other => panic!("{other:?}"),
        }
    }
    all
}

/// What the row must say. Typed-in variations and clocks that no receiver sets are left out, as is a course by the compass.
fn wanted(pgn: u64, values: &Value) -> Figures {
    let get = |name: &str| values[name].as_f64();
    let degrees = |name: &str| get(name).map(f64::to_degrees);
    let list: Vec<(&'static str, Option<f64>)> = match pgn {
        126_992 if get("source").unwrap() > 2.0 => vec![],
        126_992 => vec![("days", get("date")), ("time_s", get("time"))],
        127_250 if get("reference") == Some(0.0) => vec![("heading_true", degrees("heading"))],
        127_250 => vec![
            ("compass", degrees("heading")),
            ("deviation", degrees("deviation")),
            ("variation", degrees("variation")),
        ],
        127_258 if get("source") == Some(0.0) => vec![],
        127_258 => vec![("variation", degrees("variation"))],
        127_488 => vec![("engine", get("instance")), ("rpm", get("speed").map(|hz| hz * 60.0))],
        128_259 => vec![("water_speed", get("speedWaterReferenced"))],
        128_267 if get("depth").is_none() => vec![],
        128_267 => vec![("depth", get("depth")), ("offset", get("offset"))],
        129_025 => vec![("lat", get("latitude")), ("lon", get("longitude"))],
        129_026 => {
            let cog = degrees("cog").filter(|_| get("cogReference") == Some(0.0));
            vec![("sog", get("sog")), ("cog", cog)]
        }
        129_029 => match get("method").unwrap() as u8 {
            0 => vec![("no_fix", Some(0.0))],
            6..=8 => vec![("no_fix", Some(1.0))],
            _ => vec![
                ("days", get("date")),
                ("time_s", get("time")),
                ("lat", get("latitude")),
                ("lon", get("longitude")),
                ("hdop", get("hdop")),
                ("satellites", get("numberOfSvs")),
            ],
        },
        _ => {
            let names = ["from_true", "from_magnetic", "apparent", "relative", "relative"];
            let name = names[get("reference").unwrap() as usize];
            vec![("wind", get("windSpeed")), (name, degrees("windAngle"))]
        }
    };
    list.into_iter().filter_map(|(name, value)| Some((name, value?))).collect()
}

#[test]
fn frames_of_another_encoder_and_of_captures_say_what_it_put_in() {
    let path = format!("{}/tests/reference/n2k.jsonl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let mut rows = 0;
    for row in text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()) {
        let (mut reader, mut out) = (Reader::default(), Vec::new());
        for line in row["lines"].as_array().unwrap() {
            let told = reader.read(WatchTime(0), line.as_str().unwrap().as_bytes(), &mut out).unwrap();
            let Told::Frame(frame) = told else { panic!("{line}") };
            assert_eq!(u64::from(frame.pgn), row["pgn"].as_u64().unwrap());
            assert_eq!(u64::from(frame.source), row["source"].as_u64().unwrap());
        }
        let (read, wanted) = (figures(&out), wanted(row["pgn"].as_u64().unwrap(), &row["values"]));
        assert_eq!(read.keys().collect::<Vec<_>>(), wanted.keys().collect::<Vec<_>>(), "{row}");
        for (name, value) in &wanted {
            // Time of day is kept to the millisecond, and the date is of the same day; the rest is a matter of doubles.
            let tolerance = if *name == "time_s" { 1e-3 } else { 1e-9 };
            assert!((read[name] - value).abs() <= tolerance, "{name}: {} is not {value}: {row}", read[name]);
        }
        rows += 1;
    }
    assert_eq!(rows, 309);
}

#[test]
fn a_receiver_that_says_it_has_no_fix_has_none_in_its_rapid_positions_either() {
    let (mut reader, mut out) = (Reader::default(), Vec::new());
    let rapid = b"00:29:58.994 R 0DF80115 F1 2B 6B 1B 8E 5E 36 FF";
    let mut hear = |ms: i64, line: &[u8]| {
        out.clear();
        reader.read(WatchTime(ms), line, &mut out).unwrap();
        out.iter().any(|o| matches!(o, Observation::Fix(_)))
    };
    assert!(hear(0, rapid));
    for n in 0..7 {
        let tail = if n == 0 { "2B 09 FF FF FF FF FF" } else { "FF FF FF FF FF FF FF" };
        let tail = if n == 4 { "FF FF FF 7F 00 FC 07" } else { tail };
        hear(1000, format!("00:29:58.993 R 0DF80515 0{n} {tail}").as_bytes());
    }
    assert!(!hear(1100, rapid));
    assert!(hear(60_000, rapid), "its word is old");
}

/// What a vessel's report says, as figures; her name and what she does are compared as they are.
fn vessel_figures(report: &AisReport) -> Figures {
    let mut all = Figures::from([("mmsi", f64::from(report.mmsi)), ("message", f64::from(report.message))]);
    all.insert("own", f64::from(u8::from(report.own)));
    all.extend(report.position.into_iter().flat_map(|p| [("lat", p.lat_deg()), ("lon", p.lon_deg())]));
    all.extend(report.sog.map(|sog| ("sog", sog.mps())));
    all.extend(report.cog.map(|cog| ("cog", cog.degrees())));
    all.extend(report.heading.map(|heading| ("heading", heading.degrees())));
    all.extend(report.size.into_iter().flat_map(|size| {
        [
            ("bow", size.to_bow),
            ("stern", size.to_stern),
            ("port", size.to_port),
            ("starboard", size.to_starboard),
        ]
        .map(|(name, metres)| (name, metres.0))
    }));
    all
}

fn wanted_of_a_vessel(values: &Value) -> Figures {
    let get = |name: &str| values[name].as_f64();
    let degrees = |name: &str| get(name).map(f64::to_degrees);
    let minus = |whole: &str, part: &str| Some(get(whole)? - get(part)?);
    let list = [
        ("mmsi", get("userId")),
        ("message", get("messageId")),
        ("own", get("aisTransceiverInformation").map(|way| f64::from(u8::from((2.0..=4.0).contains(&way))))),
        ("lat", get("latitude")),
        ("lon", get("longitude")),
        ("sog", get("sog")),
        ("cog", degrees("cog")),
        ("heading", degrees("heading").or(degrees("trueHeading"))),
        ("bow", get("positionReferenceFromBow")),
        ("stern", minus("length", "positionReferenceFromBow")),
        ("port", minus("beam", "positionReferenceFromStarboard")),
        ("starboard", get("positionReferenceFromStarboard")),
    ];
    list.into_iter().filter_map(|(name, value)| Some((name, value?))).collect()
}

#[test]
fn what_transponders_say_over_the_network_is_what_another_encoder_put_in() {
    let path = format!("{}/tests/reference/n2k_vessels.jsonl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let mut rows = 0;
    for row in text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()) {
        let (mut reader, mut out) = (Reader::default(), Vec::new());
        for line in row["lines"].as_array().unwrap() {
            reader.read(WatchTime(0), line.as_str().unwrap().as_bytes(), &mut out).unwrap();
        }
        let [Observation::Vessel(report)] = &out[..] else { panic!("{row}: {out:?}") };
        let (read, wanted) = (vessel_figures(report), wanted_of_a_vessel(&row["values"]));
        assert_eq!(read.keys().collect::<Vec<_>>(), wanted.keys().collect::<Vec<_>>(), "{row}");
        for (name, value) in &wanted {
            assert!((read[name] - value).abs() <= 1e-9, "{name}: {} is not {value}: {row}", read[name]);
        }
        assert_eq!(report.name.as_ref().map(|name| name.as_str()), row["values"]["name"].as_str(), "{row}");
        // ITU-R M.1371: 0 and 8 under way, 1 at anchor, 2 to 4 hampered, 5 moored, 6 aground, 7 fishing.
        let state = row["values"]["navStatus"].as_u64().map(|code| match code {
            1 => NavStatus::AtAnchor,
            2..=4 => NavStatus::Hampered,
            5 => NavStatus::Moored,
            6 => NavStatus::Aground,
            _ => NavStatus::UnderWay,
        });
        assert_eq!(report.status, state, "{row}");
        rows += 1;
    }
    assert_eq!(rows, 240);
}
