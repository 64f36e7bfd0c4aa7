//! Taking up an invitation.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::fields::{check_phrase, check_sign_in_name};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::Path;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, page, page_again};
use crate::house::paths;
use crate::house::session::Visit;
use crate::staff::model::{LinkRow, NewMember, Purpose};
use crate::staff::store::links;
use crate::staff::{passphrase, store};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct WelcomeForm {
    sign_in_name: String,
    pass_phrase: String,
    again: String,
}

impl WelcomeForm {
    fn check(&self, app: &App) -> Result<(String, String), Mistakes> {
        let mut check = Check::new();
        let sign_in_name = check_sign_in_name(&mut check, &self.sign_in_name);
        let pass_phrase = check_phrase(&mut check, app, &self.pass_phrase, &self.again, &self.sign_in_name);
        match (sign_in_name, pass_phrase) {
            (Some(sign_in_name), Some(pass_phrase)) => Ok((sign_in_name, pass_phrase)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "staff/welcome.html")]
struct WelcomePage {
    layout: Layout,
    link: LinkRow,
    input: WelcomeForm,
    mistakes: Mistakes,
}

pub(in crate::staff) async fn show(State(app): State<App>, visit: Visit, Path(token): Path<String>) -> Answer {
    let link = links::require(&mut *app.read().await?, Purpose::Invitation, &token, app.now()).await?;
    let (input, mistakes) = (WelcomeForm::default(), Mistakes::none());
    page(&WelcomePage { layout: Layout::outside(&app, &visit).await?, link, input, mistakes })
}

pub(in crate::staff) async fn join(State(app): State<App>, visit: Visit, Path(token): Path<String>, form: Form<WelcomeForm>) -> Answer {
    let link = links::require(&mut *app.read().await?, Purpose::Invitation, &token, app.now()).await?;
    match save(&app, &visit, &token, &form.input).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&WelcomePage { layout: Layout::outside(&app, &visit).await?, link, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, visit: &Visit, token: &str, input: &WelcomeForm) -> Answer {
    let (sign_in_name, pass_phrase) = input.check(app)?;
    let pass_hash = passphrase::hash(app, &pass_phrase).await?;
    let mut write = app.write(None).await?;
    let link = links::use_up(&mut write, Purpose::Invitation, token).await?;
    let new = NewMember { name: link.name, sign_in_name, pass_hash, roles: link.roles };
    let id = store::insert_member(&mut write, &new).await?;
    write.who = Some(id);
    let after = format!("{}: {}, invited by {}", new.name, new.roles.words(), link.made_by);
    write.commit(Change::new("member.joined", format!("member {id}"), after), paths::SIGN_IN).await?;
    visit.flash("You are in the book. Sign in with the name and pass phrase that you just chose.", false).await?;
    Ok(redirect(paths::SIGN_IN))
}
