//! nightrode: keeps the anchor watch on a small yacht.

use std::process::ExitCode;

fn main() -> ExitCode {
    nightrode::cli::run().into()
}
