//! Any bytes on the way in that `NIGHTRODE_WAY` names, guided by what they reach: `tests/fuzz/guided` builds and runs it.
#![no_main]

mod ways;

use std::path::Path;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use ways::{WAYS, Way};

static CHOSEN: LazyLock<Option<Way>> = LazyLock::new(|| {
    let name = std::env::var("NIGHTRODE_WAY").ok()?;
    WAYS.into_iter().find(|way| way.name == name)
});

/// What the way is used to, as files in the folder that `NIGHTRODE_SEEDS` names: the fuzzer begins with files.
fn write_seeds() {
    let (Some(way), Some(folder)) = (*CHOSEN, std::env::var_os("NIGHTRODE_SEEDS")) else { return };
    for (number, seed) in way.seeds.iter().enumerate() {
        let file = Path::new(&folder).join(format!("seed-{number}"));
        std::fs::write(file, seed).expect("a folder that can be written");
    }
}

fuzz_target!(init: write_seeds(), |bytes: &[u8]| {
    match *CHOSEN {
        Some(way) => (way.try_on)(bytes),
        // Without a name the first byte chooses.
        None => {
            let Some((&first, rest)) = bytes.split_first() else { return };
            (WAYS[usize::from(first) % WAYS.len()].try_on)(rest);
        }
    }
});
