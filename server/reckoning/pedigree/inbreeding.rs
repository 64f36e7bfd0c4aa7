//! Inbreeding of every animal.

use super::columns::{Columns, LANES};
use super::{NO_ONE, Name, Pedigree, PedigreeError, tabular};
use crate::reckoning::cells::Cells;

/// The most animals at once in the table of those still to breed: 128 MiB.
const WIDEST_TABLE: usize = 4096;

/// F of every animal of a pedigree.
#[derive(Debug, Clone)]
pub struct Inbreeding<'a, Id> {
    pub(super) pedigree: &'a Pedigree<Id>,
    /// By place.
    pub(super) coefficients: Vec<f64>,
}

impl<Id: Name> Pedigree<Id> {
    /// F of every animal: the probability that the two genes of a locus descend from one gene of an ancestor.
    ///
    /// A table of the animals that are still to breed (Henderson 1976) where it is small enough, else a pass through
    /// the ancestors of several animals at once (Sargolzaei, Iwaisaki & Colleau 2005). Both are exact.
    ///
    /// # Errors
    /// Pedigrees of several hundred thousand animals that are all still breeding and all related.
    pub fn inbreeding(&self) -> Result<Inbreeding<'_, Id>, PedigreeError> {
        let last = tabular::last_offspring(&self.parents);
        let width = tabular::width(&self.parents, &last);
        let coefficients = if width <= WIDEST_TABLE { tabular::inbreeding(&self.parents, &last, width) } else { self.by_columns()? };
        Ok(Inbreeding { pedigree: self, coefficients })
    }

    /// F of all offspring of up to eight animals of one level at a time. Their ancestors are on lower levels, so that F
    /// of each of these is known by then.
    fn by_columns(&self) -> Result<Vec<f64>, PedigreeError> {
        let mut coefficients = vec![0.0; self.len()];
        let mut columns = Columns::new(&self.parents);
        let matings = self.matings();
        let mut rest = matings.as_slice();
        while let Some(first) = rest.first() {
            let mut few: Vec<usize> = Vec::with_capacity(LANES);
            let mut count = 0;
            for mating in rest {
                if few.last() != Some(&mating.of) {
                    if few.len() == LANES || self.levels.at(mating.of) != self.levels.at(first.of) {
                        break;
                    }
                    few.push(mating.of);
                }
                count += 1;
            }
            let (now, later) = rest.split_at(count);
            rest = later;
            let lane = |of: usize| few.iter().position(|one| *one == of).unwrap_or_default();
            let related = columns.relate(&few, now.iter().map(|mating| (lane(mating.of), mating.with)), &coefficients);
            for (mating, related) in now.iter().zip(related) {
                coefficients.put(mating.offspring, related / 2.0);
            }
            if columns.is_too_much() {
                return Err(PedigreeError::TooMuch);
            }
        }
        Ok(coefficients)
    }

    /// Every animal with two known parents, by the parent of the sex that has fewer breeders.
    fn matings(&self) -> Vec<Mating> {
        let both = self.parents.iter().enumerate().filter(|(_, of)| !of.contains(&NO_ONE));
        let breeders = |which: usize| {
            let mut all: Vec<usize> = both.clone().map(|(_, of)| of.at(which)).collect();
            all.sort_unstable();
            all.dedup();
            all.len()
        };
        let which = usize::from(breeders(1) < breeders(0));
        let mut matings: Vec<Mating> =
            both.clone().map(|(offspring, of)| Mating { of: of.at(which), with: of.at(1 - which), offspring }).collect();
        matings.sort_unstable();
        matings
    }
}

/// An offspring with its parents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Mating {
    of: usize,
    with: usize,
    offspring: usize,
}

impl<Id: Name> Inbreeding<'_, Id> {
    /// F of an animal; `None` for one that is not in the pedigree.
    #[must_use]
    pub fn of(&self, id: &Id) -> Option<f64> {
        self.pedigree.place(id).ok().map(|place| self.coefficients.at(place))
    }

    /// F of every animal, in the order in which they were given.
    pub fn all(&self) -> impl Iterator<Item = (&Id, f64)> {
        let given = self.pedigree.given.iter();
        given.filter_map(|place| self.pedigree.id(*place).map(|id| (id, self.coefficients.at(*place))))
    }
}
