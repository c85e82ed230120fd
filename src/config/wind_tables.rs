//! The wind by the hour and the way out, as they stand in `ride.toml`; the way out in a place and a plan too.

use std::fmt::Write as _;

use super::keys::{Bounds, within};
use super::reader::{Log, Table};
use super::settings::{line, toml_time};
use crate::watch::boat::ranges::range;
use crate::watch::forecast::{Forecast, GUST_KN_MOST, WIND_KN_MOST, WindThen};
use crate::watch::units::{Knots, TrueBearing};
use crate::watch::way_out::{WAY_OUT_NM_MOST, WayOut};

const FROM_DEG: Bounds = within("from_deg", range("°", 0.0, 360.0));
const MEAN_KN: Bounds = within("mean_kn", range("kn", 0.0, WIND_KN_MOST));
const GUST_KN: Bounds = within("gust_kn", range("kn", 0.0, GUST_KN_MOST));
/// The course of a way out.
const WAY_OUT_DEG: Bounds = within("way_out_deg", range("°", 0.0, 360.0));
/// How far it leads.
const WAY_OUT_NM: Bounds = within("way_out_nm", range("nm", 0.05, WAY_OUT_NM_MOST));

/// The way out, `way_out_deg` and `way_out_nm`.
pub(super) fn read_way_out(log: &mut Log, table: &mut Table) -> Option<WayOut> {
    let course = table.number(log, &WAY_OUT_DEG);
    let distance = table.number(log, &WAY_OUT_NM);
    if let (Some((_, place)), None) | (None, Some((_, place))) = (&course, &distance) {
        let what = "a way out needs way_out_deg and way_out_nm, its true course and how far";
        log.wrong(place.clone(), &table.full("way_out_deg"), what.into());
    }
    Some(WayOut { course: TrueBearing::new(course?.0), distance_nm: distance?.0 })
}

/// The same as text.
pub(super) fn way_out_toml(way: Option<WayOut>) -> String {
    let mut out = String::new();
    if let Some(way) = way {
        line(&mut out, WAY_OUT_DEG.key, &way.course.degrees().to_string());
        line(&mut out, WAY_OUT_NM.key, &way.distance_nm.to_string());
    }
    out
}

/// The wind by the hour, `[[wind]]`.
pub(super) fn read_winds(log: &mut Log, doc: &mut Table) -> Option<Forecast> {
    let tables = doc.tables(log, "wind");
    let place = tables.first()?.place.clone();
    let winds: Vec<WindThen> = tables.into_iter().filter_map(|table| read_wind(log, table)).collect();
    Forecast::try_from(winds).map_err(|why| log.wrong(place, "wind", format!("[[wind]]: {why}"))).ok()
}

fn read_wind(log: &mut Log, mut table: Table) -> Option<WindThen> {
    let time = table.time(log, "time");
    let mut number = |bounds| table.number(log, bounds).map(|(number, _)| number);
    let (from, mean, gust) = (number(&FROM_DEG), number(&MEAN_KN), number(&GUST_KN));
    if time.is_none() || mean.is_none() {
        let what = "a wind needs time and mean_kn; from_deg and gust_kn where they are known";
        log.wrong(table.place.clone(), "wind", what.into());
    }
    table.finish(log);
    Some(WindThen { at: time?, from: from.map(TrueBearing::new), mean: Knots(mean?), gust: gust.map(Knots) })
}

/// The same as text.
pub(super) fn winds_toml(forecast: Option<&Forecast>) -> String {
    let mut out = String::new();
    for wind in forecast.map_or(&[][..], Forecast::winds) {
        let _ = writeln!(out, "[[wind]]\ntime = {}", toml_time(wind.at));
        if let Some(from) = wind.from {
            line(&mut out, FROM_DEG.key, &from.degrees().to_string());
        }
        line(&mut out, MEAN_KN.key, &wind.mean.0.to_string());
        if let Some(gust) = wind.gust {
            line(&mut out, GUST_KN.key, &gust.0.to_string());
        }
        out.push('\n');
    }
    out
}
