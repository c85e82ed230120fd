//! Can any one place of the anchor, and any one true length of rode, explain the whole night?
//!
//! Each cell is such a hypothesis. It loses credit where the bow lies beyond its reach or, while the rode is taut,
//! nearer than the rode allows; credit comes back slowly. Two accounts are kept: a slow one that takes the error of
//! the fixes to last minutes, and a fast one that answers within seconds to a plain departure.

use super::tuning::fast as tuning;
use crate::watch::geo::Local;

/// Places from the middle of the grid to its edge.
pub(super) const HALF: i32 = 16;
/// Places along a side.
const SIDE: usize = 2 * HALF as usize + 1;
/// Places in all.
const PLACES: usize = SIDE * SIDE;
/// Rows of cells far below the best are visited once in so many steps.
const COLD_EVERY: usize = 12;
/// A row is near the best if one of its cells is within so many nats of it.
const HOT_NATS: f32 = 15.0;
/// How many reaches every place is tried with.
pub(super) const REACHES: usize = 9;

/// What a step of 5 s says to every cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    /// Mean bow (or antenna) on the plane.
    pub bow: Local,
    /// How much nearer to the anchor than `bow` the bow itself may be: antenna distance without a heading, metres.
    pub nearer_m: f64,
    /// Outer and inner limit of the distance from anchor to bow, metres, for each reach tried.
    pub limits: [(f64, f64); REACHES],
    /// How far the rode is known to be taut, `0..=1`.
    pub taut: f64,
    /// What it says to the slow account.
    pub slow: Slow,
    /// What it says to the fast one.
    pub fast: Fast,
}

/// What a step says to the slow account.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slow {
    /// Share of this step in the running mean of the misfit.
    pub mean_share: f64,
    /// Standard deviation of that mean, metres.
    pub sigma_m: f64,
    /// Misfit at most, metres.
    pub most_m: f64,
    /// What a standing misfit costs again in this step, as a share of its potential.
    pub again: f64,
    /// Credit that returns in this step, nats.
    pub back: f64,
}

/// What a step says to the fast account: a departure, or a burst of reflections?
#[derive(Clone, Copy, Debug)]
pub(super) struct Fast {
    /// Standard deviation of the fixes in quiet, metres.
    pub quiet_m: f64,
    /// What it costs to believe in a burst, nats.
    pub burst_nats: f64,
    /// What the velocity says; `None` where it says nothing.
    pub velocity: Option<Velocity>,
    /// What the velocity takes off the cost of a departure, nats.
    pub denied_nats: f64,
}

/// What a velocity says of a way out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Velocity {
    /// How far of it the velocity knows nothing, metres.
    pub unknown_m: f64,
    /// Standard deviation of that, metres.
    pub sigma_m: f64,
    /// What it can add to the cost of a burst at most, nats.
    pub most_nats: f64,
}

