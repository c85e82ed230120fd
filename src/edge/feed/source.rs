//! Where do lines come from? Sources as they are written on the command line and in `boat.toml`.
//!
//! | written | means |
//! | --- | --- |
//! | `serial:PATH[@BAUD]` | a serial port; without a rate the usual rates are tried until sentences can be read |
//! | `udp:[ADDR:]PORT` | datagrams; only from this computer unless an address is given |
//! | `udp:GROUP[@LOCAL]:PORT` | a multicast group, joined on the interface with that local address |
//! | `tcp:HOST[:PORT]` | a connection to a server of sentences |
//! | `gpsd:[HOST[:PORT]]` | the computer's GNSS service |
//! | `signalk:[HOST[:PORT]]` | a Signal K server |
//! | `signalk-wss:[HOST[:PORT]]` | a Signal K server with TLS |
//! | `can:INTERFACE` | a CAN interface of this computer: NMEA 2000 |
//! | `file:PATH[@NNx\|@max]` | a recording, at its own pace, NN times as fast, or as fast as possible |
//! | `-` | standard input |

use std::fmt;
use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Port for sentences over TCP and UDP: IANA service name `nmea-0183`.
pub const NMEA_PORT: u16 = 10110;
/// Port of gpsd: IANA service name `gpsd`.
pub const GPSD_PORT: u16 = 2947;

/// Usual port of Signal K servers for web and WebSocket: common practice, the specification leaves it free.
pub const SIGNALK_PORT: u16 = 3000;
/// The same with TLS: the specification's own examples.
pub const SIGNALK_TLS_PORT: u16 = 3443;

/// A source of lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Source {
    /// A serial port.
    Serial {
        /// Device file, a link to one, or a Windows port name.
        path: String,
        /// Bits a second; `None` to find it by listening.
        baud: Option<u32>,
    },
    /// Datagrams.
    Udp(Listen),
    /// A TCP server of sentences.
    Tcp(Server),
    /// A gpsd.
    Gpsd(Server),
    /// A Signal K server.
    SignalK(SignalKServer),
    /// A CAN interface, by its name.
    Can(String),
    /// A recording.
    File {
        /// Plain or gzip.
        path: PathBuf,
        /// How fast it is played.
        pace: Pace,
    },
    /// Standard input.
    Stdin,
}

/// Where datagrams are received.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Listen {
    /// An address of this computer, its "any" address, or a multicast group.
    pub address: IpAddr,
    /// For a multicast group: the local address of the interface on which to join it; `None` leaves it to the system.
    pub interface: Option<Ipv4Addr>,
    /// Never 0.
    pub port: u16,
}

/// A peer to connect to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Server {
    /// Name or address, without brackets.
    pub host: String,
    /// Never 0.
    pub port: u16,
}

/// A Signal K server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignalKServer {
    /// Where.
    pub server: Server,
    /// Whether it is asked with TLS.
    pub tls: bool,
}

/// How fast a recording is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// As it was recorded.
    Recorded,
    /// That many times as fast; `0.01..=100_000.0`.
    Times(f64),
    /// As fast as it can be read.
    Max,
}

/// Why a source could not be understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SourceError {
    /// None of the known kinds.
    #[error(
        "`{0}` is not a source. Write serial:/dev/ttyUSB0@4800, udp:10110, tcp:HOST:10110, gpsd:localhost:2947, \
         signalk:localhost:3000, signalk-wss:HOST:3443, can:can0, file:night.nmea, or - for standard input."
    )]
    Kind(String),
    /// Nothing after the colon.
    #[error("`{0}` names no {1}. Write for example {2}.")]
    Nothing(String, &'static str, &'static str),
    /// The rate is not a number of bits a second.
    #[error(
        "`{0}` is not a baud rate. Write for example serial:/dev/ttyUSB0@4800, or leave it out and it is found by listening."
    )]
    Baud(String),
    /// The port is not in 1–65535.
    #[error("`{0}` is not a port: it must be a number from 1 to 65535.")]
    Port(String),
    /// No interface of a computer has such a name.
    #[error("`{0}` is no CAN interface. Write for example can:can0; `ip link` lists them.")]
    Interface(String),
    /// The host is neither a name nor an address; an IPv6 address lacks its brackets.
    #[error(
        "`{0}` is not a host. Write its name or address, an IPv6 address in brackets: tcp:[fe80::1]:10110."
    )]
    Host(String),
    /// The address to receive at is not one.
    #[error(
        "`{0}` is not an address of this computer or a multicast group. Write for example udp:10110 (only this computer), \
         udp:0.0.0.0:10110 (any network) or udp:239.192.0.1:10110 (a group)."
    )]
    Address(String),
    /// An interface was named for something that is not a multicast group.
    #[error("`{0}` is no IPv4 multicast group (224.0.0.0 to 239.255.255.255), so it takes no `@` address.")]
    NoGroup(IpAddr),
    /// The pace is out of range.
    #[error(
        "`{0}` is not a pace. Write for example file:night.nmea@60x (from 0.01x to 100000x) or file:night.nmea@max."
    )]
    Pace(String),
}

