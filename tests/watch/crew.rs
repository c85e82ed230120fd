//! What the crew tells before, during and after the night, through the whole watch: soundings, counting out, pulls,
//! weighing; and that a ride taken up in the midst of them goes on as if nothing had happened.

use crate::support::{self, Run};
use nightrode::config::RideFile;
use nightrode::edge::folder::{Recorder, RideReader};
use nightrode::watch::Watch;
use nightrode::watch::alert::AlertKind;
use nightrode::watch::boat::{Berth, Limits, RodeMark, Sector, Settings, Snubber};
use nightrode::watch::forecast::{Forecast, WindThen};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{
    CheckItem, Command, Differs, DropMove, Event, FeedId, Finding, Found, Input, PullKind, RoundItem,
    RoundMade, TideEntered, TurnKind, TypedTurn,
};
use nightrode::watch::nmea::checksum;
use nightrode::watch::output::{EndedBy, Output};
use nightrode::watch::place::Place;
use nightrode::watch::rode::{OpenWater, Seabed, parse_fetch};
use nightrode::watch::setting::{Doing, Held, TargetBy, Taut, Transit};
use nightrode::watch::snapshot::{Reading, Snapshot, Stage, UpAndDown, Verdict};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};
use nightrode::watch::wake::WakeFor;
use nightrode::watch::way_out::WayOut;
use proptest::prelude::*;

/// Heading north, antenna 9 m aft of the bow: with the bow at (0, -d) the antenna is at (0, -d - 9).
fn bow_at(distance_m: f64) -> Local {
    Local::new(0.0, -distance_m)
}

fn settings() -> Settings {
    let marks = [(10.0, "red"), (20.0, "white"), (30.0, "blue")];
    let marks = marks.map(|(at, look)| RodeMark { at: Metres(at), look: look.into() }).into();
    Settings { marks, limits: Limits { scope: 4.0, ..Limits::default() }, ..Settings::default() }
}

fn tide() -> Command {
    let turn = |hours: i64, height_m: f64, kind| TypedTurn {
        time: support::START + Span::from_mins(60 * hours),
        height: Metres(height_m),
        kind,
    };
    let turns = vec![
        turn(-3, 0.8, TurnKind::Low),
        turn(3, 2.8, TurnKind::High),
        turn(9, 0.8, TurnKind::Low),
        turn(15, 2.8, TurnKind::High),
    ];
    Command::Tide(TideEntered::Table { turns })
}

fn let_go(veered_m: f64) -> Command {
    Command::LetGo { veered: Some(Metres(veered_m)), depth: None, place: "Hollow Ness".into() }
}

fn refused(out: &[Output]) -> String {
    match out {
        [Output::Refused { why, .. }] => why.to_string(),
        other => panic!("not refused: {other:?}"),
    }
}

/// In 5 m of water, at half tide rising by 1 m to high water; counted out to 28 m in two minutes, then a pull of each
/// kind, each of which the anchor holds.
fn dug_in(run: &mut Run) {
    run.crew(tide());
    run.lie_for(10, |_| bow_at(0.0));
    run.crew(Command::VeerTo { length: Metres(28.0) });
    run.crew(let_go(7.0));
    // Bow and antenna fall back together; the drop point is 9 m north of the antenna.
    for (mark_m, s0) in [(10.0, 0), (20.0, 40), (28.0, 80)] {
        run.lie_for(40, |s| bow_at(0.22 * (s0 + s) as f64));
        run.crew(Command::Veered { length: Metres(mark_m) });
    }
    pull(run, PullKind::Slow, 60, |s| (26.4_f64).min(26.0 + 0.05 * s as f64));
    pull(run, PullKind::HalfThrottle, 40, |_| 26.6);
    run.crew(Command::Neutral);
    run.lie_for(40, |_| bow_at(25.5));
    pull(run, PullKind::HardBurst, 20, |_| 27.0);
    run.crew(Command::Neutral);
    run.lie_for(40, |_| bow_at(25.5));
}

