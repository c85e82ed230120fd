//! What is wrong now: each kind of alert has its condition, its patience and its words.

use super::Watch;
use super::alert::machine::Condition;
use super::alert::{AlertKind, Priority, Reason};
use super::fixgate;
use super::holding::{Doubt, HoldingState};
use super::input::Device;
use super::latch::{Lasting, Latch, Patience};
use super::rode;
use super::snapshot::{Stage, Verdict, VesselView};
use super::units::{Knots, Metres, Newtons, Span, WatchTime};

/// A doubtful position is worth waking for when it has lasted this long.
const DOUBT_AFTER: Span = Span::from_secs(20);
/// A sensor is gone when it has been silent for this long.
const SENSOR_GONE: Span = Span::from_secs(30);
/// So long after the sun has risen or set the crew is reminded. Our choice.
const LIGHT_DUE: Span = Span::from_mins(30);
/// The boat counts as back inside when she has room again, by more than noise, for this long.
const BACK_INSIDE_M: f64 = 2.0;
const BACK_INSIDE: Span = Span::from_secs(10);
/// Hysteresis: an alert ends when its value is this far on the good side of the limit.
const SHIFT_EASE_DEG: f64 = 10.0;
const WIND_EASE: Knots = Knots(2.0);
const DEPTH_EASE: Metres = Metres(0.2);
/// Shallow water is believed when it has lasted this long (the sounder's median takes care of single echoes).
const SHALLOW_AFTER: Span = Span::from_secs(5);
/// Sounder and tide must disagree for this long: she swings over holes and humps.
const ODD_AFTER: Span = Span::from_mins(3);
/// A tide table that ends sooner than this is worth an alert.
const TIDE_ENDS_SOON: Span = Span::from_mins(60);
/// The wind that the rode is reckoned to hold is reckoned this often: it changes with the tide.
const LIFT_AGE: Span = Span::from_mins(1);
/// A course must lead to the circle for so long, not only while a vessel turns; and away from it for so long before the
/// alert ends.
const CLOSING: Patience = Patience { on: Span::from_secs(10), off: Span::from_secs(30) };
/// After letting go without "brought up" for this long, dragging sounds all the same: somebody forgot the key.
const SETTING_MAX: Span = Span::from_mins(20);

/// What the conditions remember from second to second.
#[derive(Clone, Debug, Default)]
pub struct Assessor {
    outside: Latch,
    doubt: Lasting,
    shallow: Lasting,
    is_shallow: bool,
    odd: Lasting,
    is_odd: bool,
    closing: Latch,
    lift_wind: Option<(WatchTime, Option<Knots>)>,
    is_shifted: bool,
    is_windy: bool,
    /// She went off from an anchor that nobody marked, and the crew has not yet answered.
    has_left: bool,
    gap: Option<(WatchTime, WatchTime)>,
    sound_failed: Option<String>,
    disk_failed: Option<String>,
    power_low: Option<u8>,
    distance_minute_ago: Option<(WatchTime, f64)>,
    opening: f64,
}

impl Assessor {
    /// What stays when a new ride begins: the state of the devices.
    #[must_use]
    pub fn for_new_ride(&self) -> Self {
        Self {
            gap: self.gap,
            sound_failed: self.sound_failed.clone(),
            disk_failed: self.disk_failed.clone(),
            power_low: self.power_low,
            ..Self::default()
        }
    }

    /// The watch did not run in that time.
    pub fn gap(&mut self, from: WatchTime, to: WatchTime) {
        self.gap = Some((self.gap.map_or(from, |(earlier, _)| earlier), to));
    }

    /// The crew has seen it; a gap is over once it is known.
    pub fn acknowledged(&mut self, kind: Option<AlertKind>) {
        if kind.is_none_or(|k| k == AlertKind::Gap) {
            self.gap = None;
        }
        if kind.is_none_or(|k| k == AlertKind::Drag) {
            self.has_left = false;
        }
    }

