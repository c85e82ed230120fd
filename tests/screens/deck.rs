//! The work on deck in the big mode, the rounds, and what their keys do.

use nightrode::tui::request::Request;
use nightrode::watch::input::{Command, MarkEntered};
use nightrode::watch::rounds::{Differs, RoundItem};
use nightrode::watch::setting::{PullKind, SettingView, Transit};
use nightrode::watch::snapshot::Snapshot;
use nightrode::watch::units::Metres;

use super::drawn::{app, drawn, keys};
use super::views::looks;
use super::{crew, scenes};

const STEPS: [&str; 11] = [
    "near",
    "sounding",
    "veering",
    "pulling",
    "held",
    "moved",
    "short",
    "lying",
    "heaving_in",
    "up_and_down",
    "aweigh",
];

#[test]
fn every_step_on_deck_looks_as_it_should() {
    for (name, scene) in crew::ALL.into_iter().filter(|(name, _)| STEPS.contains(name)) {
        looks(&format!("deck_{name}"), &scene(), "b");
    }
}

#[test]
fn a_place_of_the_book_stands_among_the_facts_while_she_comes_to_it() {
    looks("swing_near", &crew::near(), "");
}

#[test]
fn rounds_look_as_they_should_ahead_late_and_while_told() {
    looks("rounds_ahead", &crew::rounds(), "4");
    looks("rounds_late", &crew::round_due(), "4");
    looks("rounds_read_on", &crew::rounds(), "4↓↓↓↓↓↓↓↓↓↓↓↓");
    looks("rounds_none", &scenes::quiet(), "4");
    looks("round_told", &crew::rounds(), "4ryyxworn⏎y");
    looks("round_note", &crew::rounds(), "4ryyxworn");
}

#[test]
fn check_lists_are_worked_where_they_are_needed() {
    looks("checks_before", &crew::near(), "bcy y");
    looks("checks_leaving", &crew::rounds(), "4cyyy");
    let mut app = app();
    let entered = keys(&mut app, &crew::heaving_in(), "cyyyy⏎");
    let all = "before weighing: all 4 checked".to_owned();
    assert_eq!(entered, asked(Command::Note { text: all }));
    assert_eq!(keys(&mut app, &crew::heaving_in(), "c⏎"), [], "nothing was ticked");
}

#[test]
fn a_mark_is_taken_away_by_its_name() {
    let snap = crew::rounds();
    let entered = keys(&mut app(), &snap, "M→⏎");
    let name = snap.marks[1].name.to_string();
    assert_eq!(entered, asked(Command::Unmark { name }));
    assert_eq!(keys(&mut app(), &scenes::quiet(), "M⏎"), [], "there is none");
    looks("mark_away", &snap, "4M");
}

/// Keys on the big mode, after it was drawn once.
fn on_deck(snap: &Snapshot, typed: &str) -> Vec<Request> {
    let mut app = app();
    keys(&mut app, snap, "b");
    drawn(&mut app, snap, (80, 24));
    keys(&mut app, snap, typed)
}

fn asked(command: Command) -> Vec<Request> {
    vec![Request::Crew(command)]
}

#[test]
fn enter_is_the_next_act_of_each_step() {
    let pull = |kind| asked(Command::Pull { kind });
    assert_eq!(on_deck(&scenes::under_way(), "⏎"), asked(Command::BeginRecon));
    let (veering, taken) = (crew::veering(), |seen| asked(Command::Transit { seen }));
    assert_eq!(on_deck(&veering, "⏎"), [], "a transit first");
    assert_eq!(on_deck(&veering, "⏎⏎"), taken(Transit::Taken));
    assert_eq!(on_deck(&veering, "⏎o"), taken(Transit::NoneInSight));
    let setting = SettingView { transit: Some(Transit::Taken), ..veering.setting.clone() };
    assert_eq!(on_deck(&Snapshot { setting, ..veering }, "⏎"), pull(PullKind::Slow));
    assert_eq!(on_deck(&crew::pulling(), "⏎"), asked(Command::Neutral));
    assert_eq!(on_deck(&crew::held(), "⏎"), pull(PullKind::HardBurst));
    let held = crew::held();
    let setting = SettingView { asks_transit: true, ..held.setting.clone() };
    let unanswered = Snapshot { setting, ..held };
    assert_eq!(on_deck(&unanswered, "⏎⏎"), taken(Transit::Stood));
    assert_eq!(on_deck(&unanswered, "⏎o"), taken(Transit::Opened));
    assert_eq!(on_deck(&crew::heaving_in(), "⏎"), asked(Command::Neutral));
}

