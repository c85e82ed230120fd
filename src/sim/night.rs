//! A night as it passes: boat, water, weather and crew, one second after the other.

use std::collections::VecDeque;
use std::f64::consts::{PI, TAU};

use serde::{Deserialize, Serialize};

use super::anchor::Anchor;
use super::chain::{Chain, Rode};
use super::chart::Chart;
use super::crew::{Setting, Sight, Step};
use super::dice::Dice;
use super::exact::{bearing, exp, fmod, length, sin, towards};
use super::gnss::{Fix, Gnss, Receiver};
use super::hull::{Body, Forces, GRAVITY, WATER};
use super::instruments::{Damage, Panel, Reality};
use super::scenario::Scenario;
use super::sentence::{Fields, Writer};
use super::wind::Wind;
use crate::watch::geo::Local;
use crate::watch::input::{Command, DropMove, FeedId, TideEntered};
use crate::watch::rode::chain_mass_kg_per_m;
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};

/// One thing that happens in a night.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// A line arrives.
    Line {
        /// When.
        at: WatchTime,
        /// From which feed.
        feed: FeedId,
        /// Without its line end.
        bytes: Vec<u8>,
    },
    /// The crew does or enters something.
    Crew {
        /// When.
        at: WatchTime,
        /// What.
        command: Command,
    },
    /// What the crew does and why, in plain words for a looker-on. The watch must not see it.
    Caption {
        /// When.
        at: WatchTime,
        /// The words.
        text: String,
    },
    /// How things are, once a second. The watch must not see it.
    Truth(Truth),
}

/// How things are at one moment. Places are metres east and north of the scenario's `place`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// When.
    pub at: WatchTime,
    /// Where the crew stands in coming to anchor.
    pub step: Step,
    /// The anchor.
    pub anchor: Local,
    /// How far it is from where it was when she was brought up; 0 before.
    pub moved: Metres,
    /// It is moving now.
    pub moving: bool,
    /// The bow roller.
    pub bow: Local,
    /// Her heading.
    pub heading: TrueBearing,
    /// True wind at her masthead.
    pub wind: Knots,
    /// Where it comes from.
    pub wind_from: TrueBearing,
    /// Velocity of the water over the ground, m/s.
    pub water: Local,
    /// Horizontal load at the bow.
    pub load: Newtons,
    /// What of it reaches the anchor.
    pub anchor_load: Newtons,
    /// Chain on the ground.
    pub grounded: Metres,
    /// Rode out.
    pub veered: Metres,
    /// Depth of water at the anchor.
    pub depth: Metres,
}

impl Event {
    /// When it happens.
    #[must_use]
    pub fn at(&self) -> WatchTime {
        match self {
            Self::Line { at, .. } | Self::Crew { at, .. } | Self::Caption { at, .. } => *at,
            Self::Truth(truth) => truth.at,
        }
    }
}

/// Steps a second of the boat's motion. Her quickest motion, surging on a stretched rode, takes about four seconds.
const STEPS: u32 = 4;
const STEP_S: f64 = 1.0 / STEPS as f64;
/// Density of chain, kg/m³.
const STEEL: f64 = 7850.0;
/// What the wind at the hull is of the wind at the masthead.
const WIND_AT_HULL: f64 = 0.92;

/// A night in progress: an iterator over its events in order of time.
#[derive(Debug)]
pub struct Night {
    scenario: Scenario,
    chart: Chart,
    seconds: i64,
    boat: Body,
    wind: Wind,
    air: Local,
    chain: Option<Chain>,
    anchor: Anchor,
    setting: Setting,
    veered_m: f64,
    anchor_step_m: f64,
    brought_up_at: Option<Local>,
    let_go_s: Option<f64>,
    entered: bool,
    next_veer: usize,
    /// The length last entered while weighing, m.
    entered_veered_m: f64,
    gnss: Vec<(Gnss, Damage)>,
    last_fix: Option<Local>,
    panel: (Panel, Damage),
    jitter: Dice,
    writer: Writer,
    wave_phase: [f64; 2],
    saying: Vec<Command>,
    queue: VecDeque<Event>,
}

