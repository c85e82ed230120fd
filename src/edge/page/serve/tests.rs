//! What comes back for what is asked, by whom, and how fast.

use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _, DuplexStream, duplex};
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

use super::*;
use crate::edge::door::frame::Refused;
use crate::edge::watchdog::Pulse;
use crate::report::zone::Zone;
use crate::watch::refusal::Refusal;
use crate::watch::snapshot::Snapshot;

/// A page before a watch that the test plays.
struct Staged {
    desk: Arc<Desk>,
    key: Key,
    pulse: Pulse,
    snapshots: watch::Sender<Arc<Snapshot>>,
    orders: mpsc::Receiver<Order>,
    folder: tempfile::TempDir,
}

fn staged(acknowledge: bool) -> Staged {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page-key");
    let key = Key::make(&file).unwrap();
    let (snapshots, seen) = watch::channel(Arc::default());
    let (order, orders) = mpsc::channel(16);
    let pulse = Pulse::default();
    let behind = Behind { snapshots: seen, pulse: pulse.clone(), orders: order, zone: Zone::default() };
    let keyring = Keyring::new(file, key.clone());
    let desk = Arc::new(Desk { behind, keyring, acknowledge });
    Staged { desk, key, pulse, snapshots, orders, folder }
}

impl Staged {
    /// A link to the page that holds so many bytes on the way.
    fn link(&self, holds: usize) -> (DuplexStream, JoinHandle<()>) {
        let (phone, ours) = duplex(holds);
        (phone, tokio::spawn(serve(ours, Arc::clone(&self.desk))))
    }

    fn request(&self, method: &str, path: &str, more: &str) -> String {
        let cookie = self.key.letters();
        format!("{method} /watch/{path} HTTP/1.1\r\nHost: nav\r\nCookie: nightrode={cookie}\r\n{more}\r\n")
    }

    /// All that comes back for these bytes, until the link is cut.
    async fn answer(&self, request: &[u8]) -> String {
        let (mut phone, _) = self.link(1 << 20);
        phone.write_all(request).await.unwrap();
        let mut all = Vec::new();
        phone.read_to_end(&mut all).await.unwrap();
        String::from_utf8(all).unwrap()
    }

    fn judged(&self) {
        self.snapshots.send_replace(Arc::default());
        self.pulse.beat();
    }
}

/// Reads until these words have come.
async fn until(phone: &mut DuplexStream, words: &str) -> String {
    let mut all = String::new();
    let mut piece = [0; 4096];
    while !all.contains(words) {
        let count = phone.read(&mut piece).await.unwrap();
        assert!(count > 0, "{words:?} never came, but {all}");
        all.push_str(&String::from_utf8_lossy(&piece[..count]));
    }
    all
}

#[tokio::test(start_paused = true)]
async fn who_has_not_the_key_gets_nothing_at_all() {
    let staged = staged(true);
    let other = Key::new().unwrap();
    let with = |path: &str, cookie: &str| {
        format!("GET {path} HTTP/1.1\r\nHost: nav\r\nCookie: {cookie}\r\n\r\n").into_bytes()
    };
    let wrong = format!("nightrode={}", other.letters());
    let right = format!("nightrode={}", staged.key.letters());
    let long = format!("{right}; x={}", "x".repeat(100_000));
    let many = format!("GET /watch/ HTTP/1.1\r\nCookie: {right}\r\n{}\r\n", "X: y\r\n".repeat(100));
    for request in [
        b"GET / HTTP/1.1\r\nHost: nav\r\n\r\n".to_vec(),
        b"GET /watch/ HTTP/1.1\r\nHost: nav\r\n\r\n".to_vec(),
        with("/watch/", &wrong),
        with("/watch/stream", &wrong),
        with("/", &right),
        with("/watch/../etc/passwd", &right),
        with("/watch/", &long),
        many.into_bytes(),
        format!("GET /watch/{} HTTP/1.1\r\n\r\n", other.letters()).into_bytes(),
        format!("POST /watch/acknowledge HTTP/1.1\r\nNightrode-Act: 1\r\nCookie: {wrong}\r\n\r\n")
            .into_bytes(),
        format!("OPTIONS /watch/acknowledge HTTP/1.1\r\nCookie: {right}\r\n\r\n").into_bytes(),
        staged.request("POST", "acknowledge", "Nightrode-Act: 1\r\nContent-Length: 4\r\n").into_bytes(),
        staged
            .request("POST", "acknowledge", "Nightrode-Act: 1\r\nTransfer-Encoding: chunked\r\n")
            .into_bytes(),
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03".to_vec(),
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_vec(),
        b"nonsense\r\n\r\n".to_vec(),
        b"GET /watch/ HTTP/9.9\r\n\r\n".to_vec(),
        Vec::new(),
    ] {
        let begun = Instant::now();
        let (mut phone, served) = staged.link(1 << 20);
        phone.write_all(&request).await.unwrap();
        let mut all = Vec::new();
        phone.read_to_end(&mut all).await.unwrap();
        let shown = String::from_utf8_lossy(&request);
        assert!(all.is_empty(), "{shown}: {}", String::from_utf8_lossy(&all));
        served.await.unwrap();
        assert!(begun.elapsed() <= ASKS_WITHIN, "{shown}");
    }
}

