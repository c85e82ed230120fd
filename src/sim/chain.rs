//! The rode between the bow and the anchor: what hangs, what lies on the ground, and how it is dragged straight.

use super::exact::{exp, length, log, unit};
use crate::watch::geo::Local;

/// Friction of chain on sand or mud, as a share of its weight in water (Faltinsen 1990, *Sea Loads* ch. 8 uses
/// 0.6 to 1.0 for chain on sand; from memory).
const FRICTION: f64 = 0.7;
/// Points of the load table.
const POINTS: usize = 96;
/// Range of the load table in newtons.
const LEAST_N: f64 = 2.0;
const MOST_N: f64 = 60_000.0;
/// Links this much shorter than their length count as stretched.
const TAUT_M: f64 = 0.005;
/// How fast a bight of chain is dragged over the ground, m/s.
const CRAWL_MPS: f64 = 0.4;

/// A rode of chain and rope, as given by its lengths and weights.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rode {
    /// Chain that is out, m.
    pub(super) chain_m: f64,
    /// Rope that is out behind it, m.
    pub(super) rope_m: f64,
    /// Weight of the chain in water, N/m.
    pub(super) weight: f64,
    /// How much it gives, metres for every newton: snubber or rope.
    pub(super) give: f64,
}

/// Load against slack for one rode at one height of bow roller.
///
/// *Slack* is the length of rode less its horizontal span. For an inextensible chain that lies straight on the
/// ground as far as it lies there at all, slack depends on load alone, not on how much lies: the catenary
/// `s = √(h² + 2ah)`, span `a·asinh(s/a)`, `a = H/ω`. With all chain lifted the table goes on with the pull
/// leading up from the anchor.
#[derive(Clone, Debug)]
struct Loads {
    slack: [f64; POINTS],
    load: [f64; POINTS],
    lifted: [f64; POINTS],
}

/// Where one load puts the rode.
#[derive(Clone, Copy, Debug)]
struct Hang {
    load_n: f64,
    lifted_m: f64,
    stiffness: f64,
}

impl Loads {
    fn new(rode: &Rode, height_m: f64) -> Self {
        let (mut slack, mut load, mut lifted) = ([0.0; POINTS], [0.0; POINTS], [0.0; POINTS]);
        let ratio = log(MOST_N / LEAST_N) / (POINTS - 1) as f64;
        for i in 0..POINTS {
            let pull = LEAST_N * exp(ratio * i as f64);
            let (span_slack, chain_lifted) = hang(rode, height_m, pull);
            slack[i] = span_slack - pull * rode.give;
            load[i] = pull;
            lifted[i] = chain_lifted;
        }
        Self { slack, load, lifted }
    }

    /// Slack falls with load: find the load for a slack.
    fn at(&self, slack_m: f64) -> Hang {
        if slack_m >= self.slack[0] {
            // Below the table's first load the chain hangs all but plumb.
            let excess = slack_m - self.slack[0];
            let load_n = (self.load[0] - 40.0 * excess).max(0.0);
            return Hang { load_n, lifted_m: self.lifted[0], stiffness: 40.0 };
        }
        let above = self.slack.partition_point(|&s| s > slack_m).min(POINTS - 1);
        let (i, j) = (above - 1, above);
        let stiffness = (self.load[j] - self.load[i]) / (self.slack[i] - self.slack[j]).max(1e-9);
        let share = (self.slack[i] - slack_m) / (self.slack[i] - self.slack[j]).max(1e-9);
        Hang {
            load_n: self.load[i] + (self.slack[i] - slack_m) * stiffness,
            lifted_m: self.lifted[i] + (self.lifted[j] - self.lifted[i]) * share.min(1.0),
            stiffness,
        }
    }
}

