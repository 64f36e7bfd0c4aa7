//! Rules and rooms: real database files, the real router.
// A test that cannot go on says so by stopping.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod species;
