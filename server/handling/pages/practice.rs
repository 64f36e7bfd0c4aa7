//! Supervised rehouses, recorded by whoever supervised them, and how many a clearance takes.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::WhyForm;
use crate::handling::model::{Assessment, AssessmentOutcome, NewAssessment, PersonCleared, PracticeRule};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AssessmentId, MemberId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::hazard::Band;

/// An assessment can be written down so many days after it.
const DAYS_BACK: i64 = 30;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct AssessForm {
    band: String,
    outcome: String,
    day: String,
    note: String,
}

impl AssessForm {
    fn check(&self, member: MemberId, assessor: MemberId, today: NaiveDate) -> Result<NewAssessment, Mistakes> {
        let mut check = Check::new();
        let band = check.whole::<i64>("band", &self.band, 1..=3);
        let outcome: Option<AssessmentOutcome> = check.choice("outcome", &self.outcome);
        let day = check.day("day", &self.day, today);
        if day.is_some_and(|day| (today - day).num_days() > DAYS_BACK) {
            check.add("day", format!("An assessment is written down within {DAYS_BACK} days."));
        }
        let note = check.text("note", &self.note, 400);
        match (band, outcome, day, note) {
            (Some(band), Some(outcome), Some(day), Some(note)) if check.ok() => {
                Ok(NewAssessment { member, assessor, band, outcome, day, note, signoff: None })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "handling/assess.html")]
struct AssessPage {
    layout: Layout,
    person: PersonCleared,
    oneself: bool,
    /// The assessor's own level today.
    own: i64,
    bands: Vec<Choice>,
    outcomes: Vec<Choice>,
    input: AssessForm,
    mistakes: Mistakes,
}

impl AssessPage {
    async fn of(app: &App, me: &SignedIn, member: MemberId, input: AssessForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let today = app.today();
        let bands = Band::ALL.into_iter().filter(|band| band.level() > 0);
        Ok(Self {
            layout: Layout::of(app, me, Section::Handling).await?,
            person: store::person(&mut db, member, today).await?,
            oneself: me.id() == member,
            own: store::level_on(&mut db, me.id(), today).await?,
            bands: bands.map(|band| Choice::new(band.level(), format!("band {band}"))).collect(),
            outcomes: choices(AssessmentOutcome::ALL, AssessmentOutcome::code),
            input,
            mistakes,
        })
    }
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>) -> Answer {
    let input = AssessForm { day: text::iso_day(&app.today()), ..AssessForm::default() };
    page(&AssessPage::of(&app, &me, id, input, Mistakes::none()).await?)
}

pub(in crate::handling) async fn create(State(app): State<App>, me: SignedIn, Path(id): Path<MemberId>, form: Form<AssessForm>) -> Answer {
    let person = store::person(&mut *app.read().await?, id, app.today()).await?;
    match save(&app, &me, &person, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&AssessPage::of(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, person: &PersonCleared, form: &Form<AssessForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let new = form.input.check(person.id, me.id(), app.today())?;
    let id = store::record_assessment(&mut write, &new).await?;
    let after = format!("{}: band {}, {}", person.name, new.band, new.outcome);
    let say = format!("Written down: {} at a rehouse of band {}, {}.", person.name, new.band, new.outcome);
    me.done(write, Change::new("assessment.recorded", format!("assessment {id}"), after), &paths::cleared(&person.id), say).await
}

#[derive(Template)]
#[template(path = "handling/strike_assessment.html")]
struct StrikePage {
    layout: Layout,
    one: Assessment,
    input: WhyForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<AssessmentId>) -> Answer {
    let one = store::require_assessment(&mut *app.read().await?, id).await?;
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&StrikePage { layout, one, input: WhyForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn strike(State(app): State<App>, me: SignedIn, Path(id): Path<AssessmentId>, form: Form<WhyForm>) -> Answer {
    let one = store::require_assessment(&mut *app.read().await?, id).await?;
    match save_strike(&app, &me, &one, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Handling).await?;
            page_again(&StrikePage { layout, one, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_strike(app: &App, me: &SignedIn, one: &Assessment, form: &Form<WhyForm>) -> Answer {
    let why = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::strike_assessment(&mut write, one.id, &why).await?;
    let before = format!("{}: band {}, {}", one.member_name, one.band, one.outcome);
    let change = Change::new("assessment.struck out", format!("assessment {}", one.id), why).from(before);
    me.done(write, change, &paths::cleared(&one.member_id), "The assessment is struck out and counts no more.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct RuleForm {
    level: String,
    passes: String,
}

#[derive(Template)]
#[template(path = "handling/practice.html")]
struct PracticePage {
    layout: Layout,
    rules: Vec<PracticeRule>,
    input: RuleForm,
    mistakes: Mistakes,
}

impl PracticePage {
    async fn of(app: &App, me: &SignedIn, input: RuleForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let rules = store::practice_rules(&mut *app.read().await?).await?;
        Ok(Self { layout: Layout::of(app, me, Section::Handling).await?, rules, input, mistakes })
    }

    /// What was typed for a level, or what stands.
    fn typed(&self, rule: &PracticeRule) -> String {
        if self.input.level == rule.level.to_string() { self.input.passes.clone() } else { rule.passes.to_string() }
    }

    /// What is wrong with a level's figure.
    fn wrong(&self, rule: &PracticeRule) -> String {
        if self.input.level == rule.level.to_string() { self.mistakes.of("passes") } else { String::new() }
    }
}

pub(in crate::handling) async fn rules(State(app): State<App>, me: SignedIn) -> Answer {
    page(&PracticePage::of(&app, &me, RuleForm::default(), Mistakes::none()).await?)
}

pub(in crate::handling) async fn set_rule(State(app): State<App>, me: SignedIn, form: Form<RuleForm>) -> Answer {
    match save_rule(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&PracticePage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_rule(app: &App, me: &SignedIn, form: &Form<RuleForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let rules = store::practice_rules(write.db()).await?;
    let mut check = Check::new();
    let level = check.whole::<i64>("level", &form.input.level, 1..=3);
    let Some(rule) = rules.iter().find(|rule| Some(rule.level) == level) else { return Err(check.mistakes().into()) };
    let Some(passes) = check.whole::<i64>("passes", &form.input.passes, rule.least..=20) else { return Err(check.mistakes().into()) };
    store::set_practice_rule(&mut write, rule.level, passes).await?;
    let change =
        Change::new("practice.changed", format!("clearance level {}", rule.level), passes.to_string()).from(rule.passes.to_string());
    let say = format!("Clearance {} takes {} from now on.", rule.level, text::count(&passes, "supervised rehouse", "supervised rehouses"));
    me.done(write, change, paths::PRACTICE, say).await
}
