//! Import of a small house's spreadsheet: `animals` or `cohorts` as CSV, all or nothing.
//!
//! The first line names the columns. Case, spaces and hyphens in names do not matter, and columns that are not listed in
//! [`columns`] are left out and named in the report. Cells may be quoted; commas, semicolons and tabs divide them. The file
//! is UTF-8, with or without a byte order mark. Days are written in one way throughout ([`Dates`]).
//!
//! A line is known by its tag or code. One that says what the book says changes nothing; one that says otherwise is an
//! error that names the column, because the book may know better: what happened since belongs on the animal's own page. An
//! empty cell says nothing. A file that was imported before changes nothing, whatever happened since.

mod animals;
mod cells;
mod cohorts;
pub mod columns;
mod encoding;
mod lookups;
mod pages;
pub mod report;
mod sheet;
mod store;

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use self::animals::AnimalRow;
use self::cohorts::CohortRow;
use self::lookups::Lookups;
use self::report::{LineReport, Outcome, Report};
use self::sheet::Sheet;
use crate::house::access::{May, Routes};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::paths::IMPORT;
use crate::house::secrets::sha256_hex;
use crate::house::write::Write;
use crate::rounds;

/// The largest file that is taken, in bytes.
pub const LARGEST_FILE: usize = 16 * 1024 * 1024;

coded_enum! {
    /// What a file holds.
    Kind, "kind of import" {
        Animals = "animals", "animals, one a line";
        Cohorts = "cohorts", "cohorts, one a line";
    }
}

coded_enum! {
    /// How a file writes its days.
    Dates, "way of writing days" {
        Iso = "iso", "year-month-day, such as 2026-03-29";
        Dmy = "dmy", "day, month, year, such as 29.03.2026 or 29/3/2026";
        Mdy = "mdy", "month, day, year, such as 3/29/2026";
    }
}

/// The routes of the import.
#[must_use]
pub fn routes() -> Routes {
    Routes::new().get(IMPORT, May::Lead, pages::show).post_large(IMPORT, May::Lead, pages::send)
}

/// The lines of a file that are not in the book yet.
enum NewRows {
    Animals(Vec<AnimalRow>),
    Cohorts(Vec<CohortRow>),
}

/// Imports a file, or with `dry_run` only says what would happen. Nothing is written when any line has an error.
///
/// # Errors
/// The database can't be read or written. What is wrong with the file stands in the report.
pub async fn run(app: &App, kind: Kind, dates: Dates, bytes: Vec<u8>, dry_run: bool) -> Result<Report, AppError> {
    if dry_run {
        return inspect(app, kind, dates, bytes).await;
    }
    let mut write = app.write(None).await?;
    let report = import(&mut write, kind, dates, bytes).await?;
    if report.imported {
        write.commit(report.change(), IMPORT).await?;
    }
    Ok(report)
}

/// What importing a file would do. Writes nothing.
///
/// # Errors
/// The database can't be read.
pub async fn inspect(app: &App, kind: Kind, dates: Dates, bytes: Vec<u8>) -> Result<Report, AppError> {
    let mut db = app.read().await?;
    Ok(read(&mut db, app.today(), kind, dates, bytes).await?.0)
}

/// Puts a file into the book, unless a line has an error. The caller commits when the report says that it was imported.
///
/// # Errors
/// The database can't be written.
pub async fn import(write: &mut Write, kind: Kind, dates: Dates, bytes: Vec<u8>) -> Result<Report, AppError> {
    let today = write.today;
    let (mut report, rows) = read(write.db(), today, kind, dates, bytes).await?;
    if !report.can_import() {
        return Ok(report);
    }
    match rows {
        NewRows::Animals(rows) => {
            for row in rows {
                let added = animals::add(write, &row).await;
                refused_late(&mut report, row.line, added)?;
            }
        }
        NewRows::Cohorts(rows) => {
            for row in rows {
                let added = cohorts::add(write, &row).await;
                refused_late(&mut report, row.line, added)?;
            }
        }
    }
    if report.can_import() {
        store::insert_run(write, &report).await?;
        rounds::store::plan_house(write).await?;
        report.imported = true;
    }
    Ok(report)
}

