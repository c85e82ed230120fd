//! `[alerts]` of `boat.toml`: what happens on an alert beside the screen.

use super::reader::{Log, Table};

/// What happens on an alert beside the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AlertSettings {
    /// Whether the sound card is used at all. The terminal bell rings in any case.
    pub sound: bool,
    /// A command to run at each change of an alert, and its arguments; empty for none.
    pub hook: Vec<String>,
    /// Where alert sentences are sent, as written.
    pub out: Vec<String>,
    /// The maker's code in those sentences: three capital letters, or empty for none.
    pub maker: String,
}

impl Default for AlertSettings {
    fn default() -> Self {
        Self { sound: true, hook: Vec::new(), out: Vec::new(), maker: String::new() }
    }
}

/// A command and its arguments.
const MOST_HOOK_WORDS: usize = 32;
/// More listeners than any boat has panels.
const MOST_SINKS: usize = 8;

pub(super) fn read_alerts(log: &mut Log, doc: &mut Table) -> AlertSettings {
    let mut table = doc.table(log, "alerts");
    let alerts = AlertSettings {
        sound: table.flag(log, "sound").unwrap_or(true),
        hook: table.texts(log, "hook", MOST_HOOK_WORDS),
        out: table.texts(log, "out", MOST_SINKS),
        maker: read_maker(log, &mut table),
    };
    table.finish(log);
    alerts
}

/// Three capital letters: as makers of equipment have them registered.
fn read_maker(log: &mut Log, table: &mut Table) -> String {
    let Some((maker, place)) = table.text(log, "maker") else { return String::new() };
    if maker.len() == 3 && maker.bytes().all(|byte| byte.is_ascii_uppercase()) {
        return maker;
    }
    let what = format!(
        "maker is {maker:?}; it must be the three capital letters of a registered maker of equipment, like \"XYZ\""
    );
    log.wrong(place, "alerts.maker", what);
    String::new()
}

#[cfg(test)]
mod tests {
    use crate::config::read_boat;

    #[test]
    fn a_makers_code_is_three_capital_letters_or_none() {
        let read = |text: &str| read_boat(&format!("[alerts]\nmaker = {text}\n"), "boat.toml");
        assert_eq!(read("\"XYZ\"").unwrap().value.alerts.maker, "XYZ");
        for wrong in ["\"xyz\"", "\"XY\"", "\"XY,\"", "\"XYZW\"", "\"Ä1\"", "3"] {
            assert!(read(wrong).unwrap_err().to_string().contains("maker"), "{wrong}");
        }
        assert_eq!(read_boat("", "boat.toml").unwrap().value.alerts.maker, "");
    }
}
