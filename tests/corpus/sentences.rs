//! Real recordings: receivers, yachts' instrument buses, AIS. Not part of the package: the tests look for them where
//! `NIGHTRODE_SHARED` says, else beside it, and say so if there are none.
//!
//! What is expected comes from outside: gpsd's own decode beside each capture, the counts of `INDEX.csv`, the figures
//! in the READMEs, and what the `nmea` crate reads of the same sentence.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::Path;

use crate::recordings::recordings;
use nightrode::edge::feed::Recording;
use nightrode::watch::geo::{Plane, Position};
use nightrode::watch::nmea::{
    AisAssembler, AisReport, DepthBelow, Fix, FixKind, LineSplitter, Observation, Rejected, Remark,
    RemarkClass, SentenceKind, parse,
};
use nightrode::watch::units::{TrueBearing, WatchTime};
use serde_json::Value;

fn contents(path: &Path) -> Vec<u8> {
    let raw = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    if path.extension().is_none_or(|extension| extension != "gz") {
        return raw;
    }
    let mut plain = Vec::new();
    flate2::read::MultiGzDecoder::new(&raw[..]).read_to_end(&mut plain).unwrap();
    plain
}

/// Everything that came of one recording.
#[derive(Default)]
struct Reading {
    heard: u32,
    kinds: BTreeMap<String, u32>,
    rejected: BTreeMap<&'static str, u32>,
    remarks: BTreeMap<&'static str, u32>,
    /// With the talker and kind of each sentence.
    observations: Vec<(String, Observation)>,
    ais: Vec<AisReport>,
    ais_rejected: u32,
}

impl Reading {
    fn of(bytes: &[u8]) -> Self {
        let mut reading = Self::default();
        let mut ais = AisAssembler::new();
        let mut out = Vec::new();
        let mut each = |line: &[u8]| {
            out.clear();
            match parse(line, &mut out) {
                Ok(heard) => {
                    reading.heard += 1;
                    let name = format!("{}{}", String::from_utf8_lossy(&heard.talker), heard.kind);
                    *reading.kinds.entry(counted_as(&name, heard.kind)).or_default() += 1;
                    if let Some(remark) = heard.remark {
                        *reading.remarks.entry(remark.reason()).or_default() += 1;
                    }
                    reading.observations.extend(out.iter().map(|o| (name.clone(), *o)));
                    if heard.is_ais() {
                        match ais.push(WatchTime(0), line) {
                            Ok(report) => reading.ais.extend(report),
                            Err(_) => reading.ais_rejected += 1,
                        }
                    }
                }
                Err(why) => *reading.rejected.entry(why.reason()).or_default() += 1,
            }
        };
        let mut splitter = LineSplitter::new();
        // The collectors' comments are not data.
        for line in bytes.split_inclusive(|&b| b == b'\n').filter(|line| !line.starts_with(b"#")) {
            splitter.push(line, &mut each);
        }
        splitter.finish(&mut each);
        reading
    }

    fn fixes(&self) -> Vec<Fix> {
        self.pick(|o| if let Observation::Fix(fix) = o { Some(*fix) } else { None })
    }

    fn pick<T>(&self, pick: impl Fn(&Observation) -> Option<T>) -> Vec<T> {
        self.observations.iter().filter_map(|(_, o)| pick(o)).collect()
    }

    fn pick_from<T>(&self, name: &str, pick: impl Fn(&Observation) -> Option<T>) -> Vec<T> {
        self.observations.iter().filter(|(from, _)| from == name).filter_map(|(_, o)| pick(o)).collect()
    }

    fn remarked(&self, remark: Remark) -> u32 {
        self.remarks.get(remark.reason()).copied().unwrap_or(0)
    }

    fn count_rejected(&self, why: Rejected) -> u32 {
        self.rejected.get(why.reason()).copied().unwrap_or(0)
    }
}

/// The index counts standard sentences by kind.
fn counted_as(name: &str, kind: SentenceKind) -> String {
    if name.starts_with('P') { name.to_owned() } else { kind.to_string() }
}

