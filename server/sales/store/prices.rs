//! Price lists: drafts that are filled in, and published ones that are never changed.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::terms::terms;
use crate::house::errors::AppError;
use crate::house::ids::{PriceId, PriceListId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::stage::Stage;
use crate::sales::model::{NewPrice, Price, PriceClass, PriceList};

/// All price lists: drafts first, then the published, the newest first.
///
/// # Errors
/// The database can't be read.
pub async fn price_lists(db: &mut SqliteConnection) -> Result<Vec<PriceList>, AppError> {
    Ok(sqlx::query_as(
        "SELECT list.id, list.currency, list.decimals, list.valid_from, COALESCE(publisher.name, maker.name) AS by_name, list.note,
                (SELECT COUNT(*) FROM price WHERE price.list_id = list.id) AS prices
         FROM price_list AS list LEFT JOIN member AS publisher ON publisher.id = list.published_by
         LEFT JOIN member AS maker ON maker.id = list.made_by
         ORDER BY list.published_at IS NOT NULL, list.valid_from DESC, list.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// One price list.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_price_list(db: &mut SqliteConnection, id: PriceListId) -> Result<PriceList, AppError> {
    price_lists(db).await?.into_iter().find(|list| list.id == id).ok_or(AppError::NotFound)
}

/// The list that holds on a day: of those in the house's currency that have begun, the one that began last.
///
/// # Errors
/// The database can't be read.
pub async fn list_on(db: &mut SqliteConnection, day: NaiveDate) -> Result<Option<PriceListId>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT list.id FROM price_list AS list JOIN trade_terms ON trade_terms.currency = list.currency
         WHERE list.published_at IS NOT NULL AND list.valid_from <= ? ORDER BY list.valid_from DESC, list.id DESC LIMIT 1",
    )
    .bind(day)
    .fetch_optional(db)
    .await?)
}

/// The prices of a list, by species, stage and size.
///
/// # Errors
/// The database can't be read.
pub async fn prices(db: &mut SqliteConnection, list: PriceListId) -> Result<Vec<Price>, AppError> {
    Ok(sqlx::query_as(
        "SELECT price.id, price.species_id, species.accepted_name AS species, price.stage, price.from_mm, price.to_mm, price.sex,
                price.pack_of, price.amount_minor
         FROM price JOIN species ON species.id = price.species_id LEFT JOIN bucket ON bucket.code = price.stage
         WHERE price.list_id = ? ORDER BY species.accepted_name, bucket.ordinal IS NULL, bucket.ordinal, from_mm, to_mm, sex, pack_of",
    )
    .bind(list)
    .fetch_all(db)
    .await?)
}

/// The prices that hold on a day; none when no list does.
///
/// # Errors
/// The database can't be read.
pub async fn prices_on(db: &mut SqliteConnection, day: NaiveDate) -> Result<Vec<Price>, AppError> {
    match list_on(&mut *db, day).await? {
        Some(list) => prices(db, list).await,
        None => Ok(Vec::new()),
    }
}

/// Begins a list as a draft, with the prices of the one that holds today.
///
/// # Errors
/// No currency yet.
pub async fn begin_list(write: &mut Write) -> Result<PriceListId, AppError> {
    let terms = terms(write.db()).await?.ok_or_else(|| AppError::conflict("The house has no currency yet: an owner sets it first."))?;
    let (who, at, today) = (write.who, write.at, write.today);
    let list: PriceListId =
        sqlx::query_scalar("INSERT INTO price_list (currency, decimals, made_by, made_at) VALUES (?, ?, ?, ?) RETURNING id")
            .bind(&terms.currency)
            .bind(terms.decimals)
            .bind(who)
            .bind(at)
            .fetch_one(write.db())
            .await?;
    if let Some(old) = list_on(write.db(), today).await? {
        sqlx::query(
            "INSERT INTO price (list_id, species_id, stage, from_mm, to_mm, sex, pack_of, amount_minor)
             SELECT ?, species_id, stage, from_mm, to_mm, sex, pack_of, amount_minor FROM price WHERE list_id = ?",
        )
        .bind(list)
        .bind(old)
        .execute(write.db())
        .await?;
    }
    Ok(list)
}

/// A list that can still be changed.
///
/// # Errors
/// A conflict when it was published.
pub async fn require_draft_list(db: &mut SqliteConnection, id: PriceListId) -> Result<PriceList, AppError> {
    let list = require_price_list(db, id).await?;
    match list.valid_from {
        None => Ok(list),
        Some(_) => Err(AppError::conflict("This price list was published, so it stays as it is. Begin a new one: it takes its place.")),
    }
}

