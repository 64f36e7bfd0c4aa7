//! What is kept of buyers and why, and all that is kept of one of them, as files.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse as _;
use serde_json::{Map, Value, json};

use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::BuyerId;
use crate::house::layout::{Layout, Section, page};
use crate::house::text;
use crate::sales::model::Rule;
use crate::sales::model::inventory::{INVENTORY, Kept};
use crate::sales::store;
use crate::sales::store::person::{Cell, Table, everything};

#[derive(Template)]
#[template(path = "sales/buyers/inventory.html")]
struct InventoryPage {
    layout: Layout,
    inventory: &'static [Kept],
    rule: Rule,
}

pub(in crate::sales) async fn inventory(State(app): State<App>, me: SignedIn) -> Answer {
    let rule = store::retention::rule(&mut *app.read().await?).await?;
    page(&InventoryPage { layout: Layout::of(&app, &me, Section::Sales).await?, inventory: &INVENTORY, rule })
}

/// The name of a file that a browser keeps it under.
fn attachment(id: BuyerId, ending: &str) -> String {
    format!("attachment; filename=\"buyer-{id}.{ending}\"")
}

fn told(table: &str) -> Option<&'static Kept> {
    INVENTORY.iter().find(|kept| kept.table == table)
}

/// Everything about one buyer as JSON, with what each table is for.
pub(in crate::sales) async fn json_of_person(State(app): State<App>, _me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let tables = everything(&mut *app.read().await?, id).await?;
    let value = |cell: &Cell| match cell {
        Cell::Empty => Value::Null,
        Cell::Whole(number) => json!(number),
        Cell::Text(text) => json!(text),
    };
    let table = |table: &Table| {
        let rows: Vec<Value> = table
            .rows
            .iter()
            .map(|row| Value::Object(row.iter().map(|(name, cell)| (name.clone(), value(cell))).collect::<Map<_, _>>()))
            .collect();
        let kept = told(table.name);
        json!({
            "table": table.name,
            "holds": kept.map(|kept| kept.holds),
            "purpose": kept.map(|kept| kept.purpose),
            "when_erased": kept.map(|kept| kept.erasure),
            "rows": rows,
        })
    };
    let whole = json!({
        "house": app.site().name,
        "made_at": app.now().to_rfc3339(),
        "buyer": id,
        "tables": tables.iter().map(table).collect::<Vec<_>>(),
    });
    let body = serde_json::to_string_pretty(&whole).map_err(|error| AppError::Internal(error.into()))?;
    let headers =
        [(header::CONTENT_TYPE, "application/json; charset=utf-8".to_owned()), (header::CONTENT_DISPOSITION, attachment(id, "json"))];
    Ok((headers, body).into_response())
}

/// The same as one CSV file: a line for each cell, with the table, the number of the row, and the column. A table without a row has
/// one line that says so.
pub(in crate::sales) async fn csv_of_person(State(app): State<App>, _me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let tables = everything(&mut *app.read().await?, id).await?;
    let mut lines = vec![["table", "row", "column", "value"].map(str::to_owned)];
    for table in &tables {
        if table.rows.is_empty() {
            lines.push([table.name.to_owned(), "0".to_owned(), String::new(), String::new()]);
        }
        for (at, row) in table.rows.iter().enumerate() {
            lines.extend(row.iter().map(|(column, cell)| [table.name.to_owned(), (at + 1).to_string(), column.clone(), written(cell)]));
        }
    }
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for line in lines {
        writer.write_record(line).map_err(|error| AppError::Internal(error.into()))?;
    }
    let body = writer.into_inner().map_err(|error| AppError::Internal(anyhow::anyhow!("{error}")))?;
    let headers = [(header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()), (header::CONTENT_DISPOSITION, attachment(id, "csv"))];
    Ok((headers, body).into_response())
}

fn written(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Whole(number) => number.to_string(),
        Cell::Text(text) => text::guarded(text.clone()),
    }
}
