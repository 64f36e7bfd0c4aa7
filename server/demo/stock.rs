//! The tagged animals of the made-up house: who is there at first, and who comes later.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use rand::RngExt as _;

use super::Building;
use super::life::{Kind, Life};
use super::places::Places;
use crate::animals::model::{Enclosure, NewAnimal, NewMove, NewOrigin, NewSpan};
use crate::animals::store;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::provenance::check_source;
use crate::reckoning::words::{LifeStage, Sex, SexBasis, SpanKind, SpanMethod};
use crate::rounds;
use crate::species;

/// How many of a species come, where they stand, and what they measure.
struct Group {
    species: &'static str,
    young: usize,
    pairs: usize,
    rack: &'static str,
    shelf: i64,
    span_mm: (u32, u32),
    adult_mm: u32,
}

const fn group(
    species: &'static str,
    young: usize,
    pairs: usize,
    rack: &'static str,
    shelf: i64,
    span_mm: (u32, u32),
    adult_mm: u32,
) -> Group {
    Group { species, young, pairs, rack, shelf, span_mm, adult_mm }
}

const GROUPS: [Group; 15] = [
    group("Tliltocatl albopilosus", 6, 2, "Birch", 1, (25, 80), 145),
    group("Brachypelma hamorii", 7, 1, "Birch", 2, (20, 70), 140),
    group("Grammostola pulchra", 6, 2, "Birch", 3, (20, 80), 165),
    group("Grammostola pulchripes", 7, 0, "Birch", 4, (25, 90), 200),
    group("Chromatopelma cyaneopubescens", 6, 1, "Birch", 5, (25, 80), 130),
    group("Acanthoscurria geniculata", 5, 2, "Cedar", 1, (30, 90), 190),
    group("Caribena versicolor", 6, 2, "Cedar", 2, (20, 60), 130),
    group("Cyriocosmus elegans", 5, 2, "Cedar", 3, (10, 22), 38),
    group("Theraphosa stirmi", 4, 0, "Cedar", 4, (50, 120), 240),
    group("Psalmopoeus irminia", 6, 1, "Cedar", 5, (25, 70), 130),
    group("Monocentropus balfouri", 6, 2, "Elm", 1, (20, 60), 130),
    group("Poecilotheria regalis", 5, 1, "Elm", 2, (30, 90), 165),
    group("Poecilotheria vittata", 5, 0, "Elm", 3, (30, 80), 160),
    group("Heteroscodra maculata", 5, 0, "Fir", 1, (25, 70), 125),
    group("Pterinochilus murinus", 6, 1, "Fir", 2, (25, 80), 130),
];

/// An animal that is still to come.
struct Arrival {
    day: NaiveDate,
    group: usize,
    span_mm: u32,
    sex: (Sex, SexBasis),
}

/// The animals of the house as they truly are.
pub(super) struct Stock {
    /// Every animal that is alive in the house.
    pub lives: BTreeMap<AnimalId, Life>,
    /// Adult pairs by species: dam and sire.
    pub pairs: BTreeMap<&'static str, Vec<(AnimalId, AnimalId)>>,
    /// The shelves.
    pub places: Places,
    kinds: BTreeMap<&'static str, (SpeciesId, Kind)>,
    arrivals: Vec<Arrival>,
    next_position: BTreeMap<(&'static str, i64), i64>,
}

impl Stock {
    /// Buys in the first animals, and plans when the others come.
    pub async fn gather(building: &mut Building, places: Places) -> Result<Self, AppError> {
        let mut stock = Self {
            lives: BTreeMap::new(),
            pairs: BTreeMap::new(),
            places,
            kinds: kinds(building).await?,
            arrivals: Vec::new(),
            next_position: BTreeMap::new(),
        };
        let first = building.day;
        for (index, group) in GROUPS.iter().enumerate() {
            for _ in 0..group.young {
                // The house grows: the later, the more come.
                let later = (535.0 * building.rng.random_range(0.0..1.0_f64).sqrt()) as u64;
                stock.arrivals.push(Arrival {
                    day: first.checked_add_days(Days::new(later)).unwrap_or(first),
                    group: index,
                    span_mm: building.rng.random_range(group.span_mm.0..=group.span_mm.1),
                    sex: (Sex::Unknown, SexBasis::None),
                });
            }
            for pair in 0..group.pairs {
                // The pair that breeds comes in time for it.
                let needed = super::nursery::laid_after(group.species).filter(|_| pair == 0).map(|laid| laid.saturating_sub(70));
                let settled = needed.unwrap_or_else(|| building.rng.random_range(250..500));
                for sex in [(Sex::Female, SexBasis::Exuvium), (Sex::Male, SexBasis::Mature)] {
                    let day = first.checked_add_days(Days::new(settled)).unwrap_or(first);
                    stock.arrivals.push(Arrival { day, group: index, span_mm: group.adult_mm, sex });
                }
            }
        }
        stock.receive(building).await?;
        Ok(stock)
    }

    /// Books the animals that come on the building's day.
    pub async fn receive(&mut self, building: &mut Building) -> Result<(), AppError> {
        let (now, later) = std::mem::take(&mut self.arrivals).into_iter().partition(|arrival| arrival.day <= building.day);
        self.arrivals = later;
        for arrival in now {
            self.book(building, &arrival).await?;
        }
        Ok(())
    }

