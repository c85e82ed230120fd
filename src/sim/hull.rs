//! The boat as a body on the water: surge, sway and yaw under wind, stream, rode and engine.

use serde::{Deserialize, Serialize};

use super::exact::{atan2, sincos, wrap};
use crate::watch::boat::{Boat, Hull};
use crate::watch::geo::Local;

/// Density of air at 15 °C, kg/m³ (standard atmosphere).
pub(super) const AIR: f64 = 1.225;
/// Density of sea water, kg/m³.
pub(super) const WATER: f64 = 1025.0;
/// Standard gravity, m/s².
pub(super) const GRAVITY: f64 = 9.80665;

/// How she lies to the wind: what makes one boat sheer and another lie quietly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Handling {
    /// Drag coefficient times frontal area of hull and rig, square metres.
    pub windage_m2: f64,
    /// The same from the beam, as a multiple of the frontal windage.
    pub beam_windage: f64,
    /// How far the centre of the wind's side force lies ahead of the middle of the boat when she is head to wind,
    /// as a share of her length. Headsail furled forward, high bow: more; mizzen, riding sail: less.
    pub fore_windage: f64,
    /// Resistance to going sideways: cross-flow drag area of hull and keel, square metres.
    pub lateral_m2: f64,
    /// Half the width over which a bridle spreads the rode; 0 with a single rode over the bow.
    pub bridle_m: f64,
}

impl Handling {
    /// A usual boat of this kind, by her length (the rule for windage: drag 0.9 on 0.132 LOA², for a catamaran
    /// 0.174 LOA²; the rest common practice, no source).
    #[must_use]
    pub fn usual(boat: &Boat) -> Self {
        let loa = boat.loa.0;
        match boat.hull {
            Hull::Monohull => Self {
                windage_m2: boat.windage_m2.unwrap_or(0.9 * 0.132 * loa * loa),
                beam_windage: 2.2,
                fore_windage: 0.2,
                lateral_m2: 0.85 * loa * 0.55 + 0.5 * boat.draft.0 * boat.draft.0,
                bridle_m: 0.0,
            },
            Hull::Catamaran | Hull::Trimaran => Self {
                windage_m2: boat.windage_m2.unwrap_or(0.9 * 0.174 * loa * loa),
                beam_windage: 1.6,
                fore_windage: 0.2,
                lateral_m2: 2.0 * 0.85 * loa * 0.45,
                bridle_m: 0.3 * boat.beam.0,
            },
        }
    }
}

/// What pushes the boat during one step.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Forces {
    /// Velocity of the air over the ground, m/s.
    pub(super) air: Local,
    /// Velocity of the water over the ground, m/s.
    pub(super) water: Local,
    /// Pull of the rode on the bow, N, over the ground.
    pub(super) rode: Local,
    /// Push of the propeller, N; negative astern.
    pub(super) thrust_n: f64,
    /// Steering moment of rudder and propeller wash, N m; clockwise positive.
    pub(super) helm_nm: f64,
    /// To and fro of the sea along the boat, as an acceleration, m/s².
    pub(super) heave: f64,
}

/// The boat's motion. Body axes: x ahead, y to starboard, yaw clockwise.
///
/// Equations of motion of a rigid body with added mass in the horizontal plane,
/// `(m+a₁)u̇ − (m+a₂)vr = X`, `(m+a₂)v̇ + (m+a₁)ur = Y`, `(I+a₆)ṙ + (a₂−a₁)uv = N`
/// (Faltinsen 1990, *Sea Loads*, from memory), velocities relative to the water.
#[derive(Clone, Debug)]
pub(super) struct Body {
    surge_mass: f64,
    sway_mass: f64,
    inertia: f64,
    ahead_drag: f64,
    ahead_linear: f64,
    lateral_drag: f64,
    keel_lift: f64,
    yaw_drag: f64,
    yaw_linear: f64,
    handling: Handling,
    loa: f64,
    /// Middle of the boat, metres over the ground.
    pub(super) middle: Local,
    /// Heading in radians, clockwise from north.
    pub(super) heading: f64,
    /// Velocity over the ground, m/s.
    pub(super) velocity: Local,
    /// Rate of turn, rad/s.
    pub(super) turn: f64,
}

impl Body {
    pub(super) fn new(boat: &Boat, handling: Handling, middle: Local, heading: f64) -> Self {
        let (mass, loa, draft) = (boat.displacement_kg, boat.loa.0, boat.draft.0);
        let hulls = if boat.hull == Hull::Monohull { 1.0 } else { 2.0 };
        // Canoe body of a yacht draws about 0.06 LOA; half a circular cylinder of that draft swings with each hull,
        // and a plate as tall as the keel with the keel.
        let body_draft = 0.06 * loa;
        let added_sway =
            hulls * 0.5 * std::f64::consts::PI * WATER * body_draft * body_draft * 0.85 * loa * 1.2
                + 0.25
                    * std::f64::consts::PI
                    * WATER
                    * (0.15 * loa)
                    * (draft - body_draft).max(0.0)
                    * (draft - body_draft).max(0.0)
                    * 2.0;
        // Two hulls far apart carry their mass far out.
        let gyration = if hulls > 1.0 { 0.30 * loa } else { 0.25 * loa };
        let lateral_drag = 0.5 * WATER * handling.lateral_m2;
        Self {
            surge_mass: mass * 1.06,
            sway_mass: mass + added_sway,
            inertia: mass * gyration * gyration + added_sway * loa * loa * 0.05,
            // A yacht of 10 m needs about 100 N to be pulled through the water at 1 m/s (common practice, no source).
            ahead_drag: hulls * 0.5 * WATER * 0.0022 * loa * loa,
            ahead_linear: 2.0 * loa,
            lateral_drag,
            keel_lift: 0.5 * WATER * 3.0 * (0.5 * draft * draft).max(0.02 * loa * loa),
            yaw_drag: lateral_drag * loa * loa * loa / 32.0 * 1.2,
            yaw_linear: 0.012 * mass * loa,
            handling,
            loa,
            middle,
            heading,
            velocity: Local::default(),
            turn: 0.0,
        }
    }

