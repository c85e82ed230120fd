//! Simulated receivers held against recordings of real ones that stood still: how far the fixes scatter, how long
//! an error lasts, what speed is printed. The recordings are no part of the package: the tests look for them where
//! `NIGHTRODE_SHARED` says, else beside it, and say so if there are none.

// Clippy's leave for tests does not reach their helpers.
#![allow(clippy::unwrap_used)]

use std::io::Read as _;
use std::path::Path;

use crate::recordings::recordings;
use nightrode::sim::{Dice, Receiver, ReceiverKind, at_rest};
use nightrode::watch::geo::{Local, Plane, Position};
use nightrode::watch::nmea::{Observation, parse};
use nightrode::watch::units::Span;

fn text(path: &Path) -> String {
    let raw = std::fs::read(path).unwrap();
    let mut plain = String::new();
    if path.extension().is_some_and(|extension| extension == "gz") {
        flate2::read::MultiGzDecoder::new(&raw[..]).read_to_string(&mut plain).unwrap();
    } else {
        plain = String::from_utf8_lossy(&raw).into_owned();
    }
    plain
}

/// A track of fixes of something that stood still: seconds, and metres from their mean.
struct Track {
    fixes: Vec<(f64, Local)>,
}

/// How a track scatters.
#[derive(Clone, Copy, Debug)]
struct Scatter {
    sigma_east: f64,
    sigma_north: f64,
    r95: f64,
    /// Lag at which the autocorrelation of the worse axis falls below 1/e, s.
    memory_s: f64,
    /// Root mean square distance of fixes 30 s, 5 min, 30 min apart.
    apart: [f64; 3],
}

impl Track {
    fn new(mut fixes: Vec<(f64, Local)>) -> Self {
        let n = fixes.len() as f64;
        let mean = fixes.iter().fold(Local::default(), |sum, fix| sum + fix.1).scaled(1.0 / n);
        for fix in &mut fixes {
            fix.1 = fix.1 - mean;
        }
        Self { fixes }
    }

    fn of_positions(positions: &[(f64, Position)]) -> Self {
        let plane = Plane::new(positions[0].1);
        Self::new(positions.iter().map(|&(t, position)| (t, plane.to_local(position))).collect())
    }

    fn of_receiver(receiver: Receiver, seed: u64, hours: i64) -> Self {
        // The start-up is another matter.
        let fixes = at_rest(receiver, seed, Span::from_mins(hours * 60)).filter(|fix| fix.after.0 > 60_000);
        Self::new(fixes.map(|fix| (fix.after.seconds(), fix.offset)).collect())
    }

    /// Mean of `f` over all pairs of fixes `lag_s` apart.
    fn at_lag(&self, lag_s: f64, f: impl Fn(Local, Local) -> f64) -> f64 {
        let (mut sum, mut count, mut j) = (0.0, 0u32, 0);
        for &(t, here) in &self.fixes {
            while j < self.fixes.len() && self.fixes[j].0 < t + lag_s - 0.01 {
                j += 1;
            }
            if let Some(&(later, there)) = self.fixes.get(j)
                // Positions come 30 s apart at most.
                && later - t - lag_s < 30.0
            {
                sum += f(here, there);
                count += 1;
            }
        }
        sum / f64::from(count)
    }

    fn scatter(&self) -> Scatter {
        let east = self.at_lag(0.0, |a, b| a.east_m * b.east_m);
        let north = self.at_lag(0.0, |a, b| a.north_m * b.north_m);
        let forgotten = |lag_s: f64| {
            let share = if north > east {
                self.at_lag(lag_s, |a, b| a.north_m * b.north_m) / north
            } else {
                self.at_lag(lag_s, |a, b| a.east_m * b.east_m) / east
            };
            share < (-1f64).exp()
        };
        // Lags grow by a tenth each, from a second on, up to 6 h.
        let memory_s = (0..110).map(|i| 1.1f64.powi(i)).find(|&lag_s| forgotten(lag_s)).unwrap_or(21_600.0);
        let mut distances: Vec<f64> = self.fixes.iter().map(|fix| fix.1.length_m()).collect();
        distances.sort_by(f64::total_cmp);
        Scatter {
            sigma_east: east.sqrt(),
            sigma_north: north.sqrt(),
            r95: distances[distances.len() * 95 / 100],
            memory_s,
            apart: [30.0, 300.0, 1800.0]
                .map(|lag| self.at_lag(lag, |a, b| (a - b).length_m().powi(2)).sqrt()),
        }
    }
}

