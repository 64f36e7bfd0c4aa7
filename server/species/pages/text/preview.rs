//! How a text prints, before anything is saved: below its form, or as a whole sheet.

use axum::extract::State;
use axum::response::{Html, IntoResponse as _};

use super::TextForm;
use super::edit::{EditPage, gather};
use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::Form;
use crate::house::ids::{CareTextId, SpeciesId};
use crate::house::layout::{page, page_again};
use crate::papers;
use crate::reckoning::language::Language;
use crate::species::model::drawn::draw;
use crate::species::model::text::{CareText, TextState};
use crate::species::store::{self, texts};

/// The form as it was, and below it how the text prints. Saves nothing.
pub(in crate::species) async fn preview(
    State(app): State<App>,
    me: SignedIn,
    Path((id, language)): Path<(SpeciesId, Language)>,
    form: Form<TextForm>,
) -> Answer {
    let species = store::require(&mut *app.read().await?, id).await?;
    let figures = texts::text_figures(&mut *app.read().await?, id).await?;
    let drawn = draw(&form.input.sections(), &figures, &language);
    let mistakes = form.input.check(&figures, false).err().unwrap_or_default();
    let (shown, _) = gather(&app, &me, (species, language), Some(form.input), mistakes).await?;
    let shown = EditPage { preview: Some(drawn), ..shown };
    if shown.mistakes.is_empty() { page(&shown) } else { page_again(&shown) }
}

/// A whole sheet with the text as typed, marked as a specimen. Saves nothing.
pub(in crate::species) async fn sheet_preview(
    State(app): State<App>,
    me: SignedIn,
    Path((id, language)): Path<(SpeciesId, Language)>,
    form: Form<TextForm>,
) -> Answer {
    let mut db = app.read().await?;
    let newest = texts::texts_of(&mut db, id).await?;
    let number = newest.iter().filter(|text| text.language == language).map(|text| text.number).max().unwrap_or(0);
    let open = texts::open_text(&mut db, id, &language).await?;
    let text = CareText {
        id: CareTextId(0),
        species_id: id,
        number: open.map_or(number + 1, |open| open.number),
        language,
        state: TextState::Draft,
        author: Some(me.member.name.clone()),
        written_on: app.today(),
        reviewer: None,
        reviewed_on: None,
        alone: false,
        remark: String::new(),
        version: 0,
        sections: form.input.sections(),
    };
    Ok(Html(papers::store::specimen(&mut db, &text, app.today()).await?).into_response())
}

/// A whole sheet with one revision, marked as a specimen.
pub(in crate::species) async fn sheet_of_revision(State(app): State<App>, _me: SignedIn, Path(id): Path<CareTextId>) -> Answer {
    let mut db = app.read().await?;
    let text = texts::require_text(&mut db, id).await?;
    Ok(Html(papers::store::specimen(&mut db, &text, app.today()).await?).into_response())
}
