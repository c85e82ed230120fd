//! Snapshots of the crew's work, for pictures and tests: sounding, setting, rounds, weighing.

use std::sync::Arc;

use nightrode::watch::boat::{RodeMark, Sector};
use nightrode::watch::geo::Local;
use nightrode::watch::lights::{by_day, by_night, notes};
use nightrode::watch::marks::{MarkView, TakenView, arc, opening_deg};
use nightrode::watch::place::{LastTime, PlaceRide};
use nightrode::watch::rounds::*;
use nightrode::watch::setting::*;
use nightrode::watch::snapshot::*;
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing};
use nightrode::watch::weighing::REMIND;

use super::scenes::{NOW, Named, quiet, setting, under_way};

/// Every scene.
pub const ALL: [Named; 13] = [
    ("near", near),
    ("sounding", sounding),
    ("veering", veering),
    ("pulling", pulling),
    ("held", held),
    ("moved", moved),
    ("short", short),
    ("lying", lying),
    ("rounds", rounds),
    ("round_due", round_due),
    ("heaving_in", heaving_in),
    ("up_and_down", up_and_down),
    ("aweigh", aweigh),
];

fn text(words: &str) -> Arc<str> {
    Arc::from(words)
}

fn mark(at: f64, look: &str) -> Option<MarkSeen> {
    Some(MarkSeen { at: Metres(at), look: text(look) })
}

fn with_marks(base: Snapshot) -> Snapshot {
    let mut settings = (*base.settings).clone();
    settings.marks = [(10.0, "one red link"), (20.0, "two red links"), (30.0, "three red links")]
        .map(|(at, look)| RodeMark { at: Metres(at), look: look.into() })
        .to_vec();
    Snapshot { settings: Arc::new(settings), ..base }
}

fn sounded(minutes_ago: i64, east: f64, north: f64, depth: f64) -> SoundingView {
    SoundingView {
        at: NOW - Span::from_mins(minutes_ago),
        point: Local::new(east, north),
        depth: Metres(depth),
        charted: Some(Metres(depth - 3.2)),
        lowest: Some(Metres(depth - 2.3)),
        highest: Some(Metres(depth + 1.4)),
    }
}

/// Coming to a place of the book.
pub fn near() -> Snapshot {
    let near = PlaceView {
        name: text("Hollow Ness"),
        distance: Metres(870.0),
        bearing: TrueBearing::new(214.0),
        shelter: "south to west".into(),
        barred: vec![Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(30.0) }],
        notes: vec!["Keep 150 m off the west shore: terns nest.".into()],
        last_ride: Some(PlaceRide {
            let_go: Some(NOW - Span::from_mins(340 * 24 * 60)),
            held: "Held for 11 h in 22 kn, gusts 31.".into(),
        }),
    };
    Snapshot { near: Some(near), ..with_marks(under_way()) }
}

/// Sailing over the place.
pub fn sounding() -> Snapshot {
    let soundings: Vec<SoundingView> = (0..60_i32)
        .map(|i| {
            let s = f64::from(i);
            sounded(
                i64::from(60 - i) / 10,
                -50.0 + 1.5 * s,
                20.0 * (s / 9.0).sin(),
                5.2 + 0.9 * (s / 7.0).cos(),
            )
        })
        .collect();
    let least = LeastDepth {
        sounding: soundings[22],
        under_keel: Metres(0.4),
        distance: Metres(31.0),
        bearing: TrueBearing::new(247.0),
        within: Metres(46.0),
        of: 41,
    };
    let base = with_marks(under_way());
    Snapshot {
        recon: ReconView {
            slope: None,
            since: Some(NOW - Span::from_mins(6)),
            here: soundings.last().copied(),
            last_time: Some(LastTime {
                charted: Metres(2.9),
                on: NOW - Span::from_mins(340 * 24 * 60),
                shoaled: Some(Metres(0.6)),
            }),
            soundings: Arc::new(soundings),
            least: Some(least),
        },
        ..base
    }
}

