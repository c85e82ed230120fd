//! Lines a second through the whole core: a night of twelve hours, six kinds of sentence each second, read from a
//! buffer as `night.nmea` holds it.

use std::f64::consts::TAU;
use std::hint::black_box;

use divan::Bencher;
use divan::counter::ItemsCount;
use nightrode::watch::Watch;
use nightrode::watch::boat::Settings;
use nightrode::watch::input::{Command, Event, FeedId, Input};
use nightrode::watch::nmea::{LineSplitter, checksum, strip_tag, write_tag};
use nightrode::watch::units::{Metres, Span, WatchTime};

/// 2026-06-03 20:00:00 UTC.
const START: WatchTime = WatchTime(1_780_516_800_000);
const HOURS: i64 = 12;
const LINES: u64 = HOURS as u64 * 3600 * 6;

fn main() {
    divan::main();
}

/// A boat that sheers 25 m below her anchor in 12 kn of wind that turns by 90° in the night, on 2 m of tide.
fn night() -> Vec<u8> {
    let mut out = Vec::new();
    for s in 0..HOURS * 3600 {
        let (t, at) = (s as f64, START + Span::from_secs(s));
        let wind_from = 200.0 + 45.0 * (1.0 - (TAU * t / 86_400.0).cos());
        let sheer = 20.0 * (TAU * t / 90.0).sin();
        let lies = (wind_from + 180.0 + sheer).to_radians();
        let (north, east) = (25.0 * lies.cos(), 25.0 * lies.sin());
        // A receiver's slow wander and its own grain.
        let north = north + 1.5 * (TAU * t / 700.0).sin() + 0.05 * ((s * 7 % 5) as f64);
        let east = east + 1.5 * (TAU * t / 900.0).cos() + 0.05 * ((s * 3 % 5) as f64);
        let lat = minutes(52.0 + north / 111_250.0, 2);
        let lon = minutes(20.0 - east / 68_700.0, 3);
        let clock = s + 20 * 3600;
        let (day, clock) = (3 + clock / 86_400, clock % 86_400);
        let time = format!("{:02}{:02}{:02}.00", clock / 3600, clock / 60 % 60, clock % 60);
        let heading = (wind_from + 1.6 * sheer).rem_euclid(360.0);
        let depth = 6.0 + (TAU * t / 44_714.0).cos();
        let sentences = [
            format!("GPRMC,{time},A,{lat},N,{lon},W,0.3,{heading:.1},{day:02}0626,,,A"),
            format!("GPGGA,{time},{lat},N,{lon},W,1,11,0.9,3.0,M,50.0,M,,"),
            format!("HEHDT,{heading:.1},T"),
            format!("WIMWV,{:.1},R,{:.1},N,A", (wind_from - heading).rem_euclid(360.0), 12.0 + sheer / 10.0),
            format!("SDDPT,{depth:.1},0.5,100.0"),
            format!("VWVHW,{heading:.1},T,,M,0.20,N,0.37,K"),
        ];
        for sentence in sentences {
            let line = format!("${sentence}*{:02X}", checksum::xor(sentence.as_bytes()));
            write_tag("gps", at.0 + 200, line.as_bytes(), &mut out);
            out.extend_from_slice(b"\r\n");
        }
    }
    out
}

/// Degrees as `ddmm.mmmm`.
fn minutes(degrees: f64, width: usize) -> String {
    let whole = degrees.floor();
    format!("{:0width$}{:07.4}", whole as u32, (degrees - whole) * 60.0)
}

/// Hears the whole buffer, with the crew's acts told a minute and five minutes after its beginning.
fn hear(night: &[u8], acts: &[(i64, Command)]) -> Watch {
    let mut watch = Watch::new(Settings::default());
    let feed = watch.feed_named("gps").unwrap_or(FeedId(0));
    let mut splitter = LineSplitter::new();
    let mut acts = acts.iter().peekable();
    let mut out = Vec::new();
    for chunk in night.chunks(65_536) {
        splitter.push(chunk, |line| {
            let Ok(tagged) = strip_tag(line) else { return };
            let at = tagged.tag.unix_ms.map_or(START, WatchTime);
            while let Some((_, command)) = acts.next_if(|(s, _)| at >= START + Span::from_secs(*s)) {
                watch.handle_into(at, Input::Event(Event::Crew(command.clone())), &mut out);
            }
            watch.handle_into(at, Input::Line { feed, bytes: tagged.rest }, &mut out);
        });
        out.clear();
    }
    watch
}

/// The anchor is down and judged.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn a_night_at_anchor(bencher: Bencher) {
    let night = night();
    let let_go =
        Command::LetGo { veered: Some(Metres(35.0)), depth: Some(Metres(6.0)), place: "Hollow Ness".into() };
    let acts = [(60, let_go), (300, Command::BroughtUp)];
    bencher.counter(ItemsCount::new(LINES)).bench_local(|| hear(black_box(&night), &acts));
}

/// No anchor is down: everything but the judging of the anchor.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn a_night_without_an_anchor(bencher: Bencher) {
    let night = night();
    bencher.counter(ItemsCount::new(LINES)).bench_local(|| hear(black_box(&night), &[]));
}
