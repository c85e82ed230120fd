//! Very many runs over every way in, without a guide: seeds cut, flipped, doubled and mixed by chance.
//!   cargo run --release --manifest-path tests/fuzz/Cargo.toml --bin many -- RUNS [SEED]
//! Prints runs, the slowest of them and the greatest memory for each way in. A panic names the way and the run.

mod ways;

use std::time::{Duration, Instant};

use ways::{WAYS, Way};

struct Chance(u64);

impl Chance {
    fn any(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, below: usize) -> usize {
        if below == 0 { 0 } else { (self.any() % below as u64) as usize }
    }
}

fn changed(seed: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=chance.below(5) {
        let at = chance.below(bytes.len());
        match chance.below(7) {
            0 => bytes.truncate(at),
            1 => bytes.insert(at.min(bytes.len()), chance.any() as u8),
            2 if !bytes.is_empty() => drop(bytes.remove(at)),
            3 => {
                let piece = bytes[at..].to_vec();
                bytes.extend_from_slice(&piece[..piece.len().min(64)]);
            }
            4 => {
                let word: &[u8] =
                    [&b"9999999999999999999"[..], b"-1", b"NaN", b"\n", b"\0", b",,,,", b"{", b"\""]
                        [chance.below(8)];
                let at = at.min(bytes.len());
                bytes.splice(at..at, word.iter().copied());
            }
            _ if !bytes.is_empty() => bytes[at] ^= 1 << chance.below(8),
            _ => {}
        }
    }
    bytes
}

/// Greatest memory so far, in MiB, where the system tells.
fn most_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kib| kib.parse::<u64>().ok()).unwrap_or(0) / 1024
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|word| word.parse::<u64>().ok());
    let runs = arguments.next().unwrap_or(1_000_000);
    let mut chance = Chance(arguments.next().unwrap_or(1));
    let only = std::env::var("NIGHTRODE_WAY").ok();
    for Way { name, try_on, seeds } in WAYS {
        if only.as_ref().is_some_and(|only| only != name) {
            continue;
        }
        let (mut slowest, begun) = (Duration::ZERO, Instant::now());
        let mut current = seeds[0].to_vec();
        for run in 0..runs {
            let before = chance.0;
            let bytes = changed(&current, &mut chance);
            let started = Instant::now();
            let done = std::panic::catch_unwind(|| try_on(&bytes));
            slowest = slowest.max(started.elapsed());
            if done.is_err() {
                println!("{name}: run {run}, chance {before}: {:?}", String::from_utf8_lossy(&bytes));
                std::process::exit(1);
            }
            // Now and then it goes on from what it came to.
            current = if chance.below(4) == 0 && bytes.len() < 4096 {
                bytes
            } else {
                seeds[chance.below(seeds.len())].to_vec()
            };
        }
        println!(
            "{name}: {runs} runs in {:.0} s, the slowest {:.1} ms, at most {} MiB",
            begun.elapsed().as_secs_f64(),
            slowest.as_secs_f64() * 1000.0,
            most_memory()
        );
    }
}
