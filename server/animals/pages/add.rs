//! A bought-in animal comes into the book.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;
use sqlx::SqliteConnection;

use super::subject::{TypedBox, change, enclosure, finish, leg_span, places, shelf};
use crate::animals::model::{NewAnimal, NewOrigin};
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::text;
use crate::reckoning::provenance::check_source;
use crate::reckoning::tag;
use crate::reckoning::words::{Sex, SexBasis, SpanMethod};
use crate::species;
use crate::species::names::NameMatch;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::animals) struct AddForm {
    species: String,
    species_id: String,
    tag: String,
    started_on: String,
    born_on: String,
    sex: String,
    sex_basis: String,
    span_mm: String,
    span_method: String,
    instar: String,
    supplier: String,
    papers: String,
    source: String,
    locality: String,
    shelf: String,
    position: String,
    length_mm: String,
    width_mm: String,
    fall_gap_mm: String,
    note: String,
}

/// A species that was found by name, and what to say about the name.
struct Named {
    id: SpeciesId,
    remark: String,
}

/// Finds the species. A name that may mean several, or that is spelled wrong, is asked about and never taken silently.
async fn named(db: &mut SqliteConnection, input: &AddForm) -> Result<Result<Named, String>, AppError> {
    let picked: Option<SpeciesId> = input.species_id.trim().parse().ok();
    let typed = input.species.trim();
    Ok(match species::store::find_name(db, typed).await? {
        NameMatch::Accepted(id) => Ok(Named { id, remark: String::new() }),
        NameMatch::Former { id, name, kind } => {
            let accepted = species::store::require(db, id).await?.accepted_name;
            Ok(Named { id, remark: format!(" “{name}” is a {kind} of {accepted}.") })
        }
        NameMatch::Ambiguous { candidates, note } => match picked.filter(|id| candidates.contains(id)) {
            Some(id) => Ok(Named { id, remark: String::new() }),
            None => Err(format!("“{typed}” can't be taken as it is: {note}. Choose below which is meant.")),
        },
        NameMatch::Unknown { near } => match picked.filter(|id| near.contains(id)) {
            Some(id) => Ok(Named { id, remark: String::new() }),
            None if typed.is_empty() => Err("Fill this in.".to_owned()),
            None if near.is_empty() => Err("No species of this name is in the book. Check the spelling.".to_owned()),
            None => Err("No species of this name is in the book. Choose below which is meant, or check the spelling.".to_owned()),
        },
    })
}

/// The species that a name may mean, to choose from.
async fn candidates(db: &mut SqliteConnection, typed: &str) -> Result<Vec<Choice>, AppError> {
    let ids = match species::store::find_name(db, typed.trim()).await? {
        NameMatch::Ambiguous { candidates, .. } => candidates,
        NameMatch::Unknown { near } => near,
        NameMatch::Accepted(_) | NameMatch::Former { .. } => Vec::new(),
    };
    let all = species::store::all(db).await?;
    let meant = all.into_iter().filter(|line| ids.contains(&line.id)).map(|line| Choice::new(line.id, line.accepted_name));
    let meant: Vec<Choice> = meant.collect();
    if meant.is_empty() { Ok(meant) } else { Ok(std::iter::once(Choice::new("", "choose")).chain(meant).collect()) }
}

impl AddForm {
    fn check(&self, species: Result<&Named, &String>, today: NaiveDate, places: &[Choice]) -> Result<NewAnimal, Mistakes> {
        let mut check = Check::new();
        if let Err(why) = species {
            check.add("species", why.clone());
        }
        let tag = self.checked_tag(&mut check);
        let (sex, sex_basis) = self.checked_sex(&mut check);
        let span = leg_span(&mut check, &self.span_mm, &self.span_method);
        let instar = check.optional_whole("instar", &self.instar, 1..=40);
        let started_on = check.day("started_on", &self.started_on, today);
        let born_on = check.optional_day("born_on", &self.born_on, started_on.unwrap_or(today));
        let supplier = check.text("supplier", &self.supplier, 120);
        let papers = check.paragraphs("papers", &self.papers, 1000);
        let source = check_source(&self.source).map_err(|error| check.add("source", sentence(&error.to_string()))).ok();
        let locality = check.optional_text("locality", &self.locality, 120);
        let shelf = shelf(&mut check, &self.shelf, places);
        let position = check.optional_whole("position", &self.position, 1..=999);
        let typed = TypedBox { length: &self.length_mm, width: &self.width_mm, fall_gap: &self.fall_gap_mm };
        let enclosure = enclosure(&mut check, &typed);
        let note = check.paragraphs("note", &self.note, 2000);
        match (species, source, started_on, supplier, papers, locality.zip(note)) {
            (Ok(named), Some(source), Some(started_on), Some(supplier), Some(papers), Some((locality, note))) if check.ok() => {
                let new = NewAnimal::new(named.id, NewOrigin::Bought { supplier, papers }, source, started_on);
                Ok(NewAnimal { tag, locality, born_on, sex, sex_basis, instar, span, shelf, position, enclosure, note, ..new })
            }
            _ => Err(check.mistakes()),
        }
    }

