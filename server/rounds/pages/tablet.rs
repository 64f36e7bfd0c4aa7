//! A room's round on the room's tablet: whoever is there names themselves and gives their PIN with each sign-off.

mod duty;
mod room;
mod shelf;
mod signer;

pub(in crate::rounds) use duty::{show, sign_count, sign_figures, sign_hands_in, sign_moult, sign_quick, undo};
pub(in crate::rounds) use room::{room, theme};
pub(in crate::rounds) use shelf::{show_shelf, sign_shelf};