/// Adds a price to a draft.
///
/// # Errors
/// A list that was published; a price for the same that is on it already.
pub async fn add_price(write: &mut Write, list: PriceListId, new: &NewPrice) -> Result<PriceId, AppError> {
    require_draft_list(write.db(), list).await?;
    let (stage, from, to): (Option<Stage>, Option<u32>, Option<u32>) = match new.class {
        PriceClass::Stage(stage) => (Some(stage), None, None),
        PriceClass::Size(from, to) => (None, Some(from), Some(to)),
    };
    if is_on(write.db(), list, new.species, (stage, from, to), new).await? {
        return Err(AppError::refused("amount", "There is a price for the same on this list. Change that one."));
    }
    Ok(sqlx::query_scalar(
        "INSERT INTO price (list_id, species_id, stage, from_mm, to_mm, sex, pack_of, amount_minor) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
         RETURNING id",
    )
    .bind(list)
    .bind(new.species)
    .bind(stage)
    .bind(from)
    .bind(to)
    .bind(new.sex)
    .bind(new.pack_of)
    .bind(new.amount_minor)
    .fetch_one(write.db())
    .await?)
}

async fn is_on(
    db: &mut SqliteConnection,
    list: PriceListId,
    species: SpeciesId,
    (stage, from, to): (Option<Stage>, Option<u32>, Option<u32>),
    new: &NewPrice,
) -> Result<bool, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT EXISTS (SELECT 1 FROM price WHERE list_id = ? AND species_id = ? AND stage IS ? AND from_mm IS ? AND to_mm IS ?
                        AND sex = ? AND pack_of = ?)",
    )
    .bind(list)
    .bind(species)
    .bind(stage)
    .bind(from)
    .bind(to)
    .bind(new.sex)
    .bind(new.pack_of)
    .fetch_one(db)
    .await?)
}

/// Changes the prices of a draft; a price without an amount goes.
///
/// # Errors
/// A list that was published.
pub async fn change_prices(write: &mut Write, list: PriceListId, changes: &[(PriceId, Option<i64>)]) -> Result<(), AppError> {
    require_draft_list(write.db(), list).await?;
    for (id, amount) in changes {
        match amount {
            Some(amount) => {
                sqlx::query("UPDATE price SET amount_minor = ? WHERE id = ? AND list_id = ?")
                    .bind(amount)
                    .bind(id)
                    .bind(list)
                    .execute(write.db())
                    .await?
            }
            None => sqlx::query("DELETE FROM price WHERE id = ? AND list_id = ?").bind(id).bind(list).execute(write.db()).await?,
        };
    }
    Ok(())
}

/// Publishes a draft: it holds from that day on.
///
/// # Errors
/// A day that is past, a list that was published or has no price, or one of another currency than the house's.
pub async fn publish(write: &mut Write, list: PriceListId, from: NaiveDate, note: &str) -> Result<(), AppError> {
    let draft = require_draft_list(write.db(), list).await?;
    let currency = terms(write.db()).await?.map(|terms| terms.currency);
    if draft.prices == 0 {
        return Err(AppError::refused("valid_from", "There is no price on this list yet. Add one first."));
    }
    if currency.as_ref() != Some(&draft.currency) {
        return Err(AppError::refused("valid_from", "The house's currency has changed since this list was begun. Begin a new one."));
    }
    if from < write.today {
        return Err(AppError::refused("valid_from", format!("This day is past; enter {} or a later one.", write.today)));
    }
    let (who, at) = (write.who, write.at);
    sqlx::query("UPDATE price_list SET valid_from = ?, published_at = ?, published_by = ?, note = ? WHERE id = ?")
        .bind(from)
        .bind(at)
        .bind(who)
        .bind(note)
        .bind(list)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Throws a draft away.
///
/// # Errors
/// A list that was published.
pub async fn discard(write: &mut Write, list: PriceListId) -> Result<(), AppError> {
    require_draft_list(write.db(), list).await?;
    sqlx::query("DELETE FROM price WHERE list_id = ?").bind(list).execute(write.db()).await?;
    sqlx::query("DELETE FROM price_list WHERE id = ?").bind(list).execute(write.db()).await?;
    Ok(())
}
