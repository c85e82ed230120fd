//! Sentences a second: each kind by itself, the mix of a yacht's instruments, and the way from a file's bytes.

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use nightrode::watch::nmea::{LineSplitter, Observation, parse, write_tag};

fn main() {
    divan::main();
}

/// One sentence of each kind, as an invented yacht sends them.
const BODIES: [&str; 18] = [
    "GPRMC,193744.20,A,5010.1234,N,00412.5678,W,0.054,213.4,090826,2.3,W,A",
    "GPGGA,193744.20,5010.1234,N,00412.5678,W,1,12,0.8,3.1,M,52.9,M,,",
    "GPGLL,5010.1234,N,00412.5678,W,193744.20,A,A",
    "GNGNS,193744.20,5010.12345,N,00412.56789,W,AAN,17,0.8,3.1,52.9,,",
    "GPGSA,A,3,03,05,14,21,29,31,,,,,,,2.0,1.2,1.6",
    "GPGSV,3,1,11,03,79,111,45,05,40,325,37,14,15,173,38,21,17,203,30",
    "GPGST,193744.20,12.2,2.1,1.4,36.9,1.9,1.7,4.1",
    "GPVTG,213.4,T,215.7,M,0.05,N,0.10,K,A",
    "GPZDA,193744.20,09,08,2026,00,00",
    "HEHDT,249.4,T",
    "HCHDG,247.1,,,2.3,W",
    "WIMWV,32.4,R,14.6,N,A",
    "WIMWD,281.8,T,284.1,M,14.2,N,7.3,M",
    "VWVHW,249.4,T,251.7,M,0.40,N,0.74,K",
    "SDDPT,7.4,-1.6,50.0",
    "SDDBT,24.3,f,7.4,M,4.0,F",
    "YXMTW,14.5,C",
    "IIXDR,P,1.01320,B,BARO,A,-1.8,D,ROLL",
];

/// What a yacht at anchor sends in a second: six kinds of sentence.
const MIX: [usize; 6] = [0, 1, 9, 11, 14, 8];

fn sentence(body: &str) -> Vec<u8> {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}").into_bytes()
}

#[divan::bench(args = BODIES.map(|body| &body[2..5]))]
fn by_kind(bencher: Bencher<'_, '_>, kind: &str) {
    let body = BODIES.iter().find(|body| &body[2..5] == kind).expect("the kinds are those of the bodies");
    let line = sentence(body);
    let mut out: Vec<Observation> = Vec::with_capacity(16);
    bencher.counter(ItemsCount::new(1_usize)).bench_local(|| {
        out.clear();
        black_box(parse(black_box(&line), &mut out)).is_ok()
    });
}

#[divan::bench]
fn a_yachts_mix(bencher: Bencher<'_, '_>) {
    let lines: Vec<Vec<u8>> = MIX.iter().map(|&i| sentence(BODIES[i])).collect();
    let mut out: Vec<Observation> = Vec::with_capacity(16);
    bencher.counter(ItemsCount::new(lines.len())).bench_local(|| {
        for line in &lines {
            out.clear();
            let _ = black_box(parse(black_box(line), &mut out));
        }
    });
}

/// A night's log: TAG block, line end, cut into lines and read.
#[divan::bench(args = [false, true])]
fn from_the_bytes_of_a_log(bencher: Bencher<'_, '_>, tagged: bool) {
    let mut log = Vec::new();
    let count = 6_000;
    for i in 0..count {
        let line = sentence(BODIES[MIX[i % MIX.len()]]);
        if tagged {
            write_tag("gps", 1_767_225_600_000 + i as i64 * 166, &line, &mut log);
        } else {
            log.extend_from_slice(&line);
        }
        log.extend_from_slice(b"\r\n");
    }
    let mut out: Vec<Observation> = Vec::with_capacity(16);
    bencher.counter(ItemsCount::new(count)).counter(BytesCount::of_slice(&log)).bench_local(|| {
        let mut splitter = LineSplitter::new();
        for chunk in log.chunks(4096) {
            splitter.push(chunk, |line| {
                out.clear();
                let _ = black_box(parse(line, &mut out));
            });
        }
    });
}
