//! A place of the book: one file of `places`, written by the program and by the crew.
//!
//! What the program adds it adds at the end, as further `[[mark]]`, `[[sounding]]` and `[[ride]]`: the crew's words and comments stay.

use std::fmt::Write as _;

use jiff::Timestamp;

use super::Read;
use super::berth_tables::{ground_toml, read_open, read_seabed};
use super::keys::{Bounds, within};
use super::problem::Problems;
use super::reader::{Log, Table};
use super::settings::{quoted, read_barred, read_position, read_shore};
use super::wind_tables::{read_way_out, way_out_toml};
use crate::watch::boat::ranges::range;
use crate::watch::geo::Position;
use crate::watch::place::{Day, Place, PlaceNote, PlaceRide, PlaceSounding, Season};
use crate::watch::units::{Metres, WatchTime};

/// A depth reduced to datum: banks that dry are negative.
const CHARTED_M: Bounds = within("charted_m", range("m", -15.0, 300.0));

/// Reads a place. `file` is its name as it stands in messages.
///
/// # Errors
/// Everything wrong with it: what is not TOML, unknown keys, values out of range, no name or position.
pub fn read_place(text: &str, file: &str) -> Result<Read<Place>, Problems> {
    let (mut log, mut doc) = Log::parse(text);
    let mut table = doc.table(&mut log, "place");
    let name = table.text(&mut log, "name").map(|(name, _)| name).filter(|name| !name.is_empty());
    let position = read_position(&mut log, &mut table);
    let shelter = table.text(&mut log, "shelter").map_or_else(String::new, |(words, _)| words);
    let barred = read_barred(&mut log, &mut table);
    let (seabed, open) = (read_seabed(&mut log, &mut table), read_open(&mut log, &mut table));
    let shore = read_shore(&mut log, &mut table);
    let way_out = read_way_out(&mut log, &mut table);
    if name.is_none() || position.is_none() {
        log.wrong(table.place.clone(), "place", "[place] needs a name, and lat and lon in degrees".into());
    }
    table.finish(&mut log);
    let mut each = |doc: &mut Table, key, read: &mut dyn FnMut(&mut Log, Table)| {
        for table in doc.tables(&mut log, key) {
            read(&mut log, table);
        }
    };
    let (mut marks, mut notes, mut soundings, mut rides) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    each(&mut doc, "mark", &mut |log, table| marks.extend(read_mark(log, table)));
    each(&mut doc, "note", &mut |log, table| notes.extend(read_note(log, table)));
    each(&mut doc, "sounding", &mut |log, table| soundings.extend(read_sounding(log, table)));
    each(&mut doc, "ride", &mut |log, table| rides.push(read_ride(log, table)));
    doc.finish(&mut log);
    soundings.sort_by_key(|sounding: &PlaceSounding| sounding.on);
    let value = Place {
        // Without a position the file is refused below: this one is never given to anybody.
        ..Place::new(&name.unwrap_or_default(), position.unwrap_or_else(null_island))
    };
    let value =
        Place { shelter, barred, seabed, open, shore, way_out, marks, notes, soundings, rides, ..value };
    Ok(Read { value, doubts: log.judge(file)? })
}

fn null_island() -> Position {
    Position::new(0.0, 0.0).expect("on the earth")
}

fn read_mark(log: &mut Log, mut table: Table) -> Option<(String, Position)> {
    let name = table.text(log, "name").map(|(name, _)| name);
    let position = read_position(log, &mut table);
    if name.is_none() || position.is_none() {
        log.wrong(table.place.clone(), "mark", "a mark needs a name, and lat and lon in degrees".into());
    }
    table.finish(log);
    name.zip(position)
}

fn read_note(log: &mut Log, mut table: Table) -> Option<PlaceNote> {
    let text = table.text(log, "text").map(|(text, _)| text);
    let from = read_day(log, &mut table, "from");
    let to = read_day(log, &mut table, "to");
    let season = match (from, to) {
        (Some(from), Some(to)) => Some(Season { from, to }),
        (None, None) => None,
        _ => {
            log.wrong(
                table.place.clone(),
                "note",
                "a season has both from and to, like \"04-01\" and \"07-31\"".into(),
            );
            None
        }
    };
    if text.is_none() {
        log.wrong(table.place.clone(), "note", "a note needs its text".into());
    }
    table.finish(log);
    text.map(|text| PlaceNote { text, season })
}

