//! What follows from a sign-off: meals, moults, moves, losses and holds.

use chrono::NaiveDate;

use super::read::known_of;
use super::{group, ready};
use crate::animals::model::{AnimalStatus, NewMeal, NewMoult, NewMove, Offer};
use crate::handling::model::{HoldSubject, NewAssessment, NewHold};
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, ReadingId, SacId, SignoffId};
use crate::house::site::Site;
use crate::house::write::Write;
use crate::reckoning::calendar::{day_in, days_after};
use crate::reckoning::enclosure::settle_days;
use crate::reckoning::moult::fast_of;
use crate::reckoning::planner::SubjectKey;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::{DutyKind, Exposure, HoldKind, LifeStage, MealOutcome, MoultState};
use crate::rooms::model::NewReading;
use crate::rounds::model::{Assessed, Detail, Duty, FromStock, NewSignoff, Outcome, RackReading};
use crate::{animals, breeding, cohorts, handling, rooms};

/// Writes what a sign-off brings, and gives what to tell whoever signed.
///
/// # Errors
/// Mistakes when what goes with the outcome is missing or does not add up.
pub(super) async fn apply(write: &mut Write, duty: &Duty, new: &NewSignoff, id: SignoffId) -> Result<Option<String>, AppError> {
    match duty.animal_id {
        Some(animal) if new.outcome == Outcome::Aborted => broken_off(write, animal, new, id).await.map(Some),
        Some(animal) if new.outcome == Outcome::Done && duty.kind == DutyKind::Rehouse => {
            rehoused(write, (duty, animal), new, id).await.map(Some)
        }
        Some(animal) if new.outcome == Outcome::Moulted => moulted(write, duty.subject(), animal, new, Some(id)).await,
        _ => otherwise(write, duty, new, id).await.map(|()| None),
    }
}

async fn otherwise(write: &mut Write, duty: &Duty, new: &NewSignoff, id: SignoffId) -> Result<(), AppError> {
    match (duty.animal_id, duty.cohort_id, duty.sac_id) {
        _ if new.outcome == Outcome::CouldNot => Ok(()),
        _ if new.outcome == Outcome::Threat => threat(write, duty, id).await,
        (Some(animal), _, _) => of_animal(write, duty, animal, new, id).await,
        (None, Some(cohort), _) => group::apply(write, duty, cohort, new, id).await,
        (None, None, Some(sac)) => of_sac(write, sac, new, id).await,
        (None, None, None) => of_room(write, duty, new, id).await,
    }
}

/// Takes back what a sign-off brought.
///
/// # Errors
/// Something that has gone on since, such as spiderlings that were sold.
pub(super) async fn strike_out(write: &mut Write, duty: &Duty, id: SignoffId) -> Result<(), AppError> {
    if duty.animal_id.is_some() {
        animals::store::strike_out(write, id).await?;
    }
    if duty.cohort_id.is_some() {
        cohorts::store::strike_out(write, id).await?;
    }
    if let Some(sac) = duty.sac_id {
        breeding::store::legs_not_out(write, sac, id).await?;
    }
    if duty.room_id.is_some() {
        strike_readings(write, id).await?;
    }
    handling::store::lift_holds_of_signoff(write, id).await
}

async fn threat(write: &mut Write, duty: &Duty, id: SignoffId) -> Result<(), AppError> {
    let subject = match (duty.animal_id, duty.cohort_id) {
        (Some(animal), _) => HoldSubject::Animal(animal),
        (None, Some(cohort)) => HoldSubject::Cohort(cohort),
        (None, None) => return Ok(()),
    };
    let site = Site::read(write.db()).await?;
    handling::store::hold_agitated(write, subject, &site, Some(id)).await
}

async fn of_animal(write: &mut Write, duty: &Duty, animal: AnimalId, new: &NewSignoff, id: SignoffId) -> Result<(), AppError> {
    let today = write.made_on;
    match new.outcome {
        Outcome::FoundDead => {
            let Detail::Death(cause) = &new.detail else {
                return Err(AppError::refused("cause", "Say what it died of, or “not known”."));
            };
            animals::store::record_leaving(write, animal, AnimalStatus::Dead, Some(*cause), today).await
        }
        outcome => match (outcome.meal(), outcome.sign()) {
            (Some(meal), _) => fed(write, duty, animal, (meal, new), id).await,
            (_, Some(state)) => signs(write, animal, state, id).await,
            _ => Ok(()),
        },
    }
}

