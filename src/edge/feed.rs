//! Feeds: everything that brings lines to the watch, each a task of its own.
//!
//! ```text
//!   serial  udp  tcp  gpsd  signalk  can  file  -   one task each; reconnects by itself
//!      └─────┴────┴────┴───────┴─────┴────┴────┘
//!                Outlet                      stamps lines, holds a place in the queue for each
//!                  │  one queue; every feed has its own share of it
//!                Intake                      the task that owns the watch
//! ```
//!
//! A feed that floods fills only its own share: its newest lines are dropped and counted, other feeds keep theirs. A
//! file or pipe waits for room instead. So memory is bounded, no feed delays another, and a watch that is busy for a
//! moment loses nothing.

mod allowance;
mod backoff;
pub mod baud;
mod broken;
mod can;
mod deltas;
mod file;
mod gpsd;
mod keys;
mod pinned;
mod recording;
mod serial;
mod signalk;
mod source;
mod stdin;
mod tcp;
mod udp;
pub mod usb;

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::task::JoinHandle;
use tokio::time::Instant;

use self::allowance::Allowance;
pub(in crate::edge) use self::backoff::Backoff;
use super::clock::Clock;
use crate::watch::input::{FeedId, Link};
use crate::watch::nmea::LineSplitter;
use crate::watch::units::{Span, WatchTime};

pub use broken::{PortError, ServerError};
pub use deltas::{NoSocket, Socket, open_stream};
pub use gpsd::read_stream as read_gpsd_stream;
pub use keys::{KeyError, ServerKeys, Token};
pub use recording::{Recorded, Recording, unpacked};
pub(in crate::edge) use serial::cannot_open;
pub use serial::listen_for_rate;
pub use source::{
    GPSD_PORT, Listen, NMEA_PORT, Pace, SIGNALK_PORT, Server, SignalKServer, Source, SourceError,
};
pub(in crate::edge) use tcp::connect;

/// Arrivals that one feed may have waiting: over a minute of the busiest 4800 baud line (480 characters a second),
/// ten seconds of a busy AIS receiver, at most about 2 MB of sentences, 8 MB of JSON. Our choice.
pub const SHARE: usize = 1024;

/// Dropped lines of one feed are reported this often.
const REPORT_EVERY: Span = Span::from_secs(60);

/// What a feed delivers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Arrival {
    /// A line, without its line end.
    Line {
        /// Where from.
        feed: FeedId,
        /// When it arrived.
        at: WatchTime,
        /// As received.
        bytes: Vec<u8>,
    },
    /// Lines of the feed were left out: it sends more than the watch takes.
    Dropped {
        /// Which.
        feed: FeedId,
        /// When.
        at: WatchTime,
        /// How many since this was last reported.
        lines: u64,
    },
    /// The feed came or went.
    Link {
        /// Which.
        feed: FeedId,
        /// When.
        at: WatchTime,
        /// How it stands now.
        link: Link,
    },
}

/// A feed to be started.
#[derive(Clone, Debug, PartialEq)]
pub struct FeedSpec {
    /// Its place in the watch's list.
    pub feed: FeedId,
    /// What the crew calls it.
    pub name: String,
    /// Where its lines come from.
    pub source: Source,
}

/// How long feeds wait for what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// Before the first new attempt after a loss; doubled for each further one.
    pub retry_first: Duration,
    /// Longest wait between attempts.
    pub retry_longest: Duration,
    /// For a connection to come about.
    pub connect: Duration,
    /// For the next byte, before a connection is taken for dead and made anew.
    pub silence: Duration,
}

impl Default for Patience {
    /// Half a second to 15 s between attempts, 10 s to connect, 60 s of silence: common practice, no source. A
    /// minute is as long as `fix_lost` waits before it becomes an alarm.
    fn default() -> Self {
        Self {
            retry_first: Duration::from_millis(500),
            retry_longest: Duration::from_secs(15),
            connect: Duration::from_secs(10),
            silence: Duration::from_secs(60),
        }
    }
}

