//! Any bytes on the way in that `NIGHTRODE_WAY` names, guided by what they reach:
//!   NIGHTRODE_WAY=journal cargo fuzz run --fuzz-dir tests/fuzz any
#![no_main]

mod ways;

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use ways::{WAYS, Way};

static CHOSEN: LazyLock<Option<Way>> = LazyLock::new(|| {
    let name = std::env::var("NIGHTRODE_WAY").ok()?;
    WAYS.into_iter().find(|(known, _)| *known == name)
});

fuzz_target!(|bytes: &[u8]| {
    match *CHOSEN {
        Some((_, try_on)) => try_on(bytes),
        // Without a name the first byte chooses.
        None => {
            let Some((&first, rest)) = bytes.split_first() else { return };
            let (_, try_on) = WAYS[usize::from(first) % WAYS.len()];
            try_on(rest);
        }
    }
});
