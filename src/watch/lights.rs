//! What must a vessel at anchor show, by day and by night?
//!
//! # Source
//! COLREG 1972 as amended: Rule 20 (when), 22 (how far lights are seen), 30 (anchored vessels), Annex I (shapes). Local
//! rules come first: harbours, inland waters and special anchorages have their own.

use super::units::{Metres, WatchTime};

/// One thing to show, and the rule that asks for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// What, in words.
    pub what: &'static str,
    /// The same in as few words as a list of things to look at has.
    pub short: &'static str,
    /// The rule.
    pub rule: &'static str,
}

/// What is to be shown now and next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LightsView {
    /// The sun is up; `None` while place or date are not known.
    pub sun_up: Option<bool>,
    /// What is to be shown now.
    pub now: Vec<Shown>,
    /// Until then: the next rising or setting; `None` where none comes within a day and a half.
    pub until: Option<WatchTime>,
    /// What is to be shown after that.
    pub then: Vec<Shown>,
    /// What else is worth knowing for a vessel of her length.
    pub notes: Vec<&'static str>,
}

impl LightsView {
    /// The law, for whoever asks: what is shown now and next, by which rules, and what else is worth knowing.
    #[must_use]
    pub fn law(&self) -> Vec<String> {
        let list = |shown: &[Shown]| {
            shown.iter().map(|one| format!("{} ({})", one.what, one.rule)).collect::<Vec<_>>().join("; ")
        };
        let mut lines = Vec::new();
        if !self.now.is_empty() {
            lines.push(format!("Now: {}.", list(&self.now)));
        }
        if !self.then.is_empty() {
            let when = if self.sun_up == Some(true) { "From sunset" } else { "From sunrise" };
            lines.push(format!("{when}: {}.", list(&self.then)));
        }
        lines.extend(self.notes.iter().map(|note| (*note).to_owned()));
        lines
    }
}

/// From here on lengths have rules of their own, metres.
const SEVEN: Metres = Metres(7.0);
const TWELVE: Metres = Metres(12.0);
const TWENTY: Metres = Metres(20.0);
const FIFTY: Metres = Metres(50.0);
const HUNDRED: Metres = Metres(100.0);

/// By day: the ball.
#[must_use]
pub fn by_day() -> Vec<Shown> {
    vec![Shown {
        what: "one black ball forward, where it can best be seen",
        short: "ball",
        rule: "Rule 30(a)(i)",
    }]
}

/// From sunset to sunrise, and by day in restricted visibility (Rule 20).
#[must_use]
pub fn by_night(loa: Metres) -> Vec<Shown> {
    let mut shown = if loa < FIFTY {
        let rule = if loa < TWELVE { "Rules 30(b), 22(c)" } else { "Rules 30(b), 22(b)" };
        vec![Shown {
            what: "one all-round white light where it can best be seen, visible 2 miles",
            short: "anchor light",
            rule,
        }]
    } else {
        vec![
            Shown {
                what: "an all-round white light forward, visible 3 miles",
                short: "light forward",
                rule: "Rules 30(a)(i), 22(a)",
            },
            Shown {
                what: "a second one at or near the stern, lower than the first",
                short: "light aft",
                rule: "Rule 30(a)(ii)",
            },
        ]
    };
    if loa >= HUNDRED {
        shown.push(Shown { what: "working lights over the decks", short: "deck lights", rule: "Rule 30(c)" });
    }
    shown
}

/// What else a vessel of that length should know.
#[must_use]
pub fn notes(loa: Metres) -> Vec<&'static str> {
    let mut notes = Vec::new();
    if loa < SEVEN {
        notes.push(
            "Under 7 m neither light nor ball is required away from narrow channels, fairways, anchorages and places where \
             others normally navigate (Rule 30(e)).",
        );
    }
    notes.push("In fog by day the lights too (Rule 20).");
    notes.push(in_fog(loa));
    notes.push("A second light low in the cockpit shows her to a dinghy (common practice, no source).");
    notes.push("Local rules come first.");
    notes
}

/// What she sounds at anchor in restricted visibility: Rule 35(g), and for small vessels (i) and (j), the former since the amendments
/// of 2001 (IMO resolution A.910(22)); from memory.
#[must_use]
pub fn in_fog(loa: Metres) -> &'static str {
    if loa < TWELVE {
        "In fog the bell for 5 s each minute, or another efficient signal every 2 min at most (Rule 35(g), (j))."
    } else if loa < TWENTY {
        "In fog the bell for 5 s each minute, or another efficient signal every 2 min at most (Rule 35(g), (i))."
    } else {
        "In fog the bell rapidly for 5 s each minute; from 100 m on a gong aft as well (Rule 35(g))."
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rules(loa: f64) -> String {
        by_night(Metres(loa)).iter().map(|shown| shown.rule).collect::<Vec<_>>().join("; ")
    }

    /// Source: the rule texts as listed in the reference facts (Rules 22 and 30).
    #[test]
    fn lights_by_length_are_those_of_rules_22_and_30() {
        assert_eq!(rules(9.6), "Rules 30(b), 22(c)");
        assert_eq!(rules(12.0), "Rules 30(b), 22(b)");
        assert_eq!(rules(49.9), "Rules 30(b), 22(b)");
        assert_eq!(rules(50.0), "Rules 30(a)(i), 22(a); Rule 30(a)(ii)");
        assert!(rules(100.0).ends_with("Rule 30(c)"));
        assert!(by_night(Metres(9.6))[0].what.contains("2 miles"));
        assert!(by_night(Metres(60.0))[0].what.contains("3 miles"));
    }

    /// From memory: the bell may give way to another signal below 12 m since 1972, below 20 m since the amendments of 2001.
    #[test]
    fn below_twenty_metres_another_signal_may_stand_for_the_bell_in_fog() {
        assert!(in_fog(Metres(11.9)).contains("35(g), (j)"));
        assert!(in_fog(Metres(12.0)).contains("35(g), (i)") && in_fog(Metres(19.9)).contains("every 2 min"));
        assert!(!in_fog(Metres(20.0)).contains("another"));
    }

    /// There is no exemption between 7 and 20 m in the international rules: the one below 20 m is of inland rules only.
    #[test]
    fn only_below_seven_metres_and_away_from_others_nothing_is_required() {
        let exempt = |loa: f64| notes(Metres(loa)).iter().any(|note| note.contains("30(e)"));
        assert!(exempt(6.9) && !exempt(7.0) && !exempt(9.6) && !exempt(19.0));
        assert_eq!(by_day()[0].rule, "Rule 30(a)(i)");
    }
}
