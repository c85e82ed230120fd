//! Properties of the judge of dragging: what must change nothing, what must never cry wolf, what must be followed.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use nightrode::sim::Dice;
use nightrode::watch::boat::{Boat, Tackle};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::holding::{Conditions, Fix, FixKind, Holding, HoldingState};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};

const START: WatchTime = WatchTime(1_780_516_800_000);
const VEERED: Metres = Metres(40.0);
/// Where the bow lies to a taut rode of that length in 7 m and 20 kn, metres from the anchor.
const LIES_M: f64 = 38.5;

/// One second of a night, on the plane about the mark.
#[derive(Clone, Copy)]
struct Second {
    fix: Local,
    velocity: Local,
    heading: TrueBearing,
    wind_angle_deg: f64,
}

fn home() -> Position {
    Position::new(50.0, -4.0).unwrap()
}

/// Fixes that err by a metre or so, with a memory of two minutes.
fn noise(seconds: usize, sigma_m: f64, seed: u64) -> Vec<Local> {
    let mut dice = Dice::new(seed, 1);
    let keep = (-1.0_f64 / 120.0).exp();
    let fresh = sigma_m * (1.0 - keep * keep).sqrt();
    let mut error = Local::default();
    (0..seconds)
        .map(|_| {
            error = error.scaled(keep) + Local::new(fresh * dice.normal(), fresh * dice.normal());
            error
        })
        .collect()
}

/// She lies to a wind that wanders about west and sheers; from `drags_at` on the anchor comes home at 0.15 m/s.
fn night(hours: f64, drags_at: Option<f64>, seed: u64) -> Vec<Second> {
    let seconds = (3600.0 * hours) as usize;
    let errors = noise(seconds, 0.8, seed);
    let bow = |s: f64| {
        let wind = 270.0 + 25.0 * (s / 3000.0).sin();
        let sheer = 14.0 * (s * std::f64::consts::TAU / 95.0).sin();
        let moved = drags_at.map_or(0.0, |at| 0.15 * (s - at).max(0.0));
        let lee = TrueBearing::new(wind + 180.0);
        (Local::polar(lee.turned(sheer), LIES_M) + Local::polar(lee, moved), sheer, lee)
    };
    (0..seconds)
        .map(|i| {
            let s = i as f64;
            let ((place, sheer, lee), (before, ..)) = (bow(s), bow(s - 1.0));
            Second {
                fix: place + errors[i],
                velocity: place - before,
                heading: lee.turned(sheer).reversed(),
                wind_angle_deg: -sheer,
            }
        })
        .collect()
}

fn boat() -> Boat {
    Boat { antenna_aft: Metres(0.0), antenna_starboard: Metres(0.0), ..Boat::default() }
}

fn let_go_at(mark: Position) -> Holding {
    let mut holding = Holding::new(&boat(), &Tackle::default());
    holding.let_go(START, mark, VEERED, Some(Metres(7.0)), Metres(0.0));
    holding
}

fn tell(holding: &mut Holding, plane: &Plane, at: i64, now: &Second) {
    let mut fix = Fix::at(plane.to_position(now.fix));
    fix.sog = Some(Knots::from_mps(now.velocity.length_m()));
    fix.cog = Some(now.velocity.bearing());
    pass(holding, at, Some(&fix), now);
}

fn pass(holding: &mut Holding, at: i64, fix: Option<&Fix>, now: &Second) {
    if let Some(fix) = fix {
        holding.fix(START + Span(at * 1000 - 800), fix);
    }
    let wind = Some((now.wind_angle_deg, Knots(20.0)));
    let heading = Some(now.heading);
    holding.second(
        START + Span(at * 1000),
        &Conditions { heading, apparent_wind: wind, ..Conditions::default() },
    );
}

/// What came of a night: the second of the first `drag`, and the evidence each minute.
#[derive(Debug)]
struct Judged {
    drag: Option<i64>,
    evidence: Vec<f64>,
}

