//! The program killed at any moment: every act that the screen showed as entered is there after, and so is what it heard
//! up to the last second.
//!
//!     NIGHTRODE_KILLS=1000 cargo test --release --test program kills -- --nocapture

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng as _;

use crate::support::program::{Boat, free_udp_port, sentence, signal, until};
use crate::terminal::watch_on_screen;
use nightrode::edge::folder::{Recorded, RideReader, find_unfinished};
use nightrode::watch::input::{Command, Event};

/// Sentences a second that the feed gives.
const EVERY: Duration = Duration::from_millis(100);

/// A receiver that goes on whatever becomes of the program: the height of each position is its number.
struct Receiver {
    ends: Arc<AtomicBool>,
    sending: Option<thread::JoinHandle<()>>,
    sent: Arc<std::sync::atomic::AtomicU32>,
}

impl Receiver {
    fn start(port: u16) -> Self {
        let (ends, sent) = (Arc::new(AtomicBool::new(false)), Arc::default());
        let (over, count): (_, Arc<std::sync::atomic::AtomicU32>) = (Arc::clone(&ends), Arc::clone(&sent));
        let sending = thread::spawn(move || {
            let socket = std::net::UdpSocket::bind("127.0.0.1:0").expect("a socket");
            while !over.load(Ordering::Relaxed) {
                let number = count.load(Ordering::Relaxed) + 1;
                let _ = socket.send_to(position(number).as_bytes(), ("127.0.0.1", port));
                count.store(number, Ordering::Relaxed);
                thread::park_timeout(EVERY);
            }
        });
        Self { ends, sending: Some(sending), sent }
    }

    fn sent(&self) -> u32 {
        self.sent.load(Ordering::Relaxed)
    }

    /// Waits for so many more sentences.
    fn wait(&self, more: u32) {
        let enough = self.sent() + more;
        until("the receiver goes on", || self.sent() >= enough);
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Relaxed);
        let _ = self.sending.take().map(thread::JoinHandle::join);
    }
}

fn position(number: u32) -> String {
    let now = jiff::Timestamp::now().strftime("%H%M%S%.2f");
    let body = format!("GPGGA,{now},5200.0000,N,02000.0000,W,1,09,0.9,{number}.0,M,50.0,M,,");
    sentence(&body)
}

/// What the ride's folder holds: the notes, and the number of the last position.
fn kept(boat: &Boat) -> (Vec<String>, u32) {
    let rides = find_unfinished(&boat.rides()).expect("listed");
    assert_eq!(rides.len(), 1, "one ride, taken up again and again");
    let (mut notes, mut last) = (Vec::new(), 0);
    for entry in RideReader::open(&rides[0].folder).expect("opened").map_while(Result::ok) {
        match entry.what {
            Recorded::Event(Event::Crew(Command::Note { text })) => notes.push(text),
            Recorded::Line { bytes, .. } => last = number_of(&bytes).unwrap_or(last),
            _ => {}
        }
    }
    (notes, last)
}

fn number_of(line: &[u8]) -> Option<u32> {
    let field = std::str::from_utf8(line).ok()?.split(',').nth(9)?;
    field.strip_suffix(".0")?.parse().ok()
}

/// A watch with a screen that lives until some moment after its crew has noted something.
fn a_life_on_screen(boat: &Boat, port: u16, receiver: &Receiver, note: &str, moment: u32) -> Vec<String> {
    let mut terminal = watch_on_screen(boat, port);
    let mut entered = Vec::new();
    if moment.is_multiple_of(4) {
        // Killed while it starts.
        receiver.wait(moment / 4);
    } else {
        terminal.shows("north up");
        terminal.keys("n");
        terminal.shows("NOTE");
        terminal.keys(&format!("{note}\r"));
        terminal.shows(note);
        entered.push(note.to_owned());
        receiver.wait(moment);
    }
    signal(terminal.id(), "KILL");
    terminal.ends();
    entered
}

fn a_life_without_a_screen(boat: &Boat, port: u16, receiver: &Receiver, moment: u32) {
    let watch = boat.watch_headless(&[&format!("gps=udp:{port}")]);
    if !moment.is_multiple_of(4) {
        watch.wait_for("taken up again");
    }
    receiver.wait(moment);
    watch.kill();
}

#[test]
fn all_that_was_shown_as_entered_is_there_after_a_kill_at_any_moment() {
    let kills = std::env::var("NIGHTRODE_KILLS").ok().and_then(|kills| kills.parse().ok()).unwrap_or(4);
    let mut chance = Pcg32::new(17, 1);
    let boat = Boat::new();
    boat.configure("");
    boat.unfinished_ride();
    let port = free_udp_port();
    let receiver = Receiver::start(port);
    let (mut entered, mut lost, mut short) = (Vec::new(), vec![0], 0);
    for kill in 0..kills {
        let (moment, before) = (chance.next_u32() % 32, receiver.sent());
        if chance.next_u32().is_multiple_of(3) {
            a_life_without_a_screen(&boat, port, &receiver, moment);
        } else {
            let note = format!("seen {kill}");
            entered.extend(a_life_on_screen(&boat, port, &receiver, &note, moment));
        }
        let sent = receiver.sent();
        let (notes, last) = kept(&boat);
        assert_eq!(notes, entered, "after kill {kill}");
        if last > before {
            lost.push(sent - last);
        } else {
            short += 1;
        }
    }
    lost.sort_unstable();
    println!(
        "{kills} kills, {} notes all there; of ten positions a second the last {} are lost in the middle, {} at most; \
         {short} lives were too short to keep any",
        entered.len(),
        lost[lost.len() / 2],
        lost[lost.len() - 1]
    );
}
