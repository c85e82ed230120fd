//! The program in a real terminal: what it shows, what keys do, and that the terminal comes back whatever happens.
#![cfg(unix)]

use std::net::UdpSocket;
use std::path::Path;
use std::time::Instant;

use crate::pty::Terminal;
use crate::support::program::{Boat, free_udp_port, sentence, signal, text_of, until};
use nightrode::edge::folder::{Recorded, RideReader, find_unfinished};
use nightrode::edge::stderr::Diverted;
use nightrode::edge::{live, terminal};
use nightrode::watch::input::{Command, Event};
use nightrode::watch::nmea::{checksum, write_tag};
use nightrode::watch::units::Metres;

const WIDE: (u16, u16) = (120, 40);

fn program() -> &'static Path {
    Path::new(env!("CARGO_BIN_EXE_nightrode"))
}

fn demo(boat: &Boat) -> Terminal {
    let home = boat.path("home");
    Terminal::start(program(), &["demo", "--silent", "--utc", "--speed", "60"], &home, WIDE)
}

/// A watch on screen that hears one port.
pub(crate) fn watch_on_screen(boat: &Boat, port: u16) -> Terminal {
    let (config, rides) = (boat.path("").display().to_string(), boat.rides().display().to_string());
    let feed = format!("gps=udp:{port}");
    let args = ["--config", &*config, "watch", "--silent", "--utc", "--rides", &*rides, &*feed];
    Terminal::start(program(), &args, &boat.path("home"), WIDE)
}

/// A watch on screen with one feed, and a hand that feeds it.
struct Watched {
    terminal: Terminal,
    sender: UdpSocket,
    port: u16,
}

impl Watched {
    fn new(boat: &Boat) -> Self {
        boat.configure("");
        let port = free_udp_port();
        let terminal = watch_on_screen(boat, port);
        Self { terminal, sender: UdpSocket::bind("127.0.0.1:0").expect("a socket"), port }
    }

    /// Sends positions of a boat that lies still until the screen shows the words.
    fn send_positions_until(&self, words: &str) {
        until(words, || {
            let now = jiff::Timestamp::now();
            let body = format!(
                "GPRMC,{},A,5200.0000,N,02000.0000,W,0.0,,{},,,A",
                now.strftime("%H%M%S.00"),
                now.strftime("%d%m%y")
            );
            let _ = self.sender.send_to(sentence(&body).as_bytes(), ("127.0.0.1", self.port));
            self.terminal.is_showing(words)
        });
    }

    /// Sends a sentence again and again until the screen shows the words: datagrams before the feed is open are lost.
    fn send_until(&self, body: &str, words: &str) {
        let line = sentence(body);
        until(words, || {
            let _ = self.sender.send_to(line.as_bytes(), ("127.0.0.1", self.port));
            self.terminal.is_showing(words)
        });
    }
}