#[tokio::test(start_paused = true)]
async fn one_who_drips_a_request_in_is_cut_off_whatever_he_drips() {
    let staged = staged(false);
    let request = staged.request("GET", "stream", "");
    let (mut phone, served) = staged.link(1 << 16);
    let begun = Instant::now();
    for byte in request.bytes() {
        if phone.write_all(&[byte]).await.is_err() {
            break;
        }
        sleep(Duration::from_secs(1)).await;
    }
    served.await.unwrap();
    assert!(begun.elapsed() < Duration::from_secs(8), "{:?}", begun.elapsed());
}

#[tokio::test(start_paused = true)]
async fn the_key_is_shown_once_and_the_page_has_its_bounds_written_on_it() {
    let staged = staged(false);
    let key = staged.key.letters();
    let opened = staged.answer(format!("GET /watch/{key} HTTP/1.1\r\nHost: nav\r\n\r\n").as_bytes()).await;
    assert!(opened.starts_with("HTTP/1.1 303 See Other\r\n"), "{opened}");
    assert!(opened.contains("location: /watch/\r\n"), "{opened}");
    assert!(opened.contains(&format!("set-cookie: nightrode={key}; Path=/watch/; ")), "{opened}");
    for (path, kind) in [("", "text/html"), ("page.js", "text/javascript"), ("page.css", "text/css")] {
        let answer = staged.answer(staged.request("GET", path, "").as_bytes()).await;
        assert!(answer.starts_with("HTTP/1.1 200 OK\r\n"), "{answer}");
        let head = answer.split("\r\n\r\n").next().unwrap();
        for line in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; ",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cache-control: no-store",
            "connection: close",
            &format!("content-type: {kind}; charset=utf-8"),
        ] {
            assert!(head.contains(line), "{path}: {line} in {head}");
        }
        assert!(!answer.contains(key), "the key stands in nothing that scripts can read");
    }
}

#[tokio::test(start_paused = true)]
async fn news_come_while_the_watch_judges_and_stop_when_it_does_not() {
    let staged = staged(false);
    staged.judged();
    let (mut phone, _) = staged.link(1 << 16);
    phone.write_all(staged.request("GET", "stream", "").as_bytes()).await.unwrap();
    let first = until(&mut phone, "event: watch").await;
    assert!(first.contains("event: greeting\ndata: {\"stale_ms\":10000,\"acknowledge\":false"), "{first}");
    staged.judged();
    until(&mut phone, "event: watch").await;
    // A watch that only publishes, and has judged nothing, is no watch.
    staged.snapshots.send_replace(Arc::default());
    let mut more = [0; 4096];
    let mut heard = timeout(Duration::from_secs(60), phone.read(&mut more)).await;
    while let Ok(Ok(1..)) = heard {
        assert!(!String::from_utf8_lossy(&more).contains("event: watch"), "what had come before");
        heard = timeout(Duration::from_secs(60), phone.read(&mut more)).await;
    }
    assert!(heard.is_err(), "nothing came");
    staged.judged();
    until(&mut phone, "event: watch").await;
}

