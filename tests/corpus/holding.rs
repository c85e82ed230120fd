//! The judge of dragging on recordings of real receivers, floats and yachts: silent while they stay, loud when they
//! leave. The recordings are no part of the package: the tests look for them where `NIGHTRODE_SHARED` says, else beside
//! it, and say so if there are none.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::io::Read as _;
use std::path::Path;

use crate::recordings::recordings;
use nightrode::config::{DropMark, RideFile};
use nightrode::edge::recorded::sentence;
use nightrode::edge::review::review;
use nightrode::report::review::{Held, Review};
use nightrode::watch::alert::AlertKind;
use nightrode::watch::boat::{Boat, Tackle};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::holding::{Conditions, Fix, FixKind, Holding, HoldingState};
use nightrode::watch::nmea::{Observation, parse};
use nightrode::watch::units::{Metres, Span, WatchTime};

fn text(path: &Path) -> String {
    let raw = std::fs::read(path).unwrap();
    if path.extension().is_none_or(|extension| extension != "gz") {
        return String::from_utf8_lossy(&raw).into_owned();
    }
    let mut plain = Vec::new();
    flate2::read::MultiGzDecoder::new(&raw[..]).read_to_end(&mut plain).unwrap();
    String::from_utf8_lossy(&plain).into_owned()
}

/// Numbers of a line, whatever parts them.
fn numbers(line: &str) -> Vec<f64> {
    line.split(|c: char| c == ',' || c.is_whitespace()).filter_map(|word| word.parse().ok()).collect()
}

