//! Sentences against lines from outside this program: `tests/reference/nmea_*.jsonl`, whose values two independent
//! readers agree on (pynmeagps 1.1.8, pynmea2 1.19.0; AIS: pyais 3.3.1), and magnetic variation against the
//! published test values of the World Magnetic Model.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use jiff::civil::{Date, date};
use nightrode::watch::geo::Position;
use nightrode::watch::magvar;
use nightrode::watch::nmea::{
    AisAssembler, AisReport, DepthBelow, Fix, FixKind, FixMode, Heard, LineSplitter, Machine, NavStatus,
    NoFix, Observation, Rejected, Remark, RemarkClass, parse,
};
use nightrode::watch::units::{Knots, Metres, TrueBearing, WatchTime};
use serde_json::Value;

/// The rows of a file in `tests/reference`.
fn rows(name: &str) -> Vec<Value> {
    let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// What came of one line of a stream.
#[derive(Debug)]
struct Line {
    text: String,
    outcome: Result<Entered, Rejected>,
}

/// A line that was heard.
#[derive(Debug)]
struct Entered {
    talker: String,
    kind: String,
    source: Option<String>,
    destination: Option<String>,
    group: Option<String>,
    number: Option<u32>,
    unix_ms: Option<i64>,
    remark: Option<Remark>,
    observations: Vec<Observation>,
    ais: Option<AisReport>,
}

/// Runs a stream through splitter, parser and AIS assembler.
fn read(bytes: &[u8]) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut ais = AisAssembler::new();
    let mut keep = |line: &[u8]| {
        let mut observations = Vec::new();
        let outcome = parse(line, &mut observations).and_then(|heard: Heard<'_>| {
            let report = if heard.is_ais() { ais.push(WatchTime(0), line)? } else { None };
            let owned = |text: Option<&str>| text.map(str::to_owned);
            Ok(Entered {
                talker: String::from_utf8_lossy(&heard.talker).into_owned(),
                kind: heard.kind.to_string(),
                source: owned(heard.tag.source),
                destination: owned(heard.tag.destination),
                group: owned(heard.tag.group),
                number: heard.tag.line,
                unix_ms: heard.tag.unix_ms,
                remark: heard.remark,
                observations: observations.clone(),
                ais: report,
            })
        });
        lines.push(Line { text: String::from_utf8_lossy(line).into_owned(), outcome });
    };
    let mut splitter = LineSplitter::new();
    splitter.push(bytes, &mut keep);
    splitter.finish(&mut keep);
    lines
}

impl Entered {
    fn one<T>(&self, pick: impl Fn(&Observation) -> Option<T>) -> Option<T> {
        self.observations.iter().find_map(pick)
    }

    fn fix(&self) -> Option<Fix> {
        self.one(|o| if let Observation::Fix(fix) = o { Some(*fix) } else { None })
    }

    fn no_fix(&self) -> Option<NoFix> {
        self.one(|o| if let Observation::NoFix { why, .. } = o { Some(*why) } else { None })
    }

    /// Time of day, seconds, of the fix or of why there is none.
    fn position_time_s(&self) -> Option<f64> {
        let time = self.one(|o| match o {
            Observation::Fix(Fix { utc, .. }) | Observation::NoFix { utc, .. } => Some(*utc),
            _ => None,
        })?;
        time.map(|time| f64::from(time.millis()) / 1000.0)
    }

    fn utc(&self) -> Option<(f64, Option<Date>)> {
        self.one(|o| match o {
            Observation::Utc { time, date } => Some((f64::from(time.millis()) / 1000.0, *date)),
            _ => None,
        })
    }

    fn velocity(&self) -> Option<(f64, Option<f64>)> {
        self.one(|o| match o {
            Observation::Velocity { sog, cog } => Some((sog.0, cog.map(TrueBearing::degrees))),
            _ => None,
        })
    }

    fn variation(&self) -> Option<f64> {
        self.one(|o| if let Observation::Variation { east_deg } = o { Some(*east_deg) } else { None })
    }
}

/// What the row says, field by field.
struct Expected<'a> {
    id: &'a str,
    values: &'a Value,
}

impl Expected<'_> {
    fn number(&self, name: &str) -> Option<f64> {
        self.values[name].as_f64()
    }

    fn text(&self, name: &str) -> Option<&str> {
        self.values[name].as_str()
    }

    fn same(&self, what: &str, ours: Option<f64>, theirs: Option<f64>, tolerance: f64) {
        let agree = match (ours, theirs) {
            (Some(ours), Some(theirs)) => (ours - theirs).abs() <= tolerance,
            (ours, theirs) => ours == theirs,
        };
        assert!(agree, "{}: {what}: {ours:?}, reference {theirs:?}", self.id);
    }

    /// Against a field as printed.
    fn equal(&self, field: &str, ours: Option<f64>) {
        self.same(field, ours, self.number(field), 1e-9);
    }

    fn position(&self, ours: Position) {
        // 1e-7 degrees is the reference's own tolerance.
        self.same("lat", Some(ours.lat_deg()), self.number("lat"), 1e-7);
        self.same("lon", Some(ours.lon_deg()), self.number("lon"), 1e-7);
    }
}

fn kind_of(mode: &str) -> FixKind {
    // Of several systems the best counts; the reference holds no mode of its own for that.
    let of = |letter| match letter {
        'D' => FixKind::Differential,
        'P' => FixKind::Precise,
        'F' => FixKind::FloatRtk,
        'R' => FixKind::Rtk,
        _ => FixKind::Autonomous,
    };
    mode.chars().map(of).max().unwrap_or(FixKind::Autonomous)
}

