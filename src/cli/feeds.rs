//! `nightrode feeds`: what each source gives, and whether it is enough for a watch.

use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, ensure};
use clap::Args;

use super::output::{note, print};
use super::waiting::wait_for;
use super::{Exit, folders};
use crate::config::MOST_FEEDS;
use crate::edge::clock::Clock;
use crate::edge::feed::{FeedSpec, ServerKeys, Source};
use crate::edge::nearby::signalk_servers;
use crate::edge::survey::{Try, survey_feeds, survey_ports, usual_places};
use crate::report::feeds::{
    FeedHeard, Gives, PortHeard, PortSays, Verdict, found_text, json, ports_text, text,
};
use crate::tui::first::Offered;
use crate::watch::input::FeedId;

/// The arguments.
#[derive(Args, Clone, Debug, PartialEq)]
pub struct FeedsArgs {
    /// What to listen to: serial:PATH[@BAUD], udp:[ADDR:]PORT, tcp:HOST[:PORT], gpsd:[HOST], signalk:[HOST], signalk-wss:[HOST],
    /// can:INTERFACE, file:PATH[@max], or -
    /// for standard input. Without any: the feeds of boat.toml, and every serial port.
    #[arg(value_name = "SOURCE")]
    pub sources: Vec<Source>,
    /// Look in the usual places too: UDP ports 10110, 2000 and 1456 of any network, this computer's TCP port 10110,
    /// gpsd and Signal K, and the Signal K servers that make themselves known by mDNS. A watch that listens at one of these may hear nothing there meanwhile.
    #[arg(long, conflicts_with = "sources")]
    pub look: bool,
    /// How long to listen, seconds.
    #[arg(long, value_name = "S", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub seconds: u32,
    /// One JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Whether the sources are enough for a watch is in the exit code too.
pub(super) fn run(args: &FeedsArgs, config: Option<&Path>) -> anyhow::Result<Exit> {
    ensure!(args.sources.len() <= MOST_FEEDS, "More than {MOST_FEEDS} feeds cannot be listened to at once.");
    wait_for(listen(args, config))
        .context("The feeds cannot be listened to: the system gives no timer or network")?
}

async fn listen(args: &FeedsArgs, config: Option<&Path>) -> anyhow::Result<Exit> {
    let mut specs = specs(args, config)?;
    let keys = ServerKeys::beside(&folders::config(config)?).telling(|words| note(&words));
    let say = |page: &str| if args.json { Ok(()) } else { print(page) };
    let ports = if args.sources.is_empty() {
        say("Looking for serial ports and their rates ...\n\n")?;
        survey_ports(&Try::AllBut(serial_paths(&specs))).await
    } else {
        survey_ports(&Try::Nothing).await
    };
    add_found(&mut specs, &ports);
    let named = specs.len();
    if args.look {
        add_sources(&mut specs, usual_places());
        add_sources(&mut specs, signalk_servers(NEARBY).await.into_iter().map(Source::SignalK));
    }
    say(&ports_text(&ports))?;
    if !specs.is_empty() {
        say(&format!("Listening for {} s ...\n\n", args.seconds))?;
    }
    let time = Duration::from_secs(args.seconds.into());
    let mut survey = survey_feeds(&Clock::system(), &specs, time, ports, keys).await;
    if args.look {
        let looked = survey.feeds.split_off(named);
        survey.feeds.extend(looked.into_iter().filter(spoke));
        let found: Vec<_> = survey.feeds.iter().skip(named).collect();
        say(&found_text(&found))?;
    }
    print(&if args.json { format!("{:#}\n", json(&survey)) } else { text(&survey) })?;
    Ok(if Verdict::of(&survey.feeds).has_position() { Exit::Done } else { Exit::NoWatch })
}

/// The feeds asked for, else those of `boat.toml`.
fn specs(args: &FeedsArgs, config: Option<&Path>) -> anyhow::Result<Vec<FeedSpec>> {
    if args.sources.is_empty() {
        return configured(config);
    }
    let sources = args.sources.iter().cloned();
    Ok(sources.enumerate().map(|(i, source)| spec(i, source.to_string(), source)).collect())
}

fn spec(index: usize, name: String, source: Source) -> FeedSpec {
    let feed = FeedId(u8::try_from(index).expect("there are at most 32 feeds"));
    FeedSpec { feed, name, source }
}

fn configured(config: Option<&Path>) -> anyhow::Result<Vec<FeedSpec>> {
    let (path, Some(boat)) = folders::boat(config)? else { return Ok(Vec::new()) };
    let read = |(i, feed): (usize, &crate::config::FeedSource)| {
        let source =
            feed.source.parse().with_context(|| format!("The feed {} of {}", feed.name, path.display()))?;
        Ok(spec(i, feed.name.clone(), source))
    };
    boat.feeds.iter().enumerate().map(read).collect()
}

/// Ports that a configured feed has are heard as that feed.
fn serial_paths(specs: &[FeedSpec]) -> Vec<String> {
    let path = |spec: &FeedSpec| match &spec.source {
        Source::Serial { path, .. } => Some(path.clone()),
        _ => None,
    };
    specs.iter().filter_map(path).collect()
}

/// The ports on which sentences were heard, by the name that stays.
pub(super) fn talking(ports: &[PortHeard]) -> impl Iterator<Item = Source> {
    ports.iter().filter_map(|port| {
        let PortSays::Sentences { baud } = port.heard else { return None };
        let path = port.lasting_name.clone().unwrap_or_else(|| port.device.clone());
        Some(Source::Serial { path, baud: Some(baud) })
    })
}

/// Adds the ports that talk, as many as there is room for.
fn add_found(specs: &mut Vec<FeedSpec>, ports: &[PortHeard]) {
    add_sources(specs, talking(ports));
}

/// Adds sources that are not among them yet, as many as there is room for.
fn add_sources(specs: &mut Vec<FeedSpec>, sources: impl IntoIterator<Item = Source>) {
    for source in sources {
        if specs.len() < MOST_FEEDS && specs.iter().all(|spec| spec.source != source) {
            specs.push(spec(specs.len(), source.to_string(), source));
        }
    }
}

/// Whether anything came.
fn spoke(feed: &FeedHeard) -> bool {
    feed.tally.heard() + feed.tally.rejected() > 0
}

/// How long the first start listens: a receiver tells at least once a second, a server answers within one.
const FIRST_LISTEN: Duration = Duration::from_secs(6);

/// So long servers that make themselves known are waited for: mDNS answers within one second (RFC 6762).
const NEARBY: Duration = Duration::from_secs(2);

/// What is connected, for a first start: the serial ports and the usual places, each with what it gives. Those with a
/// position; if there is none, the receivers that have none yet.
pub(super) async fn look_about(keys: ServerKeys) -> Vec<Offered> {
    let all = Try::AllBut(Vec::new());
    let (ports, servers) = tokio::join!(survey_ports(&all), signalk_servers(NEARBY));
    let mut specs = Vec::new();
    add_found(&mut specs, &ports);
    add_sources(&mut specs, usual_places());
    add_sources(&mut specs, servers.into_iter().map(Source::SignalK));
    let survey = survey_feeds(&Clock::system(), &specs, FIRST_LISTEN, ports, keys).await;
    offers(&survey.feeds)
}

fn offers(feeds: &[FeedHeard]) -> Vec<Offered> {
    let offered = |wanted: fn(&FeedHeard) -> bool| -> Vec<Offered> {
        let feeds = feeds.iter().filter(|feed| wanted(feed));
        feeds.map(|feed| Offered { source: feed.source.clone(), about: feed.tally.in_short() }).collect()
    };
    let with_position = offered(|feed| feed.tally.stream(Gives::Position).is_some());
    if with_position.is_empty() { offered(|feed| feed.tally.without_fix > 0) } else { with_position }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_boats_feeds_are_listened_to_when_none_is_named() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(configured(Some(folder.path())).unwrap(), []);
        let feed = "[[feed]]\nname = \"mast\"\nsource = \"udp:10110\"\n";
        std::fs::write(folder.path().join("boat.toml"), feed).unwrap();
        let read = configured(Some(folder.path())).unwrap();
        assert_eq!(read, [spec(0, "mast".to_owned(), "udp:10110".parse().unwrap())]);
    }

