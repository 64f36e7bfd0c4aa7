//! A cohort's page: how many, at which stage, lost to what, and what there is to do.

use askama::Template;
use axum::extract::State;
use chrono::NaiveDate;
use serde::Deserialize;

use super::deed::Deed;
use super::survival::{self, SurvivalView};
use super::window;
use crate::breeding;
use crate::breeding::model::lines::OfLine;
use crate::breeding::model::pairing::{MixedLine, SireCandidate};
use crate::cohorts::model::losses::Judged;
use crate::cohorts::model::{Cohort, CohortOrigin, CountCheck, EnteredLine, Housing};
use crate::cohorts::store::{self, FromSac};
use crate::handling;
use crate::handling::model::Hold;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Mistakes};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page};
use crate::papers;
use crate::papers::model::PaperLine;
use crate::reckoning::ledger::{self, Balance, Bucket, HeldAndFree, Line, Reached, Stage};
use crate::reckoning::words::LossCause;
use crate::sales;
use crate::sales::model::Reservation;
use crate::species;
use crate::species::model::CareStage;

/// How many of the newest ledger lines are shown unless all are asked for.
const NEWEST: usize = 60;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::cohorts) struct Asked {
    on: String,
    lines: String,
    from: String,
}

/// The count of a cohort on a day, and what became of the others.
struct Count {
    day: NaiveDate,
    stages: Vec<(Stage, u32)>,
    alive: u32,
    came_in: u32,
    /// Where those that are not alive went, with how many.
    gone: Vec<(&'static str, u32)>,
    losses: Vec<(LossCause, u32)>,
}

impl Count {
    fn of(balance: &Balance, day: NaiveDate) -> Self {
        let sinks = [
            ("lost", Bucket::Lost),
            ("sold", Bucket::Sold),
            ("tagged", Bucket::Tagged),
            ("moved to another cohort", Bucket::Moved),
            ("counted wrong", Bucket::Variance),
        ];
        Self {
            day,
            stages: balance.stages().into_iter().collect(),
            alive: balance.alive(),
            came_in: balance.came_in(),
            gone: sinks.iter().map(|(label, bucket)| (*label, balance.of(*bucket))).collect(),
            losses: balance.lost_by_cause().into_iter().collect(),
        }
    }
}

#[derive(Template)]
#[template(path = "cohorts/cohort.html")]
struct CohortPage {
    layout: Layout,
    cohort: Cohort,
    zone: chrono_tz::Tz,
    asked_day: String,
    mistakes: Mistakes,
    count: Count,
    reached: Reached,
    stock: HeldAndFree,
    band: i64,
    reasons: Vec<String>,
    care: CareStage,
    from_sac: Option<FromSac>,
    holds: Vec<Hold>,
    reserved: Vec<Reservation>,
    ledger: Vec<EnteredLine>,
    hidden: usize,
    survival: SurvivalView,
    window: Option<String>,
    line: OfLine,
    judged: Option<Judged>,
    reviews: Vec<(NaiveDate, String, String)>,
    mixed: Option<MixedLine>,
    candidates: Vec<SireCandidate>,
    counts: Vec<CountCheck>,
    papers: Vec<PaperLine>,
}

impl CohortPage {
    /// Reached the second instar, in percent with two decimals; nothing while none came in.
    fn survival(&self) -> Option<String> {
        self.reached.ratio().map(|ratio| format!("{:.2} %", ratio * 100.0))
    }

    fn deeds(&self) -> impl Iterator<Item = Deed> {
        let leads = self.layout.leads();
        Deed::ALL.iter().copied().filter(move |deed| leads || *deed != Deed::Released)
    }

    fn in_vials(&self) -> bool {
        self.cohort.housing == Housing::Vials
    }
}

pub(in crate::cohorts) async fn cohort(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    Query(asked): Query<Asked>,
) -> Answer {
    let mut db = app.read().await?;
    let cohort = store::require(&mut db, id).await?;
    let mut entered = store::entered(&mut db, id).await?;
    let lines: Vec<Line> = entered.iter().map(EnteredLine::line).collect();
    let (day, mistakes) = asked_day(&asked.on, app.today());
    let balance = ledger::balance_at(&lines, day).map_err(|error| AppError::Internal(error.into()))?;
    let (alive, held) = (store::alive(&mut db, id).await?, store::held_back(&mut db, id).await?);
    let (facts, hazard) = store::hazard(&mut db, id).await?;
    let stages: Vec<(Stage, u32)> = balance.stages().into_iter().collect();
    let when = (facts.life_stage, app.today(), app.site().zone);
    let window = window::told(&mut db, &cohort, &lines, &stages, when).await?;
    let candidates = match breeding::store::sac_of_cohort(&mut db, id).await? {
        Some(sac) => breeding::store::sire_candidates(&mut db, sac).await?,
        None => Vec::new(),
    };
    entered.reverse();
    let hidden = if asked.lines == "all" { 0 } else { entered.len().saturating_sub(NEWEST) };
    entered.truncate(entered.len() - hidden);
    let whole = |number: i64| u32::try_from(number).unwrap_or(0);
    page(&CohortPage {
        care: species::store::care(&mut db, cohort.species_id, facts.life_stage).await?,
        from_sac: store::from_sac(&mut db, id).await?,
        mixed: breeding::store::mixed_line_of_cohort(&mut db, id).await?,
        counts: store::tallies(&mut db, id).await?,
        candidates,
        holds: handling::store::holds_of_cohort(&mut db, id, app.now()).await?,
        reserved: sales::store::who_has::standing_of_cohort(&mut db, id, app.today()).await?,
        layout: Layout::of(&app, &me, Section::Cohorts).await?,
        judged: store::judged_one(&mut db, &cohort, app.now(), app.site().zone).await?,
        reviews: store::reviews(&mut db, id).await?,
        papers: papers::store::of_cohort(&mut db, id).await?,
        window,
        line: breeding::store::line_of_cohort(&mut db, id).await?,
        survival: survival::view(&mut db, &cohort, &asked.from, app.today()).await?,
        cohort,
        zone: app.site().zone,
        asked_day: if asked.on.is_empty() { day.to_string() } else { asked.on },
        mistakes,
        count: Count::of(&balance, day),
        reached: ledger::survival_to(&lines, Stage::Instar(2)),
        stock: ledger::held_and_free(whole(alive), whole(held)),
        band: i64::from(hazard.band.level()),
        reasons: hazard.reasons,
        ledger: entered,
        hidden,
    })
}

/// The day that the address asks for, or today with what is wrong with it.
fn asked_day(typed: &str, today: NaiveDate) -> (NaiveDate, Mistakes) {
    let mut check = Check::new();
    let day = check.optional_day("on", typed, today).unwrap_or(today);
    (day, check.mistakes())
}
