//! A member's own account.

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::header::REFERER;
use chrono_tz::Tz;
use serde::Deserialize;

use super::fields::{begin_session, check_phrase};
use super::sign_in::leave;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::SignedIn;
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::session::{Theme, end_all};
use crate::staff::model::{MemberRow, SessionRow};
use crate::staff::store::sessions;
use crate::staff::{passphrase, store};

#[derive(Template)]
#[template(path = "staff/account.html")]
struct AccountPage {
    layout: Layout,
    member: MemberRow,
    sessions: Vec<SessionRow>,
    this_one: String,
    zone: Tz,
}

pub(in crate::staff) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let member = store::require(&mut db, me.id()).await?;
    let sessions = sessions::of_member(&mut db, me.id(), app.now()).await?;
    let (this_one, zone) = (me.visit.id_hash(), app.site().zone);
    page(&AccountPage { layout: Layout::of(&app, &me, Section::Outside).await?, member, sessions, this_one, zone })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct PhraseForm {
    current: String,
    pass_phrase: String,
    again: String,
}

#[derive(Template)]
#[template(path = "staff/new_phrase.html")]
struct PhrasePage {
    layout: Layout,
    sign_in_name: String,
    mistakes: Mistakes,
}

async fn phrase_page(app: &App, me: &SignedIn, mistakes: Mistakes) -> Result<PhrasePage, AppError> {
    let sign_in_name = store::require(&mut *app.read().await?, me.id()).await?.sign_in_name;
    Ok(PhrasePage { layout: Layout::of(app, me, Section::Outside).await?, sign_in_name, mistakes })
}

pub(in crate::staff) async fn new_phrase(State(app): State<App>, me: SignedIn) -> Answer {
    page(&phrase_page(&app, &me, Mistakes::none()).await?)
}

pub(in crate::staff) async fn change_phrase(State(app): State<App>, me: SignedIn, headers: HeaderMap, form: Form<PhraseForm>) -> Answer {
    match save_phrase(&app, &me, &headers, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&phrase_page(&app, &me, mistakes).await?),
        answer => answer,
    }
}

async fn save_phrase(app: &App, me: &SignedIn, headers: &HeaderMap, form: &Form<PhraseForm>) -> Answer {
    let member = store::require(&mut *app.read().await?, me.id()).await?;
    let mut check = Check::new();
    let phrase = check_phrase(&mut check, app, &form.input.pass_phrase, &form.input.again, &member.sign_in_name);
    let phrase = phrase.ok_or_else(|| check.mistakes())?;
    if !passphrase::verify_again(app, me.id(), &form.input.current).await? {
        return Err(AppError::refused("current", "This is not your pass phrase now. Type the one that you signed in with."));
    }
    let pass_hash = passphrase::hash(app, &phrase).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::set_pass_hash(&mut write, me.id(), &pass_hash).await?;
    let ended = end_all(write.db(), me.id(), Some(&me.visit.id_hash())).await?;
    let change = Change::new("member.phrase_changed", format!("member {}", me.id()), format!("{ended} other sign-ins ended"));
    write.commit(change, paths::ACCOUNT).await?;
    begin_session(app, &me.visit, me.id(), headers).await?;
    me.visit.flash("Your pass phrase is changed. Every other sign-in of yours has ended.", false).await?;
    Ok(redirect(paths::ACCOUNT))
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct PinForm {
    current: String,
    pin: String,
}

#[derive(Template)]
#[template(path = "staff/new_pin.html")]
struct PinPage {
    layout: Layout,
    mistakes: Mistakes,
}

pub(in crate::staff) async fn new_pin(State(app): State<App>, me: SignedIn) -> Answer {
    page(&PinPage { layout: Layout::of(&app, &me, Section::Outside).await?, mistakes: Mistakes::none() })
}

pub(in crate::staff) async fn set_pin(State(app): State<App>, me: SignedIn, form: Form<PinForm>) -> Answer {
    match save_pin(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&PinPage { layout: Layout::of(&app, &me, Section::Outside).await?, mistakes }),
        answer => answer,
    }
}

async fn save_pin(app: &App, me: &SignedIn, form: &Form<PinForm>) -> Answer {
    let pin = form.input.pin.trim();
    if let Some(fault) = passphrase::pin_fault(pin) {
        return Err(AppError::refused("pin", fault));
    }
    if !passphrase::verify_again(app, me.id(), &form.input.current).await? {
        return Err(AppError::refused("current", "This is not your pass phrase. Type the one that you signed in with."));
    }
    let pin_hash = passphrase::hash(app, pin).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::set_pin_hash(&mut write, me.id(), &pin_hash).await?;
    let change = Change::new("member.pin_set", format!("member {}", me.id()), "a new PIN");
    me.done(write, change, paths::ACCOUNT, "Your PIN is set. It confirms you as the second person on somebody else's screen.").await
}

pub(in crate::staff) async fn sign_out_everywhere(State(app): State<App>, me: SignedIn, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let ended = end_all(write.db(), me.id(), None).await?;
    let change = Change::new("member.signed_out_everywhere", format!("member {}", me.id()), format!("{ended} sign-ins ended"));
    write.commit(change, paths::SIGN_IN).await?;
    leave(&me.visit).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct ThemeForm {
    theme: String,
}

pub(in crate::staff) async fn theme(State(app): State<App>, me: SignedIn, headers: HeaderMap, form: Form<ThemeForm>) -> Answer {
    let theme: Theme =
        Check::new().choice("theme", &form.input.theme).ok_or_else(|| AppError::refused("theme", "Choose one of the colours."))?;
    me.visit.set_theme(theme).await?;
    Ok(redirect(&came_from(&app, &headers)))
}

/// The page of ours from which a form was sent; the account page when the browser does not say.
fn came_from(app: &App, headers: &HeaderMap) -> String {
    let sent_from = headers.get(REFERER).and_then(|from| from.to_str().ok()).unwrap_or_default();
    let local = sent_from.strip_prefix(app.config.public_url.as_str()).unwrap_or_default();
    paths::local_or(local, paths::ACCOUNT).to_owned()
}
