//! What goes into the watch and what comes out: both closed, both kept in the ride's files.

use serde::{Deserialize, Serialize};

use super::alert::AlertKind;
pub use super::anchor_check::{CheckItem, Finding, Found};
use super::boat::{Berth, Limits};
use super::forecast::Forecast;
use super::geo::Position;
pub use super::health::{Awake, Charge, Heat, Space};
pub use super::marks::MarkEntered;
use super::place::Place;
pub use super::rounds::{Differs, RoundItem, RoundMade};
pub use super::setting::{PullKind, Transit};
use super::tide::Turn;
pub use super::tide::TurnKind;
use super::units::{Metres, Span, TrueBearing, WatchTime};
use super::wake::WakeFor;
use super::way_out::WayOut;

/// Which feed a line came from: an index into the watch's list of feeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FeedId(pub u8);

/// How a feed stands, as its edge task sees it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "link")]
pub enum Link {
    /// Trying to open or connect.
    Opening,
    /// Open; lines may come.
    Open,
    /// Lost; it is tried again by itself.
    Lost {
        /// What happened, in words.
        why: String,
    },
    /// A file or pipe that has ended for good.
    Ended,
}

/// What the devices about the watch report: it goes on without them, but says so.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "device")]
pub enum Device {
    /// Whether alert sounds really play.
    Sound {
        /// Why not, in words; `None` when they do.
        failed: Option<String>,
    },
    /// Whether the loudspeaker that was chosen is there.
    Loudspeaker {
        /// Its name, where it is gone and the default one plays instead.
        gone: Option<String>,
    },
    /// The sounds of a demonstration do not play. Nobody is called by one, so it is no alert.
    Unheard {
        /// Why not, in words; `None` when they do.
        why: Option<String>,
    },
    /// Whether the ride folder is being written.
    Disk {
        /// Why not, in words; `None` when it is.
        failed: Option<String>,
    },
    /// Whether the computer's clock goes right.
    Clock {
        /// How far it is behind the watch's time: it was put back, or had lost its time; `None` when it goes right.
        behind: Option<Span>,
    },
    /// A rehearsal of the alarm has come to its end.
    Rehearsal {
        /// Why it could not be played, in words; `None` when it was.
        failed: Option<String>,
    },
    /// The computer's battery.
    Power {
        /// Charge in percent, when it runs on battery and is low; `None` when all is well.
        low_percent: Option<u8>,
        /// How it stands, as far as it is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        charge: Option<Charge>,
    },
    /// Whether the computer is kept from falling asleep.
    Awake {
        /// That.
        awake: Awake,
    },
    /// Room on the disk of the rides.
    Space {
        /// That; `None`: not known any more.
        space: Option<Space>,
    },
    /// Whether the network sets the computer's clock.
    ClockSet {
        /// That; `None`: not known.
        by_network: Option<bool>,
    },
    /// Whether the crew's own command, which tells others of alerts, does so.
    Hook {
        /// Why its last run failed, however often it was tried, in words; `None` when it went through.
        failed: Option<String>,
    },
    /// How hot the computer is.
    Heat {
        /// That; `None`: not measured.
        heat: Option<Heat>,
    },
}

impl Device {
    /// True for how something stands until it is reported anew; false for what happened once.
    #[must_use]
    pub const fn stands(&self) -> bool {
        !matches!(self, Self::Rehearsal { .. })
    }
}

/// One thing that happens to the watch.
#[derive(Clone, Debug, PartialEq)]
pub enum Input<'a> {
    /// A line as received, without its line end. Kept in `night.nmea`.
    Line {
        /// Where from.
        feed: FeedId,
        /// The bytes, unparsed.
        bytes: &'a [u8],
    },
    /// Time passes. Kept nowhere: the watch runs its own deadlines in order whenever anything comes in.
    Tick,
    /// Everything else. Kept in `journal.jsonl`.
    Event(Event),
}

/// An input that is kept in the journal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The crew did or entered something.
    Crew(Command),
    /// A feed came or went.
    Feed {
        /// Which.
        feed: FeedId,
        /// Its name.
        name: String,
        /// How it stands.
        link: Link,
    },
    /// A device about the watch came or went.
    Device(Device),
    /// The watch was not running from then until this input: lid closed, crash, power cut, clock jump.
    Gap {
        /// The last moment at which it ran.
        from: WatchTime,
    },
    /// The ride was taken up from files of which something was damaged.
    Damage {
        /// Damaged lines found in all, with those that were reported before.
        found: u64,
        /// What, and what was put right, in words.
        what: String,
    },
    /// Another machine keeps this watch from now on: it heard all that the one before heard.
    Kept(Kept),
}

/// Which machine keeps a watch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Kept {
    /// How often the watch has gone from one machine to another, and one: of two that keep the same ride the higher holds.
    pub term: u32,
    /// Name of the machine.
    pub by: String,
    /// Since when the one before is silent; `None`: the crew gave the watch over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub silent_since: Option<WatchTime>,
}

/// Where the drop point goes when the crew corrects it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "to")]
pub enum DropMove {
    /// A position by hand.
    Position {
        /// There.
        position: Position,
    },
    /// From the bow as it lies now.
    FromBow {
        /// Bearing from the bow to the anchor.
        bearing: TrueBearing,
        /// Distance from the bow to the anchor.
        distance: Metres,
    },
    /// Where the bow was when the anchor went down: the key was pressed late.
    BowAt {
        /// That moment.
        at: WatchTime,
    },
}

