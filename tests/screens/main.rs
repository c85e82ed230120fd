//! The screen on made-up watches: what every view looks like at every size, what keys and clicks do, and that nothing
//! breaks it.

mod anything;
mod crew;
mod deck;
mod drawn;
mod night;
mod overlays;
mod pictures;
mod pressed;
mod recorded;
mod replay;
mod rode;
mod scenes;
mod svg;
mod views;
