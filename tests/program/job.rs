//! The whole job in a terminal, as a crew would do it: plan, sound, let go, veer, dig in, a night with rounds and a
//! warning, weigh; then the night reviewed and replayed.
#![cfg(unix)]
// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::pty::Terminal;
use crate::support::program::Boat;
use serde_json::Value;

const WIDE: (u16, u16) = (120, 40);

fn program() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_nightrode"))
}

fn printed(boat: &Boat, args: &[&str]) -> String {
    let done = Command::new(program())
        .args(args)
        .env("HOME", boat.path("home"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(done.status.success(), "{args:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

fn only_ride(rides: &Path) -> PathBuf {
    let paths = fs::read_dir(rides).unwrap().map(|entry| entry.unwrap().path());
    let rides: Vec<PathBuf> = paths.filter(|path| path.join("journal.jsonl").exists()).collect();
    let [ride] = &rides[..] else { panic!("one ride, not {rides:?}") };
    ride.clone()
}

#[test]
fn the_whole_job_from_the_plan_to_the_morning_after() {
    let boat = Boat::new();
    let home = boat.path("home");
    let plan = printed(
        &boat,
        &[
            "plan",
            "--depth",
            "5.0",
            "--wind",
            "30",
            "--tide",
            "HW 22:40 5.2, LW 04:55 1.1",
            "--at",
            "23:00",
            "--until",
            "04:00",
        ],
    );
    assert!(plan.to_lowercase().contains("veer"), "{plan}");

    let rides = boat.path("job");
    let kept = rides.display().to_string();
    let args = ["demo", "--job", "--silent", "--utc", "--speed", "1200", "--rides", &kept];
    let mut terminal = Terminal::start(program(), &args, &home, WIDE);
    for words in [
        "sail over three spots",
        "Last time here",
        "SHOALER NOW",
        "Let go, with no way on",
        "Slow astern: the rode comes taut",
        "Neutral, and look",
        "a short hard burst astern",
        "The program says what it saw",
        "Brought up. From now on",
        "A round is due. Tove goes on deck",
        "Strong wind: a warning. Ansel answers it",
    ] {
        terminal.shows(words);
    }
    terminal.keys("4");
    terminal.shows("rounds made");
    terminal.shows("chafes at the roller");
    terminal.keys("1");
    terminal.shows("Weighing. Drag is not judged");
    terminal.shows("Up and down, broken out");
    terminal.until("the ride is over", |screen| screen.contents().contains("as the anchor goes down"));
    terminal.keys("q");
    terminal.shows("STOP THE WATCH?");
    terminal.keys("\r");
    assert_eq!(terminal.ends(), 0);

    let ride = only_ride(&rides);
    let journal = fs::read_to_string(ride.join("journal.jsonl")).unwrap();
    for done in [
        "begin_recon",
        "let_go",
        "veered",
        "pull",
        "neutral",
        "brought_up",
        "round",
        "acknowledge",
        "weigh",
        "aweigh",
    ] {
        assert!(journal.contains(&format!("\"{done}\"")), "the journal has {done}");
    }
    let kept_marks = fs::read_to_string(ride.join("ride.toml")).unwrap();
    assert!(kept_marks.contains("[[mark]]\nname = \"chapel\""), "marks of the place: {kept_marks}");
    let card = printed(&boat, &["card", &ride.display().to_string()]);
    assert!(card.contains("drop point"), "{card}");
    let place = fs::read_to_string(rides.join("places/hollow-ness.toml")).unwrap();
    assert!(place.contains("[[sounding]]") && place.contains("[[ride]]"), "{place}");
    let known = printed(&boat, &["places", "show", "hollow", "--rides", &kept]);
    assert!(known.contains("soundings") && known.to_lowercase().contains("held"), "{known}");

    let ride = ride.display().to_string();
    let page = printed(&boat, &["review", &ride]);
    assert!(page.starts_with("HELD."), "{page}");
    let json: Value = serde_json::from_str(&printed(&boat, &["review", &ride, "--json"])).unwrap();
    assert_eq!(json["set"]["proved"], true, "{}", json["set"]);
    let raised = |kind: &str| json["alarms"].as_array().unwrap().iter().any(|alarm| alarm["kind"] == kind);
    assert!(raised("wind_high") && !raised("drag") && !raised("outside"), "{}", json["alarms"]);
    assert!(json["ride"]["ended"].is_string());

    let mut replay = Terminal::start(program(), &["replay", &ride, "--utc"], &home, WIDE);
    replay.shows("stands still");
    replay.keys("]]]");
    replay.shows("next");
    replay.keys("w");
    replay.shows("This is a recorded night");
    replay.keys(" ");
    replay.shows("60 times as fast");
    replay.keys("q");
    assert_eq!(replay.ends(), 0);
}