fn read_day(log: &mut Log, table: &mut Table, key: &'static str) -> Option<Day> {
    let (text, place) = table.text(log, key)?;
    let day = text.split_once('-').and_then(|(month, day)| {
        let day = Day { month: month.parse().ok()?, day: day.parse().ok()? };
        ((1..=12).contains(&day.month) && (1..=31).contains(&day.day)).then_some(day)
    });
    if day.is_none() {
        let what = format!("{key} is {text:?}; it must be a month and a day, like \"04-01\"");
        log.wrong(place, &format!("note.{key}"), what);
    }
    day
}

fn read_sounding(log: &mut Log, mut table: Table) -> Option<PlaceSounding> {
    let position = read_position(log, &mut table);
    let charted = table.number(log, &CHARTED_M).map(|(depth, _)| Metres(depth));
    let on = table.time(log, "on");
    if position.is_none() || charted.is_none() || on.is_none() {
        log.wrong(table.place.clone(), "sounding", "a sounding needs lat, lon, charted_m and on".into());
    }
    table.finish(log);
    Some(PlaceSounding { position: position?, charted: charted?, on: on? })
}

fn read_ride(log: &mut Log, mut table: Table) -> PlaceRide {
    let let_go = table.time(log, "let_go");
    let held = table.text(log, "held").map_or_else(String::new, |(words, _)| words);
    table.finish(log);
    PlaceRide { let_go, held }
}

/// A new place as a file, with room for the crew's words.
#[must_use]
pub fn place_toml(place: &Place) -> String {
    let mut out = String::new();
    let _ = write!(
        out,
        "# A place of the book. Write what you know into it; what the program adds it adds at the end.\n\n\
         [place]\nname = {}\nlat = {:.6}\nlon = {:.6}\n\
         # From what wind and swell it shelters, in words.\nshelter = {}\n",
        quoted(&place.name),
        place.position.lat_deg(),
        place.position.lon_deg(),
        quoted(&place.shelter)
    );
    if place.barred.is_empty() {
        out.push_str("# Winds not to lie in, clockwise, true: barred = [[330, 30]]\n");
    } else {
        let sectors: Vec<String> =
            place.barred.iter().map(|s| format!("[{}, {}]", s.from.degrees(), s.to.degrees())).collect();
        let _ = writeln!(out, "barred = [{}]", sectors.join(", "));
    }
    out.push_str(&ground_toml(place.seabed, &place.open, &place.shore));
    if place.seabed.is_none() {
        out.push_str("# The bottom: seabed = \"mud\" (sand, loose-sand, stiff-clay, mud, soft-mud, gravel, weed, rock)\n");
    }
    if place.open.fetch.is_empty() {
        out.push_str(
            "# Open water, sea miles by direction, and its depth: fetch = \"SW 2, W 0.5\" fetch_depth_m = 8; each on its own line\n",
        );
    }
    if place.shore.is_empty() {
        out.push_str("# Where land or shoal water lies, from where one anchors, clockwise, true: shore = [[20, 110]]\n");
    }
    if place.way_out.is_none() {
        out.push_str("# The course that is safe to steer from here, true, and how far: way_out_deg = 140, way_out_nm = 0.4\n");
    }
    out.push_str(&way_out_toml(place.way_out));
    out.push_str(
        "\n# [[note]]\n# text = \"keep 150 m off the west shore: terns nest\"\n# from = \"04-01\"\n# to = \"07-31\"\n",
    );
    out.push_str(&marks_toml(&place.marks));
    for note in &place.notes {
        let _ = write!(out, "\n[[note]]\ntext = {}\n", quoted(&note.text));
        if let Some(Season { from, to }) = note.season {
            let _ = write!(
                out,
                "from = \"{:02}-{:02}\"\nto = \"{:02}-{:02}\"\n",
                from.month, from.day, to.month, to.day
            );
        }
    }
    out + &additions_toml(&[], &place.soundings, &place.rides)
}

fn marks_toml(marks: &[(String, Position)]) -> String {
    let mut out = String::new();
    for (name, position) in marks {
        let (lat, lon) = (position.lat_deg(), position.lon_deg());
        let _ = write!(out, "\n[[mark]]\nname = {}\nlat = {lat:.6}\nlon = {lon:.6}\n", quoted(name));
    }
    out
}

