//! What is wrong now: each kind of alert has its condition, its patience and its words.
//!
//! The conditions are functions over one view of what is so ([`facts::Facts`]) and of what must be remembered from
//! second to second, by subject. What they have in common is in `watch/alert/kinds.rs`.

mod blind;
mod devices;
mod facts;
mod ground;
mod position;
mod rounds;
mod traffic;
mod wake;
mod watched;
mod water;
mod wind;

use facts::Facts;

use super::Watch;
use super::alert::machine::Condition;
use super::alert::{AlertKind, AlertState};
use super::geo::Local;
use super::health::Health;
use super::holding::HoldingState;
use super::input::{Device, Kept};
use super::latch::Latch;
use super::rode;
use super::snapshot::{Stage, Verdict};
use super::tuning::{LIFT_AGE, SETTING_MAX};
use super::units::{Knots, Metres, WatchTime};
use super::wake::{Wake, WakeFor};

/// What the conditions remember from second to second.
#[derive(Clone, Debug, Default)]
pub struct Assessor {
    position: position::Memory,
    wind: wind::Memory,
    water: water::Memory,
    closing: Latch,
    watched: watched::Memory,
    devices: devices::Memory,
    wake: Wake,
    /// The wind that the rode out is calculated to hold, and when that was calculated.
    lift_wind: Option<(WatchTime, Option<Knots>)>,
}

impl Assessor {
    /// What stays when a new ride begins: the state of the devices, and what the crew asked to be woken for.
    #[must_use]
    pub fn for_new_ride(&self) -> Self {
        Self { devices: self.devices.clone(), wake: self.wake.clone(), ..Self::default() }
    }

    /// The watch did not run in that time.
    pub fn gap(&mut self, from: WatchTime, to: WatchTime) {
        self.devices.gap(from, to);
        self.position.gap(to);
    }

    /// Whether a gap waits for the crew's answer.
    #[must_use]
    pub fn has_gap(&self) -> bool {
        self.devices.gap_ended().is_some()
    }

    /// Files of the ride were damaged.
    pub fn damaged(&mut self, what: String) {
        self.devices.damaged(what);
    }

    /// Another machine has taken the watch over.
    pub fn taken_over(&mut self, at: WatchTime, kept: &Kept) {
        self.devices.taken_over(at, kept);
    }

    /// When the watch could first have seen anything: when it began, or when the last gap ended.
    #[must_use]
    pub fn watching_since(&self, began: WatchTime) -> WatchTime {
        self.devices.gap_ended().unwrap_or(began)
    }

    /// The crew has seen it; a gap is over once it is known.
    pub fn acknowledged(&mut self, kind: Option<AlertKind>) {
        let is_meant = |one| kind.is_none_or(|kind| kind == one);
        if is_meant(AlertKind::Gap) {
            self.devices.gap_answered();
        }
        if is_meant(AlertKind::RideDamaged) {
            self.devices.damage_answered();
        }
        if is_meant(AlertKind::TakenOver) {
            self.devices.take_over_answered();
        }
        if is_meant(AlertKind::Wake) {
            self.wake.answered();
        }
        if is_meant(AlertKind::Drag) {
            self.position.has_left = false;
        }
    }

    /// The depth that was sounded at a place about the mark before, where it is `predicted` at the anchor now.
    #[must_use]
    pub fn usual_depth(&self, place: Local, predicted: Metres) -> Option<Metres> {
        self.water.usual_depth(place, predicted)
    }

    /// The greatest mean wind in which she was judged to hold; 0 before any.
    #[must_use]
    pub fn held_wind(&self) -> Knots {
        self.position.held_wind()
    }

    /// The crew asks to be woken.
    pub fn ask_to_wake(&mut self, at: WatchTime, asked: WakeFor) {
        self.wake.ask(at, asked);
    }

    /// What the crew is still to be woken for.
    #[must_use]
    pub fn wakes_for(&self) -> WakeFor {
        self.wake.asked()
    }

    /// She is plainly under way from an anchor that nobody marked: the judge has given it up.
    pub fn left(&mut self) {
        self.position.has_left = true;
    }

