//! Lines of animals.

use std::collections::{HashMap, HashSet};

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use super::cells::{NO_SOURCE, Reading, RowReader};
use super::lookups::{Lookups, NamedSpecies};
use super::report::{LineReport, Outcome, Report};
use super::sheet::{Row, Sheet};
use super::store::{self, KnownAnimal};
use super::{ParsedRow, differs};
use crate::animals::model::{NewAnimal, NewMeal, NewMoult, NewOrigin, NewSpan};
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::ShelfId;
use crate::house::write::Write;
use crate::reckoning::provenance::Source;
use crate::reckoning::tag;
use crate::reckoning::words::{MealOutcome, Sex, SexBasis};

/// A line that was read: `None` and empty texts where it says nothing.
pub struct AnimalRow {
    pub line: u64,
    tag: String,
    species: NamedSpecies,
    sex: Option<(Sex, SexBasis)>,
    span: Option<NewSpan>,
    start_instar: Option<i64>,
    born_on: Option<NaiveDate>,
    acquired_on: NaiveDate,
    supplier: String,
    papers: String,
    source: Option<Source>,
    locality: String,
    shelf: Option<ShelfId>,
    position: Option<i64>,
    last_moult: Option<NaiveDate>,
    last_meal: Option<NaiveDate>,
    note: String,
    remarks: Vec<String>,
}

/// Reads every line.
pub fn parse(sheet: &Sheet, reading: Reading, lookups: &mut Lookups) -> Vec<ParsedRow<AnimalRow>> {
    sheet.parse_rows(|row| one(row, reading, lookups), "tag", crate::reckoning::tag::normalise)
}

fn one(row: &Row, reading: Reading, lookups: &mut Lookups) -> Result<AnimalRow, Mistakes> {
    let mut reader = RowReader::new(row, reading);
    let read = fields(&mut reader, row.line, lookups);
    let remarks = std::mem::take(&mut reader.remarks);
    Ok(AnimalRow { remarks, ..reader.finish(read)? })
}

fn fields(reader: &mut RowReader<'_>, line: u64, lookups: &mut Lookups) -> Option<AnimalRow> {
    let tag = tag_of(reader);
    let species = reader.species(lookups);
    let (sex, span) = (reader.sex(), reader.span());
    let stage = stage(reader);
    let (born_on, acquired_on) = (reader.day("born_on"), reader.needed_day("acquired_on"));
    let (supplier, papers) = (reader.text("supplier", 120), reader.text("papers", 300));
    let (source, locality) = (reader.source(), reader.text("locality", 200));
    let (shelf, position) = (reader.shelf(lookups), reader.whole("position", 1..=999));
    let (last_moult, last_meal) = (reader.day("last_moult"), reader.day("last_meal"));
    let note = noted(reader.text("note", 1000), &stage);
    for (column, day) in [("acquired_on", acquired_on), ("last_moult", last_moult), ("last_meal", last_meal)] {
        if born_on.zip(day).is_some_and(|(born, day)| day < born) {
            reader.refuse(column, "This day is before the animal hatched (born_on). Check both days.");
        }
    }
    let start_instar = start_instar(reader, stage, last_moult, acquired_on);
    Some(AnimalRow {
        line,
        tag: tag?,
        species: species?,
        sex,
        span,
        start_instar,
        born_on,
        acquired_on: acquired_on?,
        supplier,
        papers,
        source,
        locality,
        shelf,
        position,
        last_moult,
        last_meal,
        note,
        remarks: Vec::new(),
    })
}

fn tag_of(reader: &mut RowReader<'_>) -> Option<String> {
    let tag = tag::normalise(reader.cell("tag"));
    let plain = tag.chars().all(|letter| letter.is_ascii_digit() || letter.is_ascii_uppercase());
    if plain && (3..=20).contains(&tag.len()) {
        return Some(tag);
    }
    reader.refuse("tag", "A tag has 3 to 20 of the characters 0-9 and A-Z; spaces and hyphens are left out.");
    None
}

