//! The room's first page, and what to do in an emergency.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;

use crate::handling::model::{Hold, Incident, PersonCleared, RehouseDuty, TableRow, by_band};
use crate::handling::store;
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};

/// A rehouse, with who could do it today.
struct BoardLine {
    duty: RehouseDuty,
    cleared: Vec<String>,
}

#[derive(Template)]
#[template(path = "handling/overview.html")]
struct OverviewPage {
    layout: Layout,
    today: chrono::NaiveDate,
    zone: Tz,
    waiting: Vec<Incident>,
    board: Vec<BoardLine>,
    holds: Vec<Hold>,
    people: Vec<PersonCleared>,
    /// The risk table, a row a band.
    bands: Vec<(i64, Vec<TableRow>)>,
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let today = app.today();
    let people = store::people(&mut db, today).await?;
    let keepers = store::keepers(&mut db).await?;
    let cleared = |level: i64| -> Vec<String> {
        let able = people.iter().filter(|person| person.level >= level && keepers.contains(&person.id));
        able.map(|person| person.name.clone()).collect()
    };
    let duties = store::rehouse_board(&mut db).await?;
    let board = duties.into_iter().map(|duty| BoardLine { cleared: cleared(duty.clearance), duty }).collect();
    page(&OverviewPage {
        layout: Layout::of(&app, &me, Section::Handling).await?,
        today,
        zone: app.site().zone,
        waiting: store::waiting_incidents(&mut db).await?,
        board,
        holds: store::standing_holds(&mut db, app.now()).await?,
        people,
        bands: by_band(&store::table_rows(&mut db).await?),
    })
}

#[derive(Template)]
#[template(path = "handling/emergency.html")]
struct EmergencyPage {
    layout: Layout,
    emergency: String,
}

pub(in crate::handling) async fn emergency(State(app): State<App>, me: SignedIn) -> Answer {
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&EmergencyPage { layout, emergency: app.site().emergency.clone() })
}
