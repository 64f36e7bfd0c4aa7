//! Tests of the staff room.

mod passphrase;
