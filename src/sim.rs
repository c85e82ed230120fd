//! Invented nights at anchor: a boat, her weather and her instruments, from a seed.
//!
//! A [`Scenario`] says everything about a night; a [`Night`] runs through it and gives, in order of time, the lines
//! that her instruments send, what her crew enters, and the truth beside them. Same scenario, same bytes,
//! on every machine: chance comes from a seeded PCG, and all mathematics beyond the exact operations from `libm`.
//! Memory does not grow with the length of the night.
//!
//! How real it is, with figures: `docs/inside/simulator.md`.

mod anchor;
mod chain;
mod chart;
mod classes;
mod crew;
mod demo;
mod dice;
mod every_step;
mod exact;
mod gnss;
mod hull;
mod instruments;
mod job;
mod night;
mod scenario;
mod sentence;
mod water;
mod wind;

pub use anchor::{AnchorBehaviour, Failure};
pub use classes::{CLASSES, Class, HELD_OUT, SettingKind, TUNING, class, receiver_kind, scenario, setting};
pub use crew::{Crew, Step};
pub use demo::demo;
pub use dice::Dice;
pub use every_step::EveryStep;
pub use gnss::{
    FixFault, FixTrouble, Receiver, ReceiverKind, RestingFix, SlowCourse, StaticHold, VelocityOutput, at_rest,
};
pub use hull::Handling;
pub use instruments::{Compass, Instruments, Sounder, WindSensor};
pub use job::{JOB_SET_BY, JOB_WEIGHS_FROM, Job, job};
pub use night::{Event, Night, Truth};
pub use scenario::Scenario;
pub use water::{Sea, Seabed, Stream, TIDE_PERIOD, Tide};
pub use wind::{Squall, Weather, WindChange};
