//! The `hooptrace` program.

fn main() {}
