//! The watch as a whole: lines and crew's acts in, alerts out. Times are simulated; nothing sleeps.

use crate::support::{Run, START};
use nightrode::watch::Watch;
use nightrode::watch::alert::{AlertKind, AlertState, Change, Priority};
use nightrode::watch::boat::{FeedSettings, Limits, Sector, Settings};
use nightrode::watch::forecast::{Forecast, WindThen};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::input::{
    Command, Device, DropMove, Event, Input, RoundItem, RoundMade, TideEntered, TurnKind, TypedTurn,
};
use nightrode::watch::marks::{Bearings, MarkEntered};
use nightrode::watch::output::{EndedBy, Output};
use nightrode::watch::refusal::Refusal;
use nightrode::watch::snapshot::{FixQuality, HeadingBasis, Snapshot, Stage, Verdict};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use nightrode::watch::wake::WakeFor;
use nightrode::watch::way_out::WayOut;

#[test]
fn a_boat_that_lies_quietly_raises_nothing() {
    let mut run = Run::anchored();
    run.lie_for(3600, |s| Local::new(0.4 * (s as f64 / 40.0).sin(), -20.0));
    assert_eq!(run.raised(), [], "{:?}", run.changes());
    assert_eq!(run.snapshot().verdict, Verdict::Holding);
}

#[test]
fn the_drop_point_is_marked_at_the_bow() {
    let run = Run::anchored();
    let drop = run.snapshot().drop.expect("a drop point");
    let plane = run.plane();
    // Antenna 9 m aft of the bow, heading north when let go at the origin: the bow was 9 m north of it.
    let at = plane.to_local(drop.position);
    assert!((at.north_m - 9.0).abs() < 0.3 && at.east_m.abs() < 0.3, "{at:?}");
}

#[test]
fn outside_the_circle_is_an_alarm_after_its_patience_and_not_before() {
    let mut run = Run::anchored();
    run.lie_for(600, |_| Local::new(0.0, -20.0));
    let left = run.now();
    run.lie_for(120, |s| Local::new(0.0, -20.0 - (s as f64).min(60.0)));
    let outside = run.raised_of(AlertKind::Outside).expect("an alarm");
    assert_eq!(outside.alert.priority, Priority::Alarm);
    let waited = outside.at.since(left).seconds();
    assert!((20.0..80.0).contains(&waited), "{waited} s");
    let what = &outside.alert.reason.what;
    assert!(what.starts_with("Stern ") && what.contains(" m beyond the circle of "), "{what}");
}

#[test]
fn one_wild_fix_never_feeds_the_track_or_the_circle() {
    let mut run = Run::anchored();
    run.lie_for(300, |_| Local::new(0.0, -20.0));
    run.lie_for(1, |_| Local::new(300.0, 300.0));
    assert!(matches!(run.snapshot().fix.quality, FixQuality::Doubtful { .. }));
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    assert_eq!(run.raised(), []);
    assert!(run.snapshot().farthest.unwrap().0 < Metres(60.0));
}

#[test]
fn no_position_is_a_warning_and_then_an_alarm() {
    let mut run = Run::anchored();
    run.lie_for(120, |_| Local::new(0.0, -20.0));
    let lost = run.now();
    run.instruments.position = false;
    run.lie_for(90, |_| Local::new(0.0, -20.0));
    let warned = run.raised_of(AlertKind::FixLost).expect("a warning");
    assert_eq!((warned.alert.priority, warned.at.since(lost).0 / 1000), (Priority::Warning, 15));
    let risen = run.change_of(AlertKind::FixLost, Change::Risen).expect("an alarm");
    assert_eq!(risen.alert.priority, Priority::Alarm);
    assert_eq!(run.snapshot().verdict, Verdict::NoFix);
}

#[test]
fn a_wind_shift_is_measured_from_brought_up_and_once_answered_from_there() {
    let mut run = Run::anchored();
    run.lie_for(1200, |_| Local::new(0.0, -20.0));
    run.instruments.wind_from = 70.0;
    run.lie_for(1200, |_| Local::new(0.0, -20.0));
    let shift = run.raised_of(AlertKind::WindShift).expect("a warning");
    assert!(shift.alert.reason.what.contains("veered"), "{}", shift.alert.reason.what);
    run.crew(Command::Acknowledge { kind: Some(AlertKind::WindShift) });
    run.lie_for(600, |_| Local::new(0.0, -20.0));
    assert!(run.active(AlertKind::WindShift).is_none(), "answered and measured anew");
    assert!((run.snapshot().wind.shift_deg.unwrap() - 70.0).abs() < 1.0, "the screen counts from brought up");
}

#[test]
fn a_barred_sector_is_called_even_without_a_shift() {
    let mut run = Run::anchored();
    let barred = nightrode::watch::boat::Sector { from: TrueBearing::new(350.0), to: TrueBearing::new(20.0) };
    run.crew(Command::Limits(Limits { barred: vec![barred], ..Limits::default() }));
    run.lie_for(700, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::WindShift).expect("a warning").alert.reason.what.contains("barred"));
}

#[test]
fn strong_wind_and_shallow_water_are_called_with_their_numbers() {
    let mut run = Run::anchored();
    run.instruments.wind_kn = 30.0;
    run.instruments.depth_below_transducer_m = 1.5;
    run.lie_for(700, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::WindHigh).expect("a warning").alert.reason.what.contains("30 kn"));
    let shallow = run.raised_of(AlertKind::Shallow).expect("an alarm");
    assert!(shallow.alert.reason.what.contains("0.2 m under the keel"), "{}", shallow.alert.reason.what);
}

