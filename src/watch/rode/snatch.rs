//! How hard does she snatch when a wave throws her back, and what does a snubber take off it?
//!
//! A balance of energy. She lies at rest under a steady pull; a wave gives her a speed astern; the rode stops her. What it
//! takes up beyond the steady pull, ∫(F − F₀)·dx over its give, is the energy of her speed, ½·m·v². The bottom, the hull
//! and the crew's hands give nothing.

use super::waves::Sea;
use super::{Fibre, Line, RodeError, shape};
use crate::watch::boat::Boat;
use crate::watch::units::{Knots, Metres, Newtons};

/// Added mass of a hull that surges, as a share of her own (Faltinsen 1990, *Sea Loads*, from memory).
const ADDED: f64 = 0.06;
/// Steps in which the energy is summed, evenly in the logarithm of the pull.
const STEPS: usize = 48;
/// No yacht's gear lives to see it.
const PULL_N_MOST: f64 = 5e5;

/// A wave and the boat that it throws back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snatch {
    /// Height of the wave.
    pub wave: Metres,
    /// Speed that it gives her, m/s.
    pub speed_mps: f64,
    /// How far she would surge to each side of the middle with nothing to stop her, metres.
    pub surge: Metres,
    /// The energy of that speed, joules.
    pub energy_j: f64,
}

impl Snatch {
    /// The greatest wave of a sea over so much water.
    ///
    /// Speed of the water at the surface by linear theory, π·H/(T·tanh kd), meaned over her length: short waves push one end
    /// while they pull the other. She takes on all of it: light craft follow the water.
    #[must_use]
    pub fn of(boat: &Boat, sea: &Sea, depth: Metres) -> Self {
        let wave = sea.greatest(depth);
        let length = sea.length(depth);
        if !(length.0 > 0.0 && wave.0 > 0.0) {
            return Self { wave: Metres(0.0), speed_mps: 0.0, surge: Metres(0.0), energy_j: 0.0 };
        }
        let number = std::f64::consts::TAU / length.0;
        let water = std::f64::consts::PI * wave.0 / (sea.period_s * (number * depth.0).tanh());
        let speed_mps = water * over_length(number * boat.loa.0);
        let mass = boat.displacement_kg * (1.0 + ADDED);
        Self {
            wave,
            speed_mps,
            surge: Metres(speed_mps * sea.period_s / std::f64::consts::TAU),
            energy_j: 0.5 * mass * speed_mps * speed_mps,
        }
    }

    /// Wind against stream: she sails over her slack rode, is carried back at two thirds of the stream's rate and
    /// fetches up; to all chain, which drags on the ground, at half of it. So much covers the worst of the project's
    /// simulator (`docs/inside/rode.md`); nothing is published.
    #[must_use]
    pub fn carried(boat: &Boat, rate: Knots, line: &Line) -> Self {
        let share = if line.rope.is_some() { 2.0 / 3.0 } else { 0.5 };
        let speed_mps = rate.mps().abs() * share;
        let mass = boat.displacement_kg * (1.0 + ADDED);
        Self {
            wave: Metres(0.0),
            speed_mps,
            surge: Metres(0.0),
            energy_j: 0.5 * mass * speed_mps * speed_mps,
        }
    }

    /// What fetching up so pulls: her rode begins slack, and a gust is on her bow as well.
    ///
    /// # Errors
    /// If the rode makes no shape.
    pub fn fetching_up(&self, line: &Line, height: Metres, gust: Newtons) -> Result<Newtons, RodeError> {
        Ok(gust + self.peak(line, height, Newtons(1.0))?)
    }

    /// The pull at which this rode has taken the energy up, from a steady pull; the bow is lifted by half the wave.
    ///
    /// # Errors
    /// If the rode makes no shape.
    pub fn peak(&self, line: &Line, height: Metres, steady: Newtons) -> Result<Newtons, RodeError> {
        let height = height + self.wave * 0.5;
        let start = steady.max(Newtons(1.0));
        if self.energy_j <= 0.0 {
            return Ok(start);
        }
        let reach = |pull: f64| shape(line, height, Newtons(pull)).map(|s| s.reach.0);
        let ratio = (PULL_N_MOST / start.0).powf(1.0 / (STEPS * 4) as f64);
        let (mut pull, mut taken, mut at) = (start.0, 0.0, reach(start.0)?);
        while pull < PULL_N_MOST {
            let next = pull * ratio;
            let there = reach(next)?;
            // The mean of the two ends' pulls, over the give between them.
            let step = (0.5 * (pull + next) - start.0) * (there - at).max(0.0);
            if taken + step >= self.energy_j {
                let share = (self.energy_j - taken) / step;
                return Ok(Newtons(pull + (next - pull) * share));
            }
            (pull, at, taken) = (next, there, taken + step);
        }
        Ok(Newtons(PULL_N_MOST))
    }
}

/// The mean of a wave over a length, beside its crest: sin(½kL)/(½kL). Never below a tenth: real seas are not of one length.
fn over_length(turn: f64) -> f64 {
    let half = 0.5 * turn;
    (half.sin() / half).abs().max(0.1)
}

/// A nylon snubber that is worked no harder than it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SnubberAdvice {
    /// Diameter, millimetres.
    pub size_mm: f64,
    /// Length, metres.
    pub length: Metres,
    /// The peak with it.
    pub peak: Newtons,
}

