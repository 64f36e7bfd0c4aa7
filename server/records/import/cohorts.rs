//! Lines of cohorts.

use std::collections::{HashMap, HashSet};

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::animals::instar;
use super::cells::{NO_SOURCE, Reading, RowReader};
use super::lookups::{Lookups, NamedSpecies};
use super::report::{LineReport, Outcome, Report};
use super::sheet::{Row, Sheet};
use super::store::{self, KnownCohort};
use super::{ParsedRow, differs};
use crate::cohorts::model::{Housing, NewCohort, NewOrigin};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::ShelfId;
use crate::house::write::Write;
use crate::reckoning::provenance::Source;
use crate::reckoning::stage::{LAST_INSTAR, Stage};

/// A line that was read: `None` and empty texts where it says nothing.
pub struct CohortRow {
    pub line: u64,
    code: String,
    species: NamedSpecies,
    received_on: NaiveDate,
    stage: Stage,
    count: u32,
    supplier: String,
    papers: String,
    source: Option<Source>,
    locality: String,
    shelf: Option<ShelfId>,
    housing: Option<Housing>,
    note: String,
    remarks: Vec<String>,
}

/// Reads every line.
pub fn parse(sheet: &Sheet, reading: Reading, lookups: &mut Lookups) -> Vec<ParsedRow<CohortRow>> {
    sheet.parse_rows(|row| one(row, reading, lookups), "code", |code| code.trim().to_uppercase())
}

fn one(row: &Row, reading: Reading, lookups: &mut Lookups) -> Result<CohortRow, Mistakes> {
    let mut reader = RowReader::new(row, reading);
    let read = fields(&mut reader, row.line, lookups);
    let remarks = std::mem::take(&mut reader.remarks);
    Ok(CohortRow { remarks, ..reader.finish(read)? })
}

fn fields(reader: &mut RowReader<'_>, line: u64, lookups: &mut Lookups) -> Option<CohortRow> {
    let code = code(reader);
    let species = reader.species(lookups);
    let received_on = reader.needed_day("received_on");
    let stage = stage(reader);
    let count = reader.needed_whole("count", 1..=100_000).and_then(|count| u32::try_from(count).ok());
    let (supplier, papers) = (reader.text("supplier", 120), reader.text("papers", 300));
    let (source, locality) = (reader.source(), reader.text("locality", 200));
    let shelf = reader.shelf(lookups);
    let housing = housing(reader);
    let note = reader.text("note", 1000);
    Some(CohortRow {
        line,
        code: code?,
        species: species?,
        received_on: received_on?,
        stage: stage?,
        count: count?,
        supplier,
        papers,
        source,
        locality,
        shelf,
        housing,
        note,
        remarks: Vec::new(),
    })
}

fn code(reader: &mut RowReader<'_>) -> Option<String> {
    let code = reader.cell("code").to_uppercase();
    let plain = code.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '-');
    if plain && (2..=20).contains(&code.len()) {
        return Some(code);
    }
    reader.refuse("code", "A code has 2 to 20 letters, digits and hyphens.");
    None
}

fn stage(reader: &mut RowReader<'_>) -> Option<Stage> {
    let typed = reader.cell("stage").to_lowercase();
    let stage = match typed.as_str() {
        "egg" | "eggs" => Some(Stage::Egg),
        "ewl" | "post-embryo" | "eggs with legs" => Some(Stage::PostEmbryo),
        other => instar(other)
            .and_then(|number| u8::try_from(number).ok())
            .filter(|number| (1..=LAST_INSTAR).contains(number))
            .map(Stage::Instar),
    };
    if stage.is_none() {
        reader.refuse(
            "stage",
            "Write egg, ewl, or the instar as i1 to i20, counted in moults since the post-embryo. “L” numbers name different skins in \
             different countries, so they are not taken.",
        );
    }
    stage
}

fn housing(reader: &mut RowReader<'_>) -> Option<Housing> {
    match reader.cell("housing").to_lowercase().as_str() {
        "" => None,
        "communal" | "tub" => Some(Housing::Communal),
        "vials" | "vial" => Some(Housing::Vials),
        _ => {
            reader.refuse("housing", "Write communal or vials.");
            None
        }
    }
}

