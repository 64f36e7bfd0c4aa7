//! Pages of recalls.

mod new;
mod show;

use askama::Template;
use axum::extract::State;

pub(in crate::sales) use new::{create_recall, new_recall};
pub(in crate::sales) use show::{note_outcome, show_recall, write_letters};

use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};
use crate::sales::model::recall::Recall;
use crate::sales::store;

#[derive(Template)]
#[template(path = "sales/recall/list.html")]
struct ListPage {
    layout: Layout,
    recalls: Vec<Recall>,
}

pub(in crate::sales) async fn list_of_recalls(State(app): State<App>, me: SignedIn) -> Answer {
    let recalls = store::recall::recalls(&mut *app.read().await?).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Sales).await?, recalls })
}
