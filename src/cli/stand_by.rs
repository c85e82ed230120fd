//! `nightrode join` with feeds: a machine that stands by, and takes the watch over when the other falls silent.

use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::folders;
use super::watch::{addressees, page, writable_rides};
use crate::config::read_boat;
use crate::edge::door::link::Way;
use crate::edge::feed::ServerKeys;
use crate::edge::live::{self, Cast, NamedSource, Run, StandsBy};
use crate::edge::places;
use crate::edge::sound;
use crate::report::zone::Zone;
use crate::tui::options::Options;
use crate::watch::boat::FeedSettings;

/// What a machine needs to stand by.
pub(super) struct Stands {
    /// Where the watch is reached, and what it is called.
    pub way: Way,
    pub station: String,
    /// Its own feeds, at least one.
    pub sources: Vec<NamedSource>,
    /// Folder of its rides.
    pub rides: Option<PathBuf>,
    /// Its screen; `None`: there is none.
    pub screen: Option<Options>,
    pub silent: bool,
}

/// The feeds of a machine that stands by come after all others.
const LAST: u8 = 90;

/// Stands by until the crew leaves.
///
/// # Errors
/// In words, what kept it from that.
pub(super) fn run(stands: Stands, config: Option<&Path>, zone: &Zone) -> anyhow::Result<()> {
    let Stands { way, station, sources, rides, screen, silent } = stands;
    let boat = match folders::boat(config)? {
        (_, Some(boat)) => boat,
        // The boat is the other machine's.
        (path, None) => read_boat("", &path.display().to_string())?.value,
    };
    boat.loudspeaker.iter().for_each(|device| sound::choose(device));
    let mut settings = boat.settings.clone();
    settings.feeds =
        sources.iter().map(|feed| FeedSettings { name: feed.name.clone(), priority: LAST }).collect();
    let rides = writable_rides(rides)?;
    live::run(Run {
        settings,
        rides: Some(rides),
        take_up: None,
        cast: Cast::Feeds(sources),
        sound: boat.alerts.sound && !silent,
        addressees: addressees(&boat.settings.boat.name, &boat.alerts)?,
        servers: ServerKeys::beside(&folders::config(config)?),
        screen,
        log_file: places::default_log_file().ok(),
        zone: zone.clone(),
        door: places::door_folders().into_iter().next(),
        page: page(boat.page.address, boat.page.acknowledge)?,
        stands_by: Some(StandsBy { way, station }),
        broken: super::end_broken,
    })
    .context("This machine does not stand by.")
}
