//! The limit of theory that the trial's page prints, against tests that are run: Page's CUSUM, and one that does not
//! know the shift.
//!
//! Source of every number compared: `tests/reference/cusum_limit.csv`, `cusum_ar1.csv` and `glr_mc.csv` (made by
//! `tests/reference/gen_cusum.py`: Page's integral equation solved, and Monte-Carlo runs). Means of runs are held to
//! four of their standard errors, which chance passes once in 16 000.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::collections::VecDeque;
use std::fs;
use std::path::Path;

use nightrode::report::trial::{SAMPLES_BETWEEN_FALSE, fix_error, found_within};
use nightrode::sim::Dice;
use nightrode::watch::geo::Local;
use nightrode::watch::units::Span;

/// Rows of a table in `tests/reference`; what is blank is NaN.
fn table(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(name);
    let text = fs::read_to_string(path).unwrap();
    let rows = text.lines().skip(1);
    rows.map(|row| row.split(',').map(|field| field.parse().unwrap_or(f64::NAN)).collect()).collect()
}

/// Mean of many runs, and its standard error.
fn mean_of(runs: u32, mut run: impl FnMut() -> f64) -> (f64, f64) {
    let lengths: Vec<f64> = (0..runs).map(|_| run()).collect();
    let count = f64::from(runs);
    let mean = lengths.iter().sum::<f64>() / count;
    let square = lengths.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (count - 1.0);
    (mean, (square / count).sqrt())
}

/// Samples until Page's CUSUM, made for a shift `delta`, passes `threshold`.
fn cusum(delta: f64, threshold: f64, mut sample: impl FnMut() -> f64) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    while sum < threshold {
        sum = f64::max(0.0, sum + delta * sample() - delta * delta / 2.0);
        count += 1.0;
    }
    count
}

/// Gaussian noise of standard deviation 1 whose neighbours are correlated by `rho`.
fn remembering(dice: &mut Dice, rho: f64) -> impl FnMut() -> f64 {
    let mut last = dice.normal();
    move || {
        last = rho * last + (1.0 - rho * rho).sqrt() * dice.normal();
        last
    }
}

#[test]
fn a_cusum_that_is_run_takes_as_long_as_the_limit_says() {
    let mut dice = Dice::new(1, 1);
    let rows: Vec<Vec<f64>> =
        table("cusum_limit.csv").into_iter().filter(|row| row[1] == SAMPLES_BETWEEN_FALSE).collect();
    assert_eq!(rows.len(), 8);
    for row in rows {
        let (delta, threshold, limit) = (row[0], row[2], row[3]);
        let (delay, error) = mean_of(2000, || cusum(delta, threshold, || delta + dice.normal()));
        assert!((delay - limit).abs() < 4.0 * error, "shift {delta}: {delay} ± {error}, limit {limit}");
        let found = found_within(limit).unwrap();
        assert!((found / delta - 1.0).abs() < 1e-4, "shift {delta}: the page finds {found}");
    }
}

#[test]
fn a_cusum_that_is_run_cries_wolf_as_seldom_as_the_table_says() {
    let mut dice = Dice::new(2, 1);
    for row in table("cusum_limit.csv").into_iter().filter(|row| row[1] == 370.0) {
        let (delta, samples, threshold) = (row[0], row[1], row[2]);
        let (between, error) = mean_of(800, || cusum(delta, threshold, || dice.normal()));
        assert!((between - samples).abs() < 4.0 * error, "shift {delta}: {between} ± {error}");
    }
}

/// Mean samples until an alarm by Siegmund's approximation (1985, *Sequential Analysis*, ch. 2): within 2 % of the exact
/// delay for shifts up to 2 at 10,000 samples between false alarms, see its column in `cusum_limit.csv`.
fn siegmund(delta: f64, threshold: f64, mean: f64) -> f64 {
    let (drift, height) = (mean - delta / 2.0, threshold / delta + 1.166);
    ((-2.0 * drift * height).exp() + 2.0 * drift * height - 1.0) / (2.0 * drift * drift)
}

