//! The page for phones of the real program: the code that opens it, and a phone that takes nothing.
#![cfg(unix)]

use std::fs;
use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt as _;
use std::process::{Command, Output};

use crate::support::program::{Boat, PATIENCE, free_udp_port, text_of, until};

fn nightrode(boat: &Boat, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    command.arg("--config").arg(boat.path("")).args(args);
    command.env("HOME", boat.path("")).env_remove("XDG_STATE_HOME");
    command.env("XDG_RUNTIME_DIR", boat.path("run")).output().expect("it runs")
}

/// What `nightrode page` prints: the address of the page, and the key at its end.
fn opens(boat: &Boat, args: &[&str]) -> (String, String) {
    let done = nightrode(boat, &[&["page"], args].concat());
    assert!(done.status.success(), "{done:?}");
    let text = String::from_utf8(done.stdout).expect("UTF-8");
    let address = text.split_whitespace().find(|word| word.starts_with("http://")).expect("an address");
    let key = address.rsplit('/').next().expect("a key");
    (address.to_owned(), key.to_owned())
}

fn free_tcp_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr()).expect("a port").port()
}

/// A request of a phone that has the key; the link, on which the answer comes.
fn asks(port: u16, key: &str, method: &str, path: &str) -> TcpStream {
    let mut stream = None;
    until("the page is served", || {
        stream = TcpStream::connect(("127.0.0.1", port)).ok();
        stream.is_some()
    });
    let mut stream = stream.expect("connected");
    stream.set_read_timeout(Some(PATIENCE)).expect("set");
    let head = format!(
        "{method} /watch/{path} HTTP/1.1\r\nHost: nav\r\nCookie: nightrode={key}\r\nNightrode-Act: 1\r\n\r\n"
    );
    stream.write_all(head.as_bytes()).expect("asked");
    stream
}

fn answer(mut stream: TcpStream) -> String {
    let mut all = String::new();
    let _ = stream.read_to_string(&mut all);
    all
}

#[test]
fn there_is_no_code_without_an_address_and_its_key_is_for_its_owner_alone() {
    let boat = Boat::new();
    boat.configure("");
    let none = nightrode(&boat, &["page"]);
    let said = String::from_utf8_lossy(&none.stderr);
    assert!(!none.status.success() && said.contains("[page]\naddress = "), "{said}");
    boat.configure("[page]\naddress = \"192.168.1.5:8460\"\n");
    let (address, key) = opens(&boat, &[]);
    assert_eq!(address, format!("http://192.168.1.5:8460/watch/{key}"));
    let file = boat.path(".local/state/nightrode/page-key");
    assert_eq!(fs::metadata(&file).expect("kept").permissions().mode() & 0o777, 0o600);
    assert_eq!(text_of(&file).trim(), key);
    assert_eq!(opens(&boat, &[]).1, key, "the same until it is changed");
    assert_ne!(opens(&boat, &["--renew"]).1, key);
}

#[test]
fn a_phone_that_takes_nothing_leaves_the_watch_judging_and_another_phone_is_told_on() {
    let boat = Boat::new();
    let port = free_tcp_port();
    boat.configure(&format!("[page]\naddress = \"127.0.0.1:{port}\"\nacknowledge = true\n"));
    let ride = boat.unfinished_ride();
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("A page for phones is served on");
    watch.wait_for("gap raised");
    let (_, key) = opens(&boat, &[]);
    // It asks for news and never reads any.
    let dead: Vec<TcpStream> = (0..4).map(|_| asks(port, &key, "GET", "stream")).collect();
    let mut live = asks(port, &key, "GET", "stream");
    let mut heard = String::new();
    let mut piece = [0; 4096];
    until("the watch goes on being told", || {
        let count = live.read(&mut piece).expect("news");
        heard.push_str(&String::from_utf8_lossy(&piece[..count]));
        heard.matches("event: watch").count() >= 4
    });
    assert!(heard.contains("Hollow Ness"), "{heard}");
    let done = answer(asks(port, &key, "POST", "acknowledge"));
    assert!(done.starts_with("HTTP/1.1 204 No Content\r\n"), "{done}");
    until("the keeper keeps it", || text_of(&ride.join("journal.jsonl")).contains("\"act\":\"acknowledge\""));
    let status = nightrode(&boat, &["act", "status", "--json"]);
    assert!(status.status.success() && String::from_utf8_lossy(&status.stdout).contains("\"judges\":true"));
    assert_eq!(
        answer(asks(port, "0123456789abcdef0123456789abcdef", "GET", "")),
        "",
        "a stranger gets nothing"
    );
    drop(dead);
    watch.terminate();
}

#[test]
fn nothing_is_acknowledged_on_a_page_that_only_shows() {
    let boat = Boat::new();
    let port = free_tcp_port();
    boat.configure(&format!("[page]\naddress = \"127.0.0.1:{port}\"\n"));
    let ride = boat.unfinished_ride();
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("gap raised");
    let (_, key) = opens(&boat, &[]);
    let refused = answer(asks(port, &key, "POST", "acknowledge"));
    assert!(refused.starts_with("HTTP/1.1 403 Forbidden\r\n"), "{refused}");
    assert!(!text_of(&ride.join("journal.jsonl")).contains("\"act\":\"acknowledge\""));
    watch.terminate();
}
