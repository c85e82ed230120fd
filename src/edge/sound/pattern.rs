//! What does each sound sound like? Patterns as data, and their samples: pure.
//!
//! # Source
//! IEC 62923-1 (memory): an alarm is three short signals, repeated every 7 to 10 s until it is answered; a warning
//! two short signals, once, and again when it is repeated; a refused acknowledgement its own short sound; a caution
//! is silent. IMO A.1021(26) (memory): audible alerts lie between 200 and 2500 Hz. MSC.302(87) 7.3.4: an alarm must
//! not be mistakable for a warning: here they differ in number, pitch, colour and repetition.

use std::f64::consts::TAU;
use std::time::Duration;

/// A sound that the program makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cue {
    /// Three short signals; comes again every [`ALARM_EVERY`] until the alarm is answered.
    Alarm,
    /// Two short signals.
    Warning,
    /// An acknowledgement that was refused.
    Refused,
    /// The watch itself has failed.
    Failure,
    /// Nothing to be heard: tries whether the sound card plays at all.
    Trial,
}

/// From the start of one alarm signal to the start of the next: between 7 and 10 s.
pub const ALARM_EVERY: Duration = Duration::from_secs(8);

/// A tone, or with 0 Hz a pause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// Pitch in hertz; 0 is a pause.
    pub hz: u32,
    /// Length in milliseconds.
    pub ms: u32,
    /// How the tone is made.
    pub colour: Colour,
}

/// How a tone is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colour {
    /// The pitch alone.
    Pure,
    /// The pitch and its third harmonic, like a square wave: wakes a sleeper better and carries from small
    /// loudspeakers that hardly give the pitch itself.
    Rough,
}

/// The alarm's pitch: a square wave of 520 Hz wakes sleepers best of the signals tried (NFPA 72 asks for it where
/// people sleep; memory).
const ALARM_HZ: u32 = 520;
/// An octave above the alarm, and pure.
const WARNING_HZ: u32 = 1040;
/// Lower than either, and pure.
const REFUSED_HZ: u32 = 300;

/// Silence before each signal: sound cards and headsets that doze swallow the first moments.
const LEAD_MS: u32 = 150;
/// Silence after each signal, so that closing the device does not clip the last tone out of its buffer.
const TAIL_MS: u32 = 200;
/// Every tone swells and dies away in this time: without it each would begin and end with a click.
const RAMP_MS: u32 = 5;
/// Share of full scale that the loudest moment takes: loud, without clipping where a mixer adds its own.
const PEAK: f64 = 0.9;

impl Cue {
    /// The sounds that can be heard.
    pub const AUDIBLE: [Self; 4] = [Self::Alarm, Self::Warning, Self::Refused, Self::Failure];

    /// What it is, in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Alarm => "alarm: three short signals, every 8 s until it is answered",
            Self::Warning => "warning: two short signals, again each minute until it is answered",
            Self::Refused => "refused: what the key asks for cannot be done now",
            Self::Failure => "failure: the watch itself has stopped",
            Self::Trial => "silence",
        }
    }

    /// The notes, silence before and after them included.
    #[must_use]
    pub fn notes(self) -> Vec<Note> {
        let body = match self {
            Self::Alarm => signals(3, tone(ALARM_HZ, 250, Colour::Rough), 150),
            Self::Warning => signals(2, tone(WARNING_HZ, 300, Colour::Pure), 200),
            Self::Refused => vec![tone(REFUSED_HZ, 180, Colour::Pure)],
            Self::Failure => {
                let falling = [780, 650, 520, 390, 260].map(|hz| tone(hz, 220, Colour::Rough));
                [&falling[..], &[pause(300)], &falling[..], &[pause(300)], &falling[..]].concat()
            }
            Self::Trial => vec![pause(350)],
        };
        [&[pause(LEAD_MS)], &body[..], &[pause(TAIL_MS)]].concat()
    }

    /// How long it takes, silence before and after included.
    #[must_use]
    pub fn length(self) -> Duration {
        Duration::from_millis(self.notes().iter().map(|note| u64::from(note.ms)).sum())
    }

    /// Samples of one channel at `rate_hz`, each in `-1.0..=1.0`.
    #[must_use]
    pub fn samples(self, rate_hz: u32) -> Vec<f32> {
        self.notes().iter().flat_map(|note| note_samples(*note, rate_hz)).collect()
    }
}

const fn tone(hz: u32, ms: u32, colour: Colour) -> Note {
    Note { hz, ms, colour }
}

const fn pause(ms: u32) -> Note {
    Note { hz: 0, ms, colour: Colour::Pure }
}

fn signals(count: usize, signal: Note, pause_ms: u32) -> Vec<Note> {
    let mut notes = [signal, pause(pause_ms)].repeat(count);
    notes.pop();
    notes
}