fn pull(run: &mut Run, kind: PullKind, seconds: i64, distance_m: impl Fn(i64) -> f64) {
    run.crew(Command::Pull { kind });
    run.instruments.rpm = Some(1400);
    run.lie_for(seconds, |s| bow_at(distance_m(s)));
    run.instruments.rpm = None;
}

#[test]
fn soundings_are_kept_with_their_places_and_reduced_to_the_tide() {
    let mut run = Run::with(settings());
    run.crew(tide());
    run.lie_for(10, |_| Local::default());
    assert_eq!(run.crew(Command::BeginRecon), []);
    for s in 0..60 {
        // A shoal of 2.5 m on the way, some 25 m before she stops.
        run.instruments.depth_below_transducer_m = if (44..52).contains(&s) { 2.0 } else { 4.5 };
        run.lie_for(1, |_| Local::new(0.0, 2.0 * s as f64));
    }
    let recon = run.snapshot().recon;
    assert!((20..40).contains(&recon.soundings.len()), "{}", recon.soundings.len());
    let here = recon.here.expect("there is a depth here");
    // Half tide, 1.8 m above the datum; 0.8 m at low water, 2.8 m at high.
    let close = |value: Option<Metres>, m: f64| assert!((value.unwrap().0 - m).abs() < 0.05, "{value:?} {m}");
    close(Some(here.depth), 5.0);
    close(here.charted, 3.2);
    close(here.lowest, 4.0);
    close(here.highest, 6.0);
    let least = recon.least.expect("a shoalest");
    close(least.sounding.lowest, 1.5);
    assert!(least.under_keel.0 < 0.0 && (6..12).contains(&least.of), "{least:?}");
    run.crew(Command::EndRecon);
    let kept = run.snapshot().recon.soundings.len();
    run.lie_for(30, |s| Local::new(3.0 * s as f64, 120.0));
    assert_eq!(run.snapshot().recon.soundings.len(), kept, "none are taken when it is over");
}

#[test]
fn at_the_next_place_soundings_are_about_her_and_not_about_the_last_anchor() {
    let mut run = Run::with(settings());
    run.lie_for(10, |_| Local::default());
    run.crew(let_go(30.0));
    run.lie_for(60, |_| Local::default());
    run.crew(Command::Aweigh);
    run.lie_for(200, |s| Local::new(0.0, 3.0 * s as f64));
    run.crew(Command::BeginRecon);
    run.lie_for(20, |s| Local::new(2.0 * s as f64, 600.0));
    let least = run.snapshot().recon.least.expect("soundings round about her");
    assert!(least.distance.0 < 60.0 && least.of >= 5, "{least:?}");
}

#[test]
fn the_rode_is_counted_out_by_its_marks_towards_the_length_for_high_water() {
    let mut run = Run::with(settings());
    run.crew(tide());
    run.lie_for(10, |_| Local::default());
    let advised = run.snapshot().setting.target.expect("there is a depth");
    // 6 m at high water and 1.2 m of bow, four times.
    assert_eq!((advised.length, advised.by), (Metres(29.0), TargetBy::Scope));
    run.crew(Command::VeerTo { length: Metres(28.0) });
    run.crew(let_go(7.0));
    run.lie_for(60, |s| bow_at(0.3 * s as f64));
    let setting = run.snapshot().setting;
    assert_eq!((setting.doing, setting.target.unwrap().by), (Doing::Veering, TargetBy::Crew));
    assert_eq!(setting.marks.out.unwrap().look.as_ref(), "red");
    run.crew(Command::Veered { length: Metres(10.0) });
    let setting = run.snapshot().setting;
    assert_eq!(setting.marks.here.unwrap().look.as_ref(), "red");
    assert_eq!(setting.marks.target.unwrap().look.as_ref(), "blue");
    assert_eq!(run.snapshot().rode.veered, Some(Metres(10.0)));
    // With 10 m told she lies 18 m off: neither that nor the short scope is called while the rode is counted out.
    run.lie_for(60, |_| bow_at(18.0));
    assert_eq!(run.raised(), []);
    run.crew(Command::Veered { length: Metres(28.0) });
    assert_eq!(run.snapshot().setting.doing, Doing::Lying);
    run.lie_for(30, |_| bow_at(18.0));
    assert_eq!(run.raised(), [AlertKind::ScopeShort], "28 m is less than the crew's own least scope");
}

