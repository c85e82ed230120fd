//! Snapshots made by hand, for pictures and tests of the screen: the sloop *Marram* at Hollow Ness, one June night.

use std::sync::Arc;

use jiff::tz::Offset;
use nightrode::watch::ahead::foresee;
use nightrode::watch::alert::{Alert, AlertKind, AlertState, Priority, Reason, Sound};
use nightrode::watch::anchor_check::{CheckItem, CheckLine, Found, Outcome, Phase};
use nightrode::watch::boat::{Berth, Boat, FeedSettings, Limits, Sector, Settings, Snubber, Tackle};
use nightrode::watch::fixgate::Doubt;
use nightrode::watch::forecast::parse;
use nightrode::watch::geo::{Local, Position};
use nightrode::watch::holding::Belief;
use nightrode::watch::input::{Link, TurnKind};
use nightrode::watch::rode::{OpenWater, Seabed, parse_fetch};
use nightrode::watch::snapshot::*;
use nightrode::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};
use nightrode::watch::way_out::WayOut;
use nightrode::watch::what_if::{WhatIf, answer};

/// 03.06.2026 02:14:07 in a zone two hours east of Greenwich.
pub const NOW: WatchTime = WatchTime(1_780_445_647_000);

const LET_GO: WatchTime = WatchTime(NOW.0 - 380 * 60_000);
const BROUGHT_UP: WatchTime = WatchTime(NOW.0 - 372 * 60_000);
const HIGH_WATER: WatchTime = WatchTime(NOW.0 - 344 * 60_000);
const LOW_WATER: WatchTime = WatchTime(NOW.0 + 29 * 60_000);
const DRAFT_M: f64 = 1.8;
const BOW_M: f64 = 1.2;
const VEERED_M: f64 = 35.0;
const LOA_M: f64 = 9.6;
const CIRCLE_M: f64 = 55.0;