impl Night {
    /// The night of a scenario, from its start.
    #[must_use]
    pub fn new(scenario: Scenario) -> Self {
        let seed = scenario.seed;
        let (_, from) = scenario.weather.mean(0.0);
        let upwind = from.to_radians();
        let mut start = Dice::new(seed, 1);
        let bow = towards(upwind + 0.15 * start.normal()).scaled(-start.between(200.0, 350.0));
        let heading = upwind + 0.3 * start.normal();
        let middle = bow - towards(heading).scaled(0.5 * scenario.boat.loa.0);
        let damage = scenario.instruments.damage;
        let gnss = scenario.receivers.iter().zip(0u64..).map(|(receiver, i)| {
            // A second receiver sees the same sky, but that is another day's refinement of the same order as its own
            // reflections: each has its own errors.
            (
                Gnss::new(receiver.clone(), Dice::new(seed, 100 + i)),
                Damage::new(damage, Dice::new(seed, 200 + i)),
            )
        });
        Self {
            chart: Chart::new(scenario.place),
            seconds: 0,
            boat: Body::new(&scenario.boat, scenario.handling, middle, heading),
            wind: Wind::new(&scenario.weather, STEP_S, Dice::new(seed, 2)),
            air: Local::default(),
            chain: None,
            anchor: Anchor::new(&scenario.anchor),
            setting: Setting::new(&scenario.crew, scenario.boat.displacement_kg),
            veered_m: 0.0,
            anchor_step_m: 0.0,
            brought_up_at: None,
            let_go_s: None,
            entered: false,
            next_veer: 0,
            entered_veered_m: 0.0,
            gnss: gnss.collect(),
            last_fix: None,
            panel: (
                Panel::new(scenario.instruments.clone(), Dice::new(seed, 3)),
                Damage::new(damage, Dice::new(seed, 4)),
            ),
            jitter: Dice::new(seed, 5),
            writer: Writer::default(),
            wave_phase: [start.between(0.0, TAU), start.between(0.0, TAU)],
            saying: Vec::new(),
            queue: VecDeque::new(),
            scenario,
        }
    }

