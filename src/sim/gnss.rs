//! Satellite receivers with their errors: what a fix says of a boat that lies where she lies.
//!
//! Position error in two time scales (hours: orbits, clocks, ionosphere; minutes: multipath), bursts of multipath,
//! a different bias for every kind of fix, and the receiver's own filters. Velocity as receivers give it: lagged,
//! quantised, noisy when the reflections are, or not at all. Figures of real recordings are in `docs/inside/simulator.md`.

use serde::{Deserialize, Serialize};

use super::dice::{Dice, Drift};
use super::exact::{bearing, cos, exp, length, smooth, towards};
use crate::watch::geo::Local;
use crate::watch::units::{Knots, MPS_PER_KNOT, Metres, Span, TrueBearing};

/// Receivers as boats carry them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReceiverKind {
    /// A good antenna under an open sky: smooth, with fine velocity.
    OpenSky,
    /// The usual one at the stern rail: velocity in 0.1 kn, zero or noisy when slow.
    Marine,
    /// Holds its position while it believes that it stands still, then jumps.
    StaticHold,
    /// Below deck or under a cliff: strong multipath, few satellites.
    PoorView,
    /// Position alone, no speed or course.
    PositionOnly,
}

impl ReceiverKind {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::OpenSky, Self::Marine, Self::StaticHold, Self::PoorView, Self::PositionOnly];

    /// Name for tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::OpenSky => "open sky",
            Self::Marine => "marine",
            Self::StaticHold => "static hold",
            Self::PoorView => "poor view",
            Self::PositionOnly => "position only",
        }
    }
}

/// What a receiver says of its course when it is slow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SlowCourse {
    /// Whatever it computes.
    Given,
    /// The last course while it was faster.
    Frozen,
    /// An empty field.
    Blank,
}

/// One receiver: how well it measures and how it talks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Receiver {
    /// Which kind it was drawn from.
    pub kind: ReceiverKind,
    /// Talker of its sentences, `GP` or `GN`.
    pub talker: [u8; 2],
    /// Decimals of the minutes in its sentences.
    pub minute_decimals: u8,
    /// Standard deviation of the slow error on each axis.
    pub slow: Metres,
    /// Time in which it is forgotten.
    pub slow_memory: Span,
    /// Standard deviation of the error over minutes.
    pub minutes: Metres,
    /// Time in which it is forgotten.
    pub minutes_memory: Span,
    /// Bursts of multipath an hour.
    pub bursts_per_hour: f64,
    /// How much larger the error over minutes is in a burst.
    pub burst_factor: f64,
    /// Bias between its kinds of fix; it changes kind every few hours.
    pub kind_bias: Metres,
    /// Holes of a few seconds an hour.
    pub holes_per_hour: f64,
    /// HDOP on a good day.
    pub hdop: f64,
    /// Satellites on a good day.
    pub satellites: u8,
    /// Speed and course, if it gives them.
    pub velocity: Option<VelocityOutput>,
    /// Static hold, if it does that.
    pub hold: Option<StaticHold>,
    /// Switched on as the night begins: its first fixes are tens of metres off.
    pub cold_start: bool,
    /// GSA every few seconds.
    pub gsa: bool,
    /// GST every few seconds.
    pub gst: bool,
    /// VTG beside RMC.
    pub vtg: bool,
    /// What goes wrong at a set time.
    pub faults: Vec<FixFault>,
    /// How far its antenna stands ahead of the one that the boat's file describes, and to starboard of it.
    #[serde(default)]
    pub apart: (Metres, Metres),
}

/// How a receiver gives speed and course over the ground.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct VelocityOutput {
    /// Noise on each axis, rms.
    pub noise: Knots,
    /// Noise on each axis in a burst of multipath.
    pub burst_noise: Knots,
    /// Time in which the noise is forgotten: 8 s in the recording of a receiver with a poor view.
    pub noise_memory: Span,
    /// How much of the speed of the position error shows in the velocity.
    pub follows_error: f64,
    /// Time constant of its smoothing.
    pub lag: Span,
    /// Decimals of a knot.
    pub decimals: u8,
    /// Below this it says 0.
    pub zero_below: Knots,
    /// Below this the course is not measured.
    pub course_above: Knots,
    /// What it says of the course then.
    pub slow_course: SlowCourse,
}