    async fn book(&mut self, building: &mut Building, arrival: &Arrival) -> Result<(), AppError> {
        let Some(group) = GROUPS.get(arrival.group) else { return Ok(()) };
        let Some((species, kind)) = self.kinds.get(group.species).cloned() else { return Ok(()) };
        let origin = NewOrigin::Bought { supplier: "Breeder in the next county".to_owned(), papers: listed_papers(group.species) };
        let source = check_source("C").map_err(|error| AppError::Internal(error.into()))?;
        let mut new = NewAnimal::new(species, origin, source, building.day);
        (new.sex, new.sex_basis) = arrival.sex;
        new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: arrival.span_mm.into(), method: SpanMethod::Measured });
        new.shelf = self.places.shelf(group.rack, group.shelf);
        let position = self.next_position.entry((group.rack, group.shelf)).or_insert(0);
        *position += 1;
        new.position = Some(*position);
        new.enclosure = Some(roomy(arrival.span_mm));
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let id = store::insert(&mut write, &new).await?;
        rounds::store::replan_animal(&mut write, id).await?;
        write.commit(Change::new("animal.added", format!("animal {id}"), group.species), "/animals").await?;
        let mut life = Life::begun(arrival.span_mm, kind, building.day, &mut building.rng);
        if arrival.sex.0 != Sex::Unknown {
            // Pairs are chosen in their best years: what they are to lay is planned already.
            life.dies_on = None;
        }
        if arrival.sex.1 == SexBasis::Mature {
            // A mature male does not moult again.
            life.next_moult = NaiveDate::MAX;
            life.refuses_from = NaiveDate::MAX;
        }
        self.remember(group.species, id, arrival.sex.0);
        self.lives.insert(id, life);
        Ok(())
    }

    fn remember(&mut self, species: &'static str, id: AnimalId, sex: Sex) {
        let pairs = self.pairs.entry(species).or_default();
        match (sex, pairs.last_mut()) {
            (Sex::Female, _) => pairs.push((id, id)),
            (Sex::Male, Some(pair)) => pair.1 = id,
            _ => {}
        }
    }

    /// Takes on an animal that was tagged out of a cohort: measured, in a box of its own, and alive in the simulation.
    pub async fn adopt(&mut self, write: &mut Write, building: &mut Building, species: &str, id: AnimalId) -> Result<(), AppError> {
        let Some((_, kind)) = self.kinds.get(species).cloned() else { return Ok(()) };
        let span_mm = building.rng.random_range(22..32).min(kind.adult_mm / 2);
        let span = NewSpan { kind: SpanKind::LegSpan, mm: span_mm.into(), method: SpanMethod::Estimated };
        store::record_measurement(write, id, &span, building.day, None).await?;
        let animal = store::require(write.db(), id).await?;
        let new = NewMove {
            day: building.day,
            shelf: animal.shelf_id,
            position: animal.position,
            rehoused: true,
            enclosure: Some(roomy(span_mm)),
            signoff: None,
        };
        store::record_move(write, id, &new).await?;
        rounds::store::replan_animal(write, id).await?;
        self.lives.insert(id, Life::begun(span_mm, kind, building.day, &mut building.rng));
        Ok(())
    }

    /// What a species is like, for animals that are tagged out of a cohort.
    pub fn kind(&self, species: &str) -> Option<&(SpeciesId, Kind)> {
        self.kinds.get(species)
    }
}

/// An enclosure in which an animal of this span has room for a while.
pub(super) fn roomy(span_mm: u32) -> Enclosure {
    let span = i64::from(span_mm);
    let length_mm = ((span * 39 / 10).max(35) + 9) / 10 * 10;
    Enclosure { length_mm, width_mm: Some((length_mm * 2 / 3).max(30)), fall_gap_mm: Some((span * 7 / 5).max(10)) }
}

fn listed_papers(species: &str) -> String {
    let listed = ["Brachypelma", "Tliltocatl", "Poecilotheria", "Caribena"].iter().any(|genus| species.starts_with(genus));
    if listed { "Breeder's declaration with parents' papers, on file".to_owned() } else { String::new() }
}

async fn kinds(building: &Building) -> Result<BTreeMap<&'static str, (SpeciesId, Kind)>, AppError> {
    let mut db = building.app.read().await?;
    let all = species::store::all(&mut db).await?;
    let mut kinds = BTreeMap::new();
    for name in GROUPS.iter().map(|group| group.species) {
        let Some(line) = all.iter().find(|line| line.accepted_name == name) else { continue };
        let facts = species::store::require(&mut db, line.id).await?;
        let mut moult_days = [(30, 60); 3];
        for (range, stage) in moult_days.iter_mut().zip(LifeStage::ALL) {
            let care = species::store::care(&mut db, line.id, *stage).await?.figures;
            *range = (care.moult_min_days, care.moult_max_days);
        }
        let kind = Kind { moult_days, adult_mm: facts.adult_span_min_mm, largest_mm: facts.adult_span_max_mm, defensive: facts.defensive };
        kinds.insert(name, (line.id, kind));
    }
    Ok(kinds)
}
