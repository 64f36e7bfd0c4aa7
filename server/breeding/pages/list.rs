//! The list of sacs and pairings.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use crate::breeding::model::forecast::Watched;
use crate::breeding::model::pairing::PairAgain;
use crate::breeding::model::{PairingRow, Sac, SacState};
use crate::breeding::store;
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};
use crate::reckoning::breeding::PullWindow;
use crate::reckoning::calendar::days_between;

/// A sac of the list with its day count and pull window.
struct Line {
    sac: Sac,
    days: i64,
    pull: (NaiveDate, NaiveDate),
}

#[derive(Template)]
#[template(path = "breeding/list.html")]
struct ListPage {
    layout: Layout,
    today: NaiveDate,
    sacs: Vec<Line>,
    pairings: Vec<PairingRow>,
    watched: Vec<Watched>,
    again: Vec<PairAgain>,
}

pub(in crate::breeding) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let (mut db, today) = (app.read().await?, app.today());
    let sacs = store::sacs(&mut db).await?.into_iter().map(|sac| {
        let window = PullWindow { from_day: sac.pull_from_day, to_day: sac.pull_to_day };
        let last = sac.ended_on.unwrap_or(today);
        Line { days: days_between(sac.laid_on, last), pull: window.days(sac.laid_on), sac }
    });
    page(&ListPage {
        sacs: sacs.collect(),
        pairings: store::pairings(&mut db).await?,
        watched: store::watched(&mut db, today).await?,
        again: store::pair_again(&mut db, today).await?,
        layout: Layout::of(&app, &me, Section::Breeding).await?,
        today,
    })
}