    /// What she lies to has changed: what was calculated of it is old.
    pub fn rode_changed(&mut self) {
        self.lift_wind = None;
    }

    /// What is known of the computer.
    #[must_use]
    pub fn health(&self) -> &Health {
        self.devices.health()
    }

    /// A device came or went.
    pub fn device(&mut self, device: Device) {
        self.devices.device(device);
    }

    /// Looks for one kind. A new kind has its condition here.
    fn find(&mut self, kind: AlertKind, facts: &Facts) -> Condition {
        match kind {
            AlertKind::Drag => position::drag(&self.position, facts),
            AlertKind::Creep => position::creep(facts),
            AlertKind::Outside => position::outside(&mut self.position, facts),
            AlertKind::FixLost => position::fix_lost(&mut self.position, facts),
            AlertKind::FixDoubtful => position::fix_doubtful(&mut self.position, facts),
            AlertKind::WindShift => wind::shift(&mut self.wind, facts),
            AlertKind::WindHigh => wind::high(&mut self.wind, facts),
            AlertKind::Shallow => water::shallow(&mut self.water, facts),
            AlertKind::Shoaling => water::shoaling(facts),
            AlertKind::ScopeShort => water::scope_short(facts),
            AlertKind::DepthOdd => water::depth_odd(&mut self.water, facts),
            AlertKind::TideEnds => water::tide_ends(facts),
            AlertKind::HeadingLost => devices::heading_lost(facts),
            AlertKind::WindLost => devices::wind_lost(facts),
            AlertKind::DepthLost => devices::depth_lost(facts),
            AlertKind::Closing => traffic::closing(&mut self.closing, facts),
            AlertKind::RoundDue => rounds::round_due(facts),
            AlertKind::LightDue => rounds::light_due(facts),
            AlertKind::Gap => devices::gap(&self.devices, facts),
            AlertKind::PowerLow => devices::power_low(&self.devices, facts),
            AlertKind::DiskLow => devices::disk_low(&self.devices),
            AlertKind::SoundFailed => devices::sound_failed(&self.devices),
            AlertKind::Unwatched => {
                let explained = self.position.explains(facts);
                watched::unwatched(&mut self.watched, facts, explained)
            }
            AlertKind::ClockWrong => devices::clock_wrong(&mut self.devices, facts),
            AlertKind::Wake => wake::wake(self.wake.reached()),
            AlertKind::NotAsForecast => wind::not_as_forecast(&mut self.wind, facts),
            AlertKind::HookFailed => devices::hook_failed(&self.devices),
            AlertKind::MaySleep => devices::may_sleep(&self.devices, facts),
            AlertKind::RideDamaged => devices::ride_damaged(&self.devices, facts),
            AlertKind::TakenOver => devices::taken_over(&self.devices, facts),
        }
    }
}

impl Watch {
    /// Looks at every kind of alert once.
    pub(super) fn assess(&mut self, now: WatchTime) {
        let mean = self.wind.direction(now, self.limits.wind_window);
        if self.ride.stage == Stage::BroughtUp {
            self.wind.settle_reference(mean);
        }
        let lifts = self.lift_wind(now);
        let check_says = self.check_says(now);
        let mut assessor = std::mem::take(&mut self.assessor);
        let watching_since = assessor.watching_since(self.began.unwrap_or(now));
        let facts = self.facts(now, watching_since, mean, lifts, check_says);
        assessor.position.second(&facts);
        let mean_wind = facts.wind.speeds.map(|speeds| speeds.mean);
        let turn = assessor.wake.asked().turn.then(|| facts.water.at_drop.last_turn(now)).flatten();
        assessor.wake.second(now, turn, mean_wind);
        let drags = self.alerts.get(AlertKind::Drag);
        let is_answered = drags.is_some_and(|alert| alert.state == AlertState::Acknowledged);
        let drags_on = assessor.position.drags_on(is_answered, &facts);
        let found = AlertKind::ALL.map(|kind| (kind, assessor.find(kind, &facts)));
        self.assessor = assessor;
        for (kind, condition) in found {
            self.raise(now, kind, condition);
        }
        if drags_on {
            self.alerts.ask_again(now, AlertKind::Drag, &mut self.out);
        }
    }

