//! Is she watched? Each kind of alert can be raised in a live watch, and whatever happens an anchor that is down is judged or an
//! alert says why not.

use proptest::prelude::*;

use crate::support::Run;
use nightrode::watch::alert::{AlertKind, Change, Priority};
use nightrode::watch::boat::{Limits, Settings};
use nightrode::watch::forecast::{Forecast, WindThen};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{
    Awake, Command, Device, DropMove, Event, Kept, TideEntered, TurnKind, TypedTurn,
};
use nightrode::watch::snapshot::{Snapshot, Stage};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use nightrode::watch::wake::WakeFor;

/// Where she lies, 20 m from her anchor.
fn lying(_: i64) -> Local {
    Local::new(0.0, -20.0)
}

fn let_go() -> Command {
    Command::LetGo { veered: Some(Metres(30.0)), depth: None, place: "Hollow Ness".into() }
}

fn anchored_and(play: impl FnOnce(&mut Run)) -> Run {
    let mut run = Run::anchored();
    play(&mut run);
    run
}

/// Goes off to the south after 20 minutes, so many metres a second.
fn going_off(mps: f64, seconds: i64) -> Run {
    anchored_and(|run| {
        run.lie_for(1200, |s| {
            Local::new(3.0 * (s as f64 / 15.0).sin(), -20.0 + 0.4 * (s as f64 / 40.0).cos())
        });
        run.lie_for(seconds, |s| Local::new(3.0 * (s as f64 / 15.0).sin(), -20.0 - mps * s as f64));
    })
}

fn with_tide(hours: &[(i64, f64, TurnKind)], play: impl FnOnce(&mut Run)) -> Run {
    let turn = |(hour, height_m, kind): &(i64, f64, TurnKind)| TypedTurn {
        time: crate::support::START + Span::from_mins(60 * hour),
        height: Metres(*height_m),
        kind: *kind,
    };
    let turns = hours.iter().map(turn).collect();
    anchored_and(|run| {
        run.crew(Command::Tide(TideEntered::Table { turns }));
        run.lie_for(5, lying);
        play(run);
    })
}

fn after(seconds: i64, change: impl FnOnce(&mut Run)) -> Run {
    anchored_and(|run| {
        run.lie_for(60, lying);
        change(run);
        run.lie_for(seconds, lying);
    })
}

fn device(device: Device) -> Run {
    after(2, |run| drop(run.event(Event::Device(device))))
}

