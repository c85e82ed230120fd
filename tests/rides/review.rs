//! A recorded night reviewed: the same alerts as live, the JSON that is promised, and words for whatever cannot be read.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::support::{Run, START};
use flate2::Compression;
use flate2::write::GzEncoder;
use nightrode::config::{DropMark, RideFile};
use nightrode::edge::feed::Recording;
use nightrode::edge::folder::Recorder;
use nightrode::edge::review::{review, review_altered};
use nightrode::report::review::{Held, Review, export, html, json, text};
use nightrode::watch::alert::{AlertChange, AlertKind, Change};
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::Local;
use nightrode::watch::input::Command;
use nightrode::watch::output::Output;
use nightrode::watch::units::{Metres, Span};
use serde_json::Value;

/// Longer than any disk in a test takes; nothing waits for it unless something is broken.
const PATIENCE: Duration = Duration::from_secs(30);

/// An eventful stay, kept as the live watch keeps it: the run with all that it put out, and the ride's folder.
fn kept(rides: &Path) -> (Run, PathBuf) {
    let settings = Settings::default();
    let mut run = Run::with(settings.clone());
    let ride = RideFile { place: "Hollow Ness".into(), settings, ..RideFile::default() };
    run.recorder = Some(Recorder::begin(rides, START, ride).unwrap());
    run.let_go_and_bring_up();
    run.lie_for(900, |s| Local::new(0.4 * (s as f64 / 40.0).sin(), -20.0));
    run.instruments.position = false;
    run.lie_for(80, |_| Local::new(0.0, -20.0));
    run.instruments.position = true;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    run.crew(Command::Acknowledge { kind: None });
    run.instruments.wind_kn = 31.0;
    run.lie_for(700, |_| Local::new(0.0, -21.0));
    run.sleep_for(Span::from_mins(25));
    run.lie_for(120, |_| Local::new(0.0, -21.0));
    run.lie_for(180, |s| Local::new(0.0, -21.0 - (s as f64 * 0.5).min(70.0)));
    // A last word: the ticks after the last line are in no file.
    run.crew(Command::Note { text: "that was all".into() });
    run.recorder.as_ref().unwrap().flush(PATIENCE).unwrap();
    let folder = run.recorder.as_ref().unwrap().folder().unwrap();
    (run, folder)
}

fn reviewed(path: &Path, entered: Option<&RideFile>) -> (Review, Vec<AlertChange>) {
    let mut changes = Vec::new();
    let review = review(&[path.to_owned()], entered, |output| {
        if let Output::Alert(change) = output {
            changes.push(change.clone());
        }
    });
    (review.unwrap(), changes)
}

fn log_of(folder: &Path) -> Vec<Vec<u8>> {
    Recording::open(&folder.join("night.nmea")).unwrap().map(|line| line.unwrap().bytes).collect()
}

/// What the crew of that stay knew.
fn entered(run: &Run) -> RideFile {
    let drop = run.snapshot().drop.unwrap();
    RideFile {
        place: "Hollow Ness".into(),
        veered: Some(Metres(30.0)),
        drop: Some(DropMark { position: drop.position, time: Some(drop.let_go), depth: drop.depth }),
        ..RideFile::default()
    }
}

#[test]
fn a_kept_ride_reviewed_raises_the_same_alerts_to_the_millisecond() {
    let rides = tempfile::tempdir().unwrap();
    let (run, folder) = kept(rides.path());
    let live = run.changes();
    let (review, changes) = reviewed(&folder, None);
    assert_eq!(changes, live);
    let raised: Vec<_> =
        live.iter().filter(|c| c.change == Change::Raised).map(|c| (c.alert.kind, c.at)).collect();
    assert_eq!(review.alarms.iter().map(|a| (a.kind, a.raised)).collect::<Vec<_>>(), raised);
    for kind in [AlertKind::FixLost, AlertKind::WindHigh, AlertKind::Gap, AlertKind::Outside] {
        assert!(raised.iter().any(|(k, _)| *k == kind), "{kind:?}: the night has it");
    }
    assert!(review.gaps.iter().any(|gap| gap.asleep && gap.to.since(gap.from) == Span::from_mins(25)));
    assert_eq!(review.ride.place, "Hollow Ness");
}

