//! Feeds against the real thing: serial lines (a pty pair), sockets on loopback, files; cut, restarted, flooded.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::io::Write;
use std::net::{Ipv4Addr, UdpSocket};
use std::path::Path;
use std::time::Duration;

use nightrode::edge::clock::Clock;
use nightrode::edge::feed::{Arrival, FeedSpec, FeedTask, Feeder, Intake, Patience, SHARE, queue};
use nightrode::watch::input::{FeedId, Link};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;

const HDT: &[u8] = b"$GPHDT,236.7,T*35";
const RMC: &[u8] = b"$GPRMC,020304.00,A,5012.3456,N,00512.3456,W,0.1,047.0,030626,,,A*4A";

/// Long enough for any machine; a test waits so long only when it fails.
const GENEROUS: Duration = Duration::from_secs(30);

/// As a boat has it, only quicker.
fn patience() -> Patience {
    Patience {
        retry_first: Duration::from_millis(5),
        retry_longest: Duration::from_millis(50),
        ..Patience::default()
    }
}

/// A queue with feeds, numbered in the order in which they are started.
struct Rig {
    feeder: Feeder,
    intake: Intake,
    tasks: Vec<FeedTask>,
}

impl Rig {
    fn new(patience: Patience) -> Self {
        let (feeder, intake) = queue(Clock::system(), patience);
        Self { feeder, intake, tasks: Vec::new() }
    }

    fn with(source: &str) -> Self {
        let mut rig = Self::new(patience());
        rig.start(source);
        rig
    }

    fn start(&mut self, source: &str) {
        let feed = FeedId(self.tasks.len() as u8);
        let spec = FeedSpec { feed, name: source.to_owned(), source: source.parse().unwrap() };
        self.tasks.push(self.feeder.spawn(&spec));
    }

    async fn next(&mut self) -> Arrival {
        timeout(GENEROUS, self.intake.recv()).await.expect("something arrives").expect("a feed runs")
    }

    async fn line(&mut self) -> Vec<u8> {
        loop {
            if let Arrival::Line { bytes, .. } = self.next().await {
                return bytes;
            }
        }
    }

    async fn link(&mut self) -> Link {
        loop {
            if let Arrival::Link { link, .. } = self.next().await {
                return link;
            }
        }
    }

    async fn open(&mut self) {
        while self.link().await != Link::Open {}
    }

    async fn lost(&mut self) -> String {
        loop {
            if let Link::Lost { why } = self.link().await {
                return why;
            }
        }
    }
}

fn with_line_end(line: &[u8]) -> Vec<u8> {
    [line, b"\r\n"].concat()
}

#[cfg(unix)]
mod serial {
    use std::os::unix::fs::symlink;

    use serialport::{SerialPort, TTYPort};

    use super::*;

    /// An instrument with a cable: the far end of a serial line.
    struct Instrument(TTYPort);

    impl Instrument {
        fn plugged_in() -> (Self, String) {
            let (far, near) = TTYPort::pair().unwrap();
            let name = near.name().unwrap();
            (Self(far), name)
        }

        fn send(&mut self, bytes: &[u8]) {
            self.0.write_all(bytes).unwrap();
        }

        /// Sends sentences without end, until the returned half is dropped.
        fn talks(mut self) -> std::sync::mpsc::Sender<()> {
            let (unplug, unplugged) = std::sync::mpsc::channel::<()>();
            std::thread::spawn(move || {
                while unplugged.try_recv() == Err(std::sync::mpsc::TryRecvError::Empty) {
                    // Nobody may be listening at this moment, so that the line is full.
                    let _ = self.0.write_all(&with_line_end(HDT));
                }
            });
            unplug
        }
    }

    #[tokio::test]
    async fn lines_come_whole_however_they_are_cut_and_whatever_is_between() {
        let (mut instrument, port) = Instrument::plugged_in();
        let mut rig = Rig::with(&format!("serial:{port}@4800"));
        rig.open().await;
        instrument.send(b"\xff\x00\xb5b\x01\x07");
        instrument.send(&with_line_end(HDT));
        for piece in with_line_end(RMC).chunks(7) {
            instrument.send(piece);
        }
        let junk = rig.line().await;
        assert!(junk.starts_with(b"\xff") || junk.starts_with(b"\xb5"), "{junk:?}");
        let mut line = rig.line().await;
        while line != HDT {
            line = rig.line().await;
        }
        assert_eq!(rig.line().await, RMC);
    }

