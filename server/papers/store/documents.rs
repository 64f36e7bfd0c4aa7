//! Papers on file, and statements on breeding stock.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, DocumentId, SpeciesId, StatementId};
use crate::house::write::Write;
use crate::papers::model::{Document, Kin, NewDocument, NewStatement, StockStatement};
use crate::reckoning::captive_code::Grounds;

/// The papers on file of an animal or cohort, in the order in which they were entered, struck ones among them.
///
/// # Errors
/// The database can't be read.
pub async fn documents_of(db: &mut SqliteConnection, kin: Kin) -> Result<Vec<Document>, AppError> {
    let rows = match kin {
        Kin::Animal(id) => {
            sqlx::query_as(
                "SELECT document.id, document.kind, document.number, document.issuer, document.dated_on, document.note,
                        member.name AS made_by_name, struck.why AS struck
                 FROM origin_document AS document JOIN member ON member.id = document.made_by
                 LEFT JOIN origin_document_struck AS struck ON struck.document_id = document.id
                 WHERE document.animal_id = ? ORDER BY document.id",
            )
            .bind(id)
            .fetch_all(db)
            .await?
        }
        Kin::Cohort(id) => {
            sqlx::query_as(
                "SELECT document.id, document.kind, document.number, document.issuer, document.dated_on, document.note,
                        member.name AS made_by_name, struck.why AS struck
                 FROM origin_document AS document JOIN member ON member.id = document.made_by
                 LEFT JOIN origin_document_struck AS struck ON struck.document_id = document.id
                 WHERE document.cohort_id = ? ORDER BY document.id",
            )
            .bind(id)
            .fetch_all(db)
            .await?
        }
    };
    Ok(rows)
}

/// Whose a paper on file is.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such paper.
pub async fn document_kin(db: &mut SqliteConnection, id: DocumentId) -> Result<Kin, AppError> {
    let (animal, cohort): (Option<AnimalId>, Option<CohortId>) =
        sqlx::query_as("SELECT animal_id, cohort_id FROM origin_document WHERE id = ?").bind(id).fetch_one(db).await?;
    super::asked(animal, cohort)
}

/// Puts a paper on file.
///
/// # Errors
/// An animal or cohort that is not in the book; a change that nobody makes.
pub async fn add_document(write: &mut Write, new: &NewDocument) -> Result<DocumentId, AppError> {
    let (who, at, (animal, cohort)) = (write.who, write.at, new.kin.ids());
    Ok(sqlx::query_scalar(
        "INSERT INTO origin_document (animal_id, cohort_id, kind, number, issuer, dated_on, note, made_by, made_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(animal)
    .bind(cohort)
    .bind(new.kind)
    .bind(&new.number)
    .bind(&new.issuer)
    .bind(new.dated_on)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Strikes a paper out, with the reason; it stays on file and counts no more.
///
/// # Errors
/// A conflict when it was struck out before.
pub async fn strike_document(write: &mut Write, id: DocumentId, why: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let struck =
        sqlx::query("INSERT INTO origin_document_struck (document_id, why, member_id, at) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING")
            .bind(id)
            .bind(why)
            .bind(who)
            .bind(at)
            .execute(write.db())
            .await?;
    if struck.rows_affected() == 0 {
        return Err(AppError::conflict("This paper has been struck out already."));
    }
    Ok(())
}

/// Statements on breeding stock, those that stand first, then the newest.
///
/// # Errors
/// The database can't be read.
pub async fn statements(db: &mut SqliteConnection) -> Result<Vec<StockStatement>, AppError> {
    Ok(sqlx::query_as(
        "SELECT statement.id, species.accepted_name AS species, statement.line, statement.grounds, statement.why, statement.stated_on,
                member.name AS stated_by_name, statement.withdrawn_why
         FROM stock_statement AS statement JOIN species ON species.id = statement.species_id JOIN member ON member.id = statement.stated_by
         ORDER BY statement.withdrawn_at IS NOT NULL, species.accepted_name, statement.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// The newest statement that stands for a species and line: one for that very line before one for the whole species.
///
/// # Errors
/// The database can't be read.
pub async fn statement_for(db: &mut SqliteConnection, species: SpeciesId, line: &str) -> Result<Option<StockStatement>, AppError> {
    Ok(sqlx::query_as(
        "SELECT statement.id, species.accepted_name AS species, statement.line, statement.grounds, statement.why, statement.stated_on,
                member.name AS stated_by_name, statement.withdrawn_why
         FROM stock_statement AS statement JOIN species ON species.id = statement.species_id JOIN member ON member.id = statement.stated_by
         WHERE statement.species_id = ?1 AND statement.line IN ('', ?2) AND statement.withdrawn_at IS NULL
         ORDER BY statement.line = ?2 DESC, statement.id DESC LIMIT 1",
    )
    .bind(species)
    .bind(line)
    .fetch_optional(db)
    .await?)
}

/// The ground of the statement that stands for a species and line.
///
/// # Errors
/// The database can't be read.
pub async fn grounds_for(db: &mut SqliteConnection, species: SpeciesId, line: &str) -> Result<Option<Grounds>, AppError> {
    Ok(statement_for(db, species, line).await?.map(|statement| statement.grounds))
}

/// Records a statement.
///
/// # Errors
/// A species that is not in the book; somebody who neither leads nor owns.
pub async fn add_statement(write: &mut Write, new: &NewStatement) -> Result<StatementId, AppError> {
    let (who, at, day) = (write.who, write.at, write.today);
    if let Err(AppError::NotFound) = crate::species::store::require(write.db(), new.species).await {
        return Err(AppError::refused("species", "This species is not in the book. Choose one of the list."));
    }
    Ok(sqlx::query_scalar(
        "INSERT INTO stock_statement (species_id, line, grounds, why, stated_on, stated_by, stated_at)
         VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.species)
    .bind(&new.line)
    .bind(new.grounds)
    .bind(&new.why)
    .bind(day)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// Withdraws a statement, with the reason. Papers that were issued on it stay as issued.
///
/// # Errors
/// A conflict when it was withdrawn before or is not there.
pub async fn withdraw_statement(write: &mut Write, id: StatementId, why: &str) -> Result<(), AppError> {
    let (who, at) = (write.who, write.at);
    let changed = sqlx::query(
        "UPDATE stock_statement SET withdrawn_at = ?, withdrawn_by = ?, withdrawn_why = ? WHERE id = ? AND withdrawn_at IS NULL",
    )
    .bind(at)
    .bind(who)
    .bind(why)
    .bind(id)
    .execute(write.db())
    .await?;
    if changed.rows_affected() == 0 {
        return Err(AppError::conflict("This statement has been withdrawn already, or was never made."));
    }
    Ok(())
}