#[test]
fn sensors_that_fall_silent_are_cautions() {
    let mut run = Run::anchored();
    run.lie_for(120, |_| Local::new(0.0, -20.0));
    run.instruments.heading = false;
    run.instruments.wind = false;
    run.instruments.depth = false;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    for kind in [AlertKind::HeadingLost, AlertKind::WindLost, AlertKind::DepthLost] {
        assert_eq!(run.raised_of(kind).expect("a caution").alert.priority, Priority::Caution);
    }
}

#[test]
fn a_gap_is_told_and_stays_until_it_is_answered() {
    let mut run = Run::anchored();
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    run.sleep_for(Span::from_mins(133));
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    let gap = run.raised_of(AlertKind::Gap).expect("a warning");
    assert!(gap.alert.reason.what.contains("2 h 13 min"), "{}", gap.alert.reason.what);
    run.crew(Command::Acknowledge { kind: None });
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    assert!(run.active(AlertKind::Gap).is_none());
}

#[test]
fn devices_that_fail_are_warnings_until_they_work_again() {
    let mut run = Run::anchored();
    run.event(Event::Device(Device::Disk { failed: Some("the disk is full".into()) }));
    run.event(Event::Device(Device::Sound { failed: Some("no device".into()) }));
    run.lie_for(2, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::DiskLow).is_some() && run.raised_of(AlertKind::SoundFailed).is_some());
    run.event(Event::Device(Device::Disk { failed: None }));
    run.crew(Command::Acknowledge { kind: None });
    run.lie_for(2, |_| Local::new(0.0, -20.0));
    assert!(run.active(AlertKind::DiskLow).is_none() && run.active(AlertKind::SoundFailed).is_some());
}

#[test]
fn the_drop_point_can_be_corrected_in_three_ways() {
    let mut run = Run::anchored();
    run.lie_for(60, |s| Local::new(0.0, -(s as f64) * 0.4));
    let distance = |run: &Run| run.snapshot().anchor_off.unwrap().0.0;
    run.crew(Command::MoveDrop(DropMove::FromBow { bearing: TrueBearing::new(0.0), distance: Metres(40.0) }));
    assert!((distance(&run) - 40.0).abs() < 0.01, "{}", distance(&run));
    let earlier = run.now() - Span::from_secs(30);
    run.crew(Command::MoveDrop(DropMove::BowAt { at: earlier }));
    assert!((distance(&run) - 12.0).abs() < 0.5, "{}", distance(&run));
    let here = run.snapshot().fix.position.unwrap();
    run.crew(Command::MoveDrop(DropMove::Position { position: here }));
    assert!((distance(&run) - 9.0).abs() < 0.01, "the bow lies 9 m ahead of the antenna: {}", distance(&run));
    let refused = run.crew(Command::MoveDrop(DropMove::BowAt { at: WatchTime(0) }));
    assert!(matches!(refused[..], [Output::Refused { .. }]));
}

#[test]
fn a_silent_receiver_is_left_and_taken_back_without_a_step() {
    let mut run = Run::with(Settings {
        feeds: vec![
            FeedSettings { name: "masthead".into(), priority: 0 },
            FeedSettings { name: "spare".into(), priority: 1 },
        ],
        ..Settings::default()
    });
    // The spare's antenna sits 8 m away.
    run.spare_offset = Some(Local::new(8.0, 0.0));
    run.let_go_and_bring_up();
    run.lie_for(900, |_| Local::new(0.0, -20.0));
    let before = run.snapshot().antenna.unwrap();
    run.instruments.position = false;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    let on_spare = run.snapshot();
    assert_eq!(on_spare.fix.source.as_deref(), Some("spare/GP"));
    assert!((on_spare.antenna.unwrap() - before).length_m() < 0.5, "{:?} {before:?}", on_spare.antenna);
    run.instruments.position = true;
    // A minute of silence more than a minute long: it settles first, then it has to prove itself.
    run.lie_for(90, |_| Local::new(0.0, -20.0));
    let back = run.snapshot();
    assert_eq!(back.fix.source.as_deref(), Some("masthead/GP"));
    assert!((back.antenna.unwrap() - before).length_m() < 0.5);
    assert_eq!(run.raised(), []);
}

#[test]
fn magnetic_headings_become_true_and_the_screen_says_how() {
    let mut run = Run::anchored();
    run.instruments.heading = false;
    let mut heading = |sentence: &str| {
        for _ in 0..20 {
            run.lie_for(1, |_| Local::new(0.0, -20.0));
            run.say(sentence);
        }
        run.lie_for(1, |_| Local::new(0.0, -20.0));
        run.snapshot().heading.now().expect("a heading")
    };
    let modelled = heading("HCHDG,100.0,,,,");
    assert_eq!(modelled.basis, HeadingBasis::ModelVariation);
    let variation = modelled.variation_deg.unwrap();
    assert!((modelled.bearing.degrees() - 100.0 - variation).abs() < 1e-9 && variation.abs() > 0.01);
    let entered = heading("HCHDG,100.0,2.0,E,3.0,W");
    assert_eq!(entered.basis, HeadingBasis::FeedVariation);
    assert!((entered.bearing.degrees() - 99.0).abs() < 1e-9, "{entered:?}");
}

