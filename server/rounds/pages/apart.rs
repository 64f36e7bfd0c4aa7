//! Rules set apart for one animal or cohort: what stands, what was, and for the lead a form to set one or end it.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::Deserialize;

use crate::handling;
use crate::handling::model::{HoldSubject, Subject};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, ApartId, CohortId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::write::Write;
use crate::reckoning::calendar::days_after;
use crate::reckoning::planner::{ApartKind, SubjectKey, SubjectKind};
use crate::rounds::model::apart::{Apart, NewApart};
use crate::rounds::store;

/// For how long a rule may be set apart, in days.
const MOST_DAYS: u32 = 365;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct ApartForm {
    kind: String,
    days: String,
    until: String,
    reason: String,
}

impl ApartForm {
    /// `looked_every`: how often the care profile has it looked at, in days. A rule never makes that rarer.
    fn check(&self, today: NaiveDate, on: HoldSubject, looked_every: Option<u32>) -> Result<NewApart, Mistakes> {
        let mut check = Check::new();
        let kind = check.choice::<ApartKind>("kind", &self.kind);
        if kind == Some(ApartKind::NoRehouse) && matches!(on, HoldSubject::Cohort(_)) {
            check.add("kind", "A cohort is not rehoused for its size.");
        }
        let days = match kind {
            Some(kind) if kind.has_days() => check.whole("days", &self.days, 1..=180),
            _ => None,
        };
        if let (Some(ApartKind::CheckEvery), Some(days), Some(every)) = (kind, days, looked_every)
            && days >= every
        {
            check.add("days", format!("It is looked at every {every} days already. Enter fewer: a rule never makes looks rarer."));
        }
        let until = check.coming_day("until", &self.until, today);
        if until.is_some_and(|until| until > days_after(today, MOST_DAYS)) {
            check.add("until", "Enter a day within a year. A rule that should last belongs in the care profile.");
        }
        let reason = check.text("reason", &self.reason, 200);
        match (kind, until, reason) {
            (Some(kind), Some(until), Some(reason)) if check.ok() => Ok(NewApart { kind, days, until, reason }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "rounds/apart.html")]
struct ApartPage {
    layout: Layout,
    subject: Subject,
    today: NaiveDate,
    zone: Tz,
    rules: Vec<Apart>,
    kinds: Vec<Choice>,
    input: ApartForm,
    mistakes: Mistakes,
}

impl ApartPage {
    async fn build(app: &App, me: &SignedIn, on: HoldSubject, input: ApartForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let kinds = choices(ApartKind::ALL, ApartKind::code).into_iter();
        let animal = matches!(on, HoldSubject::Animal(_));
        Ok(Self {
            subject: handling::store::require_subject(&mut db, on).await?,
            today: app.today(),
            zone: app.site().zone,
            rules: store::apart_of(&mut db, on).await?,
            kinds: kinds.filter(|kind| animal || kind.code != ApartKind::NoRehouse.code()).collect(),
            input,
            mistakes,
            layout: Layout::of(app, me, Section::Animals).await?,
        })
    }
}

pub(in crate::rounds) async fn apart_of_animal(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    page(&ApartPage::build(&app, &me, HoldSubject::Animal(id), ApartForm::default(), Mistakes::none()).await?)
}

pub(in crate::rounds) async fn apart_of_cohort(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>) -> Answer {
    page(&ApartPage::build(&app, &me, HoldSubject::Cohort(id), ApartForm::default(), Mistakes::none()).await?)
}

pub(in crate::rounds) async fn set_apart_animal(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<ApartForm>,
) -> Answer {
    saved_or_again(&app, &me, HoldSubject::Animal(id), form).await
}

pub(in crate::rounds) async fn set_apart_cohort(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    form: Form<ApartForm>,
) -> Answer {
    saved_or_again(&app, &me, HoldSubject::Cohort(id), form).await
}

async fn saved_or_again(app: &App, me: &SignedIn, on: HoldSubject, form: Form<ApartForm>) -> Answer {
    match save(app, me, on, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ApartPage::build(app, me, on, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, on: HoldSubject, form: &Form<ApartForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let subject = handling::store::require_subject(write.db(), on).await?;
    let (at, zone, today) = (write.at, write.zone, write.today);
    let known = store::known_of(write.db(), key(on), at, zone).await?;
    let new = form.input.check(today, on, known.looked_every(key(on)))?;
    if !subject.here {
        return Err(AppError::refused("", format!("{} is no longer in the house.", subject.label)));
    }
    let id = store::set_apart(&mut write, on, &new).await?;
    let rule = store::require_apart(write.db(), id).await?.rule.words();
    let planned = replan(&mut write, on).await?;
    let change = Change::new("rule.set-apart", on.words(), format!("{}: {rule}", subject.label));
    me.done(write, change, &format!("{}/due", subject.page()), format!("{}: {rule}. Planned again: {planned}.", subject.label)).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct EndForm {
    why: String,
}

pub(in crate::rounds) async fn end_apart(State(app): State<App>, me: SignedIn, Path(id): Path<ApartId>, form: Form<EndForm>) -> Answer {
    let rule = store::require_apart(&mut *app.read().await?, id).await?;
    match end(&app, &me, &rule, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ApartPage::build(&app, &me, rule.subject, ApartForm::default(), mistakes).await?),
        answer => answer,
    }
}

async fn end(app: &App, me: &SignedIn, rule: &Apart, form: &Form<EndForm>) -> Answer {
    let mut check = Check::new();
    let Some(why) = check.text("why", &form.input.why, 200) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let subject = handling::store::require_subject(write.db(), rule.subject).await?;
    store::end_apart(&mut write, rule, &why).await?;
    let planned = replan(&mut write, rule.subject).await?;
    let change = Change::new("rule.ended", rule.subject.words(), format!("{}: {why}", subject.label)).from(rule.rule.words());
    me.done(write, change, &format!("{}/due", subject.page()), format!("The rule has ended. Planned again: {planned}.")).await
}

fn key(on: HoldSubject) -> SubjectKey {
    match on {
        HoldSubject::Animal(id) => SubjectKey { kind: SubjectKind::Animal, id: id.0 },
        HoldSubject::Cohort(id) => SubjectKey { kind: SubjectKind::Cohort, id: id.0 },
    }
}

async fn replan(write: &mut Write, on: HoldSubject) -> Result<crate::rounds::model::Planned, AppError> {
    match on {
        HoldSubject::Animal(id) => store::replan_animal(write, id).await,
        HoldSubject::Cohort(id) => store::replan_cohort(write, id).await,
    }
}
