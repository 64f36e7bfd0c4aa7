//! Pages of issued papers. What a buyer sees depends on no session and shows nothing else of the house.

mod documents;
mod label_sheets;
mod on_demand;
mod provenance;
mod settings;
mod statements;
mod verify;

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

use serde::Deserialize;

pub(super) use documents::{add as add_document, confirm as confirm_strike, new as new_document, strike as strike_document};
pub(super) use label_sheets::{add as add_label_sheet, list as label_sheets, page_style, retire as retire_label_sheet};
pub(super) use on_demand::{box_label, incident_report, new_vial_labels, rehouse_card, vial_labels};
pub(super) use provenance::show as provenance;
pub(super) use settings::{add_place, retire_place, save as save_settings, show as settings};
pub(super) use statements::{add as add_statement, confirm as confirm_withdrawal, list as statements, withdraw as withdraw_statement};
pub(super) use verify::{ask as ask_verify, scanned as verify};

use super::model::Paper;
use super::{shown, store};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{ButtonForm, Form};
use crate::house::ids::PaperId;
use crate::house::paths;

#[derive(Template)]
#[template(path = "papers/no_sheet.html")]
struct NoSheet;

#[derive(Template)]
#[template(path = "papers/not_as_issued.html")]
struct NotAsIssued<'a> {
    number: &'a str,
}

/// The size of page that is asked for; none: the printer's own.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct Asked {
    size: String,
}

pub(super) async fn for_staff(State(app): State<App>, _me: SignedIn, Path(id): Path<PaperId>, Query(asked): Query<Asked>) -> Answer {
    let paper = store::require(&mut *app.read().await?, id).await?;
    show(&app, &paper, &asked.size)
}

/// A paper that names no buyer, for everybody of the house.
pub(super) async fn for_house(State(app): State<App>, _me: SignedIn, Path(id): Path<PaperId>, Query(asked): Query<Asked>) -> Answer {
    let paper = store::require(&mut *app.read().await?, id).await?;
    if !paper.kind.for_house() {
        return Err(AppError::NotFound);
    }
    show(&app, &paper, &asked.size)
}

/// Takes the token's extraction as a result, so that a malformed one is answered like an unknown one.
pub(super) async fn for_buyer(State(app): State<App>, token: Result<Path<String>, AppError>) -> Answer {
    let Some(paper) = opened(&app, token).await? else { return no_sheet() };
    Ok(private(show(&app, &paper, "")?))
}

/// The bytes as they were issued, so that anybody can work out their fingerprint.
pub(super) async fn original(State(app): State<App>, token: Result<Path<String>, AppError>) -> Answer {
    let Some(paper) = opened(&app, token).await? else { return no_sheet() };
    if !paper.is_as_issued() {
        return Ok(private(not_as_issued(&paper)?));
    }
    Ok(private(([(header::CONTENT_TYPE, "text/html; charset=utf-8")], paper.document()).into_response()))
}

/// The paper that a link opens; nothing for links that are unknown, closed or malformed.
async fn opened(app: &App, token: Result<Path<String>, AppError>) -> Result<Option<Paper>, AppError> {
    let Ok(Path(token)) = token else { return Ok(None) };
    match store::find_by_token(&mut *app.read().await?, &token).await {
        Ok(paper) => Ok(Some(paper)),
        Err(AppError::NotFound) => Ok(None),
        Err(error) => Err(error),
    }
}

fn show(app: &App, paper: &Paper, size: &str) -> Answer {
    match shown::document(paper, &app.link_key, size)? {
        Some(document) => Ok(Html(document).into_response()),
        None => not_as_issued(paper),
    }
}

fn not_as_issued(paper: &Paper) -> Answer {
    tracing::error!(paper = %paper.number, "a stored paper does not match its fingerprint; it is not shown");
    let page = NotAsIssued { number: &paper.number }.render()?;
    Ok((StatusCode::INTERNAL_SERVER_ERROR, Html(page)).into_response())
}

fn no_sheet() -> Answer {
    Ok(private((StatusCode::NOT_FOUND, Html(NoSheet.render()?)).into_response()))
}

/// Keeps the address of a buyer's page from other sites and from search engines.
fn private(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(HeaderName::from_static("x-robots-tag"), HeaderValue::from_static("noindex, nofollow"));
    response
}

/// The page that lists a paper's link.
fn listed_at(paper: &Paper) -> String {
    match (paper.handover_id, paper.buyer_id) {
        (Some(handover), _) => paths::handover(&handover),
        (None, Some(buyer)) => paths::buyer(&buyer),
        (None, None) => paths::SALES.to_owned(),
    }
}

pub(super) async fn revoke(State(app): State<App>, me: SignedIn, Path(id): Path<PaperId>, form: Form<ButtonForm>) -> Answer {
    let paper = store::require(&mut *app.read().await?, id).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    if store::revoke_links(&mut write, id).await? == 0 {
        return Err(AppError::conflict("This paper's link is closed already."));
    }
    let change = Change::new("paper.link-closed", format!("paper {id}"), "closed").from("open");
    let say = format!("The link of {} is closed: nobody opens the sheet with it any more. The paper itself stays as issued.", paper.number);
    me.done(write, change, &listed_at(&paper), say).await
}

pub(super) async fn new_link(State(app): State<App>, me: SignedIn, Path(id): Path<PaperId>, form: Form<ButtonForm>) -> Answer {
    let paper = store::require(&mut *app.read().await?, id).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let closed = store::revoke_links(&mut write, id).await?;
    store::add_link(&mut write, &app, id).await?;
    let change = Change::new("paper.link-made", format!("paper {id}"), "new link").from(if closed > 0 { "open" } else { "closed" });
    let say = format!("{} has a new link, shown below. The code on the printed paper opens nothing any more.", paper.number);
    me.done(write, change, &listed_at(&paper), say).await
}
