//! What a crew hears and sees of the watch: the real sound desk over a card that fails as real ones do, and the real screen
//! at any size.

use std::time::Duration;

use nightrode::edge::sound::desk::{Desk, Do, Moment};
use nightrode::edge::sound::pattern::ALARM_EVERY;
use nightrode::edge::sound::speaker::Played;
use nightrode::edge::sound::{Cue, Fault, SoundReport};
use nightrode::tui::app::App;
use nightrode::tui::options::Options;
use nightrode::tui::scene::stands;
use nightrode::watch::alert::{Alert, Priority, Sound};
use nightrode::watch::input::Device;
use nightrode::watch::snapshot::Snapshot;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::chance::Chance;

/// From one signal to the next, with a card that must first be found stuck, by card or by bell.
const UNHEARD_MOST: Duration = ALARM_EVERY.saturating_add(Duration::from_secs(9));

/// How the sound card is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Card {
    #[default]
    Works,
    /// It cannot be opened, or is lost.
    Refuses,
    /// It takes the sound and does not play it.
    LeadsNowhere,
    /// It never answers.
    Hangs,
}

impl Card {
    pub fn of(chance: &mut Chance) -> Self {
        [Self::Works, Self::Refuses, Self::LeadsNowhere, Self::Hangs][chance.below(4) as usize]
    }
}

/// The sound desk, its card, and what was heard.
#[derive(Debug, Default)]
pub struct Ears {
    desk: Desk,
    card: Card,
    /// What plays, and when it ends.
    playing: Option<(Cue, Moment)>,
    follows: Sound,
    /// When the alarm was asked for, or was heard last.
    heard_at: Moment,
}

impl Ears {
    /// The same card, and a program that has just been started.
    pub fn started_anew(&self) -> Self {
        Self { card: self.card, ..Self::default() }
    }

    pub fn set_card(&mut self, card: Card) {
        self.card = card;
    }

    /// The watch asks for a sound.
    pub fn follow(&mut self, now: Moment, sound: Sound) -> Vec<Device> {
        if sound == Sound::Alarm && self.follows != Sound::Alarm {
            self.heard_at = now;
        }
        self.follows = sound;
        let todo = self.desk.follow(now, sound);
        self.carry_out(now, todo)
    }

    /// Time passes. What the desk reports of its card.
    pub fn run(&mut self, now: Moment) -> Vec<Device> {
        let mut devices = Vec::new();
        let ended = self.playing.filter(|(_, ends)| *ends <= now && self.card != Card::Hangs);
        if ended.is_some() {
            self.playing = None;
            let how = self.how();
            let todo = self.desk.played(now, how);
            devices.extend(self.carry_out(now, todo));
        }
        let todo = self.desk.run(now);
        devices.extend(self.carry_out(now, todo));
        devices
    }

    /// Why the crew hears nothing, if an alarm should sound.
    pub fn check(&self, now: Moment) -> Result<(), String> {
        let silent = now.saturating_sub(self.heard_at);
        if self.follows == Sound::Alarm && silent > UNHEARD_MOST {
            return Err(format!(
                "an alarm, and nothing heard for {silent:?} with a card that {:?}",
                self.card
            ));
        }
        Ok(())
    }

    fn how(&self) -> Played {
        match self.card {
            Card::Works | Card::Hangs => Played::Whole,
            Card::Refuses => Played::Not(Fault::Lost("simulated".into())),
            Card::LeadsNowhere => Played::Not(Fault::Nowhere),
        }
    }

    fn carry_out(&mut self, now: Moment, todo: Vec<Do>) -> Vec<Device> {
        let mut devices = Vec::new();
        for what in todo {
            let more = match what {
                Do::Play(cue) => self.play(now, cue),
                Do::Hush if self.playing.is_some() && self.card != Card::Hangs => {
                    self.playing = None;
                    self.desk.played(now, Played::Hushed)
                }
                Do::Hush => Vec::new(),
                Do::Report(SoundReport::Works) => {
                    devices.push(Device::Sound { failed: None });
                    Vec::new()
                }
                Do::Report(SoundReport::Failed { why }) => {
                    devices.push(Device::Sound { failed: Some(why) });
                    Vec::new()
                }
                Do::Report(SoundReport::Loudspeaker { gone }) => {
                    devices.push(Device::Loudspeaker { gone });
                    Vec::new()
                }
                Do::Report(SoundReport::Rehearsed { failed }) => {
                    devices.push(Device::Rehearsal { failed });
                    Vec::new()
                }
                // The bell is the terminal's.
                Do::Report(SoundReport::Ring(cue)) => {
                    self.hear(now, cue);
                    Vec::new()
                }
            };
            devices.extend(self.carry_out(now, more));
        }
        devices
    }

    fn play(&mut self, now: Moment, cue: Cue) -> Vec<Do> {
        match self.card {
            Card::Works => {
                self.hear(now, cue);
                self.playing = Some((cue, now + cue.length()));
                Vec::new()
            }
            Card::Hangs => {
                self.playing = Some((cue, now));
                Vec::new()
            }
            Card::Refuses | Card::LeadsNowhere => {
                let how = self.how();
                self.desk.played(now, how)
            }
        }
    }

    fn hear(&mut self, now: Moment, cue: Cue) {
        if cue == Cue::Alarm {
            self.heard_at = now;
        }
    }
}

/// Draws the watch on a screen of any size, and looks for the alarms that stand.
///
/// # Errors
/// In words, if one stands and the screen names none.
pub fn look(snapshot: &Snapshot, chance: &mut Chance) -> Result<(), String> {
    let columns = 1 + chance.below(220) as u16;
    let rows = 1 + chance.below(70) as u16;
    let screen = drawn(snapshot, (columns, rows));
    // Of two alarms one that was answered may stand first.
    let alarms = snapshot.alerts.iter().filter(|alert| alert.priority == Priority::Alarm && stands(alert));
    // The title may stand in tall letters; the first words of what happened do not.
    let begins = |alert: &Alert| alert.reason.what.split_inclusive(' ').take(2).collect::<String>();
    let begun: Vec<String> = alarms.map(begins).collect();
    let is_large = columns >= 60 && rows >= 20;
    if is_large && !begun.is_empty() && !begun.iter().any(|words| screen.contains(words)) {
        return Err(format!("none of {begun:?} on a screen of {columns} by {rows}:\n{screen}"));
    }
    Ok(())
}

fn drawn(snapshot: &Snapshot, (columns, rows): (u16, u16)) -> String {
    let area = Rect::new(0, 0, columns, rows);
    let mut buf = Buffer::empty(area);
    App::new(Options::default()).render(snapshot, true, area, &mut buf);
    buf.content.iter().map(|cell| cell.symbol()).collect()
}
