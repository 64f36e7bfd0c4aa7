//! A moult that was found outside the round.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::subject::{Subject, change, finish, leg_span};
use crate::animals::model::NewMoult;
use crate::animals::store;
use crate::breeding;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::house::write::Write;
use crate::reckoning::words::SpanMethod;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct MoultForm {
    day: String,
    skin_kept: String,
    note: String,
    span_mm: String,
    span_method: String,
    confirm: String,
}

impl MoultForm {
    fn check(&self, today: NaiveDate) -> Result<NewMoult, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let note = check.optional_text("note", &self.note, 300);
        let span = leg_span(&mut check, &self.span_mm, &self.span_method);
        match (day, note) {
            (Some(day), Some(note)) if check.ok() => Ok(NewMoult { day, skin_kept: self.skin_kept == "yes", note, span, signoff: None }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "animals/moulted.html")]
struct MoultedPage {
    layout: Layout,
    subject: Subject,
    input: MoultForm,
    mistakes: Mistakes,
    methods: Vec<Choice>,
}

impl MoultedPage {
    async fn build(app: &App, me: &SignedIn, subject: Subject, input: MoultForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Animals).await?;
        Ok(Self { layout, subject, input, mistakes, methods: choices(SpanMethod::ALL, SpanMethod::code) })
    }
}

pub(in crate::animals) async fn moulted(State(app): State<App>, me: SignedIn, Path(id): Path<AnimalId>) -> Answer {
    let subject = Subject::living(&app, id).await?;
    let input = MoultForm { day: text::iso_day(&app.today()), ..MoultForm::default() };
    page(&MoultedPage::build(&app, &me, subject, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_moulted(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<AnimalId>,
    form: Form<MoultForm>,
) -> Answer {
    let subject = Subject::load(&app, id).await?;
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&MoultedPage::build(&app, &me, subject, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: AnimalId, form: &Form<MoultForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    if let Some(span) = &new.span {
        believe(&mut write, id, (new.day, span.mm), &form.input.confirm).await?;
    }
    store::record_moult(&mut write, id, &new).await?;
    let voided = breeding::store::voided_by_moult(write.db(), id, new.day).await?;
    let day = text::day(&new.day);
    let change = change("animal.moulted", id, format!("moulted on {day}"));
    let answer = finish(me, write, id, change, format!("The moult on {day} is in the book.")).await?;
    if let Some(voided) = voided {
        me.visit.flash_offer(&voided.words, &voided.again(), "Pair again?").await?;
    }
    Ok(answer)
}

/// Asks to measure again when a leg span does not fit the one before the moult; a tick says that somebody did.
pub(super) async fn believe(write: &mut Write, id: AnimalId, taken: (NaiveDate, i64), confirm: &str) -> Result<(), AppError> {
    let (moulted_on, mm) = taken;
    let Some(doubt) = store::span_doubt(write.db(), id, moulted_on, mm).await? else { return Ok(()) };
    if confirm == "yes" {
        return Ok(());
    }
    let mut mistakes = Mistakes::one("span_mm", format!("Please {doubt} (common practice, no source)."));
    mistakes.add("confirm", "If it was measured again and is right, tick this box.");
    Err(AppError::Refused(mistakes))
}
