//! A chart's figures in words: the table under it and the file to download.

use axum::http::header;
use axum::response::{IntoResponse as _, Response};

use crate::house::errors::AppError;
use crate::house::text;

/// A table: the names of its columns, and its rows.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    /// The names of the columns, with units.
    pub head: Vec<String>,
    /// The rows, as they are read.
    pub rows: Vec<Vec<String>>,
    /// The columns that hold words, by place; the others hold figures. The first names its row whatever it holds.
    words: Vec<usize>,
}

impl Figures {
    /// An empty table.
    #[must_use]
    pub fn new(head: &[&str]) -> Self {
        Self { head: head.iter().map(|name| (*name).to_owned()).collect(), rows: Vec::new(), words: Vec::new() }
    }

    /// The same with words in these columns, counted from 0: they are set as text, and may break.
    #[must_use]
    pub fn with_words(self, columns: &[usize]) -> Self {
        Self { words: columns.to_vec(), ..self }
    }

    /// Whether a column holds figures, to be set one under the other.
    #[must_use]
    pub fn is_number(&self, column: &usize) -> bool {
        *column > 0 && !self.words.contains(column)
    }
}

/// The figures as a CSV file (RFC 4180, UTF-8) of this name.
///
/// # Errors
/// The file can't be written.
pub fn download(figures: &Figures, name: &str) -> Result<Response, AppError> {
    let mut file = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let written =
        std::iter::once(&figures.head).chain(&figures.rows).try_for_each(|row| file.write_record(row.iter().map(|cell| plain(cell))));
    written.map_err(anyhow::Error::from)?;
    let bytes = file.into_inner().map_err(|error| anyhow::anyhow!("a table could not be written as CSV: {error}"))?;
    let name: String = name.chars().map(|letter| if letter.is_ascii_alphanumeric() { letter } else { '-' }).collect();
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}.csv\"")),
    ];
    Ok((headers, bytes).into_response())
}

/// A cell without what is only for the eye: a dash for nothing becomes empty.
fn plain(cell: &str) -> String {
    if cell == "–" { String::new() } else { text::guarded(cell.to_owned()) }
}
