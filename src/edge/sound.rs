//! Does the crew hear it? The alert sounds, on threads of their own, and what is known about them.
//!
//! Two threads: the *desk* decides what is played when, and the *player* plays it, one sound at a time. A sound
//! card that is missing, dies, hangs or swallows the sound stops the player at most; the desk goes on, says so, and
//! has the terminal bell rung instead. Neither ever delays the watch.

pub mod desk;
pub mod pattern;
pub mod speaker;

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

use crate::watch::alert::Sound;
pub use desk::SoundReport;
use desk::{Desk, Do};
pub use pattern::Cue;
pub use speaker::{Fault, choose, outputs};
use speaker::{Played, Speaker, default_speaker};

/// How long the player keeps the device open after a sound: longer than from one alarm signal to the next.
const REST_AFTER: Duration = Duration::from_secs(12);

/// The longest that the program waits, as it dies, for its failure sound.
const FAILURE_WAIT: Duration = Duration::from_secs(8);

/// The running sound threads. Dropping it ends them, and whatever sounds.
#[derive(Debug)]
pub struct SoundDesk {
    orders: Sender<Order>,
}

enum Order {
    Follow(Sound),
    Cue(Cue),
    Rehearse,
    EndRehearsal,
    Played(Played),
    Missing(Option<String>),
    Quit,
}

impl SoundDesk {
    /// Starts the threads and tries the sound card at once. `report` is called from the desk's thread and must not
    /// block.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn start(report: impl FnMut(SoundReport) + Send + 'static) -> io::Result<Self> {
        Self::start_with(default_speaker, report)
    }

    fn start_with<S: Speaker>(
        speaker: impl FnOnce() -> S + Send + 'static,
        report: impl FnMut(SoundReport) + Send + 'static,
    ) -> io::Result<Self> {
        let (orders, inbox) = channel();
        let (requests, outbox) = channel();
        let hush = Arc::new(AtomicU64::new(0));
        let player = Player { requests: outbox, orders: orders.clone(), hush: hush.clone() };
        thread::Builder::new().name("sound-player".into()).spawn(move || player.run(speaker()))?;
        let desk = DeskThread { desk: Desk::default(), inbox, requests, hush, sent: 0, report };
        thread::Builder::new().name("sound".into()).spawn(move || desk.run())?;
        Ok(Self { orders })
    }

    /// The sound that should be heard from now on; [`Sound::Warning`] each time its signal is to be given.
    pub fn follow(&self, sound: Sound) {
        self.order(Order::Follow(sound));
    }

    /// An acknowledgement was refused.
    pub fn refuse(&self) {
        self.order(Order::Cue(Cue::Refused));
    }

    /// The alarm sounds some times as it would at night, unless a real alert does; how that went is reported.
    pub fn rehearse(&self) {
        self.order(Order::Rehearse);
    }

    /// No more of that.
    pub fn end_rehearsal(&self) {
        self.order(Order::EndRehearsal);
    }

    fn order(&self, order: Order) {
        // The desk ends only when this handle is dropped.
        let _ = self.orders.send(order);
    }
}

impl Drop for SoundDesk {
    fn drop(&mut self) {
        self.order(Order::Quit);
    }
}

struct DeskThread<R> {
    desk: Desk,
    inbox: Receiver<Order>,
    requests: Sender<(u64, Cue)>,
    /// Sounds up to this number are to stop.
    hush: Arc<AtomicU64>,
    /// Number of the sound sent to the player last.
    sent: u64,
    report: R,
}

impl<R: FnMut(SoundReport)> DeskThread<R> {
    fn run(mut self) {
        let begun = Instant::now();
        loop {
            let wait = self.desk.next_deadline().saturating_sub(begun.elapsed());
            let order = self.inbox.recv_timeout(wait);
            let now = begun.elapsed();
            let todo = match order {
                Ok(Order::Follow(sound)) => self.desk.follow(now, sound),
                Ok(Order::Cue(cue)) => self.desk.cue(now, cue),
                Ok(Order::Rehearse) => self.desk.rehearse(now),
                Ok(Order::EndRehearsal) => self.desk.end_rehearsal(now),
                Ok(Order::Played(how)) => self.desk.played(now, how),
                Ok(Order::Missing(gone)) => vec![Do::Report(SoundReport::Loudspeaker { gone })],
                Err(RecvTimeoutError::Timeout) => self.desk.run(now),
                Ok(Order::Quit) | Err(RecvTimeoutError::Disconnected) => break,
            };
            todo.into_iter().for_each(|what| self.carry_out(what));
        }
        self.carry_out(Do::Hush);
    }