#[test]
fn every_valid_line_gives_the_values_that_two_other_readers_give() {
    let rows = rows("nmea_valid.jsonl");
    assert!(rows.len() >= 173);
    for row in &rows {
        let id = row["id"].as_str().unwrap();
        let lines = read(row["raw"].as_str().unwrap().as_bytes());
        let entered = lines.last().unwrap().outcome.as_ref().unwrap_or_else(|e| panic!("{id}: {e}"));
        assert_eq!(entered.talker, row["talker"].as_str().unwrap(), "{id}");
        assert_eq!(entered.kind, row["type"].as_str().unwrap(), "{id}");
        let tag = &row["tag"];
        assert_eq!(entered.source.as_deref(), tag["s"].as_str(), "{id}");
        assert_eq!(entered.destination.as_deref(), tag["d"].as_str(), "{id}");
        assert_eq!(entered.group.as_deref(), tag["g"].as_str(), "{id}");
        assert_eq!(entered.number.map(u64::from), tag["n"].as_u64(), "{id}");
        assert_eq!(entered.unix_ms, tag["c_unix_s"].as_f64().map(|s| (s * 1000.0).round() as i64), "{id}");
        let expected = Expected { id, values: &row["values"] };
        compare(&entered.kind, entered, &expected);
    }
}

/// Fields that no watch at anchor has a use for (altitude, geoid, reference station, local zone, magnetic course) are
/// not read, so not compared.
fn compare(kind: &str, entered: &Entered, expected: &Expected<'_>) {
    let id = expected.id;
    match kind {
        "RMC" | "GLL" => compare_status_position(entered, expected),
        "GGA" | "GNS" => {
            expected.equal("time_s", entered.position_time_s());
            let quality = expected.number("quality");
            if quality == Some(0.0) {
                assert_eq!((entered.fix(), entered.no_fix()), (None, Some(NoFix::Void)), "{id}");
                return;
            }
            let fix = entered.fix().unwrap_or_else(|| panic!("{id}: no fix"));
            expected.position(fix.position);
            expected.equal("hdop", fix.hdop);
            expected.equal("num_sats", fix.satellites.map(f64::from));
            let kind = match quality {
                Some(quality) => kind_of(["", "A", "D", "P", "R", "F"][quality as usize]),
                None => kind_of(expected.text("mode").unwrap()),
            };
            assert_eq!(fix.kind, kind, "{id}");
        }
        "GSA" => {
            let (mode, hdop, satellites) = entered
                .one(|o| match o {
                    Observation::FixMode { mode, hdop, satellites } => Some((*mode, *hdop, *satellites)),
                    _ => None,
                })
                .unwrap();
            let dimensions = match mode {
                FixMode::None => 1.0,
                FixMode::TwoD => 2.0,
                FixMode::ThreeD => 3.0,
            };
            expected.equal("fix", Some(dimensions));
            expected.equal("hdop", hdop);
            assert_eq!(usize::from(satellites), expected.values["svids"].as_array().unwrap().len(), "{id}");
        }
        "GSV" => {
            let seen =
                entered.one(|o| if let Observation::Satellites(s) = o { Some(*s) } else { None }).unwrap();
            expected.equal("num_msgs", Some(seen.of.into()));
            expected.equal("msg_num", Some(seen.message.into()));
            expected.equal("num_sv", Some(seen.in_view.into()));
            let satellites: Vec<[Option<i64>; 4]> = seen
                .satellites
                .iter()
                .flatten()
                .map(|s| {
                    [
                        Some(s.id.into()),
                        s.elevation_deg.map(i64::from),
                        s.azimuth_deg.map(i64::from),
                        s.snr_db.map(i64::from),
                    ]
                })
                .collect();
            assert_eq!(serde_json::to_value(satellites).unwrap(), expected.values["svs"], "{id}");
        }
        "GST" => {
            let (lat, lon, ellipse) = entered
                .one(|o| match o {
                    Observation::Accuracy { lat_sd, lon_sd, ellipse } => {
                        Some((*lat_sd, *lon_sd, ellipse.unwrap()))
                    }
                    _ => None,
                })
                .unwrap();
            expected.equal("sd_lat", Some(lat.0));
            expected.equal("sd_lon", Some(lon.0));
            expected.equal("sd_major", Some(ellipse.major.0));
            expected.equal("sd_minor", Some(ellipse.minor.0));
            expected.equal("orient", Some(ellipse.axis.degrees()));
        }
        "VTG" => {
            let (sog, cog) = entered.velocity().unwrap();
            expected.equal("sog_kn", Some(sog));
            expected.equal("cog_true", cog);
        }
        "ZDA" => {
            let (time_s, day) = entered.utc().unwrap();
            expected.equal("time_s", Some(time_s));
            assert_eq!(day.map(|d| d.to_string()).as_deref(), expected.text("date"), "{id}");
        }
        "HDT" | "THS" => {
            let heading =
                entered.one(|o| if let Observation::HeadingTrue(h) = o { Some(h.degrees()) } else { None });
            match expected.text("mode") {
                None | Some("A") => expected.equal("hdg_true", heading),
                // Void, typed in or simulated: printed, yet no heading to steer a swing circle by.
                Some(_) => assert!(heading.is_none() && entered.remark.is_some(), "{id}"),
            }
        }
        "HDG" | "HDM" => {
            let heading = entered
                .one(|o| if let Observation::HeadingMagnetic(h) = o { Some(*h) } else { None })
                .unwrap();
            expected.equal("hdg_mag", Some(heading.compass_deg));
            expected.equal("dev_east", heading.deviation_deg);
            expected.equal("var_east", heading.variation_deg);
            expected.equal("var_east", entered.variation());
        }
        "MWV" => compare_mwv(entered, expected),
        "MWD" => {
            let (true_from, magnetic, speed) = entered
                .one(|o| match o {
                    Observation::WindDirection { true_from, magnetic_from_deg, speed } => {
                        Some((*true_from, *magnetic_from_deg, *speed))
                    }
                    _ => None,
                })
                .unwrap();
            expected.equal("dir_true", true_from.map(TrueBearing::degrees));
            expected.equal("dir_mag", magnetic);
            expected.equal("speed_kn", speed.map(|s| s.0));
        }
        "VHW" => {
            let speed = entered.one(|o| if let Observation::WaterSpeed(s) = o { Some(s.0) } else { None });
            let heading =
                entered.one(|o| if let Observation::HeadingTrue(h) = o { Some(h.degrees()) } else { None });
            let magnetic = entered
                .one(|o| if let Observation::HeadingMagnetic(h) = o { Some(h.compass_deg) } else { None });
            expected.equal("stw_kn", speed);
            expected.equal("hdg_true", heading);
            expected.equal("hdg_mag", magnetic);
        }
        "DPT" | "DBT" => {
            let (below, depth, offset) = entered
                .one(|o| match o {
                    Observation::Depth { below, depth, offset } => {
                        Some((*below, depth.0, offset.map(|o| o.0)))
                    }
                    _ => None,
                })
                .unwrap();
            assert_eq!(below, DepthBelow::Transducer, "{id}");
            match expected.number("depth_m") {
                Some(metres) => expected.same("depth", Some(depth), Some(metres), 1e-9),
                None => expected.equal("depth_ft", Some(depth / 0.3048)),
            }
            expected.equal("offset_m", offset);
        }
        "MTW" => {
            let celsius = |o: &Observation| match o {
                Observation::WaterTemperature { celsius } => Some(*celsius),
                _ => None,
            };
            expected.equal("temp_c", entered.one(celsius));
        }
        "RPM" => {
            let (of, number, rpm) = entered
                .one(|o| match o {
                    Observation::Revolutions { of, number, rpm } => Some((*of, *number, *rpm)),
                    _ => None,
                })
                .unwrap();
            assert_eq!(expected.text("source"), Some(if of == Machine::Shaft { "S" } else { "E" }), "{id}");
            expected.equal("number", Some(number.into()));
            expected.equal("rpm", Some(rpm));
        }
        "ROT" => {
            let rate = entered.one(|o| match o {
                Observation::RateOfTurn { deg_per_min } => Some(*deg_per_min),
                _ => None,
            });
            match expected.text("status") {
                Some("A") => expected.equal("rate_deg_min", rate),
                _ => assert_eq!((rate, entered.remark), (None, Some(Remark::Void)), "{id}"),
            }
        }
        "XDR" => {
            let letter = |byte: u8| (byte != 0).then(|| char::from(byte).to_string());
            let groups: Vec<_> = entered
                .observations
                .iter()
                .map(|o| match o {
                    Observation::Transducer(t) => (letter(t.kind), t.value, letter(t.unit), t.name.as_str()),
                    other => panic!("{id}: {other:?}"),
                })
                .collect();
            assert_eq!(serde_json::to_value(groups).unwrap(), expected.values["transducers"], "{id}");
        }
        "VDM" | "VDO" => compare_ais(entered, expected),
        other => panic!("{id}: no comparison for {other}"),
    }
}