/// When a receiver takes itself to stand still.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StaticHold {
    /// Holds below this speed.
    pub below: Knots,
    /// Lets go when its own filter is this far from the held position.
    pub jump: Metres,
}

/// A fault of the fix at a set time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FixFault {
    /// When, after the start.
    pub at: Span,
    /// How long.
    pub lasts: Span,
    /// What.
    pub what: FixTrouble,
}

/// What goes wrong with a fix.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum FixTrouble {
    /// Sentences come, void.
    Void,
    /// Nothing comes.
    Silent,
    /// The same position again and again; the time goes on.
    Frozen,
    /// Two dimensions, three satellites, a poor HDOP and an error to match.
    TwoDimensional,
    /// The position swings out and comes back, smoothly.
    Excursion {
        /// How far.
        by: Metres,
        /// Which way.
        towards: TrueBearing,
    },
    /// The position stands aside all the time, at once: a change of fix kind.
    Step {
        /// How far.
        by: Metres,
        /// Which way.
        towards: TrueBearing,
    },
}

impl Receiver {
    /// A receiver of a kind, its figures drawn from what that kind does.
    #[must_use]
    pub fn draw(kind: ReceiverKind, dice: &mut Dice) -> Self {
        let base = Self::usual(kind, dice);
        match kind {
            ReceiverKind::OpenSky => Self {
                talker: *b"GN",
                minute_decimals: 5,
                slow: Metres(dice.between(0.4, 1.1)),
                minutes: Metres(dice.between(0.1, 0.4)),
                burst_factor: 1.5,
                kind_bias: Metres(dice.between(0.0, 0.5)),
                gst: dice.chance(0.5),
                ..base
            },
            ReceiverKind::Marine => Self::marine(base, dice),
            ReceiverKind::StaticHold => {
                let hold = StaticHold {
                    below: Knots(dice.between(0.25, 0.6)),
                    jump: Metres(dice.ratio_between(1.2, 5.0)),
                };
                let marine = Self::marine(base, dice);
                // It takes itself to stand still because its filters are strong.
                let velocity = marine.velocity.map(|v| VelocityOutput { noise: v.noise * 0.6, ..v });
                Self { hold: Some(hold), velocity, ..marine }
            }
            ReceiverKind::PoorView => Self::poor_view(base, dice),
            ReceiverKind::PositionOnly => Self {
                velocity: None,
                slow: Metres(dice.between(0.7, 1.6)),
                minutes: Metres(dice.between(0.6, 1.4)),
                bursts_per_hour: 0.5,
                minute_decimals: [3, 4, 4][dice.index(3)],
                gsa: dice.chance(0.5),
                ..base
            },
        }
    }

    /// What receivers of every kind have in common, before their kind changes it.
    fn usual(kind: ReceiverKind, dice: &mut Dice) -> Self {
        Self {
            kind,
            talker: *b"GP",
            minute_decimals: 4,
            slow: Metres(dice.between(0.5, 1.2)),
            slow_memory: Span::from_secs(dice.between(3000.0, 9000.0) as i64),
            minutes: Metres(dice.between(0.3, 0.7)),
            minutes_memory: Span::from_secs(dice.between(60.0, 240.0) as i64),
            bursts_per_hour: 0.3,
            burst_factor: 2.0,
            kind_bias: Metres(dice.between(0.0, 1.0)),
            holes_per_hour: 0.5,
            hdop: dice.between(0.7, 1.1),
            satellites: 9 + dice.index(5) as u8,
            velocity: Some(VelocityOutput {
                noise: Knots(dice.ratio_between(0.03, 0.1)),
                burst_noise: Knots(dice.between(0.15, 0.4)),
                noise_memory: Span(dice.between(1000.0, 3000.0) as i64),
                follows_error: 0.05,
                lag: Span(dice.between(700.0, 1500.0) as i64),
                decimals: 2,
                zero_below: Knots(0.0),
                course_above: Knots(0.0),
                slow_course: SlowCourse::Given,
            }),
            hold: None,
            cold_start: false,
            gsa: true,
            gst: false,
            vtg: false,
            faults: Vec::new(),
            apart: (Metres(0.0), Metres(0.0)),
        }
    }

