//! Issued papers.

mod buyer;
mod content;
mod frozen;
mod language;
