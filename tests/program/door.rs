//! The door of the real program: acts from a shell, sockets that are for their owner alone, watches that were killed.
#![cfg(unix)]

use std::fs;
use std::io::{Read as _, Write as _};
use std::os::unix::fs::PermissionsExt as _;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use nightrode::edge::door::frame::{Asked, greeting};

use crate::pty::Terminal;
use crate::support::program::{Boat, free_udp_port, sentence, text_of, until};

fn nightrode(boat: &Boat, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    command.args(args).env("HOME", boat.path("")).env_remove("XDG_STATE_HOME");
    command.env("XDG_RUNTIME_DIR", boat.path("run")).output().expect("it runs")
}

fn doors(boat: &Boat) -> Vec<PathBuf> {
    let listed = fs::read_dir(boat.path("run/nightrode")).into_iter().flatten().flatten();
    listed.map(|entry| entry.path()).collect()
}

#[test]
fn a_watch_is_acted_on_from_a_shell_and_answers_in_words_and_codes() {
    let boat = Boat::new();
    boat.configure("");
    let ride = boat.unfinished_ride();
    let none = nightrode(&boat, &["act", "status"]);
    assert_eq!(none.status.code(), Some(4), "{none:?}");
    assert!(String::from_utf8_lossy(&none.stderr).contains("No watch runs on this machine"));
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("taken up again");
    watch.wait_for("gap raised");
    until("the door is open", || !doors(&boat).is_empty());
    let door = doors(&boat).remove(0);
    let mode = |path: &Path| fs::metadata(path).expect("there").permissions().mode() & 0o777;
    assert_eq!((mode(&door), mode(door.parent().expect("a folder"))), (0o600, 0o700));
    let status = nightrode(&boat, &["act", "status", "--json"]);
    let status: serde_json::Value = serde_json::from_slice(&status.stdout).expect("JSON");
    assert_eq!((&status["boat"], &status["place"]), (&"Marram".into(), &"Hollow Ness".into()));
    assert_eq!(nightrode(&boat, &["act", "note", "fog", "came", "down"]).status.code(), Some(0));
    until("the note is kept", || text_of(&ride.join("journal.jsonl")).contains("fog came down"));
    assert_eq!(nightrode(&boat, &["act", "acknowledge"]).status.code(), Some(0));
    let refused = nightrode(&boat, &["act", "mark"]);
    assert_eq!(refused.status.code(), Some(5));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("The anchor is down already."));
    let words = nightrode(&boat, &["act", "--process", "1", "status"]);
    assert_eq!(words.status.code(), Some(4));
    watch.terminate();
    assert!(doors(&boat).is_empty(), "it is shut behind the watch");
}

#[test]
fn the_door_of_a_killed_watch_is_nobodys_and_the_next_one_clears_it_away() {
    let boat = Boat::new();
    boat.configure("");
    let feed = format!("gps=udp:{}", free_udp_port());
    let watch = boat.watch_headless(&[&feed]);
    watch.wait_for("watching");
    until("the door is open", || !doors(&boat).is_empty());
    let left = doors(&boat);
    watch.kill();
    assert_eq!(doors(&boat), left);
    assert_eq!(nightrode(&boat, &["act", "silence"]).status.code(), Some(4));
    let next = boat.watch_headless(&[&feed]);
    next.wait_for("watching");
    until("the old one is gone", || doors(&boat).len() == 1 && doors(&boat) != left);
    assert_eq!(nightrode(&boat, &["act", "note", "again"]).status.code(), Some(0));
}

/// A terminal in which this boat's watch is joined.
/// Each that has a place holds it for as long as it may; who comes to a full house is told so, and the watch goes on.
#[test]
fn of_a_thousand_peers_thirty_two_find_a_place_and_the_others_hear_why_not() {
    let boat = Boat::new();
    boat.configure("");
    let ride = boat.unfinished_ride();
    let watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("taken up again");
    until("the door is open", || !doors(&boat).is_empty());
    let door = doors(&boat).remove(0);
    let mut words = greeting().into_bytes();
    Asked::Follow { from: None }.put(&mut words);
    let (mut inside, mut away) = (Vec::new(), 0);
    for _ in 0..1000 {
        let mut peer = UnixStream::connect(&door).expect("a door");
        let mut said = [0; 512];
        let mut count = peer.read(&mut said).expect("a greeting");
        // What who is turned away hears comes with the greeting, or behind it, and ends the link.
        if inside.len() >= 32 {
            while let Ok(more @ 1..) = peer.read(&mut said[count..]) {
                count += more;
            }
            away += usize::from(String::from_utf8_lossy(&said[..count]).contains("have joined this watch"));
        } else {
            peer.write_all(&words).expect("it listens");
            inside.push(peer);
        }
    }
    assert_eq!((inside.len(), away), (32, 968));
    drop(inside);
    until("there is room again", || nightrode(&boat, &["act", "note", "room"]).status.code() == Some(0));
    until("the note is kept", || text_of(&ride.join("journal.jsonl")).contains("room"));
}

