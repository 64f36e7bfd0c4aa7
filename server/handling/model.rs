//! What the handling room keeps: cautions, holds, clearances, incidents, and what a house asks of people.

pub mod practice;
pub mod rehouse;
pub mod week;
pub mod who_may;

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, CautionId, ClearanceId, CohortId, DutyId, HoldId, IncidentId, MemberId, SignoffId};
use crate::house::paths;
use crate::reckoning::hazard::{Band, IndividualCaution, Requirement};
use crate::reckoning::words::{Exposure, HoldKind, Venom, World};
pub use practice::{Assessment, AssessmentOutcome, NewAssessment, PracticeRule, Reader, SafeWorkText, Towards};
pub use rehouse::{BrokenOff, ChecklistLine, DayTimes, NewPlan, PlanEnd, PossibleTime, RehouseDuty, RehousePlan};
pub use who_may::{Column, Who};

coded_enum! {
    /// What happened to a person, or nearly did.
    IncidentKind, "kind of incident" {
        Escape = "escape", "escape";
        Bite = "bite", "bite";
        Setae = "setae", "setae in eye or skin";
        NearMiss = "near-miss", "near miss";
    }
}

coded_enum! {
    /// What a later note on an incident is about.
    NoteTopic, "topic" {
        Activity = "activity", "what was being done";
        Protection = "protection", "protective wear";
        Symptoms = "symptoms", "symptoms";
        Called = "called", "who was called";
        Outcome = "outcome", "outcome";
        FollowUp = "follow-up", "follow-up";
        Review = "review", "review";
    }
}

crate::text_columns! { IncidentKind, NoteTopic }

impl IncidentKind {
    /// As a button or a heading says it.
    #[must_use]
    pub fn button(&self) -> &'static str {
        match self {
            Self::Escape => "Escape",
            Self::Bite => "Bite",
            Self::Setae => "Setae in eye or skin",
            Self::NearMiss => "Near miss",
        }
    }
}

impl NoteTopic {
    /// The topics that anybody may add to; a review is the lead's.
    pub const OPEN: &'static [Self] = &[Self::Activity, Self::Protection, Self::Symptoms, Self::Called, Self::Outcome, Self::FollowUp];
}

/// A caution about one animal.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Caution {
    /// Its id.
    pub id: CautionId,
    /// The animal.
    pub animal_id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// The least band that it asks for, 0 to 3.
    pub level: i64,
    /// What to know before opening.
    pub text: String,
    /// Who entered it.
    pub member_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// When it ended; none while it stands.
    pub ended_at: Option<DateTime<Utc>>,
}

impl Caution {
    /// As the reckoning of hazard wants it.
    #[must_use]
    pub fn individual(&self) -> IndividualCaution {
        IndividualCaution { level: Band::at(self.level), text: self.text.clone() }
    }
}

/// What a hold is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoldSubject {
    /// One animal.
    Animal(AnimalId),
    /// A cohort.
    Cohort(CohortId),
}

impl HoldSubject {
    pub(super) fn animal(self) -> Option<AnimalId> {
        if let Self::Animal(id) = self { Some(id) } else { None }
    }

    pub(super) fn cohort(self) -> Option<CohortId> {
        if let Self::Cohort(id) = self { Some(id) } else { None }
    }

    /// As the audit trail names it: `animal 7`.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Animal(id) => format!("animal {id}"),
            Self::Cohort(id) => format!("cohort {id}"),
        }
    }
}

/// An animal or a cohort, as this room's pages call it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Subject {
    /// Its tag or code.
    pub label: String,
    /// Its species' accepted name.
    pub species: String,
    /// Whether it is still in the house.
    pub here: bool,
    /// The animal, when it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, when it is one.
    pub cohort_id: Option<CohortId>,
}

impl Subject {
    /// Its page.
    #[must_use]
    pub fn page(&self) -> String {
        self.animal_id.map(|id| paths::animal(&id)).or(self.cohort_id.map(|id| paths::cohort(&id))).unwrap_or_default()
    }
}

/// A dated stop on opening an enclosure. It blocks its exposure and everything nearer.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Hold {
    /// Its id.
    pub id: HoldId,
    /// The animal, when it is on one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, when it is on one.
    pub cohort_id: Option<CohortId>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// What it is for.
    pub kind: HoldKind,
    /// The least exposure that it stops.
    pub blocks: Exposure,
    /// When it began.
    pub from_at: DateTime<Utc>,
    /// The instant from which opening is free again; none: until somebody lifts it.
    pub until_at: Option<DateTime<Utc>>,
    /// What happened, in the words of whoever set it.
    pub reason: String,
    /// Who set it.
    pub member_name: Option<String>,
}

impl Hold {
    /// What it is on.
    #[must_use]
    pub fn subject(&self) -> Option<HoldSubject> {
        self.animal_id.map(HoldSubject::Animal).or(self.cohort_id.map(HoldSubject::Cohort))
    }
}