impl FromStr for Source {
    type Err = SourceError;

    fn from_str(text: &str) -> Result<Self, SourceError> {
        if text == "-" {
            return Ok(Self::Stdin);
        }
        let (kind, rest) = text.split_once(':').ok_or_else(|| SourceError::Kind(text.to_owned()))?;
        match kind {
            "serial" => serial(rest),
            "udp" => udp(rest).map(Self::Udp),
            "tcp" => match server(rest, NMEA_PORT)? {
                Some(server) => Ok(Self::Tcp(server)),
                None => Err(SourceError::Nothing(text.to_owned(), "host", "tcp:192.168.4.1:10110")),
            },
            "gpsd" => server_or_local(rest, GPSD_PORT).map(Self::Gpsd),
            "signalk" => signalk(rest, SIGNALK_PORT, false),
            "signalk-wss" => signalk(rest, SIGNALK_TLS_PORT, true),
            "can" => interface(rest).map(Self::Can),
            "file" => file(rest),
            _ => Err(SourceError::Kind(text.to_owned())),
        }
    }
}

fn serial(rest: &str) -> Result<Source, SourceError> {
    let (path, baud) = match rest.rsplit_once('@') {
        Some((path, baud)) => (path, Some(rate(baud)?)),
        None => (rest, None),
    };
    if path.is_empty() {
        let text = format!("serial:{rest}");
        return Err(SourceError::Nothing(text, "port", "serial:/dev/ttyUSB0@4800"));
    }
    Ok(Source::Serial { path: path.to_owned(), baud })
}

fn rate(text: &str) -> Result<u32, SourceError> {
    // 4 Mbit/s: the fastest rate that termios knows.
    let sane = |baud: &u32| (50..=4_000_000).contains(baud);
    text.parse().ok().filter(sane).ok_or_else(|| SourceError::Baud(text.to_owned()))
}

fn udp(rest: &str) -> Result<Listen, SourceError> {
    let Some((place, port_text)) = rest.rsplit_once(':') else {
        // Whoever can send datagrams to this computer could feed it false positions: strangers must be let in on purpose.
        return Ok(Listen { address: Ipv4Addr::LOCALHOST.into(), interface: None, port: port(rest)? });
    };
    let (address_text, interface_text) = match place.split_once('@') {
        Some((group, local)) => (group, Some(local)),
        None => (place, None),
    };
    let wrong = |text: &str| SourceError::Address(text.to_owned());
    let address: IpAddr = bare(address_text).parse().map_err(|_| wrong(address_text))?;
    let interface = match interface_text {
        Some(_) if !(address.is_ipv4() && address.is_multicast()) => {
            return Err(SourceError::NoGroup(address));
        }
        Some(local) => Some(local.parse().map_err(|_| wrong(local))?),
        None => None,
    };
    Ok(Listen { address, interface, port: port(port_text)? })
}

fn server(rest: &str, usual_port: u16) -> Result<Option<Server>, SourceError> {
    let bracketed_host_ends = rest.ends_with(']');
    let (written, port) = match rest.rsplit_once(':') {
        Some((host, port_text)) if !bracketed_host_ends => (host, port(port_text)?),
        _ => (rest, usual_port),
    };
    let host = bare(written);
    let bracketed = host.len() < written.len();
    if host.contains(['[', ']']) || bracketed && host.is_empty() || !bracketed && host.contains(':') {
        return Err(SourceError::Host(written.to_owned()));
    }
    Ok((!host.is_empty()).then(|| Server { host: host.to_owned(), port }))
}

