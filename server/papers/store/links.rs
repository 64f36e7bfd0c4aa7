//! Buyers' links: the way to a paper for whoever has its code.

use sqlx::SqliteConnection;

use super::require;
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{LinkId, PaperId};
use crate::house::secrets::{random_token, sha256_hex};
use crate::house::write::Write;
use crate::papers::model::Paper;

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
