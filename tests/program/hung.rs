//! The core hung inside the real program, as a deadlock or a driver that never returns would do it: its threads are
//! stopped one by one and only the watchdog's goes on.
#![cfg(target_os = "linux")]

use std::fs;
use std::os::unix::net::UnixDatagram;

use nix::sys::ptrace;
use nix::sys::wait::{WaitPidFlag, waitpid};
use nix::unistd::Pid;

use crate::support::program::{Boat, PATIENCE, free_udp_port, text_of, until};

/// The threads that judge, and all that their runtime could lend to them.
struct Held(Vec<Pid>);

impl Held {
    /// Stops every thread of a process but those whose names are given.
    fn all_but(process: u32, spared: &[&str]) -> Self {
        let threads = fs::read_dir(format!("/proc/{process}/task")).expect("threads");
        let held = threads.flatten().filter_map(|thread| {
            let name = text_of(&thread.path().join("comm"));
            let id = thread.file_name().to_string_lossy().parse().expect("a number");
            (!spared.contains(&name.trim())).then_some(Pid::from_raw(id))
        });
        let held: Vec<Pid> = held.collect();
        for thread in &held {
            ptrace::seize(*thread, ptrace::Options::empty()).expect("traced");
            ptrace::interrupt(*thread).expect("stopped");
            waitpid(*thread, Some(WaitPidFlag::__WALL)).expect("stopped");
        }
        Self(held)
    }

    fn let_go(self) {
        for thread in self.0 {
            ptrace::detach(thread, None).expect("goes on");
        }
    }
}

#[test]
fn a_core_that_hangs_is_reported_by_words_and_hook_and_no_longer_feeds_the_service_manager() {
    let boat = Boat::new();
    let (heard, supervised) = (boat.path("heard"), boat.path("notify"));
    boat.configure(&format!(
        "[alerts]\nhook = [\"/bin/sh\", \"-c\", \"cat >>$0\", \"{}\"]\n",
        heard.display()
    ));
    boat.unfinished_ride();
    let manager = UnixDatagram::bind(&supervised).expect("a socket");
    manager.set_read_timeout(Some(PATIENCE)).expect("set");
    let environment = [("NOTIFY_SOCKET", supervised.as_os_str())];
    let mut watch = boat.watch_headless_in(&environment, &[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("taken up again");
    let mut fed = [0; 64];
    let count = manager.recv(&mut fed).expect("fed");
    assert_eq!(&fed[..count], b"READY=1\nWATCHDOG=1");

    let held = Held::all_but(watch.id(), &["watchdog", "console", "alert-hook"]);
    assert!(held.0.len() > 2, "{:?}", held.0);
    watch.wait_for("NOBODY WATCHES");
    until("the hook has run", || text_of(&heard).contains("NOBODY WATCHES"));
    manager.set_nonblocking(true).expect("set");
    while manager.recv(&mut fed).is_ok() {}
    held.let_go();
    watch.wait_for("The watch judges again");
    until("it feeds again", || manager.recv(&mut fed).is_ok());
    watch.terminate();
}
