//! The form for the berth: the bottom, the open water, the shore, and what she rides to there.

use super::form::{Field, Form, Wrong};
use super::purpose::Purpose;
use super::typed;
use crate::watch::ahead::foresee;
use crate::watch::boat::ranges::plan as ranges;
use crate::watch::boat::{Berth, Snubber};
use crate::watch::rode::{OpenWater, Seabed, fetch_in_words, parse_fetch};
use crate::watch::slope::Slope;
use crate::watch::snapshot::Snapshot;
use crate::watch::units::Metres;
use crate::watch::what_if::{WhatIf, answer};

const SEABED: usize = 0;
const OPEN: usize = 1;
const OPEN_DEPTH: usize = 2;
const SHORE: usize = 3;
const SLOPE: usize = 4;
const SNUBBER: usize = 5;
const BRIDLE: usize = 6;
/// The choice of a bridle that says there is one.
pub const BRIDLED: usize = 1;

/// What is asked about open water.
pub const OPEN_ABOUT: &str =
    "Sea miles by direction: SW 2, W 0.5; one figure for all round. Empty: no sea is reckoned.";

/// The form, with what is known.
#[must_use]
pub fn form(snap: &Snapshot) -> (Purpose, Form) {
    let berth = &snap.berth;
    let fields = vec![
        seabed_field(berth.seabed),
        Field::words("open water", &fetch_in_words(&berth.open.fetch), OPEN_ABOUT),
        Field::number(
            "depth of that water",
            "m",
            berth.open.depth.map(|depth| depth.0),
            "Over little water the sea stays lower. Empty: deep.",
        ),
        Field::words(
            "shore",
            &typed::sectors_text(&berth.shore),
            "Bearings from the anchor on which land or shoal water lies, clockwise: 020-110.",
        ),
        slope_field(berth.slope),
        snubber_field(berth.snubber),
        bridle_field(berth.bridle),
    ];
    (Purpose::Berth, Form::new(fields))
}

/// The choice of a bottom.
#[must_use]
pub fn seabed_field(seabed: Option<Seabed>) -> Field {
    let about = "What an anchor may hold depends on it. ← and → choose.";
    let known = Seabed::ALL.iter().map(|seabed| (seabed.name().to_owned(), about.to_owned()));
    let choices = std::iter::once(("not known".to_owned(), about.to_owned())).chain(known).collect();
    let at = seabed.and_then(|s| Seabed::ALL.iter().position(|other| *other == s));
    Field::choice("bottom", choices).choosing(at.map_or(0, |n| n + 1))
}

/// The bottom that is chosen.
#[must_use]
pub fn chosen_seabed(choice: usize) -> Option<Seabed> {
    choice.checked_sub(1).and_then(|n| Seabed::ALL.get(n)).copied()
}

/// The field for the slope of the bottom.
#[must_use]
pub fn slope_field(slope: Option<Slope>) -> Field {
    let text = slope.map_or(String::new(), |slope| slope.typed());
    Field::words("slope", &text, "Where the bottom falls to and by how much in 100: 120,5. Empty: level.")
}

/// A slope as it is typed; nothing is none said.
///
/// # Errors
/// How one is written.
pub fn slope(text: &str) -> Result<Option<Slope>, String> {
    match text.trim() {
        "" => Ok(None),
        text => Slope::read(text).map(Some),
    }
}

/// The field for a snubber.
#[must_use]
pub fn snubber_field(snubber: Option<Snubber>) -> Field {
    let text = snubber.map_or(String::new(), |snubber| format!("{}x{}", snubber.size_mm, snubber.length.0));
    Field::words("snubber", &text, "Nylon, millimetres by metres: 12x6. Empty: none.")
}

/// A snubber as it is typed; nothing is none.
///
/// # Errors
/// How one is written.
pub fn snubber(text: &str) -> Result<Option<Snubber>, String> {
    let written = || Snubber::AS_WRITTEN.to_owned();
    let within = |snubber: &Snubber| {
        ranges::SNUBBER_MM.holds(snubber.size_mm) && ranges::SNUBBER_M.holds(snubber.length.0)
    };
    match text.trim() {
        "" => Ok(None),
        text => Snubber::read(text).filter(within).map(Some).ok_or_else(written),
    }
}

/// The choice of a bridle.
#[must_use]
pub fn bridle_field(bridled: bool) -> Field {
    let about = "Holds more than one hull to the wind: she sheers less. ← and → choose.";
    let choices = ["none", "rides to one"].map(|word| (word.to_owned(), about.to_owned())).to_vec();
    Field::choice("bridle", choices).choosing(usize::from(bridled))
}

/// The berth in the form.
///
/// # Errors
/// What is wrong, and where.
pub fn read(form: &Form) -> Result<Berth, Wrong> {
    let fetch = form.read(OPEN, |text| match text.trim() {
        "" => Ok(Vec::new()),
        text => parse_fetch(text),
    })?;
    let depth = form.read(OPEN_DEPTH, |text| ranges::FETCH_DEPTH_M.read_or_none(text))?;
    Ok(Berth {
        seabed: chosen_seabed(form.chosen(SEABED)),
        open: OpenWater { fetch, depth: depth.map(Metres) },
        shore: form.read(SHORE, typed::sectors)?,
        slope: form.read(SLOPE, slope)?,
        snubber: form.read(SNUBBER, snubber)?,
        bridle: form.chosen(BRIDLE) == BRIDLED,
    })
}

/// What entering it does, in words: the worst of the night with it, or what the wind of now asks.
#[must_use]
pub fn promise(
    berth: &Berth,
    snap: &Snapshot,
    show: impl Fn(crate::watch::units::WatchTime) -> String,
) -> String {
    let snap = &Snapshot { berth: berth.clone(), ..snap.clone() };
    let night = snap.ahead.forecast.as_deref().and_then(|winds| foresee(winds, snap));
    if let Some(night) = night {
        return format!("{} {}", night.worst_in_words(show), night.sea_in_words());
    }
    let asked = answer(snap, &WhatIf::default()).then.and_then(|then| then.asked);
    match asked {
        Some(asked) => {
            [Some(asked.in_words()), asked.sea_in_words()].into_iter().flatten().collect::<Vec<_>>().join(" ")
        }
        None => "Enter sets it. Load and hold are calculated once the anchor is down, with wind and depth."
            .to_owned(),
    }
}