/// What the book itself refuses becomes the line's error; the transaction is then dropped by the caller.
fn refused_late(report: &mut Report, line: u64, added: Result<(), AppError>) -> Result<(), AppError> {
    match added {
        Err(AppError::Refused(mistakes)) => {
            report.refuse(line, mistakes);
            Ok(())
        }
        other => other,
    }
}

/// Reads a file against the book.
async fn read(
    db: &mut SqliteConnection,
    today: NaiveDate,
    kind: Kind,
    dates: Dates,
    bytes: Vec<u8>,
) -> Result<(Report, NewRows), AppError> {
    let mut report = Report::new(kind, sha256_hex(&bytes));
    let nothing = NewRows::Animals(Vec::new());
    let sheet = match encoding::text(&bytes).and_then(|text| sheet::read(text, columns::of(kind))) {
        Ok(sheet) => sheet,
        Err(problems) => {
            report.problems = problems;
            return Ok((report, nothing));
        }
    };
    drop(bytes);
    report.warnings.clone_from(&sheet.warnings);
    report.imported_before = store::imported_before(db, kind, &report.file_sha256).await?;
    if report.imported_before.is_some() {
        report.lines =
            sheet.rows.iter().map(|row| LineReport { line: row.line, label: row.label(), outcome: Outcome::Unchanged }).collect();
        return Ok((report, nothing));
    }
    let mut lookups = Lookups::read(db).await?;
    let reading = cells::Reading { dates, today };
    let rows = match kind {
        Kind::Animals => {
            let parsed = off_the_threads(move || animals::parse(&sheet, reading, &mut lookups)).await?;
            NewRows::Animals(animals::against_the_book(db, parsed, &mut report).await?)
        }
        Kind::Cohorts => {
            let parsed = off_the_threads(move || cohorts::parse(&sheet, reading, &mut lookups)).await?;
            NewRows::Cohorts(cohorts::against_the_book(db, parsed, &mut report).await?)
        }
    };
    Ok((report, rows))
}

/// Reading a long file takes a moment, which must not keep other people's pages waiting.
async fn off_the_threads<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, AppError> {
    tokio::task::spawn_blocking(work).await.map_err(|error| AppError::Internal(error.into()))
}

/// A line as read: what it says, or what is wrong with it.
struct ParsedRow<R> {
    line: u64,
    label: String,
    row: Result<R, crate::house::forms::Mistakes>,
}

impl Report {
    /// What the audit trail keeps of the import.
    #[must_use]
    pub fn change(&self) -> Change {
        let after = format!("{} added, {} unchanged, file SHA-256 {}", self.added(), self.unchanged(), self.file_sha256);
        Change::new("file.imported", self.kind.code(), after)
    }
}

impl Sheet {
    /// Reads every row with `one`, and refuses a label that another line has already.
    fn parse_rows<R>(
        &self,
        mut one: impl FnMut(&sheet::Row) -> Result<R, crate::house::forms::Mistakes>,
        key: &'static str,
        known_as: impl Fn(&str) -> String,
    ) -> Vec<ParsedRow<R>> {
        let mut seen = std::collections::HashMap::new();
        let rows = self.rows.iter().map(|row| {
            let label = row.label();
            let known = known_as(&label);
            let parsed = match seen.get(&known) {
                Some(first) if !known.is_empty() => Err(crate::house::forms::Mistakes::one(
                    key,
                    format!("“{label}” stands on line {first} already. Keep one of the two lines."),
                )),
                _ => one(row),
            };
            seen.entry(known).or_insert(row.line);
            ParsedRow { line: row.line, label, row: parsed }
        });
        rows.collect()
    }
}

/// Notes that a line says otherwise than the book. A line that says nothing agrees.
fn differs<T: PartialEq + std::fmt::Display>(found: &mut crate::house::forms::Mistakes, column: &'static str, typed: Option<&T>, book: &T) {
    if typed.is_some_and(|typed| typed != book) {
        found.add(column, says(book));
    }
}

fn says(book: impl std::fmt::Display) -> String {
    let book = book.to_string();
    if book.is_empty() {
        return "The book says nothing here. Change it on its own page, or leave this cell empty.".to_owned();
    }
    format!("The book says “{book}”. Change it on its own page, or write the same here.")
}

fn says_or_nothing<T: std::fmt::Display>(book: Option<T>) -> String {
    book.map_or_else(|| says(""), says)
}
