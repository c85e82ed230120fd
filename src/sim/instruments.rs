//! Heading, wind, depth and log as the boat's instruments give them, with their errors.

use serde::{Deserialize, Serialize};

use super::dice::{Dice, Drift};
use super::exact::{fmod, sin};
use super::sentence::Writer;
use crate::watch::units::{Metres, Span};

/// The instruments on board beside the receivers. What is `None` she does not have.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Instruments {
    /// Compass.
    pub compass: Option<Compass>,
    /// Wind vane and cups at the masthead.
    pub wind: Option<WindSensor>,
    /// Echo sounder.
    pub sounder: Option<Sounder>,
    /// Log: speed through the water.
    pub log: bool,
    /// Revolutions of the engine.
    pub rpm: bool,
    /// Share of sentences that arrive damaged (3.4 % in the worst set of recordings seen, 0.3 % usual).
    pub damage: f64,
    /// Times without any of these instruments: the bus is down.
    pub dead: Vec<(Span, Span)>,
}

/// A compass and its errors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Compass {
    /// Constant error, degrees: how it was mounted.
    pub bias_deg: f64,
    /// Deviation that goes once round with the heading, degrees.
    pub deviation_deg: f64,
    /// Noise, degrees rms, over a few seconds.
    pub noise_deg: f64,
    /// Speaks in magnetic degrees with the variation beside (HDG); else in true degrees (HDT).
    pub magnetic: bool,
    /// Variation of the place, degrees, east positive.
    pub variation_deg: f64,
}

/// A wind sensor and its errors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WindSensor {
    /// Measured speed over true speed.
    pub factor: f64,
    /// Error of the angle, degrees.
    pub bias_deg: f64,
    /// Noise of the angle, degrees rms: roll, vane, turbulence at the masthead.
    pub noise_deg: f64,
    /// Also writes the computed true wind (MWV with T), turn about with the apparent.
    pub computes_true: bool,
}

/// An echo sounder and its errors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sounder {
    /// Constant error.
    pub bias: Metres,
    /// Noise, rms.
    pub noise: Metres,
    /// Share of soundings that are lost (empty field).
    pub lost: f64,
    /// Share of soundings that hit weed or a second echo.
    pub wild: f64,
}

impl Instruments {
    /// All of them, with usual errors.
    #[must_use]
    pub fn draw(dice: &mut Dice) -> Self {
        Self {
            compass: Some(Compass {
                bias_deg: 3.0 * dice.normal(),
                deviation_deg: 2.0 * dice.normal(),
                noise_deg: dice.between(0.5, 2.0),
                magnetic: dice.chance(0.6),
                variation_deg: 0.0,
            }),
            wind: Some(WindSensor {
                factor: 1.0 + 0.06 * dice.normal(),
                bias_deg: 4.0 * dice.normal(),
                noise_deg: dice.between(1.0, 4.0),
                computes_true: dice.chance(0.3),
            }),
            sounder: Some(Sounder {
                bias: Metres(0.15 * dice.normal()),
                noise: Metres(0.05),
                lost: 0.002,
                wild: 0.001,
            }),
            log: dice.chance(0.4),
            rpm: dice.chance(0.4),
            damage: [0.0, 0.001, 0.003, 0.03][dice.index(4)],
            dead: Vec::new(),
        }
    }
}

/// What there is to measure in one second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reality {
    pub(super) heading_deg: f64,
    pub(super) apparent_mps: f64,
    pub(super) apparent_deg: f64,
    pub(super) true_mps: f64,
    pub(super) true_deg: f64,
    pub(super) depth_below_sounder_m: f64,
    pub(super) through_water_mps: f64,
    pub(super) rpm: f64,
}

/// The instruments at work, one step a second.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    instruments: Instruments,
    dice: Dice,
    compass_noise: Drift,
    vane_noise: Drift,
    apparent: Option<(f64, f64)>,
    writer: Writer,
    odd: bool,
}

impl Panel {
    pub(super) fn new(instruments: Instruments, mut dice: Dice) -> Self {
        Self {
            compass_noise: Drift::new(1.0, 4.0, 1.0, &mut dice),
            vane_noise: Drift::new(1.0, 2.0, 1.0, &mut dice),
            apparent: None,
            writer: Writer::default(),
            odd: false,
            instruments,
            dice,
        }
    }

