//! Recordings from elsewhere: judged as far as they allow, and the report says how far.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use nightrode::edge::review::{ReviewError, review};
use nightrode::report::review::{Alarm, Held, Review, json, text};
use nightrode::watch::alert::{AlertKind, Priority};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::units::Span;

/// Half past ten in the evening of 3 June 2026, seconds of Unix time.
const EVENING: i64 = 1_780_525_800;
const HOUR: i64 = 3600;

/// Where her antenna is: on a rode of 30 m about one place, sheering, the wind backing slowly.
fn swinging(second: i64) -> Position {
    let s = second as f64;
    let angle = 0.3 + s / 20_000.0 + 0.25 * (s / 35.0).sin();
    let off = 29.0 + 0.8 * (s / 17.0).cos();
    place(off * angle.sin(), off * angle.cos())
}

fn place(east: f64, north: f64) -> Position {
    Plane::new(Position::new(54.2, 10.4).unwrap()).to_position(Local::new(east, north))
}

fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

fn fields(at: Position) -> String {
    let (lat, lon) = (at.lat_deg(), at.lon_deg());
    let minutes = |degrees: f64| (degrees.trunc(), degrees.fract() * 60.0);
    let ((lat_d, lat_m), (lon_d, lon_m)) = (minutes(lat), minutes(lon));
    format!("{lat_d:02.0}{lat_m:07.4},N,{lon_d:03.0}{lon_m:07.4},E")
}

fn clock(unix_s: i64) -> String {
    let day = unix_s.rem_euclid(24 * HOUR);
    format!("{:02}{:02}{:02}.00", day / HOUR, day / 60 % 60, day % 60)
}

/// Without any date.
fn gga(talker: &str, unix_s: i64, at: Position) -> String {
    sentence(&format!("{talker}GGA,{},{},1,11,0.9,4.0,M,45.0,M,,", clock(unix_s), fields(at)))
}

fn rmc(unix_s: i64, at: Position) -> String {
    let date = jiff::Timestamp::from_second(unix_s).unwrap().strftime("%d%m%y").to_string();
    sentence(&format!("GPRMC,{},A,{},0.1,,{date},,,A", clock(unix_s), fields(at)))
}

fn night(hours: i64, line: impl Fn(i64) -> String) -> String {
    (0..hours * HOUR).map(line).collect()
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn file(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, text).unwrap();
        path
    }
}

fn reviewed(paths: &[PathBuf]) -> Review {
    review(paths, None, |_| {}).unwrap()
}

fn of(log: &str) -> Review {
    let folder = Folder::new();
    reviewed(&[folder.file("night.nmea", log)])
}

#[test]
fn a_log_without_dates_runs_through_midnight() {
    let review = of(&night(3, |s| gga("GP", EVENING + s, swinging(s))));
    assert!(review.read.undated);
    let (first, last) = review.read.span.unwrap();
    assert_eq!(last.since(first), Span::from_secs(3 * HOUR - 1));
    assert_eq!(review.holding.verdict, Held::Held, "{}", text(&review));
    assert!(text(&review).contains("no date is given"));
}

#[test]
fn two_receivers_on_one_line_that_disagree_are_no_drag() {
    let other = |s: i64| {
        let at = swinging(s);
        Plane::new(at).to_position(Local::new(4.0, -3.0))
    };
    let review = of(&night(3, |s| rmc(EVENING + s, swinging(s)) + &gga("GN", EVENING + s, other(s))));
    assert_ne!(review.holding.verdict, Held::Dragged, "{}", text(&review));
    assert_eq!(review.fix.feeds.len(), 1, "one line is one feed");
}

#[test]
fn damaged_sentences_are_counted_and_the_night_is_judged() {
    let log = night(3, |s| rmc(EVENING + s, swinging(s)));
    let mut bytes = log.into_bytes();
    // About every thirty-third sentence loses a character to noise.
    let length = bytes.len();
    for i in (40..length).step_by(33 * 68) {
        bytes[i] ^= 0x15;
    }
    let folder = Folder::new();
    let review = reviewed(&[folder.file("noisy.nmea", &bytes)]);
    let feed = &review.fix.feeds[0];
    let share = feed.rejected as f64 / (feed.good + feed.rejected) as f64;
    assert!((0.02..0.04).contains(&share), "{share}");
    assert_eq!(review.holding.verdict, Held::Held, "{}", text(&review));
    assert!(text(&review).contains("rejected; most often: wrong checksum"), "{}", text(&review));
}