fn target() -> Target {
    Target {
        length: Metres(35.0),
        by: TargetBy::Scope,
        by_scope: Metres(35.0),
        by_wind: None,
        high_water: Metres(6.7),
        scope: 4.4,
    }
}

/// The rode goes out.
pub fn veering() -> Snapshot {
    let base = with_marks(setting());
    Snapshot {
        rode: RodeView { veered: Some(Metres(20.0)), ..base.rode.clone() },
        setting: SettingView {
            doing: Doing::Veering,
            target: Some(target()),
            marks: MarksView {
                here: mark(20.0, "two red links"),
                out: mark(30.0, "three red links"),
                inward: mark(10.0, "one red link"),
                target: mark(30.0, "three red links"),
            },
            advice: Some(Advice {
                next: "veer 15 m".into(),
                why: "20 m is scope 2.5 at the high water to come.".into(),
                pull: None,
            }),
            ..SettingView::default()
        },
        ..base
    }
}

fn pull(kind: PullKind, moved: f64, held: Held, taut: Taut, words: &str) -> PullSeen {
    PullSeen {
        kind,
        began: NOW - Span::from_secs(48),
        ended: Some(NOW - Span::from_secs(18)),
        lasted: Span::from_secs(30),
        moved: Some(Metres(moved)),
        toward: (moved > 2.0).then(|| TrueBearing::new(62.0)),
        speed_m_per_min: Some(if held == Held::Moved { 7.5 } else { 0.3 }),
        uncertainty: Metres(0.8),
        distance: Some(Metres(33.0)),
        reach: Some(Metres(34.0)),
        taut,
        held,
        rpm: Some(if kind == PullKind::HardBurst { 2040.0 } else { 1450.0 }),
        sprang_back: Some(Metres(1.2)),
        transit: Some(if held == Held::Moved { Transit::Opened } else { Transit::Stood }),
        reason: match (held, taut) {
            (Held::Moved, _) => "your transit opened",
            (_, Taut::Short) => "she stopped short of her rode",
            _ => "she stopped with the rode taut",
        },
        words: words.into(),
    }
}

fn dug(doing: Doing, last: PullSeen, advice: Advice) -> Snapshot {
    let base = with_marks(setting());
    let rpm = if matches!(doing, Doing::Pulling(_)) { 1450.0 } else { 780.0 };
    Snapshot {
        rode: quiet().rode,
        setting: SettingView {
            doing,
            target: Some(target()),
            transit: Some(Transit::Taken),
            pulls: vec![last],
            advice: Some(advice),
            ..SettingView::default()
        },
        revolutions: Reading::Now { value: rpm, at: NOW, source: text("engine/II") },
        ..base
    }
}

/// Engine astern at half throttle.
pub fn pulling() -> Snapshot {
    let mut last = pull(
        PullKind::HalfThrottle,
        1.4,
        Held::Held,
        Taut::Taut,
        "Half throttle astern for 22 s; bow moved 1.4 m, no more than the receiver wanders. Taut at 33 m of 34.",
    );
    last.ended = None;
    let advice = Advice {
        next: "hold it to half a minute, then neutral".into(),
        why: String::new(),
        pull: Some(PullKind::HardBurst),
    };
    dug(Doing::Pulling(PullKind::HalfThrottle), last, advice)
}

/// In neutral: it held.
pub fn held() -> Snapshot {
    let last = pull(
        PullKind::HalfThrottle,
        1.4,
        Held::Held,
        Taut::Taut,
        "30 s at half throttle moved the bow 1.4 m, no more than the receiver wanders. Taut at 33 m of 34; sprang \
         back 1.2 m.",
    );
    let advice = Advice {
        next: "hard burst astern".into(),
        why: "It held half throttle; a gust pulls harder.".into(),
        pull: Some(PullKind::HardBurst),
    };
    dug(Doing::Checking(PullKind::HalfThrottle), last, advice)
}