/// Slack of the rode and chain lifted, metres, under horizontal `pull` in newtons.
fn hang(rode: &Rode, height_m: f64, pull: f64) -> (f64, f64) {
    let a = pull / rode.weight;
    let (h, length) = (height_m, rode.chain_m);
    if rode.rope_m > 0.0 {
        return hang_with_rope(rode, h, a);
    }
    let lifted = (h * h + 2.0 * a * h).sqrt();
    if lifted <= length {
        return (lifted - a * asinh(lifted / a), lifted);
    }
    // All lifted: chord of a catenary of given length and rise, `L² − h² = (2a·sinh(X/2a))²`.
    let chord = (length * length - h * h).max(0.0).sqrt();
    (length - 2.0 * a * asinh(chord / (2.0 * a)), length)
}

fn asinh(x: f64) -> f64 {
    log(x + (x * x + 1.0).sqrt())
}

/// The same with rope behind the chain. Rope weighs next to nothing in water: it leads straight on at the angle at
/// which the chain ends. Found by halving, since height grows with the arc from the catenary's lowest point.
fn hang_with_rope(rode: &Rode, height_m: f64, a: f64) -> (f64, f64) {
    let rope = |slope: f64| {
        let hypotenuse = (1.0 + slope * slope).sqrt();
        (rode.rope_m * slope / hypotenuse, rode.rope_m / hypotenuse)
    };
    let height_at = |up: f64| {
        let (top, bottom) = (up / a, (up - up.min(rode.chain_m)) / a);
        a * ((1.0 + top * top).sqrt() - (1.0 + bottom * bottom).sqrt()) + rope(top).0
    };
    let (mut low, mut high) = (0.0, height_m.max(1.0));
    while height_at(high) < height_m && high < 1e6 {
        high *= 2.0;
    }
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if height_at(middle) < height_m {
            low = middle;
        } else {
            high = middle;
        }
    }
    let chain = high.min(rode.chain_m);
    let span = a * (asinh(high / a) - asinh((high - chain) / a)) + rope(high / a).1;
    (chain + rode.rope_m - span, chain)
}

/// The rode in the water, and the chain on the ground as a row of points from the anchor on.
///
/// Neighbours are at most `link_m` apart; nearer where chain lies in a heap. The chain keeps the shape in which it
/// was laid until a pull at its upper end overcomes its friction: a bend opens when the tension across it is more
/// than the ground holds, and slack runs out from the upper end. What hangs is laid down and picked up as the boat
/// comes and goes.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    rode: Rode,
    height_m: f64,
    loads: Loads,
    link_m: f64,
    lying: Vec<Local>,
    lifted_m: f64,
    /// Horizontal load at the bow, N.
    pub(super) load_n: f64,
    /// The pull on the bow, N, over the ground.
    pub(super) pull: Local,
    /// The pull that reaches the anchor, N, over the ground.
    pub(super) at_anchor: Local,
}

impl Chain {
    /// A rode with its anchor just on the ground at `anchor`.
    pub(super) fn new(rode: Rode, height_m: f64, anchor: Local) -> Self {
        Self {
            loads: Loads::new(&rode, height_m),
            rode,
            height_m,
            link_m: 1.5,
            lying: vec![anchor],
            lifted_m: 0.0,
            load_n: 0.0,
            pull: Local::default(),
            at_anchor: Local::default(),
        }
    }

    /// Where the anchor is.
    pub(super) fn anchor(&self) -> Local {
        self.lying[0]
    }

    /// The anchor comes home by `by_m` towards the bow at `bow`. It moves only when the chain is stretched all the way,
    /// so all that lies slides along itself as far.
    pub(super) fn slide(&mut self, bow: Local, by_m: f64) {
        for i in 0..self.lying.len() {
            let next = self.lying.get(i + 1).copied().unwrap_or(bow);
            if let Some(along) = unit(next - self.lying[i]) {
                self.lying[i] = self.lying[i] + along.scaled(by_m);
            }
        }
    }

    /// Length of chain that lies on the ground, m.
    pub(super) fn grounded_m(&self) -> f64 {
        (self.rode.chain_m - self.lifted_m).max(0.0)
    }

