//! `nightrode join` with feeds: a machine that stands by, and takes the watch over when the other falls silent.

use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::folders;
use super::keeping::{by_boat, unnamed};
use super::watch::writable_rides;
use crate::config::read_boat;
use crate::edge::door::link::Way;
use crate::edge::live::{self, Cast, NamedSource, Run, StandsBy};
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
    let mut settings = boat.settings.clone();
    settings.feeds =
        sources.iter().map(|feed| FeedSettings { name: feed.name.clone(), priority: LAST }).collect();
    let rides = writable_rides(rides)?;
    let watch = unnamed(settings, Cast::Feeds(sources), screen, zone);
    let watch = by_boat(&boat, config, rides, silent, watch)?;
    live::run(Run { stands_by: Some(StandsBy { way, station }), ..watch })
        .context("This machine does not stand by.")
}
