//! What a sentence says, as values with units.

use jiff::civil::Date;

use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, TrueBearing};

/// One thing that an instrument measured.
///
/// Nothing in it is void, estimated or out of range: the parser leaves such values out and remarks on them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Observation {
    /// A position (RMC, GGA, GLL, GNS).
    Fix(Fix),
    /// The receiver is there and has no position to give (the same sentences).
    NoFix {
        /// Time of day in the sentence.
        utc: Option<TimeOfDay>,
        /// Why not.
        why: NoFix,
    },
    /// Movement over the ground (RMC, VTG).
    Velocity {
        /// Speed over ground.
        sog: Knots,
        /// Course over ground; receivers leave it out when still.
        cog: Option<TrueBearing>,
    },
    /// How many dimensions the receiver solves, and its dilution of precision (GSA).
    FixMode {
        /// None, two or three dimensions.
        mode: FixMode,
        /// Horizontal dilution of precision.
        hdop: Option<f64>,
        /// Satellites used, of the talker's system only.
        satellites: u8,
    },
    /// The receiver's own estimate of its error (GST, GBS).
    Accuracy {
        /// Standard deviation of the latitude.
        lat_sd: Metres,
        /// Standard deviation of the longitude.
        lon_sd: Metres,
        /// The error ellipse, where given (GST).
        ellipse: Option<Ellipse>,
    },
    /// Satellites in view (GSV): one message of a set.
    Satellites(SatellitesInView),
    /// UTC as measured (ZDA; RMC with both time and date). Comes before the fix of the same sentence.
    Utc {
        /// Time of day.
        time: TimeOfDay,
        /// Date, where there is one.
        date: Option<Date>,
    },
    /// Heading from true north (HDT, THS, VHW).
    HeadingTrue(TrueBearing),
    /// Heading of a magnetic compass (HDG, HDM, VHW).
    HeadingMagnetic(MagneticHeading),
    /// Magnetic variation, degrees, east positive (RMC, HDG).
    Variation {
        /// Degrees; positive: magnetic north lies east of true north.
        east_deg: f64,
    },
    /// Wind as felt on board (MWV `R`, VWR).
    ApparentWind {
        /// From the bow, `-180.0..180.0`, positive to starboard.
        angle_deg: f64,
        /// Speed over the boat.
        speed: Knots,
    },
    /// Wind over the water, its angle from the bow (MWV `T`, VWT).
    TrueWindRelative {
        /// From the bow, `-180.0..180.0`, positive to starboard.
        angle_deg: f64,
        /// Speed over the water.
        speed: Knots,
    },
    /// Wind by the compass (MWD, MDA): where it comes from.
    WindDirection {
        /// From true north.
        true_from: Option<TrueBearing>,
        /// From magnetic north, degrees `0.0..360.0`.
        magnetic_from_deg: Option<f64>,
        /// Speed.
        speed: Option<Knots>,
    },
    /// A depth (DPT, DBT, DBS, DBK).
    Depth {
        /// Measured from where.
        below: DepthBelow,
        /// Never negative.
        depth: Metres,
        /// The sounder's own setting (DPT): positive, transducer to surface; negative, transducer to keel.
        offset: Option<Metres>,
    },
    /// Temperature of the water, °C (MTW, MDA).
    WaterTemperature {
        /// Degrees Celsius.
        celsius: f64,
    },
    /// Speed through the water (VHW).
    WaterSpeed(Knots),
    /// Rate of turn, degrees a minute, positive to starboard (ROT).
    RateOfTurn {
        /// Degrees a minute.
        deg_per_min: f64,
    },
    /// Revolutions (RPM).
    Revolutions {
        /// Engine or shaft.
        of: Machine,
        /// 0 single or on the centre line, odd starboard, even port.
        number: u8,
        /// A minute.
        rpm: f64,
    },
    /// Any other sensor (XDR, MDA).
    Transducer(Transducer),
    /// What another vessel says of herself, by NMEA 2000 or Signal K. AIS in sentences comes in parts: see `AisAssembler`.
    Vessel(AisReport),
}

/// A position as a receiver gave it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// Of the antenna.
    pub position: Position,
    /// Time of day in the sentence; sentences of one cycle share it.
    pub utc: Option<TimeOfDay>,
    /// How it was made.
    pub kind: FixKind,
    /// Decimals printed of a minute, the fewer of latitude and longitude: three make steps of 1.85 m.
    pub minute_decimals: u8,
    /// Horizontal dilution of precision (GGA, GNS).
    pub hdop: Option<f64>,
    /// Satellites used (GGA, GNS).
    pub satellites: Option<u8>,
}

