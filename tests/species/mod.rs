//! The species room.

mod starter;
