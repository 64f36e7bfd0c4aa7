//! Pages of animals.

mod add;
mod condition;
mod correct;
mod edit;
mod fed;
mod forecasts;
mod growth;
mod holdback;
mod left;
mod list;
mod measured;
mod moulted;
mod moults;
mod moved;
mod sexed;
mod show;
mod subject;
mod tag;

pub(super) use add::{add, save_added};
pub(super) use condition::{condition, save_condition};
pub(super) use correct::{correct, save_correction};
pub(super) use edit::{edit, needs_rehouse, save_edit, save_needs_rehouse};
pub(super) use fed::{cleared, fed, save_cleared, save_fed};
pub(super) use forecasts::{forecasts, forecasts_csv};
pub(super) use growth::{growth_csv, moults_csv};
pub(super) use holdback::{held_back, released, save_held_back, save_released};
pub(super) use left::{found, left, save_found, save_left};
pub(super) use list::list;
pub(super) use measured::{measured, save_measured};
pub(super) use moulted::{moulted, save_moulted};
pub(super) use moved::{moved, save_moved};
pub(super) use sexed::{save_sexed, sexed};
pub(super) use show::show;
pub(super) use tag::by_tag;
