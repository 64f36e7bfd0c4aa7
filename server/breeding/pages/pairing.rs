//! A pairing's page: how it stands, its introductions, and the sac that is waited for.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;

use crate::breeding::model::forecast::Watched;
use crate::breeding::model::{Introduction, PairingRow};
use crate::breeding::store;
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::ids::PairingId;
use crate::house::layout::{Layout, Section, page};
use crate::reckoning::breeding::IntroductionEnd;

#[derive(Template)]
#[template(path = "breeding/pairing.html")]
struct PairingPage {
    layout: Layout,
    zone: Tz,
    pairing: PairingRow,
    introductions: Vec<Introduction>,
    watch: Option<Watched>,
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<PairingId>) -> Answer {
    let mut db = app.read().await?;
    page(&PairingPage {
        pairing: store::require_pairing(&mut db, id).await?,
        introductions: store::introductions_of(&mut db, id).await?,
        watch: store::watched(&mut db, app.today()).await?.into_iter().find(|one| one.pairing.id == id),
        zone: app.site().zone,
        layout: Layout::of(&app, &me, Section::Breeding).await?,
    })
}