#[test]
fn a_count_that_nobody_ends_is_what_she_lies_to_in_the_end() {
    let mut run = Run::with(settings());
    run.lie_for(10, |_| Local::default());
    run.crew(Command::VeerTo { length: Metres(50.0) });
    run.crew(let_go(10.0));
    run.lie_for(1100, |s| bow_at((0.3 * s as f64).min(45.0)));
    assert_eq!(run.raised(), []);
    run.lie_for(300, |_| bow_at(45.0));
    // 10 m are entered as out, and she lies 45 m off.
    assert!(run.raised().contains(&AlertKind::Outside), "{:?}", run.raised());
}

#[test]
fn pulls_are_judged_with_their_numbers_and_the_word_is_the_crews() {
    let mut run = Run::with(settings());
    dug_in(&mut run);
    let snapshot = run.snapshot();
    let pulls = &snapshot.setting.pulls;
    assert_eq!(pulls.len(), 3);
    for pull in pulls {
        assert_eq!((pull.taut, pull.held, pull.rpm), (Taut::Taut, Held::Held, Some(1400.0)), "{pull:?}");
    }
    assert!(pulls[2].sprang_back.unwrap().0 > 1.0, "{:?}", pulls[2]);
    assert!(pulls[0].toward.is_none_or(|toward| (toward.degrees() - 180.0).abs() < 10.0));
    assert_eq!(snapshot.stage, Stage::Setting, "the program never says brought up by itself");
    assert!(snapshot.setting.advice.unwrap().next.contains("brought up"));
    let said: Vec<_> = snapshot.happenings.iter().filter(|h| h.text.contains("the anchor held")).collect();
    assert_eq!(said.len(), 3);
    run.crew(Command::BroughtUp);
    let leaving = run.snapshot().setting.leaving.unwrap();
    assert!(!leaving.reasonable && !leaving.not_yet.is_empty());
    run.lie_for(3600, |s| Local::new((s as f64 / 50.0).sin(), -25.5));
    let leaving = run.snapshot().setting.leaving.unwrap();
    assert!(leaving.reasonable, "an hour in 12 kn after pulls that held: {leaving:?}");
    assert!(leaving.held_for.unwrap() >= Span::from_mins(60));
}

#[test]
fn revolutions_are_shown_while_the_engine_tells_them() {
    let mut run = Run::with(settings());
    run.say("IIRPM,E,1,1950,,A");
    run.lie_for(1, |_| Local::default());
    assert_eq!(run.snapshot().revolutions.now(), Some(1950.0));
    run.lie_for(30, |_| Local::default());
    assert!(matches!(run.snapshot().revolutions, Reading::Lost { last, .. } if last == 1950.0));
}