/// The share of a new rope's breaking load that it is worked at: a fifth, the usual factor of safety for nylon on moorings
/// (common practice, no source). Over it nylon heats, and breaks in hours.
pub const WORKED: f64 = 0.2;

/// Sizes of rope in the shops, millimetres.
const SIZES_MM: [f64; 9] = [8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0];
/// Lengths that are carried, metres; from shortest.
const LENGTHS_M: [f64; 6] = [4.0, 6.0, 8.0, 10.0, 12.0, 15.0];

/// The share of its breaking load that a nylon rope of this size bears under a pull.
#[must_use]
pub fn worked(size_mm: f64, pull: Newtons) -> f64 {
    pull.0 / Fibre::Nylon.breaking_load(size_mm).0
}

/// The shortest and then thinnest snubber that is worked within [`WORKED`] at the peak it leaves. `peak_with` gives that
/// peak for a size in millimetres and a length. `None` if none of the usual ones does it.
pub fn snubber_for(mut peak_with: impl FnMut(f64, Metres) -> Option<Newtons>) -> Option<SnubberAdvice> {
    LENGTHS_M.iter().find_map(|length| {
        SIZES_MM.iter().find_map(|size_mm| {
            let peak = peak_with(*size_mm, Metres(*length))?;
            (worked(*size_mm, peak) <= WORKED).then_some(SnubberAdvice {
                size_mm: *size_mm,
                length: Metres(*length),
                peak,
            })
        })
    })
}

#[cfg(test)]
mod tests {
    use super::super::{Locker, Section, rope};
    use super::*;
    use crate::watch::boat::Tackle;

    fn snatch() -> Snatch {
        let sea = super::super::sea(Knots(30.0), Metres(1852.0), Some(Metres(8.0)));
        Snatch::of(&Boat::default(), &sea, Metres(8.0))
    }

    /// A weightless spring of constant k: ½·m·v² = ½·k·x², so the peak is F₀ + v·√(k·m). The line lies all but level.
    #[test]
    fn a_spring_stops_her_at_the_peak_of_the_textbook() {
        let spring = Section { length: Metres(200.0), weight_n_per_m: 0.0, stiffness_n: Some(2e5) };
        let line = Line { chain: Section { length: Metres(0.0), ..spring }, rope: Some(spring) };
        let (k, start) = (2e5 / 200.0, 2000.0);
        for energy_j in [50.0, 500.0, 3000.0] {
            let snatch = Snatch { wave: Metres(0.0), speed_mps: 1.0, surge: Metres(1.0), energy_j };
            let peak = snatch.peak(&line, Metres(1.0), Newtons(start)).unwrap().0;
            let textbook = start + (2.0 * energy_j * k).sqrt();
            assert!((peak / textbook - 1.0).abs() < 0.01, "{energy_j} J: {peak} against {textbook}");
        }
    }

    /// The energy put back in: the sum by trapezia over pull, ∫(F − F₀)·dx, at a thousand points.
    #[test]
    fn what_chain_takes_up_at_the_peak_is_the_energy_of_the_wave() {
        let (snatch, height, start) = (snatch(), Metres(9.0), 1500.0);
        let line = Locker::of(&Tackle::default()).unwrap().veer(Metres(45.0)).unwrap();
        let peak = snatch.peak(&line, height, Newtons(start)).unwrap().0;
        let reach = |pull: f64| shape(&line, height + snatch.wave * 0.5, Newtons(pull)).unwrap().reach.0;
        let sum: f64 = (0..1000)
            .map(|i| {
                let pull = |i: i32| start + (peak - start) * f64::from(i) / 1000.0;
                let middle = 0.5 * (pull(i) + pull(i + 1));
                (middle - start) * (reach(pull(i + 1)) - reach(pull(i)))
            })
            .sum();
        assert!((sum / snatch.energy_j - 1.0).abs() < 0.02, "{sum} J against {} J", snatch.energy_j);
    }

    #[test]
    fn a_snubber_takes_most_of_the_snatch_off_a_taut_chain() {
        let snatch = snatch();
        let locker = Locker::of(&Tackle::default()).unwrap();
        let snubbed = locker.snubbed(rope(Fibre::Nylon, 12.0, Metres(8.0)).unwrap());
        let peak = |locker: Locker| {
            let line = locker.veer(Metres(40.0)).unwrap();
            snatch.peak(&line, Metres(7.0), Newtons(3000.0)).unwrap()
        };
        let (bare, soft) = (peak(locker), peak(snubbed));
        assert!(soft.0 - 3000.0 < 0.6 * (bare.0 - 3000.0), "{bare:?} {soft:?}");
    }

    #[test]
    fn the_snubber_advised_is_not_overworked() {
        let snatch = snatch();
        let locker = Locker::of(&Tackle::default()).unwrap();
        let advice = snubber_for(|size_mm, length| {
            let line = locker.snubbed(rope(Fibre::Nylon, size_mm, length).ok()?).veer(Metres(40.0)).ok()?;
            snatch.peak(&line, Metres(7.0), Newtons(3000.0)).ok()
        });
        let advice = advice.unwrap();
        assert!(worked(advice.size_mm, advice.peak) <= WORKED && advice.peak.0 > 3000.0, "{advice:?}");
    }
}