#[test]
fn letting_go_and_brought_up_are_asked_once() {
    let sounding = crew::sounding();
    assert_eq!(on_deck(&sounding, "⏎"), []);
    let entered = on_deck(&sounding, "⏎⏎");
    assert!(matches!(entered[..], [Request::Crew(Command::LetGo { veered: None, .. })]), "{entered:?}");
    assert_eq!(on_deck(&crew::lying(), "⏎⏎"), asked(Command::BroughtUp));
    assert_eq!(on_deck(&crew::moved(), "⏎⏎"), asked(Command::Weigh), "what moved is not brought up");
    assert_eq!(on_deck(&crew::short(), "⏎"), asked(Command::Pull { kind: PullKind::Slow }));
    assert_eq!(on_deck(&crew::up_and_down(), "⏎⏎"), asked(Command::Aweigh));
}

#[test]
fn in_neutral_the_tall_word_is_what_the_pull_has_shown() {
    let says = |snap: &Snapshot| {
        let mut app = app();
        keys(&mut app, snap, "b");
        drawn(&mut app, snap, (80, 24))
    };
    for (snap, reason) in [
        (crew::held(), "She stopped with the rode taut."),
        (crew::moved(), "Your transit opened."),
        (crew::short(), "She stopped short of her rode."),
    ] {
        let screen = says(&snap);
        assert!(screen.contains(reason), "{screen}");
        assert!(
            !screen.contains("away from the anchor"),
            "no rate of a pull that is over stands as if it were now: {screen}"
        );
    }
}

#[test]
fn brought_up_is_called_proved_only_after_a_pull_that_was_seen_to_hold() {
    let says = |snap: &Snapshot| {
        let mut app = app();
        keys(&mut app, snap, "u");
        drawn(&mut app, snap, (80, 24)).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(says(&crew::held()).contains("The last pull was seen to hold."));
    assert!(says(&crew::moved()).contains("moved the anchor: it is not proved"));
    assert!(says(&crew::short()).contains("not proved"));
    assert!(says(&scenes::setting()).contains("No pull was seen to hold"));
}

#[test]
fn marks_of_the_rode_are_counted_out_and_in_with_one_key() {
    let out = |m| asked(Command::Veered { length: Metres(m) });
    assert_eq!(on_deck(&crew::veering(), "+"), out(30.0));
    assert_eq!(on_deck(&crew::veering(), "-"), out(10.0));
    // No marks are told: steps of five metres.
    assert_eq!(on_deck(&scenes::setting(), "+"), out(40.0));
    assert_eq!(on_deck(&crew::lying(), "-"), out(30.0));
}

#[test]
fn while_she_rides_the_keys_of_the_big_mode_are_those_of_every_view() {
    assert_eq!(on_deck(&scenes::quiet(), "⏎"), []);
    assert_eq!(on_deck(&scenes::quiet(), "+⎋"), []);
}

#[test]
fn a_round_is_told_with_few_keys_and_what_differs_with_words() {
    let mut app = app();
    let snap = crew::rounds();
    let entered = keys(&mut app, &snap, "ryyxchafed⏎Y⏎");
    let [Request::Crew(Command::Round(made))] = &entered[..] else { panic!("{entered:?}") };
    let differs = Differs { item: RoundItem::Snubber, note: "chafed".into() };
    assert_eq!(made.differs, [differs]);
    assert_eq!(made.checked.len(), 6);
    assert_eq!(made.by, None);
    assert_eq!(keys(&mut app, &snap, "r⏎⎋"), [], "nothing was entered");
}

#[test]
fn marks_and_bearings_are_told_by_either_north() {
    let snap = crew::rounds();
    let mut app = app();
    let entered = keys(&mut app, &snap, "mend of mole⇥⇥052 M⇥300⏎");
    let [Request::Crew(Command::Mark { name, entered: MarkEntered::FromBow { bearing, distance } })] =
        &entered[..]
    else {
        panic!("{entered:?}")
    };
    assert_eq!((name.as_str(), *distance), ("end of mole", Metres(300.0)));
    // 4.2° of easterly variation: true is more.
    assert!((bearing.degrees() - 56.2).abs() < 1e-9);
    let entered = keys(&mut app, &snap, "e→⇥325 T⏎");
    let [Request::Crew(Command::Bearing { mark, bearing })] = &entered[..] else { panic!("{entered:?}") };
    assert_eq!((mark.as_str(), bearing.degrees()), ("church", 325.0));
    assert_eq!(keys(&mut app, &snap, "e⇥325⏎"), [], "by which north?");
    assert!(drawn(&mut app, &snap, (80, 24)).contains("By which north?"));
}

#[test]
fn marks_stand_on_the_chart_by_name() {
    looks("swing_marks", &crew::rounds(), "");
}

#[test]
fn letters_of_a_note_on_a_round_answer_no_alert() {
    let mut app = app();
    let snap = scenes::alarm();
    assert_eq!(keys(&mut app, &snap, "rxas⏎⎋"), []);
}

#[test]
fn soundings_stand_on_the_chart_where_they_were_found() {
    looks("swing_sounding", &crew::sounding(), "");
}