#[test]
fn weighing_tells_what_is_out_when_it_is_up_and_down_and_how_she_drifts() {
    let mut run = Run::with(settings());
    dug_in(&mut run);
    run.crew(Command::BroughtUp);
    run.lie_for(600, |_| bow_at(25.5));
    assert_eq!(run.snapshot().weighing, None);
    run.crew(Command::Weigh);
    run.crew(Command::Veered { length: Metres(20.0) });
    run.lie_for(30, |s| bow_at(25.5 - 0.5 * s as f64));
    let weighing = run.snapshot().weighing.expect("she is weighing");
    assert_eq!(weighing.up_and_down, UpAndDown::Not);
    let (off, bearing) = weighing.to_anchor.expect("where the anchor is");
    assert!(off.0 < 16.0 && (bearing.turn_to(TrueBearing::new(0.0))).abs() < 30.0, "{off:?} {bearing}");
    assert!(weighing.remind.iter().any(|words| words.contains("Never haul her by the windlass")));
    // 5 m of water and some tide, 1.2 m of bow: 7 m lead straight down.
    run.crew(Command::Veered { length: Metres(7.0) });
    run.lie_for(5, |_| bow_at(2.0));
    let weighing = run.snapshot().weighing.expect("she is weighing");
    assert_eq!(weighing.up_and_down, UpAndDown::UpAndDown);
    assert!(weighing.next.starts_with("Up and down"), "{}", weighing.next);
    let ended = run.crew(Command::Aweigh);
    let [Output::RideEnded { why: EndedBy::Crew, kept, .. }] = &ended[..] else { panic!("{ended:?}") };
    assert_eq!((kept.holding.pulls, kept.holding.dragged, kept.veered), ((3, 0), false, Some(Metres(28.0))));
    // 5 m at half tide, 1.8 m above the datum.
    assert!((kept.charted.unwrap().0 - 3.2).abs() < 0.05, "{kept:?}");
    assert!(kept.holding.words.contains("It held 3 of the engine's pulls"), "{}", kept.holding.words);
    run.lie_for(20, |s| Local::new(0.5 * s as f64, -2.0));
    let drift = run.snapshot().weighing.expect("drift is shown for a while").drift.unwrap();
    assert!((drift.0.0 - 9.5).abs() < 1.0 && (drift.1.degrees() - 90.0).abs() < 10.0, "{drift:?}");
    run.crew(Command::Neutral);
    run.lie_for(3, |_| Local::new(9.5, -2.0));
    assert!(run.snapshot().weighing.unwrap().drift.unwrap().0.0 < 1.0, "counts from neutral");
    run.lie_for(1000, |_| Local::new(9.5, -2.0));
    assert_eq!(run.snapshot().weighing, None);
}

#[test]
fn what_cannot_be_done_now_is_refused_in_words() {
    let mut run = Run::with(settings());
    run.lie_for(10, |_| Local::default());
    assert!(refused(&run.crew(Command::Pull { kind: PullKind::Slow })).contains("let the anchor go first"));
    assert!(refused(&run.crew(Command::Neutral)).contains("No pull goes on"));
    assert!(refused(&run.crew(Command::EndRecon)).contains("No reconnaissance"));
    for length in [0.0, -3.0, 5000.0, f64::NAN] {
        assert!(refused(&run.crew(Command::VeerTo { length: Metres(length) })).contains("at most 1000 m"));
    }
    run.crew(let_go(30.0));
    assert!(refused(&run.crew(Command::BeginRecon)).contains("before it is let go"));
    assert!(refused(&run.crew(Command::Neutral)).contains("No pull goes on"));
    run.crew(Command::Weigh);
    assert!(refused(&run.crew(Command::Pull { kind: PullKind::Slow })).contains("let the anchor go first"));
    assert!(refused(&run.crew(Command::VeerTo { length: Metres(30.0) })).contains("weighing"));
}

/// All of a snapshot that these commands fill, as text to compare.
fn shown(snapshot: &Snapshot) -> String {
    let Snapshot {
        at,
        stage,
        verdict,
        setting,
        recon,
        weighing,
        rounds,
        rode,
        happenings,
        alerts,
        holding,
        ..
    } = snapshot;
    format!(
        "{at:?} {stage:?} {verdict:?} {setting:?} {recon:?} {weighing:?} {rounds:?} {rode:?} {happenings:?} {alerts:?} \
         {holding:?}"
    )
}

/// Runs to some moment, writes everything down, takes the ride up in a fresh watch, and goes on with both.
fn taken_up(upto: impl Fn(&mut Run), on: impl Fn(&mut Run)) {
    let rides = tempfile::tempdir().expect("a folder");
    let mut settings = settings();
    settings.limits.round_every = Some(Span::from_mins(30));
    let ride = RideFile { settings: settings.clone(), ..RideFile::default() };
    let mut run = Run::with(settings);
    run.recorder = Some(Recorder::begin(rides.path(), support::START, ride).expect("a writer"));
    upto(&mut run);
    let recorder = run.recorder.take().expect("put there");
    recorder.flush(std::time::Duration::from_secs(60)).expect("written");

    let folder = std::fs::read_dir(rides.path()).expect("listed").next().expect("one").expect("read").path();
    let reader = RideReader::open(&folder).expect("opened");
    let mut watch = Watch::new(reader.settings().clone());
    for entry in reader.map(|entry| entry.expect("read")) {
        watch.handle(entry.at, entry.what.input());
    }
    watch.handle(run.now(), Input::Tick);
    assert_eq!(shown(&watch.snapshot()), shown(&run.snapshot()));
    // And both go on alike.
    let mut again = Run::with(Settings::default());
    again.watch = watch;
    again.go_on_from(&run);
    on(&mut run);
    on(&mut again);
    assert_eq!(shown(&again.snapshot()), shown(&run.snapshot()));
}

