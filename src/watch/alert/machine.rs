//! Where does each alert stand, and what should be heard? The state machine of bridge alert management.
//!
//! # Source
//! IMO MSC.302(87), annex, "the standard" below: 6.1.1 and 6.2 (priorities), 7.3 (alarms), 7.4 (warnings),
//! 7.5 (cautions), 7.6 (escalation). Clauses 7.4 to 7.6 are cited from memory. States as in IEC 62923-1
//! (memory), without "responsibility transferred": nobody else is there to take it.
//!
//! | state | condition comes | condition goes | acknowledged | silenced | time |
//! | --- | --- | --- | --- | --- | --- |
//! | normal | unacknowledged; a caution: acknowledged | – | refused | – | – |
//! | unacknowledged | – | rectified | acknowledged | silenced | a warning repeats, then rises |
//! | silenced | – | rectified | acknowledged | – | unacknowledged; a warning rises |
//! | acknowledged | – | normal | refused | – | – |
//! | rectified | unacknowledged | – | normal | – | – |
//!
//! A condition whose own priority rises is unacknowledged again in every state, and so is one that has grown since it was
//! answered, as a drag that goes on.

use crate::watch::refusal::Refusal;
use std::collections::BTreeMap;

use super::{Alert, AlertChange, AlertKind, AlertState, Change, Priority, Reason, Sound};
use crate::watch::boat::limits::ESCALATE_AFTER;
use crate::watch::output::Output;
use crate::watch::units::{Span, WatchTime};

/// How long the sound of an unacknowledged alert may be silenced: 30 s, MSC.302(87) 7.3.5.
pub const SILENCE: Span = Span::from_secs(30);

/// How often the signal of an unacknowledged warning is given again. IEC 62923-1 (memory) allows at most five
/// minutes; 60 s is the usual value, MSC.252(83).
pub const WARNING_REPEAT: Span = Span::from_secs(60);

/// The nearest time to escalation that is allowed.
fn allowed(escalate_after: Span) -> Span {
    let second = |value: f64| Span::from_secs(value as i64);
    escalate_after.clamp(second(ESCALATE_AFTER.least), second(ESCALATE_AFTER.most))
}

/// What the watch finds about one kind of alert when it looks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Nothing is wrong.
    Absent,
    /// Something is.
    Present {
        /// How urgent it is by itself, whether or not anybody answers.
        priority: Priority,
        /// Why, with numbers, and what to do.
        reason: Reason,
    },
    /// It is gone for now and may come back: nothing to sound an alert for, nor to end a warning that stands.
    Lingering {
        /// What is so now.
        reason: Reason,
    },
}

impl Condition {
    /// Something is wrong: what it is, and what the table of kinds says to do.
    #[must_use]
    pub fn present(kind: AlertKind, priority: Priority, what: String) -> Self {
        Self::Present { priority, reason: Reason { what, action: kind.about().action.to_owned() } }
    }

    /// Nothing is wrong any more, for now.
    #[must_use]
    pub fn lingering(kind: AlertKind, what: String) -> Self {
        Self::Lingering { reason: Reason { what, action: kind.about().action.to_owned() } }
    }

    /// The same, with something else to do.
    #[must_use]
    pub fn with_action(mut self, other: &str) -> Self {
        if let Self::Present { reason, .. } = &mut self {
            reason.action = other.to_owned();
        }
        self
    }

    /// What is found where something is so; else absent.
    #[must_use]
    pub fn when(so: bool, found: impl FnOnce() -> Self) -> Self {
        if so { found() } else { Self::Absent }
    }

    /// Its priority, if it is there.
    #[must_use]
    pub fn priority(&self) -> Option<Priority> {
        match self {
            Self::Absent | Self::Lingering { .. } => None,
            Self::Present { priority, .. } => Some(*priority),
        }
    }

    /// Whether it is there.
    #[must_use]
    pub fn is_present(&self) -> bool {
        self.priority().is_some()
    }
}

/// Every alert that is not normal, and the sound that belongs to them.
#[derive(Clone, Debug)]
pub struct Alerts {
    live: BTreeMap<AlertKind, Live>,
    escalate_after: Span,
    /// No warning rises before this moment: when `escalate_after` was last set.
    escalate_from: WatchTime,
    heard: Sound,
    /// When a warning's two signals were last given.
    signalled: Option<WatchTime>,
    /// A warning came, rose or came out of its silence, and its signal has not been given yet.
    signal_owed: bool,
}

/// One alert that is not normal, with what the machine needs to know beside what it shows.
#[derive(Clone, Debug)]
struct Live {
    alert: Alert,
    /// The priority of the condition by itself; the alert's own is never below it.
    cause: Priority,
    /// Since when the condition has been there without a break.
    since: WatchTime,
    /// How long it had been there, unanswered, before that.
    unanswered: Span,
    /// It is gone and may come back: no time counts towards an alarm.
    lingers: bool,
}

impl Alerts {
    /// No alerts. An unacknowledged warning rises to an alarm after `escalate_after`, kept within
    /// [`ESCALATE_AFTER`].
    #[must_use]
    pub fn new(escalate_after: Span) -> Self {
        Self {
            live: BTreeMap::new(),
            escalate_after: allowed(escalate_after),
            escalate_from: WatchTime(i64::MIN),
            heard: Sound::Quiet,
            signalled: None,
            signal_owed: false,
        }
    }

