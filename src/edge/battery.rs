//! Does the computer's battery last? Read once a minute, on a thread of its own: a driver that hangs must not hold the
//! watch up. A computer without a battery says nothing.

use std::io;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use starship_battery::{Manager, State};

use crate::watch::input::Device;

/// How often the battery is read.
const EVERY: Duration = Duration::from_secs(60);
/// A battery that is being drained is low from this charge down, percent: common practice, no source. At a tenth of its
/// charge an hour it leaves two hours to find power.
const LOW_PERCENT: f64 = 20.0;
/// It is no longer low from this charge up: a reading that wavers must not raise the alert again and again.
const WELL_PERCENT: f64 = 25.0;

/// How the battery stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Charge {
    /// Charge, 0 to 100 percent of what it holds when full.
    pub percent: f64,
    /// The computer runs on it.
    pub is_drained: bool,
}

/// Where the state of the battery is read.
pub trait Gauge {
    /// How it stands; `None` where there is no battery or it cannot be read.
    fn read(&mut self) -> Option<Charge>;
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
    let mut reported = None;
    loop {
        let low = low_percent(gauge.read(), reported.is_some());
        if low != reported {
            reported = low;
            report(Device::Power { low_percent: low });
        }
        if stopped.recv_timeout(every) != Err(RecvTimeoutError::Timeout) {
            return;
        }
    }
}

/// The charge in whole percent where it is low, rounded down; `None` where all is well or nothing is known.
fn low_percent(charge: Option<Charge>, was_low: bool) -> Option<u8> {
    let limit = if was_low { WELL_PERCENT } else { LOW_PERCENT };
    let charge = charge.filter(|charge| charge.is_drained && charge.percent <= limit)?;
    Some(charge.percent.clamp(0.0, 100.0).floor() as u8)
}

/// The batteries of this computer, taken together.
struct System;

impl Gauge for System {
    fn read(&mut self) -> Option<Charge> {
        let (mut held, mut full, mut is_drained) = (0.0, 0.0, false);
        for battery in Manager::new().ok()?.batteries().ok()?.flatten() {
            held += f64::from(battery.energy().value);
            full += f64::from(battery.energy_full().value);
            is_drained |= matches!(battery.state(), State::Discharging | State::Empty);
        }
        (full > 0.0).then(|| Charge { percent: 100.0 * held / full, is_drained })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives one reading after another, and stops the thread's work after the last.
    struct Readings {
        left: Vec<Option<Charge>>,
        stop: Option<mpsc::Sender<()>>,
    }

    impl Gauge for Readings {
        fn read(&mut self) -> Option<Charge> {
            let charge = self.left.remove(0);
            if self.left.is_empty() {
                self.stop = None;
            }
            charge
        }
    }

    fn reported(readings: &[Option<(f64, bool)>]) -> Vec<Option<u8>> {
        let (stop, stopped) = mpsc::channel();
        let left = readings.iter().map(|r| r.map(|(percent, is_drained)| Charge { percent, is_drained }));
        let mut gauge = Readings { left: left.collect(), stop: Some(stop) };
        let mut heard = Vec::new();
        follow(&mut gauge, Duration::ZERO, &stopped, |device| {
            if let Device::Power { low_percent } = device {
                heard.push(low_percent);
            }
        });
        heard
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
