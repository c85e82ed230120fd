//! What is kept of a ride, and what is made of it: folder, list, card, review, replay, recordings from elsewhere.

#[path = "../support/mod.rs"]
mod support;

mod card;
mod door;
mod folder;
mod list;
mod recordings;
mod replay;
mod review;
mod stand_by;
