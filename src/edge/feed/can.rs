//! Frames from a CAN interface of this computer, by SocketCAN: a thread for as long as it is open. Each frame becomes a line as
//! `candump -L` writes it, so that a ride holds it as any other and replays it.

use super::Patience;
#[cfg(not(target_os = "linux"))]
use super::{Came, Ended, Outlet};

pub(super) struct Can {
    interface: String,
    patience: Patience,
}

impl Can {
    pub(super) fn new(interface: String, patience: Patience) -> Self {
        Self { interface, patience }
    }
}

#[cfg(not(target_os = "linux"))]
impl Can {
    pub(super) async fn run(&mut self, _: Came, _: &mut Outlet) -> Ended {
        let Self { interface, patience } = self;
        tokio::time::sleep(patience.retry_longest).await;
        Ended::Lost(format!("{interface}: only Linux has CAN interfaces; use a gateway that writes text"))
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use std::io;
    use std::time::{Duration, Instant};

    use socketcan::{CanFrame, CanSocket, EmbeddedFrame as _, Frame as _, Socket as _};
    use tokio::sync::mpsc;

    use super::super::{Came, Ended, Outlet};
    use super::Can;
    use crate::edge::clock::Clock;
    use crate::watch::units::WatchTime;

    /// How long a read waits: a feed that is stopped frees its socket so soon.
    const READ_WAIT: Duration = Duration::from_secs(1);

    /// What the thread reports.
    enum Report {
        Open,
        Frame(WatchTime, CanFrame),
        Ended(Ended),
    }

    impl Can {
        pub(in crate::edge::feed) async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
            let (sender, mut reports) = mpsc::channel(256);
            let reader = Reader {
                interface: self.interface.clone(),
                silence: self.patience.silence,
                clock: outlet.clock.clone(),
                sender,
            };
            let thread = std::thread::Builder::new().name("can feed".to_owned()).spawn(move || reader.run());
            if let Err(error) = thread {
                return Ended::Lost(format!("no thread to read {}: {error}", self.interface));
            }
            loop {
                match reports.recv().await {
                    Some(Report::Open) => outlet.connected(came).await,
                    Some(Report::Frame(at, frame)) => {
                        if let Some(line) = line_of(&self.interface, at, &frame) {
                            outlet.line_or_drop(at, line).await;
                        }
                    }
                    Some(Report::Ended(ended)) => return ended,
                    None => return Ended::Lost(format!("the reader of {} failed", self.interface)),
                }
            }
        }
    }

    /// The thread's half. It ends with the interface, or soon after nobody listens any more.
    struct Reader {
        interface: String,
        silence: Duration,
        clock: Clock,
        sender: mpsc::Sender<Report>,
    }

    impl Reader {
        fn run(self) {
            let ended = self.read().unwrap_or_else(|error| Ended::Lost(why_not(&self.interface, &error)));
            let _ = self.sender.blocking_send(Report::Ended(ended));
        }

        fn read(&self) -> io::Result<Ended> {
            let socket = CanSocket::open(&self.interface)?;
            socket.set_read_timeout(READ_WAIT.min(self.silence))?;
            if self.sender.blocking_send(Report::Open).is_err() {
                return Ok(Ended::Done);
            }
            let mut heard = Instant::now();
            while !self.sender.is_closed() {
                match socket.read_frame() {
                    Ok(frame) => {
                        heard = Instant::now();
                        if self.sender.blocking_send(Report::Frame(self.clock.now(), frame)).is_err() {
                            break;
                        }
                    }
                    Err(error) if is_nothing_yet(&error) => {
                        if heard.elapsed() >= self.silence {
                            let secs = self.silence.as_secs();
                            return Ok(Ended::Silent(format!(
                                "{} is up and has brought nothing for {secs} s: is the network powered?",
                                self.interface
                            )));
                        }
                    }
                    Err(error) => return Err(error),
                }
            }
            Ok(Ended::Done)
        }
    }

