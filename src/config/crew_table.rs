//! `[crew]` in `boat.toml`: who they are, whose watch it is, what they look at on a round.

use super::reader::{Log, Place, Table, text_of};
use crate::watch::boat::{Crew, RotaTurn};

/// Turns of a rota, and items of the crew's own: more than anybody has.
const MOST_TURNS: usize = 24;
const MOST_CHECKS: usize = 20;
/// Minutes of a day.
const DAY_MIN: i32 = 1440;

/// Reads the table. Without it nobody is named.
pub(super) fn read_crew(log: &mut Log, doc: &mut Table) -> Crew {
    let mut table = doc.table(log, "crew");
    let names = table.list(log, "names", "names, like [\"Tove\", \"Ansel\"]").unwrap_or_default();
    let names: Vec<String> =
        names.iter().filter_map(|name| text_of(log, "crew.names", "a name", name)).collect();
    let offset_min = read_offset(log, &mut table);
    let rota = read_rota(log, &mut table, offset_min, &names);
    let own_checks = table.texts(log, "round_checks", MOST_CHECKS);
    table.finish(log);
    Crew { names, rota, own_checks }
}

/// How far the rota's hours are ahead of UTC, in minutes; `None` if it is not said.
fn read_offset(log: &mut Log, table: &mut Table) -> Option<i32> {
    let (text, place) = table.text(log, "utc_offset")?;
    let offset = offset_of(&text);
    if offset.is_none() {
        let what = format!(
            "utc_offset is {text:?}; it must be the hours by which the rota's clock is ahead of UTC, like \"+02:00\", \
             or \"Z\" for UTC"
        );
        log.wrong(place, "crew.utc_offset", what);
    }
    offset
}

/// `Z`, `+02:00`, `-3:30`: minutes ahead of UTC.
fn offset_of(text: &str) -> Option<i32> {
    if text == "Z" {
        return Some(0);
    }
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let minutes = minutes_of(rest)?;
    (minutes <= 14 * 60).then_some(sign * minutes)
}

/// `4:05`, `04:05`: minutes since midnight.
fn minutes_of(text: &str) -> Option<i32> {
    let (hours, minutes) = text.split_once(':')?;
    let number = |digits: &str, most: i32| {
        let plain = (1..=2).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
        digits.parse::<i32>().ok().filter(|number| plain && *number <= most)
    };
    Some(number(hours, 23)? * 60 + number(minutes, 59)?)
}

fn read_rota(log: &mut Log, table: &mut Table, offset_min: Option<i32>, names: &[String]) -> Vec<RotaTurn> {
    let tables = table.tables(log, "rota");
    if let (Some(first), None) = (tables.first(), offset_min) {
        let what = "the rota has hours, but it is not said in which zone: write utc_offset = \"+02:00\" beside it, or \
                    \"Z\" for UTC";
        log.wrong(first.place.clone(), "crew.rota", what.into());
    }
    if let Some(one_too_many) = tables.get(MOST_TURNS) {
        let what = format!("more than {MOST_TURNS} turns");
        log.wrong(one_too_many.place.clone(), "crew.rota", what);
    }
    let offset_min = offset_min.unwrap_or(0);
    tables.into_iter().take(MOST_TURNS).filter_map(|turn| read_turn(log, turn, offset_min, names)).collect()
}

fn read_turn(log: &mut Log, mut turn: Table, offset_min: i32, names: &[String]) -> Option<RotaTurn> {
    let name = turn.text(log, "name");
    let from = read_hour(log, &mut turn, "from", offset_min);
    let to = read_hour(log, &mut turn, "to", offset_min);
    if name.is_none() || from.is_none() || to.is_none() {
        let what = "a turn needs name, from and to: { name = \"Tove\", from = \"20:00\", to = \"00:00\" }";
        log.wrong(turn.place.clone(), "crew.rota", what.into());
    }
    turn.finish(log);
    let (name, place) = name?;
    doubt_name(log, &name, place, names);
    Some(RotaTurn { name, from_min: from?, to_min: to? })
}