#[tokio::test(start_paused = true)]
async fn a_phone_that_takes_nothing_loses_its_link_and_holds_nobody_up() {
    let staged = staged(false);
    let (mut phone, served) = staged.link(300);
    phone.write_all(staged.request("GET", "stream", "").as_bytes()).await.unwrap();
    let begun = Instant::now();
    let publish = async {
        loop {
            staged.judged();
            sleep(Duration::from_millis(100)).await;
        }
    };
    tokio::select! {
        served = served => served.unwrap(),
        () = publish => {}
    }
    assert!(begun.elapsed() < crate::edge::page::mute::TAKES_WITHIN * 2, "{:?}", begun.elapsed());
}

#[tokio::test(start_paused = true)]
async fn alerts_are_acknowledged_only_where_the_crew_allows_it() {
    let mut closed = staged(false);
    let act = |staged: &Staged| staged.request("POST", "acknowledge", "Nightrode-Act: 1\r\n");
    let answer = closed.answer(act(&closed).as_bytes()).await;
    assert!(answer.starts_with("HTTP/1.1 403 Forbidden\r\n"), "{answer}");
    assert!(closed.orders.try_recv().is_err(), "nothing came to the keeper");

    let Staged { desk, key, mut orders, folder: _folder, snapshots: _snapshots, .. } = staged(true);
    let cookie = key.letters();
    let request = format!(
        "POST /watch/acknowledge HTTP/1.1\r\nCookie: nightrode={cookie}\r\nNightrode-Act: 1\r\nContent-Length: 0\r\n\r\n"
    );
    for (refusal, status) in [(None, "204 No Content"), (Some(Refusal::NothingToAnswer), "409 Conflict")] {
        let (mut phone, ours) = duplex(1 << 16);
        tokio::spawn(serve(ours, Arc::clone(&desk)));
        phone.write_all(request.as_bytes()).await.unwrap();
        let order = orders.recv().await.unwrap();
        assert_eq!(order.command, Command::Acknowledge { kind: None });
        order.answer.send(refusal.clone().map(Refused::from)).unwrap();
        let mut answer = String::new();
        phone.read_to_string(&mut answer).await.unwrap();
        assert!(answer.starts_with(&format!("HTTP/1.1 {status}\r\n")), "{answer}");
        if let Some(refusal) = refusal {
            assert!(answer.ends_with(&refusal.to_string()), "{answer}");
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_keeper_that_hangs_is_told_in_words() {
    let staged = staged(true);
    let answer =
        staged.answer(staged.request("POST", "acknowledge", "Nightrode-Act: 1\r\n").as_bytes()).await;
    assert!(answer.contains("409 Conflict") && answer.contains("it judges nothing"), "{answer}");
}

#[tokio::test(start_paused = true)]
async fn who_has_the_page_loses_it_when_the_key_is_changed() {
    let staged = staged(false);
    let (mut phone, served) = staged.link(1 << 20);
    phone.write_all(staged.request("GET", "stream", "").as_bytes()).await.unwrap();
    let publish = async {
        loop {
            staged.judged();
            sleep(Duration::from_secs(1)).await;
        }
    };
    let changed = async {
        until(&mut phone, "event: watch").await;
        Key::make(&staged.folder.path().join("page-key")).unwrap();
        phone.read_to_end(&mut Vec::new()).await.unwrap();
        served.await.unwrap();
    };
    tokio::select! {
        () = changed => {}
        () = publish => {}
    }
    assert_eq!(staged.answer(staged.request("GET", "", "").as_bytes()).await, "");
}

#[tokio::test]
async fn a_crowd_from_one_address_is_turned_away_and_leaves_room_again() {
    let staged = staged(false);
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let at = listener.local_addr().unwrap();
    let accepting = tokio::spawn(accept(listener, Arc::clone(&staged.desk)));
    let mut crowd = Vec::new();
    for _ in 0..40 {
        crowd.push(TcpStream::connect(at).await.unwrap());
    }
    // Those beyond the bound are cut at once; the others are still waited for.
    let mut cut = 0;
    for phone in &mut crowd[8..] {
        cut += usize::from(matches!(phone.read(&mut [0]).await, Ok(0) | Err(_)));
    }
    assert_eq!(cut, 32);
    drop(crowd);
    let mut answer = String::new();
    while answer.is_empty() {
        let mut phone = TcpStream::connect(at).await.unwrap();
        let _ = phone.write_all(staged.request("GET", "", "").as_bytes()).await;
        let _ = phone.read_to_string(&mut answer).await;
    }
    assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
    accepting.abort();
}
