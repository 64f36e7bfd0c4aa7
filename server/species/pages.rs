//! Pages of species and their care profiles.

mod add;
mod care_table;
mod edit;
mod list;
mod profile;
mod rules;
mod species;
pub(super) mod text;

pub(super) use add::{add, create};
pub(super) use edit::{edit_care, save_care};
pub(super) use list::list;
pub(super) use profile::profile;
pub(super) use rules::{edit_rules, save_rules};
pub(super) use species::species;
