//! Where are alert sentences sent? To instruments, plotters and panels over the network or a serial line.

use std::fmt;
use std::io::{self, Write as _};
use std::net::{Ipv4Addr, SocketAddr};
use std::str::FromStr;
use std::time::Duration;

use serialport::SerialPort;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpStream, UdpSocket};
use tokio::sync::mpsc;
use tokio::time::{Instant, timeout, timeout_at};

use super::sentence::{REPEAT_S, Report};
use super::{Standing, Trouble};
use crate::edge::feed::{Backoff, Patience, PortError, Server, ServerError, Source, SourceError};
use crate::watch::alert::AlertChange;

/// A peer that takes nothing for this long is gone.
const WRITE_WITHIN: Duration = Duration::from_secs(10);
/// Changes that may wait for a slow peer. What is lost beyond is made good by the next repetition.
pub(super) const WAITING: usize = 64;

/// A listener for alert sentences.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sink {
    /// Datagrams to an address, a group or a broadcast address.
    Udp(Server),
    /// A TCP server that takes sentences.
    Tcp(Server),
    /// A serial port.
    Serial {
        /// Device file or Windows port name.
        path: String,
        /// Bits a second.
        baud: u32,
    },
}

/// Rate of instruments on a serial line: IEC 61162-1.
const USUAL_BAUD: u32 = 4800;

/// Why a sink could not be understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SinkError {
    /// None of the known kinds.
    #[error(
        "`{0}` is nowhere to send alerts to. Write udp:10111 (this computer), udp:192.168.4.255:10111, \
         tcp:HOST:10111, serial:/dev/ttyUSB1@4800, signalk:HOST or signalk-wss:HOST under [alerts], out."
    )]
    Kind(String),
    /// The host, port, device or rate is wrong.
    #[error("{0} (under [alerts], out)")]
    Place(#[from] SourceError),
}

impl FromStr for Sink {
    type Err = SinkError;

    fn from_str(text: &str) -> Result<Self, SinkError> {
        let unknown = || SinkError::Kind(text.to_owned());
        if let Some(rest) = text.strip_prefix("udp:") {
            // A bare port is this computer's: to send farther must be said.
            let host = if rest.contains([':', '.']) || rest.is_empty() {
                rest.to_owned()
            } else {
                format!("{}:{rest}", Ipv4Addr::LOCALHOST)
            };
            // Hosts are written alike for both.
            return match format!("tcp:{host}").parse()? {
                Source::Tcp(server) => Ok(Self::Udp(server)),
                _ => Err(unknown()),
            };
        }
        if !text.starts_with("tcp:") && !text.starts_with("serial:") {
            return Err(unknown());
        }
        match text.parse()? {
            Source::Tcp(server) => Ok(Self::Tcp(server)),
            Source::Serial { path, baud } => Ok(Self::Serial { path, baud: baud.unwrap_or(USUAL_BAUD) }),
            _ => Err(unknown()),
        }
    }
}

impl fmt::Display for Sink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Udp(server) => write!(f, "udp:{server}"),
            Self::Tcp(server) => write!(f, "tcp:{server}"),
            Self::Serial { path, baud } => write!(f, "serial:{path}@{baud}"),
        }
    }
}

/// Informs one listener for as long as changes can come; connects again by itself.
pub(super) async fn keep_informed(
    (sink, mut report): (Sink, Report),
    patience: Patience,
    mut changes: mpsc::Receiver<AlertChange>,
    standing: Standing,
    trouble: Trouble,
) {
    let mut backoff = Backoff::new(patience);
    loop {
        let opened = Instant::now();
        let lost = match Way::open(&sink, patience).await {
            Ok(way) => {
                trouble.over();
                inform(way, &mut report, &mut changes, &standing).await
            }
            Err(why) => Some(why.to_string()),
        };
        let Some(why) = lost else { return };
        trouble.report(format!("Alerts are not sent to {sink}: {why}. It is tried again by itself."));
        backoff.was_open_for(opened.elapsed());
        if listen_only(&mut report, &mut changes, backoff.next_wait()).await.is_none() {
            return;
        }
    }
}

/// Sends until the way breaks, and says why; `None` when no more changes can come.
async fn inform(
    mut way: Way,
    report: &mut Report,
    changes: &mut mpsc::Receiver<AlertChange>,
    standing: &Standing,
) -> Option<String> {
    let mut repeat_at = Instant::now();
    loop {
        let change = tokio::select! {
            change = timeout_at(repeat_at, changes.recv()) => change,
            why = way.broken() => return Some(why),
        };
        let text = match change {
            Ok(Some(change)) => report.change(&change),
            Ok(None) => return None,
            Err(_) => {
                repeat_at += Duration::from_secs(REPEAT_S.into());
                let snapshot = standing.snapshots.borrow().clone();
                report.standing(snapshot.at, &snapshot.alerts, standing.pulse.is_judging())
            }
        };
        way = match timeout(WRITE_WITHIN, way.send(text)).await {
            Ok(Ok(way)) => way,
            Ok(Err(error)) => return Some(error.to_string()),
            Err(_) => return Some(format!("it took nothing for {} s", WRITE_WITHIN.as_secs())),
        };
    }
}

