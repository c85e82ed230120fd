//! Signal K with what keeps strangers out, and as an output: against a server of the tests' own on loopback.

// The answer to a handshake is the library's own, large type.
#![allow(clippy::unwrap_used, clippy::result_large_err)]

use std::io::Write as _;
use std::net::Ipv4Addr;
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use futures_util::{SinkExt as _, StreamExt as _};
use nightrode::edge::clock::Clock;
use nightrode::edge::feed::{
    Arrival, FeedSpec, FeedTask, Intake, Patience, Server, ServerKeys, SignalKServer, Token, queue,
};
use nightrode::watch::input::{FeedId, Link};
use serde_json::Value;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::PrivateKeyDer;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::handshake::server::{ErrorResponse, Request, Response};
use tokio_tungstenite::{WebSocketStream, accept_async, accept_hdr_async};

use crate::support::program::{Boat, free_udp_port, sentence};

/// Long enough for any machine; a test waits so long only when it fails.
const GENEROUS: Duration = Duration::from_secs(60);

const GREETING: &str =
    r#"{"name":"invented","version":"1.5.1","self":"vessels.urn:mrn:imo:mmsi:244000009","roles":["main"]}"#;

async fn listener() -> (TcpListener, SignalKServer) {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
    let server = Server { host: "127.0.0.1".to_owned(), port: listener.local_addr().unwrap().port() };
    (listener, SignalKServer { server, tls: false })
}

async fn peer(listener: &TcpListener) -> TcpStream {
    timeout(GENEROUS, listener.accept()).await.expect("somebody connects").unwrap().0
}

/// A certificate that the server signs itself, as servers on boats do.
fn certificate() -> TlsAcceptor {
    let made = rcgen::generate_simple_self_signed(["mast.local".to_owned()]).unwrap();
    let key = PrivateKeyDer::Pkcs8(made.signing_key.serialize_der().into());
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![made.cert.der().clone()], key)
        .unwrap();
    TlsAcceptor::from(Arc::new(config))
}

/// Accepts a WebSocket and keeps what the client said of itself.
async fn let_in(stream: TcpStream, heard: &Arc<Mutex<String>>) -> WebSocketStream<TcpStream> {
    let heard = Arc::clone(heard);
    let look = move |request: &Request, response: Response| {
        let said = request.headers().get("authorization").and_then(|said| said.to_str().ok());
        *heard.lock().unwrap() = said.unwrap_or("nothing").to_owned();
        Ok(response)
    };
    accept_hdr_async(stream, look).await.unwrap()
}

struct Feed {
    intake: Intake,
    _task: FeedTask,
}

impl Feed {
    fn from(to: &SignalKServer, keys: ServerKeys) -> Self {
        let patience = Patience {
            retry_first: Duration::from_millis(5),
            retry_longest: Duration::from_millis(50),
            ..Patience::default()
        };
        let (feeder, intake) = queue(Clock::system(), patience);
        let spec =
            FeedSpec { feed: FeedId(0), name: "sk".to_owned(), source: to.to_string().parse().unwrap() };
        Self { intake, _task: feeder.with_keys(keys).spawn(&spec) }
    }

    async fn line(&mut self) -> String {
        loop {
            if let Arrival::Line { bytes, .. } = self.next().await {
                return String::from_utf8(bytes).unwrap();
            }
        }
    }

    async fn lost(&mut self) -> String {
        loop {
            if let Arrival::Link { link: Link::Lost { why }, .. } = self.next().await {
                return why;
            }
        }
    }

    async fn next(&mut self) -> Arrival {
        timeout(GENEROUS, self.intake.recv()).await.expect("something arrives").expect("a feed runs")
    }
}

#[tokio::test]
async fn a_certificate_is_shown_and_kept_when_it_is_met_and_another_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let (listener, plain) = listener().await;
    let to = SignalKServer { tls: true, ..plain };
    let (said, mut heard) = (Arc::new(Mutex::new(Vec::new())), Vec::new());
    let tell = {
        let said = Arc::clone(&said);
        move |words| said.lock().unwrap().push(words)
    };
    let keys = ServerKeys::beside(folder.path()).telling(tell);
    let mut feed = Feed::from(&to, keys.clone());
    let (own, strange) = (certificate(), certificate());
    for acceptor in [&own, &own] {
        let secured = acceptor.accept(peer(&listener).await).await.unwrap();
        let mut server = accept_async(secured).await.unwrap();
        server.send(Message::text(GREETING)).await.unwrap();
        heard.push(feed.line().await);
        server.close(None).await.unwrap();
        feed.lost().await;
    }
    assert_eq!(heard, [GREETING, GREETING]);
    let said = said.lock().unwrap().clone();
    assert!(said.len() == 1 && said[0].contains("SHA-256"), "{said:?}");
    let kept = keys.certificate(&to.server).unwrap().unwrap().to_string();
    assert!(said[0].contains(&kept));
    // Somebody else answers there.
    assert!(strange.accept(peer(&listener).await).await.is_err());
    let why = feed.lost().await;
    assert!(
        why.contains("is not the one that is kept") && why.contains(&kept) && why.contains("--forget"),
        "{why}"
    );
    assert_eq!(keys.certificate(&to.server).unwrap().unwrap().to_string(), kept);
}