fn compare_status_position(entered: &Entered, expected: &Expected<'_>) {
    let id = expected.id;
    expected.equal("time_s", entered.position_time_s());
    if expected.text("status") == Some("V") {
        // A void sentence prints a position, a date and a speed at times; none of it may be used.
        assert_eq!(entered.remark.map(Remark::class), Some(RemarkClass::Void), "{id}");
        assert_eq!((entered.fix(), entered.utc(), entered.velocity()), (None, None, None), "{id}");
        assert!(entered.no_fix().is_some(), "{id}");
        return;
    }
    let fix = entered.fix().unwrap_or_else(|| panic!("{id}: no fix"));
    expected.position(fix.position);
    assert_eq!(fix.kind, kind_of(expected.text("mode").unwrap_or("")), "{id}");
    if entered.kind == "RMC" {
        let (time_s, day) = entered.utc().unwrap();
        expected.equal("time_s", Some(time_s));
        assert_eq!(day.map(|d| d.to_string()).as_deref(), expected.text("date"), "{id}");
        let (sog, cog) = entered.velocity().unwrap();
        expected.equal("sog_kn", Some(sog));
        expected.equal("cog_true", cog);
        expected.equal("var_east", entered.variation());
    }
}

fn compare_mwv(entered: &Entered, expected: &Expected<'_>) {
    let id = expected.id;
    let wind = entered.one(|o| match o {
        Observation::ApparentWind { angle_deg, speed } => Some(("R", *angle_deg, *speed)),
        Observation::TrueWindRelative { angle_deg, speed } => Some(("T", *angle_deg, *speed)),
        _ => None,
    });
    if expected.text("status") == Some("V") {
        assert_eq!((wind, entered.remark), (None, Some(Remark::Void)), "{id}");
        return;
    }
    let (reference, angle_deg, speed) = wind.unwrap();
    assert_eq!(Some(reference), expected.text("reference"), "{id}");
    assert!((-180.0..180.0).contains(&angle_deg), "{id}");
    expected.equal("angle", Some(angle_deg.rem_euclid(360.0)));
    let printed = match expected.text("unit").unwrap() {
        "N" => speed.0,
        "M" => speed.mps(),
        "K" => speed.mps() * 3.6,
        "S" => speed.mps() / 0.44704,
        other => panic!("{id}: unit {other}"),
    };
    expected.equal("speed", Some(printed));
}