/// What the column “stage” says.
enum StageCell {
    Nothing,
    Instar(i64),
    /// A part of life, which is not an instar: kept in the note.
    Part(&'static str),
}

fn stage(reader: &mut RowReader<'_>) -> StageCell {
    let typed = reader.cell("stage").to_lowercase();
    let part = match typed.as_str() {
        "" => return StageCell::Nothing,
        "spiderling" | "sling" => Some("spiderling"),
        "juvenile" | "juv" => Some("juvenile"),
        "subadult" | "sub-adult" => Some("subadult"),
        "adult" | "mature" => Some("adult"),
        _ => None,
    };
    if let Some(part) = part {
        return StageCell::Part(part);
    }
    if let Some(instar) = instar(&typed).filter(|instar| (1..=40).contains(instar)) {
        return StageCell::Instar(instar);
    }
    reader.refuse("stage", INSTAR_HELP);
    StageCell::Nothing
}

/// What to write for an instar.
pub const INSTAR_HELP: &str = "Write the instar as i1 to i40, counted in moults since the post-embryo. “L” numbers name different \
    skins in different countries, so they are not taken.";

/// The instar that a cell names: `i5` or `5`.
pub fn instar(typed: &str) -> Option<i64> {
    typed.strip_prefix('i').unwrap_or(typed).trim().parse().ok()
}

fn noted(note: String, stage: &StageCell) -> String {
    match stage {
        StageCell::Part(part) if note.is_empty() => format!("Imported as {part}."),
        StageCell::Part(part) => format!("{note} (imported as {part})"),
        StageCell::Nothing | StageCell::Instar(_) => note,
    }
}

/// The book keeps the instar at arrival and counts the moults since; the file has the instar now.
fn start_instar(reader: &mut RowReader<'_>, stage: StageCell, moult: Option<NaiveDate>, acquired: Option<NaiveDate>) -> Option<i64> {
    let StageCell::Instar(now) = stage else { return None };
    let since = i64::from(moult.zip(acquired).is_some_and(|(moult, acquired)| moult >= acquired));
    if now - since < 1 {
        reader.refuse("stage", "An animal that has moulted since it came (last_moult) is at least second instar. Check both cells.");
        return None;
    }
    Some(now - since)
}

/// Holds the lines against the book: gives those that are new, and reports on all.
pub async fn against_the_book(
    db: &mut SqliteConnection,
    parsed: Vec<ParsedRow<AnimalRow>>,
    report: &mut Report,
) -> Result<Vec<AnimalRow>, AppError> {
    let book = Book::read(db, &parsed).await?;
    let mut new = Vec::new();
    for ParsedRow { line, label, row } in parsed {
        let outcome = match row {
            Err(mistakes) => Outcome::Refused(mistakes),
            Ok(row) => match book.animals.get(&row.tag) {
                None => {
                    let outcome = Outcome::Added(remarks(&row));
                    new.push(row);
                    outcome
                }
                Some(known) => {
                    let mistakes = book.differences(&row, known);
                    if mistakes.is_empty() { Outcome::Unchanged } else { Outcome::Refused(mistakes) }
                }
            },
        };
        report.lines.push(LineReport { line, label, outcome });
    }
    Ok(new)
}

fn remarks(row: &AnimalRow) -> Vec<String> {
    let mut remarks = row.remarks.clone();
    if row.source.is_none() {
        remarks.push("No source code is given, so it is kept as U, source unknown.".to_owned());
    }
    remarks
}

/// What the book says of the animals that the file names.
struct Book {
    animals: HashMap<String, KnownAnimal>,
    moults: HashSet<(String, NaiveDate)>,
    meals: HashSet<(String, NaiveDate)>,
    spans: HashSet<(String, i64)>,
}

impl Book {
    async fn read(db: &mut SqliteConnection, parsed: &[ParsedRow<AnimalRow>]) -> Result<Self, AppError> {
        let tags: Vec<&str> = parsed.iter().filter_map(|parsed| parsed.row.as_ref().ok()).map(|row| row.tag.as_str()).collect();
        let tags = serde_json::to_string(&tags).map_err(anyhow::Error::from)?;
        Ok(Self {
            animals: store::animals(db, &tags).await?.into_iter().map(|animal| (animal.tag.clone(), animal)).collect(),
            moults: store::moults(db, &tags).await?.into_iter().collect(),
            meals: store::meals(db, &tags).await?.into_iter().collect(),
            spans: store::spans(db, &tags).await?.into_iter().collect(),
        })
    }

