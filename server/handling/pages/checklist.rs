//! The list before a rehouse: what the program asks, and what the house adds.

use askama::Template;
use axum::extract::State;
use chrono_tz::Tz;
use serde::Deserialize;

use crate::handling::model::ChecklistLine;
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::ChecklistLineId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::hazard::{Band, HazardFacts, rehouse_checklist};
use crate::reckoning::words::{LifeStage, Setae, Venom};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct LineForm {
    text: String,
    from_band: String,
}

impl LineForm {
    fn check(&self) -> Result<(String, i64), Mistakes> {
        let mut check = Check::new();
        let text = check.text("text", &self.text, 120);
        if text.as_ref().is_some_and(|text| text.chars().count() < 3) {
            check.add("text", "Say it in a few words.");
        }
        let band = check.whole::<i64>("from_band", &self.from_band, 0..=3);
        match (text, band) {
            (Some(text), Some(band)) if check.ok() => Ok((text, band)),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "handling/checklist.html")]
struct ChecklistPage {
    layout: Layout,
    zone: Tz,
    /// What the program asks of the highest band, setae aside.
    built_in: Vec<&'static str>,
    lines: Vec<ChecklistLine>,
    bands: Vec<Choice>,
    input: LineForm,
    mistakes: Mistakes,
}

impl ChecklistPage {
    async fn of(app: &App, me: &SignedIn, input: LineForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let lines = store::checklist_lines(&mut *app.read().await?).await?;
        let dangerous = HazardFacts {
            venom: Venom::Significant,
            setae: Setae::None,
            defensive: true,
            very_fast: true,
            adult_span_max_mm: 0,
            life_stage: LifeStage::Adult,
            cautions: Vec::new(),
        };
        let bands = Band::ALL.map(|band| Choice::new(band.level(), format!("band {band} and above"))).to_vec();
        let layout = Layout::of(app, me, Section::Handling).await?;
        Ok(Self { layout, zone: app.site().zone, built_in: rehouse_checklist(&dangerous), lines, bands, input, mistakes })
    }
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let input = LineForm { from_band: "3".to_owned(), ..LineForm::default() };
    page(&ChecklistPage::of(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::handling) async fn add(State(app): State<App>, me: SignedIn, form: Form<LineForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ChecklistPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<LineForm>) -> Answer {
    let (text, band) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::add_checklist_line(&mut write, &text, band).await?;
    let change = Change::new("checklist.line added", format!("checklist line {id}"), format!("from band {band}: {text}"));
    me.done(write, change, paths::CHECKLIST, format!("“{text}” is ticked from now on.")).await
}

pub(in crate::handling) async fn retire(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<ChecklistLineId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let text = store::retire_checklist_line(&mut write, id).await?;
    let change = Change::new("checklist.line retired", format!("checklist line {id}"), "").from(text.clone());
    me.done(write, change, paths::CHECKLIST, format!("“{text}” is off the list. Sign-offs keep it as it was ticked.")).await
}