/// How a fix was made, poorest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FixKind {
    /// Satellites alone, or not said.
    Autonomous,
    /// With corrections, SBAS included.
    Differential,
    /// Precise code.
    Precise,
    /// Real-time kinematic, ambiguities not resolved.
    FloatRtk,
    /// Real-time kinematic.
    Rtk,
}

/// Why a receiver that speaks gives no position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoFix {
    /// It says it has none.
    Void,
    /// Dead reckoning.
    Estimated,
    /// Typed in.
    Manual,
    /// A simulator.
    Simulated,
    /// The position is incomplete or impossible.
    Unusable,
}

/// Dimensions that the receiver solves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FixMode {
    /// No fix.
    None,
    /// Height assumed.
    TwoD,
    /// Full.
    ThreeD,
}

/// An error ellipse, standard deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipse {
    /// Along the semi-major axis.
    pub major: Metres,
    /// Along the semi-minor axis.
    pub minor: Metres,
    /// Direction of the semi-major axis.
    pub axis: TrueBearing,
}

/// One message of a set that lists the satellites in view.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SatellitesInView {
    /// How many satellites of this talker's system are in view.
    pub in_view: u8,
    /// Which message of the set, from 1.
    pub message: u8,
    /// Messages in the set.
    pub of: u8,
    /// Up to four.
    pub satellites: [Option<Satellite>; 4],
}

/// A satellite as a receiver sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Satellite {
    /// Its number in the talker's system.
    pub id: u16,
    /// Degrees above the horizon.
    pub elevation_deg: Option<i8>,
    /// Degrees from true north.
    pub azimuth_deg: Option<u16>,
    /// Signal to noise, dB-Hz; `None` when not tracked.
    pub snr_db: Option<u8>,
}

/// A compass heading and what is known to correct it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MagneticHeading {
    /// As the sensor reads, degrees `0.0..360.0`.
    pub compass_deg: f64,
    /// Deviation to add, east positive, if the instrument gives it.
    pub deviation_deg: Option<f64>,
    /// Variation to add, east positive, if the instrument gives it.
    pub variation_deg: Option<f64>,
}

impl MagneticHeading {
    /// Heading from true north, with `variation_deg` (east positive) for the place.
    #[must_use]
    pub fn to_true(self, variation_deg: f64) -> TrueBearing {
        TrueBearing::new(self.compass_deg + self.deviation_deg.unwrap_or(0.0) + variation_deg)
    }
}

/// Where a depth is measured from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DepthBelow {
    /// The sounder's face.
    Transducer,
    /// The lowest part of the boat.
    Keel,
    /// The water's surface.
    Surface,
}

/// What turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Machine {
    /// An engine.
    Engine,
    /// A shaft.
    Shaft,
}

/// A reading of a sensor that has no sentence of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transducer {
    /// `C` temperature, `P` pressure, `A` angle, `U` voltage and so on, as the standard lists them; 0 if empty.
    pub kind: u8,
    /// In `unit`.
    pub value: f64,
    /// `C`elsius, `B`ar, `P`ascal or per cent, `D`egrees, `V`olts; 0 if empty.
    pub unit: u8,
    /// What the installer called it.
    pub name: ShortName,
}

impl Transducer {
    /// The barometer, in hectopascals, if this is one: a pressure that the air at sea level can have (870 hPa in
    /// Typhoon Tip 1979, 1084.8 hPa at Tosontsengel 2001, WMO records, with some room).
    #[must_use]
    pub fn barometer_hpa(&self) -> Option<f64> {
        let hpa = match (self.kind, self.unit) {
            (b'P', b'B') => self.value * 1000.0,
            (b'P', b'P') => self.value / 100.0,
            _ => return None,
        };
        (850.0..=1100.0).contains(&hpa).then_some(hpa)
    }
}

/// A name of at most 20 printable ASCII characters; longer ones are cut.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
pub struct ShortName {
    bytes: [u8; 20],
    len: u8,
}

impl ShortName {
    /// The first 20 characters of `text`; anything not printable ASCII ends it.
    #[must_use]
    pub fn new(text: &[u8]) -> Self {
        let mut name = Self::default();
        for (place, &byte) in name.bytes.iter_mut().zip(text.iter().take_while(|b| (0x20..0x7F).contains(*b)))
        {
            *place = byte;
            name.len += 1;
        }
        name
    }

    /// As text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        str::from_utf8(&self.bytes[..usize::from(self.len)]).expect("only ASCII is put in")
    }
}

impl std::fmt::Debug for ShortName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?}", self.as_str())
    }
}

