//! What is heard through the door of a watch makes a second one that knows the same, second by second, however often the
//! link is cut.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use nightrode::edge::clock::{Clock, TimeSource};
use nightrode::edge::door::frame::{Answer, Asked, Cutter, Keeps, LONGEST_TOLD, Told};
use nightrode::edge::door::link::Link;
use nightrode::edge::door::past::Past;
use nightrode::edge::door::peer::{Behind, Order, serve};
use nightrode::edge::door::post::Post;
use nightrode::edge::door::replica::Replica;
use nightrode::edge::feed::Arrival;
use nightrode::edge::folder::read_ride_file;
use nightrode::edge::keeper::{self, Doorway, Keeper, Lookout, Setup, Word};
use nightrode::edge::recorded::Reader;
use nightrode::edge::watchdog::Pulse;
use nightrode::sim;
use nightrode::watch::Watch;
use nightrode::watch::alert::AlertChange;
use nightrode::watch::boat::Settings;
use nightrode::watch::input::{Command, FeedId};
use nightrode::watch::output::Output;
use nightrode::watch::units::{Span, WatchTime};
use tokio::sync::{broadcast, mpsc, watch};

/// A clock that is set.
#[derive(Clone)]
pub struct Hands(Arc<AtomicI64>, i64);

impl Hands {
    pub fn at(start: WatchTime) -> Self {
        Self(Arc::new(AtomicI64::new(start.0)), start.0)
    }
    pub fn set(&self, to: WatchTime) {
        self.0.store(to.0, Ordering::Relaxed);
    }
}

impl TimeSource for Hands {
    fn wall_ms(&self) -> i64 {
        self.0.load(Ordering::Relaxed)
    }
    fn running(&self) -> Duration {
        Duration::from_millis((self.wall_ms() - self.1).unsigned_abs())
    }
    fn running_and_asleep(&self) -> Option<Duration> {
        None
    }
}

/// A keeper of a simulated night, whose clock is set by the test.
struct Nav {
    keeper: Keeper,
    lookout: Lookout,
    past: Past,
    hands: Hands,
    night: std::iter::Peekable<sim::Night>,
    second: WatchTime,
    pulse: Pulse,
    orders: mpsc::Sender<Order>,
}

impl Nav {
    fn new(seed: u64) -> Self {
        let scenario = sim::demo(seed);
        let hands = Hands::at(scenario.start);
        let settings = scenario.settings();
        let pulse = Pulse::default();
        let clock = Clock::on(Arc::new(hands.clone()));
        let setup =
            Setup { settings: settings.clone(), rides: None, clock, speed: 1.0, pulse: pulse.clone() };
        let (mut keeper, lookout) = Keeper::new(setup);
        let past = Past::new(seed << 20, settings);
        let (orders, orders_in) = mpsc::channel(4);
        keeper.open_to(Doorway { past: past.clone(), orders: orders_in });
        for name in scenario.feed_names() {
            keeper.feed_id(&name);
        }
        let second = scenario.start.ceil_second();
        let night = sim::Night::new(scenario).peekable();
        Self { keeper, lookout, past, hands, night, second, pulse, orders }
    }

    /// Lives another second of the night.
    fn second(&mut self) -> bool {
        self.second += Span::from_secs(1);
        while let Some(event) = self.night.next_if(|event| event.at() < self.second) {
            self.hands.set(event.at());
            match event {
                sim::Event::Line { at, feed, bytes } => {
                    self.keeper.arrival(Arrival::Line { feed, at, bytes });
                }
                sim::Event::Crew { command, .. } => self.keeper.order(keeper::Order::Crew(command)),
                sim::Event::Caption { .. } | sim::Event::Truth(_) => {}
            }
        }
        self.hands.set(self.second);
        self.keeper.run_due();
        self.night.peek().is_some()
    }

    /// What the watch put out so far and was not asked for yet.
    fn alerts(&mut self) -> Vec<AlertChange> {
        let words = std::iter::from_fn(|| self.lookout.words.try_recv().ok());
        words.filter_map(|word| if let Word::Alert(change) = word { Some(change) } else { None }).collect()
    }
}

/// Lets a replica hear what there is.
fn catch_up(replica: &mut Replica, past: &Past, out: &mut Vec<Output>) {
    while let Some((bytes, next)) = past.after(replica.place()).through() {
        let mut cutter = Cutter::new(LONGEST_TOLD);
        cutter.push(&bytes);
        for frame in cutter.frames() {
            let frame = frame.unwrap();
            replica.take(Told::read(&frame).unwrap(), frame.whole(), out).unwrap();
        }
        assert_eq!(replica.place(), Some(next), "each counts alike");
    }
    replica.take(Told::Now, 0, out).unwrap();
}

fn changes(outputs: &[Output]) -> Vec<AlertChange> {
    let change = |output: &Output| match output {
        Output::Alert(change) => Some(change.clone()),
        _ => None,
    };
    outputs.iter().filter_map(change).collect()
}

