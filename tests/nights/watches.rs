//! Recorded watches: a log in, its alerts out, through the code that `review` runs.
//!
//! Each watch is three files in `tests/watches/`: NAME.nmea.gz (bare sentences), NAME.toml (what the crew knew; its head
//! gives vessel, place, date and what happens) and NAME.expected (every alert raised or ended, with time and priority,
//! and the verdict). The logs are made by the boat with instruments of `tests/support`, from the stories below.
//!
//! `NIGHTRODE_RENEW=1 cargo test --test nights watches` makes all three anew: then read the difference.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::support::{Run, START};
use flate2::Compression;
use flate2::write::GzEncoder;
use nightrode::config::RideFile;
use nightrode::edge::feed::Recording;
use nightrode::edge::folder::{Recorder, read_ride_file, timestamp};
use nightrode::edge::review::review;
use nightrode::watch::alert::{AlertKind, Change};
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::Local;
use nightrode::watch::input::Command;
use nightrode::watch::nmea::checksum;
use nightrode::watch::output::Output;
use nightrode::watch::units::{Metres, Span, TrueBearing};

/// A story that the boat of `tests/support` plays after she has been brought up.
struct Story {
    name: &'static str,
    what: &'static str,
    play: fn(&mut Run),
    /// What the crew told of the anchor.
    entered: Entered,
    /// Seconds of the log during which the receiver repeats one position.
    frozen: Option<(usize, usize)>,
    raises: &'static [AlertKind],
    never: &'static [AlertKind],
}

/// What a crew told of its anchor.
#[derive(Clone, Copy, PartialEq)]
enum Entered {
    /// A mark that lies so many metres south of it, and 30 m of rode.
    Mark { off_m: f64 },
    /// That she lies to 30 m of rode: nobody marked where.
    Rode,
    /// Only that she lies at anchor.
    Lying,
}

const MARKED: Entered = Entered::Mark { off_m: 0.0 };

/// She lies 20 m from her anchor and sheers a little.
fn lying(s: i64) -> Local {
    let s = s as f64;
    Local::new(3.0 * (s / 15.0).sin(), -20.0 + 0.4 * (s / 40.0).cos())
}

const MOVED: &[AlertKind] = &[AlertKind::Drag, AlertKind::Creep, AlertKind::Outside];

