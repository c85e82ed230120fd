//! Which key does what, where, and in what words: one table for the screen, its help and its documents.
//!
//! A key acts where a row of [`TABLE`] says so and nowhere else. Few keys, each the first letter of the trade's word.

mod table;

use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};

use super::replay;
use super::stands::{Place, View};
use crate::watch::snapshot::Stage;

pub use table::TABLE;

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Answer the alert at the top, or the one picked in the list.
    Acknowledge,
    /// Answer every alert.
    AcknowledgeAll,
    /// Sound off for a while.
    Silence,
    /// The next view.
    NextView,
    /// The view before.
    PreviousView,
    /// One view.
    Show(View),
    /// Few words, tall figures, and back.
    Tall,
    /// The anchor goes down here, now: mark it.
    LetGo,
    /// Correct the mark of the anchor.
    MoveMark,
    /// Rode veered.
    VeerOut,
    /// Rode heaved in.
    HeaveIn,
    /// A mark of the rode has gone out over the roller.
    MarkOut,
    /// A mark of the rode has come back in.
    MarkBack,
    /// She is brought up.
    BroughtUp,
    /// Begin to weigh.
    Weigh,
    /// End weighing.
    AweighOrStay,
    /// She stays at anchor after all.
    Stays,
    /// Give the place a name.
    NamePlace,
    /// There is no transit, or no more.
    NoTransit,
    /// The transit opened.
    Opened,
    /// After dragging: she lies to her anchor where she is now.
    LiesHere,
    /// Look after the anchor for five minutes.
    CheckAnchor,
    /// Rehearse the alarm.
    Rehearse,
    /// A round was made.
    Round,
    /// Change limits.
    Limits,
    /// Enter the tide.
    Tide,
    /// Enter the wind by the hour.
    WindAhead,
    /// Enter the way out.
    WayOut,
    /// Enter the berth.
    Berth,
    /// Write a note.
    Note,
    /// Ask to be woken.
    Wake,
    /// Enter a mark to take bearings of.
    BearingMark,
    /// Remove such a mark.
    RemoveMark,
    /// A bearing by eye.
    Bearing,
    /// Work a check list.
    Checks,
    /// Explain the view.
    Help,
    /// The next light.
    Light,
    /// Which way is up on the chart.
    Orient,
    /// Closer, or a shorter stretch of time.
    Closer,
    /// Wider, or a longer one.
    Wider,
    /// Back to what it shows by itself.
    Home,
    /// Move in what is in front.
    Move(Way),
    /// The same, by a page.
    Page(Way),
    /// More about what is picked.
    Open,
    /// The next step on deck.
    NextStep,
    /// Move through a recorded night.
    Replay(replay::Act),
    /// Send what is filled in, or say yes.
    Send,
    /// The next field.
    NextField,
    /// The field before.
    PreviousField,
    /// The next choice.
    NextChoice,
    /// The choice before.
    PreviousChoice,
    /// More or less in a field, by so many of its steps.
    StepBy(i8),
    /// In order, on a round; ticked, on a check list.
    InOrder,
    /// Differs, on a round.
    Differs,
    /// Take an answer back.
    TakeBack,
    /// The rest is in order, on a round.
    RestInOrder,
    /// Show the code that opens the page on a phone.
    Phone,
    /// Have another machine keep the watch.
    ChangePlaces,
    /// Write the plan to a file.
    WritePlan,
    /// Stop the watch.
    Quit,
    /// Close what lies over the view, or go back.
    Leave,
}

impl Act {
    /// True if it is for a watch that is kept, and would change it or let others look at it.
    #[must_use]
    pub const fn changes_the_watch(self) -> bool {
        matches!(
            self,
            Self::Acknowledge
                | Self::AcknowledgeAll
                | Self::Silence
                | Self::LetGo
                | Self::MoveMark
                | Self::VeerOut
                | Self::HeaveIn
                | Self::MarkOut
                | Self::MarkBack
                | Self::NextStep
                | Self::BroughtUp
                | Self::Weigh
                | Self::AweighOrStay
                | Self::LiesHere
                | Self::CheckAnchor
                | Self::Rehearse
                | Self::Round
                | Self::Limits
                | Self::Tide
                | Self::WindAhead
                | Self::WayOut
                | Self::Berth
                | Self::Note
                | Self::Wake
                | Self::BearingMark
                | Self::RemoveMark
                | Self::Bearing
                | Self::Checks
                | Self::Phone
                | Self::ChangePlaces
        )
    }
}

/// A direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Up.
    Up,
    /// Down.
    Down,
    /// Left.
    Left,
    /// Right.
    Right,
}

/// One key as the terminal gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Press {
    /// Which.
    pub code: KeyCode,
    /// With Ctrl held.
    pub ctrl: bool,
}

impl Press {
    /// The same as an event.
    #[must_use]
    pub const fn event(self) -> KeyEvent {
        let modifiers = if self.ctrl { KeyModifiers::CONTROL } else { KeyModifiers::NONE };
        KeyEvent::new(self.code, modifiers)
    }

    fn is(self, key: KeyEvent) -> bool {
        self.code == key.code && self.ctrl == key.modifiers.contains(KeyModifiers::CONTROL)
    }
}

