//! Expected results that are kept as files beside the tests.
//!
//! `NIGHTRODE_RENEW=1 cargo test` writes them anew instead of comparing. Then read the difference: every changed line
//! is a change of behaviour that the commit must account for.

use std::path::Path;

/// Compares with the file below `tests`, or writes it anew.
pub fn expect(file: &str, found: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(file);
    if std::env::var_os("NIGHTRODE_RENEW").is_some() {
        std::fs::write(&path, found).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        return;
    }
    let expected = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let first = expected.lines().zip(found.lines()).position(|(a, b)| a != b);
    let line = first.unwrap_or_else(|| expected.lines().count().min(found.lines().count())) + 1;
    assert!(
        expected == found,
        "{} differs from line {line} on. Found:\n{found}\nIf this is meant, renew it with NIGHTRODE_RENEW=1 and say \
         why in the commit.",
        path.display()
    );
}
