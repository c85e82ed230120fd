//! How hot is the computer, and is there room for the night on its disk? Read once a minute, on a thread of its own: a
//! disk of the network that hangs must not hold the watch up.
//!
//! # Source
//! Linux, `Documentation/driver-api/thermal/sysfs-api.rst`: names and units of the files below `/sys/class/thermal`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use crate::watch::input::{Device, Heat, Space};

/// How often it is read.
const EVERY: Duration = Duration::from_secs(60);
/// What a busy night takes, millions of bytes: 12 hours of 20 sentences a second, 110 bytes each with their TAG block, make
/// 95 (calculated).
const NIGHT_MB: u64 = 100;
/// A temperature that has changed by so much is reported anew, degrees.
const STEP_CELSIUS: u32 = 10;
/// Free space that has changed by this share is reported anew, percent.
const STEP_FREE: u64 = 20;
/// Trip points from which on heat slows the computer down, or ends it.
const TRIPS: [&str; 3] = ["passive", "hot", "critical"];
/// Beginnings of the names of cooling that slows processors down.
const SLOWED: [&str; 3] = ["Processor", "cpufreq", "thermal-cpufreq"];

/// The running thread. Dropping it ends the readings.
#[derive(Debug)]
pub struct ComputerWatch {
    /// The thread ends when this goes.
    _stop: mpsc::Sender<()>,
}

impl ComputerWatch {
    /// Begins to read. `report` is called from the thread when there is something to report.
    ///
    /// # Errors
    /// If the operating system gives no thread.
    pub fn start(
        rides: Option<PathBuf>,
        mut report: impl FnMut(Device) + Send + 'static,
    ) -> io::Result<Self> {
        let (stop, stopped) = mpsc::channel();
        let body = move || {
            let (mut heat, mut space) = (None, None);
            loop {
                let (hot, free) = (heat_below(Path::new("/sys")), rides.as_deref().and_then(space_at));
                if is_hot_news(hot, heat) {
                    heat = hot;
                    report(Device::Heat { heat });
                }
                if is_space_news(free, space) {
                    space = free;
                    report(Device::Space { space });
                }
                if stopped.recv_timeout(EVERY) != Err(RecvTimeoutError::Timeout) {
                    return;
                }
            }
        };
        thread::Builder::new().name("computer".into()).spawn(body)?;
        Ok(Self { _stop: stop })
    }
}

/// Each report is a line of the ride's journal: what hardly changes is none.
fn is_hot_news(now: Option<Heat>, told: Option<Heat>) -> bool {
    let (Some(now), Some(told)) = (now, told) else { return now.is_some() != told.is_some() };
    now.is_slowed != told.is_slowed || now.celsius.abs_diff(told.celsius) >= STEP_CELSIUS
}

fn is_space_news(now: Option<Space>, told: Option<Space>) -> bool {
    let (Some(now), Some(told)) = (now, told) else { return now.is_some() != told.is_some() };
    now.is_short() != told.is_short() || now.free_mb.abs_diff(told.free_mb) * 100 > told.free_mb * STEP_FREE
}

/// How hot it is, by the files below a `/sys`; `None` where nothing is measured.
#[must_use]
pub fn heat_below(sys: &Path) -> Option<Heat> {
    let thermal = sys.join("class/thermal");
    let found: Vec<PathBuf> = fs::read_dir(thermal).ok()?.flatten().map(|entry| entry.path()).collect();
    let named = |start: &'static str| {
        let is =
            move |path: &&PathBuf| path.file_name().is_some_and(|n| n.to_string_lossy().starts_with(start));
        found.iter().filter(is)
    };
    let zones = named("thermal_zone").filter_map(|zone| Some((degrees(&zone.join("temp"))?, trip(zone))));
    let (celsius, limit) = zones.max_by_key(|(celsius, _)| *celsius)?;
    Some(Heat { celsius, limit, is_slowed: named("cooling_device").any(|device| slows(device)) })
}

/// The lowest point from which a zone slows the computer down.
fn trip(zone: &Path) -> Option<i32> {
    let point = |n: usize| {
        let kind = text(&zone.join(format!("trip_point_{n}_type")))?;
        let at = degrees(&zone.join(format!("trip_point_{n}_temp"))).filter(|at| *at > 0);
        Some(at.filter(|_| TRIPS.contains(&kind.as_str())))
    };
    (0..).map_while(point).flatten().min()
}

