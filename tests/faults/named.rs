//! Faults that were found once, each by its name.

use nightrode::edge::feed::Arrival;
use nightrode::edge::folder::{JOURNAL, RIDE};
use nightrode::edge::keeper::Order;
use nightrode::watch::alert::{AlertKind, AlertState, Sound};
use nightrode::watch::geo::Local;
use nightrode::watch::input::{Command, FeedId};
use nightrode::watch::snapshot::Stage;
use nightrode::watch::units::Span;

use super::ride::World;

fn anchored() -> World {
    World::anchored(1).expect("anchored")
}

/// The words of an alert.
fn what(world: &mut World, kind: AlertKind) -> String {
    let alerts = world.snapshot().alerts;
    alerts.into_iter().find(|alert| alert.kind == kind).map_or_else(String::new, |alert| alert.reason.what)
}

#[test]
fn a_clock_behind_the_log_at_resume_does_not_stop_time_and_she_is_judged() {
    for behind_ms in [1_200_000, 3_600_000, super::ride::START.0] {
        let mut world = anchored();
        let before = world.snapshot().at;
        world.kill_for(300);
        world.hands.lock().expect("whole").wall_ms -= behind_ms;
        world.boat = Local::new(450.0, 0.0);
        world.start().expect("taken up").expect("unfinished");
        world.pass(15).expect("judged");
        assert!(world.snapshot().at.since(before) >= Span::from_secs(15), "time goes on");
        assert!(world.stands(AlertKind::Outside), "{behind_ms}");
        assert!(world.stands(AlertKind::ClockWrong) && world.stands(AlertKind::Gap));
        assert!(what(&mut world, AlertKind::Gap).contains("not known"));
    }
}

#[test]
fn a_clock_ahead_at_resume_is_reported_by_the_time_in_the_sentences() {
    let mut world = anchored();
    world.kill_for(60);
    world.hands.lock().expect("whole").wall_ms += 3_600_000;
    world.start().expect("taken up").expect("unfinished");
    world.pass(15).expect("judged");
    assert!(what(&mut world, AlertKind::ClockWrong).contains("ahead of the receiver's time"));
}

#[test]
fn a_clock_set_while_the_watch_runs_is_reported_within_fifteen_seconds() {
    for by_ms in [-3_600_000, 3_600_000, -super::ride::START.0, -1_200_000] {
        let mut world = anchored();
        world.hands.lock().expect("whole").wall_ms += by_ms;
        world.pass(15).expect("judged");
        assert!(world.stands(AlertKind::ClockWrong), "{by_ms}");
    }
}

#[test]
fn a_gap_answered_before_a_kill_does_not_answer_the_next() {
    let mut world = anchored();
    world.kill_for(600);
    world.start().expect("taken up").expect("unfinished");
    world.pass(2).expect("judged");
    world.act(Command::Acknowledge { kind: Some(AlertKind::Gap) }).expect("answered");
    world.kill_for(150);
    world.start().expect("taken up").expect("unfinished");
    world.pass(2).expect("judged");
    let gap =
        world.snapshot().alerts.into_iter().find(|alert| alert.kind == AlertKind::Gap).expect("it stands");
    assert_eq!(gap.state, AlertState::Unacknowledged);
    assert!(gap.reason.what.starts_with("Nobody watched for 2 min"), "{}", gap.reason.what);
}

#[test]
fn an_alarm_that_stood_when_the_watch_was_killed_sounds_again() {
    let mut world = anchored();
    for _ in 0..90 {
        world.boat = world.boat + Local::new(5.0, 0.0);
        world.pass(1).expect("judged");
    }
    assert_eq!(world.program().expect("it runs").sound, Sound::Alarm);
    world.kill_for(20);
    world.start().expect("taken up").expect("unfinished");
    world.hear();
    assert_eq!(world.program().expect("it runs").sound, Sound::Alarm);
}

