//! Owners' links: invitations, and new pass phrases for those who lost theirs. A link is shown once, on the answer itself.

use askama::Template;
use axum::extract::State;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::{LinkId, MemberId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::staff::model::Roles;
use crate::staff::store;
use crate::staff::store::links;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct InviteForm {
    name: String,
    owner: String,
    lead: String,
    keeper: String,
    counter: String,
}

impl InviteForm {
    fn check(&self) -> Result<(String, Roles), Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 80);
        let ticked = |box_: &str| box_ == "yes";
        let roles =
            Roles { owner: ticked(&self.owner), lead: ticked(&self.lead), keeper: ticked(&self.keeper), counter: ticked(&self.counter) };
        if roles.is_empty() {
            check.add("keeper", "Tick one role at least.");
        }
        match name {
            Some(name) if check.ok() => Ok((name, roles)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "staff/invite.html")]
struct InvitePage {
    layout: Layout,
    input: InviteForm,
    mistakes: Mistakes,
}

#[derive(Template)]
#[template(path = "staff/link.html")]
struct LinkPage {
    layout: Layout,
    title: String,
    url: String,
    expires_at: DateTime<Utc>,
    zone: Tz,
}

pub(in crate::staff) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let input = InviteForm { keeper: "yes".to_owned(), ..InviteForm::default() };
    page(&InvitePage { layout: Layout::of(&app, &me, Section::Staff).await?, input, mistakes: Mistakes::none() })
}

pub(in crate::staff) async fn invite(State(app): State<App>, me: SignedIn, form: Form<InviteForm>) -> Answer {
    match save_invitation(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&InvitePage { layout: Layout::of(&app, &me, Section::Staff).await?, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_invitation(app: &App, me: &SignedIn, form: &Form<InviteForm>) -> Answer {
    let (name, roles) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let made = links::make_invitation(&mut write, &name, roles).await?;
    let change = Change::new("invitation.made", format!("link {}", made.id), format!("{name}: {}", roles.words()));
    write.commit(change, paths::STAFF).await?;
    show_link(app, me, format!("Invitation for {name}"), &paths::welcome(&made.token), made.expires_at).await
}

async fn show_link(app: &App, me: &SignedIn, title: String, path: &str, expires_at: DateTime<Utc>) -> Answer {
    let url = format!("{}{path}", app.config.public_url);
    page(&LinkPage { layout: Layout::of(app, me, Section::Staff).await?, title, url, expires_at, zone: app.site().zone })
}

pub(in crate::staff) async fn revoke(State(app): State<App>, me: SignedIn, Path(id): Path<LinkId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let name = links::revoke_invitation(&mut write, id).await?;
    let change = Change::new("invitation.revoked", format!("link {id}"), "").from(name.as_str());
    me.done(write, change, paths::STAFF, format!("The invitation for {name} no longer works.")).await
}

pub(in crate::staff) async fn reset_link(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<ButtonForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let member = store::require(write.db(), id).await?;
    if member.disabled_at.is_some() {
        return Err(AppError::conflict(format!("{} may not sign in at present. Let them in again first.", member.name)));
    }
    let made = links::make_reset(&mut write, id).await?;
    let change = Change::new("reset_link.made", format!("member {id}"), format!("link {}", made.id));
    write.commit(change, &paths::member(&id)).await?;
    show_link(&app, &me, format!("New pass phrase for {}", member.name), &paths::renew(&made.token), made.expires_at).await
}
