//! Holds the layering: all below the edge is pure, no layer imports one above it, and one place ends the program. Reads
//! the sources as text.

use std::fs;
use std::path::{Path, PathBuf};

/// What a folder of `src` must not mention, beside other folders.
const IMPURE: [&str; 29] = [
    "std::fs",
    // However it was imported.
    "fs::read",
    "fs::write",
    "File::open",
    "env::var",
    "thread::spawn",
    "std::net",
    "std::env",
    "std::thread",
    "std::process",
    // The traits of std::io over bytes in memory are pure; these are not.
    "io::stdin",
    "io::stdout",
    "io::stderr",
    "println!",
    "Instant::now",
    "SystemTime",
    "Timestamp::now",
    "Zoned::now",
    "DateTime::now",
    "TimeZone::system",
    "tokio",
    "rayon",
    "rodio",
    "serialport",
    "crossterm",
    "rand::rng",
    "thread_rng",
    "ratatui",
    "tracing::",
];

/// Folders, what each may import of ours, and what it may mention all the same: the screen draws into a buffer of ratatui
/// and takes keys as crossterm's values.
const LAYERS: [(&str, &[&str], &[&str]); 5] = [
    ("watch", &["watch"], &[]),
    ("sim", &["watch", "sim"], &[]),
    ("report", &["watch", "report"], &[]),
    ("tui", &["watch", "tui"], &["ratatui", "crossterm"]),
    ("config", &["watch", "config"], &[]),
];

fn sources(dir: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

fn files_of(layer: &str) -> Vec<PathBuf> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    sources(&src.join(layer), &mut found);
    found.push(src.join(format!("{layer}.rs")));
    found
}

/// Code without comments and without the unit tests at its end.
fn code(text: &str) -> String {
    let body = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    body.lines().map(|line| line.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

/// What a source breaks, in words.
fn breaches(text: &str, may_import: &[&str], may_mention: &[&str]) -> Vec<String> {
    let code = code(text);
    let impure = IMPURE.iter().filter(|word| !may_mention.contains(word) && code.contains(**word));
    let mut found: Vec<String> = impure.map(|word| format!("mentions {word}")).collect();
    for (place, _) in code.match_indices("crate::") {
        let name: String =
            code[place + 7..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        if !may_import.contains(&name.as_str()) {
            found.push(format!("imports crate::{name}"));
        }
    }
    found
}

#[test]
fn every_layer_keeps_to_its_own_and_all_below_the_edge_are_pure() {
    let mut all = Vec::new();
    for (layer, may_import, may_mention) in LAYERS {
        for file in files_of(layer) {
            let text = fs::read_to_string(&file).expect("a source");
            all.extend(
                breaches(&text, may_import, may_mention).iter().map(|b| format!("{}: {b}", file.display())),
            );
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn only_the_command_line_ends_the_program() {
    let mut all = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut all);
    let ends = |file: &PathBuf| {
        let code = code(&fs::read_to_string(file).expect("a source"));
        ["process::exit", "process::abort"].iter().any(|word| code.contains(word))
    };
    all.retain(ends);
    assert_eq!(all, [Path::new(env!("CARGO_MANIFEST_DIR")).join("src/cli.rs")]);
}

#[test]
fn a_planted_breach_is_found_and_comments_are_not() {
    assert_eq!(breaches("let t = Instant::now();", &["watch"], &[]), ["mentions Instant::now"]);
    assert_eq!(breaches("use crate::edge::clock;", &["watch"], &[]), ["imports crate::edge"]);
    assert_eq!(
        breaches("draw(ratatui::x); let f = File::open(p);", &[], &["ratatui"]),
        ["mentions File::open"]
    );
    assert!(breaches("// std::fs in words\nuse crate::watch::geo;", &["watch"], &[]).is_empty());
}
