//! What a package installs is in step with the program: a page for each command, the unit's command, the example file.

use std::fs;
use std::process::Command;

use clap::{CommandFactory as _, Parser as _};
use nightrode::cli::Cli;
use nightrode::config::{FirstFacts, boat_toml, read_boat};
use nightrode::watch::boat::Settings;

use crate::pages::root;

fn asset(name: &str) -> String {
    fs::read_to_string(root().join("assets/package").join(name)).expect("an asset")
}

/// The value of a line `KEY=value`.
fn value<'a>(text: &'a str, key: &str) -> &'a str {
    let found = text.lines().find_map(|line| line.strip_prefix(key)?.strip_prefix('='));
    found.unwrap_or_else(|| panic!("no {key}"))
}

#[test]
fn every_command_has_a_manual_page_and_hidden_ones_have_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let program = env!("CARGO_BIN_EXE_nightrode");
    let made = Command::new(program).args(["man", "--all"]).arg(folder.path()).status().expect("it runs");
    assert!(made.success());
    let has = |name: &str| folder.path().join(format!("nightrode-{name}.1")).exists();
    for command in Cli::command().get_subcommands() {
        assert_eq!(has(command.get_name()), !command.is_hide_set(), "{}", command.get_name());
    }
    assert!(folder.path().join("nightrode.1").exists());
}

#[test]
fn what_starts_the_program_is_read_by_it() {
    let unit = asset("nightrode.service");
    let desktop = asset("nightrode.desktop");
    let starts = unit
        .lines()
        .chain(desktop.lines())
        .filter_map(|line| line.strip_prefix("ExecStart=").or_else(|| line.strip_prefix("Exec=")));
    let starts: Vec<&str> = starts.collect();
    assert_eq!(starts.len(), 3);
    for start in starts {
        assert!(Cli::try_parse_from(start.split(' ')).is_ok(), "{start}");
    }
    // A service that is killed later than it feeds would be restarted though it judges.
    assert_eq!((value(&unit, "Type"), value(&unit, "Restart")), ("notify", "always"));
    let seconds: u64 = value(&unit, "WatchdogSec").parse().expect("seconds");
    assert!(seconds > 2 * nightrode::edge::watchdog::SILENCE_MAX.as_secs());
}

#[test]
fn the_example_of_boat_toml_is_what_a_first_start_writes() {
    let facts = Settings::default();
    let mut boat = facts.boat;
    "Marram".clone_into(&mut boat.name);
    let written = boat_toml(&FirstFacts { boat, tackle: facts.tackle, crew: Vec::new(), feeds: Vec::new() });
    let path = root().join("assets/package/boat.toml");
    if std::env::var_os("NIGHTRODE_RENEW").is_some() {
        fs::write(path, &written).expect("written");
    }
    assert_eq!(asset("boat.toml"), written, "NIGHTRODE_RENEW=1 writes it anew");
    read_boat(&written, "boat.toml").expect("it is read");
}

#[test]
fn the_package_the_metainfo_and_the_change_log_name_the_programs_version() {
    let version = env!("CARGO_PKG_VERSION");
    assert!(asset("changelog").starts_with(&format!("nightrode ({version}) ")));
    assert!(asset("nightrode.metainfo.xml").contains(&format!("<release version=\"{version}\"")));
    let log = fs::read_to_string(root().join("CHANGELOG.md")).expect("a change log");
    assert!(log.contains(&format!("\n## {version}")));
}
