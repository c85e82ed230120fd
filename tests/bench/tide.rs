//! How long a height of tide takes: `cargo bench --bench tide`. The aim is 1 µs.

use divan::Bencher;
use nightrode::watch::geo::Position;
use nightrode::watch::tide::Tide;
use nightrode::watch::tide::harmonic::Harmonic;
use nightrode::watch::tide::stations::Stations;
use nightrode::watch::units::{Metres, Span, WatchTime};

fn main() {
    divan::main();
}

/// 2026-11-25 12:00 UTC.
const ABOUT: WatchTime = WatchTime(1_795_608_000_000);
/// 37, 60 and 119 constituents.
const IDS: [&str; 3] = ["noaa/8443970", "ticon/avonmouth-avo-gbr-bodc", "noaa/9455920"];

fn harmonic(id: &str) -> Harmonic {
    Stations::bundled().and_then(|stations| stations.harmonic(id)).expect("a bundled reference station")
}

#[divan::bench(args = IDS)]
fn height_on_the_curve_of_the_stay(bencher: Bencher, id: &str) {
    let tide = Tide::predicted(harmonic(id), ABOUT);
    let mut t = ABOUT;
    bencher.bench_local(|| {
        t += Span(1000);
        tide.height_at(t)
    });
}

#[divan::bench(args = IDS)]
fn height_worked_out_afresh(bencher: Bencher, id: &str) {
    let tide = harmonic(id);
    bencher.bench_local(|| tide.height_at(divan::black_box(ABOUT)));
}

#[divan::bench(args = IDS)]
fn sixteen_days_drawn_out(bencher: Bencher, id: &str) {
    let tide = harmonic(id);
    bencher.bench_local(|| Tide::predicted(divan::black_box(tide.clone()), ABOUT));
}

#[divan::bench]
fn turns_of_a_night(bencher: Bencher) {
    let tide = Tide::predicted(harmonic(IDS[0]), ABOUT);
    bencher.bench_local(|| tide.turns_between(ABOUT, ABOUT + Span::from_mins(24 * 60)));
}

#[divan::bench]
fn when_a_level_is_passed(bencher: Bencher) {
    let tide = Tide::predicted(harmonic(IDS[0]), ABOUT);
    bencher.bench_local(|| tide.next_passing(Metres(1.0), ABOUT, ABOUT + Span::from_mins(24 * 60)));
}

#[divan::bench]
fn stations_unpacked_and_read() -> usize {
    Stations::bundled().expect("the bundled table").len()
}

#[divan::bench]
fn eight_nearest_stations(bencher: Bencher) {
    let stations = Stations::bundled().expect("the bundled table");
    let anchor = Position::new(50.15, -5.05).expect("a position");
    bencher.bench_local(|| stations.nearest(divan::black_box(anchor), 8).len());
}