fn note_samples(note: Note, rate_hz: u32) -> impl Iterator<Item = f32> {
    let per_ms = f64::from(rate_hz) / 1000.0;
    let count = (f64::from(note.ms) * per_ms) as u32;
    let ramp = (f64::from(RAMP_MS) * per_ms).max(1.0);
    (0..count).map(move |i| {
        let from_edge = f64::from(i.min(count - 1 - i));
        let loudness = PEAK * (from_edge / ramp).min(1.0);
        let phase = TAU * f64::from(note.hz) * f64::from(i) / f64::from(rate_hz);
        (loudness * wave(note.colour, phase)) as f32
    })
}

/// The wave at a phase in radians, in `-1.0..=1.0`. The rough one is the first two terms of a square wave's series;
/// its loudest value is 1 − 1/3 + … scaled to 1.
fn wave(colour: Colour, phase: f64) -> f64 {
    match colour {
        Colour::Pure => phase.sin(),
        // sin x + sin 3x / 3 peaks at 2√2/3.
        Colour::Rough => (phase.sin() + (3.0 * phase).sin() / 3.0) / (2.0 * std::f64::consts::SQRT_2 / 3.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;

    fn tones(cue: Cue) -> Vec<Note> {
        cue.notes().into_iter().filter(|note| note.hz > 0).collect()
    }

    /// Strength of one frequency in samples, by Goertzel's method: 1 for a pure tone of full scale.
    fn strength(samples: &[f32], hz: f64) -> f64 {
        let k = TAU * hz / f64::from(RATE_HZ);
        let (mut s1, mut s2) = (0.0, 0.0);
        for x in samples {
            (s1, s2) = (f64::from(*x) + 2.0 * k.cos() * s1 - s2, s1);
        }
        (s1 * s1 + s2 * s2 - 2.0 * k.cos() * s1 * s2).sqrt() * 2.0 / samples.len() as f64
    }

    #[test]
    fn every_tone_and_its_harmonic_lie_between_200_and_2500_hz_where_alerts_belong() {
        for cue in Cue::AUDIBLE {
            for note in tones(cue) {
                let highest = if note.colour == Colour::Rough { 3 * note.hz } else { note.hz };
                assert!(note.hz >= 200 && highest <= 2500, "{cue:?} {note:?}");
            }
        }
    }

    #[test]
    fn an_alarm_is_three_signals_a_warning_two_a_refusal_one() {
        let counts = [Cue::Alarm, Cue::Warning, Cue::Refused].map(|cue| tones(cue).len());
        assert_eq!(counts, [3, 2, 1]);
        assert!(tones(Cue::Trial).is_empty());
    }

    #[test]
    fn no_two_sounds_share_a_pitch_or_a_count() {
        for a in Cue::AUDIBLE {
            for b in Cue::AUDIBLE.into_iter().filter(|b| *b != a) {
                assert_ne!(tones(a).len(), tones(b).len(), "{a:?} {b:?}");
                assert_ne!(tones(a)[0].hz, tones(b)[0].hz, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn an_alarm_comes_again_within_seven_to_ten_seconds_and_fits_between() {
        assert!((7..=10).contains(&ALARM_EVERY.as_secs()));
        assert!(Cue::Alarm.length() < Duration::from_secs(2));
        assert!(Cue::AUDIBLE.iter().all(|cue| cue.length() < Duration::from_secs(6)));
    }

    #[test]
    fn samples_have_the_length_of_their_notes_and_never_clip() {
        for cue in Cue::AUDIBLE {
            let samples = cue.samples(RATE_HZ);
            assert_eq!(samples.len() as u128, cue.length().as_millis() * 48, "{cue:?}");
            let peak = samples.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
            assert!((0.85..=0.91).contains(&peak), "{cue:?} {peak}");
        }
    }

    #[test]
    fn the_pitch_is_in_the_samples() {
        for note in [tone(520, 250, Colour::Rough), tone(1040, 300, Colour::Pure)] {
            let samples: Vec<f32> = note_samples(note, RATE_HZ).collect();
            assert!(strength(&samples, f64::from(note.hz)) > 0.8, "{note:?}");
            assert!(strength(&samples, f64::from(note.hz) * 1.5) < 0.05, "{note:?}");
            assert!(strength(&samples, 2600.0) < 0.05, "{note:?}");
        }
    }

    #[test]
    fn tones_begin_and_end_without_a_click() {
        let samples = Cue::Alarm.samples(RATE_HZ);
        let steepest = samples.windows(2).fold(0.0_f32, |most, w| most.max((w[1] - w[0]).abs()));
        // Twice the slope of the rough wave at full loudness: 2 · 0.9 · 2π · 520 · 2 / (0.943 · 48000).
        assert!(steepest < 0.26, "{steepest}");
        assert_eq!((samples[0], samples[samples.len() - 1]), (0.0, 0.0));
    }

    #[test]
    fn any_rate_of_a_sound_card_will_do() {
        for rate_hz in [1, 8000, 44_100, 192_000] {
            assert!(Cue::Alarm.samples(rate_hz).iter().all(|x| x.abs() <= 1.0));
        }
    }
}
