//! Named kinds of nights, each drawn from a seed: what a watch is tried on.
//!
//! Within a class the seed draws boat, tackle, depth, tide, wind and receiver; the receiver's kind goes round with
//! the seed (see [`receiver_kind`]) unless the class is about a receiver. Seeds are kept apart by their use:
//! [`TUNING`] to look at while a method is made, [`HELD_OUT`] to measure it.

use std::ops::Range;

use super::anchor::{AnchorBehaviour, Failure};
use super::crew::Crew;
use super::dice::Dice;
use super::gnss::{FixFault, FixTrouble, Receiver, ReceiverKind};
use super::hull::Handling;
use super::instruments::Instruments;
use super::scenario::{Scenario, wind_load};
use super::water::{Sea, Seabed, Stream, TIDE_PERIOD, Tide};
use super::wind::{Squall, Weather, WindChange};
use crate::watch::boat::{Boat, Hull, Tackle};
use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};

/// Seeds to look at while a method is being made.
pub const TUNING: Range<u64> = 0..1_000_000;
/// Seeds to measure a finished method on.
pub const HELD_OUT: Range<u64> = 1_000_000..2_000_000;

/// A kind of night.
#[derive(Clone, Copy, Debug)]
pub struct Class {
    /// Its name, for tables and the command line.
    pub name: &'static str,
    /// What is special about it, in one line.
    pub what: &'static str,
    /// The anchor moves.
    pub drags: bool,
    change: fn(&mut Draft),
}