fn position(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

/// What a crew knew when the anchor went down.
#[derive(Clone, Copy)]
enum Entered {
    /// Nothing: the judge finds out for itself that she lies at rest.
    Nothing,
    /// A mark so far east of the first fix, and the rode, metres.
    Mark { east: f64, veered: f64 },
}

/// Runs the judge over a track of seconds and fixes; the seconds at which `drag` was called.
fn dragging(track: &[(i64, Fix)], entered: Entered) -> Vec<i64> {
    let mut holding = Holding::new(&Boat::default(), &Tackle::default());
    let (first, _) = track[0];
    let mut calls = Vec::new();
    if let Entered::Mark { east, veered } = entered {
        let mark = Plane::new(track[0].1.position).to_position(Local::new(east, 0.0));
        let doubt = Metres(0.0);
        holding.let_go(WatchTime(first * 1000), mark, Metres(veered), Some(Metres(5.0)), doubt);
    }
    let mut next = 0;
    let mut was = false;
    for second in first..=track.last().unwrap().0 {
        while next < track.len() && track[next].0 <= second {
            holding.fix(WatchTime(second * 1000 + 200), &track[next].1);
            next += 1;
        }
        holding.second(WatchTime((second + 1) * 1000), &Conditions::default());
        let is = holding.state() == HoldingState::Dragging;
        if is && !was {
            calls.push(second);
        }
        was = is;
    }
    calls
}

/// The same track through `review`, as the sentences that a receiver would have sent; `alone` lies at an anchor that
/// nobody marked.
fn reviewed(track: &[(i64, Fix)], entered: Option<&RideFile>) -> Review {
    // Some clocks count from midnight: the day is of no matter here.
    let day = if track[0].0 < 1_000_000_000 { 1_780_444_800 } else { 0 };
    let mut log = Vec::new();
    for (second, fix) in track {
        if let Some(line) = sentence(WatchTime((second + day) * 1000), fix.position) {
            log.extend(line);
            log.extend(b"\r\n");
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("track.nmea");
    std::fs::write(&path, log).unwrap();
    review(&[path], entered, |_| {}).unwrap()
}

/// What a crew knew: the mark, the rode, and how seldom this receiver speaks.
fn known(track: &[(i64, Fix)], veered: f64) -> RideFile {
    let mut ride = RideFile {
        veered: Some(Metres(veered)),
        drop: Some(DropMark { position: track[0].1.position, time: None, depth: Some(Metres(5.0)) }),
        ..RideFile::default()
    };
    ride.settings.limits.fix_lost_after = Span::from_secs(300);
    ride.settings.limits.fix_lost_alarm_after = Span::from_secs(600);
    ride
}

/// Holds that a thing which stayed where it was is never said to drag, whatever a crew might have told.
fn stays(name: &str, track: &[(i64, Fix)], veered: f64) {
    let hours = (track.last().unwrap().0 - track[0].0) as f64 / 3600.0;
    for entered in
        [Entered::Nothing, Entered::Mark { east: 0.0, veered }, Entered::Mark { east: 0.5 * veered, veered }]
    {
        let calls = dragging(track, entered);
        println!("{name}: {hours:.1} h, {} calls", calls.len());
        assert!(calls.is_empty(), "{name}: {calls:?}");
    }
    for entered in [None, Some(known(track, veered))] {
        let review = reviewed(track, entered.as_ref());
        let drag = review.alarms.iter().find(|alarm| alarm.kind == AlertKind::Drag);
        assert!(drag.is_none(), "{name}, through review: {drag:?}");
    }
}

/// RMC sentences as seconds of the day and fixes.
fn rmc(text: &str) -> Vec<(i64, Fix)> {
    let (mut track, mut out) = (Vec::<(i64, Fix)>::new(), Vec::new());
    for line in text.lines().filter(|line| line.contains("RMC,")) {
        out.clear();
        if parse(line.trim_end().as_bytes(), &mut out).is_err() {
            continue;
        }
        let (mut at, mut fix) = (None, None);
        for seen in &out {
            match seen {
                Observation::Fix(x) => {
                    at = x.utc.map(|utc| i64::from(utc.millis()) / 1000);
                    fix = Some(Fix { minute_decimals: x.minute_decimals, ..Fix::at(x.position) });
                }
                Observation::Velocity { sog, cog } => {
                    fix = fix.map(|fix| Fix { sog: Some(*sog), cog: *cog, ..fix });
                }
                _ => {}
            }
        }
        // A time that leaps is a damaged one.
        if let (Some(at), Some(fix)) = (at, fix)
            && track.last().is_none_or(|(last, _)| at > *last && at - last < 3600)
        {
            track.push((at, fix));
        }
    }
    track
}

#[test]
fn antennas_fixed_for_a_day_never_drag() {
    let Some(folder) = recordings("spp-24h") else { return };
    for name in ["ajac_209", "esbc_gps", "esbc_mul", "nya1_124"] {
        let plain = text(&folder.join(format!("{name}.pos.gz")));
        let track: Vec<_> = plain
            .lines()
            .filter(|line| !line.starts_with('%'))
            .map(numbers)
            .map(|n| (n[1] as i64, Fix::at(position(n[2], n[3]))))
            .collect();
        assert!(track.len() > 2800, "{name}: {}", track.len());
        stays(name, &track, 30.0);
    }
}

#[test]
fn a_receiver_that_holds_its_position_never_drags() {
    let Some(folder) = recordings("adsb-research-grid") else { return };
    let plain = text(&folder.join("west_gnss.csv.gz"));
    let mut track = Vec::<(i64, Fix)>::new();
    for line in plain.lines().skip(1) {
        let word: Vec<&str> = line.split(',').collect();
        let clock: Vec<f64> = word[0][11..19].split(':').map(|x| x.parse().unwrap()).collect();
        let at = (clock[0] * 3600.0 + clock[1] * 60.0 + clock[2]) as i64;
        let place = position(word[2].parse().unwrap(), word[3].parse().unwrap());
        if track.last().is_none_or(|(last, _)| at > *last) {
            track.push((at, Fix { hdop: word[10].parse().ok(), kind: FixKind::ThreeD, ..Fix::at(place) }));
        }
    }
    assert!(track.len() > 2000, "{}", track.len());
    stays("static hold", &track, 30.0);
}

#[test]
fn a_change_from_corrected_to_carrier_phase_fixes_is_no_drag() {
    let Some(folder) = recordings("adsb-research-grid") else { return };
    let plain = text(&folder.join("north_gold_converted.csv.gz"));
    let mut track = Vec::<(i64, Fix)>::new();
    for n in plain.lines().skip(1).map(numbers).filter(|n| n.len() >= 6) {
        let clock = n[0] as i64;
        let at = clock / 10_000 * 3600 + clock / 100 % 100 * 60 + clock % 100;
        let kind = if n[4] == 4.0 { FixKind::Rtk } else { FixKind::Differential };
        if track.last().is_none_or(|(last, _)| at > *last) {
            track.push((at, Fix { kind, ..Fix::at(position(n[1], n[2])) }));
        }
    }
    assert!(track.len() > 5000, "{}", track.len());
    stays("two kinds of fix", &track, 30.0);
}

#[test]
fn a_receiver_with_a_poor_view_never_drags() {
    let Some(folder) = recordings("signalk-server") else { return };
    let track = rmc(&text(&folder.join("gps.log")));
    assert!(track.len() > 1000, "{}", track.len());
    stays("poor view", &track, 30.0);
}

fn float(file: &str) -> Option<Vec<(i64, Fix)>> {
    let folder = recordings("spotter")?;
    let plain = text(&folder.join(file));
    // Degrees, and minutes times 1e5; the sign is on both.
    let degrees = |whole: f64, minutes: f64| whole + minutes / 6e6;
    let fixes = plain.lines().skip(1).map(numbers).filter(|n| n.len() == 5);
    Some(fixes.map(|n| (n[0] as i64, Fix::at(position(degrees(n[1], n[2]), degrees(n[3], n[4]))))).collect())
}

#[test]
fn a_moored_float_swings_for_a_day_and_never_drags() {
    let Some(track) = float("spot1945_0026_LOC.csv") else { return };
    assert!(track.len() > 1400, "{}", track.len());
    let calls = dragging(&track, Entered::Nothing);
    assert!(calls.is_empty(), "{calls:?}");
}

#[test]
fn a_float_that_drifts_away_is_called_within_minutes() {
    let Some(track) = float("spot30857c_0005_LOC.csv") else { return };
    let plane = Plane::new(track[0].1.position);
    let calls = dragging(&track, Entered::Mark { east: 0.0, veered: 50.0 });
    let called = *calls.first().expect("called");
    // One fix a minute; it goes off at several metres a second.
    let (away, _) = track.iter().find(|(_, fix)| plane.to_local(fix.position).length_m() > 60.0).unwrap();
    println!("adrift: called {} s after it was 60 m off", called - away);
    assert!((0..=240).contains(&(called - away)), "{}", called - away);
    let review = reviewed(&track, Some(&known(&track, 50.0)));
    assert_eq!(review.holding.verdict, Held::Dragged);
    // Faster than a boat goes, its first fixes are doubted as leaps, until they have gone on and on.
    let drag =
        review.alarms.iter().find(|alarm| alarm.kind == AlertKind::Drag).expect("called through review");
    let after = drag.raised.0 / 1000 - away;
    println!("adrift: called {after} s after it was 60 m off, through review");
    assert!((0..=420).contains(&after), "through review: {after} s {:?}", review.alarms);
}

#[test]
fn yachts_that_leave_the_quay_are_called_and_not_before() {
    let Some(folder) = recordings("anemomind") else { return };
    let clock = |h: i64, m: i64, s: i64| h * 3600 + m * 60 + s;
    // The first leaves in a hole of the recording; before, she is heard for too short a time to be found by herself.
    for (name, leaves, stay, unmarked) in [
        ("psaros33_Banque_Sturdza_2014_20140805_NMEA0011.TXT.gz", clock(8, 35, 30), 35 * 60, false),
        ("psaros33_Banque_Sturdza_2014_20140819_NMEA0006.TXT.gz", clock(16, 31, 33), 29 * 60, true),
    ] {
        let mut track = rmc(&text(&folder.join(name)));
        track.retain(|(at, _)| *at >= leaves - stay && *at < leaves + 1800);
        assert!(track.len() > 500, "{name}: {}", track.len());
        let marked = Entered::Mark { east: 0.0, veered: 30.0 };
        for entered in if unmarked { vec![marked, Entered::Nothing] } else { vec![marked] } {
            let calls = dragging(&track, entered);
            let called = *calls.first().unwrap_or_else(|| panic!("{name}: never called"));
            println!("{name}: called {} s after she was last within 40 m", called - leaves);
            assert!((0..900).contains(&(called - leaves)), "{name}: {}", called - leaves);
        }
        let review = reviewed(&track, Some(&known(&track, 30.0)));
        assert_eq!(review.holding.verdict, Held::Dragged, "{name}, through review");
    }
}

/// A small ship's stays in open roads, one fix a minute (rows and remarks: the README beside the recording). Those that
/// only swing must not be called.
#[test]
fn a_ship_that_swings_at_anchor_never_drags() {
    let Some(folder) = recordings("ais-m3") else { return };
    let plain = text(&folder.join("vessel_1_no_id.csv.gz"));
    let rows: Vec<Vec<f64>> = plain.lines().map(numbers).filter(|row| row.len() == 3).collect();
    for (name, from, to) in
        [("seven hours", 2618, 2971), ("three hours", 4311, 4477), ("almost still", 4700, 6700)]
    {
        let track: Vec<_> =
            rows[from..=to].iter().map(|row| (row[2] as i64, Fix::at(position(row[1], row[0])))).collect();
        let calls = dragging(&track, Entered::Nothing);
        assert!(calls.is_empty(), "{name}: {calls:?}");
        let review = reviewed(&track, None);
        let drag = review.alarms.iter().find(|alarm| alarm.kind == AlertKind::Drag);
        assert!(drag.is_none(), "{name}, through review: {drag:?}");
    }
}

#[test]
fn a_receivers_first_fixes_are_no_drag() {
    let Some(folder) = recordings("nmea-plotter") else { return };
    let review = review(&[folder.join("nmea.log")], None, |_| {}).unwrap();
    assert!(review.alarms.iter().all(|alarm| alarm.kind != AlertKind::Drag), "{:?}", review.alarms);
}
