//! What somebody comes across at a stop, besides the duty.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, CohortId, DutyId, FindingId, MemberId, SacId};
use crate::house::paths;

coded_enum! {
    /// What was found.
    FindingKind, "finding" {
        Mould = "mould", "mould";
        Mites = "mites", "mites";
        NeedsRehouse = "needs-rehouse", "needs another box";
        Note = "note", "note";
        Photo = "photo", "photo to be taken";
    }
}

coded_enum! {
    /// What became of a finding.
    FindingEnd, "end of a finding" {
        TakenBack = "taken-back", "taken back";
        DealtWith = "dealt-with", "dealt with";
    }
}

crate::text_columns! { FindingKind, FindingEnd }

impl FindingKind {
    /// Whether somebody has to do something about it.
    #[must_use]
    pub fn wants_doing(self) -> bool {
        self != Self::Note
    }
}

/// A finding as lists show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Finding {
    /// Its id.
    pub id: FindingId,
    /// The animal, when it is about one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, when it is about one.
    pub cohort_id: Option<CohortId>,
    /// The sac, when it is about one.
    pub sac_id: Option<SacId>,
    /// The duty at which it was found.
    pub duty_id: Option<DutyId>,
    /// What was found.
    pub kind: FindingKind,
    /// More of it, in words.
    pub text: String,
    /// The local day.
    pub day: NaiveDate,
    /// Who found it.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// When.
    pub at: DateTime<Utc>,
    /// The tag, code or number of what it is about.
    pub label: String,
    /// Where that stands.
    pub place: Option<String>,
    /// What became of it.
    pub says: Option<FindingEnd>,
    /// Who said so.
    pub settled_by: Option<String>,
}

impl Finding {
    /// In words: `Mites at T-5: on the lid`.
    #[must_use]
    pub fn words(&self) -> String {
        let kind = crate::house::text::capitalised(self.kind.label());
        let more = if self.text.is_empty() { String::new() } else { format!(": {}", self.text) };
        format!("{kind} at {}{more}", self.label)
    }

    /// The page of what it is about.
    #[must_use]
    pub fn subject_path(&self) -> String {
        match (&self.animal_id, &self.cohort_id, &self.sac_id) {
            (Some(animal), _, _) => paths::animal(animal),
            (None, Some(cohort), _) => paths::cohort(cohort),
            (None, None, sac) => sac.as_ref().map_or_else(|| paths::BREEDING.to_owned(), paths::sac),
        }
    }
}