/// The best that the cells can say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Best {
    /// Highest sum of prior and both accounts over all cells, nats.
    pub total: f64,
    /// The same by prior and slow account alone, nats.
    pub slow: f64,
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
    /// What each cell owes: never positive.
    slow: Vec<f32>,
    /// Running mean of the misfit, metres; positive beyond the reach.
    mean: Vec<f32>,
    /// How much of the potential of that mean has been charged.
    charged: Vec<f32>,
    /// What she says of each place by lying with her head to it.
    aim: Vec<f32>,
    distance: Vec<f32>,
    hot: Vec<bool>,
    turn: usize,
    best_slow: f32,
    best: Best,
    /// The row of cells that holds the best.
    best_block: usize,
    /// Summed once after each step: it asks every cell, and is read every second.
    spread: (Local, [f64; 3]),
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
            mean: vec![0.0; cells],
            charged: vec![0.0; cells],
            aim: vec![0.0; PLACES],
            distance: vec![0.0; PLACES],
            hot: vec![true; SIDE * REACHES],
            turn: 0,
            best_slow: 0.0,
            best_block: 0,
            best: Best { total: 0.0, slow: 0.0, anchor: centre, reach: 0 },
            spread: (centre, [0.0; 3]),
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

    /// Takes a step of evidence into every cell.
    ///
    /// Rows of cells in which none is near the best are visited every [`COLD_EVERY`] steps only, for as many steps at
    /// once.
    pub fn step(&mut self, step: &Step) {
        self.measure(step.bow, step.nearer_m as f32);
        self.turn = (self.turn + 1) % COLD_EVERY;
        let rule = Rule::new(step);
        let mut totals = [f32::NEG_INFINITY; SIDE];
        for reach in 0..REACHES {
            let limits = step.limits[reach];
            for row in 0..SIDE {
                let block = reach * SIDE + row;
                let steps = match (self.hot[block], block % COLD_EVERY == self.turn) {
                    (true, _) => 1.0,
                    (false, true) => COLD_EVERY as f32,
                    (false, false) => continue,
                };
                let cells = block * SIDE..(block + 1) * SIDE;
                let places = row * SIDE..(row + 1) * SIDE;
                let mut row = Row {
                    distance: &self.distance[places.clone()],
                    aim: &self.aim[places],
                    prior: &self.prior[cells.clone()],
                    slow: &mut self.slow[cells.clone()],
                    mean: &mut self.mean[cells.clone()],
                    charged: &mut self.charged[cells],
                    totals: &mut totals,
                };
                rule.apply((limits.0 as f32, limits.1 as f32), steps, &mut row);
            }
        }
        self.find_best();
        self.best.total = f64::from(totals.iter().copied().fold(f32::NEG_INFINITY, f32::max));
        if self.turn == 0 {
            self.sort_hot();
        }
    }

    /// Distance from every place to the bow.
    fn measure(&mut self, bow: Local, nearer_m: f32) {
        let from = bow - self.centre;
        let spacing = self.spacing_m as f32;
        for (row, distances) in self.distance.chunks_exact_mut(SIDE).enumerate() {
            let north = from.north_m as f32 - (row as i32 - HALF) as f32 * spacing;
            for (column, distance) in distances.iter_mut().enumerate() {
                let east = from.east_m as f32 - (column as i32 - HALF) as f32 * spacing;
                *distance = (east * east + north * north).sqrt() - nearer_m;
            }
        }
    }

    /// She lies with her head towards `ahead` (a unit vector), her bow at `bow`: places elsewhere lose credit.
    ///
    /// `weight` is the share of the full potential to pay now; credit returns by `back` nats.
    pub fn point(&mut self, bow: Local, ahead: Local, weight: f64, back: f64, sigma: (f64, f64), most: f64) {
        for place in 0..PLACES {
            let to = self.centre + self.offset(place) - bow;
            let along = to.dot(ahead);
            let across = to.east_m * ahead.north_m - to.north_m * ahead.east_m;
            let behind = along.min(0.0);
            let square =
                (across * across + behind * behind) / (sigma.0 * sigma.0 + sigma.1 * sigma.1 * to.dot(to));
            let nats = f64::from(self.aim[place]) + back;
            self.aim[place] = (nats.min(0.0) - weight * 0.5 * square.min(most)).max(-12.0) as f32;
        }
    }

    /// Marks the rows of cells that hold one near the best.
    fn sort_hot(&mut self) {
        let best = self.best_slow - HOT_NATS;
        for (block, hot) in self.hot.iter_mut().enumerate() {
            let cells = block * SIDE..(block + 1) * SIDE;
            let places = block % SIDE * SIDE..(block % SIDE + 1) * SIDE;
            let nats = self.prior[cells.clone()].iter().zip(&self.slow[cells]).zip(&self.aim[places]);
            *hot = nats.map(|((prior, slow), aim)| prior + slow + aim).any(|nats| nats > best);
        }
    }

    fn find_best(&mut self) {
        let mut lanes = [f32::NEG_INFINITY; SIDE];
        let rows = self.prior.chunks_exact(SIDE).zip(self.slow.chunks_exact(SIDE));
        for ((prior, slow), aim) in rows.zip(self.aim.chunks_exact(SIDE).cycle()) {
            for (((lane, prior), slow), aim) in lanes.iter_mut().zip(prior).zip(slow).zip(aim) {
                let nats = prior + slow + aim;
                *lane = if nats > *lane { nats } else { *lane };
            }
        }
        let best = lanes.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        // The lowest index wins a tie.
        let cells = self.prior.iter().zip(&self.slow).zip(self.aim.iter().cycle());
        let index =
            cells.map(|((prior, slow), aim)| prior + slow + aim).position(|nats| nats == best).unwrap_or(0);
        self.best_block = index / SIDE;
        self.best_slow = best;
        self.best = Best {
            total: f64::from(best),
            slow: f64::from(best),
            anchor: self.centre + self.offset(index % PLACES),
            reach: index / PLACES,
        };
        self.spread = self.sum_spread();
    }

    /// Mean and covariance (east², east·north, north²) of the anchor's place under prior and slow account.
    pub fn spread(&self) -> (Local, [f64; 3]) {
        self.spread
    }

    fn sum_spread(&self) -> (Local, [f64; 3]) {
        let highest = self.best_slow;
        let (mut sum, mut first, mut second) = (0.0, Local::default(), [0.0; 3]);
        // What counts lies in rows near the best; the row of the best itself is always among them.
        let blocks = (0..self.hot.len()).filter(|block| self.hot[*block] || *block == self.best_block);
        for cell in blocks.flat_map(|block| block * SIDE..(block + 1) * SIDE) {
            let nats = self.prior[cell] + self.slow[cell] + self.aim[cell % PLACES] - highest;
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

/// A row of cells: one reach, one line of places.
struct Row<'a> {
    distance: &'a [f32],
    aim: &'a [f32],
    prior: &'a [f32],
    slow: &'a mut [f32],
    mean: &'a mut [f32],
    charged: &'a mut [f32],
    /// The highest totals so far, column by column.
    totals: &'a mut [f32; SIDE],
}

/// A step's numbers as the inner loop wants them.
struct Rule {
    mean_share: f32,
    slow_gain: f32,
    most: f32,
    again: f32,
    taut: f32,
    back: f32,
    quiet: f32,
    burst_nats: f32,
    burst_far: f32,
    unknown_m: f32,
    unknown_gain: f32,
    velocity_nats: f32,
    denied_nats: f32,
    /// A departure of one standard deviation and more is denied in full.
    denied_from: f32,
}

impl Rule {
    fn new(step: &Step) -> Self {
        let half_inverse = |sigma: f64| (0.5 / (sigma * sigma)) as f32;
        let (slow, fast) = (&step.slow, &step.fast);
        Self {
            mean_share: slow.mean_share as f32,
            slow_gain: half_inverse(slow.sigma_m),
            most: slow.most_m as f32,
            again: slow.again as f32,
            taut: step.taut as f32,
            back: slow.back as f32,
            quiet: half_inverse(fast.quiet_m),
            burst_nats: fast.burst_nats as f32,
            burst_far: half_inverse(tuning::BURST_SIGMA_M),
            unknown_m: fast.velocity.map_or(0.0, |v| v.unknown_m as f32),
            unknown_gain: fast.velocity.map_or(0.0, |v| half_inverse(v.sigma_m)),
            velocity_nats: fast.velocity.map_or(0.0, |v| v.most_nats as f32),
            denied_nats: fast.denied_nats as f32,
            denied_from: (1.0 / fast.quiet_m) as f32,
        }
    }

    /// Takes the step into one row of cells.
    fn apply(&self, (outer, inner): (f32, f32), steps: f32, row: &mut Row) {
        let back = self.back * steps;
        let share = least(self.mean_share * steps, 1.0);
        let keep = 1.0 - least(self.again * steps, 1.0);
        let cells = row.slow.iter_mut().zip(row.mean.iter_mut()).zip(row.charged.iter_mut());
        let known = row.distance.iter().zip(row.prior).zip(row.aim).zip(row.totals.iter_mut());
        for (((slow, mean), charged), (((&d, &prior), &aim), total)) in cells.zip(known) {
            let over = positive(d - outer);
            let under = positive(inner - d);
            let misfit = least(over, self.most) - self.taut * least(under, self.most);
            *mean += share * (misfit - *mean);
            // The potential of the mean is paid once as it rises, and again as its memory fades.
            let potential = *mean * *mean * self.slow_gain;
            let due = *charged * keep;
            let pay = positive(potential - due);
            *charged = due + pay;
            *slow = least(*slow + back, 0.0) - pay;
            let nats = prior + aim + *slow - positive(self.departure(over) - *charged);
            *total = if nats > *total { nats } else { *total };
        }
    }

    /// What it costs to lie `over` metres beyond the reach: an error in quiet, or a burst of which the velocity knows
    /// nothing.
    #[inline(always)]
    fn departure(&self, over: f32) -> f32 {
        let far = positive(over - tuning::BURST_FREE_M as f32);
        let known = positive(over * tuning::UNKNOWN_SHARE as f32 - self.unknown_m);
        let confirmed = least(known * known * self.unknown_gain, self.velocity_nats);
        let burst = self.burst_nats + far * far * self.burst_far + confirmed;
        let nats = least(least(over * over * self.quiet, burst), tuning::MOST_NATS as f32);
        nats - self.denied_nats * least(over * self.denied_from, 1.0)
    }
}

/// `x` or 0, whichever is more. Plain comparisons, as the processor has them for many numbers at once.
fn positive(x: f32) -> f32 {
    if x > 0.0 { x } else { 0.0 }
}

fn least(x: f32, y: f32) -> f32 {
    if x < y { x } else { y }
}