    /// Changes the time after which an unacknowledged warning rises, also for those that wait already: one that
    /// has waited longer rises now.
    pub fn set_escalate_after(&mut self, at: WatchTime, escalate_after: Span, out: &mut Vec<Output>) {
        self.run_to(at, out);
        self.escalate_after = allowed(escalate_after);
        self.escalate_from = at;
        self.run_to(at, out);
    }

    /// Takes what the watch found about `kind`. Call it as often as the condition is looked at: while nothing
    /// changes but the words of the reason, those are brought up to date and nothing is put out.
    pub fn assess(&mut self, at: WatchTime, kind: AlertKind, found: Condition, out: &mut Vec<Output>) {
        self.run_to(at, out);
        match found {
            Condition::Absent => self.rectify(at, kind, out),
            Condition::Lingering { reason } => self.linger(at, kind, reason, out),
            Condition::Present { priority, reason } => match self.live.get_mut(&kind) {
                None => self.raise(at, kind, priority, reason, out),
                Some(live) => {
                    live.alert.reason = reason;
                    self.reconsider(at, kind, priority, out);
                }
            },
        }
        self.give_sound(at, out);
    }

    /// Answers one alert, or with `None` every alert that waits for an answer. What does not wait is refused.
    pub fn acknowledge(&mut self, at: WatchTime, which: Option<AlertKind>, out: &mut Vec<Output>) {
        self.run_to(at, out);
        let waiting: Vec<AlertKind> = self
            .live
            .values()
            .filter(|live| live.waits() && which.is_none_or(|kind| kind == live.alert.kind))
            .map(|live| live.alert.kind)
            .collect();
        if waiting.is_empty() {
            out.push(Output::Refused { at, why: Refusal::NothingToAnswer });
        }
        for kind in waiting {
            self.answer(at, kind, out);
        }
        self.give_sound(at, out);
    }

    /// The cause of an alert that is answered has grown: it asks for an answer again.
    pub fn ask_again(&mut self, at: WatchTime, kind: AlertKind, out: &mut Vec<Output>) {
        self.run_to(at, out);
        if let Some(live) = self.live.get_mut(&kind)
            && live.alert.state == AlertState::Acknowledged
            && live.alert.priority > Priority::Caution
        {
            live.since = at;
            live.unanswered = Span::ZERO;
            live.enter(AlertState::Unacknowledged, at, Change::Resounded, out);
            self.signal_owed = true;
        }
        self.give_sound(at, out);
    }

    /// Stops the sound of every alert that sounds now, for [`SILENCE`]. Alerts already silenced gain no time by it.
    pub fn silence(&mut self, at: WatchTime, out: &mut Vec<Output>) {
        self.run_to(at, out);
        for live in self.live.values_mut().filter(|live| live.alert.state == AlertState::Unacknowledged) {
            live.enter(AlertState::Silenced { until: at + SILENCE }, at, Change::Silenced, out);
        }
        self.give_sound(at, out);
    }

    /// Runs everything that is due by `at`, each thing at its own moment and in order: silences that end,
    /// warnings that rise, signals that are repeated. What comes out does not depend on how often this is called.
    pub fn run_to(&mut self, at: WatchTime, out: &mut Vec<Output>) {
        while let Some(due) = self.next_deadline().filter(|due| *due <= at) {
            self.run_deadline(due, out);
        }
    }

    /// The soonest moment at which `run_to` has something to do.
    #[must_use]
    pub fn next_deadline(&self) -> Option<WatchTime> {
        let of_alerts = self.live.values().flat_map(|live| [live.resounds(), self.rises(live)]);
        of_alerts.chain([self.repeats()]).flatten().min()
    }

    /// Every alert that is not normal, the one to look at first in front: unacknowledged alarms, unacknowledged
    /// warnings, rectified alarms, rectified warnings, acknowledged alarms, acknowledged warnings, cautions; equals
    /// in the order of their ranks.
    ///
    /// # Source
    /// The order printed in a radar manual written to the standard.
    pub fn list(&self) -> impl Iterator<Item = &Alert> {
        let mut alerts: Vec<&Alert> = self.live.values().map(|live| &live.alert).collect();
        alerts.sort_by_key(|alert| (place_in_list(alert), alert.kind.about().rank));
        alerts.into_iter()
    }

    /// The alert of one kind, if it is not normal.
    #[must_use]
    pub fn get(&self, kind: AlertKind) -> Option<&Alert> {
        self.live.get(&kind).map(|live| &live.alert)
    }

    /// What should be heard: the most urgent of the alerts that are active, unacknowledged and not silenced.
    /// [`Sound::Warning`] is momentary; each time its signal is to be given an [`Output::Sound`] says so.
    #[must_use]
    pub fn sound(&self) -> Sound {
        self.live.values().map(Live::sound).max().unwrap_or_default()
    }