/// Every class: first those in which she holds, then those in which she drags.
pub const CLASSES: &[Class] = &[
    Class { name: "quiet", what: "5 to 12 kn, little tide", drags: false, change: quiet },
    Class { name: "moderate", what: "12 to 20 kn", drags: false, change: moderate },
    Class { name: "gale", what: "rising to 25 to 38 kn for hours", drags: false, change: gale },
    Class {
        name: "tide-turn",
        what: "stream of 1 to 2 kn turns under a light wind",
        drags: false,
        change: tide_turn,
    },
    Class {
        name: "wind-against-tide",
        what: "stream against 12 to 18 kn of wind",
        drags: false,
        change: against,
    },
    Class {
        name: "wind-shift",
        what: "a front: the wind turns 60 to 180°",
        drags: false,
        change: wind_shift,
    },
    Class {
        name: "calm-lap",
        what: "wind dies, she laps her anchor, then it blows again",
        drags: false,
        change: calm_lap,
    },
    Class {
        name: "heaped-chain",
        what: "not dug in, chain in a heap, pulled straight hours later",
        drags: false,
        change: heaped,
    },
    Class { name: "squalls", what: "several squalls of 15 to 25 kn more", drags: false, change: squalls },
    Class {
        name: "sheering-sloop",
        what: "a light sloop that sheers hard in 18 to 28 kn",
        drags: false,
        change: sheering_sloop,
    },
    Class {
        name: "sheering-catamaran",
        what: "a catamaran without bridle in 18 to 28 kn",
        drags: false,
        change: sheering_cat,
    },
    Class {
        name: "open-road",
        what: "swell and a short sea in an open road",
        drags: false,
        change: open_road,
    },
    Class { name: "rope-rode", what: "20 to 30 m of chain, the rest rope", drags: false, change: rope_rode },
    Class {
        name: "veered-in-night",
        what: "rode veered, or shortened, in the night",
        drags: false,
        change: veered,
    },
    Class {
        name: "wandering-fix",
        what: "fixes swing out 8 to 10 m in a quarter of an hour in a blow",
        drags: false,
        change: wandering,
    },
    Class {
        name: "faulty-fix",
        what: "2D spells, frozen output, jumps of fix kind",
        drags: false,
        change: faulty_fix,
    },
    Class {
        name: "long-hole",
        what: "no fix for 40 minutes, first fixes 40 m off",
        drags: false,
        change: long_hole,
    },
    Class {
        name: "cold-start",
        what: "the receiver is switched on minutes before the anchor goes",
        drags: false,
        change: |d| d.night.receivers[0].cold_start = true,
    },
    Class {
        name: "late-mark",
        what: "mark 20 to 90 s late, or at the helm",
        drags: false,
        change: late_mark,
    },
    Class {
        name: "unmarked",
        what: "the drop is never marked",
        drags: false,
        change: |d| d.night.crew.marks = false,
    },
    Class {
        name: "wrong-rode",
        what: "rode entered 10 % wrong, depth entered wrong, tide an hour off",
        drags: false,
        change: wrong_rode,
    },
    Class { name: "no-heading", what: "no compass", drags: false, change: no_heading },
    Class { name: "no-wind", what: "no wind sensor", drags: false, change: no_wind },
    Class { name: "no-depth", what: "no sounder, no tide entered", drags: false, change: no_depth },
    Class { name: "bare", what: "a receiver and nothing else", drags: false, change: bare },
    Class {
        name: "dirty-bus",
        what: "damaged sentences, instruments that die for an hour",
        drags: false,
        change: dirty_bus,
    },
    Class {
        name: "open-sky",
        what: "an open-sky receiver",
        drags: false,
        change: |d| d.receiver(ReceiverKind::OpenSky),
    },
    Class {
        name: "marine",
        what: "an ordinary marine receiver",
        drags: false,
        change: |d| d.receiver(ReceiverKind::Marine),
    },
    Class {
        name: "static-hold",
        what: "a receiver that holds its position when slow",
        drags: false,
        change: |d| d.receiver(ReceiverKind::StaticHold),
    },
    Class {
        name: "poor-view",
        what: "a receiver below deck",
        drags: false,
        change: |d| d.receiver(ReceiverKind::PoorView),
    },
    Class {
        name: "position-only",
        what: "a receiver without speed and course",
        drags: false,
        change: |d| d.receiver(ReceiverKind::PositionOnly),
    },
    Class {
        name: "three-decimals",
        what: "positions in steps of 1.85 m",
        drags: false,
        change: three_decimals,
    },
    Class {
        name: "two-receivers",
        what: "two receivers of different kinds",
        drags: false,
        change: two_receivers,
    },
    Class {
        name: "good-then-poor",
        what: "a good receiver, and one of poor view that stands in for it",
        drags: false,
        change: |d| {
            weather(d);
            pair(d, Pair::GoodThenPoor);
        },
    },
    Class {
        name: "poor-then-good",
        what: "a receiver of poor view, and a good one that stands in for it",
        drags: false,
        change: |d| {
            weather(d);
            pair(d, Pair::PoorThenGood);
        },
    },
    Class {
        name: "two-alike",
        what: "two receivers of one kind",
        drags: false,
        change: |d| {
            weather(d);
            pair(d, Pair::Alike);
        },
    },
    Class {
        name: "first-fails",
        what: "the first receiver fails for 10 to 60 minutes, and again; another stands in",
        drags: false,
        change: |d| {
            weather(d);
            pair(d, Pair::FirstFails);
        },
    },
    Class { name: "break-out", what: "breaks out in a gust and comes home", drags: true, change: break_out },
    Class {
        name: "break-out-squall",
        what: "breaks out in a squall, digs in again 15 to 40 m on",
        drags: true,
        change: break_out_squall,
    },
    Class { name: "creep", what: "gives a little in each gust", drags: true, change: creep },
    Class { name: "plough-0.2", what: "ploughs at 0.2 m/min", drags: true, change: |d| plough(d, 0.2) },
    Class { name: "plough-0.5", what: "ploughs at 0.5 m/min", drags: true, change: |d| plough(d, 0.5) },
    Class {
        name: "trip",
        what: "trips on a reversal and comes home",
        drags: true,
        change: |d| trip(d, false),
    },
    Class {
        name: "trip-and-reset",
        what: "trips on a reversal, digs in again 10 to 25 m on",
        drags: true,
        change: |d| trip(d, true),
    },
    Class {
        name: "light-air-drag",
        what: "ploughs in 6 to 9 kn, the rode never taut",
        drags: true,
        change: light_air_drag,
    },
    Class {
        name: "tide-drag",
        what: "a spring stream takes her away under a light wind",
        drags: true,
        change: tide_drag,
    },
    Class {
        name: "drag-late-mark",
        what: "breaks out after a late mark",
        drags: true,
        change: |d| {
            late_mark(d);
            break_out(d);
        },
    },
    Class {
        name: "drag-wrong-rode",
        what: "ploughs at 0.5 m/min with the rode entered wrong",
        drags: true,
        change: |d| {
            wrong_rode(d);
            plough(d, 0.5);
        },
    },
    Class {
        name: "drag-bare",
        what: "breaks out, a receiver and nothing else",
        drags: true,
        change: |d| {
            bare(d);
            break_out(d);
        },
    },
    Class {
        name: "drag-two-receivers",
        what: "breaks out, creeps or trips before two receivers, paired as in the four classes of pairs",
        drags: true,
        change: drag_before_two,
    },
];

