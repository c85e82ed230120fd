//! The keys, in the order in which a bottom row that is short of room names them.

use ratatui::crossterm::event::KeyCode::{
    self, BackTab, Down, End, Enter, Esc, F, Home, Left, PageDown, PageUp, Right, Tab, Up,
};

use super::Act::{self, *};
use super::{Key, Named, Press, Way, When};
use crate::tui::replay::Act as Step;
use crate::tui::stands::Place;
use crate::tui::stands::View::{Alerts, Feeds, Health, Night, Position, Rode, Rounds, Swing};
use crate::watch::units::Span;

const fn c(c: char) -> Press {
    Press { code: KeyCode::Char(c), ctrl: false }
}

const fn k(code: KeyCode) -> Press {
    Press { code, ctrl: false }
}

const CTRL_C: Press = Press { code: KeyCode::Char('c'), ctrl: true };

/// Where no other view than tall figures stands.
const TALL: &[Place] = &[Place::Figures, Place::Deck];
/// The views whole, what stands for one in a small window, and a recorded night.
const WHOLE: &[Place] = &[
    Place::Recorded,
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::SlimFigures,
    Place::SlimDeck,
];
const WATCH: &[Place] = &[
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::Figures,
    Place::SlimFigures,
    Place::Deck,
    Place::SlimDeck,
];
/// The watch, and a recorded night.
const EVERYWHERE: &[Place] = &[
    Place::Recorded,
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::Figures,
    Place::SlimFigures,
    Place::Deck,
    Place::SlimDeck,
];
/// The watch without the steps on deck, whose keys have other words.
const NOT_DECK: &[Place] = &[
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::Figures,
    Place::SlimFigures,
];
/// The watch without the list of alerts, where one is picked.
const BUT_ALERTS: &[Place] = &[
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::Figures,
    Place::SlimFigures,
    Place::Deck,
    Place::SlimDeck,
];
/// The watch without the rounds, whose keys are in the bottom row.
const BUT_ROUNDS: &[Place] = &[
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::View(Health),
    Place::Figures,
    Place::SlimFigures,
    Place::Deck,
    Place::SlimDeck,
];
/// The watch without the computer that keeps it, whose keys are in the bottom row.
const BUT_HEALTH: &[Place] = &[
    Place::View(Swing),
    Place::View(Rode),
    Place::View(Night),
    Place::View(Rounds),
    Place::View(Alerts),
    Place::View(Feeds),
    Place::View(Position),
    Place::Figures,
    Place::SlimFigures,
    Place::Deck,
    Place::SlimDeck,
];
const DECK: &[Place] = &[Place::Deck, Place::SlimDeck];
/// Where an alert is answered in spite of what lies over the view.
const OVER: &[Place] = &[
    Place::Round,
    Place::CheckList,
    Place::AnchorCheck,
    Place::Rehearsal,
    Place::Phone,
    Place::Question,
    Place::StayQuestion,
    Place::TakeQuestion,
    Place::StoodQuestion,
    Place::Help,
];
const FORMS: &[Place] = &[Place::Form, Place::First, Place::PlanForm];
const ASKED: &[Place] = &[Place::Question, Place::StayQuestion, Place::TakeQuestion, Place::StoodQuestion];

/// What one key does, wherever it is named.
const PHONE: &str = "Show the code by which a phone's camera opens the page for phones.";

/// A row that acts at every stage and is named in the bottom row.
const fn key(
    at: &'static [Place],
    label: &'static str,
    acts: &'static [(Press, Act)],
    word: &'static str,
    does: &'static str,
) -> Key {
    Key { label, acts, word, does, at, when: When::Always, named: Named::Bar }
}

impl Key {
    /// The same, acting only then.
    const fn during(self, when: When) -> Self {
        Self { when, ..self }
    }

    /// The same, named in help alone.
    const fn in_help(self) -> Self {
        Self { named: Named::Help, ..self }
    }

    /// The same, named in the bottom row while an alert waits.
    const fn with_alert(self) -> Self {
        Self { named: Named::Alert, ..self }
    }
}

