//! Recording a sac.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::planned::Asked;
use super::{parents, places};
use crate::breeding::model::NewSac;
use crate::breeding::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, SpeciesId};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::breeding::Sire;
use crate::reckoning::breeding::incubation::USUAL_BASE_DECICELSIUS;
use crate::reckoning::words::Sex;
use crate::rounds;
use crate::species;

/// What the list of sires sends for nobody.
const NOT_KNOWN: &str = "unknown";

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct SacForm {
    dam: String,
    dam_note: String,
    dam_wild_mated: String,
    species: String,
    sire: String,
    sire_note: String,
    base_c: String,
    laid_on: String,
    pulled_on: String,
    incubation_note: String,
    shelf: String,
    position: String,
}

impl SacForm {
    /// The sac as typed. The dam says her species herself; a dam that is not ours needs it told.
    fn check(&self, today: NaiveDate, dams_species: Option<SpeciesId>) -> Result<(NewSac, i64), Mistakes> {
        let mut check = Check::new();
        let dam: Option<AnimalId> = check.optional_choice("dam", &self.dam);
        let dam_note = check.optional_text("dam_note", &self.dam_note, 300);
        let species_id = dams_species.or_else(|| check.choice("species", &self.species));
        let sire = if self.sire.trim() == NOT_KNOWN { None } else { check.optional_choice("sire", &self.sire) };
        let base = check.optional_tenths("base_c", &self.base_c, 0..=250).unwrap_or(USUAL_BASE_DECICELSIUS);
        let sire_note = check.optional_text("sire_note", &self.sire_note, 300);
        let laid_on = check.day("laid_on", &self.laid_on, today);
        let pulled_on = check.optional_day("pulled_on", &self.pulled_on, today);
        let incubation_note = check.paragraphs("incubation_note", &self.incubation_note, 600);
        let shelf = check.optional_choice("shelf", &self.shelf);
        let position = check.optional_whole("position", &self.position, 1..=999_i64);
        if dam.is_none() && dam_note.as_ref().is_some_and(String::is_empty) {
            check.add("dam", "Choose the dam, or write below what is known of her.");
        }
        let dam_wild_mated = self.dam_wild_mated == "yes";
        match (dam_note, species_id, sire_note, laid_on, incubation_note) {
            (Some(dam_note), Some(species_id), Some(sire_note), Some(laid_on), Some(incubation_note)) if check.ok() => Ok((
                NewSac { species_id, dam, dam_note, dam_wild_mated, sire, sire_note, laid_on, pulled_on, incubation_note, shelf, position },
                base,
            )),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "breeding/new_sac.html")]
struct SacPage {
    layout: Layout,
    dams: Vec<Choice>,
    sires: Vec<Choice>,
    species: Vec<Choice>,
    places: Vec<Choice>,
    input: SacForm,
    mistakes: Mistakes,
}

impl SacPage {
    async fn of(app: &App, me: &SignedIn, input: SacForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let all = species::store::all(&mut db).await?;
        let first = Choice::new("", "as the dam's");
        Ok(Self {
            dams: parents(&mut db, Sex::Female, "not one of ours").await?,
            sires: sires(&mut db).await?,
            species: std::iter::once(first).chain(all.into_iter().map(|one| Choice::new(one.id, one.accepted_name))).collect(),
            places: places(&mut db).await?,
            layout: Layout::of(app, me, Section::Breeding).await?,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn new_sac(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let base_c = format!("{:.1}", USUAL_BASE_DECICELSIUS as f64 / 10.0);
    let input = SacForm { dam: asked.dam, laid_on: app.today().to_string(), base_c, ..SacForm::default() };
    page(&SacPage::of(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn create_sac(State(app): State<App>, me: SignedIn, form: Form<SacForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&SacPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<SacForm>) -> Answer {
    let dams_species = dams_species(&mut *app.read().await?, &form.input).await?;
    let (mut new, base) = form.input.check(app.today(), dams_species)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    if let Some(dam) = new.dam.filter(|_| form.input.sire.trim().is_empty()) {
        new.sire = store::sire_by_introductions(write.db(), dam, new.laid_on).await?;
    }
    let id = store::insert_sac(&mut write, &new).await?;
    store::incubation::set_base(&mut write, id, base).await?;
    rounds::store::replan_sac(&mut write, id).await?;
    let sac = store::require_sac(write.db(), id).await?;
    let change = Change::new("sac.laid", format!("sac {id}"), format!("{} of {}, laid {}", sac.species, sac.dam(), sac.laid_on));
    let infertile = match new.dam {
        Some(dam) => store::parentage_of(write.db(), dam, new.laid_on).await?.sire == Sire::ExpectedInfertile,
        None => false,
    };
    let expected = if infertile { " She moulted after her last pairing: it is expected to be infertile." } else { "" };
    let say = format!("The sac of {} is in the book, laid {}.{expected}", sac.dam(), text::day(&sac.laid_on));
    me.done(write, change, &paths::sac(&id), say).await
}

/// The males to choose from: the one that her introductions point to, nobody, or one by name.
async fn sires(db: &mut SqliteConnection) -> Result<Vec<Choice>, AppError> {
    let mut sires = parents(db, Sex::Male, "as her introductions say").await?;
    sires.insert(1, Choice::new(NOT_KNOWN, "not known"));
    Ok(sires)
}

/// The species of the chosen dam, unless another was chosen on purpose.
async fn dams_species(db: &mut SqliteConnection, input: &SacForm) -> Result<Option<SpeciesId>, AppError> {
    if !input.species.trim().is_empty() {
        return Ok(None);
    }
    let Ok(dam) = input.dam.parse::<AnimalId>() else { return Ok(None) };
    match store::parent(db, dam).await {
        Err(AppError::NotFound) => Err(AppError::refused("dam", "This animal is not in the book. Choose one of the list.")),
        answer => answer.map(|parent| Some(parent.species_id)),
    }
}