/// The rows of a folder's `INDEX.csv`, by the header's names.
fn index(folder: &Path) -> Vec<BTreeMap<String, String>> {
    let text = std::fs::read_to_string(folder.join("INDEX.csv")).unwrap();
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    lines
        .map(|line| {
            // A receiver's name may hold a comma; what follows it is counted from the end.
            let cells: Vec<&str> = line.split(',').collect();
            header.iter().zip(cells).map(|(name, cell)| ((*name).to_owned(), cell.to_owned())).collect()
        })
        .collect()
}

/// `RMC:12 GGA:3`.
fn counts(text: &str) -> BTreeMap<&str, u32> {
    text.split_whitespace()
        .filter_map(|item| item.split_once(':'))
        .map(|(k, n)| (k, n.parse().unwrap()))
        .collect()
}

const WRONG: Rejected = Rejected::BadChecksum { printed: 0, computed: 0 };

/// The index took comments for data, passed over some makers' own sentences, and took sentences with text behind
/// their checksum, which are two run together: file, how many more than we.
const INDEX_DIFFERS: [(&str, i64); 4] = [
    ("blumax-gps009.log", -8),
    ("gp-320fw-2019-04-07-coldboot.log", 4),
    ("quectelLC79D.log", 2),
    ("st-teseo-liv4f.log", -20),
];

#[test]
fn every_receiver_capture_gives_the_counts_of_its_index() {
    let Some(folder) = recordings("gpsd") else { return };
    let rows = index(&folder);
    assert!(rows.len() >= 58);
    for row in rows {
        let file = &row["file"];
        let reading = Reading::of(&contents(&folder.join(file)));
        let expected: i64 = row["sentences_ok"].parse().unwrap();
        let differs = INDEX_DIFFERS.iter().find(|(name, _)| name == file).map(|(_, more)| *more);
        assert_eq!(
            i64::from(reading.heard) + differs.unwrap_or(0),
            expected,
            "{file}: {:?}",
            reading.rejected
        );
        if differs.is_none() {
            assert_eq!(reading.count_rejected(WRONG).to_string(), row["bad_checksum"], "{file}");
            for (kind, count) in counts(&row["types"]).into_iter().filter(|(kind, _)| kind.len() == 3) {
                assert_eq!(reading.kinds.get(kind), Some(&count), "{file}: {kind}");
            }
        }
    }
}

/// Where gpsd gives a position and we on purpose do not: file, how many, why.
const POSITIONS_REFUSED: [(&str, usize, &str); 4] = [
    ("GPSmap-76S.log", 2, "mode S: the receiver simulates"),
    ("ericsson-gru04-02-70sec.log", 2, "a maker's own sentence"),
    ("mtk-3301.log", 1, "GGA of quality 0"),
    ("myguide-3100.log", 2, "GGA with an empty quality"),
];

#[test]
fn positions_equal_gpsds_own_decode() {
    let Some(folder) = recordings("gpsd") else { return };
    let (mut files, mut agreed) = (0, 0);
    for row in index(&folder) {
        let file = &row["file"];
        let decode = folder.join(format!("{file}.chk.gz"));
        if !decode.exists() {
            continue;
        }
        let fixes = Reading::of(&contents(&folder.join(file))).fixes();
        // gpsd repeats a position until the next; in order, each must be one of ours, to its nine decimals.
        let mut from = 0;
        let mut missing = Vec::new();
        for (lat, lon) in decoded_positions(&contents(&decode)) {
            let same = |fix: &Fix| {
                (fix.position.lat_deg() - lat).abs() < 1e-9 && (fix.position.lon_deg() - lon).abs() < 1e-9
            };
            match fixes[from..].iter().position(same) {
                Some(at) => {
                    from += at;
                    agreed += 1;
                }
                None => missing.push((lat, lon)),
            }
        }
        let refused =
            POSITIONS_REFUSED.iter().find(|(name, ..)| name == file).map_or(0, |(_, count, _)| *count);
        assert_eq!(missing.len(), refused, "{file}: {missing:?}");
        files += 1;
    }
    assert!(files >= 55 && agreed >= 3_500, "{files} files, {agreed} positions");
}