#[test]
fn a_demo_shows_its_verdict_at_once_and_answers_keys_and_size() {
    let boat = Boat::new();
    let mut terminal = demo(&boat);
    terminal.until("verdict and boat", |screen| {
        ["as the anchor goes down", "Marram", "north up"]
            .iter()
            .all(|words| screen.contents().contains(words))
    });
    terminal.keys("6");
    terminal.shows("believed for position");
    terminal.keys("?");
    terminal.shows("HELP: FEEDS");
    terminal.keys("\x1b");
    terminal.no_longer_shows("HELP: FEEDS");
    terminal.keys("1");
    terminal.shows("north up");
    terminal.resize(80, 24);
    terminal.until("80 columns", |screen| {
        let rows: Vec<String> = screen.rows(0, 80).collect();
        // Beside the verdict, which is three rows tall, or in the row below it.
        rows[..4].iter().any(|row| row.contains("Marram")) && rows[23].contains("? help")
    });
    terminal.resize(40, 10);
    terminal.shows("60");
    terminal.resize(120, 40);
    terminal.shows("north up");
    terminal.keys("q");
    terminal.shows("STOP THE WATCH?");
    terminal.keys("\x1b");
    terminal.no_longer_shows("STOP THE WATCH?");
    terminal.keys("qy");
    terminal.is_given_back();
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_feed_named_at_the_first_start_is_in_the_boat_file_and_is_watched() {
    let boat = Boat::new();
    let (home, config) = (boat.path("home"), boat.path("config").display().to_string());
    let (rides, port) = (boat.rides().display().to_string(), free_udp_port());
    let feed = format!("mast=udp:{port}");
    let args = ["--config", &*config, "watch", "--silent", "--rides", &*rides, &*feed];
    let mut terminal = Terminal::start(program(), &args, &home, WIDE);
    terminal.shows("BEFORE THE FIRST WATCH");
    terminal.keys("\r");
    terminal.shows("THE BOAT");
    terminal.keys("Marram\r");
    terminal.shows("north up");
    let written = text_of(&boat.path("config").join("boat.toml"));
    assert!(written.contains("\"mast\"") && written.contains(&format!(":{port}\"")), "{written}");
    terminal.keys("qy");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn letting_go_and_weighing_ask_and_are_in_the_journal() {
    let boat = Boat::new();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("as the anchor goes down");
    watched.send_until("HEHDT,123.4,T", "123°");
    watched.terminal.keys("d");
    // It is marked at once; what is out and how deep it is follow.
    watched.terminal.shows("No settled position yet");
    watched.terminal.keys("30\t5\r");
    watched.terminal.shows("brought up");
    watched.terminal.keys("w");
    watched.terminal.shows("WEIGH?");
    watched.terminal.keys("\x1b");
    watched.terminal.no_longer_shows("WEIGH?");
    watched.terminal.keys("wy");
    watched.terminal.shows("aweigh or stay");
    let acts = || -> Vec<Command> {
        let rides = find_unfinished(&boat.rides()).unwrap_or_default();
        let reader = rides.first().and_then(|ride| RideReader::open(&ride.folder).ok());
        let entries = reader.into_iter().flatten().map_while(Result::ok);
        entries
            .filter_map(|entry| match entry.what {
                Recorded::Event(Event::Crew(command)) => Some(command),
                _ => None,
            })
            .collect()
    };
    until("all that was done is kept", || {
        matches!(
            &acts()[..],
            [
                Command::LetGo { veered: None, .. },
                Command::Veered { length: Metres(30.0) },
                Command::DropDepth { depth: Metres(5.0) },
                Command::Weigh
            ]
        )
    });
}

#[test]
fn an_alert_is_silenced_and_acknowledged_by_a_key() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("Nobody watched for");
    watched.terminal.keys("5");
    watched.terminal.shows("not acknowledged");
    watched.terminal.keys("s");
    watched.terminal.shows("silent until");
    watched.terminal.keys("a");
    watched.terminal.no_longer_shows("silent until");
    until("the answer is kept", || text_of(&ride.join("journal.jsonl")).contains("\"act\":\"acknowledge\""));
}

#[test]
fn a_killed_watch_comes_back_with_its_anchor_its_rode_and_its_place() {
    let boat = Boat::new();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("as the anchor goes down");
    watched.send_positions_until("within");
    watched.terminal.keys("d");
    watched.terminal.shows("LET GO");
    watched.terminal.keys("30\t5\r");
    watched.terminal.shows("30 m out");
    watched.terminal.keys("+");
    watched.terminal.shows("All that is out.");
    watched.terminal.keys("\x1b[5~\r");
    watched.terminal.shows("35 m out");
    let journal = || -> String {
        let rides = find_unfinished(&boat.rides()).unwrap_or_default();
        rides.first().map(|ride| text_of(&ride.folder.join("journal.jsonl"))).unwrap_or_default()
    };
    // The length entered on letting go is an act of the same kind.
    until("the veering is kept", || journal().contains("\"length\":35.0"));
    signal(watched.terminal.id(), "KILL");
    watched.terminal.ends();

    let mut again = Watched::new(&boat);
    again.terminal.until("all is as it was", |screen| {
        let shown = screen.contents();
        let kept = ["Nobody watched for", "35 m out"];
        kept.iter().all(|words| shown.contains(words)) && !shown.contains("not marked:")
    });
    // What happened has a view of its own: beside the facts it stands only where there is room.
    again.terminal.keys("3");
    again.terminal.until("what happened is there too", |screen| {
        let shown = screen.contents();
        ["35 m of rode out", "30 m of rode out", "let go"].iter().all(|words| shown.contains(words))
    });
}

#[test]
fn a_recorded_night_is_looked_at_from_any_moment_and_nothing_in_it_changes() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let mut line = Vec::new();
    let now = jiff::Timestamp::now().as_millisecond();
    write_tag("gps", now, b"$HEHDT,123.4,T*2D", &mut line);
    line.extend(b"\n");
    std::fs::write(ride.join("night.nmea"), line).expect("written");
    let files = || -> Vec<(std::path::PathBuf, Vec<u8>)> {
        let entries = std::fs::read_dir(&ride).expect("a ride").flatten().map(|entry| entry.path());
        let mut files: Vec<_> =
            entries.map(|path| (path.clone(), std::fs::read(path).unwrap_or_default())).collect();
        files.sort();
        files
    };
    let before = files();
    let folder = ride.display().to_string();
    let mut terminal = Terminal::start(
        program(),
        &["replay", "--utc", "--speed", "1000", &*folder],
        &boat.path("home"),
        WIDE,
    );
    terminal.shows("stands still");
    terminal.keys("?");
    terminal.shows("HELP: A RECORDED NIGHT");
    terminal.keys("\x1b");
    terminal.no_longer_shows("HELP: A RECORDED NIGHT");
    terminal.keys("n");
    terminal.shows("This is a recorded night");
    terminal.keys(" ");
    terminal.shows("at its end");
    terminal.keys("[[[[");
    terminal.shows("stands still");
    terminal.keys("q");
    terminal.is_given_back();
    assert_eq!(terminal.ends(), 0);
    assert!(files() == before, "nothing was written to the ride");

    let mut terminal = Terminal::start(program(), &["replay", "--utc", &*folder], &boat.path("home"), WIDE);
    terminal.shows("stands still");
    signal(terminal.id(), "TERM");
    terminal.is_given_back();
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_signal_to_end_gives_the_terminal_back() {
    for name in ["TERM", "INT"] {
        let boat = Boat::new();
        let mut terminal = demo(&boat);
        terminal.shows("as the anchor goes down");
        signal(terminal.id(), name);
        terminal.is_given_back();
        assert_eq!(terminal.ends(), 0);
    }
}

#[test]
fn a_hang_up_gives_the_terminal_back_and_the_watch_goes_on_until_it_is_told_to_end() {
    let boat = Boat::new();
    let mut terminal = demo(&boat);
    terminal.shows("as the anchor goes down");
    signal(terminal.id(), "HUP");
    terminal.is_given_back();
    let said = terminal.shows("The watch goes on without a screen");
    assert!(said.contains(&format!("process {}", terminal.id())), "{said}");
    signal(terminal.id(), "TERM");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_terminal_that_closes_does_not_end_the_watch() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("Nobody watched for");
    watched.terminal.close();
    let line = format!("$HEHDT,77.7,T*{:02X}", checksum::xor(b"HEHDT,77.7,T"));
    until("a line is kept after it closed", || {
        let _ = watched.sender.send_to(line.as_bytes(), ("127.0.0.1", watched.port));
        text_of(&ride.join("night.nmea")).contains(&line)
    });
    signal(watched.terminal.id(), "TERM");
    assert_eq!(watched.terminal.ends(), 0);
}

/// Processor time of a process, in hundredths of a second: fields 14 and 15 of proc(5)'s `stat`, at 100 ticks a second.
#[cfg(target_os = "linux")]
fn processor_ticks(process: u32) -> u64 {
    let stat = text_of(Path::new(&format!("/proc/{process}/stat")));
    let fields = stat.rsplit(')').next().expect("fields").split_whitespace();
    fields.skip(11).take(2).map(|field| field.parse::<u64>().expect("ticks")).sum()
}

#[test]
#[cfg(target_os = "linux")]
fn a_watch_whose_terminal_has_closed_does_not_use_up_the_battery() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("Nobody watched for");
    watched.terminal.close();
    let id = watched.terminal.id();
    let mut begun = None;
    for number in 0..8 {
        let line = format!("HEHDT,{}.7,T", 70 + number);
        let line = format!("${line}*{:02X}", checksum::xor(line.as_bytes()));
        until("a line is kept", || {
            let _ = watched.sender.send_to(line.as_bytes(), ("127.0.0.1", watched.port));
            text_of(&ride.join("night.nmea")).contains(&line)
        });
        // The first may be kept before the screen has gone.
        if number == 1 {
            begun = Some((Instant::now(), processor_ticks(id)));
        }
    }
    let (since, before) = begun.expect("begun");
    let (ticks, passed) = (processor_ticks(id) - before, since.elapsed().as_millis() as u64 / 10);
    assert!(ticks < passed / 5 + 5, "{ticks} of {passed} hundredths of a second");
}

