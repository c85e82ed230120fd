//! Lines from a serial port: one reader thread for as long as the port is open.

use std::fs;
use std::io::{self, Read};
use std::time::{Duration, Instant};

use serialport::{ClearBuffer, ErrorKind, SerialPort};
use tokio::sync::mpsc;

use super::baud::{self, DWELL, Found, Tunable, USUAL_RATES, is_nothing_yet};
use super::broken::PortError;
use super::usb::{self, UsbIdentity};
use super::{Came, Ended, Outlet, Patience};
use crate::edge::clock::Clock;
use crate::watch::nmea::LineSplitter;
use crate::watch::units::WatchTime;

/// How long a read waits: an idle port costs one wake-up in that time, and a feed that is stopped frees its port.
const READ_WAIT: Duration = Duration::from_secs(1);

/// How long a read waits while the rate is sought.
const TUNING_WAIT: Duration = Duration::from_millis(250);

pub(super) struct Serial {
    path: String,
    baud: Option<u32>,
    patience: Patience,
    /// What was plugged in when it was last open.
    known: Option<UsbIdentity>,
    /// The rate that was found then.
    found: Option<u32>,
}

/// What the reader thread reports.
enum Report {
    Open { known: Option<UsbIdentity>, baud: u32 },
    Bytes(WatchTime, Vec<u8>),
    Ended(Ended),
}

impl Serial {
    pub(super) fn new(path: String, baud: Option<u32>, patience: Patience) -> Self {
        Self { path, baud, patience, known: None, found: None }
    }

    pub(super) async fn run(&mut self, came: Came, outlet: &mut Outlet) -> Ended {
        let mut reports = match self.start_reader(outlet.clock.clone()) {
            Ok(reports) => reports,
            Err(error) => return Ended::Lost(format!("no thread to read {}: {error}", self.path)),
        };
        let mut splitter = LineSplitter::new();
        loop {
            match reports.recv().await {
                Some(Report::Open { known, baud }) => {
                    self.known = known;
                    self.found = Some(baud);
                    outlet.connected(came).await;
                }
                Some(Report::Bytes(at, bytes)) => outlet.take(at, &bytes, &mut splitter).await,
                Some(Report::Ended(ended)) => return ended,
                None => return Ended::Lost(format!("the reader of {} failed", self.path)),
            }
        }
    }

    fn start_reader(&self, clock: Clock) -> io::Result<mpsc::Receiver<Report>> {
        let (sender, reports) = mpsc::channel(16);
        let reader = Reader {
            path: self.path.clone(),
            rates: self.rates(),
            known: self.known.clone(),
            silence: self.patience.silence,
            clock,
            sender,
        };
        std::thread::Builder::new().name("serial feed".to_owned()).spawn(move || reader.run())?;
        Ok(reports)
    }

    /// The one rate that is configured, else all usual ones, that of last time first.
    fn rates(&self) -> Vec<u32> {
        match self.baud {
            Some(baud) => vec![baud],
            None => {
                let found = self.found.into_iter();
                found.chain(USUAL_RATES.into_iter().filter(|&rate| Some(rate) != self.found)).collect()
            }
        }
    }
}

/// The thread's half. It ends with the port, or soon after nobody listens any more.
struct Reader {
    path: String,
    rates: Vec<u32>,
    known: Option<UsbIdentity>,
    silence: Duration,
    clock: Clock,
    sender: mpsc::Sender<Report>,
}

impl Reader {
    fn run(self) {
        let ended = self.read().unwrap_or_else(|why| Ended::Lost(why.to_string()));
        // The port is closed by now: whoever hears this may open it again.
        let _ = self.sender.blocking_send(Report::Ended(ended));
    }

    fn read(&self) -> Result<Ended, PortError> {
        let ports = usb::ports();
        let path = usb::choose(&self.path, &usb::device_of(&self.path), self.known.as_ref(), &ports);
        let mut port = open(&path, self.rates[0], READ_WAIT.min(self.silence))?;
        let baud = self.agree_on_rate(&path, &mut port)?;
        let device = usb::device_of(&path);
        let known = usb::unmistakable(&device, &ports);
        tracing::info!(path, device, baud, "serial port open");
        if self.sender.blocking_send(Report::Open { known, baud }).is_err() {
            return Ok(Ended::Done);
        }
        self.pump(&path, &device, &mut port)
    }

    fn agree_on_rate(&self, path: &str, port: &mut OpenPort) -> Result<u32, PortError> {
        if let [configured] = self.rates[..] {
            return Ok(configured);
        }
        let found = baud::find(port, &self.rates, DWELL, || !self.sender.is_closed())
            .map_err(|error| broke(path, error))?;
        port.wait(READ_WAIT.min(self.silence)).map_err(|error| broke(path, error))?;
        match found {
            Found::Rate(baud) => Ok(baud),
            Found::Silent => Err(PortError::Silent { path: path.to_owned() }),
            Found::Unreadable => Err(PortError::Unreadable { path: path.to_owned() }),
        }
    }

