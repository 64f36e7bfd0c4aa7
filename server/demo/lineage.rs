//! An old family of the made-up house: three generations of one small species, its lines, and what is held back of it.

use chrono::{Days, NaiveDate};

use super::Building;
use super::stock::Stock;
use crate::animals::model::{AnimalStatus, NewAnimal, NewMeal, NewOrigin};
use crate::breeding::model::lines::NewLine as NewStrain;
use crate::breeding::model::{Bad, Kin, NewSac, Opening};
use crate::cohorts::model::{Housing, NewLine, NewTags};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, ShelfId, SpeciesId};
use crate::house::write::Write;
use crate::reckoning::breeding::counts::Tally;
use crate::reckoning::provenance::{Source, check_source};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LossCause, MealOutcome, Sex, SexBasis};
use crate::{animals, breeding, cohorts, rounds};

/// A dwarf: its generations are short enough for a book of six years.
const SPECIES: &str = "Cyriocosmus elegans";

/// One brood of the family: how long ago it was laid, how many hatched, reached the first and the second instar.
struct Past {
    laid: u64,
    counts: [u32; 3],
    /// How many were tagged: female, male, female and on by turns.
    tagged: u32,
    /// Whether those that were tagged live still.
    alive: bool,
}

const fn past(laid: u64, counts: [u32; 3], tagged: u32, alive: bool) -> Past {
    Past { laid, counts, tagged, alive }
}

/// Writes the family down, on the last day, dated back.
pub(super) async fn remember(building: &Building, stock: &Stock) -> Result<(), AppError> {
    building.at(7);
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    let species = stock.kind(SPECIES).map(|(id, _)| *id).ok_or(AppError::NotFound)?;
    let mut family = Family { species, source: source()?, today: building.day, shelf: stock.places.shelf("Cedar", 3), cohorts: Vec::new() };
    let mut founders = Vec::new();
    for sex in [Sex::Female, Sex::Male, Sex::Female, Sex::Male] {
        founders.push(family.founder(&mut write, sex).await?);
    }
    let [copper_dam, copper_sire, slate_dam, slate_sire] = founders.as_slice() else { return Ok(()) };
    let one = family.brood(&mut write, (*copper_dam, *copper_sire), past(2200, [58, 55, 53], 2, false)).await?;
    let two = family.brood(&mut write, (*slate_dam, *slate_sire), past(2150, [41, 33, 28], 2, false)).await?;
    let three = family.brood(&mut write, (first(&one)?, second(&two)?), past(1400, [66, 60, 57], 3, false)).await?;
    let four = family.brood(&mut write, (first(&two)?, second(&one)?), past(1380, [52, 47, 41], 2, false)).await?;
    let five = family.brood(&mut write, (first(&three)?, second(&four)?), past(700, [70, 66, 65], 3, true)).await?;
    family.brood(&mut write, (first(&three)?, second(&three)?), past(640, [38, 29, 24], 2, true)).await?;
    for founder in founders.iter().chain(one.iter().chain(&two).chain(&three).chain(&four)) {
        animals::store::record_leaving(&mut write, *founder, AnimalStatus::Dead, Some(LossCause::Unknown), family.ago(300)).await?;
    }
    family.name_lines(&mut write, &founders).await?;
    animals::store::hold_back(&mut write, first(&five)?, "the largest female of the third generation").await?;
    animals::store::hold_back(&mut write, second(&five)?, "to be paired outside the family").await?;
    write.commit(Change::new("family.remembered", format!("species {species}"), "three generations from the old book"), "/breeding").await
}

fn source() -> Result<Source, AppError> {
    check_source("C").map_err(|error| AppError::Internal(error.into()))
}

fn first(animals: &[AnimalId]) -> Result<AnimalId, AppError> {
    animals.first().copied().ok_or(AppError::NotFound)
}

fn second(animals: &[AnimalId]) -> Result<AnimalId, AppError> {
    animals.get(1).copied().ok_or(AppError::NotFound)
}

/// The family as it is written down.
struct Family {
    species: SpeciesId,
    source: Source,
    today: NaiveDate,
    shelf: Option<ShelfId>,
    cohorts: Vec<CohortId>,
}

impl Family {
    fn ago(&self, days: u64) -> NaiveDate {
        self.today.checked_sub_days(Days::new(days)).unwrap_or(self.today)
    }

    async fn founder(&self, write: &mut Write, sex: Sex) -> Result<AnimalId, AppError> {
        let origin =
            NewOrigin::Bought { supplier: "A breeder at the coast".to_owned(), papers: "Breeder's declaration, on file".to_owned() };
        let mut new = NewAnimal::new(self.species, origin, self.source, self.ago(2300));
        new.sex = sex;
        new.sex_basis = if sex == Sex::Male { SexBasis::Mature } else { SexBasis::Exuvium };
        animals::store::insert(write, &new).await
    }