    #[tokio::test]
    async fn a_receiver_unplugged_and_plugged_in_again_elsewhere_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("usb-receiver-if00");
        let (mut instrument, port) = Instrument::plugged_in();
        symlink(&port, &link).unwrap();
        let mut rig = Rig::with(&format!("serial:{}@4800", link.display()));
        rig.open().await;
        instrument.send(&with_line_end(HDT));
        assert_eq!(rig.line().await, HDT);

        drop(instrument);
        let why = rig.lost().await;
        assert!(why.contains("unplugged"), "{why}");
        std::fs::remove_file(&link).unwrap();
        // A second pty opened before the first is forgotten has another name.
        let (mut instrument, port) = Instrument::plugged_in();
        symlink(&port, &link).unwrap();
        rig.open().await;
        instrument.send(&with_line_end(RMC));
        assert_eq!(rig.line().await, RMC);
    }

    #[tokio::test]
    async fn a_port_that_is_not_there_yet_is_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("later");
        let mut rig = Rig::with(&format!("serial:{}@38400", link.display()));
        let why = rig.lost().await;
        assert!(why.ends_with("is not there: is it plugged in?"), "{why}");
        let (_instrument, port) = Instrument::plugged_in();
        symlink(&port, &link).unwrap();
        rig.open().await;
    }

    #[tokio::test]
    async fn without_a_rate_the_line_is_open_once_sentences_can_be_read() {
        let (instrument, port) = Instrument::plugged_in();
        let mut rig = Rig::with(&format!("serial:{port}"));
        let _talking = instrument.talks();
        rig.open().await;
        assert!(rig.line().await.ends_with(b"T*35"));
    }

    #[tokio::test]
    async fn a_silent_port_is_said_to_be_silent_once_and_heard_when_it_speaks() {
        let (instrument, port) = Instrument::plugged_in();
        let mut rig = Rig::new(Patience { silence: Duration::from_millis(100), ..patience() });
        rig.start(&format!("serial:{port}@4800"));
        rig.open().await;
        let why = rig.lost().await;
        assert!(why.contains("has sent nothing"), "{why}");
        // It is opened again now and then: only what comes while it is open is heard.
        let _talking = instrument.talks();
        assert_eq!(rig.link().await, Link::Open);
    }
}

mod udp {
    use super::*;

    fn free_port() -> u16 {
        UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
    }

    fn sender(port: u16) -> UdpSocket {
        let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
        socket.connect(("127.0.0.1", port)).unwrap();
        socket
    }

    #[tokio::test]
    async fn a_datagram_may_hold_several_sentences_with_or_without_line_end() {
        let port = free_port();
        let mut rig = Rig::with(&format!("udp:{port}"));
        rig.open().await;
        let sender = sender(port);
        sender.send(&[HDT, b"\r\n", RMC, b"\r\n"].concat()).unwrap();
        sender.send(HDT).unwrap();
        sender.send(&[b"UdPbC\0\\s:GP0001*49\\".as_slice(), RMC, b"\r\n"].concat()).unwrap();
        assert_eq!(rig.line().await, HDT);
        assert_eq!(rig.line().await, RMC);
        assert_eq!(rig.line().await, HDT);
        assert_eq!(rig.line().await, [b"\\s:GP0001*49\\".as_slice(), RMC].concat());
    }

    #[tokio::test]
    async fn sentences_cut_across_datagrams_are_joined_for_each_sender() {
        let port = free_port();
        let mut rig = Rig::with(&format!("udp:{port}"));
        rig.open().await;
        let (bridge, other) = (sender(port), sender(port));
        bridge.send(&RMC[..20]).unwrap();
        other.send(&HDT[..9]).unwrap();
        bridge.send(&with_line_end(&RMC[20..])).unwrap();
        other.send(&with_line_end(&HDT[9..])).unwrap();
        assert_eq!(rig.line().await, RMC);
        assert_eq!(rig.line().await, HDT);
    }

