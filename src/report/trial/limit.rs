//! How early could anybody know? The limit that no test can pass, by the fix's error.
//!
//! Errors of fixes last for minutes: seconds in between add nothing new. Taken once in that time they are independent
//! samples, and for such the quickest test of all is known: Page's CUSUM (Lorden 1971; Moustakides 1986). Its exact
//! delay is tabulated in `tests/reference/cusum_limit.csv`; here the rows of one false alarm in 10,000 samples, about
//! one in a hundred nights of twelve hours where errors last six and a half minutes.
//!
//! The limit is one for slow movement. What moves within less than the errors' memory shows as a jump that errors do
//! not make, and can be seen earlier.

use crate::watch::geo::Local;
use crate::watch::units::{Metres, Span};

/// Mean number of samples between two false alarms.
pub const SAMPLES_BETWEEN_FALSE: f64 = 10_000.0;

/// Shift in standard deviations, and mean delay in samples of the optimal test.
///
/// Source: exact solution of Page's integral equation, `tests/reference/gen_cusum.py`.
const DELAYS: [(f64, f64); 8] = [
    (0.1, 605.1353),
    (0.25, 152.6269),
    (0.5, 49.1331),
    (0.75, 24.736),
    (1.0, 15.0937),
    (1.5, 7.4863),
    (2.0, 4.5611),
    (3.0, 2.32),
];

/// What can be told apart, in the middle of the nights of a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Standard deviation of the fix's error on one axis.
    pub sigma: Metres,
    /// How long the error lasts.
    pub memory: Span,
    /// Reach of the rode.
    pub reach: Metres,
}

impl Limit {
    /// The smallest step of the anchor that can be found in this time on average; `None` where that is less than the
    /// table knows.
    #[must_use]
    pub fn step_found_within(&self, time: Span) -> Option<Metres> {
        let samples = time.seconds() / self.memory.seconds();
        found_within(samples).map(|shift| Metres(shift * self.sigma.0))
    }

    /// How far an anchor that ploughs at this rate has moved when it can be found.
    #[must_use]
    pub fn plough_found_at(&self, m_per_min: f64) -> Metres {
        let path = (0..).map(|minute| f64::from(minute) * m_per_min);
        let minute = Span::from_mins(1);
        Metres(first_found(path, minute, self.sigma.0, self.memory).map_or(f64::NAN, |(moved, _)| moved))
    }

    /// What a rode entered wrong by this share hides when she turns about: twice the error of the reach.
    #[must_use]
    pub fn hidden_by_rode(&self, share: f64) -> Metres {
        self.reach * (2.0 * share)
    }
}

/// Mean delay of the optimal test, in samples, for a shift in standard deviations. Beyond the table the information
/// that it needs (delay × shift² / 2) is taken to stay the same.
fn delay(shift: f64) -> f64 {
    let with_information_of = |(at, delay): (f64, f64)| delay * (at / shift).powi(2);
    let (first, last) = (DELAYS[0], DELAYS[DELAYS.len() - 1]);
    if shift <= first.0 {
        return with_information_of(first);
    }
    DELAYS
        .windows(2)
        .find(|pair| shift <= pair[1].0)
        .map_or(with_information_of(last), |pair| power_law(pair[0], pair[1], shift))
}

/// The shift, in standard deviations, that is found within so many samples; `None` for fewer than the table knows.
#[must_use]
pub fn found_within(samples: f64) -> Option<f64> {
    let (first, last) = (DELAYS[0], DELAYS[DELAYS.len() - 1]);
    if samples < last.1 {
        return None;
    }
    if samples >= first.1 {
        return Some(first.0 * (first.1 / samples).sqrt());
    }
    let turned = |(shift, delay): (f64, f64)| (delay, shift);
    let pair = DELAYS.windows(2).find(|pair| samples >= pair[1].1)?;
    Some(power_law(turned(pair[0]), turned(pair[1]), samples))
}

/// Between two points as a straight line on logarithmic scales.
fn power_law(a: (f64, f64), b: (f64, f64), x: f64) -> f64 {
    let share = (x / a.0).ln() / (b.0 / a.0).ln();
    a.1 * (b.1 / a.1).powf(share)
}

/// How far the anchor had moved when the best test could have found it. `moved` is its way from the first movement on,
/// one value every `step`; the test knows that way beforehand, which no real one does. `None` if it could not be found
/// by the end, or earlier than the error lasts: then this limit says nothing.
#[must_use]
pub fn path_limit(moved: &[f64], step: Span, sigma: Metres, memory: Span) -> Option<Metres> {
    let (found_m, after) = first_found(moved.iter().copied(), step, sigma.0, memory)?;
    (after >= memory).then_some(Metres(found_m))
}

