//! Everybody of a species as kin: who came out of what, and who may be whose parent.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::SacState;
use crate::animals::model::AnimalStatus;
use crate::house::ids::{AnimalId, CohortId, SacId, StrainId};
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::strain::{Came, Member, Strains, strains};
use crate::reckoning::words::Sex;

/// A tagged animal.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct KinAnimal {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// What it is known to be.
    pub sex: Sex,
    /// Whether it is in the house.
    pub status: AnimalStatus,
    /// The day it left.
    pub status_on: Option<NaiveDate>,
    /// Its source code.
    pub source_code: SourceCode,
    /// The cohort that it was tagged out of.
    pub cohort_id: Option<CohortId>,
    /// Whether somebody said of which line it is.
    pub said: bool,
    /// Which that is; none: of no line.
    pub line_id: Option<StrainId>,
}

/// A cohort.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct KinCohort {
    /// Its id.
    pub id: CohortId,
    /// Its code.
    pub code: String,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// Its source code.
    pub source_code: SourceCode,
    /// The cohort that it was split from.
    pub parent_cohort_id: Option<CohortId>,
    /// The sac that it came from.
    pub sac_id: Option<SacId>,
    /// How many came in.
    pub came_in: i64,
    /// How many are alive in it.
    pub alive: i64,
    /// How many were tagged out of it.
    pub tagged: i64,
    /// Whether somebody said of which line it is.
    pub said: bool,
    /// Which that is; none: of no line.
    pub line_id: Option<StrainId>,
}

/// A sac.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct KinSac {
    /// Its id.
    pub id: SacId,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// What has become of it.
    pub state: SacState,
    /// The dam, if she is one of ours.
    pub dam_id: Option<AnimalId>,
    /// What is known of a dam that is not ours.
    pub dam_note: String,
    /// What else is known of the sire.
    pub sire_note: String,
    /// The cohort that came from it.
    pub cohort_id: Option<CohortId>,
}

/// Everybody of a species.
#[derive(Debug, Clone, Default)]
pub struct Kindred {
    /// The animals.
    pub animals: BTreeMap<AnimalId, KinAnimal>,
    /// The cohorts.
    pub cohorts: BTreeMap<CohortId, KinCohort>,
    /// The sacs.
    pub sacs: BTreeMap<SacId, KinSac>,
    /// The males that may have sired a sac.
    pub sires: BTreeMap<SacId, Vec<AnimalId>>,
}

impl Kindred {
    /// The sac that a cohort came from, through whatever it was split from; nothing for a bought one.
    #[must_use]
    pub fn sac_of(&self, cohort: CohortId) -> Option<&KinSac> {
        let mut seen = BTreeSet::new();
        let mut now = self.cohorts.get(&cohort)?;
        while seen.insert(now.id) {
            if let Some(sac) = now.sac_id {
                return self.sacs.get(&sac);
            }
            now = self.cohorts.get(&now.parent_cohort_id?)?;
        }
        None
    }

    /// The males that may have sired a sac; one: it was this one.
    #[must_use]
    pub fn sires_of(&self, sac: SacId) -> &[AnimalId] {
        self.sires.get(&sac).map_or(&[], Vec::as_slice)
    }

    /// The sacs that an animal laid or may have sired, in the order of laying.
    #[must_use]
    pub fn sacs_by(&self, animal: AnimalId) -> Vec<&KinSac> {
        let mut sacs: Vec<&KinSac> =
            self.sacs.values().filter(|sac| sac.dam_id == Some(animal) || self.sires_of(sac.id).contains(&animal)).collect();
        sacs.sort_by_key(|sac| (sac.laid_on, sac.id));
        sacs
    }

    /// The animals that laid a sac or may have sired one.
    #[must_use]
    pub fn breeders(&self) -> BTreeSet<AnimalId> {
        self.sacs.values().filter_map(|sac| sac.dam_id).chain(self.sires.values().flatten().copied()).collect()
    }

    /// The animals that were tagged out of a cohort, in the order of their ids.
    pub fn tagged_out_of(&self, cohort: CohortId) -> impl Iterator<Item = &KinAnimal> {
        self.animals.values().filter(move |animal| animal.cohort_id == Some(cohort))
    }

    /// The cohorts that were split off a cohort.
    pub fn split_off(&self, cohort: CohortId) -> impl Iterator<Item = &KinCohort> {
        self.cohorts.values().filter(move |part| part.parent_cohort_id == Some(cohort))
    }

    /// Of which lines each animal and each cohort is.
    #[must_use]
    pub fn strains(&self) -> (BTreeMap<AnimalId, Strains>, BTreeMap<CohortId, Strains>) {
        let animals: BTreeMap<AnimalId, usize> = self.animals.keys().copied().zip(0..).collect();
        let cohorts: BTreeMap<CohortId, usize> = self.cohorts.keys().copied().zip(animals.len()..).collect();
        let said = |said: bool, line: Option<StrainId>| said.then_some(line.map(|line| line.0));
        let of_cohort = |id: Option<CohortId>| id.and_then(|id| cohorts.get(&id)).map_or(Came::Outside, |place| Came::OutOf(*place));
        let mut members: Vec<Member> = Vec::with_capacity(animals.len() + cohorts.len());
        members.extend(
            self.animals.values().map(|animal| Member { said: said(animal.said, animal.line_id), came: of_cohort(animal.cohort_id) }),
        );
        members.extend(self.cohorts.values().map(|cohort| {
            let came = match cohort.sac_id.and_then(|sac| self.sacs.get(&sac)) {
                Some(sac) => Came::Sac {
                    dam: sac.dam_id.and_then(|dam| animals.get(&dam)).copied(),
                    sires: self.sires_of(sac.id).iter().filter_map(|sire| animals.get(sire)).copied().collect(),
                },
                None => of_cohort(cohort.parent_cohort_id),
            };
            Member { said: said(cohort.said, cohort.line_id), came }
        }));
        let mut all = strains(&members).into_iter();
        let of_animals = self.animals.keys().copied().zip(all.by_ref()).collect();
        let of_cohorts = self.cohorts.keys().copied().zip(all).collect();
        (of_animals, of_cohorts)
    }
}
