//! The count ledger of a cohort: reading it, posting to it, taking lines back.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::holdback::held_back;
use crate::cohorts::model::{EnteredLine, NewCohort, NewLine, NewOrigin, NewSplit, StageCount};
use crate::handling;
use crate::handling::model::HoldSubject;
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, LineId, SpeciesId};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::ledger::{self, Balance, Bucket, LedgerError, Line, LineKind, Stage};
use crate::reckoning::words::LossCause;

/// A line without what only the page needs: every posting reads the whole ledger.
#[derive(sqlx::FromRow)]
pub(super) struct PlainLine {
    pub(super) id: i64,
    day: NaiveDate,
    kind: LineKind,
    from_bucket: Bucket,
    to_bucket: Bucket,
    quantity: u32,
    cause: Option<LossCause>,
    pub(super) reverses_id: Option<i64>,
}

impl PlainLine {
    pub(super) fn line(self) -> Line {
        let Self { id, day, kind, from_bucket: from, to_bucket: to, quantity, cause, reverses_id: reverses } = self;
        Line { id, day, from, to, quantity, kind, cause, reverses }
    }
}

/// A line with the cohort that it is of.
#[derive(sqlx::FromRow)]
pub(super) struct CohortLine {
    pub(super) cohort_id: CohortId,
    pub(super) moved_line_id: Option<i64>,
    #[sqlx(flatten)]
    pub(super) line: PlainLine,
}