/// Holds the lines against the book: gives those that are new, and reports on all.
pub async fn against_the_book(
    db: &mut SqliteConnection,
    parsed: Vec<ParsedRow<CohortRow>>,
    report: &mut Report,
) -> Result<Vec<CohortRow>, AppError> {
    let codes: Vec<&str> = parsed.iter().filter_map(|parsed| parsed.row.as_ref().ok()).map(|row| row.code.as_str()).collect();
    let codes = serde_json::to_string(&codes).map_err(anyhow::Error::from)?;
    let known: HashMap<String, KnownCohort> =
        store::cohorts(db, &codes).await?.into_iter().map(|cohort| (cohort.code.to_uppercase(), cohort)).collect();
    let received = store::received(db, &codes).await?;
    let received: HashSet<(String, String, i64)> =
        received.into_iter().map(|(code, stage, quantity)| (code.to_uppercase(), stage, quantity)).collect();
    let mut new = Vec::new();
    for ParsedRow { line, label, row } in parsed {
        let outcome = match row {
            Err(mistakes) => Outcome::Refused(mistakes),
            Ok(row) => match known.get(&row.code) {
                None => {
                    let outcome = Outcome::Added(remarks(&row));
                    new.push(row);
                    outcome
                }
                Some(cohort) => {
                    let mistakes = differences(&row, cohort, &received);
                    if mistakes.is_empty() { Outcome::Unchanged } else { Outcome::Refused(mistakes) }
                }
            },
        };
        report.lines.push(LineReport { line, label, outcome });
    }
    Ok(new)
}

fn remarks(row: &CohortRow) -> Vec<String> {
    let mut remarks = row.remarks.clone();
    if row.source.is_none() {
        remarks.push("No source code is given, so it is kept as U, source unknown.".to_owned());
    }
    remarks
}

fn differences(row: &CohortRow, known: &KnownCohort, received: &HashSet<(String, String, i64)>) -> Mistakes {
    let mut found = Mistakes::none();
    let text = |typed: &str| (!typed.is_empty()).then(|| typed.to_owned());
    differs(&mut found, "species", Some(&row.species.name), &known.species);
    differs(&mut found, "received_on", Some(&row.received_on), &known.started_on);
    differs(&mut found, "supplier", text(&row.supplier).as_ref(), &known.supplier);
    differs(&mut found, "papers", text(&row.papers).as_ref(), &known.papers);
    differs(&mut found, "locality", text(&row.locality).as_ref(), &known.locality);
    differs(&mut found, "note", text(&row.note).as_ref(), &known.note);
    differs(&mut found, "housing", row.housing.map(|housing| housing.code().to_owned()).as_ref(), &known.housing);
    if row.source.is_some_and(|source| (source.code, source.pre_convention) != (known.source_code, known.pre_convention)) {
        found.add("source_code", super::says(known.source_code.code()));
    }
    if row.shelf.is_some() && row.shelf != known.shelf_id {
        found.add("shelf", super::says_or_nothing(known.place.as_deref()));
    }
    if !received.contains(&(row.code.clone(), row.stage.code(), i64::from(row.count))) {
        found.add("count", "The book has another first count of this cohort. Correct it in the cohort's ledger.");
    }
    found
}

/// Puts a new cohort into the book with its first count.
///
/// # Errors
/// What the book refuses.
pub async fn add(write: &mut Write, row: &CohortRow) -> Result<(), AppError> {
    let new = NewCohort {
        code: Some(row.code.clone()),
        species_id: row.species.id,
        origin: NewOrigin::Bought { supplier: row.supplier.clone(), papers: row.papers.clone() },
        source: row.source.unwrap_or(NO_SOURCE),
        locality: row.locality.clone(),
        started_on: row.received_on,
        housing: row.housing.unwrap_or(Housing::Communal),
        shelf: row.shelf,
        position: None,
        span_mm: None,
        note: row.note.clone(),
        counts: vec![(row.stage, row.count)],
    };
    crate::cohorts::store::insert(write, &new).await?;
    Ok(())
}
