//! Rules and rooms: real database files, the real router.

mod reckoning;
