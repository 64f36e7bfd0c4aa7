//! The species room.

mod book;
mod starter;
