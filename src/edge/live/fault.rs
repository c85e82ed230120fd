//! What happens when the program itself breaks: the terminal comes back, words say so, the alarm sounds.

use std::io::Write as _;
use std::sync::Once;

use crate::edge::sound::start_failure;
use crate::edge::{stderr, terminal};

/// Exit code of a program that has broken: that of Rust's own panics.
const BROKEN: i32 = 101;

/// From now on a panic in any thread gives the terminal back, says so on it, sounds the failure alarm and ends the
/// program: a watch of which one part is dead must not look alive.
pub fn alarm_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let report = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            // The sound first: a terminal that is held could keep us from everything after it.
            let sounding = start_failure();
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
            std::process::exit(BROKEN);
        }));
    });
}
