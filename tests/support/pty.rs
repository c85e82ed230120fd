//! A terminal for the program: a pseudo-terminal, and what it would show.
#![allow(dead_code, reason = "each test binary uses its part")]

use std::io::{Read as _, Write};
use std::num::NonZeroU16;
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex};
use std::time::Instant;

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

use super::support::program::PATIENCE;

/// `ECHO` among termios' local flags, the same number on Linux, macOS and the BSDs.
const ECHO: u64 = 0o10;

fn cells(count: u16) -> NonZeroU16 {
    NonZeroU16::new(count).expect("some")
}

struct Seen {
    parser: vt100::Parser,
    /// Nobody is to look at it any more.
    closing: bool,
    /// Nobody does.
    closed: bool,
    /// Nobody reads what the program writes.
    held: bool,
}

/// A terminal with a program in it.
pub struct Terminal {
    master: Option<Box<dyn MasterPty + Send>>,
    keys: Option<Box<dyn Write + Send>>,
    child: Box<dyn Child + Send + Sync>,
    seen: Arc<(Mutex<Seen>, Condvar)>,
}

impl Terminal {
    /// Starts a program in a terminal of so many columns and rows.
    pub fn start(program: &Path, args: &[&str], home: &Path, (cols, rows): (u16, u16)) -> Self {
        Self::start_with(program, args, home, (cols, rows), &[])
    }

    pub fn start_with(
        program: &Path,
        args: &[&str],
        home: &Path,
        (cols, rows): (u16, u16),
        environment: &[(&str, &str)],
    ) -> Self {
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a terminal");
        let mut command = CommandBuilder::new(program);
        command.args(args);
        // Its default is the home folder, which need not be there.
        command.cwd(env!("CARGO_MANIFEST_DIR"));
        command.env("HOME", home);
        command.env("TERM", "xterm-256color");
        command.env_remove("XDG_STATE_HOME");
        command.env("XDG_RUNTIME_DIR", home.join("run"));
        environment.iter().for_each(|(name, value)| command.env(name, value));
        let child = pair.slave.spawn_command(command).expect("the program starts");
        let mut out = pair.master.try_clone_reader().expect("readable");
        let parser = vt100::Parser::new(cells(rows), cells(cols), 0);
        let seen = Seen { parser, closing: false, closed: false, held: false };
        let seen = Arc::new((Mutex::new(seen), Condvar::new()));
        let shared = seen.clone();
        std::thread::spawn(move || {
            let mut buffer = [0; 8192];
            while let Ok(count @ 1..) = out.read(&mut buffer) {
                let mut seen = shared.0.lock().expect("whole");
                seen.parser.process(&buffer[..count]);
                shared.1.notify_all();
                // A terminal hangs up once nobody holds its other end.
                if seen.closing {
                    break;
                }
                drop(shared.1.wait_while(seen, |seen| seen.held));
            }
            drop(out);
            shared.0.lock().expect("whole").closed = true;
            shared.1.notify_all();
        });
        let keys = pair.master.take_writer().expect("writable");
        Self { master: Some(pair.master), keys: Some(keys), child, seen }
    }

    /// Waits until what is shown is as told; gives it. Fails as soon as the program has ended without.
    pub fn until(&self, what: &str, so: impl Fn(&vt100::Screen) -> bool) -> String {
        let deadline = Instant::now() + PATIENCE;
        let (seen, changed) = &*self.seen;
        let mut seen = seen.lock().expect("whole");
        loop {
            let screen = seen.parser.screen();
            if so(screen) {
                return screen.contents();
            }
            let left = deadline.saturating_duration_since(Instant::now());
            assert!(!left.is_zero() && !seen.closed, "never so: {what}\n{}", screen.contents());
            seen = changed.wait_timeout(seen, left).expect("whole").0;
        }
    }

    /// Waits for words on the screen.
    pub fn shows(&self, words: &str) -> String {
        self.until(words, |screen| screen.contents().contains(words))
    }

    /// Whether it shows these words now.
    pub fn is_showing(&self, words: &str) -> bool {
        self.seen.0.lock().expect("whole").parser.screen().contents().contains(words)
    }

    /// Waits until words have gone from the screen.
    pub fn no_longer_shows(&self, words: &str) -> String {
        self.until(&format!("no {words}"), |screen| !screen.contents().contains(words))
    }

    /// Types.
    pub fn keys(&mut self, keys: &str) {
        let to = self.keys.as_mut().expect("open");
        to.write_all(keys.as_bytes()).and_then(|()| to.flush()).expect("typed");
    }

    /// Makes it larger or smaller.
    pub fn resize(&self, cols: u16, rows: u16) {
        self.seen.0.lock().expect("whole").parser.screen_mut().set_size(cells(rows), cells(cols));
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        self.master.as_ref().expect("open").resize(size).expect("resized");
    }

    /// Process number of the program.
    pub fn id(&self) -> u32 {
        self.child.process_id().expect("running")
    }

    /// Whether typed characters are shown by the terminal itself, as a shell wants it.
    pub fn echoes(&self) -> bool {
        let modes = self.master.as_ref().and_then(|master| master.get_termios()).expect("a terminal");
        u64::from(modes.local_flags.bits()) & ECHO != 0
    }

    /// Waits until the screen is the shell's again: its own screen left, cursor shown, mouse let go, echo on.
    pub fn is_given_back(&self) {
        self.until("the terminal is given back", |screen| {
            !screen.alternate_screen()
                && !screen.hide_cursor()
                && screen.mouse_protocol_mode() == vt100::MouseProtocolMode::None
                && self.echoes()
        });
    }

    /// Waits for the program's end; gives its exit code.
    pub fn ends(&mut self) -> u32 {
        self.child.wait().expect("ended").exit_code()
    }

    /// From now on nobody reads what the program writes, as when a terminal is stopped: soon it can write no more.
    pub fn hold(&mut self) {
        self.seen.0.lock().expect("whole").held = true;
    }

    /// Whether the program has ended; its exit code.
    pub fn has_ended(&mut self) -> Option<u32> {
        self.child.try_wait().expect("a child").map(|status| status.exit_code())
    }

    /// Closes the terminal, as a window is closed or a connection breaks. It is closed when this returns: the program
    /// must draw meanwhile, for whoever looks at it goes with the next that is drawn.
    pub fn close(&mut self) {
        let (seen, changed) = &*self.seen;
        let mut seen = seen.lock().expect("whole");
        seen.closing = true;
        (self.keys, self.master) = (None, None);
        let seen = changed.wait_timeout_while(seen, PATIENCE, |seen| !seen.closed).expect("whole").0;
        assert!(seen.closed, "the terminal does not close");
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        if let Ok(mut seen) = self.seen.0.lock() {
            seen.held = false;
        }
        self.seen.1.notify_all();
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
