//! Pairings and sacs of the made-up house, and when its broods are housed.

use chrono::NaiveDate;
use rand::RngExt as _;

use super::brood::Brood;
use super::climate::{DRY_FOR, DRY_RACK};
use super::stock::Stock;
use super::{Building, DAYS};
use crate::breeding::model::{Bad, NewSac, Opening};
use crate::cohorts::model::{Housing, NewCohort, NewOrigin};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::SacId;
use crate::reckoning::breeding::Insertion;
use crate::reckoning::breeding::counts::Tally;
use crate::reckoning::provenance::{Source, check_source};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::LossCause;
use crate::{breeding, cohorts, rounds};

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
            if since == plan.laid.saturating_sub(60).max(2) {
                super::breeding::pair(building, dam, sire, Insertion::Seen).await?;
            } else if since == plan.laid {
                let sac = self.lay(building, stock, plan, dam, sire).await?;
                self.open.push((index, sac));
            }
        }
        super::breeding::wait_for_sacs(building, stock, DAYS.saturating_sub(since)).await?;
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
            brood.dry_out(building);
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
            if row.pulled_on.is_some() {
                super::breeding::read(building, sac).await?;
            }
            if row.pulled_on.is_some() && age == u64::from(row.pull_to_day) {
                super::breeding::see_legs(building, sac).await?;
            }
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
            if !brood.separated && brood.reached(Stage::Instar(2)) * 10 >= brood.known() * 9 {
                brood.separate(building).await?;
            } else if brood.separated && !brood.split && brood.known() > 260 && since.is_multiple_of(7) {
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
        // Counted twice; the first count missed one.
        tally: Tally { first: plan.young.saturating_sub(1), second: plan.young, third: None },
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
