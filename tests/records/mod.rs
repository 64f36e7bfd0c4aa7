//! Tests of the records room.

mod import;
