//! When is what played, and does it really play? The decisions of the sound thread: pure, in its own time.

use std::collections::VecDeque;
use std::time::Duration;

use super::pattern::{ALARM_EVERY, Cue};
use super::speaker::{Fault, Played};
use crate::watch::alert::Sound;

/// Time since the sound thread began.
pub type Moment = Duration;

/// A sound card that has not finished this long after it should have is taken for stuck.
const GRACE: Duration = Duration::from_millis(2500);
/// How often a sound card that worked is tried without a sound: it must not be found dead by the alarm itself.
const TRIAL_EVERY: Duration = Duration::from_secs(300);
/// The first wait before a sound card that failed is tried again; each further wait is twice as long.
const FIRST_RETRY: Duration = Duration::from_secs(2);
/// The longest wait before a sound card that failed is tried again.
const LAST_RETRY: Duration = Duration::from_secs(120);

/// Signals of a rehearsal: with the pauses of the real alarm half a minute, long enough to wake and to call out. Our choice.
const REHEARSED: u8 = 4;

/// What the sound thread reports to the rest of the program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SoundReport {
    /// The sound card plays, as far as a program can tell.
    Works,
    /// It does not.
    Failed {
        /// Why, in words.
        why: String,
    },
    /// A rehearsal has come to its end.
    Rehearsed {
        /// Why it could not be played, in words; `None` when it was.
        failed: Option<String>,
    },
    /// The loudspeaker that was chosen came or went.
    Loudspeaker {
        /// Its name, where it is gone and the default one plays.
        gone: Option<String>,
    },
    /// A signal could not be played: ring the terminal bell instead.
    Ring(Cue),
}

/// What the desk wants done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Do {
    /// Have this played.
    Play(Cue),
    /// Stop what plays.
    Hush,
    /// Pass this on.
    Report(SoundReport),
}

#[derive(Debug, PartialEq, Eq)]
enum Health {
    Unknown,
    Works,
    Failed(Fault),
}

#[derive(Debug)]
struct Playing {
    cue: Cue,
    answer_by: Moment,
    /// The bell has rung for it, or it needs none.
    bell_given: bool,
    /// It belongs to a rehearsal.
    rehearsed: bool,
}

/// A rehearsal that goes on.
#[derive(Debug)]
struct Rehearsal {
    signals_left: u8,
    next_at: Moment,
}

/// The state of the sound thread.
#[derive(Debug)]
pub struct Desk {
    follow: Sound,
    signal_at: Option<Moment>,
    waiting: VecDeque<Cue>,
    rehearsal: Option<Rehearsal>,
    playing: Option<Playing>,
    health: Health,
    trial_at: Moment,
    retry_after: Duration,
}

impl Default for Desk {
    fn default() -> Self {
        Self {
            follow: Sound::Quiet,
            signal_at: None,
            waiting: VecDeque::new(),
            rehearsal: None,
            playing: None,
            health: Health::Unknown,
            trial_at: Duration::ZERO,
            retry_after: FIRST_RETRY,
        }
    }
}

impl Desk {
    /// The sound that the watch asks for changed, or a warning's signal is to be given again.
    pub fn follow(&mut self, now: Moment, sound: Sound) -> Vec<Do> {
        // The two signals that sound at this moment do for a second warning too.
        let already = sound == Sound::Warning && self.plays(Cue::Warning);
        self.follow = sound;
        let rehearses = self.playing.as_ref().is_some_and(|playing| playing.rehearsed);
        if sound != Sound::Quiet {
            // The real thing takes over.
            self.rehearsal = None;
        }
        self.signal_at = (sound != Sound::Quiet && !already).then_some(now);
        let mut todo = Vec::new();
        if sound != Sound::Warning && self.plays(Cue::Warning)
            || sound != Sound::Alarm && self.plays(Cue::Alarm) && !(rehearses && sound == Sound::Quiet)
        {
            todo.push(Do::Hush);
        }
        todo.extend(self.run(now));
        todo
    }

