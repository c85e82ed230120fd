//! The program itself, kept without a screen on a real socket: it watches, is killed, and takes the ride up again.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use nightrode::config::RideFile;
use nightrode::edge::folder::{Recorded, Recorder, RideReader, find_unfinished};
use nightrode::watch::input::{self, Event};
use nightrode::watch::nmea::checksum;
use nightrode::watch::units::{Metres, WatchTime};

/// Generous: a loaded machine must not fail the test.
const PATIENCE: Duration = Duration::from_secs(60);

fn now() -> WatchTime {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).expect("after 1970");
    WatchTime(i64::try_from(since.as_millis()).expect("before the year 292 million"))
}

/// A ride whose anchor is down, as a watch that was killed leaves it.
fn unfinished_ride(rides: &Path) {
    let at = WatchTime(now().0 - 600_000);
    let ride = RideFile { place: "Hollow Ness".into(), began: Some(at), ..RideFile::default() };
    let recorder = Recorder::begin(rides, at, ride).expect("a writer");
    let let_go = input::Command::LetGo {
        veered: Some(Metres(30.0)),
        depth: Some(Metres(5.0)),
        place: "Hollow Ness".into(),
    };
    recorder.event(at, &Event::Crew(let_go));
    recorder.flush(PATIENCE).expect("written");
}

fn start(rides: &Path, port: u16) -> (Child, Receiver<String>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_nightrode"))
        .args(["--config", &rides.join("none").display().to_string()])
        .args(["watch", "--headless", "--silent", "--rides", &rides.display().to_string()])
        .arg(format!("masthead=tcp:127.0.0.1:{port}"))
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let out = BufReader::new(child.stdout.take().expect("piped"));
    let (lines, lines_out) = channel();
    std::thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|line| lines.send(line)));
    (child, lines_out)
}

fn wait_for(lines: &Receiver<String>, words: &str) -> String {
    loop {
        let line = lines.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("{words:?} never came"));
        if line.contains(words) {
            return line;
        }
    }
}

#[test]
fn a_killed_watch_is_taken_up_again_with_its_gap_and_keeps_what_it_hears() {
    let folder = tempfile::tempdir().expect("a folder");
    let rides = folder.path();
    unfinished_ride(rides);
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = server.local_addr().expect("an address").port();
    for life in 1..=2 {
        let (mut child, lines) = start(rides, port);
        wait_for(&lines, "taken up again");
        if life == 1 {
            // In the second life it stands already: nobody has answered it.
            let gap = wait_for(&lines, "gap raised");
            assert!(gap.contains("Nobody watched"), "{gap}");
        }
        let (mut feed, _) = server.accept().expect("the feed connects");
        let body = format!("HEHDT,{life}.5,T");
        writeln!(feed, "${body}*{:02X}\r", checksum::xor(body.as_bytes())).expect("sent");
        // The line is on disk within a second or so; then the power goes.
        let kept = |words: &str| {
            let reader =
                RideReader::open(&find_unfinished(rides).expect("listed")[0].folder).expect("opened");
            reader.map_while(Result::ok).any(|entry| {
                matches!(entry.what, Recorded::Line { bytes, .. } if String::from_utf8_lossy(&bytes).contains(words))
            })
        };
        let deadline = std::time::Instant::now() + PATIENCE;
        while !kept(&body) {
            assert!(std::time::Instant::now() < deadline, "{body} was never kept");
            std::thread::yield_now();
        }
        child.kill().expect("killed");
        child.wait().expect("ended");
    }
}
