//! What do the feeds and the serial ports give? Listens for a while and counts.

use std::time::Duration;

use tokio::time::{Instant, timeout_at};

use super::clock::Clock;
use super::feed::baud::Found;
use super::feed::usb::{Port, PortKind, UsbIdentity, ports};
use super::feed::{
    Arrival, FeedSpec, GPSD_PORT, Listen, NMEA_PORT, Patience, SIGNALK_PORT, Server, ServerKeys,
    SignalKServer, Source, listen_for_rate, queue,
};
use crate::report::feeds::{FeedHeard, PortHeard, PortSays, Survey, Tally};
use crate::watch::units::Span;

/// Which ports are listened to for their rate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Try {
    /// None.
    Nothing,
    /// All but these devices and links.
    AllBut(Vec<String>),
}

/// The serial ports, and what is heard on those that are to be tried: all at once, some seconds.
pub async fn survey_ports(which: &Try) -> Vec<PortHeard> {
    survey_these(ports(), which).await
}

async fn survey_these(ports: Vec<Port>, which: &Try) -> Vec<PortHeard> {
    let trials: Vec<_> = ports
        .into_iter()
        .map(|port| {
            let tried = match which {
                Try::Nothing => false,
                Try::AllBut(left) => !left.iter().any(|path| port.answers_to(path)),
            };
            let device = port.device.clone();
            let trial = tried.then(|| tokio::task::spawn_blocking(move || try_port(&device)));
            (port, trial)
        })
        .collect();
    let mut heard = Vec::new();
    for (port, trial) in trials {
        let says = match trial {
            Some(trial) => trial
                .await
                .unwrap_or_else(|error| PortSays::Failed { why: format!("it could not be tried: {error}") }),
            None => PortSays::NotTried,
        };
        heard.push(PortHeard {
            attached: attached(&port.kind),
            device: port.device,
            lasting_name: port.lasting_name,
            heard: says,
        });
    }
    heard
}

fn try_port(device: &str) -> PortSays {
    match listen_for_rate(device) {
        Ok(Found::Rate(baud)) => PortSays::Sentences { baud },
        Ok(Found::Unreadable) => PortSays::Unreadable,
        Ok(Found::Silent) => PortSays::Silent,
        Err(why) => PortSays::Failed { why: why.to_string() },
    }
}

/// What is plugged in, in words: `USB, Invented GNSS receiver, 1234:5678, serial 17`.
fn attached(kind: &PortKind) -> String {
    match kind {
        PortKind::Usb { identity, maker, product } => {
            let UsbIdentity { vendor, product: number, serial, interface } = identity;
            let names: Vec<_> = [maker, product].into_iter().flatten().map(|name| name.trim()).collect();
            let names = if names.is_empty() { String::new() } else { format!(", {}", names.join(" ")) };
            let serial = serial.as_deref().map_or(String::new(), |serial| format!(", serial {serial}"));
            let interface = interface.filter(|&i| i > 0).map_or(String::new(), |i| format!(", its port {i}"));
            format!("USB{names}, {vendor:04x}:{number:04x}{serial}{interface}")
        }
        PortKind::Bluetooth => "Bluetooth".to_owned(),
        PortKind::BuiltIn => "on the board".to_owned(),
        PortKind::Unknown => "no USB port".to_owned(),
    }
}

/// Ports to which multiplexers and gateways send datagrams: 10110 is registered with IANA, 2000 and 1456 are what many
/// boxes are delivered with (common practice, no source).
const USUAL_UDP: [u16; 3] = [NMEA_PORT, 2000, 1456];

/// Where something may be heard without having been named: datagrams on any network, and this computer's own servers.
#[must_use]
pub fn usual_places() -> Vec<Source> {
    let any = std::net::Ipv4Addr::UNSPECIFIED.into();
    let datagrams = USUAL_UDP.map(|port| Source::Udp(Listen { address: any, interface: None, port }));
    let here = |port| Server { host: "localhost".to_owned(), port };
    let signalk = |server| Source::SignalK(SignalKServer { server, tls: false });
    let servers = [Source::Tcp(here(NMEA_PORT)), Source::Gpsd(here(GPSD_PORT)), signalk(here(SIGNALK_PORT))];
    datagrams.into_iter().chain(servers).collect()
}

