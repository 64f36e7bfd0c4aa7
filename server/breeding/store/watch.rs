//! What is waited for, and what a moult ends: the sac watch, and pairings to be made again.

use chrono::{Days, NaiveDate};
use sqlx::SqliteConnection;

use super::intervals::intervals;
use crate::breeding::model::PairingRow;
use crate::breeding::model::forecast::{Leg, Watched};
use crate::breeding::model::pairing::{PairAgain, Voided};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SignoffId};
use crate::house::text;

/// For so many days after the moult that made a pairing void the house is asked whether to pair again (common practice, no
/// source).
const ASKED_FOR_DAYS: u64 = 365;

/// The pairings of which a sac is waited for, the first expected first: they stand, the dam is in the house, and she has laid none
/// since. A moult of hers ends the wait, as it makes the pairing void.
///
/// # Errors
/// The database can't be read.
pub async fn watched(db: &mut SqliteConnection, today: NaiveDate) -> Result<Vec<Watched>, AppError> {
    let rows: Vec<PairingRow> = sqlx::query_as(
        "SELECT * FROM pairing_now WHERE waited_from IS NOT NULL AND void_since IS NULL AND dam_alive
         AND NOT EXISTS (SELECT 1 FROM sac WHERE sac.dam_id = pairing_now.dam_id AND sac.laid_on > pairing_now.waited_from)",
    )
    .fetch_all(&mut *db)
    .await?;
    let known = intervals(db).await?;
    let mut watched = Vec::new();
    for pairing in rows {
        let Some(since) = pairing.waited_from else { continue };
        let forecast = known.forecast(pairing.species_id, Leg::ToSac, None)?;
        let window = forecast.window(since);
        watched.push(Watched { since, window, basis: forecast.basis, late: window.to < today, pairing });
    }
    watched.sort_by_key(|one| (one.window.likely, one.pairing.id));
    Ok(watched)
}

/// The females whose last pairing a moult of the past year made void, and who have not been paired again since.
///
/// # Errors
/// The database can't be read.
pub async fn pair_again(db: &mut SqliteConnection, today: NaiveDate) -> Result<Vec<PairAgain>, AppError> {
    again(db, (i64::MIN, i64::MAX), today).await
}

async fn again(db: &mut SqliteConnection, (first, last): (i64, i64), today: NaiveDate) -> Result<Vec<PairAgain>, AppError> {
    let since = today.checked_sub_days(Days::new(ASKED_FOR_DAYS)).unwrap_or(today);
    Ok(sqlx::query_as(
        "SELECT dam_id, dam_tag, species, sire_id, sire_tag, sire_alive, void_since AS moulted_on FROM pairing_now AS one
         WHERE dam_id BETWEEN ? AND ? AND void_since >= ? AND dam_alive
           AND NOT EXISTS (SELECT 1 FROM pairing_now AS other WHERE other.dam_id = one.dam_id
                           AND (other.paired_on >= one.void_since OR other.last_on >= one.void_since
                                OR (other.void_since IS NOT NULL AND (other.last_on, other.id) > (one.last_on, one.id))))
         ORDER BY void_since DESC, dam_tag",
    )
    .bind(first)
    .bind(last)
    .bind(since)
    .fetch_all(db)
    .await?)
}

/// Whether, and with whom, a female is to be paired again.
///
/// # Errors
/// The database can't be read.
pub async fn pair_again_of(db: &mut SqliteConnection, dam: AnimalId, today: NaiveDate) -> Result<Option<PairAgain>, AppError> {
    Ok(again(db, (dam.0, dam.0), today).await?.pop())
}

#[derive(sqlx::FromRow)]
struct Ended {
    dam_tag: String,
    sire_tag: String,
    last_on: NaiveDate,
    sacs: i64,
}

/// What a moult of an animal on a day makes void: each pairing whose last introduction was before it and after the moult before
/// that, and the sac that was waited for. None when it makes nothing void.
///
/// # Errors
/// The database can't be read.
pub async fn voided_by_moult(db: &mut SqliteConnection, animal: AnimalId, moulted_on: NaiveDate) -> Result<Option<Voided>, AppError> {
    let ended: Vec<Ended> = sqlx::query_as(
        "SELECT dam.tag AS dam_tag, sire.tag AS sire_tag, MAX(i.day) AS last_on,
                (SELECT COUNT(*) FROM sac WHERE sac.dam_id = ?1 AND sac.laid_on BETWEEN MIN(i.day) AND ?2) AS sacs
         FROM introduction_standing AS i JOIN animal AS dam ON dam.id = i.dam_id JOIN animal AS sire ON sire.id = i.sire_id
         WHERE i.dam_id = ?1 AND i.day < ?2
           AND i.day >= COALESCE((SELECT MAX(day) FROM moult_standing WHERE animal_id = ?1 AND day < ?2), '')
         GROUP BY i.pairing_id ORDER BY last_on, i.pairing_id",
    )
    .bind(animal)
    .bind(moulted_on)
    .fetch_all(&mut *db)
    .await?;
    let Some(first) = ended.first() else { return Ok(None) };
    let with: Vec<String> = ended.iter().map(|one| format!("{} ({})", one.sire_tag, text::day(&one.last_on))).collect();
    let pairing = if ended.len() == 1 { "pairing" } else { "pairings" };
    let are = if ended.len() == 1 { "is" } else { "are" };
    let sac = if ended.iter().any(|one| one.sacs > 0) { "No further sac" } else { "No sac" };
    let mut words = format!(
        "The {pairing} of {} with {} {are} void: stored sperm went with the skin. {sac} is expected of it any more.",
        first.dam_tag,
        with.join(" and ")
    );
    let infertile = laid_since(db, animal, moulted_on).await?;
    if let Some(laid) = infertile {
        words = format!("{words} The sac that she laid on {} is expected to be infertile.", text::day(&laid));
    }
    Ok(Some(Voided { dam: animal, words }))
}

/// A sac that was laid after a moult without an introduction between, when the moult is written down late.
async fn laid_since(db: &mut SqliteConnection, dam: AnimalId, moulted_on: NaiveDate) -> Result<Option<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT MIN(laid_on) FROM sac WHERE dam_id = ?1 AND laid_on >= ?2 AND state = 'incubating'
           AND NOT EXISTS (SELECT 1 FROM introduction_standing AS i WHERE i.dam_id = ?1 AND i.day BETWEEN ?2 AND sac.laid_on)",
    )
    .bind(dam)
    .bind(moulted_on)
    .fetch_one(db)
    .await?)
}

/// What the moult that a sign-off brought makes void.
///
/// # Errors
/// The database can't be read.
pub async fn voided_by_signoff(db: &mut SqliteConnection, signoff: SignoffId) -> Result<Option<Voided>, AppError> {
    let moult: Option<(AnimalId, NaiveDate)> =
        sqlx::query_as("SELECT animal_id, day FROM moult_standing WHERE signoff_id = ?").bind(signoff).fetch_optional(&mut *db).await?;
    match moult {
        Some((animal, day)) => voided_by_moult(db, animal, day).await,
        None => Ok(None),
    }
}
