//! Everything that touches the world: clocks, devices, sockets, files, threads.
pub mod sound;
pub mod stderr;
