//! One widget a file. A widget reads the scene and draws into its area: no clock, no physics, nothing changed.
pub mod alerts;
pub mod band;
pub mod bar;
pub mod cockpit;
pub mod facts;
pub mod feeds;
pub mod figures;
pub mod header;
pub mod keybar;
pub mod night;
pub mod rode;
pub mod rounds;
pub mod small;
pub mod strip;
pub mod swing;
pub mod timebar;