#[test]
fn between_the_rows_of_the_table_the_limit_follows_siegmund() {
    for delta in [0.13, 0.16, 0.2, 0.35, 0.42, 0.6, 0.85, 1.2, 1.35, 1.75] {
        let (mut low, mut high) = (0.1, 20.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            let too_often = siegmund(delta, middle, 0.0) < SAMPLES_BETWEEN_FALSE;
            (low, high) = if too_often { (middle, high) } else { (low, middle) };
        }
        let found = found_within(siegmund(delta, low, delta)).unwrap();
        assert!((found / delta - 1.0).abs() < 0.03, "shift {delta}: the page finds {found}");
    }
}

/// Samples until a test that does not know the shift calls: the greatest `sum²/2n` over the last `n` samples, for every
/// `n` of a window, passes `threshold`.
fn ignorant(threshold: f64, window: usize, mut sample: impl FnMut() -> f64) -> f64 {
    let mut last = VecDeque::new();
    let mut count = 0.0;
    loop {
        last.push_front(sample());
        last.truncate(window);
        count += 1.0;
        let mut sum = 0.0;
        let passes = last.iter().zip(1_u32..).any(|(x, n)| {
            sum += x;
            sum > 0.0 && sum * sum / (2.0 * f64::from(n)) >= threshold
        });
        if passes {
            return count;
        }
    }
}

#[test]
fn a_test_that_does_not_know_the_shift_is_never_quicker_than_the_limit() {
    let mut dice = Dice::new(3, 1);
    for row in table("glr_mc.csv") {
        let (delta, threshold, window) = (row[0], row[1], row[2] as usize);
        let (tabulated, its_error, limit) = (row[5], row[6], row[7]);
        let (delay, error) = mean_of(1000, || ignorant(threshold, window, || delta + dice.normal()));
        let both = error.hypot(its_error);
        assert!((delay - tabulated).abs() < 4.0 * both, "shift {delta}: {delay}, table {tabulated} ± {both}");
        assert!(delay > limit, "shift {delta}: {delay} samples, and none can do it in less than {limit}");
    }
}

#[test]
fn errors_with_a_memory_cry_wolf_as_often_as_the_table_says() {
    let mut dice = Dice::new(4, 1);
    for row in table("cusum_ar1.csv") {
        let (delta, threshold, rho, tabulated, its_error) = (row[0], row[2], row[3], row[4], row[5]);
        let (between, error) = mean_of(400, || cusum(delta, threshold, remembering(&mut dice, rho)));
        let both = error.hypot(its_error);
        assert!(
            (between - tabulated).abs() < 4.0 * both,
            "{delta} {rho}: {between}, table {tabulated} ± {both}"
        );
    }
}

/// A first-order process forgets by `rho` a step: its autocorrelation falls below 1/e after `-1/ln rho` steps.
#[test]
fn the_memory_of_errors_that_forget_at_a_known_pace_is_measured() {
    let step = Span::from_secs(30);
    for (rho, steps) in [(0.8, 4.48), (0.9, 9.49), (0.95, 19.50)] {
        let mut dice = Dice::new(5, 1);
        let mut east = remembering(&mut dice, rho);
        let mut dice = Dice::new(5, 2);
        let mut north = remembering(&mut dice, rho);
        let errors: Vec<Local> = (0..20_000).map(|_| Local::new(2.0 * east(), 2.0 * north())).collect();
        let (sigma, memory) = fix_error(&errors, step).unwrap();
        assert!((sigma.0 / 2.0 - 1.0).abs() < 0.1, "{rho}: {sigma:?}");
        let found = memory.seconds() / step.seconds();
        assert!((found - steps).abs() < 0.15 * steps + 1.0, "{rho}: {found} steps");
    }
}