/// The queue between feeds and watch: starts feeds at one end, hands out arrivals at the other.
#[must_use]
pub fn queue(clock: Clock, patience: Patience) -> (Feeder, Intake) {
    let (queue, arrivals) = mpsc::unbounded_channel();
    (Feeder { queue, clock, patience, keys: ServerKeys::default() }, Intake { arrivals })
}

/// An arrival and its place in the queue, free again when it is taken out.
struct Queued {
    arrival: Arrival,
    _place: OwnedSemaphorePermit,
}

/// The watch's end of the queue.
pub struct Intake {
    // Unbounded as a channel; bounded by the places, of which every outlet has `SHARE`.
    arrivals: mpsc::UnboundedReceiver<Queued>,
}

impl Intake {
    /// The next arrival, in the order of arrival; `None` when every feed has ended and no more can be started.
    pub async fn recv(&mut self) -> Option<Arrival> {
        self.arrivals.recv().await.map(|queued| queued.arrival)
    }

    /// The next arrival if one is waiting.
    pub fn try_recv(&mut self) -> Option<Arrival> {
        self.arrivals.try_recv().ok().map(|queued| queued.arrival)
    }
}

/// Starts feeds.
#[derive(Clone)]
pub struct Feeder {
    queue: mpsc::UnboundedSender<Queued>,
    clock: Clock,
    patience: Patience,
    keys: ServerKeys,
}

impl Feeder {
    /// With what servers are known by, and what they know this program by.
    #[must_use]
    pub fn with_keys(self, keys: ServerKeys) -> Self {
        Self { keys, ..self }
    }

    /// Starts a feed on the current tokio runtime.
    #[must_use = "the feed stops when its task is dropped"]
    pub fn spawn(&self, spec: &FeedSpec) -> FeedTask {
        let outlet = self.outlet(spec.feed);
        let dropped = outlet.dropped.clone();
        let transport = Transport::new(&spec.source, self.patience, &self.keys);
        let task = tokio::spawn(keep_up(transport, outlet, self.patience));
        FeedTask { task, dropped }
    }

    /// A place for lines of one's own making to enter.
    #[must_use]
    pub fn outlet(&self, feed: FeedId) -> Outlet {
        Outlet {
            feed,
            queue: self.queue.clone(),
            clock: self.clock.clone(),
            places: Arc::new(Semaphore::new(SHARE)),
            dropped: Arc::default(),
            reported: (0, None),
            allowance: Allowance::default(),
            link: None,
            lines: 0,
        }
    }
}

/// A running feed. Dropping it stops the feed; a serial port is free a second later at most.
#[derive(Debug)]
pub struct FeedTask {
    task: JoinHandle<()>,
    dropped: Arc<AtomicU64>,
}

impl FeedTask {
    /// Lines that were dropped since the start because the watch did not keep up with this feed.
    #[must_use]
    pub fn dropped_lines(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }
}

impl Drop for FeedTask {
    fn drop(&mut self) {
        self.task.abort();
    }
}

/// Where one feed's arrivals enter the queue.
pub struct Outlet {
    feed: FeedId,
    queue: mpsc::UnboundedSender<Queued>,
    clock: Clock,
    places: Arc<Semaphore>,
    dropped: Arc<AtomicU64>,
    /// How many of the dropped lines have been reported, and when.
    reported: (u64, Option<WatchTime>),
    allowance: Allowance,
    /// As last reported.
    link: Option<Link>,
    lines: u64,
}

impl Outlet {
    /// The time to stamp on what arrives now.
    #[must_use]
    pub fn now(&self) -> WatchTime {
        self.clock.now()
    }

    /// Reports how the feed stands; the same again is not repeated. Waits for room: a loss must not go unheard.
    pub async fn report(&mut self, link: Link) {
        if self.link.as_ref() == Some(&link) {
            return;
        }
        self.link = Some(link.clone());
        let arrival = Arrival::Link { feed: self.feed, at: self.now(), link };
        self.wait_and_send(arrival).await;
    }

    /// Reports that the feed is open; one that is known to be silent is open again only with its next line.
    async fn connected(&mut self, came: Came) {
        if came == Came::New {
            self.report(Link::Open).await;
        }
    }

