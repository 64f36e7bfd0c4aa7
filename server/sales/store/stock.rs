//! The stock for sale, by the same check that a handover makes: a few statements for the whole house.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::reserved;
use super::sale_facts::{self, Book, Subject};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId};
use crate::reckoning::sale_readiness::{SaleFacts, may_leave, may_leave_from, readiness};
use crate::sales::model::{Item, Keeper, Reservation, StockItem};

/// All tagged animals that live here and every stage at which a cohort has some, by species and label.
///
/// # Errors
/// The database can't be read.
pub async fn stock(db: &mut SqliteConnection, now: DateTime<Utc>, zone: Tz) -> Result<Vec<StockItem>, AppError> {
    let book = Book::read(&mut *db, now, zone).await?;
    let mut kept = Kept::read(&mut *db, book.today()).await?;
    let mut subjects = sale_facts::animals(&mut *db, None, &book).await?;
    subjects.extend(sale_facts::lots(db, None, Keeper::default(), &book).await?);
    let mut items: Vec<StockItem> = subjects.into_iter().map(|subject| item(subject, &mut kept, book.today())).collect();
    items.sort_by(|a, b| (&a.species, a.animal.is_some(), &a.label, a.stage).cmp(&(&b.species, b.animal.is_some(), &b.label, b.stage)));
    Ok(items)
}

/// One animal or one stage of a cohort, with what speaks against its leaving for anybody.
///
/// # Errors
/// [`AppError::NotFound`] when there is none.
pub async fn one(db: &mut SqliteConnection, of: Item, now: DateTime<Utc>, zone: Tz) -> Result<StockItem, AppError> {
    let book = Book::read(&mut *db, now, zone).await?;
    let mut kept = Kept::read(&mut *db, book.today()).await?;
    let found = match of {
        Item::Animal(animal) => sale_facts::animals(db, Some(animal), &book).await?,
        Item::Lot(lot) => sale_facts::lots(db, Some((lot.cohort, lot.stage)), Keeper::default(), &book).await?,
    };
    let subject = found.into_iter().next().ok_or(AppError::NotFound)?;
    Ok(item(subject, &mut kept, book.today()))
}

/// What stands, by what it is of.
struct Kept {
    animals: HashMap<AnimalId, Reservation>,
    cohorts: HashMap<CohortId, Vec<Reservation>>,
}

impl Kept {
    async fn read(db: &mut SqliteConnection, day: NaiveDate) -> Result<Self, AppError> {
        let mut kept = Self { animals: HashMap::new(), cohorts: HashMap::new() };
        for reservation in reserved::standing(db, day).await? {
            match (reservation.animal_id, reservation.cohort_id) {
                (Some(animal), _) => drop(kept.animals.insert(animal, reservation)),
                (None, Some(cohort)) => kept.cohorts.entry(cohort).or_default().push(reservation),
                (None, None) => {}
            }
        }
        Ok(kept)
    }
}

fn item(subject: Subject, kept: &mut Kept, today: NaiveDate) -> StockItem {
    let reserved = match (subject.animal, subject.cohort) {
        (Some(animal), _) => kept.animals.remove(&animal).into_iter().collect(),
        (None, Some(cohort)) => kept.cohorts.get(&cohort).cloned().unwrap_or_default(),
        (None, None) => Vec::new(),
    };
    let is_animal = subject.animal.is_some();
    let free = subject.facts.lot.map_or(u32::from(reserved.is_empty() && subject.facts.not_available.is_none()), |lot| lot.free);
    let (ready, findings) = ready(&subject.facts, free, today);
    let from = if ready == 0 && (is_animal || free > 0) { may_leave_from(&subject.facts, today) } else { None };
    StockItem {
        animal: subject.animal,
        cohort: subject.cohort,
        stage: subject.facts.stage,
        label: subject.label,
        species_id: subject.species_id,
        species: subject.species,
        life_stage: subject.facts.life_stage,
        sex: subject.sex,
        span_mm: subject.facts.span_mm,
        place: subject.place,
        position: subject.position,
        band: i64::from(subject.hazard.band.level()),
        here: subject.here,
        free,
        ready,
        findings,
        from,
        reserved,
    }
}

/// How many of those that are free may leave today, with what is to be said of them. Where some of a lot moulted lately, the
/// check is asked again for the others.
fn ready(facts: &SaleFacts, free: u32, today: NaiveDate) -> (u32, Vec<crate::reckoning::sale_readiness::Finding>) {
    let all = readiness(facts, today);
    if may_leave(&all) {
        return (free, all);
    }
    let others = facts.lot.map_or(0, |lot| lot.free.saturating_sub(lot.recent));
    if others > 0 {
        let mut fewer = facts.clone();
        if let Some(lot) = &mut fewer.lot {
            lot.asked = others;
        }
        let findings = readiness(&fewer, today);
        if may_leave(&findings) {
            return (others, findings);
        }
    }
    (0, all)
}