    /// A single sound, when nothing more urgent plays.
    pub fn cue(&mut self, now: Moment, cue: Cue) -> Vec<Do> {
        if !self.plays(cue) && !self.waiting.contains(&cue) {
            self.waiting.push_back(cue);
        }
        self.run(now)
    }

    /// The alarm is to sound some times as it would at night. While a real alert sounds it does not.
    pub fn rehearse(&mut self, now: Moment) -> Vec<Do> {
        if self.follow != Sound::Quiet {
            return Vec::new();
        }
        if let (Health::Failed(fault), Some(_)) = (&self.health, &self.playing) {
            // The player hangs.
            return vec![rehearsed(Some(fault))];
        }
        self.rehearsal = Some(Rehearsal { signals_left: REHEARSED, next_at: now });
        self.run(now)
    }

    /// No more of a rehearsal.
    pub fn end_rehearsal(&mut self, now: Moment) -> Vec<Do> {
        self.rehearsal = None;
        let sounds = self.playing.as_ref().is_some_and(|playing| playing.rehearsed);
        let mut todo: Vec<Do> = sounds.then_some(Do::Hush).into_iter().collect();
        todo.extend(self.run(now));
        todo
    }

    /// The next signal of a rehearsal, if it is due.
    fn next_rehearsed(&mut self, now: Moment) -> bool {
        let Some(rehearsal) =
            self.rehearsal.as_mut().filter(|one| one.signals_left > 0 && one.next_at <= now)
        else {
            return false;
        };
        rehearsal.signals_left -= 1;
        rehearsal.next_at = now + ALARM_EVERY;
        true
    }

    /// A signal of a rehearsal was played, or not.
    fn rehearsal_played(&mut self, fault: Option<&Fault>, todo: &mut Vec<Do>) {
        let is_over = self.rehearsal.as_ref().is_some_and(|one| fault.is_some() || one.signals_left == 0);
        if is_over {
            self.rehearsal = None;
            todo.push(rehearsed(fault));
        }
    }

    /// The player is free again.
    pub fn played(&mut self, now: Moment, how: Played) -> Vec<Do> {
        let Some(playing) = self.playing.take() else { return Vec::new() };
        let mut todo = Vec::new();
        match how {
            Played::Hushed => {}
            Played::Whole => {
                self.retry_after = FIRST_RETRY;
                self.trial_at = now + TRIAL_EVERY;
                self.judge(Health::Works, &mut todo);
                if playing.rehearsed {
                    self.rehearsal_played(None, &mut todo);
                }
            }
            Played::Not(fault) => {
                self.trial_at = now + self.retry_after;
                self.retry_after = (self.retry_after * 2).min(LAST_RETRY);
                if playing.rehearsed {
                    self.rehearsal_played(Some(&fault), &mut todo);
                }
                self.judge(Health::Failed(fault), &mut todo);
                todo.extend((!playing.bell_given).then_some(Do::Report(SoundReport::Ring(playing.cue))));
            }
        }
        todo.extend(self.run(now));
        todo
    }

    /// Time passes: what is due.
    pub fn run(&mut self, now: Moment) -> Vec<Do> {
        let mut todo = Vec::new();
        self.notice_stuck(now, &mut todo);
        if self.signal_at.is_some_and(|at| at <= now) {
            self.signal_at = (self.follow == Sound::Alarm).then_some(now + ALARM_EVERY);
            self.give_signal(now, &mut todo);
        }
        if self.playing.is_none() {
            if let Some(cue) = self.waiting.pop_front() {
                self.play(now, cue, &mut todo);
            } else if self.next_rehearsed(now) {
                self.play(now, Cue::Alarm, &mut todo);
                if let Some(playing) = &mut self.playing {
                    playing.rehearsed = true;
                }
            } else if self.trial_at <= now {
                self.play(now, Cue::Trial, &mut todo);
            }
        }
        todo
    }

