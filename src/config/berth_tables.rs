//! What is known of a berth, as it stands in `ride.toml`, in a place and in a plan: bottom, open water, shore, snubber, bridle.

use super::keys;
use super::reader::{Log, Table};
use super::settings::{line, quoted, read_shore, sectors_text};
use crate::watch::boat::{Berth, Snubber};
use crate::watch::rode::{OpenWater, Seabed, fetch_in_words, parse_fetch};
use crate::watch::slope::Slope;
use crate::watch::units::{Metres, TrueBearing};

/// One of a few words.
pub(super) fn one_of<T: Copy>(
    log: &mut Log,
    table: &mut Table,
    key: &'static str,
    choices: &[(&str, T)],
) -> Option<T> {
    let (text, place) = table.text(log, key)?;
    let found = choices.iter().find(|(word, _)| *word == text).map(|(_, choice)| *choice);
    if found.is_none() {
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        log.wrong(
            place,
            &table.full(key),
            format!("{key} is {text:?}; it must be one of {}", words.join(", ")),
        );
    }
    found
}

pub(super) fn read_seabed(log: &mut Log, table: &mut Table) -> Option<Seabed> {
    let choices = Seabed::ALL.map(|seabed| (seabed.key(), seabed));
    one_of(log, table, "seabed", &choices)
}

/// Open water as it stands there, looked through so that what is wrong is told with its line.
pub(super) fn read_fetch(log: &mut Log, table: &mut Table) -> Option<String> {
    let (text, place) = table.text(log, "fetch")?;
    if let Err(error) = parse_fetch(&text) {
        log.wrong(place, &table.full("fetch"), error.to_string());
    }
    Some(text)
}

pub(super) fn read_snubber(log: &mut Log, table: &mut Table) -> Option<Snubber> {
    let size = table.number(log, &keys::plan::SNUBBER_MM);
    let length = table.number(log, &keys::plan::SNUBBER_M);
    if let (Some((_, place)), None) | (None, Some((_, place))) = (&size, &length) {
        let what = "a snubber needs snubber_mm and snubber_m, its size and its length";
        log.wrong(place.clone(), &table.full("snubber_m"), what.into());
    }
    Some(Snubber { size_mm: size?.0, length: Metres(length?.0) })
}

pub(super) fn read_slope(log: &mut Log, table: &mut Table) -> Option<Slope> {
    let to = table.number(log, &keys::plan::SLOPE_TO_DEG);
    let percent = table.number(log, &keys::plan::SLOPE_PERCENT);
    if let (Some((_, place)), None) | (None, Some((_, place))) = (&to, &percent) {
        let what = "a slope needs slope_to_deg and slope_percent, where it falls to and by how much in 100";
        log.wrong(place.clone(), &table.full("slope_percent"), what.into());
    }
    Some(Slope { falls_to: TrueBearing::new(to?.0), gradient: percent?.0 / 100.0 })
}

/// `fetch` and `fetch_depth_m`.
pub(super) fn read_open(log: &mut Log, table: &mut Table) -> OpenWater {
    let fetch = read_fetch(log, table).and_then(|text| parse_fetch(&text).ok()).unwrap_or_default();
    let depth = table.number(log, &keys::plan::FETCH_DEPTH_M).map(|(depth, _)| Metres(depth));
    OpenWater { fetch, depth }
}

/// All of it, where the table is there.
pub(super) fn read_berth(log: &mut Log, doc: &mut Table) -> Berth {
    let Some(mut table) = doc.table_if_any(log, "berth") else { return Berth::default() };
    let berth = Berth {
        seabed: read_seabed(log, &mut table),
        open: read_open(log, &mut table),
        shore: read_shore(log, &mut table),
        slope: read_slope(log, &mut table),
        snubber: read_snubber(log, &mut table),
        bridle: table.flag(log, "bridle").unwrap_or(false),
    };
    table.finish(log);
    berth
}

/// What belongs to a place, as text: the bottom, the open water, the shore.
pub(super) fn ground_toml(
    seabed: Option<Seabed>,
    open: &OpenWater,
    shore: &[crate::watch::boat::Sector],
) -> String {
    let mut out = String::new();
    if let Some(seabed) = seabed {
        line(&mut out, "seabed", &quoted(seabed.key()));
    }
    if !open.fetch.is_empty() {
        line(&mut out, "fetch", &quoted(&fetch_in_words(&open.fetch)));
    }
    if let Some(depth) = open.depth {
        line(&mut out, keys::plan::FETCH_DEPTH_M.key, &depth.0.to_string());
    }
    if !shore.is_empty() {
        line(&mut out, "shore", &sectors_text(shore));
    }
    out
}

/// The whole table as text; nothing where nothing is known.
pub(super) fn berth_toml(berth: &Berth) -> String {
    if *berth == Berth::default() {
        return String::new();
    }
    let mut out = format!("[berth]\n{}", ground_toml(berth.seabed, &berth.open, &berth.shore));
    if let Some(slope) = berth.slope {
        line(&mut out, keys::plan::SLOPE_TO_DEG.key, &slope.falls_to.degrees().to_string());
        line(&mut out, keys::plan::SLOPE_PERCENT.key, &(100.0 * slope.gradient).to_string());
    }
    if let Some(snubber) = berth.snubber {
        line(&mut out, keys::plan::SNUBBER_MM.key, &snubber.size_mm.to_string());
        line(&mut out, keys::plan::SNUBBER_M.key, &snubber.length.0.to_string());
    }
    if berth.bridle {
        line(&mut out, "bridle", "true");
    }
    out.push('\n');
    out
}