/// Seconds of the demo's night that are compared; all of it where the whole is asked for.
fn seconds_compared() -> i64 {
    if std::env::var_os("NIGHTRODE_WHOLE").is_some() { i64::MAX } else { 900 }
}

#[test]
fn a_replica_knows_at_every_second_of_a_night_what_the_keeper_knows() {
    let mut nav = Nav::new(1);
    let (mut replica, mut out) = (Replica::default(), Vec::new());
    let mut told = Vec::new();
    let mut seconds = 0;
    while seconds < seconds_compared() && nav.second() {
        seconds += 1;
        catch_up(&mut replica, &nav.past, &mut out);
        assert!(replica.snapshot() == nav.keeper.snapshot(), "second {seconds}");
        told.extend(nav.alerts());
    }
    assert!(seconds >= 900 && !replica.differs());
    // The alerts of the watch before the anchor was let go are not those of the one that hears its minutes again.
    assert_eq!(changes(&out), told);
    let mut late = Replica::default();
    catch_up(&mut late, &nav.past, &mut Vec::new());
    assert!(late.snapshot() == nav.keeper.snapshot(), "who comes late knows it too");
    println!("{seconds} s of a night are {} bytes for those who come later", nav.past.bytes());
}

#[test]
fn a_replica_knows_at_every_second_of_recorded_watches_what_the_watch_knew() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/watches");
    let names = ["lost_fix", "trip_and_reset", "hole_in_the_night", "gone_by_poor_satellites"];
    for name in names {
        let ride = read_ride_file(&folder.join(format!("{name}.toml"))).unwrap().value;
        let reader = Reader::open(&[folder.join(format!("{name}.nmea.gz"))], Some(&ride)).unwrap();
        let mut watch = Watch::new(reader.settings());
        let past = Past::new(1, reader.settings());
        let (mut replica, mut out) = (Replica::default(), Vec::new());
        let mut second = None;
        for entry in reader {
            let entry = entry.unwrap();
            watch.handle(entry.at, entry.what.input());
            past.entry(&entry);
            let now = entry.at.0 / 1000;
            if second.replace(now) != Some(now) {
                catch_up(&mut replica, &past, &mut out);
                assert!(replica.snapshot() == watch.snapshot(), "{name} at {now}");
            }
        }
        assert!(second.is_some(), "{name}");
    }
}

fn behind(nav: &Nav) -> (Behind, watch::Sender<Arc<nightrode::watch::snapshot::Snapshot>>) {
    let (snapshots_in, snapshots) = watch::channel(Arc::default());
    let behind = Behind {
        keeps: Keeps { boat: "Marram".into(), ..Keeps::default() },
        past: nav.past.clone(),
        pulse: nav.pulse.clone(),
        snapshots,
        words: broadcast::channel(8).0,
        orders: nav.orders.clone(),
        post: Post::default(),
        handings: None,
        turned: None,
    };
    (behind, snapshots_in)
}

async fn link(behind: &Behind, buffer: usize) -> Link {
    let (near, far) = tokio::io::duplex(buffer);
    tokio::spawn(serve(far, behind.clone()));
    let (read, write) = tokio::io::split(near);
    Link::over(read, write).await.unwrap()
}

#[tokio::test(start_paused = true)]
async fn a_link_cut_two_hundred_times_loses_nothing_and_doubles_nothing() {
    let mut nav = Nav::new(2);
    let (behind, _snapshots) = behind(&nav);
    let (mut replica, mut out) = (Replica::default(), Vec::new());
    for cut in 0..200_u64 {
        let mut link = link(&behind, 1 << 12).await;
        link.ask(&Asked::Follow { from: replica.place() }).await.unwrap();
        // First all there is, then some messages more, however far that is.
        let mut messages = (cut * 7919) % 40;
        loop {
            let (said, whole) = link.told().await.unwrap();
            replica.take(said, whole, &mut out).unwrap();
            if replica.is_up() {
                nav.second();
                if messages == 0 {
                    break;
                }
                messages -= 1;
            }
        }
        replica.falls_behind();
    }
    for _ in 0..600 {
        nav.second();
    }
    let mut through = link(&behind, 1 << 12).await;
    through.ask(&Asked::Follow { from: replica.place() }).await.unwrap();
    while !replica.is_up() {
        let (said, whole) = through.told().await.unwrap();
        replica.take(said, whole, &mut out).unwrap();
    }
    assert!(replica.snapshot() == nav.keeper.snapshot());
    assert!(!replica.differs());
    let mut once = Replica::default();
    catch_up(&mut once, &nav.past, &mut Vec::new());
    assert!(once.snapshot() == replica.snapshot() && once.place() == replica.place());
}

