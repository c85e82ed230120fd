//! `nightrode replay`: a recorded night on the screen.

use std::path::PathBuf;

use anyhow::{Context as _, bail};
use clap::Args;
use jiff::Timestamp;
use jiff::civil::Time;
use jiff::tz::TimeZone;

use super::output::undoubted;
use super::watch::{LookArgs, look};
use crate::edge::folder::read_ride_file;
use crate::edge::live::alarm_on_panic;
use crate::edge::replay::Replay;
use crate::edge::terminal;
use crate::edge::what_if::Altered;
use crate::report::zone::Zone;
use crate::tui::app::App;
use crate::watch::units::WatchTime;

/// The arguments.
#[derive(Args, Debug)]
pub struct ReplayArgs {
    /// A ride's folder; or logs of NMEA sentences, TAG-block or bare, or GPX tracks, plain or .gz.
    #[arg(value_name = "LOG|RIDE", required = true)]
    pub log: Vec<PathBuf>,
    /// What the crew knew: boat, tackle, drop point, tide and limits, in place of the ride's own journal.
    #[arg(long, value_name = "RIDE.TOML")]
    pub ride: Option<PathBuf>,
    /// Show the night as it would have been with other settings: circle_m=45, veered_m=40, draft_m=2.1, drop=54.2,10.4, or any
    /// limit of boat.toml; several with `;` between them. `nightrode review --what-if` sets both side by side.
    #[arg(long, value_name = "KEY=VALUE")]
    pub what_if: Option<Altered>,
    /// Begin at this time of day (`02:14`), the first in the recording, or at this moment (`2026-06-03T02:14:00Z`).
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// How many times faster than it was: 1 to 1000; `+` and `-` change it.
    #[arg(long, value_name = "N", default_value_t = 60.0, value_parser = speed)]
    pub speed: f64,
    /// How it looks.
    #[command(flatten)]
    pub look: LookArgs,
}

fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if (1.0..=1000.0).contains(&speed) { Ok(speed) } else { Err("1 to 1000".into()) }
}

pub(super) fn run(args: &ReplayArgs, zone: &Zone) -> anyhow::Result<()> {
    let options = look(&args.look, zone)?;
    let entered = args.ride.as_deref().map(read_ride_file).transpose()?.map(undoubted);
    let altered = args.what_if.clone().unwrap_or_default();
    let mut replay = Replay::open_altered(&args.log, entered.as_ref(), &altered)?;
    if let Some(text) = &args.at {
        let night = replay.night();
        let at = moment(text, night.from, &options.time_zone)?;
        if !(night.from..=night.to).contains(&at) {
            bail!("{text} is not in this recording. Leave --at out, and go there on the bar.");
        }
        replay.seek(at).context("The night cannot be read again.")?;
    }
    alarm_on_panic(super::end_broken);
    terminal::replay(App::new(options), replay, args.speed).context("The screen broke.")
}

/// A moment as it was written: the first such time of day from `from` on, or a whole time stamp.
fn moment(text: &str, from: WatchTime, zone: &TimeZone) -> anyhow::Result<WatchTime> {
    if let Ok(stamp) = text.parse::<Timestamp>() {
        return Ok(WatchTime(stamp.as_millisecond()));
    }
    let time: Time = text.parse().with_context(|| {
        format!("`{text}` is no time. Write a time of day, as 02:14, or a moment, as 2026-06-03T02:14:00Z")
    })?;
    let begins = Timestamp::from_millisecond(from.0).context("The recording begins beyond the calendar.")?;
    let begins = begins.to_zoned_datetime(zone.clone());
    let date = if begins.time() <= time { begins.date() } else { begins.date().tomorrow()? };
    Ok(WatchTime(date.to_datetime(time).to_zoned_datetime(zone.clone())?.timestamp().as_millisecond()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_of_day_is_the_first_one_in_the_recording() {
        // 22:30 UTC on 3 June 2026.
        let from = WatchTime(1_780_525_800_000);
        let at = |text| moment(text, from, &TimeZone::UTC).unwrap().0 - from.0;
        assert_eq!(at("23:00"), 30 * 60_000);
        assert_eq!(at("02:14"), (3 * 60 + 44) * 60_000);
        assert_eq!(at("2026-06-03T22:30:01Z"), 1000);
        assert!(moment("noon", from, &TimeZone::UTC).unwrap_err().to_string().contains("no time"));
    }
}