/// In neutral: it did not hold.
pub fn moved() -> Snapshot {
    let last = pull(
        PullKind::HardBurst,
        8.6,
        Held::Moved,
        Taut::Taut,
        "12 s of hard burst moved the bow 8.6 m toward 062°, still 7.5 m a minute at its end.",
    );
    let advice = Advice {
        next: "weigh and set it again".into(),
        why: "It ploughed under the burst; a gale pulls as hard.".into(),
        pull: None,
    };
    dug(Doing::Checking(PullKind::HardBurst), last, advice)
}

/// In neutral: she stopped too soon.
pub fn short() -> Snapshot {
    let mut last = pull(
        PullKind::Slow,
        3.0,
        Held::Held,
        Taut::Short,
        "She stopped at 19 m, the rode reaches 34: it may be fouled, or less is out than entered.",
    );
    last.distance = Some(Metres(19.0));
    let advice = Advice {
        next: "look where the rode leads, then pull again".into(),
        why: "A rode round a rock holds until it slips off.".into(),
        pull: Some(PullKind::Slow),
    };
    dug(Doing::Checking(PullKind::Slow), last, advice)
}

/// All pulls held.
pub fn lying() -> Snapshot {
    let last = pull(
        PullKind::HardBurst,
        1.1,
        Held::Held,
        Taut::Taut,
        "12 s of hard burst moved the bow 1.1 m. Taut.",
    );
    let advice = Advice {
        next: "u, brought up, if your bearings stood".into(),
        why: "It held slow, half throttle and a hard burst.".into(),
        pull: None,
    };
    dug(Doing::Lying, last, advice)
}

fn line(item: RoundItem, shows: &str) -> RoundLine {
    RoundLine { item, shows: shows.into() }
}

/// A beacon near by, a church, both in line, and a bearing taken by eye that does not fit.
fn marks() -> Vec<MarkView> {
    let mark = |name: &str, east: f64, north: f64| {
        let point = Local::new(east, north);
        MarkView {
            name: text(name),
            point,
            far: None,
            distance: Metres(point.length_m()),
            bearing: point.bearing(),
            arc: arc(point, Metres(47.0)),
            arc_now: arc(point, Metres(44.0)),
            seen: Some(point.bearing().turned(3.0)),
            opening_deg: None,
            open_now_deg: None,
            taken: None,
        }
    };
    let mut beacon = mark("beacon", 68.0, -42.0);
    let mut church = mark("church", -420.0, 610.0);
    let taken = |bearing: f64, outside_deg: f64| TakenView {
        at: NOW - Span::from_mins(76),
        bearing: TrueBearing::new(bearing),
        outside_deg,
        off_fix_deg: Some(1.0),
    };
    beacon.taken = Some(taken(118.0, 0.0));
    church.taken = Some(taken(331.0, 7.0));
    let point = Local::new(-380.0, 552.0);
    let mut in_line = mark("church over mole", -380.0, 552.0);
    (in_line.far, in_line.opening_deg, in_line.open_now_deg) =
        (Some(church.point), opening_deg(point, church.point, Metres(47.0)), Some(-0.4));
    vec![beacon, church, in_line]
}