    fn raise(
        &mut self,
        at: WatchTime,
        kind: AlertKind,
        priority: Priority,
        reason: Reason,
        out: &mut Vec<Output>,
    ) {
        let alert = Alert {
            kind,
            priority,
            state: AlertState::Normal,
            raised: at,
            rectified: None,
            escalated: false,
            reason,
        };
        let mut live = Live { alert, cause: priority, since: at, unanswered: Span::ZERO, lingers: false };
        live.enter(state_when_present(priority), at, Change::Raised, out);
        self.live.insert(kind, live);
        self.signal_owed = true;
    }

    /// The condition is still there, or there again: does its priority or its return change the alert?
    fn reconsider(&mut self, at: WatchTime, kind: AlertKind, priority: Priority, out: &mut Vec<Output>) {
        let Some(live) = self.live.get_mut(&kind) else { return };
        let before = std::mem::replace(&mut live.cause, priority);
        if std::mem::take(&mut live.lingers) {
            live.since = at;
        }
        if live.alert.state == AlertState::Rectified {
            live.alert.rectified = None;
            live.since = at;
            live.take_priority(priority);
            live.enter(AlertState::Unacknowledged, at, Change::Returned, out);
            self.signal_owed = true;
        } else if priority > before && live.take_priority(priority) {
            live.since = at;
            live.unanswered = Span::ZERO;
            live.enter(state_when_present(priority), at, Change::Risen, out);
            self.signal_owed = true;
        } else if live.alert.state == AlertState::Acknowledged {
            live.ease(at, out);
        }
    }

    /// A warning stays as it is and does not rise; an alarm, which sounds without a break, is rectified.
    fn linger(&mut self, at: WatchTime, kind: AlertKind, reason: Reason, out: &mut Vec<Output>) {
        let Some(live) = self.live.get_mut(&kind) else { return };
        if live.alert.priority == Priority::Alarm {
            return self.rectify(at, kind, out);
        }
        if live.alert.state != AlertState::Rectified {
            live.alert.reason = reason;
            live.stop_counting(at);
            live.lingers = true;
        }
    }

    fn rectify(&mut self, at: WatchTime, kind: AlertKind, out: &mut Vec<Output>) {
        let Some(live) = self.live.get_mut(&kind) else { return };
        match live.alert.state {
            AlertState::Unacknowledged | AlertState::Silenced { .. } => {
                live.stop_counting(at);
                live.lingers = false;
                live.alert.rectified = Some(at);
                live.enter(AlertState::Rectified, at, Change::Rectified, out);
            }
            AlertState::Acknowledged => {
                live.alert.rectified = Some(at);
                self.end(at, kind, out);
            }
            AlertState::Rectified | AlertState::Normal => {}
        }
    }

    fn answer(&mut self, at: WatchTime, kind: AlertKind, out: &mut Vec<Output>) {
        let Some(live) = self.live.get_mut(&kind) else { return };
        if live.alert.state == AlertState::Rectified {
            return self.end(at, kind, out);
        }
        live.enter(AlertState::Acknowledged, at, Change::Acknowledged, out);
        live.ease(at, out);
    }

    fn end(&mut self, at: WatchTime, kind: AlertKind, out: &mut Vec<Output>) {
        if let Some(mut live) = self.live.remove(&kind) {
            live.enter(AlertState::Normal, at, Change::Ended, out);
        }
    }

    fn run_deadline(&mut self, due: WatchTime, out: &mut Vec<Output>) {
        let rising: Vec<AlertKind> = self
            .live
            .iter()
            .filter(|(_, live)| self.rises(live) == Some(due))
            .map(|(kind, _)| *kind)
            .collect();
        for (kind, live) in &mut self.live {
            if rising.contains(kind) {
                live.alert.priority = Priority::Alarm;
                live.alert.escalated = true;
                live.enter(AlertState::Unacknowledged, due, Change::Risen, out);
                self.signal_owed = true;
            } else if live.resounds() == Some(due) {
                live.enter(AlertState::Unacknowledged, due, Change::Resounded, out);
                self.signal_owed = true;
            }
        }
        if self.repeats() == Some(due) {
            self.signal_owed = true;
        }
        self.give_sound(due, out);
    }

    /// When a warning that nobody answers becomes an alarm.
    fn rises(&self, live: &Live) -> Option<WatchTime> {
        (live.is_unanswered() && !live.lingers && live.alert.priority == Priority::Warning)
            .then(|| live.has_lasted(self.escalate_after).max(self.escalate_from))
    }

    /// When the warning signal is given again. One clock for all warnings: three of them must not sound at three
    /// different seconds of each minute.
    fn repeats(&self) -> Option<WatchTime> {
        (self.heard == Sound::Warning).then_some(self.signalled? + WARNING_REPEAT)
    }

    /// Puts out the sound if it changed, or if the signal of a warning is owed.
    fn give_sound(&mut self, at: WatchTime, out: &mut Vec<Output>) {
        let sound = self.sound();
        let owed = std::mem::take(&mut self.signal_owed) && sound == Sound::Warning;
        // Two warnings raised in one breath give one signal.
        let given_already = sound == Sound::Warning && self.signalled == Some(at) && self.heard == sound;
        if (sound == self.heard && !owed) || given_already {
            return;
        }
        self.heard = sound;
        if sound == Sound::Warning {
            self.signalled = Some(at);
        }
        out.push(Output::Sound { at, sound });
    }
}

