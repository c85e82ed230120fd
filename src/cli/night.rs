//! What is known of the night and the berth when a watch begins: from a plan, from flags over it.

use std::path::PathBuf;

use anyhow::Context as _;
use clap::Args;

use super::flags::{Spot, seabed};
use super::output::undoubted;
use super::wind_file::with_wind_file;
use crate::config::read_plan;
use crate::edge::files::read_text;
use crate::report::zone::Zone;
use crate::watch::boat::{Planned, Settings};
use crate::watch::plan::{Asked, Now, WindFile};
use crate::watch::rode::{Seabed, Weather};
use crate::watch::units::WatchTime;

/// The flags for it.
#[derive(Args, Debug)]
pub struct NightArgs {
    /// The plan of this stay, as nightrode plan writes it: the length to veer heeds its wind and stream.
    #[arg(long, value_name = "PLAN.TOML")]
    pub plan: Option<PathBuf>,
    /// Wind by the hour from the forecast, in place of the plan's: "18: SW 15 g22, 00: W 25 g35, 04: NW 18".
    #[arg(long, value_name = "LINE")]
    pub wind_by_hour: Option<String>,
    /// The same from a GRIB2 file that you have; with --position.
    #[arg(long, value_name = "FILE", conflicts_with = "wind_by_hour", requires = "position")]
    pub wind_file: Option<PathBuf>,
    /// Where the anchor is to lie, for the wind of a file: 50.20,-3.77.
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true, requires = "wind_file")]
    pub position: Option<Spot>,
    /// The bottom.
    #[arg(long, value_name = "BOTTOM", value_parser = seabed)]
    pub seabed: Option<Seabed>,
    /// Open water by direction, in sea miles: "SW 2, W 0.5, 330 1"; one figure is all round.
    #[arg(long, value_name = "FETCH")]
    pub fetch: Option<String>,
}

impl NightArgs {
    /// Wind and stream to veer for, where a wind is named, and what else is known.
    ///
    /// # Errors
    /// What cannot be read, in words.
    pub(super) fn known(
        &self,
        settings: &Settings,
        zone: &Zone,
    ) -> anyhow::Result<(Option<Weather>, Planned)> {
        let asked = self.over(self.of_plan()?);
        if asked == Asked::default() {
            return Ok((settings.expected, settings.planned.clone()));
        }
        let now = jiff::Timestamp::now();
        let at = Now { at: WatchTime(now.as_millisecond()), utc_offset: zone.0.to_offset(now) };
        let asked = with_wind_file(asked, at)?;
        let forecast = asked.forecast(at.at, at.utc_offset).context("The wind by the hour")?;
        let hardest = forecast.as_ref().map(|forecast| forecast.hardest(forecast.from(), forecast.until()));
        let expected = asked.weather_with(settings, hardest);
        let expected = match &self.plan {
            Some(plan) => {
                Some(expected.with_context(|| format!("{} has no wind to veer for", plan.display()))?)
            }
            None => expected.ok(),
        };
        Ok((expected, Planned { forecast, berth: asked.berth()?, way_out: asked.way_out }))
    }

    fn of_plan(&self) -> anyhow::Result<Asked> {
        let Some(plan) = &self.plan else { return Ok(Asked::default()) };
        let file = plan.display().to_string();
        let text = read_text(plan).with_context(|| format!("{file} cannot be read"))?;
        Ok(undoubted(read_plan(&text, &file)?).asked)
    }

    /// What a flag says goes over what the plan says.
    fn over(&self, mut asked: Asked) -> Asked {
        if let Some(winds) = &self.wind_by_hour {
            (asked.winds, asked.wind_file) = (Some(winds.clone()), None);
        }
        if let Some(file) = &self.wind_file {
            let path = file.display().to_string();
            let position = self.position.map(|Spot(position)| position);
            (asked.winds, asked.wind_file) = (None, Some(WindFile { path, position, read: None }));
        }
        asked.seabed = self.seabed.or(asked.seabed);
        asked.fetch = self.fetch.clone().or(asked.fetch);
        asked
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser as _;

    use super::*;
    use crate::cli::{Cli, Command};
    use crate::watch::units::Knots;

    fn parsed(args: &[&str]) -> Result<NightArgs, String> {
        let all = ["nightrode", "watch"].into_iter().chain(args.iter().copied());
        match Cli::try_parse_from(all).map_err(|error| error.to_string())?.command {
            Command::Watch(args) => Ok(args.night),
            other => Err(format!("{other:?}")),
        }
    }

    fn known(args: &[&str]) -> anyhow::Result<(Option<Weather>, Planned)> {
        let zone = Zone(jiff::tz::TimeZone::UTC);
        parsed(args).map_err(anyhow::Error::msg)?.known(&Settings::default(), &zone)
    }

    #[test]
    fn a_watch_without_a_plan_takes_wind_bottom_and_open_water_from_flags() {
        let (expected, planned) =
            known(&["--wind-by-hour", "18: SW 15 g22, 00: W 25 g35", "--seabed", "mud", "--fetch", "SW 2"])
                .unwrap();
        assert_eq!(expected.unwrap().gust, Knots(35.0));
        assert_eq!((planned.berth.seabed, planned.berth.open.fetch.len()), (Some(Seabed::Mud), 1));
        let (expected, planned) = known(&["--seabed", "mud"]).unwrap();
        assert_eq!((expected, planned.forecast), (None, None));
        assert_eq!(known(&[]).unwrap(), (None, Planned::default()));
    }

    #[test]
    fn what_is_wrong_with_a_flag_is_said() {
        let wrong = |args: &[&str]| format!("{:#}", known(args).unwrap_err());
        assert!(wrong(&["--fetch", "SW far"]).contains("SW 2, W 0.5"));
        assert!(wrong(&["--wind-file", "x.grb2"]).contains("--position"));
        assert!(wrong(&["--wind-by-hour", "gale"]).contains("gale"));
        assert!(
            wrong(&["--wind-file", "/nowhere/x.grb2", "--position", "54.2,10.4"]).contains("nowhere/x.grb2")
        );
    }
}