/// The next round is ahead.
pub fn rounds() -> Snapshot {
    let on = |name: &str, from: i64, until: i64| OnWatch {
        name: text(name),
        from: NOW + Span::from_mins(from),
        until: NOW + Span::from_mins(until),
    };
    let own = RoundItem::Own("dinghy painter".into());
    let usual = [RoundItem::Bearings, RoundItem::Lights, RoundItem::Depth];
    let done = vec![
        RoundDone {
            at: NOW - Span::from_mins(253),
            by: Some("Ansel".into()),
            checked: RoundItem::USUAL.to_vec(),
            differs: Vec::new(),
        },
        RoundDone {
            at: NOW - Span::from_mins(76),
            by: Some("Tove".into()),
            checked: usual.to_vec(),
            differs: vec![Differs {
                item: RoundItem::Snubber,
                note: "chafed at the roller, freshened the nip".into(),
            }],
        },
    ];
    Snapshot {
        marks: Arc::new(marks()),
        variation_deg: Some(4.2),
        setting: SettingView {
            leaving: Some(Leaving {
                reasonable: false,
                held_for: Some(Span::from_mins(372)),
                not_yet: vec!["she has not lain to the other stream yet".into()],
            }),
            ..SettingView::default()
        },
        lights: LightsView {
            sun_up: Some(false),
            now: by_night(Metres(9.6)),
            until: Some(NOW + Span::from_mins(168)),
            then: by_day(),
            notes: notes(Metres(9.6)),
        },
        rounds: RoundsView {
            state: RoundState::Ahead,
            every: Some(Span::from_mins(120)),
            every_now: Some(Span::from_mins(90)),
            shortened: vec!["wind 26 kn, rising".into()],
            due: Some(NOW + Span::from_mins(14)),
            lines: vec![
                line(RoundItem::Bearings, "beacon 086° to 158°, church 322° to 329°"),
                line(RoundItem::Lights, "anchor light until 05:02"),
                line(RoundItem::Snubber, "0.6 kN on the rode, most 1.9 kN at 00:03"),
                line(RoundItem::Depth, "3.0 m by the sounder, 3.0 m by the tide"),
                line(RoundItem::Wind, "12 kn from 233°, gusts 21, backed 18°"),
                line(RoundItem::Neighbours, "nothing heard by AIS"),
                line(own, ""),
            ],
            done: Arc::new(done),
            on_now: Some(on("Tove", -14, 106)),
            next: Some(on("Ansel", 106, 286)),
        },
        ..with_marks(quiet())
    }
}

/// The next round is late.
pub fn round_due() -> Snapshot {
    let base = rounds();
    let rounds = RoundsView {
        state: RoundState::Overdue,
        due: Some(NOW - Span::from_mins(12)),
        every_now: base.rounds.every,
        shortened: Vec::new(),
        ..base.rounds
    };
    Snapshot { rounds, ..base }
}

fn weighing(out: f64, distance: f64, up_and_down: UpAndDown, next: &str) -> Snapshot {
    let base = with_marks(quiet());
    Snapshot {
        stage: Stage::Weighing,
        stage_since: NOW - Span::from_mins(4),
        verdict: Verdict::Weighing,
        verdict_since: NOW - Span::from_mins(4),
        anchor_off: Some((Metres(distance), TrueBearing::new(235.0))),
        rode: RodeView { veered: Some(Metres(out)), ..base.rode.clone() },
        setting: SettingView {
            marks: MarksView {
                inward: mark(10.0, "one red link").filter(|mark| mark.at.0 < out),
                ..MarksView::default()
            },
            ..SettingView::default()
        },
        weighing: Some(WeighingView {
            since: NOW - Span::from_mins(4),
            to_anchor: Some((Metres(distance), TrueBearing::new(235.0))),
            uncertainty: Some(Metres(2.0)),
            out: Some(Metres(out)),
            straight_down: Some(Metres(4.2)),
            up_and_down,
            aweigh: None,
            drift: Some((Metres(3.0), TrueBearing::new(61.0))),
            drifting_for: Some(Span::from_secs(40)),
            next: next.into(),
            remind: REMIND.to_vec(),
        }),
        ..base
    }
}

/// Heaving in.
pub fn heaving_in() -> Snapshot {
    weighing(20.0, 17.0, UpAndDown::Not, "Slow ahead toward 235°, 17 m. Heave in as the rode falls slack.")
}

/// Straight down.
pub fn up_and_down() -> Snapshot {
    weighing(
        5.0,
        2.0,
        UpAndDown::UpAndDown,
        "Up and down. Make fast, let her weight break it out, then heave.",
    )
}

/// Off the ground, still on the rode.
pub fn aweigh() -> Snapshot {
    let base = up_and_down();
    let weighing = base.weighing.clone().map(|view| WeighingView {
        aweigh: Some(NOW - Span::from_secs(40)),
        next: "Anchor aweigh. Stow it, then wash and secure it; watch the drift.".into(),
        remind: Vec::new(),
        ..view
    });
    Snapshot { weighing, wind: WindView { gust: Some(Knots(18.0)), ..quiet().wind }, ..under_way() }
}
