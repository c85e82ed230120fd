//! Questions: everything that changes the watch is asked once. `Enter` is yes, `Esc` is no.

use crate::tui::keys::Act;
use crate::tui::request::Request;
use crate::watch::input::Command;
use crate::watch::setting::{Held, Taut, Transit};
use crate::watch::snapshot::{Snapshot, Stage};
use crate::watch::units::Metres;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// Does the anchor go down here, now?
    LetGo,
    /// Is a transit lined up, before the first pull?
    TakeTransit,
    /// Did it stand in the pull that is over?
    TransitStood,
    /// Is she brought up?
    BroughtUp,
    /// Begin to weigh?
    Weigh,
    /// Weighing: is she aweigh, or does she stay?
    AweighOrStay,
    /// After dragging: does she lie to her anchor where she is?
    LiesHere,
    /// Answer every alert?
    AcknowledgeAll,
    /// Another machine is to keep the watch?
    ChangePlaces,
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
    pub reply: Reply,
}

/// What follows on an answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Reply {
    /// That is wanted.
    Asks(Request),
    /// The place is named first.
    NamesPlace,
}

impl Question {
    /// What is asked.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::LetGo => "LET GO HERE?",
            Self::TakeTransit => "TAKE A TRANSIT",
            Self::TransitStood => "DID THE TRANSIT STAND?",
            Self::BroughtUp => "IS SHE BROUGHT UP?",
            Self::Weigh => "WEIGH?",
            Self::AweighOrStay => "IS THE ANCHOR AWEIGH?",
            Self::LiesHere => "DOES SHE LIE HERE NOW?",
            Self::AcknowledgeAll => "ACKNOWLEDGE EVERY ALERT?",
            Self::ChangePlaces => "CHANGE WHO KEEPS THE WATCH?",
            Self::Quit => "STOP THE WATCH?",
        }
    }

    /// What will happen.
    #[must_use]
    pub fn will(self, snap: &Snapshot) -> String {
        match self {
            Self::LetGo => {
                "Press Enter as the anchor goes: the bow's place is marked at that moment. Then + at each mark of the \
                 rode."
                .to_owned()
            }
            Self::TakeTransit => {
                "Two things ashore in line, abeam: if they open while the engine pulls, she goes astern. Your eyes need \
                 no receiver."
                    .to_owned()
            }
            Self::TransitStood => {
                "Look at your transit. If it opened the anchor moved, whatever the positions say.".to_owned()
            }
            Self::BroughtUp => {
                format!("{} From now every alert is on, and a wind shift counts from here.", proved(snap))
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
            Self::LiesHere => {
                "What was called is over. The mark of the anchor moves to the reach of the rode ahead of the bow, and \
                 she is judged from there."
                    .to_owned()
            }
            Self::AcknowledgeAll => {
                let count = snap.alerts.iter().filter(|alert| crate::tui::scene::waits(alert)).count();
                format!(
                    "{count} alerts wait for an answer. Each falls silent and stands until its cause is gone."
                )
            }
            Self::ChangePlaces => {
                "The machine that stands by keeps the watch from now on, by its own feeds; the one that keeps it now stands \
                 by. The ride goes on with all that was heard."
                    .to_owned()
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
        let crew = |act, word, command| Answer { act, word, reply: Reply::Asks(Request::Crew(command)) };
        let transit = |act, word, seen| crew(act, word, Command::Transit { seen });
        match self {
            Self::LetGo => vec![crew(Act::Send, "let go", let_go(snap))],
            Self::TakeTransit => vec![
                transit(Act::Send, "taken", Transit::Taken),
                transit(Act::NoTransit, "none in sight", Transit::NoneInSight),
            ],
            Self::TransitStood => vec![
                transit(Act::Send, "it stood", Transit::Stood),
                transit(Act::Opened, "it opened", Transit::Opened),
                transit(Act::NoTransit, "lost it", Transit::NoneInSight),
            ],
            Self::BroughtUp => vec![crew(Act::Send, "brought up", Command::BroughtUp)],
            Self::Weigh => vec![crew(Act::Send, "weigh", Command::Weigh)],
            Self::AweighOrStay => {
                let name = Answer { act: Act::NamePlace, word: "name the place", reply: Reply::NamesPlace };
                vec![
                    crew(Act::Send, "aweigh", Command::Aweigh),
                    crew(Act::Stays, "she stays", Command::Stay),
                    name,
                ]
            }
            Self::LiesHere => vec![crew(Act::Send, "lies here", Command::LiesHere)],
            Self::AcknowledgeAll => {
                vec![crew(Act::Send, "acknowledge all", Command::Acknowledge { kind: None })]
            }
            Self::ChangePlaces => {
                let reply = Reply::Asks(Request::ChangePlaces);
                vec![Answer { act: Act::Send, word: "change", reply }]
            }
            Self::Quit => {
                vec![Answer { act: Act::Send, word: "stop the watch", reply: Reply::Asks(Request::Quit) }]
            }
        }
    }
}

/// So near to a place of the book she anchors there and not beside it: a quarter of a mile. Our choice.
const SAME_PLACE: Metres = Metres(463.0);

/// The command that lets the anchor go here and now. What is out, and how deep it is by hand, is entered afterwards; the
/// book's name of the place goes along, any other comes when she weighs.
#[must_use]
pub fn let_go(snap: &Snapshot) -> Command {
    let here = snap.near.as_ref().filter(|near| near.distance <= SAME_PLACE);
    let place = here.map_or_else(String::new, |near| near.name.to_string());
    Command::LetGo { veered: None, depth: None, place }
}

/// What the engine's pulls have shown of the anchor: it is called proved only by one that was seen to hold.
fn proved(snap: &Snapshot) -> &'static str {
    match snap.setting.pulls.last().filter(|pull| pull.ended.is_some()).map(|pull| (pull.held, pull.taut)) {
        Some((Held::Held, Taut::Taut | Taut::Unknown)) => "The last pull was seen to hold.",
        Some((Held::Held, _)) => "In the last pull she stopped short of her rode: the anchor is not proved.",
        Some((Held::Moved, _)) => "The last pull moved the anchor: it is not proved.",
        Some((Held::Unknown | Held::Untried, _)) => {
            "The last pull did not show whether it holds: it is not proved."
        }
        None => "No pull was seen to hold: the anchor is not proved.",
    }
}