#[test]
fn the_json_is_what_is_promised() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder) = kept(rides.path());
    let json = json(&reviewed(&folder, None).0);
    let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    let parts = [
        "alarms",
        "alarms_left_out",
        "circle",
        "depth",
        "fix",
        "gaps",
        "holding",
        "ride",
        "set",
        "what_if",
        "wind",
    ];
    assert_eq!(keys(&json), parts);
    let documented = include_str!("../../docs/sailing/review.md");
    for part in ["ride", "holding", "wind", "depth", "fix", "set", "circle"] {
        for key in keys(&json[part]) {
            assert!(documented.contains(&format!("`{key}`")), "{part}.{key} is documented");
        }
    }
    let is_time = |value: &Value| {
        let text = value.as_str().unwrap();
        assert!(text.len() == 24 && text.ends_with('Z') && text.as_bytes()[19] == b'.', "{text}");
    };
    let alarms = json["alarms"].as_array().unwrap();
    for alarm in alarms {
        let documented = [
            "acknowledged",
            "action",
            "ended",
            "escalated",
            "kind",
            "priority",
            "raised",
            "reason",
            "rectified",
        ];
        assert_eq!(keys(alarm), documented);
        assert!(AlertKind::ALL.iter().any(|kind| kind.name() == alarm["kind"]), "{alarm}");
        assert!(["alarm", "warning", "caution"].contains(&alarm["priority"].as_str().unwrap()));
        is_time(&alarm["raised"]);
        assert!(!alarm["reason"].as_str().unwrap().is_empty());
    }
    is_time(&json["ride"]["began"]);
    is_time(&json["wind"]["strongest_gust_kn"]["at"]);
    assert!((json["ride"]["drop"]["lat"].as_f64().unwrap() - 52.0).abs() < 0.01);
    // 31 kn apparent, and she falls back a little.
    let gust = json["wind"]["strongest_gust_kn"]["value"].as_f64().unwrap();
    assert!((30.0..34.0).contains(&gust), "{gust}");
    assert!((json["depth"]["least_m"]["value"].as_f64().unwrap() - 5.0).abs() < 0.2);
}

#[test]
fn a_bare_log_with_a_ride_file_is_judged_by_the_clock_in_its_sentences() {
    let rides = tempfile::tempdir().unwrap();
    let (run, folder) = kept(rides.path());
    let bare = rides.path().join("bare.nmea");
    fs::write(&bare, log_of(&folder).join(&b"\r\n"[..])).unwrap();
    let entered = entered(&run);
    let (review, _) = reviewed(&bare, Some(&entered));
    let outside =
        |review: &Review| review.alarms.iter().find(|a| a.kind == AlertKind::Outside).unwrap().raised;
    let (live, _) = reviewed(&folder, None);
    // Sentences tell the second in which they were made; they arrive a little later.
    assert!(outside(&live).since(outside(&review)).seconds().abs() < 3.0);
    assert_eq!(review.ride.drop, entered.drop.map(|drop| drop.position));
    assert!(review.gaps.iter().any(|gap| !gap.asleep), "a hole is a silence: a log cannot know why");

    let packed = rides.path().join("bare.nmea.gz");
    let mut packer = GzEncoder::new(fs::File::create(&packed).unwrap(), Compression::fast());
    packer.write_all(&fs::read(&bare).unwrap()).unwrap();
    packer.finish().unwrap();
    let (from_packed, _) = reviewed(&packed, Some(&entered));
    assert_eq!(from_packed.alarms, review.alarms);

    let whole = fs::read(&packed).unwrap();
    fs::write(&packed, &whole[..whole.len() / 2]).unwrap();
    let (torn, _) = reviewed(&packed, Some(&entered));
    assert!(torn.read.broken_off.is_some() && torn.read.lines > 1000);
    assert!(text(&torn).contains("could not be read"), "{}", text(&torn));
}

#[test]
fn without_a_ride_file_the_watch_judges_from_positions_and_says_what_that_costs() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder) = kept(rides.path());
    let (review, _) = reviewed(&folder.join("night.nmea"), None);
    assert_eq!(review.ride.veered, None);
    assert_eq!(review.ride.drop, None);
    assert!(!review.holding.limits.is_empty(), "{review:?}");
    let page = text(&review);
    assert!(page.contains("no drop point was entered"), "{page}");
    assert!(!review.alarms.iter().any(|alarm| alarm.kind == AlertKind::Outside), "there is no circle");
}

#[test]
fn what_cannot_be_reviewed_is_answered_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let says = |path: &Path| review(&[path.to_owned()], None, |_| {}).unwrap_err().to_string();
    let absent = says(&folder.path().join("no.nmea"));
    assert!(absent.contains("no.nmea cannot be read") && absent.contains("Name a log"), "{absent}");
    assert!(says(folder.path()).contains("no ride"), "{}", says(folder.path()));
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    let empty = says(&file("empty.nmea", b""));
    assert!(empty.contains("is empty"), "{empty}");
    let letter = says(&file("letter.txt", b"Dear Tove,\nno wind today.\n"));
    assert!(letter.contains("no sentence of NMEA 0183 among 2 lines"), "{letter}");
    let noise: Vec<u8> = (0..200_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    assert!(says(&file("noise.bin", &noise)).contains("no sentence"));
    let torn = says(&file("torn.gz", &[0x1f, 0x8b, 8, 0, 0, 0]));
    assert!(torn.contains("cannot be read") || torn.contains("is empty"), "{torn}");
}

