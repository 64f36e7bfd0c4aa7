//! Pairings, sacs and broods of the made-up house, as they truly are.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use rand::RngExt as _;
use rand::rngs::StdRng;

use super::climate::{DRY_FOR, DRY_RACK};
use super::stock::Stock;
use super::{Building, DAYS, chance};
use crate::breeding::model::{Bad, NewPairing, NewSac, Opening};
use crate::cohorts::model::{Housing, NewCohort, NewOrigin, NewSplit, NewTags};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{CohortId, SacId};
use crate::reckoning::provenance::{Source, check_source};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;
use crate::{breeding, cohorts, rounds, species};

/// A sac that is going to be laid.
struct Plan {
    species: &'static str,
    /// Days after the house's first.
    laid: u64,
    young: u32,
    shelf: i64,
}

const PLANS: [Plan; 7] = [
    Plan { species: "Tliltocatl albopilosus", laid: 40, young: 286, shelf: 1 },
    Plan { species: "Acanthoscurria geniculata", laid: 95, young: 322, shelf: 2 },
    Plan { species: "Caribena versicolor", laid: 160, young: 118, shelf: 3 },
    Plan { species: "Poecilotheria regalis", laid: 235, young: 104, shelf: 4 },
    Plan { species: "Monocentropus balfouri", laid: 320, young: 78, shelf: 5 },
    Plan { species: "Grammostola pulchra", laid: 470, young: 330, shelf: 6 },
    Plan { species: "Psalmopoeus irminia", laid: 519, young: 130, shelf: 1 },
];

/// How many days after the house's first a species lays, if it does.
pub(super) fn laid_after(species: &str) -> Option<u64> {
    PLANS.iter().find(|plan| plan.species == species).map(|plan| plan.laid)
}

/// The species of which one brood stands in the rack that is too dry.
const DRIED_OUT: &str = "Brachypelma hamorii";

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
    young: Vec<Young>,
    moult_days: (u32, u32),
    separated: bool,
    split: bool,
    tagged: u32,
    in_dry_rack: bool,
}

/// What somebody who looks at a brood finds changed since it was last looked at.
#[derive(Default)]
pub(super) struct Seen {
    /// How many moulted, by the stage they left.
    pub moulted: BTreeMap<Stage, u32>,
    /// How many died, by stage.
    pub dead: BTreeMap<Stage, u32>,
}

/// Every brood, and the sacs to come.
pub(super) struct Nursery {
    first: NaiveDate,
    open: Vec<(usize, SacId)>,
    /// The broods of the house.
    pub broods: Vec<Brood>,
}

impl Nursery {
    /// Nothing laid yet.
    pub fn plan(building: &Building) -> Self {
        Self { first: building.day, open: Vec::new(), broods: Vec::new() }
    }

    /// A brood that may be sold from this week: in vials, with plenty left.
    pub fn ready(&self, day: NaiveDate) -> Option<&Brood> {
        let week = usize::try_from((day - self.first).num_days() / 7).unwrap_or(0);
        let able: Vec<&Brood> = self.broods.iter().filter(|brood| brood.separated && brood.known() > 100).collect();
        able.get(week.checked_rem(able.len())?).copied()
    }

    /// Does what the breeding year asks for on this day.
    pub async fn work(&mut self, building: &mut Building, stock: &mut Stock) -> Result<(), AppError> {
        let since = u64::try_from((building.day - self.first).num_days()).unwrap_or(0);
        for (index, plan) in PLANS.iter().enumerate() {
            let Some((dam, sire)) = stock.pairs.get(plan.species).and_then(|pairs| pairs.first()).copied() else { continue };
            if since + 24 == plan.laid {
                let mut write = building.app.write(Some(building.named("tamsin"))).await?;
                let new = NewPairing { dam, sire, day: building.day, note: "calm, one insertion seen".to_owned() };
                let id = breeding::store::insert_pairing(&mut write, &new).await?;
                write.commit(Change::new("pairing.added", format!("pairing {id}"), plan.species), "/breeding").await?;
            } else if since == plan.laid {
                let sac = self.lay(building, stock, plan, dam, sire).await?;
                self.open.push((index, sac));
            }
        }
        self.tend_sacs(building, stock, since).await?;
        match since {
            60 => self.buy(building, stock, (DRIED_OUT, 120, "Vials", 6)).await?,
            120 => self.buy(building, stock, ("Pterinochilus murinus", 84, "Vials", 3)).await?,
            365 => self.buy(building, stock, (DRIED_OUT, 150, DRY_RACK, 1)).await?,
            _ => {}
        }
        if since + DRY_FOR - 7 == DAYS {
            self.dry_out(building);
        }
        self.house(building, stock, since).await
    }

