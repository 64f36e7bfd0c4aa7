//! Changing the care of one life stage, which makes a new revision of the profile.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SpeciesId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::planner::StageRules;
use crate::reckoning::words::LifeStage;
use crate::rounds;
use crate::species::model::{Species, StageCare};
use crate::species::store;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::species) struct CareForm {
    /// The revision that was on the screen.
    revision: String,
    why: String,
    feed_min_days: String,
    feed_max_days: String,
    moult_min_days: String,
    moult_max_days: String,
    day_min_c: String,
    day_max_c: String,
    rh_min: String,
    rh_max: String,
    prey: String,
    water: String,
    substrate: String,
    ventilation: String,
    hide: String,
    uneaten_hours: String,
    water_days: String,
    clean_days: String,
    moult_check_days: String,
    count_days: String,
    basis: String,
}

/// A checked change.
struct NewCare {
    revision: i64,
    why: String,
    care: StageCare,
}

impl CareForm {
    fn of(revision: i64, care: &StageCare) -> Self {
        Self {
            revision: revision.to_string(),
            why: String::new(),
            feed_min_days: care.feed_min_days.to_string(),
            feed_max_days: care.feed_max_days.to_string(),
            moult_min_days: care.moult_min_days.to_string(),
            moult_max_days: care.moult_max_days.to_string(),
            day_min_c: care.day_min_c.to_string(),
            day_max_c: care.day_max_c.to_string(),
            rh_min: care.rh_min.to_string(),
            rh_max: care.rh_max.to_string(),
            prey: care.prey.clone(),
            water: care.water.clone(),
            substrate: care.substrate.clone(),
            ventilation: care.ventilation.clone(),
            hide: care.hide.clone(),
            uneaten_hours: care.uneaten_hours.to_string(),
            water_days: care.water_days.to_string(),
            clean_days: care.clean_days.to_string(),
            moult_check_days: care.moult_check_days.to_string(),
            count_days: care.count_days.to_string(),
            basis: care.basis.clone(),
        }
    }

    fn check(&self) -> Result<NewCare, Mistakes> {
        let mut check = Check::new();
        let care = self.figures(&mut check);
        let why = check.text("why", &self.why, 300);
        let Ok(revision) = self.revision.trim().parse() else {
            check.add("", "The page did not say which revision it showed. Open it again from the species.");
            return Err(check.mistakes());
        };
        match (care, why) {
            (Some(care), Some(why)) if check.ok() => Ok(NewCare { revision, why, care }),
            _ => Err(check.mistakes()),
        }
    }

    fn figures(&self, check: &mut Check) -> Option<StageCare> {
        let feed = range(check, ("feed_min_days", &self.feed_min_days), ("feed_max_days", &self.feed_max_days), 1..=365);
        let moult = range(check, ("moult_min_days", &self.moult_min_days), ("moult_max_days", &self.moult_max_days), 1..=3650);
        let day = range(check, ("day_min_c", &self.day_min_c), ("day_max_c", &self.day_max_c), 5..=40);
        let humidity = range(check, ("rh_min", &self.rh_min), ("rh_max", &self.rh_max), 0..=100);
        let prey = check.text("prey", &self.prey, 600);
        let uneaten_hours = check.whole("uneaten_hours", &self.uneaten_hours, 1..=72);
        let water = check.text("water", &self.water, 600);
        let water_days = check.whole("water_days", &self.water_days, 1..=90);
        let substrate = check.text("substrate", &self.substrate, 600);
        let ventilation = check.text("ventilation", &self.ventilation, 600);
        let hide = check.text("hide", &self.hide, 600);
        let clean_days = check.whole("clean_days", &self.clean_days, 1..=365);
        let moult_check_days = check.whole("moult_check_days", &self.moult_check_days, 1..=90);
        let count_days = check.whole("count_days", &self.count_days, 1..=365);
        let basis = check.text("basis", &self.basis, 300);
        Some(StageCare {
            feed_min_days: feed?.0,
            feed_max_days: feed?.1,
            moult_min_days: moult?.0,
            moult_max_days: moult?.1,
            day_min_c: i32::try_from(day?.0).ok()?,
            day_max_c: i32::try_from(day?.1).ok()?,
            rh_min: humidity?.0,
            rh_max: humidity?.1,
            prey: prey?,
            water: water?,
            substrate: substrate?,
            ventilation: ventilation?,
            hide: hide?,
            uneaten_hours: uneaten_hours?,
            water_days: water_days?,
            clean_days: clean_days?,
            moult_check_days: moult_check_days?,
            count_days: count_days?,
            basis: basis?,
            rules: StageRules::usual(LifeStage::Adult, feed?.0),
        })
    }
}