    fn carry_out(&mut self, what: Do) {
        match what {
            Do::Play(cue) => {
                self.sent += 1;
                // A player that has panicked takes no more requests; the desk then finds it stuck.
                let _ = self.requests.send((self.sent, cue));
            }
            Do::Hush => self.hush.store(self.sent, Ordering::Relaxed),
            Do::Report(report) => (self.report)(report),
        }
    }
}

struct Player {
    requests: Receiver<(u64, Cue)>,
    orders: Sender<Order>,
    hush: Arc<AtomicU64>,
}

impl Player {
    fn run(self, mut speaker: impl Speaker) {
        let mut missing = None;
        while let Some((number, cue)) = self.next_request(&mut speaker) {
            let how = speaker.play(cue, &|| self.hush.load(Ordering::Relaxed) >= number);
            if self.orders.send(Order::Played(how)).is_err() {
                break;
            }
            let now = speaker.missing();
            if now != missing {
                missing.clone_from(&now);
                let _ = self.orders.send(Order::Missing(now));
            }
        }
    }

    /// Waits for the next sound; lets go of the device when none comes for a while. `None`: the desk has ended.
    fn next_request(&self, speaker: &mut impl Speaker) -> Option<(u64, Cue)> {
        match self.requests.recv_timeout(REST_AFTER) {
            Err(RecvTimeoutError::Timeout) => {
                speaker.rest();
                self.requests.recv().ok()
            }
            request => request.ok(),
        }
    }
}

/// Gives the alarm once on a sound card opened for it, for whoever cannot ask the desk; returns whether it played.
#[must_use]
pub fn sound_on_its_own(hushed: &dyn Fn() -> bool) -> bool {
    matches!(default_speaker().play(Cue::Alarm, hushed), Played::Whole | Played::Hushed)
}

/// The failure sound of a program that is about to die.
#[derive(Debug)]
pub struct Failing {
    done: Receiver<Played>,
}

/// Begins the failure sound, on a thread of its own: a sound card that hangs must not keep a dying program alive.
#[must_use]
pub fn start_failure() -> Failing {
    let (sender, done) = channel();
    // Without a thread nothing reports, and nothing is waited for.
    let _ = thread::Builder::new().name("failure".into()).spawn(move || {
        let _ = sender.send(default_speaker().play(Cue::Failure, &|| false));
    });
    Failing { done }
}

impl Failing {
    /// Waits for its end, some seconds at most. Returns whether it played.
    #[must_use]
    pub fn wait(self) -> bool {
        self.done.recv_timeout(FAILURE_WAIT) == Ok(Played::Whole)
    }
}

/// `nightrode sound`: plays every sound once, names it, and says in words whether the sound card really played.
/// Returns whether it did.
///
/// # Errors
/// If `out` cannot be written.
pub fn try_all(out: &mut impl Write) -> io::Result<bool> {
    let mut speaker = default_speaker();
    let played = try_all_with(&mut speaker, out)?;
    if let Some(gone) = speaker.missing() {
        writeln!(out, "The loudspeaker \"{gone}\" of boat.toml is not there: the default one was tried.")?;
    }
    Ok(played)
}

/// `nightrode sound --list`: the loudspeakers, as `device` under `[sound]` names them.
///
/// # Errors
/// If `out` cannot be written.
pub fn list(out: &mut impl Write) -> io::Result<()> {
    let there = outputs();
    if there.is_empty() {
        return writeln!(out, "No loudspeaker is known here.");
    }
    there.iter().try_for_each(|output| writeln!(out, "{:?}  {}", output.id, output.name))
}

fn try_all_with(speaker: &mut impl Speaker, out: &mut impl Write) -> io::Result<bool> {
    for cue in Cue::AUDIBLE {
        write!(out, "{} … ", cue.name())?;
        out.flush()?;
        if let Played::Not(fault) = speaker.play(cue, &|| false) {
            writeln!(out, "not played")?;
            write_failure(&fault, out)?;
            return Ok(false);
        }
        writeln!(out, "played")?;
    }
    writeln!(
        out,
        "\nThe sound card took every sound at the pace of sound. Whether you heard it, only you can tell: if not, \
         turn the volume up, unplug headphones, or choose another default output, and try again. Then try it from \
         your berth with the engine-room door shut."
    )?;
    Ok(true)
}

