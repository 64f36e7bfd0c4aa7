//! What a buyer brings back: into quarantine, whatever it looks like.

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use super::{places, shelf};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{HandoverId, HandoverLineId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::stage::Stage;
use crate::rounds;
use crate::sales::model::{Handover, HandoverState, NewReturn};
use crate::sales::store::returns::{self, Back};
use crate::sales::store::{self, road};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct ReturnForm {
    line: String,
    quantity: String,
    stage: String,
    day: String,
    reason: String,
    condition: String,
    until: String,
    shelf: String,
}

impl ReturnForm {
    fn check(&self, today: NaiveDate, places: &[Choice]) -> Result<NewReturn, Mistakes> {
        let mut check = Check::new();
        let line = check.choice::<HandoverLineId>("line", &self.line);
        let quantity = check.whole("quantity", &self.quantity, 1..=3000);
        let stage = check.optional_choice::<Stage>("stage", &self.stage);
        let day = check.day("day", &self.day, today);
        let reason = check.text("reason", &self.reason, 400);
        let condition = check.optional_text("condition", &self.condition, 400);
        let until = check.coming_day("until", &self.until, today);
        let shelf = shelf(&mut check, &self.shelf, places);
        match (line, quantity, day, reason, condition, until) {
            (Some(line), Some(quantity), Some(day), Some(reason), Some(condition), Some(quarantine_until)) if check.ok() => {
                Ok(NewReturn { line, quantity, stage, day, reason, condition, quarantine_until, shelf })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "sales/road/returned.html")]
struct ReturnPage {
    layout: Layout,
    handover: Handover,
    lines: Vec<Choice>,
    stages: Vec<Choice>,
    places: Vec<Choice>,
    days: i64,
    input: ReturnForm,
    mistakes: Mistakes,
}

impl ReturnPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, input: Option<ReturnForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let handover = store::require_handover(&mut db, id).await?;
        if handover.state != HandoverState::Done {
            return Err(AppError::conflict("This handover is not done, so nothing comes back from it."));
        }
        let days = road::rules(&mut db).await?.return_hold_days;
        let mut lines = Vec::new();
        for line in store::lines(&mut db, id).await? {
            let out = returns::still_out(&mut db, line.id).await?;
            if out > 0 {
                lines.push(Choice::new(line.id, format!("{}: {out} with the buyer", text::capitalised(&line.words()))));
            }
        }
        let last = app.today().checked_add_days(Days::new(u64::try_from(days).unwrap_or(0))).unwrap_or(app.today());
        let input = input.unwrap_or_else(|| ReturnForm {
            quantity: "1".to_owned(),
            day: text::iso_day(&app.today()),
            until: text::iso_day(&last),
            ..ReturnForm::default()
        });
        let as_sold = Choice::new("", "the one that was sold");
        let stages = Stage::all().filter(|stage| stage.feeds()).map(|stage| Choice::new(stage.code(), stage));
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            stages: std::iter::once(as_sold).chain(stages).collect(),
            places: places(app, "no place yet").await?,
            handover,
            lines,
            days,
            input,
            mistakes,
        })
    }
}

pub(in crate::sales) async fn returned(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&ReturnPage::read(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn take_back(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<HandoverId>,
    form: Form<ReturnForm>,
) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ReturnPage::read(&app, &me, id, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<ReturnForm>) -> Answer {
    let new = form.input.check(app.today(), &places(app, "").await?)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let back = returns::take_back(&mut write, id, &new).await?;
    let (what, say) = match &back {
        Back::Animal(animal, tag) => {
            rounds::store::replan_animal(&mut write, *animal).await?;
            (format!("animal {animal}"), format!("Tag {tag} is back, in quarantine until {}.", text::day(&new.quarantine_until)))
        }
        Back::Cohort(cohort, code) => {
            rounds::store::replan_cohort(&mut write, *cohort).await?;
            let until = text::day(&new.quarantine_until);
            (format!("cohort {cohort}"), format!("{} are back as cohort {code}, in quarantine until {until}.", new.quantity))
        }
    };
    let change = Change::new("handover.brought-back", format!("handover {id}"), format!("{} by line {}: {what}", new.quantity, new.line));
    me.done(write, change, &paths::handover(&id), say).await
}
