//! The sounder corrects the forecast: reference tides (`tests/reference/tide.md`: high and low waters of utide as the table,
//! rounded as a table prints them, the constants' own heights as the sea) with a surge, or a wrong table, on top.

use std::f64::consts::{PI, TAU};

use nightrode::watch::geo::Local;
use nightrode::watch::input::{TideEntered, TurnKind, TypedTurn};
use nightrode::watch::tide::harmonic::Curve;
use nightrode::watch::units::{Metres, Span, WatchTime};
use nightrode::watch::water::Water;

use super::tide::{number, rows, stations, time};

/// What the weather does to the sea, metres, so many hours after letting go.
type Surge = fn(f64) -> f64;

const SURGES: [(&str, Surge); 5] = [
    ("falls 6 cm an hour", |h| -0.06 * h),
    ("rises 6 cm an hour", |h| 0.06 * h),
    ("falls by 0.5 m within 12 h and comes back", |h| -0.5 * (PI * h / 24.0).sin().powi(2)),
    ("oscillates by 0.2 m in 16 h", |h| 0.2 * (TAU * h / 16.0).sin()),
    ("is calm", |_| 0.0),
];

const SOUNDED: Metres = Metres(9.0);

struct Night {
    sea: Curve,
    surge: Surge,
    let_go: WatchTime,
    /// How the bottom falls to the east and to the north.
    slope: (f64, f64),
}

impl Night {
    /// Depth at the anchor.
    fn depth(&self, t: WatchTime) -> Metres {
        let hours = t.since(self.let_go).seconds() / 3600.0;
        let height = |t| self.sea.height_at(t).expect("a height");
        SOUNDED + height(t) - height(self.let_go) + Metres((self.surge)(hours))
    }

    /// Where she lies, sheering 20 m to each side, 28 m from the anchor, and what the sounder shows there: waves, a decimetre.
    fn sounded(&self, t: WatchTime) -> (Metres, Local) {
        let s = t.since(self.let_go).seconds();
        let angle = 0.7 + 0.6 * (s / 40.0).sin();
        let place = Local::new(28.0 * angle.cos(), 28.0 * angle.sin());
        let waves = 0.15 * (s * 1.3).sin();
        let depth = self.depth(t).0 + self.slope.0 * place.east_m + self.slope.1 * place.north_m + waves;
        (Metres((depth * 10.0).round() / 10.0), place)
    }
}

/// The next high and low waters after `from`, as a table prints them, with its range `stretched` about mean level.
fn table(station: &str, from: WatchTime, stretched: f64, datum_m: f64) -> Vec<TypedTurn> {
    let mean = if station == "mixed" { 0.95 } else { 3.2 };
    let all = rows("tide_extrema.csv");
    let of_station = all.iter().filter(|row| row["station"] == station);
    let turns = of_station.map(|row| TypedTurn {
        time: time(&row["t_utc"]),
        height: Metres(((mean + (number(row, "h_m") - mean) * stretched + datum_m) * 10.0).round() / 10.0),
        kind: if row["kind"] == "HW" { TurnKind::High } else { TurnKind::Low },
    });
    turns.filter(|turn| turn.time >= from - Span::from_mins(9 * 60)).take(5).collect()
}

/// She lets go an hour after a high water; an hour before the next low water: that low water, what is foretold for it, and the
/// most cautious figure.
fn an_hour_before_low_water(
    station: &str,
    number_of_high: usize,
    surge: Surge,
    stretched: f64,
    slope: (f64, f64),
) -> (f64, f64, f64) {
    let all = rows("tide_extrema.csv");
    let highs: Vec<_> = all.iter().filter(|r| r["station"] == station && r["kind"] == "HW").collect();
    let let_go = time(&highs[number_of_high]["t_utc"]) + Span::from_mins(60);
    let sea = stations()[station].curve(let_go - Span::from_mins(60), let_go + Span::from_mins(24 * 60));
    let night = Night { sea, surge, let_go, slope };
    let turns = table(station, let_go, stretched, 0.0);
    let lows = turns.iter().filter(|t| t.time > let_go + Span::from_mins(180) && t.kind == TurnKind::Low);
    let low = lows.min_by(|a, b| a.height.0.total_cmp(&b.height.0)).expect("a low water").time;
    let mut water = Water::default();
    water.enter(&TideEntered::Table { turns }, let_go, None).expect("a table");
    water.tie(Some((let_go, SOUNDED)), let_go);
    let seconds = low.since(let_go).0 / 1000 - 3600;
    for s in (0..seconds).step_by(2) {
        let now = let_go + Span::from_secs(s);
        water.second(now);
        water.hear(now, Some(night.sounded(now)), None);
    }
    let now = let_go + Span::from_secs(seconds);
    let foretold = water.depth_at(low).expect("a depth").0;
    let (least, at) = water.outlook().least.expect("a least depth");
    assert_eq!(at, low);
    let least = least.0 + water.shoals().0;
    assert!(water.correction(now).is_some());
    (night.depth(low).0, foretold, least)
}

