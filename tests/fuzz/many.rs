//! Very many runs over every way in, without a guide: seeds cut, flipped, doubled and mixed by chance.
//!   cargo run --release --manifest-path tests/fuzz/Cargo.toml --bin many -- RUNS [SEED]
//! Prints runs, the slowest of them and the greatest memory for each way in. A panic names the way and the run.

mod ways;

use std::time::{Duration, Instant};

use ways::WAYS;

/// What each way in is used to.
const SEEDS: [&[u8]; 22] = [
    b"GPRMC,021407.50,A,5012.3450,N,00512.3450,W,0.1,180.0,030626,,,A",
    b"$GPHDT,236.7,T*35\r\n$WIMWV,45.0,R,12.0,N,A*1B\r\n",
    b"s:gps,c:1780430520000",
    b"AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0",
    b"17:33:21.107 R 09F80101 F1 2B 6B 1B 8E 5E 36 FF",
    b"{\"path\":\"navigation.position\",\"value\":{\"latitude\":50.25,\"longitude\":-5.5}}\n{\"class\":\"TPV\",\"mode\":3,\"lat\":46.5,\"lon\":7.5,\"time\":\"2026-06-03T02:14:07Z\"}",
    b"GPRMC,021407.50,A,5012.3450,N,00512.3450,W,0.1,180.0,030626,,,A\nHEHDT,236.7,T\nSDDBT,16.4,f,5.0,M,2.7,F",
    b"{\"class\":\"DEVICES\",\"devices\":[]}\r\n$GPHDT,236.7,T*35\r\n",
    b"\\s:gps,c:1780430520000*66\\$GPHDT,236.7,T*35\r\n$GPRMC,000001,A,5012.345,N,00512.345,W,0.1,,030626,,,A*6E\r\n",
    b"[boat]\nname = \"Marram\"\nloa_m = 10.4\ndraft_m = 1.75\n[rode]\nchain_mm = 8\nchain_m = 60\n",
    b"[ride]\nplace = \"Hollow Ness\"\n[drop]\nlat = 52.0\nlon = -20.0\n[[alert]]\nkind = \"drag\"\nstands = \"waiting\"\n",
    b"[place]\nname = \"Hollow Ness\"\nlat = 52.0\nlon = -20.0\n",
    b"{\"at\":1780430520001,\"time\":\"t\",\"event\":{\"crew\":{\"act\":\"note\",\"text\":\"x\"}}}\n",
    b"<gpx><trk><trkseg><trkpt lat=\"54\" lon=\"10\"><time>2026-06-03T02:14:07Z</time></trkpt></trkseg></trk></gpx>",
    include_bytes!("../reference/wind_complex.grib2"),
    b"18: SW 15 g22, 00: W 25 g35, 04: NW 18",
    b"watch\n--headless\nudp:10110",
    b"\x08\0\0\0t\0\0\0\0\0\0\0\x01\x19\0\0\0l\0\0\0\0\0\0\0\x02\0$GPHDT,236.7,T*35\0\0\0\0n",
    b"nightrode-door 2\n\x31\0\0\0q{\"ask\":\"act\",\"number\":1,\"command\":{\"act\":\"silence\"}}",
    b"\xc8\x00\x00\x00k{\"version\":\"0.1.0\",\"process\":1,\"boat\":\"Marram\",\"rides\":\"\",\"simulated\":false,\"machine\":\"nav\",\"claim\":{\"ride\":1780430520000,\"term\":2,\"since\":1780430520000,\"by\":\"nav\"},\"stands_by\":false,\"feeds\":[\"gps\"]}",
    b"nightrode-door 2\n\x7e\x00\x00\x00q{\"ask\":\"change\",\"number\":1,\"change\":{\"to\":\"yield\",\"claim\":{\"ride\":1780430520000,\"term\":2,\"since\":1780430520000,\"by\":\"bunk\"}}}",
    b"GET /watch/page.js HTTP/1.1\r\nHost: nav\r\nAccept: */*\r\nNightrode-Act: 1\r\n\r\n",
];

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
    for ((name, try_on), seed) in WAYS.into_iter().zip(SEEDS) {
        if only.as_ref().is_some_and(|only| only != name) {
            continue;
        }
        let (mut slowest, begun) = (Duration::ZERO, Instant::now());
        let mut current = seed.to_vec();
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
            current = if chance.below(4) == 0 && bytes.len() < 4096 { bytes } else { seed.to_vec() };
        }
        println!(
            "{name}: {runs} runs in {:.0} s, the slowest {:.1} ms, at most {} MiB",
            begun.elapsed().as_secs_f64(),
            slowest.as_secs_f64() * 1000.0,
            most_memory()
        );
    }
}
