//! Issued papers.

mod buyer;
mod content;
mod frozen;
mod issued;
mod provenance;
mod verify;
