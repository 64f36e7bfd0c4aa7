//! Text to rows: which character divides the cells, which column is which, and one row after another.

use std::collections::HashMap;
use std::sync::Arc;

use csv::{ReaderBuilder, StringRecord};

use super::columns::{self, Column};

/// The most lines that one file may have.
const MOST_ROWS: usize = 200_000;

/// A file as rows.
pub struct Sheet {
    /// What was left out of account, in words.
    pub warnings: Vec<String>,
    /// The rows below the names, blank ones left out.
    pub rows: Vec<Row>,
}

/// Where each column stands, and the name of the one that a line is known by.
struct Places {
    at: HashMap<&'static str, usize>,
    key: &'static str,
    width: usize,
}

/// One row.
pub struct Row {
    /// Its line in the file, counted from 1.
    pub line: u64,
    cells: StringRecord,
    places: Arc<Places>,
}

impl Row {
    /// What stands in a column, trimmed; empty where the file has no such column.
    pub fn cell(&self, name: &str) -> &str {
        self.places.at.get(name).and_then(|place| self.cells.get(*place)).unwrap_or_default().trim()
    }

    /// What the line is known by.
    pub fn label(&self) -> String {
        self.cell(self.places.key).chars().take(40).collect()
    }

    /// What to change when the row has not as many cells as there are column names.
    pub fn wrong_width(&self) -> Option<String> {
        let (cells, names) = (self.cells.len(), self.places.width);
        (cells != names).then(|| {
            format!("This line has {cells} cells, but the first line names {names} columns. Look for a missing or extra divider, or a quote that is not closed.")
        })
    }
}

/// Reads a text into rows.
///
/// # Errors
/// Columns that are missing or named twice, no rows, or too many.
pub fn read(text: &str, columns: &'static [Column]) -> Result<Sheet, Vec<String>> {
    let mut reader = ReaderBuilder::new().has_headers(false).flexible(true).delimiter(divider(text)).from_reader(text.as_bytes());
    let mut records = reader.records();
    let unreadable = |error: csv::Error| vec![format!("The file can't be read as CSV: {error}.")];
    let names = records.next().transpose().map_err(unreadable)?.unwrap_or_default();
    let (places, warnings) = places(&names, columns)?;
    let places = Arc::new(places);
    let mut rows = Vec::new();
    let mut lines = LineCounter { text: text.as_bytes(), at: 0, line: 1 };
    for record in records {
        let cells = record.map_err(unreadable)?;
        if cells.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if rows.len() == MOST_ROWS {
            return Err(vec![format!("The file has more than {MOST_ROWS} lines. Divide it into several files.")]);
        }
        let line = lines.of(cells.position().map_or(0, csv::Position::byte));
        rows.push(Row { line, cells, places: Arc::clone(&places) });
    }
    if rows.is_empty() {
        return Err(vec!["The file has a line of column names, but no line below it.".to_owned()]);
    }
    Ok(Sheet { warnings, rows })
}

/// Counts lines as an editor does. The reader's own count leaves out the blank lines before a record.
struct LineCounter<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl LineCounter<'_> {
    /// The line on which the record begins that was read from this byte on. Asked in the order of the file.
    fn of(&mut self, byte: u64) -> u64 {
        let byte = usize::try_from(byte).unwrap_or(usize::MAX);
        while let Some(next) = self.text.get(self.at).filter(|next| self.at < byte || matches!(next, b'\r' | b'\n')) {
            self.line += u64::from(*next == b'\n');
            self.at += 1;
        }
        self.line
    }
}

/// The character that divides the cells: the likeliest one in the first line, outside quotes.
fn divider(text: &str) -> u8 {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let outside: String = first.split('"').step_by(2).collect();
    let times = |divider: u8| outside.bytes().filter(|byte| *byte == divider).count();
    [b'\t', b';', b','].into_iter().max_by_key(|divider| times(*divider)).unwrap_or(b',')
}

fn places(names: &StringRecord, columns: &'static [Column]) -> Result<(Places, Vec<String>), Vec<String>> {
    let (mut at, mut unknown, mut problems) = (HashMap::new(), Vec::new(), Vec::new());
    for (place, name) in names.iter().enumerate() {
        match columns::find(columns, name) {
            Some(column) if at.insert(column.name, place).is_some() => {
                problems.push(format!("The column “{}” is named twice. Keep one of the two.", column.name));
            }
            Some(_) => {}
            None if name.trim().is_empty() => {}
            None => unknown.push(format!("“{}”", name.trim().chars().take(40).collect::<String>())),
        }
    }
    let missing: Vec<&str> =
        columns.iter().filter(|column| column.required && !at.contains_key(column.name)).map(|column| column.name).collect();
    if !missing.is_empty() {
        problems.push(format!("The first line must name the columns, and these are missing: {}.", missing.join(", ")));
    }
    let lengths = at.keys().filter(|name| name.starts_with("dls_")).count();
    if lengths > 1 {
        problems.push("The leg span stands in more than one column. Keep one of dls_mm, dls_cm and dls_in.".to_owned());
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let warnings = if unknown.is_empty() {
        Vec::new()
    } else {
        vec![format!("Not one of the columns below, so it is left out: {}.", unknown.join(", "))]
    };
    let key = columns.first().map_or("", |column| column.name);
    Ok((Places { at, key, width: names.len() }, warnings))
}