    /// The soonest moment at which `run` has something to do.
    #[must_use]
    pub fn next_deadline(&self) -> Moment {
        let stuck = self.playing.as_ref().map(|playing| playing.answer_by);
        let trial = self.playing.is_none().then_some(self.trial_at);
        let rehearsal = self.rehearsal.as_ref().filter(|one| self.playing.is_none() && one.signals_left > 0);
        let rehearsed = rehearsal.map(|one| one.next_at);
        stuck.into_iter().chain(trial).chain(self.signal_at).chain(rehearsed).min().unwrap_or(Moment::MAX)
    }

    fn plays(&self, cue: Cue) -> bool {
        self.playing.as_ref().is_some_and(|playing| playing.cue == cue)
    }

    /// An alarm or warning signal is due: it goes before everything else.
    fn give_signal(&mut self, now: Moment, todo: &mut Vec<Do>) {
        let cue = if self.follow == Sound::Alarm { Cue::Alarm } else { Cue::Warning };
        if self.playing.is_none() {
            return self.play(now, cue, todo);
        }
        if matches!(self.health, Health::Failed(_)) {
            // Whatever the player hangs on, the bell does not wait for it.
            todo.push(Do::Report(SoundReport::Ring(cue)));
        } else if !self.waiting.contains(&cue) {
            todo.push(Do::Hush);
            self.waiting.push_front(cue);
        }
    }

    fn play(&mut self, now: Moment, cue: Cue, todo: &mut Vec<Do>) {
        let failed = matches!(self.health, Health::Failed(_));
        if failed && cue != Cue::Trial {
            todo.push(Do::Report(SoundReport::Ring(cue)));
        }
        self.playing = Some(Playing {
            cue,
            answer_by: now + cue.length() + GRACE,
            bell_given: failed || cue == Cue::Trial,
            rehearsed: false,
        });
        todo.push(Do::Play(cue));
    }

    /// The player has not answered: it hangs in the sound card's driver, and everything goes to the bell until it
    /// comes back.
    fn notice_stuck(&mut self, now: Moment, todo: &mut Vec<Do>) {
        let Some(playing) = self.playing.as_mut().filter(|playing| playing.answer_by <= now) else { return };
        playing.answer_by = Moment::MAX;
        let mut unheard: Vec<Cue> = self.waiting.drain(..).collect();
        if !std::mem::replace(&mut playing.bell_given, true) {
            unheard.push(playing.cue);
        }
        if playing.rehearsed {
            self.rehearsal_played(Some(&Fault::Stuck), todo);
        }
        self.judge(Health::Failed(Fault::Stuck), todo);
        todo.extend(unheard.into_iter().map(|cue| Do::Report(SoundReport::Ring(cue))));
    }

    fn judge(&mut self, health: Health, todo: &mut Vec<Do>) {
        if self.health == health {
            return;
        }
        todo.push(Do::Report(match &health {
            Health::Failed(fault) => SoundReport::Failed { why: fault.to_string() },
            Health::Works | Health::Unknown => SoundReport::Works,
        }));
        self.health = health;
    }
}

