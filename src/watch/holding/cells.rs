//! Can any one place of the anchor, and any one true length of rode, explain the whole night?
//!
//! Each cell is such a hypothesis. It loses credit where the bow lies beyond its reach or, while the rode is taut,
//! nearer than the rode allows; credit comes back slowly. Two accounts are kept: a slow one that takes the error of
//! the fixes to last minutes, and a fast one that answers within seconds to a plain departure.

use crate::watch::geo::Local;

/// Places from the middle of the grid to its edge.
const HALF: i32 = 16;
/// Places along a side.
const SIDE: usize = 2 * HALF as usize + 1;
/// Places in all.
const PLACES: usize = SIDE * SIDE;
/// How many reaches every place is tried with.
pub(super) const REACHES: usize = 9;
/// Credit that returns in a step of 5 s: 4 nats an hour, so that small misfits are forgotten.
const SLOW_RETURN: f32 = 0.0056;
/// Credit that returns to the fast account in a step of 5 s.
const FAST_RETURN: f32 = 0.075;
/// The fast account falls no further than this.
const FAST_LEAST: f32 = -30.0;

/// What a step of 5 s says to every cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    /// Mean bow (or antenna) on the plane.
    pub bow: Local,
    /// The same, carried on by what the receiver's velocity says she will do in the next seconds.
    pub lead: Local,
    /// How much nearer to the anchor than `bow` the bow itself may be: antenna distance without a heading, metres.
    pub nearer_m: f64,
    /// Outer and inner limit of the distance from anchor to bow, metres, for each reach tried.
    pub limits: [(f64, f64); REACHES],
    /// How far the rode is known to be taut, `0..=1`.
    pub taut: f64,
    /// Standard deviation for the slow account, metres.
    pub slow_sigma_m: f64,
    /// Excess that the fast account overlooks, metres.
    pub fast_free_m: f64,
    /// Standard deviation for the fast account, metres.
    pub fast_sigma_m: f64,
    /// Weight of this step in the slow account.
    pub slow_weight: f64,
    /// Weight of this step in the fast account.
    pub fast_weight: f64,
    /// Length of this step in units of 5 s, for the return of credit.
    pub length: f64,
}

/// The best that the cells can say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Best {
    /// Highest sum of prior and both accounts over all cells, nats.
    pub total: f64,
    /// Where the anchor most likely lies by prior and slow account, on the plane.
    pub anchor: Local,
    /// Which of the reaches, in the same cell.
    pub reach: usize,
}

/// All hypotheses about one drop.
#[derive(Clone, Debug)]
pub(super) struct Cells {
    centre: Local,
    spacing_m: f64,
    reach_nats: [f64; REACHES],
    prior: Vec<f32>,
    slow: Vec<f32>,
    fast: Vec<f32>,
    distance: Vec<f32>,
    lead: Vec<f32>,
    best: Best,
}

impl Cells {
    /// A grid about `centre` of places `spacing_m` apart, each with reaches believed by `reach_nats`, and places
    /// relative to the centre by `place_nats`.
    pub fn new(
        centre: Local,
        spacing_m: f64,
        reach_nats: [f64; REACHES],
        place_nats: impl Fn(Local) -> f64,
    ) -> Self {
        let cells = PLACES * REACHES;
        let mut grid = Self {
            centre,
            spacing_m,
            reach_nats,
            prior: vec![0.0; cells],
            slow: vec![0.0; cells],
            fast: vec![0.0; cells],
            distance: vec![0.0; PLACES],
            lead: vec![0.0; PLACES],
            best: Best { total: 0.0, anchor: centre, reach: 0 },
        };
        grid.set_prior(place_nats);
        grid
    }

    /// Sets what is believed before any fix: nats as a function of the place relative to the grid's centre.
    pub fn set_prior(&mut self, place_nats: impl Fn(Local) -> f64) {
        for place in 0..PLACES {
            let nats = place_nats(self.offset(place));
            for (reach, reach_nats) in self.reach_nats.iter().enumerate() {
                self.prior[reach * PLACES + place] = (reach_nats + nats) as f32;
            }
        }
        self.find_best();
    }

    /// A place relative to the grid's centre.
    fn offset(&self, place: usize) -> Local {
        let column = (place % SIDE) as i32 - HALF;
        let row = (place / SIDE) as i32 - HALF;
        Local::new(f64::from(column) * self.spacing_m, f64::from(row) * self.spacing_m)
    }

