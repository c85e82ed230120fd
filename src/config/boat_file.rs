//! `boat.toml`: the boat, her gear, her limits, her crew, her feeds.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::Read;
use super::alerts_table::{AlertSettings, read_alerts};
use super::crew_table::read_crew;
use super::keys::{self, Number, numbers_of};
use super::page_table::{PageSettings, read_page};
use super::problem::Problems;
use super::reader::{Log, Table};
use super::settings::{LONGEST_FEED_NAME, MOST_FEEDS, hull_name, quoted, read_shared};
use crate::watch::boat::{Boat, FeedSettings, Settings, Tackle, is_source};

/// Everything that `boat.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BoatFile {
    /// What the watch needs: boat, gear, limits, crew, and the feeds' names and priorities.
    pub settings: Settings,
    /// Where the feeds come from, in the order of `settings.feeds`.
    pub feeds: Vec<FeedSource>,
    /// What else happens on an alert.
    pub alerts: AlertSettings,
    /// The page for a phone.
    pub page: PageSettings,
    /// The loudspeaker that plays, by name or identity; `None`: the default one.
    pub loudspeaker: Option<String>,
}

/// One feed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FeedSource {
    /// Short name: 1 to 15 of `a–z A–Z 0–9 - _`.
    pub name: String,
    /// Where it comes from: `serial:/dev/ttyUSB0@4800`.
    pub source: String,
    /// 0 is believed first.
    pub priority: u8,
}

/// What the first start asks for; the rest of `boat.toml` follows from it or has its default.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstFacts {
    /// The boat as entered.
    pub boat: Boat,
    /// Her rode as entered.
    pub tackle: Tackle,
    /// The crew's names.
    pub crew: Vec<String>,
    /// The feeds found.
    pub feeds: Vec<FeedSource>,
}

/// Reads `boat.toml`. `file` is its name as it stands in messages.
///
/// # Errors
/// Everything wrong with it: what is not TOML, unknown keys, values out of range, values that contradict each other.
pub fn read_boat(text: &str, file: &str) -> Result<Read<BoatFile>, Problems> {
    let (mut log, mut doc) = Log::parse(text);
    let shared = read_shared(&mut log, &mut doc);
    shared.rode.finish(&mut log);
    let feeds = read_feeds(&mut log, &mut doc, SourceIs::Needed);
    let crew = read_crew(&mut log, &mut doc);
    let (alerts, page) = (read_alerts(&mut log, &mut doc), read_page(&mut log, &mut doc));
    let loudspeaker = read_sound(&mut log, &mut doc);
    let mut value = BoatFile { settings: shared.settings, alerts, page, loudspeaker, feeds };
    value.settings.crew = crew;
    value.settings.feeds = value.feeds.iter().map(FeedSource::settings).collect();
    doc.finish(&mut log);
    Ok(Read { value, doubts: log.judge(file)? })
}

/// `[sound]`.
fn read_sound(log: &mut Log, doc: &mut Table) -> Option<String> {
    let mut table = doc.table(log, "sound");
    let device = table.text(log, "device").map(|(device, _)| device).filter(|device| !device.is_empty());
    table.finish(log);
    device
}

impl FeedSource {
    fn settings(&self) -> FeedSettings {
        FeedSettings { name: self.name.clone(), priority: self.priority }
    }
}

/// Whether a feed must say where it comes from: a ride that is over need not.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum SourceIs {
    Needed,
    Optional,
}

pub(super) fn read_feeds(log: &mut Log, doc: &mut Table, source_is: SourceIs) -> Vec<FeedSource> {
    let mut names = BTreeSet::new();
    let mut feeds = Vec::new();
    for (i, mut table) in doc.tables(log, "feed").into_iter().enumerate() {
        if i == MOST_FEEDS {
            log.wrong(table.place, "feed", format!("more than {MOST_FEEDS} feeds"));
            break;
        }
        let feed = read_feed(log, &mut table, source_is);
        if feed.as_ref().is_some_and(|feed| !names.insert(feed.name.clone())) {
            log.wrong(table.place.clone(), "feed.name", "two feeds have this name; give each its own".into());
        }
        table.finish(log);
        feeds.extend(feed);
    }
    feeds
}

