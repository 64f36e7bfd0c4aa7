//! Recording a pairing.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::parents;
use crate::breeding::model::NewPairing;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::words::Sex;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct PairingForm {
    dam: String,
    sire: String,
    day: String,
    note: String,
}

impl PairingForm {
    fn check(&self, today: NaiveDate) -> Result<NewPairing, Mistakes> {
        let mut check = Check::new();
        let dam = check.choice("dam", &self.dam);
        let sire = check.choice("sire", &self.sire);
        let day = check.day("day", &self.day, today);
        let note = check.paragraphs("note", &self.note, 600);
        match (dam, sire, day, note) {
            (Some(dam), Some(sire), Some(day), Some(note)) => Ok(NewPairing { dam, sire, day, note }),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "breeding/pairing.html")]
struct PairingPage {
    layout: Layout,
    dams: Vec<Choice>,
    sires: Vec<Choice>,
    input: PairingForm,
    mistakes: Mistakes,
}

impl PairingPage {
    async fn of(app: &App, me: &SignedIn, input: PairingForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        Ok(Self {
            dams: parents(&mut db, Sex::Female, "choose the female").await?,
            sires: parents(&mut db, Sex::Male, "choose the male").await?,
            layout: Layout::of(app, me, Section::Breeding).await?,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn new_pairing(State(app): State<App>, me: SignedIn) -> Answer {
    let input = PairingForm { day: app.today().to_string(), ..PairingForm::default() };
    page(&PairingPage::of(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn create_pairing(State(app): State<App>, me: SignedIn, form: Form<PairingForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&PairingPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<PairingForm>) -> Answer {
    let new = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert_pairing(&mut write, &new).await?;
    let (dam, sire) = (store::parent(write.db(), new.dam).await?.tag, store::parent(write.db(), new.sire).await?.tag);
    let say = format!("{dam} was paired with {sire} on {}.", text::day(&new.day));
    me.done(write, Change::new("pairing.recorded", format!("pairing {id}"), say.as_str()), paths::BREEDING, say).await
}