    /// The scenario of this night.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    fn now(&self) -> WatchTime {
        self.scenario.start + Span::from_secs(self.seconds)
    }

    fn t_s(&self) -> f64 {
        self.seconds as f64
    }

    /// One second: move the boat, then let everybody say what there is to say.
    fn second(&mut self) {
        if self.seconds == 0 {
            self.enter_tide();
        }
        for step in 0..STEPS {
            let t_s = self.t_s() + f64::from(step) * STEP_S;
            self.move_boat(t_s);
        }
        self.seconds += 1;
        self.queue.push_back(Event::Truth(self.truth()));
        self.enter();
        for (command, after_ms) in std::mem::take(&mut self.saying).into_iter().zip((20..).step_by(10)) {
            let at = self.now() + Span(after_ms);
            self.queue.push_back(Event::Crew { at, command });
        }
        self.send_fixes();
        self.send_panel();
    }

    fn move_boat(&mut self, t_s: f64) {
        self.air = self.wind.step(&self.scenario.weather, t_s);
        let water = self.scenario.stream.velocity(t_s);
        let height_m = self.height_m(t_s);
        let (_, from) = self.scenario.weather.mean(t_s);
        let spot = self.chain.as_ref().map_or(Local::default(), Chain::anchor);
        let sight = Sight {
            t_s,
            dt_s: STEP_S,
            spot,
            upwind: from.to_radians(),
            height_m,
            target_m: self.scenario.veered.0,
            load_n: self.chain.as_ref().map_or(0.0, |chain| chain.load_n),
        };
        if self.setting.step == Step::Riding
            && self.scenario.crew.weighs.is_some_and(|at| t_s >= at.seconds())
        {
            self.setting.weigh(self.veered_m, t_s);
            self.entered_veered_m = self.veered_m;
            self.say(Command::Weigh);
        }
        let orders = self.setting.orders(&self.boat, &sight);
        if orders.lets_go {
            self.let_go_s = Some(t_s);
            self.chain =
                Some(Chain::new(self.rode(self.setting.veered_m, height_m), height_m, self.boat.bow()));
        }
        if orders.aweigh {
            self.chain = None;
            self.brought_up_at = None;
            self.anchor_step_m = 0.0;
            self.say(Command::Aweigh);
        }
        self.veer(t_s);
        if let Some(mut chain) = self.chain.take() {
            let rode = self.rode(self.veered_m, height_m);
            chain.set(rode.chain_m, rode.rope_m, height_m);
            chain.step(self.boat.bow(), STEP_S);
            self.anchor_step_m = self.anchor.step(&self.scenario.anchor, chain.at_anchor, t_s, STEP_S);
            if self.anchor_step_m > 0.0 {
                chain.slide(self.boat.bow(), self.anchor_step_m);
            }
            self.chain = Some(chain);
        }
        if orders.brought_up {
            self.brought_up_at = Some(self.anchor_at());
            self.say(Command::BroughtUp);
        }
        let forces = Forces {
            air: self.air.scaled(WIND_AT_HULL),
            water,
            rode: self.chain.as_ref().map_or(Local::default(), |chain| chain.pull),
            thrust_n: orders.thrust_n,
            helm_nm: orders.helm_nm,
            heave: self.heave(t_s),
        };
        self.boat.step(&forces, STEP_S);
    }

    /// The anchor: on the ground, or at the roller.
    fn anchor_at(&self) -> Local {
        self.chain.as_ref().map_or(self.boat.bow(), Chain::anchor)
    }

    /// Height of the bow roller above the ground at the anchor, m.
    fn height_m(&self, t_s: f64) -> f64 {
        self.depth_m(t_s) + self.scenario.boat.bow_height.0
    }

    fn depth_m(&self, t_s: f64) -> f64 {
        let at = self.chain.as_ref().map_or(Local::default(), Chain::anchor);
        self.depth_at_m(at, t_s)
    }

    fn depth_at_m(&self, at: Local, t_s: f64) -> f64 {
        (self.scenario.seabed.charted_m(at) + self.scenario.tide.height_m(t_s)).max(0.5)
    }

    fn rode(&self, veered_m: f64, height_m: f64) -> Rode {
        let tackle = &self.scenario.tackle;
        let jammed_m = self.scenario.anchor.caught.map_or(0.0, |caught| caught.0);
        let chain_m = veered_m.min(tackle.chain.0);
        let chain_m = (chain_m - jammed_m).max(chain_m.min(height_m + 1.0));
        let rope_m = (veered_m - tackle.chain.0).clamp(0.0, tackle.rope.0);
        // Nylon stretches by its load over 5 × 207 MPa × d² (a mooring program's property table, quasi-static).
        let rope_give = if rope_m > 0.0 { rope_m / (1035.0 * tackle.rope_mm * tackle.rope_mm) } else { 0.0 };
        Rode {
            chain_m,
            rope_m,
            // A rode of rope alone still has a shackle at its end.
            weight: (GRAVITY * (1.0 - WATER / STEEL) * chain_mass_kg_per_m(tackle.chain_mm)).max(0.5),
            give: self.scenario.give_m_per_kn / 1000.0 + rope_give,
        }
    }

    /// Length out: what the crew veers while coming to anchor, then what they change in the night, at the windlass's
    /// pace.
    fn veer(&mut self, t_s: f64) {
        if self.setting.step != Step::Riding {
            self.veered_m = self.setting.veered_m;
            return;
        }
        let due = |&&(at, _): &&(Span, Metres)| t_s >= at.seconds();
        let target = self.scenario.crew.veers.iter().rfind(due).map_or(self.scenario.veered.0, |v| v.1.0);
        // In steps of a metre, as the crew counts it out.
        if (target - self.veered_m).abs() > 0.01 && fmod(t_s, 2.0) == 0.0 {
            self.veered_m += (target - self.veered_m).clamp(-0.6, 1.0);
        }
    }

    /// To and fro of short waves: two trains that beat, as an acceleration along the boat.
    fn heave(&self, t_s: f64) -> f64 {
        let wind_kn = length(self.air) / crate::watch::units::MPS_PER_KNOT;
        let height_m = self.scenario.sea.height_m(wind_kn.min(60.0));
        let period_s = 2.2 + 1.5 * height_m;
        let wavenumber = (TAU / period_s) * (TAU / period_s) / GRAVITY;
        // A boat as long as the wave or longer hardly feels it.
        let felt = exp(-0.35 * wavenumber * self.scenario.boat.loa.0);
        let slope = wavenumber * 0.35 * height_m;
        let trains = sin(TAU * t_s / period_s + self.wave_phase[0])
            + sin(TAU * t_s / (1.17 * period_s) + self.wave_phase[1]);
        GRAVITY * slope * felt * trains
    }

    fn truth(&self) -> Truth {
        let t_s = self.t_s();
        let anchor = self.anchor_at();
        Truth {
            at: self.now(),
            step: self.setting.step,
            anchor,
            moved: Metres(self.brought_up_at.map_or(0.0, |from| length(anchor - from))),
            moving: self.anchor_step_m > 0.0,
            bow: self.boat.bow(),
            heading: TrueBearing::new(self.boat.heading.to_degrees()),
            wind: Knots::from_mps(length(self.air)),
            wind_from: TrueBearing::new((bearing(self.air) + PI).to_degrees()),
            water: self.scenario.stream.velocity(t_s),
            load: Newtons(self.chain.as_ref().map_or(0.0, |chain| chain.load_n)),
            anchor_load: Newtons(self.chain.as_ref().map_or(0.0, |chain| length(chain.at_anchor))),
            grounded: Metres(self.chain.as_ref().map_or(0.0, Chain::grounded_m)),
            veered: Metres(self.veered_m),
            depth: Metres(self.depth_m(t_s)),
        }
    }

    /// The crew will say this at the end of this second.
    fn say(&mut self, command: Command) {
        self.saying.push(command);
    }

    fn enter_tide(&mut self) {
        let scenario = &self.scenario;
        let entered = match scenario.crew.tide_entered {
            None => TideEntered::Nothing,
            Some(error) => {
                let mut turns = scenario.tide.table(scenario.start, scenario.duration);
                for turn in &mut turns {
                    turn.time += error;
                }
                TideEntered::Table { turns }
            }
        };
        self.say(Command::Tide(entered));
    }

    /// What the crew enters when its time has come.
    fn enter(&mut self) {
        let t_s = self.t_s();
        let crew = &self.scenario.crew;
        let entered = crew.rode_entered;
        if crew.marks && !self.entered && self.let_go_s.is_some_and(|at| t_s >= at + crew.mark_late.seconds())
        {
            self.entered = true;
            let at_helm = crew.mark_at_helm;
            let command = Command::LetGo {
                veered: Some(Metres((self.scenario.veered.0 * entered * 2.0).round() / 2.0)),
                depth: crew.depth_entered.map(|error| Metres(self.depth_m(t_s) + error.0)),
                place: self.scenario.place_name.clone(),
            };
            self.say(command);
            if let Some(fix) = self.last_fix.filter(|_| at_helm) {
                self.say(Command::MoveDrop(DropMove::Position { position: self.chart.position(fix) }));
            }
        }
        // Nobody pressed the key; once she rides they enter that she lies at an anchor.
        if !self.scenario.crew.marks && !self.entered && self.setting.step == Step::Riding {
            self.entered = true;
            let veered = Some(Metres((self.scenario.veered.0 * entered * 2.0).round() / 2.0));
            self.say(Command::Lying { veered, place: self.scenario.place_name.clone() });
        }
        if let Some(&(at, length)) = self.scenario.crew.veers.get(self.next_veer)
            && t_s >= at.seconds()
        {
            self.next_veer += 1;
            self.say(Command::Veered { length: length * entered });
        }
        // While weighing the marks are called as they come in, every five metres.
        if self.setting.step == Step::Weighing && self.entered_veered_m - self.veered_m >= 5.0 {
            self.entered_veered_m -= 5.0;
            self.say(Command::Veered { length: Metres(self.entered_veered_m * entered) });
        }
    }

    fn send_fixes(&mut self) {
        let (t_s, at) = (self.t_s(), self.now());
        let entered_m = 0.5 * self.scenario.boat.loa.0 - self.scenario.boat.antenna_aft.0;
        for (i, (gnss, damage)) in self.gnss.iter_mut().enumerate() {
            let (ahead, starboard) = gnss.receiver().apart;
            let (ahead_m, aside_m) =
                (entered_m + ahead.0, self.scenario.boat.antenna_starboard.0 + starboard.0);
            let (antenna, velocity) =
                (self.boat.at(ahead_m, aside_m), self.boat.velocity_at(ahead_m, aside_m));
            let Some(fix) = gnss.step(t_s, antenna, velocity) else { continue };
            if i == 0 && fix.quality > 0 {
                self.last_fix = Some(fix.at);
            }
            let mut arrives = at + Span(180 + 150 * i as i64 + (self.jitter.unit() * 60.0) as i64);
            let position = self.chart.degrees(fix.at);
            for line in sentences(&mut self.writer, gnss.receiver(), &fix, position, at, self.seconds) {
                if let Some(bytes) = damage.pass(line) {
                    self.queue.push_back(Event::Line { at: arrives, feed: FeedId(i as u8), bytes });
                }
                arrives += Span(15);
            }
        }
    }

    fn send_panel(&mut self) {
        let t_s = self.t_s();
        let boat = &self.boat;
        let (speed, angle) = boat.apparent(self.air);
        let water = self.scenario.stream.velocity(t_s);
        let from = bearing(self.air) + PI;
        let now = Reality {
            heading_deg: boat.heading.to_degrees(),
            apparent_mps: speed,
            apparent_deg: angle.to_degrees(),
            true_mps: length(self.air),
            true_deg: (from - boat.heading).to_degrees(),
            depth_below_sounder_m: self.depth_at_m(boat.middle, t_s)
                - self.scenario.boat.sounder_below_water.0,
            through_water_mps: towards(boat.heading).dot(boat.velocity - water).max(0.0),
            rpm: self.setting.rpm,
        };
        let mut lines = Vec::with_capacity(5);
        self.panel.0.step(t_s, &now, &mut lines);
        let feed = FeedId(self.gnss.len() as u8);
        let mut arrives = self.now() + Span(600 + (self.jitter.unit() * 80.0) as i64);
        for line in lines {
            if let Some(bytes) = self.panel.1.pass(line) {
                self.queue.push_back(Event::Line { at: arrives, feed, bytes });
            }
            arrives += Span(40);
        }
    }
}