/// The class of a name.
#[must_use]
pub fn class(name: &str) -> Option<&'static Class> {
    CLASSES.iter().find(|class| class.name == name)
}

/// The kind of receiver that a seed gets where the class leaves it open.
#[must_use]
pub fn receiver_kind(seed: u64) -> ReceiverKind {
    ReceiverKind::ALL[(seed % 5) as usize]
}

/// The night of a class and a seed.
#[must_use]
pub fn scenario(class: &Class, seed: u64) -> Scenario {
    // FNV-1a (Fowler, Noll, Vo): a class keeps its nights when others come and go.
    let stream = class.name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    let mut draft = Draft::new(seed, Dice::new(seed, stream));
    (class.change)(&mut draft);
    draft.finish(stream)
}

/// How coming to anchor goes, for a crew that wants to see whether the anchor has bitten.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SettingKind {
    /// It bites and holds both pulls.
    Holds,
    /// It holds half throttle and is torn out by the hard burst.
    DragsInBurst,
    /// It skates over the ground: the rode never comes taut.
    NeverTaut,
    /// The chain is caught under a rock: the rode comes taut too near.
    FouledShort,
}

/// Twenty minutes of coming to anchor, and of weighing again after them.
#[must_use]
pub fn setting(kind: SettingKind, seed: u64) -> Scenario {
    let mut draft = Draft::new(seed, Dice::new(seed, 1000 + kind as u64));
    quiet(&mut draft);
    draft.receiver(ReceiverKind::OpenSky);
    draft.scope = draft.dice.between(4.0, 6.0);
    let night = &mut draft.night;
    night.duration = Span::from_mins(35);
    night.crew.weighs = Some(Span::from_mins(20));
    night.instruments.rpm = true;
    night.instruments.damage = 0.0;
    // Pull of the engine at its hardest, as in the crew's own calculation.
    let burst = Newtons(0.25 * night.boat.displacement_kg);
    let anchor = &mut night.anchor;
    match kind {
        SettingKind::Holds => {}
        SettingKind::DragsInBurst => anchor.holding = burst * draft.dice.between(0.7, 0.85),
        SettingKind::NeverTaut => {
            anchor.digs_in_over = Metres(10_000.0);
            anchor.loose = burst * 0.05;
        }
        SettingKind::FouledShort => anchor.caught = Some(Metres(draft.dice.between(7.0, 10.0))),
    }
    draft.finish(1000 + kind as u64)
}

/// A night being made up.
struct Draft {
    dice: Dice,
    night: Scenario,
    /// The length out as a multiple of greatest depth + bow height.
    scope: f64,
}

