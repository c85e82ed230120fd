//! What gpsd reports of a receiver: position (TPV) and sky (SKY).
//!
//! # Source
//! `gpsd_json(5)`: `mode` 0 unknown, 1 no fix, 2 two dimensions, 3 three; `status` 2 differential, 3 and 4 real-time
//! kinematic, 5 and 6 dead reckoning, 7 time only, 8 simulated; degrees, metres a second. The error estimates of TPV are of
//! unknown confidence and not used.

use serde::Deserialize;

use super::{Form, Heard, instant, talker, utc};
use crate::watch::nmea::{Fix, FixKind, FixMode, NoFix, Observation, Remark};
use crate::watch::si::{self, Notes};
use crate::watch::units::{Span, WatchTime};

/// What is said of the sky holds for so long.
const SKY_AGE: Span = Span::from_secs(10);

/// Decimals of a minute that gpsd's nine of a degree come to.
const DECIMALS: u8 = 7;

/// The last word on the sky: when, of which device, dilution and satellites used.
#[derive(Clone, Copy, Debug)]
struct Sky {
    at: WatchTime,
    of: [u8; 2],
    hdop: Option<f64>,
    satellites: Option<u8>,
}

/// One gpsd.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Gpsd {
    sky: Option<Sky>,
}

#[derive(Deserialize)]
struct Tpv {
    #[serde(default)]
    device: String,
    #[serde(default)]
    mode: u8,
    #[serde(default)]
    status: u8,
    time: Option<String>,
    lat: Option<f64>,
    lon: Option<f64>,
    speed: Option<f64>,
    track: Option<f64>,
}

#[derive(Deserialize)]
struct SkyReport {
    #[serde(default)]
    device: String,
    hdop: Option<f64>,
    #[serde(rename = "uSat")]
    used: Option<u8>,
}

impl Gpsd {
    /// Reads a report of that class; `None` if it is not in its form.
    pub(super) fn report(
        &mut self,
        at: WatchTime,
        class: &str,
        line: &[u8],
        out: &mut Vec<Observation>,
    ) -> Option<Heard> {
        let mut notes = Notes::default();
        let device = match class {
            "TPV" => {
                let tpv: Tpv = serde_json::from_slice(line).ok()?;
                self.position(at, &tpv, &mut notes, out);
                tpv.device
            }
            "SKY" => {
                let sky: SkyReport = serde_json::from_slice(line).ok()?;
                let hdop = sky.hdop.and_then(|hdop| notes.take(si::within(hdop, 0.0, 100.0)));
                // Some reports hold satellites alone.
                if hdop.is_some() || sky.used.is_some() {
                    self.sky = Some(Sky { at, of: talker(&sky.device), hdop, satellites: sky.used });
                }
                sky.device
            }
            _ => return Some(Heard::new(Form::Gpsd, Some(Remark::NotNeeded))),
        };
        let said_by = vec![(talker(&device), usize::MAX)];
        Some(Heard { form: Form::Gpsd, remark: notes.remark(), said_by })
    }

    fn position(&self, at: WatchTime, tpv: &Tpv, notes: &mut Notes, out: &mut Vec<Observation>) {
        let time = tpv.time.as_deref().and_then(|text| utc(instant(text)?));
        let utc = time.map(|(time, _)| time);
        let kind = match (tpv.mode, tpv.status) {
            (2 | 3, 5 | 6) => Err(NoFix::Estimated),
            (2 | 3, 8) => Err(NoFix::Simulated),
            (2 | 3, 7) => Err(NoFix::Void),
            (2 | 3, 2) => Ok(FixKind::Differential),
            (2 | 3, 3) => Ok(FixKind::Rtk),
            (2 | 3, 4) => Ok(FixKind::FloatRtk),
            (2 | 3, _) => Ok(FixKind::Autonomous),
            _ => Err(NoFix::Void),
        };
        let kind = match kind {
            Ok(kind) => kind,
            Err(why) => {
                notes.note(Remark::from_no_fix(why));
                out.push(Observation::NoFix { utc, why });
                return;
            }
        };
        if let Some((time, date)) = time {
            let date = notes.take(si::date(date));
            out.push(Observation::Utc { time, date });
        }
        let sky = self.sky.filter(|sky| sky.of == talker(&tpv.device) && at.since(sky.at) <= SKY_AGE);
        let hdop = sky.and_then(|sky| sky.hdop);
        let satellites = sky.and_then(|sky| sky.satellites);
        let mode = if tpv.mode == 2 { FixMode::TwoD } else { FixMode::ThreeD };
        let place = tpv.lat.zip(tpv.lon).map(|(lat, lon)| si::position(lat, lon));
        match place.unwrap_or(Err(Remark::PositionIncomplete)) {
            Ok(position) => {
                out.push(Observation::FixMode { mode, hdop, satellites: satellites.unwrap_or(0) });
                let fix = Fix { position, utc, kind, minute_decimals: DECIMALS, hdop, satellites };
                out.push(Observation::Fix(fix));
            }
            Err(remark) => {
                notes.note(remark);
                out.push(Observation::NoFix { utc, why: NoFix::Unusable });
                return;
            }
        }
        let cog = tpv.track.and_then(|deg| notes.take(si::bearing(deg.to_radians())));
        let sog = tpv.speed.and_then(|mps| notes.take(si::sog(mps)));
        out.extend(sog.map(|sog| Observation::Velocity { sog, cog }));
    }
}