impl Default for Alerts {
    /// No alerts; warnings rise as the default limits say.
    fn default() -> Self {
        Self::new(crate::watch::boat::Limits::default().escalate_after)
    }
}

impl Live {
    fn enter(&mut self, state: AlertState, at: WatchTime, change: Change, out: &mut Vec<Output>) {
        self.alert.state = state;
        out.push(Output::Alert(AlertChange { at, change, alert: self.alert.clone() }));
    }

    /// Raises the alert to `priority` if that is more than it has, or if it had that much only because nobody
    /// answered. Returns whether it did.
    fn take_priority(&mut self, priority: Priority) -> bool {
        let rises =
            priority > self.alert.priority || (priority == self.alert.priority && self.alert.escalated);
        if rises {
            self.alert.priority = priority;
            self.alert.escalated = false;
        }
        rises
    }

    /// Lets an acknowledged alert fall to what its cause is worth. An unacknowledged one keeps its priority: nobody
    /// knows yet that it was worse. An escalated one keeps it as long as its condition lasts.
    fn ease(&mut self, at: WatchTime, out: &mut Vec<Output>) {
        if self.cause < self.alert.priority && !self.alert.escalated {
            self.alert.priority = self.cause;
            self.enter(AlertState::Acknowledged, at, Change::Eased, out);
        }
    }

    /// The time since when it was there is put to the rest.
    fn stop_counting(&mut self, at: WatchTime) {
        if !self.lingers {
            self.unanswered = self.unanswered + at.since(self.since);
        }
    }

    /// There, and nobody has answered.
    fn is_unanswered(&self) -> bool {
        matches!(self.alert.state, AlertState::Unacknowledged | AlertState::Silenced { .. })
    }

    /// There or gone, and nobody has answered.
    fn waits(&self) -> bool {
        !matches!(self.alert.state, AlertState::Acknowledged | AlertState::Normal)
    }

    fn sound(&self) -> Sound {
        match (self.alert.state, self.alert.priority) {
            (AlertState::Unacknowledged, Priority::Alarm) => Sound::Alarm,
            (AlertState::Unacknowledged, Priority::Warning) => Sound::Warning,
            _ => Sound::Quiet,
        }
    }

    /// When the silence ends.
    fn resounds(&self) -> Option<WatchTime> {
        match self.alert.state {
            AlertState::Silenced { until } => Some(until),
            _ => None,
        }
    }

    /// When it has been there for `after` in all, spells before a break counted in.
    fn has_lasted(&self, after: Span) -> WatchTime {
        (self.since + after - self.unanswered).max(self.since)
    }
}

/// A caution is active without waiting for an answer, which alert sentences write like an acknowledged alert.
fn state_when_present(priority: Priority) -> AlertState {
    if priority == Priority::Caution { AlertState::Acknowledged } else { AlertState::Unacknowledged }
}

