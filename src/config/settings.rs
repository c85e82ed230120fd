//! The tables that `boat.toml` and `ride.toml` share: `[boat]`, `[rode]`, `[anchor]`, `[limits]`.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use jiff::Timestamp;
use toml::Spanned;
use toml::de::DeValue;

use super::keys::{self, Bounds, numbers, numbers_of, within};
use super::reader::{Log, Place, Table, number_within};
use crate::watch::boat::limits::ESCALATE_AFTER_READ;
use crate::watch::boat::ranges::{Range, range};
use crate::watch::boat::{Boat, Hull, Limits, RodeMark, Sector, Settings, Tackle};
use crate::watch::geo::Position;
use crate::watch::units::{Metres, TrueBearing, WatchTime};

/// Longest name of a feed, as it must fit a TAG block's source field (NMEA 0183, 4.x: 15 characters; memory).
pub(super) const LONGEST_FEED_NAME: usize = 15;
/// More feeds than this a watch cannot tell apart.
pub const MOST_FEEDS: usize = 32;

const BEARING: Bounds = within("barred", range("°", 0.0, 360.0));

/// What the shared tables said.
pub(super) struct Shared<'a> {
    pub(super) settings: Settings,
    /// What is left of `[rode]`: the caller reads its own keys from it and finishes it.
    pub(super) rode: Table<'a>,
}

/// Reads the shared tables. What is missing has its default.
pub(super) fn read_shared<'a>(log: &mut Log, doc: &mut Table<'a>) -> Shared<'a> {
    let mut settings = Settings::default();
    let mut seen = Seen::new();
    let mut boat = doc.table(log, "boat");
    let boat_place = boat.place.clone();
    read_numbers(log, &mut boat, keys::Table::Boat, &mut settings, &mut seen);
    if let Some((name, _)) = boat.text(log, "name") {
        settings.boat.name = name;
    }
    settings.boat.hull = read_hull(log, &mut boat).unwrap_or_default();
    boat.finish(log);

    let mut rode = doc.table(log, "rode");
    read_numbers(log, &mut rode, keys::Table::Rode, &mut settings, &mut seen);
    let carried_m = settings.tackle.chain.0 + settings.tackle.rope.0;
    settings.marks = read_marks(log, &mut rode, carried_m);

    let mut anchor = doc.table(log, "anchor");
    read_numbers(log, &mut anchor, keys::Table::Anchor, &mut settings, &mut seen);
    anchor.finish(log);

    let mut limits = doc.table(log, "limits");
    read_numbers(log, &mut limits, keys::Table::Limits, &mut settings, &mut seen);
    settings.limits.barred = read_barred(log, &mut limits);
    limits.finish(log);

    if !seen.contains_key("antenna_aft_of_bow_m") {
        settings.boat.antenna_aft = settings.boat.loa * ANTENNA_SHARE;
    }
    refuse_contradictions(log, &settings, &seen);
    doubt_units(log, &settings, &seen);
    doubt_missing(log, &settings, &seen, &boat_place, &rode.place);
    Shared { settings, rode }
}

/// Where each number stood that the file gave.
type Seen = BTreeMap<&'static str, Place>;

fn read_numbers(
    log: &mut Log,
    table: &mut Table,
    which: keys::Table,
    settings: &mut Settings,
    seen: &mut Seen,
) {
    for number in numbers_of(which) {
        let bounds = Bounds { range: readable(&number.bounds), ..number.bounds };
        if let Some((mut value, place)) = table.number(log, &bounds) {
            let (key, most) = (bounds.key, number.bounds.range.most);
            if value > most {
                let what = format!(
                    "{key} is {value}; {most} is taken: alarms must not wait longer (IMO MSC.302(87))"
                );
                log.odd(place.clone(), key, what);
                value = most;
            }
            number.set(settings, value);
            seen.insert(key, place);
        }
    }
}

/// What is read: for a number whose range has become narrower, the wider range of earlier versions.
fn readable(bounds: &Bounds) -> Range {
    if bounds.key == "escalate_after_s" { ESCALATE_AFTER_READ } else { bounds.range }
}

