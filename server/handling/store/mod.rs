//! All SQL of the handling room, split by subject.

mod board;
mod cautions;
mod clearances;
mod holds;
mod incidents;
mod table;

pub use board::{rehouse_board, require_subject, subject_of_duty};
pub use cautions::{add_caution, all_cautions, cautions_of, end_caution, require_caution};
pub use clearances::{clearances_of, grant, highest_standing, keepers, level_on, people, person, require_clearance, withdraw};
pub use holds::{
    add_hold, agitate, copy_holds, hold_agitated, holds_of_animal, holds_of_cohort, lift, lift_holds, lift_holds_of_signoff, require_hold,
    standing_holds,
};
pub use incidents::{add_note, incidents, notes_of, record_incident, require_incident, review, waiting_incidents};
pub use table::{exposure_table, table_rows, tighten};
