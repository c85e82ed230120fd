//! The crew: how they come to anchor, what they enter into the watch, and what they get wrong.

use serde::{Deserialize, Serialize};

use std::f64::consts::PI;

use super::exact::{bearing, length, towards, wrap};
use super::hull::Body;
use crate::watch::geo::Local;
use crate::watch::units::{Metres, Span};

/// What the crew does and enters, with its faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Crew {
    /// Marks the drop at all.
    pub marks: bool,
    /// The key is pressed this long after the anchor has touched the ground.
    pub mark_late: Span,
    /// The mark is set from the helm's plotter: where the antenna was, not the bow.
    pub mark_at_helm: bool,
    /// Entered length of rode over true length.
    pub rode_entered: f64,
    /// Error of the depth entered by hand; `None`: the sounder's depth is used.
    pub depth_entered: Option<Metres>,
    /// Error of the tide table in time; `None`: no tide is entered.
    pub tide_entered: Option<Span>,
    /// Digs the anchor in with the engine.
    pub digs_in: bool,
    /// Changes of the length out: when, and to how much in all.
    pub veers: Vec<(Span, Metres)>,
    /// When they begin to weigh, if they do.
    pub weighs: Option<Span>,
    /// Spots that they sail over first, to sound them; the last one to leeward of where the anchor is to go.
    #[serde(default)]
    pub scouts: Vec<Local>,
}

impl Default for Crew {
    /// Careful and right.
    fn default() -> Self {
        Self {
            marks: true,
            mark_late: Span::from_secs(3),
            mark_at_helm: false,
            rode_entered: 1.0,
            depth_entered: None,
            tide_entered: Some(Span::ZERO),
            digs_in: true,
            veers: Vec::new(),
            weighs: None,
            scouts: Vec::new(),
        }
    }
}

/// Where the crew stands in coming to anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Over one spot after the other, sounding.
    Scouting,
    /// Up to the spot, head to wind, slower and slower.
    Approach,
    /// The anchor is down; rode runs out as she falls back, slow astern.
    Veering,
    /// Half throttle astern.
    FirstPull,
    /// Neutral: does she stay?
    FirstCheck,
    /// A short hard burst astern.
    HardPull,
    /// Neutral again.
    LastCheck,
    /// Brought up.
    Riding,
    /// Slowly ahead while the rode comes in, until it is up and down.
    Weighing,
    /// The anchor is off the ground; she leaves.
    Away,
}

/// Engine, helm and windlass: coming to anchor, and weighing.
#[derive(Clone, Debug)]
pub(super) struct Setting {
    pub(super) step: Step,
    since_s: f64,
    /// Length out now, m.
    pub(super) veered_m: f64,
    digs_in: bool,
    /// Spots still to be sailed over, the next one last.
    scouts: Vec<Local>,
    /// Propeller's pull astern at 2000 revolutions, N.
    astern_n: f64,
    pub(super) rpm: f64,
}

/// What the crew goes by in one step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sight {
    /// Time since the start, and length of this step.
    pub(super) t_s: f64,
    pub(super) dt_s: f64,
    /// Where the anchor is to go, then where it is.
    pub(super) spot: Local,
    /// Bearing of the mean wind, radians.
    pub(super) upwind: f64,
    /// Bow roller above the ground, m.
    pub(super) height_m: f64,
    /// Length to be veered, m.
    pub(super) target_m: f64,
    /// Load on the rode, N.
    pub(super) load_n: f64,
}

/// What the crew asks of the boat in one step.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Orders {
    pub(super) thrust_n: f64,
    pub(super) helm_nm: f64,
    /// The anchor goes now.
    pub(super) lets_go: bool,
    /// She has just been brought up.
    pub(super) brought_up: bool,
    /// The anchor has just left the ground.
    pub(super) aweigh: bool,
}

/// Chain runs out of a windlass at about 0.6 m/s (common practice, no source).
const RUN_OUT_MPS: f64 = 0.6;
/// It brings chain in at about 0.25 m/s, and is not to haul the boat: above this load it stops.
const HAUL_MPS: f64 = 0.25;
/// See [`HAUL_MPS`].
const HAUL_N: f64 = 800.0;