    /// Cuts what was received at `at` into lines and queues them. Where there is no room they are dropped and counted.
    async fn take(&mut self, at: WatchTime, bytes: &[u8], splitter: &mut LineSplitter) {
        let mut lines = Vec::new();
        splitter.push(bytes, |line| lines.push(line.to_vec()));
        for line in lines {
            self.line_or_drop(at, line).await;
        }
    }

    /// Queues a line; without room it is dropped and counted.
    pub async fn line_or_drop(&mut self, at: WatchTime, bytes: Vec<u8>) {
        self.heard().await;
        let place = self.places.clone().try_acquire_owned();
        match place.ok().filter(|_| self.allowance.takes(at, bytes.len())) {
            Some(place) => self.send(Arrival::Line { feed: self.feed, at, bytes }, place),
            None => {
                self.dropped.fetch_add(1, Ordering::Relaxed);
            }
        }
        self.report_dropped(at);
    }

    /// Reports what was dropped, if anything, now and then and where there is room.
    fn report_dropped(&mut self, at: WatchTime) {
        let (known, when) = self.reported;
        let dropped = self.dropped.load(Ordering::Relaxed);
        if dropped == known || when.is_some_and(|then| at.since(then) < REPORT_EVERY) {
            return;
        }
        if let Ok(place) = self.places.clone().try_acquire_owned() {
            self.reported = (dropped, Some(at));
            self.send(Arrival::Dropped { feed: self.feed, at, lines: dropped - known }, place);
        }
    }

    /// Queues a line as soon as there is room.
    pub async fn line(&mut self, at: WatchTime, bytes: Vec<u8>) {
        self.heard().await;
        self.wait_and_send(Arrival::Line { feed: self.feed, at, bytes }).await;
    }

    /// A line proves that the feed is open, whatever was reported last.
    async fn heard(&mut self) {
        self.lines += 1;
        if self.link != Some(Link::Open) {
            self.report(Link::Open).await;
        }
    }

    async fn wait_and_send(&self, arrival: Arrival) {
        if let Ok(place) = self.places.clone().acquire_owned().await {
            self.send(arrival, place);
        }
    }

    fn send(&self, arrival: Arrival, place: OwnedSemaphorePermit) {
        // Without a receiver the watch has ended; this task is about to be dropped too.
        let _ = self.queue.send(Queued { arrival, _place: place });
    }
}

/// How a stretch of an open feed ended.
#[derive(Debug, PartialEq, Eq)]
enum Ended {
    /// It broke off or could not be opened: wait, then try again.
    Lost(String),
    /// Open, but nothing came for long: perhaps dead, perhaps only quiet. Try again at once.
    Silent(String),
    /// For good.
    Done,
}

/// Why a feed is opened.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Came {
    /// For the first time or after a loss.
    New,
    /// To make sure, after a silence.
    Quiet,
}

/// What is kept from one opening of a feed to the next.
enum Transport {
    Serial(serial::Serial),
    Udp(udp::Udp),
    Tcp(tcp::Tcp),
    Gpsd(gpsd::Gpsd),
    SignalK(signalk::SignalK),
    Can(can::Can),
    File(file::File),
    Stdin,
}

impl Transport {
    fn new(source: &Source, patience: Patience, keys: &ServerKeys) -> Self {
        match source.clone() {
            Source::Serial { path, baud } => Self::Serial(serial::Serial::new(path, baud, patience)),
            Source::Udp(listen) => Self::Udp(udp::Udp::new(listen, patience)),
            Source::Tcp(server) => Self::Tcp(tcp::Tcp::new(server, patience)),
            Source::Gpsd(server) => Self::Gpsd(gpsd::Gpsd::new(server, patience)),
            Source::SignalK(server) => Self::SignalK(signalk::SignalK::new(server, patience, keys.clone())),
            Source::Can(interface) => Self::Can(can::Can::new(interface, patience)),
            Source::File { path, pace } => Self::File(file::File::new(path, pace)),
            Source::Stdin => Self::Stdin,
        }
    }

