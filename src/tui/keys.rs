//! Which key does what, and the hints that say so. Few keys, each the first letter of the trade's word.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::stands::View;
use crate::watch::snapshot::Stage;

/// What a key asks for while nothing lies over the view.
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
    Big,
    /// Let go; or, with the anchor down, correct the drop point.
    Drop,
    /// Rode veered.
    VeerOut,
    /// Rode heaved in.
    HeaveIn,
    /// She is brought up.
    BroughtUp,
    /// Begin or end weighing.
    Weigh,
    /// A round was made.
    Round,
    /// Change limits.
    Limits,
    /// Tell the tide.
    Tide,
    /// Write a note.
    Note,
    /// Tell a mark.
    Mark,
    /// Take a mark away.
    MarkAway,
    /// Work a check list.
    Checks,
    /// A bearing by eye.
    Bearing,
    /// Explain the view.
    Help,
    /// The next palette.
    Palette,
    /// Which way is up on the chart.
    Orient,
    /// Chart closer.
    Closer,
    /// Chart wider.
    Wider,
    /// Back to what it shows by itself.
    Home,
    /// Move in the view.
    Move(Way),
    /// More about what is picked.
    Open,
    /// Stop the watch.
    Quit,
    /// Close what lies over the view.
    Leave,
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

/// The act of a key, if it has one.
#[must_use]
pub fn act(key: KeyEvent) -> Option<Act> {
    if key.modifiers.contains(KeyModifiers::CONTROL) {
        return (key.code == KeyCode::Char('c')).then_some(Act::Quit);
    }
    Some(match key.code {
        KeyCode::Char('a') => Act::Acknowledge,
        KeyCode::Char('A') => Act::AcknowledgeAll,
        KeyCode::Char('s') => Act::Silence,
        KeyCode::Char('v') | KeyCode::Tab => Act::NextView,
        KeyCode::Char('V') | KeyCode::BackTab => Act::PreviousView,
        KeyCode::Char('1') => Act::Show(View::Swing),
        KeyCode::Char('2') => Act::Show(View::Rode),
        KeyCode::Char('3') => Act::Show(View::Night),
        KeyCode::Char('4') => Act::Show(View::Rounds),
        KeyCode::Char('5') => Act::Show(View::Alerts),
        KeyCode::Char('6' | 'f') => Act::Show(View::Feeds),
        KeyCode::Char('r') => Act::Round,
        KeyCode::Char('b') => Act::Big,
        KeyCode::Char('d') => Act::Drop,
        KeyCode::Char('+' | '=') => Act::VeerOut,
        KeyCode::Char('-') => Act::HeaveIn,
        KeyCode::Char('u') => Act::BroughtUp,
        KeyCode::Char('w') => Act::Weigh,
        KeyCode::Char('l') => Act::Limits,
        KeyCode::Char('t') => Act::Tide,
        KeyCode::Char('n') => Act::Note,
        KeyCode::Char('m') => Act::Mark,
        KeyCode::Char('M') => Act::MarkAway,
        KeyCode::Char('c') => Act::Checks,
        KeyCode::Char('e') => Act::Bearing,
        KeyCode::Char('?') | KeyCode::F(1) => Act::Help,
        KeyCode::Char('p') => Act::Palette,
        KeyCode::Char('o') => Act::Orient,
        KeyCode::Char('z') => Act::Closer,
        KeyCode::Char('Z') => Act::Wider,
        KeyCode::Char('0') | KeyCode::Home => Act::Home,
        KeyCode::Up => Act::Move(Way::Up),
        KeyCode::Down => Act::Move(Way::Down),
        KeyCode::Left => Act::Move(Way::Left),
        KeyCode::Right => Act::Move(Way::Right),
        KeyCode::Enter => Act::Open,
        KeyCode::Char('q') => Act::Quit,
        KeyCode::Esc => Act::Leave,
        _ => return None,
    })
}

/// A key and its word, as the bottom row shows them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hint {
    /// The key.
    pub key: &'static str,
    /// What it does.
    pub word: &'static str,
}

const fn hint(key: &'static str, word: &'static str) -> Hint {
    Hint { key, word }
}

/// The hints for a view at a stage, the most useful first.
#[must_use]
pub fn hints(view: View, stage: Stage, big: bool) -> Vec<Hint> {
    let mut all = vec![hint("v", "view")];
    if big {
        all[0] = hint("b", "whole screen");
    }
    match view {
        View::Swing => {}
        View::Rode => all.extend([hint("↑↓←→", "what if"), hint("0", "now")]),
        View::Night => all.extend([
            hint("←→", "look back"),
            hint("↑↓", "event"),
            hint("z", "closer"),
            hint("Z", "wider"),
            hint("0", "now"),
        ]),
        View::Alerts => {
            all.extend([hint("a", "acknowledge"), hint("A", "all"), hint("Enter", "what it means")])
        }
        View::Feeds => all.push(hint("↑↓", "choose")),
        View::Rounds => all.extend([
            hint("r", "round"),
            hint("m", "mark"),
            hint("e", "bearing by eye"),
            hint("M", "mark away"),
            hint("↑↓", "read on"),
        ]),
    }
    match stage {
        Stage::NotSet => all.push(hint("d", "let go")),
        Stage::Setting => {
            all.extend([hint("u", "brought up"), hint("+", "veer"), hint("d", "drop"), hint("w", "weigh")])
        }
        Stage::BroughtUp if view == View::Rounds => {}
        Stage::BroughtUp => {
            all.extend([hint("r", "round"), hint("+", "veer"), hint("d", "drop"), hint("w", "weigh")]);
        }
        Stage::Weighing => all.push(hint("w", "aweigh or stay")),
    }
    all.push(hint("?", "help"));
    all.extend([
        hint("l", "limits"),
        hint("t", "tide"),
        hint("c", "check list"),
        hint("n", "note"),
        hint("p", "light"),
    ]);
    if view == View::Swing && !big {
        all.extend([hint("o", "turn"), hint("z", "closer"), hint("Z", "wider")]);
    }
    if !big {
        all.push(hint("b", "big"));
    }
    all.push(hint("q", "quit"));
    all
}
