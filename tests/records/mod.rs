//! Tests of the records room.

mod export;
mod import;
mod search;
mod trail;
mod verify;