/// At which stages a key acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// At every stage.
    Always,
    /// Before the anchor is let go.
    NotDown,
    /// From letting go until it is aweigh.
    Down,
    /// From letting go until she is brought up.
    Setting,
    /// From letting go until weighing begins.
    Anchored,
    /// While weighing.
    Weighing,
}

impl When {
    /// True at a stage.
    #[must_use]
    pub const fn holds(self, stage: Stage) -> bool {
        match self {
            Self::Always => true,
            Self::NotDown => matches!(stage, Stage::NotSet),
            Self::Down => !matches!(stage, Stage::NotSet),
            Self::Setting => matches!(stage, Stage::Setting),
            Self::Anchored => matches!(stage, Stage::Setting | Stage::BroughtUp),
            Self::Weighing => matches!(stage, Stage::Weighing),
        }
    }

    /// In words, for help and documents; nothing if always.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Always => "",
            Self::NotDown => "before the anchor is let go",
            Self::Down => "while the anchor is down",
            Self::Setting => "before she is brought up",
            Self::Anchored => "while the anchor is down and not being weighed",
            Self::Weighing => "while weighing",
        }
    }
}

/// Where a key is named on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// In the bottom row, as far as there is room, and in help.
    Bar,
    /// In help; the bottom row names it only while an alert waits for an answer.
    Alert,
    /// In help alone.
    Help,
}

/// One row of the table: keys that belong together.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// What it is called on the screen.
    pub label: &'static str,
    /// The keys and what each asks for, first those that the label names.
    pub acts: &'static [(Press, Act)],
    /// What it does, in a word or two.
    pub word: &'static str,
    /// The same in a sentence.
    pub does: &'static str,
    /// Where it acts.
    pub at: &'static [Place],
    /// When it acts.
    pub when: When,
    /// Where it is named.
    pub named: Named,
}

impl Key {
    /// It as the bottom row shows it.
    #[must_use]
    pub fn hint(&self) -> Hint {
        let pair = self.label.contains([' ', '↓', '→']);
        Hint { label: self.label, word: self.word, press: self.acts[0].0, pair }
    }

    fn act(&self, key: KeyEvent) -> Option<Act> {
        self.acts.iter().find(|(press, _)| press.is(key)).map(|(_, act)| *act)
    }
}

/// A key and its word, as the bottom row shows them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hint {
    /// What the key is called.
    pub label: &'static str,
    /// What it does.
    pub word: &'static str,
    /// The first key under the label.
    pub press: Press,
    /// There are several.
    pub pair: bool,
}

impl Hint {
    /// The same with the word that fits the moment.
    #[must_use]
    pub const fn saying(self, word: &'static str) -> Self {
        Self { word, ..self }
    }
}

/// What a key does at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Does {
    /// This.
    Act(Act),
    /// Nothing at this stage: its label, its word, and when it acts.
    NotNow(&'static str, &'static str, When),
}

/// What a key does at a place and stage; `None` if it has no meaning there.
#[must_use]
pub fn does(key: KeyEvent, place: Place, stage: Stage) -> Option<Does> {
    let at =
        || TABLE.iter().filter(|row| row.at.contains(&place)).filter_map(|row| Some((row, row.act(key)?)));
    let now = at().find(|(row, _)| row.when.holds(stage)).map(|(_, act)| Does::Act(act));
    now.or_else(|| at().next().map(|(row, _)| Does::NotNow(row.label, row.word, row.when)))
}

/// What a key asks for where stages do not matter.
#[must_use]
pub fn act(key: KeyEvent, place: Place) -> Option<Act> {
    TABLE.iter().filter(|row| row.at.contains(&place)).find_map(|row| row.act(key))
}

/// What an event asks for at a place, if it is a key with a meaning there.
#[must_use]
pub fn of(event: &Event, place: Place) -> Option<Act> {
    match event {
        Event::Key(key) => act(*key, place),
        _ => None,
    }
}

/// The rows of a place at a stage, the most useful first.
pub fn rows(place: Place, stage: Stage) -> impl Iterator<Item = &'static Key> {
    TABLE.iter().filter(move |row| row.at.contains(&place) && row.when.holds(stage))
}

/// The hints for the bottom row of a place at a stage, the most useful first.
#[must_use]
pub fn hints(place: Place, stage: Stage, alert_waits: bool) -> Vec<Hint> {
    let named = |row: &&Key| match row.named {
        Named::Bar => true,
        Named::Alert => alert_waits,
        Named::Help => false,
    };
    rows(place, stage).filter(named).map(Key::hint).collect()
}

/// The hint of an act at a place; where the place has none, that of any other.
#[must_use]
pub fn hint(act: Act, place: Place) -> Hint {
    let has = |row: &&Key| row.acts.iter().any(|(_, other)| *other == act);
    let here = TABLE.iter().filter(|row| row.at.contains(&place)).find(has);
    here.or_else(|| TABLE.iter().find(has)).unwrap_or(&TABLE[0]).hint()
}

/// True if a hint's key acts at a place.
#[must_use]
pub fn acts_at(hint: Hint, place: Place) -> bool {
    TABLE.iter().any(|row| row.at.contains(&place) && row.label == hint.label)
}

/// What the key of an act is called, for words about it.
#[must_use]
pub fn label(act: Act) -> &'static str {
    let heads = |row: &&Key| row.acts[0].1 == act;
    TABLE.iter().find(heads).map_or("", |row| row.label)
}
