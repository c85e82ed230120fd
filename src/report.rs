//! What the watch and the plan have to say, on paper: text for people, JSON for programs.

pub mod card;
pub mod feeds;
mod gpx;
mod markup;
pub mod places;
pub mod plan;
pub mod review;
pub mod rides;
pub mod svg;
pub mod trial;
mod words;
pub mod zone;

pub use words::printable;
