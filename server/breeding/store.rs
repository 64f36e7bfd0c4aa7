//! All SQL of breeding: sacs here, pairings below.

mod breeders;
mod descent;
pub mod incubation;
mod intervals;
mod introductions;
mod kindred;
mod lines;
mod look;
mod pairings;
mod pedigree;
mod sires;
mod watch;

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::model::{NewSac, Opening, Parent, Sac, SacState};
use crate::cohorts;
use crate::cohorts::model::{NewCohort, NewLine, NewOrigin};
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, SacId, ShelfId, SignoffId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::provenance::check_brood;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LossCause, Sex};
use crate::rooms;
use crate::species;

pub use breeders::{Breeder, adults_not_sexed, breeders};
pub use descent::{descendants_of_animal, descendants_of_cohort};
pub use intervals::{intervals, stages_ahead};
pub use introductions::{faults, introduce, introductions_of, introductions_of_dam, require_introduction, strike_introduction};
pub use kindred::kindred;
pub use lines::{
    change_line, enter_line, entries_of, insert_line, line_of, line_of_cohort, line_of_young, lines, lines_of_species, require_line,
};
pub use look::{Asking, asked_of_people, look};
pub use pairings::{begin_pairing, dam_moults, pairings, pairings_of, parent, parents, require_pairing};
pub use pedigree::pedigree;
pub use sires::{
    mixed_line_of_animal, mixed_line_of_cohort, mixed_line_of_sac, parentage_of, sac_of_animal, sac_of_cohort, sire_by_introductions,
    sire_candidates,
};
pub use watch::{pair_again, pair_again_of, voided_by_moult, voided_by_signoff, watched};

/// One sac.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn require_sac(db: &mut SqliteConnection, id: SacId) -> Result<Sac, AppError> {
    Ok(sqlx::query_as(
        "SELECT sac.id, sac.species_id, species.accepted_name AS species, sac.dam_id, dam.tag AS dam_tag, sac.dam_note, sac.dam_wild_mated,
                sac.sire_id, sire.tag AS sire_tag, sac.sire_note, sac.laid_on, sac.pulled_on, sac.incubation, sac.incubation_note,
                sac.shelf_id, sac.position, place.label AS place, sac.state, sac.ended_on, sac.end_note,
                species.pull_from_day, species.pull_to_day, sac.base_decicelsius, cohort.id AS cohort_id, cohort.code AS cohort_code
         FROM sac JOIN species ON species.id = sac.species_id
         LEFT JOIN animal AS dam ON dam.id = sac.dam_id LEFT JOIN animal AS sire ON sire.id = sac.sire_id
         LEFT JOIN place ON place.shelf_id = sac.shelf_id LEFT JOIN cohort ON cohort.sac_id = sac.id
         WHERE sac.id = ?",
    )
    .bind(id)
    .fetch_one(db)
    .await?)
}

/// All sacs: those that incubate first, then the newest.
///
/// # Errors
/// The database can't be read.
pub async fn sacs(db: &mut SqliteConnection) -> Result<Vec<Sac>, AppError> {
    Ok(sqlx::query_as(
        "SELECT sac.id, sac.species_id, species.accepted_name AS species, sac.dam_id, dam.tag AS dam_tag, sac.dam_note, sac.dam_wild_mated,
                sac.sire_id, sire.tag AS sire_tag, sac.sire_note, sac.laid_on, sac.pulled_on, sac.incubation, sac.incubation_note,
                sac.shelf_id, sac.position, place.label AS place, sac.state, sac.ended_on, sac.end_note,
                species.pull_from_day, species.pull_to_day, sac.base_decicelsius, cohort.id AS cohort_id, cohort.code AS cohort_code
         FROM sac JOIN species ON species.id = sac.species_id
         LEFT JOIN animal AS dam ON dam.id = sac.dam_id LEFT JOIN animal AS sire ON sire.id = sac.sire_id
         LEFT JOIN place ON place.shelf_id = sac.shelf_id LEFT JOIN cohort ON cohort.sac_id = sac.id
         ORDER BY sac.state <> 'incubating', sac.laid_on DESC, sac.id DESC",
    )
    .fetch_all(db)
    .await?)
}