    fn pump(&self, path: &str, device: &str, port: &mut OpenPort) -> Result<Ended, PortError> {
        let mut buffer = [0; 4096];
        let mut last_byte = Instant::now();
        while !self.sender.is_closed() {
            match port.read(&mut buffer) {
                Ok(0) => return Err(PortError::HungUp { path: path.to_owned() }),
                Ok(count) => {
                    last_byte = Instant::now();
                    if self
                        .sender
                        .blocking_send(Report::Bytes(self.clock.now(), buffer[..count].to_vec()))
                        .is_err()
                    {
                        break;
                    }
                }
                Err(error) if is_nothing_yet(&error) => {
                    // Some drivers keep an unplugged port open and silent.
                    if fs::metadata(device).is_err() {
                        return Err(PortError::Gone { path: path.to_owned() });
                    }
                    if last_byte.elapsed() >= self.silence {
                        let seconds = self.silence.as_secs();
                        return Ok(Ended::Silent(format!(
                            "{path} is open and has sent nothing for {seconds} s"
                        )));
                    }
                }
                Err(error) => return Err(broke(path, error)),
            }
        }
        Ok(Ended::Done)
    }
}

/// An open port.
struct OpenPort(Box<dyn SerialPort>);

impl OpenPort {
    fn wait(&mut self, wait: Duration) -> io::Result<()> {
        Ok(self.0.set_timeout(wait)?)
    }
}

impl Tunable for OpenPort {
    fn tune(&mut self, baud: u32) -> io::Result<()> {
        self.wait(TUNING_WAIT)?;
        self.0.set_baud_rate(baud)?;
        Ok(self.0.clear(ClearBuffer::Input)?)
    }

    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        Read::read(&mut self.0, buffer)
    }
}

/// Listens for the rate at which whatever is plugged in at `path` talks: some seconds, blocking.
///
/// # Errors
/// If the port cannot be opened or breaks.
pub fn listen_for_rate(path: &str) -> Result<Found, PortError> {
    let mut port = open(path, USUAL_RATES[0], TUNING_WAIT)?;
    baud::find(&mut port, &USUAL_RATES, DWELL, || true).map_err(|error| broke(path, error))
}

fn open(path: &str, baud: u32, wait: Duration) -> Result<OpenPort, PortError> {
    let opened = serialport::new(path, baud).timeout(wait).open();
    opened.map(OpenPort).map_err(|error| cannot_open(path, error))
}

/// Why a port was not opened.
pub(in crate::edge) fn cannot_open(port: &str, error: serialport::Error) -> PortError {
    let path = port.to_owned();
    let there = fs::metadata(port).is_ok();
    match error.kind() {
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => {
            PortError::NotAllowed { path, group: owner_group(port) }
        }
        ErrorKind::Io(io::ErrorKind::NotFound) | ErrorKind::NoDevice if !there => {
            PortError::NotThere { path }
        }
        ErrorKind::NoDevice => PortError::InUse { path, error },
        _ => PortError::CannotOpen { path, error: error.into() },
    }
}

fn broke(path: &str, error: io::Error) -> PortError {
    PortError::Failed { path: path.to_owned(), error }
}

/// The usual group of serial ports, read from the port's own number where the system has one of the two common names.
fn owner_group(path: &str) -> String {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let gid = fs::metadata(path).map(|meta| meta.gid()).ok();
        let groups = fs::read_to_string("/etc/group").unwrap_or_default();
        let named = groups.lines().find_map(|line| {
            let mut fields = line.split(':');
            let name = fields.next()?;
            (fields.nth(1)?.parse().ok() == gid).then(|| name.to_owned())
        });
        if let Some(name) = named {
            return name;
        }
    }
    let _ = path;
    "dialout".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rate_found_last_time_is_tried_first() {
        let mut serial = Serial::new("/dev/ttyUSB0".to_owned(), None, Patience::default());
        assert_eq!(serial.rates(), USUAL_RATES);
        serial.found = Some(38_400);
        assert_eq!(serial.rates()[..3], [38_400, 4800, 9600]);
        assert_eq!(serial.rates().len(), USUAL_RATES.len());
    }

    #[test]
    fn a_port_that_is_not_there_is_said_so() {
        let Err(why) = open("/dev/no-such-port", 4800, READ_WAIT) else { panic!("opened") };
        assert!(matches!(why, PortError::NotThere { .. }), "{why}");
        assert_eq!(why.to_string(), "/dev/no-such-port is not there: is it plugged in?");
    }
}
