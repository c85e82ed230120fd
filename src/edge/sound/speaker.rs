//! How does one sound get through the sound card, and how do we know that it did?
//!
//! A device can be missing, refuse to open, vanish, hang, or swallow samples as fast as they come without a sound
//! (a null device). So each sound is played by itself and its progress is held against the clock.

use std::sync::OnceLock;

use super::pattern::Cue;

/// Why a sound did not play.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// The program was built without its sound feature.
    #[error("this program was built without sound")]
    NotBuilt,
    /// There is no sound card, or it would not open.
    #[error("no sound card could be opened ({0})")]
    NoDevice(String),
    /// The sound card reported an error while it played.
    #[error("the sound card stopped ({0})")]
    Lost(String),
    /// The sound went through faster than sound can: nothing real is behind the device.
    #[error("the sound card takes the sound without playing it: the loudspeaker leads nowhere")]
    Nowhere,
    /// The sound does not come to its end.
    #[error("the sound card does not answer")]
    Stuck,
}

/// How the last thing given to the player went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Played {
    /// To its end, in its time.
    Whole,
    /// It was hushed.
    Hushed,
    /// Not.
    Not(Fault),
}

/// Something that plays one sound at a time.
pub trait Speaker {
    /// Plays `cue` to its end, or until `hushed` says to stop; returns when it is over. May block for as long as
    /// a driver pleases.
    fn play(&mut self, cue: Cue, hushed: &dyn Fn() -> bool) -> Played;

    /// Lets go of the device until the next sound.
    fn rest(&mut self);

    /// The chosen device, if it was not there for the last sound and another played it.
    fn missing(&self) -> Option<String> {
        None
    }
}

/// The device that the crew has chosen, for as long as the program runs.
static CHOSEN: OnceLock<String> = OnceLock::new();

/// Has every sound from now on played by the device of that name or identity, if it is there. The first choice stays.
pub fn choose(device: &str) {
    let _ = CHOSEN.set(device.to_owned());
}

/// A device that plays sounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Output {
    /// Its identity, which stays.
    pub id: String,
    /// Its name for people.
    pub name: String,
}

/// The devices of this computer; none where the system tells none.
#[must_use]
pub fn outputs() -> Vec<Output> {
    platform::outputs()
}

/// The place of the chosen device among those that are there, by its identity, else by its name.
#[cfg_attr(not(feature = "sound"), allow(dead_code, reason = "nothing plays"))]
fn pick(chosen: &str, there: &[Output]) -> Option<usize> {
    let by = |same: fn(&Output) -> &str| there.iter().position(|output| same(output) == chosen);
    by(|output| &output.id).or_else(|| by(|output| &output.name))
}

/// The chosen sound card, else the computer's default one.
#[must_use]
pub fn default_speaker() -> impl Speaker {
    platform::sound_card()
}

#[cfg(feature = "sound")]
mod platform {
    use std::num::NonZero;
    use std::sync::mpsc::{Receiver, channel};
    use std::thread::sleep;
    use std::time::{Duration, Instant};

    use rodio::buffer::SamplesBuffer;
    use rodio::cpal::traits::{DeviceTrait as _, HostTrait as _};
    use rodio::cpal::{self, ErrorKind};
    use rodio::{DeviceSinkBuilder, DeviceSinkError, MixerDeviceSink, Player};

    use super::{CHOSEN, Cue, Fault, Output, Played, Speaker, pick};

    /// How often the progress of a sound is looked at; also how soon it stops when hushed.
    const LOOK_EVERY: Duration = Duration::from_millis(20);
    /// A sound that is through in less than this share of its length was not played: a sound card's buffer holds
    /// about a tenth of a second, not half a signal.
    const TOO_FAST: f64 = 0.6;
    /// A sound that takes this much longer than its length is stuck.
    const TOO_SLOW: Duration = Duration::from_secs(2);

    pub fn sound_card() -> SoundCard {
        SoundCard { open: None, missing: None }
    }

    /// The sound card, opened when it is needed.
    pub struct SoundCard {
        open: Option<Open>,
        missing: Option<String>,
    }

    /// The devices, and what they are called.
    fn there() -> Vec<(cpal::Device, Output)> {
        let Ok(devices) = cpal::default_host().output_devices() else { return Vec::new() };
        let named = |device: cpal::Device| {
            let id = device.id().ok()?.to_string();
            let name = device.description().map_or_else(|_| id.clone(), |about| about.name().to_owned());
            Some((device, Output { id, name }))
        };
        devices.filter_map(named).collect()
    }

    pub fn outputs() -> Vec<Output> {
        there().into_iter().map(|(_, output)| output).collect()
    }

    struct Open {
        sink: MixerDeviceSink,
        faults: Receiver<cpal::Error>,
    }