fn judged(night: &[Second], mark: Position) -> Judged {
    let plane = Plane::new(mark);
    let mut holding = let_go_at(mark);
    let mut judged = Judged { drag: None, evidence: Vec::new() };
    for (i, now) in night.iter().enumerate() {
        let at = i as i64 + 1;
        tell(&mut holding, &plane, at, now);
        if judged.drag.is_none() && holding.state() == HoldingState::Dragging {
            judged.drag = Some(at);
        }
        if at % 60 == 0 && judged.drag.is_none() {
            judged.evidence.push(holding.verdict().evidence);
        }
    }
    judged
}

/// Both nights end alike: the same alarm within a minute, the evidence alike till then.
fn same(what: &str, one: &Judged, other: &Judged, most: f64) {
    match (one.drag, other.drag) {
        (None, None) => {}
        (Some(a), Some(b)) => assert!((a - b).abs() <= 60, "{what}: {a} {b}"),
        _ => panic!("{what}: {:?} {:?}", one.drag, other.drag),
    }
    let minutes = one.evidence.len().min(other.evidence.len()).saturating_sub(2);
    let worst = (0..minutes).map(|i| (one.evidence[i] - other.evidence[i]).abs()).fold(0.0, f64::max);
    println!("{what}: drag {:?} {:?}, evidence differs by {worst:.4} at most", one.drag, other.drag);
    assert!(worst <= most, "{what}: {worst}");
}

fn turned(night: &[Second], deg: f64) -> Vec<Second> {
    let turn = |p: Local| Local::polar(p.bearing().turned(deg), p.length_m());
    let each = |s: &Second| Second {
        fix: turn(s.fix),
        velocity: turn(s.velocity),
        heading: s.heading.turned(deg),
        ..*s
    };
    night.iter().map(each).collect()
}

fn mirrored(night: &[Second]) -> Vec<Second> {
    let each = |s: &Second| Second {
        fix: Local::new(-s.fix.east_m, s.fix.north_m),
        velocity: Local::new(-s.velocity.east_m, s.velocity.north_m),
        heading: TrueBearing::new(-s.heading.degrees()),
        wind_angle_deg: -s.wind_angle_deg,
    };
    night.iter().map(each).collect()
}

#[test]
fn turning_or_mirroring_a_night_changes_nothing() {
    for drags_at in [None, Some(5400.0)] {
        let night = night(2.0, drags_at, 3);
        let one = judged(&night, home());
        assert_eq!(one.drag.is_some(), drags_at.is_some(), "{one:?}");
        // The cells are a square grid: turned by a right angle it is the same, by any other angle nearly.
        same("mirrored", &one, &judged(&mirrored(&night), home()), 0.02);
        same("turned 90", &one, &judged(&turned(&night, 90.0), home()), 0.02);
        same("turned 217", &one, &judged(&turned(&night, 217.0), home()), 0.2);
    }
}

#[test]
fn another_place_on_earth_or_a_bias_of_all_fixes_changes_nothing() {
    let night = night(2.0, Some(5400.0), 4);
    let one = judged(&night, home());
    let biased = Plane::new(home()).to_position(Local::new(-31.0, 44.0));
    for (what, place) in [
        ("biased", biased),
        ("in the tropics", Position::new(9.0, 178.0).unwrap()),
        ("in the south", Position::new(-43.0, 147.0).unwrap()),
        ("in the north", Position::new(66.0, 13.0).unwrap()),
    ] {
        same(what, &one, &judged(&night, place), 0.02);
    }
}

#[test]
fn a_boat_that_stands_still_never_drags_in_twelve_hours() {
    for (seed, sigma_m) in [(1, 0.5), (2, 1.5), (3, 4.0)] {
        let place = Local::new(20.0, -10.0);
        let still = |error: &Local| Second {
            fix: place + *error,
            velocity: Local::default(),
            heading: place.bearing().reversed(),
            wind_angle_deg: 0.0,
        };
        let night: Vec<Second> = noise(12 * 3600, sigma_m, seed).iter().map(still).collect();
        let judged = judged(&night, home());
        assert_eq!(judged.drag, None, "{sigma_m} m");
    }
}

