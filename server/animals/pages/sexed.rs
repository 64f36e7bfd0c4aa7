//! The sex of an animal and what it rests on.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::subject::{Subject, change, finish};
use crate::animals::model::sexing::{Verdict, judge};
use crate::animals::store;
use crate::house::access::May;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::reckoning::words::{Sex, SexBasis};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct SexForm {
    sex: String,
    basis: String,
    confirm: String,
    version: String,
}

impl SexForm {
    /// The sex, its basis, and the version of the page.
    fn check(&self) -> Result<((Sex, SexBasis), i64), Mistakes> {
        let mut check = Check::new();
        let sex = check.choice::<Sex>("sex", &self.sex);
        let basis = check.choice::<SexBasis>("basis", &self.basis);
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        match (sex, basis, version) {
            (Some(sex), Some(basis), Some(version)) => Ok(((sex, basis), version)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/sexed.html")]
struct SexedPage {
    layout: Layout,
    subject: Subject,
    input: SexForm,
    mistakes: Mistakes,
    sexes: Vec<Choice>,
    bases: Vec<Choice>,
}

impl SexedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, mut input: SexForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Animals).await?;
        input.version = subject.animal.version.to_string();
        let mut sexes = choices(&[Sex::Female, Sex::Male], Sex::code);
        let mut bases = choices(&[SexBasis::Suspected, SexBasis::Exuvium, SexBasis::Mature], SexBasis::code);
        if May::Lead.allows(&me.member) {
            sexes.push(Choice::new(Sex::Unknown.code(), "unsexed (withdraws what is in the book)"));
            bases.push(Choice::new(SexBasis::None.code(), SexBasis::None));
        }
        Ok(Self { layout, subject, input, mistakes, sexes, bases })
    }
}

pub(in crate::animals) async fn sexed(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::load(&app, id).await?;
    page(&SexedPage::build(&app, &me, subject, SexForm::default(), Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_sexed(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>, form: Form<SexForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let subject = Subject::load(&app, id).await?;
            page_again(&SexedPage::build(&app, &me, subject, form.input, mistakes).await?)
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: AnimalId, form: &Form<SexForm>) -> Answer {
    let animal = store::require(&mut *app.read().await?, id).await?;
    let (new, version) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let known = (animal.sex, animal.sex_basis);
    if version != animal.version {
        let message = format!("This animal was changed meanwhile. It now reads {}, {}; yours is {}, {}.", known.0, known.1, new.0, new.1);
        return Err(AppError::refused("sex", format!("{message} Send it again if yours should stand.")));
    }
    let withdraws = new == (Sex::Unknown, SexBasis::None) && May::Lead.allows(&me.member) && known.0 != Sex::Unknown;
    if !withdraws {
        match judge(known, new) {
            Verdict::Accept => {}
            Verdict::Confirm(_) if form.input.confirm == "yes" => {}
            Verdict::Confirm(why) => return Err(AppError::refused("confirm", why)),
            Verdict::Refuse(why) => return Err(AppError::refused("basis", why)),
        }
    }
    let mature_on = (new.1 == SexBasis::Mature).then(|| app.today());
    if !store::set_sex(&mut write, id, version, new, mature_on).await? {
        return Err(AppError::refused("sex", "This animal was changed meanwhile. Look at what it reads now, and send yours again."));
    }
    let words = format!("Sexed: {}, {}", new.0, new.1);
    finish(me, write, id, change("animal.sexed", id, words.clone()).from(format!("{}, {}", known.0, known.1)), format!("{words}.")).await
}
