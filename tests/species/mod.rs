//! The species room.

pub mod book;
mod pages;
mod starter;
mod upgrade;
