//! Pairings, and the animals that can be parents.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::breeding::model::{NewPairing, PairingRow, Parent};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, PairingId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::words::Sex;

/// All pairings, newest first, each with the moult that made it void.
///
/// # Errors
/// The database can't be read.
pub async fn pairings(db: &mut SqliteConnection) -> Result<Vec<PairingRow>, AppError> {
    Ok(sqlx::query_as(
        "SELECT pairing.id, pairing.dam_id, dam.tag AS dam_tag, pairing.sire_id, sire.tag AS sire_tag, species.accepted_name AS species,
                pairing.paired_on, pairing.note,
                (SELECT MIN(day) FROM moult_standing WHERE animal_id = pairing.dam_id AND day > pairing.paired_on) AS void_since
         FROM pairing JOIN animal AS dam ON dam.id = pairing.dam_id JOIN animal AS sire ON sire.id = pairing.sire_id
         JOIN species ON species.id = dam.species_id
         ORDER BY pairing.paired_on DESC, pairing.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// The pairings of a dam, newest first.
///
/// # Errors
/// The database can't be read.
pub async fn pairings_of(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<PairingRow>, AppError> {
    Ok(pairings(db).await?.into_iter().filter(|pairing| pairing.dam_id == dam).collect())
}

/// The days on which an animal moulted.
///
/// # Errors
/// The database can't be read.
pub async fn dam_moults(db: &mut SqliteConnection, dam: AnimalId) -> Result<Vec<NaiveDate>, AppError> {
    Ok(sqlx::query_scalar("SELECT day FROM moult_standing WHERE animal_id = ? ORDER BY day").bind(dam).fetch_all(db).await?)
}

/// An animal as a parent.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn parent(db: &mut SqliteConnection, id: AnimalId) -> Result<Parent, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, animal.sex, animal.locality, animal.started_on,
                animal.status_on AS left_on
         FROM animal JOIN species ON species.id = animal.species_id WHERE animal.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// An animal that a form chose as a parent.
pub(super) async fn chosen(db: &mut SqliteConnection, field: &'static str, id: AnimalId) -> Result<Parent, AppError> {
    match parent(db, id).await {
        Err(AppError::NotFound) => Err(AppError::refused(field, "This animal is not in the book. Choose one of the list.")),
        answer => answer,
    }
}

/// The living animals that can be dams (or sires): those sexed so, and those not sexed.
///
/// # Errors
/// The database can't be read.
pub async fn parents(db: &mut SqliteConnection, sex: Sex) -> Result<Vec<Parent>, AppError> {
    Ok(sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, animal.sex, animal.locality, animal.started_on,
                animal.status_on AS left_on
         FROM animal JOIN species ON species.id = animal.species_id
         WHERE animal.status = 'alive' AND animal.sex IN (?, 'unknown')
         ORDER BY animal.sex = 'unknown', species.accepted_name, animal.tag",
    )
    .bind(sex)
    .fetch_all(db)
    .await?)
}

/// Refuses a parent that is known to be of the other sex.
pub(super) fn check_sex(field: &'static str, animal: &Parent, wrong: Sex) -> Result<(), AppError> {
    if animal.sex == wrong {
        return Err(AppError::refused(field, format!("{} is known as a {}.", animal.tag, animal.sex)));
    }
    Ok(())
}

/// Refuses a parent of the other sex, and one that was not in the house on that day.
pub(super) fn check_parent(field: &'static str, animal: &Parent, wrong: Sex, day: NaiveDate) -> Result<(), AppError> {
    check_sex(field, animal, wrong)?;
    if let Some(left) = animal.left_on.filter(|left| *left < day) {
        return Err(AppError::refused(field, format!("{} left on {}, before that day.", animal.tag, text::day(&left))));
    }
    Ok(())
}

/// Records a pairing.
///
/// # Errors
/// Two of different species, of the wrong sex, or not in the house on that day; a day still to come.
pub async fn insert_pairing(write: &mut Write, new: &NewPairing) -> Result<PairingId, AppError> {
    super::check_past("day", new.day, write.today)?;
    if new.dam == new.sire {
        return Err(AppError::refused("sire", "A pairing needs two animals."));
    }
    let (dam, sire) = (chosen(write.db(), "dam", new.dam).await?, chosen(write.db(), "sire", new.sire).await?);
    check_parent("dam", &dam, Sex::Male, new.day)?;
    check_parent("sire", &sire, Sex::Female, new.day)?;
    if dam.species_id != sire.species_id {
        let message =
            format!("{} is a {} and {} a {}: only animals of one species are paired.", dam.tag, dam.species, sire.tag, sire.species);
        return Err(AppError::refused("sire", message));
    }
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar("INSERT INTO pairing (dam_id, sire_id, paired_on, note, member_id, at) VALUES (?, ?, ?, ?, ?, ?) RETURNING id")
        .bind(new.dam)
        .bind(new.sire)
        .bind(new.day)
        .bind(&new.note)
        .bind(who)
        .bind(at)
        .fetch_one(write.db())
        .await?)
}
