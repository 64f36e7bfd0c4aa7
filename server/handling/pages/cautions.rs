//! Cautions about one animal: what staff have seen of it.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use super::{About, WhyForm, replan, required_paragraphs};
use crate::handling::model::{Caution, HoldSubject, Subject};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, CautionId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::hazard::Band;

#[derive(Template)]
#[template(path = "handling/cautions.html")]
struct ListPage {
    layout: Layout,
    zone: Tz,
    cautions: Vec<Caution>,
}

pub(in crate::handling) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let cautions = store::all_cautions(&mut *app.read().await?).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Handling).await?, zone: app.site().zone, cautions })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct CautionForm {
    level: String,
    text: String,
}

impl CautionForm {
    fn check(&self) -> Result<(i64, String), Mistakes> {
        let mut check = Check::new();
        let level = check.whole::<i64>("level", &self.level, 0..=3);
        let text = required_paragraphs(&mut check, "text", &self.text, 400);
        match (level, text) {
            (Some(level), Some(text)) => Ok((level, text)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "handling/new_caution.html")]
struct NewPage {
    layout: Layout,
    subject: Subject,
    levels: Vec<Choice>,
    input: CautionForm,
    mistakes: Mistakes,
}

impl NewPage {
    async fn of(app: &App, me: &SignedIn, subject: Subject, input: CautionForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Handling).await?;
        let levels = Band::ALL.map(|band| Choice::new(band.level(), format!("at least band {band}"))).to_vec();
        Ok(Self { layout, subject, levels, input, mistakes })
    }
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn, Query(about): Query<About>) -> Answer {
    let animal = about.animal.ok_or(AppError::NotFound)?;
    let subject = store::require_subject(&mut *app.read().await?, HoldSubject::Animal(animal)).await?;
    let input = CautionForm { level: "1".to_owned(), ..CautionForm::default() };
    page(&NewPage::of(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::handling) async fn create(
    State(app): State<App>,
    me: SignedIn,
    Query(about): Query<About>,
    form: Form<CautionForm>,
) -> Answer {
    let animal = about.animal.ok_or(AppError::NotFound)?;
    let subject = store::require_subject(&mut *app.read().await?, HoldSubject::Animal(animal)).await?;
    match save(&app, &me, animal, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&NewPage::of(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, animal: AnimalId, subject: &Subject, form: &Form<CautionForm>) -> Answer {
    let (level, text) = form.input.check()?;
    if !subject.here {
        return Err(AppError::refused("", format!("{} is no longer in the house: there is nobody to caution.", subject.label)));
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    store::add_caution(&mut write, animal, level, &text).await?;
    replan(&mut write, HoldSubject::Animal(animal)).await?;
    let change = Change::new("caution.added", format!("animal {animal}"), format!("{}: {level}, {text}", subject.label));
    me.done(write, change, &paths::animal(&animal), format!("The caution stands on {} from now on.", subject.label)).await
}

#[derive(Template)]
#[template(path = "handling/end_caution.html")]
struct EndPage {
    layout: Layout,
    one: Caution,
    input: WhyForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<CautionId>) -> Answer {
    let caution = store::require_caution(&mut *app.read().await?, id).await?;
    let layout = Layout::of(&app, &me, Section::Handling).await?;
    page(&EndPage { layout, one: caution, input: WhyForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn end(State(app): State<App>, me: SignedIn, Path(id): Path<CautionId>, form: Form<WhyForm>) -> Answer {
    let caution = store::require_caution(&mut *app.read().await?, id).await?;
    match save_end(&app, &me, &caution, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Handling).await?;
            page_again(&EndPage { layout, one: caution, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save_end(app: &App, me: &SignedIn, caution: &Caution, form: &Form<WhyForm>) -> Answer {
    let why = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::end_caution(&mut write, caution.id).await?;
    replan(&mut write, HoldSubject::Animal(caution.animal_id)).await?;
    let before = format!("{}: {}, {}", caution.tag, caution.level, caution.text);
    let change = Change::new("caution.ended", format!("animal {}", caution.animal_id), why).from(before);
    me.done(write, change, &paths::animal(&caution.animal_id), format!("The caution on {} has ended.", caution.tag)).await
}
