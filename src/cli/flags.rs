//! What a flag holds, read: a place, a bottom, a snubber, a mark, a neighbour, a shore.

use std::str::FromStr;

use jiff::tz::Offset;

use crate::watch::boat::{Sector, Snubber, ranges};
use crate::watch::geo::Position;
use crate::watch::plan::OtherBoat;
use crate::watch::rode::Seabed;
use crate::watch::room::{Mark, RidesTo};
use crate::watch::slope::Slope;
use crate::watch::units::{Metres, TrueBearing};
use crate::watch::way_out::WayOut;

/// A place on the chart as typed: latitude and longitude in degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot(pub Position);

impl FromStr for Spot {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong =
            || "write latitude and longitude in degrees, south and west negative: 50.20,-3.77".to_owned();
        let (lat, lon) = text.split_once(',').ok_or_else(wrong)?;
        let degrees = |text: &str| text.trim().parse::<f64>().map_err(|_| wrong());
        Position::new(degrees(lat)?, degrees(lon)?).map(Self).map_err(|_| wrong())
    }
}

pub(super) fn seabed(text: &str) -> Result<Seabed, String> {
    Seabed::ALL.into_iter().find(|seabed| seabed.key() == text).ok_or_else(|| {
        let keys: Vec<&str> = Seabed::ALL.iter().map(|seabed| seabed.key()).collect();
        format!("write one of {}", keys.join(", "))
    })
}

pub(super) fn snubber(text: &str) -> Result<Snubber, String> {
    Snubber::read(text).ok_or_else(|| Snubber::AS_WRITTEN.to_owned())
}

pub(super) fn slope(text: &str) -> Result<Slope, String> {
    Slope::read(text)
}

pub(super) fn mark(text: &str) -> Result<Mark, String> {
    let wrong = || "write name, bearing, distance and, if you like, extent: Perch rock,050,38,3".to_owned();
    let fields: Vec<&str> = text.split(',').map(str::trim).collect();
    let (name, bearing, distance, extent) = match fields[..] {
        [name, bearing, distance] => (name, bearing, distance, "0"),
        [name, bearing, distance, extent] => (name, bearing, distance, extent),
        _ => return Err(wrong()),
    };
    let number = |text: &str| finite(text).ok_or_else(wrong);
    let length = |text: &str| Metres::read(text).ok_or_else(wrong);
    Ok(Mark {
        name: name.to_owned(),
        bearing: TrueBearing::new(number(bearing)?),
        distance: length(distance)?,
        extent: length(extent)?,
    })
}

pub(super) fn neighbour(text: &str) -> Result<OtherBoat, String> {
    let wrong = || "write bearing, distance, length and what she rides to: 120,60,12,rope".to_owned();
    let fields: Vec<&str> = text.split(',').map(str::trim).collect();
    let [bearing, distance, loa, rides_to] = fields[..] else { return Err(wrong()) };
    let number = |text: &str| finite(text).ok_or_else(wrong);
    let length = |text: &str| Metres::read(text).ok_or_else(wrong);
    let rides_to = match rides_to {
        "chain" => RidesTo::Chain,
        "rope" => RidesTo::Rope,
        "mooring" => RidesTo::Mooring,
        out => RidesTo::Entered(length(out)?),
    };
    Ok(OtherBoat {
        bearing: TrueBearing::new(number(bearing)?),
        distance: length(distance)?,
        loa: length(loa)?,
        rides_to,
    })
}

pub(super) fn shore(text: &str) -> Result<Sector, String> {
    let wrong = || "write two bearings from the anchor, clockwise: 020-110".to_owned();
    let (from, to) = text.split_once('-').ok_or_else(wrong)?;
    let degrees = |text: &str| ranges::plan::BEARING_DEG.read(text).map_err(|_| wrong());
    Ok(Sector { from: TrueBearing::new(degrees(from)?), to: TrueBearing::new(degrees(to)?) })
}

pub(super) fn way_out(text: &str) -> Result<WayOut, String> {
    WayOut::read(text)
}

fn finite(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

pub(super) fn utc_offset(text: &str) -> Result<Offset, String> {
    let wrong = || "write the hours your clock is ahead of UTC: +1, 0, -3:30".to_owned();
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let (hours, minutes) = rest.split_once(':').unwrap_or((rest, "0"));
    let whole = |text: &str, most: i32| {
        text.parse::<u8>().ok().map(i32::from).filter(|number| *number <= most).ok_or_else(wrong)
    };
    let seconds = sign * (whole(hours, 14)? * 3600 + whole(minutes, 59)? * 60);
    Offset::from_seconds(seconds).map_err(|_| wrong())
}
