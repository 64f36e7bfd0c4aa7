//! What a person is cleared for: the history, granting after an assessment, withdrawing.

use askama::Template;
use axum::extract::State;
use chrono::{Months, NaiveDate};
use serde::Deserialize;

use super::{WhyForm, required_paragraphs};
use crate::handling::model::{Assessment, Clearance, NewClearance, PersonCleared, Towards};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{ClearanceId, MemberId};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;

/// The longest that a clearance may run before a new assessment.
const LONGEST: Months = Months::new(24);

#[derive(Template)]
#[template(path = "handling/person.html")]
struct PersonPage {
    layout: Layout,
    today: NaiveDate,
    person: PersonCleared,
    clearances: Vec<Clearance>,
    assessments: Vec<Assessment>,
    towards: Vec<Towards>,
    /// Whether they look after animals here, so that a clearance is of use.
    looks_after: bool,
}

pub(in crate::handling) async fn history(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>) -> Answer {
    let mut db = app.read().await?;
    let today = app.today();
    let person = store::person(&mut db, id, today).await?;
    let clearances = store::clearances_of(&mut db, id).await?;
    page(&PersonPage {
        layout: Layout::of(&app, &me, Section::Handling).await?,
        today,
        clearances,
        assessments: store::assessments_of(&mut db, id).await?,
        towards: above(store::towards(&mut db, id, today).await?, person.level),
        looks_after: store::keepers(&mut db).await?.contains(&id),
        person,
    })
}

/// What is on the way to levels above the one that is held.
fn above(mut towards: Vec<Towards>, level: i64) -> Vec<Towards> {
    towards.retain(|towards| i64::from(towards.level) > level);
    towards
}

/// What the granter may do today.
struct Granting {
    person: PersonCleared,
    today: NaiveDate,
    latest: NaiveDate,
    /// The granter's own level.
    own: i64,
    /// The highest level that anybody in the house holds.
    highest: i64,
    oneself: bool,
    owner: bool,
    /// What is still missing for each level.
    towards: Vec<Towards>,
}

