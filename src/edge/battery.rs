//! Does the computer's battery last? Read once a minute, on a thread of its own: a driver that hangs must not hold the
//! watch up. A computer without a battery says nothing.

use std::io;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use starship_battery::{Manager, State};

use crate::watch::input::{Charge, Device};
use crate::watch::units::Span;

/// How often the battery is read.
const EVERY: Duration = Duration::from_secs(60);
/// A battery that is being drained is low from this charge down, percent: common practice, no source. At a tenth of its
/// charge an hour it leaves two hours to find power.
const LOW_PERCENT: f64 = 20.0;
/// It is no longer low from this charge up: a reading that wavers must not raise the alert again and again.
const WELL_PERCENT: f64 = 25.0;

/// A charge that has changed by so much is reported anew, percent.
const STEP_PERCENT: u8 = 5;
/// So is a time left that has changed by more than this share of itself.
const STEP_LASTS: f64 = 0.25;

/// How the battery stands, as it is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gauged {
    /// Charge, 0 to 100 percent of what it holds when full.
    pub percent: f64,
    /// The computer runs on it.
    pub is_drained: bool,
    /// How long it lasts at the power drawn now, seconds.
    pub lasts_s: Option<f64>,
}

impl Gauged {
    fn charge(self) -> Charge {
        let lasts = self.lasts_s.filter(|_| self.is_drained).map(|s| Span((s * 1000.0) as i64));
        Charge { percent: whole(self.percent), is_drained: self.is_drained, lasts }
    }
}

/// Where the state of the battery is read.
pub trait Gauge {
    /// How it stands; `None` where there is no battery or it cannot be read.
    fn read(&mut self) -> Option<Gauged>;
}

/// How this computer's battery stands now; `None` where there is none or it cannot be read.
#[must_use]
pub fn read_once() -> Option<Charge> {
    System.read().map(Gauged::charge)
}

/// The running thread. Dropping it ends the readings.
#[derive(Debug)]
pub struct BatteryWatch {
    /// The thread ends when this goes.
    _stop: mpsc::Sender<()>,
}

impl BatteryWatch {
    /// Begins to read this computer's battery. `report` is called from the thread when there is something to report.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn start(report: impl FnMut(Device) + Send + 'static) -> io::Result<Self> {
        let (stop, stopped) = mpsc::channel();
        let body = move || follow(&mut System, EVERY, &stopped, report);
        thread::Builder::new().name("battery".into()).spawn(body)?;
        Ok(Self { _stop: stop })
    }
}

/// Reads until stopped, and reports what changes.
fn follow(
    gauge: &mut impl Gauge,
    every: Duration,
    stopped: &mpsc::Receiver<()>,
    mut report: impl FnMut(Device),
) {
    let (mut low, mut told) = (None, None);
    loop {
        let read = gauge.read();
        let (now_low, charge) = (low_percent(read, low.is_some()), read.map(Gauged::charge));
        if now_low != low || is_news(charge, told) {
            (low, told) = (now_low, charge);
            report(Device::Power { low_percent: low, charge });
        }
        if stopped.recv_timeout(every) != Err(RecvTimeoutError::Timeout) {
            return;
        }
    }
}

/// The charge in whole percent where it is low, rounded down; `None` where all is well or nothing is known.
fn low_percent(read: Option<Gauged>, was_low: bool) -> Option<u8> {
    let limit = if was_low { WELL_PERCENT } else { LOW_PERCENT };
    Some(whole(read.filter(|read| read.is_drained && read.percent <= limit)?.percent))
}

fn whole(percent: f64) -> u8 {
    percent.clamp(0.0, 100.0).floor() as u8
}

/// Each report is a line of the ride's journal: what hardly changes is none.
fn is_news(now: Option<Charge>, told: Option<Charge>) -> bool {
    let (Some(now), Some(told)) = (now, told) else { return now != told };
    let lasts = match (now.lasts, told.lasts) {
        (Some(now), Some(told)) => (now.seconds() - told.seconds()).abs() > STEP_LASTS * told.seconds(),
        (now, told) => now.is_some() != told.is_some(),
    };
    now.is_drained != told.is_drained || now.percent.abs_diff(told.percent) >= STEP_PERCENT || lasts
}

