//! Beginning a pairing, once what was found of the two has been looked at.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::parents;
use super::planned::Asked;
use crate::breeding::model::NewPairing;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::AnimalId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::breeding::check::{Finding, Weight};
use crate::reckoning::words::Sex;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct PairingForm {
    dam: String,
    sire: String,
    day: String,
    accept_mixed: String,
    note: String,
    /// The two of whom the page showed what was found: `12-7`.
    looked: String,
}

impl PairingForm {
    fn check(&self, today: NaiveDate) -> Result<NewPairing, Mistakes> {
        let mut check = Check::new();
        let dam = check.choice("dam", &self.dam);
        let sire = check.choice("sire", &self.sire);
        let day = check.day("day", &self.day, today);
        let note = check.paragraphs("note", &self.note, 600);
        match (dam, sire, day, note) {
            (Some(dam), Some(sire), Some(day), Some(note)) => {
                Ok(NewPairing { dam, sire, day, note, accept_mixed: self.accept_mixed == "yes" })
            }
            _ => Err(check.mistakes()),
        }
    }

    /// The two as the form and the address name them.
    fn two(&self) -> String {
        format!("{}-{}", self.dam.trim(), self.sire.trim())
    }
}

#[derive(Template)]
#[template(path = "breeding/begin.html")]
struct BeginPage {
    layout: Layout,
    dams: Vec<Choice>,
    sires: Vec<Choice>,
    findings: Vec<Finding>,
    /// Whether their lines differ.
    mixed: bool,
    looked: String,
    input: PairingForm,
    mistakes: Mistakes,
}

impl BeginPage {
    async fn of(app: &App, me: &SignedIn, input: PairingForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (findings, mixed) = match (input.dam.parse::<AnimalId>(), input.sire.parse::<AnimalId>()) {
            (Ok(dam), Ok(sire)) => {
                let asking = (app.now(), app.site().zone, Some(me.id()));
                let day = input.day.parse().ok().filter(|day| *day <= app.today()).unwrap_or_else(|| app.today());
                match store::look(&mut db, dam, sire, day, asking).await {
                    Err(AppError::NotFound) => (Vec::new(), String::new()),
                    found => found?,
                }
            }
            _ => (Vec::new(), String::new()),
        };
        Ok(Self {
            dams: parents(&mut db, Sex::Female, "choose the female").await?,
            sires: parents(&mut db, Sex::Male, "choose the male").await?,
            layout: Layout::of(app, me, Section::Breeding).await?,
            looked: if findings.is_empty() { String::new() } else { input.two() },
            mixed: !mixed.is_empty(),
            findings,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn new_pairing(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let input = PairingForm { dam: asked.dam, sire: asked.sire, day: app.today().to_string(), ..PairingForm::default() };
    page(&BeginPage::of(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn create_pairing(State(app): State<App>, me: SignedIn, form: Form<PairingForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&BeginPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<PairingForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::begin_pairing(&mut write, &new).await?;
    if form.input.looked != form.input.two() {
        return Err(AppError::refused("", "This is what was found of the two. Read it, then begin the pairing."));
    }
    let pairing = store::require_pairing(write.db(), id).await?;
    let say = format!("{} and {} are a pairing now. Write each introduction down here.", pairing.dam_tag, pairing.sire_tag);
    let after =
        format!("{} and {}{}", pairing.dam_tag, pairing.sire_tag, if pairing.mixed.is_empty() { "" } else { ", mixed lines accepted" });
    me.done(write, Change::new("pairing.begun", format!("pairing {id}"), after), &paths::pairing(&id), say).await
}
