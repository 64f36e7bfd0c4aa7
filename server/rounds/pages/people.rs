//! Handing over on the day: somebody is not in, and their duties go to the others; or they are in after all.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::rounds::model::passing::PassedOn;
use crate::rounds::model::share::AtWork;
use crate::rounds::store::{self, share};
use crate::staff;
use crate::staff::model::rota::AbsenceKind;

/// Why somebody is not in; ill, where nothing is chosen.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct NotInForm {
    kind: String,
}

/// Where to go afterwards.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct BackForm {
    back: String,
}

#[derive(Template)]
#[template(path = "rounds/not_in.html")]
struct NotInPage {
    layout: Layout,
    person: AtWork,
    passed: PassedOn,
}

async fn person(db: &mut sqlx::SqliteConnection, member: MemberId, today: chrono::NaiveDate) -> Result<AtWork, AppError> {
    share::at_work(db, today).await?.into_iter().find(|person| person.member == member).ok_or(AppError::NotFound)
}

/// What became of somebody's duties today.
pub(in crate::rounds) async fn passed_on(State(app): State<App>, me: SignedIn, Path(member): Path<MemberId>) -> Answer {
    let mut db = app.read().await?;
    let person = person(&mut db, member, app.today()).await?;
    let passed = store::passed_on(&mut db, member, app.today()).await?;
    page(&NotInPage { layout: Layout::of(&app, &me, Section::Today).await?, person, passed })
}

/// Notes that somebody is not in today, and passes their duties on.
pub(in crate::rounds) async fn not_in(State(app): State<App>, me: SignedIn, Path(member): Path<MemberId>, form: Form<NotInForm>) -> Answer {
    let mut check = Check::new();
    let kind = check.optional_choice("kind", &form.input.kind).unwrap_or(AbsenceKind::Ill);
    if !check.ok() {
        return Err(AppError::Refused(check.mistakes()));
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    let passed = store::not_in(&mut write, member, kind).await?;
    let today = write.today;
    let person = person(write.db(), member, today).await?;
    let why = person.why_not.as_deref().unwrap_or_default();
    let change = Change::new("member.not_in", format!("member {member}"), format!("{today}: {why}. {}", passed.words()));
    me.done(write, change, &paths::not_in(&member), format!("{} is not in today: {why}. {}", person.name, passed.words())).await
}

/// Notes that somebody is in today after all. Their duties stay with those who have them now.
pub(in crate::rounds) async fn in_after_all(
    State(app): State<App>,
    me: SignedIn,
    Path(member): Path<MemberId>,
    form: Form<BackForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let person = staff::store::rota::in_after_all(&mut write, member).await?;
    let today = write.today;
    let back = paths::local_or(&form.input.back, paths::TODAY);
    let change = Change::new("member.in_after_all", format!("member {member}"), format!("{today}: in, {} min", person.minutes));
    let says = format!("{} is in today after all. What was passed on stays with those who have it now.", person.name);
    me.done(write, change, back, says).await
}