    /// The bow roller.
    pub(super) fn bow(&self) -> Local {
        self.at(0.5 * self.loa, 0.0)
    }

    /// A point on board, metres ahead of the middle and to starboard.
    pub(super) fn at(&self, ahead_m: f64, starboard_m: f64) -> Local {
        let (sin, cos) = sincos(self.heading);
        self.middle + Local::new(ahead_m * sin + starboard_m * cos, ahead_m * cos - starboard_m * sin)
    }

    /// Velocity over the ground of a point on board, m/s.
    pub(super) fn velocity_at(&self, ahead_m: f64, starboard_m: f64) -> Local {
        let (sin, cos) = sincos(self.heading);
        let (forward, sideways) = (-self.turn * starboard_m, self.turn * ahead_m);
        self.velocity + Local::new(forward * sin + sideways * cos, forward * cos - sideways * sin)
    }

    /// Moment of rudder and propeller wash that turns her as the helmsman wants, at a rate of `wanted` rad/s².
    pub(super) fn steer(&self, wanted: f64) -> f64 {
        self.inertia * wanted.clamp(-0.15, 0.15)
    }

    /// The wind as felt on board: speed m/s, and angle in radians from ahead, positive to starboard.
    pub(super) fn apparent(&self, air: Local) -> (f64, f64) {
        let (sin, cos) = sincos(self.heading);
        let flow = air - self.velocity;
        // Where it comes from, not where it goes.
        let (ahead, starboard) =
            (-(flow.east_m * sin + flow.north_m * cos), -(flow.east_m * cos - flow.north_m * sin));
        ((ahead * ahead + starboard * starboard).sqrt(), atan2(starboard, ahead))
    }

    /// One step of `dt` seconds.
    pub(super) fn step(&mut self, forces: &Forces, dt: f64) {
        let (sin, cos) = sincos(self.heading);
        let ahead = |v: Local| v.east_m * sin + v.north_m * cos;
        let aside = |v: Local| v.east_m * cos - v.north_m * sin;
        let through = self.velocity - forces.water;
        let (u, v, r) = (ahead(through), aside(through), self.turn);

        let (wind_ahead, wind_aside, wind_turn) = self.wind_force(forces.air);
        let (rode_ahead, rode_aside) = (ahead(forces.rode), aside(forces.rode));
        let rode_n = (rode_ahead * rode_ahead + rode_aside * rode_aside).sqrt();

        let x = wind_ahead + rode_ahead + forces.thrust_n
            - (self.ahead_drag * u.abs() + self.ahead_linear) * u
            + self.surge_mass * forces.heave;
        let lift = self.keel_lift * u.abs() * v;
        let y = wind_aside + rode_aside - self.lateral_drag * v.abs() * v - lift;
        // A bridle turns her towards the rode: both legs pull, the lee one less.
        let bridle = if rode_n > 0.0 { self.handling.bridle_m * rode_aside } else { 0.0 };
        let n = wind_turn + 0.5 * self.loa * rode_aside + bridle + forces.helm_nm
            - (self.yaw_drag * r.abs() + self.yaw_linear + 0.06 * self.keel_lift * self.loa * self.loa * u.abs()) * r
            // The keel stands close enough to the middle to take most of the hull's own turning moment.
            - 0.35 * (self.sway_mass - self.surge_mass) * u * v;

        let u_rate = (x + self.sway_mass * v * r) / self.surge_mass;
        let v_rate = (y - self.surge_mass * u * r) / self.sway_mass;
        // Velocity over the ground in fixed axes: turn the body's rates back, and take out the turning of the axes.
        let (du, dv) = ((u_rate - v * r) * dt, (v_rate + u * r) * dt);
        self.velocity = self.velocity + Local::new(du * sin + dv * cos, du * cos - dv * sin);
        self.turn = (r + n / self.inertia * dt).clamp(-0.6, 0.6);
        self.heading = wrap(self.heading + self.turn * dt);
        self.middle = self.middle + self.velocity.scaled(dt);
    }

    /// Force of the wind ahead and to starboard, N, and its moment, N m.
    fn wind_force(&self, air: Local) -> (f64, f64, f64) {
        let (speed, angle) = self.apparent(air);
        let pressure = 0.5 * AIR * speed * speed * self.handling.windage_m2;
        let (sin, cos) = sincos(angle);
        // Hull and deck meet the wind like a blunt plate: at 30° the side force is 70 % of that from the beam already.
        let aside = -pressure * self.handling.beam_windage * sin * (1.45 - 0.45 * sin.abs());
        // The centre of the side force walks aft as the wind draws aft, like that of any plate.
        let lever = self.loa * (self.handling.fore_windage - 0.45 * angle.abs() / std::f64::consts::PI);
        (-pressure * cos, aside, aside * lever)
    }
}
