//! Cells to values: the same checks as the forms make, with what spreadsheets write besides.

use chrono::NaiveDate;

use super::Dates;
use super::lookups::{Lookups, NamedSpecies};
use super::sheet::Row;
use crate::animals::model::NewSpan;
use crate::house::forms::{Check, Mistakes};
use crate::house::ids::ShelfId;
use crate::reckoning::provenance::{Source, SourceCode, check_source};
use crate::reckoning::units::{Unit, convert};
use crate::reckoning::words::{Sex, SexBasis, SpanKind, SpanMethod};

/// How the cells of a file are read.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    /// How days are written.
    pub dates: Dates,
    /// The local day: nothing happened after it.
    pub today: NaiveDate,
}

/// One row being read: every mistake and remark of it.
pub struct RowReader<'a> {
    row: &'a Row,
    reading: Reading,
    check: Check,
    /// Remarks on how the row was read.
    pub remarks: Vec<String>,
}

impl<'a> RowReader<'a> {
    /// Begins a row.
    pub fn new(row: &'a Row, reading: Reading) -> Self {
        let mut check = Check::new();
        if let Some(problem) = row.wrong_width() {
            check.add("", problem);
        }
        Self { row, reading, check, remarks: Vec::new() }
    }

    /// What was read, unless something is wrong with the row. A row of the wrong width has no other mistake worth telling.
    ///
    /// # Errors
    /// Every mistake of the row.
    pub fn finish<T>(self, read: Option<T>) -> Result<T, Mistakes> {
        if let Some(problem) = self.row.wrong_width() {
            return Err(Mistakes::one("", problem));
        }
        match read {
            Some(read) if self.check.ok() => Ok(read),
            _ => Err(self.check.mistakes()),
        }
    }

    /// Notes a mistake.
    pub fn refuse(&mut self, column: &'static str, message: impl Into<String>) {
        self.check.add(column, message);
    }