#[test]
fn whatever_is_no_watch_ends_with_its_terminal() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride().display().to_string();
    // Whoever ignores the hang-up reads the end of the input from then on.
    for (args, shows) in
        [(vec!["replay", &*ride, "--utc"], "no position: the boat is not drawn"), (vec!["plan"], "wind")]
    {
        let line = format!("trap '' HUP; exec \"$0\" {}", args.join(" "));
        let shell = ["-c", &*line, &*program().display().to_string()].map(str::to_owned);
        let shell: Vec<&str> = shell.iter().map(String::as_str).collect();
        let mut screen = Terminal::start(Path::new("/bin/sh"), &shell, &boat.path("home"), WIDE);
        screen.shows(shows);
        screen.close();
        until("it ends", || screen.has_ended().is_some());
        assert_ne!(screen.ends(), 101, "{args:?} panicked");
    }
}

#[test]
fn a_terminal_that_nobody_reads_holds_up_neither_the_watch_nor_its_end() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let mut watched = Watched::new(&boat);
    watched.terminal.shows("Nobody watched for");
    watched.terminal.hold();
    // Each view is some thousand bytes: many times what a pseudo-terminal holds.
    watched.terminal.keys(&"v".repeat(600));
    for turn in 0..3 {
        let body = format!("HEHDT,{turn}7.7,T");
        let line = sentence(&body);
        until("a line is kept", || {
            let _ = watched.sender.send_to(line.as_bytes(), ("127.0.0.1", watched.port));
            text_of(&ride.join("night.nmea")).contains(&*body)
        });
    }
    signal(watched.terminal.id(), "TERM");
    let mut code = None;
    until("it ends", || {
        code = watched.terminal.has_ended();
        code.is_some()
    });
    assert_eq!(code, Some(0));
}