/// Call sign, destination, draught, kind of ship and the time in base stations' reports are not read.
fn compare_ais(entered: &Entered, expected: &Expected<'_>) {
    let id = expected.id;
    let report = entered.ais.as_ref().unwrap_or_else(|| panic!("{id}: no report"));
    assert_eq!(report.own, entered.kind == "VDO", "{id}");
    expected.equal("msg_type", Some(report.message.into()));
    expected.equal("mmsi", Some(report.mmsi.into()));
    // The reference rounds to five or six decimals of a degree.
    expected.same("lat", report.position.map(Position::lat_deg), expected.number("lat"), 5.1e-6);
    expected.same("lon", report.position.map(Position::lon_deg), expected.number("lon"), 5.1e-6);
    expected.equal("speed", report.sog.map(|s| s.0));
    expected.equal("course", report.cog.map(TrueBearing::degrees));
    expected.equal("heading", report.heading.map(TrueBearing::degrees));
    let name = expected.text("shipname").or(expected.text("name"));
    assert_eq!(report.name.as_ref().map(|n| n.as_str()), name, "{id}");
    if let Some(status) = expected.number("status") {
        let ours = match report.status {
            Some(NavStatus::UnderWay) => 0.0,
            Some(NavStatus::AtAnchor) => 1.0,
            Some(NavStatus::Moored) => 5.0,
            other => panic!("{id}: {other:?}"),
        };
        assert_eq!(ours, status, "{id}");
    }
    if expected.values["to_bow"].is_number() {
        let size = report.size.unwrap();
        expected.equal("to_bow", Some(size.to_bow.0));
        expected.equal("to_stern", Some(size.to_stern.0));
        expected.equal("to_port", Some(size.to_port.0));
        expected.equal("to_starboard", Some(size.to_starboard.0));
    }
}

fn unhex(text: &str) -> Vec<u8> {
    (0..text.len()).step_by(2).map(|i| u8::from_str_radix(&text[i..i + 2], 16).unwrap()).collect()
}

impl Line {
    /// Whether the watch takes anything from it, if only that an instrument says it has nothing.
    fn is_taken(&self) -> bool {
        let class = |entered: &Entered| entered.remark.map(Remark::class);
        self.outcome.as_ref().is_ok_and(|entered| class(entered) != Some(RemarkClass::Ignored))
    }

    fn is_fault(&self) -> bool {
        self.outcome.as_ref().is_err_and(|why| why.is_fault())
    }

    /// The sentence without its TAG block, its checksum in capitals, as the reference lists it.
    fn sentence(&self) -> String {
        let bare = match self.text.strip_prefix('\\').and_then(|rest| rest.split_once('\\')) {
            Some((_, rest)) => rest,
            None => &self.text,
        };
        match bare.rsplit_once('*') {
            Some((body, sum)) => format!("{body}*{}", sum.to_ascii_uppercase()),
            None => bare.to_owned(),
        }
    }
}

#[test]
fn every_malformed_line_is_dealt_with_as_the_reference_says() {
    let rows = rows("nmea_malformed.jsonl");
    assert!(rows.len() >= 110);
    for row in &rows {
        let id = row["id"].as_str().unwrap();
        let lines = read(&unhex(row["bytes_hex"].as_str().unwrap()));
        let good: Vec<&str> =
            row["valid_sentences"].as_array().unwrap().iter().map(|s| s.as_str().unwrap()).collect();
        let taken: Vec<&Line> = lines.iter().filter(|line| line.is_taken()).collect();
        let heard: Vec<&Entered> = taken.iter().map(|line| line.outcome.as_ref().unwrap()).collect();
        let why = || format!("{id} {}: {lines:#?}", row["why"]);
        let listed = |taken: &[&Line]| taken.iter().map(|line| line.sentence()).collect::<Vec<_>>() == good;
        match row["action"].as_str().unwrap() {
            "reject" => {
                assert!(heard.iter().all(|entered| entered.observations.is_empty()), "{}", why());
                assert!(lines.iter().any(Line::is_fault), "{}", why());
            }
            "ignore" => {
                let said = |entered: &&Entered| !entered.observations.is_empty() || entered.ais.is_some();
                assert!(!heard.iter().any(said), "{}", why());
                assert!(!lines.iter().any(Line::is_fault), "{}", why());
            }
            "accept" => {
                assert!(listed(&taken), "{}", why());
                let whole = |entered: &&Entered| matches!(entered.remark, None | Some(Remark::TagDropped));
                assert!(
                    heard.iter().all(|entered| whole(entered) && !entered.observations.is_empty()),
                    "{}",
                    why()
                );
                assert!(!lines.iter().any(Line::is_fault), "{}", why());
            }
            "resync" => {
                assert!(listed(&taken), "{}", why());
                assert!(
                    heard.iter().all(|entered| entered.remark.is_none() && entered.fix().is_some()),
                    "{}",
                    why()
                );
            }
            "accept_no_fix" => {
                assert!(listed(&taken), "{}", why());
                let [entered] = heard[..] else { panic!("{}", why()) };
                assert!(
                    entered.fix().is_none() && entered.no_fix().is_some() && entered.remark.is_some(),
                    "{}",
                    why()
                );
            }
            "accept_field_missing" => {
                assert!(listed(&taken), "{}", why());
                let [entered] = heard[..] else { panic!("{}", why()) };
                the_field_is_missing(row["category"].as_str().unwrap(), entered, &why);
            }
            other => panic!("{id}: no test for {other}"),
        }
    }
}