    /// She is plainly under way from an anchor that nobody marked: the judge has given it up.
    pub fn left(&mut self) {
        self.has_left = true;
    }

    /// A device came or went.
    pub fn device(&mut self, device: Device) {
        match device {
            Device::Sound { failed } => self.sound_failed = failed,
            Device::Disk { failed } => self.disk_failed = failed,
            Device::Power { low_percent } => self.power_low = low_percent,
        }
    }

    /// How fast the distance from the anchor grows, metres a minute.
    fn note_distance(&mut self, now: WatchTime, distance_m: Option<f64>) {
        let Some(distance_m) = distance_m else { return };
        match self.distance_minute_ago {
            Some((then, before)) if now.since(then) >= Span::from_secs(60) => {
                self.opening = (distance_m - before) / (now.since(then).seconds() / 60.0);
                self.distance_minute_ago = Some((now, distance_m));
            }
            None => self.distance_minute_ago = Some((now, distance_m)),
            _ => {}
        }
    }
}

fn present(priority: Priority, what: String, action: &str) -> Condition {
    Condition::Present { priority, reason: Reason { what, action: action.into() } }
}

fn when(condition: bool, priority: Priority, what: impl FnOnce() -> String, action: &str) -> Condition {
    if condition { present(priority, what(), action) } else { Condition::Absent }
}

/// Water under the keel in words; below zero she is aground.
fn keel_words(under_keel: Metres) -> String {
    if under_keel.0 < 0.0 {
        format!("aground by {:.1} m", -under_keel.0)
    } else {
        format!("{:.1} m under the keel", under_keel.0)
    }
}

/// Who closes, from where, how fast and when.
fn closing_words(vessel: &VesselView, circle: Metres) -> String {
    let (distance, bearing) = (vessel.point.length_m(), vessel.point.bearing());
    let speed = vessel.sog.unwrap_or_default();
    let when = match vessel.closes_in.unwrap_or(Span::ZERO) {
        Span::ZERO => "is at your swing circle now".to_owned(),
        span => format!("will be at your swing circle of {:.0} m in {span}", circle.0),
    };
    format!("{} {when}: {distance:.0} m from the anchor on {bearing}, {:.1} kn.", vessel.called(), speed.0)
}