#[test]
fn a_ride_taken_up_knows_the_wind_ahead_and_the_way_out() {
    let then = |hour: i64, from: f64| WindThen {
        at: support::START + Span::from_mins(60 * hour),
        from: Some(TrueBearing::new(from)),
        mean: Knots(14.0),
        gust: Some(Knots(20.0)),
    };
    let winds = Forecast::try_from(vec![then(0, 100.0), then(6, 160.0)]).ok();
    let way = Some(WayOut { course: TrueBearing::new(140.0), distance_nm: 0.4 });
    taken_up(
        |run| {
            run.crew(Command::WindAhead { winds: winds.clone() });
            run.let_go_and_bring_up();
            run.crew(Command::WayOut { way });
            run.lie_for(900, |_| bow_at(20.0));
        },
        |run| {
            run.lie_for(600, |_| bow_at(20.0));
            let snap = run.snapshot();
            assert_eq!((snap.way_out, snap.ahead.forecast.as_deref()), (way, winds.as_ref()));
            assert!(snap.ahead.night.is_some());
        },
    );
}

fn open_to_the_east() -> OpenWater {
    OpenWater { fetch: parse_fetch("E 4, W 0.1").expect("open water"), depth: None }
}

/// Open water that is entered on watch raises a sea in each hour of the night and in the load of now, and a ride that is
/// taken up knows it.
#[test]
fn open_water_entered_on_watch_is_in_the_load_of_every_hour_and_outlives_a_crash() {
    let then = |hour: i64| WindThen {
        at: support::START + Span::from_mins(60 * hour),
        from: Some(TrueBearing::new(90.0)),
        mean: Knots(24.0),
        gust: Some(Knots(33.0)),
    };
    let winds = Forecast::try_from(vec![then(0), then(6)]).ok();
    let snubber = Some(Snubber { size_mm: 14.0, length: Metres(8.0) });
    let berth = Berth { seabed: Some(Seabed::Mud), open: open_to_the_east(), snubber, ..Berth::default() };
    taken_up(
        |run| {
            run.crew(Command::WindAhead { winds: winds.clone() });
            run.let_go_and_bring_up();
            run.lie_for(120, |_| bow_at(20.0));
            let before = run.snapshot().ahead.night.expect("a night").worst().clone();
            assert!(before.pulls.waves.is_none());
            run.crew(Command::Berth { berth: Box::new(berth.clone()) });
            run.lie_for(60, |_| bow_at(20.0));
            let after = run.snapshot().ahead.night.expect("a night").worst().clone();
            let waves = after.pulls.waves.expect("a sea");
            assert!(waves.peak < waves.peak_bare.expect("without the snubber"), "{waves:?}");
            assert!(waves.peak_bare > Some(before.pulls.calculated().0), "{waves:?}");
            run.lie_for(600, |_| bow_at(20.0));
        },
        |run| {
            run.lie_for(600, |_| bow_at(20.0));
            let snap = run.snapshot();
            assert_eq!(snap.berth, berth);
            assert!(snap.ahead.night.expect("a night").hours.iter().all(|hour| hour.pulls.waves.is_some()));
        },
    );
}

