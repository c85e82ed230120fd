//! The door of the real program: acts from a shell, sockets that are for their owner alone, watches that were killed.
#![cfg(unix)]

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::PathBuf;
use std::process::{Command, Output};

use crate::support::program::{Boat, free_udp_port, text_of, until};

fn nightrode(boat: &Boat, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    command.args(args).env("HOME", boat.path("")).env_remove("XDG_STATE_HOME");
    command.env("XDG_RUNTIME_DIR", boat.path("run")).output().expect("it runs")
}

fn doors(boat: &Boat) -> Vec<PathBuf> {
    let listed = fs::read_dir(boat.path("run/nightrode")).into_iter().flatten().flatten();
    listed.map(|entry| entry.path()).collect()
}

#[test]
fn a_watch_is_acted_on_from_a_shell_and_answers_in_words_and_codes() {
    let boat = Boat::new();
    boat.configure("");
    let ride = boat.unfinished_ride();
    let none = nightrode(&boat, &["act", "status"]);
    assert_eq!(none.status.code(), Some(4), "{none:?}");
    assert!(String::from_utf8_lossy(&none.stderr).contains("No watch runs on this machine"));
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("taken up again");
    watch.wait_for("gap raised");
    until("the door is open", || !doors(&boat).is_empty());
    let door = doors(&boat).remove(0);
    let mode = |path: &std::path::Path| fs::metadata(path).expect("there").permissions().mode() & 0o777;
    assert_eq!((mode(&door), mode(door.parent().expect("a folder"))), (0o600, 0o700));
    let status = nightrode(&boat, &["act", "status", "--json"]);
    let status: serde_json::Value = serde_json::from_slice(&status.stdout).expect("JSON");
    assert_eq!((&status["boat"], &status["place"]), (&"Marram".into(), &"Hollow Ness".into()));
    assert_eq!(nightrode(&boat, &["act", "note", "fog", "came", "down"]).status.code(), Some(0));
    until("the note is kept", || text_of(&ride.join("journal.jsonl")).contains("fog came down"));
    assert_eq!(nightrode(&boat, &["act", "acknowledge"]).status.code(), Some(0));
    let refused = nightrode(&boat, &["act", "mark"]);
    assert_eq!(refused.status.code(), Some(5));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("The anchor is down already."));
    let words = nightrode(&boat, &["act", "--process", "1", "status"]);
    assert_eq!(words.status.code(), Some(4));
    watch.terminate();
    assert!(doors(&boat).is_empty(), "it is shut behind the watch");
}

#[test]
fn the_door_of_a_killed_watch_is_nobodys_and_the_next_one_clears_it_away() {
    let boat = Boat::new();
    boat.configure("");
    let feed = format!("gps=udp:{}", free_udp_port());
    let watch = boat.watch_headless(&[&feed]);
    watch.wait_for("watching");
    until("the door is open", || !doors(&boat).is_empty());
    let left = doors(&boat);
    watch.kill();
    assert_eq!(doors(&boat), left);
    assert_eq!(nightrode(&boat, &["act", "silence"]).status.code(), Some(4));
    let next = boat.watch_headless(&[&feed]);
    next.wait_for("watching");
    until("the old one is gone", || doors(&boat).len() == 1 && doors(&boat) != left);
    assert_eq!(nightrode(&boat, &["act", "note", "again"]).status.code(), Some(0));
}