/// The whole table.
pub static TABLE: &[Key] = &[
    // A recorded night.
    key(
        &[Place::Recorded],
        "Space",
        &[(c(' '), Replay(Step::RunOrStop))],
        "run",
        "Run the night, or stop it. From its end it runs again.",
    ),
    key(
        &[Place::Recorded],
        "[ ]",
        &[(c('['), Replay(Step::Mark { forward: false })), (c(']'), Replay(Step::Mark { forward: true }))],
        "event",
        "Go to the event before, or to the next: an alert raised, or what the crew did.",
    ),
    key(
        &[Place::Recorded],
        "< >",
        &[
            (c('<'), Replay(Step::Step(Span::from_mins(-1)))),
            (c('>'), Replay(Step::Step(Span::from_mins(1)))),
        ],
        "minute",
        "Go a minute back, or on.",
    ),
    key(
        &[Place::Recorded],
        ", .",
        &[
            (c(','), Replay(Step::Step(Span::from_secs(-1)))),
            (c('.'), Replay(Step::Step(Span::from_secs(1)))),
        ],
        "second",
        "Go a second back, or on.",
    ),
    key(
        &[Place::Recorded],
        "+ -",
        &[
            (c('+'), Replay(Step::Speed { faster: true })),
            (c('-'), Replay(Step::Speed { faster: false })),
            (c('='), Replay(Step::Speed { faster: true })),
        ],
        "speed",
        "Run faster, or slower: 1 to 1000 times as fast as it was.",
    ),
    // The steps on deck.
    key(DECK, "Enter", &[(k(Enter), NextStep)], "next step", "Do what comes next; the bottom row names it."),
    key(
        DECK,
        "+",
        &[(c('+'), MarkOut), (c('='), MarkOut)],
        "mark out",
        "A mark of the rode has gone out over the roller. Without marks in boat.toml it is 5 m.",
    )
    .during(When::Down),
    key(
        DECK,
        "-",
        &[(c('-'), MarkBack)],
        "mark back",
        "A mark of the rode has come back in over the roller.",
    )
    .during(When::Down),
    // What lies over a view.
    key(
        &[Place::Round],
        "y",
        &[(c('y'), InOrder), (c(' '), InOrder)],
        "in order",
        "This is as it should be; go to the next line. Space does the same.",
    ),
    key(&[Place::Round], "x", &[(c('x'), Differs)], "differs", "This is not as it should be: write how."),
    key(
        &[Place::Round],
        "Y",
        &[(c('Y'), RestInOrder)],
        "rest in order",
        "Every line without an answer is in order.",
    ),
    key(
        &[Place::CheckList],
        "y",
        &[(c('y'), InOrder), (c(' '), InOrder)],
        "tick",
        "Tick the line, or take the tick away. Space does the same.",
    ),
    key(
        &[Place::Rehearsal],
        "Enter",
        &[(k(Enter), Send)],
        "sound it",
        "Sound the alarm as it would sound at night, or once more.",
    ),
    key(&[Place::Rehearsal], "y", &[(c('y'), InOrder)], "heard", "It was heard in the bunk. The sound stops; it is logged."),
    key(
        &[Place::Rehearsal],
        "n",
        &[(c('n'), Differs)],
        "not heard",
        "It was not heard: what can be done is said. It is logged.",
    ),
    key(
        &[Place::Rehearsal],
        "Esc",
        &[(k(Esc), Leave), (c('q'), Leave)],
        "stop",
        "Stop the sound, and back to the view; q does the same.",
    ),
    key(
        &[Place::AnchorCheck],
        "y",
        &[(c('y'), InOrder), (c(' '), InOrder)],
        "holds, steady",
        "It is as with an anchor that holds: the transit holds, the rode is steady, depth and wind are as before. Space does the same.",
    ),
    key(
        &[Place::AnchorCheck],
        "x",
        &[(c('x'), Differs)],
        "opened, jerks",
        "It is not: the transit has opened, the rode jerks, the depth differs, it blows more.",
    ),
    key(
        &[Place::AnchorCheck],
        "Enter",
        &[(k(Enter), Send)],
        "finish",
        "End the check. What is not answered stays so.",
    ),
    key(
        &[Place::AnchorCheck],
        "Del",
        &[(k(KeyCode::Delete), TakeBack), (k(KeyCode::Backspace), TakeBack)],
        "take back",
        "Take the answer back; Backspace does the same.",
    )
    .in_help(),
    key(
        &[Place::AnchorCheck],
        "Esc",
        &[(k(Esc), Leave), (c('q'), Leave)],
        "go back",
        "Back to the view; the check runs on, and the same key shows it again. q does the same.",
    ),
    key(
        &[Place::Phone],
        "Esc",
        &[(k(Esc), Leave), (k(Enter), Leave), (c('P'), Leave), (c('q'), Leave)],
        "go back",
        "Back to the view: the code is gone from the screen. Enter, P and q do the same.",
    ),
    key(FORMS, "Enter", &[(k(Enter), Send)], "save", "Do what the bottom row says, with what is filled in."),
    key(
        &[Place::Round],
        "Enter",
        &[(k(Enter), Send)],
        "log round",
        "Log the round. Lines without an answer are left out.",
    ),
    key(&[Place::CheckList], "Enter", &[(k(Enter), Send)], "log", "Log what was ticked, and what was not."),
    key(&[Place::RoundNote], "Enter", &[(k(Enter), Send)], "differs", "The line differs, with these words."),
    key(ASKED, "Enter", &[(k(Enter), Send), (c('y'), Send)], "yes", "Do what was asked; y does the same."),
    key(&[Place::Caution], "Enter", &[(k(Enter), Send)], "I have read it", "Go on to the boat."),
    key(
        FORMS,
        "Tab",
        &[(k(Tab), NextField), (k(Down), NextField)],
        "next",
        "Go to the next field; ↓ does the same.",
    ),
    key(
        FORMS,
        "↑",
        &[(k(Up), PreviousField), (k(BackTab), PreviousField)],
        "back",
        "Go to the field before; Shift-Tab does the same.",
    )
    .in_help(),
    key(
        &[Place::Choice],
        "←→",
        &[(k(Left), PreviousChoice), (k(Right), NextChoice), (c(' '), NextChoice)],
        "choose",
        "Choose another answer; Space goes on too.",
    ),
    key(
        &[Place::Stepped],
        "+ -",
        &[(c('+'), StepBy(1)), (c('-'), StepBy(-1)), (c('='), StepBy(1))],
        "1 m",
        "A metre more, or less.",
    ),
    key(
        &[Place::Stepped],
        "PgUp PgDn",
        &[(k(PageUp), StepBy(5)), (k(PageDown), StepBy(-5))],
        "5 m",
        "Five metres more, or less.",
    ),
    key(
        &[Place::PlanPage],
        "w",
        &[(c('w'), WritePlan)],
        "write plan.toml",
        "Write the answers to plan.toml.",
    ),
    key(
        &[Place::Form, Place::Round, Place::RoundNote, Place::CheckList],
        "Esc",
        &[(k(Esc), Leave)],
        "cancel",
        "Go back without changing anything.",
    ),
    key(
        ASKED,
        "Esc",
        &[(k(Esc), Leave), (c('n'), Leave), (c('q'), Leave)],
        "no",
        "Go back without changing anything; n and q do the same.",
    ),
    key(&[Place::First], "Esc", &[(k(Esc), Leave)], "back", "Back to the page before."),
    key(&[Place::Caution], "Esc", &[(k(Esc), Leave), (c('q'), Leave)], "leave", "Leave; nothing is written."),
    key(&[Place::PlanForm], "Esc", &[(k(Esc), Leave)], "leave", "Leave the plan."),
    key(
        &[Place::PlanPage],
        "Esc",
        &[(k(Esc), Leave), (k(Enter), Leave)],
        "change an answer",
        "Back to the questions; Enter does the same.",
    ),
    key(
        &[Place::StayQuestion],
        "r",
        &[(c('r'), Stays)],
        "she stays",
        "She stays at anchor after all; the watch judges again.",
    ),
    key(
        &[Place::TakeQuestion],
        "o",
        &[(c('o'), NoTransit)],
        "none in sight",
        "There is nothing to line up: the pulls are judged by the positions alone.",
    ),
    key(
        &[Place::StoodQuestion],
        "o",
        &[(c('o'), Opened)],
        "it opened",
        "The transit opened in the pull: she went astern, the anchor moved.",
    ),
    key(
        &[Place::StoodQuestion],
        "l",
        &[(c('l'), NoTransit)],
        "lost it",
        "The transit is lost: it is asked for no more.",
    ),
    key(
        &[Place::StayQuestion],
        "p",
        &[(c('p'), NamePlace)],
        "name the place",
        "Give the place a name, before the ride ends.",
    ),
    key(
        &[Place::Help],
        "↑↓",
        &[
            (k(Up), Move(Way::Up)),
            (k(Down), Move(Way::Down)),
            (c(' '), Move(Way::Down)),
            (k(PageUp), Page(Way::Up)),
            (k(PageDown), Page(Way::Down)),
        ],
        "read on",
        "Read on, or back; PgUp and PgDn by a page.",
    ),
    key(
        &[Place::Help],
        "Esc",
        &[(k(Esc), Leave), (k(Enter), Leave), (c('?'), Leave), (c('q'), Leave), (k(F(1)), Leave)],
        "back",
        "Back to the view; Enter, ? and q do the same.",
    ),
    key(
        &[Place::PlanPage],
        "↑↓",
        &[
            (k(Up), Move(Way::Up)),
            (k(Down), Move(Way::Down)),
            (c(' '), Move(Way::Down)),
            (k(PageUp), Page(Way::Up)),
            (k(PageDown), Page(Way::Down)),
            (k(Home), Page(Way::Left)),
            (k(End), Page(Way::Right)),
        ],
        "read on",
        "Read on, or back; PgUp and PgDn by a page, Home and End to its ends.",
    ),
    key(
        &[Place::PlanPage],
        "←→",
        &[(k(Left), Move(Way::Left)), (k(Right), Move(Way::Right))],
        "table",
        "Move a table that is wider than the window.",
    ),
    key(
        &[Place::Round, Place::CheckList, Place::AnchorCheck],
        "↑↓",
        &[(k(Up), Move(Way::Up)), (k(Down), Move(Way::Down))],
        "choose",
        "Go to the line above, or below.",
    ),
    key(
        &[Place::CheckList],
        "←→",
        &[(k(Left), Move(Way::Left)), (k(Right), Move(Way::Right))],
        "other list",
        "Another check list: before letting go, on leaving her, before weighing.",
    ),
    key(&[Place::PlanPage], "q", &[(c('q'), Quit), (CTRL_C, Quit)], "leave", "Leave the plan."),
    // Views.
    key(TALL, "b", &[(c('b'), Tall)], "whole screen", "Back from the tall figures to the whole view."),
    key(
        &[Place::View(Alerts)],
        "a",
        &[(c('a'), Acknowledge)],
        "acknowledge",
        "Answer the alert that is picked.",
    ),
    key(
        WHOLE,
        "v",
        &[(c('v'), NextView), (c('V'), PreviousView), (k(Tab), NextView), (k(BackTab), PreviousView)],
        "view",
        "The next view; V the one before. Tab and Shift-Tab do the same.",
    ),
    key(
        TALL,
        "v",
        &[(c('v'), NextView), (c('V'), PreviousView), (k(Tab), NextView), (k(BackTab), PreviousView)],
        "view",
        "The next view, whole; V the one before.",
    )
    .in_help(),
    key(&[Place::View(Alerts)], "A", &[(c('A'), AcknowledgeAll)], "all", "Answer every alert, after asking."),
    key(
        &[Place::View(Alerts)],
        "Enter",
        &[(k(Enter), Open)],
        "what it means",
        "What the alert that is picked means, and what to do.",
    ),
    key(
        &[Place::View(Alerts), Place::View(Feeds)],
        "↑↓",
        &[(k(Up), Move(Way::Up)), (k(Down), Move(Way::Down))],
        "choose",
        "Pick the one above, or below.",
    ),
    key(
        &[Place::View(Rode)],
        "←→",
        &[(k(Left), Move(Way::Left)), (k(Right), Move(Way::Right))],
        "wind, rode, tide",
        "Choose what to suppose: another wind, another length of rode, another time.",
    )
    .during(When::Down),
    key(
        &[Place::View(Rode)],
        "↑↓",
        &[(k(Up), Move(Way::Up)), (k(Down), Move(Way::Down))],
        "what if",
        "Suppose more of it, or less.",
    )
    .during(When::Down),
    key(
        &[Place::View(Night)],
        "←→",
        &[(k(Left), Move(Way::Left)), (k(Right), Move(Way::Right))],
        "look back",
        "Move the ruler back in the night, or on.",
    ),
    key(
        &[Place::View(Night)],
        "↑↓",
        &[(k(Up), Move(Way::Up)), (k(Down), Move(Way::Down))],
        "event",
        "Move the ruler to the event before, or the next.",
    ),
    key(&[Place::View(Night)], "z", &[(c('z'), Closer)], "less time", "Show a shorter stretch of the night."),
    key(&[Place::View(Night)], "Z", &[(c('Z'), Wider)], "more time", "Show a longer stretch of the night."),
    key(
        &[Place::View(Rode), Place::View(Night)],
        "0",
        &[(c('0'), Act::Home), (k(Home), Act::Home)],
        "now",
        "Back to what is so now; Home does the same.",
    ),
    key(NOT_DECK, "r", &[(c('r'), Round)], "round", "Log a round on deck, line by line.")
        .during(When::Anchored),
    key(DECK, "r", &[(c('r'), Round)], "round", "Log a round on deck, line by line.")
        .during(When::Down)
        .in_help(),
    key(
        &[Place::View(Rounds)],
        "m",
        &[(c('m'), BearingMark)],
        "bearing mark",
        "Enter a mark to take bearings of: by bearing and distance, by position, or two in line.",
    ),
    key(
        &[Place::View(Rounds)],
        "e",
        &[(c('e'), Bearing)],
        "bearing by eye",
        "Log a bearing of a mark, taken by hand.",
    ),
    key(&[Place::View(Rounds)], "M", &[(c('M'), RemoveMark)], "remove mark", "Remove a bearing mark."),
    key(
        &[Place::View(Rounds)],
        "↑↓",
        &[(k(Up), Move(Way::Up)), (k(Down), Move(Way::Down))],
        "read on",
        "Read on, or back.",
    ),
    // What the crew does.
    key(
        WATCH,
        "d",
        &[(c('d'), LetGo)],
        "mark, let go",
        "The anchor goes down: mark where it is. Press it as the anchor is let go.",
    )
    .during(When::NotDown),
    key(
        WATCH,
        "u",
        &[(c('u'), BroughtUp)],
        "brought up",
        "The anchor has proved to hold: from now every alert is on, and a wind shift counts from here.",
    )
    .during(When::Setting),
    key(
        NOT_DECK,
        "+",
        &[(c('+'), VeerOut), (c('='), VeerOut)],
        "veer",
        "Enter how much rode is out after veering or shortening; - does the same.",
    )
    .during(When::Down),
    key(NOT_DECK, "-", &[(c('-'), HeaveIn)], "shorten", "Enter how much rode is out after shortening.")
        .during(When::Down)
        .in_help(),
    key(
        WATCH,
        "d",
        &[(c('d'), MoveMark)],
        "mark",
        "Move the mark of the anchor, if it was made late or in the wrong place.",
    )
    .during(When::Anchored),
    key(WATCH, "w", &[(c('w'), Weigh)], "weigh", "Begin to weigh: movement of the anchor no longer sounds.")
        .during(When::Anchored),
    key(
        WATCH,
        "h",
        &[(c('h'), LiesHere)],
        "lies here",
        "After dragging: she lies to her anchor where she is now. The mark moves there, and she is judged from it.",
    )
    .during(When::Anchored)
    .in_help(),
    key(
        WATCH,
        "w",
        &[(c('w'), AweighOrStay)],
        "aweigh or stay",
        "The anchor is aweigh and the ride ends, or she stays after all.",
    )
    .during(When::Weighing),
    key(
        BUT_ALERTS,
        "a",
        &[(c('a'), Acknowledge)],
        "acknowledge",
        "Answer the alert at the top of the screen.",
    )
    .in_help(),
    key(OVER, "a", &[(c('a'), Acknowledge)], "acknowledge", "Answer the alert at the top of the screen.")
        .with_alert(),
    key(WATCH, "s", &[(c('s'), Silence)], "silence 30 s", "No sound for 30 seconds; the alert stands.")
        .in_help(),
    key(OVER, "s", &[(c('s'), Silence)], "silence 30 s", "No sound for 30 seconds; the alert stands.")
        .with_alert(),
    // What every view has.
    key(
        EVERYWHERE,
        "?",
        &[(c('?'), Help), (k(F(1)), Help)],
        "help",
        "Explain what is in front, and its keys; F1 does the same.",
    ),
    key(WATCH, "l", &[(c('l'), Limits)], "limits", "Change what wakes you."),
    key(
        WATCH,
        "t",
        &[(c('t'), Tide)],
        "tide",
        "Enter the tide: high and low waters from a table, or a station.",
    ),
    key(
        WATCH,
        "i",
        &[(c('i'), WindAhead)],
        "wind ahead",
        "Enter the wind by the hour from the forecast: the night is calculated with it, and the wind held against it.",
    )
    .in_help(),
    key(
        WATCH,
        "x",
        &[(c('x'), WayOut)],
        "way out",
        "Enter the course that is safe from here, and how far: it stands beside an alarm.",
    )
    .in_help(),
    key(
        WATCH,
        "B",
        &[(c('B'), Berth)],
        "berth",
        "Enter the bottom, the open water, the shore and the snubber: load and hold are calculated with them.",
    )
    .in_help(),
    key(WATCH, "c", &[(c('c'), Checks)], "check list", "Go through the check list of the moment."),
    key(
        WATCH,
        "g",
        &[(c('g'), CheckAnchor)],
        "does it hold?",
        "Look after the anchor for five minutes: transit, hand on the rode, depth, wind; then what to do.",
    )
    .during(When::Anchored)
    .in_help(),
    key(
        WATCH,
        "R",
        &[(c('R'), Rehearse)],
        "rehearse alarm",
        "Sound the real alarm before turning in: is it heard in the bunk?",
    )
    .in_help(),
    key(&[Place::View(Health)], "P", &[(c('P'), Phone)], "phone", PHONE),
    key(WATCH, "n", &[(c('n'), Note)], "note", "Write a note into the logbook."),
    key(WATCH, "k", &[(c('k'), Wake)], "wake us", "Ask to be woken: at a time, at the turn of the tide, by the wind.")
        .in_help(),
    key(EVERYWHERE, "p", &[(c('p'), Light)], "light", "Colours for day, dusk or night."),
    key(
        &[Place::View(Swing)],
        "o",
        &[(c('o'), Orient)],
        "turn",
        "Turn the chart: north up, wind up or head up.",
    ),
    key(&[Place::View(Swing)], "z", &[(c('z'), Closer)], "closer", "Show less of the chart, larger."),
    key(&[Place::View(Swing)], "Z", &[(c('Z'), Wider)], "wider", "Show more of the chart, smaller."),
    key(
        &[Place::View(Swing)],
        "0",
        &[(c('0'), Act::Home), (k(Home), Act::Home)],
        "fit",
        "Let the chart choose its own scale again.",
    ),
    key(
        &[
            Place::View(Swing),
            Place::View(Rode),
            Place::View(Night),
            Place::View(Rounds),
            Place::View(Alerts),
            Place::View(Feeds),
            Place::View(Position),
            Place::View(Health),
        ],
        "b",
        &[(c('b'), Tall)],
        "tall figures",
        "Few words and tall figures, for the cockpit; while setting and weighing the step at hand.",
    ),
    key(
        BUT_ROUNDS,
        "m",
        &[(c('m'), BearingMark)],
        "bearing mark",
        "Enter a mark to take bearings of: by bearing and distance, by position, or two in line.",
    )
    .in_help(),
    key(BUT_ROUNDS, "e", &[(c('e'), Bearing)], "bearing by eye", "Log a bearing of a mark, taken by hand.")
        .in_help(),
    key(BUT_ROUNDS, "M", &[(c('M'), RemoveMark)], "remove mark", "Remove a bearing mark.").in_help(),
    key(BUT_HEALTH, "P", &[(c('P'), Phone)], "phone", PHONE).in_help(),
    key(BUT_ALERTS, "A", &[(c('A'), AcknowledgeAll)], "all", "Answer every alert, after asking.").in_help(),
    key(EVERYWHERE, "1", &[(c('1'), Show(Swing))], "swing", "Where she lies and how she has swung.")
        .in_help(),
    key(EVERYWHERE, "2", &[(c('2'), Show(Rode))], "rode", "The rode from the side, and the tide.").in_help(),
    key(EVERYWHERE, "3", &[(c('3'), Show(Night))], "night", "The night as graphs.").in_help(),
    key(
        EVERYWHERE,
        "4",
        &[(c('4'), Show(Rounds))],
        "rounds",
        "Rounds, bearings, lights, and who is on watch.",
    )
    .in_help(),
    key(
        EVERYWHERE,
        "5",
        &[(c('5'), Show(Alerts))],
        "all alerts",
        "Every alert that is not over, and what happened.",
    )
    .in_help(),
    key(
        EVERYWHERE,
        "6",
        &[(c('6'), Show(Feeds)), (c('f'), Show(Feeds))],
        "feeds",
        "What every feed delivers; f does the same.",
    )
    .in_help(),
    key(
        EVERYWHERE,
        "7",
        &[(c('7'), Show(Position))],
        "position",
        "Latitude and longitude of boat and anchor, large enough to read into a radio.",
    )
    .in_help(),
    key(
        EVERYWHERE,
        "8",
        &[(c('8'), Show(Health))],
        "health",
        "The computer: power, sleep, sound, disk, clock, heat.",
    )
    .in_help(),
    key(
        WATCH,
        "W",
        &[(c('W'), ChangePlaces)],
        "who keeps it",
        "Where two machines keep the same watch: have the other one keep it, or this one, after asking.",
    )
    .in_help(),
    key(
        WATCH,
        "Esc",
        &[(k(Esc), Leave)],
        "close",
        "Take away the line above the keys; then back to what is so now.",
    )
    .in_help(),
    key(
        WATCH,
        "q",
        &[(c('q'), Quit), (CTRL_C, Quit)],
        "quit",
        "Stop the watch, after asking; Ctrl-C does the same.",
    ),
    key(
        &[Place::Recorded],
        "q",
        &[(c('q'), Quit), (CTRL_C, Quit)],
        "leave",
        "Leave the recorded night; nothing is lost, so nothing is asked.",
    ),
    key(
        &[
            Place::Form,
            Place::Round,
            Place::RoundNote,
            Place::CheckList,
            Place::AnchorCheck,
            Place::Rehearsal,
            Place::Question,
            Place::StayQuestion,
            Place::TakeQuestion,
            Place::StoodQuestion,
            Place::Help,
        ],
        "Ctrl-C",
        &[(CTRL_C, Quit)],
        "quit",
        "Stop the watch, after asking.",
    )
    .in_help(),
    key(
        &[Place::Caution, Place::First, Place::PlanForm],
        "Ctrl-C",
        &[(CTRL_C, Quit)],
        "leave",
        "Leave; nothing is written.",
    )
    .in_help(),
];