/// The batteries of this computer, taken together.
struct System;

impl Gauge for System {
    fn read(&mut self) -> Option<Gauged> {
        let (mut held, mut full, mut drawn, mut is_drained) = (0.0, 0.0, 0.0, false);
        for battery in Manager::new().ok()?.batteries().ok()?.flatten() {
            held += f64::from(battery.energy().value);
            full += f64::from(battery.energy_full().value);
            if matches!(battery.state(), State::Discharging | State::Empty) {
                is_drained = true;
                drawn += f64::from(battery.energy_rate().value.abs());
            }
        }
        // Joules and watts. One that does not measure its power says nothing of time.
        let lasts_s = (drawn > 0.0).then(|| held / drawn);
        (full > 0.0).then(|| Gauged { percent: 100.0 * held / full, is_drained, lasts_s })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives one reading after another, and stops the thread's work after the last.
    struct Readings {
        left: Vec<Option<Gauged>>,
        stop: Option<mpsc::Sender<()>>,
    }

    impl Gauge for Readings {
        fn read(&mut self) -> Option<Gauged> {
            let charge = self.left.remove(0);
            if self.left.is_empty() {
                self.stop = None;
            }
            charge
        }
    }

    fn followed(left: Vec<Option<Gauged>>) -> Vec<(Option<u8>, Option<Charge>)> {
        let (stop, stopped) = mpsc::channel();
        let mut gauge = Readings { left, stop: Some(stop) };
        let mut heard = Vec::new();
        follow(&mut gauge, Duration::ZERO, &stopped, |device| {
            if let Device::Power { low_percent, charge } = device {
                heard.push((low_percent, charge));
            }
        });
        heard
    }

    /// Each charge that was reported as low, and each end of that.
    fn reported(readings: &[Option<(f64, bool)>]) -> Vec<Option<u8>> {
        let gauged = |(percent, is_drained)| Gauged { percent, is_drained, lasts_s: None };
        let left = readings.iter().map(|reading| reading.map(gauged)).collect();
        let mut lows = vec![None];
        lows.extend(followed(left).into_iter().map(|(low, _)| low));
        lows.dedup();
        lows.split_off(1)
    }

    #[test]
    fn what_is_left_is_reported_when_it_has_changed_and_not_each_minute() {
        let gauged =
            |(percent, hours)| Some(Gauged { percent, is_drained: true, lasts_s: Some(hours * 3600.0) });
        let readings = [(80.0, 6.0), (79.0, 5.8), (78.0, 5.9), (74.9, 5.5), (74.0, 3.0)];
        let told = followed(readings.map(gauged).to_vec());
        let percents: Vec<u8> =
            told.iter().filter_map(|(_, charge)| Some(charge.as_ref()?.percent)).collect();
        assert_eq!(percents, [80, 74, 74], "five percent, then a quarter of the time left");
    }

    #[test]
    fn a_battery_that_runs_low_is_reported_and_power_that_comes_back_too() {
        let readings = [(80.0, true), (20.9, true), (19.6, true), (19.2, true), (12.0, true), (12.5, false)];
        assert_eq!(reported(&readings.map(Some)), [Some(19), Some(12), None]);
    }

    #[test]
    fn a_charge_that_wavers_about_the_limit_is_reported_once() {
        let readings = [(20.0, true), (20.4, true), (20.0, true), (24.9, true), (26.0, true)];
        assert_eq!(reported(&readings.map(Some)), [Some(20), Some(24), None]);
    }

    #[test]
    fn a_computer_without_a_battery_says_nothing() {
        assert_eq!(reported(&[None, None, None]), []);
    }

    #[test]
    fn a_low_battery_that_is_being_charged_is_well() {
        assert_eq!(reported(&[Some((8.0, false)), None]), []);
    }
}
