//! Pages in headless Chromium, against the real program on a real file.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

#[path = "browser/chain.rs"]
mod chain;
#[path = "browser/demo.rs"]
mod demo;
#[path = "browser/driver.rs"]
mod driver;
#[path = "browser/offline.rs"]
mod offline;
#[path = "browser/papers.rs"]
mod papers;
#[path = "browser/served.rs"]
mod served;
#[path = "browser/walks.rs"]
mod walks;
