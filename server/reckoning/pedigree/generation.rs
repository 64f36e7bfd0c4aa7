//! Captive generations: W, F1, F2 and on, after CITES Resolution Conf. 10.16 (Rev.).

use std::fmt;

use super::{Individual, NO_ONE, Name, Parents, Pedigree, PedigreeError};
use crate::reckoning::cells::Cells;

coded_enum! {
    /// Where an animal came from, as recorded.
    Origin, "origin" {
        Wild = "wild", "taken from the wild";
        Captive = "captive", "from a controlled environment";
        Unknown = "unknown", "not known";
    }
}

/// An animal with what is recorded of its origin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded<Id> {
    /// The animal and its parents.
    pub individual: Individual<Id>,
    /// Where it came from.
    pub origin: Origin,
    /// Its dam was taken from the wild already mated.
    pub mated_in_wild: bool,
}

/// A captive generation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Generation {
    /// Taken from the wild, or from a mating in the wild.
    Wild,
    /// F and the number: how many generations from the wild, by the shorter way.
    Filial(u32),
    /// Not known.
    #[default]
    Unknown,
}

impl Generation {
    /// The number that counts for the next generation; none where it is not known.
    fn number(self) -> Option<u32> {
        match self {
            Self::Wild => Some(0),
            Self::Filial(number) => Some(number),
            Self::Unknown => None,
        }
    }
}

impl fmt::Display for Generation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Wild => f.write_str("W"),
            Self::Filial(number) => write!(f, "F{number}"),
            Self::Unknown => f.write_str("unknown"),
        }
    }
}

/// The captive generation of an animal, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaptiveGeneration<Id> {
    /// The animal.
    pub id: Id,
    /// Its generation.
    pub generation: Generation,
    /// Why, in one sentence that starts with the generation.
    pub reason: String,
}

/// The captive generation of each animal, in the order given.
///
/// W: taken from the wild, or its dam was taken already mated. F1: both parents known, at least one of them W. Later: one
/// more than the lower generation of its parents. Unknown: not captive-bred on record, a parent not on record, or a
/// parent of unknown generation. CITES Res. Conf. 10.16 (Rev.) defines F1 (a parent was conceived in or taken from the
/// wild) and F2 (both parents were produced in a controlled environment); later numbers are common usage. It records
/// what follows from the book; it does not decide law.
///
/// # Errors
/// As for [`Pedigree::new`].
pub fn captive_generations<Id: Name>(animals: &[Recorded<Id>]) -> Result<Vec<CaptiveGeneration<Id>>, PedigreeError> {
    let individuals: Vec<Individual<Id>> = animals.iter().map(|animal| animal.individual.clone()).collect();
    let pedigree = Pedigree::new(&individuals)?;
    let mut records: Vec<Option<(Origin, bool)>> = vec![None; animals.len()];
    for (place, animal) in pedigree.given.iter().zip(animals) {
        records.put(*place, Some((animal.origin, animal.mated_in_wild)));
    }
    let mut known = Known { pedigree: &pedigree, records, generations: vec![Generation::Unknown; animals.len()] };
    let mut why: Vec<Option<String>> = Vec::with_capacity(animals.len());
    for (place, of) in pedigree.parents.iter().enumerate() {
        let (generation, reason) = known.of(place, *of);
        known.generations.put(place, generation);
        why.push(Some(format!("{generation}: {reason}")));
    }
    let told = pedigree.given.iter().zip(animals).map(|(place, animal)| CaptiveGeneration {
        id: animal.individual.id.clone(),
        generation: known.generations.at(*place),
        reason: why.get_mut(*place).and_then(Option::take).unwrap_or_default(),
    });
    Ok(told.collect())
}

/// Generations as far as they are known, ancestors first.
struct Known<'a, Id> {
    pedigree: &'a Pedigree<Id>,
    records: Vec<Option<(Origin, bool)>>,
    generations: Vec<Generation>,
}

impl<Id: Name> Known<'_, Id> {
    fn of(&self, place: usize, of: Parents) -> (Generation, String) {
        let [dam, _] = of;
        let (origin, mated_in_wild) = self.records.at(place).unwrap_or((Origin::Unknown, false));
        let dam_is_wild = self.records.at(dam).is_none_or(|(origin, _)| origin == Origin::Wild);
        match (origin, mated_in_wild) {
            (Origin::Wild, _) => (Generation::Wild, "taken from the wild".to_owned()),
            (_, true) if dam_is_wild => (Generation::Wild, format!("{} was already mated when taken from the wild", self.dam(dam))),
            (_, true) => {
                let reason = format!("recorded as mated in the wild, but {} was not taken from the wild", self.dam(dam));
                (Generation::Unknown, reason)
            }
            (Origin::Unknown, false) => (Generation::Unknown, "its origin is not known".to_owned()),
            (Origin::Captive, false) => self.captive(of),
        }
    }

    fn dam(&self, dam: usize) -> String {
        if dam == NO_ONE { "its dam".to_owned() } else { format!("its dam {}", self.pedigree.name(dam)) }
    }

    fn captive(&self, [dam, sire]: Parents) -> (Generation, String) {
        let missing = match (dam == NO_ONE, sire == NO_ONE) {
            (true, true) => Some("no parents on record"),
            (true, false) => Some("no dam on record"),
            (false, true) => Some("no sire on record"),
            (false, false) => None,
        };
        if let Some(missing) = missing {
            return (Generation::Unknown, missing.to_owned());
        }
        let (of_dam, of_sire) = (self.generations.at(dam), self.generations.at(sire));
        let (dam, sire) = (self.pedigree.name(dam), self.pedigree.name(sire));
        match (of_dam.number(), of_sire.number()) {
            (Some(one), Some(other)) => {
                let reason = match one.cmp(&other) {
                    std::cmp::Ordering::Equal => format!("both parents {of_dam}"),
                    std::cmp::Ordering::Less => format!("dam {dam} {of_dam}, sire {sire} {of_sire}; the dam's is lower and counts"),
                    std::cmp::Ordering::Greater => format!("dam {dam} {of_dam}, sire {sire} {of_sire}; the sire's is lower and counts"),
                };
                (Generation::Filial(one.min(other).saturating_add(1)), reason)
            }
            (None, None) => (Generation::Unknown, format!("the generations of dam {dam} and sire {sire} are not known")),
            (None, Some(_)) => (Generation::Unknown, format!("the generation of dam {dam} is not known")),
            (Some(_), None) => (Generation::Unknown, format!("the generation of sire {sire} is not known")),
        }
    }
}