#[tokio::test]
async fn a_token_goes_to_its_server_in_the_header_and_who_needs_one_is_told_so() {
    let folder = tempfile::tempdir().unwrap();
    let (listener, to) = listener().await;
    let keys = ServerKeys::beside(folder.path());
    let mut feed = Feed::from(&to, keys.clone());
    let refuse = |_: &Request, _: Response| {
        let mut answer = ErrorResponse::new(None);
        *answer.status_mut() = 401.try_into().unwrap();
        Err(answer)
    };
    assert!(accept_hdr_async(peer(&listener).await, refuse).await.is_err());
    let why = feed.lost().await;
    assert!(why.contains("lets nobody in without a token") && why.contains("--token"), "{why}");
    keys.keep_token(&to.server, &Token::new("abc.def").unwrap()).unwrap();
    let heard = Arc::default();
    let mut server = let_in(peer(&listener).await, &heard).await;
    // An attempt without it may have been under way.
    if *heard.lock().unwrap() == "nothing" {
        drop(server);
        server = let_in(peer(&listener).await, &heard).await;
    }
    assert_eq!(*heard.lock().unwrap(), "Bearer abc.def");
    server.send(Message::text(GREETING)).await.unwrap();
    assert_eq!(feed.line().await, GREETING);
}

/// What the server was told of a path, until it is as wanted.
async fn told(server: &mut WebSocketStream<TcpStream>, path: &str, wanted: impl Fn(&Value) -> bool) -> Value {
    let until = tokio::time::Instant::now() + GENEROUS;
    loop {
        let message =
            tokio::time::timeout_at(until, server.next()).await.expect("it goes on").unwrap().unwrap();
        let Message::Text(text) = message else { continue };
        let delta: Value = serde_json::from_str(&text).unwrap();
        let Some(values) = delta["updates"][0]["values"].as_array() else { continue };
        assert_eq!(
            (&delta["context"], &delta["updates"][0]["source"]["label"]),
            (&"vessels.self".into(), &"nightrode".into())
        );
        let value = values.iter().find(|said| said["path"] == path).unwrap()["value"].clone();
        if wanted(&value) {
            return value;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_is_told_where_the_anchor_lies_and_of_the_most_urgent_alert() {
    let boat = Boat::new();
    let (listener, to) = listener().await;
    boat.configure(&format!("[alerts]\nout = [\"{to}\"]\n"));
    ServerKeys::beside(&boat.path("")).keep_token(&to.server, &Token::new("abc").unwrap()).unwrap();
    boat.unfinished_ride();
    let port = free_udp_port();
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{port}")]);
    let heard = Arc::default();
    let mut server = let_in(peer(&listener).await, &heard).await;
    assert_eq!(*heard.lock().unwrap(), "Bearer abc");
    server.send(Message::text(GREETING)).await.unwrap();
    let alert = told(&mut server, "notifications.navigation.anchor", |value| !value.is_null()).await;
    assert!(["alert", "warn", "alarm"].iter().any(|state| alert["state"] == *state), "{alert}");
    assert!(!alert["message"].as_str().unwrap().is_empty() && alert["method"][0] == "visual", "{alert}");
    let receiver = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    let over = Arc::new(std::sync::atomic::AtomicBool::new(false));
    let talks = {
        let over = Arc::clone(&over);
        std::thread::spawn(move || {
            while !over.load(std::sync::atomic::Ordering::Relaxed) {
                let now = jiff::Timestamp::now().strftime("%H%M%S%.2f");
                let gga = format!("GPGGA,{now},5012.3456,N,00512.3456,W,1,09,0.9,3.0,M,50.0,M,,");
                let _ = receiver.send_to(sentence(&gga).as_bytes(), ("127.0.0.1", port));
                std::thread::park_timeout(Duration::from_millis(500));
            }
        })
    };
    // The ride that was taken up had no position; the anchor is let go anew.
    let deed = |word: &str| {
        let mut act = Command::new(env!("CARGO_BIN_EXE_nightrode"));
        act.args(["act", word]).env("XDG_RUNTIME_DIR", boat.path("run")).env("HOME", boat.path(""));
        let done = act.output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    };
    deed("aweigh");
    deed("mark");
    let place = told(&mut server, "navigation.anchor.position", |value| !value.is_null()).await;
    assert!((place["latitude"].as_f64().unwrap() - 50.205_760).abs() < 1e-3, "{place}");
    deed("aweigh");
    told(&mut server, "navigation.anchor.position", Value::is_null).await;
    over.store(true, std::sync::atomic::Ordering::Relaxed);
    talks.join().unwrap();
    watch.terminate();
}

#[tokio::test]
async fn the_command_shows_who_a_server_is_and_keeps_a_token_that_nobody_sees_again() {
    let boat = Boat::new();
    let (listener, to) = listener().await;
    let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    command.arg("--config").arg(boat.path("")).args(["signalk", &to.to_string(), "--token"]);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut asking = command.spawn().unwrap();
    asking.stdin.take().unwrap().write_all(b"abc.def\n").unwrap();
    let heard = Arc::default();
    let mut server = let_in(peer(&listener).await, &heard).await;
    server.send(Message::text(GREETING)).await.unwrap();
    let done = tokio::task::spawn_blocking(move || asking.wait_with_output().unwrap()).await.unwrap();
    let page = String::from_utf8(done.stdout).unwrap() + &String::from_utf8(done.stderr).unwrap();
    assert!(done.status.success(), "{page}");
    assert_eq!(*heard.lock().unwrap(), "Bearer abc.def");
    assert!(page.contains("invented 1.5.1") && page.contains("sent to this server alone"), "{page}");
    assert!(!page.contains("abc.def"), "{page}");
    let mut forget = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    forget.arg("--config").arg(boat.path("")).args(["signalk", &to.to_string(), "--forget"]);
    assert!(String::from_utf8(forget.output().unwrap().stdout).unwrap().starts_with("Forgotten"));
}
