//! Holds the layering: all below the edge is pure, no layer imports one above it, and one place ends the program. Reads
//! the sources as text.

use std::collections::{BTreeMap, BTreeSet};
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

/// What the files of a program import of each other, by the paths of their modules. A module and what lies in it do not
/// count: they are one thing told in parts.
#[derive(Default)]
struct Imports(BTreeMap<Vec<String>, BTreeSet<Vec<String>>>);

impl Imports {
    fn of(files: &[(Vec<String>, String)]) -> Self {
        let mut imports = Self::default();
        for (module, text) in files {
            let code = code(text);
            let all = paths(&code).into_iter().filter_map(|path| {
                let path = absolute(module, &path);
                let known = |length: &usize| files.iter().any(|(known, _)| *known == path[..*length]);
                (1..=path.len()).rev().find(known).map(|length| path[..length].to_vec())
            });
            let others = all.filter(|other| !other.starts_with(module) && !module.starts_with(other));
            imports.0.insert(module.clone(), others.collect());
        }
        imports
    }

    /// All that imports itself by way of others.
    fn circles(&self) -> Vec<&Vec<String>> {
        self.0.keys().filter(|start| self.reaches(start)).collect()
    }

    fn reaches(&self, start: &Vec<String>) -> bool {
        let (mut seen, mut next) = (BTreeSet::new(), vec![start]);
        while let Some(module) = next.pop() {
            for other in self.0.get(module).into_iter().flatten() {
                if other == start {
                    return true;
                }
                if seen.insert(other) {
                    next.push(other);
                }
            }
        }
        false
    }
}

/// Every path that begins with `crate`, `super` or `self`; braces opened.
fn paths(code: &str) -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for root in ["crate::", "super::", "self::"] {
        for (place, _) in code.match_indices(root) {
            let begins = !code[..place].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':');
            if begins {
                open(&code[place..], Vec::new(), &mut found);
            }
        }
    }
    found
}

/// Reads one path with its braces from the front of `code`; what is left of it.
fn open<'a>(mut code: &'a str, before: Vec<String>, found: &mut Vec<Vec<String>>) -> &'a str {
    let mut path = before;
    loop {
        code = code.trim_start();
        if let Some(mut inner) = code.strip_prefix('{') {
            loop {
                inner = open(inner, path.clone(), found).trim_start();
                match inner.chars().next() {
                    Some('}') => return &inner[1..],
                    Some(other) => inner = &inner[other.len_utf8()..],
                    None => return inner,
                }
            }
        }
        let end = code.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(code.len());
        if end > 0 {
            path.push(code[..end].to_owned());
        }
        code = &code[end..];
        match code.strip_prefix("::") {
            Some(rest) => code = rest,
            None => {
                found.push(path);
                return code;
            }
        }
    }
}

/// A path as it is from the crate's root.
fn absolute(module: &[String], path: &[String]) -> Vec<String> {
    let mut base =
        if path.first().is_some_and(|first| first == "crate") { Vec::new() } else { module.to_vec() };
    let ups = path.iter().filter(|part| *part == "super").count();
    base.truncate(base.len().saturating_sub(ups));
    base.extend(path.iter().filter(|part| !["crate", "super", "self"].contains(&part.as_str())).cloned());
    base
}

#[test]
fn no_file_imports_itself_by_way_of_others() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    sources(&src, &mut all);
    let files: Vec<(Vec<String>, String)> = all
        .iter()
        .map(|file| {
            let path = file.strip_prefix(&src).expect("below src").with_extension("");
            let module = path.iter().map(|part| part.to_string_lossy().into_owned()).collect();
            (module, fs::read_to_string(file).expect("a source"))
        })
        .collect();
    let imports = Imports::of(&files);
    assert!(imports.0.values().map(BTreeSet::len).sum::<usize>() > 500, "imports are found");
    assert_eq!(imports.circles(), Vec::<&Vec<String>>::new());
}

#[test]
fn a_planted_circle_is_found() {
    let file = |name: &str, text: &str| (name.split('/').map(str::to_owned).collect(), text.to_owned());
    let files = [
        file("a/one", "use crate::a::{two::{self, Two}, three};"),
        file("a/two", "fn f() -> super::three::Three { todo() }"),
        file("a/three", "use super::{one::One};"),
        file("b", "use crate::a::one::One;"),
    ];
    let imports = Imports::of(&files);
    let circles: Vec<String> = imports.circles().iter().map(|module| module.join("/")).collect();
    assert_eq!(circles, ["a/one", "a/three", "a/two"]);
}