fn join(boat: &Boat, args: &[&str], path: Option<&str>) -> Terminal {
    let run = boat.path("run").display().to_string();
    let mut environment = vec![("XDG_RUNTIME_DIR", &*run)];
    environment.extend(path.map(|path| ("PATH", path)));
    let all = [&["join", "--silent", "--utc"], args].concat();
    Terminal::start_with(program(), &all, &boat.path(""), (120, 40), &environment)
}

fn program() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_nightrode"))
}

#[test]
fn any_number_of_screens_join_a_headless_watch_act_on_it_and_leave_it_running() {
    let boat = Boat::new();
    boat.configure("");
    let ride = boat.unfinished_ride();
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("gap raised");
    until("the door is open", || !doors(&boat).is_empty());
    let (mut one, mut other) = (join(&boat, &[], None), join(&boat, &["--light", "night"], None));
    for screen in [&one, &other] {
        screen.shows("Nobody watched for");
        screen.shows("JOINED: the watch of process");
        screen.shows("Hollow Ness");
    }
    one.keys("5");
    one.shows("not acknowledged");
    one.keys("s");
    one.shows("silent until");
    one.keys("a");
    one.no_longer_shows("silent until");
    other.no_longer_shows("not acknowledged");
    until("the answer is kept", || text_of(&ride.join("journal.jsonl")).contains("\"act\":\"acknowledge\""));
    one.keys("q");
    one.is_given_back();
    assert_eq!(one.ends(), 0);
    other.keys("q");
    assert_eq!(other.ends(), 0);
    assert_eq!(nightrode(&boat, &["act", "status"]).status.code(), Some(0), "the watch goes on");
    let second = boat.watch_refuses(&[&format!("gps=udp:{}", free_udp_port())]);
    assert!(second.contains("A watch runs here already") && second.contains("nightrode join"), "{second}");
    watch.terminate();
}

#[test]
fn a_joined_screen_says_that_a_killed_watch_is_silent_and_goes_on_with_the_next_one() {
    let boat = Boat::new();
    boat.configure("");
    boat.unfinished_ride();
    let feed = format!("gps=udp:{}", free_udp_port());
    let watch = boat.watch_headless(&[&feed]);
    watch.wait_for("gap raised");
    until("the door is open", || !doors(&boat).is_empty());
    // The way through ssh, of which the words behind the host are run here.
    let bin = boat.path("bin");
    fs::create_dir(&bin).expect("made");
    let script = "#!/bin/sh\nwhile [ \"$1\" != -- ]; do shift; done\nshift 2\nexec \"$@\"\n";
    fs::write(bin.join("ssh"), script).expect("written");
    fs::set_permissions(bin.join("ssh"), fs::Permissions::from_mode(0o755)).expect("set");
    let path = format!("{}:{}:/usr/bin:/bin", bin.display(), program().parent().expect("a folder").display());
    let mut far = join(&boat, &["ssh:nav"], Some(&path));
    let mut near = join(&boat, &[], None);
    far.shows("JOINED: the watch on nav");
    near.shows("JOINED: the watch of process");
    watch.kill();
    far.shows("The link to the watch on nav is lost.");
    far.shows("The watch on nav has been silent since");
    near.shows("has been silent since");
    let next = boat.watch_headless(&[&feed]);
    next.wait_for("taken up again");
    far.no_longer_shows("silent since");
    near.no_longer_shows("silent since");
    far.keys("q");
    near.keys("q");
    assert_eq!((far.ends(), near.ends()), (0, 0));
}

#[test]
fn what_is_no_host_is_refused_before_ssh_is_started() {
    let boat = Boat::new();
    for bad in ["ssh:-oProxyCommand=true", "ssh:", "nav", "ssh:a b"] {
        assert_eq!(nightrode(&boat, &["join", bad]).status.code(), Some(2), "{bad}");
    }
    assert_eq!(nightrode(&boat, &["join", "--pipe"]).status.code(), Some(4));
}

/// Positions that go to several ports, each second or so, until it is dropped.
struct Receiver(std::sync::Arc<std::sync::atomic::AtomicBool>, Option<std::thread::JoinHandle<()>>);

