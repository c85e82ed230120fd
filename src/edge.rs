//! Everything that touches the world: clocks, devices, sockets, files, threads.
pub mod clock;
pub mod feed;
pub mod folder;
pub mod keeper;
pub mod live;
pub mod log;
pub mod places;
pub mod progress;
pub mod recorded;
pub mod review;
pub mod sound;
pub mod stderr;
pub mod survey;
pub mod tell;
pub mod terminal;
pub mod trial;
pub mod what_if;
