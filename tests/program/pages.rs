//! README, DEVELOPERS.md and `docs`: no dead link, no name of a page, test or tool that is gone, and every example of a
//! file is read by the program's own reader. Commands of the program itself: `docs.rs`.
//!
//! Not run, for the time or the machine that they need: the cargo commands (that what they name exists is tested), those
//! of `tests/pages`, `tests/bench` and `.ci` (a browser, libraries), and the unit for systemd (its command is read).

use std::fs;
use std::path::{Path, PathBuf};

use clap::Parser as _;
use nightrode::cli::Cli;
use nightrode::config::checks_file::read_checks;
use nightrode::config::place_file::read_place;
use nightrode::config::read_boat;

use crate::docs::words;

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// README, DEVELOPERS.md, and every page of `docs`.
pub fn pages() -> Vec<PathBuf> {
    let mut files = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    written_files(&root().join("docs"), &mut files);
    files.retain(|file| file.extension().is_some_and(|extension| extension == "md"));
    files.sort();
    files
}

/// Files below a folder.
fn written_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for path in fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path()) {
        if path.is_dir() {
            written_files(&path, found);
        } else {
            found.push(path);
        }
    }
}

/// The name of a page from the repository's root.
pub fn name_of(page: &Path) -> String {
    page.strip_prefix(root()).expect("a page of ours").display().to_string()
}

fn read(name: &str) -> String {
    fs::read_to_string(root().join(name)).expect("a page")
}

/// Lines of a page's indented blocks, and what stands between backticks.
pub fn code(page: &str) -> Vec<String> {
    let (mut found, mut prose) = (Vec::new(), String::new());
    let mut lines = page.lines();
    while let Some(line) = lines.next() {
        if !line.starts_with("    ") {
            prose.push_str(line);
            prose.push('\n');
            continue;
        }
        let mut command = line.trim().to_owned();
        while let Some(more) = command.strip_suffix('\\') {
            command = format!("{} {}", more.trim_end(), lines.next().unwrap_or_default().trim());
        }
        found.push(command);
    }
    found.extend(prose.split('`').skip(1).step_by(2).map(|span| span.replace('\n', " ")));
    found
}

/// Where a page's links and pictures lead, but for addresses of the web.
fn links(page: &str) -> impl Iterator<Item = &str> {
    let targets = page.split("](").skip(1).filter_map(|rest| rest.split_once(')').map(|(target, _)| target));
    targets.filter(|target| !target.contains("://"))
}

/// The names by which links reach the headings of a page: small letters, dashes for spaces, nothing else.
fn anchors(page: &str) -> Vec<String> {
    let headings = page.lines().filter(|line| line.starts_with('#'));
    let anchor = |heading: &str| {
        let kept = heading.trim_start_matches('#').trim().to_lowercase();
        let kept = kept.chars().filter(|c| c.is_alphanumeric() || [' ', '-', '_'].contains(c));
        kept.map(|c| if c == ' ' { '-' } else { c }).collect()
    };
    headings.map(anchor).collect()
}

/// What is wrong with a link of a page, if anything.
fn dead(page: &Path, text: &str, target: &str) -> Option<String> {
    let (path, anchor) = target.split_once('#').unwrap_or((target, ""));
    let file = page.parent().expect("a folder").join(path);
    if !path.is_empty() && !file.exists() {
        return Some(format!("{}: {target} leads nowhere", name_of(page)));
    }
    let there = if path.is_empty() { text.to_owned() } else { fs::read_to_string(file).unwrap_or_default() };
    let found = anchor.is_empty() || anchors(&there).contains(&anchor.to_owned());
    (!found).then(|| format!("{}: {target} names no heading", name_of(page)))
}

