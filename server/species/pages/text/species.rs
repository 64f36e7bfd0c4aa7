//! The texts of one species: every revision in every language.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::{Answer, redirect};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::Mistakes;
use crate::house::ids::SpeciesId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::text;
use crate::reckoning::language::Language;
use crate::species::model::Species;
use crate::species::model::text::CareTextLine;
use crate::species::store::{self, texts};

/// The revisions in one language, the newest first.
struct InLanguage {
    language: Language,
    texts: Vec<CareTextLine>,
}

impl InLanguage {
    /// The one that sheets are printed with.
    fn printed(&self) -> Option<&CareTextLine> {
        self.texts.iter().find(|text| text.state.is_printed())
    }

    /// The one that is worked at.
    fn open(&self) -> Option<&CareTextLine> {
        self.texts.iter().find(|text| !text.state.is_printed())
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::species) struct Asked {
    /// The language to write in; the form's own tag goes before the list.
    language: String,
    tag: String,
}

#[derive(Template)]
#[template(path = "species/text/species.html")]
struct TextsPage {
    layout: Layout,
    species: Species,
    house: Language,
    languages: Vec<InLanguage>,
    others: Vec<Choice>,
    asked: Asked,
    mistakes: Mistakes,
}

pub(in crate::species) async fn of_species(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<SpeciesId>,
    Query(asked): Query<Asked>,
) -> Answer {
    let mut db = app.read().await?;
    let species = store::require(&mut db, id).await?;
    let typed = if asked.tag.trim().is_empty() { asked.language.trim() } else { asked.tag.trim() };
    let mut mistakes = Mistakes::none();
    if !typed.is_empty() {
        match typed.parse::<Language>() {
            Ok(language) => return Ok(redirect(&paths::write_text(&id, &language))),
            Err(_) => mistakes.add("tag", "Write a tag such as fr, zh-Hant or es-419: a language, then at most a script and a region."),
        }
    }
    let mut languages: Vec<InLanguage> = Vec::new();
    for text in texts::texts_of(&mut db, id).await? {
        match languages.last_mut() {
            Some(last) if last.language == text.language => last.texts.push(text),
            _ => languages.push(InLanguage { language: text.language.clone(), texts: vec![text] }),
        }
    }
    let others = Language::offered().filter(|offered| languages.iter().all(|there| there.language != *offered));
    let shown = TextsPage {
        layout: Layout::of(&app, &me, Section::Species).await?,
        species,
        house: texts::house_language(&mut db).await?,
        others: others.map(|language| Choice::new(&language, language.name())).collect(),
        languages,
        asked,
        mistakes,
    };
    if shown.mistakes.is_empty() { page(&shown) } else { page_again(&shown) }
}
