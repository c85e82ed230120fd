//! What README and docs give as commands: each is read by the program, and what needs no hardware, network, terminal or
//! hours is run, at three times of day. And what holds for every command: `--utc`, exit codes.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use clap::{CommandFactory as _, Parser as _};
use nightrode::cli::{Cli, Exit};
use nightrode::config::RideFile;
use nightrode::edge::folder::Recorder;
use nightrode::watch::boat::Settings;
use nightrode::watch::geo::Local;

use crate::pages::{code, name_of, pages, root};
use crate::support::program::{Boat, PATIENCE};
use crate::support::{Run, START};

/// Times of day at which a command must work alike: `plan` counts from now.
const NOWS: [&str; 3] = ["2026-06-03T03:05:00Z", "2026-06-03T15:15:00Z", "2026-06-03T23:50:00Z"];

/// Commands that end by themselves without hardware, network, a terminal or hours of work.
///
/// Not run here: `watch` and `feeds` (instruments, network), `sound` (a sound card), `replay` and `demo` (a terminal; both
/// are run in one by `terminal.rs`), `trial` (hours; `tests/nights` runs a small one).
const RUN: [&str; 9] =
    ["plan", "places", "checks", "card", "health", "review", "rides", "completions", "man"];

/// Commands of this program in blocks of a page, and those between backticks that have something after their name.
fn commands(page: &str) -> Vec<String> {
    code(page).into_iter().filter(|command| command.starts_with("nightrode ")).collect()
}

/// The words of a command as a shell parts them, without remark and redirection.
pub fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    let (mut word, mut quoted, mut begun) = (String::new(), false, false);
    for c in command.chars().chain([' ']) {
        match c {
            '"' => (quoted, begun) = (!quoted, true),
            ' ' if !quoted => {
                if begun {
                    words.push(std::mem::take(&mut word));
                }
                begun = false;
            }
            c => {
                word.push(c);
                begun = true;
            }
        }
    }
    let end = words.iter().position(|word| word.starts_with('#') || word == ">");
    words.truncate(end.unwrap_or(words.len()));
    words
}

fn all_commands() -> Vec<(String, Vec<String>)> {
    let of = |page: &PathBuf| {
        let name = name_of(page);
        let text = fs::read_to_string(page).expect("a page");
        commands(&text).into_iter().map(move |command| (format!("{name}: {command}"), words(&command)))
    };
    pages().iter().flat_map(of).collect()
}