    fn marine(base: Self, dice: &mut Dice) -> Self {
        // Of twenty recorded spells at a quay seventeen print 0.0 nearly always.
        let zero_below = if dice.chance(0.8) { Knots(dice.between(0.15, 0.5)) } else { Knots(0.0) };
        let slow_course = [SlowCourse::Given, SlowCourse::Frozen, SlowCourse::Blank][dice.index(3)];
        Self {
            slow: Metres(dice.between(0.7, 1.6)),
            minutes: Metres(dice.between(0.5, 1.3)),
            minutes_memory: Span::from_secs(dice.between(80.0, 400.0) as i64),
            bursts_per_hour: dice.between(0.2, 1.0),
            burst_factor: dice.between(1.5, 3.0),
            kind_bias: Metres(dice.between(0.5, 2.5)),
            holes_per_hour: dice.between(0.5, 4.0),
            minute_decimals: [3, 4, 4, 4][dice.index(4)],
            gsa: dice.chance(0.7),
            vtg: dice.chance(0.4),
            velocity: Some(VelocityOutput {
                noise: Knots(dice.ratio_between(0.06, 0.2)),
                burst_noise: Knots(dice.between(0.3, 1.0)),
                noise_memory: Span(dice.between(2000.0, 6000.0) as i64),
                follows_error: dice.between(0.03, 0.3),
                lag: Span(dice.between(1000.0, 3000.0) as i64),
                decimals: 1,
                zero_below,
                course_above: Knots(if slow_course == SlowCourse::Given {
                    0.0
                } else {
                    dice.between(0.2, 0.5)
                }),
                slow_course,
            }),
            ..base
        }
    }

    fn poor_view(base: Self, dice: &mut Dice) -> Self {
        let marine = Self::marine(base, dice);
        Self {
            slow: Metres(dice.between(1.0, 2.0)),
            minutes: Metres(dice.ratio_between(1.8, 6.0)),
            minutes_memory: Span::from_secs(dice.between(30.0, 120.0) as i64),
            bursts_per_hour: dice.between(0.5, 1.5),
            burst_factor: dice.between(1.5, 2.5),
            kind_bias: Metres(dice.between(1.0, 4.0)),
            holes_per_hour: dice.between(2.0, 10.0),
            hdop: dice.between(1.3, 2.6),
            satellites: 5 + dice.index(3) as u8,
            gsa: true,
            minute_decimals: [4, 4, 5][dice.index(3)],
            velocity: marine.velocity.map(|v| VelocityOutput {
                noise: Knots(dice.between(0.15, 0.5)),
                burst_noise: Knots(dice.between(0.5, 1.2)),
                noise_memory: Span(dice.between(5000.0, 10_000.0) as i64),
                ..v
            }),
            ..marine
        }
    }
}

/// One fix as the receiver gives it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fix {
    pub(super) at: Local,
    pub(super) speed_kn: Option<f64>,
    pub(super) course_deg: Option<f64>,
    /// As in GGA: 0 void, 1 autonomous, 2 differential.
    pub(super) quality: u8,
    /// As in GSA: 1 none, 2 or 3 dimensions.
    pub(super) dimensions: u8,
    pub(super) satellites: u8,
    pub(super) hdop: f64,
    /// Its own idea of its error on each axis, m.
    pub(super) sigma_m: f64,
}

impl Fix {
    const VOID: Self = Self {
        at: Local::new(0.0, 0.0),
        speed_kn: None,
        course_deg: None,
        quality: 0,
        dimensions: 1,
        satellites: 2,
        hdop: 99.9,
        sigma_m: 99.0,
    };
}

/// How far off the fixes after a start are, the last of them first: a recorded start-up had its first fix 44 m off,
/// the fourth 6 m.
const START_UP_M: [f64; 4] = [5.0, 11.0, 21.0, 42.0];

