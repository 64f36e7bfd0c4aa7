//! Tests of the records room.

mod search;
mod trail;
mod verify;
