//! A move to another place, or into another box.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::subject::{Subject, TypedBox, change, enclosure, finish, may_open, places, shelf};
use crate::animals::model::NewMove;
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::text;
use crate::reckoning::words::Exposure;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct MoveForm {
    day: String,
    shelf: String,
    position: String,
    rehoused: String,
    length_mm: String,
    width_mm: String,
    fall_gap_mm: String,
}

impl MoveForm {
    fn check(&self, today: NaiveDate, places: &[Choice]) -> Result<NewMove, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let shelf = shelf(&mut check, &self.shelf, places);
        let position = check.optional_whole("position", &self.position, 1..=999);
        let typed = TypedBox { length: &self.length_mm, width: &self.width_mm, fall_gap: &self.fall_gap_mm };
        let enclosure = enclosure(&mut check, &typed);
        let rehoused = self.rehoused == "yes";
        if rehoused && self.length_mm.trim().is_empty() {
            check.add("length_mm", "Give the length of the new box: rehousing is planned from it.");
        }
        if !rehoused && enclosure.is_some() {
            check.add("rehoused", "Tick this if it went into another box; or leave the measures empty.");
        }
        match day {
            Some(day) if check.ok() => Ok(NewMove { day, shelf, position, rehoused, enclosure, signoff: None }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/moved.html")]
struct MovedPage {
    layout: Layout,
    subject: Subject,
    input: MoveForm,
    mistakes: Mistakes,
    places: Vec<Choice>,
}

impl MovedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: MoveForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Animals).await?;
        Ok(Self { layout, subject, input, mistakes, places: places(app).await? })
    }
}

pub(in crate::animals) async fn moved(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    let typed = |number: Option<i64>| number.map_or_else(String::new, |number| number.to_string());
    let input = MoveForm {
        day: text::iso_day(&app.today()),
        shelf: typed(subject.animal.shelf_id.map(|shelf| shelf.0)),
        position: typed(subject.animal.position),
        ..MoveForm::default()
    };
    page(&MovedPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_moved(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, form: Form<MoveForm>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match save(&app, &me, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&MovedPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, subject: &Subject, form: &Form<MoveForm>) -> Answer {
    let new = form.input.check(app.today(), &places(app).await?)?;
    let id = subject.animal.id;
    let mut write = app.begin(me.id(), &form.once).await?;
    if new.rehoused {
        may_open(app, write.db(), me, id, Exposure::HandsIn).await?;
    }
    store::record_move(&mut write, id, &new).await?;
    let place = store::require(write.db(), id).await?.place.unwrap_or_else(|| "no place".to_owned());
    let before = subject.animal.place.clone().unwrap_or_else(|| "no place".to_owned());
    let say = if new.rehoused { "The new box is in the book." } else { "The move is in the book." };
    finish(me, write, id, change("animal.moved", id, place).from(before), say).await
}
