//! The check of what is packed: each tag or code that is scanned ticks its line, and anything else is refused.

use sqlx::SqliteConnection;

use super::require_draft;
use crate::animals;
use crate::cohorts;
use crate::handling;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{CohortId, HandoverId, MemberId};
use crate::house::write::Write;
use crate::reckoning::hazard::{Band, Requirement};
use crate::reckoning::tag;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::Exposure;
use crate::sales::model::{NewPacking, PackLine};

/// The lines of a handover with how many of each are in the box.
///
/// # Errors
/// The database can't be read.
pub async fn pack_lines(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<PackLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.animal_id, line.cohort_id, line.stage, COALESCE(animal.tag, cohort.code) AS label, species.accepted_name AS species,
                line.quantity,
                (SELECT MAX(COALESCE(SUM(packed.quantity), 0), 0) FROM packed WHERE packed.handover_id = line.handover_id
                 AND (packed.animal_id = line.animal_id OR (packed.cohort_id = line.cohort_id AND packed.stage = line.stage))) AS packed
         FROM handover_line AS line
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         WHERE line.handover_id = ? ORDER BY line.id",
    )
    .bind(id)
    .fetch_all(db)
    .await?)
}

/// What is not in the box yet, or is in it too often, in words.
///
/// # Errors
/// The database can't be read.
pub async fn missing(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<String>, AppError> {
    let lines = pack_lines(db, id).await?;
    Ok(lines.iter().filter(|line| line.packed != line.quantity).map(in_words).collect())
}

fn in_words(line: &PackLine) -> String {
    match line.missing() {
        0 => format!("{} too many of {}: take them out", line.packed - line.quantity, line.words(line.quantity)),
        missing => line.words(missing),
    }
}

/// Ticks what was scanned. All of it or nothing: whatever is wrong is named.
///
/// # Errors
/// Codes that are not on the handover, mistyped tags with what may have been meant, more than go, people who may not pack it.
pub async fn pack(write: &mut Write, id: HandoverId, new: &NewPacking) -> Result<Vec<String>, AppError> {
    require_draft(write.db(), id).await?;
    let mut lines = pack_lines(write.db(), id).await?;
    let (mut mistakes, mut told) = (Mistakes::none(), Vec::new());
    for code in &new.codes {
        match tick(write, id, &mut lines, code, new).await {
            Ok(words) => told.push(words),
            Err(AppError::Refused(why)) => why.all().for_each(|mistake| mistakes.add(mistake.field, mistake.message.clone())),
            Err(other) => return Err(other),
        }
    }
    if mistakes.is_empty() { Ok(told) } else { Err(mistakes.into()) }
}

async fn tick(write: &mut Write, id: HandoverId, lines: &mut [PackLine], code: &str, new: &NewPacking) -> Result<String, AppError> {
    let code = scanned(code);
    let animal = animals::store::find_by_tag(write.db(), &code).await?;
    let cohort = if animal.is_none() { cohort_of(write.db(), &code).await? } else { None };
    let is_it = |line: &PackLine| (animal.is_some() && line.animal_id == animal) || (cohort.is_some() && line.cohort_id == cohort);
    // Of a cohort that goes at two stages, the line that is not full yet.
    let place = lines.iter().position(|line| is_it(line) && line.missing() > 0).or_else(|| lines.iter().position(&is_it));
    let Some(line) = place.and_then(|place| lines.get_mut(place)) else {
        let why = if animal.is_some() || cohort.is_some() {
            format!("{code} is not on this handover. Put it back where it stands.")
        } else {
            no_such_tag(&code)
        };
        return Err(AppError::refused("code", why));
    };
    let count = if line.animal_id.is_some() { 1 } else { new.count.unwrap_or(1) };
    if line.missing() == 0 {
        return Err(AppError::refused("code", format!("{} is in the box already: all {} of it.", line.label, line.quantity)));
    }
    if count > line.missing() {
        return Err(AppError::refused("count", format!("Only {} more of {} go: {count} is too many.", line.missing(), line.label)));
    }
    let band = band(write, line).await?;
    may_pack(write, line, band, new.packer, new.second).await?;
    insert(write, id, line, i64::from(count), band, new).await?;
    line.packed += count;
    Ok(format!("{} ({} of {})", line.words(count), line.packed, line.quantity))
}

/// The tag or code in what a scanner gives: the address on a label holds it last.
#[must_use]
pub fn scanned(typed: &str) -> String {
    let typed = typed.trim();
    // Some scanners give capitals only.
    let last = typed.rsplit_once("/t/").or_else(|| typed.rsplit_once("/T/")).map_or(typed, |(_, code)| code);
    let last = last.split(['?', '#']).next().unwrap_or(last);
    last.trim_end_matches('/').replace("%20", " ")
}

/// The cohort of a scanned code, in capitals or not.
///
/// # Errors
/// The database can't be read.
pub async fn cohort_of(db: &mut SqliteConnection, code: &str) -> Result<Option<CohortId>, AppError> {
    match cohorts::store::find_by_code(&mut *db, code).await? {
        Some(cohort) => Ok(Some(cohort)),
        None => cohorts::store::find_by_code(db, &code.to_uppercase()).await,
    }
}

/// What to say of a tag that no animal has: where it may be mistyped, when its check character tells so.
#[must_use]
pub fn no_such_tag(typed: &str) -> String {
    let typed = tag::normalise(typed);
    if tag::holds(&typed) {
        return format!("No animal has the tag {typed}. Read it again from the label.");
    }
    let meant: Vec<String> = tag::corrections(&typed)
        .into_iter()
        .take(3)
        .map(|slip| format!("{} (character {}: {} for {})", slip.tag, slip.position, slip.typed, slip.meant))
        .collect();
    if meant.is_empty() {
        return format!("{typed} is not a tag of this house. Read it again from the label.");
    }
    format!("{typed} is mistyped: its check character does not fit. Perhaps {}.", meant.join(", or "))
}

async fn band(write: &mut Write, line: &PackLine) -> Result<Band, AppError> {
    let hazard = match (line.animal_id, line.cohort_id) {
        (Some(animal), _) => animals::store::hazard(write.db(), animal).await?.1,
        (None, Some(cohort)) => cohorts::store::hazard(write.db(), cohort).await?.1,
        (None, None) => return Err(AppError::NotFound),
    };
    Ok(hazard.band)
}

/// What packing asks for: hands are in.
///
/// # Errors
/// The database can't be read.
pub async fn asked(db: &mut SqliteConnection, band: Band) -> Result<Requirement, AppError> {
    Ok(handling::store::exposure_table(db).await?.required(band, Exposure::HandsIn))
}

/// Refuses people who may not pack this.
async fn may_pack(write: &mut Write, line: &PackLine, band: Band, packer: MemberId, second: Option<MemberId>) -> Result<(), AppError> {
    let (today, asked) = (write.today, asked(write.db(), band).await?);
    let takes = format!("Packing {} takes clearance {}", line.label, asked.clearance);
    let mut mistakes = Mistakes::none();
    if let Some(why) = handling::store::lacking(write.db(), packer, asked, Part::First, today).await? {
        mistakes.add("packer", format!("{takes}: {why}."));
    }
    if asked.persons >= 2 {
        match second {
            None => mistakes.add("second", format!("{takes} and two people: choose the second.")),
            Some(second) if second == packer => mistakes.add("second", "The second person is somebody else than the first."),
            Some(second) => {
                if let Some(why) = handling::store::lacking(write.db(), second, asked, Part::Second, today).await? {
                    mistakes.add("second", format!("{takes} and a second with one less: {why}."));
                }
            }
        }
    }
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes.into()) }
}

