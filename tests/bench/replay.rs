//! Going to any moment of a recorded night of twelve hours; and the same file through the watch's parser alone and through
//! the bare `nmea` crate, as the least that reading its sentences can cost.

use std::hint::black_box;
use std::io::Write as _;
use std::path::PathBuf;

use divan::Bencher;
use divan::counter::ItemsCount;
use nightrode::edge::replay::Replay;
use nightrode::edge::review::review;
use nightrode::sim;
use nightrode::watch::nmea::{LineSplitter, parse, strip_tag, write_tag};
use nightrode::watch::units::Span;

fn main() {
    divan::main();
}

/// The demonstration's night, as long as it lasts, in a file.
fn night() -> (tempfile::TempDir, PathBuf, u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("night.nmea");
    let scenario = sim::demo(1);
    let names = scenario.feed_names();
    let mut out = Vec::new();
    let mut lines = 0;
    for event in sim::Night::new(scenario) {
        if let sim::Event::Line { at, feed, bytes } = event {
            write_tag(&names[usize::from(feed.0)], at.0, &bytes, &mut out);
            out.extend_from_slice(b"\r\n");
            lines += 1;
        }
    }
    std::fs::File::create(&path).and_then(|mut file| file.write_all(&out)).expect("written");
    (folder, path, lines)
}

/// A moment anywhere in it: each sample another.
#[divan::bench(sample_count = 300, sample_size = 1)]
fn seek(bencher: Bencher) {
    let (_folder, path, _) = night();
    let mut replay = Replay::open(&[path], None).expect("a night");
    let (from, to) = (replay.night().from, replay.night().to);
    let mut share = 0.5_f64;
    bencher
        .with_inputs(|| {
            // The golden ratio's steps come everywhere and near nowhere twice.
            share = (share + 0.618_033_988_75).fract();
            from + Span((to.since(from).0 as f64 * share) as i64)
        })
        .bench_local_values(|at| {
            replay.seek(at).expect("readable");
            black_box(replay.snapshot().verdict)
        });
}

#[divan::bench(sample_count = 5)]
fn open(bencher: Bencher) {
    let (_folder, path, lines) = night();
    bencher
        .counter(ItemsCount::new(lines))
        .bench_local(|| black_box(Replay::open(std::slice::from_ref(&path), None).expect("a night").now()));
}

#[divan::bench(sample_count = 5)]
fn reviewed(bencher: Bencher) {
    let (_folder, path, lines) = night();
    bencher.counter(ItemsCount::new(lines)).bench_local(|| {
        black_box(review(std::slice::from_ref(&path), None, |_| {}).expect("a night").holding.verdict)
    });
}

#[divan::bench(sample_count = 5)]
fn bare_nmea_crate(bencher: Bencher) {
    let (_folder, path, lines) = night();
    bencher.counter(ItemsCount::new(lines)).bench_local(|| {
        let bytes = std::fs::read(&path).expect("readable");
        let mut splitter = LineSplitter::new();
        let mut read = 0_u64;
        splitter.push(&bytes, |line| {
            if let Ok(stripped) = strip_tag(line)
                && nmea::parse_bytes(stripped.rest).is_ok()
            {
                read += 1;
            }
        });
        black_box(read)
    });
}

/// The watch's own parser on the same file: sentences to checked observations, nothing judged.
#[divan::bench(sample_count = 5)]
fn own_parser(bencher: Bencher) {
    let (_folder, path, lines) = night();
    bencher.counter(ItemsCount::new(lines)).bench_local(|| {
        let bytes = std::fs::read(&path).expect("readable");
        let (mut splitter, mut observations) = (LineSplitter::new(), Vec::new());
        let mut read = 0_u64;
        splitter.push(&bytes, |line| {
            observations.clear();
            if let Ok(stripped) = strip_tag(line)
                && parse(stripped.rest, &mut observations).is_ok()
            {
                read += observations.len() as u64;
            }
        });
        black_box(read)
    });
}
