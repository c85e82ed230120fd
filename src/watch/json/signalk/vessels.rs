//! What a Signal K server says of other vessels: deltas in their own contexts, `vessels.urn:mrn:imo:mmsi:…`.
//!
//! | path | gives |
//! | --- | --- |
//! | `navigation.position`, `.courseOverGroundTrue`, `.speedOverGround`, `.headingTrue`, `.state` | place and movement |
//! | the vessel herself: `name`; `design.length`, `design.beam`; `sensors.ais.fromBow`, `.fromCenter`, `.class` | who she is |
//!
//! Each path may come in a delta of its own: what moves a vessel is put together here and said again when more of it comes.
//! Only vessels with an MMSI are read.

use std::collections::BTreeMap;

use serde_json::Value;

use super::{PAIR_AGE, STALE_MS, Said, Update, fresh};
use crate::watch::geo::Position;
use crate::watch::json::instant;
use crate::watch::nmea::{AisReport, NavStatus, Remark, ShortName, Size, ship_name};
use crate::watch::si::{self, Notes};
use crate::watch::units::{Knots, Metres, TrueBearing, WatchTime};

/// Vessels whose last words are kept: more than a picture of the neighbourhood shows. Our choice.
const VESSELS_MAX: usize = 256;

/// The longest vessel, metres: twice what AIS can say of bow and stern (ITU-R M.1371) is no length.
const LENGTH_MAX: f64 = 1022.0;

/// The other vessels of one server.
#[derive(Clone, Debug, Default)]
pub(super) struct Vessels(BTreeMap<u32, Vessel>);

/// What was said of one vessel last.
#[derive(Clone, Debug, Default)]
struct Vessel {
    heard: WatchTime,
    newest_ms: i64,
    position: Option<(WatchTime, Position)>,
    cog: Option<(WatchTime, TrueBearing)>,
    sog: Option<(WatchTime, Knots)>,
    heading: Option<(WatchTime, TrueBearing)>,
    status: Option<NavStatus>,
    name: Option<ShortName>,
    length: Option<f64>,
    beam: Option<f64>,
    from_bow: Option<f64>,
    from_centre: Option<f64>,
    message: Option<u8>,
}

/// What of a vessel is new.
#[derive(Clone, Copy, Debug, Default)]
struct News {
    moves: bool,
    named: bool,
    sized: bool,
}

/// The MMSI in a context or an identity, `urn:mrn:imo:mmsi:244000001`.
pub(super) fn mmsi_of(vessel: &str) -> Option<u32> {
    let figures = vessel.strip_prefix("urn:mrn:imo:mmsi:").unwrap_or(vessel);
    let mmsi = figures.bytes().all(|b| b.is_ascii_digit()).then(|| figures.parse::<u32>().ok()).flatten();
    mmsi.filter(|mmsi| (1..=999_999_999).contains(mmsi))
}

/// That a vessel is this boat herself.
pub(super) fn own(mmsi: u32) -> AisReport {
    AisReport { own: true, ..Vessel::default().report(WatchTime(0), mmsi, News::default()) }
}

impl Vessels {
    /// Takes what is said of a vessel; a report of what is new.
    pub(super) fn take(
        &mut self,
        at: WatchTime,
        mmsi: u32,
        updates: &[Update],
        notes: &mut Notes,
    ) -> Option<AisReport> {
        if !self.0.contains_key(&mmsi) && self.0.len() == VESSELS_MAX {
            let oldest = self.0.iter().min_by_key(|(_, vessel)| vessel.heard).map(|(mmsi, _)| *mmsi);
            oldest.map(|oldest| self.0.remove(&oldest));
        }
        let vessel =
            self.0.entry(mmsi).or_insert_with(|| Vessel { newest_ms: i64::MIN, ..Vessel::default() });
        vessel.heard = at;
        let mut news = News::default();
        for update in updates {
            let stamp_ms = update.timestamp.as_deref().and_then(instant).map(jiff::Timestamp::as_millisecond);
            let stamp_ms = stamp_ms.unwrap_or(vessel.newest_ms);
            if stamp_ms < vessel.newest_ms.saturating_sub(STALE_MS) {
                notes.note(Remark::Stale);
                continue;
            }
            vessel.newest_ms = vessel.newest_ms.max(stamp_ms);
            update.values.iter().for_each(|said| vessel.hear(at, said, notes, &mut news));
        }
        (news.moves || news.named || news.sized).then(|| vessel.report(at, mmsi, news))
    }

    #[cfg(test)]
    pub(super) fn count(&self) -> usize {
        self.0.len()
    }
}

