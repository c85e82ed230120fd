//! Holds the layering: the core is pure, and no layer imports one above it. Reads the sources as text.

use std::fs;
use std::path::{Path, PathBuf};

/// What a folder of `src` must not mention, beside other folders.
const IMPURE: [&str; 23] = [
    "std::fs",
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

/// Folders and what each may import of ours.
const LAYERS: [(&str, &[&str], bool); 5] = [
    ("watch", &["watch"], true),
    ("sim", &["watch", "sim"], true),
    ("report", &["watch", "report"], false),
    ("tui", &["watch", "tui"], false),
    ("config", &["watch", "config"], false),
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
fn breaches(text: &str, may_import: &[&str], pure: bool) -> Vec<String> {
    let code = code(text);
    let mut found = Vec::new();
    if pure {
        found.extend(
            IMPURE.iter().filter(|word| code.contains(**word)).map(|word| format!("mentions {word}")),
        );
    }
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
fn every_layer_keeps_to_its_own_and_the_core_is_pure() {
    let mut all = Vec::new();
    for (layer, may_import, pure) in LAYERS {
        for file in files_of(layer) {
            let text = fs::read_to_string(&file).expect("a source");
            all.extend(breaches(&text, may_import, pure).iter().map(|b| format!("{}: {b}", file.display())));
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn a_planted_breach_is_found_and_comments_are_not() {
    assert_eq!(breaches("let t = Instant::now();", &["watch"], true), ["mentions Instant::now"]);
    assert_eq!(breaches("use crate::edge::clock;", &["watch"], true), ["imports crate::edge"]);
    assert!(breaches("// std::fs in words\nuse crate::watch::geo;", &["watch"], true).is_empty());
}
