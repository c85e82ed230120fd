//! Which Signal K servers make themselves known on the boat's network, by mDNS?
//!
//! # Source
//! The Signal K specification 1.5.1, "Discovery and Connection Establishment": the services `_signalk-ws._tcp` and, with TLS,
//! `_signalk-wss._tcp`.

use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::time::{Duration, Instant};

use mdns_sd::{Receiver, ResolvedService, ServiceDaemon, ServiceEvent};

use super::feed::{Server, SignalKServer};

/// The services, and whether they are asked with TLS.
const SERVICES: [(&str, bool); 2] = [("_signalk-ws._tcp.local.", false), ("_signalk-wss._tcp.local.", true)];

/// Servers that are taken; no boat has more. A network full of them must not fill the list.
const SERVERS_MAX: usize = 8;

/// So long is one question waited on before the other is looked at.
const TURN: Duration = Duration::from_millis(50);

/// Servers that answer within `time`. Without a network, or where nobody may ask, none.
pub async fn signalk_servers(time: Duration) -> Vec<SignalKServer> {
    tokio::task::spawn_blocking(move || ask(time)).await.unwrap_or_default()
}

fn ask(time: Duration) -> Vec<SignalKServer> {
    let Ok(daemon) = ServiceDaemon::new() else { return Vec::new() };
    let asked = SERVICES.map(|(name, tls)| (daemon.browse(name), tls));
    let answers: Vec<_> = asked.into_iter().filter_map(|(answers, tls)| Some((answers.ok()?, tls))).collect();
    let found = gather(&answers, time);
    // Its thread ends; nobody waits for it.
    let _ = daemon.shutdown();
    found
}

/// Gathers answers until the time is over.
fn gather(answers: &[(Receiver<ServiceEvent>, bool)], time: Duration) -> Vec<SignalKServer> {
    let (until, mut found) = (Instant::now() + time, Vec::new());
    while Instant::now() < until && found.len() < SERVERS_MAX && !answers.is_empty() {
        for (answers, tls) in answers {
            if let Ok(ServiceEvent::ServiceResolved(service)) = answers.recv_timeout(TURN) {
                take(&mut found, &service, *tls);
            }
        }
        if answers.iter().all(|(answers, _)| answers.is_disconnected() && answers.is_empty()) {
            break;
        }
    }
    found
}

/// By its address: names that end in `.local` are not known on every computer.
fn take(found: &mut Vec<SignalKServer>, service: &ResolvedService, tls: bool) {
    let mut addresses: Vec<Ipv4Addr> = service.get_addresses_v4().into_iter().collect();
    addresses.sort_unstable();
    let Some(host) = addresses.first().map(|address| host(*address)) else { return };
    let server = SignalKServer { server: Server { host, port: service.port }, tls };
    if service.port != 0 && !found.contains(&server) && found.len() < SERVERS_MAX {
        found.push(server);
    }
}

/// This computer is `localhost`, as the usual places call it.
fn host(address: Ipv4Addr) -> String {
    // Only an address of this computer can be bound.
    let is_own = UdpSocket::bind((IpAddr::V4(address), 0)).is_ok();
    if is_own { "localhost".to_owned() } else { address.to_string() }
}

#[cfg(test)]
mod tests {
    use mdns_sd::ServiceInfo;

    use super::*;

    fn service(address: &str, port: u16) -> ResolvedService {
        let txt = [("txtvers", "1"), ("roles", "master,main"), ("swname", "invented")];
        ServiceInfo::new("_signalk-ws._tcp.local.", "invented", "invented.local.", address, port, &txt[..])
            .expect("a service")
            .as_resolved_service()
    }

    #[test]
    fn a_server_is_named_by_its_address_once_and_this_computer_by_its_usual_name() {
        let mut found = Vec::new();
        // 192.0.2.0/24 is nobody's: RFC 5737.
        for (address, port, tls) in [
            ("192.0.2.7", 3000, false),
            ("192.0.2.7", 3000, false),
            ("192.0.2.7", 3443, true),
            ("127.0.0.1", 80, false),
        ] {
            take(&mut found, &service(address, port), tls);
        }
        let named: Vec<String> = found.iter().map(ToString::to_string).collect();
        assert_eq!(named, ["signalk:192.0.2.7:3000", "signalk-wss:192.0.2.7:3443", "signalk:localhost:80"]);
    }

    #[test]
    fn no_more_servers_are_taken_than_a_boat_has() {
        let mut found = Vec::new();
        for n in 1..100 {
            take(&mut found, &service(&format!("192.0.2.{n}"), 3000), false);
        }
        assert_eq!(found.len(), SERVERS_MAX);
    }
}