/// Error over minutes: a Gauss-Markov process smoothed once more, so that it has a speed.
#[derive(Clone, Debug)]
struct Wander {
    drive: Drift,
    value: f64,
    speed: f64,
    share: f64,
    gain: f64,
}

/// The second smoothing of [`Wander`], seconds.
const SOFTEN_S: f64 = 12.0;

impl Wander {
    fn new(sigma: f64, tau_s: f64, dice: &mut Dice) -> Self {
        // Variance left by a first-order filter of time constant s on a process of memory τ: τ/(τ+s).
        let gain = ((tau_s + SOFTEN_S) / tau_s).sqrt();
        let drive = Drift::new(sigma, tau_s, 1.0, dice);
        Self { value: drive.value() * gain, drive, speed: 0.0, share: 1.0 - exp(-1.0 / SOFTEN_S), gain }
    }

    fn step(&mut self, dice: &mut Dice) {
        let before = self.value;
        self.value += self.share * (self.gain * self.drive.step(dice) - self.value);
        self.speed = self.value - before;
    }
}

/// A receiver at work, one step a second.
#[derive(Clone, Debug)]
pub(super) struct Gnss {
    receiver: Receiver,
    dice: Dice,
    slow: [Drift; 2],
    minutes: [Wander; 2],
    flat: [Drift; 2],
    velocity_noise: [Drift; 2],
    burst_from_s: f64,
    burst_until_s: f64,
    hole_from_s: f64,
    hole_until_s: f64,
    quality: u8,
    quality_until_s: f64,
    bias: [Local; 2],
    first_fixes: usize,
    lagged: Option<Local>,
    held: Option<Local>,
    frozen: Option<Local>,
    course_deg: f64,
}

impl Gnss {
    pub(super) fn new(receiver: Receiver, mut dice: Dice) -> Self {
        let two = |sigma: f64, tau_s: f64, dice: &mut Dice| {
            // The sky's gap towards the pole makes the north error larger, as in the recordings.
            [Drift::new(0.8 * sigma, tau_s, 1.0, dice), Drift::new(1.2 * sigma, tau_s, 1.0, dice)]
        };
        let slow = two(receiver.slow.0, receiver.slow_memory.seconds(), &mut dice);
        let tau_s = receiver.minutes_memory.seconds();
        let minutes = [
            Wander::new(0.8 * receiver.minutes.0, tau_s, &mut dice),
            Wander::new(1.2 * receiver.minutes.0, tau_s, &mut dice),
        ];
        let flat = two(8.0, 150.0, &mut dice);
        let memory_s = receiver.velocity.map_or(1.0, |output| output.noise_memory.seconds()).max(0.1);
        let velocity_noise = [0, 1].map(|_| Drift::new(1.0, memory_s, 1.0, &mut dice));
        let bias_m = receiver.kind_bias.0;
        let bias = [0, 1].map(|_| Local::new(bias_m * 0.7 * dice.normal(), bias_m * 0.7 * dice.normal()));
        Self {
            burst_from_s: dice.wait_s(receiver.bursts_per_hour),
            burst_until_s: 0.0,
            hole_from_s: 400.0 + dice.wait_s(receiver.holes_per_hour),
            hole_until_s: 0.0,
            quality: 1 + u8::from(dice.chance(0.5)),
            quality_until_s: dice.wait_s(0.4),
            bias,
            first_fixes: if receiver.cold_start { START_UP_M.len() } else { 0 },
            lagged: None,
            held: None,
            frozen: None,
            course_deg: dice.between(0.0, 360.0),
            receiver,
            dice,
            slow,
            minutes,
            flat,
            velocity_noise,
        }
    }

    pub(super) fn receiver(&self) -> &Receiver {
        &self.receiver
    }

