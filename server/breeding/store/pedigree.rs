//! The pedigree of the house: who descends from whom.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::reckoning::pedigree::{Individual, Origin, Recorded};
use crate::reckoning::provenance::SourceCode;

#[derive(sqlx::FromRow)]
struct Row {
    tag: String,
    source_code: SourceCode,
    dam: Option<String>,
    sire: Option<String>,
    mated_in_wild: bool,
}

/// Every tagged animal by its tag, with its parents as far as they are ours, whatever cohorts it came through. A dam or a
/// sire that is only described in words counts as not known, and so does a sire that is one of several.
///
/// # Errors
/// The database can't be read.
pub async fn pedigree(db: &mut SqliteConnection) -> Result<Vec<Recorded<String>>, AppError> {
    let rows: Vec<Row> = sqlx::query_as(
        "SELECT animal.tag, animal.source_code, dam.tag AS dam, sire.tag AS sire, COALESCE(sac.dam_wild_mated, 0) AS mated_in_wild
         FROM animal
         LEFT JOIN ledger_line AS line ON line.id = animal.origin_line_id
         LEFT JOIN cohort_root ON cohort_root.cohort_id = line.cohort_id
         LEFT JOIN cohort AS root ON root.id = cohort_root.root_id
         LEFT JOIN sac ON sac.id = root.sac_id
         LEFT JOIN animal AS dam ON dam.id = sac.dam_id
         LEFT JOIN possible_sire ON possible_sire.sac_id = sac.id AND possible_sire.certain = 1
         LEFT JOIN animal AS sire ON sire.id = possible_sire.sire_id
         ORDER BY animal.id",
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(Row::recorded).collect())
}

impl Row {
    fn recorded(self) -> Recorded<String> {
        let origin = match self.source_code {
            SourceCode::Wild | SourceCode::Ranched => Origin::Wild,
            SourceCode::Captive | SourceCode::Born => Origin::Captive,
            SourceCode::Unknown | SourceCode::Seized => Origin::Unknown,
        };
        Recorded { individual: Individual { id: self.tag, dam: self.dam, sire: self.sire }, origin, mated_in_wild: self.mated_in_wild }
    }
}
