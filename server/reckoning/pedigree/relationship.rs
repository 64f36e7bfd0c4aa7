//! What two animals are to each other, in a word where there is one.

use super::{NO_ONE, Name, Pedigree};

/// The closest tie between two animals that has a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tie {
    /// One animal, asked for twice.
    Same,
    /// One is a parent of the other.
    ParentAndOffspring,
    /// Both parents in common.
    FullSibs,
    /// One parent in common.
    HalfSibs,
    /// One is a parent of a parent of the other.
    Grandparent,
    /// One is a full sib of a parent of the other.
    SibOfParent,
    /// Each parent of one is a full sib of a parent of the other.
    DoubleFirstCousins,
    /// A parent of one is a full sib of a parent of the other.
    FirstCousins,
}

/// What two animals are to each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Relationship {
    /// The closest tie that has a name; animals may be related in other ways beside it.
    pub tie: Option<Tie>,
    /// The tie in words, with the animals that make it.
    pub sentence: String,
}

impl<Id: Name> Pedigree<Id> {
    /// The closest tie of two places that has a name, in words.
    pub(super) fn tie(&self, one: usize, other: usize) -> Option<(Tie, String)> {
        if one == other {
            return Some((Tie::Same, format!("one animal, {}", self.name(one))));
        }
        self.parent_and_offspring(one, other)
            .or_else(|| self.parent_and_offspring(other, one))
            .or_else(|| self.sibs(one, other))
            .or_else(|| self.grandparent(one, other))
            .or_else(|| self.grandparent(other, one))
            .or_else(|| self.sib_of_parent(one, other))
            .or_else(|| self.sib_of_parent(other, one))
            .or_else(|| self.cousins(one, other))
    }

    fn parent_and_offspring(&self, parent: usize, offspring: usize) -> Option<(Tie, String)> {
        let [dam, sire] = self.parents_of(offspring);
        let word = if dam == parent {
            "dam"
        } else if sire == parent {
            "sire"
        } else {
            return None;
        };
        Some((Tie::ParentAndOffspring, format!("parent and offspring: {} is the {word} of {}", self.name(parent), self.name(offspring))))
    }

    fn sibs(&self, one: usize, other: usize) -> Option<(Tie, String)> {
        let ([dam, sire], [other_dam, other_sire]) = (self.parents_of(one), self.parents_of(other));
        match (shared(dam, other_dam), shared(sire, other_sire)) {
            (true, true) => Some((Tie::FullSibs, format!("full sibs: both from dam {} and sire {}", self.name(dam), self.name(sire)))),
            (true, false) => Some((Tie::HalfSibs, format!("half sibs: both from dam {}", self.name(dam)))),
            (false, true) => Some((Tie::HalfSibs, format!("half sibs: both from sire {}", self.name(sire)))),
            (false, false) => None,
        }
    }

    fn grandparent(&self, old: usize, young: usize) -> Option<(Tie, String)> {
        let between = known(self.parents_of(young)).find(|parent| self.parents_of(*parent).contains(&old))?;
        let (old, between, young) = (self.name(old), self.name(between), self.name(young));
        Some((Tie::Grandparent, format!("grandparent and grandoffspring: {old} is a parent of {between}, a parent of {young}")))
    }

    fn sib_of_parent(&self, old: usize, young: usize) -> Option<(Tie, String)> {
        let parent = known(self.parents_of(young)).find(|parent| self.are_full_sibs(old, *parent))?;
        let (old, parent, young) = (self.name(old), self.name(parent), self.name(young));
        Some((Tie::SibOfParent, format!("aunt or uncle, and niece or nephew: {old} is a full sib of {parent}, a parent of {young}")))
    }

    fn cousins(&self, one: usize, other: usize) -> Option<(Tie, String)> {
        let pairs: Vec<(usize, usize)> = known(self.parents_of(one))
            .flat_map(|parent| known(self.parents_of(other)).map(move |with| (parent, with)))
            .filter(|(parent, with)| self.are_full_sibs(*parent, *with))
            .collect();
        let (parent, with) = *pairs.first()?;
        let first = format!("{} and {}", self.name(parent), self.name(with));
        let second = pairs.iter().find(|(also, also_with)| *also != parent && *also_with != with);
        Some(match second {
            Some((also, also_with)) => {
                let second = format!("{} and {}", self.name(*also), self.name(*also_with));
                (Tie::DoubleFirstCousins, format!("double first cousins: their parents {first} are full sibs, and so are {second}"))
            }
            None => (Tie::FirstCousins, format!("first cousins: their parents {first} are full sibs")),
        })
    }

    fn are_full_sibs(&self, one: usize, other: usize) -> bool {
        let (of_one, of_other) = (self.parents_of(one), self.parents_of(other));
        one != other && of_one == of_other && !of_one.contains(&NO_ONE)
    }
}

fn shared(parent: usize, other: usize) -> bool {
    parent == other && parent != NO_ONE
}

fn known(parents: [usize; 2]) -> impl Iterator<Item = usize> + Clone {
    parents.into_iter().filter(|parent| *parent != NO_ONE)
}