    /// The fix of this second for an antenna at `at` that moves with `velocity`, m/s; `None` when nothing comes.
    pub(super) fn step(&mut self, t_s: f64, at: Local, velocity: Local) -> Option<Fix> {
        self.advance(t_s);
        let burst = self.burst(t_s);
        let measured = self.measure_velocity(velocity, burst);
        let trouble = self.trouble(t_s);
        let hole = t_s >= self.hole_from_s && t_s < self.hole_until_s;
        if hole || trouble.silent {
            if trouble.silent {
                self.start_again();
            }
            return None;
        }
        if trouble.void {
            self.start_again();
            return Some(Fix::VOID);
        }

        let mut point = at + self.error(burst) + trouble.aside;
        if trouble.flat {
            point = point + Local::new(self.flat[0].value(), self.flat[1].value());
        }
        point = point + self.start_up();
        if let Some(frozen) = self.frozen.filter(|_| trouble.frozen) {
            point = frozen;
        } else {
            point = self.hold(point, measured);
        }
        self.frozen = Some(point);
        let (speed_kn, course_deg) = self.speed_and_course(measured, trouble.frozen);
        let hdop = if trouble.flat { 6.0 } else { self.receiver.hdop * (1.0 + 0.3 * burst) };
        let view_m = (self.receiver.slow.0.powi(2) + self.receiver.minutes.0.powi(2)).sqrt();
        Some(Fix {
            at: point,
            speed_kn,
            course_deg,
            quality: if trouble.flat { 1 } else { self.quality },
            dimensions: if trouble.flat { 2 } else { 3 },
            satellites: if trouble.flat { 3 } else { self.receiver.satellites - (2.0 * burst) as u8 },
            hdop,
            sigma_m: if trouble.flat { 9.0 } else { view_m * (1.0 + burst) },
        })
    }

    fn advance(&mut self, t_s: f64) {
        let dice = &mut self.dice;
        for i in 0..2 {
            self.slow[i].step(dice);
            self.minutes[i].step(dice);
            self.flat[i].step(dice);
            self.velocity_noise[i].step(dice);
        }
        if t_s >= self.burst_from_s && t_s >= self.burst_until_s {
            self.burst_until_s = t_s + dice.between(60.0, 420.0);
        }
        if self.burst_until_s > 0.0 && t_s >= self.burst_until_s {
            self.burst_until_s = 0.0;
            self.burst_from_s = t_s + dice.wait_s(self.receiver.bursts_per_hour);
        }
        if t_s >= self.hole_from_s && self.hole_until_s == 0.0 {
            self.hole_until_s = t_s + dice.between(3.0, 9.0);
        }
        if self.hole_until_s > 0.0 && t_s >= self.hole_until_s {
            self.hole_until_s = 0.0;
            self.hole_from_s = t_s + dice.wait_s(self.receiver.holes_per_hour);
        }
        if t_s >= self.quality_until_s {
            self.quality = 3 - self.quality;
            self.quality_until_s = t_s + dice.wait_s(0.5);
        }
    }

    /// How strong a burst of multipath is now, `0.0..=1.0`.
    fn burst(&self, t_s: f64) -> f64 {
        if t_s < self.burst_from_s || t_s >= self.burst_until_s {
            return 0.0;
        }
        smooth((t_s - self.burst_from_s) / 20.0) * smooth((self.burst_until_s - t_s) / 20.0)
    }

    fn error(&self, burst: f64) -> Local {
        let factor = 1.0 + (self.receiver.burst_factor - 1.0) * burst;
        Local::new(
            self.slow[0].value() + factor * self.minutes[0].value,
            self.slow[1].value() + factor * self.minutes[1].value,
        ) + self.bias[usize::from(self.quality - 1)]
    }

    fn start_again(&mut self) {
        self.first_fixes = START_UP_M.len();
        self.held = None;
        self.lagged = None;
    }

    fn start_up(&mut self) -> Local {
        if self.first_fixes == 0 {
            return Local::default();
        }
        self.first_fixes -= 1;
        towards(self.course_deg.to_radians()).scaled(START_UP_M[self.first_fixes])
    }

    fn hold(&mut self, point: Local, measured: Local) -> Local {
        let Some(hold) = self.receiver.hold else { return point };
        let still = length(measured) < hold.below.mps();
        let held = match self.held {
            Some(held) if still && length(point - held) < hold.jump.0 => held,
            _ => point,
        };
        self.held = Some(held);
        held
    }

