//! Tests of the records room.

mod import;
mod search;
mod trail;
mod verify;
