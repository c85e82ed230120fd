//! Any stream, cut anywhere: the lines are the same, bounded, and give the same when read.
#![no_main]

use libfuzzer_sys::fuzz_target;
use nightrode::watch::nmea::{LineSplitter, MAX_SENTENCE, parse};

fn lines(pieces: &[&[u8]]) -> Vec<Vec<u8>> {
    let mut splitter = LineSplitter::new();
    let mut lines = Vec::new();
    for piece in pieces {
        splitter.push(piece, |line| lines.push(line.to_vec()));
    }
    splitter.finish(|line| lines.push(line.to_vec()));
    lines
}

fuzz_target!(|bytes: &[u8]| {
    let Some((&cut, stream)) = bytes.split_first() else { return };
    let whole = lines(&[stream]);
    let (head, tail) = stream.split_at(usize::from(cut).min(stream.len()));
    assert_eq!(whole, lines(&[head, tail]));
    let mut out = Vec::new();
    for line in &whole {
        assert!(!line.is_empty() && line.len() <= 2 * MAX_SENTENCE + 1);
        let _ = parse(line, &mut out);
    }
});