impl Watch {
    /// Looks at every kind of alert once.
    pub(super) fn assess(&mut self, now: WatchTime) {
        let distance = self.ride.lie().map(|lie| lie.to_anchor().0.0);
        self.assessor.note_distance(now, distance);
        let found = [
            (AlertKind::Drag, self.find_drag(now)),
            (AlertKind::Creep, self.find_creep(now)),
            (AlertKind::Outside, self.find_outside(now)),
            (AlertKind::FixLost, self.find_fix_lost(now)),
            (AlertKind::FixDoubtful, self.find_fix_doubtful(now)),
            (AlertKind::WindShift, self.find_wind_shift(now)),
            (AlertKind::WindHigh, self.find_wind_high(now)),
            (AlertKind::Shallow, self.find_shallow(now)),
            (AlertKind::Shoaling, self.find_shoaling()),
            (AlertKind::ScopeShort, self.find_scope_short()),
            (AlertKind::DepthOdd, self.find_depth_odd(now)),
            (AlertKind::TideEnds, self.find_tide_ends(now)),
            (AlertKind::HeadingLost, self.find_heading_lost(now)),
            (AlertKind::WindLost, self.find_wind_lost(now)),
            (AlertKind::DepthLost, self.find_depth_lost(now)),
            (AlertKind::Closing, self.find_closing(now)),
            (AlertKind::RoundDue, self.find_round_due(now)),
            (AlertKind::LightDue, self.find_light_due(now)),
            (AlertKind::Gap, self.find_gap()),
            (AlertKind::SoundFailed, self.find_sound_failed()),
            (AlertKind::DiskLow, self.find_disk_low()),
            (AlertKind::PowerLow, self.find_power_low()),
        ];
        for (kind, condition) in found {
            self.raise(now, kind, condition);
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

    fn find_drag(&self, now: WatchTime) -> Condition {
        if self.assessor.has_left && self.drag_counts(now) {
            let speed = self.picture.fix().and_then(|fix| fix.sog).unwrap_or_default();
            return present(
                Priority::Alarm,
                format!(
                    "She is plainly under way, {:.1} kn, from where she lay. Drag is not judged until she lies again.",
                    speed.0
                ),
                "If you mean to leave, say weigh and aweigh. If not, go on deck and start the engine.",
            );
        }
        when(
            self.drag_counts(now) && self.judged.state == HoldingState::Dragging,
            Priority::Alarm,
            || self.judged.reason(),
            "Go on deck. Check bearings. Start the engine; veer more rode if there is room, or weigh and anchor again.",
        )
    }

    fn find_creep(&self, now: WatchTime) -> Condition {
        when(
            self.drag_counts(now) && self.judged.state == HoldingState::Creeping,
            Priority::Warning,
            || self.judged.reason(),
            "Check bearings by eye. Veer more rode if there is room; be ready to start the engine.",
        )
    }

    fn find_outside(&mut self, now: WatchTime) -> Condition {
        let watching = matches!(self.ride.stage, Stage::Setting | Stage::BroughtUp);
        let Some(room) = self.room().filter(|_| watching) else {
            // Without a position nothing is known: an alarm that stands goes on standing.
            if !watching {
                self.assessor.outside.clear();
            }
            return if self.assessor.outside.unknown() { self.outside_unseen() } else { Condition::Absent };
        };
        let patience = Patience { on: self.limits.outside_after, off: BACK_INSIDE };
        let is_outside =
            self.assessor.outside.note(now, room.left.0 < 0.0, room.left.0 > BACK_INSIDE_M, patience);
        when(
            is_outside,
            Priority::Alarm,
            || self.outside_words(now),
            "Go on deck. Check bearings. Start the engine if she does not hold; if the circle is wrong, change its limit.",
        )
    }

    fn outside_unseen(&self) -> Condition {
        present(
            Priority::Alarm,
            "She lay outside the circle when the position was lost.".into(),
            "Go on deck and take bearings; find out why there is no position.",
        )
    }

    fn outside_words(&self, now: WatchTime) -> String {
        let (Some(lie), Some(circle)) = (self.ride.lie(), self.set_circle(now)) else { return String::new() };
        let (distance, bearing) = lie.to_anchor();
        let veered = self.ride.veered.unwrap_or_default();
        let reach = self.reach(now).unwrap_or_default();
        let lasting = self.assessor.outside.set_for(now).unwrap_or_default();
        let trend = match self.assessor.opening {
            rate if rate > 1.0 => "still opening",
            rate if rate < -1.0 => "closing again",
            _ => "not opening",
        };
        format!(
            "{:.0} m from the anchor; {:.0} m of rode reaches {:.0} m. Outside the circle of {:.0} m for {lasting}, {trend}, {}.",
            distance.0,
            veered.0,
            reach.0,
            circle.0,
            bearing.reversed()
        )
    }

    fn find_fix_lost(&mut self, now: WatchTime) -> Condition {
        if !self.ride.anchored() {
            return Condition::Absent;
        }
        let seen = self.picture.fix().map(|fix| fix.at);
        let lost_for = now.since(seen.unwrap_or(self.ride.stage_since).max(self.assessor_start()));
        let priority =
            if lost_for >= self.limits.fix_lost_alarm_after { Priority::Alarm } else { Priority::Warning };
        when(
            lost_for >= self.limits.fix_lost_after,
            priority,
            || format!("No position for {lost_for}. She can move without an alarm."),
            "Look at bearings by eye. Check receiver, cable and power; the feeds view shows what still comes.",
        )
    }

    /// When the watch could first have seen anything: its beginning, or the end of the last gap.
    fn assessor_start(&self) -> WatchTime {
        self.assessor.gap.map_or(self.began.unwrap_or(self.now), |(_, to)| to)
    }

    fn find_fix_doubtful(&mut self, now: WatchTime) -> Condition {
        // A receiver that settles after a hole comes right by itself: the hole has been told already.
        let doubt =
            self.picture.doubt().filter(|d| *d != fixgate::Doubt::Settling).map(|doubt| doubt.to_string());
        let cannot = match self.judged.state {
            // A receiver that has only just started is no reason to wake anybody.
            HoldingState::CannotJudge(why)
                if self.ride.stage == Stage::BroughtUp && why != Doubt::JustStarted =>
            {
                Some(why.to_string())
            }
            _ => None,
        };
        let lasting =
            self.assessor.doubt.note(now, self.ride.anchored() && (doubt.is_some() || cannot.is_some()));
        // Where a position may come seldom, none for a while is no doubt yet.
        let patience = DOUBT_AFTER.max(self.limits.fix_lost_after);
        when(
            lasting.is_some_and(|span| span >= patience),
            Priority::Warning,
            || {
                let why = doubt.or(cannot).unwrap_or_default();
                format!("The position cannot be trusted: {why}. Whether she drags cannot be judged.")
            },
            "Watch bearings by eye until it is good again. A second receiver would help.",
        )
    }

    fn find_wind_shift(&mut self, now: WatchTime) -> Condition {
        let mean = self.wind.direction(now, self.limits.wind_window);
        if self.ride.stage == Stage::BroughtUp {
            self.wind.settle_reference(mean);
        }
        let Some(mean) = mean.filter(|_| self.ride.stage == Stage::BroughtUp) else {
            return Condition::Absent;
        };
        let barred = self.limits.barred.iter().any(|sector| sector.contains(mean));
        let shift = self.wind.shift_origin().map(|origin| origin.turn_to(mean));
        let limit = self.limits.wind_shift_deg - if self.assessor.is_shifted { SHIFT_EASE_DEG } else { 0.0 };
        self.assessor.is_shifted = shift.is_some_and(|deg| deg.abs() > limit);
        if barred {
            return present(
                Priority::Warning,
                format!("The wind now blows from {mean}, a sector you barred."),
                "Look at the lee side and the room there. Be ready to leave.",
            );
        }
        when(
            self.assessor.is_shifted,
            Priority::Warning,
            || {
                let deg = shift.unwrap_or_default();
                let word = if deg > 0.0 { "veered" } else { "backed" };
                format!(
                    "The wind has {word} {:.0}°, to {mean}. She will swing, and the anchor may turn.",
                    deg.abs()
                )
            },
            "Check the room to leeward and that the anchor has set again; take new bearings.",
        )
    }

    fn find_wind_high(&mut self, now: WatchTime) -> Condition {
        let Some(speeds) = self.wind.speeds(now).filter(|_| self.ride.anchored()) else {
            self.assessor.is_windy = false;
            return Condition::Absent;
        };
        let ease = if self.assessor.is_windy { WIND_EASE } else { Knots(0.0) };
        let lifts = if self.lies_to_her_rode(now) { self.lift_wind(now) } else { None };
        let lifted = lifts.is_some_and(|wind| speeds.mean > wind - ease);
        let mean_high = speeds.mean > self.limits.wind_high - ease;
        let gust_high = speeds.gust > self.limits.gust_high - ease;
        self.assessor.is_windy = mean_high || gust_high || lifted;
        when(
            self.assessor.is_windy,
            Priority::Warning,
            || {
                let limits = format!(
                    "Wind {:.0} kn, gusts {:.0} kn; your limits are {:.0} and {:.0}.",
                    speeds.mean.0, speeds.gust.0, self.limits.wind_high.0, self.limits.gust_high.0
                );
                match lifts.filter(|_| lifted) {
                    Some(wind) => format!(
                        "{limits} From {:.0} kn on the rode out is reckoned to pull up at the anchor by 8° or more.",
                        wind.0
                    ),
                    None => limits,
                }
            },
            "Look at snubber and chafe. Veer more rode if there is room. Make the engine ready.",
        )
    }

    /// The wind at which, with the stream, the pull at the anchor is reckoned to reach 8° above the bottom: beyond it an
    /// anchor is lifted out rather than dug in (see `rode::ANGLES_DEG`).
    fn lift_wind(&mut self, now: WatchTime) -> Option<Knots> {
        if let Some((_, wind)) = self.assessor.lift_wind.filter(|(at, _)| now.since(*at) < LIFT_AGE) {
            return wind;
        }
        let wind = self.reckon_lift_wind(now);
        self.assessor.lift_wind = Some((now, wind));
        wind
    }

    fn reckon_lift_wind(&self, now: WatchTime) -> Option<Knots> {
        let line = rode::Locker::of(&self.settings.tackle).ok()?.veer(self.ride.veered?).ok()?;
        let pull = rode::thresholds(&line, self.bow_height(now)?).ok()?.eight_degrees?;
        let boat = &self.settings.boat;
        let stream = self.picture.stream().map_or(Newtons(0.0), |(_, rate)| rode::stream_push(boat, rate));
        Some(rode::Windage::of(boat).wind_for(pull - stream))
    }

    fn find_shallow(&mut self, now: WatchTime) -> Condition {
        let Some(depth) = self.picture.depth().filter(|_| self.ride.anchored()) else {
            self.assessor.is_shallow = false;
            return Condition::Absent;
        };
        let under_keel = depth - self.settings.boat.draft;
        let limit = self.limits.under_keel + if self.assessor.is_shallow { DEPTH_EASE } else { Metres(0.0) };
        let lasting = self.assessor.shallow.note(now, under_keel < limit);
        self.assessor.is_shallow = lasting.is_some_and(|span| span >= SHALLOW_AFTER);
        when(
            self.assessor.is_shallow,
            Priority::Alarm,
            || {
                format!(
                    "{} by the sounder; your limit is {:.1} m.{}",
                    keel_words(under_keel),
                    self.limits.under_keel.0,
                    self.relief(now, depth)
                )
            },
            "Find deeper water: shorten rode if that swings her clear, or weigh.",
        )
    }

    /// When the tide will have brought back the water that is wanted, in words. It must rise by what the sounder
    /// lacks: where she lies the bottom may be higher than at the anchor.
    fn relief(&self, now: WatchTime, sounded: Metres) -> String {
        let lacks = self.settings.boat.draft + self.limits.under_keel - sounded;
        let enough = self.water.depth_at(now).map(|predicted| predicted + lacks);
        match enough.and_then(|depth| self.water.next_passing(depth, now)) {
            Some(at) => format!(" By the tide there is enough again in {}.", at.since(now)),
            None => String::new(),
        }
    }

    fn find_shoaling(&self) -> Condition {
        let draft = self.settings.boat.draft;
        let least = self.water.outlook().least.map(|(depth, at)| (depth - draft, at));
        let short =
            least.filter(|(under_keel, _)| self.ride.anchored() && *under_keel < self.limits.under_keel);
        when(
            short.is_some(),
            Priority::Warning,
            || {
                let (under_keel, at) = short.unwrap_or_default();
                format!(
                    "{} at low water in {}; your limit is {:.1} m.",
                    keel_words(under_keel),
                    at.since(self.now),
                    self.limits.under_keel.0
                )
            },
            "Move to deeper water before then, or make ready to take the ground.",
        )
    }

    fn find_scope_short(&self) -> Condition {
        let least = self.least_scope_ahead();
        let lies = self.lies_to_her_rode(self.now);
        let short = least.filter(|(scope, _)| lies && *scope < self.limits.scope);
        when(
            short.is_some(),
            Priority::Warning,
            || {
                let (scope, at) = short.unwrap_or_default();
                let veered = self.ride.veered.unwrap_or_default();
                let more = veered.0 * (self.limits.scope / scope - 1.0);
                format!(
                    "Scope {scope:.1} at high water in {}; your limit is {:.1}. {:.0} m more would do.",
                    at.since(self.now),
                    self.limits.scope,
                    more.ceil()
                )
            },
            "Veer more rode before high water, if there is room to swing.",
        )
    }

    fn find_depth_odd(&mut self, now: WatchTime) -> Condition {
        let known = self.picture.depth().zip(self.water.depth_at(now));
        let watching = self.ride.stage == Stage::BroughtUp && self.water.has_tide();
        let off = known.map(|(sounded, predicted)| (sounded - predicted).0).filter(|_| watching);
        let ease = if self.assessor.is_odd { DEPTH_EASE } else { Metres(0.0) };
        let odd = off.is_some_and(|off| off.abs() > (self.limits.depth_odd - ease).0);
        let lasting = self.assessor.odd.note(now, odd);
        self.assessor.is_odd = lasting.is_some_and(|span| span >= ODD_AFTER);
        when(
            self.assessor.is_odd,
            Priority::Warning,
            || {
                let (sounded, predicted) = known.unwrap_or_default();
                format!(
                    "The sounder shows {:.1} m, the tide makes it {:.1} m at the anchor. \
                     She has moved, the bottom slopes, or the tide was entered wrong.",
                    sounded.0, predicted.0
                )
            },
            "Check bearings by eye, then the tide table; change the limit if the bottom slopes.",
        )
    }

    fn find_tide_ends(&self, now: WatchTime) -> Condition {
        let left = self.water.known_until().filter(|_| self.ride.anchored()).map(|until| until.since(now));
        when(
            left.is_some_and(|left| left < TIDE_ENDS_SOON),
            Priority::Warning,
            || match left.unwrap_or_default() {
                left if left > Span::ZERO => {
                    format!("The tide table ends in {left}. After that depth and scope are not foreseen.")
                }
                left => {
                    format!("The tide table ended {} ago. Depth and scope are not foreseen.", Span(-left.0))
                }
            },
            "Enter the next high and low waters.",
        )
    }

    fn find_heading_lost(&self, now: WatchTime) -> Condition {
        let gone = self.picture.heading_presence.gone(now).filter(|gone| *gone >= SENSOR_GONE);
        when(
            self.ride.anchored() && gone.is_some(),
            Priority::Caution,
            || format!("No heading for {}. Drag is judged with less power.", gone.unwrap_or_default()),
            "Check the compass's cable and power.",
        )
    }

    fn find_wind_lost(&self, now: WatchTime) -> Condition {
        let gone = self.picture.wind_presence.gone(now).filter(|gone| *gone >= SENSOR_GONE);
        when(
            self.ride.anchored() && gone.is_some(),
            Priority::Caution,
            || {
                format!(
                    "No wind for {}. Wind shift and strong wind raise no alert.",
                    gone.unwrap_or_default()
                )
            },
            "Check the wind sensor's cable and power.",
        )
    }

    fn find_depth_lost(&self, now: WatchTime) -> Condition {
        let gone = self.picture.depth_presence.gone(now).filter(|gone| *gone >= SENSOR_GONE);
        when(
            self.ride.anchored() && gone.is_some(),
            Priority::Caution,
            || format!("No depth for {}. Shallow water raises no alert.", gone.unwrap_or_default()),
            "Check the sounder's cable and power.",
        )
    }

    fn find_closing(&mut self, now: WatchTime) -> Condition {
        let watching = self.ride.drop_point().filter(|_| self.ride.anchored());
        let nearest =
            watching.and(self.ride.plane()).zip(self.swing_circle(now)).and_then(|(plane, circle)| {
                let vessel = self.traffic.closing(now, plane, circle)?;
                Some((vessel, circle))
            });
        if !self.assessor.closing.note(now, nearest.is_some(), nearest.is_none(), CLOSING) {
            return Condition::Absent;
        }
        let what = match nearest {
            Some((vessel, circle)) => closing_words(&vessel, circle),
            None => "A vessel that closed on the swing circle has altered, or is no longer heard.".to_owned(),
        };
        present(
            Priority::Warning,
            what,
            "Look at her bearing: if it does not change she comes to you. Show a light on deck; call or sound if need be.",
        )
    }

    fn find_round_due(&self, now: WatchTime) -> Condition {
        let grace = self.limits.round_grace;
        let Some(late) = self.round_due().map(|due| now.since(due)).filter(|late| *late >= Span::ZERO) else {
            return Condition::Absent;
        };
        let priority = match late {
            late if late < grace => Priority::Caution,
            late if late < Span(grace.0 * 3) => Priority::Warning,
            _ => Priority::Alarm,
        };
        let who = self.on_watch(now).map_or_else(String::new, |turn| format!(" {} is on watch.", turn.name));
        let what = match priority {
            Priority::Caution => format!("A round is due.{who}"),
            _ => format!("A round is {late} overdue: nobody has looked.{who}"),
        };
        present(
            priority,
            what,
            "Go round on deck: bearings, lights, snubber, depth, wind, neighbours. Then say so.",
        )
    }

    /// The sun has risen or set while she rides: for a while, or until a round has looked at the lights.
    fn find_light_due(&self, now: WatchTime) -> Condition {
        let crossed = self.sun.last().filter(|crossed| {
            self.ride.stage == Stage::BroughtUp
                && crossed.at > self.ride.stage_since
                && now.since(crossed.at) < LIGHT_DUE
                && !self.rounds.lights_seen_since(crossed.at)
        });
        when(
            crossed.is_some(),
            Priority::Caution,
            || match crossed {
                Some(crossed) if crossed.rises => {
                    "The sun has risen: the anchor light out, the ball up.".into()
                }
                _ => "The sun has set: the ball down, the anchor light on.".into(),
            },
            "Look at the light from on deck, all round. Local rules come first.",
        )
    }

    fn find_gap(&self) -> Condition {
        let gap = self.assessor.gap.filter(|_| self.ride.anchored());
        when(
            gap.is_some(),
            Priority::Warning,
            || {
                let (from, to) = gap.unwrap_or_default();
                match to.since(from) {
                    short if short < Span::from_secs(1) => {
                        "Nobody watched for a moment: the program was started anew.".to_owned()
                    }
                    gap => format!("Nobody watched for {gap}: lid closed, power cut, crash or clock jump."),
                }
            },
            "Check bearings by eye. Keep the computer awake: lid open, on power.",
        )
    }

    fn find_sound_failed(&self) -> Condition {
        let failed = self.assessor.sound_failed.as_deref();
        when(
            failed.is_some(),
            Priority::Warning,
            || {
                format!(
                    "Alert sounds do not play: {}. Only the bell and the screen will call you.",
                    failed.unwrap_or_default()
                )
            },
            "Check volume and loudspeaker; `nightrode sound` tries every sound.",
        )
    }

    fn find_disk_low(&self) -> Condition {
        let failed = self.assessor.disk_failed.as_deref();
        when(
            failed.is_some(),
            Priority::Warning,
            || format!("The ride is not being recorded: {}. The watch goes on.", failed.unwrap_or_default()),
            "Free some disk space, or make the ride folder writable; recording begins again by itself.",
        )
    }

    fn find_power_low(&self) -> Condition {
        let low = self.assessor.power_low;
        when(
            low.is_some(),
            Priority::Warning,
            || format!("The computer's battery is at {} %. The watch ends with it.", low.unwrap_or_default()),
            "Plug it in, or keep watch by eye.",
        )
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
        } else if self.assessor.outside.is_on() {
            Verdict::Outside
        } else if self.drag_counts(now) && state == HoldingState::Creeping {
            Verdict::Creeping
        } else if self.alerts.get(AlertKind::FixLost).is_some_and(|a| a.rectified.is_none()) {
            Verdict::NoFix
        } else if self.ride.stage == Stage::Setting {
            Verdict::Setting
        } else if matches!(state, HoldingState::CannotJudge(_))
            || self.looks_for_anchor()
            || self.picture.doubt().is_some()
        {
            Verdict::CannotJudge
        } else {
            Verdict::Holding
        }
    }
}