fn slows(device: &Path) -> bool {
    let kind = text(&device.join("type")).unwrap_or_default();
    let state = text(&device.join("cur_state")).and_then(|state| state.parse::<u32>().ok());
    SLOWED.iter().any(|start| kind.starts_with(start)) && state.is_some_and(|state| state > 0)
}

/// Thousandths of a degree, as the kernel writes them. What no computer can be is no measurement.
fn degrees(path: &Path) -> Option<i32> {
    let celsius = text(path)?.parse::<i32>().ok()? / 1000;
    (-50..=200).contains(&celsius).then_some(celsius)
}

fn text(path: &Path) -> Option<String> {
    fs::read_to_string(path).ok().map(|text| text.trim().to_owned())
}

/// Whether the kernel knows a sleep at all, by the files below a `/sys`. Where that is not written it may.
#[must_use]
pub fn can_sleep(sys: &Path) -> bool {
    text(&sys.join("power/state")).is_none_or(|states| !states.is_empty())
}

/// Room on the disk of a folder, or of the nearest above it that exists.
#[cfg(unix)]
#[must_use]
pub fn space_at(folder: &Path) -> Option<Space> {
    let known = folder.ancestors().find_map(|folder| rustix::fs::statvfs(folder).ok())?;
    let free_mb = known.f_bavail.saturating_mul(known.f_frsize) / 1_000_000;
    Some(Space { free_mb, night_mb: NIGHT_MB })
}

/// Not read on this system.
#[cfg(not(unix))]
#[must_use]
pub fn space_at(_: &Path) -> Option<Space> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A made-up `/sys`.
    fn sys(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for (name, content) in files {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, format!("{content}\n")).unwrap();
        }
        folder
    }

    const ZONES: [(&str, &str); 7] = [
        ("class/thermal/thermal_zone0/temp", "41000"),
        ("class/thermal/thermal_zone1/temp", "88500"),
        ("class/thermal/thermal_zone1/trip_point_0_type", "active"),
        ("class/thermal/thermal_zone1/trip_point_0_temp", "60000"),
        ("class/thermal/thermal_zone1/trip_point_1_type", "passive"),
        ("class/thermal/thermal_zone1/trip_point_1_temp", "85000"),
        ("class/thermal/thermal_zone2/temp", "-274000"),
    ];

    #[test]
    fn the_hottest_zone_counts_with_the_point_at_which_it_is_slowed() {
        let sys = sys(&ZONES);
        let heat = Heat { celsius: 88, limit: Some(85), is_slowed: false };
        assert_eq!(heat_below(sys.path()), Some(heat));
    }

    #[test]
    fn a_processor_that_is_held_back_is_seen_and_a_fan_is_not() {
        for (kind, slowed) in [("Processor", true), ("cpufreq-cpu0", true), ("Fan", false)] {
            let mut files = ZONES.to_vec();
            files.push(("class/thermal/cooling_device3/type", kind));
            files.push(("class/thermal/cooling_device3/cur_state", "2"));
            assert_eq!(heat_below(sys(&files).path()).map(|heat| heat.is_slowed), Some(slowed), "{kind}");
        }
    }

    #[test]
    fn a_computer_that_measures_nothing_says_nothing() {
        assert_eq!(heat_below(sys(&[]).path()), None);
        assert_eq!(heat_below(sys(&[("class/thermal/thermal_zone0/temp", "hot")]).path()), None);
    }

    #[test]
    fn a_kernel_without_a_sleep_cannot_fall_asleep() {
        assert!(can_sleep(sys(&[("power/state", "freeze mem")]).path()));
        assert!(!can_sleep(sys(&[("power/state", "")]).path()));
        assert!(can_sleep(sys(&[]).path()), "nothing is known: it may");
    }

    #[cfg(unix)]
    #[test]
    fn room_is_found_for_a_folder_that_is_not_made_yet() {
        let folder = tempfile::tempdir().unwrap();
        assert!(space_at(&folder.path().join("rides/new")).is_some());
    }

    #[test]
    fn what_hardly_changes_is_no_news() {
        let space = |free_mb| Some(Space { free_mb, night_mb: NIGHT_MB });
        assert!(!is_space_news(space(5000), space(4500)) && is_space_news(space(99), space(101)));
        let heat = |celsius, is_slowed| Some(Heat { celsius, limit: None, is_slowed });
        assert!(
            !is_hot_news(heat(50, false), heat(59, false)) && is_hot_news(heat(50, true), heat(50, false))
        );
    }
}