/// The ledgers of every cohort of a species, or of the house, in the order of entry.
///
/// # Errors
/// The database can't be read.
pub(super) async fn lines_of_species(db: &mut SqliteConnection, of: Option<SpeciesId>) -> Result<Vec<CohortLine>, AppError> {
    let (first, last) = SpeciesId::range(of);
    Ok(sqlx::query_as(
        "SELECT line.cohort_id, line.moved_line_id, line.id, line.day, line.kind, line.from_bucket, line.to_bucket, line.quantity,
                line.cause, line.reverses_id
         FROM cohort JOIN ledger_line AS line ON line.cohort_id = cohort.id
         WHERE cohort.species_id BETWEEN ? AND ? ORDER BY line.id",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?)
}

/// The ledger as entered, with what each line needs on the page, in the order of entry.
///
/// # Errors
/// The database can't be read.
pub async fn entered(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<EnteredLine>, AppError> {
    Ok(sqlx::query_as(
        "SELECT line.id, line.day, line.kind, line.from_bucket, line.to_bucket, line.quantity, line.cause, line.reverses_id,
                (SELECT later.id FROM ledger_line AS later WHERE later.reverses_id = line.id) AS reversed_by, line.moved_line_id,
                (SELECT COUNT(*) FROM animal WHERE animal.origin_line_id = line.id) AS animals,
                EXISTS (SELECT 1 FROM handover_line WHERE handover_line.ledger_line_id = line.id) AS at_handover,
                line.note, member.name AS member_name
         FROM ledger_line AS line LEFT JOIN member ON member.id = line.member_id
         WHERE line.cohort_id = ? ORDER BY line.id",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?)
}

/// The ledger as the reckoning takes it, in the order of entry.
///
/// # Errors
/// The database can't be read.
pub async fn lines(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<Line>, AppError> {
    let lines: Vec<PlainLine> = sqlx::query_as(
        "SELECT id, day, kind, from_bucket, to_bucket, quantity, cause, reverses_id FROM ledger_line WHERE cohort_id = ? ORDER BY id",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?;
    Ok(lines.into_iter().map(PlainLine::line).collect())
}

/// What stood in each bucket at the end of a day.
///
/// # Errors
/// The database can't be read.
pub async fn balance_on(db: &mut SqliteConnection, cohort: CohortId, day: NaiveDate) -> Result<Balance, AppError> {
    let lines = lines(db, cohort).await?;
    ledger::balance_at(&lines, day).map_err(|error| AppError::Internal(error.into()))
}

/// How many stand at each stage now, youngest first; stages with none are left out.
///
/// # Errors
/// The database can't be read.
pub async fn standing(db: &mut SqliteConnection, cohort: CohortId) -> Result<Vec<StageCount>, AppError> {
    Ok(sqlx::query_as(
        "SELECT ledger_balance.bucket AS stage, ledger_balance.quantity
         FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
         WHERE ledger_balance.cohort_id = ? AND bucket.kind = 'stage' AND ledger_balance.quantity > 0 ORDER BY bucket.ordinal",
    )
    .bind(cohort)
    .fetch_all(db)
    .await?)
}

/// How many are alive and on hand now.
///
/// # Errors
/// The database can't be read.
pub async fn alive(db: &mut SqliteConnection, cohort: CohortId) -> Result<i64, AppError> {
    Ok(standing(db, cohort).await?.iter().map(|count| count.quantity).sum())
}

/// Refuses a day still to come, or before the cohort began.
pub(super) async fn check_day(write: &mut Write, cohort: CohortId, day: NaiveDate) -> Result<(), AppError> {
    let started: NaiveDate = sqlx::query_scalar("SELECT started_on FROM cohort WHERE id = ?").bind(cohort).fetch_one(write.db()).await?;
    if day > write.today {
        return Err(AppError::refused("day", format!("This day is still to come; the latest possible is {}.", write.today)));
    }
    if day < started {
        return Err(AppError::refused("day", format!("This cohort began on {}; enter that day or a later one.", text::day(&started))));
    }
    Ok(())
}

/// Posts a line.
///
/// # Errors
/// A day outside the cohort's life, more than stood there on that day or any later one, a movement that the kind
/// can't make. Each names the figure.
pub async fn post(write: &mut Write, cohort: CohortId, new: &NewLine) -> Result<LineId, AppError> {
    check_day(write, cohort, new.day).await?;
    let lines = lines(write.db(), cohort).await?;
    let line = Line {
        id: i64::MAX,
        day: new.day,
        from: new.from,
        to: new.to,
        quantity: new.quantity,
        kind: new.kind,
        cause: new.cause,
        reverses: None,
    };
    ledger::post(&lines, &line).map_err(|error| refused(&error, &lines, &line))?;
    // What is held back neither leaves the house nor slips into a cohort where nothing is held.
    if matches!(new.kind, LineKind::Sold | LineKind::Moved) {
        check_free(write.db(), cohort, i64::from(new.quantity)).await?;
    }
    append(write, cohort, new, None, None).await
}

async fn check_free(db: &mut SqliteConnection, cohort: CohortId, asked: i64) -> Result<(), AppError> {
    let (alive, held) = (alive(&mut *db, cohort).await?, held_back(&mut *db, cohort).await?);
    if asked > alive - held {
        let free = alive - held;
        return Err(AppError::refused("quantity", format!("Only {free} are free to go: {alive} alive, {held} held back for breeding.")));
    }
    Ok(())
}

async fn append(
    write: &mut Write,
    cohort: CohortId,
    new: &NewLine,
    reverses: Option<LineId>,
    moved: Option<LineId>,
) -> Result<LineId, AppError> {
    let (who, at) = (write.who, write.at);
    Ok(sqlx::query_scalar(
        "INSERT INTO ledger_line (cohort_id, day, kind, from_bucket, to_bucket, quantity, cause, reverses_id, moved_line_id, signoff_id, note,
                                  member_id, at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
    )
    .bind(cohort)
    .bind(new.day)
    .bind(new.kind)
    .bind(new.from)
    .bind(new.to)
    .bind(new.quantity)
    .bind(new.cause)
    .bind(reverses)
    .bind(moved)
    .bind(new.signoff)
    .bind(&new.note)
    .bind(who)
    .bind(at)
    .fetch_one(write.db())
    .await?)
}

/// What the ledger refused, with the figure that stands in the way.
fn refused(error: &LedgerError, lines: &[Line], line: &Line) -> AppError {
    match error {
        LedgerError::Short { .. } | LedgerError::ShortAtEndOfDay { .. } => AppError::refused("quantity", shortage(lines, line)),
        LedgerError::IllegalMove { kind: LineKind::Moulted, from, .. } => {
            AppError::refused("to", format!("A moult leads to a later stage than {from}."))
        }
        LedgerError::IllegalMove { kind: LineKind::Tagged, .. } => {
            AppError::refused("stage", "Only spiderlings from first instar on are tagged.")
        }
        LedgerError::IllegalMove { .. } => AppError::refused("stage", text::sentence(error)),
        LedgerError::CauseMissing | LedgerError::CauseMisplaced => AppError::refused("cause", text::sentence(error)),
        LedgerError::AlreadyReversed(_) | LedgerError::ReversalOfReversal(_) => AppError::refused("line", text::sentence(error)),
        _ => AppError::refused("quantity", text::sentence(error)),
    }
}

/// The first day from the line's own on that has too few for it, in words.
fn shortage(lines: &[Line], line: &Line) -> String {
    let mut days: Vec<NaiveDate> = lines.iter().map(|line| line.day).filter(|day| *day > line.day).collect();
    days.insert(0, line.day);
    days.sort_unstable();
    for day in days {
        let there = ledger::balance_at(lines, day).map_or(0, |balance| balance.of(line.from));
        if there < line.quantity {
            let later = if day == line.day { "" } else { ", after what was entered for later days" };
            let (stand, from) = (if there == 1 { "stands" } else { "stand" }, place(line.from));
            return format!("Only {there} {stand} {from} on {}{later}; {} can't be taken from there.", text::day(&day), line.quantity);
        }
    }
    format!("Fewer than {} stand {}. Check the count, the stage and the day.", line.quantity, place(line.from))
}

fn place(bucket: Bucket) -> String {
    match bucket {
        Bucket::Stage(stage) => format!("at {stage}"),
        other => format!("under “{other}”"),
    }
}

/// Takes a line back on its own day.
///
/// # Errors
/// As [`reverse_because`].
pub async fn reverse(write: &mut Write, cohort: CohortId, line: LineId) -> Result<LineId, AppError> {
    reverse_because(write, cohort, line, "").await
}

/// Takes a line back on its own day and says why. Spiderlings that moved between two cohorts of ours go back together.
///
/// # Errors
/// No such line in this cohort, one that is a reversal, was taken back already, made tagged animals or belongs to a
/// handover, and one whose spiderlings have gone on since.
pub async fn reverse_because(write: &mut Write, cohort: CohortId, line: LineId, why: &str) -> Result<LineId, AppError> {
    let book = entered(write.db(), cohort).await?;
    let original = book.iter().find(|entered| entered.id == line).ok_or(AppError::NotFound)?;
    check_reversible(original)?;
    let arrival = arrival_of(write.db(), line).await?;
    if let Some((other, arrival)) = arrival {
        take_back(write, other, arrival, why).await?;
    }
    let reversal = take_back(write, cohort, line, why).await?;
    if let Some(departure) = original.moved_line_id {
        let other: CohortId =
            sqlx::query_scalar("SELECT cohort_id FROM ledger_line WHERE id = ?").bind(departure).fetch_one(write.db()).await?;
        take_back(write, other, departure, why).await?;
    }
    Ok(reversal)
}

fn check_reversible(line: &EnteredLine) -> Result<(), AppError> {
    let problem = if line.kind == LineKind::Reversal {
        "This line takes another back. Enter the movement again instead."
    } else if line.reversed_by.is_some() {
        "This line has been taken back already."
    } else if line.animals > 0 {
        "These animals carry tags now. Record what happened to each animal instead."
    } else if line.at_handover {
        "This line belongs to a handover. What comes back from a buyer comes in as a new batch."
    } else {
        return Ok(());
    };
    Err(AppError::refused("line", problem))
}

/// The standing line by which spiderlings that left by this line arrived in another cohort.
async fn arrival_of(db: &mut SqliteConnection, departure: LineId) -> Result<Option<(CohortId, LineId)>, AppError> {
    Ok(sqlx::query_as(
        "SELECT cohort_id, id FROM ledger_line AS line
         WHERE moved_line_id = ? AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)",
    )
    .bind(departure)
    .fetch_optional(db)
    .await?)
}

async fn take_back(write: &mut Write, cohort: CohortId, id: LineId, why: &str) -> Result<LineId, AppError> {
    let lines = lines(write.db(), cohort).await?;
    let original = lines.iter().find(|line| line.id == id.0).ok_or(AppError::NotFound)?;
    let (from, to) = (original.to, original.from);
    let line = Line { id: i64::MAX, from, to, kind: LineKind::Reversal, reverses: Some(id.0), ..original.clone() };
    ledger::post(&lines, &line).map_err(|error| match refused(&error, &lines, &line) {
        AppError::Refused(mistakes) => AppError::refused("line", mistakes.of("quantity") + &mistakes.of("line")),
        other => other,
    })?;
    let new = NewLine {
        day: line.day,
        kind: LineKind::Reversal,
        from,
        to,
        quantity: line.quantity,
        cause: line.cause,
        signoff: None,
        note: why.to_owned(),
    };
    append(write, cohort, &new, Some(id), None).await
}

/// Brings the book to what was counted, stage by stage, as lines of their own. Gives how many lines were needed.
///
/// # Errors
/// A day outside the cohort's life; fewer there on a later day than the count leaves.
pub async fn recount(
    write: &mut Write,
    cohort: CohortId,
    day: NaiveDate,
    counted: &BTreeMap<Stage, u32>,
    note: &str,
) -> Result<usize, AppError> {
    check_day(write, cohort, day).await?;
    let book = balance_on(write.db(), cohort, day).await?;
    let movements = ledger::recount(&book, counted);
    for movement in &movements {
        let line = NewLine {
            day,
            kind: LineKind::Recounted,
            from: movement.from,
            to: movement.to,
            quantity: movement.quantity,
            cause: None,
            signoff: None,
            note: note.to_owned(),
        };
        post(write, cohort, &line).await?;
    }
    Ok(movements.len())
}

/// Takes so many of a stage into a new cohort of their own on another shelf.
///
/// # Errors
/// More than stand there on that day, a code that is taken, a day outside the cohort's life.
pub async fn split(write: &mut Write, from: CohortId, new: &NewSplit) -> Result<CohortId, AppError> {
    let parent = super::require(write.db(), from).await?;
    let departure = post(write, from, &NewLine::moved(new.day, new.stage, new.quantity).with_note(new.note.as_str())).await?;
    let child = NewCohort {
        code: new.code.clone(),
        species_id: parent.species_id,
        origin: NewOrigin::Split(from),
        source: parent.full_source(),
        locality: parent.locality.clone(),
        started_on: new.day,
        housing: parent.housing,
        shelf: new.shelf,
        position: new.position,
        span_mm: parent.span_mm,
        note: new.note.clone(),
        counts: Vec::new(),
    };
    let child = super::insert(write, &child).await?;
    append(write, child, &NewLine::received(new.day, new.stage, new.quantity), None, Some(departure)).await?;
    handling::store::copy_holds(write, HoldSubject::Cohort(from), HoldSubject::Cohort(child)).await?;
    Ok(child)
}

/// The cohorts whose books a line stands in: its own, and the one that its spiderlings came from or went to.
///
/// # Errors
/// The database can't be read.
pub async fn touched_by(db: &mut SqliteConnection, line: LineId) -> Result<Vec<CohortId>, AppError> {
    Ok(sqlx::query_scalar(
        "SELECT DISTINCT other.cohort_id FROM ledger_line AS line
         JOIN ledger_line AS other ON other.id = line.id OR other.id = line.moved_line_id OR other.moved_line_id = line.id
         WHERE line.id = ?",
    )
    .bind(line)
    .fetch_all(db)
    .await?)
}