/// The server, on this computer if none is named.
fn server_or_local(rest: &str, usual_port: u16) -> Result<Server, SourceError> {
    let local = || Server { host: "localhost".to_owned(), port: usual_port };
    Ok(server(rest, usual_port)?.unwrap_or_else(local))
}

fn signalk(rest: &str, usual_port: u16, tls: bool) -> Result<Source, SourceError> {
    Ok(Source::SignalK(SignalKServer { server: server_or_local(rest, usual_port)?, tls }))
}

/// A name as Linux takes it: at most 15 signs.
fn interface(name: &str) -> Result<String, SourceError> {
    let plain = name.bytes().all(|b| b.is_ascii_alphanumeric() || b"_-.".contains(&b));
    let is_one = plain && (1..=15).contains(&name.len());
    is_one.then(|| name.to_owned()).ok_or_else(|| SourceError::Interface(name.to_owned()))
}

/// An IPv6 address is written in brackets so that its colons are not taken for the port's.
fn bare(host: &str) -> &str {
    host.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(host)
}

fn port(text: &str) -> Result<u16, SourceError> {
    text.parse().ok().filter(|&port| port != 0).ok_or_else(|| SourceError::Port(text.to_owned()))
}

fn file(rest: &str) -> Result<Source, SourceError> {
    let (path, pace) = match rest.rsplit_once('@') {
        Some((path, "max")) => (path, Pace::Max),
        Some((path, pace)) if is_pace(pace) => (path, times(pace)?),
        // Anything else after an `@` belongs to the file's name.
        _ => (rest, Pace::Recorded),
    };
    if path.is_empty() {
        return Err(SourceError::Nothing(format!("file:{rest}"), "file", "file:night.nmea"));
    }
    Ok(Source::File { path: path.into(), pace })
}

fn is_pace(text: &str) -> bool {
    text.strip_suffix('x')
        .is_some_and(|n| n.starts_with(|c: char| c.is_ascii_digit()) && n.parse::<f64>().is_ok())
}

fn times(text: &str) -> Result<Pace, SourceError> {
    let sane = |factor: &f64| (0.01..=100_000.0).contains(factor);
    let factor = text.trim_end_matches('x').parse().ok().filter(sane);
    factor.map(Pace::Times).ok_or_else(|| SourceError::Pace(text.to_owned()))
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial { path, baud: None } => write!(f, "serial:{path}"),
            Self::Serial { path, baud: Some(baud) } => write!(f, "serial:{path}@{baud}"),
            Self::Udp(Listen { address, interface: Some(local), port }) => {
                write!(f, "udp:{address}@{local}:{port}")
            }
            Self::Udp(Listen { address: IpAddr::V6(address), port, .. }) => {
                write!(f, "udp:[{address}]:{port}")
            }
            Self::Udp(Listen { address, port, .. }) => write!(f, "udp:{address}:{port}"),
            Self::Tcp(server) => write!(f, "tcp:{server}"),
            Self::Gpsd(server) => write!(f, "gpsd:{server}"),
            Self::SignalK(server) => server.fmt(f),
            Self::Can(interface) => write!(f, "can:{interface}"),
            Self::File { path, pace } => write!(f, "file:{}{pace}", path.display()),
            Self::Stdin => f.write_str("-"),
        }
    }
}

impl fmt::Display for Server {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { host, port } = self;
        if host.contains(':') { write!(f, "[{host}]:{port}") } else { write!(f, "{host}:{port}") }
    }
}

impl fmt::Display for SignalKServer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", if self.tls { "signalk-wss" } else { "signalk" }, self.server)
    }
}

impl fmt::Display for Pace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Recorded => Ok(()),
            Self::Times(factor) => write!(f, "@{factor}x"),
            Self::Max => f.write_str("@max"),
        }
    }
}

impl TryFrom<String> for Source {
    type Error = SourceError;
    fn try_from(text: String) -> Result<Self, SourceError> {
        text.parse()
    }
}