/// Simulated receivers of one kind, as many as seeds.
fn simulated(kind: ReceiverKind, seeds: u64, hours: i64) -> Vec<Scatter> {
    (0..seeds)
        .map(|seed| {
            let receiver = Receiver::draw(kind, &mut Dice::new(seed, 9));
            Track::of_receiver(receiver, seed, hours).scatter()
        })
        .collect()
}

/// Says where a recorded figure lies among the simulated ones, and holds that it is not far outside them.
fn compare(what: &str, recorded: f64, simulated: Vec<f64>) {
    compare_within(what, recorded, simulated, 1.6);
}

/// The same with the factor by which the recorded figure may be smaller than the least simulated one.
fn compare_within(what: &str, recorded: f64, mut simulated: Vec<f64>, below: f64) {
    simulated.sort_by(f64::total_cmp);
    let (least, median, most) =
        (simulated[0], simulated[simulated.len() / 2], simulated[simulated.len() - 1]);
    println!("{what:44} recorded {recorded:8.2}   simulated {least:8.2} … {median:8.2} … {most:8.2}");
    assert!(
        (least / below..=most * 1.6).contains(&recorded),
        "{what}: recorded {recorded}, simulated {least} to {most}"
    );
}

fn compare_scatter(name: &str, recorded: &Scatter, of: &[Scatter], lags: usize, below: f64) {
    println!("{name}: {recorded:.2?}");
    let each = |f: fn(&Scatter) -> f64| of.iter().map(f).collect::<Vec<_>>();
    compare("  sigma east, m", recorded.sigma_east, each(|s| s.sigma_east));
    compare("  sigma north, m", recorded.sigma_north, each(|s| s.sigma_north));
    compare("  radius of 95 %, m", recorded.r95, each(|s| s.r95));
    compare("  memory, s", recorded.memory_s, each(|s| s.memory_s));
    for lag in 0..lags {
        let what = ["  apart after 30 s, m", "  apart after 5 min, m", "  apart after 30 min, m"][lag];
        compare_within(what, recorded.apart[lag], of.iter().map(|s| s.apart[lag]).collect(), below);
    }
}

/// What the printed velocity says of a receiver that stood still: metres east and north that it adds up to, second by
/// second, beside the fixes themselves.
struct Travel {
    fixes: Vec<Local>,
    velocity: Vec<Local>,
}

impl Travel {
    /// Lag at which the velocity's autocorrelation falls below 1/e, s.
    fn memory_s(&self) -> f64 {
        let at = |lag: usize| -> f64 {
            let pairs = self.velocity.iter().zip(&self.velocity[lag..]);
            pairs.map(|(a, b)| a.dot(*b)).sum::<f64>() / (self.velocity.len() - lag) as f64
        };
        (1..120).find(|&lag| at(lag) < at(0) / std::f64::consts::E).map_or(120.0, |lag| lag as f64)
    }

    /// Root mean square of what the velocity adds up to in so many seconds, m; and the rms error of the fixes'
    /// change over that time once it is taken off, over that before.
    fn over(&self, seconds: usize) -> (f64, f64) {
        let (mut plain, mut aided, mut sum) = (0.0, 0.0, 0.0);
        for i in 0..self.fixes.len() - seconds {
            let moved = self.fixes[i + seconds] - self.fixes[i];
            let entered = self.velocity[i + 1..=i + seconds].iter().fold(Local::default(), |a, v| a + *v);
            plain += moved.dot(moved);
            aided += (moved - entered).dot(moved - entered);
            sum += entered.dot(entered);
        }
        ((sum / (self.fixes.len() - seconds) as f64).sqrt(), (aided / plain).sqrt())
    }
}

