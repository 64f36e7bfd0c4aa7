//! Writing a text: a form with a field for each section, saved as a draft or sent for review.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse as _};

use super::{SectionDifference, TextForm, differences, written_by};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Form, Mistakes};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::papers::wording::Wording;
use crate::reckoning::difference::Fate;
use crate::reckoning::language::Language;
use crate::species::model::Species;
use crate::species::model::drawn::{DrawnBlock, DrawnPiece, DrawnText};
use crate::species::model::text::{CareText, Sections, TextFigures, TextSection};
use crate::species::store::texts::Seen;
use crate::species::store::{self, texts};

/// The page that a text is written on.
#[derive(Template)]
#[template(path = "species/text/edit.html")]
pub(super) struct EditPage {
    pub(super) layout: Layout,
    pub(super) species: Species,
    pub(super) language: Language,
    pub(super) input: TextForm,
    pub(super) mistakes: Mistakes,
    /// The draft that is worked at.
    pub(super) open: Option<CareText>,
    /// The revision that is printed now.
    pub(super) printed: Option<CareText>,
    /// A text in another language to write by, where there is none in this one yet.
    pub(super) source: Option<CareText>,
    /// The fields that a text may hold.
    pub(super) fields: Vec<(String, String, String)>,
    /// How the text prints, when that was asked for.
    pub(super) preview: Option<DrawnText>,
    /// What somebody else saved meanwhile, against what was typed.
    pub(super) meanwhile: Vec<SectionDifference>,
}

impl EditPage {
    fn typed(&self, section: &TextSection) -> String {
        self.input.sections().of(*section).to_owned()
    }

    /// The words of a section in the text to write by.
    fn of_source(&self, section: &TextSection) -> &str {
        self.source.as_ref().map_or("", |source| source.sections.of(*section))
    }

    fn written(&self, text: &CareText) -> String {
        written_by(text)
    }

    fn wording(&self) -> &'static Wording {
        Wording::of(&self.language).unwrap_or_else(Wording::english)
    }
}

/// Gathers the page around what was typed; around what stands, when nothing was.
pub(super) async fn gather(
    app: &App,
    me: &SignedIn,
    (species, language): (Species, Language),
    typed: Option<TextForm>,
    mistakes: Mistakes,
) -> Result<(EditPage, TextFigures), AppError> {
    let mut db = app.read().await?;
    let open = texts::open_text(&mut db, species.id, &language).await?;
    let printed = texts::printed_text(&mut db, species.id, &language).await?;
    let source = match (&open, &printed) {
        (_, Some(_)) => None,
        _ => texts::text_for(&mut db, species.id, None).await?.text,
    };
    let seen = texts::seen_now(&mut db, species.id, &language).await?;
    let standing = || open.as_ref().or(printed.as_ref()).map_or_else(Sections::default, |text| text.sections.clone());
    let figures = texts::text_figures(&mut db, species.id).await?;
    let page = EditPage {
        layout: Layout::of(app, me, Section::Species).await?,
        input: typed.unwrap_or_else(|| TextForm::of(seen, standing())),
        fields: figures.list(&language),
        species,
        language,
        mistakes,
        open,
        printed,
        source,
        preview: None,
        meanwhile: Vec::new(),
    };
    Ok((page, figures))
}

pub(in crate::species) async fn edit(State(app): State<App>, me: SignedIn, Path((id, language)): Path<(SpeciesId, Language)>) -> Answer {
    let species = store::require(&mut *app.read().await?, id).await?;
    page(&gather(&app, &me, (species, language), None, Mistakes::none()).await?.0)
}

pub(in crate::species) async fn save(
    State(app): State<App>,
    me: SignedIn,
    Path((id, language)): Path<(SpeciesId, Language)>,
    form: Form<TextForm>,
) -> Answer {
    let species = store::require(&mut *app.read().await?, id).await?;
    match write(&app, &me, (&species, &language), &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&gather(&app, &me, (species, language), Some(form.input), mistakes).await?.0),
        Err(AppError::Conflict(why)) => overtaken(&app, &me, (species, language), form.input, why).await,
        answer => answer,
    }
}

async fn write(app: &App, me: &SignedIn, (species, language): (&Species, &Language), form: &Form<TextForm>) -> Answer {
    let send = match form.input.deed.as_str() {
        "save" => false,
        "send" => true,
        _ => return Err(AppError::BadRequest("This form does not say what to do. Use the page's own buttons.".to_owned())),
    };
    let seen = form.input.seen();
    let seen = seen.ok_or_else(|| AppError::BadRequest("This form does not say which text it changes. Open the page again.".to_owned()))?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let figures = texts::text_figures(write.db(), species.id).await?;
    let sections = form.input.check(&figures, send)?;
    let id = texts::save_draft(&mut write, species.id, language, seen, &sections).await?;
    if send {
        texts::send_text(&mut write, id).await?;
    }
    let text = texts::require_text(write.db(), id).await?;
    let before = match seen {
        Seen::Draft(_, version) => format!("draft, version {version}"),
        Seen::Newest(_) => String::new(),
    };
    let subject = format!("care text {id}");
    let after = format!("{} of {}, version {}", text.in_words(), species.accepted_name, text.version);
    if send {
        let said = "It waits for a review now: another lead or an owner reads it. Until then sheets are printed as before.";
        return me.done(write, Change::new("care-text.sent", subject, after).from(before), &paths::care_text(&id), said).await;
    }
    let said = format!("The draft of {} is saved. It is printed only after a review.", text.in_words());
    me.done(write, Change::new("care-text.saved", subject, after).from(before), &paths::write_text(&species.id, language), said).await
}

/// The page again with all that was typed, and what somebody else saved meanwhile beside it: 409. Saving it now is a decision.
async fn overtaken(app: &App, me: &SignedIn, of: (Species, Language), typed: TextForm, why: String) -> Answer {
    let mut db = app.read().await?;
    let seen = texts::seen_now(&mut db, of.0.id, &of.1).await?;
    let theirs = match texts::open_text(&mut db, of.0.id, &of.1).await? {
        Some(open) => Some(open),
        None => texts::printed_text(&mut db, of.0.id, &of.1).await?,
    };
    drop(db);
    let stands = theirs.as_ref().map_or_else(String::new, |text| format!(" There now stands {}, {}.", text.in_words(), written_by(text)));
    let message = format!(
        "{why}{stands} Nothing of yours is saved yet, and all that you typed is kept below. What differs is shown under the form: \
         take over what should stay, then save again to put yours in its place."
    );
    let meanwhile = theirs.map_or_else(Vec::new, |text| differences(&text.sections, &typed.sections()));
    let (again, _) = gather(app, me, of, Some(typed.when_seen(seen)), Mistakes::one("", message)).await?;
    let again = EditPage { meanwhile, ..again };
    Ok((StatusCode::CONFLICT, Html(again.render()?)).into_response())
}
