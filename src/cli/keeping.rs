//! How is a watch run, by whichever command? One maker: what `boat.toml` names counts for each of them.

use std::path::{Path, PathBuf};

use super::folders;
use super::page::served;
use crate::config::{AlertSettings, BoatFile};
use crate::edge::feed::ServerKeys;
use crate::edge::live::{Cast, Run};
use crate::edge::notify::{Addressees, SinkError};
use crate::edge::{places, sound};
use crate::report::zone::Zone;
use crate::tui::options::Options;
use crate::watch::boat::Settings;

/// A watch of which no boat's file is known: no page, nobody else is told, nothing is kept or taken up.
pub(super) fn unnamed(settings: Settings, cast: Cast, screen: Option<Options>, zone: &Zone) -> Run {
    Run {
        settings,
        rides: None,
        take_up: None,
        cast,
        sound: true,
        addressees: Addressees::default(),
        servers: ServerKeys::default(),
        screen,
        log_file: places::default_log_file().ok(),
        zone: zone.clone(),
        door: places::door_folders().into_iter().next(),
        page: None,
        stands_by: None,
        broken: super::end_broken,
    }
}

/// A watch by a boat's file, with these settings and feeds. Its loudspeaker is the program's from now on.
///
/// # Errors
/// In words, what of the file cannot be done.
pub(super) fn by_boat(
    boat: &BoatFile,
    config: Option<&Path>,
    rides: PathBuf,
    silent: bool,
    watch: Run,
) -> anyhow::Result<Run> {
    boat.loudspeaker.iter().for_each(|device| sound::choose(device));
    Ok(Run {
        rides: Some(rides),
        sound: boat.alerts.sound && !silent,
        addressees: addressees(&boat.settings.boat.name, &boat.alerts)?,
        servers: ServerKeys::beside(&folders::config(config)?),
        page: served(boat.page.address, boat.page.acknowledge)?,
        ..watch
    })
}

/// Who hears of alerts beside the crew at the screen.
fn addressees(boat: &str, alerts: &AlertSettings) -> anyhow::Result<Addressees> {
    let listeners = alerts.out.iter().map(|out| out.parse()).collect::<Result<_, SinkError>>()?;
    Ok(Addressees {
        boat: boat.to_owned(),
        hook: alerts.hook.clone(),
        listeners,
        maker: alerts.maker.clone(),
    })
}
