//! A TOML document read table by table: every key is asked for once, what was not asked for is unknown.

use std::collections::BTreeMap;
use std::ops::Range;

use jiff::Timestamp;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::keys::Bounds;
use super::problem::{Problem, Problems};
use crate::watch::units::WatchTime;

/// Longest text that a key may hold, in characters.
const LONGEST_TEXT: usize = 200;

/// What has been found wrong or odd so far.
pub(super) struct Log<'a> {
    text: &'a str,
    wrong: Vec<Problem>,
    odd: Vec<Problem>,
}

impl<'a> Log<'a> {
    /// Reads the document; what is not TOML is logged and left out.
    pub(super) fn parse(text: &'a str) -> (Self, Table<'a>) {
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut log = Self { text, wrong: Vec::new(), odd: Vec::new() };
        for error in errors {
            let what = format!("this is not TOML: {}", error.message());
            log.wrong(error.span().unwrap_or_default(), "", what);
        }
        (log, Table::new(String::new(), table))
    }

    pub(super) fn wrong(&mut self, span: Range<usize>, key: &str, what: String) {
        self.wrong.push(Problem::at(self.text, span, key.to_owned(), what));
    }

    pub(super) fn odd(&mut self, span: Range<usize>, key: &str, what: String) {
        self.odd.push(Problem::at(self.text, span, key.to_owned(), what));
    }

    /// All that was odd, if nothing was wrong; else all that was wrong.
    pub(super) fn judge(self, file: &str) -> Result<Problems, Problems> {
        let in_order = |mut list: Vec<Problem>| {
            list.sort_by_key(|problem| problem.line);
            Problems { file: file.to_owned(), list }
        };
        if self.wrong.is_empty() { Ok(in_order(self.odd)) } else { Err(in_order(self.wrong)) }
    }
}

/// A value and where it stands.
pub(super) type Place = Range<usize>;

/// One table of the document. Keys leave it as they are read.
pub(super) struct Table<'a> {
    /// Its name with a dot behind it, or empty for the whole document.
    prefix: String,
    /// Where the table stands.
    pub(super) place: Place,
    rest: BTreeMap<String, (Place, Spanned<DeValue<'a>>)>,
    known: Vec<&'static str>,
}

impl<'a> Table<'a> {
    fn new(prefix: String, table: Spanned<DeTable<'a>>) -> Self {
        let place = table.span();
        let rest = table
            .into_inner()
            .into_iter()
            .map(|(key, value)| {
                let span = key.span();
                (key.into_inner().into_owned(), (span, value))
            })
            .collect();
        Self { prefix, place, rest, known: Vec::new() }
    }