/// Way over a spot that is sounded, m/s, and how near she comes to it, m.
const SCOUTS_MPS: f64 = 1.5;
const SCOUTED_M: f64 = 8.0;

impl Setting {
    pub(super) fn new(crew: &Crew, displacement_kg: f64) -> Self {
        Self {
            step: if crew.scouts.is_empty() { Step::Approach } else { Step::Scouting },
            since_s: 0.0,
            veered_m: 0.0,
            digs_in: crew.digs_in,
            scouts: crew.scouts.iter().rev().copied().collect(),
            // A small diesel astern pulls about a fortieth of the boat's weight at 2000 revolutions, and pushes
            // twice that ahead (common practice, no source).
            astern_n: 0.25 * displacement_kg,
            rpm: 0.0,
        }
    }

    /// One step of `sight.dt_s` seconds.
    pub(super) fn orders(&mut self, boat: &Body, sight: &Sight) -> Orders {
        let elapsed = sight.t_s - self.since_s;
        let speed = towards(boat.heading).dot(boat.velocity);
        match self.step {
            Step::Scouting => self.scout(boat, sight, speed),
            Step::Approach => self.approach(boat, sight, speed, elapsed),
            Step::Veering => self.fall_back(boat, sight, speed, elapsed),
            Step::FirstPull => {
                let thrust_n = self.push(astern(0.2, speed).max(-0.35));
                self.after(60.0, Step::FirstCheck, sight.t_s);
                Orders { thrust_n, ..Orders::default() }
            }
            Step::FirstCheck => {
                self.rpm = 0.0;
                self.after(45.0, Step::HardPull, sight.t_s);
                Orders::default()
            }
            Step::HardPull => {
                // Taut first, then the burst: no crew lets the boat run into her chain.
                let burst = (0.3 + (elapsed - 30.0) / 15.0).clamp(0.3, 1.0);
                let wanted = if burst > 0.3 { 1.0 } else { 0.2 };
                let thrust_n = self.push(astern(wanted, speed).max(-burst));
                self.after(65.0, Step::LastCheck, sight.t_s);
                Orders { thrust_n, ..Orders::default() }
            }
            Step::LastCheck => {
                self.rpm = 0.0;
                let brought_up = self.after(90.0, Step::Riding, sight.t_s);
                Orders { brought_up, ..Orders::default() }
            }
            Step::Riding => {
                self.rpm = 0.0;
                Orders::default()
            }
            Step::Weighing => self.haul(boat, sight, speed, elapsed),
            Step::Away => {
                let thrust_n = self.push(2.0 * (1.5 - speed));
                // Out the way she came: downwind.
                Orders { thrust_n, helm_nm: boat.helm_towards(sight.upwind + PI), ..Orders::default() }
            }
        }
    }

    /// Begins to weigh with so much out.
    pub(super) fn weigh(&mut self, veered_m: f64, t_s: f64) {
        self.veered_m = veered_m;
        self.go(Step::Weighing, t_s);
    }

    fn scout(&mut self, boat: &Body, sight: &Sight, speed: f64) -> Orders {
        let way = self.scouts.last().unwrap_or(&sight.spot).to_owned() - boat.bow();
        if self.scouts.is_empty() && wrap(bearing(way) - boat.heading).abs() < 0.3 {
            // Round and heading for the spot.
            self.go(Step::Approach, sight.t_s);
        } else if length(way) < SCOUTED_M {
            self.scouts.pop();
        }
        let thrust_n = self.push(2.0 * (SCOUTS_MPS - speed) + 0.1);
        Orders { thrust_n, helm_nm: boat.helm_towards(bearing(way)), ..Orders::default() }
    }