/// Not a test of its own: the program of the next one, when that starts this binary again in a terminal.
#[test]
fn child_that_panics_while_its_screen_is_held() {
    if std::env::var_os("NIGHTRODE_TEST_PANIC_HELD").is_none() {
        return;
    }
    live::alarm_on_panic(|| std::process::exit(101));
    let _screen = terminal::Screen::take().expect("a terminal");
    // What a thread does that draws on a terminal which takes nothing: it never lets go of it.
    let (held, is_held) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let _out = std::io::stdout().lock();
        held.send(()).expect("waited for");
        loop {
            std::thread::park();
        }
    });
    is_held.recv().expect("held");
    std::thread::spawn(|| panic!("the keel fell off")).join().expect_err("it panics");
}

#[test]
fn a_panic_while_the_terminal_is_held_ends_the_program_all_the_same() {
    let boat = Boat::new();
    let this = std::env::current_exe().expect("this test");
    let args = ["--exact", "terminal::child_that_panics_while_its_screen_is_held", "--nocapture"];
    let environment = [("NIGHTRODE_TEST_PANIC_HELD", "1"), ("RUST_BACKTRACE", "0")];
    let mut terminal = Terminal::start_with(&this, &args, &boat.path("home"), WIDE, &environment);
    let mut code = None;
    until("it ends", || {
        code = terminal.has_ended();
        code.is_some()
    });
    assert_eq!(code, Some(101));
}

/// Not a test of its own: the program of the next one, when that starts this binary again in a terminal.
#[test]
fn child_that_panics_under_its_screen() {
    let Some(log) = std::env::var_os("NIGHTRODE_TEST_PANIC_LOG") else { return };
    live::alarm_on_panic(|| std::process::exit(101));
    let log = std::fs::File::create(log).expect("a log");
    let _diverted = Diverted::into(&log).expect("diverted");
    let _screen = terminal::Screen::take().expect("a terminal");
    std::thread::spawn(|| panic!("the keel fell off")).join().expect_err("it panics");
}

#[test]
fn a_panic_under_the_screen_gives_the_terminal_back_and_its_words_reach_it() {
    let boat = Boat::new();
    let this = std::env::current_exe().expect("this test");
    let args = ["--exact", "terminal::child_that_panics_under_its_screen", "--nocapture"];
    let log = boat.path("log");
    let log = log.display().to_string();
    let environment = [("NIGHTRODE_TEST_PANIC_LOG", &*log), ("RUST_BACKTRACE", "0")];
    let mut terminal = Terminal::start_with(&this, &args, &boat.path("home"), WIDE, &environment);
    let code = terminal.ends();
    terminal.is_given_back();
    let said = terminal.shows("THE WATCH HAS ENDED");
    assert!(said.contains("the keel fell off"), "{said}");
    assert_eq!(code, 101);
}