    fn is_nothing_yet(error: &io::Error) -> bool {
        matches!(
            error.kind(),
            io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
        )
    }

    /// What the system says, and what to do about it.
    pub(super) fn why_not(interface: &str, error: &io::Error) -> String {
        match error.raw_os_error() {
            // ENODEV, and ENXIO where the name is looked up.
            Some(19 | 6) => {
                format!("{interface} is not there: is the adapter plugged in? `ip link` lists the interfaces")
            }
            // ENETDOWN
            Some(100) => {
                format!(
                    "{interface} is down: `sudo ip link set {interface} up type can bitrate 250000` starts it"
                )
            }
            // EAFNOSUPPORT
            Some(97) => format!("{interface}: this system's kernel knows no CAN"),
            _ => format!("{interface} failed: {error}"),
        }
    }

    /// The line of a frame; `None` for what NMEA 2000 never uses: standard identifiers, requests, errors.
    pub(super) fn line_of(interface: &str, at: WatchTime, frame: &CanFrame) -> Option<Vec<u8>> {
        let CanFrame::Data(data) = frame else { return None };
        if !data.is_extended() {
            return None;
        }
        let hexed: String = data.data().iter().map(|byte| format!("{byte:02X}")).collect();
        // Interfaces of any name are written so that the line is known for a frame.
        let name = if interface.contains("can") { interface } else { "can" };
        let (secs, millis) = (at.0.div_euclid(1000), at.0.rem_euclid(1000));
        Some(format!("({secs}.{millis:03}000) {name} {:08X}#{hexed}", data.raw_id()).into_bytes())
    }

    #[cfg(test)]
    mod tests {
        use socketcan::{CanDataFrame, CanRemoteFrame, ExtendedId, StandardId};

        use super::*;
        use crate::watch::n2k;

        fn extended(id: u32, data: &[u8]) -> CanFrame {
            CanFrame::Data(CanDataFrame::new(ExtendedId::new(id).unwrap(), data).unwrap())
        }

        #[test]
        fn a_frame_becomes_the_line_that_candump_writes_and_is_read_as_it_came() {
            let frame = extended(0x09F8_027F, &[0, 0xFC, 0xFF, 0xFF, 0, 0, 0xFF, 0xFF]);
            let line = line_of("can0", WatchTime(1_436_509_052_249), &frame).unwrap();
            assert_eq!(line, b"(1436509052.249000) can0 09F8027F#00FCFFFF0000FFFF");
            let read = n2k::Frame::read(&line).unwrap().unwrap();
            assert_eq!(
                (read.pgn, read.source, read.data()),
                (129_026, 0x7F, &[0, 0xFC, 0xFF, 0xFF, 0, 0, 0xFF, 0xFF][..])
            );
            assert_eq!(read.unix_ms, Some(1_436_509_052_249));
            for interface in ["vcan0", "slcan1", "bus.n2k", "x"] {
                let line =
                    line_of(interface, WatchTime(1_436_509_052_249), &extended(0x09F8_0201, &[])).unwrap();
                assert!(n2k::Frame::read(&line).is_some_and(|read| read.is_ok()), "{interface}");
            }
        }

        #[test]
        fn what_is_no_frame_of_nmea_2000_is_left_out() {
            let standard = CanFrame::Data(CanDataFrame::new(StandardId::new(0x123).unwrap(), &[1]).unwrap());
            let request = CanFrame::Remote(
                CanRemoteFrame::new_remote(ExtendedId::new(0x09F8_0201).unwrap(), 8).unwrap(),
            );
            for frame in [standard, request] {
                assert_eq!(line_of("can0", WatchTime(0), &frame), None);
            }
        }

        #[test]
        fn what_keeps_an_interface_from_being_read_is_said_with_what_to_do() {
            let said = |code| why_not("can0", &io::Error::from_raw_os_error(code));
            assert!(
                said(19).contains("plugged in")
                    && said(100).contains("bitrate 250000")
                    && said(97).contains("kernel")
            );
        }
    }
}