/// A high or low water from the local table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TypedTurn {
    /// When, UTC.
    pub time: WatchTime,
    /// Height above the table's datum.
    pub height: Metres,
    /// High or low.
    pub kind: TurnKind,
}

impl From<TypedTurn> for Turn {
    fn from(typed: TypedTurn) -> Self {
        Self { at: typed.time, height: typed.height, kind: typed.kind }
    }
}

/// Where the height of tide comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "from")]
pub enum TideEntered {
    /// No tide: depth is taken as it was sounded.
    Nothing,
    /// High and low waters from the local table, in order of time.
    Table {
        /// The turns.
        turns: Vec<TypedTurn>,
    },
    /// A station of the bundled constants.
    Station {
        /// Its identifier.
        id: String,
    },
}

/// What the crew does or enters.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "act")]
pub enum Command {
    /// The anchor is let go, now: marks the bow's place as the drop point and begins a ride. Rode, depth and name may come
    /// with it, later by their own commands, or never.
    LetGo {
        /// Rode out so far, or to be veered at once; `None`: not entered yet, see `Veered`.
        #[serde(default)]
        veered: Option<Metres>,
        /// Depth of water from the surface, if entered by hand, see also `DropDepth`; else the sounder's.
        #[serde(default)]
        depth: Option<Metres>,
        /// Name of the place, for the ride's folder; empty: it has none yet, see `NamePlace`.
        #[serde(default)]
        place: String,
    },
    /// Depth of water from the surface where and when the anchor was let go, entered by hand afterwards.
    DropDepth {
        /// That depth.
        depth: Metres,
    },
    /// The place gets a name, while an anchor is down there.
    NamePlace {
        /// The name.
        name: String,
    },
    /// She lies at an anchor that nobody marked: a ride begins, and the anchor is looked for in her swing. Judged with
    /// less power, and without a circle; even more so if nobody knows the rode.
    Lying {
        /// Rode out, if known.
        veered: Option<Metres>,
        /// Name of the place.
        place: String,
    },
    /// A reconnaissance begins: from now on depths are kept with their places. Soundings of an earlier one are
    /// forgotten.
    BeginRecon,
    /// The reconnaissance is over: its soundings stay, no more are taken.
    EndRecon,
    /// How much is to be veered in all. Until that much is entered as out, in `Setting`, the rode is being counted out:
    /// short scope and the circle are judged by this length. May be entered before letting go or after.
    VeerTo {
        /// The length in all.
        length: Metres,
    },
    /// The engine pulls astern, now, to dig the anchor in. Ends a pull or a check that goes on.
    Pull {
        /// How hard.
        kind: PullKind,
    },
    /// What the crew saw of its transit: before the first pull, or after one.
    Transit {
        /// That.
        seen: Transit,
    },
    /// The engine is in neutral, now. While setting this ends a pull and begins the check of it; while weighing, and
    /// after the anchor is aweigh, drift counts from here.
    Neutral,
    /// Rode out, in all, after veering or shortening; at a mark the length that the mark stands for.
    Veered {
        /// Total length out.
        length: Metres,
    },
    /// She rides to an anchor that has been proved to hold.
    BroughtUp,
    /// The drop point is corrected.
    MoveDrop(DropMove),
    /// Answers one alert, or with `None` every alert that waits for an answer.
    Acknowledge {
        /// Which.
        kind: Option<AlertKind>,
    },
    /// Sound off for 30 s.
    Silence,
    /// What to wake the crew for; takes the place of what was asked before.
    Wake(WakeFor),
    /// New limits.
    Limits(Limits),
    /// Where the height of tide comes from.
    Tide(TideEntered),
    /// The wind that is forecast, in place of what was entered before.
    WindAhead {
        /// By the hour; `None`: no forecast any more.
        winds: Option<Forecast>,
    },
    /// The course that is safe to steer from here, in place of what was entered before.
    WayOut {
        /// That; `None`: none any more.
        way: Option<WayOut>,
    },
    /// What is known of the berth: bottom, open water, shore, snubber; in place of what was entered before.
    Berth {
        /// That.
        berth: Box<Berth>,
    },
    /// A remark for the journal.
    Note {
        /// The words.
        text: String,
    },
    /// A round was made on deck.
    Round(RoundMade),
    /// A mark ashore or afloat is entered, to take bearings of.
    Mark {
        /// Its name.
        name: String,
        /// Where it is.
        #[serde(alias = "told")]
        entered: MarkEntered,
    },
    /// A mark is of no more use.
    Unmark {
        /// Its name.
        name: String,
    },
    /// The crew's book knows a place near by: what it knows is taken along, and its marks taken over when she anchors there.
    Near {
        /// The place, with the soundings that are of use here.
        place: Box<Place>,
    },
    /// A bearing of a mark, taken by hand.
    Bearing {
        /// The mark's name.
        mark: String,
        /// True bearing from the boat.
        bearing: TrueBearing,
    },
    /// Begin to weigh: the drag judgement stands down because the crew says so.
    Weigh,
    /// Stop weighing: she stays.
    Stay,
    /// After dragging: she lies to her anchor where she is now, and it is judged from here.
    LiesHere,
    /// The five-minute check of the anchor begins.
    BeginCheck,
    /// What the crew finds in it, or that an answer is taken back.
    CheckFound(Finding),
    /// The check is over before it is answered in full.
    EndCheck,
    /// The alarm is to sound as it would at night, and nothing else is to happen.
    Rehearse,
    /// That was heard in the bunk, or not; with `None` it is stopped, and nobody says.
    Rehearsed {
        /// Whether it was heard.
        heard: Option<bool>,
    },
    /// The anchor is up: the ride ends.
    Aweigh,
}
