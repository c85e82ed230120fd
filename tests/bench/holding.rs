//! What a second of judging costs: `cargo bench --bench holding`.
//!
//! A step of evidence comes every fifth second; a batch of five is measured, in a night that has gone on for an hour.

use divan::{Bencher, black_box};
use nightrode::watch::boat::{Boat, Tackle};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::holding::{Conditions, Fix, Holding};
use nightrode::watch::units::{Knots, Metres, Span, TrueBearing, WatchTime};

const START: WatchTime = WatchTime(1_780_516_800_000);

fn main() {
    divan::main();
}

fn second(holding: &mut Holding, plane: &Plane, at: i64) {
    let bearing = TrueBearing::new(90.0 + 15.0 * (at as f64 / 15.0).sin());
    let fix = Fix::at(plane.to_position(Local::polar(bearing, 38.5)));
    holding.fix(START + Span(at * 1000 - 500), &fix);
    let now = Conditions {
        heading: Some(bearing.reversed()),
        apparent_wind: Some((0.0, Knots(18.0))),
        ..Conditions::default()
    };
    holding.second(START + Span(at * 1000), black_box(&now));
}

fn after_an_hour() -> (Holding, Plane) {
    let mark = Position::new(50.0, -4.0).expect("on the earth");
    let mut holding = Holding::new(&Boat::default(), &Tackle::default());
    let doubt = Metres(0.0);
    holding.let_go(START, mark, Metres(40.0), Some(Metres(7.0)), doubt);
    let plane = Plane::new(mark);
    for at in 1..=3600 {
        second(&mut holding, &plane, at);
    }
    (holding, plane)
}

#[divan::bench]
fn five_seconds(bencher: Bencher) {
    let (mut holding, plane) = after_an_hour();
    let mut at = 3600;
    bencher.bench_local(|| {
        for _ in 0..5 {
            at += 1;
            second(&mut holding, &plane, at);
        }
    });
}

#[divan::bench]
fn verdict(bencher: Bencher) {
    let (holding, _) = after_an_hour();
    bencher.bench_local(|| black_box(&holding).verdict());
}