fn read_hull(log: &mut Log, boat: &mut Table) -> Option<Hull> {
    let (hull, place) = boat.text(log, "hull")?;
    match hull.as_str() {
        "monohull" => Some(Hull::Monohull),
        "catamaran" => Some(Hull::Catamaran),
        "trimaran" => Some(Hull::Trimaran),
        _ => {
            let what = format!("hull is {hull:?}; it must be \"monohull\", \"catamaran\" or \"trimaran\"");
            log.wrong(place, "boat.hull", what);
            None
        }
    }
}

/// The name of a hull in the files.
pub(super) fn hull_name(hull: Hull) -> &'static str {
    match hull {
        Hull::Monohull => "monohull",
        Hull::Catamaran => "catamaran",
        Hull::Trimaran => "trimaran",
    }
}

/// The marks, the nearest to the anchor first. One that comes again and again is written out, as far as the
/// rode is long.
fn read_marks(log: &mut Log, rode: &mut Table, carried_m: f64) -> Vec<RodeMark> {
    let tables = rode.tables(log, "marks");
    let mut marks: Vec<RodeMark> =
        tables.into_iter().flat_map(|mark| read_mark(log, mark, carried_m)).take(MOST_MARKS).collect();
    marks.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    marks
}

fn read_mark(log: &mut Log, mut mark: Table, carried_m: f64) -> Vec<RodeMark> {
    let at = mark.number(log, &keys::MARK_M);
    let every = mark.number(log, &keys::MARK_EVERY_M);
    let look = mark.text(log, "look");
    if at.is_none() || look.is_none() {
        let what = "a mark needs where it is and how it looks: { at_m = 20, look = \"two red links\" }";
        log.wrong(mark.place.clone(), "rode.marks", what.into());
    }
    mark.finish(log);
    let (Some((first_m, _)), Some((look, _))) = (at, look) else { return Vec::new() };
    let next =
        |at_m: &f64| every.as_ref().map(|(every_m, _)| at_m + every_m).filter(|at_m| *at_m <= carried_m);
    std::iter::successors(Some(first_m), next)
        .take(MOST_MARKS)
        .map(|at_m| RodeMark { at: Metres(at_m), look: look.clone() })
        .collect()
}

/// One a metre on the longest rode.
const MOST_MARKS: usize = 1000;

/// Latitude and longitude, if both are given.
pub(super) fn read_position(log: &mut Log, table: &mut Table) -> Option<Position> {
    let (lat, lon) = (table.number(log, &keys::LAT), table.number(log, &keys::LON));
    Position::new(lat?.0, lon?.0).ok()
}

pub(super) fn read_barred(log: &mut Log, limits: &mut Table) -> Vec<Sector> {
    let sectors = limits.list(log, "barred", "sectors, like [[200, 290]]").unwrap_or_default();
    let what = "a barred sector is two directions the wind may not blow from, clockwise: [200, 290]";
    sectors.iter().filter_map(|sector| read_sector(log, sector, "limits.barred", what)).collect()
}

/// Bearings on which the shore lies.
pub(super) fn read_shore(log: &mut Log, plan: &mut Table) -> Vec<Sector> {
    let sectors = plan.list(log, "shore", "sectors, like [[20, 110]]").unwrap_or_default();
    let what = "a shore is the two bearings between which it lies, clockwise: [20, 110]";
    sectors.iter().filter_map(|sector| read_sector(log, sector, "shore", what)).collect()
}

fn read_sector(log: &mut Log, sector: &Spanned<DeValue>, key: &'static str, what: &str) -> Option<Sector> {
    let ends: Vec<&Spanned<DeValue>> =
        sector.get_ref().as_array().into_iter().flat_map(|ends| ends.iter()).collect();
    let [from, to] = ends[..] else {
        log.wrong(sector.span(), key, what.into());
        return None;
    };
    let mut end = |value| number_within(log, key, &BEARING, value).map(TrueBearing::new);
    let (from, to) = (end(from), end(to));
    Some(Sector { from: from?, to: to? })
}

/// Where most position antennas stand, as a share of the length from the bow: on the pushpit. Common practice, no
/// source.
const ANTENNA_SHARE: f64 = 0.9;

