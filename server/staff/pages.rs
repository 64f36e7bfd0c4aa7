//! Pages of signing in, of a member's own account, and of the owners.

pub(super) mod absences;
pub(super) mod account;
pub(super) mod fields;
pub(super) mod hours;
pub(super) mod invite;
pub(super) mod members;
pub(super) mod renew;
pub(super) mod rota;
pub(super) mod settings;
pub(super) mod setup;
pub(super) mod sign_in;
pub(super) mod welcome;
