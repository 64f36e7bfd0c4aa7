//! Adding a species that is not in the starter library. Its first care profile is copied from a species that lives alike.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::paths;
use crate::reckoning::words::{Habit, LifeStage, Moisture, Pace, Setae, Venom, World};
use crate::species::model::Species;
use crate::species::names::NameMatch;
use crate::species::starter::{StarterCare, StarterSpecies};
use crate::species::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::species) struct AddForm {
    accepted_name: String,
    authority: String,
    subfamily: String,
    world: String,
    range: String,
    habit: String,
    moisture: String,
    adult_span_min_mm: String,
    adult_span_max_mm: String,
    setae: String,
    setae_note: String,
    venom: String,
    venom_basis: String,
    defensive: String,
    very_fast: String,
    temper: String,
    communal: String,
    pace: String,
    law_note: String,
    like: String,
}

/// A checked species, but for what is copied.
struct NewSpecies {
    like: SpeciesId,
    facts: Facts,
}

/// What the form itself says.
struct Facts {
    accepted_name: String,
    authority: String,
    subfamily: Option<String>,
    world: World,
    range: String,
    habit: Habit,
    moisture: Moisture,
    adult_span_mm: (u32, u32),
    setae: (Setae, String),
    venom: (Venom, String),
    temper: String,
    pace: Pace,
    law_note: String,
}

impl AddForm {
    fn check(&self) -> Result<NewSpecies, Mistakes> {
        let mut check = Check::new();
        let facts = self.facts(&mut check);
        let like = check.choice("like", &self.like);
        match (facts, like) {
            (Some(facts), Some(like)) if check.ok() => Ok(NewSpecies { like, facts }),
            _ => Err(check.mistakes()),
        }
    }

    fn facts(&self, check: &mut Check) -> Option<Facts> {
        let accepted_name = scientific_name(check, &self.accepted_name);
        let authority = check.text("authority", &self.authority, 120);
        let subfamily = check.optional_text("subfamily", &self.subfamily, 60).filter(|name| !name.is_empty());
        let (world, range) = (check.choice("world", &self.world), check.text("range", &self.range, 200));
        let (habit, moisture) = (check.choice("habit", &self.habit), check.choice("moisture", &self.moisture));
        let least = check.whole("adult_span_min_mm", &self.adult_span_min_mm, 10..=350);
        let most = check.whole("adult_span_max_mm", &self.adult_span_max_mm, 10..=350);
        if least.zip(most).is_some_and(|(least, most)| least > most) {
            check.add("adult_span_max_mm", "The greatest span must be at least the least.");
        }
        let pace = check.choice("pace", &self.pace);
        let setae = check.choice("setae", &self.setae).zip(check.optional_text("setae_note", &self.setae_note, 300));
        let venom = check.choice("venom", &self.venom).zip(check.text("venom_basis", &self.venom_basis, 300));
        let temper = check.text("temper", &self.temper, 300);
        let law_note = check.optional_text("law_note", &self.law_note, 600);
        Some(Facts {
            accepted_name: accepted_name?,
            authority: authority?,
            subfamily,
            world: world?,
            range: range?,
            habit: habit?,
            moisture: moisture?,
            adult_span_mm: (least?, most?),
            setae: setae?,
            venom: venom?,
            temper: temper?,
            pace: pace?,
            law_note: law_note?,
        })
    }

    fn with_copied(&self, facts: Facts, like: &Species, mut care: StarterCare) -> StarterSpecies {
        let basis = format!("Copied from {}: common practice, no source.", like.accepted_name);
        for stage in LifeStage::ALL {
            let mut copied = care.of(*stage).clone();
            copied.basis.clone_from(&basis);
            care.set(*stage, copied);
        }
        StarterSpecies {
            accepted_name: facts.accepted_name,
            authority: facts.authority,
            subfamily: facts.subfamily,
            world: facts.world,
            range: facts.range,
            habit: facts.habit,
            moisture: facts.moisture,
            names: Vec::new(),
            adult_span_min_mm: facts.adult_span_mm.0,
            adult_span_max_mm: facts.adult_span_mm.1,
            setae: facts.setae.0,
            setae_note: facts.setae.1,
            venom: facts.venom.0,
            venom_basis: facts.venom.1,
            defensive: self.defensive == "yes",
            very_fast: self.very_fast == "yes",
            temper: facts.temper,
            communal: self.communal == "yes",
            pace: facts.pace,
            clutch_min: like.clutch_min,
            clutch_max: like.clutch_max,
            pull_from_day: like.pull_from_day,
            pull_to_day: like.pull_to_day,
            stage_days: like.stage_days(),
            sac_group: like.sac_group,
            breeding_basis: basis,
            listings: Vec::new(),
            law_note: facts.law_note,
            care,
        }
    }
}

