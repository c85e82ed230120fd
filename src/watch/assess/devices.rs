//! What has failed about the watch itself: instruments, sleep, sound, disk, power?

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::input::Device;
use crate::watch::tuning::SENSOR_GONE;
use crate::watch::units::{Span, WatchTime};

/// How the devices about the watch stand, as they were last reported.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// From when to when the watch did not run, until the crew has answered.
    gap: Option<(WatchTime, WatchTime)>,
    sound_failed: Option<String>,
    disk_failed: Option<String>,
    power_low: Option<u8>,
}

impl Memory {
    /// The watch did not run in that time.
    pub fn gap(&mut self, from: WatchTime, to: WatchTime) {
        self.gap = Some((self.gap.map_or(from, |(earlier, _)| earlier), to));
    }

    /// The end of a gap that the crew has not answered yet.
    pub fn gap_ended(&self) -> Option<WatchTime> {
        self.gap.map(|(_, to)| to)
    }

    /// The crew knows of the gap: that is all there is to it.
    pub fn gap_answered(&mut self) {
        self.gap = None;
    }

    /// A device came or went.
    pub fn device(&mut self, device: Device) {
        match device {
            Device::Sound { failed } => self.sound_failed = failed,
            Device::Disk { failed } => self.disk_failed = failed,
            Device::Power { low_percent } => self.power_low = low_percent,
        }
    }
}

/// A heading sensor that was there is gone.
pub fn heading_lost(facts: &Facts) -> Condition {
    silent(facts, facts.silent.heading, AlertKind::HeadingLost, |gone| {
        format!("No heading for {gone}. Drag is judged with less power.")
    })
}

/// A wind sensor that was there is gone.
pub fn wind_lost(facts: &Facts) -> Condition {
    silent(facts, facts.silent.wind, AlertKind::WindLost, |gone| {
        format!("No wind for {gone}. Wind shift and strong wind raise no alert.")
    })
}

/// A sounder that was there is gone.
pub fn depth_lost(facts: &Facts) -> Condition {
    silent(facts, facts.silent.depth, AlertKind::DepthLost, |gone| {
        format!("No depth for {gone}. Shallow water raises no alert.")
    })
}

fn silent(facts: &Facts, gone: Option<Span>, kind: AlertKind, words: fn(Span) -> String) -> Condition {
    match gone.filter(|gone| facts.anchored() && *gone >= SENSOR_GONE) {
        Some(gone) => Condition::present(kind, Priority::Caution, words(gone)),
        None => Condition::Absent,
    }
}

/// The watch itself was asleep.
pub fn gap(memory: &Memory, facts: &Facts) -> Condition {
    let Some((from, to)) = memory.gap.filter(|_| facts.anchored()) else { return Condition::Absent };
    let what = match to.since(from) {
        short if short < Span::from_secs(1) => {
            "Nobody watched for a moment: the program was started anew.".to_owned()
        }
        gap => format!("Nobody watched for {gap}: lid closed, power cut, crash or clock jump."),
    };
    Condition::present(AlertKind::Gap, Priority::Warning, what)
}

/// Alert sounds do not play.
pub fn sound_failed(memory: &Memory) -> Condition {
    let Some(why) = &memory.sound_failed else { return Condition::Absent };
    let what = format!("Alert sounds do not play: {why}. Only the bell and the screen will call you.");
    Condition::present(AlertKind::SoundFailed, Priority::Warning, what)
}

/// The ride is not being written.
pub fn disk_low(memory: &Memory) -> Condition {
    let Some(why) = &memory.disk_failed else { return Condition::Absent };
    let what = format!("The ride is not being recorded: {why}. The watch goes on.");
    Condition::present(AlertKind::DiskLow, Priority::Warning, what)
}

/// The computer's battery runs low.
pub fn power_low(memory: &Memory) -> Condition {
    let Some(percent) = memory.power_low else { return Condition::Absent };
    let what = format!("The computer's battery is at {percent} %. The watch ends with it.");
    Condition::present(AlertKind::PowerLow, Priority::Warning, what)
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;

    #[test]
    fn an_instrument_is_missed_after_half_a_minute_and_only_at_anchor() {
        let calm = Calm::default();
        let mut facts = calm.facts(second(0));
        facts.silent.depth = Some(Span::from_secs(29));
        assert_eq!(depth_lost(&facts), Condition::Absent);
        facts.silent.depth = Some(Span::from_secs(30));
        assert_eq!(depth_lost(&facts).priority(), Some(Priority::Caution));
        assert_eq!(heading_lost(&facts), Condition::Absent);
        facts.stage = crate::watch::snapshot::Stage::NotSet;
        assert_eq!(depth_lost(&facts), Condition::Absent);
    }

    #[test]
    fn a_gap_stands_until_it_is_answered_and_grows_with_the_next() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        memory.gap(second(0), second(60));
        memory.gap(second(100), second(220));
        let Condition::Present { reason, .. } = gap(&memory, &calm.facts(second(230))) else { panic!() };
        assert!(reason.what.contains("watched for 3 min"), "{reason:?}");
        memory.gap_answered();
        assert_eq!(gap(&memory, &calm.facts(second(230))), Condition::Absent);
    }

    #[test]
    fn a_device_that_failed_is_told_until_it_works_again() {
        let mut memory = Memory::default();
        memory.device(Device::Sound { failed: Some("no card".into()) });
        memory.device(Device::Disk { failed: Some("full".into()) });
        memory.device(Device::Power { low_percent: Some(9) });
        let found = |memory: &Memory| {
            [sound_failed(memory), disk_low(memory), power_low(memory)].map(|found| found.is_present())
        };
        assert_eq!(found(&memory), [true; 3]);
        memory.device(Device::Sound { failed: None });
        memory.device(Device::Disk { failed: None });
        memory.device(Device::Power { low_percent: None });
        assert_eq!(found(&memory), [false; 3]);
    }
}