impl Vessel {
    fn hear(&mut self, at: WatchTime, said: &Said, notes: &mut Notes, news: &mut News) {
        let (value, number) = (&said.value, said.value.as_f64());
        let metres = |number: Option<f64>| number.filter(|m| (-LENGTH_MAX..=LENGTH_MAX).contains(m));
        match said.path.as_str() {
            "navigation.position" => {
                let place = value["latitude"].as_f64().zip(value["longitude"].as_f64());
                let place = place.and_then(|(lat, lon)| notes.take(si::position(lat, lon)));
                self.position = place.map(|place| (at, place));
                news.moves |= place.is_some();
            }
            "navigation.courseOverGroundTrue" => {
                self.cog = number.and_then(|angle| notes.take(si::bearing(angle))).map(|cog| (at, cog));
                news.moves = true;
            }
            "navigation.speedOverGround" => {
                self.sog = number.and_then(|mps| notes.take(si::sog(mps))).map(|sog| (at, sog));
                news.moves = true;
            }
            "navigation.headingTrue" => {
                self.heading =
                    number.and_then(|angle| notes.take(si::bearing(angle))).map(|heading| (at, heading));
                news.moves = true;
            }
            "navigation.state" => self.status = value.as_str().and_then(state),
            "" => self.named(value["name"].as_str(), news),
            "name" => self.named(value.as_str(), news),
            "design.length" => (self.length, news.sized) = (metres(value["overall"].as_f64()), true),
            "design.beam" => (self.beam, news.sized) = (metres(number), true),
            "sensors.ais.fromBow" => (self.from_bow, news.sized) = (metres(number), true),
            "sensors.ais.fromCenter" => (self.from_centre, news.sized) = (metres(number), true),
            "sensors.ais.class" => self.message = value.as_str().map(message),
            _ => {}
        }
    }

    fn named(&mut self, name: Option<&str>, news: &mut News) {
        let name = name.and_then(|name| ship_name(name.as_bytes()));
        news.named |= name.is_some();
        self.name = name.or(self.name);
    }

    fn report(&self, at: WatchTime, mmsi: u32, news: News) -> AisReport {
        AisReport {
            mmsi,
            own: false,
            message: self.message.unwrap_or(CLASS_B),
            position: fresh(self.position, at, PAIR_AGE).filter(|_| news.moves),
            sog: fresh(self.sog, at, PAIR_AGE),
            cog: fresh(self.cog, at, PAIR_AGE),
            heading: fresh(self.heading, at, PAIR_AGE),
            status: self.status,
            name: self.name.filter(|_| news.named),
            size: self.size().filter(|_| news.sized),
        }
    }

    /// Where nothing is said of her antenna it may stand at either end.
    fn size(&self) -> Option<Size> {
        if self.length.is_none() && self.beam.is_none() {
            return None;
        }
        let (length, half) = (self.length.unwrap_or(0.0).max(0.0), self.beam.unwrap_or(0.0).max(0.0) / 2.0);
        let to_bow = self.from_bow.unwrap_or(length).clamp(0.0, length);
        let to_stern = self.from_bow.map_or(length, |from_bow| (length - from_bow).clamp(0.0, length));
        let aside = self.from_centre.unwrap_or(0.0).clamp(-half, half);
        Some(Size {
            to_bow: Metres(to_bow),
            to_stern: Metres(to_stern),
            to_port: Metres(half + aside),
            to_starboard: Metres(half - aside),
        })
    }
}

/// Position report of class B (ITU-R M.1371), taken where the class is not said.
const CLASS_B: u8 = 18;

/// The position report of a class (ITU-R M.1371): what is no vessel is told by it.
fn message(class: &str) -> u8 {
    match class {
        "A" => 1,
        "BASE" => 4,
        "ATON" => 21,
        _ => CLASS_B,
    }
}

/// `navigation.state`, by the words of the schema.
fn state(words: &str) -> Option<NavStatus> {
    match words {
        "sailing" | "motoring" | "fishing" | "trawling" => Some(NavStatus::UnderWay),
        "anchored" => Some(NavStatus::AtAnchor),
        "moored" => Some(NavStatus::Moored),
        "aground" => Some(NavStatus::Aground),
        "not under command" | "constrained by draft" => Some(NavStatus::Hampered),
        words if words.starts_with("restricted man") => Some(NavStatus::Hampered),
        _ => None,
    }
}

/// The MMSI that a delta of this boat herself names, if it does.
pub(super) fn named_mmsi(said: &Said) -> Option<u32> {
    let value = match said.path.as_str() {
        "" => said.value.get("mmsi"),
        "mmsi" => Some(&said.value),
        _ => None,
    };
    value.and_then(Value::as_str).and_then(mmsi_of)
}

#[cfg(test)]
mod tests {
    use super::super::SignalK;
    use super::*;
    use crate::watch::nmea::Observation;

    const OTHER: &str = "vessels.urn:mrn:imo:mmsi:244000001";

    struct Server(SignalK);

