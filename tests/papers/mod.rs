//! Issued papers.

mod buyer;
mod content;
mod frozen;