    #[tokio::test]
    async fn a_group_is_joined() {
        let port = free_port();
        let mut rig = Rig::with(&format!("udp:239.192.0.1@127.0.0.1:{port}"));
        rig.open().await;
        let sender = socket2::Socket::from(UdpSocket::bind("127.0.0.1:0").unwrap());
        sender.set_multicast_if_v4(&Ipv4Addr::LOCALHOST).unwrap();
        sender.set_multicast_loop_v4(true).unwrap();
        let group: std::net::SocketAddr = (Ipv4Addr::new(239, 192, 0, 1), port).into();
        sender.send_to(&with_line_end(HDT), &group.into()).unwrap();
        assert_eq!(rig.line().await, HDT);
    }

    #[tokio::test]
    async fn a_second_listener_takes_nothing_from_the_first() {
        let port = free_port();
        let mut watch = Rig::with(&format!("udp:{port}"));
        watch.open().await;
        let mut second = Rig::with(&format!("udp:{port}"));
        let why = second.lost().await;
        assert!(why.contains("perhaps a running watch"), "{why}");
        sender(port).send(HDT).unwrap();
        assert_eq!(watch.line().await, HDT);
        drop(watch);
        second.open().await;
    }

    #[tokio::test]
    async fn broadcasts_are_shared_with_other_programs() {
        let port = free_port();
        let mut first = Rig::with(&format!("udp:0.0.0.0:{port}"));
        first.open().await;
        let mut second = Rig::with(&format!("udp:0.0.0.0:{port}"));
        second.open().await;
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        sender.set_broadcast(true).unwrap();
        sender.send_to(HDT, ("127.255.255.255", port)).unwrap();
        assert_eq!(first.line().await, HDT);
        assert_eq!(second.line().await, HDT);
    }

    #[tokio::test]
    async fn an_address_of_another_computer_is_said_so() {
        let mut rig = Rig::with("udp:192.0.2.77:10110");
        let why = rig.lost().await;
        assert!(why.contains("does not have the address 192.0.2.77"), "{why}");
    }
}

mod tcp {
    use super::*;

    async fn server() -> (TcpListener, String) {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let source = format!("tcp:{}", listener.local_addr().unwrap());
        (listener, source)
    }

    async fn accept(listener: &TcpListener) -> TcpStream {
        timeout(GENEROUS, listener.accept()).await.expect("the feed connects").unwrap().0
    }

    #[tokio::test]
    async fn a_sender_that_restarts_is_found_again() {
        let (listener, source) = server().await;
        let address = listener.local_addr().unwrap();
        let mut rig = Rig::with(&source);
        let mut peer = accept(&listener).await;
        peer.write_all(&with_line_end(HDT)).await.unwrap();
        assert_eq!(rig.line().await, HDT);

        drop((peer, listener));
        let why = rig.lost().await;
        assert!(why.contains("closed") || why.contains("broke"), "{why}");
        let why = rig.lost().await;
        assert!(why.contains("its program is not running"), "{why}");

        let listener = TcpListener::bind(address).await.unwrap();
        let mut peer = accept(&listener).await;
        rig.open().await;
        peer.write_all(&with_line_end(RMC)).await.unwrap();
        assert_eq!(rig.line().await, RMC);
    }

    #[tokio::test]
    async fn a_connection_that_went_silent_is_made_anew_and_told_once() {
        let (listener, source) = server().await;
        let mut rig = Rig::new(Patience { silence: Duration::from_millis(10), ..patience() });
        rig.start(&source);
        let dead = accept(&listener).await;
        let also_dead = accept(&listener).await;
        let mut alive = accept(&listener).await;
        assert_eq!((rig.link().await, rig.link().await), (Link::Opening, Link::Open));
        let why = rig.lost().await;
        assert!(why.contains("has sent nothing"), "{why}");
        // The third connection may be given up before the line is there; a later one gets it then.
        while alive.write_all(&with_line_end(HDT)).await.is_err() || rig.tasks.is_empty() {
            alive = accept(&listener).await;
        }
        drop((dead, also_dead));
        let serving = tokio::spawn(async move {
            loop {
                let mut peer = accept(&listener).await;
                let _ = peer.write_all(&with_line_end(HDT)).await;
            }
        });
        assert_eq!(rig.link().await, Link::Open, "nothing between but the line that came");
        serving.abort();
    }