#[test]
fn the_ride_begins_with_letting_go_and_ends_aweigh_and_wrong_orders_are_refused() {
    let mut run = Run::with(Settings::default());
    run.lie_for(30, |_| Local::default());
    assert!(matches!(run.crew(Command::BroughtUp)[..], [Output::Refused { .. }]));
    assert!(matches!(run.crew(Command::Aweigh)[..], [Output::Refused { .. }]));
    let too_long = Command::LetGo { veered: Some(Metres(5000.0)), depth: None, place: "Hollow Ness".into() };
    assert!(matches!(run.crew(too_long)[..], [Output::Refused { .. }]));
    run.let_go_and_bring_up();
    assert_eq!(run.snapshot().stage, Stage::BroughtUp);
    run.crew(Command::Weigh);
    run.lie_for(200, |s| Local::new(0.0, -(s as f64)));
    assert_eq!(run.raised(), [], "a boat that weighs may go where she likes");
    assert!(matches!(run.crew(Command::Aweigh)[..], [Output::RideEnded { .. }]));
    assert_eq!(run.snapshot().verdict, Verdict::NotSet);
}

#[test]
fn without_a_position_letting_go_still_begins_a_ride() {
    let mut watch = Watch::new(Settings::default());
    watch.handle(WatchTime(0), Input::Tick);
    let command =
        Command::LetGo { veered: Some(Metres(30.0)), depth: Some(Metres(5.0)), place: "Hollow Ness".into() };
    let out = watch.handle(WatchTime(10), Input::Event(Event::Crew(command)));
    assert!(matches!(out[..], [Output::RideBegan { .. }]));
    assert_eq!(watch.snapshot().drop, None);
    let later = watch.handle(WatchTime(100_000), Input::Tick);
    assert!(later.iter().any(|o| matches!(o, Output::Alert(c) if c.alert.kind == AlertKind::FixLost)));
}

fn let_go_now() -> Command {
    Command::LetGo { veered: None, depth: None, place: String::new() }
}

/// Metres between the drop point and where the bow was when the anchor went down: 9 m north of the antenna.
fn mark_off(run: &Run, antenna: Local) -> f64 {
    let drop = run.snapshot().drop.expect("a drop point");
    (run.plane().to_local(drop.position) - antenna - Local::new(0.0, 9.0)).length_m()
}

#[test]
fn let_go_within_seconds_of_the_first_fix_is_marked_where_she_was_then() {
    let mut run = Run::with(Settings::default());
    // Falling back at a knot, two seconds after the first fix.
    let falls_back = |s: i64| Local::new(0.0, -0.5 * s as f64);
    run.lie_for(2, falls_back);
    let let_go = run.now();
    run.crew(let_go_now());
    let waiting = run.snapshot();
    assert_eq!((waiting.drop, waiting.mark_awaited), (None, Some(let_go)));
    run.lie_for(40, |s| falls_back(s + 2));
    let drop = run.snapshot().drop.expect("a drop point");
    assert_eq!(drop.let_go, let_go);
    assert!(drop.fixed > let_go && drop.fixed.since(let_go) < Span::from_secs(15), "{drop:?}");
    assert!(drop.doubt > Metres(0.0), "{drop:?}");
    let off = mark_off(&run, Local::new(0.0, -0.5));
    assert!(off < 2.0 + drop.doubt.0, "{off} m off, said {:?}", drop.doubt);
    assert_eq!(run.snapshot().mark_awaited, None);
    assert!(run.snapshot().happenings.iter().any(|h| h.text.contains("after letting go")));
    assert!(run.outputs().iter().any(|output| matches!(output, Output::Marked { .. })));
    // And she is watched: out of the circle is an alarm.
    run.crew(Command::Veered { length: Metres(30.0) });
    run.crew(Command::BroughtUp);
    run.lie_for(120, |_| Local::new(0.0, -120.0));
    assert!(run.raised().contains(&AlertKind::Outside), "{:?}", run.raised());
}

#[test]
fn let_go_before_any_fix_is_marked_with_the_first_that_settles_and_with_more_doubt() {
    let mut run = Run::with(Settings::default());
    run.instruments.position = false;
    run.lie_for(5, |_| Local::default());
    run.crew(let_go_now());
    run.lie_for(20, |_| Local::default());
    run.instruments.position = true;
    run.lie_for(70, |_| Local::new(0.0, -5.0));
    let drop = run.snapshot().drop.expect("a drop point");
    assert!(drop.doubt >= Metres(10.0), "20 s without a speed: {drop:?}");
    assert!(run.snapshot().circle.set.is_some());
}

#[test]
fn a_position_that_comes_after_ten_minutes_marks_nothing_and_it_is_said() {
    let mut run = Run::with(Settings::default());
    run.instruments.position = false;
    run.lie_for(5, |_| Local::default());
    run.crew(let_go_now());
    run.lie_for(620, |_| Local::default());
    run.instruments.position = true;
    run.lie_for(70, |_| Local::default());
    let snapshot = run.snapshot();
    assert_eq!((snapshot.drop, snapshot.mark_awaited), (None, None));
    assert!(snapshot.happenings.iter().any(|h| h.alert && h.text.contains("the drop point is not marked")));
}

#[test]
fn rode_depth_and_name_may_come_after_letting_go_or_never() {
    let mut run = Run::with(Settings::default());
    run.lie_for(30, |_| Local::default());
    run.crew(let_go_now());
    let snapshot = run.snapshot();
    assert_eq!((snapshot.rode.veered, &*snapshot.place), (None, ""));
    assert!(snapshot.drop.is_some() && snapshot.circle.set.is_some(), "by the length that is advised");
    run.lie_for(20, |s| Local::new(0.0, -(s as f64) / 3.0));
    run.crew(Command::Veered { length: Metres(25.0) });
    run.crew(Command::DropDepth { depth: Metres(6.0) });
    run.crew(Command::NamePlace { name: "Hollow Ness".into() });
    let snapshot = run.snapshot();
    assert_eq!(snapshot.rode.veered, Some(Metres(25.0)));
    assert_eq!(snapshot.drop.unwrap().depth, Some(Metres(6.0)));
    assert_eq!((&*snapshot.place, snapshot.depth.predicted), ("Hollow Ness", Some(Metres(6.0))));
    run.crew(Command::BroughtUp);
    assert!(matches!(run.crew(Command::Aweigh)[..], [Output::RideEnded { .. }]));
    assert!(matches!(run.crew(Command::NamePlace { name: "x".into() })[..], [Output::Refused { .. }]));
}

