//! The whole job on a simulated boat, through the whole watch: soundings, letting go, digging in, a night with rounds
//! and a wind warning, weighing.

use std::sync::Arc;
use std::time::{Duration, Instant};

use nightrode::edge::clock::{Clock, TimeSource};
use nightrode::edge::folder::RideReader;
use nightrode::edge::keeper::{Inflow, Keeper, Order, Setup, Simulated};
use nightrode::sim::{Event, job};
use nightrode::watch::Watch;
use nightrode::watch::alert::{AlertChange, AlertKind, Change, Priority};
use nightrode::watch::input::{self, Command, EndedBy, Input, Keepsake, Output, PullKind};
use nightrode::watch::setting::{Held, Taut};
use nightrode::watch::snapshot::{Snapshot, Stage};
use nightrode::watch::units::{Metres, Span, WatchTime};

/// What a job left behind.
#[derive(Default)]
struct Done {
    stages: Vec<Stage>,
    changes: Vec<AlertChange>,
    refused: Vec<String>,
    ended: Option<(WatchTime, EndedBy, Keepsake)>,
    captions: Vec<(WatchTime, String)>,
    let_go: Option<Snapshot>,
    brought_up: Option<Snapshot>,
    windy: Option<Snapshot>,
    weighing: Vec<Snapshot>,
    last: Snapshot,
}

fn run(seed: u64) -> Done {
    let mut done = Done::default();
    let night = job(seed);
    let mut watch = Watch::new(night.settings());
    let mut out = Vec::new();
    for event in night {
        match event {
            Event::Truth(_) => {}
            Event::Caption { at, text } => done.captions.push((at, text)),
            Event::Line { at, feed, bytes } => {
                watch.handle_into(at, Input::Line { feed, bytes: &bytes }, &mut out)
            }
            Event::Crew { at, command } => {
                match command {
                    Command::LetGo { .. } => done.let_go = Some(watch.snapshot()),
                    Command::BroughtUp => done.brought_up = Some(watch.snapshot()),
                    Command::Veered { .. } if watch.stage() == Stage::Weighing => {
                        done.weighing.push(watch.snapshot())
                    }
                    Command::Aweigh => done.weighing.push(watch.snapshot()),
                    _ => {}
                }
                watch.handle_into(at, Input::Event(input::Event::Crew(command)), &mut out);
            }
        }
        if done.stages.last() != Some(&watch.stage()) {
            done.stages.push(watch.stage());
        }
        for output in out.drain(..) {
            match output {
                Output::Alert(change) => {
                    if change.alert.kind == AlertKind::WindHigh && change.change == Change::Acknowledged {
                        done.windy = Some(watch.snapshot());
                    }
                    done.changes.push(change);
                }
                Output::Refused { why, .. } => done.refused.push(why),
                Output::RideEnded { at, why, kept } => done.ended = Some((at, why, *kept)),
                _ => {}
            }
        }
    }
    done.last = watch.snapshot();
    done
}

