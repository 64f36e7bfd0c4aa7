//! Export of the book as CSV files, one for each kind of record, for the house's own use elsewhere.
//!
//! UTF-8, commas, quotes and line ends as RFC 4180 has them. Days are year-month-day, instants UTC, lengths mm. Entries that
//! were corrected later are there with what corrects them. Buyers' names and contacts, and what people told about an
//! incident, stay in the book. `animals.csv` has the columns that the import takes.

mod store;

use std::path::Path;

use futures_util::TryStreamExt as _;
use sqlx::sqlite::SqliteRow;
use sqlx::{Column as _, Connection as _, Row as _, SqliteConnection};

use crate::house::app::App;
use crate::house::text;

use anyhow::Context as _;

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Its name.
    pub file: String,
    /// How many records it holds.
    pub records: u64,
}

/// Writes every file into a folder, all as the book stood at one moment. A file that is there already is never overwritten.
///
/// # Errors
/// The database can't be read, or the folder can't be written.
pub async fn write_all(app: &App, folder: &Path) -> anyhow::Result<Vec<Written>> {
    std::fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}", folder.display()))?;
    let mut db = app.database.reader.acquire().await?;
    // One transaction sees the book as it stood when it began, whatever is written meanwhile.
    let mut snapshot = db.begin_with("BEGIN").await?;
    let mut written = Vec::new();
    for (name, statement) in store::files() {
        let file = format!("{name}.csv");
        let records =
            write_one(&mut snapshot, &folder.join(&file), statement).await.with_context(|| format!("{file} could not be written"))?;
        written.push(Written { file, records });
    }
    snapshot.rollback().await?;
    Ok(written)
}

async fn write_one(db: &mut SqliteConnection, path: &Path, statement: &'static str) -> anyhow::Result<u64> {
    let columns = store::column_names(db, statement).await?;
    let file = std::fs::File::create_new(path)?;
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(file);
    writer.write_record(&columns)?;
    let mut rows = store::rows(db, statement);
    let mut records = 0;
    while let Some(row) = rows.try_next().await? {
        writer.write_record(cells(&row)?)?;
        records += 1;
    }
    writer.flush()?;
    Ok(records)
}

fn cells(row: &SqliteRow) -> sqlx::Result<Vec<String>> {
    row.columns()
        .iter()
        // SQLite gives every value as text when asked for text.
        .map(|column| row.try_get_unchecked::<Option<String>, usize>(column.ordinal()).map(|cell| text::guarded(cell.unwrap_or_default())))
        .collect()
}