    /// The columns in which a line says otherwise than the book.
    fn differences(&self, row: &AnimalRow, known: &KnownAnimal) -> Mistakes {
        let mut found = Mistakes::none();
        differs(&mut found, "species", Some(&row.species.name), &known.species);
        differs(&mut found, "sex", row.sex.map(|(sex, _)| sex).as_ref(), &known.sex);
        differs(&mut found, "sex_basis", row.sex.map(|(_, basis)| basis).as_ref(), &known.sex_basis);
        differs(&mut found, "acquired_on", Some(&row.acquired_on), &known.started_on);
        let text = |typed: &str| (!typed.is_empty()).then(|| typed.to_owned());
        differs(&mut found, "supplier", text(&row.supplier).as_ref(), &known.supplier);
        differs(&mut found, "papers", text(&row.papers).as_ref(), &known.papers);
        differs(&mut found, "locality", text(&row.locality).as_ref(), &known.locality);
        differs(&mut found, "note", text(&row.note).as_ref(), &known.note);
        if row.source.is_some_and(|source| (source.code, source.pre_convention) != (known.source_code, known.pre_convention)) {
            found.add("source_code", super::says(known.source_code.code()));
        }
        let other = |typed: Option<i64>, book: Option<i64>| typed.is_some() && typed != book;
        if row.born_on.is_some() && row.born_on != known.born_on {
            found.add("born_on", super::says_or_nothing(known.born_on));
        }
        if other(row.start_instar, known.start_instar) {
            found.add("stage", super::says_or_nothing(known.start_instar.map(|instar| format!("i{instar} when it came"))));
        }
        if row.shelf.is_some() && row.shelf != known.shelf_id {
            found.add("shelf", super::says_or_nothing(known.place.as_deref()));
        }
        if other(row.position, known.position) {
            found.add("position", super::says_or_nothing(known.position));
        }
        self.records_missing(row, &mut found);
        found
    }

    fn records_missing(&self, row: &AnimalRow, found: &mut Mistakes) {
        let has =
            |days: &HashSet<(String, NaiveDate)>, day: Option<NaiveDate>| day.is_none_or(|day| days.contains(&(row.tag.clone(), day)));
        if !has(&self.moults, row.last_moult) {
            found.add("last_moult", "The book has no moult on this day. Note it on the animal's page.");
        }
        if !has(&self.meals, row.last_meal) {
            found.add("last_meal", "The book has no meal taken on this day. Note it on the animal's page.");
        }
        if row.span.is_some_and(|span| !self.spans.contains(&(row.tag.clone(), span.mm))) {
            found.add("dls_mm", "The book has no such leg span. Note it on the animal's page.");
        }
    }
}

/// Puts a new animal into the book, with its moult, meal and leg span.
///
/// # Errors
/// What the book refuses.
pub async fn add(write: &mut Write, row: &AnimalRow) -> Result<(), AppError> {
    use crate::animals::store as animals;
    let origin = NewOrigin::Bought { supplier: row.supplier.clone(), papers: row.papers.clone() };
    let (sex, sex_basis) = row.sex.unwrap_or((Sex::Unknown, SexBasis::None));
    let new = NewAnimal {
        tag: Some(row.tag.clone()),
        locality: row.locality.clone(),
        born_on: row.born_on,
        sex,
        sex_basis,
        instar: row.start_instar,
        shelf: row.shelf,
        position: row.position,
        note: row.note.clone(),
        ..NewAnimal::new(row.species.id, origin, row.source.unwrap_or(NO_SOURCE), row.acquired_on)
    };
    let id = animals::insert(write, &new).await?;
    if let Some(day) = row.last_moult {
        animals::record_moult(write, id, &NewMoult { day, skin_kept: false, note: String::new(), span: None, signoff: None }).await?;
    }
    if let Some(span) = &row.span {
        // The file says how large it is now, not how large it was when it came.
        let today = write.today;
        animals::record_measurement(write, id, span, today, None).await?;
    }
    if let Some(day) = row.last_meal {
        animals::record_meal(write, id, &NewMeal { day, prey: String::new(), outcome: MealOutcome::Took, signoff: None }).await?;
    }
    Ok(())
}
