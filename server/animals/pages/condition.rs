//! How well fed an animal looks: the score, or the two widths that it is reckoned from.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::subject::{Subject, change, finish};
use crate::animals::model::NewCondition;
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::reckoning::condition::Condition;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct ConditionForm {
    day: String,
    condition: String,
    abdomen: String,
    carapace: String,
}

impl ConditionForm {
    fn check(&self, today: NaiveDate) -> Result<NewCondition, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let chosen = check.optional_choice::<Condition>("condition", &self.condition);
        let abdomen = width(&mut check, "abdomen", &self.abdomen);
        let carapace = width(&mut check, "carapace", &self.carapace);
        if check.ok() && abdomen.is_some() != carapace.is_some() {
            let missing = if abdomen.is_some() { "carapace" } else { "abdomen" };
            check.add(missing, "Enter both widths, or none and choose a score.");
        }
        let widths = abdomen.zip(carapace);
        let reckoned = widths.and_then(|(abdomen, carapace)| Condition::of_widths(abdomen, carapace));
        if let (Some(reckoned), Some(chosen)) = (reckoned, chosen)
            && reckoned != chosen
        {
            check.add("condition", format!("The widths say {reckoned}. Choose that, or leave the widths empty."));
        }
        if check.ok() && reckoned.or(chosen).is_none() {
            check.add("condition", "Choose a score, or enter both widths.");
        }
        match (day, reckoned.or(chosen)) {
            (Some(day), Some(condition)) if check.ok() => Ok(NewCondition { day, condition, widths }),
            _ => Err(check.mistakes()),
        }
    }
}

/// A width in tenths of a millimetre, up to 15 cm.
fn width(check: &mut Check, field: &'static str, typed: &str) -> Option<u32> {
    check.optional_tenths(field, typed, 1..=1500).and_then(|tenths| u32::try_from(tenths).ok())
}

#[derive(Template)]
#[template(path = "animals/condition.html")]
struct ConditionPage {
    layout: Layout,
    subject: Subject,
    input: ConditionForm,
    mistakes: Mistakes,
    scores: Vec<Choice>,
}

impl ConditionPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: ConditionForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut scores = choices(Condition::ALL, Condition::code);
        scores.insert(0, Choice::new("", "from the widths"));
        Ok(Self { layout: Layout::of(app, me, Section::Animals).await?, subject, input, mistakes, scores })
    }
}

pub(in crate::animals) async fn condition(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    let input = ConditionForm { day: text::iso_day(&app.today()), ..ConditionForm::default() };
    page(&ConditionPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_condition(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<ConditionForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ConditionPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: AnimalId, form: &Form<ConditionForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::record_condition(&mut write, id, &new).await?;
    let say = match new.condition {
        Condition::Shrunken => {
            "Shrunken: give water first, then call a senior. A look is due, and its next meal is drawn closer.".to_owned()
        }
        condition => format!("The score is in the book: {condition}."),
    };
    finish(me, write, id, change("animal.scored", id, new.condition.to_string()), say).await
}