/// The book's open water stands in for what nobody entered, and goes with the place.
#[test]
fn a_place_of_the_book_brings_its_bottom_open_water_and_shore() {
    let mut run = Run::with(Settings::default());
    run.lie_for(30, |_| bow_at(20.0));
    let here = run.snapshot().fix.position.expect("a position");
    let shore = vec![Sector { from: TrueBearing::new(250.0), to: TrueBearing::new(290.0) }];
    let place = Place {
        seabed: Some(Seabed::Mud),
        open: open_to_the_east(),
        shore,
        ..Place::new("Hollow Ness", here)
    };
    let mud = Berth { seabed: Some(Seabed::StiffClay), ..Berth::default() };
    run.crew(Command::Near { place: Box::new(place.clone()) });
    run.crew(Command::Berth { berth: Box::new(mud) });
    run.let_go_and_bring_up();
    let berth = run.snapshot().berth;
    assert_eq!(
        (berth.seabed, &berth.open, &berth.shore),
        (Some(Seabed::StiffClay), &place.open, &place.shore)
    );
    run.crew(Command::Weigh);
    run.crew(Command::Aweigh);
    assert_eq!(run.snapshot().berth, Berth::default());
}

#[test]
fn a_ride_taken_up_in_the_midst_of_a_pull_goes_on_as_if_nothing_had_happened() {
    taken_up(
        |run| {
            run.crew(Command::BeginRecon);
            run.lie_for(60, |s| bow_at(60.0 - s as f64));
            dug_in(run);
            pull(run, PullKind::HardBurst, 10, |s| 26.0 + 0.1 * s as f64);
        },
        |run| {
            run.lie_for(10, |s| bow_at(27.0 + 0.1 * s as f64));
            run.crew(Command::Neutral);
            run.lie_for(30, |_| bow_at(26.0));
        },
    );
}

#[test]
fn a_ride_taken_up_in_the_midst_of_rounds_goes_on_as_if_nothing_had_happened() {
    let round = |note: &str| {
        let differs = vec![Differs { item: RoundItem::Wind, note: note.into() }];
        Command::Round(RoundMade { by: Some("Tove".into()), checked: RoundItem::USUAL.to_vec(), differs })
    };
    taken_up(
        |run| {
            dug_in(run);
            run.crew(Command::BroughtUp);
            run.instruments.wind_kn = 22.0;
            run.lie_for(2000, |_| bow_at(25.5));
            run.crew(round("backs"));
            run.lie_for(1000, |_| bow_at(25.5));
        },
        |run| {
            run.lie_for(2400, |_| bow_at(25.5));
            run.crew(round("blows"));
            run.lie_for(60, |_| bow_at(25.5));
            run.crew(Command::Weigh);
            run.lie_for(60, |_| bow_at(20.0));
        },
    );
}

#[test]
fn journals_of_before_rounds_and_rota_are_still_read() {
    let header = r#"{"format":1,"version":"0.1.0","at":1780430520000,"time":"2026-06-02T20:02:00.000Z","settings":{"boat":{"name":"Marram","hull":"monohull","loa":10.0,"beam":3.3,"draft":1.8,"bow_height":1.2,"displacement_kg":5000.0,"windage_m2":null,"antenna_aft":9.0,"antenna_starboard":0.0,"sounder_below_water":0.5},"tackle":{"chain_mm":8.0,"chain":50.0,"rope_mm":0.0,"rope":0.0,"anchor_kg":null},"limits":{"circle":null,"circle_margin":10.0,"outside_after":20000,"fix_lost_after":15000,"fix_lost_alarm_after":60000,"wind_shift_deg":45.0,"wind_window":600000,"wind_high":25.0,"gust_high":34.0,"barred":[],"under_keel":0.5,"scope":3.0,"depth_odd":1.0,"escalate_after":300000},"feeds":[{"name":"masthead","priority":0}]}}"#;
    let folder = tempfile::tempdir().expect("a folder");
    let event = r#"{"at":1780430520001,"time":"","event":{"crew":{"act":"let_go","veered":30.0,"depth":4.6,"place":"Hollow Ness"}}}"#;
    std::fs::write(folder.path().join("journal.jsonl"), format!("{header}\n{event}\n")).expect("written");
    std::fs::write(folder.path().join("night.nmea"), "").expect("written");
    let reader = RideReader::open(folder.path()).expect("opened");
    let settings = reader.settings().clone();
    let limits =
        Limits { circle_margin: Metres(10.0), outside_after: Span::from_secs(20), ..Limits::default() };
    assert_eq!((settings.boat.name.as_str(), settings.limits.clone()), ("Marram", limits));
    assert!(settings.marks.is_empty() && settings.crew.rota.is_empty());
    let entries: Vec<_> = reader.map(|entry| entry.expect("read")).collect();
    assert_eq!(entries.len(), 1);
}

