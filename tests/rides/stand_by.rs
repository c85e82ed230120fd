//! A second machine stands by: it takes the watch over, gives it back, and of two that keep the same ride one holds. Time is
//! what the test sets.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

use nightrode::edge::clock::Clock;
use nightrode::edge::door::frame::{Change, Claim, Cutter, Keeps, LONGEST_TOLD, Place, Refused, Told};
use nightrode::edge::door::past::Past;
use nightrode::edge::door::peer::Handing;
use nightrode::edge::door::post::Post;
use nightrode::edge::door::tether::{Meeting, News, Wish};
use nightrode::edge::feed::Arrival;
use nightrode::edge::folder::{Entry, Hand, Recorded, RideReader, Shelf, Turned, find_unfinished};
use nightrode::edge::keeper::{self, Doorway, Keeper, Lookout, Setup, Tie, Word};
use nightrode::edge::watchdog::Pulse;
use nightrode::report::zone::Zone;
use nightrode::sim::{self, Failure, Scenario};
use nightrode::watch::alert::{AlertChange, AlertKind, Change as Changed};
use nightrode::watch::input::{Command, Event, FeedId};
use nightrode::watch::units::{Newtons, Span, WatchTime};
use tokio::sync::{mpsc, oneshot};

use crate::door::Hands;

/// A machine with a keeper, a disk of its own, and a clock that may go otherwise than the other's.
struct Machine {
    keeper: Keeper,
    lookout: Lookout,
    past: Past,
    post: Post,
    hands: Hands,
    /// By which what arrives is stamped, as a feed does it.
    clock: Clock,
    ahead: Span,
    /// Its own receiver.
    own: FeedId,
    /// It hears that beside the others.
    has_both: bool,
    wishes: mpsc::UnboundedReceiver<Wish>,
    shelf: Shelf,
    turned: Turned,
    /// Where it has come to in what the other heard.
    place: Option<Place>,
    alerts: Vec<AlertChange>,
    notices: VecDeque<String>,
}

impl Machine {
    fn new(name: &str, shelf: Shelf, scenario: &Scenario, at: WatchTime, ahead: Span) -> Self {
        let Hand::Turned(turned) = shelf.hand.clone() else { panic!("a hand that is turned") };
        let hands = Hands::at(at + ahead);
        let clock = Clock::on(Arc::new(hands.clone()));
        let stamps = clock.clone();
        let (settings, pulse) = (scenario.settings(), Pulse::default());
        let setup =
            Setup { settings: settings.clone(), rides: Some(shelf.clone()), clock, speed: 1.0, pulse };
        let (mut keeper, lookout) = Keeper::new(setup);
        let past = Past::new(1 << 20, settings);
        let (_, orders) = mpsc::channel(1);
        keeper.open_to(Doorway { past: past.clone(), orders });
        let (wishes_in, wishes) = mpsc::unbounded_channel();
        let (post, machine) = (Post::default(), name.to_owned());
        let (_, news) = mpsc::channel(1);
        let (_, handings) = mpsc::channel(1);
        let zone = Zone::default();
        keeper.tie(Tie { news, wishes: wishes_in, handings, post: post.clone(), machine, zone });
        let (alerts, notices) = (Vec::new(), VecDeque::new());
        let (own, has_both, place) = (FeedId(0), false, None);
        Self {
            keeper,
            lookout,
            past,
            post,
            hands,
            clock: stamps,
            ahead,
            own,
            has_both,
            wishes,
            shelf,
            turned,
            place,
            alerts,
            notices,
        }
    }

    fn keeps(&self) -> Keeps {
        self.post.of(&Keeps::default())
    }

    fn claim(&self) -> Claim {
        self.keeper.claim().clone()
    }

    fn clock_to(&self, at: WatchTime) {
        self.hands.set(at + self.ahead);
    }

    /// A second has passed.
    fn second(&mut self, at: WatchTime) {
        self.clock_to(at);
        self.keeper.run_due();
        while let Ok(word) = self.lookout.words.try_recv() {
            match word {
                Word::Alert(change) => self.alerts.push(change),
                Word::Notice(words) => self.notices.push_back(words),
                _ => {}
            }
        }
    }

