//! The texts of every species: what is printed in which language, and what waits for a review.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::text;
use crate::reckoning::language::Language;
use crate::species::model::SpeciesLine;
use crate::species::model::text::{CareTextLine, TextState};
use crate::species::store::{self, texts};

/// A species with its texts that are printed or worked at.
struct Row {
    species: SpeciesLine,
    printed: Vec<CareTextLine>,
    open: Vec<CareTextLine>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::species) struct LanguageForm {
    language: String,
}

#[derive(Template)]
#[template(path = "species/text/overview.html")]
struct OverviewPage {
    layout: Layout,
    rows: Vec<Row>,
    waiting: Vec<CareTextLine>,
    house: Language,
    languages: Vec<Choice>,
    input: LanguageForm,
    mistakes: Mistakes,
}

async fn gather(app: &App, me: &SignedIn, mistakes: Mistakes) -> Result<OverviewPage, AppError> {
    let mut db = app.read().await?;
    let now = texts::texts_now(&mut db).await?;
    let of = |species: &SpeciesLine, wanted: fn(TextState) -> bool| -> Vec<CareTextLine> {
        now.iter().filter(|text| text.species_id == species.id && wanted(text.state)).cloned().collect()
    };
    let all = store::all(&mut db).await?;
    let rows = all.into_iter().map(|species| Row {
        printed: of(&species, TextState::is_printed),
        open: of(&species, |state| !state.is_printed()),
        species,
    });
    let house = texts::house_language(&mut db).await?;
    Ok(OverviewPage {
        layout: Layout::of(app, me, Section::Species).await?,
        rows: rows.collect(),
        waiting: now.iter().filter(|text| text.state == TextState::Sent).cloned().collect(),
        languages: Language::offered().map(|language| Choice::new(&language, language.name())).collect(),
        input: LanguageForm { language: house.to_string() },
        house,
        mistakes,
    })
}

pub(in crate::species) async fn overview(State(app): State<App>, me: SignedIn) -> Answer {
    page(&gather(&app, &me, Mistakes::none()).await?)
}

pub(in crate::species) async fn set_language(State(app): State<App>, me: SignedIn, form: Form<LanguageForm>) -> Answer {
    match store_language(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let again = gather(&app, &me, mistakes).await?;
            page_again(&OverviewPage { input: form.input, ..again })
        }
        answer => answer,
    }
}

async fn store_language(app: &App, me: &SignedIn, form: &Form<LanguageForm>) -> Answer {
    let mut check = Check::new();
    let language: Option<Language> = check.choice("language", &form.input.language);
    let Some(language) = language else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = texts::house_language(write.db()).await?;
    texts::set_house_language(&mut write, &language).await?;
    let change = Change::new("site.language-changed", "site 1", language.code()).from(before.code());
    let said = format!("Sheets are printed in {} from now on, unless the buyer reads another language.", language.name());
    let answer = me.done(write, change, paths::CARE_TEXTS, said).await?;
    app.refresh_site().await?;
    Ok(answer)
}