#[test]
fn a_folder_removed_moved_or_emptied_is_made_anew_with_drop_and_circle() {
    for harm in 0..5 {
        let mut world = anchored();
        let (before, folder) = (world.snapshot(), world.newest_folder().expect("a ride"));
        match harm {
            0 => world.disk.remove_folder(&folder),
            1 => world.disk.move_folder(&folder, &folder.with_file_name("aside")),
            2 => world.disk.overwrite(&folder.join(JOURNAL), Vec::new()),
            3 => world.disk.remove(&folder.join(RIDE)),
            // An older copy in its place.
            _ => {
                let old = world.disk.read(&folder.join(JOURNAL));
                world.disk.remove(&folder.join(JOURNAL));
                world.disk.put(&folder.join(JOURNAL), old[..old.len() / 2].to_vec());
            }
        }
        world.pass(10).expect("judged");
        world.kill_for(30);
        world.start().expect("taken up").expect("unfinished");
        world.pass(2).expect("judged");
        let after = world.snapshot();
        assert_eq!(after.stage, Stage::BroughtUp, "harm {harm}");
        assert_eq!(after.drop.map(|d| d.position), before.drop.map(|d| d.position), "harm {harm}");
        assert_eq!(after.rode.veered, before.rode.veered, "harm {harm}");
    }
}

#[test]
fn of_a_ride_that_was_moved_aside_the_copy_is_not_taken_up_when_it_is_over() {
    let mut world = anchored();
    let folder = world.newest_folder().expect("a ride");
    world.disk.move_folder(&folder, &folder.with_file_name("aside"));
    world.pass(10).expect("judged");
    world.act(Command::Aweigh).expect("aweigh");
    world.pass(3).expect("over");
    world.kill_for(30);
    assert_eq!(world.start(), Ok(None));
}

#[test]
fn a_ride_too_old_to_be_taken_up_is_named_and_offered() {
    let mut world = anchored();
    world.kill_for(40 * 3600);
    assert_eq!(world.start(), Ok(None));
    world.hear();
    let notices = world.program().expect("it runs").notices.concat();
    assert!(notices.contains("hollow-ness") && notices.contains("--take-up"), "{notices}");
}

#[test]
fn a_second_watch_does_not_write_a_ride_whose_lock_was_deleted() {
    let mut world = anchored();
    let folder = world.newest_folder().expect("a ride");
    world.disk.remove(&folder.join(".lock"));
    let running = world.program.take();
    let refused = world.start().expect_err("refused");
    assert!(refused.contains("Another watch"), "{refused}");
    drop(running);
}

#[test]
fn after_a_recording_that_was_played_fast_nothing_waits_for_the_clock() {
    let mut world = anchored();
    let eight_hours = world.snapshot().at + Span::from_mins(480);
    let program = world.program().expect("it runs");
    let line = Arrival::Line { feed: FeedId(0), at: eight_hours, bytes: b"$GPHDT,236.7,T*35".to_vec() };
    program.keeper.arrival(line);
    world.pass(30).expect("judged");
    let now = world.snapshot().at;
    assert!(now.since(eight_hours) >= Span::from_secs(29), "time goes on: {now:?}");
}

#[test]
fn a_disk_that_once_failed_to_force_loses_nothing() {
    let mut world = anchored();
    world.disk.set_fault(super::disk::Fault::ForceFails);
    world.act(Command::Veered { length: nightrode::watch::units::Metres(41.0) }).expect("veered");
    world.pass(10).expect("judged");
    let mut chance = super::chance::Chance::of(9);
    world.disk.cut_power(&mut chance);
    world.kill_for(10);
    world.start().expect("taken up").expect("unfinished");
    assert_eq!(world.snapshot().rode.veered, Some(nightrode::watch::units::Metres(41.0)));
}

#[test]
fn orders_are_taken_while_the_disk_hangs() {
    let mut world = anchored();
    world.disk.set_fault(super::disk::Fault::Refuses);
    let order = Order::Crew(Command::Veered { length: nightrode::watch::units::Metres(41.0) });
    world.program().expect("it runs").keeper.order(order);
    world.pass(10).expect("judged");
    assert!(world.stands(AlertKind::DiskLow));
}
