//! Planning an outing.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::sales::model::NewOuting;
use crate::sales::store::outings;

/// The longest outing, in days.
const MOST_DAYS: i64 = 14;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct OutingForm {
    name: String,
    day: String,
    last_day: String,
    note: String,
}

impl OutingForm {
    fn check(&self, today: NaiveDate) -> Result<NewOuting, Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 120);
        let day = check.coming_day("day", &self.day, today);
        let last_day = match (self.last_day.trim().is_empty(), day) {
            (false, Some(day)) => check.coming_day("last_day", &self.last_day, day),
            (false, None) => check.coming_day("last_day", &self.last_day, today),
            (true, _) => None,
        };
        if day.zip(last_day).is_some_and(|(first, last)| (last - first).num_days() >= MOST_DAYS) {
            check.add("last_day", format!("An outing has at most {MOST_DAYS} days. Plan two of them."));
        }
        let note = check.paragraphs("note", &self.note, 600);
        match (name, day, note) {
            (Some(name), Some(day), Some(note)) if check.ok() => {
                Ok(NewOuting { name, day, last_day: last_day.filter(|last| *last != day), note })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "sales/outings/new.html")]
struct NewPage {
    layout: Layout,
    input: OutingForm,
    mistakes: Mistakes,
}

pub(in crate::sales) async fn new(State(app): State<App>, me: SignedIn) -> Answer {
    let layout = Layout::of(&app, &me, Section::Sales).await?;
    page(&NewPage { layout, input: OutingForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::sales) async fn create(State(app): State<App>, me: SignedIn, form: Form<OutingForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&NewPage { layout: Layout::of(&app, &me, Section::Sales).await?, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<OutingForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = outings::plan(&mut write, &new).await?;
    let change = Change::new("outing.planned", format!("outing {id}"), format!("{}, {}", new.name, new.day));
    me.done(write, change, &paths::outing(&id), "Planned. Choose what goes along.").await
}