#[test]
fn an_hour_before_low_water_the_true_least_water_is_foretold_within_15_centimetres_whatever_the_surge() {
    let (mut worst_fallen, mut worst_risen, mut most_hopeful): (f64, f64, f64) = (0.0, 0.0, f64::MIN);
    for station in ["semidiurnal", "mixed"] {
        for (name, surge) in SURGES {
            for (high, slope) in [(3, (0.05, 0.03)), (40, (-0.05, 0.02))] {
                let (truth, foretold, least) = an_hour_before_low_water(station, high, surge, 1.0, slope);
                let said =
                    format!("{station} {name} {slope:?}: {foretold:.3}, least {least:.3}, true {truth:.3}");
                // Less water counts at once, more only beyond its doubt.
                if surge(6.0) < 0.0 {
                    assert!((least - truth).abs() < 0.15, "{said}");
                    worst_fallen = worst_fallen.max((least - truth).abs());
                } else {
                    assert!((foretold - truth).abs() < 0.15, "{said}");
                    worst_risen = worst_risen.max((foretold - truth).abs());
                }
                assert!(least < truth + 0.15, "{said}");
                most_hopeful = most_hopeful.max(least - truth);
            }
        }
    }
    println!("least fallen {worst_fallen:.3}, likeliest risen {worst_risen:.3}, hopeful {most_hopeful:.3}");
}

/// Half as fast again as the filter is made for: the likeliest depth follows late, and the least that counts errs towards less
/// water.
#[test]
fn an_oscillation_of_30_centimetres_is_followed_late_and_never_on_the_hopeful_side() {
    const FAST: [Surge; 4] = [
        |h| 0.3 * (TAU * h / 16.0).sin(),
        |h| -0.3 * (TAU * h / 16.0).sin(),
        |h| 0.3 * ((TAU * h / 16.0).cos() - 1.0),
        |h| 0.3 * (1.0 - (TAU * h / 16.0).cos()),
    ];
    let (mut hopeful, mut short, mut likeliest) = (f64::MIN, f64::MIN, f64::MIN);
    for station in ["semidiurnal", "mixed"] {
        for surge in FAST {
            for (high, slope) in [(3, (0.05, 0.03)), (40, (-0.05, 0.02))] {
                let (truth, foretold, least) = an_hour_before_low_water(station, high, surge, 1.0, slope);
                hopeful = hopeful.max(least - truth);
                short = short.max(truth - least);
                likeliest = likeliest.max((foretold - truth).abs());
            }
        }
    }
    println!("least: {hopeful:.3} too much, {short:.3} too little; likeliest off by {likeliest:.3}");
    assert!(hopeful < 0.15, "{hopeful}");
}

#[test]
fn a_table_whose_range_is_wrong_by_a_tenth_is_corrected_too() {
    let mut worst: f64 = 0.0;
    for stretched in [0.9, 1.1] {
        for high in [3, 40] {
            let (truth, foretold, least) =
                an_hour_before_low_water("semidiurnal", high, |_| 0.0, stretched, (0.03, 0.0));
            worst = worst.max((foretold - truth).abs());
            assert!(
                (foretold - truth).abs() < 0.15 && least < truth + 0.15,
                "{stretched} {high}: {foretold:.3} {least:.3} {truth:.3}"
            );
        }
    }
    println!("worst {worst:.3}");
}

#[test]
fn an_error_of_the_datum_changes_nothing() {
    let sea = &stations()["semidiurnal"];
    let highs: Vec<_> = rows("tide_extrema.csv");
    let let_go = time(&highs[3]["t_utc"]) + Span::from_mins(60);
    let depth = |datum_m: f64| {
        let mut water = Water::default();
        let turns = table("semidiurnal", let_go, 1.0, datum_m);
        water.enter(&TideEntered::Table { turns }, let_go, None).expect("a table");
        water.tie(Some((let_go, SOUNDED)), let_go);
        water.depth_at(let_go + Span::from_mins(300)).expect("a depth").0
    };
    assert!((depth(0.0) - depth(0.5)).abs() < 1e-9);
    assert!(sea.height_at(let_go).0 > 0.0);
}