/// Where a way of the anchor can first be found, and when: a shift that changes counts by its mean square, since
/// information adds up so.
fn first_found(
    moved: impl Iterator<Item = f64>,
    step: Span,
    sigma_m: f64,
    memory: Span,
) -> Option<(f64, Span)> {
    let samples_a_step = step.seconds() / memory.seconds();
    let mut squares = 0.0;
    for (count, moved_m) in (1_i64..).zip(moved) {
        squares += (moved_m / sigma_m).powi(2);
        let shift = (squares / count as f64).sqrt();
        if shift > 0.0 && count as f64 * samples_a_step >= delay(shift) {
            return Some((moved_m, Span(step.0 * count)));
        }
    }
    None
}

/// Standard deviation of errors on one axis, their mean taken off, and how long they last: the lag at which their
/// autocorrelation falls below 1/e. `errors` are `step` apart; `None` of fewer than ten, or of errors that never change.
#[must_use]
pub fn fix_error(errors: &[Local], step: Span) -> Option<(Metres, Span)> {
    if errors.len() < 10 {
        return None;
    }
    let count = errors.len() as f64;
    let mean = errors.iter().fold(Local::default(), |sum, e| sum + *e).scaled(1.0 / count);
    let off: Vec<Local> = errors.iter().map(|e| *e - mean).collect();
    let power = off.iter().map(|e| e.dot(*e)).sum::<f64>() / count;
    if power <= 0.0 {
        return None;
    }
    let together = |lag: usize| {
        let pairs = off.iter().zip(&off[lag..]);
        pairs.map(|(a, b)| a.dot(*b)).sum::<f64>() / (off.len() - lag) as f64
    };
    let lag = (1..off.len()).find(|lag| together(*lag) < power / std::f64::consts::E)?;
    Some((Metres((power / 2.0).sqrt()), Span(step.0 * lag as i64)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_delays_are_those_of_the_reference_table() {
        let table = include_str!("../../../tests/reference/cusum_limit.csv");
        let rows = table.lines().skip(1).map(|line| {
            let fields: Vec<f64> = line.split(',').map_while(|field| field.parse().ok()).collect();
            (fields[0], fields[1], fields[3])
        });
        let tabulated: Vec<(f64, f64)> = rows
            .filter(|row| row.1 == SAMPLES_BETWEEN_FALSE)
            .map(|(shift, _, delay)| (shift, delay))
            .collect();
        assert_eq!(tabulated.len(), DELAYS.len());
        for ((shift, delay), ours) in tabulated.iter().zip(DELAYS) {
            assert!(*shift == ours.0 && (delay - ours.1).abs() < 1e-3, "{shift} {delay} {ours:?}");
        }
    }

    #[test]
    fn shift_and_delay_are_each_others_inverse() {
        for shift in [0.12, 0.3, 0.5, 0.9, 1.7, 2.9] {
            let back = found_within(delay(shift)).unwrap();
            assert!((back / shift - 1.0).abs() < 1e-9, "{shift} {back}");
        }
        assert_eq!(found_within(1.0), None);
    }

    /// A first-order estimate of the same (Lorden's `2 ln ARL / shift²`, summed over a ramp): 6.4 m.
    #[test]
    fn a_slow_plough_is_found_where_first_order_theory_says() {
        let limit = Limit { sigma: Metres(1.9), memory: Span::from_secs(390), reach: Metres(35.0) };
        let found = limit.plough_found_at(0.2);
        assert!((found.0 - 6.4).abs() < 0.3, "{found:?}");
        assert!(limit.plough_found_at(0.5) > found);
        assert!((limit.hidden_by_rode(0.03).0 - 2.1).abs() < 1e-9);
    }

    #[test]
    fn a_way_that_is_over_before_the_errors_change_has_no_limit() {
        let quick: Vec<f64> = (0..20).map(|i| f64::from(i) * 10.0).collect();
        let limit = path_limit(&quick, Span::from_secs(10), Metres(1.0), Span::from_secs(600));
        assert_eq!(limit, None);
    }

    #[test]
    fn errors_are_measured_with_their_memory() {
        // A square wave of ±2 m east that turns every ten steps.
        let errors: Vec<Local> =
            (0..400).map(|i| Local::new(if (i / 10) % 2 == 0 { 3.0 } else { -1.0 }, 5.0)).collect();
        let (sigma, memory) = fix_error(&errors, Span::from_secs(30)).unwrap();
        assert!((sigma.0 - 2.0 / 2.0_f64.sqrt()).abs() < 1e-9, "{sigma:?}");
        assert_eq!(memory, Span::from_secs(120));
        assert_eq!(fix_error(&[Local::default(); 50], Span::from_secs(30)), None);
    }
}
