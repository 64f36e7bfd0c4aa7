//! The command line of Silkward.

fn main() {}