impl Draft {
    fn new(seed: u64, mut dice: Dice) -> Self {
        let (boat, tackle) = boats(&mut dice);
        let handling = Handling { fore_windage: dice.between(0.15, 0.27), ..Handling::usual(&boat) };
        let from = TrueBearing::new(dice.between(0.0, 360.0));
        let period = TIDE_PERIOD.0 as f64;
        let range = dice.ratio_between(0.3, 4.0);
        let night = Scenario {
            give_m_per_kn: dice.between(0.04, 0.25),
            place_name: "Trial".into(),
            place: Position::new(dice.between(-62.0, 62.0), dice.between(-180.0, 180.0))
                .expect("drawn within the earth"),
            start: WatchTime(1_767_200_000_000 + dice.index(365 * 24) as i64 * 3_600_000),
            duration: Span::from_mins(8 * 60),
            seabed: Seabed {
                charted: Metres(dice.between(1.8, 6.0)),
                slope: dice.between(0.0, 0.02),
                deepens_to: TrueBearing::new(dice.between(0.0, 360.0)),
            },
            tide: Tide {
                mean: Metres(range / 2.0 + dice.between(0.2, 1.0)),
                range: Metres(range),
                high_water: Span((dice.unit() * period) as i64),
                surge: Metres(0.15 * dice.normal()),
            },
            stream: Stream {
                peak: Knots(dice.between(0.0, 0.3)),
                flood_to: TrueBearing::new(dice.between(0.0, 360.0)),
                rotary: dice.between(-0.2, 0.2),
                slack: Span((dice.unit() * period) as i64),
            },
            weather: Weather {
                wind: Knots(dice.between(8.0, 18.0)),
                from,
                gustiness: dice.between(0.10, 0.2),
                meander_deg: dice.between(4.0, 10.0),
                changes: Vec::new(),
                squalls: Vec::new(),
            },
            sea: Sea { height_per_10_kn: Metres(dice.between(0.03, 0.12)), swell: Metres(0.0) },
            veered: Metres(0.0),
            anchor: AnchorBehaviour::default(),
            receivers: vec![Receiver::draw(receiver_kind(seed), &mut dice)],
            instruments: Instruments::draw(&mut dice),
            crew: Crew { mark_late: Span::from_secs(2 + dice.index(5) as i64), ..Crew::default() },
            seed,
            boat,
            tackle,
            handling,
        };
        Self { scope: dice.between(4.0, 6.0), dice, night }
    }

    fn finish(mut self, stream: u64) -> Scenario {
        let night = &mut self.night;
        let deepest =
            night.seabed.charted.0 + night.tide.mean.0 + night.tide.range.0 / 2.0 + night.boat.bow_height.0;
        let carried = night.tackle.chain.0 + night.tackle.rope.0;
        // Five metres at least, as the crew's marks count it.
        night.veered = Metres((self.scope * deepest / 5.0).round().max(3.0) * 5.0).min(Metres(carried));
        if let Some(compass) = &mut night.instruments.compass
            && compass.magnetic
        {
            compass.variation_deg = (self.dice.between(-12.0, 12.0) * 10.0).round() / 10.0;
        }
        night.seed ^= stream;
        self.night
    }

    fn receiver(&mut self, kind: ReceiverKind) {
        self.night.receivers = vec![Receiver::draw(kind, &mut self.dice)];
    }

    fn wind(&mut self, low: f64, high: f64) {
        self.night.weather.wind = Knots(self.dice.between(low, high));
    }

    /// A moment of the night proper, in hours after the start.
    fn at(&mut self, from_h: f64, until_h: f64) -> Span {
        Span((self.dice.between(from_h, until_h) * 3_600_000.0) as i64)
    }

    fn change(&mut self, at: Span, over_min: f64, wind: f64, turn_deg: f64) {
        let over = Span((over_min * 60_000.0) as i64);
        self.night.weather.changes.push(WindChange { at, over, wind: Knots(wind), turn_deg });
    }

    fn fault(&mut self, at: Span, lasts_s: f64, what: FixTrouble) {
        let lasts = Span((lasts_s * 1000.0) as i64);
        self.night.receivers[0].faults.push(FixFault { at, lasts, what });
    }

    /// Load of the wind as it blows from some hour on.
    fn load_at(&self, at: Span) -> Newtons {
        let (wind, _) = self.night.weather.mean(at.seconds());
        wind_load(&self.night.handling, Knots(wind))
    }
}

/// A boat of the sizes that lie in anchorages, with tackle to match (common practice, no source).
fn boats(dice: &mut Dice) -> (Boat, Tackle) {
    let pick =
        [Keel::Light, Keel::Middle, Keel::Middle, Keel::Cruiser, Keel::Cruiser, Keel::Heavy, Keel::Two];
    boat_of(pick[dice.index(pick.len())], dice)
}

#[derive(Clone, Copy)]
enum Keel {
    Light,
    Middle,
    Cruiser,
    Heavy,
    Two,
}