/// A field's name and what was typed in it.
type Typed<'a> = (&'static str, &'a str);

fn range(check: &mut Check, least: Typed<'_>, most: Typed<'_>, allowed: std::ops::RangeInclusive<u32>) -> Option<(u32, u32)> {
    let low = check.whole(least.0, least.1, allowed.clone());
    let high = check.whole(most.0, most.1, allowed);
    let (low, high) = (low?, high?);
    if low > high {
        check.add(most.0, format!("The most must be at least the least, {low}."));
        return None;
    }
    Some((low, high))
}

#[derive(Template)]
#[template(path = "species/edit_care.html")]
struct EditPage {
    layout: Layout,
    species: Species,
    stage: LifeStage,
    input: CareForm,
    mistakes: Mistakes,
}

pub(in crate::species) async fn edit_care(State(app): State<App>, me: SignedIn, Path((id, stage)): Path<(SpeciesId, LifeStage)>) -> Answer {
    let mut db = app.read().await?;
    let species = store::require(&mut db, id).await?;
    let care = store::care(&mut db, id, stage).await?;
    let input = CareForm::of(care.revision, &care.figures);
    page(&EditPage { layout: Layout::of(&app, &me, Section::Species).await?, species, stage, input, mistakes: Mistakes::none() })
}

pub(in crate::species) async fn save_care(
    State(app): State<App>,
    me: SignedIn,
    Path((id, stage)): Path<(SpeciesId, LifeStage)>,
    form: Form<CareForm>,
) -> Answer {
    let species = store::require(&mut *app.read().await?, id).await?;
    match save(&app, &me, &species, stage, &form).await {
        Err(AppError::Refused(mistakes)) => {
            // The newest revision goes into the form, so that saving again after reading the message is a decision.
            let newest = store::newest_profile(&mut *app.read().await?, id).await?;
            let input = CareForm { revision: newest.revision.to_string(), ..form.input };
            page_again(&EditPage { layout: Layout::of(&app, &me, Section::Species).await?, species, stage, input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, species: &Species, stage: LifeStage, form: &Form<CareForm>) -> Answer {
    let new = form.input.check();
    let mut write = app.begin(me.id(), &form.once).await?;
    let newest = store::newest_profile(write.db(), species.id).await?;
    let mut mistakes = new.as_ref().err().cloned().unwrap_or_default();
    if form.input.revision.trim().parse() != Ok(newest.revision) {
        mistakes.add("", stale(&newest));
    }
    let new = match new {
        Ok(new) if mistakes.is_empty() => new,
        _ => return Err(mistakes.into()),
    };
    let mut care = store::care_of_all_stages(write.db(), newest.id).await?;
    // The finer rules have a page of their own.
    let new_care = StageCare { rules: care.of(stage).rules, ..new.care };
    if *care.of(stage) == new_care {
        return Err(no_difference(new.revision));
    }
    care.set(stage, new_care);
    let profile = store::insert_profile(&mut write, species.id, &new.why, &care).await?;
    // Other intervals make other days due.
    let planned = rounds::store::plan_house(&mut write).await?;
    let made = store::require_profile(write.db(), profile).await?;
    let change =
        Change::new("care.revised", format!("species {}", species.id), format!("revision {}, {stage}: {}", made.revision, new.why))
            .from(format!("revision {}", newest.revision));
    let said = format!(
        "Revision {} is what {stage}s of {} are cared for by from now on. Planned again: {planned}.",
        made.revision, species.accepted_name
    );
    me.done(write, change, &paths::profile(&profile), said).await
}

pub(super) fn no_difference(revision: i64) -> AppError {
    AppError::refused("", format!("Nothing differs from revision {revision}. Change something, or leave the page."))
}

pub(super) fn stale(newest: &crate::species::model::Profile) -> String {
    let who = newest.made_by.as_deref().unwrap_or("the program");
    format!(
        "Meanwhile {who} saved revision {} ({}). Nothing of yours is saved yet and your entries are kept below: read that revision \
         first, then save again to make yours the next one.",
        newest.revision,
        newest.why.trim_end_matches('.')
    )
}