fn the_field_is_missing(category: &str, entered: &Entered, why: &dyn Fn() -> String) {
    match category {
        "bad_number" => {
            assert_eq!((entered.velocity(), entered.remark), (None, Some(Remark::NotANumber)), "{}", why());
            assert!(entered.fix().is_some() && entered.utc().is_some(), "{}", why());
        }
        "empty_depth" => {
            assert_eq!(
                (&entered.observations[..], entered.remark),
                (&[][..], Some(Remark::Empty)),
                "{}",
                why()
            );
        }
        "ths_invalid" | "mwv_invalid" => {
            assert_eq!(
                (&entered.observations[..], entered.remark),
                (&[][..], Some(Remark::Void)),
                "{}",
                why()
            );
        }
        "time" => {
            let fix = entered.fix().unwrap();
            assert_eq!((fix.utc, entered.utc()), (None, None), "{}", why());
        }
        "date" | "date_rollover" => {
            let remark = if category == "date" { Remark::BadDate } else { Remark::YearUnlikely };
            assert_eq!((entered.utc(), entered.remark), (None, Some(remark)), "{}", why());
            assert!(entered.fix().is_some_and(|fix| fix.utc.is_some()), "{}", why());
        }
        "ais_not_available" => {
            let report = entered.ais.as_ref().unwrap();
            assert_eq!((report.position, report.sog, report.cog, report.heading), (None, None, None, None));
        }
        other => panic!("no test for {other}: {}", why()),
    }
}

/// The reference says what must happen; this keeps the reasons a sailor reads, and what is counted.
#[test]
fn every_malformed_line_has_its_reason() {
    let mut table = String::new();
    for row in rows("nmea_malformed.jsonl") {
        let lines = read(&unhex(row["bytes_hex"].as_str().unwrap()));
        let reasons: Vec<String> = lines
            .iter()
            .map(|line| match &line.outcome {
                Ok(entered) => entered
                    .remark
                    .map_or("good".to_owned(), |remark| format!("{:?}: {remark}", remark.class())),
                Err(why) => format!("Rejected: {}", why.reason()),
            })
            .collect();
        table += &format!(
            "{} {}: {}\n",
            row["id"].as_str().unwrap(),
            row["action"].as_str().unwrap(),
            reasons.join(" | ")
        );
    }
    insta::assert_snapshot!(table);
}

#[test]
fn reasons_are_numbered_without_gaps_and_worded_apart() {
    use std::collections::BTreeSet;
    assert_eq!(BTreeSet::from(Rejected::REASONS).len(), Rejected::COUNT);
    assert_eq!(BTreeSet::from(Remark::REASONS).len(), Remark::COUNT);
    assert_eq!(Rejected::BrokenObject.index(), Rejected::COUNT - 1);
    assert_eq!(Remark::Stale.index(), Remark::COUNT - 1);
}

/// A sentence with its checksum.
fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

fn observe(body: &str) -> (Vec<Observation>, Option<Remark>) {
    let mut out = Vec::new();
    let line = sentence(body);
    let heard = parse(line.as_bytes(), &mut out).unwrap_or_else(|e| panic!("{body}: {e}"));
    (out, heard.remark)
}

fn refuse(body: &str) -> Rejected {
    parse(sentence(body).as_bytes(), &mut Vec::new()).unwrap_err()
}

/// Layouts that the reference has no lines for; field orders from IEC 61162-1 by way of pynmeagps 1.1.8, from memory.
#[test]
fn the_other_layouts_are_read_too() {
    let wind = |angle_deg, knots| Observation::ApparentWind { angle_deg, speed: Knots(knots) };
    assert_eq!(observe("IIVWR,045,L,12.6,N,6.5,M,23.3,K"), (vec![wind(-45.0, 12.6)], None));
    assert_eq!(observe("IIVWR,180,R,12.6,N,,,,"), (vec![wind(-180.0, 12.6)], None));
    assert_eq!(observe("IIVWR,,,,,,,,"), (vec![], Some(Remark::Empty)));
    let true_wind = Observation::TrueWindRelative { angle_deg: 30.0, speed: Knots::from_mps(5.0) };
    assert_eq!(observe("IIVWT,30.0,R,,N,5.0,M,,K"), (vec![true_wind], None));
    let depth = |below, metres| Observation::Depth { below, depth: Metres(metres), offset: None };
    assert_eq!(observe("SDDBS,19.7,f,6.0,M,3.3,F"), (vec![depth(DepthBelow::Surface, 6.0)], None));
    assert_eq!(observe("SDDBK,,f,4.5,M,,F"), (vec![depth(DepthBelow::Keel, 4.5)], None));
    assert_eq!(observe("SDDBT,,f,,M,2.0,F"), (vec![depth(DepthBelow::Transducer, 2.0 * 6.0 * 0.3048)], None));
    let accuracy = Observation::Accuracy { lat_sd: Metres(1.2), lon_sd: Metres(0.9), ellipse: None };
    assert_eq!(observe("GPGBS,015509.00,1.2,0.9,3.1,,,,"), (vec![accuracy], None));
    assert_eq!(observe("GPVTG,,T,,M,,N,,K,N"), (vec![], Some(Remark::Void)));
    assert_eq!(observe("HETHS,41.5,E"), (vec![], Some(Remark::NotMeasured)));
    let weather = "IIMDA,30.12,I,1.02007,B,18.2,C,16.9,C,,,,C,248.5,T,250.1,M,12.4,N,6.4,M";
    let (observed, remark) = observe(weather);
    assert_eq!((observed.len(), remark), (4, None));
    assert!(matches!(observed[0], Observation::Transducer(t) if t.kind == b'P' && t.value == 1.02007));
    assert_eq!(
        observed[3],
        Observation::WindDirection {
            true_from: Some(TrueBearing::new(248.5)),
            magnetic_from_deg: Some(250.1),
            speed: Some(Knots(12.4)),
        }
    );
    assert_eq!(observe("IIMDA,NaN,I,,B,1e1,C,,C,,,,C,,T,,M,,N,,M"), (vec![], Some(Remark::NotANumber)));
    assert_eq!(observe("GPGSV,1,1,00").1, None);
    assert_eq!(observe("GPRMB,A,,,,,,,,,,,,"), (vec![], Some(Remark::NotNeeded)));
}