    /// New length out or new height of the roller above the ground; both in metres.
    pub(super) fn set(&mut self, chain_m: f64, rope_m: f64, height_m: f64) {
        let same_length = chain_m == self.rode.chain_m && rope_m == self.rode.rope_m;
        // 2 cm of tide change the load by less than the gusts do.
        if same_length && (height_m - self.height_m).abs() < 0.02 {
            return;
        }
        self.rode.chain_m = chain_m;
        self.rode.rope_m = rope_m;
        self.height_m = height_m;
        self.loads = Loads::new(&self.rode, height_m);
        let most = 1 + (((chain_m - height_m).max(0.0)) / self.link_m) as usize;
        self.lying.truncate(most.max(1));
    }

    /// The bow is at `bow`: pick up, lay down, and drag what the pull can drag, for `dt` seconds.
    pub(super) fn step(&mut self, bow: Local, dt: f64) {
        let hang = self.pick_up_and_lay(bow);
        self.load_n = hang.load_n;
        self.lifted_m = hang.lifted_m;
        let last = self.lying.len() - 1;
        self.pull = unit(self.lying[last] - bow).map_or(Local::default(), |d| d.scaled(hang.load_n));
        self.drag(bow, hang, dt);
    }

    fn free_chain_m(&self) -> f64 {
        self.rode.chain_m - (self.lying.len() - 1) as f64 * self.link_m
    }

    fn hang(&self, bow: Local) -> Hang {
        let last = self.lying[self.lying.len() - 1];
        self.loads.at(self.free_chain_m() + self.rode.rope_m - length(bow - last))
    }

    fn pick_up_and_lay(&mut self, bow: Local) -> Hang {
        let mut hang = self.hang(bow);
        for _ in 0..6 {
            let grounded = self.free_chain_m() - hang.lifted_m;
            if grounded < 0.0 && self.lying.len() > 1 {
                self.lying.pop();
            } else if grounded > 1.3 * self.link_m {
                let last = self.lying[self.lying.len() - 1];
                let away = bow - last;
                let next = unit(away).map_or(last, |d| last + d.scaled(length(away).min(self.link_m)));
                self.lying.push(next);
            } else {
                break;
            }
            hang = self.hang(bow);
        }
        hang
    }