    #[test]
    fn only_what_gave_a_position_is_offered_else_what_will() {
        let heard = |source: &str, line: &[u8]| {
            let mut tally = crate::report::feeds::Tally::default();
            tally.hear(crate::watch::units::WatchTime(0), line);
            FeedHeard { name: source.to_owned(), source: source.to_owned(), tally }
        };
        let network = heard("udp:0.0.0.0:2000", b"17:33:21.107 R 09F80101 F1 2B 6B 1B 8E 5E 36 FF");
        let compass = heard("serial:/dev/a@4800", b"$GPHDT,236.7,T*35");
        let cold = heard("serial:/dev/b@4800", b"$GPRMC,,V,,,,,,,,,,N*53");
        let sources = |feeds: &[FeedHeard]| offers(feeds).into_iter().map(|o| o.source).collect::<Vec<_>>();
        assert_eq!(sources(&[compass.clone(), cold.clone(), network]), ["udp:0.0.0.0:2000"]);
        assert_eq!(sources(&[compass.clone(), cold]), ["serial:/dev/b@4800"]);
        assert!(offers(&[compass]).is_empty());
        let mut specs = Vec::new();
        add_sources(&mut specs, usual_places());
        add_sources(&mut specs, usual_places());
        assert_eq!(specs.len(), 6, "none twice");
    }

    #[test]
    fn ports_that_talk_are_listened_to_by_the_name_that_stays() {
        let port = |device: &str, lasting_name: Option<&str>, heard| PortHeard {
            device: device.to_owned(),
            lasting_name: lasting_name.map(str::to_owned),
            attached: String::new(),
            heard,
        };
        let talks = PortSays::Sentences { baud: 38_400 };
        let ports = [
            port("/dev/ttyS0", None, PortSays::Silent),
            port("/dev/ttyUSB0", Some("/dev/serial/by-id/x"), talks.clone()),
            port("/dev/ttyUSB1", None, talks),
        ];
        let mut specs = Vec::new();
        add_found(&mut specs, &ports);
        let sources: Vec<_> = specs.iter().map(|spec| spec.source.to_string()).collect();
        assert_eq!(sources, ["serial:/dev/serial/by-id/x@38400", "serial:/dev/ttyUSB1@38400"]);
        assert_eq!(specs[1].feed, FeedId(1));
    }
}