    /// There is a link to that one.
    fn meets(&mut self, other: &Self) -> Meeting {
        let meeting = self.keeper.met(&other.keeps());
        if let Meeting::Follow(from) = &meeting {
            self.place = *from;
        }
        meeting
    }

    /// Hears what the other has heard, up to so many pieces; and that it judges.
    fn hears(&mut self, other: &Past, pieces: usize) -> bool {
        for _ in 0..pieces {
            let Some((bytes, next)) = other.after(self.place).through() else {
                self.keeper.told(Told::Now, 0);
                self.keeper.told(Told::Beat, 0);
                return true;
            };
            let mut cutter = Cutter::new(LONGEST_TOLD);
            cutter.push(&bytes);
            for frame in cutter.frames() {
                let frame = frame.unwrap();
                self.keeper.told(Told::read(&frame).unwrap(), frame.whole());
            }
            self.place = Some(next);
        }
        false
    }

    fn changes(&mut self, change: Change) -> Option<Refused> {
        let (answer, mut answered) = oneshot::channel();
        self.keeper.handing(Handing { change, answer });
        answered.try_recv().unwrap()
    }

    /// Whether it wants to keep the watch.
    fn wants_it(&mut self) -> bool {
        std::iter::from_fn(|| self.wishes.try_recv().ok()).any(|wish| matches!(wish, Wish::Take))
    }

    /// All that a ride's folder of this machine holds.
    fn kept(&self, term: u32) -> Vec<Entry> {
        self.turned.turn();
        let folder = self.folder(term);
        RideReader::open(&folder).unwrap().map(Result::unwrap).collect()
    }

    fn folder(&self, term: u32) -> PathBuf {
        let listed = std::fs::read_dir(&self.shelf.folder).unwrap().flatten();
        let is_of = |path: &PathBuf| {
            let file = nightrode::edge::folder::read_ride_file(&path.join("ride.toml")).unwrap().value;
            file.term == term
        };
        let mut found: Vec<PathBuf> = listed.map(|entry| entry.path()).filter(is_of).collect();
        assert_eq!(found.len(), 1, "{found:?}");
        found.remove(0)
    }

    fn raised(&self, kind: AlertKind) -> Option<WatchTime> {
        let raised = |change: &&AlertChange| change.alert.kind == kind && change.change == Changed::Raised;
        self.alerts.iter().find(raised).map(|change| change.at)
    }
}

/// A night in which the anchor gives up, and how far it has been lived.
struct Night {
    scenario: Scenario,
    events: std::iter::Peekable<sim::Night>,
    now: WatchTime,
}

impl Night {
    fn dragging_after(minutes: i64) -> Self {
        let mut scenario = sim::demo(1);
        scenario.anchor.failures =
            vec![Failure::Ploughs { after: Span::from_mins(minutes), above: Newtons(0.0), m_per_min: 6.0 }];
        let events = sim::Night::new(scenario.clone()).peekable();
        let now = scenario.start.ceil_second();
        Self { scenario, events, now }
    }

    /// Another second: `nav` hears all of it, `bunk` the receiver alone.
    fn second(&mut self, mut nav: Option<&mut Machine>, mut bunk: Option<&mut Machine>) {
        self.now += Span::from_secs(1);
        while let Some(event) = self.events.next_if(|event| event.at() < self.now) {
            let at = event.at();
            if let Some(nav) = &mut nav {
                nav.clock_to(at);
                match &event {
                    sim::Event::Line { feed, bytes, .. } => {
                        let at = nav.clock.now();
                        nav.keeper.arrival(Arrival::Line { feed: *feed, at, bytes: bytes.clone() });
                        if nav.has_both && feed.0 == 0 {
                            nav.keeper.arrival(Arrival::Line { feed: nav.own, at, bytes: bytes.clone() });
                        }
                    }
                    sim::Event::Crew { command, .. } => {
                        nav.keeper.order(keeper::Order::Crew(command.clone()))
                    }
                    _ => {}
                }
            }
            if let (Some(bunk), sim::Event::Line { feed, bytes, .. }) = (&mut bunk, event)
                && feed.0 == 0
            {
                bunk.clock_to(at);
                bunk.keeper.arrival(Arrival::Line { feed: bunk.own, at: bunk.clock.now(), bytes });
            }
        }
        nav.into_iter().for_each(|nav| nav.second(self.now));
        bunk.into_iter().for_each(|bunk| bunk.second(self.now));
    }
}

