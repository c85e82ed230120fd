//! What has failed about the watch itself: instruments, sleep, sound, disk, power?

use super::facts::Facts;
use crate::watch::alert::machine::Condition;
use crate::watch::alert::{AlertKind, Priority};
use crate::watch::health::{Awake, Health, drained_words, lasts_the_night, space_words};
use crate::watch::input::{Charge, Device, Kept};
use crate::watch::latch::Lasting;
use crate::watch::tuning::{CLOCK_OFF, CLOCK_OFF_FOR, SENSOR_GONE};
use crate::watch::units::{Span, WatchTime};

/// How the devices about the watch stand, as they were last reported.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    /// When the watch did not run, until the crew has answered.
    gap: Option<Unwatched>,
    /// What is damaged of the ride's files, until the crew has answered.
    damage: Option<String>,
    /// The machine that took the watch over, and after how long a silence, until the crew has answered.
    taken_over: Option<(String, Span)>,
    /// How far the computer's clock is behind the watch's time.
    clock_behind: Option<Span>,
    /// The receiver's time differs from the watch's.
    clock_off: Lasting,
    power_low: Option<u8>,
    /// Why others are not told of alerts.
    hook_failed: Option<String>,
    /// What is known of the computer.
    health: Health,
}

/// Stretches in which the watch did not run.
#[derive(Clone, Copy, Debug)]
struct Unwatched {
    /// The last of them.
    last: Span,
    /// When it ended.
    until: WatchTime,
    /// How long they were in all, and how many.
    in_all: Span,
    count: u32,
}

impl Memory {
    /// The watch did not run in that time.
    pub fn gap(&mut self, from: WatchTime, to: WatchTime) {
        let last = to.since(from);
        let (before, count) = self.gap.map_or((Span::ZERO, 0), |gap| (gap.in_all, gap.count));
        self.gap = Some(Unwatched { last, until: to, in_all: before + last, count: count + 1 });
    }

    /// Files of the ride were damaged.
    pub fn damaged(&mut self, what: String) {
        self.damage = Some(match self.damage.take() {
            Some(before) => format!("{before}; {what}"),
            None => what,
        });
    }

    /// The crew knows of the damage.
    pub fn damage_answered(&mut self) {
        self.damage = None;
    }

    /// A machine keeps the watch that did not keep it before. What the crew did itself it knows.
    pub fn taken_over(&mut self, at: WatchTime, kept: &Kept) {
        self.taken_over = kept.silent_since.map(|since| (kept.by.clone(), at.since(since)));
    }

    /// The crew knows who keeps the watch.
    pub fn take_over_answered(&mut self) {
        self.taken_over = None;
    }

    /// The end of a gap that the crew has not answered yet.
    pub fn gap_ended(&self) -> Option<WatchTime> {
        self.gap.map(|gap| gap.until)
    }

    /// The crew knows of the gap: that is all there is to it.
    pub fn gap_answered(&mut self) {
        self.gap = None;
    }

    /// What is known of the computer.
    pub fn health(&self) -> &Health {
        &self.health
    }

