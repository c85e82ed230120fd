//! The program as a child process, with files of its own.

use std::cell::RefCell;
use std::ffi::OsStr;
use std::io::{BufRead as _, BufReader, Read as _};
use std::net::UdpSocket;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use nightrode::config::RideFile;
use nightrode::edge::folder::Recorder;
use nightrode::watch::input::{self, Event};
use nightrode::watch::nmea::checksum;
use nightrode::watch::units::{Metres, WatchTime};

/// Generous: a loaded machine must not fail a test.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// A boat's folders, gone with it.
pub struct Boat {
    folder: tempfile::TempDir,
}

impl Default for Boat {
    fn default() -> Self {
        Self::new()
    }
}

impl Boat {
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn rides(&self) -> PathBuf {
        self.path("rides")
    }

    /// Writes `boat.toml`: the boat, and what is told beside.
    pub fn configure(&self, more: &str) {
        let boat = "[boat]\nname = \"Marram\"\nloa_m = 10.4\ndraft_m = 1.75\nantenna_aft_of_bow_m = 9.2\n\
                    [rode]\nchain_mm = 8\nchain_m = 60\n";
        std::fs::write(self.path("boat.toml"), format!("{boat}{more}")).expect("written");
    }

    /// A ride whose anchor went down ten minutes ago, as a watch that was killed leaves it. Gives its folder.
    pub fn unfinished_ride(&self) -> PathBuf {
        let now = std::time::SystemTime::UNIX_EPOCH.elapsed().expect("after 1970").as_millis();
        let at = WatchTime(i64::try_from(now).expect("before the year 292 million") - 600_000);
        let ride = RideFile { place: "Hollow Ness".into(), began: Some(at), ..RideFile::default() };
        let recorder = Recorder::begin(&self.rides(), at, ride).expect("a writer");
        let veered = Some(Metres(30.0));
        let let_go = input::Command::LetGo { veered, depth: Some(Metres(5.0)), place: "Hollow Ness".into() };
        recorder.event(at, &Event::Crew(let_go));
        recorder.flush(PATIENCE).expect("written");
        recorder.folder().expect("made")
    }

    /// `nightrode watch` with these folders.
    pub fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
        command
            .arg("--config")
            .arg(self.folder.path())
            .arg("watch")
            .arg("--rides")
            .arg(self.rides())
            .env("HOME", self.folder.path())
            .env_remove("XDG_STATE_HOME")
            .env("XDG_RUNTIME_DIR", self.path("run"))
            .stdin(Stdio::null());
        command
    }

    /// A watch without a screen, whose lines are read.
    pub fn watch_headless(&self, args: &[&str]) -> Watch {
        self.watch_writing_to(Stdio::piped(), args).read()
    }

    /// The same with variables of its environment set.
    pub fn watch_headless_in(&self, environment: &[(&str, &OsStr)], args: &[&str]) -> Watch {
        self.watch(environment, Stdio::piped(), args).read()
    }

    /// A watch without a screen that writes its lines to `out`.
    pub fn watch_writing_to(&self, out: Stdio, args: &[&str]) -> Unread {
        self.watch(&[], out, args)
    }

    fn watch(&self, environment: &[(&str, &OsStr)], out: Stdio, args: &[&str]) -> Unread {
        let mut command = self.command();
        command.envs(environment.iter().copied());
        command.args(["--headless", "--silent"]).args(args).stdout(out);
        Unread { child: command.spawn().expect("the program starts") }
    }

    /// `nightrode join` without a screen, with these folders, whose lines are read.
    pub fn stands_by(&self, path: &str, args: &[&str]) -> Watch {
        let mut command = Command::new(env!("CARGO_BIN_EXE_nightrode"));
        command.arg("--config").arg(self.folder.path()).args(["join", "--headless", "--silent", "--rides"]);
        command.arg(self.rides()).args(args).stdin(Stdio::null()).stdout(Stdio::piped());
        command.env("HOME", self.folder.path()).env_remove("XDG_STATE_HOME").env("PATH", path);
        command.env("XDG_RUNTIME_DIR", self.path("run"));
        Unread { child: command.spawn().expect("the program starts") }.read()
    }

    /// What a watch says that does not start.
    pub fn watch_refuses(&self, args: &[&str]) -> String {
        let done = self.command().args(["--headless", "--silent"]).args(args).output().expect("it runs");
        assert!(!done.status.success(), "it started");
        String::from_utf8(done.stderr).expect("UTF-8")
    }
}

/// A watch without a screen.
pub struct Unread {
    child: Child,
}

impl Unread {
    fn read(mut self) -> Watch {
        let out = BufReader::new(self.child.stdout.take().expect("piped"));
        let (tell, lines) = channel();
        std::thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|line| tell.send(line)));
        Watch { unread: self, lines, seen: RefCell::default() }
    }

    /// Asks it to end, and waits for that.
    pub fn terminate(&mut self) {
        signal(self.child.id(), "TERM");
        until("the watch ends", || self.child.try_wait().expect("a child").is_some());
    }
}

impl Drop for Unread {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A watch without a screen, whose lines are read.
pub struct Watch {
    unread: Unread,
    lines: Receiver<String>,
    seen: RefCell<Vec<String>>,
}

impl Watch {
    pub fn id(&self) -> u32 {
        self.unread.child.id()
    }

    /// Waits for a line with these words, or finds it among those that came while another was waited for.
    pub fn wait_for(&self, words: &str) -> String {
        let deadline = Instant::now() + PATIENCE;
        let mut seen = self.seen.borrow_mut();
        loop {
            if let Some(at) = seen.iter().position(|line| line.contains(words)) {
                return seen.remove(at);
            }
            match self.lines.recv_timeout(deadline.saturating_duration_since(Instant::now())) {
                Ok(line) => seen.push(line),
                Err(RecvTimeoutError::Timeout) => panic!("{words:?} never came, but {seen:#?}"),
                Err(RecvTimeoutError::Disconnected) => panic!("it ended without {words:?}, but {seen:#?}"),
            }
        }
    }

    /// As a power cut or a full memory ends it.
    pub fn kill(mut self) {
        self.unread.child.kill().expect("killed");
        self.unread.child.wait().expect("ended");
    }

    pub fn terminate(&mut self) {
        self.unread.terminate();
    }
}

/// Sends a signal by its name.
pub fn signal(process: u32, name: &str) {
    let sent = Command::new("kill").args([&format!("-{name}"), &process.to_string()]).status();
    assert!(sent.expect("kill runs").success());
}

/// Waits until something is so, looking again and again.
pub fn until(what: &str, mut so: impl FnMut() -> bool) {
    let deadline = Instant::now() + PATIENCE;
    while !so() {
        assert!(Instant::now() < deadline, "never came about: {what}");
        // A breath: whoever is waited for needs the processor too.
        std::thread::park_timeout(Duration::from_millis(10));
    }
}

/// A sentence with its checksum and line end.
pub fn sentence(body: &str) -> String {
    format!("${body}*{:02X}\r\n", checksum::xor(body.as_bytes()))
}

/// A port for datagrams that nobody uses.
pub fn free_udp_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").and_then(|socket| socket.local_addr()).expect("a port").port()
}

/// The whole text of a file, empty while it is not there.
pub fn text_of(path: &Path) -> String {
    let mut text = String::new();
    if let Ok(mut file) = std::fs::File::open(path) {
        let _ = file.read_to_string(&mut text);
    }
    text
}
