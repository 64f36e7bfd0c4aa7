//! Kinship of pairs.

use std::collections::HashMap;

use super::columns::{Columns, LANES};
use super::{Inbreeding, Name, PedigreeError};

/// How closely two animals are related.
#[derive(Debug, Clone, PartialEq)]
pub struct Kinship<Id> {
    /// The pair, as asked.
    pub pair: (Id, Id),
    /// The probability that a gene of one and a gene of the other, drawn at random from one locus, descend from one
    /// gene of an ancestor. An animal with itself: (1 + F)/2.
    pub kinship: f64,
    /// F of their offspring, which equals their kinship.
    pub offspring_inbreeding: f64,
}

/// A pair by the places of its animals, with its number among the pairs asked.
type Asked = (usize, usize, usize);

impl<Id: Name> Inbreeding<'_, Id> {
    /// Kinship of two animals.
    ///
    /// # Errors
    /// An animal that is not in the pedigree.
    pub fn kinship(&self, one: &Id, other: &Id) -> Result<f64, PedigreeError> {
        let pairs = self.kinships(&[(one.clone(), other.clone())])?;
        Ok(pairs.first().map_or(0.0, |pair| pair.kinship))
    }

    /// Kinship of many pairs, in the order asked: half their relationship in A = T D T' (Henderson 1976).
    ///
    /// # Errors
    /// An animal that is not in the pedigree; more work than is sensible.
    pub fn kinships(&self, pairs: &[(Id, Id)]) -> Result<Vec<Kinship<Id>>, PedigreeError> {
        let asked = self.grouped(pairs)?;
        let mut columns = Columns::new(&self.pedigree.parents);
        let mut values: Vec<(usize, f64)> = Vec::with_capacity(pairs.len());
        let mut rest = asked.as_slice();
        while !rest.is_empty() {
            let mut few: Vec<usize> = Vec::with_capacity(LANES);
            let mut lanes: Vec<(usize, usize)> = Vec::new();
            for (of, with, _) in rest {
                if few.last() != Some(of) {
                    if few.len() == LANES {
                        break;
                    }
                    few.push(*of);
                }
                lanes.push((few.len() - 1, *with));
            }
            let (now, later) = rest.split_at(lanes.len());
            rest = later;
            let related = columns.relate(&few, lanes.iter().copied(), &self.coefficients);
            values.extend(now.iter().map(|(_, _, number)| *number).zip(related));
            if columns.is_too_much() {
                return Err(PedigreeError::TooMuch);
            }
        }
        values.sort_unstable_by_key(|(number, _)| *number);
        let shown = pairs.iter().zip(values).map(|(pair, (_, related))| Kinship {
            pair: pair.clone(),
            kinship: related / 2.0,
            offspring_inbreeding: related / 2.0,
        });
        Ok(shown.collect())
    }

    /// The pairs, sorted by the animal of each that is in more pairs, so that few animals have to be followed.
    fn grouped(&self, pairs: &[(Id, Id)]) -> Result<Vec<Asked>, PedigreeError> {
        let mut asked = Vec::with_capacity(pairs.len());
        let mut counts: HashMap<usize, usize> = HashMap::new();
        for (number, (one, other)) in pairs.iter().enumerate() {
            let (one, other) = (self.pedigree.place(one)?, self.pedigree.place(other)?);
            *counts.entry(one).or_default() += 1;
            *counts.entry(other).or_default() += 1;
            asked.push((one, other, number));
        }
        let weight = |place: usize| (counts.get(&place).copied().unwrap_or_default(), place);
        for pair in &mut asked {
            if weight(pair.1) > weight(pair.0) {
                *pair = (pair.1, pair.0, pair.2);
            }
        }
        asked.sort_unstable();
        Ok(asked)
    }
}
