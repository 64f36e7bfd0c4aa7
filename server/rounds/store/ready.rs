//! What must be ready before work with hands in: the second person, the list, and a box of the right size.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::assign::second_shortfall;
use super::read::known_of;
use crate::animals::model::Enclosure;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::{AnimalId, MemberId};
use crate::reckoning::enclosure::{Measure, NewBox, Occupant, SizeCheck, check_size, needed_size, settle_days};
use crate::reckoning::hazard::rehouse_checklist;
use crate::reckoning::words::{DutyKind, Exposure, Habit, LifeStage};
use crate::rounds::model::{Detail, Duty, NewSignoff};
use crate::{animals, handling};

/// When somebody signs: the instant, its local day and the site's zone.
#[derive(Debug, Clone, Copy)]
pub struct When {
    /// The instant.
    pub at: DateTime<Utc>,
    /// The local day.
    pub today: NaiveDate,
    /// The zone.
    pub zone: Tz,
}

/// The lines that must be ticked before a duty is done: those of its hazard where it needs a list, and the house's own for
/// a rehouse of its band.
///
/// # Errors
/// The database can't be read.
pub async fn checklist_of(db: &mut SqliteConnection, duty: &Duty, when: When) -> Result<Vec<String>, AppError> {
    let mut lines: Vec<String> = Vec::new();
    if duty.exposure != Exposure::HandsIn {
        return Ok(lines);
    }
    if duty.needs_checklist() {
        let known = known_of(&mut *db, duty.subject(), when.at, when.zone).await?;
        lines.extend(known.hazard(duty.subject()).map(rehouse_checklist).unwrap_or_default().into_iter().map(str::to_owned));
    }
    if duty.kind == DutyKind::Rehouse {
        lines.extend(handling::store::house_lines(db, duty.band).await?);
    }
    Ok(lines)
}

/// All that is not ready for a sign-off that says the work was done, each at its field; empty when all is.
///
/// # Errors
/// The database can't be read.
pub async fn faults(db: &mut SqliteConnection, signer: MemberId, duty: &Duty, new: &NewSignoff, when: When) -> Result<Mistakes, AppError> {
    let mut mistakes = Mistakes::none();
    tools(db, duty, new, when, &mut mistakes).await?;
    if let (Some(animal), Detail::Rehouse { enclosure, despite, .. }) = (duty.animal_id, &new.detail) {
        for (field, says) in size_faults(&size(&mut *db, animal, enclosure).await?, despite) {
            mistakes.add(field, says);
        }
    }
    second(db, signer, duty, new, when, &mut mistakes).await?;
    Ok(mistakes)
}

async fn tools(db: &mut SqliteConnection, duty: &Duty, new: &NewSignoff, when: When, mistakes: &mut Mistakes) -> Result<(), AppError> {
    let lines = checklist_of(db, duty, when).await?;
    let missing: Vec<&str> = lines.iter().filter(|line| !new.checklist.contains(line)).map(String::as_str).collect();
    if !missing.is_empty() {
        mistakes.add("checklist", format!("Tick every line before the lid comes off. Still missing: {}.", missing.join("; ")));
    }
    Ok(())
}

async fn second(
    db: &mut SqliteConnection,
    signer: MemberId,
    duty: &Duty,
    new: &NewSignoff,
    when: When,
    mistakes: &mut Mistakes,
) -> Result<(), AppError> {
    match new.second {
        _ if !duty.takes_two() => {}
        None => mistakes.add("second", "This takes two people. Choose the second person, who enters their PIN."),
        Some(second) if second == signer => {
            mistakes.add("second", "The second person must be somebody else than the one who signs.");
        }
        Some(second) => {
            let lacks = match second_shortfall(db, second, duty, when.today).await {
                Err(AppError::NotFound) => Some("This person is not in the book. Choose another.".to_owned()),
                lacks => lacks?,
            };
            if let Some(lacks) = lacks {
                mistakes.add("second", lacks);
            }
        }
    }
    Ok(())
}

/// What the rules of size say of an animal's new enclosure; nothing where its span was never taken.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal.
pub(super) async fn size(db: &mut SqliteConnection, id: AnimalId, enclosure: &Enclosure) -> Result<SizeCheck, AppError> {
    let Some(occupant) = occupant(db, id).await? else { return Ok(SizeCheck::default()) };
    let mm = |length: i64| u32::try_from(length).unwrap_or(0);
    let new =
        NewBox { length_mm: mm(enclosure.length_mm), width_mm: enclosure.width_mm.map(mm), fall_gap_mm: enclosure.fall_gap_mm.map(mm) };
    Ok(check_size(&new, occupant))
}

/// Who moves in: its span, life stage and habit; none where its span was never taken.
pub(super) async fn occupant(db: &mut SqliteConnection, id: AnimalId) -> Result<Option<Occupant>, AppError> {
    let row: Option<(u32, bool, u32, Habit)> = sqlx::query_as(
        "SELECT span_mm, mature_on IS NOT NULL OR sex_basis = 'mature', adult_span_min_mm, habit
         FROM animal JOIN animal_now ON animal_now.animal_id = animal.id JOIN species ON species.id = animal.species_id
         WHERE animal.id = ? AND span_mm IS NOT NULL",
    )
    .bind(id)
    .fetch_optional(db)
    .await?;
    Ok(row.map(|(span_mm, mature, adult_min, habit)| {
        let life_stage = crate::species::model::life_stage(Some(i64::from(span_mm)), mature, adult_min);
        Occupant { span_mm, life_stage, habit }
    }))
}

/// What the rules of size ask of an animal's new box, in a sentence; none where its span was never taken.
///
/// # Errors
/// The database can't be read.
pub async fn wanted_size(db: &mut SqliteConnection, id: AnimalId) -> Result<Option<String>, AppError> {
    Ok(occupant(db, id).await?.map(|occupant| {
        let needed = needed_size(occupant.span_mm);
        let (least, most) = settle_days(occupant.life_stage);
        let gap = if occupant.fears_falls() { format!(", at most {} mm from substrate to lid", needed.fall_gap_mm) } else { String::new() };
        let large = if occupant.life_stage == LifeStage::Spiderling {
            format!(", no longer than {} mm", occupant.span_mm * 8)
        } else {
            String::new()
        };
        format!(
            "Leg span {} mm: at least {} × {} mm{large}{gap}. In the new box it is not fed for {least} to {most} days.",
            occupant.span_mm, needed.length_mm, needed.width_mm
        )
    }))
}

/// The remarks at their fields: what can't be, and what takes a reason that was not given.
fn size_faults(check: &SizeCheck, despite: &str) -> Vec<(&'static str, String)> {
    let field = |measure| match measure {
        Measure::Length => "length_mm",
        Measure::Width => "width_mm",
        Measure::FallGap => "fall_gap_mm",
    };
    let mut faults: Vec<(&'static str, String)> =
        check.impossible.iter().map(|remark| (field(remark.measure), remark.says.clone())).collect();
    if despite.is_empty() && !check.broken.is_empty() {
        faults.extend(check.broken.iter().map(|remark| (field(remark.measure), remark.says.clone())));
        faults.push(("size_known", "Change the box, or tick that you know and say why.".to_owned()));
    }
    faults
}

/// The life stage of an animal, for how long it settles.
pub(super) async fn stage_of(db: &mut SqliteConnection, id: AnimalId) -> Result<LifeStage, AppError> {
    Ok(animals::store::require(db, id).await?.life_stage())
}