#[test]
fn a_field_out_of_range_reads_as_missing_and_the_rest_stays() {
    let fix = |body: &str| {
        let (out, remark) = observe(body);
        (
            out.iter().any(|o| matches!(o, Observation::Fix(_))),
            out.iter().any(|o| matches!(o, Observation::Velocity { .. })),
            remark,
        )
    };
    let rmc =
        |sog: &str, cog: &str| fix(&format!("GPRMC,120000,A,5010.0,N,00100.0,W,{sog},{cog},150626,,,A"));
    assert_eq!(rmc("0.1", "10.0"), (true, true, None));
    assert_eq!(rmc("-0.1", "10.0"), (true, false, Some(Remark::OutOfRange)));
    assert_eq!(rmc("99999", "10.0"), (true, false, Some(Remark::OutOfRange)));
    assert_eq!(rmc("0.1", "361"), (true, true, Some(Remark::OutOfRange)));
    assert_eq!(rmc("0.1", "NaN"), (true, true, Some(Remark::NotANumber)));
    assert_eq!(refuse("WIMWV,361.0,R,6.2,N,A"), Rejected::OutOfRange);
    assert_eq!(refuse("SDDPT,99999,0.0"), Rejected::OutOfRange);
    assert_eq!(refuse("SDDPT,deep,0.0"), Rejected::NotANumber);
    assert_eq!(observe("WIMWV,10.0,R,999,N,A"), (vec![], Some(Remark::OutOfRange)));
    assert_eq!(observe("YXMTW,99.0,C"), (vec![], Some(Remark::OutOfRange)));
}

#[test]
fn a_refused_line_leaves_no_trace_in_the_observations() {
    let mut out = vec![Observation::WaterSpeed(Knots(1.0))];
    let line = sentence("YXXDR,C,19.5,C,AIR,C,20.5,C");
    assert_eq!(parse(line.as_bytes(), &mut out), Err(Rejected::TooFewFields));
    assert_eq!(out.len(), 1);
}

#[test]
fn printed_decimals_tell_how_coarse_a_receiver_is() {
    let decimals = |lat: &str, lon: &str| match observe(&format!("IIGLL,{lat},N,{lon},E,120000,A")).0[..] {
        [Observation::Fix(fix)] => fix.minute_decimals,
        ref other => panic!("{other:?}"),
    };
    assert_eq!(decimals("4629.123", "00640.123"), 3);
    assert_eq!(decimals("4629.1234567", "00640.1234"), 4);
    assert_eq!(decimals("4629", "00640"), 0);
}

#[test]
fn parts_of_two_ais_messages_may_come_interleaved_and_late_parts_are_forgotten() {
    let lines: Vec<String> = rows("nmea_valid.jsonl")
        .iter()
        .filter(|row| row["case"] == "ais_multi")
        .flat_map(|row| row["raw"].as_str().unwrap().lines().map(str::to_owned).collect::<Vec<_>>())
        .collect();
    let [a1, a2, b1, b2] = [0, 1, 2, 3].map(|i| lines[i].as_bytes());
    let mut ais = AisAssembler::new();
    assert_eq!(ais.push(WatchTime(0), a1), Ok(None));
    assert_eq!(ais.push(WatchTime(100), b1), Ok(None));
    assert!(ais.push(WatchTime(200), a2).unwrap().is_some());
    assert!(ais.push(WatchTime(300), b2).unwrap().is_some());
    assert_eq!(ais.push(WatchTime(1_000), a1), Ok(None));
    assert_eq!(ais.push(WatchTime(60_000), a2), Err(Rejected::BadPayload));
}

#[test]
fn variation_agrees_with_the_models_published_test_values() {
    let path = format!("{}/tests/reference/magvar.csv", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let mut compared = 0;
    for row in text.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |i: usize| -> f64 { cells[i].parse().unwrap() };
        let year = number(0).floor();
        let days = if year % 4.0 == 0.0 { 366.0 } else { 365.0 };
        let day =
            date(year as i16, 1, 1) + jiff::Span::new().days(((number(0) - year) * days).round() as i64);
        let place = Position::new(number(2), number(3)).unwrap();
        let ours = magvar::variation_at_height(place, Metres(number(1) * 1000.0), day).unwrap();
        let miss = (ours - number(4) + 180.0).rem_euclid(360.0) - 180.0;
        // The reference's own tolerances: the table prints two decimals.
        let tolerance = if place.lat_deg().abs() > 80.0 { 0.1 } else { 0.01 };
        assert!(miss.abs() <= tolerance, "{row}: {ours}");
        compared += 1;
    }
    assert!(compared >= 100);
}

/// The watch asks at sea level on a date of its own.
#[test]
fn variation_is_asked_for_by_place_and_date() {
    let here = Position::new(50.0, -4.0).unwrap();
    let at = |day| magvar::variation(here, day).unwrap();
    assert!((at(date(2026, 6, 1)) - at(date(2026, 12, 1))).abs() < 0.2);
    assert_eq!(
        at(date(2026, 6, 1)),
        magvar::variation_at_height(here, Metres(0.0), date(2026, 6, 1)).unwrap()
    );
}

