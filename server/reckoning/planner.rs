//! Which duties are due on a day, and why.
//!
//! A pure function of the facts: a due day follows from the last event, so planning again gives the same days, and
//! what is overdue carries over and never doubles. At most one duty comes out for one subject and kind.

mod facts;

pub use facts::{
    AnimalFacts, Care, CohortFacts, HoldFacts, LastMeal, PlannedDuty, RehouseNeed, SacFacts,
    SiteRules, Subject, SubjectKey, SubjectKind,
};