/// Keeps the report true while nobody listens. `None` when no more changes can come.
async fn listen_only(
    report: &mut Report,
    changes: &mut mpsc::Receiver<AlertChange>,
    wait: Duration,
) -> Option<()> {
    let until = Instant::now() + wait;
    while let Ok(change) = timeout_at(until, changes.recv()).await {
        report.change(&change?);
    }
    Some(())
}

/// Why there is no way to a listener.
#[derive(Debug, thiserror::Error)]
enum NoWay {
    #[error(transparent)]
    Server(#[from] ServerError),
    #[error(transparent)]
    Serial(#[from] PortError),
    #[error("{0} cannot be opened")]
    Port(String),
    #[error("{0} has no address")]
    NoAddress(String),
    #[error("{host} is not known here ({error})")]
    Unknown { host: String, error: io::Error },
    #[error("nobody knows the address of {0}")]
    NobodyKnows(String),
    #[error("no socket ({0})")]
    NoSocket(io::Error),
}

/// An open way to a listener.
enum Way {
    Udp(UdpSocket, SocketAddr),
    Tcp(TcpStream),
    Serial(Box<dyn SerialPort>),
}

impl Way {
    /// # Errors
    /// Why not.
    async fn open(sink: &Sink, patience: Patience) -> Result<Self, NoWay> {
        match sink {
            Sink::Udp(server) => udp(server, patience).await,
            Sink::Tcp(server) => Ok(Self::Tcp(crate::edge::feed::connect(server, patience).await?)),
            Sink::Serial { path, baud } => {
                let port = serialport::new(path, *baud).timeout(WRITE_WITHIN);
                let opened = tokio::task::spawn_blocking(move || port.open()).await;
                match opened {
                    Ok(Ok(port)) => Ok(Self::Serial(port)),
                    Ok(Err(error)) => Err(crate::edge::feed::cannot_open(path, error).into()),
                    Err(_) => Err(NoWay::Port(path.clone())),
                }
            }
        }
    }

    /// Waits until the peer hangs up, and says so. What it sends is not read: nobody acknowledges from afar.
    async fn broken(&mut self) -> String {
        let Self::Tcp(stream) = self else { return std::future::pending().await };
        let mut buffer = [0; 512];
        loop {
            match stream.read(&mut buffer).await {
                Ok(0) => return "it closed the connection".into(),
                Ok(_) => {}
                Err(error) => return format!("the connection broke ({error})"),
            }
        }
    }

    /// Sends whole sentences, and gives itself back if it still stands.
    async fn send(self, text: String) -> io::Result<Self> {
        match self {
            Self::Udp(socket, to) => {
                // A sentence a datagram: every receiver copes with that.
                for sentence in text.split_inclusive('\n') {
                    socket.send_to(sentence.as_bytes(), to).await?;
                }
                Ok(Self::Udp(socket, to))
            }
            Self::Tcp(mut stream) => {
                stream.write_all(text.as_bytes()).await?;
                Ok(Self::Tcp(stream))
            }
            Self::Serial(mut port) => {
                let written = tokio::task::spawn_blocking(move || {
                    port.write_all(text.as_bytes()).map(|()| Self::Serial(port))
                });
                written.await.map_err(io::Error::other)?
            }
        }
    }
}

async fn udp(server: &Server, patience: Patience) -> Result<Way, NoWay> {
    let Server { host, port } = server;
    let found = timeout(patience.connect, tokio::net::lookup_host((host.as_str(), *port))).await;
    let to = match found {
        Ok(Ok(mut all)) => all.next().ok_or_else(|| NoWay::NoAddress(host.clone()))?,
        Ok(Err(error)) => return Err(NoWay::Unknown { host: host.clone(), error }),
        Err(_) => return Err(NoWay::NobodyKnows(host.clone())),
    };
    let any: SocketAddr = if to.is_ipv4() {
        (Ipv4Addr::UNSPECIFIED, 0).into()
    } else {
        (std::net::Ipv6Addr::UNSPECIFIED, 0).into()
    };
    let bound = async {
        let socket = UdpSocket::bind(any).await?;
        socket.set_broadcast(true)?;
        Ok::<_, io::Error>(socket)
    };
    bound.await.map(|socket| Way::Udp(socket, to)).map_err(NoWay::NoSocket)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sink_is_read_and_a_bare_port_stays_on_this_computer() {
        for (text, reads) in [
            ("udp:10111", "udp:127.0.0.1:10111"),
            ("udp:192.168.4.255:10111", "udp:192.168.4.255:10111"),
            ("udp:panel.local:10111", "udp:panel.local:10111"),
            ("udp:[::1]:10111", "udp:[::1]:10111"),
            ("tcp:192.168.4.1:2000", "tcp:192.168.4.1:2000"),
            ("serial:/dev/ttyUSB1", "serial:/dev/ttyUSB1@4800"),
            ("serial:/dev/ttyUSB1@38400", "serial:/dev/ttyUSB1@38400"),
        ] {
            assert_eq!(text.parse::<Sink>().map(|sink| sink.to_string()), Ok(reads.to_owned()));
        }
    }

    #[test]
    fn a_wrong_sink_says_what_to_write() {
        for text in ["", "-", "file:alerts.nmea", "gpsd:", "panel", "udp:", "udp:0", "tcp:", "serial:"] {
            let error = text.parse::<Sink>().unwrap_err().to_string();
            assert!(error.contains("[alerts], out"), "{text}: {error}");
        }
    }
}
