//! The species room.

pub mod book;
mod pages;
mod starter;
mod starter_texts;
pub mod text;
mod text_review;
mod upgrade;
