//! The screen: draws the watch's snapshot in a terminal, and turns keys and clicks into requests.
//!
//! It imports only [`crate::watch`]. It computes no geometry beyond metres to dots and no physics, reads no clock and
//! does no input or output of its own: the edge hands it events and a buffer.
pub mod app;
pub mod chart;
pub mod console;
pub mod deck;
pub mod dots;
pub mod first;
pub mod glyphs;
pub mod hits;
pub mod keys;
pub mod layout;
pub mod options;
pub mod overlay;
pub mod palette;
pub mod plan_form;
pub mod plot;
pub mod replay;
pub mod request;
pub mod scene;
pub mod shell;
pub mod stands;
pub mod stretch;
pub mod text;
pub mod view;
