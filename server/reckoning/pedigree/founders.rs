//! The founders of a group: from whom its genes come, and how evenly.

use std::collections::BTreeMap;

use super::{NO_ONE, Name, Pedigree, PedigreeError};
use crate::reckoning::cells::Cells;

/// Where the genes of a group come from.
#[derive(Debug, Clone, PartialEq)]
pub struct Founders<Id> {
    /// Each animal without parents on record from which the group descends, or that is of it, with the share of the group's
    /// genes that is expected to come from it; the largest share first.
    pub shares: Vec<(Id, f64)>,
    /// The share that comes from unknown parents of animals of which only the other parent is known.
    pub unknown: f64,
    /// How many founders of equal shares would keep as much variety: 1 ÷ the sum of the squared shares (Lacy 1989, from
    /// memory), of the known shares alone; nothing for a group of nobody.
    pub equivalents: Option<f64>,
}

impl<Id: Name> Pedigree<Id> {
    /// The founders of a group.
    ///
    /// # Errors
    /// An animal that is not in the pedigree.
    pub fn founders(&self, group: &[Id]) -> Result<Founders<Id>, PedigreeError> {
        let mut parts = vec![0.0; self.len()];
        for id in group {
            let place = self.place(id)?;
            parts.put(place, parts.at(place) + 1.0 / group.len() as f64);
        }
        let mut unknown = 0.0;
        // Offspring stand after their parents, so going down from the last gives each its whole part before it is passed on.
        for (place, of) in self.parents.iter().enumerate().rev() {
            let part = parts.at(place);
            if of.iter().all(|parent| *parent == NO_ONE) {
                continue;
            }
            parts.put(place, 0.0);
            for parent in of {
                if *parent == NO_ONE {
                    unknown += part / 2.0;
                } else {
                    parts.put(*parent, parts.at(*parent) + part / 2.0);
                }
            }
        }
        let found: BTreeMap<Id, f64> =
            self.ids.iter().zip(&parts).filter(|(_, part)| **part > 0.0).map(|(id, part)| (id.clone(), *part)).collect();
        let (known, squares) = found.values().fold((0.0, 0.0), |(sum, squares), part| (sum + part, squares + part * part));
        let mut shares: Vec<(Id, f64)> = found.into_iter().collect();
        shares.sort_by(|one, other| other.1.total_cmp(&one.1).then_with(|| one.0.cmp(&other.0)));
        Ok(Founders { shares, unknown, equivalents: (squares > 0.0).then(|| known * known / squares) })
    }
}