#[test]
fn the_whole_job_is_watched_from_the_first_sounding_to_the_open_sea() {
    for seed in [1, 2, 3] {
        let done = run(seed);
        assert_eq!(done.refused, [] as [String; 0], "{seed}");
        assert_eq!(
            done.stages,
            [Stage::NotSet, Stage::Setting, Stage::BroughtUp, Stage::Weighing, Stage::NotSet],
            "{seed}"
        );

        // Before: soundings of the spots, reduced to the night's tide, and the length for high water.
        let before = done.let_go.expect("let go");
        assert!(before.recon.soundings.len() > 40, "{seed}: {}", before.recon.soundings.len());
        let least = before.recon.least.expect("soundings near by");
        assert!(least.sounding.lowest.unwrap() < least.sounding.depth, "{seed}: {least:?}");
        assert_eq!(before.setting.target.unwrap().length, Metres(40.0));

        // Dug in: every pull held, the burst hardest, and the program says so.
        let setting = &done.brought_up.as_ref().expect("brought up").setting;
        let pulls = &setting.pulls;
        let kinds: Vec<PullKind> = pulls.iter().map(|pull| pull.kind).collect();
        assert_eq!(
            kinds,
            [PullKind::Slow, PullKind::HalfThrottle, PullKind::Slow, PullKind::HardBurst],
            "{seed}"
        );
        assert!(pulls.iter().all(|pull| pull.held != Held::Moved), "{seed}: {pulls:?}");
        let burst = &pulls[3];
        assert_eq!((burst.held, burst.taut), (Held::Held, Taut::Taut), "{seed}: {}", burst.words);
        assert!(burst.rpm.is_some_and(|rpm| rpm > 1900.0), "{seed}: {burst:?}");
        assert!(setting.advice.as_ref().unwrap().next.contains("brought up"), "{seed}: {:?}", setting.advice);

        // The night: no false alarm; the rounds were made before anybody had to be called; the wind was answered.
        let raised: Vec<(AlertKind, Priority)> = done
            .changes
            .iter()
            .filter(|c| matches!(c.change, Change::Raised | Change::Risen))
            .map(|c| (c.alert.kind, c.alert.priority))
            .collect();
        let allowed = [(AlertKind::RoundDue, Priority::Caution), (AlertKind::WindHigh, Priority::Warning)];
        assert!(raised.iter().all(|alert| allowed.contains(alert)), "{seed}: {raised:?}");
        assert!(allowed.iter().all(|alert| raised.contains(alert)), "{seed}: {raised:?}");
        let windy = done.windy.expect("the warning was answered");
        assert!(windy.rounds.every_now < windy.rounds.every, "{seed}: weather shortens the interval");
        let rounds = &done.last.rounds.done;
        assert!(rounds.len() >= 8, "{seed}: {}", rounds.len());
        let differs: Vec<_> = rounds.iter().flat_map(|round| &round.differs).collect();
        assert!(differs.len() == 1 && differs[0].note.contains("chafes"), "{seed}: {differs:?}");

        // Weighing: the rode comes in by its marks, up and down at last, and the place is kept.
        let out: Vec<f64> =
            done.weighing.iter().filter_map(|s| s.weighing.as_ref()?.out).map(|m| m.0).collect();
        assert!(out.len() > 4 && out.is_sorted_by(|a, b| a >= b), "{seed}: {out:?}");
        let (_, why, kept) = done.ended.expect("the ride ended");
        assert_eq!((why, kept.place.as_str(), kept.holding.dragged), (EndedBy::Crew, "Hollow Ness", false));
        assert!(
            kept.holding.rode_for > Span::from_mins(600) && kept.holding.wind.unwrap().0 > 25.0,
            "{kept:?}"
        );
        assert!(kept.charted.is_some() && kept.soundings.len() > 40, "{seed}: {kept:?}");
        assert_eq!(kept.veered, Some(Metres(40.0)));

        // Every step is told.
        assert!(done.captions.len() > 12, "{seed}: {:?}", done.captions);
        assert!(done.captions.is_sorted_by_key(|(at, _)| *at));
    }
}

/// The job's own clock, so many times as fast as the world's.
struct Fast {
    zero: Instant,
    start_ms: i64,
}

const FASTER: u32 = 4000;

impl TimeSource for Fast {
    fn wall_ms(&self) -> i64 {
        self.start_ms + i64::try_from(self.running().as_millis()).expect("a short test")
    }

    fn running(&self) -> Duration {
        self.zero.elapsed() * FASTER
    }

    fn running_and_asleep(&self) -> Option<Duration> {
        None
    }
}

/// What soundings, setting, weighing and rounds show, and all that happened.
fn shown(snapshot: &Snapshot) -> String {
    let Snapshot { at, stage, recon, setting, weighing, rounds, happenings, drop, rode, .. } = snapshot;
    format!("{at:?} {stage:?} {recon:?} {setting:?} {weighing:?} {rounds:?} {happenings:?} {drop:?} {rode:?}")
}

#[test]
fn soundings_taken_before_letting_go_are_given_back_by_the_rides_folder() {
    let rides = tempfile::tempdir().expect("a folder");
    let night = job(4);
    let (settings, start) = (night.settings(), night.scenario().start);
    // Twenty minutes: she has just been brought up.
    let until = start + Span::from_mins(20);
    let events: Simulated = Box::new(night.take_while(move |event| event.at() < until));
    let clock = Clock::on(Arc::new(Fast { zero: Instant::now(), start_ms: start.0 }));
    let setup = Setup { settings, rides: Some(rides.path().to_owned()), clock, speed: f64::from(FASTER) };
    let (keeper, mut lookout) = Keeper::new(setup);
    let (orders, orders_in) = tokio::sync::mpsc::unbounded_channel();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .expect("a runtime");
    let live = runtime.block_on(async {
        let keeping = tokio::spawn(keeper.keep(Inflow::Night(events.peekable()), orders_in));
        while lookout.snapshots.borrow_and_update().stage != Stage::BroughtUp {
            lookout.snapshots.changed().await.expect("the keeper lives");
        }
        let live = lookout.snapshots.borrow().clone();
        orders.send(Order::Quit).expect("it listens");
        keeping.await.expect("it ends");
        live
    });
    assert!(
        live.recon.soundings.len() > 40 && live.setting.pulls.len() == 4,
        "{}",
        live.recon.soundings.len()
    );

    let folder = std::fs::read_dir(rides.path()).expect("listed").next().expect("one").expect("read").path();
    let reader = RideReader::open(&folder).expect("opened");
    let mut watch = Watch::new(reader.settings().clone());
    for entry in reader.map(|entry| entry.expect("read")).take_while(|entry| entry.at <= live.at) {
        watch.handle(entry.at, entry.what.input());
    }
    watch.handle(live.at, Input::Tick);
    assert_eq!(shown(&watch.snapshot()), shown(&live));
}