/// A folder with the files that the examples name: recordings, places, a ride.
fn example_folder() -> Boat {
    let boat = Boat::new();
    boat.configure("");
    let ride = kept_ride(&boat.rides());
    for name in ["RIDE-FOLDER", "FOLDER"] {
        copy_folder(&ride, &boat.path(name));
    }
    let watches = root().join("tests/watches");
    fs::copy(watches.join("lost_fix.nmea.gz"), boat.path("night.nmea.gz")).expect("copied");
    fs::copy(watches.join("lost_fix.toml"), boat.path("ride.toml")).expect("copied");
    let log = fs::File::open(watches.join("lost_fix.nmea.gz")).expect("a log");
    let mut plain = fs::File::create(boat.path("night.nmea")).expect("created");
    std::io::copy(&mut flate2::read::MultiGzDecoder::new(log), &mut plain).expect("unpacked");
    let point = "<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\"><wpt lat=\"54.3\" lon=\"10.5\">\
                 <name>North cove</name></wpt></gpx>";
    fs::write(boat.path("marks.gpx"), point).expect("written");
    let made = run(&boat, &["places", "new", "Hollow Ness", "--at", "54.2,10.4"]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    boat
}

/// Some minutes at anchor, as the watch keeps them. Gives the ride's folder.
fn kept_ride(rides: &Path) -> PathBuf {
    let settings = Settings::default();
    let mut run = Run::with(settings.clone());
    let file = RideFile { place: "Hollow Ness".into(), settings, ..RideFile::default() };
    run.recorder = Some(Recorder::begin(rides, START, file).expect("a writer"));
    run.let_go_and_bring_up();
    run.lie_for(300, |s| Local::new((s as f64 / 40.0).sin(), -20.0));
    let recorder = run.recorder.take().expect("begun above");
    recorder.flush(PATIENCE).expect("written");
    recorder.folder().expect("made")
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir(to).expect("made");
    for file in fs::read_dir(from).expect("a folder").map(|entry| entry.expect("an entry").path()) {
        fs::copy(&file, to.join(file.file_name().expect("a name"))).expect("copied");
    }
}

fn run(boat: &Boat, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_nightrode"))
        .args(args)
        .current_dir(boat.path(""))
        .env("HOME", boat.path("home"))
        .env("NIGHTRODE_CONFIG", boat.path(""))
        .env("NIGHTRODE_RIDES", boat.rides())
        .env("TZ", "UTC0")
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

#[test]
fn every_command_in_readme_and_docs_is_one_that_the_program_reads() {
    let all = all_commands();
    assert!(all.len() > 40, "only {} commands were found", all.len());
    let wrong: Vec<String> = all
        .iter()
        .filter_map(|(place, words)| {
            let error = Cli::try_parse_from(words).err().filter(clap::Error::use_stderr)?;
            // `nightrode plan` alone, `nightrode review --what-if`: a command or flag is named, not given.
            let named = words.len() <= 2 || (words.len() == 3 && words[2].starts_with("--"));
            (!named).then(|| format!("{place}\n{error}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn examples_that_need_no_hardware_work_at_any_time_of_day() {
    let boat = example_folder();
    for (place, words) in all_commands() {
        let args: Vec<&str> = words[1..].iter().map(String::as_str).collect();
        // `nightrode plan` and `plan --ask` ask on a screen; `review` alone and `--what-if` are named, not given.
        let named = args.len() < 2 && ["plan", "review", "completions"].contains(&args[0]);
        if named || !RUN.contains(&args[0]) || ["--ask", "--what-if"].contains(&args[args.len() - 1]) {
            continue;
        }
        // Only a plan counts from now.
        let nows =
            if args[0] == "plan" { NOWS.map(|now| vec!["--now", now]).to_vec() } else { vec![Vec::new()] };
        for now in nows {
            let done = run(&boat, &[&args[..], &now].concat());
            let said = String::from_utf8_lossy(&done.stderr);
            assert!(done.status.success(), "{now:?}, {place}\n{said}");
        }
    }
}

#[test]
fn the_page_of_a_plan_that_is_shown_is_what_the_program_prints() {
    let page = fs::read_to_string(root().join("docs/sailing/plan.md")).expect("a page");
    let (given, rest) = page.split_once("    VEER ").expect("an example");
    let shown = rest.split("      …").next().expect("its end");
    let command =
        commands(given).into_iter().find(|command| command.contains("--seabed sand")).expect("a command");
    let words = words(&command);
    let mut args: Vec<&str> = words[1..].iter().map(String::as_str).collect();
    args.extend(["--now", NOWS[1]]);
    let said = String::from_utf8(run(&Boat::new(), &args).stdout).expect("UTF-8");
    for line in format!("VEER {shown}").lines().map(str::trim).filter(|line| !line.is_empty()) {
        assert!(said.contains(line), "{line}\n{said}");
    }
}

#[test]
fn every_command_takes_utc() {
    fn walk(command: &clap::Command, path: &str, without: &mut Vec<String>) {
        if !command.get_arguments().any(|argument| argument.get_long() == Some("utc")) {
            without.push(path.to_owned());
        }
        command.get_subcommands().filter(|sub| sub.get_name() != "help").for_each(|sub| {
            walk(sub, &format!("{path} {}", sub.get_name()), without);
        });
    }
    let mut program = Cli::command();
    program.build();
    let mut without = Vec::new();
    walk(&program, "nightrode", &mut without);
    assert!(without.is_empty(), "{without:?}");
}

#[test]
fn the_table_of_exit_codes_is_that_of_the_program() {
    let page = fs::read_to_string(root().join("docs/sailing/exit-codes.md")).expect("a page");
    let row = |line: &str| line.strip_prefix("| ")?.split_once(' ')?.0.parse::<u8>().ok();
    let told: Vec<u8> = page.lines().filter_map(row).collect();
    assert_eq!(told, Exit::ALL.map(|exit| exit as u8));
}

#[test]
fn a_demo_without_a_screen_ends_with_its_night() {
    let boat = Boat::new();
    let done = run(&boat, &["demo", "--headless", "--silent", "--speed", "3600", "--hours", "1"]);
    let said = String::from_utf8_lossy(&done.stdout);
    assert_eq!(done.status.code(), Some(0), "{said}");
    assert!(said.trim_end().ends_with("The simulated night is over."), "{said}");
}

#[test]
fn times_are_the_computers_and_utc_when_asked() {
    let boat = example_folder();
    let review = |zone: &str, args: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
        let done = command.args(args).current_dir(boat.path("")).env("TZ", zone).output().expect("it runs");
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).expect("UTF-8")
    };
    let night = ["review", "night.nmea", "--ride", "ride.toml"];
    let utc = review("UTC0", &night);
    let east = review("<+02>-2", &night);
    assert!(utc.contains(" UTC, ") && east.contains(" UTC+02:00, "), "{east}");
    assert_eq!(review("<+02>-2", &[&["--utc"], &night[..]].concat()), utc);
    assert_eq!(
        review("<+02>-2", &["review", "night.nmea", "--json"]),
        review("UTC0", &["review", "night.nmea", "--json"])
    );
}
