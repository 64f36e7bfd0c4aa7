//! One brood of the made-up house: its young as they truly are, and what is done with them.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use rand::RngExt as _;
use rand::rngs::StdRng;

use super::stock::Stock;
use super::{Building, chance};
use crate::cohorts::model::{NewSplit, NewTags};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::CohortId;
use crate::reckoning::stage::Stage;
use crate::{cohorts, rounds, species};

/// One spiderling's hidden state.
struct Young {
    stage: Stage,
    next_moult: NaiveDate,
    dies_on: Option<NaiveDate>,
}

/// A brood as it truly is.
pub(super) struct Brood {
    /// Its cohort in the book.
    pub cohort: CohortId,
    /// Its species.
    pub species: &'static str,
    /// Whether each of its young has a vial of its own.
    pub separated: bool,
    /// Whether some were split off, or it was split off itself.
    pub split: bool,
    /// How many were tagged out of it.
    pub tagged: u32,
    /// Whether it stands in the rack that dries out.
    pub in_dry_rack: bool,
    young: Vec<Young>,
    moult_days: (u32, u32),
}

/// What somebody who looks at a brood finds changed since it was last looked at.
#[derive(Default)]
pub(super) struct Seen {
    /// How many moulted, by the stage they left.
    pub moulted: BTreeMap<Stage, u32>,
    /// How many died, by stage.
    pub dead: BTreeMap<Stage, u32>,
}

impl Brood {
    /// A brood of these counts, by its cohort in the book.
    pub async fn of(building: &mut Building, cohort: CohortId, species: &'static str, counts: &[(Stage, u32)]) -> Result<Self, AppError> {
        let mut db = building.app.read().await?;
        let row = cohorts::store::require(&mut db, cohort).await?;
        let care = species::store::care(&mut db, row.species_id, crate::reckoning::words::LifeStage::Spiderling).await?.figures;
        let moult_days = (care.moult_min_days, care.moult_max_days);
        let mut brood =
            Self { cohort, species, young: Vec::new(), moult_days, separated: false, split: false, tagged: 0, in_dry_rack: false };
        for (stage, count) in counts {
            for _ in 0..*count {
                let next_moult = brood.next(*stage, building.day, &mut building.rng);
                let dies_on = building.rng.random_bool(0.16).then(|| later(building.day, building.rng.random_range(6..420)));
                brood.young.push(Young { stage: *stage, next_moult, dies_on });
            }
        }
        Ok(brood)
    }

    /// Skins come faster in the sac's company, slower with each instar after.
    fn next(&self, stage: Stage, day: NaiveDate, rng: &mut StdRng) -> NaiveDate {
        let (least, most) = match stage {
            Stage::Egg | Stage::PostEmbryo => (8.0, 16.0),
            Stage::Instar(1) => (12.0, 24.0),
            Stage::Instar(instar) => {
                let slower = 1.0 + 0.4 * (f64::from(instar) - 2.0);
                (f64::from(self.moult_days.0) * slower, f64::from(self.moult_days.1) * slower)
            }
        };
        let own = chance::normal(rng);
        later(day, chance::days_to_moult(least, most.max(least), own, rng))
    }

    /// How many are at this stage or later.
    pub fn reached(&self, stage: Stage) -> u32 {
        u32::try_from(self.young.iter().filter(|young| young.stage >= stage).count()).unwrap_or(u32::MAX)
    }

    /// Some of them are going to die of a week in air that is too dry.
    pub fn dry_out(&mut self, building: &mut Building) {
        for young in &mut self.young {
            if building.rng.random_bool(0.14) {
                young.dies_on = Some(later(building.day, building.rng.random_range(0..13)));
            }
        }
    }

    /// How many are alive as far as anybody knows.
    pub fn known(&self) -> u32 {
        u32::try_from(self.young.len()).unwrap_or(u32::MAX)
    }

    /// What a look finds: the brood then counts as seen.
    pub fn look(&mut self, day: NaiveDate, rng: &mut StdRng) -> Seen {
        let mut seen = Seen::default();
        self.young.retain(|young| {
            let dead = young.dies_on.is_some_and(|dies_on| dies_on <= day);
            if dead {
                *seen.dead.entry(young.stage).or_insert(0) += 1;
            }
            !dead
        });
        let mut young = std::mem::take(&mut self.young);
        for one in young.iter_mut().filter(|one| one.next_moult <= day) {
            if let Some(next) = one.stage.next().filter(|next| *next <= Stage::Instar(9)) {
                *seen.moulted.entry(one.stage).or_insert(0) += 1;
                one.stage = next;
            }
            one.next_moult = self.next(one.stage, day, rng);
        }
        self.young = young;
        seen
    }