    fn take(&mut self, key: &'static str) -> Option<Spanned<DeValue<'a>>> {
        self.known.push(key);
        self.rest.remove(key).map(|(_, value)| value)
    }

    pub(super) fn full(&self, key: &str) -> String {
        format!("{}{key}", self.prefix)
    }

    /// A table inside this one; empty if it is missing.
    pub(super) fn table(&mut self, log: &mut Log, key: &'static str) -> Table<'a> {
        self.table_if_any(log, key).unwrap_or_else(|| self.empty(key))
    }

    fn empty(&self, key: &str) -> Table<'a> {
        Self {
            prefix: format!("{}{key}.", self.prefix),
            place: 0..0,
            rest: BTreeMap::new(),
            known: Vec::new(),
        }
    }

    /// A table inside this one, if it is there.
    pub(super) fn table_if_any(&mut self, log: &mut Log, key: &'static str) -> Option<Table<'a>> {
        let value = self.take(key)?;
        self.as_table(log, key, value)
    }

    fn as_table(&self, log: &mut Log, key: &str, value: Spanned<DeValue<'a>>) -> Option<Table<'a>> {
        let span = value.span();
        match value.into_inner() {
            DeValue::Table(table) => {
                Some(Table::new(format!("{}{key}.", self.prefix), Spanned::new(span, table)))
            }
            other => {
                log.wrong(span, &self.full(key), format!("{key} is {}; it must be a table", found(&other)));
                None
            }
        }
    }

    /// A list of tables: `[[feed]]`. Empty if it is missing.
    pub(super) fn tables(&mut self, log: &mut Log, key: &'static str) -> Vec<Table<'a>> {
        self.list(log, key, "tables")
            .unwrap_or_default()
            .into_iter()
            .filter_map(|value| self.as_table(log, key, value))
            .collect()
    }

    /// A list, if it is there.
    pub(super) fn list(
        &mut self,
        log: &mut Log,
        key: &'static str,
        of: &str,
    ) -> Option<Vec<Spanned<DeValue<'a>>>> {
        let value = self.take(key)?;
        let span = value.span();
        match value.into_inner() {
            DeValue::Array(array) => Some(array.into_iter().collect()),
            other => {
                let what = format!("{key} is {}; it must be a list of {of}", found(&other));
                log.wrong(span, &self.full(key), what);
                None
            }
        }
    }

    /// A number within its bounds, if it is there and right.
    pub(super) fn number(&mut self, log: &mut Log, bounds: &Bounds) -> Option<(f64, Place)> {
        let value = self.take(bounds.key)?;
        let place = value.span();
        let number = number_within(log, &self.full(bounds.key), bounds, &value)?;
        Some((number, place))
    }

    /// A line of text that may be shown on the screen, if it is there and right.
    pub(super) fn text(&mut self, log: &mut Log, key: &'static str) -> Option<(String, Place)> {
        let value = self.take(key)?;
        let place = value.span();
        text_of(log, &self.full(key), key, &value).map(|text| (text, place))
    }

    /// A text, or a list of at most `most` texts. Empty ones are left out.
    pub(super) fn texts(&mut self, log: &mut Log, key: &'static str, most: usize) -> Vec<String> {
        let Some(value) = self.take(key) else { return Vec::new() };
        let full = self.full(key);
        let single = std::slice::from_ref(&value);
        let values = value.get_ref().as_array().map_or(single, |list| list.as_ref());
        if values.len() > most {
            log.wrong(
                value.span(),
                &full,
                format!("{key} has {} parts; at most {most} are allowed", values.len()),
            );
        }
        let texts = values.iter().filter_map(|value| text_of(log, &full, key, value));
        texts.filter(|text| !text.is_empty()).collect()
    }

    /// `true` or `false`, if it is there and right.
    pub(super) fn flag(&mut self, log: &mut Log, key: &'static str) -> Option<bool> {
        let value = self.take(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            let what = format!("{key} is {}; it must be true or false", found(value.get_ref()));
            log.wrong(value.span(), &self.full(key), what);
        }
        flag
    }

    /// A moment in UTC, written as a TOML date-time or as text, if it is there and right.
    pub(super) fn time(&mut self, log: &mut Log, key: &'static str) -> Option<WatchTime> {
        let value = self.take(key)?;
        let written = match value.get_ref() {
            DeValue::Datetime(time) => time.to_string(),
            DeValue::String(text) => text.to_string(),
            _ => String::new(),
        };
        match written.parse::<Timestamp>() {
            Ok(time) => Some(WatchTime(time.as_millisecond())),
            Err(_) => {
                let what = format!(
                    "{key} is {}; it must be a time with its zone, like 2026-06-03T02:14:00Z",
                    found(value.get_ref())
                );
                log.wrong(value.span(), &self.full(key), what);
                None
            }
        }
    }

    /// A moment as a crew writes it, `18:30` or a TOML date-time, left to whoever knows its clock.
    pub(super) fn time_as_written(&mut self, log: &mut Log, key: &'static str) -> Option<String> {
        let value = self.take(key)?;
        match value.get_ref() {
            DeValue::Datetime(time) => Some(time.to_string()),
            _ => text_of(log, &self.full(key), key, &value),
        }
    }

    /// True if the key is there; it stays to be read.
    pub(super) fn has(&self, key: &str) -> bool {
        self.rest.contains_key(key)
    }

    /// Logs every key that nobody asked for.
    pub(super) fn finish(self, log: &mut Log) {
        for (key, (place, _)) in &self.rest {
            let hint = nearest(key, &self.known).map_or_else(
                || format!("known here: {}", self.known.join(", ")),
                |known| format!("do you mean {known}?"),
            );
            let shown: String = key.chars().take(40).collect();
            let what = format!("unknown key {shown:?}; {hint}");
            log.wrong(place.clone(), &self.full(key), what);
        }
    }
}

/// A value as a number within bounds.
pub(super) fn number_within(
    log: &mut Log,
    full: &str,
    bounds: &Bounds,
    value: &Spanned<DeValue>,
) -> Option<f64> {
    let number = match value.get_ref() {
        DeValue::Integer(integer) => {
            i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|number| number as f64)
        }
        DeValue::Float(float) => float.as_str().parse().ok(),
        other => {
            let what = format!("{} is {}; it must be a number, {}", bounds.key, found(other), bounds.range);
            log.wrong(value.span(), full, what);
            return None;
        }
    };
    // A number too long for 64 bits is out of any range here; so is "nan".
    let inside = number.filter(|number| bounds.range.holds(*number));
    if inside.is_none() {
        let what =
            format!("{} is {}; it must lie within {}", bounds.key, found(value.get_ref()), bounds.range);
        log.wrong(value.span(), full, what);
    }
    // Minus nothing is nothing.
    inside.map(|number| number + 0.0)
}

/// A value as one line of text.
pub(super) fn text_of(log: &mut Log, full: &str, key: &str, value: &Spanned<DeValue>) -> Option<String> {
    let text = value.get_ref().as_str();
    let right =
        text.filter(|text| text.chars().count() <= LONGEST_TEXT && !text.chars().any(char::is_control));
    if right.is_none() {
        let what = match text {
            None => format!("{key} is {}; it must be text between quotes", found(value.get_ref())),
            Some(_) => format!("{key} must be one line of at most {LONGEST_TEXT} characters"),
        };
        log.wrong(value.span(), full, what);
    }
    right.map(str::to_owned)
}

/// What stands there, short enough for a message.
fn found(value: &DeValue) -> String {
    let shown = match value {
        DeValue::String(text) => format!("the text {:?}", text.chars().take(30).collect::<String>()),
        DeValue::Integer(number) => number.to_string(),
        DeValue::Float(number) => number.to_string(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(_) => "a list".into(),
        DeValue::Table(_) => "a table".into(),
    };
    shown.chars().take(60).collect()
}

/// The known key that looks most like `key`, if any does.
fn nearest<'k>(key: &str, known: &[&'k str]) -> Option<&'k str> {
    let key: Vec<char> = key.chars().take(40).collect();
    known
        .iter()
        .map(|known| (distance(&key, known), *known))
        .min()
        .filter(|(distance, known)| *distance <= known.len() / 2)
        .map(|(_, known)| known)
}

/// Edit distance (Levenshtein 1966): insertions, deletions and replacements from one to the other.
fn distance(a: &[char], b: &str) -> usize {
    let mut row: Vec<usize> = (0..=a.len()).collect();
    for (i, cb) in b.chars().enumerate() {
        let mut diagonal = std::mem::replace(&mut row[0], i + 1);
        for (j, ca) in a.iter().enumerate() {
            let replaced = diagonal + usize::from(*ca != cb);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[a.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_finds_its_key() {
        let known = ["loa_m", "beam_m", "draft_m", "antenna_aft_of_bow_m"];
        assert_eq!(nearest("draught_m", &known), Some("draft_m"));
        assert_eq!(nearest("drafft_m", &known), Some("draft_m"));
        assert_eq!(nearest("antenna_aft_m", &known), Some("antenna_aft_of_bow_m"));
        assert_eq!(nearest("colour", &known), None);
        assert_eq!(nearest("loam", &known), Some("loa_m"));
    }
}