async fn insert(write: &mut Write, id: HandoverId, line: &PackLine, quantity: i64, band: Band, new: &NewPacking) -> Result<(), AppError> {
    let (who, at, today) = (write.who, write.at, write.today);
    sqlx::query(
        "INSERT INTO packed (handover_id, animal_id, cohort_id, stage, quantity, band, packer_id, second_id, member_id, day, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )
    .bind(id)
    .bind(line.animal_id)
    .bind(line.cohort_id)
    .bind(line.stage)
    .bind(quantity)
    .bind(i64::from(band.level()))
    .bind(new.packer)
    .bind(new.second)
    .bind(who)
    .bind(today)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Takes a code's line out of the box again, all of it.
///
/// # Errors
/// A code that is not in the box; people who may not open it.
pub async fn unpack(write: &mut Write, id: HandoverId, code: &str, new: &NewPacking) -> Result<String, AppError> {
    require_draft(write.db(), id).await?;
    let lines = pack_lines(write.db(), id).await?;
    let line = lines.iter().find(|line| line.label.eq_ignore_ascii_case(code) && line.packed > 0);
    let line = line.ok_or_else(|| AppError::conflict("This is not in the box any more."))?;
    let band = band(write, line).await?;
    insert(write, id, line, -i64::from(line.packed), band, new).await?;
    Ok(line.words(line.packed))
}