#[test]
fn how_often_the_watch_is_called_changes_nothing() {
    let night = |ticks_per_second: i64| {
        let mut run = Run::anchored();
        run.ticks_per_second = ticks_per_second;
        run.lie_for(300, |_| Local::new(0.0, -20.0));
        run.instruments.position = false;
        run.lie_for(200, |_| Local::new(0.0, -20.0));
        run.instruments.position = true;
        run.lie_for(300, |s| Local::new(0.0, -20.0 - s as f64 * 0.3));
        run.changes()
    };
    let seldom = night(0);
    assert!(seldom.len() >= 4, "{seldom:?}");
    assert_eq!(seldom, night(1));
    assert_eq!(seldom, night(7));
}

#[test]
fn three_weeks_of_silence_are_a_gap_and_not_a_hang() {
    let mut run = Run::anchored();
    run.jump_without_notice(Span::from_mins(21 * 24 * 60));
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::Gap).is_some());
}

#[test]
fn every_feed_is_counted_by_reason() {
    let mut run = Run::anchored();
    run.raw(b"$GPRMC,120000,A,5000.0,N,00500.0,W,0,0,010126,,*00");
    run.raw(b"$GPGGA,no checksum");
    run.raw(b"\xff\xfe garbage");
    run.lie_for(20, |_| Local::new(0.0, -20.0));
    let snapshot = run.snapshot();
    let feed = &snapshot.feeds[0];
    let reasons: Vec<_> = feed.rejected.iter().map(|(reason, _)| *reason).collect();
    assert!(reasons.contains(&"wrong checksum") && reasons.contains(&"no checksum"), "{reasons:?}");
    assert!(feed.good > 50 && feed.delivers.iter().any(|(what, _)| *what == "position"), "{feed:?}");
    assert!(feed.believed_for.contains(&"heading"));
}

/// High and low waters as a crew would type them, in hours after the start.
fn tide(turns: &[(i64, f64, TurnKind)]) -> Command {
    let turn = |(hours, height_m, kind): &(i64, f64, TurnKind)| TypedTurn {
        time: crate::support::START + Span::from_mins(60 * hours),
        height: Metres(*height_m),
        kind: *kind,
    };
    Command::Tide(TideEntered::Table { turns: turns.iter().map(turn).collect() })
}

#[test]
fn the_tide_foretells_shoaling_and_short_scope_and_runs_out() {
    let mut run = Run::anchored();
    run.crew(tide(&[(-1, 4.0, TurnKind::High), (5, 1.0, TurnKind::Low), (11, 4.2, TurnKind::High)]));
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    // 5 m deep an hour after high water, 1.8 m of draft: some 0.4 m under the keel at low water.
    let shoaling = run.raised_of(AlertKind::Shoaling).expect("a warning");
    assert!(
        shoaling.alert.reason.what.contains("under the keel at low water 01:00 UTC, in 4 h 58 min"),
        "{}",
        shoaling.alert.reason.what
    );
    let snapshot = run.snapshot();
    assert_eq!(snapshot.tide.turns.len(), 3);
    assert!(
        snapshot.circle.swings.unwrap() > snapshot.reach.unwrap() + Metres(10.0),
        "more reach at low water"
    );
    run.crew(Command::Veered { length: Metres(18.0) });
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    assert!(
        run.raised_of(AlertKind::ScopeShort).expect("a warning").alert.reason.what.contains("more would do")
    );
    run.crew(tide(&[(-6, 1.0, TurnKind::Low), (0, 4.0, TurnKind::High)]));
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::TideEnds).is_some());
}

#[test]
fn the_next_high_and_low_water_alone_foretell_the_night() {
    let mut run = Run::anchored();
    // Typed two hours before high water: the low water before it is in no table that the crew has at hand.
    assert_eq!(run.crew(tide(&[(2, 4.4, TurnKind::High), (8, 0.8, TurnKind::Low)])), []);
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    let shoaling = run.raised_of(AlertKind::Shoaling).expect("she takes the ground, and it is said");
    assert!(
        shoaling.alert.reason.what.contains("at low water 04:00 UTC, in 7 h"),
        "{}",
        shoaling.alert.reason.what
    );
    let tide = run.snapshot().tide;
    let assumed = tide.assumed.expect("a turn that was not entered");
    assert_eq!((assumed.turns.len(), assumed.turns[0].height), (1, Metres(0.8)));
    assert!(assumed.doubt > Metres(0.5), "{assumed:?}");
    assert!(tide.curve.len() > 40, "there is a curve");
}

