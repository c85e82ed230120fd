//! Whose watch is it, and whose is next?

use crate::watch::boat::RotaTurn;
use crate::watch::rounds::OnWatch;
use crate::watch::units::{Span, WatchTime};

const DAY: Span = Span::from_mins(24 * 60);

/// Who is on watch at `now`: of turns that overlap the first in the list.
#[must_use]
pub fn on_now(rota: &[RotaTurn], now: WatchTime) -> Option<OnWatch> {
    rota.iter().map(|turn| about(turn, now)).find(|turn| turn.from <= now && now < turn.until)
}

/// Who is called next: whose turn begins soonest after `now`.
#[must_use]
pub fn next(rota: &[RotaTurn], now: WatchTime) -> Option<OnWatch> {
    rota.iter().map(|turn| after(turn, now)).min_by_key(|turn| turn.from)
}

/// The turn of the day that began last.
fn about(turn: &RotaTurn, now: WatchTime) -> OnWatch {
    let since_midnight = Span::from_mins(i64::from(turn.from_min));
    let midnight = WatchTime(now.0 - now.0.rem_euclid(DAY.0));
    let today = midnight + since_midnight;
    let from = if today > now { today - DAY } else { today };
    let lasts = (i64::from(turn.to_min) - i64::from(turn.from_min)).rem_euclid(1440);
    let lasts = if lasts == 0 { DAY } else { Span::from_mins(lasts) };
    OnWatch { name: turn.name.as_str().into(), from, until: from + lasts }
}

/// The turn that comes next.
fn after(turn: &RotaTurn, now: WatchTime) -> OnWatch {
    let last = about(turn, now);
    OnWatch { from: last.from + DAY, until: last.until + DAY, ..last }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rota() -> Vec<RotaTurn> {
        let turn = |name: &str, from_h: u16, to_h: u16| RotaTurn {
            name: name.into(),
            from_min: from_h * 60,
            to_min: to_h * 60,
        };
        vec![turn("Tove", 20, 0), turn("Ansel", 0, 4), turn("Tove", 4, 8)]
    }

    /// 2026-06-03, an hour of the day in UTC.
    fn at(hour: f64) -> WatchTime {
        WatchTime(1_780_444_800_000 + (hour * 3_600_000.0) as i64)
    }

    #[test]
    fn the_rota_names_who_is_on_and_who_is_called_next() {
        let names = |hour| {
            let name = |turn: Option<OnWatch>| turn.map(|t| t.name.to_string());
            (name(on_now(&rota(), at(hour))), name(next(&rota(), at(hour))))
        };
        let entered = |on: Option<&str>, next: &str| (on.map(str::to_owned), Some(next.to_owned()));
        assert_eq!(names(22.0), entered(Some("Tove"), "Ansel"));
        assert_eq!(names(24.0), entered(Some("Ansel"), "Tove"), "a turn begins on its minute");
        assert_eq!(names(2.0), entered(Some("Ansel"), "Tove"));
        assert_eq!(names(12.0), entered(None, "Tove"));
        assert_eq!(on_now(&rota(), at(22.0)).unwrap().until, at(24.0));
        assert_eq!((on_now(&[], at(1.0)), next(&[], at(1.0))), (None, None));
    }

    #[test]
    fn a_turn_past_midnight_is_one_turn() {
        let rota = [RotaTurn { name: "Ansel".into(), from_min: 23 * 60, to_min: 3 * 60 }];
        let (before, after) = (on_now(&rota, at(23.5)).unwrap(), on_now(&rota, at(24.5)).unwrap());
        assert_eq!(before, after);
        assert_eq!(before.until.since(before.from), Span::from_mins(240));
    }

    #[test]
    fn the_same_hours_are_a_whole_day() {
        let rota = [RotaTurn { name: "Ansel".into(), from_min: 480, to_min: 480 }];
        for hour in 0..48 {
            assert!(on_now(&rota, at(f64::from(hour))).is_some(), "{hour}");
        }
    }
}
