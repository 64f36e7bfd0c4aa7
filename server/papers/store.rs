//! All SQL of issued papers and buyers' links.

mod facts;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::model::{Issued, NewSheet, Paper, PaperLine, SheetFacts};
use super::sheet;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, LinkId, PaperId, ProfileId};
use crate::house::secrets::{random_token, sha256_hex};
use crate::house::site::Site;
use crate::house::write::Write;

/// Every sheet is issued once; a later issue of the same number would have the next revision.
const FIRST_REVISION: i64 = 1;

/// Issues the care sheet of a handover's line: gathers what it says, freezes the bytes, and makes the buyer's link.
///
/// # Errors
/// A species without a care profile; a line that has its paper already.
pub async fn issue_care_sheet(write: &mut Write, app: &App, new: &NewSheet) -> Result<Issued, AppError> {
    let (day, at, zone) = (write.today, write.at, write.zone);
    let number = next_number(write, day).await?;
    let site = Site::read(write.db()).await?;
    let (species, subject) = facts::subject(write.db(), new.subject, at, zone).await?;
    let sheet = SheetFacts {
        house: site.name,
        address: site.address.lines().map(str::to_owned).collect(),
        number: number.clone(),
        revision: FIRST_REVISION,
        day,
        common_name: facts::common_name(write.db(), species.id).await?,
        care: facts::care_from(write.db(), species.id, subject.life_stage).await?,
        listings: crate::species::store::listings(write.db(), species.id).await?,
        species,
        subject,
    };
    let profile = sheet.care.first().ok_or(AppError::NotFound)?.profile_id;
    let body = sheet::render(&sheet)?;
    let fingerprint = sha256_hex(body.as_bytes());
    let row = Row { number: &number, title: &sheet.title(), body: body.as_bytes(), fingerprint: &fingerprint, profile };
    let id = insert(write, app, new, &row).await?;
    add_link(write, app, id).await?;
    Ok(Issued { id, number, fingerprint })
}

/// The next number of the house's own scheme: `S-`, the year, and a number that starts anew each year and leaves no gap.
async fn next_number(write: &mut Write, day: NaiveDate) -> Result<String, AppError> {
    let prefix = day.format("S-%Y-").to_string();
    let last: i64 = sqlx::query_scalar(
        "SELECT COALESCE(MAX(CAST(substr(number, length(?1) + 1) AS INTEGER)), 0) FROM paper WHERE substr(number, 1, length(?1)) = ?1",
    )
    .bind(&prefix)
    .fetch_one(write.db())
    .await?;
    Ok(format!("{prefix}{:04}", last + 1))
}

struct Row<'a> {
    number: &'a str,
    title: &'a str,
    body: &'a [u8],
    fingerprint: &'a str,
    profile: ProfileId,
}

async fn insert(write: &mut Write, app: &App, new: &NewSheet, row: &Row<'_>) -> Result<PaperId, AppError> {
    let (who, at, day) = (write.who, write.at, write.today);
    Ok(sqlx::query_scalar(
        "INSERT INTO paper (number, revision, kind, handover_id, handover_line_id, profile_id, title, body, fingerprint, link_base,
                            issued_at, issued_on, issued_by)
         VALUES (?, ?, 'care-sheet', ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(row.number)
    .bind(FIRST_REVISION)
    .bind(new.handover)
    .bind(new.line)
    .bind(row.profile)
    .bind(row.title)
    .bind(row.body)
    .bind(row.fingerprint)
    .bind(&app.config.public_url)
    .bind(at)
    .bind(day)
    .bind(who)
    .fetch_one(write.db())
    .await?)
}

/// Makes a further link to a paper. Only a hash of its secret is kept.
///
/// # Errors
/// The database can't be written.
pub async fn add_link(write: &mut Write, app: &App, paper: PaperId) -> Result<LinkId, AppError> {
    let at = write.at;
    let nonce = random_token();
    let token_hash = sha256_hex(app.link_key.token(&nonce).as_bytes());
    Ok(sqlx::query_scalar("INSERT INTO buyer_link (paper_id, nonce, token_hash, created_at) VALUES (?, ?, ?, ?) RETURNING id")
        .bind(paper)
        .bind(nonce)
        .bind(token_hash)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}

/// Closes every open link of a paper; gives how many there were.
///
/// # Errors
/// The database can't be written.
pub async fn revoke_links(write: &mut Write, paper: PaperId) -> Result<u64, AppError> {
    let (who, at) = (write.who, write.at);
    let closed = sqlx::query("UPDATE buyer_link SET revoked_at = ?, revoked_by = ? WHERE paper_id = ? AND revoked_at IS NULL")
        .bind(at)
        .bind(who)
        .bind(paper)
        .execute(write.db())
        .await?;
    Ok(closed.rows_affected())
}

/// One paper.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require(db: &mut SqliteConnection, id: PaperId) -> Result<Paper, AppError> {
    Ok(sqlx::query_as(
        "SELECT paper.id, paper.number, paper.revision, paper.handover_id, paper.title, paper.body, paper.fingerprint,
                paper.link_base, paper.issued_on, printed.nonce
         FROM paper JOIN buyer_link AS printed ON printed.paper_id = paper.id
         WHERE paper.id = ? ORDER BY printed.id LIMIT 1",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// The paper that a link's secret opens.
///
/// # Errors
/// [`AppError::NotFound`] when no open link has that secret.
pub async fn find_by_token(db: &mut SqliteConnection, token: &str) -> Result<Paper, AppError> {
    let id = sqlx::query_scalar("SELECT paper_id FROM buyer_link WHERE token_hash = ? AND revoked_at IS NULL")
        .bind(sha256_hex(token.as_bytes()))
        .fetch_one(&mut *db)
        .await?;
    require(db, id).await
}

/// The papers of a handover, in the order they were issued.
///
/// # Errors
/// The database can't be read.
pub async fn of_handover(db: &mut SqliteConnection, handover: HandoverId) -> Result<Vec<PaperLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT paper.id, paper.number, paper.title, paper.handover_line_id, paper.link_base,
                open.nonce, open.created_at AS linked_at
         FROM paper LEFT JOIN buyer_link AS open ON open.id = (
             SELECT MAX(id) FROM buyer_link WHERE buyer_link.paper_id = paper.id AND revoked_at IS NULL)
         WHERE paper.handover_id = ? ORDER BY paper.id",
    )
    .bind(handover)
    .fetch_all(db)
    .await?)
}

/// The address that is printed on a paper: the buyer's sheet by the first link.
#[must_use]
pub fn link_of(app: &App, paper: &Paper) -> String {
    paper.link(&app.link_key, &paper.nonce)
}
