//! What happens when the program itself breaks: the terminal comes back, words say so, the alarm sounds.

use std::io::Write as _;
use std::sync::Once;
use std::thread;
use std::time::Duration;

use crate::edge::sound::start_failure;
use crate::edge::{stderr, terminal};

/// The program has ended by then, whatever holds its words up: a terminal that is held takes none. Longer than the failure
/// alarm lasts.
const END_WITHIN: Duration = Duration::from_secs(10);

/// From now on a panic in any thread gives the terminal back, says so on it, sounds the failure alarm and ends the
/// program by `end`: a watch of which one part is dead must not look alive.
pub fn alarm_on_panic(end: fn() -> !) {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let report = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            // The sound first: a terminal that is held could keep us from everything after it.
            let sounding = start_failure();
            end_within(END_WITHIN, end);
            terminal::give_back();
            stderr::give_back();
            report(panic);
            let _ = writeln!(
                std::io::stderr(),
                "THE WATCH HAS ENDED through a fault in the program. Keep watch by eye and start it again."
            );
            if !sounding.wait() {
                terminal::ring();
            }
            end();
        }));
    });
}

/// Ends the program so much later, if it is still there.
fn end_within(wait: Duration, end: fn() -> !) {
    let end = move || {
        thread::sleep(wait);
        end()
    };
    // Without a thread for it the words alone decide when the program ends.
    let _ = thread::Builder::new().name("last-resort".into()).spawn(end);
}

#[cfg(test)]
mod tests {
    use std::process::{Command, Stdio};

    use super::*;

    const BROKEN: i32 = 101;
    /// Set in the child alone.
    const HELD: &str = "NIGHTRODE_TEST_HELD";

    #[test]
    fn a_broken_program_ends_though_its_words_never_go_out() {
        if std::env::var_os(HELD).is_some() {
            end_within(Duration::from_millis(1), || std::process::exit(BROKEN));
            loop {
                // As a write to a terminal that takes nothing.
                thread::park();
            }
        }
        let program = std::env::current_exe().expect("this test's program");
        let name = "edge::live::fault::tests::a_broken_program_ends_though_its_words_never_go_out";
        let mut child = Command::new(program);
        child.args(["--exact", name]).env(HELD, "1").stdout(Stdio::null()).stderr(Stdio::null());
        assert_eq!(child.status().expect("it runs").code(), Some(BROKEN));
    }
}
