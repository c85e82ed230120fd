//! Lines from datagrams: unicast, broadcast, multicast, several sentences in one.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::UdpSocket;
use tokio::time::timeout;

use super::{Ended, Listen, Outlet, Patience};
use crate::watch::nmea::LineSplitter;
use crate::watch::units::WatchTime;

/// Senders whose unfinished lines are kept apart.
const SENDERS_MAX: usize = 8;

/// What opens a datagram of sentences on a ship's network, before the first TAG block: IEC 61162-450, from memory.
const SHIPS_NETWORK_HEADER: &[u8] = b"UdPbC\0";

pub(super) struct Udp {
    listen: Listen,
    patience: Patience,
}

impl Udp {
    pub(super) fn new(listen: Listen, patience: Patience) -> Self {
        Self { listen, patience }
    }

    pub(super) async fn run(&mut self, outlet: &mut Outlet) -> Ended {
        let mut socket = match bind(self.listen) {
            Ok(socket) => socket,
            Err(error) => return Ended::Lost(cannot_bind(self.listen, &error)),
        };
        outlet.report(super::Link::Open).await;
        let mut senders = Senders::default();
        // The largest payload a datagram can have.
        let mut buffer = vec![0; 65_535];
        loop {
            let received = match timeout(self.patience.silence, socket.recv_from(&mut buffer)).await {
                Ok(received) => received,
                // A group is forgotten when its interface goes; silence may mean that. To join again costs nothing.
                Err(_) if self.listen.address.is_multicast() => match bind(self.listen) {
                    Ok(again) => {
                        socket = again;
                        continue;
                    }
                    Err(error) => return Ended::Lost(cannot_bind(self.listen, &error)),
                },
                Err(_) => continue,
            };
            let at = outlet.now();
            match received {
                Ok((count, from)) => senders.take(from, at, &buffer[..count], outlet).await,
                Err(error) => return Ended::Lost(format!("the network failed: {error}")),
            }
        }
    }
}

/// Unfinished lines by sender: some serial bridges cut the stream into datagrams anywhere.
#[derive(Default)]
struct Senders {
    /// The longest silent first.
    splitters: Vec<(SocketAddr, LineSplitter)>,
}

impl Senders {
    async fn take(&mut self, from: SocketAddr, at: WatchTime, datagram: &[u8], outlet: &mut Outlet) {
        let datagram = datagram.strip_prefix(SHIPS_NETWORK_HEADER).unwrap_or(datagram);
        let mut splitter = self.splitter_of(from);
        outlet.take(at, datagram, &mut splitter).await;
        if ends_a_sentence(datagram) {
            // Many senders leave out the line end: the datagram is the line.
            outlet.take(at, b"\n", &mut splitter).await;
        }
        self.splitters.push((from, splitter));
    }

    fn splitter_of(&mut self, from: SocketAddr) -> LineSplitter {
        match self.splitters.iter().position(|(sender, _)| *sender == from) {
            Some(known) => self.splitters.remove(known).1,
            None => {
                if self.splitters.len() == SENDERS_MAX {
                    self.splitters.remove(0);
                }
                LineSplitter::new()
            }
        }
    }
}

/// Whether the last line is whole: it ends in `*` and a checksum, or is an object.
fn ends_a_sentence(datagram: &[u8]) -> bool {
    matches!(datagram, [b'{', b'"', .., b'}'])
        || matches!(datagram, [.., b'*', a, b] if a.is_ascii_hexdigit() && b.is_ascii_hexdigit())
}

fn bind(listen: Listen) -> io::Result<UdpSocket> {
    let socket = Socket::new(Domain::for_address(bound_address(listen)), Type::DGRAM, Some(Protocol::UDP))?;
    if listen.address.is_multicast() || listen.address.is_unspecified() {
        // Broadcasts and groups reach every program that listens. With a plain address the last program to come would
        // take every datagram from those before it, and `feeds` would silence a running watch: there it is refused.
        socket.set_reuse_address(true)?;
    }
    socket.bind(&bound_address(listen).into())?;
    match listen.address {
        IpAddr::V4(group) if group.is_multicast() => {
            socket.join_multicast_v4(&group, &listen.interface.unwrap_or(Ipv4Addr::UNSPECIFIED))?;
        }
        IpAddr::V6(group) if group.is_multicast() => socket.join_multicast_v6(&group, 0)?,
        _ => {}
    }
    socket.set_nonblocking(true)?;
    UdpSocket::from_std(socket.into())
}

/// Bound to the group itself a socket hears nothing else; Windows does not allow it.
fn bound_address(listen: Listen) -> SocketAddr {
    let any = cfg!(windows) && listen.address.is_multicast();
    match listen.address {
        IpAddr::V4(_) if any => (Ipv4Addr::UNSPECIFIED, listen.port).into(),
        IpAddr::V6(_) if any => (std::net::Ipv6Addr::UNSPECIFIED, listen.port).into(),
        address => (address, listen.port).into(),
    }
}

fn cannot_bind(listen: Listen, error: &io::Error) -> String {
    let Listen { address, port, .. } = listen;
    match error.kind() {
        io::ErrorKind::AddrInUse => {
            format!("another program, perhaps a running watch, already listens at port {port} of {address}")
        }
        io::ErrorKind::AddrNotAvailable => format!("this computer does not have the address {address} now"),
        io::ErrorKind::PermissionDenied => {
            format!(
                "port {port} is reserved for the system: let the sender use one above 1023, such as 10110"
            )
        }
        _ => format!("cannot listen at port {port} of {address}: {error}"),
    }
}