fn read_feed(log: &mut Log, table: &mut Table, source_is: SourceIs) -> Option<FeedSource> {
    let name = table.text(log, "name");
    let source = table.text(log, "source");
    let priority = table.number(log, &keys::PRIORITY).map_or(0.0, |(number, _)| number);
    if name.is_none() || (source.is_none() && source_is == SourceIs::Needed) {
        let what = "a feed needs a name and a source, like \"gps\" and \"serial:/dev/ttyUSB0@4800\"";
        log.wrong(table.place.clone(), "feed", what.into());
    }
    let (name, place) = name?;
    let plain = name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    if !plain || !(1..=LONGEST_FEED_NAME).contains(&name.len()) {
        let what = format!(
            "the name of a feed is 1 to {LONGEST_FEED_NAME} letters a to z, digits, - and _, without spaces"
        );
        log.wrong(place, "feed.name", what);
        return None;
    }
    if let Some((source, place)) = source.as_ref().filter(|(source, _)| !is_source(source)) {
        let what = format!(
            "source is {source:?}; it must be one of serial:PATH@BAUD, udp:PORT, tcp:HOST:PORT, gpsd:HOST:PORT, \
             signalk:HOST:PORT, signalk-wss:HOST:PORT, can:INTERFACE, file:PATH or -"
        );
        log.wrong(place.clone(), "feed.source", what);
    }
    // Priorities are whole numbers within 0 to 99.
    Some(FeedSource { name, source: source.map_or_else(String::new, |(s, _)| s), priority: priority as u8 })
}

/// A `boat.toml` for the first start: the facts as entered, every other key with its default, commented out, and a
/// remark to each.
#[must_use]
pub fn boat_toml(facts: &FirstFacts) -> String {
    let mut out = String::from(HEAD);
    let settings = Settings { boat: facts.boat.clone(), tackle: facts.tackle.clone(), ..Settings::default() };
    push_boat(&mut out, &settings);
    out.push_str("\n[rode]\n");
    push_numbers(&mut out, keys::Table::Rode, &settings);
    let marks = "[{ at_m = 10, look = \"one red link\" }, { at_m = 20, every_m = 10, look = \"white\" }]";
    push(&mut out, Entered::No, "marks", marks, "marks on the rode, from the anchor");
    out.push_str("\n[anchor]\n");
    push_numbers(&mut out, keys::Table::Anchor, &settings);
    out.push_str("\n# Limits that raise alerts. They can be changed while the watch runs.\n[limits]\n");
    push_numbers(&mut out, keys::Table::Limits, &settings);
    let barred = "winds you do not want to lie in, clockwise from to, degrees true";
    push(&mut out, Entered::No, "barred", "[[200, 290]]", barred);
    push_crew(&mut out, &facts.crew);
    push_alerts(&mut out);
    push_page(&mut out);
    push_sound(&mut out);
    push_feeds(&mut out, &facts.feeds);
    out
}

fn push_boat(out: &mut String, settings: &Settings) {
    out.push_str("[boat]\n");
    push(out, Entered::Yes, "name", &quoted(&settings.boat.name), "");
    let hulls = "\"monohull\", \"catamaran\" or \"trimaran\"";
    push(out, Entered::Yes, "hull", &quoted(hull_name(settings.boat.hull)), hulls);
    push_numbers(out, keys::Table::Boat, settings);
}

fn push_crew(out: &mut String, crew: &[String]) {
    out.push_str("\n[crew]\n");
    let names: Vec<String> = crew.iter().map(|name| quoted(name)).collect();
    let names = format!("[{}]", names.join(", "));
    push(out, Entered::Yes, "names", &names, "in the order of their watches");
    push(out, Entered::No, "utc_offset", "\"+02:00\"", "the zone of the rota's hours; \"Z\" is UTC");
    let rota = "[{ name = \"Tove\", from = \"20:00\", to = \"00:00\" }]";
    push(out, Entered::No, "rota", rota, "who is on watch when, each day");
    let checks = "what you look at on a round beside the usual";
    push(out, Entered::No, "round_checks", "[\"bilge\"]", checks);
}

fn push_alerts(out: &mut String) {
    out.push_str("\n[alerts]\n");
    push(out, Entered::No, "sound", "true", "false: the terminal bell only");
    push(out, Entered::No, "hook", "[\"/home/me/on-alert\"]", "a command to run at each change of an alert");
    push(
        out,
        Entered::No,
        "out",
        "[\"udp:127.0.0.1:10111\"]",
        "where alert sentences (ALF, ALR) go; signalk:HOST",
    );
    push(out, Entered::No, "maker", "\"XYZ\"", "maker's code in them, for whoever has one registered");
}

fn push_sound(out: &mut String) {
    out.push_str("\n[sound]\n");
    let list = "the loudspeaker; nightrode sound --list names them";
    push(out, Entered::No, "device", "\"cockpit\"", list);
}

