//! Who comes to the page, and what becomes of each.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use std::{fmt, io};

use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Request, Response};
use hyper_util::rt::{TokioIo, TokioTimer};
use socket2::SockRef;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use tokio::time::{Instant, sleep, timeout};

use super::answer::{self, Body};
use super::asked::{Asked, asked};
use super::guests::Guests;
use super::key::Key;
use super::keyring::Keyring;
use super::mute::{Mute, Opened};
use super::{Behind, Desk, Setup, stream};
use crate::edge::door::peer::{NOT_TAKEN, Order};
use crate::watch::input::Command;

/// The key is shown within this time, the whole head of the request with it, or the link is cut.
const ASKS_WITHIN: Duration = Duration::from_secs(5);
/// The longest head of a request: a browser's has less than one thousand bytes.
const LONGEST_HEAD: usize = 8192;
/// Headers of a request at most.
const MOST_HEADERS: usize = 48;
/// What the system holds for a phone that does not take it.
const SENT_AHEAD: usize = 64 * 1024;
/// A watch answers an act within this time, or judges nothing.
const ACTS_WITHIN: Duration = Duration::from_secs(10);
/// An address that cannot be had, because the network is not up yet, is tried again after this.
const AGAIN_AFTER: Duration = Duration::from_secs(5);

/// The page, as long as it is served. Dropping it ends that.
pub struct Page {
    serving: JoinHandle<()>,
}

impl Drop for Page {
    fn drop(&mut self) {
        self.serving.abort();
    }
}

impl fmt::Debug for Page {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Page")
    }
}

impl Page {
    /// Begins to serve it, on the current tokio runtime. An address that cannot be had yet is tried again and again; what
    /// comes of it is said to `say`.
    ///
    /// # Errors
    /// In words, if there can be no key.
    pub fn serve(
        setup: &Setup,
        behind: Behind,
        say: impl Fn(String) + Send + Sync + 'static,
    ) -> Result<Self, String> {
        let key = Key::read_or_make(&setup.key).map_err(|why| {
            format!("There is no page for phones: no key can be kept in {} ({why}).", setup.key.display())
        })?;
        let keyring = Keyring::new(setup.key.clone(), key);
        let desk = Arc::new(Desk { behind, keyring, acknowledge: setup.acknowledge });
        let address = setup.address;
        Ok(Self {
            serving: tokio::spawn(async move {
                let listener = listen(address, &say).await;
                say(format!(
                    "A page for phones is served on {address}. `nightrode page` shows the code that opens it."
                ));
                accept(listener, desk).await;
            }),
        })
    }
}

async fn listen(address: SocketAddr, say: &(impl Fn(String) + Sync)) -> TcpListener {
    let mut said = None;
    loop {
        match TcpListener::bind(address).await {
            Ok(listener) => return listener,
            Err(why) => {
                let why = why.to_string();
                if said.as_ref() != Some(&why) {
                    say(format!(
                        "The page for phones cannot be served on {address} ({why}). It is tried again by itself."
                    ));
                    said = Some(why);
                }
                sleep(AGAIN_AFTER).await;
            }
        }
    }
}

async fn accept(listener: TcpListener, desk: Arc<Desk>) {
    let guests = Arc::new(Mutex::new(Guests::default()));
    loop {
        let Ok((stream, from)) = listener.accept().await else {
            // Too many open files, as a rule: it passes.
            sleep(Duration::from_secs(1)).await;
            continue;
        };
        let ip = from.ip().to_canonical();
        if !here(&guests).comes(ip, Instant::now()) {
            continue;
        }
        let (desk, guests) = (Arc::clone(&desk), Arc::clone(&guests));
        tokio::spawn(async move {
            if bounded(&stream).is_ok() {
                serve(stream, desk).await;
            }
            here(&guests).goes(ip);
        });
    }
}

fn here(guests: &Mutex<Guests>) -> MutexGuard<'_, Guests> {
    // Whoever panicked has counted to its end.
    guests.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Nothing piles up in the system for a phone that takes nothing.
fn bounded(stream: &TcpStream) -> io::Result<()> {
    stream.set_nodelay(true)?;
    SockRef::from(stream).set_send_buffer_size(SENT_AHEAD)
}

/// Why a link is cut without a word.
#[derive(Debug)]
struct Nothing;

impl fmt::Display for Nothing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("nothing is said to whoever has not the key")
    }
}

impl std::error::Error for Nothing {}

/// Answers the one request of a link, or cuts it.
pub(super) async fn serve<S: AsyncRead + AsyncWrite + Unpin>(stream: S, desk: Arc<Desk>) {
    let opened = Opened::default();
    let io = TokioIo::new(Mute::new(stream, opened.clone()));
    let (shown, desk) = (opened.clone(), desk);
    let service = service_fn(move |request| {
        let (shown, desk) = (shown.clone(), Arc::clone(&desk));
        async move { answered(&request, &desk, &shown).await }
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(ASKS_WITHIN)
        .keep_alive(false)
        .max_buf_size(LONGEST_HEAD)
        .max_headers(MOST_HEADERS)
        .serve_connection(io, service);
    tokio::pin!(connection);
    // However it drips in: who has not shown the key by then goes.
    if timeout(ASKS_WITHIN, &mut connection).await.is_err() && opened.is_open() {
        // The phone has gone, or takes nothing: it comes again by itself.
        let _ = connection.await;
    }
}

async fn answered<B>(
    request: &Request<B>,
    desk: &Arc<Desk>,
    shown: &Opened,
) -> Result<Response<Body>, Nothing> {
    let key = desk.keyring.now().await;
    let asked = asked(request, &key);
    if asked == Asked::Nothing {
        return Err(Nothing);
    }
    shown.open();
    Ok(match asked {
        Asked::Nothing => return Err(Nothing),
        Asked::Open => answer::opened(&key),
        Asked::Page => answer::page(),
        Asked::Script => answer::script(),
        Asked::Style => answer::style(),
        Asked::Icon => answer::icon(),
        Asked::Stream => answer::stream(stream::begin(Arc::clone(desk), key)),
        Asked::Acknowledge if desk.acknowledge => answer::acted(acknowledge(&desk.behind).await),
        Asked::Acknowledge => answer::forbidden(),
    })
}

/// The keeper stamps it, keeps it in the journal and answers, as it does for any command through the door.
async fn acknowledge(behind: &Behind) -> Option<String> {
    let (answer, answered) = oneshot::channel();
    let order = Order { command: Command::Acknowledge { kind: None }, answer };
    let done = timeout(ACTS_WITHIN, async {
        behind.orders.send(order).await.ok()?;
        answered.await.ok()
    });
    match done.await {
        Ok(Some(refused)) => refused.map(|refused| refused.why),
        Ok(None) => Some("The watch has ended.".to_owned()),
        Err(_) => Some(NOT_TAKEN.to_owned()),
    }
}

#[cfg(test)]
mod tests;