    /// The cell as it stands.
    pub fn cell(&self, column: &str) -> &'a str {
        self.row.cell(column)
    }

    /// A text that may be empty.
    pub fn text(&mut self, column: &'static str, most: usize) -> String {
        self.check.optional_text(column, self.row.cell(column), most).unwrap_or_default()
    }

    /// A whole number, or nothing.
    pub fn whole(&mut self, column: &'static str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        self.check.optional_whole(column, self.row.cell(column), range)
    }

    /// A whole number that must be there.
    pub fn needed_whole(&mut self, column: &'static str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        self.check.whole(column, self.row.cell(column), range)
    }

    /// A day that must be there.
    pub fn needed_day(&mut self, column: &'static str) -> Option<NaiveDate> {
        if self.cell(column).is_empty() {
            self.refuse(column, "Fill this in.");
        }
        self.day(column)
    }

    /// A day, or nothing.
    pub fn day(&mut self, column: &'static str) -> Option<NaiveDate> {
        let typed = self.cell(column);
        if typed.is_empty() {
            return None;
        }
        let Some(day) = written_day(typed, self.reading.dates) else {
            let shown: String = typed.chars().take(30).collect();
            self.refuse(
                column,
                format!("“{shown}” is not a day written as {}. Check it, or choose another way of writing days.", self.reading.dates),
            );
            return None;
        };
        self.check.day(column, &day.to_string(), self.reading.today)
    }

    /// The species.
    pub fn species(&mut self, lookups: &mut Lookups) -> Option<NamedSpecies> {
        let typed = self.cell("species");
        if typed.is_empty() {
            self.refuse("species", "Fill this in.");
            return None;
        }
        match lookups.species(typed) {
            Ok(species) => {
                self.remarks.extend(species.remark.clone().map(|remark| format!("{remark}.")));
                Some(species)
            }
            Err(problem) => {
                self.refuse("species", problem);
                None
            }
        }
    }

    /// The shelf, when room, rack and shelf are given.
    pub fn shelf(&mut self, lookups: &Lookups) -> Option<ShelfId> {
        let (room, rack) = (self.cell("room"), self.cell("rack"));
        let number = self.whole("shelf", 1..=99);
        if room.is_empty() && rack.is_empty() && number.is_none() {
            return None;
        }
        for (column, missing) in [("room", room.is_empty()), ("rack", rack.is_empty()), ("shelf", self.cell("shelf").is_empty())] {
            if missing {
                self.refuse(column, "Give room, rack and shelf together, or none of them.");
                return None;
            }
        }
        match lookups.shelf(room, rack, number?) {
            Ok(shelf) => Some(shelf),
            Err((column, problem)) => {
                self.refuse(column, problem);
                None
            }
        }
    }

    /// The source code, where one is given.
    pub fn source(&mut self) -> Option<Source> {
        let typed = self.cell("source_code");
        if typed.is_empty() {
            return None;
        }
        match check_source(typed) {
            Ok(source) => Some(source),
            Err(problem) => {
                self.refuse("source_code", format!("{problem}."));
                None
            }
        }
    }

    /// The sex, and what it rests on, where they are given.
    pub fn sex(&mut self) -> Option<(Sex, SexBasis)> {
        let sex = match self.cell("sex").to_lowercase().as_str() {
            "" => None,
            "f" | "female" | "0.1" | "0.1.0" => Some(Sex::Female),
            "m" | "male" | "1.0" | "1.0.0" => Some(Sex::Male),
            "u" | "?" | "unknown" | "unsexed" | "0.0.1" => Some(Sex::Unknown),
            _ => {
                self.refuse("sex", "Write female, male or unknown.");
                None
            }
        };
        let basis = match self.cell("sex_basis").to_lowercase().as_str() {
            "" => None,
            "none" => Some(SexBasis::None),
            "suspected" | "ventral" => Some(SexBasis::Suspected),
            "exuvium" | "moult" | "molt" | "shed skin" => Some(SexBasis::Exuvium),
            "mature" => Some(SexBasis::Mature),
            _ => {
                self.refuse("sex_basis", "Write suspected, exuvium or mature.");
                None
            }
        };
        match (sex, basis) {
            (None | Some(Sex::Unknown), Some(SexBasis::Suspected | SexBasis::Exuvium | SexBasis::Mature)) => {
                self.refuse(
                    "sex_basis",
                    "This is the basis of a sex, but the sex is not given. Write female or male, or leave this empty.",
                );
                None
            }
            (Some(Sex::Female), Some(SexBasis::Mature)) => {
                self.refuse("sex_basis", "“mature” stands for a mature male. Write suspected or exuvium for a female.");
                None
            }
            (None, _) => None,
            (Some(Sex::Unknown), _) => Some((Sex::Unknown, SexBasis::None)),
            (Some(sex), None | Some(SexBasis::None)) => {
                self.remarks.push(format!("No basis is given for {sex}, so the sex is kept as suspected."));
                Some((sex, SexBasis::Suspected))
            }
            (Some(sex), Some(basis)) => Some((sex, basis)),
        }
    }

    /// The leg span, where it is given.
    pub fn span(&mut self) -> Option<NewSpan> {
        let columns = [("dls_mm", Unit::Millimetre), ("dls_cm", Unit::Centimetre), ("dls_in", Unit::Inch)];
        let (column, unit, typed) =
            columns.into_iter().map(|(column, unit)| (column, unit, self.cell(column))).find(|(_, _, typed)| !typed.is_empty())?;
        let bare = typed.trim_start_matches(['~', '≈']).trim();
        let method = if bare == typed { SpanMethod::Measured } else { SpanMethod::Estimated };
        let number = bare.replace(',', ".").parse::<f64>().ok().and_then(|number| convert(number, unit, Unit::Millimetre).ok());
        match number.map(f64::round).filter(|mm| (1.0..=400.0).contains(mm)) {
            // In range, so the cast is exact.
            Some(mm) => Some(NewSpan { kind: SpanKind::LegSpan, mm: mm as i64, method }),
            None => {
                self.refuse(column, format!("Enter a length in {unit} that comes to 1 to 400 mm, as a number alone."));
                None
            }
        }
    }
}

/// Reads a day in the file's way of writing, or in ISO, which can't be mistaken.
fn written_day(typed: &str, dates: Dates) -> Option<NaiveDate> {
    if let Ok(day) = NaiveDate::parse_from_str(typed, "%Y-%m-%d") {
        return Some(day);
    }
    let mut parts = typed.split(['/', '.', '-']).map(str::trim);
    let (first, second, year, rest) = (parts.next()?, parts.next()?, parts.next()?, parts.next());
    if rest.is_some() || year.len() != 4 {
        return None;
    }
    let (day, month) = match dates {
        Dates::Iso => return None,
        Dates::Dmy => (first, second),
        Dates::Mdy => (second, first),
    };
    NaiveDate::from_ymd_opt(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
}

/// The source of a row that gives none.
pub const NO_SOURCE: Source = Source { code: SourceCode::Unknown, pre_convention: false };
