//! Everything that touches the world: clocks, devices, sockets, files, threads.
pub mod clock;
pub mod feed;
pub mod folder;
pub mod places;
pub mod sound;
pub mod stderr;