/// Adds a sac.
///
/// # Errors
/// A day still to come, a pull before the laying, parents that cannot be, a shelf that is not there.
pub async fn insert_sac(write: &mut Write, new: &NewSac) -> Result<SacId, AppError> {
    check_past("laid_on", new.laid_on, write.today)?;
    if let Some(pulled) = new.pulled_on {
        check_past("pulled_on", pulled, write.today)?;
        check_after("pulled_on", pulled, new.laid_on)?;
    }
    check_shelf(write.db(), new.shelf).await?;
    check_parents(write, new).await?;
    let at = write.at;
    Ok(sqlx::query_scalar(
        "INSERT INTO sac (species_id, dam_id, dam_note, dam_wild_mated, sire_id, sire_note, laid_on, pulled_on, incubation, incubation_note,
                          shelf_id, position, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(new.species_id)
    .bind(new.dam)
    .bind(&new.dam_note)
    .bind(new.dam_wild_mated)
    .bind(new.sire)
    .bind(&new.sire_note)
    .bind(new.laid_on)
    .bind(new.pulled_on)
    .bind(if new.pulled_on.is_some() { "pulled" } else { "with-dam" })
    .bind(&new.incubation_note)
    .bind(new.shelf)
    .bind(new.position)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

async fn check_parents(write: &mut Write, new: &NewSac) -> Result<(), AppError> {
    if let Err(AppError::NotFound) = species::store::require(write.db(), new.species_id).await {
        return Err(AppError::refused("species", "This species is not in the book. Choose one of the list."));
    }
    if let Some(dam) = new.dam {
        let dam = pairings::chosen(write.db(), "dam", dam).await?;
        pairings::check_parent("dam", &dam, Sex::Male, new.laid_on)?;
        check_elder(write, "dam", &dam, new.laid_on).await?;
        if dam.species_id != new.species_id {
            return Err(AppError::refused("dam", format!("{} is a {}. Choose her species.", dam.tag, dam.species)));
        }
    } else if new.dam_note.is_empty() {
        return Err(AppError::refused("dam_note", "Choose the dam, or write what is known of her."));
    }
    if let Some(sire) = new.sire {
        let sire = pairings::chosen(write.db(), "sire", sire).await?;
        // He may have left long before: one pairing serves until the dam moults.
        pairings::check_sex("sire", &sire, Sex::Female)?;
        after_a_pairing(write, new, &sire).await?;
        check_elder(write, "sire", &sire, new.laid_on).await?;
        if sire.species_id != new.species_id {
            return Err(AppError::refused("sire", format!("{} is a {}, another species than the dam.", sire.tag, sire.species)));
        }
    }
    Ok(())
}

/// A sac comes after its pairing: a sire whose every introduction to the dam is later can't have sired it.
async fn after_a_pairing(write: &mut Write, new: &NewSac, sire: &Parent) -> Result<(), AppError> {
    let Some(dam) = new.dam else { return Ok(()) };
    let introductions = introductions_of_dam(write.db(), dam).await?;
    let days = || introductions.iter().filter(|one| one.sire_id == sire.id).map(|one| one.day);
    match days().min() {
        Some(first) if first > new.laid_on => Err(AppError::refused(
            "sire",
            format!(
                "{} was first put to her on {}, after this sac was laid. Correct the day, choose another sire, or “not known”.",
                sire.tag,
                text::day(&first)
            ),
        )),
        _ => Ok(()),
    }
}

/// Nobody is their own ancestor: a parent hatched before the sac was laid, from a sac that was laid before.
async fn check_elder(write: &mut Write, field: &'static str, parent: &Parent, laid_on: NaiveDate) -> Result<(), AppError> {
    let born_on: Option<NaiveDate> =
        sqlx::query_scalar("SELECT born_on FROM animal WHERE id = ?").bind(parent.id).fetch_one(write.db()).await?;
    if let Some(born) = born_on.filter(|born| *born >= laid_on) {
        let message =
            format!("{} hatched on {}, not before this sac was laid. Check the day, or choose another.", parent.tag, text::day(&born));
        return Err(AppError::refused(field, message));
    }
    let Some(own) = sac_of_animal(write.db(), parent.id).await? else { return Ok(()) };
    let own = require_sac(write.db(), own).await?;
    if own.laid_on >= laid_on {
        let message = format!(
            "{} hatched from a sac that was laid on {}, not before this one: nobody is their own ancestor. Check the day, or choose another.",
            parent.tag,
            text::day(&own.laid_on)
        );
        return Err(AppError::refused(field, message));
    }
    Ok(())
}

pub(super) fn check_past(field: &'static str, day: NaiveDate, today: NaiveDate) -> Result<(), AppError> {
    if day > today {
        return Err(AppError::refused(field, format!("This day is still to come; the latest possible is {today}.")));
    }
    Ok(())
}

pub(super) fn check_after(field: &'static str, day: NaiveDate, laid_on: NaiveDate) -> Result<(), AppError> {
    if day < laid_on {
        return Err(AppError::refused(field, format!("The sac was laid on {}; enter that day or a later one.", text::day(&laid_on))));
    }
    Ok(())
}

async fn check_shelf(db: &mut SqliteConnection, shelf: Option<ShelfId>) -> Result<(), AppError> {
    let Some(shelf) = shelf else { return Ok(()) };
    match rooms::store::shelf_label(db, shelf).await {
        Err(AppError::NotFound) => Err(AppError::refused("shelf", "This shelf is not in the book. Choose one of the list.")),
        answer => answer.map(|_| ()),
    }
}

/// The sac, if it still incubates and the day can be.
async fn incubating(write: &mut Write, id: SacId, day: NaiveDate) -> Result<Sac, AppError> {
    let sac = require_sac(write.db(), id).await?;
    if sac.state != SacState::Incubating {
        return Err(AppError::refused("sac", format!("This sac was {} on {}.", sac.state, text::day_or_dash(&sac.ended_on))));
    }
    check_past("day", day, write.today)?;
    check_after("day", day, sac.laid_on)?;
    if let Some(pulled) = sac.pulled_on.filter(|pulled| day < *pulled) {
        return Err(AppError::refused("day", format!("The sac was pulled on {}; enter that day or a later one.", text::day(&pulled))));
    }
    Ok(sac)
}

/// Takes a sac from the dam.
///
/// # Errors
/// A sac that has been pulled or has ended, a day before the laying or still to come.
pub async fn pull_sac(write: &mut Write, id: SacId, day: NaiveDate, note: &str) -> Result<(), AppError> {
    let sac = incubating(write, id, day).await?;
    if let Some(pulled) = sac.pulled_on {
        return Err(AppError::refused("sac", format!("This sac was pulled on {} already.", text::day(&pulled))));
    }
    sqlx::query(
        "UPDATE sac SET incubation = 'pulled', pulled_on = ?, incubation_note = CASE WHEN ?2 = '' THEN incubation_note ELSE ?2 END,
                        version = version + 1
         WHERE id = ?3",
    )
    .bind(day)
    .bind(note)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Notes that legs are out in a pulled sac: it is turned no more. The first such day stands.
///
/// # Errors
/// A sac that has ended or is still with the dam.
pub async fn legs_out(write: &mut Write, id: SacId, day: NaiveDate, signoff: SignoffId) -> Result<(), AppError> {
    let sac = incubating(write, id, day).await?;
    if sac.pulled_on.is_none() {
        return Err(AppError::refused("sac", "This sac is with its dam: nobody sees inside."));
    }
    sqlx::query("UPDATE sac SET legs_out_on = ?, legs_out_signoff_id = ?, version = version + 1 WHERE id = ? AND legs_out_on IS NULL")
        .bind(day)
        .bind(signoff)
        .bind(id)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Takes back that legs are out, when this sign-off said so.
///
/// # Errors
/// The database can't be written.
pub async fn legs_not_out(write: &mut Write, id: SacId, signoff: SignoffId) -> Result<(), AppError> {
    sqlx::query(
        "UPDATE sac SET legs_out_on = NULL, legs_out_signoff_id = NULL, version = version + 1 WHERE id = ? AND legs_out_signoff_id = ?",
    )
    .bind(id)
    .bind(signoff)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Opens a sac: its first count becomes a cohort, what was bad its first losses.
///
/// # Errors
/// A sac that has ended, nothing alive, a source code that the brood of a wild-mated dam can't have, a code that is taken.
pub async fn open_sac(write: &mut Write, id: SacId, opening: &Opening) -> Result<CohortId, AppError> {
    let sac = incubating(write, id, opening.day).await?;
    check_brood(opening.source.code, sac.dam_wild_mated).map_err(|error| AppError::refused("source", text::sentence(&error)))?;
    if opening.counts.iter().all(|(_, quantity)| *quantity == 0) {
        return Err(AppError::refused("count", "Nothing alive is counted. Mark the sac as failed instead."));
    }
    let mut found: BTreeMap<Stage, u32> = BTreeMap::new();
    let bad = opening.bad.iter().map(|bad| (bad.stage, bad.quantity));
    for (stage, quantity) in opening.counts.iter().copied().chain(bad).filter(|(_, quantity)| *quantity > 0) {
        let sum = found.entry(stage).or_default();
        *sum = sum.saturating_add(quantity);
    }
    let new = NewCohort {
        code: opening.code.clone(),
        species_id: sac.species_id,
        origin: NewOrigin::Sac(id),
        source: opening.source,
        locality: opening.locality.clone(),
        started_on: opening.day,
        housing: opening.housing,
        shelf: opening.shelf,
        position: opening.position,
        span_mm: None,
        note: opening.note.clone(),
        counts: found.into_iter().collect(),
    };
    let cohort = cohorts::store::insert(write, &new).await?;
    let taken = cohorts::store::keep_tally(write, cohort, opening.day, opening.tally, None).await?;
    if taken != opening.counts.iter().map(|(_, quantity)| *quantity).sum::<u32>() {
        return Err(AppError::refused("third", "The last count does not add up. Enter it again."));
    }
    for bad in opening.bad.iter().filter(|bad| bad.quantity > 0) {
        let line = NewLine::lost(opening.day, bad.stage, bad.quantity, bad.cause).with_note("bad when the sac was opened");
        cohorts::store::post(write, cohort, &line).await?;
    }
    end_sac(write, id, SacState::Opened, opening.day, &opening.note).await?;
    Ok(cohort)
}

/// Marks a sac as failed.
///
/// # Errors
/// A sac that has ended, a day before the laying or still to come.
pub async fn fail_sac(write: &mut Write, id: SacId, day: NaiveDate, cause: LossCause, note: &str) -> Result<(), AppError> {
    incubating(write, id, day).await?;
    let note = if note.is_empty() { cause.to_string() } else { format!("{cause}: {note}") };
    end_sac(write, id, SacState::Failed, day, &note).await
}

async fn end_sac(write: &mut Write, id: SacId, state: SacState, day: NaiveDate, note: &str) -> Result<(), AppError> {
    sqlx::query(
        "UPDATE sac SET state = ?, ended_on = ?, end_note = ?, shelf_id = NULL, position = NULL, version = version + 1 WHERE id = ?",
    )
    .bind(state)
    .bind(day)
    .bind(note)
    .bind(id)
    .execute(write.db())
    .await?;
    Ok(())
}