fn write_failure(fault: &Fault, out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "\nNothing sounds: {fault}.\nA watch started now would ring the terminal bell, flash the screen and keep a \
         warning up. {}",
        match fault {
            Fault::NotBuilt => "Build it with its default features to have sound.",
            Fault::NoDevice(_) =>
                "Plug in or switch on a sound card, check that no other program holds it, and try again.",
            Fault::Lost(_) => "Check the plug or the headset, and try again.",
            Fault::Nowhere =>
                "Choose a real one in the computer's sound settings, or as `device` in boat.toml, and try again.",
            Fault::Stuck => "Restart the computer's sound service, or choose another output, and try again.",
        }
    )
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::sync_channel;

    use super::*;

    /// A speaker that answers at once as it is asked to, and reports what it was given.
    struct Pretend {
        given: Sender<Cue>,
        answer: Played,
    }

    impl Speaker for Pretend {
        fn play(&mut self, cue: Cue, _: &dyn Fn() -> bool) -> Played {
            let _ = self.given.send(cue);
            self.answer.clone()
        }

        fn rest(&mut self) {}
    }

    const SOON: Duration = Duration::from_secs(20);

    #[test]
    fn the_threads_play_what_the_watch_asks_for_and_report() {
        let (given, played) = channel();
        let (sender, reports) = sync_channel(8);
        let speaker = move || Pretend { given, answer: Played::Whole };
        let desk = SoundDesk::start_with(speaker, move |report| sender.send(report).unwrap()).unwrap();
        assert_eq!(reports.recv_timeout(SOON), Ok(SoundReport::Works));
        desk.follow(Sound::Alarm);
        desk.refuse();
        let cues: Vec<Cue> = (0..3).map(|_| played.recv_timeout(SOON).unwrap()).collect();
        assert_eq!(cues, [Cue::Trial, Cue::Alarm, Cue::Refused]);
        drop(desk);
        assert!(played.recv_timeout(SOON).is_err(), "the player ends with its desk");
    }

    /// A speaker that is there again for every second sound.
    struct Comes(bool);

    impl Speaker for Comes {
        fn play(&mut self, _: Cue, _: &dyn Fn() -> bool) -> Played {
            self.0 = !self.0;
            Played::Whole
        }

        fn rest(&mut self) {}

        fn missing(&self) -> Option<String> {
            self.0.then(|| "cockpit".to_owned())
        }
    }

    #[test]
    fn a_chosen_loudspeaker_that_is_gone_is_told_and_so_is_its_return() {
        let (sender, reports) = sync_channel(8);
        let desk =
            SoundDesk::start_with(|| Comes(false), move |report| sender.send(report).unwrap()).unwrap();
        let gone = |gone: Option<&str>| SoundReport::Loudspeaker { gone: gone.map(str::to_owned) };
        let loudspeaker = || loop {
            let report = reports.recv_timeout(SOON).unwrap();
            if matches!(report, SoundReport::Loudspeaker { .. }) {
                return report;
            }
        };
        assert_eq!(loudspeaker(), gone(Some("cockpit")));
        desk.refuse();
        assert_eq!(loudspeaker(), gone(None));
    }

    #[test]
    fn a_dead_sound_card_is_reported_and_the_bell_asked_for() {
        let (given, _played) = channel();
        let (sender, reports) = sync_channel(8);
        let speaker = move || Pretend { given, answer: Played::Not(Fault::NoDevice("none".into())) };
        let desk = SoundDesk::start_with(speaker, move |report| sender.send(report).unwrap()).unwrap();
        assert!(matches!(reports.recv_timeout(SOON), Ok(SoundReport::Failed { .. })));
        desk.follow(Sound::Warning);
        assert_eq!(reports.recv_timeout(SOON), Ok(SoundReport::Ring(Cue::Warning)));
    }

    #[test]
    fn trying_all_sounds_names_each_and_never_claims_more_than_is_known() {
        let mut out = Vec::new();
        let (given, _played) = channel();
        assert!(try_all_with(&mut Pretend { given, answer: Played::Whole }, &mut out).unwrap());
        let text = String::from_utf8(out).unwrap();
        assert_eq!(text.matches("… played").count(), 4);
        assert!(text.contains("only you can tell"));
    }

    #[test]
    fn trying_a_dead_sound_card_says_what_happens_and_what_to_do() {
        for fault in [Fault::NotBuilt, Fault::NoDevice("none".into()), Fault::Nowhere, Fault::Stuck] {
            let mut out = Vec::new();
            let (given, _played) = channel();
            assert!(!try_all_with(&mut Pretend { given, answer: Played::Not(fault) }, &mut out).unwrap());
            let text = String::from_utf8(out).unwrap();
            assert!(text.contains("Nothing sounds") && text.contains("terminal bell"), "{text}");
        }
    }
}