    /// A week in air that is too dry begins to show.
    fn dry_out(&mut self, building: &mut Building) {
        for brood in self.broods.iter_mut().filter(|brood| brood.in_dry_rack) {
            for young in &mut brood.young {
                if building.rng.random_bool(0.14) {
                    young.dies_on = Some(later(building.day, building.rng.random_range(0..13)));
                }
            }
        }
    }

    async fn lay(
        &self,
        building: &Building,
        stock: &Stock,
        plan: &Plan,
        dam: crate::house::ids::AnimalId,
        sire: crate::house::ids::AnimalId,
    ) -> Result<SacId, AppError> {
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let new = NewSac {
            species_id: species_id(stock, plan.species)?,
            dam: Some(dam),
            dam_note: String::new(),
            dam_wild_mated: false,
            sire: Some(sire),
            sire_note: String::new(),
            laid_on: building.day,
            pulled_on: None,
            incubation_note: String::new(),
            shelf: None,
            position: None,
        };
        let sac = breeding::store::insert_sac(&mut write, &new).await?;
        rounds::store::replan_sac(&mut write, sac).await?;
        write.commit(Change::new("sac.recorded", format!("sac {sac}"), plan.species), "/breeding").await?;
        Ok(sac)
    }

    /// Pulls sacs whose window is open, and opens them when legs are out.
    async fn tend_sacs(&mut self, building: &mut Building, stock: &Stock, since: u64) -> Result<(), AppError> {
        let mut still = Vec::new();
        for (index, sac) in std::mem::take(&mut self.open) {
            let Some(plan) = PLANS.get(index) else { continue };
            let row = breeding::store::require_sac(&mut *building.app.read().await?, sac).await?;
            let age = since.saturating_sub(plan.laid);
            if row.pulled_on.is_none() && age > u64::from(row.pull_from_day) {
                let mut write = building.app.write(Some(building.named("tamsin"))).await?;
                breeding::store::pull_sac(&mut write, sac, building.day, "26 °C, 78 % humidity, on a hammock of gauze").await?;
                rounds::store::replan_sac(&mut write, sac).await?;
                write.commit(Change::new("sac.pulled", format!("sac {sac}"), plan.species), "/breeding").await?;
            } else if row.pulled_on.is_some() && age >= u64::from(row.pull_to_day) + 5 {
                let brood = hatch(building, stock, plan, sac).await?;
                self.broods.push(brood);
                continue;
            }
            still.push((index, sac));
        }
        self.open = still;
        Ok(())
    }

    async fn buy(&mut self, building: &mut Building, stock: &Stock, lot: (&'static str, u32, &'static str, i64)) -> Result<(), AppError> {
        let (species, count, rack, shelf) = lot;
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let stage = Stage::Instar(2);
        let new = NewCohort {
            code: None,
            species_id: species_id(stock, species)?,
            origin: NewOrigin::Bought {
                supplier: "Breeder in the next county".to_owned(),
                papers: "Breeder's declaration, on file".to_owned(),
            },
            source: captive()?,
            locality: String::new(),
            started_on: building.day,
            housing: Housing::Vials,
            shelf: stock.places.shelf(rack, shelf),
            position: Some(2),
            span_mm: Some(12),
            note: String::new(),
            counts: vec![(stage, count)],
        };
        let cohort = cohorts::store::insert(&mut write, &new).await?;
        rounds::store::replan_cohort(&mut write, cohort).await?;
        write.commit(Change::new("cohort.added", format!("cohort {cohort}"), species), "/cohorts").await?;
        let mut brood = Brood::of(building, cohort, species, &[(stage, count)]).await?;
        brood.separated = true;
        brood.in_dry_rack = rack == DRY_RACK;
        self.broods.push(brood);
        Ok(())
    }