    /// How many take prey.
    pub fn feeding(&self) -> u32 {
        u32::try_from(self.young.iter().filter(|young| young.stage.feeds()).count()).unwrap_or(u32::MAX)
    }

    /// How many stand at each stage.
    pub fn counts(&self) -> BTreeMap<Stage, u32> {
        let mut counts = BTreeMap::new();
        for young in &self.young {
            *counts.entry(young.stage).or_insert(0) += 1;
        }
        counts
    }

    /// The stage at which most stand.
    pub fn main_stage(&self) -> (Stage, u32) {
        self.counts().into_iter().max_by_key(|(_, count)| *count).unwrap_or((Stage::Egg, 0))
    }

    /// Takes some out of the simulation that left for a buyer.
    pub fn take(&mut self, stage: Stage, count: u32) {
        let mut left = count;
        self.young.retain(|young| {
            let goes = left > 0 && young.stage == stage;
            left -= u32::from(goes);
            !goes
        });
    }

    /// Puts it into vials, and holds some back.
    pub async fn separate(&mut self, building: &Building) -> Result<(), AppError> {
        let mut write = building.app.write(Some(building.named("joss"))).await?;
        cohorts::store::separate(&mut write, self.cohort, building.day).await?;
        let keep = i64::from((self.known() / 16).clamp(5, 20));
        cohorts::store::hold_back(&mut write, self.cohort, building.day, keep, "for breeding").await?;
        rounds::store::replan_cohort(&mut write, self.cohort).await?;
        write.commit(Change::new("cohort.separated", format!("cohort {}", self.cohort), "into vials"), "/cohorts").await?;
        self.separated = true;
        Ok(())
    }

    /// Looks once a month how large they are, by their most common skin.
    pub async fn measure(&self, building: &Building) -> Result<(), AppError> {
        let Stage::Instar(instar) = self.main_stage().0 else { return Ok(()) };
        let span_mm = (9.0 * 1.26_f64.powi(i32::from(instar) - 2)).round() as i64;
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        cohorts::store::set_span(&mut write, self.cohort, span_mm).await?;
        rounds::store::replan_cohort(&mut write, self.cohort).await?;
        write.commit(Change::new("cohort.measured", format!("cohort {}", self.cohort), format!("{span_mm} mm")), "/cohorts").await
    }

    /// Splits a third of its most common stage off into a cohort of its own.
    pub async fn split_off(&mut self, building: &mut Building, stock: &Stock) -> Result<Self, AppError> {
        let (stage, count) = self.main_stage();
        let quantity = (count / 3).max(1);
        let new = NewSplit {
            day: building.day,
            stage,
            quantity,
            code: None,
            shelf: stock.places.shelf("Vials", 5),
            position: Some(3),
            note: "second tray".to_owned(),
        };
        let mut write = building.app.write(Some(building.named("joss"))).await?;
        let child = cohorts::store::split(&mut write, self.cohort, &new).await?;
        for cohort in [self.cohort, child] {
            rounds::store::replan_cohort(&mut write, cohort).await?;
        }
        write
            .commit(Change::new("cohort.split", format!("cohort {}", self.cohort), format!("{quantity} to cohort {child}")), "/cohorts")
            .await?;
        self.take(stage, quantity);
        self.split = true;
        let mut brood = Self::of(building, child, self.species, &[(stage, quantity)]).await?;
        (brood.separated, brood.split) = (true, true);
        Ok(brood)
    }

    /// Tags a few out of it, to be grown on.
    pub async fn tag_some(&mut self, building: &mut Building, stock: &mut Stock) -> Result<(), AppError> {
        let (stage, count) = self.main_stage();
        let quantity = count.min(4);
        let new = NewTags {
            day: building.day,
            stage,
            quantity,
            shelf: stock.places.shelf("Elm", 4),
            note: "the largest, for growing on".to_owned(),
        };
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let tagged = cohorts::store::separate_and_tag(&mut write, self.cohort, &new).await?;
        for animal in &tagged {
            stock.adopt(&mut write, building, self.species, *animal).await?;
        }
        rounds::store::replan_cohort(&mut write, self.cohort).await?;
        write.commit(Change::new("cohort.tagged", format!("cohort {}", self.cohort), format!("{quantity} tagged")), "/cohorts").await?;
        self.take(stage, quantity);
        self.tagged += quantity;
        Ok(())
    }
}

fn later(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days)).unwrap_or(day)
}
