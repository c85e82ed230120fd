//! nightrode
fn main() {}