    /// A device came or went.
    pub fn device(&mut self, device: Device) {
        match device {
            Device::Sound { failed } => self.health.sound_failed = failed,
            Device::Loudspeaker { gone } => self.health.loudspeaker_gone = gone,
            Device::Unheard { why } => self.health.unheard = why,
            Device::Disk { failed } => self.health.disk_failed = failed,
            Device::Clock { behind } => self.clock_behind = behind,
            Device::Power { low_percent, charge } => {
                (self.power_low, self.health.power) = (low_percent, charge);
            }
            Device::Awake { awake } => self.health.awake = awake,
            Device::Space { space } => self.health.space = space,
            Device::ClockSet { by_network } => self.health.clock_set = by_network,
            Device::Hook { failed } => self.hook_failed = failed,
            Device::Heat { heat } => self.health.heat = heat,
            // It happens once, and is no fault of a device.
            Device::Rehearsal { .. } => {}
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
    let Some(gap) = memory.gap.filter(|_| facts.anchored()) else { return Condition::Absent };
    Condition::present(AlertKind::Gap, Priority::Warning, gap_words(memory, gap))
}

fn gap_words(memory: &Memory, gap: Unwatched) -> String {
    let Unwatched { last, in_all, count, .. } = gap;
    if last < Span::from_secs(1) && memory.clock_behind.is_some() {
        return "Nobody watched for a time that is not known: the computer's clock is behind the ride's log."
            .into();
    }
    if count > 1 {
        return format!(
            "Nobody watched for {in_all} in {count} stretches, the last of {last}: lid closed, power cut, crash or clock \
             jump."
        );
    }
    match last {
        short if short < Span::from_secs(1) => {
            "Nobody watched for a moment: the program was started anew.".to_owned()
        }
        gap => format!("Nobody watched for {gap}: lid closed, power cut, crash or clock jump."),
    }
}

/// The computer's clock is wrong, by the receiver's time or by the watch's own.
pub fn clock_wrong(memory: &mut Memory, facts: &Facts) -> Condition {
    let off = facts.clock_error.filter(|off| off.0.abs() > CLOCK_OFF.0 && facts.anchored());
    let lasting = memory.clock_off.note(facts.now, off.is_some());
    if let Some(off) = off.filter(|_| lasting.is_some_and(|span| span >= CLOCK_OFF_FOR)) {
        let way = if off > Span::ZERO { "behind" } else { "ahead of" };
        let what = format!(
            "The computer's clock is {} {way} the receiver's time. The tide is calculated by it.",
            Span(off.0.abs())
        );
        return Condition::present(AlertKind::ClockWrong, Priority::Warning, what);
    }
    let Some(behind) = memory.clock_behind.filter(|_| facts.anchored()) else { return Condition::Absent };
    let what = format!(
        "The computer's clock is {behind} behind the watch's time: it was put back, or lost its time. The watch goes on by \
         its own."
    );
    Condition::present(AlertKind::ClockWrong, Priority::Warning, what)
}

/// Files of the ride were damaged when it was taken up.
pub fn ride_damaged(memory: &Memory, facts: &Facts) -> Condition {
    let Some(what) = memory.damage.as_ref().filter(|_| facts.anchored()) else { return Condition::Absent };
    let what = format!("Damaged in the ride's files: {what}.");
    Condition::present(AlertKind::RideDamaged, Priority::Warning, what)
}

/// The machine that kept the watch fell silent, and another has taken it over.
pub fn taken_over(memory: &Memory, facts: &Facts) -> Condition {
    let Some((by, silent)) = memory.taken_over.as_ref().filter(|_| facts.anchored()) else {
        return Condition::Absent;
    };
    let what = format!(
        "The machine that kept the watch was silent for {silent}: {by} keeps it now, by its own feeds."
    );
    Condition::present(AlertKind::TakenOver, Priority::Alarm, what)
}

/// Alert sounds do not play.
pub fn sound_failed(memory: &Memory) -> Condition {
    let Some(why) = &memory.health.sound_failed else { return loudspeaker_gone(memory) };
    let what = format!("Alert sounds do not play: {why}. Only the bell and the screen will call you.");
    Condition::present(AlertKind::SoundFailed, Priority::Warning, what)
}

/// Who should be told elsewhere was not.
pub fn hook_failed(memory: &Memory) -> Condition {
    let Some(why) = &memory.hook_failed else { return Condition::Absent };
    let what = format!("Nobody elsewhere has heard of the last alert. {why}");
    Condition::present(AlertKind::HookFailed, Priority::Caution, what)
}

fn loudspeaker_gone(memory: &Memory) -> Condition {
    let Some(name) = &memory.health.loudspeaker_gone else { return Condition::Absent };
    let what = format!(
        "The loudspeaker \"{name}\" is gone: the default one plays instead, perhaps where nobody hears it."
    );
    Condition::present(AlertKind::SoundFailed, Priority::Caution, what)
}

/// The ride is not being written, or soon may not be.
pub fn disk_low(memory: &Memory) -> Condition {
    let Some(why) = &memory.health.disk_failed else { return disk_short(memory) };
    let what = format!("The ride is not being recorded: {why}. The watch goes on.");
    Condition::present(AlertKind::DiskLow, Priority::Warning, what)
}

fn disk_short(memory: &Memory) -> Condition {
    let Some(space) = memory.health.space.filter(|space| space.is_short()) else { return Condition::Absent };
    let what = format!("The disk may not hold the night: {}.", space_words(space));
    Condition::present(AlertKind::DiskLow, Priority::Caution, what)
}

/// The computer may fall asleep while an anchor is down, and the watch with it.
pub fn may_sleep(memory: &Memory, facts: &Facts) -> Condition {
    let Awake::Refused { why } = &memory.health.awake else { return Condition::Absent };
    if !facts.anchored() {
        return Condition::Absent;
    }
    let what = format!("The computer may fall asleep, and the watch with it: {why}.");
    Condition::present(AlertKind::MaySleep, Priority::Caution, what)
}

/// The computer's battery runs low, or will not last the night.
pub fn power_low(memory: &Memory, facts: &Facts) -> Condition {
    let Some(percent) = memory.power_low else { return will_not_last(memory, facts) };
    let what = format!("The computer's battery is at {percent} %. The watch ends with it.");
    Condition::present(AlertKind::PowerLow, Priority::Warning, what)
}

/// Long before it is low: while it is evening, and a cable can still be found.
fn will_not_last(memory: &Memory, facts: &Facts) -> Condition {
    let doubted = |charge: &Charge| facts.anchored() && !lasts_the_night(*charge, facts.night_left);
    let Some(charge) = memory.health.power.filter(doubted) else { return Condition::Absent };
    let what = format!(
        "The computer's battery will not last the night: {}. The watch ends with it.",
        drained_words(charge, facts.night_left)
    );
    Condition::present(AlertKind::PowerLow, Priority::Caution, what)
}

#[cfg(test)]
mod tests {
    use super::super::facts::tests::{Calm, second};
    use super::*;
    use crate::watch::health::Space;

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
        assert!(reason.what.contains("watched for 3 min in 2 stretches, the last of 2 min"), "{reason:?}");
        memory.gap_answered();
        assert_eq!(gap(&memory, &calm.facts(second(230))), Condition::Absent);
    }

    #[test]
    fn a_clock_that_differs_from_the_receivers_time_or_the_watchs_is_reported() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut facts = calm.facts(second(0));
        facts.clock_error = Some(Span::from_mins(20));
        let after = CLOCK_OFF_FOR.0 / 1000;
        let found: Vec<bool> = (0..after + 3)
            .map(|s| {
                facts.now = second(s);
                clock_wrong(&mut memory, &facts).is_present()
            })
            .collect();
        assert_eq!(found.iter().position(|found| *found), usize::try_from(after).ok());
        facts.clock_error = Some(Span::from_secs(-2));
        assert_eq!(clock_wrong(&mut memory, &facts), Condition::Absent);
        memory.device(Device::Clock { behind: Some(Span::from_mins(20)) });
        let Condition::Present { reason, .. } = clock_wrong(&mut memory, &facts) else { panic!() };
        assert!(reason.what.contains("20 min behind the watch's time"), "{reason:?}");
        memory.gap(second(0), second(0));
        let Condition::Present { reason, .. } = gap(&memory, &facts) else { panic!() };
        assert!(reason.what.contains("not known"), "{reason:?}");
    }