/// Why most sentences are read here and not by the `nmea` crate. Should one of these fail after an update, our own
/// reader of that sentence may have become needless.
#[test]
fn the_nmea_crate_is_not_strict_enough_for_a_watch() {
    use nmea::ParseResult;
    let crates = |body: &str| nmea::parse_str(&sentence(body)).ok();
    let rmc = |body: &str| match crates(body) {
        Some(ParseResult::RMC(rmc)) => rmc,
        other => panic!("{body}: {other:?}"),
    };
    assert!(rmc("GPRMC,120000,V,5010.0,N,00100.0,W,,,150626,,,N").lat.is_some(), "void, yet a position");
    assert!(rmc("GPRMC,120000,A,9900.0,N,00100.0,W,,,150626,,,A").lat.is_some_and(|lat| lat == 99.0));
    assert!(
        rmc("GPRMC,120000,A,5010.0,N,00100.0,W,NaN,,150626,,,A").speed_over_ground.is_some_and(f32::is_nan)
    );
    assert!(rmc("GPRMC,12345,A,5010.0,N,00100.0,W,,,150626,,,A").fix_time.is_some(), "a five-figure time");
    assert_eq!(
        crates("GPRMC,120000,A,5010.0,N,00100.0,W,1.2.3,,150626,,,A"),
        None,
        "one bad field, and all is lost"
    );
    assert_eq!(crates("GNGNS,120000,5010.0,N,00100.0,W,AAN,17,0.8,3.1,52.9,,"), None);
    assert_eq!(crates("GPGSA,M,3,14,26,,,,,,,,,,,1.8,1.4,2.0,2"), None);
    assert_eq!(crates("GPGSV,1,1,00"), None);
    assert!(
        !matches!(crates("SDDPT,39.5,-0.8,50.0"), Some(ParseResult::DPT(dpt)) if dpt.offset == Some(-0.8))
    );
}

/// The lines that a stream gives when it comes in `pieces`.
fn lines_of<'a>(pieces: impl IntoIterator<Item = &'a [u8]>) -> Vec<Vec<u8>> {
    let mut splitter = LineSplitter::new();
    let mut lines = Vec::new();
    for piece in pieces {
        splitter.push(piece, |line| lines.push(line.to_vec()));
    }
    splitter.finish(|line| lines.push(line.to_vec()));
    lines
}

mod properties {
    use nightrode::watch::nmea::{MAX_SENTENCE, strip_tag, write_tag};
    use proptest::prelude::*;

    use super::*;

    /// Bytes that a stream is likely to trip over, among any others.
    fn streams() -> impl Strategy<Value = Vec<u8>> {
        let piece = prop_oneof![
            3 => prop::sample::select(rows("nmea_valid.jsonl")).prop_map(|row| row["raw"].as_str().unwrap().as_bytes().to_vec()),
            2 => prop::sample::select(vec![&b"\r\n"[..], b"\n", b"\r", b"\0", b" ", b"$", b"!", b"\\", b"*", b",", b"*00", b"$$"]).prop_map(<[u8]>::to_vec),
            1 => prop::collection::vec(any::<u8>(), 0..40),
            1 => (any::<u8>(), 0..2500_usize).prop_map(|(byte, count)| vec![byte; count]),
        ];
        prop::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
    }

    /// A sentence of a kind we read, with fields right and wrong, and its checksum right.
    fn sentences() -> impl Strategy<Value = Vec<u8>> {
        let kinds = [
            "RMC", "GGA", "GLL", "GNS", "GSA", "GSV", "GST", "GBS", "VTG", "ZDA", "HDT", "HDG", "HDM", "THS",
            "MWV", "MWD", "VWR", "VWT", "MDA", "VHW", "DPT", "DBT", "DBS", "DBK", "MTW", "ROT", "RPM", "XDR",
        ];
        let field = prop_oneof![
            2 => Just(String::new()),
            2 => prop::sample::select(vec!["A", "V", "N", "S", "E", "W", "R", "T", "M", "K", "L", "D", "C", "P", "1", "NaN", "inf"]).prop_map(str::to_owned),
            3 => (-400.0..99_999.0_f64, 0..9_usize).prop_map(|(value, decimals)| format!("{value:.decimals$}")),
            2 => (0..24_u32, 0..70_u32, 0..70_u32).prop_map(|(h, m, s)| format!("{h:02}{m:02}{s:02}")),
            2 => (0..95_u32, 0.0..62.0_f64).prop_map(|(d, m)| format!("{d:02}{m:07.4}")),
            2 => (0..185_u32, 0.0..62.0_f64).prop_map(|(d, m)| format!("{d:03}{m:07.4}")),
            1 => "[ -)+-~]{0,8}".prop_map(|text| text.replace(['$', '!', '\\'], "")),
        ];
        (prop::sample::select(kinds.to_vec()), prop::collection::vec(field, 0..24))
            .prop_map(|(kind, fields)| sentence(&format!("GP{kind},{}", fields.join(","))).into_bytes())
    }

