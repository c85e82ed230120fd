//! Questions: everything that changes the watch is asked once. `Enter` is yes, `Esc` is no.

use crate::tui::keys::Act;
use crate::tui::request::Request;
use crate::tui::text::metres;
use crate::watch::input::Command;
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::Metres;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// Does the anchor go down here, now?
    LetGo,
    /// Is she brought up?
    BroughtUp,
    /// Begin to weigh?
    Weigh,
    /// Weighing: is she aweigh, or does she stay?
    AweighOrStay,
    /// Answer every alert?
    AcknowledgeAll,
    /// Stop the watch?
    Quit,
}

/// One answer: its act, its word, what it requests.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// What the key asks for that gives it.
    pub act: Act,
    /// The word.
    pub word: &'static str,
    /// What follows.
    pub request: Request,
}

impl Question {
    /// What is asked.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::LetGo => "LET GO HERE?",
            Self::BroughtUp => "IS SHE BROUGHT UP?",
            Self::Weigh => "WEIGH?",
            Self::AweighOrStay => "IS THE ANCHOR AWEIGH?",
            Self::AcknowledgeAll => "ACKNOWLEDGE EVERY ALERT?",
            Self::Quit => "STOP THE WATCH?",
        }
    }

    /// What will happen.
    #[must_use]
    pub fn will(self, snap: &Snapshot) -> String {
        match self {
            Self::LetGo => match let_go(snap) {
                Command::LetGo { veered, place, .. } => format!(
                    "The bow's place is marked as the drop point at {place}, with {} out, straight down. \
                     Press Enter as the anchor goes; then + at each mark of the rode.",
                    metres(veered)
                ),
                _ => String::new(),
            },
            Self::BroughtUp => {
                "She has proved to hold: astern until the rode was stretched, and the bearings stood. \
                                From now the wind shift counts from here, and every alert is on."
                    .to_owned()
            }
            Self::Weigh => {
                "From now nobody judges whether she drags, because you heave in. It stays so until she is \
                            aweigh or stays."
                    .to_owned()
            }
            Self::AweighOrStay => {
                "Aweigh ends the ride: the drop point, circle and alerts of this anchor go. If she \
                                   stays, the watch judges again from here."
                    .to_owned()
            }
            Self::AcknowledgeAll => {
                let count = snap.alerts.iter().filter(|alert| crate::tui::scene::waits(alert)).count();
                format!(
                    "{count} alerts wait for an answer. Each falls silent and stands until its cause is gone."
                )
            }
            Self::Quit if snap.stage == Stage::NotSet => {
                "No anchor is down. Nothing is watched after this.".to_owned()
            }
            Self::Quit => {
                "The anchor is down. After this nothing watches her: no alarm will come. The ride stays on \
                           the disk and can be gone on with."
                    .to_owned()
            }
        }
    }

    /// The answers besides no, the first on `Enter`.
    #[must_use]
    pub fn answers(self, snap: &Snapshot) -> Vec<Answer> {
        let crew = |act, word, command| Answer { act, word, request: Request::Crew(command) };
        match self {
            Self::LetGo => vec![crew(Act::Send, "let go", let_go(snap))],
            Self::BroughtUp => vec![crew(Act::Send, "brought up", Command::BroughtUp)],
            Self::Weigh => vec![crew(Act::Send, "weigh", Command::Weigh)],
            Self::AweighOrStay => {
                vec![crew(Act::Send, "aweigh", Command::Aweigh), crew(Act::Stays, "she stays", Command::Stay)]
            }
            Self::AcknowledgeAll => {
                vec![crew(Act::Send, "acknowledge all", Command::Acknowledge { kind: None })]
            }
            Self::Quit => vec![Answer { act: Act::Send, word: "stop the watch", request: Request::Quit }],
        }
    }
}

/// The command that lets the anchor go here: so much rode is out as leads straight down.
fn let_go(snap: &Snapshot) -> Command {
    let sounded = snap.depth.sounded.now();
    let height = sounded.map_or(Metres(1.0), |depth| depth + snap.settings.boat.bow_height);
    let place = match snap.place.trim() {
        "" => "Anchorage".to_owned(),
        place => place.to_owned(),
    };
    Command::LetGo { veered: Metres(height.0.ceil().max(1.0)), depth: sounded, place }
}