    #[tokio::test]
    async fn a_flood_fills_only_its_own_share() {
        let (flood, flood_source) = server().await;
        let (gps, gps_source) = server().await;
        let mut rig = Rig::with(&flood_source);
        let mut flood = accept(&flood).await;
        rig.start(&gps_source);
        let mut gps = accept(&gps).await;

        // Nobody takes anything out meanwhile: the watch is busy.
        let lines = 20 * SHARE;
        flood.write_all(&with_line_end(HDT).repeat(lines)).await.unwrap();
        flood.shutdown().await.unwrap();
        let mut rest = Vec::new();
        // The feed closes its end only after it has read everything and waits to report it.
        let closed = timeout(GENEROUS, flood.read_to_end(&mut rest));
        gps.write_all(&with_line_end(RMC)).await.unwrap();
        closed.await.expect("the feed reads on although nobody takes its lines").unwrap();

        let mut count = BTreeMap::new();
        while *count.get(&FeedId(1)).unwrap_or(&0) == 0 {
            if let Arrival::Line { feed, bytes, .. } = rig.next().await {
                *count.entry(feed).or_insert(0) += 1;
                assert_eq!(bytes, if feed == FeedId(0) { HDT } else { RMC });
            }
        }
        let delivered = count[&FeedId(0)];
        assert!(delivered <= SHARE, "{delivered}");
        assert_eq!(rig.tasks[0].dropped_lines() as usize + SHARE - 2, lines, "the rest is counted");
        assert_eq!(rig.tasks[1].dropped_lines(), 0);
    }
}

mod gpsd {
    use super::*;

    /// As far as a watch sees one.
    async fn accept(listener: &TcpListener) -> TcpStream {
        let (mut peer, _) = timeout(GENEROUS, listener.accept()).await.expect("the feed connects").unwrap();
        peer.write_all(
            b"{\"class\":\"VERSION\",\"release\":\"3.25\",\"proto_major\":3,\"proto_minor\":15}\r\n",
        )
        .await
        .unwrap();
        let mut asked = [0; 47];
        timeout(GENEROUS, peer.read_exact(&mut asked)).await.expect("the feed asks").unwrap();
        assert_eq!(&asked, b"?WATCH={\"enable\":true,\"nmea\":true,\"json\":true}\n");
        peer
    }

    #[tokio::test]
    async fn sentences_come_through_and_a_lost_receiver_is_told() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let mut rig = Rig::with(&format!("gpsd:{}", listener.local_addr().unwrap()));
        let mut gpsd = accept(&listener).await;
        gpsd.write_all(b"{\"class\":\"DEVICES\",\"devices\":[]}\r\n").await.unwrap();
        assert_eq!(rig.lost().await, "gpsd answers and has no receiver");
        gpsd.write_all(
            b"{\"class\":\"DEVICES\",\"devices\":[{\"class\":\"DEVICE\",\"path\":\"/dev/ttyACM0\"}]}\r\n",
        )
        .await
        .unwrap();
        assert_eq!(rig.link().await, Link::Open);
        gpsd.write_all(&with_line_end(RMC)).await.unwrap();
        gpsd.write_all(b"{\"class\":\"TPV\",\"mode\":3}\r\n").await.unwrap();
        gpsd.write_all(&with_line_end(HDT)).await.unwrap();
        assert_eq!(rig.line().await, RMC);
        assert_eq!(rig.line().await, HDT);
        gpsd.write_all(b"{\"class\":\"DEVICE\",\"path\":\"/dev/ttyACM0\",\"activated\":0}\r\n")
            .await
            .unwrap();
        assert_eq!(rig.lost().await, "gpsd has lost its receiver /dev/ttyACM0");

        drop(gpsd);
        let mut gpsd = accept(&listener).await;
        gpsd.write_all(&with_line_end(HDT)).await.unwrap();
        assert_eq!(rig.line().await, HDT);
    }
}

mod file {
    use flate2::Compression;
    use flate2::write::GzEncoder;
    use nightrode::watch::nmea::write_tag;
    use nightrode::watch::units::{Span, WatchTime};
    use tokio::time::Instant;

    use super::*;

    const BEGUN: i64 = 1_780_452_184_000;