/// Latitude and longitude of each position report of gpsd.
fn decoded_positions(decode: &[u8]) -> Vec<(f64, f64)> {
    String::from_utf8_lossy(decode)
        .lines()
        .filter(|line| line.starts_with(r#"{"class":"TPV""#))
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .filter_map(|report| Some((report["lat"].as_f64()?, report["lon"].as_f64()?)))
        .collect()
}

#[test]
fn ais_positions_equal_gpsds_own_decode() {
    let Some(folder) = recordings("gpsd") else { return };
    let mut agreed = 0;
    for file in ["ais-nmea.log", "ais-18-27.log", "ais_unpack_sixbit.log"] {
        let reading = Reading::of(&contents(&folder.join(file)));
        let mut ours =
            reading.ais.iter().filter_map(|report| Some((report.mmsi, report.message, report.position?)));
        let decode = contents(&folder.join(format!("{file}.chk.gz")));
        let decode = String::from_utf8_lossy(&decode);
        let mut reports: Vec<&str> = decode.lines().filter(|l| l.starts_with(r#"{"class":"AIS""#)).collect();
        // gpsd prints a report again when a position comes between.
        reports.dedup();
        for line in reports {
            let theirs: Value = serde_json::from_str(line).unwrap();
            // Unscaled: minutes and ten thousandths; message 27 has tenths of a minute.
            let per_degree = if theirs["type"] == 27 { 600.0 } else { 600_000.0 };
            let degrees = |name: &str| theirs[name].as_f64().map(|value| value / per_degree);
            let Some((lat, lon)) = degrees("lat").zip(degrees("lon")) else { continue };
            if lat.abs() > 90.0 || lon.abs() > 180.0 || theirs["scaled"] == true {
                continue;
            }
            let found = ours.find(|(mmsi, message, _)| {
                Some(u64::from(*mmsi)) == theirs["mmsi"].as_u64() && theirs["type"] == *message
            });
            let (.., position) = found.unwrap_or_else(|| panic!("{file}: {line}"));
            assert!(
                (position.lat_deg() - lat).abs() < 1e-9 && (position.lon_deg() - lon).abs() < 1e-9,
                "{line}"
            );
            agreed += 1;
        }
    }
    assert!(agreed >= 200, "{agreed}");
}

#[test]
fn the_yachts_logs_give_the_counts_of_their_index() {
    let Some(folder) = recordings("anemomind") else { return };
    let rows = index(&folder);
    assert!(rows.len() >= 19);
    for row in rows {
        let file = &row["file"];
        let reading = Reading::of(&contents(&folder.join(file)));
        // The index passes over own sentences without a comma, such as `$USSSL*4A`.
        let ok: u32 = row["sentences_ok"].parse().unwrap();
        assert!((ok..=ok + 9).contains(&reading.heard), "{file}: {}", reading.heard);
        let kinds = counts(&row["types"]);
        for (kind, count) in &kinds {
            assert_eq!(reading.kinds.get(*kind), Some(count), "{file}: {kind}");
        }
        // Every sentence that carries a quantity gives it, but for the few that are empty.
        let all_of = |kind: &str, given: usize| {
            let sent = kinds.get(kind).copied().unwrap_or(0) as usize;
            assert!(given <= sent && given + 5 >= sent, "{file}: {kind} {given} of {sent}");
        };
        let heading = |o: &Observation| matches!(o, Observation::HeadingMagnetic(_)).then_some(());
        let depth = |o: &Observation| {
            matches!(o, Observation::Depth { below: DepthBelow::Transducer, .. }).then_some(())
        };
        let wind = |o: &Observation| {
            matches!(o, Observation::ApparentWind { .. } | Observation::TrueWindRelative { .. }).then_some(())
        };
        let given = |kind: &str, quantity: &dyn Fn(&Observation) -> Option<()>| {
            reading
                .observations
                .iter()
                .filter(|(name, o)| name.ends_with(kind) && quantity(o).is_some())
                .count()
        };
        all_of("HDG", given("HDG", &heading));
        all_of("DPT", given("DPT", &depth));
        all_of("MWV", given("MWV", &wind));
        all_of("VWR", given("VWR", &wind));
        assert!(reading.fixes().iter().filter(|fix| fix.minute_decimals != 3).count() == 0, "{file}");
    }
}

/// Without the TAG blocks of a log of our own, lines are timed by the sentences that tell the time.
#[test]
fn the_yachts_logs_last_as_long_as_their_index_says() {
    let Some(folder) = recordings("anemomind") else { return };
    for row in index(&folder) {
        let file = &row["file"];
        let times: Vec<_> =
            Recording::open(&folder.join(file)).unwrap().map(|line| line.unwrap().at).collect();
        let hours = times[times.len() - 1].since(times[0]).seconds() / 3600.0;
        let expected: f64 = row["hours"].parse().unwrap();
        assert!((hours - expected).abs() < 0.011, "{file}: {hours} h, by its index {expected} h");
        assert!(times.is_sorted(), "{file}");
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn sd(values: &[f64]) -> f64 {
    let middle = mean(values);
    mean(&values.iter().map(|v| (v - middle).powi(2)).collect::<Vec<_>>()).sqrt()
}

fn percentile(values: &[f64], percent: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[((sorted.len() - 1) as f64 * percent / 100.0).round() as usize]
}

/// Distances east and north, metres, from the mean position.
fn scatter(fixes: &[Fix]) -> (Vec<f64>, Vec<f64>) {
    let plane = Plane::new(fixes[0].position);
    let local: Vec<_> = fixes.iter().map(|fix| plane.to_local(fix.position)).collect();
    let east: Vec<f64> = local.iter().map(|p| p.east_m).collect();
    let north: Vec<f64> = local.iter().map(|p| p.north_m).collect();
    let (e, n) = (mean(&east), mean(&north));
    (east.iter().map(|v| v - e).collect(), north.iter().map(|v| v - n).collect())
}

/// README of the yachts' logs: 29 minutes at the quay.
#[test]
fn a_yacht_at_the_quay_gives_the_figures_of_the_readme() {
    let Some(folder) = recordings("anemomind") else { return };
    let file = folder.join("psaros33_Banque_Sturdza_2014_20140819_NMEA0006.TXT.gz");
    let reading = Reading::of(&contents(&file));
    // 16:02:09 to 16:31:33 by the time in RMC, which goes before the rest of its cycle.
    let (from, to) = (57_729_000, 59_493_000);
    let mut inside = Reading::default();
    let mut now = None;
    for (name, observation) in &reading.observations {
        if let Observation::Utc { time, .. } = observation {
            now = Some(time.millis());
        }
        if now.is_some_and(|now| (from..=to).contains(&now)) {
            inside.observations.push((name.clone(), *observation));
        }
    }
    let wind = inside.pick_from("IIMWV", |o| {
        if let Observation::ApparentWind { speed, .. } = o { Some(speed.0) } else { None }
    });
    assert!(
        (mean(&wind) - 12.4).abs() < 0.1 && (sd(&wind) - 2.9).abs() < 0.1,
        "{} {}",
        mean(&wind),
        sd(&wind)
    );
    let headings = inside.pick(|o| {
        if let Observation::HeadingMagnetic(h) = o { Some(TrueBearing::new(h.compass_deg)) } else { None }
    });
    let turns: Vec<f64> = headings.iter().map(|h| headings[0].turn_to(*h)).collect();
    assert!((sd(&turns) - 4.3).abs() < 0.5, "{}", sd(&turns));
    let depths = inside.pick(|o| if let Observation::Depth { depth, .. } = o { Some(depth.0) } else { None });
    assert!((mean(&depths) - 3.1).abs() < 0.1, "{}", mean(&depths));
    let fixes: Vec<Fix> =
        inside.pick_from("GPRMC", |o| if let Observation::Fix(fix) = o { Some(*fix) } else { None });
    let fixes = if fixes.is_empty() { inside.fixes() } else { fixes };
    let (east, north) = scatter(&fixes);
    let radii: Vec<f64> = east.iter().zip(&north).map(|(e, n)| e.hypot(*n)).collect();
    assert!((percentile(&radii, 50.0) - 2.6).abs() < 0.3, "{}", percentile(&radii, 50.0));
    assert!((percentile(&radii, 95.0) - 3.7).abs() < 0.3, "{}", percentile(&radii, 95.0));
}

/// README of the data server's samples: the log under way.
#[test]
fn four_hours_under_way_give_the_counts_of_the_readme() {
    let Some(folder) = recordings("signalk-server") else { return };
    let reading = Reading::of(&contents(&folder.join("plaka.log.gz")));
    assert_eq!(reading.heard, 116_000);
    // HDT, HDM and GSV are always there and always empty.
    for kind in ["HDT", "HDM", "GSV"] {
        assert!(reading.kinds[kind] > 7_000, "{kind}");
    }
    let heading = |o: &Observation| {
        matches!(
            o,
            Observation::HeadingTrue(_) | Observation::HeadingMagnetic(_) | Observation::Satellites(_)
        )
    };
    assert!(!reading.observations.iter().any(|(_, o)| heading(o)));
    assert!(reading.remarked(Remark::Empty) > 4 * 7_000);
    // ZDA has time but no date.
    let dates =
        reading.pick(|o| if let Observation::Utc { date, .. } = o { Some(date.is_some()) } else { None });
    assert!(dates.len() > 7_000 && !dates.contains(&true));
    let fixes = reading.fixes();
    assert!(fixes.iter().all(|fix| fix.minute_decimals == 3));
    let differential = fixes.iter().filter(|fix| fix.kind == FixKind::Differential).count();
    assert_eq!((fixes.len(), differential), (7_250, 7_097));
    let depths =
        reading.pick(|o| if let Observation::Depth { depth, .. } = o { Some(depth.0) } else { None });
    assert!(depths.len() > 7_000 && depths.iter().all(|depth| (1.0..100.0).contains(depth)));
}

/// README of the data server's samples: 20 minutes standing still with a poor view.
#[test]
fn a_receiver_with_a_poor_view_gives_the_figures_of_the_readme() {
    let Some(folder) = recordings("signalk-server") else { return };
    let reading = Reading::of(&contents(&folder.join("gps.log")));
    let fixes = reading.pick_from("GPRMC", |o| if let Observation::Fix(fix) = o { Some(*fix) } else { None });
    let (east, north) = scatter(&fixes);
    assert!((sd(&east) - 1.8).abs() < 0.1 && (sd(&north) - 8.0).abs() < 0.1, "{} {}", sd(&east), sd(&north));
    let sog = reading
        .pick_from("GPRMC", |o| if let Observation::Velocity { sog, .. } = o { Some(sog.0) } else { None });
    assert!((percentile(&sog, 50.0) - 0.32).abs() < 0.02, "{}", percentile(&sog, 50.0));
    assert!((percentile(&sog, 95.0) - 0.97).abs() < 0.03, "{}", percentile(&sog, 95.0));
    assert!((percentile(&sog, 100.0) - 3.4).abs() < 0.05, "{}", percentile(&sog, 100.0));
    let satellites: Vec<u8> = fixes_with_satellites(&reading);
    assert_eq!((satellites.iter().min(), satellites.iter().max()), (Some(&4), Some(&11)));
}

fn fixes_with_satellites(reading: &Reading) -> Vec<u8> {
    reading.pick_from("GPGGA", |o| if let Observation::Fix(fix) = o { fix.satellites } else { None })
}

/// README of the data server's samples: talkers are numbers, and MWV comes without its status.
#[test]
fn sensors_behind_a_converter_are_told_apart_by_their_talker() {
    let Some(folder) = recordings("signalk-server") else { return };
    let reading = Reading::of(&contents(&folder.join("n2kd-183-merrimac.log")));
    let winds = |name: &str| {
        let wind = |o: &Observation| {
            matches!(o, Observation::ApparentWind { .. } | Observation::TrueWindRelative { .. }).then_some(())
        };
        reading.pick_from(name, wind).len()
    };
    assert!(winds("02MWV") > 10 && winds("24MWV") > 10);
    let compass = |name: &str| {
        let heading = |o: &Observation| {
            if let Observation::HeadingMagnetic(h) = o { Some(h.compass_deg) } else { None }
        };
        mean(&reading.pick_from(name, heading))
    };
    let apart = (compass("04HDM") - compass("24HDG")).abs();
    assert!((apart - 4.0).abs() < 0.6, "{apart}");
    assert!(reading.rejected.is_empty(), "{:?}", reading.rejected);
}

/// README of the start-up: the first of 80 fixes is 43.9 m off, the fourth 5.7 m, all others within 3 m.
#[test]
fn a_start_up_gives_no_position_before_the_first_fix() {
    let Some(folder) = recordings("nmea-plotter") else { return };
    let reading = Reading::of(&contents(&folder.join("nmea.log")));
    let mut fixes =
        reading.pick_from("GNGGA", |o| if let Observation::Fix(fix) = o { Some(*fix) } else { None });
    // Some sentences are in the file twice.
    fixes.dedup_by_key(|fix| fix.utc);
    assert_eq!(fixes.len(), 80);
    let settled: Vec<Position> = fixes[10..].iter().map(|fix| fix.position).collect();
    let median =
        |get: fn(Position) -> f64| percentile(&settled.iter().map(|p| get(*p)).collect::<Vec<_>>(), 50.0);
    let middle = Position::new(median(Position::lat_deg), median(Position::lon_deg)).unwrap();
    let off: Vec<f64> = fixes.iter().map(|fix| fix.position.distance_to(middle).0).collect();
    assert!((off[0] - 43.9).abs() < 1.0 && (off[3] - 5.7).abs() < 1.0, "{:?}", &off[..6]);
}

/// Wherever the `nmea` crate reads a sentence by its own rules, and we do, both say the same.
#[test]
fn our_reading_agrees_with_the_nmea_crates() {
    let mut compared = BTreeMap::<&str, u32>::new();
    for name in ["gpsd", "anemomind", "signalk-server", "nmea-plotter"] {
        let Some(folder) = recordings(name) else { return };
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let file = path.file_name().unwrap().to_string_lossy().to_lowercase();
            if file.contains(".chk.") || !(file.contains(".log") || file.ends_with(".txt.gz")) {
                continue;
            }
            let mut splitter = LineSplitter::new();
            let mut out = Vec::new();
            splitter.push(&contents(&path), |line| {
                out.clear();
                let ours = parse(line, &mut out);
                let Some(text) =
                    str::from_utf8(line).ok().filter(|t| t.starts_with('$') && !t.starts_with("$P"))
                else {
                    return;
                };
                let Ok(theirs) = nmea::parse_str(text) else { return };
                let ours = match ours {
                    Ok(ours) => ours,
                    // The crate takes two sentences run together for one.
                    Err(Rejected::TextAfterChecksum) => return,
                    Err(why) => panic!("{file}: {why}: {text}"),
                };
                // What is void or flawed we leave out on purpose.
                if ours.remark.is_none_or(|remark| remark.class() != RemarkClass::Void)
                    && let Some(kind) = agrees(&theirs, &out, text)
                {
                    *compared.entry(kind).or_default() += 1;
                }
            });
        }
    }
    println!("{compared:?}");
    for kind in ["RMC", "GGA", "GLL", "GSA", "GSV", "GST", "VTG", "ZDA", "HDT", "MWV", "VHW", "MTW", "DPT"] {
        assert!(compared.get(kind).is_some_and(|count| *count >= 9), "{kind}: {compared:?}");
    }
}

/// Compares one sentence and tells its kind; the crate holds most numbers in singles.
fn agrees(theirs: &nmea::ParseResult, ours: &[Observation], text: &str) -> Option<&'static str> {
    use nmea::ParseResult;
    let same = |ours: Option<f64>, theirs: Option<f64>| {
        let agree = match (ours, theirs) {
            (Some(ours), Some(theirs)) => (ours - theirs).abs() <= 1e-6 * theirs.abs().max(1.0),
            (ours, theirs) => ours == theirs,
        };
        assert!(agree, "{ours:?} {theirs:?} {text}");
    };
    let wide = |single: Option<f32>| single.map(f64::from);
    let pick = |which: fn(&Observation) -> Option<f64>| ours.iter().find_map(which);
    let lat =
        |o: &Observation| if let Observation::Fix(fix) = o { Some(fix.position.lat_deg()) } else { None };
    let lon =
        |o: &Observation| if let Observation::Fix(fix) = o { Some(fix.position.lon_deg()) } else { None };
    let hdop = |o: &Observation| if let Observation::Fix(fix) = o { fix.hdop } else { None };
    let sog = |o: &Observation| if let Observation::Velocity { sog, .. } = o { Some(sog.0) } else { None };
    match theirs {
        ParseResult::RMC(t) if pick(lat).is_some() => {
            same(pick(lat), t.lat);
            same(pick(lon), t.lon);
            same(pick(sog), wide(t.speed_over_ground));
            Some("RMC")
        }
        ParseResult::GGA(t) if pick(lat).is_some() => {
            same(pick(lat), t.latitude);
            same(pick(lon), t.longitude);
            same(pick(hdop), wide(t.hdop));
            Some("GGA")
        }
        ParseResult::GLL(t) if pick(lat).is_some() => {
            same(pick(lat), t.latitude);
            same(pick(lon), t.longitude);
            Some("GLL")
        }
        ParseResult::GNS(t) if pick(lat).is_some() => {
            same(pick(lat), t.lat);
            same(pick(lon), t.lon);
            Some("GNS")
        }
        ParseResult::GSA(t) => {
            same(
                pick(|o| if let Observation::FixMode { hdop, .. } = o { *hdop } else { None }),
                wide(t.hdop),
            );
            let used = pick(|o| {
                if let Observation::FixMode { satellites, .. } = o {
                    Some((*satellites).into())
                } else {
                    None
                }
            });
            same(used, Some(t.fix_sats_prn.len() as f64));
            Some("GSA")
        }
        ParseResult::GSV(t) => {
            same(
                pick(|o| if let Observation::Satellites(s) = o { Some(s.in_view.into()) } else { None }),
                Some(t.sats_in_view.into()),
            );
            Some("GSV")
        }
        ParseResult::GST(t) if !ours.is_empty() => {
            let lat_sd =
                pick(|o| if let Observation::Accuracy { lat_sd, .. } = o { Some(lat_sd.0) } else { None });
            same(lat_sd, wide(t.lat_sd));
            Some("GST")
        }
        ParseResult::VTG(t) => {
            same(pick(sog), wide(t.speed_over_ground));
            Some("VTG")
        }
        ParseResult::ZDA(t) => {
            let day = pick(|o| {
                if let Observation::Utc { date: Some(date), .. } = o { Some(date.day().into()) } else { None }
            });
            if day.is_some() {
                same(day, t.day.map(f64::from));
            }
            Some("ZDA")
        }
        ParseResult::HDT(t) => {
            same(
                pick(|o| if let Observation::HeadingTrue(h) = o { Some(h.degrees()) } else { None }),
                wide(t.heading),
            );
            Some("HDT")
        }
        ParseResult::MWV(t) => {
            let angle = pick(|o| match o {
                Observation::ApparentWind { angle_deg, .. }
                | Observation::TrueWindRelative { angle_deg, .. } => Some(angle_deg.rem_euclid(360.0)),
                _ => None,
            });
            same(angle, wide(t.wind_direction).map(|angle| angle.rem_euclid(360.0)));
            Some("MWV")
        }
        ParseResult::VHW(t) => {
            let speed = pick(|o| if let Observation::WaterSpeed(speed) = o { Some(speed.0) } else { None });
            same(speed, t.relative_speed_knots);
            Some("VHW")
        }
        ParseResult::MTW(t) => {
            let celsius = pick(|o| match o {
                Observation::WaterTemperature { celsius } => Some(*celsius),
                _ => None,
            });
            same(celsius, t.temperature);
            Some("MTW")
        }
        ParseResult::DPT(t) => {
            same(
                pick(|o| if let Observation::Depth { depth, .. } = o { Some(depth.0) } else { None }),
                t.water_depth,
            );
            Some("DPT")
        }
        _ => None,
    }
}