impl Iterator for Night {
    type Item = Event;

    fn next(&mut self) -> Option<Event> {
        while self.queue.is_empty() {
            if self.seconds * 1000 >= self.scenario.duration.0 {
                return None;
            }
            self.second();
        }
        self.queue.pop_front()
    }
}

/// The sentences of one fix.
fn sentences(
    writer: &mut Writer,
    receiver: &Receiver,
    fix: &Fix,
    position: (f64, f64),
    at: WatchTime,
    seconds: i64,
) -> Vec<Vec<u8>> {
    let talker = std::str::from_utf8(&receiver.talker).unwrap_or("GP");
    let place = (fix.quality > 0).then_some((position, receiver.minute_decimals));
    let mut lines = Vec::with_capacity(4);
    lines.push(writer.sentence([talker, "GGA"], |f| gga(f, fix, place, at)));
    if let Some(output) = receiver.velocity {
        lines.push(writer.sentence([talker, "RMC"], |f| rmc(f, fix, place, output.decimals, at)));
        if receiver.vtg {
            lines.push(writer.sentence([talker, "VTG"], |f| vtg(f, fix, output.decimals)));
        }
    }
    if receiver.gsa && seconds % 5 == 0 {
        lines.push(writer.sentence([talker, "GSA"], |f| gsa(f, fix, place.is_some())));
    }
    if receiver.gst && place.is_some() && seconds % 5 == 0 {
        lines.push(writer.sentence([talker, "GST"], |f| gst(f, fix, at)));
    }
    lines
}