#[test]
fn forty_missing_minutes_are_a_gap_and_no_drag() {
    let hole = HOUR..HOUR + 40 * 60;
    let review =
        of(&night(3, |s| if hole.contains(&s) { String::new() } else { rmc(EVENING + s, swinging(s)) }));
    assert_eq!(review.gaps.len(), 1);
    assert!((review.gaps[0].to.since(review.gaps[0].from).seconds() - 2400.0).abs() < 5.0);
    assert_eq!(review.holding.verdict, Held::Held, "{}", text(&review));
}

#[test]
fn a_clock_that_jumps_is_told_and_time_runs_on() {
    // An hour back after an hour, and ten minutes forward after two.
    let jumped = |s: i64| s - if s >= HOUR { HOUR } else { 0 } + if s >= 2 * HOUR { 600 } else { 0 };
    let review = of(&night(3, |s| rmc(EVENING + jumped(s), swinging(s))));
    assert_eq!(review.read.put_back, 1);
    let (first, last) = review.read.span.unwrap();
    let long = last.since(first).seconds();
    assert!((3.0 * 3600.0 - 30.0..3.0 * 3600.0 + 620.0).contains(&long), "{long}");
    assert_ne!(review.holding.verdict, Held::Dragged, "{}", text(&review));
    assert!(text(&review).contains("the clock went back 1 times"));
    assert_eq!(json(&review)["ride"]["clock_put_back"], 1);
}

#[test]
fn pieces_of_a_log_in_any_order_are_the_whole_log() {
    let line = |s: i64| rmc(EVENING + s, swinging(s));
    let folder = Folder::new();
    let piece = |name: &str, hour: i64| {
        folder.file(name, (hour * HOUR..(hour + 1) * HOUR).map(line).collect::<String>())
    };
    let pieces = [piece("c.nmea", 2), piece("a.nmea", 0), piece("b.nmea", 1)];
    let whole = reviewed(&[folder.file("whole.nmea", night(3, line))]);
    let together = reviewed(&pieces);
    assert_eq!(together.read.name, "c.nmea and 2 more");
    let named = |mut review: Review| {
        review.read.name.clear();
        review
    };
    assert!(named(together) == named(whole));
    let mixed = review(&[pieces[0].clone(), folder.0.path().to_owned()], None, |_| {});
    assert!(matches!(mixed, Err(ReviewError::Recorded(_))));
}

/// A track with a point every `every` seconds.
fn gpx(hours: i64, every: i64, at: impl Fn(i64) -> Position) -> String {
    let mut out =
        String::from("<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>");
    for s in (0..hours * HOUR).step_by(every as usize) {
        let (at, time) = (at(s), jiff::Timestamp::from_second(EVENING + s).unwrap());
        write!(
            out,
            "<trkpt lat=\"{:.7}\" lon=\"{:.7}\"><time>{time}</time></trkpt>",
            at.lat_deg(),
            at.lon_deg()
        )
        .unwrap();
    }
    out + "</trkseg></trk></gpx>"
}

#[test]
fn a_track_with_a_point_a_minute_is_judged_and_says_so() {
    let folder = Folder::new();
    let held = reviewed(&[folder.file("track.gpx", gpx(8, 60, swinging))]);
    assert_eq!(held.read.point_every, Some(Span::from_mins(1)));
    assert!(text(&held).contains("a position every 60 s only"), "{}", text(&held));
    assert!(matches!(held.holding.verdict, Held::Held | Held::CannotJudge), "{}", text(&held));
    // Nobody marked the anchor, which is said quietly; the sun rises over it, and asks for a ball; nothing else does.
    let is_quiet = |alarm: &Alarm| match alarm.kind {
        AlertKind::Unwatched => alarm.priority == Priority::Caution,
        kind => kind == AlertKind::LightDue,
    };
    assert!(held.alarms.iter().all(is_quiet), "{}", text(&held));
    let dragged = |s: i64| {
        let gone = ((s - 5 * HOUR).max(0) as f64 / 60.0).min(120.0);
        Plane::new(swinging(s)).to_position(Local::new(0.0, gone))
    };
    let moved = reviewed(&[folder.file("dragged.gpx", gpx(8, 60, dragged))]);
    // From so few positions, without rode, heading and wind, that need not be called; but it is not said to hold.
    assert_ne!(moved.holding.verdict, Held::Held, "{}", text(&moved));
    assert!(
        moved.holding.called.is_none_or(|at| at.since(moved.read.span.unwrap().0) > Span::from_mins(5 * 60))
    );
}

