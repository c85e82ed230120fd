//! The book of places on the command line: written, listed, shown, and exchanged with other programs.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn nightrode(home: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_nightrode")).args(args).env("HOME", home).output().unwrap()
}

fn printed(home: &Path, args: &[&str]) -> String {
    let done = nightrode(home, args);
    assert!(done.status.success(), "{args:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

#[test]
fn places_are_written_listed_and_shown_with_the_crews_own_words() {
    let home = tempfile::tempdir().unwrap();
    let rides = home.path().join("rides").display().to_string();
    let book = |args: &[&str]| printed(home.path(), &[&["places", "--rides", &rides], args].concat());
    assert!(book(&[]).contains("book of places is empty"));
    book(&["new", "Hollow Ness", "--at", "54.2,-10.4"]);
    assert!(
        book(&["list"]).contains("Hollow Ness   54.20000  -10.40000  no ride yet"),
        "{}",
        book(&["list"])
    );
    let file = home.path().join("rides/places/hollow-ness.toml");
    let text = fs::read_to_string(&file).unwrap() + "\n[[note]]\ntext = \"weed in the north\"\n";
    fs::write(&file, text).unwrap();
    assert!(book(&["show", "hollow"]).contains("weed in the north"));
    let again =
        nightrode(home.path(), &["places", "--rides", &rides, "new", "Hollow Ness", "--at", "54.2,-10.4"]);
    assert!(String::from_utf8_lossy(&again.stderr).contains("left as it is"));
    let wrong = nightrode(home.path(), &["places", "--rides", &rides, "new", "x", "--at", "99,0"]);
    assert!(!wrong.status.success() && String::from_utf8_lossy(&wrong.stderr).contains("is no position"));
}

#[test]
fn places_go_to_other_programs_and_come_back() {
    let home = tempfile::tempdir().unwrap();
    let rides = |name: &str| home.path().join(name).display().to_string();
    let (one, two, three) = (rides("one"), rides("two"), rides("three"));
    for (name, at) in [("Hollow & Ness", "54.2,10.4"), ("Cold Hole", "-54.25,10.5")] {
        printed(home.path(), &["places", "--rides", &one, "new", name, "--at", at]);
    }
    for (format, into) in [("gpx", &two), ("geojson", &three)] {
        let file = home.path().join(format);
        fs::write(&file, printed(home.path(), &["places", "--rides", &one, "export", format])).unwrap();
        printed(home.path(), &["places", "--rides", into, "import", &file.display().to_string()]);
        let list = |rides: &str| printed(home.path(), &["places", "--rides", rides, "list"]);
        assert_eq!(list(into), list(&one), "{format}");
    }
}

#[test]
fn check_lists_are_short_and_the_crews_own_take_their_place() {
    let home = tempfile::tempdir().unwrap();
    let config = home.path().join("config");
    fs::create_dir(&config).unwrap();
    let config_text = config.display().to_string();
    let all = printed(home.path(), &["--config", &config_text, "checks"]);
    for title in ["BEFORE LETTING GO", "ON LEAVING HER", "BEFORE WEIGHING"] {
        assert!(all.contains(title), "{all}");
    }
    fs::write(config.join("checks.toml"), "weighing = [\"kettle off\"]\n").unwrap();
    let weighing = printed(home.path(), &["--config", &config_text, "checks", "weighing"]);
    assert_eq!(weighing, "BEFORE WEIGHING\n  [ ] kettle off\n");
}