#[test]
fn printed_velocity_is_as_little_help_as_the_recorded_one() {
    let Some(folder) = recordings("signalk-server") else { return };
    let text = text(&folder.join("gps.log"));
    let mut recorded = Travel { fixes: Vec::new(), velocity: Vec::new() };
    let (mut out, mut plane) = (Vec::new(), None);
    for line in text.lines().filter(|line| line.contains("RMC")) {
        out.clear();
        if parse(line.trim_end().as_bytes(), &mut out).is_err() {
            continue;
        }
        for seen in &out {
            match seen {
                Observation::Fix(fix) => {
                    let plane = plane.get_or_insert_with(|| Plane::new(fix.position));
                    recorded.fixes.push(plane.to_local(fix.position));
                }
                Observation::Velocity { sog, cog } => {
                    recorded.velocity.push(cog.map_or(Local::default(), |cog| Local::polar(cog, sog.mps())));
                }
                _ => {}
            }
        }
    }
    assert_eq!(recorded.fixes.len(), recorded.velocity.len());
    let simulated: Vec<Travel> = (0..40)
        .filter_map(|seed| {
            let receiver = Receiver::draw(ReceiverKind::PoorView, &mut Dice::new(seed, 9));
            // Those that print 0 when slow say nothing to compare.
            receiver.velocity.filter(|output| output.zero_below.0 == 0.0)?;
            let mut travel = Travel { fixes: Vec::new(), velocity: Vec::new() };
            for fix in at_rest(receiver, seed, Span::from_mins(20)).filter(|fix| fix.after.0 > 60_000) {
                travel.fixes.push(fix.offset);
                let entered =
                    fix.course.zip(fix.speed).map(|(course, speed)| Local::polar(course, speed.mps()));
                travel.velocity.push(entered.unwrap_or_default());
            }
            Some(travel)
        })
        .collect();
    assert!(simulated.len() > 5, "{}", simulated.len());
    compare(
        "memory of the velocity, s",
        recorded.memory_s(),
        simulated.iter().map(Travel::memory_s).collect(),
    );
    for seconds in [60, 180] {
        let (sum, ratio) = recorded.over(seconds);
        let of = |f: fn((f64, f64)) -> f64| simulated.iter().map(|t| f(t.over(seconds))).collect();
        compare(&format!("velocity summed over {seconds} s, m"), sum, of(|o| o.0));
        compare(&format!("error over {seconds} s, aided over plain"), ratio, of(|o| o.1));
    }
}

#[test]
fn an_open_sky_receiver_scatters_like_single_frequency_positions_of_24_h() {
    let Some(folder) = recordings("spp-24h") else { return };
    let of = simulated(ReceiverKind::OpenSky, 24, 24);
    // These antennas are far better than a boat's and stand on good ground: over minutes theirs is a lower bound.
    for file in ["esbc_gps", "esbc_mul", "nya1_124", "ajac_209"] {
        let text = text(&folder.join(format!("{file}.pos.gz")));
        let mut positions = Vec::new();
        for line in text.lines().filter(|line| !line.starts_with('%')) {
            let fields: Vec<f64> = line.split_whitespace().filter_map(|field| field.parse().ok()).collect();
            if let [_, seconds, lat, lon, ..] = fields[..] {
                positions.push((seconds, Position::new(lat, lon).unwrap()));
            }
        }
        assert!(positions.len() > 2800, "{file}: {}", positions.len());
        compare_scatter(file, &Track::of_positions(&positions).scatter(), &of, 3, 3.0);
    }
}

#[test]
fn a_receiver_with_static_hold_stands_and_jumps_like_the_recorded_one() {
    let Some(folder) = recordings("adsb-research-grid") else { return };
    let text = text(&folder.join("west_gnss.csv.gz"));
    let mut positions: Vec<(f64, Position)> = Vec::new();
    let mut last_time = "";
    for line in text.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        // Each line comes twice.
        if fields[0] == last_time {
            continue;
        }
        last_time = fields[0];
        let (lat, lon) = (fields[2].parse().unwrap(), fields[3].parse().unwrap());
        positions.push((positions.len() as f64, Position::new(lat, lon).unwrap()));
    }
    let still = positions.windows(2).filter(|pair| pair[0].1 == pair[1].1).count() as f64;
    let recorded_still = still / (positions.len() - 1) as f64;
    let (mut shares, mut jumps, mut scatters) = (Vec::new(), Vec::new(), Vec::new());
    for seed in 0..24 {
        let receiver = Receiver::draw(ReceiverKind::StaticHold, &mut Dice::new(seed, 9));
        let track = Track::of_receiver(receiver, seed, 1);
        let steps: Vec<f64> = track.fixes.windows(2).map(|pair| (pair[1].1 - pair[0].1).length_m()).collect();
        shares.push(steps.iter().filter(|step| **step == 0.0).count() as f64 / steps.len() as f64);
        jumps.push(steps.iter().copied().fold(0.0, f64::max));
        scatters.push(track.scatter());
    }
    compare("share of fixes that do not move", recorded_still, shares);
    let recorded = Track::of_positions(&positions);
    let jump = recorded.fixes.windows(2).map(|pair| (pair[1].1 - pair[0].1).length_m()).fold(0.0, f64::max);
    compare("largest jump, m", jump, jumps);
    compare("radius of 95 %, m", recorded.scatter().r95, scatters.iter().map(|s| s.r95).collect());
}