/// Disks that are written when the test says so.
struct Disks(tempfile::TempDir);

impl Disks {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }
    fn shelf(&self, name: &str) -> Shelf {
        Shelf { hand: Hand::Turned(Turned::default()), ..Shelf::at(self.0.path().join(name)) }
    }
}

fn nav(disks: &Disks, night: &Night, ahead: Span) -> Machine {
    let mut nav = Machine::new("nav", disks.shelf("nav"), &night.scenario, night.now, ahead);
    for name in night.scenario.feed_names() {
        nav.keeper.reads(&name).unwrap();
    }
    nav
}

fn bunk(disks: &Disks, night: &Night, ahead: Span) -> Machine {
    let mut bunk = Machine::new("bunk", disks.shelf("bunk"), &night.scenario, night.now, ahead);
    bunk.own = bunk.keeper.reads("bunk").unwrap();
    bunk.keeper.stand_by("the watch on nav".into(), true);
    bunk
}

/// When a machine alone calls it that has both receivers, and loses one and all instruments at that moment.
fn alone_calls(dies: Option<WatchTime>) -> WatchTime {
    let (disks, mut night) = (Disks::new(), Night::dragging_after(MINUTES));
    let mut alone = nav(&disks, &night, Span::ZERO);
    alone.own = alone.keeper.reads("bunk").unwrap();
    alone.has_both = true;
    while alone.raised(AlertKind::Drag).is_none() {
        if dies.is_some_and(|dies| night.now >= dies) {
            night.second(None, Some(&mut alone));
        } else {
            night.second(Some(&mut alone), None);
        }
    }
    alone.raised(AlertKind::Drag).unwrap()
}

const MINUTES: i64 = 14;

#[test]
fn a_machine_that_stands_by_calls_a_drag_when_one_alone_would_have_though_the_other_dies_in_it() {
    let whole = alone_calls(None);
    // The clocks of the two need not agree.
    for (before, ahead) in [(5, Span::ZERO), (20, Span::from_secs(47)), (60, Span::from_secs(-300))] {
        let dies = whole - Span::from_secs(before);
        let alone = alone_calls(Some(dies));
        let (disks, mut night) = (Disks::new(), Night::dragging_after(MINUTES));
        let (mut nav, mut bunk) = (nav(&disks, &night, Span::ZERO), bunk(&disks, &night, ahead));
        assert_eq!(bunk.meets(&nav), Meeting::Follow(None));
        while night.now < dies {
            night.second(Some(&mut nav), Some(&mut bunk));
            assert!(bunk.hears(&nav.past, 99));
            assert!(bunk.keeper.snapshot() == nav.keeper.snapshot(), "it shows what the keeper knows");
        }
        assert!(bunk.keeper.is_standing_by() && bunk.keeps().stands_by);
        assert!(bunk.keeper.has_position(), "{ahead}");
        assert!(bunk.alerts.is_empty(), "it tells nobody what the keeper tells");
        bunk.keeper.news(News::Lost("killed".into()));
        while bunk.raised(AlertKind::Drag).is_none() || bunk.raised(AlertKind::TakenOver).is_none() {
            assert!(night.now < alone + Span::from_secs(60), "never called");
            night.second(None, Some(&mut bunk));
        }
        let taken_over = bunk.raised(AlertKind::TakenOver).expect("it is said aloud");
        let silent = taken_over.since(dies);
        assert!(silent >= Span::from_secs(9) && silent <= Span::from_secs(11), "{silent}");
        let called = bunk.raised(AlertKind::Drag).unwrap();
        let due = alone.max(dies + Span::from_secs(10));
        println!(
            "killed {before} s before the drag was called: called {} s after one alone, {} s after one with all its feeds",
            called.since(alone).seconds(),
            called.since(whole).seconds()
        );
        assert!(called.since(due) <= Span::from_secs(2), "{} after", called.since(due));
        assert!(bunk.raised(AlertKind::Gap).is_none(), "nothing was missed");
        let claim = bunk.claim();
        assert_eq!((claim.term, &*claim.by), (2, "bunk"));
        // A kill of this one too: its own folder has it all, and goes on.
        bunk.turned.turn();
        let rides = find_unfinished(&bunk.shelf.folder).unwrap();
        assert_eq!(rides.len(), 1);
        assert!(rides[0].last >= Some(called), "all is on its disk");
    }
}