    impl Speaker for SoundCard {
        fn play(&mut self, cue: Cue, hushed: &dyn Fn() -> bool) -> Played {
            let open = match self.open.take().map_or_else(|| self.open_chosen(), Ok) {
                Ok(open) => open,
                Err(fault) => return Played::Not(fault),
            };
            let played = open.play(cue, hushed);
            // After a fault the device is closed, and opened afresh for the next sound: it may be another by then,
            // and a null device left open would spin at full speed.
            if !matches!(played, Played::Not(_)) {
                self.open = Some(open);
            }
            played
        }

        fn rest(&mut self) {
            self.open = None;
        }

        fn missing(&self) -> Option<String> {
            self.missing.clone()
        }
    }

    impl SoundCard {
        /// The chosen device; where it is gone or does not open, the default one.
        fn open_chosen(&mut self) -> Result<Open, Fault> {
            let Some(chosen) = CHOSEN.get() else {
                return Open::new(DeviceSinkBuilder::from_default_device());
            };
            let (mut devices, outputs): (Vec<_>, Vec<_>) = there().into_iter().unzip();
            let device = pick(chosen, &outputs).map(|place| devices.swap_remove(place));
            let opened = device.and_then(|device| Open::new(DeviceSinkBuilder::from_device(device)).ok());
            self.missing = opened.is_none().then(|| chosen.clone());
            opened.map_or_else(|| Open::new(DeviceSinkBuilder::from_default_device()), Ok)
        }
    }

    impl Open {
        fn new(builder: Result<DeviceSinkBuilder, DeviceSinkError>) -> Result<Self, Fault> {
            let (sender, faults) = channel();
            let mut sink = builder
                .map_err(|error| no_device(&error))?
                .with_error_callback(move |error: cpal::Error| {
                    if is_fatal(error.kind()) {
                        // Nobody listens any more when the device is being closed.
                        let _ = sender.send(error);
                    }
                })
                .open_stream()
                .map_err(|error| no_device(&error))?;
            sink.log_on_drop(false);
            Ok(Self { sink, faults })
        }

        fn play(&self, cue: Cue, hushed: &dyn Fn() -> bool) -> Played {
            let rate = self.sink.config().sample_rate();
            let player = Player::connect_new(self.sink.mixer());
            player.append(SamplesBuffer::new(NonZero::<u16>::MIN, rate, cue.samples(rate.get())));
            let begun = Instant::now();
            loop {
                sleep(LOOK_EVERY);
                let taken = begun.elapsed();
                if let Ok(error) = self.faults.try_recv() {
                    return Played::Not(Fault::Lost(in_a_sentence(&error.to_string())));
                }
                if runs_ahead(player.get_pos(), taken, cue) {
                    return Played::Not(Fault::Nowhere);
                }
                if player.empty() {
                    return if taken < cue.length().mul_f64(TOO_FAST) {
                        Played::Not(Fault::Nowhere)
                    } else {
                        Played::Whole
                    };
                }
                if hushed() {
                    player.stop();
                    return Played::Hushed;
                }
                if taken > cue.length() + TOO_SLOW {
                    return Played::Not(Fault::Stuck);
                }
            }
        }
    }

    /// True if the device has taken more of the sound than the clock and any buffer allow.
    fn runs_ahead(position: Duration, taken: Duration, cue: Cue) -> bool {
        position > taken + cue.length().mul_f64(1.0 - TOO_FAST) + Duration::from_millis(200)
    }

    fn no_device(error: &DeviceSinkError) -> Fault {
        // The cause says more than the library's own line ("Error opening the stream with the OS").
        let cause = std::error::Error::source(error).map(ToString::to_string);
        Fault::NoDevice(in_a_sentence(&cause.unwrap_or_else(|| error.to_string())))
    }

    /// The library's words without their full stop, to stand inside ours.
    fn in_a_sentence(words: &str) -> String {
        words.trim_end_matches('.').to_owned()
    }

    /// True if no more sound will come through this stream.
    fn is_fatal(kind: ErrorKind) -> bool {
        !matches!(kind, ErrorKind::Xrun | ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied)
    }
}

#[cfg(not(feature = "sound"))]
mod platform {
    use super::{Cue, Fault, Output, Played, Speaker};

    pub fn sound_card() -> SoundCard {
        SoundCard
    }

    pub fn outputs() -> Vec<Output> {
        Vec::new()
    }

    /// No sound card: the program was built without.
    pub struct SoundCard;

    impl Speaker for SoundCard {
        fn play(&mut self, _: Cue, _: &dyn Fn() -> bool) -> Played {
            Played::Not(Fault::NotBuilt)
        }

        fn rest(&mut self) {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_is_found_by_its_identity_before_its_name_and_one_that_is_gone_is_not() {
        let output = |id: &str, name: &str| Output { id: id.to_owned(), name: name.to_owned() };
        let there =
            [output("alsa:hw:0", "cockpit"), output("alsa:hw:1", "cabin"), output("cockpit", "berth")];
        assert_eq!(pick("alsa:hw:1", &there), Some(1));
        assert_eq!(pick("cabin", &there), Some(1));
        assert_eq!(pick("cockpit", &there), Some(2));
        assert_eq!(pick("mast", &there), None);
        assert_eq!(pick("cabin", &[]), None);
    }
}
