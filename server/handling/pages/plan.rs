//! Reserving people and a time for a rehouse, and taking that back.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::WhyForm;
use super::board::{moment, open_rehouse};
use crate::handling::model::{DayTimes, NewPlan, RehouseDuty, RehousePlan};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::DutyId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::together::Span;
use crate::reckoning::who_may::Part;
use crate::staff::model::rota::{clock, clock_minutes};
use crate::{animals, staff};

/// What may be filled in already, by a link of the board.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::handling) struct Offered {
    first: String,
    second: String,
    day: String,
    starts: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct PlanForm {
    first: String,
    second: String,
    day: String,
    starts: String,
    minutes: String,
}

impl PlanForm {
    fn check(&self, today: NaiveDate) -> Result<NewPlan, Mistakes> {
        let mut check = Check::new();
        let first = check.choice("first", &self.first);
        let second = check.optional_choice("second", &self.second);
        let day = check.coming_day("day", &self.day, today);
        let starts = clock_minutes(&self.starts).filter(|minutes| *minutes < 1440);
        if starts.is_none() {
            check.add("starts", "Enter a time as hours and minutes, such as 10:30.");
        }
        let minutes = check.whole::<u32>("minutes", &self.minutes, 5..=480);
        match (first, day, starts, minutes) {
            (Some(first), Some(day), Some(from), Some(minutes)) if check.ok() => {
                let span = Span { from, to: from + minutes };
                Ok(NewPlan { first, second, day, span })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "handling/plan.html")]
struct PlanPage {
    layout: Layout,
    today: NaiveDate,
    duty: RehouseDuty,
    cautions: Vec<String>,
    firsts: Vec<Choice>,
    seconds: Vec<Choice>,
    days: Vec<DayTimes>,
    /// Why nobody can, when nobody can.
    nobody: Option<String>,
    input: PlanForm,
    mistakes: Mistakes,
}

impl PlanPage {
    async fn of(app: &App, me: &SignedIn, duty: RehouseDuty, input: PlanForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let now = moment(app);
        let week = store::week_ahead(&mut db, now).await?;
        let holds = store::holds_of_animal(&mut db, duty.animal_id, now.at).await?;
        let days = week.times(&duty, &holds);
        let nobody = days.is_empty().then(|| week.nobody(&duty, &holds));
        let team: Vec<_> = staff::store::active(&mut db).await?.into_iter().filter(|member| member.roles.looks_after()).collect();
        let choices = |part| -> Vec<Choice> {
            let able = week.able(&duty, part);
            let says = |name: &String| if able.contains(name) { name.clone() } else { format!("{name} (not cleared today)") };
            team.iter().map(|member| Choice::new(member.id, says(&member.name))).collect()
        };
        let (facts, _) = animals::store::hazard(&mut db, duty.animal_id).await?;
        Ok(Self {
            layout: Layout::of(app, me, Section::Handling).await?,
            today: now.today,
            cautions: cautions_text(&facts),
            firsts: choices(Part::First),
            seconds: choices(Part::Second),
            days,
            nobody,
            duty,
            input,
            mistakes,
        })
    }
}

pub(in crate::handling) async fn new(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<DutyId>,
    Query(offered): Query<Offered>,
) -> Answer {
    let duty = open_rehouse(&app, id).await?;
    let minutes = duty.minutes().to_string();
    let Offered { first, second, day, starts } = offered;
    let mut built = PlanPage::of(&app, &me, duty, PlanForm { first, second, day, starts, minutes }, Mistakes::none()).await?;
    // Without an offer, the first time at which it could be done.
    let earliest = built.days.first().and_then(|day| Some((day.day, day.times.first()?.clone())));
    if let Some((day, time)) = earliest.filter(|_| built.input.first.is_empty()) {
        let (first, second) = (time.first.0.to_string(), time.second.map_or_else(String::new, |(id, _)| id.to_string()));
        let minutes = built.input.minutes;
        built.input = PlanForm { first, second, day: text::iso_day(&day), starts: clock(time.span.from), minutes };
    }
    page(&built)
}

pub(in crate::handling) async fn create(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<PlanForm>) -> Answer {
    let duty = open_rehouse(&app, id).await?;
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&PlanPage::of(&app, &me, duty, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: DutyId, form: &Form<PlanForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let duty = store::plan_rehouse(&mut write, id, &new).await?;
    let plan = store::plan_of(write.db(), id).await?.ok_or(AppError::NotFound)?;
    let change = Change::new("rehouse.planned", format!("duty {id}"), format!("{}: {}", duty.tag, plan.words()));
    me.done(write, change, paths::REHOUSES, format!("The rehouse of {} is planned: {}.", duty.tag, plan.words())).await
}

#[derive(Template)]
#[template(path = "handling/cancel_plan.html")]
struct CancelPage {
    layout: Layout,
    plan: RehousePlan,
    input: WhyForm,
    mistakes: Mistakes,
}

async fn standing(app: &App, id: DutyId) -> Result<RehousePlan, AppError> {
    open_rehouse(app, id).await?;
    let plan = store::plan_of(&mut *app.read().await?, id).await?;
    plan.ok_or_else(|| AppError::conflict("No plan stands for this rehouse: it was cancelled, or has ended. Open the board again."))
}

pub(in crate::handling) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>) -> Answer {
    let plan = standing(&app, id).await?;
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&CancelPage { layout, plan, input: WhyForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn cancel(State(app): State<App>, me: SignedIn, Path(id): Path<DutyId>, form: Form<WhyForm>) -> Answer {
    match save_cancel(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let plan = standing(&app, id).await?;
            let layout = Layout::of(&app, &me, Section::Handling).await?;
            page_again(&CancelPage { layout, plan, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_cancel(app: &App, me: &SignedIn, id: DutyId, form: &Form<WhyForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    crate::rounds::store::require(write.db(), id).await?;
    let why = form.input.check()?;
    let plan = store::cancel_plan(&mut write, id, &why).await?;
    let change = Change::new("rehouse.plan cancelled", format!("duty {id}"), why).from(format!("{}: {}", plan.tag, plan.words()));
    let say = format!("The plan for {} is cancelled; {} are free at that time.", plan.tag, plan.people());
    me.done(write, change, paths::REHOUSES, say).await
}