#[test]
fn bad_fixes_alone_never_cause_drag() {
    let night = night(4.0, None, 5);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    let mut frozen = None;
    for (i, now) in night.iter().enumerate() {
        let at = i as i64 + 1;
        let mut fix = Fix { kind: FixKind::ThreeD, ..Fix::at(plane.to_position(now.fix)) };
        let (minute, second) = (at / 60, at % 60);
        match minute {
            // Two dimensions, far off, for ten minutes.
            60..70 => {
                fix.position = plane.to_position(now.fix + Local::new(-60.0, 45.0));
                fix.kind = FixKind::TwoD;
            }
            // A poor HDOP, the position to match.
            90..100 => {
                fix.position = plane.to_position(now.fix + Local::new(50.0, 0.0));
                fix.hdop = Some(9.0);
            }
            // The same position again and again.
            120..130 => fix.position = *frozen.get_or_insert(fix.position),
            // A leap of three seconds in each minute.
            150..200 if second < 3 => fix.position = plane.to_position(now.fix + Local::new(0.0, 300.0)),
            // Called doubtful by the watch itself.
            210..215 => {
                fix.position = plane.to_position(now.fix + Local::new(80.0, 0.0));
                fix.doubtful = true;
            }
            _ => {}
        }
        pass(&mut holding, at, Some(&fix), now);
        assert_ne!(holding.state(), HoldingState::Dragging, "minute {minute}");
    }
}

#[test]
fn rode_veered_and_shortened_is_followed() {
    let calm = night(3.0, None, 6);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    let mut extra = 0.0_f64;
    for (i, now) in calm.iter().enumerate() {
        let at = i as i64 + 1;
        match at {
            3600 => holding.veered(START + Span(at * 1000), Metres(60.0)),
            7200 => holding.veered(START + Span(at * 1000), VEERED),
            _ => {}
        }
        let wanted = if (3600..7200).contains(&at) { 20.0 } else { 0.0 };
        extra += (wanted - extra).clamp(-0.3, 0.3);
        let out = now.fix + Local::polar(now.fix.bearing(), extra);
        tell(&mut holding, &plane, at, &Second { fix: out, ..*now });
        assert_ne!(holding.state(), HoldingState::Dragging, "{at} s");
    }
}

#[test]
fn a_drop_point_that_is_corrected_is_believed_afresh() {
    let night = night(2.0, None, 7);
    let plane = Plane::new(home());
    // Marked 45 m too far to leeward by mistake.
    let wrong = plane.to_position(Local::new(45.0, 0.0));
    let mut holding = let_go_at(wrong);
    for (i, now) in night.iter().enumerate() {
        let at = i as i64 + 1;
        if at == 600 {
            holding.let_go(START + Span(at * 1000), home(), VEERED, Some(Metres(7.0)), Metres(0.0));
        }
        tell(&mut holding, &plane, at, now);
        assert!(at < 600 || holding.state() != HoldingState::Dragging, "{at} s");
    }
    let (distance, _) = holding.verdict().from_mark.unwrap();
    assert!(distance.0 < 6.0, "{distance:?}");
}

#[test]
fn a_fresh_let_go_after_dragging_is_judged_from_the_beginning() {
    let first = night(1.5, Some(3600.0), 8);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    for (i, now) in first.iter().enumerate() {
        tell(&mut holding, &plane, i as i64 + 1, now);
    }
    assert_eq!(holding.state(), HoldingState::Dragging);
    let again = plane.to_position(Local::new(300.0, 80.0));
    let from = first.len() as i64;
    let doubt = Metres(0.0);
    holding.let_go(START + Span(from * 1000), again, VEERED, Some(Metres(7.0)), doubt);
    let plane = Plane::new(again);
    for (i, now) in night(1.0, None, 9).iter().enumerate() {
        tell(&mut holding, &plane, from + i as i64 + 1, now);
        assert_ne!(holding.state(), HoldingState::Dragging, "{i} s");
    }
}