    /// A tag in the form it is kept in, or none when one is to be made.
    fn checked_tag(&self, check: &mut Check) -> Option<String> {
        let tag = tag::normalise(&self.tag);
        if tag.is_empty() {
            return None;
        }
        if !(3..=20).contains(&tag.len()) || !tag.chars().all(|letter| letter.is_ascii_alphanumeric()) {
            check.add("tag", "A tag has 3 to 20 of the characters 0-9 and A-Z. Leave this empty and one is made.");
        } else if !tag::holds(&tag) {
            check.add(
                "tag",
                "The last character of this tag does not fit the others, so one of them is mistyped. Leave this empty and one is made.",
            );
        }
        Some(tag)
    }

    fn checked_sex(&self, check: &mut Check) -> (Sex, SexBasis) {
        let sex = check.choice("sex", &self.sex).unwrap_or(Sex::Unknown);
        let basis = check.choice("sex_basis", &self.sex_basis).unwrap_or(SexBasis::None);
        match (sex, basis) {
            (Sex::Unknown, SexBasis::None) => {}
            (Sex::Unknown, _) => check.add("sex_basis", "For an unsexed animal choose “not sexed”."),
            (_, SexBasis::None) => check.add("sex_basis", "Say what the sex rests on."),
            (Sex::Female, SexBasis::Mature) => check.add("sex_basis", "Palpal bulbs are a mature male's: choose what her sex rests on."),
            _ => {}
        }
        (sex, basis)
    }
}

fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

#[derive(Template)]
#[template(path = "animals/add.html")]
struct AddPage {
    layout: Layout,
    input: AddForm,
    mistakes: Mistakes,
    candidates: Vec<Choice>,
    sexes: Vec<Choice>,
    bases: Vec<Choice>,
    methods: Vec<Choice>,
    places: Vec<Choice>,
}

impl AddPage {
    async fn build(app: &App, me: &SignedIn, input: AddForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let candidates = candidates(&mut *app.read().await?, &input.species).await?;
        Ok(Self {
            layout: Layout::of(app, me, Section::Animals).await?,
            input,
            mistakes,
            candidates,
            sexes: choices(Sex::ALL, Sex::code),
            bases: choices(SexBasis::ALL, SexBasis::code),
            methods: choices(SpanMethod::ALL, SpanMethod::code),
            places: places(app).await?,
        })
    }
}

pub(in crate::animals) async fn add(State(app): State<App>, me: SignedIn) -> Answer {
    let input = AddForm { started_on: text::iso_day(&app.today()), ..AddForm::default() };
    page(&AddPage::build(&app, &me, input, Mistakes::none()).await?)
}

pub(in crate::animals) async fn save_added(State(app): State<App>, me: SignedIn, form: Form<AddForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&AddPage::build(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<AddForm>) -> Answer {
    let places = places(app).await?;
    let named = named(&mut *app.read().await?, &form.input).await?;
    let new = form.input.check(named.as_ref(), app.today(), &places)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::insert(&mut write, &new).await?;
    let animal = store::require(write.db(), id).await?;
    let remark = named.map_or_else(|_| String::new(), |named| named.remark);
    let words = format!("Came into the book as {}, {}", animal.tag, animal.species_name);
    finish(me, write, id, change("animal.added", id, words), format!("{} is in the book.{remark}", animal.tag)).await
}
