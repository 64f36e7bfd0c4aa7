//! What is known of two animals before they are put together, gathered for the check.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::sires::mixed_line_of_animal;
use crate::animals;
use crate::animals::model::{Animal, AnimalStatus};
use crate::handling;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, MemberId};
use crate::house::text;
use crate::reckoning::breeding::check::{Female, Finding, Male, OneOfTwo, People, Planned, Related, look as weigh, mixed};
use crate::reckoning::condition::Scored;
use crate::reckoning::hazard::Requirement;
use crate::reckoning::pedigree::{Individual, Pedigree};
use crate::reckoning::who_may::{Part, missing};
use crate::reckoning::words::Exposure;
use crate::species;

/// When it is looked at: the instant, the site's zone, and who looks.
pub type Asking = (DateTime<Utc>, Tz, Option<MemberId>);

/// Everything that was found of two animals that may be put together on a day, and in what their lines differ (empty when they
/// do not).
///
/// # Errors
/// [`AppError::NotFound`] when one of them is not in the book.
pub async fn look(
    db: &mut SqliteConnection,
    dam: AnimalId,
    sire: AnimalId,
    day: NaiveDate,
    asking: Asking,
) -> Result<(Vec<Finding>, String), AppError> {
    let (her, him) = (animals::store::require(&mut *db, dam).await?, animals::store::require(&mut *db, sire).await?);
    let female = female(&mut *db, &her, day, asking.1).await?;
    let rules = species::store::rules_now(&mut *db, her.species_id).await?;
    let group = species::store::require(&mut *db, her.species_id).await?.sac_group;
    let planned = Planned {
        day,
        related: related(&mut *db, &her.tag, &him.tag).await?,
        people: people(&mut *db, (dam, sire), day, asking.2).await?,
        dam: one(&mut *db, &her, asking).await?,
        sire: one(&mut *db, &him, asking).await?,
        male: Male { mature: him.is_mature(), mature_on: him.mature_on },
        days_to_sac: rules.incubation.days_to_sac(group),
        female,
    };
    let mixed = if planned.dam.species == planned.sire.species { mixed(&planned.dam, &planned.sire) } else { String::new() };
    Ok((weigh(&planned), mixed))
}

async fn one(db: &mut SqliteConnection, animal: &Animal, (now, zone, _): Asking) -> Result<OneOfTwo, AppError> {
    let holds = handling::store::holds_of_animal(&mut *db, animal.id, now).await?;
    let held = holds.iter().map(|hold| {
        let until =
            hold.until_at.map_or_else(|| "until somebody lifts it".to_owned(), |until| format!("until {}", text::instant(&until, &zone)));
        format!("{} {until}", hold.kind)
    });
    let gone = animal.status != AnimalStatus::Alive;
    Ok(OneOfTwo {
        tag: animal.tag.clone(),
        id: animal.id.0,
        species: animal.species_id.0,
        species_name: animal.species_name.clone(),
        line: animal.locality.clone(),
        mixed: mixed_line_of_animal(db, animal.id).await?.map(|mixed| mixed.words).unwrap_or_default(),
        sex: animal.sex,
        since: animal.started_on,
        left: animal.status_on.filter(|_| gone).map(|on| (on, animal.status.to_string())),
        moult: animal.moult_state,
        holds: held.collect(),
    })
}

async fn female(db: &mut SqliteConnection, her: &Animal, day: NaiveDate, zone: Tz) -> Result<Female, AppError> {
    let last_moult: Option<NaiveDate> = sqlx::query_scalar("SELECT MAX(day) FROM moult_standing WHERE animal_id = ? AND day <= ?")
        .bind(her.id)
        .bind(day)
        .fetch_one(&mut *db)
        .await?;
    let (first, last, meals): (Option<NaiveDate>, Option<NaiveDate>, u32) = sqlx::query_as(
        "SELECT MIN(day), MAX(day), COUNT(*) FROM meal_standing WHERE animal_id = ?1 AND outcome = 'took' AND day <= ?2 AND day >= COALESCE(?3, '')",
    )
    .bind(her.id)
    .bind(day)
    .bind(last_moult)
    .fetch_one(&mut *db)
    .await?;
    let scored: Option<(crate::reckoning::condition::Condition, NaiveDate)> = sqlx::query_as(
        "SELECT condition, day FROM body_condition_standing WHERE animal_id = ? AND day <= ? ORDER BY day DESC, id DESC LIMIT 1",
    )
    .bind(her.id)
    .bind(day)
    .fetch_optional(&mut *db)
    .await?;
    let with_sac: bool =
        sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM sac WHERE dam_id = ? AND state = 'incubating' AND incubation = 'with-dam')")
            .bind(her.id)
            .fetch_one(&mut *db)
            .await?;
    let book = animals::store::moult_book(&mut *db, Some(her.species_id), zone).await?;
    Ok(Female {
        last_moult,
        fed: first.zip(last),
        meals,
        scored: scored.map(|(condition, day)| Scored { condition, day }),
        with_sac,
        next_moult: book.forecast(her.species_id, her.id, day).map(|told| (told.from, told.to)),
    })
}

/// How related two are by the book; none when nobody could tell.
async fn related(db: &mut SqliteConnection, dam: &str, sire: &str) -> Result<Option<Related>, AppError> {
    let recorded = super::pedigree(db).await?;
    let individuals: Vec<Individual<String>> = recorded.into_iter().map(|animal| animal.individual).collect();
    let internal = |error| AppError::Internal(anyhow::Error::new(error));
    let pedigree = Pedigree::new(&individuals).map_err(internal)?;
    let inbreeding = pedigree.inbreeding().map_err(internal)?;
    let common = inbreeding.common_ancestors(&dam.to_owned(), &sire.to_owned(), 1).map_err(internal)?;
    Ok(Some(Related { kinship: common.kinship, words: common.relationship.sentence }))
}

/// What the bands of two animals ask of people with hands in, both bands first: the dam's and the sire's.
///
/// # Errors
/// [`AppError::NotFound`] when one of them is not in the book.
pub async fn asked_of_people(db: &mut SqliteConnection, dam: AnimalId, sire: AnimalId) -> Result<((u8, u8), Requirement), AppError> {
    let table = handling::store::exposure_table(&mut *db).await?;
    let (_, hers) = animals::store::hazard(&mut *db, dam).await?;
    let (_, his) = animals::store::hazard(&mut *db, sire).await?;
    let (one, other) = (table.required(hers.band, Exposure::HandsIn), table.required(his.band, Exposure::HandsIn));
    let asked = Requirement { clearance: one.clearance.max(other.clearance), persons: one.persons.max(other.persons) };
    Ok(((hers.band.level(), his.band.level()), asked))
}

async fn people(
    db: &mut SqliteConnection,
    (dam, sire): (AnimalId, AnimalId),
    day: NaiveDate,
    who: Option<MemberId>,
) -> Result<People, AppError> {
    let (bands, asked) = asked_of_people(&mut *db, dam, sire).await?;
    let team = handling::store::team(&mut *db, day).await?;
    let able = |part: Part| {
        let may = team.iter().filter(|who| missing(asked, part, who.standing()).is_none());
        may.map(|who| who.person.name.clone()).collect::<Vec<_>>()
    };
    let lacks = match who {
        Some(who) => handling::store::lacking(&mut *db, who, asked, Part::First, day).await?,
        None => None,
    };
    Ok(People { bands, asked: Some(asked), lacks, first: able(Part::First), second: able(Part::Second) })
}
