//! How does one sound get through the sound card, and how do we know that it did?
//!
//! A device can be missing, refuse to open, vanish, hang, or swallow samples as fast as they come without a sound
//! (a null device). So each sound is played by itself and its progress is held against the clock.

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
    #[error("the sound card takes the sound without playing it: the default device leads nowhere")]
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
}

/// The computer's default sound card.
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
    use rodio::cpal::{self, ErrorKind};
    use rodio::{DeviceSinkBuilder, DeviceSinkError, MixerDeviceSink, Player};

    use super::{Cue, Fault, Played, Speaker};

    /// How often the progress of a sound is looked at; also how soon it stops when hushed.
    const LOOK_EVERY: Duration = Duration::from_millis(20);
    /// A sound that is through in less than this share of its length was not played: a sound card's buffer holds
    /// about a tenth of a second, not half a signal.
    const TOO_FAST: f64 = 0.6;
    /// A sound that takes this much longer than its length is stuck.
    const TOO_SLOW: Duration = Duration::from_secs(2);

    pub fn sound_card() -> SoundCard {
        SoundCard { open: None }
    }

    /// The default sound card, opened when it is needed.
    pub struct SoundCard {
        open: Option<Open>,
    }

    struct Open {
        sink: MixerDeviceSink,
        faults: Receiver<cpal::Error>,
    }

    impl Speaker for SoundCard {
        fn play(&mut self, cue: Cue, hushed: &dyn Fn() -> bool) -> Played {
            let open = match self.open.take().map_or_else(Open::default_device, Ok) {
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
    }

    impl Open {
        fn default_device() -> Result<Self, Fault> {
            let (sender, faults) = channel();
            let mut sink = DeviceSinkBuilder::from_default_device()
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
    use super::{Cue, Fault, Played, Speaker};

    pub fn sound_card() -> SoundCard {
        SoundCard
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
