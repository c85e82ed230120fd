//! How is a watch that runs elsewhere shown, whoever asked for it?

use std::path::Path;

use super::folders;
use super::output::note;
use crate::edge::door::find::Found;
use crate::edge::door::link::Way;
use crate::edge::join::{self, Join};
use crate::edge::{places, sound};
use crate::report::zone::Zone;
use crate::tui::options::Options;

/// Joins a watch of this machine. It sounds by itself: this screen does when it falls silent.
pub(super) fn here(
    found: &Found,
    screen: Options,
    silent: bool,
    config: Option<&Path>,
    zone: &Zone,
) -> anyhow::Result<()> {
    let station = format!("the watch of process {}", found.keeps.process);
    show(Way::Socket(found.path.clone()), station, screen, false, silent, config, zone)
}

/// Shows a watch until the screen is left.
pub(super) fn show(
    way: Way,
    station: String,
    screen: Options,
    sounds_along: bool,
    silent: bool,
    config: Option<&Path>,
    zone: &Zone,
) -> anyhow::Result<()> {
    choose_loudspeaker(config);
    let screen = Options { joined: Some(station.clone()), ..screen };
    let (log_file, zone) = (places::default_log_file().ok(), zone.clone());
    let broken = super::end_broken;
    join::run(Join { way, station, screen, sounds_along, sound: !silent, log_file, zone, broken })
}

/// The loudspeaker that this machine's own `boat.toml` names, if it has one. A file that cannot be read keeps nobody from
/// looking.
fn choose_loudspeaker(config: Option<&Path>) {
    match folders::boat(config) {
        Ok((_, boat)) => {
            boat.and_then(|boat| boat.loudspeaker).iter().for_each(|device| sound::choose(device))
        }
        Err(error) => note(&format!(
            "{}. This screen sounds on the default loudspeaker.",
            format!("{error:#}").trim_end_matches('.')
        )),
    }
}
