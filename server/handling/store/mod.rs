//! All SQL of the handling room, split by subject.

mod board;
mod cautions;
mod checklist;
mod clearances;
mod holds;
mod incidents;
mod plans;
mod practice;
mod safe_work;
mod table;
mod who_may;

pub use board::{broken_off, rehouse, rehouse_board, require_subject, subject_of_duty};
pub use cautions::{add_caution, all_cautions, cautions_of, end_caution, require_caution};
pub use checklist::{add_checklist_line, checklist_lines, house_lines, retire_checklist_line};
pub use clearances::{clearances_of, grant, highest_standing, keepers, level_on, people, person, require_clearance, withdraw};
pub use holds::{
    add_hold, agitate, copy_holds, hold_agitated, hold_rest, holds_of_animal, holds_of_cohort, lift, lift_holds, lift_holds_of_signoff,
    require_hold, standing_holds,
};
pub use incidents::{add_note, incidents, notes_of, record_incident, require_incident, review, waiting_incidents};
pub use plans::{
    cancel_plan, doubts, lapsed_plans, objections, plan_of, plan_rehouse, planned_for, planned_on, standing_plans, week_ahead,
};
pub use practice::{assessments_of, practice_rules, record_assessment, require_assessment, set_practice_rule, strike_assessment, towards};
pub use safe_work::{add_safe_work_text, confirm_read, has_read_current, readers, safe_work_text, safe_work_texts};
pub use table::{exposure_table, table_rows, tighten};
pub use who_may::{lacking, team};