fn boat_of(keel: Keel, dice: &mut Dice) -> (Boat, Tackle) {
    // Length, displacement over length cubed, beam, draft, bow, chain.
    let (loa, fullness, beam, draft, bow, chain_mm) = match keel {
        Keel::Light => (dice.between(6.5, 8.0), 4.6, 0.36, 1.3, 0.9, 6.0),
        Keel::Middle => (dice.between(8.5, 10.5), 5.0, 0.34, 1.7, 1.15, 8.0),
        Keel::Cruiser => (dice.between(10.5, 13.0), 5.4, 0.32, 1.9, 1.4, 10.0),
        Keel::Heavy => (dice.between(11.0, 14.0), 7.0, 0.30, 1.9, 1.5, 10.0),
        Keel::Two => (dice.between(11.0, 14.0), 4.2, 0.54, 1.1, 1.7, 10.0),
    };
    let tenth = |x: f64| (x * 10.0).round() / 10.0;
    let loa = tenth(loa);
    let boat = Boat {
        name: "Trial".into(),
        hull: if matches!(keel, Keel::Two) { Hull::Catamaran } else { Hull::Monohull },
        loa: Metres(loa),
        beam: Metres(tenth(beam * loa)),
        draft: Metres(draft),
        bow_height: Metres(bow),
        displacement_kg: (fullness * loa * loa * loa / 10.0).round() * 10.0,
        windage_m2: None,
        antenna_aft: Metres(tenth(dice.between(0.3, 0.98) * loa)),
        antenna_starboard: Metres(tenth(dice.between(-0.3, 0.3) * beam * loa)),
        sounder_below_water: Metres(0.5),
    };
    let tackle = Tackle {
        chain_mm,
        chain: Metres(80.0),
        rope_mm: 0.0,
        rope: Metres(0.0),
        anchor_kg: Some((1.5 * loa).round()),
    };
    (boat, tackle)
}

fn quiet(d: &mut Draft) {
    d.wind(5.0, 12.0);
}

fn moderate(d: &mut Draft) {
    d.wind(12.0, 20.0);
}

fn gale(d: &mut Draft) {
    d.wind(14.0, 22.0);
    d.scope = d.dice.between(5.5, 8.0);
    let (at, top) = (d.at(1.0, 2.5), d.dice.between(25.0, 38.0));
    let turn = 40.0 * d.dice.normal();
    d.change(at, 60.0, top, turn);
    let ease = d.at(5.5, 7.5);
    d.change(ease, 60.0, 0.6 * top, 20.0);
}

fn strong_stream(d: &mut Draft, low: f64, high: f64) {
    let stream = &mut d.night.stream;
    stream.peak = Knots(d.dice.between(low, high));
    // The stream turns in the middle of the night.
    stream.slack = Span((d.dice.between(2.0, 5.0) * 3_600_000.0) as i64)
        + if d.dice.chance(0.5) { Span(TIDE_PERIOD.0 / 2) } else { Span::ZERO };
}

fn tide_turn(d: &mut Draft) {
    d.wind(3.0, 9.0);
    strong_stream(d, 1.0, 2.0);
}

fn against(d: &mut Draft) {
    d.wind(12.0, 18.0);
    strong_stream(d, 1.0, 2.2);
    d.night.stream.flood_to = d.night.weather.from.turned(25.0 * d.dice.normal());
}

fn wind_shift(d: &mut Draft) {
    d.wind(8.0, 16.0);
    let (at, turn) = (d.at(1.5, 5.0), d.dice.sign() * d.dice.between(60.0, 180.0));
    let (over, after) = (d.dice.ratio_between(3.0, 60.0), d.dice.between(10.0, 24.0));
    d.change(at, over, after, turn);
}

fn calm_lap(d: &mut Draft) {
    d.wind(5.0, 9.0);
    let (at, lull) = (d.at(0.7, 1.5), d.dice.between(0.5, 2.5));
    d.change(at, 20.0, lull, 30.0);
    d.night.stream.peak = Knots(d.dice.between(0.1, 0.5));
    let (again, turn) = (d.at(4.0, 5.5), d.dice.sign() * d.dice.between(60.0, 180.0));
    let after = d.dice.between(12.0, 22.0);
    d.change(again, 40.0, after, turn);
}

fn heaped(d: &mut Draft) {
    d.wind(2.0, 5.0);
    d.night.crew.digs_in = false;
    d.scope = d.dice.between(5.0, 7.0);
    let (at, after) = (d.at(2.0, 4.0), d.dice.between(18.0, 28.0));
    let (over, turn) = (d.dice.between(15.0, 60.0), 50.0 * d.dice.normal());
    d.change(at, over, after, turn);
}