    /// Whether a value is one that an instrument could have measured.
    fn is_sane(observation: &Observation) -> bool {
        let angle = |degrees: f64| (0.0..360.0).contains(&degrees);
        let side = |degrees: f64| (-180.0..180.0).contains(&degrees);
        let wind = |speed: Knots| (0.0..=250.0).contains(&speed.0);
        match *observation {
            Observation::Fix(fix) => {
                let (lat, lon) = (fix.position.lat_deg(), fix.position.lon_deg());
                lat.abs() <= 90.0
                    && lon.abs() <= 180.0
                    && (lat, lon) != (0.0, 0.0)
                    && fix.hdop.is_none_or(|hdop| (0.0..=100.0).contains(&hdop))
            }
            Observation::NoFix { .. } | Observation::Utc { .. } | Observation::Satellites(_) => true,
            Observation::Velocity { sog, cog } => {
                (-1000.0..=1000.0).contains(&sog.0) && cog.is_none_or(|cog| angle(cog.degrees()))
            }
            Observation::FixMode { hdop, .. } => hdop.is_none_or(|hdop| (0.0..=100.0).contains(&hdop)),
            Observation::Accuracy { lat_sd, lon_sd, .. } => {
                lat_sd.0.is_finite() && lon_sd.0.is_finite() && lat_sd.0 >= 0.0 && lon_sd.0 >= 0.0
            }
            Observation::HeadingTrue(heading) => angle(heading.degrees()),
            Observation::HeadingMagnetic(heading) => {
                let correction = |degrees: Option<f64>| degrees.is_none_or(|d| d.abs() <= 180.0);
                angle(heading.compass_deg)
                    && correction(heading.deviation_deg)
                    && correction(heading.variation_deg)
            }
            Observation::Variation { east_deg } => east_deg.abs() <= 180.0,
            Observation::ApparentWind { angle_deg, speed }
            | Observation::TrueWindRelative { angle_deg, speed } => side(angle_deg) && wind(speed),
            Observation::WindDirection { true_from, magnetic_from_deg, speed } => {
                (true_from.is_some() || magnetic_from_deg.is_some())
                    && true_from.is_none_or(|from| angle(from.degrees()))
                    && magnetic_from_deg.is_none_or(angle)
                    && speed.is_none_or(wind)
            }
            Observation::Depth { depth, offset, .. } => {
                (0.0..=12_000.0).contains(&depth.0) && offset.is_none_or(|offset| offset.0.abs() <= 50.0)
            }
            Observation::WaterTemperature { celsius } => (-10.0..=60.0).contains(&celsius),
            Observation::WaterSpeed(speed) => (-1000.0..=1000.0).contains(&speed.0),
            Observation::RateOfTurn { deg_per_min } => deg_per_min.is_finite(),
            Observation::Revolutions { rpm, .. } => rpm.is_finite(),
            Observation::Transducer(transducer) => transducer.value.is_finite(),
            Observation::Vessel(report) => {
                report.sog.is_none_or(|sog| (0.0..=1000.0).contains(&sog.0))
                    && report.cog.is_none_or(|cog| angle(cog.degrees()))
            }
        }
    }

    proptest! {
        #[test]
        fn no_bytes_panic_the_parser(line in prop::collection::vec(any::<u8>(), 0..200)) {
            let mut out = Vec::new();
            let _ = parse(&line, &mut out);
            let _ = AisAssembler::new().push(WatchTime(0), &line);
        }

        #[test]
        fn whatever_the_stream_its_lines_are_bounded_and_whole(stream in streams()) {
            for line in lines_of([&stream[..]]) {
                prop_assert!(!line.is_empty() && line.len() <= 2 * MAX_SENTENCE + 1);
                prop_assert!(!line.iter().any(|b| b"\r\n\0".contains(b)));
                let _ = parse(&line, &mut Vec::new());
            }
        }

        #[test]
        fn the_lines_are_the_same_however_the_bytes_arrive(stream in streams(), size in 1..50_usize) {
            let whole = lines_of([&stream[..]]);
            prop_assert_eq!(&whole, &lines_of(stream.chunks(size)));
            prop_assert_eq!(&whole, &lines_of(stream.chunks(1)));
        }

        #[test]
        fn a_tag_reads_back_as_it_was_written(
            source in "[A-Za-z0-9_.-]{1,15}",
            unix_ms in 100_000_000_000..10_000_000_000_000_i64,
            line in prop::collection::vec(any::<u8>(), 0..100),
        ) {
            let mut logged = Vec::new();
            write_tag(&source, unix_ms, &line, &mut logged);
            let read = strip_tag(&logged).unwrap();
            prop_assert_eq!(read.tag.source, Some(&source[..]));
            prop_assert_eq!(read.tag.unix_ms, Some(unix_ms));
            prop_assert_eq!(read.rest, &line[..]);
            prop_assert!(!read.dropped);
        }

        /// A night read again from its log gives the same lines, so the same alerts.
        #[test]
        fn a_logged_stream_reads_back_as_the_same_lines(stream in streams()) {
            let lines = lines_of([&stream[..]]);
            // The log's own TAG block shares the room for TAG blocks; no equipment comes near that limit.
            prop_assume!(!lines.iter().any(|line| line[0] == b'\\' && line.len() > 900));
            let mut log = Vec::new();
            for line in &lines {
                write_tag("gps", 1_767_225_600_000, line, &mut log);
                log.extend_from_slice(b"\r\n");
            }
            let again: Vec<Vec<u8>> = lines_of([&log[..]]).iter().map(|l| strip_tag(l).unwrap().rest.to_vec()).collect();
            prop_assert_eq!(lines, again);
        }

        #[test]
        fn nothing_out_of_range_ever_comes_out(line in sentences()) {
            let mut out = Vec::new();
            let _ = parse(&line, &mut out);
            for observation in &out {
                prop_assert!(is_sane(observation), "{:?}", observation);
            }
        }

        /// An exclusive or sees any change of one character, but for the case of its own digits.
        #[test]
        fn one_altered_character_is_never_taken(row in 0..140_usize, at in any::<prop::sample::Index>(), byte in any::<u8>()) {
            let rows = rows("nmea_valid.jsonl");
            let mut line = rows[row]["raw"].as_str().unwrap().as_bytes().to_vec();
            let place = at.index(line.len());
            prop_assume!(!line[place].eq_ignore_ascii_case(&byte) || place < line.len() - 2 && line[place] != byte);
            line[place] = byte;
            let mut out = Vec::new();
            let heard = parse(&line, &mut out);
            prop_assert!(heard.is_err() && out.is_empty(), "{heard:?}");
        }
    }
}
