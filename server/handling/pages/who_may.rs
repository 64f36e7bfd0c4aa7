//! Who may do what: one table, for everybody to read.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::handling::model::{Column, Towards, Who};
use crate::handling::store;
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};

/// The columns of one band.
struct BandColumns {
    level: i64,
    columns: Vec<Column>,
}

/// One person's row.
struct Row {
    who: Who,
    towards: Vec<Towards>,
    has_read: bool,
}

impl Row {
    /// What the next clearance takes, in words; none at the highest level.
    fn next(&self) -> Option<String> {
        let next = self.towards.iter().find(|towards| i64::from(towards.level) > self.who.person.level)?;
        self.who.roles.looks_after().then(|| next.words())
    }
}

#[derive(Template)]
#[template(path = "handling/who_may.html")]
struct WhoMayPage {
    layout: Layout,
    today: NaiveDate,
    bands: Vec<BandColumns>,
    rows: Vec<Row>,
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let today = app.today();
    let mut rows = Vec::new();
    for who in store::team(&mut db, today).await? {
        let towards = store::towards(&mut db, who.person.id, today).await?;
        let has_read = store::has_read_current(&mut db, who.person.id).await?;
        rows.push(Row { who, towards, has_read });
    }
    let mut bands: Vec<BandColumns> = Vec::new();
    for column in Column::all(&store::table_rows(&mut db).await?) {
        let level = i64::from(column.row.band.level());
        match bands.last_mut().filter(|band| band.level == level) {
            Some(band) => band.columns.push(column),
            None => bands.push(BandColumns { level, columns: vec![column] }),
        }
    }
    // What can hurt stands first, where no screen cuts it off.
    bands.reverse();
    page(&WhoMayPage { layout: Layout::of(&app, &me, Section::Handling).await?, today, bands, rows })
}
