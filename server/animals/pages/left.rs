//! An animal that died or escaped, and one that was found again. Sales leave through a handover.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::subject::{Subject, change, finish, places, shelf};
use crate::animals::model::AnimalStatus;
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, ShelfId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::words::LossCause;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct LeftForm {
    how: String,
    cause: String,
    day: String,
}

/// How an animal left, checked.
struct Leaving {
    status: AnimalStatus,
    cause: Option<LossCause>,
    day: NaiveDate,
}

impl LeftForm {
    fn check(&self, today: NaiveDate) -> Result<Leaving, Mistakes> {
        let mut check = Check::new();
        let status = check.choice::<AnimalStatus>("how", &self.how);
        let status = status.filter(|status| matches!(status, AnimalStatus::Dead | AnimalStatus::Escaped));
        if status.is_none() && check.ok() {
            check.add("how", "Choose one of the list. A sale leaves through a handover.");
        }
        let cause = check.optional_choice::<LossCause>("cause", &self.cause);
        if status == Some(AnimalStatus::Dead) && (self.cause.trim().is_empty() || cause == Some(LossCause::Escape)) {
            check.add("cause", "Say what it died of, or “not known”.");
        }
        let day = check.day("day", &self.day, today);
        match (status, day) {
            (Some(status), Some(day)) if check.ok() => Ok(Leaving { status, cause: cause.filter(|_| status == AnimalStatus::Dead), day }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/left.html")]
struct LeftPage {
    layout: Layout,
    subject: Subject,
    input: LeftForm,
    mistakes: Mistakes,
    ways: Vec<Choice>,
    causes: Vec<Choice>,
}

impl LeftPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: LeftForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let causes = LossCause::ALL.iter().filter(|cause| !matches!(cause, LossCause::Infertile | LossCause::Escape));
        let causes = std::iter::once(Choice::new("", "choose")).chain(causes.map(|cause| Choice::new(cause.code(), cause))).collect();
        let ways = vec![Choice::new("dead", "found dead"), Choice::new("escaped", "escaped")];
        Ok(Self { layout: Layout::of(app, me, Section::Animals).await?, subject, input, mistakes, ways, causes })
    }
}

pub(in crate::animals) async fn left(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    if matches!(subject.animal.status, AnimalStatus::Dead | AnimalStatus::Sold) {
        Subject::living(&app, id).await?;
    }
    let input = LeftForm { day: text::iso_day(&app.today()), how: "dead".to_owned(), ..LeftForm::default() };
    page(&LeftPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_left(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, form: Form<LeftForm>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match leave(&app, &me, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&LeftPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn leave(app: &App, me: &SignedIn, subject: &Subject, form: &Form<LeftForm>) -> Answer {
    let Leaving { status, cause, day } = form.input.check(app.today())?;
    let id = subject.animal.id;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::record_leaving(&mut write, id, status, cause, day).await?;
    let after = cause.map_or_else(|| status.to_string(), |cause| format!("{status}: {cause}"));
    let say = format!("{} is in the book as {after}.", subject.animal.tag);
    finish(me, write, id, change("animal.left", id, after).from(subject.animal.status.to_string()), say).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct FoundForm {
    day: String,
    shelf: String,
    position: String,
}

impl FoundForm {
    fn check(&self, today: NaiveDate, places: &[Choice]) -> Result<(NaiveDate, Option<ShelfId>, Option<i64>), Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let shelf = shelf(&mut check, &self.shelf, places);
        let position = check.optional_whole("position", &self.position, 1..=999);
        match day {
            Some(day) if check.ok() => Ok((day, shelf, position)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/found.html")]
struct FoundPage {
    layout: Layout,
    subject: Subject,
    input: FoundForm,
    mistakes: Mistakes,
    places: Vec<Choice>,
}

impl FoundPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: FoundForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Animals).await?;
        Ok(Self { layout, subject, input, mistakes, places: places(app).await? })
    }
}

pub(in crate::animals) async fn found(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    if subject.animal.status != AnimalStatus::Escaped {
        return Err(AppError::conflict(format!("This animal is in the book as {}, not as escaped.", subject.animal.status)));
    }
    let input = FoundForm { day: text::iso_day(&app.today()), ..FoundForm::default() };
    page(&FoundPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_found(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<FoundForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match come_back(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FoundPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn come_back(app: &App, me: &SignedIn, id: AnimalId, form: &Form<FoundForm>) -> Answer {
    let (day, shelf, position) = form.input.check(app.today(), &places(app).await?)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::record_return(&mut write, id, day, shelf, position).await?;
    finish(me, write, id, change("animal.found", id, "alive").from("escaped"), "It is back in the book, alive.").await
}