/// A live watch in which an alert of that kind is raised.
fn raising(kind: AlertKind) -> Run {
    use TurnKind::{High, Low};
    match kind {
        AlertKind::Drag => going_off(0.2, 400),
        // Slowly, by fixes that wander: what wanders less is called dragging at once.
        AlertKind::Creep => anchored_and(|run| {
            let wanders =
                |s: i64| Local::new(3.0 * (s as f64 / 15.0).sin(), -20.0 + 4.0 * (s as f64 / 24.0).sin());
            run.lie_for(3600, wanders);
            run.lie_for(5000, |s| wanders(s) - Local::new(0.0, 0.006 * s as f64));
        }),
        AlertKind::Outside => going_off(1.0, 120),
        AlertKind::FixLost => after(30, |run| run.instruments.position = false),
        // The receiver says the same again and again.
        AlertKind::FixDoubtful => after(0, |run| {
            run.instruments.position = false;
            for _ in 0..60 {
                run.say("GPGGA,200230.00,5200.0000,N,02000.0000,W,1,10,0.9,5.0,M,,M,,");
                run.lie_for(1, lying);
            }
        }),
        AlertKind::WindShift => anchored_and(|run| {
            run.lie_for(900, lying);
            run.instruments.wind_from = 80.0;
            run.lie_for(900, lying);
        }),
        AlertKind::WindHigh => after(600, |run| run.instruments.wind_kn = 40.0),
        AlertKind::Shallow => after(30, |run| run.instruments.depth_below_transducer_m = 1.0),
        AlertKind::Shoaling => with_tide(&[(-1, 4.0, High), (5, 1.0, Low), (11, 4.2, High)], |_| ()),
        AlertKind::ScopeShort => with_tide(&[(-1, 1.0, Low), (5, 9.0, High), (11, 1.0, Low)], |_| ()),
        AlertKind::DepthOdd => with_tide(&[(-1, 4.0, High), (5, 1.0, Low)], |run| {
            run.lie_for(300, lying);
            run.instruments.depth_below_transducer_m = 6.5;
            run.lie_for(300, lying);
        }),
        AlertKind::TideEnds => {
            with_tide(&[(-6, 1.0, Low), (0, 1.5, High), (1, 1.4, Low)], |run| run.lie_for(120, lying))
        }
        AlertKind::HeadingLost => after(40, |run| run.instruments.heading = false),
        AlertKind::WindLost => after(40, |run| run.instruments.wind = false),
        AlertKind::DepthLost => after(40, |run| run.instruments.depth = false),
        AlertKind::Closing => anchored_and(|run| {
            for s in 0..120 {
                run.vessel(211_000_001, Local::new(0.0, 600.0 - 3.0 * f64::from(s)), 6.0, 180.0);
                run.lie_for(1, lying);
            }
        }),
        AlertKind::RoundDue => after(700, |run| {
            let limits = Limits { round_every: Some(Span::from_mins(10)), ..Limits::default() };
            run.crew(Command::Limits(limits));
        }),
        AlertKind::LightDue => after(2 * 3600 - 200, |_| ()),
        AlertKind::Gap => after(2, |run| run.sleep_for(Span::from_mins(5))),
        AlertKind::ClockWrong => device(Device::Clock { behind: Some(Span::from_mins(20)) }),
        AlertKind::RideDamaged => {
            let damage = Event::Damage { found: 1, what: "journal.jsonl, line 4".into() };
            after(2, |run| drop(run.event(damage)))
        }
        AlertKind::TakenOver => {
            let silent_since = Some(crate::support::START);
            after(2, |run| drop(run.event(Event::Kept(Kept { term: 2, by: "bunk".into(), silent_since }))))
        }
        AlertKind::Wake => after(2, |run| {
            drop(run.crew(Command::Wake(WakeFor { at: Some(WatchTime(0)), ..WakeFor::default() })))
        }),
        AlertKind::NotAsForecast => anchored_and(|run| {
            let from = Some(TrueBearing::new(120.0));
            let wind = WindThen { at: crate::support::START, from, mean: Knots(12.0), gust: None };
            run.crew(Command::WindAhead { winds: Some(Forecast::steady(wind)) });
            run.lie_for(1500, lying);
        }),
        AlertKind::PowerLow => device(Device::Power { low_percent: Some(9), charge: None }),
        AlertKind::MaySleep => {
            device(Device::Awake { awake: Awake::Refused { why: "nobody to ask".into() } })
        }
        AlertKind::HookFailed => device(Device::Hook { failed: Some("No route.".into()) }),
        AlertKind::DiskLow => device(Device::Disk { failed: Some("disk full".into()) }),
        AlertKind::SoundFailed => device(Device::Sound { failed: Some("no card".into()) }),
        AlertKind::Unwatched => after(40, |run| drop(run.crew(Command::Veered { length: Metres(0.0) }))),
    }
}

#[test]
fn every_kind_of_alert_is_raised_by_something_in_a_live_watch() {
    for kind in AlertKind::ALL {
        let run = raising(kind);
        let raised = run.raised_of(kind).unwrap_or_else(|| panic!("{} is never raised", kind.name()));
        assert!(kind.about().priorities.contains(&raised.alert.priority), "{raised:?}");
        assert!(!raised.alert.reason.what.is_empty() && !raised.alert.reason.action.is_empty(), "{raised:?}");
    }
}

#[test]
fn an_anchor_let_go_before_any_position_is_not_a_calm_screen() {
    let mut run = Run::with(Settings::default());
    run.instruments.position = false;
    run.lie_for(5, lying);
    run.crew(let_go());
    run.lie_for(40, lying);
    if run.snapshot().drop.is_none() {
        let raised = run.raised_of(AlertKind::Unwatched).expect("an alert");
        assert_eq!(raised.alert.priority, Priority::Warning);
    }
}

#[test]
fn a_drop_point_that_is_entered_ends_it() {
    let mut run = Run::anchored();
    run.crew(Command::Veered { length: Metres(0.0) });
    run.lie_for(40, lying);
    assert!(run.active(AlertKind::Unwatched).is_some());
    run.crew(Command::Veered { length: Metres(30.0) });
    run.lie_for(2, lying);
    assert!(run.change_of(AlertKind::Unwatched, Change::Rectified).is_some());
}

/// A stretch of a night: what the crew does or the boat suffers, and for how long.
#[derive(Clone, Debug)]
enum Stretch {
    Crew(Command),
    Position(bool),
    Spare(bool),
    Heading(bool),
    Depth(bool),
    Sleep(i64),
    Jump(i64),
    Lie(i64, f64),
}

