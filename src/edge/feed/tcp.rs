//! Lines from a TCP server: a multiplexer, a plotter, another program.

use std::io;
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use tokio::io::AsyncReadExt;
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::broken::ServerError;
use super::{Came, Ended, Outlet, Patience, Server};
use crate::watch::nmea::LineSplitter;

pub(super) struct Tcp {
    server: Server,
    patience: Patience,
}

impl Tcp {
    pub(super) fn new(server: Server, patience: Patience) -> Self {
        Self { server, patience }
    }

    pub(super) async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
        let mut stream = match connect(&self.server, self.patience).await {
            Ok(stream) => stream,
            Err(why) => return Ended::Lost(why.to_string()),
        };
        outlet.connected(came).await;
        let mut splitter = LineSplitter::new();
        let mut buffer = [0; 4096];
        loop {
            let Ok(read) = timeout(self.patience.silence, stream.read(&mut buffer)).await else {
                return Ended::Silent(silent(&self.server, self.patience));
            };
            let at = outlet.now();
            match read {
                Ok(0) => return Ended::Lost(format!("{} closed the connection", self.server)),
                Ok(count) => outlet.take(at, &buffer[..count], &mut splitter).await,
                Err(error) => {
                    return Ended::Lost(format!("the connection to {} broke: {error}", self.server));
                }
            }
        }
    }
}

/// Connects, or says why not.
pub(in crate::edge) async fn connect(server: &Server, patience: Patience) -> Result<TcpStream, ServerError> {
    let connecting = TcpStream::connect((server.host.as_str(), server.port));
    let stream = match timeout(patience.connect, connecting).await {
        Ok(Ok(stream)) => stream,
        Ok(Err(error)) => return Err(refused(server.clone(), error)),
        Err(_) => return Err(ServerError::NoAnswer(server.clone())),
    };
    watch_for_death(&stream);
    Ok(stream)
}

/// How a server that sends nothing is reported to the crew.
pub(super) fn silent(server: &Server, patience: Patience) -> String {
    format!("{server} is connected and has sent nothing for {} s", patience.silence.as_secs())
}

fn refused(server: Server, error: io::Error) -> ServerError {
    match error.kind() {
        io::ErrorKind::ConnectionRefused => ServerError::Refused(server),
        _ => ServerError::Unreachable { server, error },
    }
}

/// Lets the system probe a quiet peer, so that one that lost its power is noticed before the silence is long.
fn watch_for_death(stream: &TcpStream) {
    let probes = TcpKeepalive::new().with_time(Duration::from_secs(15)).with_interval(Duration::from_secs(5));
    // Only a help: without it the silence is noticed all the same.
    let _ = SockRef::from(stream).set_tcp_keepalive(&probes);
}
