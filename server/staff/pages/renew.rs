//! Choosing a new pass phrase by an owner's link. The old one works until the link is used; nobody is signed in by it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::fields::check_phrase;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::Path;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, page, page_again};
use crate::house::paths;
use crate::house::session::{Visit, end_all};
use crate::staff::model::{LinkRow, MemberRow, Purpose};
use crate::staff::store::links;
use crate::staff::{passphrase, store};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct RenewForm {
    pass_phrase: String,
    again: String,
}

#[derive(Template)]
#[template(path = "staff/renew.html")]
struct RenewPage {
    layout: Layout,
    link: LinkRow,
    member: MemberRow,
    mistakes: Mistakes,
}

async fn subject(app: &App, token: &str) -> Result<(LinkRow, MemberRow), AppError> {
    let mut db = app.read().await?;
    let link = links::require(&mut db, Purpose::Reset, token, app.now()).await?;
    let member = store::require(&mut db, link.member_id.ok_or(AppError::NotFound)?).await?;
    Ok((link, member))
}

pub(in crate::staff) async fn show(State(app): State<App>, visit: Visit, Path(token): Path<String>) -> Answer {
    let (link, member) = subject(&app, &token).await?;
    page(&RenewPage { layout: Layout::outside(&app, &visit).await?, link, member, mistakes: Mistakes::none() })
}

pub(in crate::staff) async fn renew(State(app): State<App>, visit: Visit, Path(token): Path<String>, form: Form<RenewForm>) -> Answer {
    let (link, member) = subject(&app, &token).await?;
    match save(&app, &visit, &token, &member, &form.input).await {
        Err(AppError::Refused(mistakes)) => page_again(&RenewPage { layout: Layout::outside(&app, &visit).await?, link, member, mistakes }),
        answer => answer,
    }
}

async fn save(app: &App, visit: &Visit, token: &str, member: &MemberRow, input: &RenewForm) -> Answer {
    let mut check = Check::new();
    let phrase = check_phrase(&mut check, app, &input.pass_phrase, &input.again, &member.sign_in_name).ok_or_else(|| check.mistakes())?;
    let pass_hash = passphrase::hash(app, &phrase).await?;
    let mut write = app.write(Some(member.id)).await?;
    let link = links::use_up(&mut write, Purpose::Reset, token).await?;
    store::set_pass_hash(&mut write, member.id, &pass_hash).await?;
    let ended = end_all(write.db(), member.id, None).await?;
    let after = format!("new pass phrase by a link from {}; {ended} sign-ins ended", link.made_by);
    write.commit(Change::new("member.phrase_renewed", format!("member {}", member.id), after), paths::SIGN_IN).await?;
    visit.flash(format!("Your pass phrase is changed, by a link from {}. Sign in with it.", link.made_by), false).await?;
    Ok(redirect(paths::SIGN_IN))
}
