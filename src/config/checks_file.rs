//! `checks.toml`: the crew's own check lists.

use super::Read;
use super::problem::Problems;
use super::reader::{Log, Table};
use crate::watch::checks::Checks;

/// Lines of a list: more are not looked at.
const LINES_MAX: usize = 30;

/// Reads `checks.toml`: lists `before`, `leaving` and `weighing`; one that is missing is the usual one. `file` is its name
/// as it stands in messages.
///
/// # Errors
/// Everything wrong with it: what is not TOML, unknown keys, what is no list of words.
pub fn read_checks(text: &str, file: &str) -> Result<Read<Checks>, Problems> {
    let (mut log, mut doc) = Log::parse(text);
    let usual = Checks::default();
    let mut list = |doc: &mut Table, key: &'static str, usual: Vec<String>| {
        let own = doc.texts(&mut log, key, LINES_MAX);
        if own.is_empty() { usual } else { own }
    };
    let value = Checks {
        before: list(&mut doc, "before", usual.before),
        leaving: list(&mut doc, "leaving", usual.leaving),
        weighing: list(&mut doc, "weighing", usual.weighing),
    };
    doc.finish(&mut log);
    Ok(Read { value, doubts: log.judge(file)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_crews_own_list_takes_the_place_of_the_usual_one() {
        let read = read_checks("weighing = [\"kettle off\", \"engine on\"]", "checks.toml").unwrap();
        assert_eq!(read.value.weighing, ["kettle off", "engine on"]);
        assert_eq!(read.value.before, Checks::default().before);
    }

    #[test]
    fn a_wrong_key_is_named_with_its_line() {
        let wrong = read_checks("\nlunch = [\"soup\"]", "checks.toml").unwrap_err().to_string();
        assert!(wrong.contains("lunch") && wrong.contains('2'), "{wrong}");
    }
}