    /// The best cell after the last step.
    pub fn best(&self) -> Best {
        self.best
    }

    /// Forgets the fast account: after a gap it has nothing to say.
    pub fn forget_fast(&mut self) {
        self.fast.fill(0.0);
    }

    /// Takes a step of evidence into every cell.
    pub fn step(&mut self, step: &Step) {
        for place in 0..PLACES {
            let anchor = self.centre + self.offset(place);
            let d = (step.bow - anchor).length_m() - step.nearer_m;
            let ahead = (step.lead - anchor).length_m() - step.nearer_m;
            self.distance[place] = d as f32;
            self.lead[place] = d.max(ahead) as f32;
        }
        let slow_gain = (1.0 / (step.slow_sigma_m * step.slow_sigma_m)) as f32;
        let fast_gain = (1.0 / (step.fast_sigma_m * step.fast_sigma_m)) as f32;
        let (taut, free) = (step.taut as f32, step.fast_free_m as f32);
        let (slow_weight, fast_weight) = (step.slow_weight as f32, step.fast_weight as f32);
        let (slow_return, fast_return) = (SLOW_RETURN * step.length as f32, FAST_RETURN * step.length as f32);
        for (reach, &(outer, inner)) in step.limits.iter().enumerate() {
            let (outer, inner) = (outer as f32, inner as f32);
            let cells = reach * PLACES..(reach + 1) * PLACES;
            let accounts = self.slow[cells.clone()].iter_mut().zip(&mut self.fast[cells]);
            let distances = self.distance.iter().zip(&self.lead);
            for ((slow, fast), (&d, &ahead)) in accounts.zip(distances) {
                let over = (d - outer).max(0.0);
                let under = (inner - d).max(0.0);
                let misfit = 0.5 * (over * over * slow_gain).min(16.0)
                    + 0.5 * taut * (under * under * slow_gain).min(12.0);
                let beyond = if d > outer { (ahead - outer - free).max(0.0) } else { 0.0 };
                let leap = 0.5 * (beyond * beyond * fast_gain).min(16.0);
                *slow = (*slow + slow_return).min(0.0) - slow_weight * misfit;
                *fast = ((*fast + fast_return).min(0.0) - fast_weight * leap).max(FAST_LEAST);
            }
        }
        self.find_best();
    }

    fn find_best(&mut self) {
        let (mut total, mut slow_best, mut index) = (f32::NEG_INFINITY, f32::NEG_INFINITY, 0);
        for cell in 0..self.slow.len() {
            let slow = self.prior[cell] + self.slow[cell];
            total = total.max(slow + self.fast[cell]);
            // Strictly greater: the lowest index wins a tie.
            if slow > slow_best {
                (slow_best, index) = (slow, cell);
            }
        }
        self.best = Best {
            total: f64::from(total),
            anchor: self.centre + self.offset(index % PLACES),
            reach: index / PLACES,
        };
    }

    /// Mean and covariance (east², east·north, north²) of the anchor's place under prior and slow account.
    pub fn spread(&self) -> (Local, [f64; 3]) {
        let highest = self
            .prior
            .iter()
            .zip(&self.slow)
            .map(|(prior, slow)| prior + slow)
            .fold(f32::NEG_INFINITY, f32::max);
        let (mut sum, mut first, mut second) = (0.0, Local::default(), [0.0; 3]);
        for cell in 0..self.slow.len() {
            let nats = self.prior[cell] + self.slow[cell] - highest;
            if nats < -12.0 {
                continue;
            }
            let weight = f64::from(nats).exp();
            let place = self.offset(cell % PLACES);
            sum += weight;
            first = first + place.scaled(weight);
            second[0] += weight * place.east_m * place.east_m;
            second[1] += weight * place.east_m * place.north_m;
            second[2] += weight * place.north_m * place.north_m;
        }
        let mean = first.scaled(1.0 / sum);
        let least = self.spacing_m * self.spacing_m / 12.0;
        let covariance = [
            second[0] / sum - mean.east_m * mean.east_m + least,
            second[1] / sum - mean.east_m * mean.north_m,
            second[2] / sum - mean.north_m * mean.north_m + least,
        ];
        (self.centre + mean, covariance)
    }
}