#[test]
fn a_track_as_dense_as_a_receiver_is_judged_like_one() {
    let folder = Folder::new();
    let track = reviewed(&[folder.file("track.gpx", gpx(3, 1, swinging))]);
    assert_eq!((track.read.point_every, track.holding.verdict), (None, Held::Held));
    assert_eq!(track.read.lines, 3 * HOUR as u64);
}

#[test]
fn what_is_no_recording_is_answered_in_words() {
    let folder = Folder::new();
    let says = |path: PathBuf| review(&[path], None, |_| {}).unwrap_err().to_string();
    let page = says(folder.file("page.html", "<!DOCTYPE html><html><body>hello</body></html>"));
    assert!(page.contains("is empty"), "{page}");
    let untimed = "<gpx><trk><trkseg><trkpt lat=\"1\" lon=\"2\"/></trkseg></trk></gpx>";
    let untimed = says(folder.file("untimed.gpx", untimed));
    assert!(untimed.contains("have no time"), "{untimed}");
    assert!(says(Path::new("/nowhere/at/all.nmea").to_owned()).contains("cannot be read"));
}

/// A yacht that beats up and down a lake, for so many hours, with her heading when `pointing`. She loiters before the
/// start.
fn sailing(hours: i64, knots: f64, pointing: bool) -> String {
    let metres = knots * 1852.0 / 3600.0;
    let (mut at, mut log) = (Local::default(), String::new());
    for s in 0..hours * HOUR {
        let heading: f64 = if s / 600 % 2 == 0 { 45.0 } else { 315.0 };
        let goes = if s < 1200 { 0.2 } else { metres };
        let way = heading.to_radians();
        at = Local::new(at.east_m + goes * way.sin(), at.north_m + goes * way.cos());
        log += &rmc(EVENING + s, place(at.east_m, at.north_m));
        if pointing {
            log += &sentence(&format!("HEHDT,{heading:.1},T"));
        }
    }
    log
}

#[test]
fn a_yacht_that_sails_was_under_way_and_did_not_drag() {
    for (knots, pointing) in [(5.0, false), (5.0, true), (2.5, true)] {
        let review = of(&sailing(2, knots, pointing));
        assert_eq!(review.holding.verdict, Held::UnderWay, "{knots} kn: {}", text(&review));
        assert!(text(&review).starts_with("UNDER WAY"), "{}", text(&review));
        assert_eq!(json(&review)["holding"]["verdict"], "under_way");
        assert_eq!(json(&review)["holding"]["moved_m"], serde_json::Value::Null);
    }
}

#[test]
fn a_hull_that_drives_before_a_gale_did_drag() {
    // Half an hour at anchor, then two hours beam-on, faster than a slow yacht sails.
    let log = |beam_on: bool| -> String {
        (0..5 * HOUR / 2)
            .map(|s| {
                let gone = (s - HOUR / 2).max(0) as f64 * 2.6 * 1852.0 / 3600.0;
                let heading = if s < HOUR / 2 { 17.0 } else { 107.0 };
                let at = swinging(s.min(HOUR / 2));
                let at = Plane::new(at).to_position(Local::new(0.3 * gone, 0.95 * gone));
                let heading = sentence(&format!("HEHDT,{heading:.1},T"));
                rmc(EVENING + s, at) + if beam_on { &heading } else { "" }
            })
            .collect()
    };
    for beam_on in [true, false] {
        let review = of(&log(beam_on));
        assert_eq!(review.holding.verdict, Held::Dragged, "{}", text(&review));
    }
}