/// A scene's name and how it is made.
pub type Named = (&'static str, fn() -> Snapshot);

/// Every scene.
pub const ALL: [Named; 15] = [
    ("quiet", quiet),
    ("empty", empty),
    ("under_way", under_way),
    ("setting", setting),
    ("alarm", alarm),
    ("silenced", silenced),
    ("acknowledged", acknowledged),
    ("warning", warning),
    ("creep_checked", half_checked),
    ("over", over),
    ("closing", closing),
    ("outside", outside),
    ("no_fix", no_fix),
    ("stale", stale),
    ("doubtful", doubtful),
];

/// Depth at the drop point by a plain cosine between high and low water, metres.
pub fn depth_m(at: WatchTime) -> f64 {
    let half = LOW_WATER.since(HIGH_WATER).0 as f64;
    4.8 + 1.9 * (std::f64::consts::PI * at.since(HIGH_WATER).0 as f64 / half).cos()
}

fn wind_from(at: WatchTime) -> TrueBearing {
    let hours = at.since(BROUGHT_UP).0 as f64 / 3.6e6;
    TrueBearing::new(250.0 - 3.0 * hours + 4.0 * (hours * 2.1).sin())
}

fn wind_kn(at: WatchTime) -> f64 {
    let hours = at.since(BROUGHT_UP).0 as f64 / 3.6e6;
    10.0 + 0.9 * hours + 2.5 * (hours * 3.7).sin() + 1.2 * (hours * 17.0).sin()
}

fn reach_m(at: WatchTime) -> f64 {
    let height_m = depth_m(at) + BOW_M;
    (VEERED_M * VEERED_M - height_m * height_m).sqrt()
}

fn bow(at: WatchTime) -> Local {
    let minutes = at.since(LET_GO).0 as f64 / 6e4;
    let sheer = 16.0 * (minutes * 0.9).sin() + 7.0 * (minutes * 0.37).cos();
    let out = reach_m(at) - 3.0 - 1.5 * (minutes * 0.21).cos();
    Local::polar(wind_from(at).reversed().turned(sheer), out * (minutes / 6.0).min(1.0))
}

fn heading(at: WatchTime) -> TrueBearing {
    let minutes = at.since(LET_GO).0 as f64 / 6e4;
    wind_from(at).turned(-14.0 * (minutes * 0.9 + 0.6).sin())
}

fn stern_m(bow: Local, heading: TrueBearing) -> f64 {
    (bow - Local::polar(heading, LOA_M)).length_m()
}

/// The room of a boat whose bow lies there.
fn room(bow: Local, heading: TrueBearing) -> Option<Room> {
    let left = Metres(CIRCLE_M - stern_m(bow, heading));
    Some(Room { left, of: Metres(CIRCLE_M), end: End::Stern })
}

fn track(until: WatchTime) -> Vec<TrackPoint> {
    let mut points = Vec::new();
    let mut at = LET_GO;
    while at <= until {
        points.push(TrackPoint { at, point: bow(at) });
        let recent = until.since(at) < Span::from_mins(60);
        at += Span::from_secs(if recent { 5 } else { 60 });
    }
    points
}

fn minutes(until: WatchTime) -> Vec<Minute> {
    let mut minutes = Vec::new();
    let mut at = BROUGHT_UP;
    while at <= until {
        let distance_m = bow(at).length_m();
        minutes.push(Minute {
            at,
            distance: Some(Metres(distance_m)),
            reach: Some(Metres(reach_m(at))),
            circle: Some(Metres(CIRCLE_M)),
            room: Some(Metres(CIRCLE_M - stern_m(bow(at), heading(at)))),
            wind: Some(Knots(wind_kn(at))),
            gust: Some(Knots(wind_kn(at) * 1.35)),
            direction: Some(wind_from(at)),
            heading: Some(heading(at)),
            depth: Some(Metres(depth_m(at) + 0.1 * (at.0 as f64 / 3e5).sin())),
            predicted: Some(Metres(depth_m(at))),
            good_fixes: 60,
            evidence: Some(4.0),
        });
        at += Span::from_mins(1);
    }
    minutes
}

/// The line from anchor to bow: some of it on the bottom, the rest a catenary (parameter 30 m).
fn shape(height_m: f64) -> Vec<(f64, f64)> {
    let a_m = 30.0_f64;
    let lifted_along = a_m * (height_m / a_m + 1.0).acosh();
    let lifted = a_m * (lifted_along / a_m).sinh();
    let on_bottom = (VEERED_M - lifted).max(0.0);
    let line = (0..=40).map(|i| {
        let x = lifted_along * f64::from(i) / 40.0;
        (on_bottom + x, a_m * ((x / a_m).cosh() - 1.0))
    });
    std::iter::once((0.0, 0.0)).chain(line).collect()
}

fn settings() -> Settings {
    Settings {
        boat: Boat {
            name: "Marram".into(),
            loa: Metres(LOA_M),
            beam: Metres(3.1),
            draft: Metres(DRAFT_M),
            ..Boat::default()
        },
        tackle: Tackle { chain: Metres(40.0), rope: Metres(30.0), rope_mm: 14.0, ..Tackle::default() },
        limits: limits(),
        feeds: vec![
            FeedSettings { name: "gps".into(), priority: 0 },
            FeedSettings { name: "masthead".into(), priority: 1 },
        ],
        ..Settings::default()
    }
}

fn limits() -> Limits {
    let barred = Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(30.0) };
    Limits { barred: vec![barred], circle: Some(Metres(CIRCLE_M)), ..Limits::default() }
}

fn source(name: &str) -> Arc<str> {
    Arc::from(name)
}

fn now<T>(value: T, from: &str) -> Reading<T> {
    Reading::Now { value, at: NOW - Span(400), source: source(from) }
}

