//! A meal outside the round, and what became of prey that was left in.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::subject::{Subject, change, finish, may_open};
use crate::animals::model::{NewMeal, Offer};
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::words::{Exposure, MealOutcome};
use crate::rounds;
use crate::rounds::model::prey::UsualBook;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct FedForm {
    day: String,
    prey: String,
    /// A kind of prey, or `none`; nothing is what is usual.
    from_stock: String,
    outcome: String,
}

/// Nothing is taken from stock.
const NOTHING: &str = "none";

impl FedForm {
    /// What it takes from stock: what is usual, what was chosen, or nothing.
    fn offer(&self, usual: &UsualBook, animal: AnimalId) -> Result<Option<Offer>, Mistakes> {
        let key = SubjectKey { kind: SubjectKind::Animal, id: animal.0 };
        match self.from_stock.trim() {
            NOTHING => Ok(None),
            "" => Ok(usual.of(key).map(|usual| usual.offer)),
            chosen => {
                let offer = chosen.parse().ok().and_then(|kind| usual.offer(key, kind));
                offer.map(Some).ok_or_else(|| Mistakes::one("from_stock", "This kind of prey is not in use. Choose one of the list."))
            }
        }
    }

    fn check(&self, today: NaiveDate) -> Result<NewMeal, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let prey = check.optional_text("prey", &self.prey, 80);
        let outcome = check.choice::<MealOutcome>("outcome", &self.outcome);
        match (day, prey, outcome) {
            (Some(day), Some(prey), Some(outcome)) => Ok(NewMeal { day, prey, outcome, signoff: None }),
            _ => Err(check.mistakes()),
        }
    }
}

/// What is usual, every kind of the list, and nothing; none when the house keeps no list.
fn prey_kinds(usual: &UsualBook, animal: AnimalId) -> Vec<Choice> {
    if usual.kinds.is_empty() {
        return Vec::new();
    }
    let own = usual.of(SubjectKey { kind: SubjectKind::Animal, id: animal.0 });
    let own = own.map_or_else(|| "as usual".to_owned(), |own| format!("as usual: {} × {}", own.offer.each, own.label));
    let mut kinds = vec![Choice::new("", own)];
    kinds.extend(usual.kinds.iter().map(|kind| Choice::new(kind.id, kind.label())));
    kinds.push(Choice::new(NOTHING, "nothing from stock"));
    kinds
}

#[derive(Template)]
#[template(path = "animals/fed.html")]
struct FedPage {
    layout: Layout,
    subject: Subject,
    input: FedForm,
    mistakes: Mistakes,
    outcomes: Vec<Choice>,
    prey_kinds: Vec<Choice>,
    left_in_since: Option<NaiveDate>,
}

impl FedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: FedForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let left_in_since = store::left_in_since(&mut db, subject.animal.id).await?;
        let prey_kinds = prey_kinds(&rounds::store::prey::usual_book(&mut db).await?, subject.animal.id);
        let layout = Layout::of(app, me, Section::Animals).await?;
        Ok(Self { layout, subject, input, mistakes, outcomes: choices(MealOutcome::ALL, MealOutcome::code), prey_kinds, left_in_since })
    }
}

pub(in crate::animals) async fn fed(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    let input = FedForm { day: text::iso_day(&app.today()), ..FedForm::default() };
    page(&FedPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_fed(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, form: Form<FedForm>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match feed(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&FedPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn feed(app: &App, me: &SignedIn, id: AnimalId, form: &Form<FedForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    may_open(app, write.db(), me, id, Exposure::Open).await?;
    if let Some(since) = store::left_in_since(write.db(), id).await? {
        let since = text::day(&since);
        return Err(AppError::refused(
            "outcome",
            format!("Prey that was left in on {since} is not cleared yet. Say first what became of it."),
        ));
    }
    let offer = form.input.offer(&rounds::store::prey::usual_book(write.db()).await?, id)?;
    store::record_meal_from(&mut write, id, &new, offer).await?;
    finish(me, write, id, change("animal.fed", id, format!("{}: {}", text::day(&new.day), new.outcome)), "The meal is in the book.").await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct ClearedForm {
    outcome: String,
}

#[derive(Template)]
#[template(path = "animals/cleared.html")]
struct ClearedPage {
    layout: Layout,
    subject: Subject,
    input: ClearedForm,
    mistakes: Mistakes,
    outcomes: Vec<Choice>,
    left_in_since: NaiveDate,
}

impl ClearedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: ClearedForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let since = store::left_in_since(&mut *app.read().await?, subject.animal.id).await?;
        let left_in_since = since.ok_or_else(|| AppError::conflict("No prey is noted as left in with this animal any more."))?;
        let layout = Layout::of(app, me, Section::Animals).await?;
        let outcomes = choices(&[MealOutcome::Took, MealOutcome::Refused], MealOutcome::code);
        Ok(Self { layout, subject, input, mistakes, outcomes, left_in_since })
    }
}

pub(in crate::animals) async fn cleared(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    page(&ClearedPage::build(&app, &me, subject, ClearedForm::default(), Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_cleared(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<ClearedForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match clear(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ClearedPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn clear(app: &App, me: &SignedIn, id: AnimalId, form: &Form<ClearedForm>) -> Answer {
    let mut check = Check::new();
    let Some(outcome) = check.choice::<MealOutcome>("outcome", &form.input.outcome) else {
        return Err(check.mistakes().into());
    };
    let mut write = app.begin(me.id(), &form.once).await?;
    may_open(app, write.db(), me, id, Exposure::Open).await?;
    store::clear_left_in(&mut write, id, outcome, None).await?;
    finish(me, write, id, change("animal.prey-cleared", id, outcome.to_string()), "The prey is noted as cleared.").await
}