impl Receiver {
    fn start(ports: [u16; 2]) -> Self {
        use std::sync::atomic::{AtomicBool, Ordering};
        let ends = std::sync::Arc::new(AtomicBool::new(false));
        let over = std::sync::Arc::clone(&ends);
        let sending = std::thread::spawn(move || {
            let socket = std::net::UdpSocket::bind("127.0.0.1:0").expect("a socket");
            while !over.load(Ordering::Relaxed) {
                let now = jiff::Timestamp::now().strftime("%H%M%S%.2f");
                let body = format!("GPGGA,{now},5200.0000,N,02000.0000,W,1,09,0.9,5.0,M,50.0,M,,");
                for port in ports {
                    let _ = socket.send_to(sentence(&body).as_bytes(), ("127.0.0.1", port));
                }
                std::thread::park_timeout(std::time::Duration::from_millis(500));
            }
        });
        Self(ends, Some(sending))
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        self.0.store(true, std::sync::atomic::Ordering::Relaxed);
        let _ = self.1.take().map(std::thread::JoinHandle::join);
    }
}

/// A way to `nav` as through ssh: the words behind the host are run here, among the folders of that boat.
fn way_to(nav: &Boat) -> String {
    let bin = nav.path("bin");
    fs::create_dir(&bin).expect("made");
    let run = nav.path("run").display().to_string();
    let script = format!(
        "#!/bin/sh\nwhile [ \"$1\" != -- ]; do shift; done\nshift 2\nXDG_RUNTIME_DIR={run} HOME={} exec \"$@\"\n",
        nav.path("").display()
    );
    fs::write(bin.join("ssh"), script).expect("written");
    fs::set_permissions(bin.join("ssh"), fs::Permissions::from_mode(0o755)).expect("set");
    format!("{}:{}:/usr/bin:/bin", bin.display(), program().parent().expect("a folder").display())
}

fn status(boat: &Boat) -> serde_json::Value {
    let status = nightrode(boat, &["act", "status", "--json"]);
    serde_json::from_slice(&status.stdout).unwrap_or_default()
}

#[test]
fn a_second_machine_takes_the_watch_over_from_a_killed_one_and_hands_it_back() {
    let (nav, bunk) = (Boat::new(), Boat::new());
    nav.configure("");
    nav.unfinished_ride();
    let ports = [free_udp_port(), free_udp_port()];
    let _receiver = Receiver::start(ports);
    let feed = format!("gps=udp:{}", ports[0]);
    let watch = nav.watch_headless(&[&feed]);
    watch.wait_for("gap raised");
    until("the door is open", || !doors(&nav).is_empty());
    let path = way_to(&nav);
    let same = nightrode_by(&bunk, &path, &["join", "ssh:nav", &feed, "--headless"]);
    assert!(String::from_utf8_lossy(&same.stderr).contains("has a feed called gps itself"), "{same:?}");
    let own = format!("bunk=udp:{}", ports[1]);
    let second = bunk.stands_by(&path, &["ssh:nav", &own]);
    second.wait_for("own feed gives a position.");
    until("it is known there", || status(&bunk)["stands_by"] == true);
    // What the crew does here the other machine does.
    assert_eq!(nightrode(&bunk, &["act", "note", "seen from the bunk"]).status.code(), Some(0));
    until("it is kept at nav", || {
        fs::read_dir(nav.rides())
            .expect("rides")
            .flatten()
            .any(|ride| text_of(&ride.path().join("journal.jsonl")).contains("seen from the bunk"))
    });
    watch.kill();
    second.wait_for("alarm taken_over raised: The machine that kept the watch was silent for");
    until("it keeps the watch", || status(&bunk)["stands_by"] == false && status(&bunk)["term"] == 2);
    let kept = fs::read_dir(bunk.rides()).expect("rides").flatten().map(|ride| ride.path());
    let kept: Vec<PathBuf> = kept.filter(|ride| ride.join("journal.jsonl").exists()).collect();
    until("it is on its disk", || text_of(&kept[0].join("ride.toml")).contains("term = 2"));
    // The first one comes back, with its own ride, and is no longer the keeper.
    let watch = nav.watch_headless(&[&feed]);
    watch.wait_for("This machine no longer keeps it: it stands by");
    until("it stands by", || status(&nav)["stands_by"] == true && status(&nav)["term"] == 2);
    assert!(String::from_utf8_lossy(&nightrode(&nav, &["act", "hand-over"]).stderr).contains("act take"));
    watch.wait_for("own feed gives a position.");
    until("it can be handed back", || nightrode(&bunk, &["act", "hand-over"]).status.code() == Some(0));
    until("it keeps the watch again", || status(&nav)["term"] == 3 && status(&nav)["stands_by"] == false);
    until("the other stands by", || status(&bunk)["stands_by"] == true && status(&bunk)["term"] == 3);
    assert_eq!(nightrode(&bunk, &["act", "take"]).status.code(), Some(0));
    until("and takes it", || status(&bunk)["term"] == 4 && status(&nav)["stands_by"] == true);
}

fn nightrode_by(boat: &Boat, path: &str, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
    command.args(args).env("HOME", boat.path("")).env_remove("XDG_STATE_HOME").env("PATH", path);
    command.env("XDG_RUNTIME_DIR", boat.path("run")).output().expect("it runs")
}