fn squalls(d: &mut Draft) {
    d.wind(6.0, 14.0);
    for _ in 0..2 + d.dice.index(3) {
        let squall = Squall {
            at: d.at(1.0, 7.0),
            lasts: Span((d.dice.between(8.0, 30.0) * 60_000.0) as i64),
            adds: Knots(d.dice.between(15.0, 25.0)),
            turn_deg: 40.0 * d.dice.normal(),
        };
        d.night.weather.squalls.push(squall);
    }
}

fn set_boat(d: &mut Draft, keel: Keel) {
    let (boat, tackle) = boat_of(keel, &mut d.dice);
    d.night.handling = Handling { fore_windage: d.night.handling.fore_windage, ..Handling::usual(&boat) };
    (d.night.boat, d.night.tackle) = (boat, tackle);
}

fn sheering_sloop(d: &mut Draft) {
    set_boat(d, Keel::Light);
    d.night.handling.fore_windage = d.dice.between(0.28, 0.36);
    d.wind(18.0, 28.0);
}

fn sheering_cat(d: &mut Draft) {
    set_boat(d, Keel::Two);
    d.night.handling.bridle_m = 0.0;
    d.night.handling.fore_windage = d.dice.between(0.28, 0.36);
    d.wind(18.0, 28.0);
}

fn open_road(d: &mut Draft) {
    d.wind(12.0, 24.0);
    d.scope = d.dice.between(5.0, 8.0);
    d.night.sea =
        Sea { height_per_10_kn: Metres(d.dice.between(0.2, 0.3)), swell: Metres(d.dice.between(0.2, 0.8)) };
}

fn rope_rode(d: &mut Draft) {
    d.wind(10.0, 22.0);
    d.scope = d.dice.between(5.0, 7.0);
    let tackle = &mut d.night.tackle;
    tackle.chain = Metres((d.dice.between(8.0, 30.0)).round());
    tackle.rope = Metres(70.0);
    tackle.rope_mm = (1.5 * tackle.chain_mm).round();
}

fn veered(d: &mut Draft) {
    d.wind(10.0, 20.0);
    let (at, longer) = (d.at(2.0, 3.5), d.dice.chance(0.6));
    // `finish` sets the length from the scope: the change is entered as a share of the chain carried.
    let now = d.scope * 8.0;
    let to = if longer { now + 20.0 } else { (now - 10.0).max(20.0) };
    d.scope = now / 8.0;
    d.night.crew.veers.push((at, Metres(to.round())));
}

fn wandering(d: &mut Draft) {
    d.wind(16.0, 26.0);
    for _ in 0..3 {
        let what = FixTrouble::Excursion {
            by: Metres(d.dice.between(8.0, 10.0)),
            towards: TrueBearing::new(d.dice.between(0.0, 360.0)),
        };
        let (at, lasts) = (d.at(1.0, 7.0), d.dice.between(800.0, 1600.0));
        d.fault(at, lasts, what);
    }
}

fn faulty_fix(d: &mut Draft) {
    for _ in 0..3 {
        let (at, lasts) = (d.at(0.8, 7.2), d.dice.between(60.0, 900.0));
        d.fault(at, lasts, FixTrouble::TwoDimensional);
    }
    for _ in 0..2 {
        let (at, lasts) = (d.at(0.8, 7.2), d.dice.between(20.0, 600.0));
        d.fault(at, lasts, FixTrouble::Frozen);
    }
    for _ in 0..2 {
        let (at, lasts) = (d.at(0.8, 7.2), d.dice.between(300.0, 3600.0));
        let by = Metres(d.dice.between(2.0, 6.0));
        let towards = TrueBearing::new(d.dice.between(0.0, 360.0));
        d.fault(at, lasts, FixTrouble::Step { by, towards });
    }
}

fn long_hole(d: &mut Draft) {
    let (at, silent) = (d.at(1.5, 5.0), d.dice.chance(0.5));
    d.fault(at, 2400.0, if silent { FixTrouble::Silent } else { FixTrouble::Void });
}