    /// Passes a finding on to the alert's state machine, and notes a new alert among what happened.
    fn raise(&mut self, now: WatchTime, kind: AlertKind, condition: Condition) {
        if let Condition::Present { reason, .. } = &condition
            && self.alerts.get(kind).is_none()
        {
            self.night.happened(now, format!("{}: {}", kind.title().to_lowercase(), reason.what), true);
        }
        self.alerts.assess(now, kind, condition, &mut self.out);
    }

    /// Whether dragging would be worth an alarm: the crew is not at work on the anchor.
    fn drag_counts(&self, now: WatchTime) -> bool {
        match self.ride.stage {
            Stage::BroughtUp => true,
            Stage::Setting => now.since(self.ride.stage_since) > SETTING_MAX,
            Stage::NotSet | Stage::Weighing => false,
        }
    }

    /// What is out is what she will lie to: it is not being counted out, nor heaved in.
    fn lies_to_her_rode(&self, now: WatchTime) -> bool {
        matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp) && !self.counts_out(now)
    }

    /// The wind at which, with the stream, the pull at the anchor is calculated to reach 8° above the bottom: beyond it an
    /// anchor is lifted out rather than dug in (see `rode::ANGLES_DEG`). Calculated anew when it is old.
    fn lift_wind(&mut self, now: WatchTime) -> Option<Knots> {
        if !self.lies_to_her_rode(now) || self.wind.speeds(now).is_none() {
            return None;
        }
        if let Some((_, wind)) = self.assessor.lift_wind.filter(|(at, _)| now.since(*at) < LIFT_AGE) {
            return wind;
        }
        let wind = self.calculate_lift_wind(now);
        self.assessor.lift_wind = Some((now, wind));
        wind
    }

    fn calculate_lift_wind(&self, now: WatchTime) -> Option<Knots> {
        let line = rode::Locker::of(&self.settings.tackle).ok()?.veer(self.ride.veered?).ok()?;
        let pull = rode::thresholds(&line, self.pulled_from(now)?).ok()?.eight_degrees?;
        let allowed = self.stream_allowed_for();
        Some(rode::wind_with_stream(&self.settings.boat, pull, allowed, self.sheer_deg()))
    }

    /// The stream to be allowed for: as the log measures it, and never less than was planned for.
    pub(super) fn stream_allowed_for(&self) -> Knots {
        let measured = self.picture.stream().map_or(Knots(0.0), |(_, rate)| rate);
        self.settings.expected.map_or(measured, |expected| measured.max(expected.stream))
    }

    /// How far she is taken to sheer to each side: as planned, else as is usual for her as she rides here.
    pub(super) fn sheer_deg(&self) -> f64 {
        let planned = self.settings.expected.map(|expected| expected.sheer_deg);
        planned.unwrap_or_else(|| rode::usual_sheer(&self.settings.boat, self.berth.bridle))
    }

    /// The one word for the screen.
    pub(super) fn verdict_now(&self, now: WatchTime) -> Verdict {
        match self.ride.stage {
            Stage::NotSet => return Verdict::NotSet,
            Stage::Weighing => return Verdict::Weighing,
            Stage::Setting | Stage::BroughtUp => {}
        }
        let state = self.judged.state;
        if self.drag_counts(now) && state == HoldingState::Dragging {
            Verdict::Dragging
        } else if self.assessor.position.is_outside() {
            Verdict::Outside
        } else if self.drag_counts(now) && state == HoldingState::Creeping {
            Verdict::Creeping
        } else if self.alerts.get(AlertKind::FixLost).is_some_and(|a| a.rectified.is_none()) {
            Verdict::NoFix
        } else if self.ride.stage == Stage::Setting {
            Verdict::Setting
        } else if self.is_unjudged() {
            Verdict::CannotJudge
        } else {
            Verdict::Holding
        }
    }

    fn is_unjudged(&self) -> bool {
        matches!(self.judged.state, HoldingState::CannotJudge(_))
            || self.looks_for_anchor()
            || self.picture.doubt().is_some()
    }
}