#[test]
fn no_link_of_a_page_is_dead() {
    let mut wrong = Vec::new();
    for page in pages() {
        let text = fs::read_to_string(&page).expect("a page");
        wrong.extend(links(&text).filter_map(|target| dead(&page, &text, target)));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_page_stands_in_the_index() {
    let index = read("docs/README.md");
    let listed: Vec<PathBuf> = links(&index).map(|target| root().join("docs").join(target)).collect();
    let shelves = ["docs/sailing", "docs/inside"].map(|shelf| root().join(shelf));
    let on_a_shelf = |page: &PathBuf| shelves.iter().any(|shelf| page.parent() == Some(shelf));
    let missing = pages().into_iter().filter(|page| on_a_shelf(page) && !listed.contains(page));
    let missing: Vec<String> = missing.map(|page| name_of(&page)).collect();
    assert!(missing.is_empty(), "docs/README.md lacks {missing:?}");
}

#[test]
fn pages_that_sources_and_tests_name_exist() {
    let mut files = pages();
    ["src", "tests", ".ci"].iter().for_each(|folder| written_files(&root().join(folder), &mut files));
    let mut wrong = Vec::new();
    for file in files {
        let Ok(text) = fs::read_to_string(&file) else { continue };
        for rest in text.split("docs/").skip(1) {
            let path: String =
                rest.chars().take_while(|c| c.is_ascii_alphanumeric() || "/-_.".contains(*c)).collect();
            let path = path.trim_end_matches('.');
            if path.ends_with(".md") && !root().join("docs").join(path).exists() {
                wrong.push(format!("{}: docs/{path}", name_of(&file)));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What of the repository a contributor's command may name.
struct Named {
    manifest: String,
    fuzz: String,
    gallery: String,
    /// Every source and test.
    sources: String,
}

impl Named {
    fn gather() -> Self {
        let mut files = Vec::new();
        ["src", "tests"].iter().for_each(|folder| written_files(&root().join(folder), &mut files));
        files.retain(|file| file.extension().is_some_and(|extension| extension == "rs"));
        let sources = files.iter().filter_map(|file| fs::read_to_string(file).ok()).collect();
        Self {
            manifest: read("Cargo.toml"),
            fuzz: read("tests/fuzz/Cargo.toml"),
            gallery: read("tests/gallery/gallery.rs"),
            sources,
        }
    }

    fn has_target(manifest: &str, kind: &str, name: &str) -> bool {
        manifest.contains(&format!("[[{kind}]]\nname = \"{name}\""))
    }

    fn has_test(&self, filter: &str) -> bool {
        let name = filter.trim_end_matches(':');
        ["fn", "mod"].iter().any(|word| self.sources.contains(&format!("{word} {name}")))
    }

    /// An assignment before a command: a variable that something reads, or that of the snapshots' crate.
    fn has_variable(&self, assignment: &str) -> bool {
        let name = assignment.split('=').next().unwrap_or_default();
        name == "INSTA_UPDATE" || self.sources.contains(&format!("\"{name}\""))
    }

    /// What is wrong with a cargo command's words after `cargo`, if anything.
    fn fault(&self, words: &[String]) -> Option<String> {
        let (own, passed) = match words.iter().position(|word| word == "--") {
            Some(at) => (&words[..at], &words[at + 1..]),
            None => (words, &[][..]),
        };
        let (verb, mut rest) = own.split_first()?;
        let mut manifest = &self.manifest;
        let mut gallery = false;
        while let Some((word, after)) = rest.split_first() {
            rest = after;
            let known = match (verb.as_str(), word.as_str()) {
                (_, "--release" | "--lib" | "--no-default-features" | "--locked") => true,
                ("install", "--path") => take(&mut rest) == Some("."),
                ("install", "--features") => {
                    take(&mut rest).is_some_and(|name| self.manifest.contains(&format!("\n{name} = [")))
                }
                ("run", "--manifest-path") => {
                    manifest = &self.fuzz;
                    take(&mut rest) == Some("tests/fuzz/Cargo.toml")
                }
                ("run" | "test" | "bench", "--test" | "--bench" | "--example" | "--bin") => {
                    gallery |= word == "--example";
                    take(&mut rest).is_some_and(|name| Self::has_target(manifest, &word[2..], name))
                }
                ("test", filter) => self.has_test(filter),
                _ => false,
            };
            if !known {
                return Some(format!("{word} is not known"));
            }
        }
        self.passed_fault(verb, gallery, passed)
    }

    /// What is wrong with the words that cargo passes on.
    fn passed_fault(&self, verb: &str, gallery: bool, passed: &[String]) -> Option<String> {
        if verb == "run" && gallery {
            let unknown = |word: &&String| {
                !self.gallery.contains(&format!("\"{word}\""))
                    && !self.sources.contains(&format!("\"{word}\""))
            };
            return passed.iter().find(unknown).map(|word| format!("the gallery has no {word}"));
        }
        // A number alone is for the fuzzer, which has no other argument.
        if verb == "run" && passed.iter().all(|word| word.parse::<u64>().is_err()) {
            let words = std::iter::once("nightrode").chain(passed.iter().map(String::as_str));
            return Cli::try_parse_from(words).err().map(|error| error.to_string());
        }
        None
    }
}

fn take<'a>(rest: &mut &'a [String]) -> Option<&'a str> {
    let (first, after) = rest.split_first()?;
    *rest = after;
    Some(first)
}

#[test]
fn what_contributors_are_given_to_run_exists() {
    let named = Named::gather();
    let (mut wrong, mut seen) = (Vec::new(), 0);
    for page in pages() {
        let text = fs::read_to_string(&page).expect("a page");
        for command in code(&text).iter().flat_map(|line| line.split(" && ")) {
            let words = words(command);
            let assigned = words.iter().take_while(|word| word.contains('=')).count();
            let fault = match words.get(assigned).map(String::as_str) {
                Some("cargo") => named.fault(&words[assigned + 1..]),
                Some(tool) if tool.starts_with("tests/") && !tool.contains('*') => {
                    (!root().join(tool).exists()).then(|| format!("{tool} is gone"))
                }
                Some("bash") => (!root().join(&words[assigned + 1]).exists()).then(|| "gone".to_owned()),
                _ => continue,
            };
            seen += 1;
            let unread = words[..assigned].iter().find(|word| !named.has_variable(word));
            let fault = fault.or_else(|| unread.map(|word| format!("nothing reads {word}")));
            wrong.extend(fault.map(|fault| format!("{}: {command}: {fault}", name_of(&page))));
        }
    }
    assert!(seen > 20, "only {seen} were found");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Indented or fenced blocks of a page, without their indentation.
fn blocks(page: &str) -> Vec<String> {
    let (mut found, mut block, mut fenced) = (Vec::new(), String::new(), false);
    for line in page.lines().chain([""]) {
        let fence = line.trim_start().starts_with("```");
        if fenced && !fence || line.starts_with("    ") {
            block.push_str(line.strip_prefix("    ").unwrap_or(line));
            block.push('\n');
        } else if !block.is_empty() {
            found.push(std::mem::take(&mut block));
        }
        fenced ^= fence;
    }
    found
}

/// The first code of a page that begins so.
fn span<'a>(code: &'a [String], start: &str) -> &'a str {
    code.iter().find(|span| span.starts_with(start)).unwrap_or_else(|| panic!("no {start}"))
}

#[test]
fn what_pages_give_for_boat_toml_is_read() {
    let mut texts = Vec::new();
    for page in ["docs/sailing/alerts.md", "docs/sailing/feeds.md"] {
        let is_ours =
            |block: &String| ["[alerts]", "[[feed]]", "hook ="].iter().any(|start| block.starts_with(start));
        texts.extend(blocks(&read(page)).into_iter().filter(is_ours));
    }
    assert_eq!(texts.len(), 5, "{texts:?}");
    let code = code(&read("docs/sailing/files.md"));
    texts.push(format!("[rode]\n{}", span(&code, "marks = ")));
    texts.push(format!("[rode]\nmarks = [{}]", span(&code, "{ at_m = 10, every_m")));
    texts.push(format!("[limits]\n{}", span(&code, "barred = ")));
    texts.push(format!("[crew]\nutc_offset = \"+02:00\"\nrota = {}", span(&code, "[{ name = ")));
    for text in texts {
        let text = if text.starts_with("hook") { format!("[alerts]\n{text}") } else { text };
        if let Err(fault) = read_boat(&text, "boat.toml") {
            panic!("{text}\n{fault}");
        }
    }
}

#[test]
fn a_fault_is_reported_as_the_page_shows_it() {
    let page = read("docs/sailing/files.md");
    let shown =
        blocks(&page).into_iter().find(|block| block.contains("boat.toml, line 3")).expect("an example");
    let fault = read_boat("\n[boat]\nloa_m = 333\n", "boat.toml").expect_err("a fault").to_string();
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain(&fault).contains(&plain(&shown)), "{fault}");
}

#[test]
fn the_examples_of_a_place_and_of_check_lists_are_read() {
    let blocks = blocks(&read("docs/sailing/places.md"));
    let of = |start: &str| blocks.iter().find(|block| block.starts_with(start)).expect("an example");
    let place = read_place(of("[place]"), "place.toml").unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(place.value.name, "Hollow Ness");
    read_checks(of("before ="), "checks.toml").unwrap_or_else(|fault| panic!("{fault}"));
}

#[test]
fn variables_and_sentences_of_alerts_are_those_of_the_program() {
    let page = read("docs/sailing/alerts.md");
    let hook = read("src/edge/notify/hook.rs");
    for variable in code(&page).iter().filter(|span| span.starts_with("NIGHTRODE_")) {
        assert!(hook.contains(&format!("\"{variable}\"")), "{variable}");
    }
    let sentences: Vec<&str> = page.lines().filter_map(|line| line.trim().strip_prefix('$')).collect();
    assert_eq!(sentences.len(), 3);
    for (text, sum) in sentences.iter().filter_map(|sentence| sentence.split_once('*')) {
        assert_eq!(format!("{:02X}", text.bytes().fold(0, |sum, byte| sum ^ byte)), sum, "{text}");
    }
}

#[test]
fn the_command_of_the_service_is_read() {
    let page = read("docs/inside/reliability.md");
    let command = page.lines().find_map(|line| line.strip_prefix("ExecStart=")).expect("a unit");
    assert!(Cli::try_parse_from(command.split(' ')).is_ok(), "{command}");
}