async fn fed(
    write: &mut Write,
    duty: &Duty,
    animal: AnimalId,
    (outcome, new): (MealOutcome, &NewSignoff),
    id: SignoffId,
) -> Result<(), AppError> {
    if duty.kind == DutyKind::ClearUneaten {
        return animals::store::clear_left_in(write, animal, outcome, Some(id)).await;
    }
    let (from_stock, prey) = new.detail.offered();
    let offer = offer(write, duty.subject(), from_stock).await?;
    let day = write.made_on;
    animals::store::record_meal_from(write, animal, &NewMeal { day, prey, outcome, signoff: Some(id) }, offer).await
}

/// What a meal of a subject takes from stock.
pub(super) async fn offer(write: &mut Write, subject: SubjectKey, from_stock: FromStock) -> Result<Option<Offer>, AppError> {
    if from_stock == FromStock::Nothing {
        return Ok(None);
    }
    let book = super::prey::book_of(write.db(), super::plan::scope_of(subject)).await?;
    match from_stock {
        FromStock::Kind(kind) => {
            let offer = book.offer(subject, kind);
            offer.map(Some).ok_or_else(|| AppError::refused("from_stock", "This kind of prey is not in use. Choose one of the list."))
        }
        FromStock::Usual | FromStock::Nothing => Ok(book.of(subject).map(|usual| usual.offer)),
    }
}

/// While it moults nobody reaches in; the hold ends when the moult is over.
async fn signs(write: &mut Write, animal: AnimalId, state: MoultState, id: SignoffId) -> Result<(), AppError> {
    let day = write.made_on;
    animals::store::record_sign(write, animal, state, day, Some(id)).await?;
    let subject = HoldSubject::Animal(animal);
    handling::store::lift_holds(write, subject, HoldKind::Moulting).await?;
    if state == MoultState::Moulting {
        let hold = NewHold {
            subject,
            kind: HoldKind::Moulting,
            blocks: Exposure::HandsIn,
            until_at: None,
            reason: "moulting now: leave it alone".to_owned(),
            signoff: Some(id),
        };
        handling::store::add_hold(write, &hold).await?;
    }
    Ok(())
}

/// A moult ends the moulting hold, and nobody reaches in while the new skin hardens: for the days of the fast. Gives what to
/// tell whoever signs: which pairing of hers it makes void, and that no sac is expected any more.
pub(super) async fn moulted(
    write: &mut Write,
    subject: SubjectKey,
    animal: AnimalId,
    new: &NewSignoff,
    signoff: Option<SignoffId>,
) -> Result<Option<String>, AppError> {
    let Detail::Moult { day, skin_kept, span } = new.detail else {
        return Err(AppError::refused("day", "Say on which day it moulted."));
    };
    let moult = NewMoult { day, skin_kept, note: new.note.clone(), span, signoff };
    animals::store::record_moult(write, animal, &moult).await?;
    let on = HoldSubject::Animal(animal);
    handling::store::lift_holds(write, on, HoldKind::Moulting).await?;
    let free = days_after(day, fast_days(write, subject).await?);
    let until_at = day_in(write.zone, free).map(|day| day.start).unwrap_or(write.at);
    if until_at > write.at {
        let reason = format!("moulted on {}", crate::house::text::day(&day));
        let kind = HoldKind::JustMoulted;
        let hold = NewHold { subject: on, kind, blocks: Exposure::HandsIn, until_at: Some(until_at), reason, signoff };
        handling::store::add_hold(write, &hold).await?;
    }
    Ok(breeding::store::voided_by_moult(write.db(), animal, day).await?.map(|voided| voided.words))
}

async fn fast_days(write: &mut Write, subject: SubjectKey) -> Result<u32, AppError> {
    let (at, zone) = (write.at, write.zone);
    let known = known_of(write.db(), subject, at, zone).await?;
    Ok(known.fast(subject).unwrap_or_else(|| fast_of(None, LifeStage::Adult)).max_days)
}

async fn rehoused(write: &mut Write, (duty, animal): (&Duty, AnimalId), new: &NewSignoff, id: SignoffId) -> Result<String, AppError> {
    let Detail::Rehouse { enclosure, shelf, position, despite, assessed } = &new.detail else {
        return Err(AppError::refused("length_mm", "Say how large the new enclosure is."));
    };
    let day: NaiveDate = write.made_on;
    let broken: Vec<String> = ready::size(write.db(), animal, enclosure).await?.broken.into_iter().map(|remark| remark.says).collect();
    if !broken.is_empty() {
        note_exception(write, id, &broken.join("\n"), despite).await?;
    }
    let to = NewMove { day, shelf: *shelf, position: *position, rehoused: true, enclosure: Some(*enclosure), signoff: Some(id) };
    animals::store::record_move(write, animal, &to).await?;
    if let Some(assessed) = assessed {
        assess(write, duty, new, assessed, id).await?;
    }
    let (least, most) = settle_days(ready::stage_of(write.db(), animal).await?);
    let first = crate::house::text::day(&days_after(day, least));
    Ok(format!("Not fed before {first}: it settles for {least} to {most} days."))
}