/// Listens to `specs` for `time`, or until all have ended, and counts what comes. `ports` is passed on.
pub async fn survey_feeds(
    clock: &Clock,
    specs: &[FeedSpec],
    time: Duration,
    ports: Vec<PortHeard>,
    keys: ServerKeys,
) -> Survey {
    let begun = clock.now();
    let mut tallies: Vec<Tally> = specs.iter().map(|_| Tally::default()).collect();
    let (feeder, mut intake) = queue(clock.clone(), Patience::default());
    let feeder = feeder.with_keys(keys);
    let tasks: Vec<_> = specs.iter().map(|spec| feeder.spawn(spec)).collect();
    // Then the queue ends with its last feed.
    drop(feeder);
    let until = Instant::now() + time;
    while let Ok(Some(arrival)) = timeout_at(until, intake.recv()).await {
        let (Arrival::Line { feed, .. } | Arrival::Link { feed, .. } | Arrival::Dropped { feed, .. }) =
            arrival;
        let Some(index) = specs.iter().position(|spec| spec.feed == feed) else { continue };
        match arrival {
            Arrival::Line { at, bytes, .. } => tallies[index].hear(at, &bytes),
            Arrival::Link { link, .. } => tallies[index].link = link,
            // The task has counted them.
            Arrival::Dropped { .. } => {}
        }
    }
    let ended = clock.now();
    for (tally, task) in tallies.iter_mut().zip(&tasks) {
        tally.dropped = task.dropped_lines();
    }
    let feeds = specs.iter().zip(tallies).map(|(spec, tally)| FeedHeard {
        name: spec.name.clone(),
        source: spec.source.to_string(),
        tally,
    });
    Survey { ports, feeds: feeds.collect(), listened: Span(ended.since(begun).0), ended }
}

impl Port {
    /// Whether `path` leads to this port.
    fn answers_to(&self, path: &str) -> bool {
        self.device == super::feed::usb::device_of(path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(unix)]
    #[tokio::test]
    async fn a_port_that_talks_is_told_from_one_that_is_silent() {
        use std::io::Write as _;
        use std::sync::Arc;
        use std::sync::atomic::{AtomicBool, Ordering};

        use serialport::{SerialPort as _, TTYPort};

        let (mut talks, heard) = TTYPort::pair().expect("a line");
        let (_silent, unheard) = TTYPort::pair().expect("a line");
        let port = |line: &TTYPort| Port {
            device: line.name().expect("a name"),
            lasting_name: None,
            kind: PortKind::Unknown,
        };
        let ports = vec![port(&heard), port(&unheard)];
        drop((heard, unheard));
        let over = Arc::new(AtomicBool::new(false));
        let ended = over.clone();
        // As an instrument: it talks whether anybody listens or not.
        let talking = std::thread::spawn(move || {
            while !ended.load(Ordering::Relaxed) {
                let _ = talks.write_all(b"$HEHDT,34.5,T*1D\r\n");
            }
        });
        let heard = survey_these(ports, &Try::AllBut(Vec::new())).await;
        over.store(true, Ordering::Relaxed);
        talking.join().expect("it ends");
        assert!(matches!(heard[0].heard, PortSays::Sentences { .. }), "{:?}", heard[0].heard);
        assert_eq!(heard[1].heard, PortSays::Silent);
    }

    #[test]
    fn a_usb_port_is_named_by_its_maker_and_numbers() {
        let identity = UsbIdentity {
            vendor: 0x1234,
            product: 0x5678,
            serial: Some("17".to_owned()),
            interface: Some(2),
        };
        let kind = PortKind::Usb {
            identity,
            maker: Some("Invented".to_owned()),
            product: Some("GNSS receiver ".to_owned()),
        };
        assert_eq!(attached(&kind), "USB, Invented GNSS receiver, 1234:5678, serial 17, its port 2");
        let identity = UsbIdentity { vendor: 1, product: 2, serial: None, interface: Some(0) };
        assert_eq!(attached(&PortKind::Usb { identity, maker: None, product: None }), "USB, 0001:0002");
    }
}
