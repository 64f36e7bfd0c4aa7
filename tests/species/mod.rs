//! The species room.

mod book;
mod pages;
mod starter;
