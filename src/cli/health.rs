//! `nightrode health`: will the computer that is to keep the watch last the night?

use std::path::{Path, PathBuf};

use clap::Args;

use super::output::print;
use crate::edge::{battery, computer, places};
use crate::watch::health::{Awake, Health, HealthLine, night_left};
use crate::watch::units::WatchTime;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct HealthArgs {
    /// Folder of the rides, whose disk is looked at, instead of the platform's own.
    #[arg(long, value_name = "FOLDER", env = "NIGHTRODE_RIDES")]
    pub rides: Option<PathBuf>,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

pub(super) fn run(args: &HealthArgs) -> anyhow::Result<()> {
    let health = read(args.rides.clone().or_else(|| places::default_rides().ok()))?;
    let now = WatchTime(jiff::Timestamp::now().as_millisecond());
    let lines = health.lines(night_left(now, None));
    if args.json {
        return print(&format!("{:#}\n", json(&health, &lines)));
    }
    let line = |line: &HealthLine| {
        format!("{}{:<7} {}\n", if line.is_trouble { "! " } else { "  " }, line.label, line.words)
    };
    print(&lines.iter().map(line).collect::<String>())
}

/// What is measured, then each fact in words.
fn json(health: &Health, lines: &[HealthLine]) -> serde_json::Value {
    let line = |line: &HealthLine| serde_json::json!({ "about": line.label, "words": line.words, "trouble": line.is_trouble });
    serde_json::json!({
        "trouble": lines.iter().any(|line| line.is_trouble),
        "measured": health,
        "facts": lines.iter().map(line).collect::<Vec<_>>(),
    })
}

fn read(rides: Option<PathBuf>) -> anyhow::Result<Health> {
    let (awake, clock_set) = ask()?;
    Ok(Health {
        power: battery::read_once(),
        awake,
        space: rides.as_deref().and_then(computer::space_at),
        clock_set,
        heat: computer::heat_below(Path::new("/sys")),
        ..Health::default()
    })
}

#[cfg(target_os = "linux")]
fn ask() -> anyhow::Result<(Awake, Option<bool>)> {
    use anyhow::Context as _;
    super::waiting::wait_for(crate::edge::awake::ask_once())
        .context("The computer cannot be asked: the system gives no timer")
}

/// This system has nobody that is asked.
#[cfg(not(target_os = "linux"))]
fn ask() -> anyhow::Result<(Awake, Option<bool>)> {
    Ok((Awake::default(), None))
}
