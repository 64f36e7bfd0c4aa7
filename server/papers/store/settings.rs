//! What the house sets for its papers, notes on law by place, and sheets of labels.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, LabelSheetId, LawPlaceId};
use crate::house::write::Write;
use crate::papers::model::{LabelSheet, LawPlace, PaperSettings};
use crate::reckoning::label_grid::Grid;

/// The settings of papers.
///
/// # Errors
/// The database can't be read.
pub async fn settings(db: &mut SqliteConnection) -> Result<PaperSettings, AppError> {
    Ok(sqlx::query_as(
        "SELECT registration, telephone, arrival_terms, least_age_2, least_age_3, box_min_c, box_max_c, version
         FROM paper_setting WHERE id = 1",
    )
    .fetch_one(db)
    .await?)
}

/// Stores the settings over the version that they were read in.
///
/// # Errors
/// A conflict when somebody else changed them meanwhile.
pub async fn update_settings(write: &mut Write, new: &PaperSettings) -> Result<(), AppError> {
    let changed = sqlx::query(
        "UPDATE paper_setting SET registration = ?, telephone = ?, arrival_terms = ?, least_age_2 = ?, least_age_3 = ?, box_min_c = ?,
                box_max_c = ?, version = version + 1
         WHERE id = 1 AND version = ?",
    )
    .bind(&new.registration)
    .bind(&new.telephone)
    .bind(&new.arrival_terms)
    .bind(new.least_age_2)
    .bind(new.least_age_3)
    .bind(new.box_min_c)
    .bind(new.box_max_c)
    .bind(new.version)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("Somebody else changed these settings meanwhile. Open the page again and look first."));
    }
    Ok(())
}

/// Notes on law that stand, by place.
///
/// # Errors
/// The database can't be read.
pub async fn law_places(db: &mut SqliteConnection) -> Result<Vec<LawPlace>, AppError> {
    Ok(sqlx::query_as("SELECT id, place, text, made_on FROM law_place WHERE retired_at IS NULL ORDER BY place, id").fetch_all(db).await?)
}

/// Adds a note on law.
///
/// # Errors
/// The database can't be written.
pub async fn add_law_place(write: &mut Write, place: &str, text: &str) -> Result<LawPlaceId, AppError> {
    let (who, at, day) = (write.who, write.at, write.today);
    Ok(sqlx::query_scalar("INSERT INTO law_place (place, text, made_by, made_at, made_on) VALUES (?, ?, ?, ?, ?) RETURNING id")
        .bind(place)
        .bind(text)
        .bind(who)
        .bind(at)
        .bind(day)
        .fetch_one(write.db())
        .await?)
}

/// Retires a note on law.
///
/// # Errors
/// A conflict when it was retired before or is not there.
pub async fn retire_law_place(write: &mut Write, id: LawPlaceId) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let changed = sqlx::query("UPDATE law_place SET retired_at = ?, retired_by = ? WHERE id = ? AND retired_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(id)
        .execute(write.db())
        .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("This note has been retired already, or was never made."));
    }
    Ok(())
}

/// Sheets of labels that are in use, by name.
///
/// # Errors
/// The database can't be read.
pub async fn label_sheets(db: &mut SqliteConnection) -> Result<Vec<LabelSheet>, AppError> {
    Ok(sqlx::query_as("SELECT * FROM label_sheet WHERE retired_at IS NULL ORDER BY name, id").fetch_all(db).await?)
}

/// A sheet of labels that is in use.
///
/// # Errors
/// [`AppError::NotFound`] when there is none, or it was retired.
pub async fn require_label_sheet(db: &mut SqliteConnection, id: LabelSheetId) -> Result<LabelSheet, AppError> {
    Ok(sqlx::query_as("SELECT * FROM label_sheet WHERE id = ? AND retired_at IS NULL").bind(id).fetch_one(db).await?)
}

/// Saves a sheet of labels.
///
/// # Errors
/// Labels that do not stand on the page.
pub async fn add_label_sheet(write: &mut Write, name: &str, grid: &Grid) -> Result<LabelSheetId, AppError> {
    let (who, at) = (write.who, write.at);
    grid.check().map_err(|error| AppError::refused("columns", crate::house::text::sentence(&error)))?;
    Ok(sqlx::query_scalar(
        "INSERT INTO label_sheet (name, page_width, page_height, margin_left, margin_top, columns, rows, label_width, label_height,
                                  gap_x, gap_y, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(name)
    .bind(grid.page_width)
    .bind(grid.page_height)
    .bind(grid.margin_left)
    .bind(grid.margin_top)
    .bind(grid.columns)
    .bind(grid.rows)
    .bind(grid.label_width)
    .bind(grid.label_height)
    .bind(grid.gap_x)
    .bind(grid.gap_y)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Retires a sheet of labels. Labels that were issued on it stay as issued.
///
/// # Errors
/// A conflict when it was retired before or is not there.
pub async fn retire_label_sheet(write: &mut Write, id: LabelSheetId) -> Result<(), AppError> {
    let at = write.at;
    let changed = sqlx::query("UPDATE label_sheet SET retired_at = ? WHERE id = ? AND retired_at IS NULL")
        .bind(at)
        .bind(id)
        .execute(write.db())
        .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("This sheet has been retired already, or was never saved."));
    }
    Ok(())
}

/// Notes that the cautions were shown to whoever takes the animals, and their age seen where the house asks for one.
///
/// # Errors
/// A change that nobody makes.
pub async fn record_risk_shown(write: &mut Write, handover: HandoverId, least_age: i64) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    sqlx::query("INSERT INTO handover_risk_shown (handover_id, least_age, member_id, at) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING")
        .bind(handover)
        .bind(least_age)
        .bind(who)
        .bind(at)
        .execute(write.db())
        .await?;
    Ok(())
}

/// What is still to be done before animals of this band leave, as a sentence; nothing when it was done, or the band is lower than 2.
///
/// # Errors
/// The database can't be read.
pub async fn risk_to_show(db: &mut SqliteConnection, handover: HandoverId, band: i64) -> Result<Option<String>, AppError> {
    if band < 2 || risk_shown(&mut *db, handover).await?.is_some() {
        return Ok(None);
    }
    Ok(Some(match settings(db).await?.least_age(band) {
        0 => format!("Something on the list is of band {band}. Show the buyer its cautions, and tick that you did."),
        age => format!(
            "Something on the list is of band {band}. Show the buyer its cautions, see that they are at least {age}, and tick that you did."
        ),
    }))
}

/// Whether the risk was shown for a handover, and the age that was asked for.
///
/// # Errors
/// The database can't be read.
pub async fn risk_shown(db: &mut SqliteConnection, handover: HandoverId) -> Result<Option<i64>, AppError> {
    Ok(sqlx::query_scalar("SELECT least_age FROM handover_risk_shown WHERE handover_id = ?").bind(handover).fetch_optional(db).await?)
}