/// A feed of the demo.
fn feed(name: &str, delivers: &[(&'static str, f64)], believed: &[&'static str]) -> FeedView {
    FeedView {
        name: source(name),
        link: Link::Open,
        link_since: LET_GO - Span::from_mins(20),
        last_good: Some(NOW - Span(600)),
        good: 91_204,
        unused: 3_020,
        rejected: vec![("wrong checksum", 14), ("cut off", 2)],
        delivers: delivers.to_vec(),
        believed_for: believed.to_vec(),
    }
}

/// Holding, nothing wrong.
pub fn quiet() -> Snapshot {
    let at_bow = bow(NOW);
    let (off, way) = (at_bow.length_m(), at_bow.scaled(-1.0).bearing());
    let height = depth_m(NOW) + BOW_M;
    let mut curve = Vec::new();
    for i in 0..=115 {
        let at = LET_GO + Span::from_mins(10 * i);
        curve.push((at, Metres(depth_m(at))));
    }
    let half = LOW_WATER.since(HIGH_WATER);
    let turn = |at: WatchTime, kind| TurnView { at, kind, depth: Metres(depth_m(at)) };
    Snapshot {
        at: NOW,
        began: LET_GO - Span::from_mins(20),
        clock_error: Some(Span(180)),
        settings: Arc::new(settings()),
        limits: limits(),
        place: source("Hollow Ness"),
        stage: Stage::BroughtUp,
        stage_since: BROUGHT_UP,
        verdict: Verdict::Holding,
        verdict_since: BROUGHT_UP,
        holding: HoldingView {
            evidence_percent: Some(4.0),
            belief: Some(Belief {
                centre: Local::new(1.2, 0.8),
                major: Metres(4.0),
                minor: Metres(2.2),
                axis: TrueBearing::new(150.0),
            }),
            ready_percent: Some(100.0),
            ..HoldingView::default()
        },
        room: room(at_bow, heading(NOW)),
        drop: Some(DropPoint {
            position: Position::new(54.2, 10.4).expect("on the earth"),
            let_go: LET_GO,
            how: MarkedHow::Bow,
            depth: Some(Metres(depth_m(LET_GO))),
            fixed: LET_GO,
            doubt: Metres(0.0),
        }),
        fix: FixView {
            quality: FixQuality::Good,
            position: Position::new(54.2, 10.4).ok(),
            at: Some(NOW - Span(800)),
            source: Some(source("gps/GN")),
            sigma: Some(Metres(1.1)),
            satellites: Some(17),
            hdop: Some(0.8),
            sog: Some(Knots(0.2)),
            cog: Some(TrueBearing::new(90.0)),
        },
        antenna: Some(at_bow + Local::polar(heading(NOW).reversed(), 8.0)),
        bow: Some(at_bow),
        anchor_off: Some((Metres(off), way)),
        heading: now(
            Heading { bearing: heading(NOW), basis: HeadingBasis::ModelVariation, variation_deg: Some(4.2) },
            "gps/HC",
        ),
        reach: Some(Metres(reach_m(NOW))),
        circle: CircleView {
            swings: Some(Metres(44.5)),
            set: Some(Metres(CIRCLE_M)),
            centre: Local::default(),
        },
        track: Arc::new(track(NOW)),
        farthest: Some((
            Metres(33.6),
            TrackPoint { at: NOW - Span::from_mins(140), point: Local::new(30.0, 12.0) },
        )),
        vessels: Arc::default(),
        wind: WindView {
            apparent: now((-8.0, Knots(15.0)), "masthead/WI"),
            direction: Some(wind_from(NOW)),
            mean: Some(Knots(wind_kn(NOW))),
            gust: Some(Knots(21.0)),
            mean_direction: Some(wind_from(NOW)),
            reference: Some(TrueBearing::new(250.0)),
            shift_deg: Some(-18.0),
        },
        stream: Some((TrueBearing::new(118.0), Knots(0.6))),
        depth: DepthView {
            sounded: now(Metres(depth_m(NOW)), "gps/SD"),
            predicted: Some(Metres(depth_m(NOW))),
            under_keel: Some(Metres(depth_m(NOW) - DRAFT_M)),
            least_under_keel: Some((Metres(depth_m(LOW_WATER) - DRAFT_M), LOW_WATER)),
            pressure: None,
            offset_unlike: None,
        },
        tide: TideView {
            credit: Some(source("high and low waters typed by the crew")),
            curve: Arc::new(curve),
            turns: vec![
                turn(HIGH_WATER, TurnKind::High),
                turn(LOW_WATER, TurnKind::Low),
                turn(LOW_WATER + half, TurnKind::High),
            ],
            known_until: Some(LOW_WATER + half),
            rate_m_per_h: Some(-0.1),
            assumed: None,
            afar: Metres(0.0),
            correction: None,
            shoals: Metres(0.0),
        },
        rode: RodeView {
            veered: Some(Metres(VEERED_M)),
            chain: Some(Metres(VEERED_M)),
            height: Some(Metres(height)),
            scope: Some(VEERED_M / height),
            least_scope: Some((VEERED_M / (depth_m(HIGH_WATER) + BOW_M), LOW_WATER + half)),
            load: Some(Newtons(610.0)),
            lifted: Some(Metres(18.0)),
            angle_anchor_deg: Some(0.0),
            lift_off: Some(Knots(27.0)),
            asked: None,
            shape: shape(height),
        },
        alerts: Vec::new(),
        sound: Sound::Quiet,
        feeds: vec![
            feed(
                "gps",
                &[("position", 1.0), ("heading", 10.0), ("depth", 1.0)],
                &["position", "heading", "depth"],
            ),
            feed("masthead", &[("wind", 2.0), ("position", 1.0)], &["wind"]),
        ],
        minutes: Arc::new(minutes(NOW)),
        happenings: Arc::new(vec![
            happened(LET_GO, "let go in 6.7 m, 20 m veered"),
            happened(LET_GO + Span::from_mins(3), "veered to 35 m"),
            happened(BROUGHT_UP, "brought up"),
            Happening { at: NOW - Span::from_mins(131), text: "STRONG WIND gust 35 kn".into(), alert: true },
            happened(NOW - Span::from_mins(130), "Tove acknowledged STRONG WIND"),
            happened(NOW - Span::from_mins(126), "STRONG WIND over"),
        ]),
        coming: vec![
            Coming { at: LOW_WATER, text: "low water, 1.1 under keel".into() },
            Coming { at: LOW_WATER + Span::from_mins(35), text: "stream turns, she will swing".into() },
            Coming { at: NOW + Span::from_mins(168), text: "sunrise: light out, ball up".into() },
            Coming { at: LOW_WATER + half, text: "high water, scope 4.4".into() },
        ],
        ..Snapshot::default()
    }
}

fn happened(at: WatchTime, text: &str) -> Happening {
    Happening { at, text: text.into(), alert: false }
}

/// Nothing has come yet: the first second of a first start.
pub fn empty() -> Snapshot {
    Snapshot { at: NOW, began: NOW, verdict_since: NOW, stage_since: NOW, ..Snapshot::default() }
}

/// Feeds come in; the anchor is still on the bow.
pub fn under_way() -> Snapshot {
    let base = quiet();
    let wander = |at: WatchTime| {
        let s = NOW.since(at).0 as f64 / 1000.0;
        Local::new(-0.9 * s + 12.0 * (s / 45.0).sin(), 0.6 * s - 10.0 * (s / 30.0).cos())
    };
    let track =
        (0..240).map(|i| NOW - Span::from_secs(240 - i)).map(|at| TrackPoint { at, point: wander(at) });
    Snapshot {
        stage: Stage::NotSet,
        verdict: Verdict::NotSet,
        verdict_since: NOW,
        holding: HoldingView::default(),
        room: None,
        drop: None,
        bow: Some(wander(NOW)),
        antenna: Some(wander(NOW)),
        anchor_off: None,
        reach: None,
        circle: CircleView::default(),
        track: Arc::new(track.collect()),
        farthest: None,
        wind: WindView { reference: None, shift_deg: None, ..base.wind.clone() },
        rode: RodeView::default(),
        minutes: Arc::new(Vec::new()),
        happenings: Arc::new(Vec::new()),
        coming: Vec::new(),
        ..base
    }
}

/// Let go six minutes ago.
pub fn setting() -> Snapshot {
    let at = LET_GO + Span::from_mins(6);
    let base = quiet();
    Snapshot {
        at,
        stage: Stage::Setting,
        stage_since: LET_GO,
        verdict: Verdict::Setting,
        verdict_since: LET_GO,
        holding: HoldingView {
            evidence_percent: Some(12.0),
            ready_percent: Some(8.0),
            ..HoldingView::default()
        },
        track: Arc::new(track(at)),
        bow: Some(bow(at)),
        heading: Reading::Now { value: base.heading.now().expect("has one"), at, source: source("gps/HC") },
        depth: DepthView {
            sounded: Reading::Now { value: Metres(depth_m(at)), at, source: source("gps/SD") },
            under_keel: Some(Metres(depth_m(at) - DRAFT_M)),
            ..base.depth.clone()
        },
        fix: FixView { at: Some(at), ..base.fix.clone() },
        wind: WindView {
            apparent: Reading::Now { value: (3.0, Knots(10.0)), at, source: source("masthead/WI") },
            shift_deg: None,
            ..base.wind.clone()
        },
        minutes: Arc::new(Vec::new()),
        happenings: Arc::new(base.happenings[..2].to_vec()),
        ..base
    }
}

fn raised(kind: AlertKind, priority: Priority, ago: Span, what: &str, action: &str) -> Alert {
    Alert {
        kind,
        priority,
        state: AlertState::Unacknowledged,
        raised: NOW - ago,
        rectified: None,
        escalated: false,
        reason: Reason { what: what.into(), action: action.into() },
    }
}

/// When the anchor began to move.
const BEGAN: WatchTime = WatchTime(NOW.0 - 22 * 60_000);

/// She drags.
pub fn alarm() -> Snapshot {
    let base = quiet();
    let way = TrueBearing::new(62.0);
    let out = Local::polar(TrueBearing::new(66.0), 52.0);
    let mut track = track(BEGAN);
    let from = bow(BEGAN);
    for i in 0..=264 {
        let t = f64::from(i) / 264.0;
        let at = BEGAN + Span::from_secs(5 * i64::from(i));
        track.push(TrackPoint { at, point: from + (out - from).scaled(t) });
    }
    Snapshot {
        verdict: Verdict::Dragging,
        verdict_since: NOW - Span::from_mins(16),
        room: room(out, heading(NOW)),
        anchor_off: Some((Metres(52.0), TrueBearing::new(246.0))),
        bow: Some(out),
        track: Arc::new(track),
        farthest: Some((Metres(52.0), TrackPoint { at: NOW, point: out })),
        holding: HoldingView {
            evidence_percent: Some(100.0),
            moved: Some(Moved {
                distance: Metres(18.0),
                bearing: way,
                since: BEGAN,
                lately: Some(Metres(7.0)),
            }),
            belief: Some(Belief {
                centre: Local::polar(way, 18.0),
                major: Metres(6.0),
                minor: Metres(3.0),
                axis: way,
            }),
            ..HoldingView::default()
        },
        sound: Sound::Alarm,
        alerts: vec![
            raised(
                AlertKind::Drag,
                Priority::Alarm,
                Span::from_mins(16),
                "Anchor moved 18 m in 22 min, 7 m in the last 10 min, towards 062°. Bow 52 m from the mark; the rode reaches 34 m.",
                "Go on deck. Check bearings. Start the engine; veer more rode if there is room, or weigh and anchor again.",
            ),
            raised(
                AlertKind::WindHigh,
                Priority::Warning,
                Span::from_mins(6),
                "Gust 36 kn, limit 34.",
                "Check snubber and chafe; veer if there is room.",
            ),
            Alert {
                state: AlertState::Acknowledged,
                ..raised(
                    AlertKind::HeadingLost,
                    Priority::Caution,
                    Span::from_mins(41),
                    "No heading for 41 min. The bow's place is guessed from the antenna.",
                    "Check the compass' cable.",
                )
            },
        ],
        ..base
    }
}

/// She drags, and the sound is off for half a minute.
pub fn silenced() -> Snapshot {
    let mut snap = alarm();
    snap.alerts[0].state = AlertState::Silenced { until: NOW + Span::from_secs(21) };
    snap
}

/// She drags, and the crew knows.
pub fn acknowledged() -> Snapshot {
    let mut snap = alarm();
    for alert in &mut snap.alerts {
        alert.state = AlertState::Acknowledged;
    }
    snap.sound = Sound::Quiet;
    snap
}

/// The anchor creeps, and nobody has answered yet.
pub fn creeping() -> Snapshot {
    let base = quiet();
    Snapshot {
        verdict: Verdict::Creeping,
        verdict_since: NOW - Span::from_mins(3),
        holding: HoldingView { evidence_percent: Some(52.0), ..base.holding.clone() },
        sound: Sound::Warning,
        alerts: vec![raised(
            AlertKind::Creep,
            Priority::Warning,
            Span::from_mins(3),
            "Anchor moved 6 m in 41 min, 1 m in the last 10 min, towards 062°, now 0.0 kn. Bow 40 m from the mark; the rode reaches 34 m.",
            AlertKind::Creep.about().action,
        )],
        ..base
    }
}

/// The same with a check that has run for so many minutes, and has been answered so far.
pub fn checked(minutes: i64, found: [Option<Found>; 4]) -> Snapshot {
    let began = NOW - Span::from_mins(minutes);
    let ends = began + Span::from_mins(5);
    let phase = if minutes < 5 { Phase::Runs } else { Phase::Over };
    let shows = [
        "church over perch: by the receiver 0.4° open now.",
        "Hand on it outboard of the roller: an anchor that drags trembles or jerks.",
        "5.1 m by the sounder; here before, with the tide of now, 5.0 m.",
        "Mean 17 kn, gusts 24; she has held 19 kn tonight.",
    ];
    let line = |(item, (shows, found)): (CheckItem, (&str, Option<Found>))| CheckLine {
        item,
        shows: shows.into(),
        found,
        asks_again: false,
    };
    let (outcome, advice) = match (found.contains(&Some(Found::Wrong)), phase) {
        (true, _) => (
            Outcome::Moves,
            "The anchor moves. Engine on. Veer up to 10 m if nothing lies astern: room is 16 m. If she does not bring up, weigh.",
        ),
        (false, Phase::Runs) => (Outcome::Unseen, "Nobody has seen whether it holds."),
        _ => (Outcome::Stands, "It holds by what you saw. Do nothing; look again in 15 min."),
    };
    let check = CheckView {
        began,
        ends,
        phase,
        lines: CheckItem::ALL.into_iter().zip(shows.into_iter().zip(found)).map(line).collect(),
        since: "Moved 4 m, 1 m farther from the anchor; room 16 m, at the beginning 17.".into(),
        outcome,
        advice: advice.into(),
        again: None,
    };
    Snapshot { check: Some(check), ..creeping() }
}

/// Two minutes into a check.
pub fn half_checked() -> Snapshot {
    checked(2, [Some(Found::Well), None, Some(Found::Well), Some(Found::Well)])
}

/// The wind has turned.
pub fn warning() -> Snapshot {
    let base = quiet();
    Snapshot {
        wind: WindView { shift_deg: Some(-52.0), ..base.wind.clone() },
        sound: Sound::Warning,
        alerts: vec![raised(
            AlertKind::WindShift,
            Priority::Warning,
            Span::from_secs(40),
            "Wind backed 52° since brought up, now 198° 17 kn; limit 45°.",
            "See where she would lie, and whether the anchor turned with her.",
        )],
        ..base
    }
}

/// It blew hard for a while, and nobody has answered that.
pub fn over() -> Snapshot {
    let mut windy = raised(
        AlertKind::WindHigh,
        Priority::Warning,
        Span::from_mins(131),
        "Wind 26 kn, gusts 35 kn; your limits are 25 and 34.",
        "Look at snubber and chafe. Veer more rode if there is room. Make the engine ready.",
    );
    (windy.state, windy.rectified) = (AlertState::Rectified, Some(NOW - Span::from_mins(126)));
    Snapshot { alerts: vec![windy], ..quiet() }
}

/// A vessel steers for the circle; another lies quietly at her own anchor.
pub fn closing() -> Snapshot {
    let base = quiet();
    let vessel = |mmsi, name: &str, point, sog: f64| VesselView {
        mmsi,
        name: Some(name.into()),
        point,
        cog: None,
        sog: Some(Knots(sog)),
        heading: None,
        extent: Metres(8.0),
        status: None,
        age: Span::from_secs(6),
        closes_in: None,
    };
    let comes = VesselView {
        cog: Some(TrueBearing::new(20.0)),
        closes_in: Some(Span::from_secs(8)),
        ..vessel(2, "ORSA", Local::new(-22.0, -62.0), 4.2)
    };
    Snapshot {
        vessels: Arc::new(vec![vessel(1, "PELLI", Local::new(34.0, 44.0), 0.1), comes]),
        sound: Sound::Warning,
        alerts: vec![raised(
            AlertKind::Closing,
            Priority::Warning,
            Span::from_secs(14),
            "ORSA will be at your swing circle of 45 m in 8 s: 66 m from the anchor on 200°, 4.2 kn.",
            "Look at her bearing: if it does not change she comes to you. Show a light on deck; call or sound if need be.",
        )],
        ..base
    }
}

/// Outside the circle, and no sound card.
pub fn outside() -> Snapshot {
    let base = alarm();
    let out = Local::polar(TrueBearing::new(80.0), 61.0);
    Snapshot {
        verdict: Verdict::Outside,
        room: room(out, heading(NOW)),
        anchor_off: Some((Metres(61.0), TrueBearing::new(260.0))),
        bow: Some(out),
        holding: HoldingView { evidence_percent: Some(31.0), ..quiet().holding },
        alerts: vec![
            raised(
                AlertKind::Outside,
                Priority::Alarm,
                Span::from_secs(35),
                "Stern 71 m from the anchor, 16 m beyond the circle of 55 m for 55 s, still opening, towards 080°.",
                "Look out: does she drag, or is the circle too small?",
            ),
            raised(
                AlertKind::SoundFailed,
                Priority::Warning,
                Span::from_mins(380),
                "No sound card answers: alarms cannot be heard.",
                "Plug in a loudspeaker, then run nightrode sound.",
            ),
        ],
        ..base
    }
}

/// The receiver is gone.
pub fn no_fix() -> Snapshot {
    let base = quiet();
    let gone = Span::from_secs(48);
    Snapshot {
        verdict: Verdict::NoFix,
        verdict_since: NOW - gone,
        room: None,
        anchor_off: None,
        antenna: None,
        bow: None,
        holding: HoldingView { cannot: Some("no position for 48 s".into()), ..HoldingView::default() },
        fix: FixView { quality: FixQuality::Lost, at: Some(NOW - gone), ..base.fix.clone() },
        sound: Sound::Warning,
        alerts: vec![raised(
            AlertKind::FixLost,
            Priority::Warning,
            Span::from_secs(33),
            "No position from feed gps for 48 s. The boat can move without an alarm.",
            "Check its cable and aerial, or press f to see the feeds.",
        )],
        ..base
    }
}

/// Wind, depth and heading have gone silent, one after the other.
pub fn stale() -> Snapshot {
    let base = quiet();
    Snapshot {
        wind: WindView {
            apparent: Reading::Lost { last: (-8.0, Knots(15.0)), at: NOW - Span::from_mins(3) },
            ..WindView::default()
        },
        depth: DepthView {
            sounded: Reading::Lost { last: Metres(3.1), at: NOW - Span::from_mins(14) },
            ..base.depth.clone()
        },
        heading: Reading::Now {
            value: base.heading.now().expect("has one"),
            at: NOW - Span::from_secs(19),
            source: source("gps/HC"),
        },
        rode: RodeView { load: None, lift_off: None, ..base.rode.clone() },
        stream: None,
        alerts: vec![raised(
            AlertKind::WindLost,
            Priority::Caution,
            Span::from_mins(3),
            "No wind from masthead for 3 min. A shift of wind raises no alert.",
            "Check its cable.",
        )],
        ..base
    }
}

/// The position cannot be trusted.
pub fn doubtful() -> Snapshot {
    let base = quiet();
    Snapshot {
        verdict: Verdict::CannotJudge,
        verdict_since: NOW - Span::from_mins(2),
        holding: HoldingView {
            cannot: Some("position frozen for 2 min".into()),
            evidence_percent: None,
            ..base.holding.clone()
        },
        fix: FixView {
            quality: FixQuality::Doubtful { why: Doubt::SamePlace(Span::from_mins(2)) },
            ..base.fix.clone()
        },
        heading: Reading::Never,
        bow: None,
        alerts: vec![Alert {
            state: AlertState::Acknowledged,
            ..raised(
                AlertKind::FixDoubtful,
                Priority::Warning,
                Span::from_mins(2),
                "The position has not changed in any digit for 2 min: the receiver is frozen.",
                "Switch it off and on, or choose another feed.",
            )
        }],
        ..base
    }
}

/// The same night at another moment, in another wind.
fn then(at: WatchTime, wind: Option<Knots>) -> Snapshot {
    let base = quiet();
    let (depth, bow) = (Metres(depth_m(at)), Metres(BOW_M));
    let fresh = |value| Reading::Now { value, at, source: source("gps/SD") };
    let minutes = minutes(at).into_iter().map(|minute| Minute { wind: wind.and(minute.wind), ..minute });
    Snapshot {
        at,
        depth: DepthView {
            sounded: fresh(depth),
            predicted: Some(depth),
            under_keel: Some(depth - Metres(DRAFT_M)),
            ..base.depth.clone()
        },
        wind: match wind {
            Some(wind) => WindView { mean: Some(wind), gust: Some(wind * 1.35), ..base.wind.clone() },
            None => WindView::default(),
        },
        rode: RodeView {
            height: Some(depth + bow),
            scope: Some(VEERED_M / (depth + bow).0),
            ..base.rode.clone()
        },
        minutes: Arc::new(minutes.collect()),
        fix: FixView { at: Some(at), ..base.fix.clone() },
        happenings: Arc::new(base.happenings.iter().filter(|h| h.at <= at).cloned().collect()),
        coming: base.coming.iter().filter(|c| c.at > at).cloned().collect(),
        ..base
    }
}

/// What the rode view and the night are looked at with: high and low water, calm and gale, and what may be missing.
pub const RODE: [Named; 10] = [
    ("night_ahead", night_ahead),
    ("gaps", gaps),
    ("high_water", || then(HIGH_WATER, Some(Knots(14.0)))),
    ("low_water", || then(LOW_WATER, Some(Knots(14.0)))),
    ("calm", || then(NOW, Some(Knots(2.0)))),
    ("gale", || then(HIGH_WATER, Some(Knots(36.0)))),
    ("no_tide", no_tide),
    ("no_wind", || then(NOW, None)),
    ("no_depth", no_depth),
    ("chain_and_rope", chain_and_rope),
];

/// The wind by the hour was entered: a front before dawn, in a place with a barred sector; and a way out.
pub fn night_ahead() -> Snapshot {
    let mut snap = quiet();
    let mut settings = settings();
    settings.tackle.anchor_kg = Some(16.0);
    snap.settings = Arc::new(settings);
    snap.berth = Berth {
        seabed: Some(Seabed::Mud),
        open: OpenWater { fetch: parse_fetch("SW 0.3, W 0.8, NW 0.5").expect("open water"), depth: None },
        snubber: Some(Snubber { size_mm: 14.0, length: Metres(8.0) }),
        ..Berth::default()
    };
    snap.rode.asked = answer(&snap, &WhatIf::default()).then.and_then(|then| then.asked);
    snap.way_out = Some(WayOut { course: TrueBearing::new(140.0), distance_nm: 0.4 });
    let line = "02: SW 14 g21, 05: W 24 g36, 08: NW 18 g26";
    let forecast = parse(line, NOW, Offset::constant(2)).expect("a forecast");
    let night = foresee(&forecast, &snap).map(Arc::new);
    snap.ahead = NightView { forecast: Some(Arc::new(forecast)), night, held: None };
    snap
}

/// Nobody told the tide.
fn no_tide() -> Snapshot {
    let base = quiet();
    let depth =
        DepthView { predicted: base.depth.sounded.now(), least_under_keel: None, ..base.depth.clone() };
    let rode = RodeView { least_scope: None, ..base.rode.clone() };
    Snapshot { tide: TideView::default(), depth, rode, coming: Vec::new(), ..base }
}

/// No sounder, and no depth told.
fn no_depth() -> Snapshot {
    let minutes = quiet().minutes.iter().map(|m| Minute { depth: None, predicted: None, ..*m }).collect();
    Snapshot {
        depth: DepthView::default(),
        rode: RodeView { veered: Some(Metres(VEERED_M)), ..RodeView::default() },
        minutes: Arc::new(minutes),
        ..no_tide()
    }
}

/// Forty metres of chain and fifteen of rope, in a strong wind.
fn chain_and_rope() -> Snapshot {
    let base = then(NOW, Some(Knots(26.0)));
    let veered = Metres(55.0);
    let scope = base.rode.height.map(|height| veered.0 / height.0);
    Snapshot { rode: RodeView { veered: Some(veered), scope, ..base.rode.clone() }, ..base }
}

/// The watch slept for half an hour, the wind sensor went silent for two hours, and the heading never came.
fn gaps() -> Snapshot {
    let base = quiet();
    let ago = |minute: &Minute| NOW.since(minute.at).0 / 60_000;
    let minutes = base.minutes.iter().filter(|m| !(200..230).contains(&ago(m))).map(|m| {
        let silent = (60..180).contains(&ago(m));
        Minute {
            heading: None,
            wind: m.wind.filter(|_| !silent),
            gust: m.gust.filter(|_| !silent),
            direction: m.direction.filter(|_| !silent),
            ..*m
        }
    });
    Snapshot { minutes: Arc::new(minutes.collect()), heading: Reading::Never, ..base }
}
