//! The crew: how they come to anchor, what they tell the watch, and what they get wrong.

use serde::{Deserialize, Serialize};

use super::exact::{bearing, length, wrap};
use super::hull::Body;
use crate::watch::geo::Local;
use crate::watch::units::{Metres, Span};

/// What the crew does and tells, with its faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Crew {
    /// Marks the drop at all.
    pub marks: bool,
    /// The key is pressed this long after the anchor has touched the ground.
    pub mark_late: Span,
    /// The mark is set from the helm's plotter: where the antenna was, not the bow.
    pub mark_at_helm: bool,
    /// Told length of rode over true length.
    pub rode_told: f64,
    /// Error of the depth told by hand; `None`: the sounder's depth is used.
    pub depth_told: Option<Metres>,
    /// Error of the tide table in time; `None`: no tide is told.
    pub tide_told: Option<Span>,
    /// Digs the anchor in with the engine.
    pub digs_in: bool,
    /// Changes of the length out: when, and to how much in all.
    pub veers: Vec<(Span, Metres)>,
}

impl Default for Crew {
    /// Careful and right.
    fn default() -> Self {
        Self {
            marks: true,
            mark_late: Span::from_secs(3),
            mark_at_helm: false,
            rode_told: 1.0,
            depth_told: None,
            tide_told: Some(Span::ZERO),
            digs_in: true,
            veers: Vec::new(),
        }
    }
}

/// Where the crew stands in coming to anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
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
}

/// Engine and helm while she comes to anchor.
#[derive(Clone, Debug)]
pub(super) struct Setting {
    pub(super) step: Step,
    since_s: f64,
    /// Length out now, m.
    pub(super) veered_m: f64,
    digs_in: bool,
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
}

/// Chain runs out of a windlass at about 0.6 m/s (common practice, no source).
const RUN_OUT_MPS: f64 = 0.6;

impl Setting {
    pub(super) fn new(digs_in: bool, displacement_kg: f64) -> Self {
        Self {
            step: Step::Approach,
            since_s: 0.0,
            veered_m: 0.0,
            digs_in,
            // A small diesel astern pulls about a fortieth of the boat's weight at 2000 revolutions, and pushes
            // twice that ahead (common practice, no source).
            astern_n: 0.25 * displacement_kg,
            rpm: 0.0,
        }
    }

    /// One step of `sight.dt_s` seconds.
    pub(super) fn orders(&mut self, boat: &Body, sight: &Sight) -> Orders {
        let Sight { t_s, dt_s, spot, upwind, height_m, target_m } = *sight;
        let mut orders = Orders::default();
        let elapsed = t_s - self.since_s;
        let ahead = super::exact::towards(boat.heading);
        let speed = ahead.dot(boat.velocity);
        match self.step {
            Step::Approach => {
                let way = spot - boat.bow();
                let left = ahead.dot(way);
                let aim = if length(way) > 12.0 { bearing(way) } else { upwind };
                orders.helm_nm = boat.helm_towards(aim);
                let wanted = (0.12 * left).clamp(-0.5, 1.3);
                orders.thrust_n = self.push(2.0 * (wanted - speed) + 0.1);
                // Near enough and all but stopped; or it will not get better (she was blown aside).
                if (left < 2.0 && speed.abs() < 0.25) || elapsed > 600.0 {
                    orders.lets_go = true;
                    self.veered_m = height_m + 1.0;
                    self.go(Step::Veering, t_s);
                }
            }
            Step::Veering => {
                orders.helm_nm = boat.helm_towards(upwind);
                orders.thrust_n = self.push(gently(speed));
                let back = length(boat.bow() - spot);
                let wanted = 1.12 * (back * back + height_m * height_m).sqrt() + 3.0;
                let most = self.veered_m + RUN_OUT_MPS * dt_s;
                self.veered_m = self.veered_m.max(wanted.min(most)).min(target_m);
                let stretched = back > 0.9 * (target_m * target_m - height_m * height_m).max(0.0).sqrt();
                if (self.veered_m >= target_m && stretched) || elapsed > 420.0 {
                    self.veered_m = target_m;
                    self.go(if self.digs_in { Step::FirstPull } else { Step::LastCheck }, t_s);
                }
            }
            Step::FirstPull => {
                orders.thrust_n = self.push(gently(speed).max(-0.35));
                if elapsed > 60.0 {
                    self.go(Step::FirstCheck, t_s);
                }
            }
            Step::FirstCheck => {
                self.rpm = 0.0;
                if elapsed > 45.0 {
                    self.go(Step::HardPull, t_s);
                }
            }
            Step::HardPull => {
                // Taut first, then the burst: no crew lets the boat run into her chain.
                orders.thrust_n =
                    self.push(gently(speed).max(-(0.3 + (elapsed - 30.0) / 15.0).clamp(0.3, 1.0)));
                if elapsed > 65.0 {
                    self.go(Step::LastCheck, t_s);
                }
            }
            Step::LastCheck => {
                self.rpm = 0.0;
                if elapsed > 90.0 {
                    orders.brought_up = true;
                    self.go(Step::Riding, t_s);
                }
            }
            Step::Riding => self.rpm = 0.0,
        }
        orders
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

/// Throttle that takes her astern at walking pace and no faster, for a speed ahead in m/s.
fn gently(speed: f64) -> f64 {
    2.0 * (-0.45 - speed)
}

impl Body {
    /// Helm that turns her towards a heading in radians.
    fn helm_towards(&self, heading: f64) -> f64 {
        self.steer(1.2 * wrap(heading - self.heading) - 3.0 * self.turn)
    }
}