#[tokio::test(start_paused = true)]
async fn a_peer_that_does_not_take_what_it_is_sent_loses_its_link_and_holds_nobody_up() {
    let mut nav = Nav::new(3);
    for _ in 0..600 {
        nav.second();
    }
    let (behind, _snapshots) = behind(&nav);
    let (mut near, far) = tokio::io::duplex(256);
    let served = tokio::spawn(serve(far, behind.clone()));
    let mut words = nightrode::edge::door::frame::greeting().into_bytes();
    Asked::Follow { from: None }.put(&mut words);
    tokio::io::AsyncWriteExt::write_all(&mut near, &words).await.unwrap();
    // It reads nothing; the clock of this test runs on by itself.
    let left = served.await.unwrap();
    assert_eq!(left.err().unwrap().kind(), std::io::ErrorKind::TimedOut);
    let kept = nav.past.bytes();
    nav.second();
    assert!(nav.past.bytes() > kept, "the watch goes on");
}

#[tokio::test(start_paused = true)]
async fn a_stranger_another_version_garbage_a_flood_of_questions_and_a_mute_are_shown_out() {
    let nav = Nav::new(4);
    let (behind, _snapshots) = behind(&nav);
    let mut flood = nightrode::edge::door::frame::greeting().into_bytes();
    (0..100).for_each(|_| Asked::Status.put(&mut flood));
    let mut long = nightrode::edge::door::frame::greeting().into_bytes();
    long.extend([0xff; 5]);
    let asks_nothing = nightrode::edge::door::frame::greeting().into_bytes();
    for bad in
        [&b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"[..], b"nightrode-door 99\n", &long, &flood, &asks_nothing, b""]
    {
        let (near, far) = tokio::io::duplex(1 << 20);
        let served = tokio::spawn(serve(far, behind.clone()));
        let (mut read, mut write) = tokio::io::split(near);
        tokio::io::AsyncWriteExt::write_all(&mut write, bad).await.unwrap();
        assert!(served.await.unwrap().is_err(), "{:?}", String::from_utf8_lossy(bad));
        let mut said = Vec::new();
        tokio::io::AsyncReadExt::read_to_end(&mut read, &mut said).await.unwrap();
        if bad.starts_with(b"nightrode-door 99") {
            assert!(String::from_utf8_lossy(&said).contains("speaks version 99"));
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_command_is_stamped_kept_and_answered_and_a_refusal_comes_in_words() {
    let mut nav = Nav::new(5);
    for _ in 0..30 {
        nav.second();
    }
    let (mut behind, _snapshots) = behind(&nav);
    let (orders, mut ordered) = mpsc::channel(4);
    behind.orders = orders;
    let mut link = link(&behind, 1 << 16).await;
    for (number, command) in [(1, Command::Note { text: "fog".into() }), (2, Command::Stay)] {
        link.ask(&Asked::Act { number, command: Box::new(command) }).await.unwrap();
        nav.keeper.asked(ordered.recv().await.unwrap());
        let Told::Answer(Answer { number: answered, refused }) = link.told().await.unwrap().0 else {
            panic!("no answer")
        };
        assert_eq!(answered, number);
        assert_eq!(
            refused.map(|refused| refused.why),
            (number == 2).then(|| "She is not weighing.".to_owned())
        );
    }
    let mut replica = Replica::default();
    catch_up(&mut replica, &nav.past, &mut Vec::new());
    assert!(replica.snapshot() == nav.keeper.snapshot());
    // A keeper that hangs holds up whoever asked, and is reported to him.
    link.ask(&Asked::Act { number: 3, command: Box::new(Command::Silence) }).await.unwrap();
    let Told::Answer(Answer { refused: Some(refused), .. }) = link.told().await.unwrap().0 else {
        panic!("no answer")
    };
    assert!(refused.is_heard && refused.why.contains("judges nothing"), "{}", refused.why);
}

#[tokio::test(start_paused = true)]
async fn the_heartbeat_comes_only_while_the_watch_judges() {
    let mut nav = Nav::new(6);
    nav.second();
    let (behind, _snapshots) = behind(&nav);
    let mut link = link(&behind, 1 << 16).await;
    link.ask(&Asked::Follow { from: None }).await.unwrap();
    while link.told().await.unwrap().0 != Told::Beat {}
    let silent = tokio::time::timeout(Duration::from_secs(30), async {
        while link.told().await.is_ok_and(|(told, _)| told != Told::Beat) {}
    });
    assert!(silent.await.is_err(), "a watch that judges nothing beats");
    nav.second();
    while link.told().await.unwrap().0 != Told::Beat {}
}

#[test]
fn under_way_for_days_the_past_is_bounded_and_whoever_comes_then_hears_what_stands() {
    let past = Past::new(1, Settings::default());
    let mut chance = 1_u64;
    for second in 0..120_000 {
        let at = WatchTime(1_780_430_520_000 + second * 1000);
        // Lines that do not pack.
        let bytes: Vec<u8> = std::iter::repeat_with(|| {
            chance = chance.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (chance >> 56) as u8
        })
        .take(64)
        .collect();
        past.line(at, FeedId(0), &bytes);
        past.bound(false, &["gps".to_owned()], Vec::new);
    }
    assert!(past.bytes() < 5 << 20, "{}", past.bytes());
    let mut replica = Replica::default();
    catch_up(&mut replica, &past, &mut Vec::new());
    assert_eq!(replica.snapshot().feeds.len(), 1);
}