impl Granting {
    async fn of(app: &App, me: &SignedIn, member: MemberId) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let today = app.today();
        Ok(Self {
            person: store::person(&mut db, member, today).await?,
            today,
            latest: today.checked_add_months(LONGEST).unwrap_or(today),
            own: store::level_on(&mut db, me.id(), today).await?,
            highest: store::highest_standing(&mut db, today).await?,
            oneself: me.id() == member,
            owner: me.member.is_owner,
            towards: store::towards(&mut db, member, today).await?,
        })
    }

    /// Whether an outside assessment could be recorded for some level.
    fn outside(&self) -> bool {
        self.owner && self.highest < 3
    }

    /// Whether there is anything that the granter could grant.
    fn possible(&self) -> bool {
        (self.own > 0 && !self.oneself) || self.outside()
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct GrantForm {
    level: String,
    evidence: String,
    valid_until: String,
    outside_assessor: String,
}

impl GrantForm {
    fn check(&self, granting: &Granting) -> Result<NewClearance, AppError> {
        let mut check = Check::new();
        let level = check.whole::<i64>("level", &self.level, 1..=3);
        let evidence = required_paragraphs(&mut check, "evidence", &self.evidence, 600);
        let valid_until = check.coming_day("valid_until", &self.valid_until, granting.today);
        if valid_until.is_some_and(|day| day > granting.latest) {
            let latest = crate::house::text::iso_day(&granting.latest);
            check.add("valid_until", format!("A clearance runs for two years at most: {latest} at the latest."));
        }
        let outside = check.optional_text("outside_assessor", &self.outside_assessor, 120);
        if let Some(level) = level {
            granting.judge(level, outside.as_deref().unwrap_or_default(), &mut check)?;
        }
        match (level, evidence, valid_until, outside) {
            (Some(level), Some(evidence), Some(valid_until), Some(outside_assessor)) if check.ok() => {
                let (member, valid_from) = (granting.person.id, granting.today);
                Ok(NewClearance { member, level, evidence, valid_from, valid_until, outside_assessor })
            }
            _ => Err(check.mistakes().into()),
        }
    }
}

impl Granting {
    /// The same rules that the database keeps, in words for the form.
    fn judge(&self, level: i64, outside: &str, check: &mut Check) -> Result<(), AppError> {
        if !outside.is_empty() {
            if !self.owner {
                return Err(AppError::forbidden("An outside assessment is recorded by an owner."));
            }
            if self.highest >= level {
                check.add("outside_assessor", "Somebody in the house holds this level today: let them assess.");
            }
            return Ok(());
        }
        if self.oneself {
            return Err(AppError::forbidden("Nobody assesses themselves. Ask somebody who holds the level."));
        }
        if self.own < level {
            check.add("level", format!("You hold {} today, and an assessor must hold at least the level they grant.", self.own_words()));
        }
        if let Some(towards) = self.towards.iter().find(|towards| i64::from(towards.level) == level && !towards.missing().is_empty()) {
            check.add("level", towards.words());
        }
        Ok(())
    }

    fn own_words(&self) -> String {
        if self.own == 0 { "no clearance".to_owned() } else { format!("clearance {}", self.own) }
    }
}

#[derive(Template)]
#[template(path = "handling/grant.html")]
struct GrantPage {
    layout: Layout,
    granting: Granting,
    input: GrantForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>) -> Answer {
    let granting = Granting::of(&app, &me, id).await?;
    let a_year_on = granting.today.checked_add_months(Months::new(12)).unwrap_or(granting.latest);
    let input = GrantForm { level: "1".to_owned(), valid_until: crate::house::text::iso_day(&a_year_on), ..GrantForm::default() };
    page(&GrantPage { layout: Layout::of(&app, &me, Section::Handling).await?, granting, input, mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn create(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<GrantForm>) -> Answer {
    let granting = Granting::of(&app, &me, id).await?;
    match save(&app, &me, &granting, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&GrantPage { layout: Layout::of(&app, &me, Section::Handling).await?, granting, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, granting: &Granting, form: &Form<GrantForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let new = form.input.check(granting)?;
    let id = store::grant(&mut write, &new).await?;
    let until = crate::house::text::iso_day(&new.valid_until);
    let after = format!("{}: clearance {} until {until}", granting.person.name, new.level);
    let say = format!("{} holds clearance {} until {until}.", granting.person.name, new.level);
    let change = Change::new("clearance.granted", format!("clearance {id}"), after);
    me.done(write, change, &paths::cleared(&new.member), say).await
}

#[derive(Template)]
#[template(path = "handling/withdraw.html")]
struct WithdrawPage {
    layout: Layout,
    clearance: Clearance,
    input: WhyForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<ClearanceId>) -> Answer {
    let clearance = store::require_clearance(&mut *app.read().await?, id).await?;
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&WithdrawPage { layout, clearance, input: WhyForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn withdraw(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<ClearanceId>,
    form: Form<WhyForm>,
) -> Answer {
    let clearance = store::require_clearance(&mut *app.read().await?, id).await?;
    match save_withdrawal(&app, &me, &clearance, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Handling).await?;
            page_again(&WithdrawPage { layout, clearance, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_withdrawal(app: &App, me: &SignedIn, clearance: &Clearance, form: &Form<WhyForm>) -> Answer {
    let why = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::withdraw(&mut write, clearance.id).await?;
    let before = format!("{}: clearance {}", clearance.member_name, clearance.level);
    let change = Change::new("clearance.withdrawn", format!("clearance {}", clearance.id), why).from(before);
    let say = format!("Clearance {} of {} is withdrawn.", clearance.level, clearance.member_name);
    me.done(write, change, &paths::cleared(&clearance.member_id), say).await
}
