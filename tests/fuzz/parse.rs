//! Any bytes as one sentence: the fuzzer writes the body, we add start and checksum so that it gets past the frame.
#![no_main]

use libfuzzer_sys::fuzz_target;
use nightrode::watch::nmea::{AisAssembler, parse};
use nightrode::watch::units::WatchTime;

fuzz_target!(|bytes: &[u8]| {
    let mut out = Vec::new();
    let mut ais = AisAssembler::new();
    let _ = parse(bytes, &mut out);
    for (at, body) in bytes.split(|&b| b == b'\n').enumerate() {
        let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
        let start = if body.get(2..4) == Some(b"VD") { b'!' } else { b'$' };
        let mut line = vec![start];
        line.extend_from_slice(body);
        line.extend_from_slice(format!("*{sum:02X}").as_bytes());
        let before = out.len();
        match parse(&line, &mut out) {
            Ok(heard) if heard.is_ais() => {
                let _ = ais.push(WatchTime(at as i64 * 1000), &line);
            }
            Ok(_) => {}
            Err(_) => assert_eq!(out.len(), before, "a refused line left something"),
        }
    }
});