    #[test]
    fn damage_stands_until_it_is_answered() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        memory.damaged("journal.jsonl, line 4".into());
        assert!(ride_damaged(&memory, &calm.facts(second(9))).is_present());
        memory.damage_answered();
        assert!(!ride_damaged(&memory, &calm.facts(second(9))).is_present());
    }

    #[test]
    fn a_device_that_failed_is_told_until_it_works_again() {
        let mut memory = Memory::default();
        memory.device(Device::Sound { failed: Some("no card".into()) });
        memory.device(Device::Disk { failed: Some("full".into()) });
        memory.device(Device::Power { low_percent: Some(9), charge: None });
        memory.device(Device::Hook { failed: Some("The alert hook failed.".into()) });
        let (calm, at) = (Calm::default(), second(9));
        let found = |memory: &Memory| {
            let power = power_low(memory, &calm.facts(at));
            [sound_failed(memory), disk_low(memory), power, hook_failed(memory)]
                .map(|found| found.is_present())
        };
        assert_eq!(found(&memory), [true; 4]);
        memory.device(Device::Loudspeaker { gone: Some("cockpit".into()) });
        memory.device(Device::Sound { failed: None });
        assert!(matches!(sound_failed(&memory), Condition::Present { priority: Priority::Caution, .. }));
        memory.device(Device::Loudspeaker { gone: None });
        memory.device(Device::Disk { failed: None });
        memory.device(Device::Power { low_percent: None, charge: None });
        memory.device(Device::Hook { failed: None });
        assert_eq!(found(&memory), [false; 4]);
    }

    #[test]
    fn a_battery_that_ends_before_the_night_is_a_silent_caution_until_it_is_low() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let charge = Charge { percent: 64, is_drained: true, lasts: Some(Span::from_mins(180)) };
        memory.device(Device::Power { low_percent: None, charge: Some(charge) });
        let mut facts = calm.facts(second(0));
        assert_eq!(power_low(&memory, &facts), Condition::Absent, "by day");
        facts.night_left = Some(Span::from_mins(7 * 60));
        let Condition::Present { priority, reason, .. } = power_low(&memory, &facts) else { panic!() };
        assert_eq!(priority, Priority::Caution);
        assert!(
            reason.what.contains("will not last the night") && reason.what.contains("64 %"),
            "{reason:?}"
        );
        memory.device(Device::Power { low_percent: Some(19), charge: Some(charge) });
        assert_eq!(power_low(&memory, &facts).priority(), Some(Priority::Warning));
    }

    #[test]
    fn a_computer_that_may_sleep_is_a_caution_only_while_an_anchor_is_down() {
        let (calm, mut memory) = (Calm::default(), Memory::default());
        let mut facts = calm.facts(second(0));
        memory.device(Device::Awake { awake: Awake::Refused { why: "the lid".into() } });
        assert_eq!(may_sleep(&memory, &facts).priority(), Some(Priority::Caution));
        facts.stage = crate::watch::snapshot::Stage::NotSet;
        assert_eq!(may_sleep(&memory, &facts), Condition::Absent);
        memory.device(Device::Awake { awake: Awake::Kept });
        assert_eq!(may_sleep(&memory, &calm.facts(second(0))), Condition::Absent);
    }

    #[test]
    fn a_disk_too_small_for_the_night_is_a_caution_and_one_that_fails_a_warning() {
        let mut memory = Memory::default();
        memory.device(Device::Space { space: Some(Space { free_mb: 3, night_mb: 100 }) });
        assert_eq!(disk_low(&memory).priority(), Some(Priority::Caution));
        memory.device(Device::Disk { failed: Some("full".into()) });
        assert_eq!(disk_low(&memory).priority(), Some(Priority::Warning));
    }
}