fn place_in_list(alert: &Alert) -> u8 {
    match (alert.state, alert.priority) {
        (AlertState::Unacknowledged | AlertState::Silenced { .. }, Priority::Alarm) => 0,
        (AlertState::Unacknowledged | AlertState::Silenced { .. }, _) => 1,
        (AlertState::Rectified, Priority::Alarm) => 2,
        (AlertState::Rectified, _) => 3,
        (AlertState::Acknowledged | AlertState::Normal, Priority::Alarm) => 4,
        (AlertState::Acknowledged | AlertState::Normal, Priority::Warning) => 5,
        (AlertState::Acknowledged | AlertState::Normal, Priority::Caution) => 6,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const KIND: AlertKind = AlertKind::FixLost;
    const START: WatchTime = WatchTime(1_000_000);

    fn present(priority: Priority) -> Condition {
        let reason = Reason { what: "No position for 15 s.".into(), action: "Check the receiver.".into() };
        Condition::Present { priority, reason }
    }

    /// The machine with everything it has put out.
    struct Bench {
        alerts: Alerts,
        now: WatchTime,
        out: Vec<Output>,
    }

    impl Bench {
        fn new() -> Self {
            Self { alerts: Alerts::new(Span::from_mins(5)), now: START, out: Vec::new() }
        }

        fn wait(&mut self, seconds: i64) {
            self.now += Span::from_secs(seconds);
            self.alerts.run_to(self.now, &mut self.out);
        }

        fn find(&mut self, kind: AlertKind, found: Condition) {
            self.alerts.assess(self.now, kind, found, &mut self.out);
        }

        fn acknowledge(&mut self, which: Option<AlertKind>) {
            self.alerts.acknowledge(self.now, which, &mut self.out);
        }

        fn silence(&mut self) {
            self.alerts.silence(self.now, &mut self.out);
        }

        fn happens(&mut self, event: &str) {
            match event {
                "absent" => self.find(KIND, Condition::Absent),
                "caution" => self.find(KIND, present(Priority::Caution)),
                "warning" => self.find(KIND, present(Priority::Warning)),
                "alarm" => self.find(KIND, present(Priority::Alarm)),
                "ack" => self.acknowledge(None),
                "silence" => self.silence(),
                "wait30" => self.wait(30),
                "wait60" => self.wait(60),
                "wait300" => self.wait(300),
                other => panic!("no such event: {other}"),
            }
        }

        /// What came out since last asked, in short: `Raised Sound:Alarm`.
        fn said(&mut self) -> String {
            let word = |output: &Output| match output {
                Output::Alert(change) => format!("{:?}", change.change),
                Output::Sound { sound, .. } => format!("Sound:{sound:?}"),
                Output::Refused { .. } => "Refused".into(),
                other => format!("{other:?}"),
            };
            self.out.drain(..).map(|output| word(&output)).collect::<Vec<_>>().join(" ")
        }

        /// `Alarm/Unacknowledged`, or `Normal`.
        fn stands(&self) -> String {
            let state = |state| match state {
                AlertState::Silenced { .. } => "Silenced".into(),
                other => format!("{other:?}"),
            };
            self.alerts
                .get(KIND)
                .map_or("Normal".into(), |alert| format!("{:?}/{}", alert.priority, state(alert.state)))
        }
    }

    /// The table of states and events. Each row: how the state is reached, what happens then, where the alert
    /// stands after it, what was put out, and the clause of MSC.302(87) where there is one.
    #[rustfmt::skip]
    const TABLE: &[(&str, &str, &str, &str, &str)] = &[
        // Normal.
        ("", "absent", "Normal", "", ""),
        ("", "caution", "Caution/Acknowledged", "Raised", "7.5 silent, needs no answer"),
        ("", "warning", "Warning/Unacknowledged", "Raised Sound:Warning", "7.4 momentary signal"),
        ("", "alarm", "Alarm/Unacknowledged", "Raised Sound:Alarm", "7.3.2 audible signal"),
        ("", "ack", "Normal", "Refused", ""),
        ("", "silence", "Normal", "", ""),
        // Caution.
        ("caution", "absent", "Normal", "Ended", "7.5 goes when the condition goes"),
        ("caution", "caution", "Caution/Acknowledged", "", ""),
        ("caution", "warning", "Warning/Unacknowledged", "Risen Sound:Warning", ""),
        ("caution", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        ("caution", "ack", "Caution/Acknowledged", "Refused", "7.5"),
        ("caution", "silence", "Caution/Acknowledged", "", ""),
        ("caution", "wait300", "Caution/Acknowledged", "", "7.5 never escalates"),
        // Warning, unacknowledged.
        ("warning", "absent", "Warning/Rectified", "Rectified Sound:Quiet", "7.3.7, 7.3.8"),
        ("warning", "caution", "Warning/Unacknowledged", "", "keeps its priority until answered"),
        ("warning", "warning", "Warning/Unacknowledged", "", "mere text puts nothing out"),
        ("warning", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        ("warning", "ack", "Warning/Acknowledged", "Acknowledged Sound:Quiet", "7.4"),
        ("warning", "silence", "Warning/Silenced", "Silenced Sound:Quiet", "7.3.5"),
        ("warning", "wait30", "Warning/Unacknowledged", "", ""),
        ("warning", "wait60", "Warning/Unacknowledged", "Sound:Warning", "7.6 repeated"),
        ("warning", "wait300", "Alarm/Unacknowledged",
            "Sound:Warning Sound:Warning Sound:Warning Sound:Warning Risen Sound:Alarm", "7.6 escalated"),
        // Warning, silenced.
        ("warning silence", "absent", "Warning/Rectified", "Rectified", ""),
        ("warning silence", "warning", "Warning/Silenced", "", ""),
        ("warning silence", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        ("warning silence", "ack", "Warning/Acknowledged", "Acknowledged", ""),
        ("warning silence", "silence", "Warning/Silenced", "", "7.3.5 a silence is not prolonged"),
        ("warning silence", "wait30", "Warning/Unacknowledged", "Resounded Sound:Warning", "7.3.5"),
        ("warning silence", "wait60", "Warning/Unacknowledged", "Resounded Sound:Warning", ""),
        // Warning, acknowledged.
        ("warning ack", "absent", "Normal", "Ended", ""),
        ("warning ack", "caution", "Caution/Acknowledged", "Eased", ""),
        ("warning ack", "warning", "Warning/Acknowledged", "", ""),
        ("warning ack", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        ("warning ack", "ack", "Warning/Acknowledged", "Refused", ""),
        ("warning ack", "silence", "Warning/Acknowledged", "", ""),
        ("warning ack", "wait300", "Warning/Acknowledged", "", "7.6 only the unacknowledged rise"),
        // Warning, rectified and unacknowledged.
        ("warning absent", "absent", "Warning/Rectified", "", ""),
        ("warning absent", "warning", "Warning/Unacknowledged", "Returned Sound:Warning", ""),
        ("warning absent", "alarm", "Alarm/Unacknowledged", "Returned Sound:Alarm", ""),
        ("warning absent", "ack", "Normal", "Ended", "7.3.7 visual goes on until acknowledged"),
        ("warning absent", "silence", "Warning/Rectified", "", ""),
        ("warning absent", "wait300", "Warning/Rectified", "", "7.3.8 no sound, no escalation"),
        // Alarm, unacknowledged.
        ("alarm", "absent", "Alarm/Rectified", "Rectified Sound:Quiet", "7.3.7, 7.3.8"),
        ("alarm", "warning", "Alarm/Unacknowledged", "", "ends only acknowledged and rectified"),
        ("alarm", "alarm", "Alarm/Unacknowledged", "", ""),
        ("alarm", "ack", "Alarm/Acknowledged", "Acknowledged Sound:Quiet", "7.3.1"),
        ("alarm", "silence", "Alarm/Silenced", "Silenced Sound:Quiet", "7.3.5"),
        ("alarm", "wait300", "Alarm/Unacknowledged", "", "7.3.8 sounds on until acknowledged"),
        // Alarm, silenced.
        ("alarm silence", "absent", "Alarm/Rectified", "Rectified", ""),
        ("alarm silence", "alarm", "Alarm/Silenced", "", ""),
        ("alarm silence", "ack", "Alarm/Acknowledged", "Acknowledged", ""),
        ("alarm silence", "silence", "Alarm/Silenced", "", "7.3.5"),
        ("alarm silence", "wait30", "Alarm/Unacknowledged", "Resounded Sound:Alarm", "7.3.5 30 s"),
        // Alarm, acknowledged.
        ("alarm ack", "absent", "Normal", "Ended", "MSC.252(83) 20.2.8"),
        ("alarm ack", "warning", "Warning/Acknowledged", "Eased", ""),
        ("alarm ack", "alarm", "Alarm/Acknowledged", "", ""),
        ("alarm ack", "ack", "Alarm/Acknowledged", "Refused", ""),
        ("alarm ack", "silence", "Alarm/Acknowledged", "", ""),
        ("alarm ack", "wait300", "Alarm/Acknowledged", "", "MSC.252(83) 20.2.7 steady"),
        ("alarm ack warning", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        // Alarm, rectified and unacknowledged.
        ("alarm absent", "absent", "Alarm/Rectified", "", ""),
        ("alarm absent", "warning", "Alarm/Unacknowledged", "Returned Sound:Alarm", "not answered yet"),
        ("alarm absent", "alarm", "Alarm/Unacknowledged", "Returned Sound:Alarm", ""),
        ("alarm absent", "ack", "Normal", "Ended", ""),
        ("alarm absent", "silence", "Alarm/Rectified", "", ""),
        // Answered after its cause fell.
        ("alarm warning", "ack", "Warning/Acknowledged", "Acknowledged Eased Sound:Quiet", ""),
        // Escalated: MSC.302(87) 6.2.2, an escalated warning is an alarm, as long as its condition lasts.
        ("warning wait300", "warning", "Alarm/Unacknowledged", "", "6.2.2"),
        ("warning wait300", "alarm", "Alarm/Unacknowledged", "Risen", "the cause is an alarm by itself now"),
        ("warning wait300", "absent", "Alarm/Rectified", "Rectified Sound:Quiet", ""),
        ("warning wait300", "ack", "Alarm/Acknowledged", "Acknowledged Sound:Quiet", ""),
        ("warning wait300 ack", "warning", "Alarm/Acknowledged", "", "6.2.2"),
        ("warning wait300 ack", "alarm", "Alarm/Unacknowledged", "Risen Sound:Alarm", ""),
        ("warning wait300 ack", "absent", "Normal", "Ended", ""),
    ];

    #[test]
    fn every_state_answers_every_event_as_the_standard_says() {
        for (before, event, stands, said, clause) in TABLE {
            let mut bench = Bench::new();
            before.split_whitespace().for_each(|event| bench.happens(event));
            bench.said();
            bench.happens(event);
            assert_eq!(bench.stands(), *stands, "[{before}] then {event}: {clause}");
            assert_eq!(bench.said(), *said, "[{before}] then {event}: {clause}");
        }
    }

    #[test]
    fn a_silenced_alarm_sounds_again_after_exactly_thirty_seconds() {
        let mut bench = Bench::new();
        bench.happens("alarm");
        bench.silence();
        assert_eq!(bench.alerts.next_deadline(), Some(START + SILENCE));
        bench.out.clear();
        bench.wait(3600);
        let sounds = bench.out.last();
        assert_eq!(sounds, Some(&Output::Sound { at: START + SILENCE, sound: Sound::Alarm }));
    }

    #[test]
    fn an_alarm_raised_while_another_is_silenced_sounds() {
        let mut bench = Bench::new();
        bench.find(AlertKind::Outside, present(Priority::Alarm));
        bench.silence();
        bench.wait(10);
        bench.find(AlertKind::Shallow, present(Priority::Alarm));
        assert_eq!(bench.alerts.sound(), Sound::Alarm);
    }

    #[test]
    fn a_warning_does_not_drown_in_an_alarm_that_is_answered() {
        let mut bench = Bench::new();
        bench.find(AlertKind::Drag, present(Priority::Alarm));
        bench.wait(5);
        bench.find(AlertKind::WindShift, present(Priority::Warning));
        bench.said();
        bench.acknowledge(Some(AlertKind::Drag));
        assert_eq!(bench.said(), "Acknowledged Sound:Warning");
    }

    #[test]
    fn two_warnings_in_one_breath_give_one_signal_and_repeat_together() {
        let mut bench = Bench::new();
        bench.find(AlertKind::WindShift, present(Priority::Warning));
        bench.find(AlertKind::WindHigh, present(Priority::Warning));
        assert_eq!(bench.said(), "Raised Sound:Warning Raised");
        bench.wait(20);
        bench.find(AlertKind::Creep, present(Priority::Warning));
        assert_eq!(bench.said(), "Raised Sound:Warning");
        bench.wait(59);
        assert_eq!(bench.said(), "");
        bench.wait(1);
        assert_eq!(bench.said(), "Sound:Warning");
    }

    #[test]
    fn a_warning_that_comes_and_goes_still_rises_after_five_minutes_of_presence() {
        let mut bench = Bench::new();
        for _ in 0..5 {
            bench.happens("warning");
            bench.wait(50);
            bench.happens("absent");
            bench.wait(600);
        }
        bench.happens("warning");
        bench.wait(49);
        assert_eq!(bench.stands(), "Warning/Unacknowledged");
        bench.wait(1);
        assert_eq!(bench.stands(), "Alarm/Unacknowledged");
        assert!(bench.alerts.get(KIND).is_some_and(|alert| alert.escalated && alert.raised == START));
    }

    #[test]
    fn a_warning_that_lingers_stands_and_neither_rises_nor_is_raised() {
        let mut bench = Bench::new();
        let lingering = || {
            let Condition::Present { reason, .. } = present(Priority::Warning) else { unreachable!() };
            Condition::Lingering { reason }
        };
        bench.find(KIND, lingering());
        assert_eq!(bench.stands(), "Normal");
        bench.happens("warning");
        bench.wait(200);
        for _ in 0..400 {
            bench.find(KIND, lingering());
            bench.wait(1);
        }
        assert_eq!(bench.stands(), "Warning/Unacknowledged");
        bench.happens("warning");
        bench.wait(99);
        assert_eq!(bench.stands(), "Warning/Unacknowledged");
        bench.wait(1);
        assert_eq!(bench.stands(), "Alarm/Unacknowledged", "200 s and 100 s of its cause");
        bench.find(KIND, lingering());
        assert_eq!(bench.stands(), "Alarm/Rectified");
    }

    #[test]
    fn a_shorter_time_to_rise_counts_from_now_for_what_waits_already() {
        let mut bench = Bench::new();
        bench.happens("warning");
        bench.wait(100);
        bench.out.clear();
        bench.alerts.set_escalate_after(bench.now, Span::from_secs(60), &mut bench.out);
        let Some(Output::Alert(change)) = bench.out.first() else { panic!("nothing rose") };
        assert_eq!((change.at, change.change), (bench.now, Change::Risen));
    }

    #[test]
    fn acknowledging_one_leaves_the_others() {
        let mut bench = Bench::new();
        bench.find(AlertKind::Drag, present(Priority::Alarm));
        bench.find(AlertKind::Outside, present(Priority::Alarm));
        bench.acknowledge(Some(AlertKind::Drag));
        assert_eq!(bench.alerts.sound(), Sound::Alarm);
        bench.said();
        bench.acknowledge(Some(AlertKind::Drag));
        assert_eq!(bench.said(), "Refused");
        bench.acknowledge(None);
        assert_eq!(bench.alerts.sound(), Sound::Quiet);
    }

    #[test]
    fn the_reason_keeps_up_while_the_condition_lasts_and_stays_after_it() {
        let mut bench = Bench::new();
        bench.happens("alarm");
        let reason = Reason { what: "No position for 16 s.".into(), action: "Check the receiver.".into() };
        bench.find(KIND, Condition::Present { priority: Priority::Alarm, reason: reason.clone() });
        bench.happens("absent");
        let alert = bench.alerts.get(KIND).unwrap();
        assert_eq!((&alert.reason, alert.rectified), (&reason, Some(START)));
    }

    #[test]
    fn the_list_is_in_the_standards_order() {
        use AlertKind::{Creep, DepthLost, Drag, FixLost, Outside, Shallow, WindHigh, WindShift};
        let mut bench = Bench::new();
        bench.find(DepthLost, present(Priority::Caution));
        bench.find(WindHigh, present(Priority::Warning));
        bench.find(Outside, present(Priority::Alarm));
        bench.acknowledge(None);
        bench.find(Creep, present(Priority::Warning));
        bench.find(Creep, Condition::Absent);
        bench.find(Shallow, present(Priority::Alarm));
        bench.find(Shallow, Condition::Absent);
        bench.find(WindShift, present(Priority::Warning));
        bench.find(FixLost, present(Priority::Alarm));
        bench.silence();
        bench.find(Drag, present(Priority::Alarm));
        let kinds: Vec<AlertKind> = bench.alerts.list().map(|alert| alert.kind).collect();
        assert_eq!(kinds, [Drag, FixLost, WindShift, Shallow, Creep, Outside, WindHigh, DepthLost]);
    }

    #[test]
    fn a_leap_of_the_clock_by_ages_ends() {
        let mut bench = Bench::new();
        bench.alerts = Alerts::new(Span(i64::MAX));
        bench.happens("warning");
        bench.alerts.run_to(WatchTime(i64::MAX), &mut bench.out);
        assert_eq!(bench.stands(), "Alarm/Unacknowledged");
    }

    #[derive(Clone, Debug)]
    enum Step {
        Find(AlertKind, Option<Priority>),
        Acknowledge(Option<AlertKind>),
        Silence,
        Wait(i64),
    }

    fn kind() -> impl Strategy<Value = AlertKind> {
        prop::sample::select(vec![AlertKind::Drag, AlertKind::FixLost, AlertKind::WindShift])
    }

    fn steps() -> impl Strategy<Value = Vec<Step>> {
        let priority = prop::sample::select(vec![
            None,
            Some(Priority::Caution),
            Some(Priority::Warning),
            Some(Priority::Alarm),
        ]);
        let step = prop_oneof![
            4 => (kind(), priority).prop_map(|(kind, priority)| Step::Find(kind, priority)),
            1 => prop::option::of(kind()).prop_map(Step::Acknowledge),
            1 => Just(Step::Silence),
            3 => (0_i64..200_000).prop_map(Step::Wait),
        ];
        prop::collection::vec(step, 0..60)
    }

    fn take(bench: &mut Bench, step: &Step) {
        match step {
            Step::Find(kind, None) => bench.find(*kind, Condition::Absent),
            Step::Find(kind, Some(priority)) => bench.find(*kind, present(*priority)),
            Step::Acknowledge(which) => bench.acknowledge(*which),
            Step::Silence => bench.silence(),
            Step::Wait(ms) => {
                bench.now += Span(*ms);
                bench.alerts.run_to(bench.now, &mut bench.out);
            }
        }
    }

    proptest! {
        #[test]
        fn what_comes_out_does_not_depend_on_how_often_time_is_told(steps in steps()) {
            let (mut coarse, mut fine) = (Bench::new(), Bench::new());
            for step in &steps {
                take(&mut coarse, step);
                if let Step::Wait(ms) = step {
                    (0..7).for_each(|_| take(&mut fine, &Step::Wait(ms / 7)));
                }
                fine.now = coarse.now;
                take(&mut fine, if matches!(step, Step::Wait(_)) { &Step::Wait(0) } else { step });
            }
            prop_assert_eq!(coarse.out, fine.out);
        }

        #[test]
        fn an_unanswered_alarm_is_never_quiet_unless_silenced_within_thirty_seconds(steps in steps()) {
            let mut bench = Bench::new();
            let mut heard = Sound::Quiet;
            let mut silenced_at = WatchTime(i64::MIN);
            for step in &steps {
                take(&mut bench, step);
                if matches!(step, Step::Silence) {
                    silenced_at = bench.now;
                }
                for output in bench.out.drain(..) {
                    if let Output::Sound { sound, .. } = output {
                        heard = sound;
                    }
                }
                prop_assert_eq!(heard, bench.alerts.sound());
                for alert in bench.alerts.list().filter(|alert| alert.priority == Priority::Alarm) {
                    match alert.state {
                        AlertState::Unacknowledged => prop_assert_eq!(heard, Sound::Alarm),
                        AlertState::Silenced { until } => {
                            prop_assert!(bench.now < until && until <= silenced_at + SILENCE);
                        }
                        _ => {}
                    }
                }
            }
        }

        #[test]
        fn changes_come_in_order_of_time_and_form_whole_lives(steps in steps()) {
            let mut bench = Bench::new();
            steps.iter().for_each(|step| take(&mut bench, step));
            let mut last = START;
            let mut alive: BTreeMap<AlertKind, Priority> = BTreeMap::new();
            for output in &bench.out {
                let at = match output {
                    Output::Alert(change) => {
                        let AlertChange { change: what, alert, .. } = change;
                        let before = alive.insert(alert.kind, alert.priority);
                        prop_assert_eq!(before.is_none(), *what == Change::Raised);
                        if *what == Change::Ended {
                            alive.remove(&alert.kind);
                        }
                        // Only the crew's answer or a cause that was answered lets a priority fall.
                        prop_assert!(*what == Change::Eased || before.is_none_or(|p| p <= alert.priority));
                        change.at
                    }
                    Output::Sound { at, .. } | Output::Refused { at, .. } => *at,
                    other => panic!("not from alerts: {other:?}"),
                };
                prop_assert!(at >= last);
                last = at;
            }
            let listed: BTreeMap<AlertKind, Priority> =
                bench.alerts.list().map(|alert| (alert.kind, alert.priority)).collect();
            prop_assert_eq!(alive, listed);
        }

        #[test]
        fn an_alarm_ends_only_when_acknowledged_and_rectified(steps in steps()) {
            let mut bench = Bench::new();
            let mut answered: BTreeMap<AlertKind, bool> = BTreeMap::new();
            for step in &steps {
                bench.out.clear();
                take(&mut bench, step);
                for output in &bench.out {
                    let Output::Alert(AlertChange { change, alert, .. }) = output else { continue };
                    match change {
                        Change::Acknowledged => drop(answered.insert(alert.kind, true)),
                        Change::Raised | Change::Risen => drop(answered.insert(alert.kind, false)),
                        Change::Ended if alert.priority == Priority::Alarm => {
                            prop_assert!(alert.rectified.is_some());
                            let now = matches!(step, Step::Acknowledge(_));
                            prop_assert!(now || answered[&alert.kind]);
                        }
                        _ => {}
                    }
                }
            }
        }
    }
}