#[test]
fn a_link_cut_two_hundred_times_gives_the_same_alerts_and_the_same_journal() {
    let (disks, mut night) = (Disks::new(), Night::dragging_after(MINUTES));
    let (mut nav, mut bunk) = (nav(&disks, &night, Span::ZERO), bunk(&disks, &night, Span::from_secs(3)));
    for cut in 0..200_usize {
        assert!(matches!(bunk.meets(&nav), Meeting::Follow(_)));
        bunk.hears(&nav.past, cut * 7 % 5);
        bunk.keeper.news(News::Lost("cut".into()));
        // Less than ten seconds in all without a word.
        for _ in 0..cut * 31 % 5 {
            night.second(Some(&mut nav), Some(&mut bunk));
        }
        if cut % 2 == 0 {
            bunk.meets(&nav);
            while !bunk.hears(&nav.past, 1) {}
            night.second(Some(&mut nav), Some(&mut bunk));
        }
    }
    while nav.raised(AlertKind::Drag).is_none() {
        bunk.meets(&nav);
        while !bunk.hears(&nav.past, 1) {}
        bunk.keeper.news(News::Lost("cut".into()));
        (0..8).for_each(|_| night.second(Some(&mut nav), Some(&mut bunk)));
    }
    bunk.meets(&nav);
    while !bunk.hears(&nav.past, 1) {}
    assert!(bunk.keeper.is_standing_by() && bunk.claim() == nav.claim());
    assert!(bunk.keeper.snapshot() == nav.keeper.snapshot());
    // Beside the machine's own receiver.
    let is_own = |entry: &Entry| match &entry.what {
        Recorded::Line { feed, .. } => feed.0 == 2,
        Recorded::Event(Event::Feed { name, .. }) => name == "bunk",
        _ => false,
    };
    let kept = nav.kept(1);
    let copy: Vec<Entry> = bunk.kept(1).into_iter().filter(|entry| !is_own(entry)).collect();
    let of = |kept: &[Entry], alerts: bool| -> Vec<Entry> {
        let is_meant = |entry: &&Entry| matches!(entry.what, Recorded::Alert(_)) == alerts;
        kept.iter().filter(is_meant).cloned().collect()
    };
    for alerts in [false, true] {
        let (copy, kept) = (of(&copy, alerts), of(&kept, alerts));
        let differs = copy.iter().zip(&kept).position(|(one, other)| one != other);
        let differs = differs.map(|at| (&copy[at], &kept[at]));
        assert_eq!((differs, copy.len()), (None, kept.len()), "the same, none lost, none twice");
    }
    println!("{} entries, {} alerts, 200 cuts", kept.len(), of(&kept, true).len());
}

