//! The moults of the house's animals, and what the house has learnt from them.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::house::ids::{AnimalId, SpeciesId};
use crate::reckoning::moult::history::History;
use crate::reckoning::moult::learn::{LearnError, Learned, MoultForecast, UsualRanges};

/// The moults of one species: its animals' histories, and what the house has learnt of it.
#[derive(Debug, Clone)]
pub struct SpeciesMoults {
    /// Its accepted name.
    pub name: String,
    /// The usual days between moults by life stage, from its care profile.
    pub usual: UsualRanges,
    /// Its animals' moults; those without one on record are left out.
    pub histories: BTreeMap<AnimalId, History>,
    /// The latest moult that an animal brought along when it came under our care as one: nothing is learnt from it, since
    /// it was dated with its cohort, but the next is forecast from it.
    pub carried: BTreeMap<AnimalId, History>,
    /// What the house has learnt.
    pub learned: Learned,
}

/// What the book tells of one species' moults.
#[derive(Debug, Clone, Default)]
pub struct Told {
    /// See [`SpeciesMoults::histories`].
    pub histories: BTreeMap<AnimalId, History>,
    /// See [`SpeciesMoults::carried`].
    pub carried: BTreeMap<AnimalId, History>,
}

/// The moults of the house, by species.
#[derive(Debug, Clone, Default)]
pub struct MoultBook(BTreeMap<SpeciesId, SpeciesMoults>);

impl MoultBook {
    /// Learns from the histories of each species.
    ///
    /// # Errors
    /// Usual ranges that are none.
    pub fn learn(species: impl IntoIterator<Item = (SpeciesId, String, UsualRanges, Told)>) -> Result<Self, LearnError> {
        let learn = |(id, name, usual, told): (SpeciesId, String, UsualRanges, Told)| {
            let all: Vec<History> = told.histories.values().cloned().collect();
            let learned = Learned::new(&usual, &all)?;
            Ok((id, SpeciesMoults { name, usual, histories: told.histories, carried: told.carried, learned }))
        };
        species.into_iter().map(learn).collect::<Result<_, _>>().map(Self)
    }

    /// One species.
    #[must_use]
    pub fn species(&self, id: SpeciesId) -> Option<&SpeciesMoults> {
        self.0.get(&id)
    }

    /// Every species that has animals with a moult on record.
    pub fn all(&self) -> impl Iterator<Item = &SpeciesMoults> {
        self.0.values()
    }

    /// When an animal is to be expected to moult next; nothing without a moult on record.
    #[must_use]
    pub fn forecast(&self, species: SpeciesId, animal: AnimalId, today: NaiveDate) -> Option<MoultForecast> {
        let of = self.species(species)?;
        let history = of.histories.get(&animal).or_else(|| of.carried.get(&animal))?;
        of.learned.forecast(history, today).ok()
    }
}