    impl Server {
        fn greeted() -> Self {
            let mut signalk = SignalK::default();
            signalk.hello("vessels.urn:mrn:signalk:uuid:c0d79334-4e25-4245-8892-54e8ccc8021d");
            Self(signalk)
        }

        fn says(&mut self, at_ms: i64, context: &str, values: &str) -> Vec<AisReport> {
            let updates = format!("[{{\"timestamp\":\"2026-06-03T02:14:07Z\",\"values\":[{values}]}}]");
            let (mut out, context) = (Vec::new(), Value::from(context));
            let updates = serde_json::from_str(&updates).unwrap();
            self.0.delta(WatchTime(at_ms), Some(&context), updates, &mut out).unwrap();
            out.into_iter()
                .map(|said| match said {
                    Observation::Vessel(report) => report,
                    other => panic!("{other:?}"),
                })
                .collect()
        }
    }

    const POSITION: &str = r#"{"path":"navigation.position","value":{"latitude":52.1,"longitude":4.5}}"#;
    const COURSE: &str = r#"{"path":"navigation.courseOverGroundTrue","value":3.141592653589793}"#;
    const SPEED: &str = r#"{"path":"navigation.speedOverGround","value":3.0}"#;

    #[test]
    fn a_vessels_place_and_movement_are_one_report_whether_they_come_in_one_delta_or_three() {
        let whole = Server::greeted().says(0, OTHER, &format!("{POSITION},{COURSE},{SPEED}"));
        let mut server = Server::greeted();
        server.says(0, OTHER, POSITION);
        server.says(100, OTHER, COURSE);
        let parts = server.says(200, OTHER, SPEED);
        assert_eq!(whole, parts);
        let [report] = whole[..] else { panic!("{whole:?}") };
        assert_eq!((report.mmsi, report.message, report.own), (244_000_001, 18, false));
        assert!(
            (report.sog.unwrap().mps() - 3.0).abs() < 1e-9
                && (report.cog.unwrap().degrees() - 180.0).abs() < 1e-9
        );
        let later = server.says(60_000, OTHER, POSITION);
        assert_eq!((later[0].sog, later[0].cog), (None, None), "a speed of a minute ago is none");
    }

    #[test]
    fn her_name_her_size_and_what_she_does_are_read() {
        let mut server = Server::greeted();
        let name = r#"{"path":"","value":{"name":"GREY HERON","mmsi":"244000001"}}"#;
        assert_eq!(server.says(0, OTHER, name)[0].name.unwrap().as_str(), "GREY HERON");
        let size = r#"{"path":"design.length","value":{"overall":90.0}},{"path":"design.beam","value":14.0},
            {"path":"sensors.ais.fromBow","value":70},{"path":"sensors.ais.fromCenter","value":2},
            {"path":"sensors.ais.class","value":"A"}"#;
        let size = server.says(0, OTHER, size)[0].size.unwrap();
        assert_eq!(
            [size.to_bow, size.to_stern, size.to_port, size.to_starboard].map(|m| m.0),
            [70.0, 20.0, 9.0, 5.0]
        );
        let state = r#"{"path":"navigation.state","value":"anchored"}"#;
        assert_eq!(server.says(0, OTHER, state), []);
        let told = server.says(0, OTHER, POSITION)[0];
        assert_eq!((told.status, told.message), (Some(NavStatus::AtAnchor), 1));
        let length = server.says(
            0,
            "vessels.urn:mrn:imo:mmsi:244000002",
            r#"{"path":"design.length","value":{"overall":30}}"#,
        );
        let size = length[0].size.unwrap();
        assert_eq!((size.to_bow.0, size.to_stern.0), (30.0, 30.0), "her antenna may stand at either end");
    }

    #[test]
    fn who_has_no_number_is_left_alone_and_so_is_everybody_before_the_greeting() {
        let mut server = Server::greeted();
        assert_eq!(server.says(0, "vessels.urn:mrn:signalk:uuid:0", POSITION), []);
        assert_eq!(server.says(0, "atons.urn:mrn:imo:mmsi:992440001", POSITION), []);
        assert_eq!(Server(SignalK::default()).says(0, OTHER, POSITION), []);
    }

    #[test]
    fn this_boats_own_number_is_told_to_be_hers() {
        let own = Server::greeted().says(0, "vessels.self", r#"{"path":"","value":{"mmsi":"244000009"}}"#);
        assert!(own[0].own && own[0].mmsi == 244_000_009 && own[0].position.is_none());
    }

    #[test]
    fn vessels_without_end_do_not_grow() {
        let mut server = Server::greeted();
        for mmsi in 0..2000 {
            server.says(mmsi, &format!("vessels.urn:mrn:imo:mmsi:{}", 244_000_000 + mmsi), POSITION);
        }
        assert_eq!(server.0.count_of_vessels(), VESSELS_MAX);
    }
}
