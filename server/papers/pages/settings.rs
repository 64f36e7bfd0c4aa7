//! What the house sets for its papers, and notes on law by place.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::LawPlaceId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::papers::model::{LawPlace, PaperSettings};
use crate::papers::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct SettingsForm {
    registration: String,
    telephone: String,
    arrival_terms: String,
    least_age_2: String,
    least_age_3: String,
    box_min_c: String,
    box_max_c: String,
    version: String,
}

impl SettingsForm {
    fn of(settings: &PaperSettings) -> Self {
        Self {
            registration: settings.registration.clone(),
            telephone: settings.telephone.clone(),
            arrival_terms: settings.arrival_terms.clone(),
            least_age_2: settings.least_age_2.to_string(),
            least_age_3: settings.least_age_3.to_string(),
            box_min_c: settings.box_min_c.to_string(),
            box_max_c: settings.box_max_c.to_string(),
            version: settings.version.to_string(),
        }
    }

    fn check(&self) -> Result<PaperSettings, Mistakes> {
        let mut check = Check::new();
        let registration = check.optional_text("registration", &self.registration, 200);
        let telephone = check.optional_text("telephone", &self.telephone, 60);
        let arrival_terms = check.paragraphs("arrival_terms", &self.arrival_terms, 2000);
        let ages = (check.whole("least_age_2", &self.least_age_2, 0..=99), check.whole("least_age_3", &self.least_age_3, 0..=99));
        let degrees = (check.whole("box_min_c", &self.box_min_c, -10..=40), check.whole("box_max_c", &self.box_max_c, -10..=50));
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        if let ((Some(least), Some(most)), true) = (degrees, check.ok())
            && least >= most
        {
            check.add("box_max_c", "The greatest temperature is above the least.");
        }
        match (registration, telephone, arrival_terms, ages, degrees, version) {
            (
                Some(registration),
                Some(telephone),
                Some(arrival_terms),
                (Some(least_age_2), Some(least_age_3)),
                (Some(box_min_c), Some(box_max_c)),
                Some(version),
            ) if check.ok() => {
                Ok(PaperSettings { registration, telephone, arrival_terms, least_age_2, least_age_3, box_min_c, box_max_c, version })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct PlaceForm {
    place: String,
    text: String,
}

#[derive(Template)]
#[template(path = "papers/settings.html")]
struct SettingsPage {
    layout: Layout,
    places: Vec<LawPlace>,
    input: SettingsForm,
    law: PlaceForm,
    mistakes: Mistakes,
}

impl SettingsPage {
    async fn of(app: &App, me: &SignedIn, input: Option<SettingsForm>, law: PlaceForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let stored = store::settings(&mut db).await?;
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            places: store::law_places(&mut db).await?,
            input: input.unwrap_or_else(|| SettingsForm::of(&stored)),
            law,
            mistakes,
        })
    }
}

pub(in crate::papers) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    page(&SettingsPage::of(&app, &me, None, PlaceForm::default(), Mistakes::none()).await?)
}

pub(in crate::papers) async fn save(State(app): State<App>, me: SignedIn, form: Form<SettingsForm>) -> Answer {
    match save_settings(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&SettingsPage::of(&app, &me, Some(form.input), PlaceForm::default(), mistakes).await?)
        }
        answer => answer,
    }
}

async fn save_settings(app: &App, me: &SignedIn, form: &Form<SettingsForm>) -> Answer {
    let new = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let old = store::settings(write.db()).await?;
    store::update_settings(&mut write, &new).await?;
    let change = Change::new("paper-settings.changed", "papers", in_brief(&new)).from(in_brief(&old));
    me.done(write, change, paths::PAPER_SETTINGS, "Saved. Papers that were issued stay as issued.").await
}

fn in_brief(settings: &PaperSettings) -> String {
    format!(
        "registration “{}”; telephone {}; terms of {} characters; ages {} and {}; box {} to {} °C",
        settings.registration,
        settings.telephone,
        settings.arrival_terms.chars().count(),
        settings.least_age_2,
        settings.least_age_3,
        settings.box_min_c,
        settings.box_max_c
    )
}

pub(in crate::papers) async fn add_place(State(app): State<App>, me: SignedIn, form: Form<PlaceForm>) -> Answer {
    match save_place(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&SettingsPage::of(&app, &me, None, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save_place(app: &App, me: &SignedIn, form: &Form<PlaceForm>) -> Answer {
    let mut check = Check::new();
    let place = check.text("place", &form.input.place, 80);
    let text = check.text("text", &form.input.text, 600);
    let (Some(place), Some(text)) = (place, text) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::add_law_place(&mut write, &place, &text).await?;
    let change = Change::new("law-note.added", format!("law note {id}"), format!("{place}: {text}"));
    me.done(write, change, paths::PAPER_SETTINGS, "The note goes onto risk acknowledgements from now on.").await
}

pub(in crate::papers) async fn retire_place(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<LawPlaceId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    store::retire_law_place(&mut write, id).await?;
    let change = Change::new("law-note.retired", format!("law note {id}"), "retired").from("in use");
    me.done(write, change, paths::PAPER_SETTINGS, "Retired. Papers that were issued with it stay as issued.").await
}
