//! What a rehearsal does in the watch.

use super::{RehearsalView, Rehearsing};
use crate::watch::Watch;
use crate::watch::alert::Sound;
use crate::watch::output::Output;
use crate::watch::refusal::Refusal;
use crate::watch::tuning::REHEARSED_WITHIN;
use crate::watch::units::WatchTime;

impl Watch {
    /// The crew wants to hear the alarm.
    pub(in crate::watch) fn rehearse(&mut self, at: WatchTime) {
        if self.alerts.sound() != Sound::Quiet {
            self.refuse(at, Refusal::AlertSounds);
            return;
        }
        self.rehearsal = Some(RehearsalView { at, state: Rehearsing::Sounds, heard: None });
        self.out.push(Output::Rehearsal { at, sounds: true });
    }

    /// The crew says whether it was heard, or stops it.
    pub(in crate::watch) fn rehearsed(&mut self, at: WatchTime, heard: Option<bool>) {
        let Some(rehearsal) = &mut self.rehearsal else {
            self.refuse(at, Refusal::NoRehearsal);
            return;
        };
        rehearsal.heard = heard;
        if rehearsal.state == Rehearsing::Sounds {
            rehearsal.state = Rehearsing::Sounded;
            self.out.push(Output::Rehearsal { at, sounds: false });
        }
        let words = rehearsal.logged();
        self.night.happened(at, words, false);
    }

    /// The sound has come to its end, or why it could not be played.
    pub(in crate::watch) fn rehearsal_played(&mut self, at: WatchTime, failed: Option<String>) {
        let Some(rehearsal) = self.rehearsal.as_mut().filter(|one| one.state == Rehearsing::Sounds) else {
            return;
        };
        let Some(why) = failed else {
            rehearsal.state = Rehearsing::Sounded;
            return;
        };
        rehearsal.state = Rehearsing::Failed(why);
        let words = rehearsal.logged();
        self.night.happened(at, words, false);
    }

    /// One second: a real alert takes over, and nobody waits for ever for a sound of which nothing is heard.
    pub(in crate::watch) fn rehearsal_second(&mut self, now: WatchTime) {
        let is_real = self.alerts.sound() != Sound::Quiet;
        let Some(rehearsal) = self.rehearsal.as_mut().filter(|one| one.state == Rehearsing::Sounds) else {
            return;
        };
        if is_real {
            rehearsal.state = Rehearsing::TakenOver;
            let words = rehearsal.logged();
            self.night.happened(now, words, false);
            self.out.push(Output::Rehearsal { at: now, sounds: false });
        } else if now.since(rehearsal.at) >= REHEARSED_WITHIN {
            self.rehearsal_played(now, Some("nothing came back from the sound".into()));
        }
    }
}
