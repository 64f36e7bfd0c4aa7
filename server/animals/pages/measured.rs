//! A length that was taken without a moult being noted.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::moulted::believe;
use super::subject::{Subject, change, finish};
use crate::animals::model::NewSpan;
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::reckoning::words::{SpanKind, SpanMethod};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct MeasureForm {
    day: String,
    kind: String,
    span_mm: String,
    span_method: String,
    confirm: String,
}

impl MeasureForm {
    fn check(&self, today: NaiveDate) -> Result<(NaiveDate, NewSpan), Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let kind = check.choice::<SpanKind>("kind", &self.kind);
        let mm = check.whole("span_mm", &self.span_mm, 1..=400);
        let method = check.choice::<SpanMethod>("span_method", &self.span_method);
        match (day, kind, mm, method) {
            (Some(day), Some(kind), Some(mm), Some(method)) => Ok((day, NewSpan { kind, mm, method })),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/measured.html")]
struct MeasuredPage {
    layout: Layout,
    subject: Subject,
    input: MeasureForm,
    mistakes: Mistakes,
    kinds: Vec<Choice>,
    methods: Vec<Choice>,
}

impl MeasuredPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: MeasureForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Animals).await?;
        let kinds = choices(SpanKind::ALL, SpanKind::code);
        Ok(Self { layout, subject, input, mistakes, kinds, methods: choices(SpanMethod::ALL, SpanMethod::code) })
    }
}

pub(in crate::animals) async fn measured(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    let input = MeasureForm { day: text::iso_day(&app.today()), ..MeasureForm::default() };
    page(&MeasuredPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_measured(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<MeasureForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match save(&app, &me, &subject, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&MeasuredPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, subject: &Subject, form: &Form<MeasureForm>) -> Answer {
    let (day, new) = form.input.check(app.today())?;
    let id = subject.animal.id;
    let mut write = app.begin(me.id(), &form.once).await?;
    // A leg span that is taken some days after a moult is held against the one before that moult all the same.
    if let Some(moult) = subject.animal.last_moult_on.filter(|moult| *moult <= day && new.kind == SpanKind::LegSpan) {
        believe(&mut write, id, (moult, new.mm), &form.input.confirm).await?;
    }
    store::record_measurement(&mut write, id, &new, day, None).await?;
    let words = format!("{}: {}, {}", new.kind, text::length(&new.mm), new.method);
    finish(me, write, id, change("animal.measured", id, words), "The length is in the book.").await
}