    /// A line every `step_ms`.
    fn log(lines: i64, step_ms: i64) -> Vec<u8> {
        let mut log = Vec::new();
        for n in 0..lines {
            write_tag("gps", BEGUN + n * step_ms, HDT, &mut log);
            log.extend(b"\r\n");
        }
        log
    }

    fn packed(bytes: &[u8]) -> Vec<u8> {
        let mut packer = GzEncoder::new(Vec::new(), Compression::fast());
        packer.write_all(bytes).unwrap();
        packer.finish().unwrap()
    }

    fn write(folder: &Path, bytes: &[u8]) -> String {
        let path = folder.join("night.nmea");
        std::fs::write(&path, bytes).unwrap();
        path.display().to_string()
    }

    /// Stamps of all lines, and how the file ended.
    async fn play(rig: &mut Rig) -> (Vec<WatchTime>, Vec<Link>) {
        let (mut stamps, mut links) = (Vec::new(), Vec::new());
        loop {
            match rig.next().await {
                Arrival::Line { at, bytes, .. } if bytes == HDT => stamps.push(at),
                Arrival::Line { bytes, .. } => {
                    assert!(bytes.starts_with(b"\\"), "only a torn line keeps its TAG block")
                }
                Arrival::Link { link: Link::Ended, .. } => return (stamps, links),
                Arrival::Link { link, .. } => links.push(link),
                Arrival::Dropped { .. } => panic!("a file waits for room"),
            }
        }
    }

    #[tokio::test]
    async fn a_packed_night_plays_as_fast_as_it_can_be_read_without_losing_a_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = write(folder.path(), &packed(&log(36_000, 1_000)));
        let mut rig = Rig::with(&format!("file:{path}@max"));
        let (stamps, links) = play(&mut rig).await;
        assert_eq!(stamps.len(), 36_000);
        assert_eq!(stamps[35_999].since(stamps[0]), Span::from_secs(35_999), "ten hours for the watch");
        assert_eq!(links, [Link::Opening, Link::Open]);
        assert_eq!(rig.tasks[0].dropped_lines(), 0);
    }

    #[tokio::test(start_paused = true)]
    async fn a_recording_keeps_its_pace_or_a_multiple_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = write(folder.path(), &log(7, 10_000));
        for (pace, takes_s) in [("", 60), ("@10x", 6)] {
            let mut rig = Rig::with(&format!("file:{path}{pace}"));
            let mut heard = Vec::new();
            // Without a time limit of its own: paused time would leap to it while the file is being opened.
            while let Some(arrival) = rig.intake.recv().await {
                match arrival {
                    Arrival::Line { .. } => heard.push(Instant::now()),
                    Arrival::Link { link: Link::Ended, .. } => break,
                    Arrival::Link { .. } | Arrival::Dropped { .. } => {}
                }
            }
            assert_eq!(heard.len(), 7);
            assert_eq!((heard[6] - heard[0]).as_secs(), takes_s, "pace {pace}");
        }
    }

    #[tokio::test]
    async fn a_torn_recording_plays_to_the_tear_and_is_not_begun_again() {
        let folder = tempfile::tempdir().unwrap();
        let mut bytes = packed(&log(20_000, 1_000));
        bytes.truncate(bytes.len() * 3 / 4);
        let path = write(folder.path(), &bytes);
        let mut rig = Rig::with(&format!("file:{path}@max"));
        let (stamps, links) = play(&mut rig).await;
        assert!((10_000..20_000).contains(&stamps.len()), "{}", stamps.len());
        assert!(matches!(&links[..], [.., Link::Lost { why }] if why.contains("breaks off")), "{links:?}");
    }

    #[tokio::test]
    async fn a_file_that_is_not_there_is_said_so_and_read_when_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("night.nmea");
        let mut rig = Rig::with(&format!("file:{}@max", path.display()));
        let why = rig.lost().await;
        assert!(why.contains("night.nmea cannot be read"), "{why}");
        write(folder.path(), &log(1, 0));
        assert_eq!(rig.line().await, HDT);
    }
}

mod command {
    use std::process::{Command, Output, Stdio};

    use super::*;