/// Marks, soundings and rides as they are added at the end of a file.
#[must_use]
pub fn additions_toml(
    marks: &[(String, Position)],
    soundings: &[PlaceSounding],
    rides: &[PlaceRide],
) -> String {
    let mut out = marks_toml(marks);
    for PlaceSounding { position, charted, on } in soundings {
        let (lat, lon) = (position.lat_deg(), position.lon_deg());
        let _ = write!(
            out,
            "\n[[sounding]]\nlat = {lat:.6}\nlon = {lon:.6}\ncharted_m = {:.2}\non = {}\n",
            charted.0,
            second(*on)
        );
    }
    for PlaceRide { let_go, held } in rides {
        out.push_str("\n[[ride]]\n");
        if let Some(let_go) = let_go {
            let _ = writeln!(out, "let_go = {}", second(*let_go));
        }
        let _ = writeln!(out, "held = {}", quoted(held));
    }
    out
}

fn second(at: WatchTime) -> String {
    Timestamp::from_millisecond(at.0)
        .map_or_else(|_| "1970-01-01T00:00:00Z".into(), |at| at.strftime("%Y-%m-%dT%H:%M:%SZ").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::boat::Sector;
    use crate::watch::rode::{OpenWater, Seabed, parse_fetch};
    use crate::watch::units::TrueBearing;

    fn hollow() -> Place {
        let at = |lat: f64| Position::new(lat, 10.4).unwrap();
        Place {
            shelter: "south to west; swell comes round in a northerly".into(),
            barred: vec![Sector { from: TrueBearing::new(330.0), to: TrueBearing::new(30.0) }],
            seabed: Some(Seabed::Mud),
            open: OpenWater { fetch: parse_fetch("SW 2, W 0.5").unwrap(), depth: Some(Metres(8.0)) },
            shore: vec![Sector { from: TrueBearing::new(20.0), to: TrueBearing::new(110.0) }],
            marks: vec![("beacon \"old\"".into(), at(54.203))],
            notes: vec![
                PlaceNote {
                    text: "terns nest on the west shore".into(),
                    season: Some(Season { from: Day { month: 4, day: 1 }, to: Day { month: 7, day: 31 } }),
                },
                PlaceNote { text: "weed in the north".into(), season: None },
            ],
            soundings: vec![PlaceSounding {
                position: at(54.2),
                charted: Metres(2.4),
                on: WatchTime(1_780_430_400_000),
            }],
            rides: vec![PlaceRide {
                let_go: Some(WatchTime(1_780_430_400_000)),
                held: "held 11 h in 30 kn".into(),
            }],
            ..Place::new("Hollow Ness", at(54.2))
        }
    }

    #[test]
    fn a_place_written_is_read_back_the_same_and_grows_at_its_end() {
        let text = place_toml(&hollow());
        assert_eq!(read_place(&text, "hollow.toml").unwrap().value, hollow());
        let more = PlaceRide { let_go: None, held: "held again".into() };
        let grown = format!(
            "# the crew's own words\n{text}{}",
            additions_toml(&[], &[], std::slice::from_ref(&more))
        );
        let read = read_place(&grown, "hollow.toml").unwrap().value;
        assert_eq!(read.rides.last(), Some(&more));
    }

    #[test]
    fn what_is_wrong_is_named_with_key_line_and_range() {
        let says = |text: &str| read_place(text, "x.toml").unwrap_err().to_string();
        assert!(says("").contains("needs a name"));
        let wrong = says("[place]\nname = \"x\"\nlat = 99\nlon = 10\ncolour = 3\n");
        assert!(wrong.contains("lat") && wrong.contains("-90 to 90") && wrong.contains("colour"), "{wrong}");
        let place = "[place]\nname = \"x\"\nlat = 54\nlon = 10\n";
        assert!(
            says(&format!("{place}[[note]]\ntext = \"a\"\nfrom = \"13-01\"\nto = \"02-01\""))
                .contains("like")
        );
        assert!(
            says(&format!("{place}[[note]]\ntext = \"a\"\nfrom = \"03-01\"")).contains("both from and to")
        );
        assert!(says(&format!("{place}[[sounding]]\nlat = 54\nlon = 10")).contains("charted_m"));
    }
}
