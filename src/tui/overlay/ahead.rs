//! The forms for the night ahead: the wind by the hour, and the way out.

use jiff::Timestamp;
use jiff::tz::Offset;

use super::form::{Field, Form, Wrong};
use super::purpose::Purpose;
use crate::tui::text::Clock;
use crate::watch::ahead::{NightAhead, foresee};
use crate::watch::forecast::{self, Forecast};
use crate::watch::snapshot::Snapshot;
use crate::watch::way_out::WayOut;

/// The form for the wind by the hour, with what was entered before.
#[must_use]
pub fn wind(snap: &Snapshot, clock: &Clock) -> (Purpose, Form) {
    let before = snap.ahead.forecast.as_ref();
    let before = before.map_or_else(String::new, |winds| forecast::in_words(winds, offset(snap, clock)));
    let about =
        "Hour, direction true, knots, gusts: 18: SW 15 g22, 00: W 25 g35, 04: NW 18. Left empty: none.";
    (Purpose::WindAhead, Form::new(vec![Field::words("wind by the hour", &before, about)]))
}

/// The form for the way out, with what was entered before.
#[must_use]
pub fn way_out(snap: &Snapshot) -> (Purpose, Form) {
    let before = snap.way_out.map_or_else(String::new, |way| way.typed());
    let about = "From the chart: the true course that is safe from here, and nautical miles: 140 0.4. Left empty: none.";
    (Purpose::WayOut, Form::new(vec![Field::words("way out", &before, about)]))
}

/// How far the clock of the screen is ahead of UTC now.
fn offset(snap: &Snapshot, clock: &Clock) -> Offset {
    clock.zone().to_offset(Timestamp::from_millisecond(snap.at.0).unwrap_or(Timestamp::UNIX_EPOCH))
}

/// The wind in the form; `None` where nothing stands there.
///
/// # Errors
/// What is wrong with the line.
pub fn read_wind(form: &Form, snap: &Snapshot, clock: &Clock) -> Result<Option<Forecast>, Wrong> {
    form.read(0, |text| match text.trim() {
        "" => Ok(None),
        text => forecast::parse(text, snap.at, offset(snap, clock)).map(Some),
    })
}

/// The way out in the form; `None` where nothing stands there.
///
/// # Errors
/// What is wrong with it.
pub fn read_way_out(form: &Form) -> Result<Option<WayOut>, Wrong> {
    form.read(0, |text| match text.trim() {
        "" => Ok(None),
        text => WayOut::read(text).map(Some),
    })
}

/// The night that the wind in the form would give; `None` while it cannot be read, and in a form for something else.
#[must_use]
pub fn night(purpose: &Purpose, form: &Form, snap: &Snapshot, clock: &Clock) -> Option<NightAhead> {
    let winds = (*purpose == Purpose::WindAhead).then(|| read_wind(form, snap, clock).ok())??;
    foresee(&winds?, snap)
}

/// What entering the wind does, in words.
#[must_use]
pub fn promise(winds: Option<&Forecast>, snap: &Snapshot, clock: &Clock) -> String {
    let Some(winds) = winds else { return "Enter removes the wind ahead.".to_owned() };
    match foresee(winds, snap) {
        Some(night) => {
            let show = |at| clock.hm(at);
            format!("{} {}", night.worst_in_words(show), night.more_in_words())
        }
        None => {
            "Enter sets it. The night is calculated once the anchor is down and depth and rode are known."
                .to_owned()
        }
    }
}

/// What entering the way out does, in words.
#[must_use]
pub fn way_promise(way: Option<WayOut>, snap: &Snapshot) -> String {
    match way {
        Some(way) => format!("Enter keeps {} beside every alarm.", way.words(snap.variation_deg)),
        None => "Enter removes the way out.".to_owned(),
    }
}