#[test]
fn drag_once_called_stays_until_the_crew_says_that_she_lies_here() {
    let drags = night(1.5, Some(3600.0), 8);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    for (i, now) in drags.iter().enumerate() {
        tell(&mut holding, &plane, i as i64 + 1, now);
    }
    // She fetches up and lies still for an hour: what was called stands, with how far she has gone.
    let last = *drags.last().unwrap();
    let went = last.fix.length_m() - LIES_M;
    let from = drags.len() as i64;
    for at in from + 1..=from + 3600 {
        tell(&mut holding, &plane, at, &Second { velocity: Local::default(), ..last });
        assert_eq!(holding.state(), HoldingState::Dragging);
    }
    let moved = holding.verdict().moved.unwrap();
    assert!((moved.distance.0 - went).abs() < 12.0, "{moved:?} {went}");
    let place = holding.lies_here(START + Span((from + 3600) * 1000)).unwrap();
    // The anchor is taken to lie ahead of her by the reach of the rode.
    let off = (plane.to_local(place) - last.fix).length_m();
    assert!((off - LIES_M).abs() < 3.0, "{off}");
    for at in from + 3601..=from + 5400 {
        tell(&mut holding, &plane, at, &Second { velocity: Local::default(), ..last });
        assert_ne!(holding.state(), HoldingState::Dragging, "{at}");
    }
}

#[test]
fn an_excursion_that_the_velocity_knows_nothing_of_calls_nobody() {
    let mut night = night(3.0, None, 12);
    // Reflections: 12 m off downwind for two minutes and back, three times; the velocity stays what it is.
    for begins in [4000, 6500, 9000] {
        for second in &mut night[begins..begins + 120] {
            second.fix = second.fix + Local::new(12.0, 0.0);
        }
    }
    assert_eq!(judged(&night, home()).drag, None);
}

#[test]
fn a_gap_is_passed_over_and_a_drag_after_it_is_called() {
    let night = night(3.0, Some(8400.0), 10);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    let mut called = None;
    for (i, now) in night.iter().enumerate() {
        let at = i as i64 + 1;
        if (3600..6000).contains(&at) {
            continue;
        }
        if at == 6000 {
            holding.gap(START + Span(3_600_000), START + Span(6_000_000));
        }
        tell(&mut holding, &plane, at, now);
        if called.is_none() && holding.state() == HoldingState::Dragging {
            called = Some(at);
        }
    }
    let called = called.expect("called");
    assert!((8400..8700).contains(&called), "{called}");
}

#[test]
fn trust_grows_while_she_holds_and_the_belief_tells_how_sure_it_is() {
    let night = night(2.0, None, 11);
    let plane = Plane::new(home());
    let mut holding = let_go_at(home());
    let mut ready = Vec::new();
    for (i, now) in night.iter().enumerate() {
        let at = i as i64 + 1;
        if at == 600 {
            holding.brought_up(START + Span(at * 1000));
        }
        tell(&mut holding, &plane, at, now);
        if at % 1200 == 0 {
            ready.push(holding.verdict().ready);
        }
    }
    assert!(ready.windows(2).all(|pair| pair[1] >= pair[0]), "{ready:?}");
    assert!(ready[0] < 0.9 && *ready.last().unwrap() > 0.9, "{ready:?}");
    let belief = holding.verdict().belief.unwrap();
    let off = Plane::new(home()).to_local(belief.centre).length_m();
    assert!(belief.minor <= belief.major && off < 3.0 * belief.major.0.max(1.0), "{belief:?}");
}

/// A receiver that reports once a minute for thirty days.
#[test]
fn thirty_days_take_no_more_room_than_one() {
    let place = Plane::new(home());
    let errors = noise(30 * 1440, 1.0, 12);
    let mut holding = let_go_at(home());
    let mut room = Vec::new();
    for (minute, error) in errors.iter().enumerate() {
        let fix = Fix::at(place.to_position(Local::new(25.0, 0.0) + *error));
        holding.fix(START + Span(minute as i64 * 60_000 + 200), &fix);
        for second in 1..=60 {
            holding.second(START + Span(minute as i64 * 60_000 + second * 1000), &Conditions::default());
        }
        if (minute + 1) % 1440 == 0 {
            // Everything that it keeps, as text.
            room.push(format!("{holding:?}").len());
        }
    }
    let (first, most) = (room[0], *room.iter().max().unwrap());
    println!("{first} characters after a day, at most {most} in thirty");
    assert!(most < first + first / 4, "{room:?}");
}