    /// Puts broods into vials, holds some back, tags a few, and splits the largest.
    async fn house(&mut self, building: &mut Building, stock: &mut Stock, since: u64) -> Result<(), AppError> {
        let mut children = Vec::new();
        for brood in &mut self.broods {
            if brood.separated && since.is_multiple_of(30) {
                brood.measure(building).await?;
            }
            if !brood.separated && brood.reached(Stage::Instar(2)) * 10 >= brood.young.len() * 9 {
                brood.separate(building).await?;
            } else if brood.separated && !brood.split && brood.young.len() > 260 && since.is_multiple_of(7) {
                children.push(brood.split_off(building, stock).await?);
            } else if brood.separated && brood.tagged < 4 && since.is_multiple_of(30) && brood.reached(Stage::Instar(4)) > 20 {
                brood.tag_some(building, stock).await?;
            }
        }
        self.broods.extend(children);
        Ok(())
    }
}

fn captive() -> Result<Source, AppError> {
    check_source("C").map_err(|error| AppError::Internal(error.into()))
}

fn species_id(stock: &Stock, name: &str) -> Result<crate::house::ids::SpeciesId, AppError> {
    stock.kind(name).map(|(id, _)| *id).ok_or(AppError::NotFound)
}

async fn hatch(building: &mut Building, stock: &Stock, plan: &Plan, sac: SacId) -> Result<Brood, AppError> {
    let bad = plan.young / building.rng.random_range(14..30);
    let first = plan.young / building.rng.random_range(4..9);
    let counts = vec![(Stage::PostEmbryo, plan.young - first), (Stage::Instar(1), first)];
    let opening = Opening {
        day: building.day,
        counts: counts.clone(),
        bad: vec![Bad { stage: Stage::Egg, quantity: bad, cause: LossCause::Infertile }],
        code: None,
        source: captive()?,
        locality: String::new(),
        housing: Housing::Communal,
        shelf: stock.places.shelf("Vials", plan.shelf),
        position: Some(1),
        note: String::new(),
    };
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let cohort = breeding::store::open_sac(&mut write, sac, &opening).await?;
    rounds::store::replan_sac(&mut write, sac).await?;
    rounds::store::replan_cohort(&mut write, cohort).await?;
    write.commit(Change::new("sac.opened", format!("sac {sac}"), format!("cohort {cohort}: {} alive", plan.young)), "/breeding").await?;
    Brood::of(building, cohort, plan.species, &counts).await
}

impl Brood {
    async fn of(building: &mut Building, cohort: CohortId, species: &'static str, counts: &[(Stage, u32)]) -> Result<Self, AppError> {
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
    fn reached(&self, stage: Stage) -> usize {
        self.young.iter().filter(|young| young.stage >= stage).count()
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

    async fn separate(&mut self, building: &Building) -> Result<(), AppError> {
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
    async fn measure(&self, building: &Building) -> Result<(), AppError> {
        let Stage::Instar(instar) = self.main_stage().0 else { return Ok(()) };
        let span_mm = (9.0 * 1.26_f64.powi(i32::from(instar) - 2)).round() as i64;
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        cohorts::store::set_span(&mut write, self.cohort, span_mm).await?;
        rounds::store::replan_cohort(&mut write, self.cohort).await?;
        write.commit(Change::new("cohort.measured", format!("cohort {}", self.cohort), format!("{span_mm} mm")), "/cohorts").await
    }

    async fn split_off(&mut self, building: &mut Building, stock: &Stock) -> Result<Self, AppError> {
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

    async fn tag_some(&mut self, building: &mut Building, stock: &mut Stock) -> Result<(), AppError> {
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