impl From<Source> for String {
    fn from(source: Source) -> Self {
        source.to_string()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read(text: &str) -> Source {
        text.parse().unwrap()
    }

    fn listen(address: &str, port: u16) -> Source {
        Source::Udp(Listen { address: address.parse().unwrap(), interface: None, port })
    }

    #[test]
    fn every_kind_of_source_is_read() {
        let serial = |path: &str, baud| Source::Serial { path: path.to_owned(), baud };
        assert_eq!(read("serial:/dev/ttyUSB0@38400"), serial("/dev/ttyUSB0", Some(38400)));
        assert_eq!(read("serial:COM3"), serial("COM3", None));
        assert_eq!(read("udp:0.0.0.0:10110"), listen("0.0.0.0", 10110));
        assert_eq!(read("udp:[::1]:10110"), listen("::1", 10110));
        let group = Listen {
            address: "239.192.0.1".parse().unwrap(),
            interface: Some(Ipv4Addr::new(192, 168, 4, 2)),
            port: 60001,
        };
        assert_eq!(read("udp:239.192.0.1@192.168.4.2:60001"), Source::Udp(group));
        let server = |host: &str, port| Server { host: host.to_owned(), port };
        assert_eq!(read("tcp:plotter.local:2000"), Source::Tcp(server("plotter.local", 2000)));
        assert_eq!(read("tcp:192.168.4.1"), Source::Tcp(server("192.168.4.1", 10110)));
        assert_eq!(read("tcp:[fe80::1]"), Source::Tcp(server("fe80::1", 10110)));
        assert_eq!(read("gpsd:"), Source::Gpsd(server("localhost", 2947)));
        assert_eq!(read("gpsd:mast"), Source::Gpsd(server("mast", 2947)));
        let signalk = |host, port, tls| Source::SignalK(SignalKServer { server: server(host, port), tls });
        assert_eq!(read("signalk:"), signalk("localhost", 3000, false));
        assert_eq!(read("signalk:mast:80"), signalk("mast", 80, false));
        assert_eq!(read("signalk-wss:mast"), signalk("mast", 3443, true));
        assert_eq!(read("can:can0"), Source::Can("can0".into()));
        let file = |path: &str, pace| Source::File { path: path.into(), pace };
        assert_eq!(read("file:night.nmea"), file("night.nmea", Pace::Recorded));
        assert_eq!(read("file:night.nmea.gz@60x"), file("night.nmea.gz", Pace::Times(60.0)));
        assert_eq!(read("file:a@max"), file("a", Pace::Max));
        assert_eq!(read("file:me@home.log"), file("me@home.log", Pace::Recorded));
        assert_eq!(read("-"), Source::Stdin);
    }

    #[test]
    fn a_bare_udp_port_lets_nobody_in_but_this_computer() {
        assert_eq!(read("udp:10110"), listen("127.0.0.1", 10110));
    }

    #[test]
    fn a_wrong_source_says_what_to_write() {
        for (text, says) in [
            ("", "serial:/dev/ttyUSB0@4800"),
            ("usb:1", "tcp:HOST:10110"),
            ("serial:", "names no port"),
            ("serial:/dev/ttyUSB0@", "not a baud rate"),
            ("serial:/dev/ttyUSB0@48oo", "found by listening"),
            ("serial:/dev/ttyUSB0@0", "not a baud rate"),
            ("udp:0", "from 1 to 65535"),
            ("udp:70000", "from 1 to 65535"),
            ("udp:boat:10110", "udp:0.0.0.0:10110"),
            ("udp:127.0.0.1@127.0.0.1:1", "no IPv4 multicast group"),
            ("tcp:", "names no host"),
            ("tcp:host:nmea", "from 1 to 65535"),
            ("tcp:fe80::1:10110", "in brackets"),
            ("tcp:[]:10110", "is not a host"),
            ("gpsd:[[::1]]", "is not a host"),
            ("can:", "no CAN interface"),
            ("can:no such", "ip link"),
            ("file:", "names no file"),
            ("file:a@0x", "0.01x to 100000x"),
        ] {
            let error = text.parse::<Source>().unwrap_err().to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4096))]
        #[test]
        fn what_is_written_is_read_back(text in "(serial|udp|tcp|gpsd|signalk|signalk-wss|can|file):[-a-z0-9:.@/\\[\\]]{0,20}|\\PC{0,20}") {
            if let Ok(source) = text.parse::<Source>() {
                prop_assert_eq!(source.to_string().parse::<Source>(), Ok(source));
            }
        }
    }
}