fn late_mark(d: &mut Draft) {
    if d.dice.chance(0.5) {
        d.night.crew.mark_late = Span::from_secs(d.dice.between(20.0, 90.0) as i64);
    } else {
        d.night.crew.mark_at_helm = true;
        d.night.crew.mark_late = Span::from_secs(d.dice.between(5.0, 40.0) as i64);
    }
}

fn wrong_rode(d: &mut Draft) {
    d.night.crew.rode_entered = 1.0 + 0.1 * d.dice.sign() * d.dice.between(0.7, 1.2);
    d.night.crew.depth_entered = Some(Metres(1.0 * d.dice.normal()));
    d.night.crew.tide_entered = Some(Span::from_mins(d.dice.between(-60.0, 60.0) as i64));
}

fn no_heading(d: &mut Draft) {
    d.night.instruments.compass = None;
}

fn no_wind(d: &mut Draft) {
    d.night.instruments.wind = None;
    d.wind(8.0, 24.0);
}

fn no_depth(d: &mut Draft) {
    d.night.instruments.sounder = None;
    d.night.crew.tide_entered = None;
    d.night.crew.depth_entered = Some(Metres(0.5 * d.dice.normal()));
}

fn bare(d: &mut Draft) {
    no_heading(d);
    no_wind(d);
    no_depth(d);
    d.night.instruments.log = false;
    d.night.instruments.rpm = false;
}

fn dirty_bus(d: &mut Draft) {
    d.night.instruments.damage = d.dice.between(0.02, 0.06);
    let at = d.at(1.5, 5.5);
    d.night.instruments.dead.push((at, Span::from_mins(60)));
}

fn three_decimals(d: &mut Draft) {
    d.receiver(ReceiverKind::Marine);
    d.night.receivers[0].minute_decimals = 3;
}

fn two_receivers(d: &mut Draft) {
    let second = Receiver::draw(ReceiverKind::Marine, &mut d.dice);
    d.night.receivers.push(second);
}

/// Weather of any of the common kinds.
fn weather(d: &mut Draft) {
    let kinds = [moderate, gale, wind_shift, squalls, sheering_sloop, tide_turn];
    kinds[d.dice.index(kinds.len())](d);
}

/// Which two receivers a boat has.
#[derive(Clone, Copy, Debug)]
enum Pair {
    GoodThenPoor,
    PoorThenGood,
    Alike,
    FirstFails,
}

impl Pair {
    const ALL: [Self; 4] = [Self::GoodThenPoor, Self::PoorThenGood, Self::Alike, Self::FirstFails];
}

fn pair(d: &mut Draft, pair: Pair) {
    let good = [ReceiverKind::OpenSky, ReceiverKind::Marine][d.dice.index(2)];
    let any = ReceiverKind::ALL[d.dice.index(5)];
    let (first, second) = match pair {
        Pair::GoodThenPoor => (good, ReceiverKind::PoorView),
        Pair::PoorThenGood => (ReceiverKind::PoorView, good),
        Pair::Alike => (any, any),
        Pair::FirstFails => (d.night.receivers[0].kind, any),
    };
    d.night.receivers = vec![Receiver::draw(first, &mut d.dice), Receiver::draw(second, &mut d.dice)];
    if matches!(pair, Pair::FirstFails) {
        for _ in 0..2 {
            let (at, lasts) = (d.at(1.0, 6.5), d.dice.between(600.0, 3600.0));
            let troubles =
                [FixTrouble::Silent, FixTrouble::Void, FixTrouble::Frozen, FixTrouble::TwoDimensional];
            let what = troubles[d.dice.index(troubles.len())];
            d.fault(at, lasts, what);
        }
    }
    // The second antenna has a place of its own on board, of which the boat's file knows nothing.
    let boat = &d.night.boat;
    let aft = d.dice.between(0.2, 1.0) * boat.loa.0;
    let starboard = d.dice.between(-0.4, 0.4) * boat.beam.0;
    let apart = (boat.antenna_aft - Metres(aft), Metres(starboard) - boat.antenna_starboard);
    d.night.receivers[1].apart = apart;
}

fn drag_before_two(d: &mut Draft) {
    match d.dice.index(3) {
        0 => break_out(d),
        1 => creep(d),
        _ => trip(d, false),
    }
    pair(d, Pair::ALL[(d.night.seed % 4) as usize]);
}