const STORIES: [Story; 22] = [
    Story {
        name: "quiet_night",
        what: "an hour in 12 kn; nothing happens",
        play: |run| run.lie_for(3600, lying),
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: &AlertKind::ALL,
    },
    Story {
        name: "shift_of_wind",
        what: "the wind veers by 80° in ten minutes, and she swings with it",
        play: |run| {
            run.lie_for(1200, lying);
            for minute in 1..=10 {
                let turn = 8.0 * f64::from(minute);
                run.instruments.wind_from = turn;
                run.instruments.heading_deg = turn;
                let lie = TrueBearing::new(180.0 + turn);
                // Her bow 20 m from the anchor, the antenna 9 m farther on; the anchor 9 m north of the origin.
                run.lie_for(60, move |s| {
                    Local::new(0.0, 9.0) + Local::polar(lie.turned(3.0 * (s as f64 / 15.0).sin()), 29.0)
                });
            }
            run.lie_for(1200, |s| {
                Local::new(0.0, 9.0)
                    + Local::polar(TrueBearing::new(260.0 + 3.0 * (s as f64 / 15.0).sin()), 29.0)
            });
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::WindShift],
        never: MOVED,
    },
    Story {
        name: "lost_fix",
        what: "no position for three minutes",
        play: |run| {
            run.lie_for(1200, lying);
            run.instruments.position = false;
            run.lie_for(180, lying);
            run.instruments.position = true;
            run.lie_for(1200, lying);
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::FixLost],
        never: MOVED,
    },
    Story {
        name: "frozen_receiver",
        what: "the receiver repeats one position for five minutes, at a speed, while its clock runs on",
        play: |run| run.lie_for(2400, lying),
        entered: MARKED,
        frozen: Some((1200, 1500)),
        raises: &[AlertKind::FixDoubtful],
        never: MOVED,
    },
    Story {
        name: "poor_satellites",
        what: "for half an hour the satellites stand badly, HDOP 7, and she lies where she lay",
        play: |run| {
            run.lie_for(1200, lying);
            run.lie_by_poor_satellites(1800, lying);
            run.lie_for(600, lying);
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::FixDoubtful],
        never: MOVED,
    },
    Story {
        name: "gone_by_poor_satellites",
        what: "the satellites stand badly, HDOP 7, and she drifts off at half a knot, to 130 m",
        play: |run| {
            run.lie_for(1200, lying);
            run.lie_by_poor_satellites(600, |s| Local::new(0.0, -20.0 - (0.25 * s as f64).min(110.0)));
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::FixDoubtful, AlertKind::Outside],
        never: &[],
    },
    Story {
        name: "boat_outside",
        what: "she drifts off at half a knot, to 90 m, and stays there",
        play: |run| {
            run.lie_for(1200, lying);
            run.lie_for(900, |s| Local::new(0.0, -20.0 - (0.25 * s as f64).min(70.0)));
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::Outside],
        never: &[],
    },
    Story {
        name: "calm_lap",
        what: "the wind dies, she wanders over her anchor and round it, and lies to a light air again",
        play: |run| {
            run.lie_for(1200, lying);
            run.instruments.wind_kn = 1.0;
            run.lie_for(2400, |s| {
                let turn = s as f64 * 0.15;
                let distance = 8.0 + 12.0 * (s as f64 / 2400.0 * std::f64::consts::PI).cos().abs();
                Local::polar(TrueBearing::new(180.0 + turn), distance)
            });
            run.instruments.wind_kn = 8.0;
            run.lie_for(1200, lying);
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "late_mark",
        what: "the key was pressed late: the mark lies 8 m down wind of the anchor",
        play: |run| run.lie_for(3600, lying),
        entered: Entered::Mark { off_m: 8.0 },
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "hole_in_the_night",
        what: "nothing is recorded for twenty minutes: the computer was restarted",
        play: |run| {
            run.lie_for(1200, lying);
            run.jump_without_notice(Span::from_mins(20));
            run.lie_for(1200, lying);
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::FixLost],
        never: MOVED,
    },
    Story {
        name: "break_out",
        what: "in 28 kn the anchor breaks out: 30 m in a minute, then she drags on",
        play: |run| {
            run.lie_for(1200, lying);
            run.instruments.wind_kn = 28.0;
            run.lie_for(600, |s| lying(s) - Local::new(0.0, (0.5 * s as f64).min(30.0 + 0.05 * s as f64)));
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::Drag],
        never: &[],
    },
    Story {
        name: "slow_plough",
        what: "in 22 kn the anchor ploughs at a metre a minute for an hour",
        play: |run| {
            run.lie_for(1200, lying);
            run.instruments.wind_kn = 22.0;
            run.lie_for(3600, |s| lying(s) - Local::new(0.0, s as f64 / 60.0));
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::Drag],
        never: &[],
    },
    Story {
        name: "creep_in_gusts",
        what: "every five minutes a gust of 30 kn moves the anchor two metres",
        play: |run| {
            run.lie_for(1200, lying);
            for gust in 0..15 {
                run.instruments.wind_kn = 30.0;
                let before = 2.0 * f64::from(gust);
                run.lie_for(30, move |s| lying(s) - Local::new(0.0, before + (0.1 * s as f64).min(2.0)));
                run.instruments.wind_kn = 16.0;
                run.lie_for(270, move |s| lying(s) - Local::new(0.0, before + 2.0));
            }
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::Drag],
        never: &[],
    },
    Story {
        name: "trip_and_reset",
        what: "the wind turns about, the anchor trips and sets again 35 m down wind",
        play: |run| {
            run.lie_for(1200, lying);
            for minute in 1..=12 {
                let turn = 15.0 * f64::from(minute);
                run.instruments.wind_from = turn;
                run.instruments.heading_deg = turn;
                let lie = TrueBearing::new(180.0 + turn);
                run.lie_for(60, move |_| Local::new(0.0, 9.0) + Local::polar(lie, 29.0));
            }
            run.instruments.wind_kn = 20.0;
            run.lie_for(2400, |s| {
                Local::new(3.0 * (s as f64 / 15.0).sin(), 38.0 + (0.3 * s as f64).min(35.0))
            });
        },
        entered: MARKED,
        frozen: None,
        // It sets again within the margin of the circle; the velocity saw it go.
        raises: &[AlertKind::Drag],
        never: &[],
    },
    Story {
        name: "chain_pulled_straight",
        what: "after a calm in which chain lay in a heap the first blow pulls it straight: 14 m, and the anchor stands",
        play: |run| {
            run.instruments.wind_kn = 3.0;
            run.lie_for(2400, |s| lying(s) + Local::new(0.0, 14.0));
            run.instruments.wind_kn = 25.0;
            run.lie_for(2400, |s| lying(s) + Local::new(0.0, (14.0 - 0.2 * s as f64).max(0.0)));
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "stream_turns",
        what: "in a light air the stream turns her about her anchor, by its other side",
        play: |run| {
            run.instruments.wind_kn = 4.0;
            run.lie_for(1200, lying);
            for minute in 1..=20 {
                let turn = 9.0 * f64::from(minute);
                run.instruments.heading_deg = turn;
                let lie = TrueBearing::new(180.0 + turn);
                run.lie_for(60, move |_| Local::new(0.0, 9.0) + Local::polar(lie, 28.0));
            }
            run.lie_for(2400, |s| Local::new(2.0 * (s as f64 / 20.0).sin(), 37.0));
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "poor_view",
        what: "a receiver between houses wanders by 5 m in minutes and throws 12 m now and then; the anchor stands",
        play: |run| {
            run.lie_for(5400, |s| {
                let t = s as f64;
                let thrown = if s % 700 > 660 { Local::new(9.0, -8.0) } else { Local::default() };
                lying(s) + Local::new(5.0 * (t / 210.0).sin(), 4.0 * (t / 330.0).cos()) + thrown
            });
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: &[AlertKind::Drag],
    },
    Story {
        name: "rode_told_short",
        what: "the crew told three metres of rode less than are out, and a blow stretches all of it",
        play: |run| {
            run.lie_for(1800, lying);
            run.instruments.wind_kn = 26.0;
            run.lie_for(3600, |s| lying(s) - Local::new(0.0, (0.1 * s as f64).min(3.0)));
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: &[AlertKind::Drag],
    },
    Story {
        name: "velocity_bursts",
        what: "every ten minutes positions swing by 6 m for a minute and a half, and speeds of 1.5 kn go with them",
        play: |run| {
            run.instruments.wind_kn = 18.0;
            run.lie_for(5400, |s| {
                let turn = 2.0 * std::f64::consts::PI * s as f64 / 25.0;
                let swings = if s % 600 >= 510 { 3.0 } else { 0.3 };
                lying(s) + Local::new(swings * turn.sin(), -swings * turn.cos())
            });
        },
        entered: MARKED,
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "break_out_in_squall",
        what: "a squall of 38 kn tears the anchor out; it digs in again 45 m down wind within two minutes",
        play: |run| {
            run.lie_for(1800, lying);
            run.instruments.wind_kn = 38.0;
            run.lie_for(900, |s| lying(s) - Local::new(0.0, (0.4 * s as f64).min(45.0)));
            run.instruments.wind_kn = 12.0;
            run.lie_for(1200, |s| lying(s) - Local::new(0.0, 45.0));
        },
        entered: MARKED,
        frozen: None,
        raises: &[AlertKind::Drag],
        never: &[],
    },
    Story {
        name: "unmarked_holds",
        what: "nobody marked the drop, nor told the rode. She swings with a shift of wind, and the anchor stands",
        play: |run| {
            run.lie_for(2400, lying);
            swing_by(run, 120);
            run.lie_for(2400, |s| swung(120.0, s));
        },
        entered: Entered::Lying,
        frozen: None,
        raises: &[],
        never: MOVED,
    },
    Story {
        name: "unmarked_drags",
        what: "nobody marked the drop; the rode was told. She swings, and in 28 kn the anchor drags, 12 m a minute",
        play: |run| {
            run.lie_for(2400, lying);
            swing_by(run, 120);
            run.lie_for(1200, |s| swung(120.0, s));
            run.instruments.wind_kn = 28.0;
            let lie = TrueBearing::new(300.0);
            run.lie_for(1500, move |s| swung(120.0, s) + Local::polar(lie, 0.2 * s as f64));
        },
        entered: Entered::Rode,
        frozen: None,
        raises: &[AlertKind::Drag],
        never: &[],
    },
];

/// The wind veers by so many degrees, one in five seconds, and she swings with it.
fn swing_by(run: &mut Run, degrees: i32) {
    for degree in 1..=degrees {
        let turn = f64::from(degree);
        run.instruments.wind_from = turn;
        run.instruments.heading_deg = turn;
        run.lie_for(5, move |s| swung(turn, s));
    }
}

/// She lies as before, the wind having turned; the anchor is 9 m north of the origin, her antenna 29 m from it.
fn swung(turn: f64, s: i64) -> Local {
    let lie = TrueBearing::new(180.0 + turn).turned(3.0 * (s as f64 / 15.0).sin());
    Local::new(0.0, 9.0) + Local::polar(lie, 29.0)
}

fn watches() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/watches")
}

/// Makes a story's log and ride file.
fn record(story: &Story) {
    let rides = tempfile::tempdir().unwrap();
    let mut run = Run::with(Settings::default());
    run.recorder = Some(Recorder::begin(rides.path(), START, RideFile::default()).unwrap());
    match story.entered {
        Entered::Mark { .. } => run.let_go_and_bring_up(),
        entered => {
            run.lie_for(90, lying);
            let veered = (entered == Entered::Rode).then_some(Metres(30.0));
            run.crew(Command::Lying { veered, place: "Hollow Ness".into() });
        }
    }
    let brought_up = run.now();
    (story.play)(&mut run);
    let recorder = run.recorder.as_ref().unwrap();
    recorder.flush(Duration::from_secs(30)).unwrap();
    let night = recorder.folder().unwrap().join("night.nmea");
    let mut lines: Vec<Vec<u8>> = Recording::open(&night).unwrap().map(|line| line.unwrap().bytes).collect();
    if let Some(seconds) = story.frozen {
        freeze(&mut lines, seconds);
    }
    let packed = fs::File::create(watches().join(format!("{}.nmea.gz", story.name))).unwrap();
    let mut packer = GzEncoder::new(packed, Compression::best());
    for line in lines {
        packer.write_all(&line).unwrap();
        packer.write_all(b"\r\n").unwrap();
    }
    packer.finish().unwrap();
    fs::write(watches().join(format!("{}.toml", story.name)), ride_file(story, &run, &timestamp(brought_up)))
        .unwrap();
}

fn ride_file(story: &Story, run: &Run, brought_up: &str) -> String {
    let mut text = format!(
        "# Sloop Marram, Hollow Ness, {}. Made by tests/nights/watches.rs, without chance.\n# {}.\n\n[ride]\nplace = \
         \"Hollow Ness\"\nbrought_up = {brought_up}\n\n[boat]\nname = \"Marram\"\nloa_m = 10\ndraft_m = 1.8\n\
         antenna_aft_of_bow_m = 9\n\n[rode]\nchain_m = 50\n",
        &timestamp(START)[..10],
        story.what,
    );
    if story.entered != Entered::Lying {
        text += "veered_m = 30\n";
    }
    if let Entered::Mark { off_m } = story.entered {
        let drop = run.snapshot().drop.unwrap();
        let plane = run.plane();
        let mark = plane.to_position(plane.to_local(drop.position) - Local::new(0.0, off_m));
        let _ = write!(
            text,
            "\n[drop]\nlat = {:.7}\nlon = {:.7}\ntime = {}\ndepth_m = 5\n",
            mark.lat_deg(),
            mark.lon_deg(),
            timestamp(drop.let_go),
        );
    }
    text
}

/// From one second of the log to another every RMC repeats the first one's position, speed and course.
fn freeze(lines: &mut [Vec<u8>], (from, to): (usize, usize)) {
    let rmc = lines.iter_mut().filter(|line| line.starts_with(b"$GPRMC"));
    let mut repeated: Option<Vec<String>> = None;
    for line in rmc.skip(from).take(to - from) {
        let text = String::from_utf8(line.clone()).unwrap();
        let mut fields: Vec<String> =
            text[1..].split('*').next().unwrap().split(',').map(str::to_owned).collect();
        let first = repeated.get_or_insert_with(|| fields.clone());
        fields[3..9].clone_from_slice(&first[3..9]);
        let body = fields.join(",");
        *line = format!("${body}*{:02X}", checksum::xor(body.as_bytes())).into_bytes();
    }
}

fn run_watch(story: &Story) {
    if std::env::var_os("NIGHTRODE_RENEW").is_some() {
        record(story);
    }
    let entered = read_ride_file(&watches().join(format!("{}.toml", story.name))).unwrap().value;
    let mut found = String::new();
    let mut raised = Vec::new();
    let log = watches().join(format!("{}.nmea.gz", story.name));
    assert!(fs::metadata(&log).unwrap().len() < 150_000, "keep it small");
    let each = |output: &Output| {
        let Output::Alert(change) = output else { return };
        let word = match change.change {
            Change::Raised => "raised",
            Change::Risen => "risen",
            Change::Rectified => "rectified",
            Change::Ended => "ended",
            _ => return,
        };
        if change.change == Change::Raised {
            raised.push(change.alert.kind);
        }
        let (time, alert) = (timestamp(change.at), &change.alert);
        let _ = writeln!(found, "{time} {} {word} {:?}", alert.kind.name(), alert.priority);
    };
    let review = review(std::slice::from_ref(&log), Some(&entered), each).unwrap();
    let holding = &review.holding;
    let _ = writeln!(found, "verdict {}, confidence {}", holding.verdict.name(), holding.confidence.name());
    crate::expected::expect(&format!("watches/{}.expected", story.name), &found);
    for kind in story.raises {
        assert!(raised.contains(kind), "{}: {} is raised\n{found}", story.name, kind.name());
    }
    for kind in story.never {
        assert!(!raised.contains(kind), "{}: {} is not raised\n{found}", story.name, kind.name());
    }
}

fn story(name: &str) {
    run_watch(STORIES.iter().find(|story| story.name == name).expect("a story of that name"));
}

#[test]
fn a_quiet_night_raises_nothing() {
    story("quiet_night");
}

#[test]
fn a_shift_of_wind_is_told_and_is_no_drag() {
    story("shift_of_wind");
}

#[test]
fn a_lost_fix_is_told_and_is_no_drag() {
    story("lost_fix");
}

#[test]
fn a_frozen_receiver_is_doubtful_and_is_no_drag() {
    story("frozen_receiver");
}

#[test]
fn poor_satellites_wake_nobody_while_they_show_her_within_her_circle() {
    story("poor_satellites");
}

#[test]
fn a_boat_that_goes_off_while_satellites_are_poor_is_called_by_her_circle() {
    story("gone_by_poor_satellites");
}

#[test]
fn a_boat_outside_her_circle_is_called() {
    story("boat_outside");
}

#[test]
fn a_lap_over_the_anchor_in_a_calm_is_no_drag() {
    story("calm_lap");
}

#[test]
fn a_mark_set_late_is_no_drag() {
    story("late_mark");
}

#[test]
fn a_hole_in_the_night_is_told_and_is_no_drag() {
    story("hole_in_the_night");
}

#[test]
fn an_anchor_that_breaks_out_is_called() {
    story("break_out");
}

#[test]
fn an_anchor_that_ploughs_slowly_is_called() {
    story("slow_plough");
}

#[test]
fn an_anchor_that_creeps_in_gusts_is_called() {
    story("creep_in_gusts");
}

#[test]
fn an_anchor_that_trips_and_sets_again_is_called() {
    story("trip_and_reset");
}

#[test]
fn a_chain_pulled_straight_is_no_drag() {
    story("chain_pulled_straight");
}

#[test]
fn a_turn_of_the_stream_is_no_drag() {
    story("stream_turns");
}

#[test]
fn a_receiver_between_houses_is_no_drag() {
    story("poor_view");
}

#[test]
fn a_rode_told_too_short_is_no_drag() {
    story("rode_told_short");
}

#[test]
fn bursts_of_velocity_are_no_drag() {
    story("velocity_bursts");
}

#[test]
fn an_anchor_torn_out_in_a_squall_is_called_though_it_sets_again() {
    story("break_out_in_squall");
}

#[test]
fn an_anchor_that_nobody_marked_holds_through_a_shift() {
    story("unmarked_holds");
}

#[test]
fn an_anchor_that_nobody_marked_is_called_when_it_drags() {
    story("unmarked_drags");
}