/// Values that cannot all be true, or that would defeat an alert.
fn refuse_contradictions(log: &mut Log, settings: &Settings, seen: &Seen) {
    let mut refuse = |table: &str, key: &'static str, wrong: bool, what: String| {
        if let Some(place) = seen.get(key).filter(|_| wrong) {
            log.wrong(place.clone(), &format!("{table}.{key}"), what);
        }
    };
    refuse_misplaced_antenna(&settings.boat, seen, &mut refuse);
    refuse_rode_without_size(&settings.tackle, &mut refuse);
    refuse_limits_out_of_order(&settings.limits, seen, &mut refuse);
}

/// Refuses the value of a key in a table where something is wrong, and says what.
type Refuse<'a> = &'a mut dyn FnMut(&str, &'static str, bool, String);

fn refuse_misplaced_antenna(boat: &Boat, seen: &Seen, refuse: Refuse) {
    refuse(
        "boat",
        "antenna_aft_of_bow_m",
        seen.contains_key("loa_m") && boat.antenna_aft.0 > boat.loa.0,
        format!(
            "the antenna stands {} m aft of the bow; the boat is {} m long",
            boat.antenna_aft.0, boat.loa.0
        ),
    );
    refuse(
        "boat",
        "antenna_starboard_m",
        seen.contains_key("beam_m") && boat.antenna_starboard.0.abs() > boat.beam.0 / 2.0,
        format!(
            "the antenna stands {} m from the centreline; the boat is {} m wide",
            boat.antenna_starboard.0.abs(),
            boat.beam.0
        ),
    );
}

fn refuse_rode_without_size(tackle: &Tackle, refuse: Refuse) {
    refuse(
        "rode",
        "chain_m",
        tackle.chain.0 > 0.0 && tackle.chain_mm == 0.0,
        "there is chain, but chain_mm is 0; give the diameter of its bar".into(),
    );
    refuse(
        "rode",
        "rope_m",
        tackle.rope.0 > 0.0 && tackle.rope_mm == 0.0,
        "there is rope, but no rope_mm; give its diameter".into(),
    );
}

fn refuse_limits_out_of_order(limits: &Limits, seen: &Seen, refuse: Refuse) {
    let order = format!(
        "the alarm for lost positions ({} s) must come after the warning ({} s)",
        limits.fix_lost_alarm_after.seconds(),
        limits.fix_lost_after.seconds()
    );
    let late = limits.fix_lost_alarm_after <= limits.fix_lost_after;
    let key = if seen.contains_key("fix_lost_alarm_after_s") {
        "fix_lost_alarm_after_s"
    } else {
        "fix_lost_after_s"
    };
    refuse("limits", key, late, order);
    let key = if seen.contains_key("gust_high_kn") { "gust_high_kn" } else { "wind_high_kn" };
    refuse(
        "limits",
        key,
        limits.gust_high.0 < limits.wind_high.0,
        format!(
            "the limit for gusts ({} kn) must not lie below that for the mean wind ({} kn)",
            limits.gust_high.0, limits.wind_high.0
        ),
    );
}

/// One foot in metres, by definition.
const M_PER_FOOT: f64 = 0.3048;

/// Values that look like feet, pounds or tonnes. The bounds are common practice, no source: past what nearly every
/// yacht has.
fn doubt_units(log: &mut Log, settings: &Settings, seen: &Seen) {
    let Settings { boat, tackle, .. } = settings;
    let loa_m = boat.loa.0;
    let lengths = [
        ("boat", "loa_m", loa_m, loa_m > 24.0),
        ("boat", "beam_m", boat.beam.0, boat.beam.0 > 0.75 * loa_m),
        ("boat", "draft_m", boat.draft.0, boat.draft.0 > 0.3 * loa_m || boat.draft.0 > 4.0),
        (
            "boat",
            "bow_height_m",
            boat.bow_height.0,
            boat.bow_height.0 > 0.25 * loa_m || boat.bow_height.0 > 3.0,
        ),
        ("rode", "chain_m", tackle.chain.0, tackle.chain.0 > 120.0),
        ("rode", "rope_m", tackle.rope.0, tackle.rope.0 > 200.0),
    ];
    for (table, key, value, odd) in lengths {
        let Some(place) = seen.get(key).filter(|_| odd) else { continue };
        let metres = (value * M_PER_FOOT * 100.0).round() / 100.0;
        let what = format!("{key} = {value} is much for a yacht; if it is in feet, write {metres}");
        log.odd(place.clone(), &format!("{table}.{key}"), what);
    }
    // Displacement over the cube of the length: 1 to 15 kg/m³ for nearly every yacht.
    let fullness = boat.displacement_kg / loa_m.powi(3);
    let odd = seen.contains_key("loa_m") && !(0.7..=30.0).contains(&fullness);
    if let Some(place) = seen.get("displacement_kg").filter(|_| odd) {
        let what = format!(
            "displacement_kg = {} does not fit a boat of {loa_m} m; look at both units (kilograms, metres)",
            boat.displacement_kg
        );
        log.odd(place.clone(), "boat.displacement_kg", what);
    }
}

/// Facts without which the watch judges by a middling sloop.
fn doubt_missing(log: &mut Log, settings: &Settings, seen: &Seen, boat: &Place, rode: &Place) {
    let facts = [
        ("boat", "loa_m", boat),
        ("boat", "draft_m", boat),
        ("boat", "antenna_aft_of_bow_m", boat),
        ("rode", "chain_m", rode),
    ];
    for (table, key, place) in facts {
        let rope_instead = key == "chain_m" && seen.contains_key("rope_m");
        if seen.contains_key(key) || rope_instead {
            continue;
        }
        let taken = numbers().find(|number| number.bounds.key == key).and_then(|n| n.get(settings));
        let taken = taken.map_or_else(String::new, |value| format!("; {value} m is taken"));
        log.odd(place.clone(), &format!("{table}.{key}"), format!("{key} is missing from [{table}]{taken}"));
    }
}

/// Text as it stands in TOML, quoted and escaped.
pub(super) fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// Writes the shared tables with every value that is set; `veered` goes into `[rode]`.
pub(super) fn write_shared(out: &mut String, settings: &Settings, veered: Option<Metres>) {
    for table in [keys::Table::Boat, keys::Table::Rode, keys::Table::Anchor, keys::Table::Limits] {
        let mut lines = String::new();
        if table == keys::Table::Boat {
            line(&mut lines, "name", &quoted(&settings.boat.name));
            line(&mut lines, "hull", &quoted(hull_name(settings.boat.hull)));
        }
        for number in numbers_of(table) {
            if let Some(value) = number.get(settings) {
                line(&mut lines, number.bounds.key, &value.to_string());
            }
        }
        if table == keys::Table::Rode {
            if let Some(veered) = veered {
                line(&mut lines, keys::VEERED_M.key, &veered.0.to_string());
            }
            if !settings.marks.is_empty() {
                line(&mut lines, "marks", &marks_text(&settings.marks));
            }
        }
        if table == keys::Table::Limits && !settings.limits.barred.is_empty() {
            line(&mut lines, "barred", &sectors_text(&settings.limits.barred));
        }
        if !lines.is_empty() {
            let _ = writeln!(out, "[{}]\n{lines}", table.name());
        }
    }
}

/// One `key = value` line. Writing into a string cannot fail.
pub(super) fn line(out: &mut String, key: &str, value: &str) {
    let _ = writeln!(out, "{key} = {value}");
}

fn marks_text(marks: &[RodeMark]) -> String {
    let marks: Vec<String> = marks
        .iter()
        .map(|mark| format!("{{ at_m = {}, look = {} }}", mark.at.0, quoted(&mark.look)))
        .collect();
    format!("[{}]", marks.join(", "))
}

pub(super) fn sectors_text(barred: &[Sector]) -> String {
    let sectors: Vec<String> =
        barred.iter().map(|sector| format!("[{}, {}]", sector.from.degrees(), sector.to.degrees())).collect();
    format!("[{}]", sectors.join(", "))
}

/// A moment as TOML writes it. TOML has the years 0 to 9999: a moment outside them becomes the nearest inside.
pub(super) fn toml_time(time: WatchTime) -> String {
    const FIRST_MS: i64 = -62_167_219_200_000;
    const LAST_MS: i64 = 253_402_207_200_000;
    Timestamp::from_millisecond(time.0.clamp(FIRST_MS, LAST_MS)).unwrap_or_default().to_string()
}
