//! Pedigrees: how inbred each animal is, how closely two are related, through which ancestors, and the captive generation.
//!
//! Unknown parents are taken as unrelated and not inbred, so every figure is a lowest one: it counts what is on record.
//! F is the inbreeding coefficient (0 to 1), kinship the coefficient of coancestry of two animals, which is the F of
//! their offspring (Falconer & Mackay 1996, chapter 5).

mod ancestors;
mod breeders;
mod columns;
mod founders;
mod generation;
mod inbreeding;
mod kinship;
mod order;
mod planned;
mod relationship;
mod tabular;

use std::collections::HashMap;
use std::fmt::Display;
use std::hash::Hash;

use super::cells::Cells;

pub use ancestors::{CommonAncestor, CommonAncestors};
pub use breeders::{Breeders, Pair};
pub use founders::Founders;
pub use generation::{CaptiveGeneration, Generation, Origin, Recorded, captive_generations};
pub use inbreeding::Inbreeding;
pub use kinship::Kinship;
pub use planned::{CLOSE_KINSHIP, Mismatch, Side, is_close, mismatches};
pub use relationship::{Relationship, Tie};

/// What an animal is called by: a number of the book, a label.
pub trait Name: Clone + Ord + Hash + Display {}

impl<T: Clone + Ord + Hash + Display> Name for T {}

/// An animal with its parents, as far as they are known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Individual<Id> {
    /// The animal.
    pub id: Id,
    /// Its mother.
    pub dam: Option<Id>,
    /// Its father.
    pub sire: Option<Id>,
}

/// Which of the parents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parent {
    /// The mother.
    Dam,
    /// The father.
    Sire,
}

impl Display for Parent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Dam => "dam",
            Self::Sire => "sire",
        })
    }
}

/// Why a pedigree can't be reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PedigreeError {
    /// An id that stands for two animals.
    #[error("{0} is listed twice; list each animal once")]
    GivenTwice(String),
    /// An animal that is its own parent.
    #[error("{animal} is given as its own {parent}; correct its {parent}")]
    OwnParent {
        /// The animal.
        animal: String,
        /// As what it is given.
        parent: Parent,
    },
    /// A parent that is not among the animals.
    #[error("{named}, the {parent} of {animal}, is not listed; list it without parents, or leave the {parent} out")]
    ParentNotListed {
        /// The animal.
        animal: String,
        /// Which parent.
        parent: Parent,
        /// What the parent is called.
        named: String,
    },
    /// Animals that descend from themselves.
    #[error("a circle of parents, each the offspring of the next: {0}; correct a parent of one of them")]
    Circle(String),
    /// An animal that was asked for and is not among the animals.
    #[error("{0} is not listed; ask for listed animals only")]
    NotListed(String),
    /// A pedigree that is too wide and too deep at once.
    #[error("so many related animals are more than is reckoned at once; give the animals that breed now and their ancestors only")]
    TooMuch,
}

/// An id as it is shown in a message: one line, at most 40 characters.
fn shown(id: &impl Display) -> String {
    id.to_string().chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A place outside every table: an unknown parent.
const NO_ONE: usize = usize::MAX;

/// Dam and sire of an animal, by place; [`NO_ONE`] where it is not known.
type Parents = [usize; 2];

/// Animals with their parents, checked and put in order: parents before their offspring.
#[derive(Debug, Clone)]
pub struct Pedigree<Id> {
    /// By place.
    ids: Vec<Id>,
    /// By place; places of parents are lower than that of their offspring.
    parents: Vec<Parents>,
    /// By place; animals of a level are never ancestors of each other, and all their ancestors are on lower levels.
    levels: Vec<usize>,
    places: HashMap<Id, usize>,
    /// The places in the order in which the animals were given.
    given: Vec<usize>,
}

impl<Id: Name> Pedigree<Id> {
    /// Checks the animals, which come in any order, and puts them in order. An animal given as both parents of another
    /// is reckoned as self-fertilised.
    ///
    /// # Errors
    /// An id given twice, a parent that is not listed, an animal that is its own parent or ancestor; each names the animals.
    pub fn new(animals: &[Individual<Id>]) -> Result<Self, PedigreeError> {
        let given_parents = order::linked(animals)?;
        let levels = order::levels(&given_parents).map_err(|circle| {
            let names: Vec<String> =
                circle.iter().take(8).filter_map(|place| animals.get(*place)).map(|animal| shown(&animal.id)).collect();
            let more = if circle.len() > 8 { format!(" and {} more", circle.len() - 8) } else { String::new() };
            PedigreeError::Circle(names.join(", ") + &more)
        })?;
        let mut sorted: Vec<(usize, &Id, usize)> =
            levels.iter().zip(animals).enumerate().map(|(at, (level, animal))| (*level, &animal.id, at)).collect();
        sorted.sort_unstable();
        let mut given = vec![0; animals.len()];
        for (place, (_, _, at)) in sorted.iter().enumerate() {
            given.put(*at, place);
        }
        let place_of = |at: usize| given.get(at).copied().unwrap_or(NO_ONE);
        Ok(Self {
            ids: sorted.iter().map(|(_, id, _)| (*id).clone()).collect(),
            parents: sorted.iter().map(|(_, _, at)| given_parents.at(*at).map(place_of)).collect(),
            levels: sorted.iter().map(|(level, _, _)| *level).collect(),
            places: sorted.iter().enumerate().map(|(place, (_, id, _))| ((*id).clone(), place)).collect(),
            given,
        })
    }

    /// How many animals it has.
    #[must_use]
    pub fn len(&self) -> usize {
        self.ids.len()
    }

    /// Whether it has no animals.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.ids.is_empty()
    }

    fn place(&self, id: &Id) -> Result<usize, PedigreeError> {
        self.places.get(id).copied().ok_or_else(|| PedigreeError::NotListed(shown(id)))
    }

    fn id(&self, place: usize) -> Option<&Id> {
        self.ids.get(place)
    }

    /// The name of a place, or nothing for an unknown parent.
    fn name(&self, place: usize) -> String {
        self.id(place).map(shown).unwrap_or_default()
    }

    fn parents_of(&self, place: usize) -> Parents {
        self.parents.get(place).copied().unwrap_or([NO_ONE; 2])
    }
}