    /// Lays, opens, raises and sells a brood, and tags a few of it.
    async fn brood(&mut self, write: &mut Write, (dam, sire): (AnimalId, AnimalId), past: Past) -> Result<Vec<AnimalId>, AppError> {
        let laid_on = self.ago(past.laid);
        let on = |after: u64| laid_on.checked_add_days(Days::new(after)).unwrap_or(laid_on);
        let sac = NewSac {
            species_id: self.species,
            dam: Some(dam),
            dam_note: String::new(),
            dam_wild_mated: false,
            sire: Some(sire),
            sire_note: String::new(),
            laid_on,
            pulled_on: Some(on(20)),
            incubation_note: String::new(),
            shelf: None,
            position: None,
        };
        let sac = breeding::store::insert_sac(write, &sac).await?;
        let [hatched, reached_first, reached_second] = past.counts;
        let opening = Opening {
            day: on(26),
            tally: Tally { first: hatched, second: hatched, third: None },
            counts: vec![(Stage::PostEmbryo, hatched)],
            bad: vec![Bad { stage: Stage::Egg, quantity: hatched / 12 + 1, cause: LossCause::Infertile }],
            code: None,
            source: self.source,
            locality: String::new(),
            housing: Housing::Vials,
            shelf: None,
            position: None,
            note: String::new(),
        };
        let cohort = breeding::store::open_sac(write, sac, &opening).await?;
        let (first, second) = (Stage::Instar(1), Stage::Instar(2));
        let (kept, lost) = (past.tagged, reached_second / 9);
        for line in [
            NewLine::moulted(on(38), Stage::PostEmbryo, first, reached_first),
            NewLine::lost(on(39), Stage::PostEmbryo, hatched - reached_first, LossCause::Mould),
            NewLine::moulted(on(52), first, second, reached_second),
            NewLine::lost(on(53), first, reached_first - reached_second, LossCause::FailedMoult),
            NewLine::lost(on(85), second, lost, LossCause::Desiccation),
            NewLine::sold(on(110), second, reached_second - lost - kept),
        ] {
            cohorts::store::post(write, cohort, &line).await?;
        }
        self.cohorts.push(cohort);
        self.tag(write, cohort, &past, on(140)).await
    }

    async fn tag(&self, write: &mut Write, cohort: CohortId, past: &Past, day: NaiveDate) -> Result<Vec<AnimalId>, AppError> {
        let shelf = self.shelf.filter(|_| past.alive);
        let new = NewTags { day, stage: Stage::Instar(2), quantity: past.tagged, shelf, note: String::new() };
        let tagged = cohorts::store::separate_and_tag(write, cohort, &new).await?;
        for (animal, sex) in tagged.iter().zip([Sex::Female, Sex::Male].into_iter().cycle()) {
            let basis = if sex == Sex::Male && !past.alive { SexBasis::Mature } else { SexBasis::Exuvium };
            let version = animals::store::require(write.db(), *animal).await?.version;
            animals::store::set_sex(write, *animal, version, (sex, basis), None).await?;
            if past.alive {
                let meal = NewMeal { day: self.ago(2), prey: "a small cricket".to_owned(), outcome: MealOutcome::Took, signoff: None };
                animals::store::record_meal(write, *animal, &meal).await?;
                rounds::store::replan_animal(write, *animal).await?;
            }
        }
        Ok(tagged)
    }

    /// Two lines of two founders each; the last brood of sibs begins a line of its own.
    async fn name_lines(&self, write: &mut Write, founders: &[AnimalId]) -> Result<(), AppError> {
        let names = [("Copper", "A pair from a breeder at the coast.", 2300), ("Slate", "A second pair, of another stock.", 2300)];
        for ((name, note, days), pair) in names.into_iter().zip(founders.chunks(2)) {
            let line = self.name(write, name, note, days).await?;
            for founder in pair {
                breeding::store::enter_line(write, Kin::Animal(*founder), Some(line), self.ago(2300), "").await?;
            }
        }
        let harbour = self.name(write, "Harbour", "Bred on from one pair of sibs of Copper and Slate.", 640).await?;
        if let Some(cohort) = self.cohorts.last() {
            breeding::store::enter_line(write, Kin::Cohort(*cohort), Some(harbour), self.ago(600), "kept apart from here on").await?;
        }
        Ok(())
    }

    async fn name(&self, write: &mut Write, name: &str, note: &str, days: u64) -> Result<crate::house::ids::StrainId, AppError> {
        let new = NewStrain { species: self.species, name: name.to_owned(), note: note.to_owned(), founded_on: self.ago(days) };
        breeding::store::insert_line(write, &new).await
    }
}
