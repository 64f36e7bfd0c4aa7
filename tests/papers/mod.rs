//! Issued papers.

mod buyer;
mod content;
mod frozen;
mod issued;
mod language;
mod provenance;
mod verify;
