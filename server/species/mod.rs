//! The species room: what each kind of tarantula is called, how it lives, what it can do to a person, and its care.

pub mod names;
pub mod starter;