fn any_command() -> impl Strategy<Value = Command> {
    let metres = prop_oneof![-5.0..60.0, Just(f64::NAN), Just(f64::INFINITY), Just(0.0)].prop_map(Metres);
    let kind = prop_oneof![Just(PullKind::Slow), Just(PullKind::HalfThrottle), Just(PullKind::HardBurst)];
    let item =
        prop_oneof![Just(RoundItem::Bearings), Just(RoundItem::Depth), ".{0,9}".prop_map(RoundItem::Own)];
    let items = prop::collection::vec(item, 0..4);
    let round = (items.clone(), items, prop::option::of(".{0,9}")).prop_map(|(checked, differs, by)| {
        let differs = differs.into_iter().map(|item| Differs { item, note: "ä".repeat(400) }).collect();
        Command::Round(RoundMade { by, checked, differs })
    });
    let every = prop::option::of(any::<i64>()).prop_map(|ms| {
        Command::Limits(Limits {
            round_every: ms.map(Span),
            round_grace: Span(ms.unwrap_or(1) / 7),
            ..Limits::default()
        })
    });
    prop_oneof![
        3 => Just(let_go(12.0)),
        1 => Just(Command::LetGo { veered: None, depth: None, place: String::new() }),
        1 => metres.clone().prop_map(|depth| Command::DropDepth { depth }),
        1 => Just(Command::NamePlace { name: "Hollow Ness".into() }),
        1 => proptest::sample::select(vec![
            Transit::Taken,
            Transit::NoneInSight,
            Transit::Stood,
            Transit::Opened,
        ])
        .prop_map(|seen| Command::Transit { seen }),
        2 => metres.clone().prop_map(|length| Command::VeerTo { length }),
        2 => metres.clone().prop_map(|length| Command::Veered { length }),
        4 => kind.prop_map(|kind| Command::Pull { kind }),
        3 => Just(Command::Neutral),
        2 => Just(Command::BroughtUp),
        1 => Just(Command::BeginRecon),
        1 => Just(Command::EndRecon),
        1 => Just(Command::Weigh),
        1 => Just(Command::Stay),
        1 => Just(Command::LiesHere),
        1 => Just(Command::BeginCheck),
        1 => proptest::sample::select(CheckItem::ALL.to_vec())
            .prop_map(|item| Command::CheckFound(Finding { item, found: Some(Found::Wrong) })),
        1 => Just(Command::EndCheck),
        1 => Just(Command::Rehearse),
        1 => any::<bool>().prop_map(|heard| Command::Rehearsed { heard: Some(heard) }),
        1 => (any::<bool>(), 0_i64..5_000_000_000_000, 0.0..60.0_f64)
            .prop_map(|(turn, at, wind)| Command::Wake(WakeFor { at: Some(WatchTime(at)), turn, wind: Some(Knots(wind)) })),
        1 => Just(Command::Aweigh),
        1 => Just(Command::Lying { veered: None, place: String::new() }),
        1 => metres.prop_map(|distance| Command::MoveDrop(DropMove::FromBow {
            bearing: TrueBearing::new(20.0),
            distance: Metres(if distance.0.is_finite() { distance.0 } else { 9.0 }),
        })),
        2 => round,
        1 => every,
        1 => Just(tide()),
    ]
}