    /// The sentences of this second, in the order in which they come.
    pub(super) fn step(&mut self, t_s: f64, now: &Reality, out: &mut Vec<Vec<u8>>) {
        let (compass, vane) = (self.compass_noise.step(&mut self.dice), self.vane_noise.step(&mut self.dice));
        let dead =
            |&(at, lasts): &(Span, Span)| (at.seconds()..at.seconds() + lasts.seconds()).contains(&t_s);
        if self.instruments.dead.iter().any(dead) {
            return;
        }
        self.odd = !self.odd;
        if let Some(instrument) = self.instruments.compass {
            out.push(self.heading(instrument, now.heading_deg, compass));
        }
        if let Some(instrument) = self.instruments.wind {
            out.push(self.wind(instrument, now, vane));
        }
        if let Some(instrument) = self.instruments.sounder {
            out.push(self.depth(instrument, now.depth_below_sounder_m));
        }
        if self.instruments.log {
            let knots = now.through_water_mps / crate::watch::units::MPS_PER_KNOT;
            out.push(self.writer.sentence(["II", "VHW"], |f| {
                f.empty()
                    .word("T")
                    .empty()
                    .word("M")
                    .number(knots, 1)
                    .word("N")
                    .number(knots * 1.852, 1)
                    .word("K");
            }));
        }
        if self.instruments.rpm && now.rpm != 0.0 {
            out.push(self.writer.sentence(["II", "RPM"], |f| {
                f.word("E").word("1").number(now.rpm, 0).empty().word("A");
            }));
        }
    }

    fn heading(&mut self, compass: Compass, heading_deg: f64, noise: f64) -> Vec<u8> {
        let shown = heading_deg
            + compass.bias_deg
            + compass.deviation_deg * sin(heading_deg.to_radians())
            + compass.noise_deg * noise;
        if compass.magnetic {
            let magnetic = circle(shown - compass.variation_deg);
            let side = if compass.variation_deg < 0.0 { "W" } else { "E" };
            self.writer.sentence(["HC", "HDG"], |f| {
                f.number(magnetic, 1).empty().empty().number(compass.variation_deg.abs(), 1).word(side);
            })
        } else {
            self.writer.sentence(["HE", "HDT"], |f| {
                f.number(circle(shown), 1).word("T");
            })
        }
    }

    fn wind(&mut self, sensor: WindSensor, now: &Reality, noise: f64) -> Vec<u8> {
        // Cups and display average over about two seconds.
        let (speed, angle) = self.apparent.unwrap_or((now.apparent_mps, now.apparent_deg));
        let turn = fmod(now.apparent_deg - angle + 540.0, 360.0) - 180.0;
        let (speed, angle) = (speed + 0.4 * (now.apparent_mps - speed), circle(angle + 0.4 * turn));
        self.apparent = Some((speed, angle));
        let (speed, angle, reference) = if sensor.computes_true && self.odd {
            (now.true_mps, now.true_deg, "T")
        } else {
            (speed, angle, "R")
        };
        let shown = circle(angle + sensor.bias_deg + sensor.noise_deg * noise);
        let knots = sensor.factor * speed / crate::watch::units::MPS_PER_KNOT;
        self.writer.sentence(["II", "MWV"], |f| {
            f.number(shown, 1).word(reference).number(knots, 1).word("N").word("A");
        })
    }

    fn depth(&mut self, sounder: Sounder, depth_m: f64) -> Vec<u8> {
        let draw = self.dice.unit();
        let measured = if draw < sounder.lost {
            None
        } else if draw < sounder.lost + sounder.wild {
            Some(depth_m * self.dice.between(0.3, 2.0))
        } else {
            Some((depth_m + sounder.bias.0 + sounder.noise.0 * self.dice.normal()).max(0.0))
        };
        self.writer.sentence(["SD", "DPT"], |f| {
            f.maybe(measured, 1).empty();
        })
    }
}

/// Wraps degrees so that they print in `0.0..360.0` with one decimal.
fn circle(degrees: f64) -> f64 {
    let wrapped = fmod(degrees, 360.0);
    let wrapped = if wrapped < 0.0 { wrapped + 360.0 } else { wrapped };
    if wrapped >= 359.95 { 0.0 } else { wrapped }
}

/// Damages lines as a worn serial line does: bytes lost or changed, the end missing, two sentences run together.
#[derive(Clone, Debug)]
pub(super) struct Damage {
    share: f64,
    dice: Dice,
    carried: Vec<u8>,
}

impl Damage {
    pub(super) fn new(share: f64, dice: Dice) -> Self {
        Self { share, dice, carried: Vec::new() }
    }

    /// The line as it arrives; `None` if it is still stuck to the next one.
    pub(super) fn pass(&mut self, mut line: Vec<u8>) -> Option<Vec<u8>> {
        if !self.carried.is_empty() {
            let mut both = std::mem::take(&mut self.carried);
            both.append(&mut line);
            return Some(both);
        }
        if self.share <= 0.0 || !self.dice.chance(self.share) {
            return Some(line);
        }
        let at = self.dice.index(line.len());
        match self.dice.index(4) {
            0 => {
                let until = (at + 1 + self.dice.index(6)).min(line.len());
                line.drain(at..until);
            }
            1 => line[at] ^= 1 << self.dice.index(8),
            2 => line.truncate(at),
            _ => {
                line.truncate(at);
                self.carried = line;
                return None;
            }
        }
        // A line end in the middle would be two lines; that comes out of other damage often enough.
        line.retain(|byte| !matches!(byte, b'\r' | b'\n'));
        Some(line)
    }
}
