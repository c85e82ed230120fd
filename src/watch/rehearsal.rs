//! A rehearsal of the alarm: does it wake the crew? The real sound on the real device, and no alert at all.
//!
//! It touches no alert: none is raised, answered, hidden or delayed. A real one ends it at once.

mod acts;

use super::units::WatchTime;

/// How a rehearsal stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rehearsing {
    /// It sounds.
    Sounds,
    /// It sounded to its end, or was stopped.
    Sounded,
    /// It could not be played: why, in words.
    Failed(String),
    /// A real alert sounds in its place.
    TakenOver,
}

/// What heads it wherever it is told, in place of an alert's title.
pub const TITLE: &str = "REHEARSAL";

/// A rehearsal as the screen shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RehearsalView {
    /// When it began.
    pub at: WatchTime,
    /// How it stands.
    pub state: Rehearsing,
    /// Whether it was heard in the bunk; `None`: nobody has said.
    pub heard: Option<bool>,
}

impl RehearsalView {
    /// What it showed, and what to do.
    #[must_use]
    pub fn words(&self) -> String {
        const LOUDER: &str = "Turn up the computer's volume, choose its loudspeaker as the output, leave the doors open, or \
                              carry it nearer to the bunk; or have the hook ring a telephone there. Then rehearse again.";
        match (&self.state, self.heard) {
            (Rehearsing::TakenOver, _) => {
                "This is no rehearsal: a real alert sounds. Answer that one.".into()
            }
            (Rehearsing::Failed(why), _) => format!(
                "Nothing sounded: {why}. An alarm would ring the terminal's bell and flash the screen, which wakes nobody. \
                 nightrode sound tries the sound by itself."
            ),
            (_, Some(true)) => "It was heard. Leave volume, output and lid as they are for the night.".into(),
            (_, Some(false)) => format!("It was not heard: an alarm would not wake you. {LOUDER}"),
            (Rehearsing::Sounds, None) => {
                "The alarm sounds as it would at night. Is it heard in the bunk?".into()
            }
            (Rehearsing::Sounded, None) => "The sound is over. Was it heard in the bunk?".into(),
        }
    }

    fn logged(&self) -> String {
        let how = match (&self.state, self.heard) {
            (Rehearsing::TakenOver, _) => "a real alert took over".to_owned(),
            (Rehearsing::Failed(why), _) => format!("nothing sounded: {why}"),
            (_, Some(true)) => "heard in the bunk".into(),
            (_, Some(false)) => "not heard in the bunk".into(),
            (_, None) => "nobody said whether it was heard".into(),
        };
        format!("alarm rehearsed: {how}")
    }
}