fn push_page(out: &mut String) {
    out.push_str("\n# A page for phones on the boat's network; `nightrode page` shows the code that opens it.\n[page]\n");
    let address = "this computer's address and a port; without it there is no page";
    push(out, Entered::No, "address", "\"192.168.1.5:8460\"", address);
    push(out, Entered::No, "acknowledge", "false", "true: alerts can be acknowledged on it");
}

const HEAD: &str = "\
# The boat and how she is watched at anchor. Lengths in metres, speeds in knots, directions in degrees true.
# A line behind # is not read: it shows the default, or an example. Take the # away to change it.

";

const FEEDS_HEAD: &str = "
# Feeds, as many as you like. source is one of
#   serial:/dev/ttyUSB0@4800   udp:10110   tcp:192.168.1.10:10110   gpsd:localhost:2947   signalk:localhost:3000
#   signalk-wss:mast.local:3443   can:can0   file:night.nmea   -
# Of several that give the same quantity the one with the lowest priority is believed first.
";

#[derive(Clone, Copy, PartialEq, Eq)]
enum Entered {
    Yes,
    No,
}

/// Whether the first start asks for the number.
fn entered(key: &str) -> Entered {
    match key {
        "loa_m" | "beam_m" | "draft_m" | "bow_height_m" | "antenna_aft_of_bow_m" => Entered::Yes,
        "sounder_below_water_m" => Entered::Yes,
        "chain_mm" | "chain_m" | "rope_mm" | "rope_m" => Entered::Yes,
        _ => Entered::No,
    }
}

fn push_numbers(out: &mut String, table: keys::Table, settings: &Settings) {
    for number in numbers_of(table) {
        let Number { bounds, about, .. } = number;
        let value = number.get(settings).unwrap_or_else(|| example(bounds.key));
        let remark = format!("{about}; {}", bounds.range);
        push(out, entered(bounds.key), bounds.key, &value.to_string(), &remark);
    }
}

/// A value to show where there is no default.
fn example(key: &str) -> f64 {
    match key {
        "windage_m2" => 13.0,
        "kg" => 20.0,
        "engine_kw" => 15.0,
        "propeller_mm" => 400.0,
        _ => 50.0,
    }
}

fn push(out: &mut String, entered: Entered, key: &str, value: &str, remark: &str) {
    let mark = if entered == Entered::Yes { "" } else { "# " };
    let assignment = format!("{mark}{key} = {value}");
    let line = if remark.is_empty() { assignment } else { format!("{assignment:<34}# {remark}") };
    // Writing into a string cannot fail.
    let _ = writeln!(out, "{line}");
}