/// Keeps why a box is used that breaks a rule of size.
async fn note_exception(write: &mut Write, id: SignoffId, broken: &str, reason: &str) -> Result<(), AppError> {
    sqlx::query("INSERT INTO size_exception (signoff_id, broken, reason) VALUES (?, ?, ?)")
        .bind(id)
        .bind(broken)
        .bind(reason)
        .execute(write.db())
        .await?;
    Ok(())
}

/// Records how one of the two did under the eyes of the other.
async fn assess(write: &mut Write, duty: &Duty, new: &NewSignoff, assessed: &Assessed, id: SignoffId) -> Result<(), AppError> {
    let (Some(signer), Some(second)) = (write.who, new.second.filter(|_| duty.takes_two())) else {
        return Err(AppError::refused("assessed", "An assessment takes two people: the one who works and the one who watches."));
    };
    let (member, assessor) = if assessed.who == Part::First { (signer, second) } else { (second, signer) };
    let Assessed { outcome, note, .. } = assessed.clone();
    let day = write.made_on;
    let recorded = NewAssessment { member, assessor, band: duty.band, outcome, day, note, signoff: Some(id) };
    match handling::store::record_assessment(write, &recorded).await {
        Err(AppError::Refused(why)) => {
            Err(AppError::refused("assessed", why.all().map(|mistake| mistake.message.as_str()).collect::<Vec<_>>().join(" ")))
        }
        other => other.map(drop),
    }
}

/// Breaking off is a normal end: the animal is left alone for as long as after a threat display.
async fn broken_off(write: &mut Write, animal: AnimalId, new: &NewSignoff, id: SignoffId) -> Result<String, AppError> {
    let site = Site::read(write.db()).await?;
    let reason =
        if new.note.is_empty() { "a rehouse was broken off".to_owned() } else { format!("a rehouse was broken off: {}", new.note) };
    let (hours, days) = handling::store::hold_rest(write, HoldSubject::Animal(animal), &site, id, &reason).await?;
    let days = crate::house::text::count(&days, "day", "days");
    Ok(format!("It rests now: no opening for {hours} hours, no hands in for {days}. Then the rehouse is due again."))
}

async fn of_sac(write: &mut Write, sac: SacId, new: &NewSignoff, id: SignoffId) -> Result<(), AppError> {
    let today = write.made_on;
    match new.detail {
        Detail::Pulled => breeding::store::pull_sac(write, sac, today, &new.note).await,
        Detail::LegsOut => breeding::store::legs_out(write, sac, today, id).await,
        _ => Ok(()),
    }
}

/// Readings of the racks of a room, each bound to the sign-off that brought it.
async fn of_room(write: &mut Write, duty: &Duty, new: &NewSignoff, id: SignoffId) -> Result<(), AppError> {
    let missing = || AppError::refused("celsius", "Enter what at least one instrument of the room shows.");
    let (Detail::Readings(readings), Some(room)) = (&new.detail, duty.room_id) else { return Err(missing()) };
    if readings.is_empty() {
        return Err(missing());
    }
    let (at, day) = (write.made_at, write.made_on);
    for RackReading { rack, decicelsius, humidity } in readings.iter().copied() {
        let new = NewReading { rack: Some(rack), at, day, decicelsius, humidity };
        let reading = rooms::store::climate::insert_reading(write, room, &new).await?;
        sqlx::query("INSERT INTO signoff_reading (reading_id, signoff_id) VALUES (?, ?)")
            .bind(reading)
            .bind(id)
            .execute(write.db())
            .await?;
    }
    Ok(())
}

async fn strike_readings(write: &mut Write, id: SignoffId) -> Result<(), AppError> {
    let standing: Vec<ReadingId> = sqlx::query_scalar(
        "SELECT reading_id FROM signoff_reading JOIN climate_reading_standing AS r ON r.id = reading_id WHERE signoff_id = ?",
    )
    .bind(id)
    .fetch_all(write.db())
    .await?;
    for reading in standing {
        rooms::store::climate::strike_reading(write, reading).await?;
    }
    Ok(())
}