#[test]
fn the_page_for_a_browser_holds_pictures_and_no_words_of_others_as_markup() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder) = kept(rides.path());
    let (mut review, _) = reviewed(&folder, None);
    review.ride.place = "<script>alert(1)</script>".into();
    review.alarms[0].reason.what = "</td><img src=x onerror=alert(2)>".into();
    let page = html::html(&review);
    assert!(!page.contains("<script") && !page.contains("<img"), "words stay words");
    assert!(page.contains("&lt;script&gt;"));
    for (open, close) in
        [("<svg ", "</svg>"), ("<table", "</table>"), ("<figure", "</figure>"), ("<div", "</div>")]
    {
        assert_eq!(page.matches(open).count(), page.matches(close).count(), "{open}");
    }
    assert!(page.matches("<svg ").count() >= 3, "plan, graphs, histogram");
    assert!(!page.contains("NaN") && !page.contains("inf"), "no number that is none");
    let fetched = page.replace("http://www.w3.org/2000/svg", "");
    assert!(!fetched.contains("http"), "nothing is fetched");
    assert!(html::plan_svg(&review).unwrap().starts_with("<?xml"));
    let empty = html::html(&Review::default());
    assert!(empty.contains("NO ANCHOR FOUND") && empty.ends_with("</html>\n"));
}

#[test]
fn exports_hold_the_numbers_of_the_review() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder) = kept(rides.path());
    let (review, _) = reviewed(&folder, None);
    let csv = export::csv(&review);
    let rows: Vec<Vec<&str>> = csv.trim_end().split("\r\n").map(|row| row.split(',').collect()).collect();
    assert_eq!(rows.len(), review.samples.len() + 1);
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    let farthest = rows[1..].iter().filter_map(|row| row[3].parse::<f64>().ok()).fold(0.0, f64::max);
    assert!((farthest - review.holding.farthest.unwrap().0.0).abs() < 0.01, "{farthest}");
    let geojson = export::geojson(&review);
    let features = geojson["features"].as_array().unwrap();
    let what = |name: &str| features.iter().filter(|f| f["properties"]["what"] == name).count();
    assert_eq!((what("track"), what("circle"), what("drop")), (1, 1, 1));
    let ring = features.iter().find(|f| f["properties"]["what"] == "circle").unwrap();
    let ring = ring["geometry"]["coordinates"][0].as_array().unwrap();
    assert_eq!(ring.first(), ring.last(), "closed");
    let number = |point: &Value, i: usize| point[i].as_f64().unwrap();
    let twice_area: f64 = ring
        .windows(2)
        .map(|two| number(&two[0], 0) * number(&two[1], 1) - number(&two[1], 0) * number(&two[0], 1))
        .sum();
    assert!(twice_area > 0.0, "anticlockwise");
    let gpx = export::gpx(&review);
    assert_eq!(gpx.matches("<trkpt ").count(), review.track.len());
    assert!(gpx.find("<wpt ").unwrap() < gpx.find("<trk>").unwrap(), "the schema's order");
}

#[test]
fn a_circle_that_would_have_been_silent_is_silent_when_the_night_is_judged_with_it() {
    let rides = tempfile::tempdir().unwrap();
    let (_, folder) = kept(rides.path());
    let (review, _) = reviewed(&folder, None);
    let asked = |what: &str| {
        review_altered(std::slice::from_ref(&folder), None, &what.parse().unwrap(), |_| {}).unwrap()
    };
    let outside =
        |review: &Review| review.alarms.iter().find(|a| a.kind == AlertKind::Outside).map(|a| a.raised);
    // A circle that is asked for lies about the drop point, the usual one about the learned place: `outside` may differ,
    // and the room that a reason names.
    let others = |review: &Review| {
        let others = review.alarms.iter().filter(|a| a.kind != AlertKind::Outside);
        others.map(|a| (a.kind, a.priority, a.raised, a.rectified, a.ended)).collect::<Vec<_>>()
    };
    let as_set = asked(&format!("circle={}", review.circle.set.unwrap().0));
    assert_eq!(others(&as_set), others(&review));
    let apart = outside(&as_set).zip(outside(&review)).map(|(one, other)| one.since(other).seconds().abs());
    assert!(apart.is_some_and(|apart| apart <= 30.0), "{apart:?}");
    for (_, radius, first) in &review.circle.margins {
        let would = outside(&asked(&format!("circle={}", radius.0)));
        let apart = would.zip(*first).map(|(would, first)| would.since(first).seconds().abs());
        assert!(
            would.is_some() == first.is_some() && apart.is_none_or(|apart| apart <= 2.0),
            "{would:?} {first:?}"
        );
    }
    let smallest = review.circle.smallest_silent.unwrap();
    let moved = [review.holding.since, review.holding.called].into_iter().flatten().min();
    let silent = |radius: f64| {
        outside(&asked(&format!("circle={radius}"))).is_none_or(|at| moved.is_some_and(|moved| at >= moved))
    };
    assert!(silent(smallest.0), "{smallest:?}");
    assert!(!silent(smallest.0 - 1.0), "a metre less would have cried wolf");
    let deeper = asked("draft=3");
    assert!(deeper.depth.least_under_keel.unwrap().0 < review.depth.least_under_keel.unwrap().0);
}

#[test]
fn a_log_without_any_position_is_not_judged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("heading.nmea");
    fs::write(&path, "$GPHDT,236.7,T*35\r\n".repeat(50)).unwrap();
    let (review, _) = reviewed(&path, None);
    assert_eq!(review.holding.verdict, Held::NoAnchor);
    assert!(text(&review).starts_with("NO ANCHOR FOUND"));
    assert!(review.read.undated);
}