fn rehearsed(fault: Option<&Fault>) -> Do {
    Do::Report(SoundReport::Rehearsed { failed: fault.map(ToString::to_string) })
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn s(seconds: u64) -> Moment {
        Duration::from_secs(seconds)
    }

    fn ring(cue: Cue) -> Do {
        Do::Report(SoundReport::Ring(cue))
    }

    fn failed(fault: &Fault) -> Do {
        Do::Report(SoundReport::Failed { why: fault.to_string() })
    }

    /// A desk whose sound card has been tried and works.
    fn working() -> Desk {
        let mut desk = Desk::default();
        assert_eq!(desk.run(s(0)), [Do::Play(Cue::Trial)]);
        assert_eq!(desk.played(s(1), Played::Whole), [Do::Report(SoundReport::Works)]);
        desk
    }

    /// A desk whose sound card has been tried and is missing.
    fn broken() -> Desk {
        let mut desk = Desk::default();
        desk.run(s(0));
        assert_eq!(desk.played(s(0), Played::Not(Fault::NotBuilt)), [failed(&Fault::NotBuilt)]);
        desk
    }

    #[test]
    fn an_alarm_is_played_again_every_eight_seconds_until_it_is_quiet() {
        let mut desk = working();
        assert_eq!(desk.follow(s(10), Sound::Alarm), [Do::Play(Cue::Alarm)]);
        for turn in 1..5 {
            assert_eq!(desk.played(s(12), Played::Whole), []);
            assert_eq!(desk.next_deadline(), s(10 + 8 * turn));
            assert_eq!(desk.run(s(10 + 8 * turn)), [Do::Play(Cue::Alarm)]);
        }
        assert_eq!(desk.follow(s(43), Sound::Quiet), [Do::Hush]);
        assert_eq!(desk.played(s(43), Played::Hushed), []);
        assert_eq!(desk.run(s(100)), []);
    }

    #[test]
    fn a_warning_is_played_once_each_time_it_is_asked_for() {
        let mut desk = working();
        assert_eq!(desk.follow(s(10), Sound::Warning), [Do::Play(Cue::Warning)]);
        assert_eq!(desk.follow(s(10), Sound::Warning), [], "the same signal does for both");
        assert_eq!(desk.played(s(12), Played::Whole), []);
        assert_eq!(desk.run(s(60)), []);
        assert_eq!(desk.follow(s(70), Sound::Warning), [Do::Play(Cue::Warning)]);
    }

    #[test]
    fn an_alarm_cuts_a_warning_short() {
        let mut desk = working();
        desk.follow(s(10), Sound::Warning);
        let todo = desk.follow(s(10), Sound::Alarm);
        assert!(todo.contains(&Do::Hush));
        assert_eq!(desk.played(s(10), Played::Hushed), [Do::Play(Cue::Alarm)]);
    }

    #[test]
    fn a_refusal_waits_for_the_alarm_signal_that_plays() {
        let mut desk = working();
        desk.follow(s(10), Sound::Alarm);
        assert_eq!(desk.cue(s(11), Cue::Refused), []);
        assert_eq!(desk.played(s(12), Played::Whole), [Do::Play(Cue::Refused)]);
    }

    #[test]
    fn without_a_sound_card_the_bell_rings_at_once_and_each_time() {
        let mut desk = broken();
        let at_once = desk.follow(s(1), Sound::Alarm);
        assert_eq!(at_once, [ring(Cue::Alarm), Do::Play(Cue::Alarm)]);
        assert_eq!(desk.played(s(1), Played::Not(Fault::NotBuilt)), []);
        assert_eq!(desk.run(s(9)), [ring(Cue::Alarm), Do::Play(Cue::Alarm)]);
    }

    #[test]
    fn a_sound_card_lost_in_the_middle_of_an_alarm_is_reported_and_the_bell_takes_over() {
        let mut desk = working();
        desk.follow(s(10), Sound::Alarm);
        let lost = Fault::Lost("unplugged".into());
        assert_eq!(desk.played(s(11), Played::Not(lost.clone())), [failed(&lost), ring(Cue::Alarm)]);
    }

    #[test]
    fn a_sound_card_that_hangs_is_reported_and_the_bell_rings_on_without_it() {
        let mut desk = working();
        desk.follow(s(10), Sound::Alarm);
        assert!(desk.next_deadline() < s(18));
        let stuck_at = desk.next_deadline();
        assert_eq!(desk.run(stuck_at), [failed(&Fault::Stuck), ring(Cue::Alarm)]);
        assert_eq!(desk.run(s(18)), [ring(Cue::Alarm)]);
        assert_eq!(desk.run(s(26)), [ring(Cue::Alarm)]);
        assert_eq!(desk.played(s(27), Played::Whole), [Do::Report(SoundReport::Works)]);
        assert_eq!(desk.run(s(34)), [Do::Play(Cue::Alarm)]);
    }

    #[test]
    fn a_sound_card_that_failed_is_tried_again_at_growing_intervals_and_taken_back() {
        let mut desk = broken();
        let mut now = s(0);
        let mut waits = Vec::new();
        for _ in 0..9 {
            waits.push((desk.next_deadline() - now).as_secs());
            now = desk.next_deadline();
            assert_eq!(desk.run(now), [Do::Play(Cue::Trial)]);
            assert_eq!(desk.played(now, Played::Not(Fault::NotBuilt)), [], "reported once");
        }
        assert_eq!(waits, [2, 4, 8, 16, 32, 64, 120, 120, 120]);
        now = desk.next_deadline();
        desk.run(now);
        assert_eq!(desk.played(now, Played::Whole), [Do::Report(SoundReport::Works)]);
    }

    #[test]
    fn a_rehearsal_sounds_like_the_alarm_and_ends_by_itself() {
        let mut desk = working();
        assert_eq!(desk.rehearse(s(10)), [Do::Play(Cue::Alarm)]);
        for turn in 1..4 {
            assert_eq!(desk.played(s(12 + 8 * (turn - 1)), Played::Whole), []);
            assert_eq!(desk.next_deadline(), s(10 + 8 * turn));
            assert_eq!(desk.run(s(10 + 8 * turn)), [Do::Play(Cue::Alarm)]);
        }
        assert_eq!(desk.played(s(36), Played::Whole), [rehearsed(None)]);
        assert_eq!(desk.run(s(42)), []);
        assert_eq!(desk.run(s(100)), []);
    }

    #[test]
    fn a_real_alert_takes_a_rehearsal_over_at_once() {
        for (sound, cue) in [(Sound::Alarm, Cue::Alarm), (Sound::Warning, Cue::Warning)] {
            let mut desk = working();
            desk.rehearse(s(10));
            assert!(desk.follow(s(11), sound).contains(&Do::Hush), "{sound:?}");
            assert_eq!(desk.played(s(11), Played::Hushed), [Do::Play(cue)], "{sound:?}");
            assert_eq!(desk.played(s(13), Played::Whole), []);
            let again = if sound == Sound::Alarm { vec![Do::Play(Cue::Alarm)] } else { vec![] };
            assert_eq!(desk.run(s(19)), again, "its own time, not that of the rehearsal");
            assert_eq!(desk.rehearse(s(20)), [], "this is no rehearsal");
        }
        // Between two signals of a rehearsal it need not wait for anything either.
        let mut desk = working();
        desk.rehearse(s(10));
        desk.played(s(12), Played::Whole);
        assert_eq!(desk.follow(s(13), Sound::Alarm), [Do::Play(Cue::Alarm)]);
    }

    #[test]
    fn a_rehearsal_that_is_stopped_falls_silent() {
        let mut desk = working();
        desk.rehearse(s(10));
        assert_eq!(desk.end_rehearsal(s(11)), [Do::Hush]);
        assert_eq!(desk.played(s(11), Played::Hushed), []);
        assert_eq!(desk.run(s(18)), []);
        assert_eq!(desk.end_rehearsal(s(19)), []);
    }

    #[test]
    fn a_rehearsal_on_a_dead_card_says_why_and_rings_the_bell_once_as_an_alarm_would() {
        let mut desk = broken();
        assert_eq!(desk.rehearse(s(1)), [ring(Cue::Alarm), Do::Play(Cue::Alarm)]);
        assert_eq!(desk.played(s(1), Played::Not(Fault::NotBuilt)), [rehearsed(Some(&Fault::NotBuilt))]);
        // One that hangs.
        let mut desk = working();
        desk.rehearse(s(10));
        let stuck_at = desk.next_deadline();
        let todo = desk.run(stuck_at);
        assert!(todo.contains(&rehearsed(Some(&Fault::Stuck))), "{todo:?}");
        assert_eq!(desk.rehearse(s(40)), [rehearsed(Some(&Fault::Stuck))]);
        assert_eq!(
            desk.follow(s(41), Sound::Alarm),
            [ring(Cue::Alarm)],
            "the real one rings the bell at once"
        );
    }

    #[test]
    fn a_sound_card_that_works_is_tried_again_every_five_minutes() {
        let mut desk = working();
        assert_eq!(desk.next_deadline(), s(301));
        assert_eq!(desk.run(s(301)), [Do::Play(Cue::Trial)]);
    }
}