#[test]
fn kinds_of_fix_differ_as_the_recorded_ones_do() {
    let Some(folder) = recordings("adsb-research-grid") else { return };
    let text = text(&folder.join("north_gold_converted.csv.gz"));
    let mut by_kind: [Vec<(f64, Position)>; 2] = Default::default();
    for line in text.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let position = Position::new(fields[1].parse().unwrap(), fields[2].parse().unwrap()).unwrap();
        match fields[4] {
            "2" => by_kind[0].push((0.0, position)),
            "4" => by_kind[1].push((0.0, position)),
            _ => {}
        }
    }
    let plane = Plane::new(by_kind[1][0].1);
    let mean = |fixes: &[(f64, Position)]| {
        fixes
            .iter()
            .fold(Local::default(), |sum, fix| sum + plane.to_local(fix.1))
            .scaled(1.0 / fixes.len() as f64)
    };
    let recorded = (mean(&by_kind[0]) - mean(&by_kind[1])).length_m();
    let simulated = (0..24)
        .map(|seed| {
            let receiver = Receiver::draw(ReceiverKind::PoorView, &mut Dice::new(seed, 9));
            let mut means = [(Local::default(), 0.0); 2];
            for fix in at_rest(receiver, seed, Span::from_mins(24 * 60)) {
                let kind = &mut means[usize::from(fix.quality - 1)];
                *kind = (kind.0 + fix.offset, kind.1 + 1.0);
            }
            (means[0].0.scaled(1.0 / means[0].1) - means[1].0.scaled(1.0 / means[1].1)).length_m()
        })
        .collect();
    compare("between the means of two kinds of fix, m", recorded, simulated);
}

#[test]
fn a_receiver_with_a_poor_view_wanders_and_speeds_like_the_recorded_one() {
    let Some(folder) = recordings("signalk-server") else { return };
    let text = text(&folder.join("gps.log"));
    let (mut positions, mut speeds, mut out) = (Vec::new(), Vec::new(), Vec::new());
    for line in text.lines().filter(|line| line.contains("RMC")) {
        out.clear();
        if parse(line.trim_end().as_bytes(), &mut out).is_err() {
            continue;
        }
        for seen in &out {
            match seen {
                Observation::Fix(fix) => positions.push((positions.len() as f64, fix.position)),
                Observation::Velocity { sog, .. } => speeds.push(sog.0),
                _ => {}
            }
        }
    }
    let recorded = Track::of_positions(&positions).scatter();
    // Twenty minutes say little of an hour: as many short ones.
    let (mut scatters, mut medians, mut high) = (Vec::new(), Vec::new(), Vec::new());
    for seed in 0..40 {
        let receiver = Receiver::draw(ReceiverKind::PoorView, &mut Dice::new(seed, 9));
        let mut moving: Vec<f64> = at_rest(receiver.clone(), seed, Span::from_mins(20))
            .filter_map(|fix| fix.speed)
            .map(|s| s.0)
            .collect();
        moving.sort_by(f64::total_cmp);
        medians.push(moving[moving.len() / 2]);
        high.push(moving[moving.len() * 95 / 100]);
        let fixes = at_rest(receiver, seed, Span::from_mins(20)).filter(|fix| fix.after.0 > 60_000);
        scatters.push(Track::new(fixes.map(|fix| (fix.after.seconds(), fix.offset)).collect()).scatter());
    }
    speeds.sort_by(f64::total_cmp);
    compare_scatter("gps.log", &recorded, &scatters, 2, 1.6);
    compare("median speed while still, kn", speeds[speeds.len() / 2], medians);
    compare("speed of 95 % while still, kn", speeds[speeds.len() * 95 / 100], high);
}
