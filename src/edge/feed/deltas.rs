//! A conversation with a Signal K server: an open WebSocket, plain or with TLS, with a token where one is known.
//!
//! # Source
//! The Signal K specification 1.5.1, "Streaming API" and "Security": `/signalk/v1/stream`, `Authorization: Bearer TOKEN`.

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::time::timeout;
use tokio_tungstenite::tungstenite::Error;
use tokio_tungstenite::tungstenite::client::IntoClientRequest as _;
use tokio_tungstenite::tungstenite::http::HeaderValue;
use tokio_tungstenite::{WebSocketStream, client_async};

use super::broken::ServerError;
use super::keys::{KeyError, ServerKeys};
use super::pinned::{TlsError, secure};
use super::source::SignalKServer;
use super::tcp::connect;
use super::{Patience, Server};

/// Bytes both ways.
pub trait Duplex: AsyncRead + AsyncWrite + Unpin + Send {}
impl<T: AsyncRead + AsyncWrite + Unpin + Send> Duplex for T {}

/// The open WebSocket.
pub type Socket = WebSocketStream<Box<dyn Duplex>>;

/// Why there is none.
#[derive(Debug, thiserror::Error)]
pub enum NoSocket {
    /// It is not reached.
    #[error(transparent)]
    Server(#[from] ServerError),
    /// It cannot be trusted.
    #[error(transparent)]
    Tls(#[from] TlsError),
    /// Its token cannot be used.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// It lets nobody in, or not with this token.
    #[error("the Signal K server at {server} {why}: `nightrode signalk {source_text} --token` gives it one")]
    NotLetIn {
        /// The server.
        server: Server,
        /// As it is written in boat.toml.
        source_text: String,
        /// What it wants.
        why: &'static str,
    },
    /// It wants to be asked securely.
    #[error(
        "the Signal K server at {server} sends on to another address ({to}): name that, with signalk-wss: if it is https"
    )]
    Moved {
        /// The server.
        server: Server,
        /// Where to.
        to: String,
    },
    /// It is something else.
    #[error("{server} does not answer as a Signal K server does: {why}")]
    Foreign {
        /// The server.
        server: Server,
        /// In words.
        why: String,
    },
}

/// Opens the stream of a server that sends nothing by itself.
///
/// # Errors
/// Why not.
pub async fn open_stream(
    to: &SignalKServer,
    keys: &ServerKeys,
    patience: Patience,
) -> Result<Socket, NoSocket> {
    let server = &to.server;
    let foreign = |why: &str| NoSocket::Foreign { server: server.clone(), why: why.to_owned() };
    let token = keys.token(server)?;
    let plain = connect(server, patience).await?;
    let (scheme, stream): (_, Box<dyn Duplex>) = if to.tls {
        let secured = timeout(patience.connect, secure(server, plain, keys)).await;
        ("wss", Box::new(secured.map_err(|_| foreign("it begins no TLS"))??))
    } else {
        ("ws", Box::new(plain))
    };
    let address = format!("{scheme}://{server}/signalk/v1/stream?subscribe=none&sendCachedValues=false");
    let mut request = address.into_client_request().map_err(|error| foreign(&error.to_string()))?;
    if let Some(token) = &token {
        // A token holds only signs that a header may hold.
        let mut value =
            HeaderValue::try_from(token.header()).map_err(|_| foreign("its token fits no header"))?;
        value.set_sensitive(true);
        request.headers_mut().insert("Authorization", value);
    }
    match timeout(patience.connect, client_async(request, stream)).await {
        Ok(Ok((socket, _))) => Ok(socket),
        Ok(Err(error)) => Err(refused(to, token.is_some(), &error)),
        Err(_) => Err(foreign("it says nothing")),
    }
}

fn refused(to: &SignalKServer, had_token: bool, error: &Error) -> NoSocket {
    let server = to.server.clone();
    let Error::Http(answer) = error else { return NoSocket::Foreign { server, why: error.to_string() } };
    match answer.status().as_u16() {
        401 | 403 => NoSocket::NotLetIn {
            server,
            source_text: to.to_string(),
            why: if had_token {
                "does not accept the token that is kept"
            } else {
                "lets nobody in without a token"
            },
        },
        300..=399 => {
            let to = answer
                .headers()
                .get("location")
                .and_then(|to| to.to_str().ok())
                .unwrap_or("it does not say which");
            NoSocket::Moved { server, to: to.chars().filter(|c| !c.is_control()).take(120).collect() }
        }
        _ => NoSocket::Foreign { server, why: error.to_string() },
    }
}
