//! A buyer's page: everything they bought and were given.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;

use super::super::{ShownPaper, shown_papers};
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::{BuyerId, RecallId};
use crate::house::layout::{Layout, Section, page};
use crate::sales::model::{Bought, Buyer, Handover, OrderLine, Reservation};
use crate::sales::store;

#[derive(Template)]
#[template(path = "sales/buyers/show.html")]
struct ShowPage {
    layout: Layout,
    buyer: Buyer,
    bought: Vec<Bought>,
    papers: Vec<ShownPaper>,
    orders: Vec<OrderLine>,
    reservations: Vec<Reservation>,
    handovers: Vec<Handover>,
    recalls: Vec<RecallId>,
    /// The day on which the house's rule erases them; none: never.
    erased_on: Option<NaiveDate>,
    today: NaiveDate,
    zone: chrono_tz::Tz,
}

pub(in crate::sales) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<BuyerId>) -> Answer {
    let mut db = app.read().await?;
    let buyer = store::require_buyer(&mut db, id).await?;
    let erased_on = match buyer.is_erased() {
        true => None,
        false => store::retention::rule(&mut db).await?.erases_on(store::retention::last_dealing(&mut db, id).await?),
    };
    page(&ShowPage {
        layout: Layout::of(&app, &me, Section::Sales).await?,
        bought: store::bought_by(&mut db, id).await?,
        papers: shown_papers(&app, crate::papers::store::of_buyer(&mut db, id).await?),
        orders: store::orders_of(&mut db, id).await?,
        reservations: store::reserved_for(&mut db, id).await?,
        handovers: store::handovers_of(&mut db, id).await?,
        recalls: store::recall::of_buyer(&mut db, id).await?,
        buyer,
        erased_on,
        today: app.today(),
        zone: app.site().zone,
    })
}
