//! How long a catenary takes, and whether the solver ever fails: `cargo bench --bench rode`.
//!
//! The grid is a check rather than a measurement: a million rodes, slack to taut, each of which must close on the bow's
//! height to a nanometre per metre.

use divan::{Bencher, black_box};
use nightrode::watch::boat::Tackle;
use nightrode::watch::rode::{Fibre, Line, Locker, chain, needed, points, pull_at, rope, shape, thresholds};
use nightrode::watch::units::{Metres, Newtons};

fn main() {
    let worst = grid_of_a_million();
    println!("a million rodes solved; worst miss of the bow's height {worst:.1e} of it");
    assert!(worst < 1e-9, "the solver failed to converge");
    divan::main();
}

fn chain_only() -> Line {
    Line { chain: chain(8.0, Metres(40.0)).expect("a yacht's chain"), rope: None }
}

fn chain_and_rope() -> Line {
    let warp = rope(Fibre::Nylon, 14.0, Metres(30.0)).expect("a yacht's warp");
    Line { chain: chain(8.0, Metres(20.0)).expect("a yacht's chain"), rope: Some(warp) }
}

/// Worst relative miss in height, summed again along the rode from the anchor up.
fn grid_of_a_million() -> f64 {
    let mut worst = 0.0_f64;
    let mut count = 0;
    for chain_mm in [6.0, 8.0, 10.0, 13.0] {
        for chain_step in 0..10 {
            for rope_step in 0..10 {
                let section = rope(Fibre::Nylon, 8.0 + chain_mm, Metres(12.0 * f64::from(rope_step)));
                let line = Line {
                    chain: chain(chain_mm, Metres(0.5 + 12.0 * f64::from(chain_step))).expect("in range"),
                    rope: (rope_step > 0).then(|| section.expect("in range")),
                };
                for height_step in 0..50 {
                    // From forty times to 1.001 times the height.
                    let share = 0.025 * 39.96_f64.powf(f64::from(height_step) / 49.0);
                    let height = Metres((line.veered().0 * share).max(0.0125));
                    for pull_step in 0..50 {
                        let pull = 10.0_f64.powf(-4.0 + 9.0 * f64::from(pull_step) / 49.0);
                        let drawn = points(&line, height, Newtons(pull), 2).expect("a rode that reaches");
                        worst = worst.max((drawn[1].1 / height.0 - 1.0).abs());
                        count += 1;
                    }
                }
            }
        }
    }
    assert_eq!(count, 1_000_000);
    worst
}

/// Slack, partly lifted, lifted, taut.
const PULLS_N: [f64; 4] = [5.0, 300.0, 1500.0, 8000.0];

#[divan::bench(args = PULLS_N)]
fn shape_of_chain(bencher: Bencher, pull: f64) {
    let line = chain_only();
    bencher.bench(|| shape(black_box(&line), black_box(Metres(8.0)), black_box(Newtons(pull))));
}

#[divan::bench(args = PULLS_N)]
fn shape_of_chain_and_rope(bencher: Bencher, pull: f64) {
    let line = chain_and_rope();
    bencher.bench(|| shape(black_box(&line), black_box(Metres(8.0)), black_box(Newtons(pull))));
}

#[divan::bench(args = PULLS_N)]
fn pull_from_reach(bencher: Bencher, pull: f64) {
    let line = chain_and_rope();
    let reach = shape(&line, Metres(8.0), Newtons(pull)).expect("a rode that reaches").reach;
    bencher.bench(|| pull_at(black_box(&line), black_box(Metres(8.0)), black_box(reach)));
}

#[divan::bench]
fn thresholds_of_chain(bencher: Bencher) {
    let line = chain_only();
    bencher.bench(|| thresholds(black_box(&line), black_box(Metres(8.0))));
}

#[divan::bench]
fn length_needed(bencher: Bencher) {
    let locker = Locker::of(&Tackle::default()).expect("the default tackle");
    bencher.bench(|| needed(black_box(&locker), black_box(Metres(8.0)), black_box(Newtons(600.0)), 0.0));
}

#[divan::bench]
fn forty_points_to_draw(bencher: Bencher) {
    let line = chain_and_rope();
    bencher.bench(|| points(black_box(&line), black_box(Metres(8.0)), black_box(Newtons(300.0)), 40));
}
