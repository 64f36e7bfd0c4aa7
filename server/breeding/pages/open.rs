//! Opening a sac: the first count becomes a cohort.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::places;
use crate::breeding::model::{Bad, Opening, Sac};
use crate::breeding::store;
use crate::cohorts;
use crate::cohorts::counts::{self, Boxes, Counted, Twice};
use crate::cohorts::model::Housing;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::SacId;
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::provenance::check_source;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;
use crate::rounds;
use crate::species;

/// The stages that a sac is opened at.
const STAGES: [Stage; 4] = [Stage::Egg, Stage::PostEmbryo, Stage::Instar(1), Stage::Instar(2)];

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct OpenForm {
    day: String,
    count_stage: Vec<String>,
    count: Vec<String>,
    second: Vec<String>,
    third: Vec<String>,
    bad: String,
    bad_stage: String,
    bad_cause: String,
    source: String,
    code: String,
    locality: String,
    housing: String,
    shelf: String,
    position: String,
    note: String,
}

impl OpenForm {
    fn twice(&self) -> Twice<'_> {
        Twice { stages: &self.count_stage, counts: [&self.count, &self.second, &self.third] }
    }

    fn check(&self, today: NaiveDate) -> Result<Opening, Mistakes> {
        let mut check = Check::new();
        let counted = self.twice().read(&mut check);
        let bad = self.check_bad(&mut check);
        let source = check_source(&self.source).map_err(|error| check.add("source", text::sentence(&error))).ok();
        let code = counts::code(&mut check, &self.code);
        let locality = check.optional_text("locality", &self.locality, 120);
        let housing = check.choice::<Housing>("housing", &self.housing);
        let shelf = check.optional_choice("shelf", &self.shelf);
        let position = check.optional_whole("position", &self.position, 1..=999_i64);
        let day = check.day("day", &self.day, today);
        let note = check.paragraphs("note", &self.note, 600);
        match (day, source, locality, housing, note, counted) {
            (Some(day), Some(source), Some(locality), Some(housing), Some(note), Some(Counted { tally, counts })) if check.ok() => {
                Ok(Opening { day, counts, tally, bad, code, source, locality, housing, shelf, position, note })
            }
            _ => Err(check.mistakes()),
        }
    }

    fn check_bad(&self, check: &mut Check) -> Vec<Bad> {
        let quantity = check.optional_whole("bad", &self.bad, 0..=counts::MOST).unwrap_or(0);
        if quantity == 0 {
            return Vec::new();
        }
        let stage = check.choice("bad_stage", &self.bad_stage);
        let cause = check.choice("bad_cause", &self.bad_cause);
        stage.zip(cause).map(|(stage, cause)| Bad { stage, quantity, cause }).into_iter().collect()
    }
}

#[derive(Template)]
#[template(path = "breeding/open.html")]
struct OpenPage {
    layout: Layout,
    sac: Sac,
    boxes: Boxes,
    stages: Vec<Choice>,
    causes: Vec<Choice>,
    housings: Vec<Choice>,
    places: Vec<Choice>,
    input: OpenForm,
    mistakes: Mistakes,
}

impl OpenPage {
    async fn of(app: &App, me: &SignedIn, sac: Sac, input: OpenForm, mistakes: Mistakes) -> Result<Self, AppError> {
        Ok(Self {
            layout: Layout::of(app, me, Section::Breeding).await?,
            sac,
            boxes: input.twice().boxes(&STAGES),
            stages: STAGES.iter().map(|stage| Choice::new(stage.code(), stage)).collect(),
            causes: choices(LossCause::ALL, LossCause::code),
            housings: choices(Housing::ALL, Housing::code),
            places: places(&mut *app.read().await?).await?,
            input,
            mistakes,
        })
    }
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>) -> Answer {
    let mut db = app.read().await?;
    let sac = store::require_sac(&mut db, id).await?;
    let locality = match (sac.dam_id, store::mixed_line_of_sac(&mut db, id).await?) {
        (_, Some(mixed)) => format!("mixed: {}", mixed.words).chars().take(120).collect(),
        (Some(dam), None) => store::parent(&mut db, dam).await?.locality,
        (None, None) => String::new(),
    };
    drop(db);
    let input = OpenForm {
        day: app.today().to_string(),
        bad_stage: Stage::Egg.code(),
        bad_cause: LossCause::Infertile.code().to_owned(),
        shelf: sac.shelf_id.map(|shelf| shelf.to_string()).unwrap_or_default(),
        locality,
        ..OpenForm::default()
    };
    page(&OpenPage::of(&app, &me, sac, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn save(State(app): State<App>, me: SignedIn, Path(id): Path<SacId>, form: Form<OpenForm>) -> Answer {
    let sac = store::require_sac(&mut *app.read().await?, id).await?;
    match open(&app, &me, &sac, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&OpenPage::of(&app, &me, sac, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn open(app: &App, me: &SignedIn, sac: &Sac, form: &Form<OpenForm>) -> Answer {
    let opening = form.input.check(app.today())?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::open_sac(&mut write, sac.id, &opening).await?;
    rounds::store::replan_cohort(&mut write, id).await?;
    rounds::store::replan_sac(&mut write, sac.id).await?;
    let cohort = cohorts::store::require(write.db(), id).await?;
    let alive = cohorts::store::alive(write.db(), id).await?;
    let species = species::store::require(write.db(), sac.species_id).await?;
    let found = alive + opening.bad.iter().map(|bad| i64::from(bad.quantity)).sum::<i64>();
    let unusual = if (i64::from(species.clutch_min)..=i64::from(species.clutch_max)).contains(&found) {
        String::new()
    } else {
        format!(" {found} is outside the usual clutch of {} to {}: count again if in doubt.", species.clutch_min, species.clutch_max)
    };
    let change = Change::new("sac.opened", format!("sac {}", sac.id), format!("cohort {id}: {alive} alive of {found}"));
    let say = format!("Cohort {} begins with {alive} alive on {}.{unusual}", cohort.code, text::day(&opening.day));
    me.done(write, change, &paths::cohort(&id), say).await
}
