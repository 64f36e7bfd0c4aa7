//! The house's text on safe work, its versions, and who has read the current one.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use super::required_paragraphs;
use crate::handling::model::{Reader, SafeWorkText};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;

#[derive(Template)]
#[template(path = "handling/safe_work.html")]
struct SafeWorkPage {
    layout: Layout,
    zone: Tz,
    current: SafeWorkText,
    earlier: Vec<SafeWorkText>,
    readers: Vec<Reader>,
    /// Whether whoever looks has confirmed the current version.
    have_read: bool,
}

impl SafeWorkPage {
    fn has_read(&self, reader: &Reader) -> bool {
        reader.version == Some(self.current.version)
    }

    /// How many have not read the current version.
    fn waiting(&self) -> usize {
        self.readers.iter().filter(|reader| !self.has_read(reader)).count()
    }
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let mut earlier = store::safe_work_texts(&mut db).await?;
    if earlier.is_empty() {
        return Err(AppError::NotFound);
    }
    let current = earlier.remove(0);
    page(&SafeWorkPage {
        layout: Layout::of(&app, &me, Section::Handling).await?,
        zone: app.site().zone,
        current,
        earlier,
        readers: store::readers(&mut db).await?,
        have_read: store::has_read_current(&mut db, me.id()).await?,
    })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct ReadForm {
    version: String,
}

pub(in crate::handling) async fn read(State(app): State<App>, me: SignedIn, form: Form<ReadForm>) -> Answer {
    let mut check = Check::new();
    let version = check.whole::<i64>("version", &form.input.version, 1..=1_000_000);
    let version =
        version.ok_or_else(|| AppError::BadRequest("This form does not say which text was read. Open the page again.".to_owned()))?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::confirm_read(&mut write, version).await?;
    let change = Change::new("safe-work.read", format!("safe work {version}"), me.member.name.clone());
    me.done(write, change, paths::SAFE_WORK, format!("Noted: you have read version {version}.")).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct TextForm {
    version: String,
    text: String,
}

#[derive(Template)]
#[template(path = "handling/new_safe_work.html")]
struct NewPage {
    layout: Layout,
    input: TextForm,
    mistakes: Mistakes,
}

pub(in crate::handling) async fn new(State(app): State<App>, me: SignedIn) -> Answer {
    let current = store::safe_work_text(&mut *app.read().await?).await?;
    let input = TextForm { version: current.version.to_string(), text: current.text };
    page(&NewPage { layout: Layout::of(&app, &me, Section::Handling).await?, input, mistakes: Mistakes::none() })
}

pub(in crate::handling) async fn create(State(app): State<App>, me: SignedIn, form: Form<TextForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&NewPage { layout: Layout::of(&app, &me, Section::Handling).await?, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<TextForm>) -> Answer {
    let mut check = Check::new();
    let changed = check.whole::<i64>("version", &form.input.version, 1..=1_000_000);
    let text = required_paragraphs(&mut check, "text", &form.input.text, 6000);
    if text.as_ref().is_some_and(|text| text.chars().count() < 20) {
        check.add("text", "This is too short to work by.");
    }
    let (Some(changed), Some(text), true) = (changed, text, check.ok()) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    let before = store::safe_work_text(write.db()).await?;
    let version = store::add_safe_work_text(&mut write, changed, &text).await?;
    let change = Change::new("safe-work.changed", format!("safe work {version}"), text).from(before.text);
    me.done(write, change, paths::SAFE_WORK, format!("Version {version} stands. Everybody has it to read.")).await
}
