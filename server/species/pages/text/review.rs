//! One revision: how it prints, what it changes against the one that is printed, and its review.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::{SectionDifference, differences, written_by};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::CareTextId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::text;
use crate::papers::wording::Wording;
use crate::reckoning::difference::Fate;
use crate::species::model::Species;
use crate::species::model::drawn::{DrawnBlock, DrawnPiece, DrawnText, draw};
use crate::species::model::text::{CareText, CareTextLine, TextState};
use crate::species::store::texts::MayReview;
use crate::species::store::{self, texts};

/// A review as sent.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::species) struct ReviewForm {
    version: String,
    remark: String,
}

#[derive(Template)]
#[template(path = "species/text/revision.html")]
struct RevisionPage {
    layout: Layout,
    species: Species,
    text: CareText,
    drawn: DrawnText,
    /// The printed revision before it, and what differs; nothing for a first one.
    before: Option<CareTextLine>,
    differences: Vec<SectionDifference>,
    may_review: MayReview,
    input: ReviewForm,
    mistakes: Mistakes,
}

impl RevisionPage {
    fn wording(&self) -> &'static Wording {
        Wording::of(&self.text.language).unwrap_or_else(Wording::english)
    }

    fn written(&self) -> String {
        written_by(&self.text)
    }
}

async fn gather(app: &App, me: &SignedIn, id: CareTextId, input: ReviewForm, mistakes: Mistakes) -> Result<RevisionPage, AppError> {
    let mut db = app.read().await?;
    let text = texts::require_text(&mut db, id).await?;
    let all = texts::texts_of(&mut db, text.species_id).await?;
    let before = all.into_iter().find(|other| other.language == text.language && other.number < text.number && other.state.is_printed());
    let differences = match &before {
        Some(before) => differences(&texts::require_text(&mut db, before.id).await?.sections, &text.sections),
        None => Vec::new(),
    };
    let figures = texts::text_figures(&mut db, text.species_id).await?;
    Ok(RevisionPage {
        layout: Layout::of(app, me, Section::Species).await?,
        species: store::require(&mut db, text.species_id).await?,
        drawn: draw(&text.sections, &figures, &text.language),
        before,
        differences,
        may_review: texts::may_review(&mut db, id, me.id()).await?,
        text,
        input,
        mistakes,
    })
}

pub(in crate::species) async fn revision(State(app): State<App>, me: SignedIn, Path(id): Path<CareTextId>) -> Answer {
    page(&gather(&app, &me, id, ReviewForm::default(), Mistakes::none()).await?)
}

/// The version that a form says was read.
fn version_of(form: &ReviewForm) -> Result<i64, AppError> {
    let unclear = || AppError::BadRequest("This form does not say which version was read. Open the page again.".to_owned());
    form.version.trim().parse().map_err(|_| unclear())
}

pub(in crate::species) async fn review(State(app): State<App>, me: SignedIn, Path(id): Path<CareTextId>, form: Form<ReviewForm>) -> Answer {
    let version = version_of(&form.input)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    if texts::may_review(write.db(), id, me.id()).await? == MayReview::No {
        return Err(AppError::conflict("You wrote at this text: another lead or an owner reviews it."));
    }
    let before = texts::require_text(write.db(), id).await?;
    let figures = texts::text_figures(write.db(), before.species_id).await?;
    let all = crate::species::model::text::TextSection::ALL.iter();
    if all.clone().any(|section| crate::species::model::drawn::trouble(before.sections.of(*section), &figures).is_some()) {
        return Err(AppError::conflict("A field of this text stands for nothing any more. Give it back, with the field named."));
    }
    texts::review_text(&mut write, id, version).await?;
    let text = texts::require_text(write.db(), id).await?;
    let species = store::require(write.db(), text.species_id).await?;
    let how = if text.alone { ", by its own writer: nobody else is there who could" } else { "" };
    let change =
        Change::new("care-text.reviewed", format!("care text {id}"), format!("{}{how}", text.in_words())).from(before.state.code());
    let said = format!("Reviewed: from now on sheets of {} are printed with {}.", species.accepted_name, text.in_words());
    me.done(write, change, &paths::texts_of(&text.species_id), said).await
}

pub(in crate::species) async fn give_back(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CareTextId>,
    form: Form<ReviewForm>,
) -> Answer {
    match give(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&gather(&app, &me, id, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn give(app: &App, me: &SignedIn, id: CareTextId, form: &Form<ReviewForm>) -> Answer {
    let version = version_of(&form.input)?;
    let mut check = Check::new();
    let remark = check.paragraphs("remark", &form.input.remark, 600);
    if remark.as_ref().is_some_and(String::is_empty) {
        check.add("remark", "Say what should change.");
    }
    let (Some(remark), true) = (remark, check.ok()) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    texts::give_back_text(&mut write, id, version, &remark).await?;
    let text = texts::require_text(write.db(), id).await?;
    let change = Change::new("care-text.given-back", format!("care text {id}"), remark).from("sent");
    me.done(
        write,
        change,
        &paths::texts_of(&text.species_id),
        format!("{} is a draft again, with your remark.", text::capitalised(&text.in_words())),
    )
    .await
}

pub(in crate::species) async fn discard(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CareTextId>,
    form: Form<ReviewForm>,
) -> Answer {
    let version = version_of(&form.input)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let text = texts::require_text(write.db(), id).await?;
    texts::discard_text(&mut write, id, version).await?;
    let change = Change::new("care-text.discarded", format!("care text {id}"), "").from(format!("{}, {}", text.in_words(), text.state));
    me.done(write, change, &paths::texts_of(&text.species_id), "The draft is thrown away. Nothing was printed with it.").await
}
