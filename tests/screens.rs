//! The screen on made-up watches: what every view looks like at every size, what keys and clicks do, and that nothing
//! breaks it.

#[path = "screens/anything.rs"]
mod anything;
#[path = "screens/crew.rs"]
mod crew;
#[path = "screens/deck.rs"]
mod deck;
#[path = "screens/drawn.rs"]
mod drawn;
#[path = "screens/night.rs"]
mod night;
#[path = "screens/overlays.rs"]
mod overlays;
#[path = "screens/pictures.rs"]
mod pictures;
#[path = "screens/recorded.rs"]
mod recorded;
#[path = "screens/replay.rs"]
mod replay;
#[path = "screens/rode.rs"]
mod rode;
#[path = "screens/scenes.rs"]
mod scenes;
#[path = "screens/svg.rs"]
mod svg;
#[path = "screens/views.rs"]
mod views;