    fn feeds(args: &[&str], input: &[u8]) -> Output {
        let folder = tempfile::tempdir().unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_nightrode"))
            .arg("feeds")
            .args(args)
            .env("NIGHTRODE_CONFIG", folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(input).unwrap();
        child.wait_with_output().unwrap()
    }

    #[test]
    fn a_log_from_a_pipe_is_summed_up_with_a_verdict() {
        let log = [with_line_end(RMC), with_line_end(HDT), b"$GPHDT,236.7,T*00\r\n".to_vec()].concat();
        let output = feeds(&["--seconds", "60", "-"], &log);
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(output.status.success(), "{text}");
        assert!(text.contains("2 good, 1 rejected"), "{text}");
        assert!(text.contains("1 wrong checksum"), "{text}");
        assert!(text.contains("Verdict: position yes once, heading yes once, wind no, depth no."), "{text}");
    }

    #[test]
    fn several_feeds_are_listened_to_at_once_and_told_as_json() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("compass.nmea");
        std::fs::write(&path, with_line_end(HDT)).unwrap();
        let file = format!("file:{}", path.display());
        let output = feeds(&["--json", &file, "-"], &with_line_end(RMC));
        let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(json["feeds"][0]["sentences"]["GPHDT"]["count"], 1);
        assert_eq!(json["feeds"][1]["sentences"]["GPRMC"]["count"], 1);
        assert_eq!(json["verdict"]["position"]["feed"], "-");
        assert_eq!(json["verdict"]["depth"]["status"], "no");
    }

    #[test]
    fn the_exit_code_says_whether_a_watch_can_be_kept() {
        assert_eq!(feeds(&["-"], &with_line_end(RMC)).status.code(), Some(0));
        assert_eq!(feeds(&["-"], &with_line_end(HDT)).status.code(), Some(3));
        assert_eq!(feeds(&["-"], b"").status.code(), Some(3));
    }

    #[test]
    fn a_wrong_source_is_refused_with_an_example() {
        let output = feeds(&["serial:/dev/ttyUSB0@fast"], b"");
        assert_eq!(output.status.code(), Some(2));
        let entered = String::from_utf8(output.stderr).unwrap();
        assert!(
            entered.contains("`fast` is not a baud rate. Write for example serial:/dev/ttyUSB0@4800"),
            "{entered}"
        );
    }
}

mod signalk {
    use futures_util::{SinkExt as _, StreamExt as _};
    use tokio_tungstenite::accept_async;
    use tokio_tungstenite::tungstenite::Message;

    use super::*;

    async fn peer(listener: &TcpListener) -> TcpStream {
        timeout(GENEROUS, listener.accept()).await.expect("the feed connects").unwrap().0
    }

    #[tokio::test]
    async fn deltas_of_a_server_are_lines_after_the_greeting_and_the_subscription() {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
        let mut rig = Rig::with(&format!("signalk:{}", listener.local_addr().unwrap()));
        let mut server = accept_async(peer(&listener).await).await.unwrap();
        let greeting = r#"{"version":"1.5.1","self":"vessels.urn:x"}"#;
        server.send(Message::text(greeting)).await.unwrap();
        let asked = timeout(GENEROUS, server.next()).await.unwrap().unwrap().unwrap().into_text().unwrap();
        let asked: serde_json::Value = serde_json::from_str(&asked).unwrap();
        assert_eq!(asked["subscribe"][0]["path"], "navigation.position");
        rig.open().await;
        assert_eq!(rig.line().await, greeting.as_bytes());
        let delta = r#"{"context":"vessels.urn:x","updates":[]}"#;
        server.send(Message::text(delta)).await.unwrap();
        assert_eq!(rig.line().await, delta.as_bytes());
        drop(server);
        let why = rig.lost().await;
        assert!(why.contains("broke") || why.contains("closed"), "{why}");
    }

    #[tokio::test]
    async fn what_is_no_such_server_is_told_so() {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.unwrap();
        let mut rig = Rig::with(&format!("signalk:{}", listener.local_addr().unwrap()));
        let mut other = peer(&listener).await;
        other.write_all(b"$GPHDT,236.7,T*35\r\n\r\n").await.unwrap();
        drop(other);
        let why = rig.lost().await;
        assert!(why.contains("does not answer as a Signal K server"), "{why}");
    }
}