fn stretch() -> impl Strategy<Value = Stretch> {
    let veered = prop_oneof![Just(0.0), Just(3.0), 10.0..60.0].prop_map(Metres);
    let place = || "Hollow Ness".to_owned();
    let command = prop_oneof![
        3 => Just(let_go()),
        1 => Just(Command::Lying { veered: None, place: place() }),
        1 => Just(Command::Lying { veered: Some(Metres(30.0)), place: place() }),
        2 => Just(Command::BroughtUp),
        1 => veered.prop_map(|length| Command::Veered { length }),
        1 => Just(Command::MoveDrop(DropMove::FromBow { bearing: TrueBearing::new(0.0), distance: Metres(20.0) })),
        1 => Just(Command::Weigh),
        1 => Just(Command::Stay),
        1 => Just(Command::Aweigh),
        2 => Just(Command::Acknowledge { kind: None }),
        1 => (5_i64..120).prop_map(|s| Command::Limits(Limits { fix_lost_after: Span::from_secs(s), ..Limits::default() })),
    ];
    prop_oneof![
        5 => command.prop_map(Stretch::Crew),
        3 => any::<bool>().prop_map(Stretch::Position),
        1 => any::<bool>().prop_map(Stretch::Spare),
        1 => any::<bool>().prop_map(Stretch::Heading),
        1 => any::<bool>().prop_map(Stretch::Depth),
        1 => (1_i64..2000).prop_map(Stretch::Sleep),
        1 => (1_i64..2000).prop_map(Stretch::Jump),
        8 => (1_i64..300, -40.0..40.0).prop_map(|(seconds, east_m)| Stretch::Lie(seconds, east_m)),
    ]
}

/// A look is taken every so many seconds: a picture of everything costs time.
const LOOK_EVERY_S: i64 = 5;

/// For how many seconds each thing has been so without an alert that says so.
#[derive(Debug, Default)]
struct Blind {
    incomplete_s: i64,
    unseen_s: i64,
    weighing_s: i64,
}

impl Blind {
    fn look(&mut self, snap: &Snapshot) {
        let rides = matches!(snap.stage, Stage::Setting | Stage::BroughtUp);
        let complete = snap.drop.is_some() && snap.circle.set.is_some();
        let stands = |kinds: &[AlertKind]| {
            snap.alerts.iter().any(|alert| kinds.contains(&alert.kind) && alert.rectified.is_none())
        };
        let unwatched = stands(&[AlertKind::Unwatched]);
        let any = unwatched || stands(&[AlertKind::FixLost, AlertKind::FixDoubtful]);
        let count = |seconds: i64, so: bool| if so { seconds + LOOK_EVERY_S } else { 0 };
        self.incomplete_s = count(self.incomplete_s, rides && !complete && !unwatched);
        self.unseen_s = count(self.unseen_s, rides && complete && snap.room.is_none() && !any);
        self.weighing_s = count(self.weighing_s, snap.stage == Stage::Weighing && !unwatched);
    }

    /// What is blind for longer than it may be, and no alert says so.
    fn unreported(&self) -> Option<&'static str> {
        // A look may come late at the beginning, and at the end.
        const SLACK_S: i64 = 2 * LOOK_EVERY_S;
        [
            (self.incomplete_s, 30, "no drop point or no circle"),
            // The longest that no position may go unreported, and a receiver that settles.
            (self.unseen_s, 120 + 90, "no position held against the circle"),
            (self.weighing_s, 20 * 60, "weighing"),
        ]
        .into_iter()
        .find_map(|(seconds, most, what)| (seconds > most + SLACK_S).then_some(what))
    }
}

fn play(run: &mut Run, stretch: &Stretch) -> i64 {
    let mut seconds = 1;
    match stretch {
        Stretch::Crew(command) => drop(run.crew(command.clone())),
        Stretch::Position(on) => run.instruments.position = *on,
        Stretch::Spare(on) => run.spare_offset = on.then(|| Local::new(90.0, 0.0)),
        Stretch::Heading(on) => run.instruments.heading = *on,
        Stretch::Depth(on) => run.instruments.depth = *on,
        Stretch::Sleep(s) => run.sleep_for(Span::from_secs(*s)),
        Stretch::Jump(s) => run.jump_without_notice(Span::from_secs(*s)),
        Stretch::Lie(s, _) => seconds = *s,
    }
    seconds
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]
    #[test]
    fn an_anchor_that_is_down_is_judged_or_an_alert_says_why_not(
        night in prop::collection::vec(stretch(), 1..24)
    ) {
        let mut run = Run::with(Settings::default());
        let mut blind = Blind::default();
        run.lie_for(20, lying);
        for stretch in &night {
            let slept = matches!(stretch, Stretch::Sleep(_) | Stretch::Jump(_));
            let east_m = if let Stretch::Lie(_, east_m) = stretch { *east_m } else { 0.0 };
            if slept {
                // What was so before says nothing of now.
                blind = Blind::default();
            }
            let looks = (play(&mut run, stretch) + LOOK_EVERY_S - 1) / LOOK_EVERY_S;
            for _ in 0..looks {
                run.lie_for(LOOK_EVERY_S, |_| Local::new(east_m, -20.0));
                let snap = run.snapshot();
                blind.look(&snap);
                prop_assert!(
                    blind.unreported().is_none(),
                    "{:?}: {blind:?} at {:?}: {:?}", blind.unreported(), snap.at, snap.alerts
                );
            }
        }
    }
}