    /// Opens the feed and passes on what comes, until it ends.
    async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
        match self {
            Self::Serial(serial) => serial.run(came, outlet).await,
            Self::Udp(udp) => udp.run(outlet).await,
            Self::Tcp(tcp) => tcp.run(came, outlet).await,
            Self::Gpsd(gpsd) => gpsd.run(came, outlet).await,
            Self::SignalK(signalk) => signalk.run(came, outlet).await,
            Self::Can(can) => can.run(came, outlet).await,
            Self::File(file) => file.run(outlet).await,
            Self::Stdin => stdin::run(std::io::stdin(), outlet).await,
        }
    }
}

/// Keeps a feed open for as long as the task lives.
async fn keep_up(mut transport: Transport, mut outlet: Outlet, patience: Patience) {
    let mut backoff = Backoff::new(patience);
    let mut came = Came::New;
    outlet.report(Link::Opening).await;
    loop {
        let (opened, lines) = (Instant::now(), outlet.lines);
        let ended = transport.run(came, &mut outlet).await;
        if outlet.lines > lines {
            backoff.was_open_for(opened.elapsed());
        }
        match ended {
            Ended::Done => return outlet.report(Link::Ended).await,
            Ended::Silent(why) => {
                // What is already known to be lost is not news because it is quiet too.
                if outlet.link == Some(Link::Open) {
                    outlet.report(Link::Lost { why }).await;
                }
                came = Came::Quiet;
            }
            Ended::Lost(why) => {
                tracing::info!(feed = outlet.feed.0, why, "feed lost");
                outlet.report(Link::Lost { why }).await;
                came = Came::New;
                tokio::time::sleep(backoff.next_wait()).await;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GPS: FeedId = FeedId(0);
    const AIS: FeedId = FeedId(1);

    fn start() -> (Feeder, Intake) {
        queue(Clock::system(), Patience::default())
    }

    #[tokio::test]
    async fn a_flooding_feed_loses_its_own_newest_lines_and_no_others() {
        let (feeder, mut intake) = start();
        let (mut gps, mut ais) = (feeder.outlet(GPS), feeder.outlet(AIS));
        for n in 0..5 * SHARE {
            ais.line_or_drop(WatchTime(0), n.to_string().into_bytes()).await;
            if intake.arrivals.len() == SHARE {
                break;
            }
        }
        for n in 0..10_u8 {
            ais.line_or_drop(WatchTime(1), vec![n]).await;
        }
        gps.line_or_drop(WatchTime(2), b"$GPRMC".to_vec()).await;
        assert_eq!(ais.dropped.load(Ordering::Relaxed), 10);
        assert_eq!(gps.dropped.load(Ordering::Relaxed), 0);
        let mut last = None;
        while let Some(arrival) = intake.try_recv() {
            last = Some(arrival);
        }
        assert_eq!(last, Some(Arrival::Line { feed: GPS, at: WatchTime(2), bytes: b"$GPRMC".to_vec() }));
        ais.line_or_drop(WatchTime(3), vec![0]).await;
        assert_eq!(ais.dropped.load(Ordering::Relaxed), 10, "room again");
    }

    #[tokio::test]
    async fn a_link_is_reported_once_and_a_line_proves_it_open() {
        let (feeder, mut intake) = start();
        let mut gps = feeder.outlet(GPS);
        let lost = || Link::Lost { why: "cable".to_owned() };
        for link in [Link::Opening, lost(), lost()] {
            gps.report(link).await;
        }
        gps.line_or_drop(WatchTime(0), vec![1]).await;
        gps.line_or_drop(WatchTime(0), vec![2]).await;
        let mut links = Vec::new();
        while let Some(arrival) = intake.try_recv() {
            links.push(match arrival {
                Arrival::Link { link, .. } => Some(link),
                Arrival::Line { .. } | Arrival::Dropped { .. } => None,
            });
        }
        assert_eq!(links, [Some(Link::Opening), Some(lost()), Some(Link::Open), None, None]);
    }

    #[tokio::test]
    async fn the_queue_ends_with_its_last_feed() {
        let (feeder, mut intake) = start();
        let outlet = feeder.outlet(GPS);
        drop(feeder);
        assert_eq!(intake.try_recv(), None);
        drop(outlet);
        assert_eq!(intake.recv().await, None);
    }
}