/// A genus with a capital and an epithet, as `Aphonopelma seemanni` or `Chilobrachys sp.`.
fn scientific_name(check: &mut Check, typed: &str) -> Option<String> {
    let name = check.text("accepted_name", typed, 80)?;
    let words: Vec<&str> = name.split_whitespace().collect();
    let genus = words.first().is_some_and(|genus| genus.len() > 1 && genus.starts_with(|letter: char| letter.is_ascii_uppercase()));
    if words.len() < 2 || !genus {
        check.add("accepted_name", "Write genus and species, the genus with a capital: Aphonopelma seemanni.");
        return None;
    }
    Some(words.join(" "))
}

#[derive(Template)]
#[template(path = "species/add.html")]
struct AddPage {
    layout: Layout,
    lists: Lists,
    input: AddForm,
    mistakes: Mistakes,
}

/// What each list of the form offers; none is chosen beforehand, because a wrong default would be a wrong caution.
struct Lists {
    worlds: Vec<Choice>,
    habits: Vec<Choice>,
    moistures: Vec<Choice>,
    paces: Vec<Choice>,
    setae: Vec<Choice>,
    venoms: Vec<Choice>,
    species: Vec<Choice>,
}

impl Lists {
    async fn read(db: &mut SqliteConnection) -> Result<Self, AppError> {
        let species = store::all(db).await?;
        Ok(Self {
            worlds: unchosen(choices(World::ALL, World::code)),
            habits: unchosen(choices(Habit::ALL, Habit::code)),
            moistures: unchosen(choices(Moisture::ALL, Moisture::code)),
            paces: unchosen(choices(Pace::ALL, Pace::code)),
            setae: unchosen(choices(Setae::ALL, Setae::code)),
            venoms: unchosen(choices(Venom::ALL, Venom::code)),
            species: unchosen(species.into_iter().map(|line| Choice::new(line.id, line.accepted_name)).collect()),
        })
    }
}

fn unchosen(mut list: Vec<Choice>) -> Vec<Choice> {
    list.insert(0, Choice::new("", "Choose"));
    list
}

async fn add_page(app: &App, me: &SignedIn, input: AddForm, mistakes: Mistakes) -> Result<AddPage, AppError> {
    let lists = Lists::read(&mut *app.read().await?).await?;
    Ok(AddPage { layout: Layout::of(app, me, Section::Species).await?, lists, input, mistakes })
}

pub(in crate::species) async fn add(State(app): State<App>, me: SignedIn) -> Answer {
    page(&add_page(&app, &me, AddForm::default(), Mistakes::none()).await?)
}

pub(in crate::species) async fn create(State(app): State<App>, me: SignedIn, form: Form<AddForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&add_page(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<AddForm>) -> Answer {
    let NewSpecies { like, facts } = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    refuse_known(write.db(), &facts.accepted_name).await?;
    let Some(line) = store::all(write.db()).await?.into_iter().find(|line| line.id == like) else {
        return Err(AppError::refused("like", "Choose one of the list."));
    };
    let like = store::require(write.db(), line.id).await?;
    let newest = store::newest_profile(write.db(), like.id).await?;
    let care = store::care_of_all_stages(write.db(), newest.id).await?;
    let new = form.input.with_copied(facts, &like, care);
    let why = format!("First profile, copied from {}.", like.accepted_name);
    let id = store::insert_species(&mut write, &new, &why).await?;
    let change = Change::new("species.added", format!("species {id}"), new.accepted_name.as_str());
    let said = format!("{} is in the book. Its care is copied from {}: go through it.", new.accepted_name, like.accepted_name);
    me.done(write, change, &paths::species(&id), said).await
}

/// A name that is taken, or that is another species' former name, is not added again.
async fn refuse_known(db: &mut SqliteConnection, name: &str) -> Result<(), AppError> {
    let (id, how) = match store::find_name(db, name).await? {
        NameMatch::Accepted(id) => (id, "is in the book already as"),
        NameMatch::Former { id, .. } => (id, "is another name of"),
        NameMatch::Ambiguous { .. } | NameMatch::Unknown { .. } => return Ok(()),
    };
    let species = store::require(db, id).await?.accepted_name;
    Err(AppError::refused("accepted_name", format!("{name} {how} {species}.")))
}
