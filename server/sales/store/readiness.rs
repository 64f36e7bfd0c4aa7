//! Gathers what bears on whether each line of a handover may leave today.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use super::sale_facts::{self, Book};
use super::who_has;
use crate::house::errors::AppError;
use crate::house::ids::HandoverId;
use crate::reckoning::sale_readiness::{SaleFacts, readiness, readiness_to_send};
use crate::reckoning::stage::Stage;
use crate::sales::model::{CheckedLine, Item, Keeper, Line, OutingLine, Way};

/// The lines of a handover, each with what speaks against its leaving at that instant.
///
/// # Errors
/// The database can't be read.
pub async fn checked_lines(db: &mut SqliteConnection, id: HandoverId, now: DateTime<Utc>, zone: Tz) -> Result<Vec<CheckedLine>, AppError> {
    let keeper = super::reserved::keeper_of(&mut *db, id).await?;
    let lines = super::lines(&mut *db, id).await?;
    check_all(db, lines, keeper, now, zone).await
}

/// One line with what speaks against its leaving at that instant.
///
/// # Errors
/// The database can't be read.
pub async fn check(db: &mut SqliteConnection, line: Line, now: DateTime<Utc>, zone: Tz) -> Result<CheckedLine, AppError> {
    let keeper = match line.handover_id {
        Some(handover) => super::reserved::keeper_of(&mut *db, handover).await?,
        None => Keeper::default(),
    };
    check_all(db, vec![line], keeper, now, zone).await?.pop().ok_or(AppError::NotFound)
}

/// Lines with what speaks against their leaving at that instant, for somebody for whom stock may be kept.
///
/// # Errors
/// The database can't be read.
pub async fn check_all(
    db: &mut SqliteConnection,
    lines: Vec<Line>,
    keeper: Keeper,
    now: DateTime<Utc>,
    zone: Tz,
) -> Result<Vec<CheckedLine>, AppError> {
    if lines.is_empty() {
        return Ok(Vec::new());
    }
    let book = Book::read(&mut *db, now, zone).await?;
    let mut checked = Vec::with_capacity(lines.len());
    for line in lines {
        checked.push(check_one(&mut *db, line, keeper, &book).await?);
    }
    Ok(checked)
}

async fn check_one(db: &mut SqliteConnection, line: Line, keeper: Keeper, book: &Book) -> Result<CheckedLine, AppError> {
    let item = line.item().ok_or(AppError::NotFound)?;
    let found = match item {
        Item::Animal(animal) => sale_facts::animals(&mut *db, Some(animal), book).await?,
        Item::Lot(lot) => sale_facts::lots(&mut *db, Some((lot.cohort, lot.stage)), keeper, book).await?,
    };
    let mut subject = found.into_iter().next().ok_or(AppError::NotFound)?;
    if let Some(lot) = &mut subject.facts.lot {
        lot.asked = line.quantity;
    }
    let impossible = impossible(&mut *db, &line, item, &subject.facts, keeper, book).await?;
    let (sent, at_stall) = match line.handover_id {
        Some(id) => {
            let sent = super::require_handover(&mut *db, id).await?.way == Way::Dispatch;
            (sent, super::outings::left_at_stall(&mut *db, id).await?)
        }
        None => (false, None),
    };
    let impossible = impossible.or_else(|| not_left(&line, at_stall.as_deref()?));
    let band = Some(i64::from(subject.hazard.band.level()));
    let today = book.today();
    let findings = if sent { readiness_to_send(&subject.facts, today) } else { readiness(&subject.facts, today) };
    Ok(CheckedLine { findings, line, band, impossible })
}

/// Why a line can't be sold at a stall: fewer are left of it there.
fn not_left(line: &Line, stall: &[OutingLine]) -> Option<String> {
    let left = super::outings::left_of(stall, line.item()?);
    let what = crate::house::text::capitalised(&line.words());
    (left < line.quantity).then(|| format!("{what}: {left} are left on the outing. Enter fewer, or take it off the list."))
}

/// Why a line cannot leave whatever anybody says, and who has what it asks for.
async fn impossible(
    db: &mut SqliteConnection,
    line: &Line,
    item: Item,
    facts: &SaleFacts,
    keeper: Keeper,
    book: &Book,
) -> Result<Option<String>, AppError> {
    let why = match (&facts.not_available, facts.lot) {
        (Some(status), _) => format!("Tag {} is not in the house: {status}.", line.label),
        (None, Some(lot)) if lot.asked > lot.free => {
            let stage = line.stage.map_or_else(String::new, Stage::label);
            format!("{} asked for, but cohort {} has {} free at {stage}. Enter fewer.", lot.asked, line.label, lot.free)
        }
        (None, Some(_)) => return Ok(None),
        (None, None) if facts.held_back => {
            return Ok(Some(format!("Tag {} is held back for breeding: a lead releases it first. Take it off the list.", line.label)));
        }
        (None, None) => {
            let kept = who_has::kept_for_others(&mut *db, item, book.today(), keeper).await?;
            if kept.is_empty() {
                return Ok(None);
            }
            let kept = kept.iter().map(|kept| format!("reserved for somebody else {kept}")).collect::<Vec<_>>().join(", ");
            return Ok(Some(format!("Tag {} is {kept}. Take it off the list, or release that first.", line.label)));
        }
    };
    let who = who_has::told(db, item, book.today(), keeper).await?;
    let off = if facts.lot.is_none() { " Take it off the list." } else { "" };
    Ok(Some(format!("{why}{who}{off}")))
}