#[test]
fn a_table_that_begins_long_after_letting_go_is_refused_with_what_is_missing() {
    let mut run = Run::anchored();
    let out = run.crew(tide(&[(20, 4.4, TurnKind::High), (26, 0.8, TurnKind::Low)]));
    let [Output::Refused { why, .. }] = &out[..] else { panic!("{out:?}") };
    assert!(why.to_string().contains("Add the high and low waters before it"), "{why}");
    // Entered before letting go it may still be completed; anchored on it, it is said that nothing is foreseen.
    let mut early = Run::with(Settings::default());
    assert_eq!(early.crew(tide(&[(20, 4.4, TurnKind::High), (26, 0.8, TurnKind::Low)])), []);
    early.let_go_and_bring_up();
    let alert = early.raised_of(AlertKind::TideEnds).expect("a warning");
    assert!(alert.alert.reason.what.contains("too late to be tied"), "{alert:?}");
}

#[test]
fn a_table_that_contradicts_itself_is_refused_and_the_tide_before_stays() {
    let mut run = Run::anchored();
    run.crew(tide(&[(-1, 4.0, TurnKind::High), (5, 1.0, TurnKind::Low)]));
    let refused = run.crew(tide(&[(-1, 1.0, TurnKind::High), (5, 4.0, TurnKind::Low)]));
    assert!(matches!(refused[..], [Output::Refused { .. }]));
    assert_eq!(run.snapshot().tide.turns.len(), 2);
}

#[test]
fn a_sounder_that_shows_what_it_did_not_show_here_before_is_odd() {
    let mut run = Run::anchored();
    run.crew(tide(&[(-1, 4.0, TurnKind::High), (5, 1.0, TurnKind::Low)]));
    run.lie_for(300, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::DepthOdd).is_none());
    run.instruments.depth_below_transducer_m = 6.5;
    run.lie_for(300, |_| Local::new(0.0, -20.0));
    assert!(
        run.raised_of(AlertKind::DepthOdd)
            .expect("a warning")
            .alert
            .reason
            .what
            .contains("the tide makes it")
    );
}

#[test]
fn a_vessel_that_steers_for_the_circle_is_called_until_she_is_past() {
    let mut run = Run::anchored();
    run.lie_for(300, |_| Local::new(0.0, -20.0));
    // Northward at 6 kn, from 1200 m south, straight over the anchor.
    let way = Knots(6.0).mps();
    for second in 0..600 {
        if second % 10 == 0 {
            run.vessel(211_000_001, Local::new(0.0, -1200.0 + way * f64::from(second)), 6.0, 0.0);
        }
        run.lie_for(1, |_| Local::new(0.0, -20.0));
    }
    let closing = run.raised_of(AlertKind::Closing).expect("a warning");
    assert_eq!(closing.alert.priority, Priority::Warning);
    let reason = &closing.alert.reason.what;
    assert!(reason.contains("vessel 211000001") && reason.contains("6.0 kn"), "{reason}");
    run.crew(Command::Acknowledge { kind: Some(AlertKind::Closing) });
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    assert!(run.active(AlertKind::Closing).is_none(), "she is past");
    assert_eq!(run.snapshot().vessels.len(), 1, "and still on the chart");
}

#[test]
fn neighbours_at_anchor_and_passing_ships_wake_nobody() {
    let mut run = Run::anchored();
    for second in 0..900 {
        if second % 10 == 0 {
            run.vessel(211_000_002, Local::new(60.0, 40.0), 0.2, f64::from(second % 360));
            run.vessel(211_000_003, Local::new(-400.0, -2000.0 + 5.0 * f64::from(second)), 9.7, 0.0);
        }
        run.lie_for(1, |_| Local::new(0.03 * f64::from(second % 7), -20.0));
    }
    assert_eq!(run.raised(), []);
    assert_eq!(run.snapshot().vessels[0].mmsi, 211_000_002, "the nearest first");
}

#[test]
fn a_wind_that_would_lift_the_anchor_is_told_though_it_is_within_the_limits() {
    let limits = Limits { wind_high: Knots(60.0), gust_high: Knots(80.0), ..Limits::default() };
    let mut run = Run::with(Settings { limits, ..Settings::default() });
    run.let_go_and_bring_up();
    run.instruments.wind_kn = 12.0;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    assert!(run.raised_of(AlertKind::WindHigh).is_none());
    run.instruments.wind_kn = 45.0;
    run.lie_for(700, |_| Local::new(0.0, -20.0));
    let entered = run.raised_of(AlertKind::WindHigh).expect("a warning").alert.reason.what;
    assert!(entered.contains("the rode out is calculated to pull up at the anchor by 8°"), "{entered}");
}

/// She has sheered over a bottom that falls away from her anchor by one in ten, under a tide that hardly moves: what pulls now,
/// the wind that would lift the anchor and the hours to come have that slope in them.
#[test]
fn a_slope_that_was_swung_over_turns_the_pull_that_is_watched() {
    let swung_over = |falls: f64| {
        let mut run = Run::anchored();
        run.crew(tide(&[(-1, 1.1, TurnKind::High), (5, 1.0, TurnKind::Low), (11, 1.1, TurnKind::High)]));
        run.crew(wind_ahead(&[(0, 0.0, 25.0), (12, 0.0, 25.0)]));
        run.instruments.wind_kn = 25.0;
        for s in 0..900 {
            let angle = f64::from(s) / 30.0;
            let place = Local::new(14.0 * angle.sin(), -20.0 - 6.0 * (2.0 * angle).cos());
            run.instruments.depth_below_transducer_m = 4.5 - falls * place.north_m;
            run.lie_for(1, |_| place);
        }
        run.snapshot()
    };
    let (level, sloping) = (swung_over(0.0), swung_over(0.1));
    let fitted = sloping.recon.slope.expect("a slope").fitted.slope;
    assert!((fitted.gradient - 0.1).abs() < 0.02 && level.recon.slope.is_none(), "{fitted:?}");
    // A rode that hangs takes up a part of it.
    let turned = 0.1_f64.atan().to_degrees();
    let up = |snap: &Snapshot| snap.rode.asked.expect("what is asked").angle_deg;
    let more = up(&sloping) - up(&level);
    assert!((0.5 * turned..turned + 0.5).contains(&more), "{} {}", up(&sloping), up(&level));
    assert!(sloping.rode.lift_off < level.rode.lift_off);
    let hour = |snap: &Snapshot| snap.ahead.night.as_ref().expect("a night").hours[3].clone();
    // The wind may shift by 45°, and then she lies less steeply.
    assert!(hour(&sloping).pull_deg > hour(&level).pull_deg + 0.3 * turned);
}

