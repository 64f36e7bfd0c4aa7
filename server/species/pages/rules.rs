//! The rules that duties are planned by, beyond meals and moults: of each life stage and of the whole species. Changing
//! them makes a new revision of the care profile and plans the house again.

mod rows;
mod whole;

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::edit::{no_difference, stale};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::words::LifeStage;
use crate::rounds;
use crate::species::model::Species;
use crate::species::starter::StarterCare;
use crate::species::store;

use rows::Typed;
pub(in crate::species) use rows::{RULES, Rule};
pub(in crate::species) use whole::fast_words;

/// What was typed: each rule of a life stage has one field for each stage, in their order.
#[derive(Debug, Default, Deserialize)]
#[serde(transparent)]
pub(in crate::species) struct RulesForm(BTreeMap<String, Vec<String>>);

impl RulesForm {
    fn of(revision: i64, care: &StarterCare) -> Self {
        let mut form = Self::default();
        form.put("revision", vec![revision.to_string()]);
        for rule in &RULES {
            form.put(rule.name, LifeStage::ALL.iter().map(|stage| rule.input(&care.of(*stage).rules)).collect());
        }
        whole::fill(&mut form, &care.whole);
        form
    }

    fn put(&mut self, name: &str, values: Vec<String>) {
        self.0.insert(name.to_owned(), values);
    }

    fn at(&self, name: &str, line: usize) -> &str {
        self.0.get(name).and_then(|values| values.get(line)).map_or("", String::as_str)
    }

    /// What was typed in a field that is there once.
    fn one(&self, name: &str) -> &str {
        self.at(name, 0)
    }

    /// What was typed in one cell of a table.
    fn cell(&self, name: &str, line: &usize) -> &str {
        self.at(name, *line)
    }

    fn refuse_unknown(&self) -> Result<(), AppError> {
        let known = |name: &str| {
            matches!(name, "revision" | "why")
                || RULES.iter().any(|rule| rule.name == name)
                || whole::FIGURES.iter().any(|(figure, ..)| *figure == name)
                || whole::FAST.iter().any(|(column, _)| *column == name)
        };
        match self.0.keys().find(|name| !known(name)) {
            Some(name) => {
                Err(AppError::BadRequest(format!("This form holds “{name}”, which the page does not ask for. Open the page again.")))
            }
            None => Ok(()),
        }
    }

    /// The care with the rules that were typed, and why they change.
    fn check(&self, mut care: StarterCare) -> Result<(StarterCare, String), Mistakes> {
        let mut check = Check::new();
        for (column, stage) in LifeStage::ALL.iter().enumerate() {
            let mut of_stage = care.of(*stage).clone();
            for rule in &RULES {
                let typed = self.at(rule.name, column);
                let figure = match rule.typed {
                    Typed::Whole(least, most) => check.whole(rule.name, typed, least..=most),
                    Typed::Optional(least, most) => check.optional_whole(rule.name, typed, least..=most),
                    Typed::Tenths(least, most) => tenths(&mut check, rule.name, typed, least..=most),
                };
                (rule.put)(&mut of_stage.rules, figure);
            }
            between(&mut check, *stage, &of_stage.rules);
            care.set(*stage, of_stage);
        }
        let whole = whole::read(self, &mut check);
        let why = check.text("why", self.one("why"), 300);
        match (whole, why) {
            (Some(whole), Some(why)) if check.ok() => Ok((StarterCare { whole, ..care }, why)),
            _ => Err(check.mistakes()),
        }
    }
}

fn tenths(check: &mut Check, name: &'static str, typed: &str, range: std::ops::RangeInclusive<i64>) -> Option<u32> {
    if typed.trim().is_empty() {
        check.add(name, "Enter a number with at most one decimal place, such as 1.5.");
    }
    check.optional_tenths(name, typed, range).and_then(|tenths| u32::try_from(tenths).ok())
}

/// What two rules of a stage say together.
fn between(check: &mut Check, stage: LifeStage, rules: &crate::reckoning::planner::StageRules) {
    if rules.settle_min_days > rules.settle_max_days {
        check.add("settle_max_days", format!("For {stage}s, the most days must be at least the least."));
    }
    if rules.boxes.most_length_tenths < rules.boxes.length_tenths {
        check.add("most_length_spans", format!("For {stage}s, the greatest length must be at least the least."));
    }
}

#[derive(Template)]
#[template(path = "species/edit_rules.html")]
struct RulesPage {
    layout: Layout,
    species: Species,
    input: RulesForm,
    mistakes: Mistakes,
}

impl RulesPage {
    fn stages(&self) -> impl Iterator<Item = (usize, &'static LifeStage)> {
        LifeStage::ALL.iter().enumerate()
    }

    fn fast_lines(&self) -> std::ops::Range<usize> {
        0..whole::CLASSES
    }
}

pub(in crate::species) async fn edit_rules(State(app): State<App>, me: SignedIn, Path(id): Path<SpeciesId>) -> Answer {
    let mut db = app.read().await?;
    let species = store::require(&mut db, id).await?;
    let newest = store::newest_profile(&mut db, id).await?;
    let care = store::care_of_all_stages(&mut db, newest.id).await?;
    let input = RulesForm::of(newest.revision, &care);
    page(&RulesPage { layout: Layout::of(&app, &me, Section::Species).await?, species, input, mistakes: Mistakes::none() })
}

pub(in crate::species) async fn save_rules(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<SpeciesId>,
    form: Form<RulesForm>,
) -> Answer {
    form.input.refuse_unknown()?;
    let species = store::require(&mut *app.read().await?, id).await?;
    match save(&app, &me, &species, &form).await {
        Err(AppError::Refused(mistakes)) => {
            // The newest revision goes into the form, so that saving again after reading the message is a decision.
            let newest = store::newest_profile(&mut *app.read().await?, id).await?;
            let mut input = form.input;
            input.put("revision", vec![newest.revision.to_string()]);
            page_again(&RulesPage { layout: Layout::of(&app, &me, Section::Species).await?, species, input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, species: &Species, form: &Form<RulesForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let newest = store::newest_profile(write.db(), species.id).await?;
    let before = store::care_of_all_stages(write.db(), newest.id).await?;
    let new = form.input.check(before.clone());
    let mut mistakes = new.as_ref().err().cloned().unwrap_or_default();
    if form.input.one("revision").trim().parse() != Ok(newest.revision) {
        mistakes.add("", stale(&newest));
    }
    let (care, why) = match new {
        Ok(new) if mistakes.is_empty() => new,
        _ => return Err(mistakes.into()),
    };
    if care == before {
        return Err(no_difference(newest.revision));
    }
    let profile = store::insert_profile(&mut write, species.id, &why, &care).await?;
    // Other rules make other days due.
    let planned = rounds::store::plan_house(&mut write).await?;
    let made = store::require_profile(write.db(), profile).await?;
    let change = Change::new("care.revised", format!("species {}", species.id), format!("revision {}, rules: {why}", made.revision))
        .from(format!("revision {}", newest.revision));
    let said =
        format!("Revision {} is what {} are cared for by from now on. Planned again: {planned}.", made.revision, species.accepted_name);
    me.done(write, change, &paths::profile(&profile), said).await
}
