//! What stands on the screen: one thing at a time fills it, and its keys act there.

use super::layout::Size;
use crate::watch::snapshot::Stage;

/// What the screen can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// The swing chart and the facts.
    #[default]
    Swing,
    /// The rode from the side, and the tide.
    Rode,
    /// The night as graphs.
    Night,
    /// Rounds and who is on watch.
    Rounds,
    /// Every alert.
    Alerts,
    /// Every feed.
    Feeds,
    /// Latitude and longitude of boat and anchor.
    Position,
    /// The computer that keeps the watch.
    Health,
}

impl View {
    /// In the order of the keys 1 to 8.
    pub const ALL: [Self; 8] = [
        Self::Swing,
        Self::Rode,
        Self::Night,
        Self::Rounds,
        Self::Alerts,
        Self::Feeds,
        Self::Position,
        Self::Health,
    ];

    /// The view so many places on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let here = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(here + by) % Self::ALL.len()]
    }

    /// True if it is rows to read, without a picture.
    #[must_use]
    pub const fn is_listed(self) -> bool {
        matches!(self, Self::Rounds | Self::Alerts | Self::Feeds)
    }
}

/// What the crew has asked to see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// A view, whole.
    Whole(View),
    /// Few words and tall figures, in place of a view.
    Tall(View),
}

impl Shown {
    /// The view, or the one behind the tall figures.
    #[must_use]
    pub const fn view(self) -> View {
        match self {
            Self::Whole(view) | Self::Tall(view) => view,
        }
    }

    /// Tall, or whole again.
    #[must_use]
    pub const fn turned(self) -> Self {
        match self {
            Self::Whole(view) => Self::Tall(view),
            Self::Tall(view) => Self::Whole(view),
        }
    }

    /// What fills the screen at a size and stage: figures are also what a small window has room for instead of the
    /// chart, and until she is brought up, and while weighing, they are those of the step on deck.
    #[must_use]
    pub fn place(self, size: Size, stage: Stage) -> Place {
        let rides = matches!(stage, Stage::BroughtUp);
        match (self, size) {
            (Self::Tall(_), _) if rides => Place::Figures,
            (Self::Tall(_), _) => Place::Deck,
            (Self::Whole(View::Swing), Size::Slim) if rides => Place::SlimFigures,
            (Self::Whole(View::Swing), Size::Slim) => Place::SlimDeck,
            (Self::Whole(view), _) => Place::View(view),
        }
    }
}

/// A place where keys act: the uppermost thing on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// A view.
    View(View),
    /// Tall figures while she rides.
    Figures,
    /// The same, because the window is too small for the chart.
    SlimFigures,
    /// A step on deck.
    Deck,
    /// The same, because the window is too small for the chart.
    SlimDeck,
    /// Any of these of a recorded night: its own keys come before theirs.
    Recorded,
    /// A form over the view.
    Form,
    /// The form's field at hand is a choice.
    Choice,
    /// The form's field at hand goes up and down by steps.
    Stepped,
    /// A round being logged.
    Round,
    /// What differs on a round, being written.
    RoundNote,
    /// A check list.
    CheckList,
    /// The check of the anchor.
    AnchorCheck,
    /// A rehearsal of the alarm.
    Rehearsal,
    /// The code for phones.
    Phone,
    /// A question.
    Question,
    /// The question at the end of weighing, which has a third answer.
    StayQuestion,
    /// The question for a transit before the first pull.
    TakeQuestion,
    /// The question for the transit after a pull.
    StoodQuestion,
    /// An explanation.
    Help,
    /// The caution of the first start.
    Caution,
    /// The form of the first start.
    First,
    /// The form of a plan.
    PlanForm,
    /// The page of a plan.
    PlanPage,
}

impl Place {
    /// Every place.
    pub const ALL: [Self; 31] = [
        Self::View(View::Swing),
        Self::View(View::Rode),
        Self::View(View::Night),
        Self::View(View::Rounds),
        Self::View(View::Alerts),
        Self::View(View::Feeds),
        Self::View(View::Position),
        Self::View(View::Health),
        Self::Figures,
        Self::SlimFigures,
        Self::Deck,
        Self::SlimDeck,
        Self::Recorded,
        Self::Form,
        Self::Choice,
        Self::Stepped,
        Self::Round,
        Self::RoundNote,
        Self::CheckList,
        Self::AnchorCheck,
        Self::Rehearsal,
        Self::Phone,
        Self::Question,
        Self::StayQuestion,
        Self::TakeQuestion,
        Self::StoodQuestion,
        Self::Help,
        Self::Caution,
        Self::First,
        Self::PlanForm,
        Self::PlanPage,
    ];

    /// Tall figures fill it.
    #[must_use]
    pub const fn is_tall(self) -> bool {
        matches!(self, Self::Figures | Self::SlimFigures | Self::Deck | Self::SlimDeck)
    }

    /// A step on deck fills it.
    #[must_use]
    pub const fn is_deck(self) -> bool {
        matches!(self, Self::Deck | Self::SlimDeck)
    }

    /// Letters are text here.
    #[must_use]
    pub const fn is_typed_into(self) -> bool {
        matches!(self, Self::Form | Self::RoundNote | Self::First | Self::PlanForm)
    }

    /// What it is called in help and documents.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::View(View::Swing) => "swing",
            Self::View(View::Rode) => "rode and tide",
            Self::View(View::Night) => "night",
            Self::View(View::Rounds) => "rounds",
            Self::View(View::Alerts) => "alerts",
            Self::View(View::Feeds) => "feeds",
            Self::View(View::Position) => "position",
            Self::View(View::Health) => "health of the computer",
            Self::Figures | Self::SlimFigures => "tall figures",
            Self::Deck | Self::SlimDeck => "on deck",
            Self::Recorded => "recorded night",
            Self::Form => "form",
            Self::Choice => "choice in a form",
            Self::Stepped => "length in a form",
            Self::Round => "logging a round",
            Self::RoundNote => "what differs on a round",
            Self::CheckList => "check list",
            Self::AnchorCheck => "anchor check",
            Self::Rehearsal => "rehearsal of the alarm",
            Self::Phone => "code for phones",
            Self::Question => "question",
            Self::StayQuestion => "aweigh or stay",
            Self::TakeQuestion => "taking a transit",
            Self::StoodQuestion => "looking at the transit",
            Self::Help => "help",
            Self::Caution => "first start, caution",
            Self::First => "first start, boat",
            Self::PlanForm => "plan, questions",
            Self::PlanPage => "plan, page",
        }
    }
}