#[test]
fn shallow_says_when_the_tide_will_bring_enough_where_she_lies() {
    let mut run = Run::anchored();
    run.crew(tide(&[(-1, 1.0, TurnKind::Low), (5, 4.0, TurnKind::High)]));
    // 2 m by the sounder over a hump, 5 m at the anchor: 0.3 m more are wanted under a draft of 1.8 m.
    run.instruments.depth_below_transducer_m = 1.5;
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    let entered = run.raised_of(AlertKind::Shallow).expect("an alarm").alert.reason.what;
    assert!(
        entered.contains("0.2 m under the keel") && entered.contains("there is enough again in "),
        "{entered}"
    );
}

#[test]
fn reach_breathes_with_the_tide_and_the_circle_stands_at_its_widest() {
    let mut run = Run::anchored();
    run.crew(tide(&[(-1, 4.0, TurnKind::High), (5, 1.0, TurnKind::Low), (11, 4.0, TurnKind::High)]));
    run.lie_for(10, |_| Local::new(0.0, -20.0));
    let high = run.snapshot();
    run.sleep_for(Span::from_mins(297));
    run.lie_for(10, |_| Local::new(0.0, -20.0));
    let low = run.snapshot();
    let (reach_high, reach_low) = (high.reach.unwrap(), low.reach.unwrap());
    assert!((reach_low - reach_high).0 > 0.4, "{reach_high:?} {reach_low:?}");
    // The circle is calculated for low water all the time: it does not grow when she swings out.
    assert!((low.circle.swings.unwrap() - high.circle.swings.unwrap()).0.abs() < 0.05);
    let loa = low.settings.boat.loa;
    assert!((low.circle.swings.unwrap() - reach_low - loa).0.abs() < 0.1);
}

#[test]
fn she_who_weighs_and_is_plainly_under_way_has_left_and_it_is_said() {
    let mut run = Run::anchored();
    run.lie_for(60, |_| Local::new(0.0, -20.0));
    run.crew(Command::Weigh);
    run.lie_for(400, |s| Local::new(0.0, -20.0 - 2.0 * s as f64));
    let ended = run.outputs().iter().find_map(|output| match output {
        Output::RideEnded { why, kept, .. } => Some((*why, kept.clone())),
        _ => None,
    });
    let (why, kept) = ended.expect("the ride ended");
    assert_eq!((why, kept.place.as_str()), (EndedBy::UnderWay, "Hollow Ness"));
    let snapshot = run.snapshot();
    assert_eq!((snapshot.stage, snapshot.verdict), (Stage::NotSet, Verdict::NotSet));
    let said = snapshot.happenings.iter().any(|h| h.alert && h.text.contains("plainly under way"));
    assert!(said, "{:?}", snapshot.happenings);
}

#[test]
fn who_leaves_an_anchor_that_nobody_marked_is_told_that_drag_is_not_judged() {
    let mut run = Run::with(Settings::default());
    run.lie_for(30, |_| Local::default());
    run.crew(Command::Lying { veered: None, place: "Hollow Ness".into() });
    run.lie_for(60, |_| Local::default());
    let looking = run.snapshot();
    assert_eq!(looking.verdict, Verdict::CannotJudge, "not HOLDING while the anchor is not found");
    assert!(looking.holding.cannot.unwrap().contains("looked for"));
    run.lie_for(5400, |s| Local::polar(TrueBearing::new(s as f64 / 20.0), 20.0));
    assert_eq!(run.snapshot().verdict, Verdict::Holding);
    run.lie_for(900, |s| Local::new(2.0 * s as f64, -20.0));
    let alarm = run.raised_of(AlertKind::Drag).expect("an alarm");
    assert!(alarm.alert.reason.what.contains("Drag is not judged until she lies again"), "{alarm:?}");
    assert_eq!(run.snapshot().verdict, Verdict::CannotJudge);
    run.crew(Command::Acknowledge { kind: Some(AlertKind::Drag) });
    run.lie_for(10, |_| Local::new(1800.0, -20.0));
    assert!(run.active(AlertKind::Drag).is_none(), "answered, it is over");
}

