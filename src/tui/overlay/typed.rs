//! What the crew types, read: bearings, positions, sectors. Numbers are read by their [`crate::watch::boat::ranges`].

use crate::watch::boat::Sector;
use crate::watch::boat::ranges::range;
use crate::watch::geo::Position;
use crate::watch::units::TrueBearing;

/// Reads a true bearing, `047` or `47°`.
///
/// # Errors
/// What is wrong with it, in words.
pub fn bearing(text: &str) -> Result<TrueBearing, String> {
    range("°", 0.0, 360.0).read(text).map(TrueBearing::new).map_err(|wrong| wrong.to_string())
}

/// Reads a bearing that says which north it is from: `052 M` by a compass, `048 T` true.
///
/// # Errors
/// What is wrong with it, in words.
pub fn bearing_with_north(text: &str, variation_deg: Option<f64>) -> Result<TrueBearing, String> {
    let text = text.trim();
    let (number, north) = text.split_at(text.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(text.len()));
    let degrees = bearing(number.trim().trim_end_matches('°'))?;
    match (north.trim().to_ascii_uppercase().as_str(), variation_deg) {
        ("T" | "TRUE", _) => Ok(degrees),
        ("M" | "MAG" | "MAGNETIC", Some(variation)) => Ok(degrees.turned(variation)),
        ("M" | "MAG" | "MAGNETIC", None) => {
            Err("The variation is not known without a position. Give it true: 048 T.".to_owned())
        }
        _ => Err("By which north? Write 052 M by a compass, 048 T true.".to_owned()),
    }
}

const POSITION: &str = "Write it as 54 12.204 N 10 24.762 E or 54.20340 10.41270.";

/// Reads a position: degrees, `54.2034 10.4127` (south and west negative), or degrees and minutes with their letters,
/// `54 12.20 N 10 24.76 E`.
///
/// # Errors
/// What is wrong with it, in words.
pub fn position(text: &str) -> Result<Position, String> {
    let (lat_deg, lon_deg) = degrees(text).ok_or_else(|| format!("That is not a position. {POSITION}"))?;
    Position::new(lat_deg, lon_deg).map_err(|_| format!("There is no such place on the earth. {POSITION}"))
}

fn degrees(text: &str) -> Option<(f64, f64)> {
    let text = with_points(text);
    let mut spaced = String::new();
    for c in text.chars() {
        match c.to_ascii_uppercase() {
            letter @ ('N' | 'S' | 'E' | 'W') => spaced.extend([' ', letter, ' ']),
            '°' | '\'' | '′' | '"' | '″' | ',' | ';' => spaced.push(' '),
            other => spaced.push(other),
        }
    }
    let words: Vec<&str> = spaced.split_whitespace().collect();
    if let [lat, lon] = words[..] {
        return Some((number(lat)?, number(lon)?));
    }
    let split = words.iter().position(|word| matches!(*word, "N" | "S"))?;
    let (lat, lon) = words.split_at(split + 1);
    Some((angle(lat, "N", "S")?, angle(lon, "E", "W")?))
}

/// With points for decimal commas: a comma between two digits, unless points are written for the decimals already.
fn with_points(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let is_digit = |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(char::is_ascii_digit);
    let is_decimal = |at: usize| !text.contains('.') && is_digit(at.checked_sub(1)) && is_digit(Some(at + 1));
    chars.iter().enumerate().map(|(at, c)| if *c == ',' && is_decimal(at) { '.' } else { *c }).collect()
}

/// Degrees, then perhaps minutes and seconds, then the letter.
fn angle(words: &[&str], plus: &str, minus: &str) -> Option<f64> {
    let (letter, parts) = words.split_last()?;
    let sign = if *letter == plus { 1.0 } else { -1.0 };
    if (*letter != plus && *letter != minus) || !(1..=3).contains(&parts.len()) {
        return None;
    }
    let mut degrees = 0.0;
    for (i, part) in parts.iter().enumerate() {
        let value = number(part)?;
        if value < 0.0 || (i > 0 && value >= 60.0) {
            return None;
        }
        degrees += value / [1.0, 60.0, 3600.0][i];
    }
    Some(sign * degrees)
}

fn number(word: &str) -> Option<f64> {
    word.parse().ok().filter(|value: &f64| value.is_finite())
}

/// Reads sectors, clockwise: `330-030, 200-290`. Nothing means none.
///
/// # Errors
/// What is wrong, in words.
pub fn sectors(text: &str) -> Result<Vec<Sector>, String> {
    text.split([',', ';']).map(str::trim).filter(|one| !one.is_empty()).map(sector).collect()
}

fn sector(text: &str) -> Result<Sector, String> {
    let (from, to) = text
        .split_once('-')
        .ok_or_else(|| format!("\"{text}\" is not a sector. Write 330-030, clockwise."))?;
    Ok(Sector { from: bearing(from)?, to: bearing(to)? })
}

/// Sectors as they are typed.
#[must_use]
pub fn sectors_text(sectors: &[Sector]) -> String {
    let one = |s: &Sector| format!("{:03.0}-{:03.0}", s.from.degrees(), s.to.degrees());
    sectors.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// A number as it is typed: no more decimals than it has.
#[must_use]
pub fn plain(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_is_read_in_degrees_or_degrees_and_minutes() {
        for text in [
            "54.5 -10.25",
            "54.5, -10.25",
            "54 30 N 10 15 W",
            "54°30.0'N 010°15.0'W",
            "54 30 0 n 10 15 0 w",
            "54 30,0 N 10 15,0 W",
            "54°30.000′N  010°15.000′W",
            "54,5 -10,25",
        ] {
            let at = position(text).unwrap();
            assert!((at.lat_deg() - 54.5).abs() < 1e-9 && (at.lon_deg() + 10.25).abs() < 1e-9, "{text}");
        }
        for text in ["", "54", "54 61 N 10 0 E", "91 10", "N E", "54 N", "a b", "10 E 54 N"] {
            assert!(position(text).is_err(), "{text}");
        }
    }

    #[test]
    fn sectors_are_read_as_they_are_written() {
        let read = sectors("330-030, 200-290").unwrap();
        assert_eq!((read.len(), sectors_text(&read).as_str()), (2, "330-030, 200-290"));
        assert_eq!(sectors(" ").unwrap(), []);
        assert!(sectors("330").is_err() && sectors("330-400").is_err());
        assert_eq!((plain(35.0).as_str(), plain(0.5).as_str()), ("35", "0.5"));
    }
}
