//! The risk table: what each band and exposure asks of people.

use anyhow::Context as _;
use sqlx::SqliteConnection;

use super::super::model::TableRow;
use crate::house::errors::AppError;
use crate::house::write::Write;
use crate::reckoning::hazard::{Band, ExposureTable, Requirement};
use crate::reckoning::words::Exposure;

#[derive(sqlx::FromRow)]
struct RuleRow {
    band: i64,
    exposure: Exposure,
    clearance: i64,
    persons: i64,
}

/// What this house asks: the default, tightened where the house does.
///
/// # Errors
/// The database can't be read, or holds a rule looser than the default, which its triggers refuse.
pub async fn exposure_table(db: &mut SqliteConnection) -> Result<ExposureTable, AppError> {
    let rules: Vec<RuleRow> = sqlx::query_as("SELECT band, exposure, clearance, persons FROM exposure_rule").fetch_all(db).await?;
    let mut table = ExposureTable::default();
    for rule in rules {
        let clearance = u8::try_from(rule.clearance).context("a rule's clearance")?;
        let persons = u8::try_from(rule.persons).context("a rule's persons")?;
        table.tighten(Band::at(rule.band), rule.exposure, Requirement { clearance, persons }).context("a rule of the risk table")?;
    }
    Ok(table)
}

/// The whole table, row by row, with its default beside it.
///
/// # Errors
/// As [`exposure_table`].
pub async fn table_rows(db: &mut SqliteConnection) -> Result<Vec<TableRow>, AppError> {
    let table = exposure_table(db).await?;
    let cells = Band::ALL.into_iter().flat_map(|band| Exposure::ALL.iter().map(move |exposure| (band, *exposure)));
    Ok(cells
        .map(|(band, exposure)| TableRow {
            band,
            exposure,
            least: ExposureTable::default_requirement(band, exposure),
            asked: table.required(band, exposure),
        })
        .collect())
}

/// Sets what this house asks for one band and exposure. Asking for no more than the default removes the house's own rule.
///
/// # Errors
/// Anything looser than the default, refused here by the reckoning and by a trigger beneath it.
pub async fn tighten(write: &mut Write, band: Band, exposure: Exposure, asked: Requirement) -> Result<(), AppError> {
    ExposureTable::default().tighten(band, exposure, asked).map_err(|error| AppError::refused("clearance", error.to_string()))?;
    let level = i64::from(band.level());
    if asked == ExposureTable::default_requirement(band, exposure) {
        sqlx::query("DELETE FROM exposure_rule WHERE band = ? AND exposure = ?").bind(level).bind(exposure).execute(write.db()).await?;
        return Ok(());
    }
    sqlx::query(
        "INSERT INTO exposure_rule (band, exposure, clearance, persons) VALUES (?, ?, ?, ?)
         ON CONFLICT (band, exposure) DO UPDATE SET clearance = excluded.clearance, persons = excluded.persons",
    )
    .bind(level)
    .bind(exposure)
    .bind(i64::from(asked.clearance))
    .bind(i64::from(asked.persons))
    .execute(write.db())
    .await?;
    Ok(())
}