    /// Velocity inside the receiver, m/s.
    fn measure_velocity(&mut self, velocity: Local, burst: f64) -> Local {
        let Some(output) = self.receiver.velocity else { return velocity };
        let share = 1.0 - exp(-1.0 / output.lag.seconds().max(0.1));
        let before = self.lagged.unwrap_or(velocity);
        let lagged = before + (velocity - before).scaled(share);
        self.lagged = Some(lagged);
        let noise = output.noise.mps() * (1.0 - burst) + output.burst_noise.mps() * burst;
        let factor = output.follows_error * (1.0 + (self.receiver.burst_factor - 1.0) * burst);
        lagged
            + Local::new(
                noise * self.velocity_noise[0].value() + factor * self.minutes[0].speed,
                noise * self.velocity_noise[1].value() + factor * self.minutes[1].speed,
            )
    }

    fn speed_and_course(&mut self, measured: Local, frozen: bool) -> (Option<f64>, Option<f64>) {
        let Some(output) = self.receiver.velocity else { return (None, None) };
        let holding = self.receiver.hold.is_some_and(|hold| length(measured) < hold.below.mps());
        let speed = if frozen || holding { 0.0 } else { length(measured) / MPS_PER_KNOT };
        let speed = if speed < output.zero_below.0 { 0.0 } else { speed };
        let slow = speed <= output.course_above.0 && output.slow_course != SlowCourse::Given;
        if speed > 0.0 && !slow {
            self.course_deg = super::exact::fmod(bearing(measured).to_degrees() + 360.0, 360.0);
        }
        let course =
            if slow && output.slow_course == SlowCourse::Blank { None } else { Some(self.course_deg) };
        (Some(speed), course)
    }

    fn trouble(&self, t_s: f64) -> Trouble {
        let mut now = Trouble::default();
        for fault in &self.receiver.faults {
            let since = t_s - fault.at.seconds();
            let lasts = fault.lasts.seconds();
            if since < 0.0 || since >= lasts {
                continue;
            }
            match fault.what {
                FixTrouble::Void => now.void = true,
                FixTrouble::Silent => now.silent = true,
                FixTrouble::Frozen => now.frozen = true,
                FixTrouble::TwoDimensional => now.flat = true,
                FixTrouble::Excursion { by, towards: to } => {
                    let share = 0.5 - 0.5 * cos(std::f64::consts::TAU * since / lasts);
                    now.aside = now.aside + towards(to.degrees().to_radians()).scaled(by.0 * share);
                }
                FixTrouble::Step { by, towards: to } => {
                    now.aside = now.aside + towards(to.degrees().to_radians()).scaled(by.0);
                }
            }
        }
        now
    }
}

/// One fix of a receiver whose antenna stands still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RestingFix {
    /// Since the start.
    pub after: Span,
    /// Where the fix lies, from the antenna, before it is rounded for printing.
    pub offset: Local,
    /// Speed as printed, if it gives any.
    pub speed: Option<Knots>,
    /// Course, if it gives any.
    pub course: Option<TrueBearing>,
    /// As in GGA: 1 autonomous, 2 differential.
    pub quality: u8,
}

/// The fixes of a receiver whose antenna stands still, one a second where there is one: its errors and nothing else.
pub fn at_rest(receiver: Receiver, seed: u64, lasts: Span) -> impl Iterator<Item = RestingFix> {
    let decimals = receiver.velocity.map_or(1, |output| i32::from(output.decimals));
    let mut gnss = Gnss::new(receiver, Dice::new(seed, 100));
    (1..=lasts.0 / 1000).filter_map(move |second| {
        let fix = gnss.step(second as f64, Local::default(), Local::default())?;
        let scale = 10f64.powi(decimals);
        (fix.quality > 0).then(|| RestingFix {
            after: Span::from_secs(second),
            offset: fix.at,
            speed: fix.speed_kn.map(|kn| Knots((kn * scale).round() / scale)),
            course: fix.course_deg.map(TrueBearing::new),
            quality: fix.quality,
        })
    })
}

#[derive(Clone, Copy, Debug, Default)]
struct Trouble {
    void: bool,
    silent: bool,
    frozen: bool,
    flat: bool,
    aside: Local,
}