/// An hour of the rota's clock as a minute of the UTC day.
fn read_hour(log: &mut Log, turn: &mut Table, key: &'static str, offset_min: i32) -> Option<u16> {
    let (text, place) = turn.text(log, key)?;
    let Some(minutes) = minutes_of(&text) else {
        let what = format!("{key} is {text:?}; it must be an hour of the day like \"04:00\"");
        log.wrong(place, &format!("crew.rota.{key}"), what);
        return None;
    };
    // Within a day: it fits.
    Some((minutes - offset_min).rem_euclid(DAY_MIN) as u16)
}

fn doubt_name(log: &mut Log, name: &str, place: Place, names: &[String]) {
    if !names.is_empty() && !names.iter().any(|known| known == name) {
        log.odd(
            place,
            "crew.rota.name",
            format!("the rota names {name:?}, who is not among the crew's names"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::read_boat;
    use super::*;

    fn crew(text: &str) -> Result<Crew, String> {
        let text = format!("[crew]\n{text}");
        read_boat(&text, "boat.toml").map(|read| read.value.settings.crew).map_err(|p| p.to_string())
    }

    #[test]
    fn hours_of_the_rota_are_kept_in_utc() {
        let rota = "rota = [{ name = \"Tove\", from = \"20:00\", to = \"00:00\" }, \
                    { name = \"Ansel\", from = \"0:30\", to = \"04:00\" }]";
        let turns = |offset: &str| crew(&format!("utc_offset = \"{offset}\"\n{rota}")).unwrap().rota;
        let hours = |turns: &[RotaTurn]| turns.iter().map(|t| (t.from_min, t.to_min)).collect::<Vec<_>>();
        assert_eq!(hours(&turns("Z")), [(1200, 0), (30, 240)]);
        assert_eq!(hours(&turns("+02:00")), [(1080, 1320), (1350, 120)]);
        assert_eq!(hours(&turns("-03:30")), [(1410, 210), (240, 450)]);
    }

    #[test]
    fn hours_without_a_zone_are_refused() {
        let text = crew("rota = [{ name = \"Tove\", from = \"20:00\", to = \"00:00\" }]").unwrap_err();
        assert!(text.contains("line 2") && text.contains("in which zone"), "{text}");
    }

    #[test]
    fn slips_in_the_rota_are_named() {
        for (text, entered) in [
            ("utc_offset = \"CEST\"", "utc_offset is \"CEST\"; it must be"),
            ("utc_offset = \"+15:00\"", "utc_offset is \"+15:00\""),
            (
                "utc_offset = \"Z\"\nrota = [{ name = \"Tove\", from = \"20\", to = \"00:00\" }]",
                "from is \"20\"",
            ),
            (
                "utc_offset = \"Z\"\nrota = [{ name = \"Tove\", from = \"24:00\", to = \"2:00\" }]",
                "from is \"24:00\"",
            ),
            ("utc_offset = \"Z\"\nrota = [{ name = \"Tove\" }]", "a turn needs name, from and to"),
            ("round_checks = [1]", "round_checks"),
        ] {
            let problems = crew(text).unwrap_err();
            assert!(problems.contains(entered), "{problems}");
        }
    }

    #[test]
    fn a_stranger_in_the_rota_is_doubted() {
        let text = "[crew]\nnames = [\"Tove\"]\nutc_offset = \"Z\"\n\
                    rota = [{ name = \"Tobe\", from = \"20:00\", to = \"00:00\" }]";
        let doubts = read_boat(text, "boat.toml").unwrap().doubts.to_string();
        assert!(doubts.contains("names \"Tobe\""), "{doubts}");
    }

    #[test]
    fn own_checks_are_kept_in_their_order() {
        let crew = crew("round_checks = [\"bilge\", \"painter of the dinghy\"]").unwrap();
        assert_eq!(crew.own_checks, ["bilge", "painter of the dinghy"]);
    }
}