    /// Works from the upper end of what lies towards the anchor, with the tension that is left at each point.
    fn drag(&mut self, bow: Local, hang: Hang, dt: f64) {
        let friction = FRICTION * self.rode.weight * self.link_m;
        let straight = (self.free_chain_m() - hang.lifted_m).max(0.0);
        let mut tension = hang.load_n - FRICTION * self.rode.weight * straight;
        // No point may run so far in one step that the load falls below what moved it.
        let most = |excess: f64| (CRAWL_MPS * dt).min(0.5 * excess / hang.stiffness.max(50.0));
        let last = self.lying.len() - 1;
        let mut outward = unit(bow - self.lying[last]);
        for i in (1..=last).rev() {
            let Some(out) = outward else {
                tension = 0.0;
                break;
            };
            if tension <= 0.0 {
                break;
            }
            let here = self.lying[i];
            let inboard = self.lying[i - 1] - here;
            let apart = length(inboard);
            if apart < self.link_m - TAUT_M {
                // Slack: this point is pulled outward alone, and nothing reaches those behind it.
                if tension > friction {
                    self.lying[i] = here + out.scaled(most(tension - friction).min(self.link_m - apart));
                }
                tension = 0.0;
                break;
            }
            let back = inboard.scaled(1.0 / apart);
            let across = out + back;
            let bend = length(across) * tension;
            if bend > friction {
                let moved = here + across.scaled(most(bend - friction) / length(across));
                let reach = moved - self.lying[i - 1];
                self.lying[i] = self.lying[i - 1] + reach.scaled((self.link_m / length(reach)).min(1.0));
            }
            tension -= friction;
            // The next point feels the pull only if the chain to this one is stretched.
            outward = unit(self.lying[i] - self.lying[i - 1]);
        }
        self.at_anchor = outward.map_or(Local::default(), |d| d.scaled(tension.max(0.0)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RODE: Rode = Rode { chain_m: 40.0, rope_m: 0.0, weight: 11.94, give: 0.0 };

    /// Against the rows of a table made with an independent mooring program (MoorPy 1.3.0; `tests/reference`):
    /// inextensible chain, partly on the ground or all lifted.
    #[test]
    fn a_hanging_chain_spans_what_an_independent_program_says() {
        let mut rows = 0;
        for line in include_str!("../../tests/reference/catenary.csv").lines().skip(1) {
            let field: Vec<&str> = line.split(',').collect();
            let number = |i: usize| field[i].parse::<f64>().unwrap();
            if field[1] != "chain" || !field[4].is_empty() || number(11) == 0.0 {
                continue;
            }
            let rode = Rode { chain_m: number(5), rope_m: 0.0, weight: number(3), give: 0.0 };
            let (slack, lifted) = hang(&rode, number(10), number(11));
            assert!((rode.chain_m - slack - number(12)).abs() < 1e-3, "{line}");
            assert!((lifted - number(14)).abs() < 1e-2, "{line}");
            rows += 1;
        }
        assert!(rows > 30, "{rows}");
    }

    /// Against the watch's own calculation, which knows the rope's weight: here the rope is weightless.
    #[test]
    fn rope_behind_chain_spans_what_the_watch_calculates() {
        use crate::watch::rode::{Line, Section, shape};
        use crate::watch::units::{Metres, Newtons};
        for (chain_m, rope_m, height_m, pull) in [
            (20.0, 30.0, 6.0, 150.0),
            (10.0, 40.0, 9.0, 800.0),
            (25.0, 25.0, 5.0, 3000.0),
            (8.0, 20.0, 4.0, 30.0),
        ] {
            let section = |length, weight| Section {
                length: Metres(length),
                weight_n_per_m: weight,
                stiffness_n: None,
            };
            let line = Line { chain: section(chain_m, 12.0), rope: Some(section(rope_m, 0.0)) };
            let reach = shape(&line, Metres(height_m), Newtons(pull)).unwrap().reach.0;
            let (slack, _) = hang(&Rode { chain_m, rope_m, weight: 12.0, give: 0.0 }, height_m, pull);
            assert!((chain_m + rope_m - slack - reach).abs() < 0.01, "{chain_m} {rope_m}: {slack} {reach}");
        }
    }

    #[test]
    fn heaped_chain_is_pulled_straight_and_then_bears() {
        let mut chain = Chain::new(RODE, 8.0, Local::default());
        // Let go from above: everything comes down in a heap.
        for _ in 0..40 {
            chain.step(Local::new(1.0, 0.0), 0.25);
        }
        assert!(chain.load_n < 5.0, "{}", chain.load_n);
        // Blown slowly back: the bow feels the load only when the heap has run out.
        let mut furthest = 0.0;
        for i in 0..4000 {
            let east = 1.0 + 0.01 * f64::from(i);
            chain.step(Local::new(east, 0.0), 0.25);
            if chain.load_n < 1000.0 {
                furthest = east;
            }
        }
        assert!((37.0..39.2).contains(&furthest), "{furthest}");
    }

    #[test]
    fn a_bight_across_the_wind_straightens_only_under_load() {
        let mut chain = Chain::new(RODE, 6.0, Local::default());
        // Laid to the north first, then the boat goes round to the east.
        for i in 0..1200 {
            chain.step(Local::new(0.0, 0.03 * f64::from(i)), 0.25);
        }
        for i in 0..1200 {
            let angle = std::f64::consts::FRAC_PI_2 * f64::from(i) / 1200.0;
            chain.step(super::super::exact::towards(angle).scaled(34.0), 0.25);
        }
        let (mut light, mut heavy) = (chain.clone(), chain);
        let lies = |chain: &mut Chain, load: f64| {
            // The bow goes where the load puts it.
            let mut east = 30.0;
            for _ in 0..8000 {
                chain.step(Local::new(east, 0.0), 0.25);
                east += 0.00002 * (load - chain.load_n).clamp(-500.0, 500.0);
            }
            east
        };
        let (light, heavy) = (lies(&mut light, 60.0), lies(&mut heavy, 1500.0));
        assert!(heavy > 38.5 && light < heavy - 1.5, "{light} {heavy}");
    }
}
