//! Gathers a chain of provenance: who descends from whom, and the papers on file of each.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use anyhow::Context as _;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::documents::{documents_of, grounds_for};
use crate::breeding;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SacId, SpeciesId};
use crate::papers::model::{Kin, KinFacts, Provenance, SacFacts};
use crate::reckoning::captive_code::Stated;
use crate::reckoning::provenance::{Source, SourceCode};
use crate::reckoning::provenance_chain::{Brood, Chain, Node, OnFile, follow, generations};

/// More ancestors than any book of this house holds in one line.
const MOST: usize = 5_000;

/// The provenance of an animal or a cohort through all generations.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal or cohort.
pub async fn provenance(db: &mut SqliteConnection, subject: Kin) -> Result<Provenance, AppError> {
    gather(db, subject, &mut Known::new()).await
}

/// What was read of an animal or cohort: its place in the chain, its facts, and where it comes from.
type Known = BTreeMap<Kin, (Node, KinFacts, Vec<Kin>)>;

/// The provenance of one of several that share ancestors, each of which is read once.
async fn gather(db: &mut SqliteConnection, subject: Kin, known: &mut Known) -> Result<Provenance, AppError> {
    let mut nodes = Vec::new();
    let mut facts = BTreeMap::new();
    let mut seen = BTreeSet::from([subject]);
    let mut queue = VecDeque::from([subject]);
    while let Some(kin) = queue.pop_front() {
        let (node, of, before) = match known.get(&kin) {
            Some(read) => read.clone(),
            None => {
                let read = one(&mut *db, kin).await?;
                known.insert(kin, read.clone());
                read
            }
        };
        nodes.push(node);
        facts.insert(kin.key(), of);
        queue.extend(before.into_iter().filter(|kin| seen.len() < MOST && seen.insert(*kin)));
    }
    let key = subject.key();
    // The database keeps animals from descending from themselves; a book that was changed from outside is shown as it is.
    let chain = match follow(&key, &nodes) {
        Ok(chain) => chain,
        Err(error) => {
            Chain { steps: Vec::new(), missing: vec![crate::reckoning::provenance_chain::Gap { about: key, text: error.to_string() }] }
        }
    };
    Ok(Provenance { subject, generations: generations(&nodes), nodes, chain, facts })
}