    fn approach(&mut self, boat: &Body, sight: &Sight, speed: f64, elapsed: f64) -> Orders {
        let way = sight.spot - boat.bow();
        let left = towards(boat.heading).dot(way);
        let aim = if length(way) > 12.0 { bearing(way) } else { sight.upwind };
        let wanted = (0.12 * left).clamp(-0.5, 1.8);
        let thrust_n = self.push(2.0 * (wanted - speed) + 0.1);
        // Near enough and all but stopped; or it will not get better (she was blown aside).
        let lets_go = (left < 2.0 && speed.abs() < 0.25) || elapsed > 900.0;
        if lets_go {
            self.veered_m = sight.height_m + 1.0;
            self.go(Step::Veering, sight.t_s);
        }
        Orders { thrust_n, helm_nm: boat.helm_towards(aim), lets_go, ..Orders::default() }
    }

    fn fall_back(&mut self, boat: &Body, sight: &Sight, speed: f64, elapsed: f64) -> Orders {
        let (height_m, target_m) = (sight.height_m, sight.target_m);
        let thrust_n = self.push(astern(0.45, speed));
        let back = length(boat.bow() - sight.spot);
        let wanted = 1.12 * (back * back + height_m * height_m).sqrt() + 3.0;
        let most = self.veered_m + RUN_OUT_MPS * sight.dt_s;
        // What pulls is given.
        let wanted = if sight.load_n > 200.0 { most } else { wanted };
        self.veered_m = self.veered_m.max(wanted.min(most)).min(target_m);
        let stretched = back > 0.9 * (target_m * target_m - height_m * height_m).max(0.0).sqrt();
        if (self.veered_m >= target_m && stretched) || elapsed > 420.0 {
            self.veered_m = target_m;
            self.go(if self.digs_in { Step::FirstPull } else { Step::LastCheck }, sight.t_s);
        }
        Orders { thrust_n, helm_nm: boat.helm_towards(sight.upwind), ..Orders::default() }
    }

    fn haul(&mut self, boat: &Body, sight: &Sight, speed: f64, elapsed: f64) -> Orders {
        let way = sight.spot - boat.bow();
        let left = length(way);
        // The engine takes her up to the anchor and stops short of it; the windlass takes in what hangs slack.
        let wanted = if left > 0.7 * sight.height_m { 0.4 } else { 0.0 };
        let thrust_n = self.push(1.5 * (wanted - speed));
        let aim = if left > 3.0 { bearing(way) } else { sight.upwind };
        if sight.load_n < HAUL_N {
            self.veered_m = (self.veered_m - HAUL_MPS * sight.dt_s).max(sight.height_m + 0.5);
        }
        let up_and_down = self.veered_m < sight.height_m + 1.0 && left < sight.height_m;
        let aweigh = (up_and_down && elapsed > 30.0) || elapsed > 1200.0;
        if aweigh {
            self.go(Step::Away, sight.t_s);
        }
        Orders { thrust_n, helm_nm: boat.helm_towards(aim), aweigh, ..Orders::default() }
    }

    /// Goes on to `next` when the step has lasted `lasts_s` seconds; true if it does.
    fn after(&mut self, lasts_s: f64, next: Step, t_s: f64) -> bool {
        let over = t_s - self.since_s > lasts_s;
        if over {
            self.go(next, t_s);
        }
        over
    }

    fn go(&mut self, step: Step, t_s: f64) {
        self.step = step;
        self.since_s = t_s;
    }

    /// Push for a throttle of -1 to 1, and the revolutions that go with it.
    fn push(&mut self, throttle: f64) -> f64 {
        let throttle = throttle.clamp(-1.0, 1.0);
        // Push goes with the square of the revolutions; idle is 800.
        self.rpm = if throttle.abs() < 0.02 { 0.0 } else { (2000.0 * throttle.abs().sqrt()).max(800.0) };
        throttle * if throttle < 0.0 { self.astern_n } else { 2.0 * self.astern_n }
    }
}

/// Throttle that takes her astern at `wanted` m/s and no faster; she makes `speed` ahead.
fn astern(wanted: f64, speed: f64) -> f64 {
    2.0 * (-wanted - speed)
}

impl Body {
    /// Helm that turns her towards a heading in radians.
    fn helm_towards(&self, heading: f64) -> f64 {
        self.steer(1.2 * wrap(heading - self.heading) - 3.0 * self.turn)
    }
}