/// What one AIS message says; a quantity that is "not available" is `None`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AisReport {
    /// Maritime mobile service identity of the sender.
    pub mmsi: u32,
    /// From our own transponder (VDO).
    pub own: bool,
    /// Message type, 1 to 27.
    pub message: u8,
    /// Of the sender's antenna.
    pub position: Option<Position>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground.
    pub cog: Option<TrueBearing>,
    /// Heading.
    pub heading: Option<TrueBearing>,
    /// What she is doing.
    pub status: Option<NavStatus>,
    /// Her name, without padding; never empty.
    pub name: Option<ShortName>,
    /// Her size, from her antenna.
    pub size: Option<Size>,
}

/// Navigational status (ITU-R M.1371, message types 1 to 3), as far as it matters to a boat at anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NavStatus {
    /// Under way, by engine or sail, or fishing.
    UnderWay,
    /// At anchor.
    AtAnchor,
    /// Moored.
    Moored,
    /// Aground.
    Aground,
    /// Not under command, or restricted or constrained in her movement.
    Hampered,
    /// Search and rescue transmitter, man overboard or emergency beacon.
    Distress,
}

/// Distances from the antenna to the vessel's ends and sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// To the bow.
    pub to_bow: Metres,
    /// To the stern.
    pub to_stern: Metres,
    /// To the port side.
    pub to_port: Metres,
    /// To the starboard side.
    pub to_starboard: Metres,
}

impl NavStatus {
    /// By its code.
    pub(in crate::watch) const fn of(code: u8) -> Option<Self> {
        match code {
            0 | 7 | 8 => Some(Self::UnderWay),
            1 => Some(Self::AtAnchor),
            2..=4 => Some(Self::Hampered),
            5 => Some(Self::Moored),
            6 => Some(Self::Aground),
            14 => Some(Self::Distress),
            _ => None,
        }
    }
}

/// A vessel's name without the padding that some transponders leave.
pub(in crate::watch) fn ship_name(name: &[u8]) -> Option<ShortName> {
    let printable = ShortName::new(name);
    let name = printable.as_str().trim_matches(['@', ' ']);
    (!name.is_empty()).then(|| ShortName::new(name.as_bytes()))
}

/// A time of day, UTC, to the millisecond. A leap second runs past `24:00`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimeOfDay {
    millis: u32,
}

impl TimeOfDay {
    /// Checked hours, minutes, seconds and milliseconds; second 60 exists only as `23:59:60`.
    #[must_use]
    pub fn new(hours: u32, minutes: u32, seconds: u32, millis: u32) -> Option<Self> {
        let leap = (hours, minutes, seconds) == (23, 59, 60);
        let real = hours < 24 && minutes < 60 && (seconds < 60 || leap) && millis < 1000;
        real.then(|| Self { millis: ((hours * 60 + minutes) * 60 + seconds) * 1000 + millis })
    }

    /// Milliseconds since midnight, below 86,401,000.
    #[must_use]
    pub fn millis(self) -> u32 {
        self.millis
    }

    /// This time on `date`, in milliseconds since the Unix epoch.
    #[must_use]
    pub fn unix_ms_on(self, date: Date) -> i64 {
        const EPOCH: Date = jiff::civil::date(1970, 1, 1);
        i64::from((date - EPOCH).get_days()) * 86_400_000 + i64::from(self.millis)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_pressure_of_the_air_is_a_barometer() {
        let sensor = |kind, value, unit| Transducer { kind, value, unit, name: ShortName::default() };
        assert_eq!(sensor(b'P', 1.02007, b'B').barometer_hpa(), Some(1020.07));
        assert_eq!(sensor(b'P', 101_320.0, b'P').barometer_hpa(), Some(1013.2));
        assert_eq!(sensor(b'P', 4.2, b'B').barometer_hpa(), None);
        assert_eq!(sensor(b'C', 1.0, b'B').barometer_hpa(), None);
    }

    #[test]
    fn names_are_cut_and_never_hold_more_than_ascii() {
        assert_eq!(ShortName::new(b"BARO").as_str(), "BARO");
        assert_eq!(ShortName::new(&[b'A'; 99]).as_str().len(), 20);
        assert_eq!(ShortName::new(b"AB\xFFC").as_str(), "AB");
    }

    #[test]
    fn a_compass_heading_becomes_true_with_deviation_and_variation() {
        let heading = MagneticHeading { compass_deg: 359.0, deviation_deg: Some(-1.5), variation_deg: None };
        assert_eq!(heading.to_true(4.5).degrees(), 2.0);
    }

    #[test]
    fn a_leap_second_is_the_first_second_of_the_next_day_in_unix_time() {
        let leap = TimeOfDay::new(23, 59, 60, 500).unwrap();
        let day = jiff::civil::date(2016, 12, 31);
        assert_eq!(leap.unix_ms_on(day), 1_483_228_800_500);
        assert_eq!(TimeOfDay::new(22, 59, 60, 0), None);
    }
}