#[test]
fn what_is_kept_of_a_ride_says_that_she_dragged() {
    let mut run = Run::anchored();
    run.lie_for(1200, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    run.lie_for(300, |s| Local::new(0.0, -20.0 - 0.4 * s as f64));
    assert!(run.raised_of(AlertKind::Drag).is_some());
    let ended = run.crew(Command::Aweigh);
    let [Output::RideEnded { kept, .. }] = &ended[..] else { panic!("{ended:?}") };
    assert!(kept.holding.dragged && kept.holding.words.contains("an alarm of dragging"), "{kept:?}");
    run.let_go_and_bring_up();
    run.lie_for(300, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    let ended = run.crew(Command::Aweigh);
    let [Output::RideEnded { kept, .. }] = &ended[..] else { panic!("{ended:?}") };
    assert!(!kept.holding.dragged, "another ride: {kept:?}");
}

#[test]
fn an_answered_drag_that_goes_on_sounds_again_and_ends_where_the_crew_says_that_she_lies() {
    let mut run = Run::anchored();
    run.lie_for(1200, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    let mut sounded = 0;
    for second in 0..600 {
        run.lie_for(1, |_| Local::new(0.0, -20.0 - 0.3 * f64::from(second)));
        let waits =
            run.active(AlertKind::Drag).is_some_and(|alert| alert.state == AlertState::Unacknowledged);
        if waits {
            sounded += 1;
            run.crew(Command::Acknowledge { kind: Some(AlertKind::Drag) });
        }
    }
    // Called within some 20 of 180 m, then with every ten metres, and as the room runs out.
    assert!((13..=20).contains(&sounded), "{sounded}");
    run.lie_for(1200, |_| Local::new(0.0, -199.7));
    assert_eq!(run.snapshot().verdict, Verdict::Dragging, "it does not end by itself");
    run.crew(Command::LiesHere);
    run.lie_for(600, |s| Local::new((s as f64 / 30.0).sin(), -199.7));
    assert_eq!(run.snapshot().verdict, Verdict::Holding);
    assert_eq!(run.active(AlertKind::Drag), None);
}

#[test]
fn marks_have_their_arcs_and_bearings_by_hand_are_held_against_them() {
    let mut run = Run::anchored();
    let at = |east: f64, north: f64| run_position(east, north);
    let entered = |name: &str, east, north| Command::Mark {
        name: name.into(),
        entered: MarkEntered::Position { position: at(east, north) },
    };
    run.crew(entered("beacon", 400.0, 20.0));
    run.crew(entered("church", -300.0, 500.0));
    run.crew(entered("rock", 30.0, -700.0));
    run.crew(Command::Mark {
        name: "church over beacon".into(),
        entered: MarkEntered::InLine { near: "beacon".into(), far: "church".into() },
    });
    run.lie_for(120, |_| Local::new(0.0, -20.0));
    let snapshot = run.snapshot();
    assert_eq!(snapshot.marks.len(), 4);
    let circle = snapshot.circle.set.unwrap();
    let beacon = &snapshot.marks[0];
    let Bearings::Between { from, to } = beacon.arc else { panic!("{beacon:?}") };
    let half = (circle.0 / beacon.distance.0).asin().to_degrees();
    assert!((from.turn_to(to) - 2.0 * half).abs() < 1e-6);
    assert!(beacon.arc.outside_by_deg(beacon.seen.unwrap()) == 0.0, "she lies within her circle");
    assert!(
        snapshot.rounds.lines.iter().any(|line| line.shows.starts_with("beacon ")),
        "{:?}",
        snapshot.rounds
    );

    // A hand-bearing compass within half a degree, three marks: the hat is small and the fix where she lies.
    for (mark, error) in [("beacon", 0.3), ("church", -0.4), ("rock", 0.2)] {
        let seen = snapshot.marks.iter().find(|m| &*m.name == mark).and_then(|m| m.seen).unwrap();
        run.crew(Command::Bearing { mark: mark.into(), bearing: seen.turned(error) });
    }
    let snapshot = run.snapshot();
    let taken = snapshot.marks[0].taken.unwrap();
    assert_eq!(taken.outside_deg, 0.0);
    assert!((taken.off_fix_deg.unwrap() - 0.3).abs() < 1e-6);
    let (off, _) = snapshot.cross.unwrap().off.unwrap();
    assert!(off.0 < 8.0, "{off:?}");

    // One that drags sees the beacon beyond its arc.
    run.crew(Command::Bearing { mark: "beacon".into(), bearing: to.turned(4.0) });
    assert!((run.snapshot().marks[0].taken.unwrap().outside_deg - 4.0).abs() < 1e-6);

    for (command, refusal) in [
        (entered("beacon", 1.0, 1.0), Refusal::MarkNameTaken),
        (Command::Unmark { name: "buoy".into() }, Refusal::NoSuchMark),
        (Command::Bearing { mark: "buoy".into(), bearing: TrueBearing::new(1.0) }, Refusal::NoMarkToTake),
    ] {
        let at = run.now();
        assert_eq!(run.crew(command), [Output::Refused { at, why: refusal }]);
    }
    run.crew(Command::Weigh);
    run.crew(Command::Aweigh);
    assert!(run.snapshot().marks.is_empty(), "they are marks of the place that she left");
}

fn run_position(east: f64, north: f64) -> Position {
    let origin = Position::new(52.0, -20.0).expect("on the earth");
    Plane::new(origin).to_position(Local::new(east, north))
}

/// Sunset at 52° N 20° W on 3 June 2026 is at 21:35 UTC (skyfield and astral agree to seconds there; tests/reference/sun.csv has such
/// days): the crew is told once, and a round that looked at the light ends it.
#[test]
fn sunset_asks_for_the_anchor_light_until_a_round_has_seen_it() {
    let mut run = Run::anchored();
    run.lie_for(2 * 3600 - 200, |_| Local::new(0.0, -20.0));
    let changes = run.changes();
    let due: Vec<_> = changes.iter().filter(|change| change.alert.kind == AlertKind::LightDue).collect();
    let [raised] = due[..] else { panic!("{due:?}") };
    assert_eq!((raised.change, raised.alert.priority), (Change::Raised, Priority::Caution));
    assert!(raised.alert.reason.what.contains("The sun has set"), "{:?}", raised.alert.reason);
    let snapshot = run.snapshot();
    assert_eq!(snapshot.lights.sun_up, Some(false));
    assert!(snapshot.lights.now[0].what.contains("all-round white"));
    assert!(snapshot.coming.iter().any(|coming| coming.text.starts_with("sunrise")));
    run.crew(Command::Round(RoundMade { checked: vec![RoundItem::Lights], ..RoundMade::default() }));
    run.lie_for(5, |_| Local::new(0.0, -20.0));
    let stands = |run: &Run| run.snapshot().alerts.iter().any(|alert| alert.kind == AlertKind::LightDue);
    assert!(!stands(&run), "somebody looked");
}

#[test]
fn a_few_wrong_times_before_a_hole_say_nothing_of_the_clock() {
    for wrong in 1..=4 {
        let mut run = Run::anchored();
        run.instruments.position = false;
        for _ in 0..wrong {
            run.lie_for(1, |_| Local::default());
            run.say("GPZDA,120000.00,01,01,2026,00,00");
        }
        run.lie_for(60, |_| Local::default());
        assert!(run.raised_of(AlertKind::ClockWrong).is_none(), "{wrong} wrong times");
    }
}

#[test]
fn the_crew_is_woken_when_they_asked_to_be_and_once() {
    let mut run = Run::anchored();
    let in_an_hour = run.now() + Span::from_mins(60);
    run.crew(Command::Wake(WakeFor { at: Some(in_an_hour), turn: true, wind: Some(Knots(20.0)) }));
    run.lie_for(3590, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    assert_eq!(run.active(AlertKind::Wake), None);
    run.lie_for(30, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    let alert = run.active(AlertKind::Wake).expect("they are woken");
    assert_eq!(alert.priority, Priority::Warning);
    assert!(alert.reason.what.contains("the time that you asked for"), "{alert:?}");
    assert_eq!(run.snapshot().wakes_for, WakeFor { at: None, turn: true, wind: Some(Knots(20.0)) });
    run.crew(Command::Acknowledge { kind: Some(AlertKind::Wake) });
    run.lie_for(3600, |s| Local::new((s as f64 / 30.0).sin(), -20.0));
    assert_eq!(run.active(AlertKind::Wake), None);
    assert_eq!(run.raised().iter().filter(|kind| **kind == AlertKind::Wake).count(), 1);
}

/// The wind by the hour, hours counted from the start of the run.
fn wind_ahead(hours: &[(i64, f64, f64)]) -> Command {
    let then = |(hour, from, mean): &(i64, f64, f64)| WindThen {
        at: START + Span::from_mins(60 * hour),
        from: Some(TrueBearing::new(*from)),
        mean: Knots(*mean),
        gust: None,
    };
    let winds: Vec<WindThen> = hours.iter().map(then).collect();
    Command::WindAhead { winds: Forecast::try_from(winds).ok() }
}

#[test]
fn a_wind_as_forecast_says_nothing_and_one_that_turns_into_a_barred_sector_wakes() {
    let barred = Sector { from: TrueBearing::new(100.0), to: TrueBearing::new(170.0) };
    let limits = Limits { barred: vec![barred], wind_shift_deg: 170.0, ..Limits::default() };
    let mut run = Run::with(Settings { limits, ..Settings::default() });
    run.crew(wind_ahead(&[(0, 0.0, 12.0), (4, 60.0, 14.0), (9, 60.0, 14.0)]));
    run.let_go_and_bring_up();
    run.lie_for(1200, |_| Local::new(0.0, -20.0));
    assert_eq!(run.raised(), [], "{:?}", run.changes());
    let night = run.snapshot().ahead.night.expect("a night");
    assert!(night.hours.len() >= 13 && night.first_bad().is_none(), "{night:?}");
    run.instruments.wind_from = 95.0;
    run.lie_for(1500, |_| Local::new(0.0, -20.0));
    let unlike = run.raised_of(AlertKind::NotAsForecast).expect("told").alert;
    assert_eq!(unlike.priority, Priority::Warning, "{unlike:?}");
    assert!(unlike.reason.what.contains("wind from a sector you barred"), "{}", unlike.reason.what);
    // Another forecast, which has it so.
    run.crew(wind_ahead(&[(0, 95.0, 12.0), (9, 95.0, 12.0)]));
    run.lie_for(1500, |_| Local::new(0.0, -20.0));
    assert!(run.snapshot().ahead.held.is_none());
}

#[test]
fn a_wind_unlike_the_forecast_that_leads_to_nothing_is_silent() {
    let mut run = Run::anchored();
    run.crew(wind_ahead(&[(0, 120.0, 12.0), (9, 120.0, 12.0)]));
    run.lie_for(1500, |_| Local::new(0.0, -20.0));
    let unlike = run.raised_of(AlertKind::NotAsForecast).expect("told").alert;
    assert_eq!(unlike.priority, Priority::Caution, "{unlike:?}");
}

#[test]
fn the_way_out_ends_with_the_ride_and_the_forecast_goes_on() {
    let mut run = Run::anchored();
    let way = WayOut { course: TrueBearing::new(140.0), distance_nm: 0.4 };
    run.crew(Command::WayOut { way: Some(way) });
    run.crew(wind_ahead(&[(0, 0.0, 12.0), (9, 0.0, 12.0)]));
    run.lie_for(10, |_| Local::new(0.0, -20.0));
    assert_eq!(run.snapshot().way_out, Some(way));
    run.crew(Command::Weigh);
    run.crew(Command::Aweigh);
    let snap = run.snapshot();
    assert!(snap.way_out.is_none() && snap.ahead.forecast.is_some());
}
