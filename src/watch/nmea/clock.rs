//! ZDA: time and date.

use super::field::Fields;
use super::observation::Observation;
use super::outcome::{Rejected, Remark};

/// Time, day, month, year, local zone. The zone is not used: everything here is UTC.
pub(super) fn zda(fields: &mut Fields<'_>, out: &mut Vec<Observation>) -> Result<(), Rejected> {
    let time = fields.time();
    let [day, month, year] = [fields.whole(), fields.whole(), fields.whole()];
    let date = match (year, month, day) {
        (Some(year), Some(month), Some(day)) => fields.checked_date(year, month, day),
        (None, None, None) => None,
        _ => {
            fields.note(Remark::BadDate);
            None
        }
    };
    out.extend(time.map(|time| Observation::Utc { time, date }));
    Ok(())
}
