//! What a search finds.

use crate::house::ids::{AnimalId, BuyerId, CohortId, SpeciesId};

/// An animal whose tag holds the text.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct FoundAnimal {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species: String,
    /// Its status, by its code.
    pub status: String,
}

/// A cohort whose code holds the text.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct FoundCohort {
    /// Its id.
    pub id: CohortId,
    /// Its code.
    pub code: String,
    /// Its species.
    pub species: String,
}

/// A species one of whose names holds the text.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct FoundSpecies {
    /// Its id.
    pub id: SpeciesId,
    /// Its accepted name.
    pub accepted_name: String,
    /// The former, trade or common name that was met; empty when it was the accepted one.
    pub by_name: String,
    /// What kind of name that is; empty when it was the accepted one.
    pub kind: String,
}

/// A buyer whose name or contact holds the text.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct FoundBuyer {
    /// Their id.
    pub id: BuyerId,
    /// Their name.
    pub name: String,
    /// How many handovers they had.
    pub handovers: i64,
}

/// All that a search found.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Animals.
    pub animals: Vec<FoundAnimal>,
    /// Cohorts.
    pub cohorts: Vec<FoundCohort>,
    /// Species.
    pub species: Vec<FoundSpecies>,
    /// Buyers; only looked for when the searcher hands animals over.
    pub buyers: Vec<FoundBuyer>,
}

impl Found {
    /// Whether nothing was found.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.animals.is_empty() && self.cohorts.is_empty() && self.species.is_empty() && self.buyers.is_empty()
    }
}