/// Latitude and longitude in degrees and how many decimals of a minute are printed; nothing where the fix is not valid.
type Place = Option<((f64, f64), u8)>;

fn put_place(f: &mut Fields<'_>, place: Place) {
    match place {
        Some((position, decimals)) => f.position(position, decimals),
        None => f.empty().empty().empty().empty(),
    };
}

fn gga(f: &mut Fields<'_>, fix: &Fix, place: Place, at: WatchTime) {
    f.clock(at);
    put_place(f, place);
    f.whole(i64::from(fix.quality), 1).whole(i64::from(fix.satellites), 2).number(fix.hdop, 1);
    if place.is_some() {
        f.number(4.0, 1).word("M").number(48.0, 1).word("M").empty().empty();
    } else {
        f.empty().word("M").empty().word("M").empty().empty();
    }
}

fn rmc(f: &mut Fields<'_>, fix: &Fix, place: Place, decimals: u8, at: WatchTime) {
    f.clock(at).word(if place.is_some() { "A" } else { "V" });
    put_place(f, place);
    f.maybe(fix.speed_kn, decimals).maybe(fix.course_deg.map(below_360), 1).date(at);
    f.empty().empty().word(mode(fix));
}

fn vtg(f: &mut Fields<'_>, fix: &Fix, decimals: u8) {
    f.maybe(fix.course_deg.map(below_360), 1).word("T").empty().word("M");
    f.maybe(fix.speed_kn, decimals).word("N");
    f.maybe(fix.speed_kn.map(|kn| kn * 1.852), decimals).word("K").word(mode(fix));
}

fn gsa(f: &mut Fields<'_>, fix: &Fix, valid: bool) {
    f.word("A").whole(i64::from(fix.dimensions), 1);
    for i in 0..12 {
        if valid && i < i64::from(fix.satellites) {
            f.whole(3 + 2 * i, 2)
        } else {
            f.empty()
        };
    }
    f.number(fix.hdop * 1.8, 1).number(fix.hdop, 1).number(fix.hdop * 1.5, 1);
}

fn gst(f: &mut Fields<'_>, fix: &Fix, at: WatchTime) {
    let (east, north) = (0.8 * fix.sigma_m, 1.2 * fix.sigma_m);
    f.clock(at).number(fix.sigma_m * 1.5, 1).number(north, 1).number(east, 1).number(0.0, 1);
    f.number(north, 1).number(east, 1).number(fix.sigma_m * 2.0, 1);
}

fn mode(fix: &Fix) -> &'static str {
    match fix.quality {
        0 => "N",
        2 => "D",
        _ => "A",
    }
}

/// Courses print with one decimal and never as 360.
fn below_360(degrees: f64) -> f64 {
    if degrees >= 359.95 { 0.0 } else { degrees }
}