/// A checked hold.
#[derive(Debug, Clone)]
pub struct NewHold {
    /// What it is on.
    pub subject: HoldSubject,
    /// What it is for.
    pub kind: HoldKind,
    /// The least exposure that it stops.
    pub blocks: Exposure,
    /// The instant from which opening is free again; none: until somebody lifts it.
    pub until_at: Option<DateTime<Utc>>,
    /// What happened.
    pub reason: String,
    /// The sign-off that brought it, when one did.
    pub signoff: Option<SignoffId>,
}

/// A clearance as it was granted, with what became of it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Clearance {
    /// Its id.
    pub id: ClearanceId,
    /// Who holds it.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// 1 to 3.
    pub level: i64,
    /// Who granted it.
    pub granted_by_name: String,
    /// Somebody outside the house who assessed, or empty.
    pub outside_assessor: String,
    /// What was seen in the assessment.
    pub evidence: String,
    /// First day.
    pub valid_from: NaiveDate,
    /// Last day.
    pub valid_until: NaiveDate,
    /// When it was granted.
    pub granted_at: DateTime<Utc>,
    /// When it was withdrawn.
    pub withdrawn_at: Option<DateTime<Utc>>,
    /// By whom.
    pub withdrawn_by_name: Option<String>,
}

impl Clearance {
    /// How it stands on a day, in words: `stands`, `ran out`, `withdrawn`, `not begun`.
    #[must_use]
    pub fn standing(&self, today: &NaiveDate) -> &'static str {
        if self.withdrawn_at.is_some() {
            "withdrawn"
        } else if self.valid_until < *today {
            "ran out"
        } else if self.valid_from > *today {
            "not begun"
        } else {
            "stands"
        }
    }
}

/// A checked clearance.
#[derive(Debug, Clone)]
pub struct NewClearance {
    /// Who gets it.
    pub member: MemberId,
    /// 1 to 3.
    pub level: i64,
    /// What was seen in the assessment.
    pub evidence: String,
    /// First day.
    pub valid_from: NaiveDate,
    /// Last day.
    pub valid_until: NaiveDate,
    /// Somebody outside the house who assessed; empty when the granter did.
    pub outside_assessor: String,
}

/// A person with what they are cleared for on a day.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PersonCleared {
    /// Who.
    pub id: MemberId,
    /// Their name.
    pub name: String,
    /// The highest level that counts on the day; 0 when none does.
    pub level: i64,
    /// The last day of that level.
    pub until: Option<NaiveDate>,
    /// The incident for which their clearances rest.
    pub suspended_for: Option<IncidentId>,
}

/// One cell of the risk table: the default and what this house asks.
#[derive(Debug, Clone, Copy)]
pub struct TableRow {
    /// The band.
    pub band: Band,
    /// The exposure.
    pub exposure: Exposure,
    /// The default, which is the least.
    pub least: Requirement,
    /// What this house asks.
    pub asked: Requirement,
}

impl TableRow {
    /// Whether this house asks for more than the default.
    #[must_use]
    pub fn tightened(&self) -> bool {
        self.asked != self.least
    }
}

/// The risk table's rows, those of each band together, with the band's level.
#[must_use]
pub fn by_band(rows: &[TableRow]) -> Vec<(i64, Vec<TableRow>)> {
    let of = |band: Band| rows.iter().filter(|row| row.band == band).copied().collect();
    Band::ALL.into_iter().map(|band| (i64::from(band.level()), of(band))).collect()
}

/// A requirement in words: `clearance 2, 1 person`.
#[must_use]
pub fn requirement_words(requirement: &Requirement) -> String {
    let persons = if requirement.persons == 1 { "1 person".to_owned() } else { format!("{} people", requirement.persons) };
    format!("{}, {persons}", crate::house::text::clearance(&i64::from(requirement.clearance)))
}

/// A checked incident. Who it happened to is who records it.
#[derive(Debug, Clone)]
pub struct NewIncident {
    /// What happened.
    pub kind: IncidentKind,
    /// The animal, if one was part of it.
    pub animal: Option<AnimalId>,
    /// The cohort, if one was part of it.
    pub cohort: Option<CohortId>,
    /// The duty that was being done.
    pub duty: Option<DutyId>,
}

/// An incident.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Incident {
    /// Its id.
    pub id: IncidentId,
    /// What happened.
    pub kind: IncidentKind,
    /// Who it happened to.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// The animal.
    pub animal_id: Option<AnimalId>,
    /// The cohort.
    pub cohort_id: Option<CohortId>,
    /// The duty.
    pub duty_id: Option<DutyId>,
    /// The animal's tag or the cohort's code.
    pub label: Option<String>,
    /// The species' accepted name.
    pub species: Option<String>,
    /// The species' venom class.
    pub venom: Option<Venom>,
    /// Old World or New World.
    pub world: Option<World>,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// The local day.
    pub day: NaiveDate,
    /// When its review lifted the suspension; none while it waits.
    pub reviewed_at: Option<DateTime<Utc>>,
    /// Who reviewed it.
    pub reviewed_by_name: Option<String>,
}

/// A note on an incident.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct IncidentNote {
    /// What it is about.
    pub topic: NoteTopic,
    /// The note.
    pub text: String,
    /// Who wrote it.
    pub member_name: String,
    /// When.
    pub at: DateTime<Utc>,
}