#[test]
fn two_that_kept_the_same_ride_meet_one_holds_and_the_watch_is_handed_back_with_all_of_it() {
    let (disks, mut night) = (Disks::new(), Night::dragging_after(600));
    let (mut nav, mut bunk) = (nav(&disks, &night, Span::ZERO), bunk(&disks, &night, Span::from_secs(90)));
    bunk.meets(&nav);
    for _ in 0..400 {
        night.second(Some(&mut nav), Some(&mut bunk));
        bunk.hears(&nav.past, 99);
    }
    // The link is cut, and both live.
    bunk.keeper.news(News::Lost("cut".into()));
    for _ in 0..60 {
        night.second(Some(&mut nav), Some(&mut bunk));
    }
    nav.keeper.order(keeper::Order::Crew(Command::Note { text: "alone".into() }));
    assert_eq!((nav.claim().term, bunk.claim().term), (1, 2));
    assert!(
        !nav.keeper.is_standing_by() && !bunk.keeper.is_standing_by(),
        "both judge: that is the safe side"
    );
    // They meet: the higher term holds, whoever is asked.
    let Meeting::Claims(claim) = bunk.meets(&nav) else { panic!("the bunk's holds") };
    assert!(bunk.changes(Change::Yield { claim: Some(nav.claim()) }).is_some(), "the lower one is refused");
    assert_eq!(nav.changes(Change::Yield { claim: Some(claim) }), None);
    assert!(nav.keeper.is_standing_by());
    nav.second(night.now);
    let said = nav.notices.pop_back().unwrap();
    assert!(
        said.starts_with("bunk took the watch over at 18:") && said.contains("no longer keeps it"),
        "{said}"
    );
    let alone = nav.kept(1);
    assert_eq!(nav.meets(&bunk), Meeting::Follow(None));
    for _ in 0..30 {
        night.second(Some(&mut nav), Some(&mut bunk));
        nav.hears(&bunk.past, 99);
        assert!(nav.keeper.snapshot() == bunk.keeper.snapshot());
    }
    let has_note = |kept: &[Entry]| {
        kept.iter().any(|entry| matches!(&entry.what, Recorded::Event(Event::Crew(Command::Note { .. }))))
    };
    assert!(
        has_note(&alone) && alone == nav.kept(1),
        "what it kept alone stays, and nothing more is written there"
    );
    // Handing back is the crew's act.
    assert!(bunk.changes(Change::HandOver).unwrap().why.contains("No other machine stands by"));
    bunk.post.stands(1, nav.keeper.has_position());
    assert_eq!(bunk.changes(Change::HandOver), None);
    nav.keeper.told(Told::Offered, 0);
    assert!(nav.wants_it());
    assert_eq!(bunk.changes(Change::Yield { claim: None }), None);
    nav.hears(&bunk.past, 99);
    nav.keeper.news(News::Turned);
    assert_eq!((nav.claim().term, &*nav.claim().by, nav.keeper.is_standing_by()), (3, "nav", false));
    assert_eq!(bunk.meets(&nav), Meeting::Follow(None));
    for _ in 0..30 {
        night.second(Some(&mut nav), Some(&mut bunk));
        bunk.hears(&nav.past, 99);
        assert!(bunk.keeper.snapshot() == nav.keeper.snapshot());
    }
    // All of it is in the folder of the one that keeps the watch.
    let (kept, between) = (nav.kept(3), bunk.kept(2));
    let acts = |kept: &[Entry]| -> Vec<Entry> {
        let is_act = |entry: &&Entry| matches!(entry.what, Recorded::Event(Event::Crew(_) | Event::Kept(_)));
        kept.iter().filter(is_act).cloned().collect()
    };
    assert!(acts(&kept).starts_with(&acts(&between)) && acts(&kept).len() == acts(&between).len() + 1);
    let lines = |kept: &[Entry]| kept.iter().filter(|e| matches!(e.what, Recorded::Line { .. })).count();
    assert!(lines(&kept) > lines(&between));
    let rides = find_unfinished(&nav.shelf.folder).unwrap();
    assert_eq!(rides.len(), 1, "the older copy of the ride is not offered beside it: {rides:?}");
    assert_eq!(rides[0].folder, nav.folder(3));
}

#[test]
fn a_machine_that_gave_the_watch_away_and_heard_nothing_of_the_other_goes_on_with_its_own_ride() {
    let (disks, mut night) = (Disks::new(), Night::dragging_after(600));
    let mut nav = nav(&disks, &night, Span::ZERO);
    for _ in 0..400 {
        night.second(Some(&mut nav), None);
    }
    let before = nav.keeper.snapshot();
    nav.turned.turn();
    assert_eq!(nav.changes(Change::Yield { claim: None }), None);
    assert!(nav.changes(Change::Yield { claim: None }).is_some(), "it has none to give any more");
    nav.turned.turn();
    nav.turned.forget();
    for _ in 0..12 {
        night.second(Some(&mut nav), None);
    }
    let after = nav.keeper.snapshot();
    assert!(!nav.keeper.is_standing_by());
    assert_eq!(
        (after.stage, after.drop.map(|drop| drop.position)),
        (before.stage, before.drop.map(|drop| drop.position))
    );
    assert_eq!(nav.claim().term, 2);
    assert!(after.at > before.at);
}
