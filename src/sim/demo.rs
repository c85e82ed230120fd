//! The demonstration: sloop *Marram* at Hollow Ness.

use super::anchor::{AnchorBehaviour, Failure};
use super::crew::Crew;
use super::gnss::{FixFault, FixTrouble, Receiver, ReceiverKind};
use super::hull::Handling;
use super::instruments::{Compass, Instruments, Sounder, WindSensor};
use super::scenario::Scenario;
use super::water::{Sea, Seabed, Stream, Tide};
use super::wind::{Squall, Weather, WindChange};
use crate::watch::boat::{Boat, Hull, Tackle};
use crate::watch::geo::Position;
use crate::watch::units::{Knots, Metres, Newtons, Span, TrueBearing, WatchTime};

use super::dice::Dice;

/// An invented night that shows all there is: ten hours from an evening in June.
///
/// | after the start | what happens |
/// | --- | --- |
/// | 0 min | comes in under engine from the north-east, 11 kn from the south-west |
/// | about 3 min | lets go in 5 m, two hours before high water, veers 35 m |
/// | about 8 min | dug in twice astern, brought up |
/// | 2 h 00 | high water; the ebb begins to run at up to 0.8 kn |
/// | 3 h 10 | 95 s without a fix |
/// | 4 h 00 | the wind backs 70° within half an hour and freshens to 17 kn |
/// | 6 h 20 | a squall of 32 kn; the anchor begins to plough in its gusts |
/// | 6 h 40 | squall over; she creeps on at 0.4 m a minute in 20 kn |
/// | 8 h 15 | low water |
/// | 10 h 00 | morning |
#[must_use]
pub fn demo(seed: u64) -> Scenario {
    let mut dice = Dice::new(seed, 77);
    let mut receiver = Receiver::draw(ReceiverKind::OpenSky, &mut dice);
    receiver.faults.push(FixFault {
        at: Span::from_mins(190),
        lasts: Span::from_secs(95),
        what: FixTrouble::Void,
    });
    let boat = boat();
    Scenario {
        handling: Handling { fore_windage: 0.2, ..Handling::usual(&boat) },
        boat,
        tackle: Tackle {
            chain_mm: 8.0,
            chain: Metres(45.0),
            rope_mm: 14.0,
            rope: Metres(40.0),
            anchor_kg: Some(15.0),
        },
        give_m_per_kn: 0.12,
        place_name: "Hollow Ness".into(),
        // Open sea, far from any coast: the bay is invented.
        place: Position::new(47.523_1, -9.874_6).expect("a position on earth"),
        // 2026-06-19, 18:40 UTC.
        start: WatchTime(1_781_894_400_000),
        duration: Span::from_mins(600),
        seabed: Seabed { charted: Metres(1.9), slope: 0.008, deepens_to: TrueBearing::new(40.0) },
        tide: Tide {
            mean: Metres(2.4),
            range: Metres(2.6),
            high_water: Span::from_mins(120),
            surge: Metres(0.08),
        },
        stream: Stream {
            peak: Knots(0.8),
            flood_to: TrueBearing::new(330.0),
            rotary: 0.12,
            slack: Span::from_mins(120 - 373),
        },
        weather: weather(),
        sea: Sea { height_per_10_kn: Metres(0.1), swell: Metres(0.05) },
        veered: Metres(35.0),
        anchor: AnchorBehaviour {
            failures: vec![Failure::Ploughs {
                after: Span::from_mins(382),
                above: Newtons(250.0),
                m_per_min: 0.4,
            }],
            ..AnchorBehaviour::default()
        },
        receivers: vec![receiver],
        instruments: instruments(),
        crew: Crew::default(),
        seed: dice.index(1 << 30) as u64,
    }
}

fn boat() -> Boat {
    Boat {
        name: "Marram".into(),
        hull: Hull::Monohull,
        loa: Metres(9.6),
        beam: Metres(3.2),
        draft: Metres(1.6),
        bow_height: Metres(1.2),
        displacement_kg: 4600.0,
        windage_m2: None,
        antenna_aft: Metres(8.9),
        antenna_starboard: Metres(-0.8),
        sounder_below_water: Metres(0.5),
    }
}

/// A breeze that veers in the evening, freshens, and brings a squall.
fn weather() -> Weather {
    Weather {
        wind: Knots(11.0),
        from: TrueBearing::new(225.0),
        gustiness: 0.14,
        meander_deg: 6.0,
        changes: vec![
            WindChange {
                at: Span::from_mins(240),
                over: Span::from_mins(30),
                wind: Knots(17.0),
                turn_deg: -70.0,
            },
            WindChange {
                at: Span::from_mins(375),
                over: Span::from_mins(20),
                wind: Knots(20.0),
                turn_deg: 10.0,
            },
        ],
        squalls: vec![Squall {
            at: Span::from_mins(380),
            lasts: Span::from_mins(20),
            adds: Knots(12.0),
            turn_deg: 12.0,
        }],
    }
}

fn instruments() -> Instruments {
    Instruments {
        compass: Some(Compass {
            bias_deg: 2.0,
            deviation_deg: 1.5,
            noise_deg: 0.8,
            magnetic: true,
            variation_deg: -3.0,
        }),
        wind: Some(WindSensor { factor: 1.03, bias_deg: -2.0, noise_deg: 2.0, computes_true: false }),
        sounder: Some(Sounder { bias: Metres(0.0), noise: Metres(0.04), lost: 0.001, wild: 0.0005 }),
        log: true,
        rpm: true,
        damage: 0.001,
        dead: Vec::new(),
    }
}