fn break_out(d: &mut Draft) {
    if d.night.weather.wind.0 < 13.0 {
        d.wind(13.0, 24.0);
    }
    d.scope = d.dice.between(3.5, 5.0);
    let after = d.at(1.5, 5.5);
    let load = d.load_at(after);
    let failure = Failure::BreaksOut {
        after,
        above: load * d.dice.between(0.9, 1.6),
        resists: load * d.dice.between(0.1, 0.6),
        resets_after: None,
    };
    d.night.anchor.failures.push(failure);
}

fn break_out_squall(d: &mut Draft) {
    d.wind(6.0, 14.0);
    let at = d.at(1.5, 6.0);
    let adds = Knots(d.dice.between(15.0, 25.0));
    let lasts = Span((d.dice.between(12.0, 30.0) * 60_000.0) as i64);
    d.night.weather.squalls.push(Squall { at, lasts, adds, turn_deg: 25.0 * d.dice.normal() });
    let load = d.load_at(at + Span::from_mins(4));
    let failure = Failure::BreaksOut {
        after: at,
        above: load * d.dice.between(0.7, 1.1),
        resists: load * d.dice.between(0.1, 0.5),
        resets_after: Some(Metres(d.dice.between(15.0, 40.0))),
    };
    d.night.anchor.failures.push(failure);
}

fn creep(d: &mut Draft) {
    d.wind(14.0, 24.0);
    d.scope = d.dice.between(3.5, 5.0);
    let after = d.at(1.0, 4.0);
    let above = d.load_at(after) * d.dice.between(0.9, 1.3);
    let m_per_min = d.dice.ratio_between(0.6, 3.0);
    d.night.anchor.failures.push(Failure::Creeps { after, above, m_per_min });
}

fn plough(d: &mut Draft, m_per_min: f64) {
    // Enough wind, and not too much chain, that the pull reaches the anchor.
    d.wind(14.0, 24.0);
    d.scope = d.dice.between(3.5, 5.0);
    let after = d.at(1.0, 4.0);
    d.night.anchor.failures.push(Failure::Ploughs { after, above: Newtons(20.0), m_per_min });
}

fn trip(d: &mut Draft, resets: bool) {
    d.wind(8.0, 16.0);
    let (at, turn) = (d.at(1.5, 5.0), d.dice.sign() * d.dice.between(130.0, 180.0));
    let (over, after) = (d.dice.ratio_between(5.0, 60.0), d.dice.between(12.0, 22.0));
    d.change(at, over, after, turn);
    d.scope = d.dice.between(3.5, 5.0);
    let load = d.load_at(at + Span::from_mins(61));
    let failure = Failure::Trips {
        turn_deg: 100.0,
        above: load * d.dice.between(0.3, 0.9),
        resists: load * d.dice.between(0.1, 0.6),
        resets_after: resets.then(|| Metres(d.dice.between(10.0, 25.0))),
    };
    d.night.anchor.failures.push(failure);
}

fn light_air_drag(d: &mut Draft) {
    d.wind(6.5, 9.5);
    // Short of chain, and that light, so that even this wind reaches the anchor.
    d.scope = d.dice.between(2.5, 3.2);
    d.night.tackle.chain_mm = (d.night.tackle.chain_mm - 2.0).max(6.0);
    d.night.tide.range = Metres(d.dice.between(0.2, 1.0));
    let after = d.at(1.0, 3.5);
    let m_per_min = d.dice.ratio_between(0.3, 1.0);
    d.night.crew.digs_in = false;
    d.night.anchor.failures.push(Failure::Ploughs { after, above: Newtons(5.0), m_per_min });
}

fn tide_drag(d: &mut Draft) {
    d.wind(3.0, 8.0);
    strong_stream(d, 2.2, 3.2);
    let after = d.at(1.0, 3.5);
    let m_per_min = d.dice.ratio_between(0.4, 3.0);
    d.scope = d.dice.between(2.8, 3.5);
    d.night.tackle.chain_mm = (d.night.tackle.chain_mm - 2.0).max(6.0);
    d.night.anchor.failures.push(Failure::Ploughs { after, above: Newtons(5.0), m_per_min });
}