fn line(watch: &mut Watch, at: WatchTime, body: &str) {
    let line = format!("${body}*{:02X}", checksum::xor(body.as_bytes()));
    watch.handle(at, Input::Line { feed: FeedId(0), bytes: line.as_bytes() });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever the crew tells in whatever order, at whatever times: nothing panics, and what is kept stays bounded.
    #[test]
    fn no_order_of_commands_panics(
        acts in prop::collection::vec((any_command(), prop_oneof![0_i64..20_000, -5_000_i64..4_000_000], 0_u32..60), 1..60)
    ) {
        let mut watch = Watch::new(settings());
        watch.feed_named("masthead");
        let mut at = support::START;
        for (command, after_ms, fixes) in acts {
            for s in 0..fixes {
                at += Span::from_secs(1);
                let minutes = f64::from(s) / 500.0;
                line(&mut watch, at, &format!("GPRMC,,A,52{minutes:08.5},N,02000.00000,W,0.3,180.0,,,,A"));
                line(&mut watch, at, "HEHDT,10.0,T");
                line(&mut watch, at, "SDDBT,,f,4.5,M,,F");
                line(&mut watch, at, "IIRPM,S,0,-900,,A");
            }
            at += Span(after_ms);
            watch.handle(at, Input::Event(Event::Crew(command)));
            let snapshot = watch.snapshot();
            prop_assert!(snapshot.setting.pulls.len() <= 12 && snapshot.recon.soundings.len() <= 400);
            prop_assert!(snapshot.rounds.done.len() <= 100);
            prop_assert!(snapshot.stage != Stage::NotSet || snapshot.verdict == Verdict::NotSet);
        }
    }
}

#[test]
fn a_key_pressed_twice_is_no_pull() {
    let mut run = Run::with(settings());
    run.lie_for(10, |_| bow_at(0.0));
    run.crew(let_go(28.0));
    run.lie_for(60, |_| bow_at(20.0));
    run.crew(Command::Pull { kind: PullKind::Slow });
    run.crew(Command::Neutral);
    assert_eq!(run.snapshot().setting.pulls, [], "nothing was pulled");
    run.crew(Command::Pull { kind: PullKind::Slow });
    run.lie_for(3, |_| bow_at(20.0));
    run.crew(Command::Pull { kind: PullKind::HalfThrottle });
    run.lie_for(30, |_| bow_at(20.0));
    run.crew(Command::Neutral);
    let pulls: Vec<PullKind> = run.snapshot().setting.pulls.iter().map(|pull| pull.kind).collect();
    assert_eq!(pulls, [PullKind::HalfThrottle]);
    assert!(run.snapshot().happenings.iter().any(|h| h.text.contains("that is no pull")));
}

#[test]
fn what_the_crew_sees_of_its_transit_counts_beside_the_positions() {
    let seen = |positions: bool, transit: Transit| {
        let mut run = Run::with(settings());
        run.lie_for(10, |_| bow_at(0.0));
        run.crew(let_go(28.0));
        assert!(matches!(run.crew(Command::Transit { seen: Transit::Stood })[..], [Output::Refused { .. }]));
        run.crew(Command::Transit { seen: Transit::Taken });
        run.lie_for(60, |s| bow_at(0.44 * s as f64));
        run.instruments.position = positions;
        pull(&mut run, PullKind::HalfThrottle, 40, |_| 26.6);
        run.crew(Command::Neutral);
        assert!(run.snapshot().setting.asks_transit, "it is asked for after the pull");
        run.crew(Command::Transit { seen: transit });
        let setting = run.snapshot().setting;
        assert!(!setting.asks_transit);
        (setting.pulls[0].held, setting.pulls[0].reason)
    };
    assert_eq!(seen(true, Transit::Stood).0, Held::Held);
    assert_eq!(seen(true, Transit::Opened), (Held::Moved, "your transit opened"));
    assert_eq!(seen(false, Transit::Stood), (Held::Held, "your transit stood"));
    assert_eq!(seen(false, Transit::Opened).0, Held::Moved);
}

#[test]
fn nobody_is_told_to_leave_her_without_a_position() {
    let mut run = Run::with(settings());
    dug_in(&mut run);
    run.crew(Command::BroughtUp);
    run.lie_for(3600, |s| Local::new((s as f64 / 50.0).sin(), -25.5));
    assert!(run.snapshot().setting.leaving.unwrap().reasonable);
    run.instruments.position = false;
    run.lie_for(12, |_| bow_at(25.0));
    let leaving = run.snapshot().setting.leaving.unwrap();
    assert!(!leaving.reasonable && leaving.not_yet[0].starts_with("no position"), "{leaving:?}");
}