fn push_feeds(out: &mut String, feeds: &[FeedSource]) {
    out.push_str(FEEDS_HEAD);
    for feed in feeds {
        let _ = writeln!(
            out,
            "[[feed]]\nname = {}\nsource = {}\npriority = {}\n",
            quoted(&feed.name),
            quoted(&feed.source),
            feed.priority
        );
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::keys::numbers;
    use super::*;
    use crate::watch::boat::{Hull, Planned, RodeMark};
    use crate::watch::units::Metres;

    const MARRAM: &str = r#"
[boat]
name = "Marram"
hull = "monohull"
loa_m = 10.4
beam_m = 3.4
draft_m = 1.75
bow_height_m = 1.3
displacement_kg = 6200
antenna_aft_of_bow_m = 9.2
antenna_starboard_m = -0.6
sounder_below_water_m = 0.4

[rode]
chain_mm = 8
chain_m = 60
rope_mm = 14
rope_m = 40
marks = [{ at_m = 20, look = "two red links" }, { at_m = 10, look = "one red link" }]

[anchor]
kg = 16

[limits]
under_keel_m = 0.7
barred = [[200, 290], [350, 20]]

[crew]
names = ["Tove", "Ansel"]

[[feed]]
name = "gps"
source = "serial:/dev/ttyUSB0@4800"

[[feed]]
name = "wind"
source = "udp:10110"
priority = 1

[alerts]
sound = false
hook = "ring-the-bell"
"#;

    #[test]
    fn a_loudspeaker_is_chosen_by_its_name() {
        let read = |text: &str| read_boat(text, "boat.toml").map(|read| read.value.loudspeaker);
        assert_eq!(read("[sound]\ndevice = \"cockpit\"\n").unwrap().as_deref(), Some("cockpit"));
        assert_eq!(read("[sound]\ndevice = \"\"\n").unwrap(), None);
        assert_eq!(read("").unwrap(), None);
        assert!(read("[sound]\ncard = 1\n").is_err());
    }

    fn wrong(text: &str) -> String {
        read_boat(text, "boat.toml").unwrap_err().to_string()
    }

    #[test]
    fn a_whole_file_says_what_is_in_it() {
        let Read { value, doubts } = read_boat(MARRAM, "boat.toml").unwrap();
        assert!(doubts.is_empty(), "{doubts}");
        let Settings { boat, tackle, limits, feeds, marks, crew, engine: _, expected, planned } =
            &value.settings;
        assert_eq!(*expected, None, "a plan is no part of the boat");
        assert_eq!(*planned, Planned::default(), "a plan is no part of the boat");
        assert_eq!(
            (boat.name.as_str(), boat.loa, boat.antenna_starboard),
            ("Marram", Metres(10.4), Metres(-0.6))
        );
        assert_eq!((tackle.chain, tackle.rope_mm, tackle.anchor_kg), (Metres(60.0), 14.0, Some(16.0)));
        assert_eq!((limits.under_keel, limits.barred.len()), (Metres(0.7), 2));
        assert_eq!(feeds.iter().map(|feed| feed.priority).collect::<Vec<_>>(), [0, 1]);
        assert_eq!(value.feeds[1].source, "udp:10110");
        assert_eq!(marks[0], RodeMark { at: Metres(10.0), look: "one red link".into() });
        assert_eq!(crew.names, ["Tove", "Ansel"]);
        assert_eq!(
            value.alerts,
            AlertSettings {
                sound: false,
                hook: vec!["ring-the-bell".into()],
                out: Vec::new(),
                maker: String::new()
            }
        );
    }

    #[test]
    fn an_empty_file_is_a_middling_sloop_with_doubts() {
        let Read { value, doubts } = read_boat("", "boat.toml").unwrap();
        assert_eq!(value, BoatFile::default());
        let keys: Vec<&str> = doubts.list.iter().map(|problem| problem.key.as_str()).collect();
        assert_eq!(keys, ["boat.loa_m", "boat.draft_m", "boat.antenna_aft_of_bow_m", "rode.chain_m"]);
    }

    #[test]
    fn an_antenna_not_told_stands_on_the_pushpit() {
        let boat = read_boat("[boat]\nloa_m = 8\n", "boat.toml").unwrap().value.settings.boat;
        assert_eq!(boat.antenna_aft, Metres(7.2));
    }

    #[test]
    fn a_value_out_of_range_names_key_line_and_range() {
        let text = "[boat]\nname = \"Marram\"\nloa_m = 333\n";
        let expected = "boat.toml, line 3: loa_m is 333; it must lie within 2 to 80 m\n  \
                        |\n3 | loa_m = 333\n  |         ^^^";
        assert_eq!(wrong(text), expected);
    }

    #[test]
    fn an_unknown_key_is_refused_with_the_one_it_may_have_meant() {
        let text = wrong("[boat]\ndraught_m = 1.8\n");
        assert!(text.contains("line 2: unknown key \"draught_m\"; do you mean draft_m?"), "{text}");
        let text = wrong("[sails]\nmain = 1\n");
        assert!(text.contains("line 1: unknown key \"sails\"; known here: boat"), "{text}");
    }

    #[test]
    fn all_faults_are_told_at_once_in_order_of_line() {
        let text = "[boat]\nloa_m = \"ten\"\nhull = \"raft\"\n[limits]\nscope = nan\nbarred = [[1], [2, 400]]\n\
                    [[feed]]\nname = \"a b\"\nsource = \"udp:1\"\n[alerts]\nsound = 1\n";
        let problems = read_boat(text, "boat.toml").unwrap_err();
        let lines: Vec<usize> = problems.list.iter().map(|problem| problem.line).collect();
        assert_eq!(lines, [2, 3, 5, 6, 6, 8, 11], "{problems}");
    }

    #[test]
    fn what_is_not_toml_is_shown_with_its_line() {
        let text = wrong("[boat]\nloa_m 10\n");
        assert!(text.contains("line 2: this is not TOML") && text.contains("loa_m 10"), "{text}");
    }

    #[test]
    fn values_that_contradict_each_other_are_refused() {
        for (text, entered) in [
            ("[boat]\nloa_m = 8\nantenna_aft_of_bow_m = 9\n", "8 m long"),
            ("[boat]\nbeam_m = 3\nantenna_starboard_m = 2\n", "3 m wide"),
            ("[rode]\nchain_mm = 0\nchain_m = 30\n", "chain_mm is 0"),
            ("[rode]\nrope_m = 30\n", "no rope_mm"),
            ("[limits]\nfix_lost_after_s = 90\n", "must come after the warning"),
            ("[limits]\ngust_high_kn = 20\n", "must not lie below"),
        ] {
            assert!(wrong(text).contains(entered), "{text}");
        }
    }

    #[test]
    fn feet_and_tonnes_are_doubted_not_refused() {
        for (text, entered) in [
            ("[boat]\nloa_m = 34\n", "if it is in feet, write 10.36"),
            ("[boat]\nloa_m = 10\ndraft_m = 6\n", "if it is in feet, write 1.83"),
            ("[rode]\nchain_m = 200\n", "if it is in feet, write 60.96"),
            ("[boat]\nloa_m = 12\ndisplacement_kg = 100\n", "look at both units"),
        ] {
            let doubts = read_boat(text, "boat.toml").unwrap().doubts.to_string();
            assert!(doubts.contains(entered), "{doubts}");
        }
    }

    #[test]
    fn feeds_need_a_name_of_their_own_and_a_source_of_a_known_kind() {
        assert!(wrong("[[feed]]\nname = \"gps\"\n").contains("needs a name and a source"));
        let twice = "[[feed]]\nname = \"a\"\nsource = \"-\"\n".repeat(2);
        assert!(wrong(&twice).contains("two feeds have this name"));
        assert!(wrong("[[feed]]\nname = \"a\"\nsource = \"usb\"\n").contains("serial:PATH@BAUD"));
        assert!(wrong(&"[[feed]]\nname = \"a\"\nsource = \"-\"\n".repeat(40)).contains("more than 32"));
    }

    fn facts() -> FirstFacts {
        FirstFacts {
            boat: Boat {
                name: "Marram \"two\"".into(),
                hull: Hull::Catamaran,
                loa: Metres(11.8),
                beam: Metres(3.2),
                draft: Metres(1.1),
                bow_height: Metres(1.6),
                antenna_aft: Metres(10.0),
                sounder_below_water: Metres(0.3),
                ..Boat::default()
            },
            tackle: Tackle { chain_mm: 10.0, chain: Metres(70.0), ..Tackle::default() },
            crew: vec!["Tove".into(), "Ansel".into()],
            feeds: vec![FeedSource { name: "gps".into(), source: "udp:10110".into(), priority: 0 }],
        }
    }

    #[test]
    fn the_first_boat_file_says_what_was_entered_and_raises_no_doubt() {
        let text = boat_toml(&facts());
        let Read { value, doubts } = read_boat(&text, "boat.toml").unwrap();
        assert!(doubts.is_empty(), "{doubts}");
        assert_eq!(value.settings.boat.name, "Marram \"two\"");
        assert_eq!((value.settings.boat.loa, value.settings.tackle.chain), (Metres(11.8), Metres(70.0)));
        assert_eq!(value.settings.boat.sounder_below_water, Metres(0.3));
        assert_eq!(value.settings.limits, Settings::default().limits);
        assert_eq!((value.settings.crew.names, value.feeds), (facts().crew, facts().feeds));
    }

    #[test]
    fn every_line_of_the_first_boat_file_works_when_its_mark_is_taken_away() {
        let text = boat_toml(&facts());
        let assignments = |line: &str| line.starts_with("# ") && line.contains(" = ");
        let uncommented: String = text
            .lines()
            .map(|line| if assignments(line) { &line[2..] } else { line })
            .map(|line| format!("{line}\n"))
            .collect();
        read_boat(&uncommented, "boat.toml").unwrap();
        for number in numbers() {
            assert!(uncommented.contains(&format!("\n{} = ", number.bounds.key)), "{}", number.bounds.key);
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in any::<String>()) {
            let _ = read_boat(&text, "boat.toml").map_err(|problems| problems.to_string());
        }

        #[test]
        fn no_mutilated_file_panics(at in 0..MARRAM.len(), cut in 0..40_usize, put in "[-\\[\\]{}=\"'0-9a-zä\n.]{0,9}") {
            let end = (at + cut).min(MARRAM.len());
            let text = format!("{}{put}{}", &MARRAM[..at], &MARRAM[end..]);
            if let Err(problems) = read_boat(&text, "boat.toml") {
                prop_assert!(problems.list.iter().all(|problem| problem.line >= 1));
                prop_assert!(!problems.to_string().is_empty());
            }
        }
    }
}