async fn one(db: &mut SqliteConnection, kin: Kin) -> Result<(Node, KinFacts, Vec<Kin>), AppError> {
    match kin {
        Kin::Animal(id) => animal(db, id).await,
        Kin::Cohort(id) => cohort(db, id).await,
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    label: String,
    species_id: SpeciesId,
    locality: String,
    source_code: SourceCode,
    pre_convention: bool,
    papers: String,
    started_on: NaiveDate,
    out_of: Option<CohortId>,
    sac_id: Option<SacId>,
}

impl Row {
    fn source(&self) -> Source {
        Source { code: self.source_code, pre_convention: self.pre_convention }
    }
}

async fn animal(db: &mut SqliteConnection, id: AnimalId) -> Result<(Node, KinFacts, Vec<Kin>), AppError> {
    let row: Row = sqlx::query_as(
        "SELECT animal.tag AS label, animal.species_id, animal.locality, animal.source_code, animal.pre_convention, animal.papers,
                animal.started_on, line.cohort_id AS out_of, NULL AS sac_id
         FROM animal LEFT JOIN ledger_line AS line ON line.id = animal.origin_line_id WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(&mut *db)
    .await?;
    let kin = Kin::Animal(id);
    let node = Node {
        id: kin.key(),
        name: format!("animal {}", row.label),
        source: row.source(),
        out_of: row.out_of.map(|cohort| Kin::Cohort(cohort).key()),
        brood: None,
        papers: papers(db, kin, &row.papers).await?,
    };
    let before = row.out_of.map(Kin::Cohort).into_iter().collect();
    Ok((node, facts(kin, row, None), before))
}

async fn cohort(db: &mut SqliteConnection, id: CohortId) -> Result<(Node, KinFacts, Vec<Kin>), AppError> {
    let row: Row = sqlx::query_as(
        "SELECT code AS label, species_id, locality, source_code, pre_convention, papers, started_on, parent_cohort_id AS out_of, sac_id
         FROM cohort WHERE id = ?",
    )
    .bind(id)
    .fetch_one(&mut *db)
    .await?;
    let kin = Kin::Cohort(id);
    let mut before: Vec<Kin> = row.out_of.map(Kin::Cohort).into_iter().collect();
    let (brood, sac) = match row.sac_id {
        Some(sac) => {
            let sac = sac_facts(&mut *db, sac).await?;
            let sires = sires(&mut *db, &sac).await?;
            before.extend(sac.dam_id.iter().chain(&sires).map(|parent| Kin::Animal(*parent)));
            (Some(as_brood(&sac, &sires)), Some(sac))
        }
        None => (None, None),
    };
    let node = Node {
        id: kin.key(),
        name: format!("cohort {}", row.label),
        source: row.source(),
        out_of: row.out_of.map(|parent| Kin::Cohort(parent).key()),
        brood,
        papers: papers(db, kin, &row.papers).await?,
    };
    Ok((node, facts(kin, row, sac), before))
}

fn facts(kin: Kin, row: Row, sac: Option<SacFacts>) -> KinFacts {
    KinFacts { kin, label: row.label, species_id: row.species_id, locality: row.locality, started_on: row.started_on, sac }
}

/// What is on file: the papers that were entered one by one, and what was noted as a text when it came.
async fn papers(db: &mut SqliteConnection, kin: Kin, noted: &str) -> Result<Vec<OnFile>, AppError> {
    let standing = documents_of(db, kin).await?.into_iter().filter(|document| document.struck.is_none());
    let mut papers: Vec<OnFile> = standing.map(|document| document.on_file()).collect();
    if !noted.trim().is_empty() {
        papers.push(OnFile { what: format!("as noted: {}", noted.trim().replace('\n', " / ")), official: false });
    }
    Ok(papers)
}

async fn sac_facts(db: &mut SqliteConnection, id: SacId) -> Result<SacFacts, AppError> {
    Ok(sqlx::query_as(
        "SELECT id, dam_id, dam_note, dam_wild_mated, sire_id, sire_note, laid_on, pulled_on, ended_on FROM sac WHERE id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The sire, or every male that may have sired the sac by the introductions on record.
async fn sires(db: &mut SqliteConnection, sac: &SacFacts) -> Result<Vec<AnimalId>, AppError> {
    if let Some(sire) = sac.sire_id {
        return Ok(vec![sire]);
    }
    Ok(breeding::store::sire_candidates(db, sac.id).await?.into_iter().map(|sire| sire.id).collect())
}

fn as_brood(sac: &SacFacts, sires: &[AnimalId]) -> Brood {
    Brood {
        sac: format!("sac {}", sac.id),
        dam: sac.dam_id.map(|id| Kin::Animal(id).key()),
        dam_stated: sac.dam_note.clone(),
        sires: sires.iter().map(|id| Kin::Animal(*id).key()).collect(),
        sire_stated: sac.sire_note.clone(),
        dam_mated_in_wild: sac.dam_wild_mated,
    }
}

/// What is missing of the provenance of each of several animals or cohorts, a line each.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal or cohort.
pub async fn missing_papers(db: &mut SqliteConnection, subjects: &[Kin]) -> Result<BTreeMap<Kin, Vec<String>>, AppError> {
    let mut known = Known::new();
    let mut missing = BTreeMap::new();
    for subject in subjects {
        let gaps = gather(&mut *db, *subject, &mut known).await?.chain.missing;
        missing.insert(*subject, gaps.into_iter().map(|gap| gap.text).collect());
    }
    Ok(missing)
}

/// The source code that papers give of an animal or cohort, with its reason: C only where the test of the breeding stock is met, and
/// never C or F for the brood of a wild-mated dam.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal or cohort.
pub async fn stated_source(db: &mut SqliteConnection, subject: Kin) -> Result<Stated, AppError> {
    let provenance = provenance(&mut *db, subject).await?;
    let of = own(&provenance)?;
    let grounds = grounds_for(db, of.species_id, &of.locality).await?;
    Ok(provenance.stated(grounds))
}

/// The animal or cohort that an address names.
///
/// # Errors
/// [`AppError::NotFound`] when it names neither or both.
pub fn asked(animal: Option<AnimalId>, cohort: Option<CohortId>) -> Result<Kin, AppError> {
    match (animal, cohort) {
        (Some(animal), None) => Ok(Kin::Animal(animal)),
        (None, Some(cohort)) => Ok(Kin::Cohort(cohort)),
        _ => Err(AppError::NotFound),
    }
}

/// The facts of the subject itself.
///
/// # Errors
/// A provenance that was not gathered.
pub(super) fn own(provenance: &Provenance) -> Result<&KinFacts, AppError> {
    Ok(provenance.facts.get(&provenance.subject.key()).context("a provenance without its subject")?)
}
