//! The breeders of a species: how closely each female is related to each male, and which pairs would have the least inbred
//! young.

use std::collections::HashMap;

use super::{Inbreeding, Name, PedigreeError};

/// Kinship of all breeders.
#[derive(Debug, Clone, PartialEq)]
pub struct Breeders<Id> {
    /// The females, in the order given.
    pub females: Vec<Id>,
    /// The males, in the order given.
    pub males: Vec<Id>,
    /// For each female her kinship with each male, which is the inbreeding of their young.
    pub kinship: Vec<Vec<f64>>,
    /// The mean kinship of each female.
    pub mean_of_females: Vec<f64>,
    /// The mean kinship of each male.
    pub mean_of_males: Vec<f64>,
}

/// A pair of breeders.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair<Id> {
    /// The female.
    pub female: Id,
    /// The male.
    pub male: Id,
    /// The inbreeding of their young, 0 to 1.
    pub inbreeding: f64,
    /// The mean of the two's mean kinships.
    pub mean_kinship: f64,
}

impl<Id: Name> Inbreeding<'_, Id> {
    /// Kinship of every female with every male, and of each breeder the mean of its kinships with all breeders, itself
    /// included (mean kinship: Ballou & Lacy 1995, from memory). Who has a low one has few relatives among them.
    ///
    /// # Errors
    /// An animal that is not in the pedigree; more work than is sensible.
    pub fn breeders(&self, females: &[Id], males: &[Id]) -> Result<Breeders<Id>, PedigreeError> {
        let all: Vec<Id> = females.iter().chain(males).cloned().collect();
        let mut pairs = Vec::with_capacity(all.len() * (all.len() + 1) / 2);
        for (number, one) in all.iter().enumerate() {
            pairs.extend(all.iter().skip(number).map(|other| (one.clone(), other.clone())));
        }
        let mut kinship: HashMap<(&Id, &Id), f64> = HashMap::with_capacity(pairs.len() * 2);
        let mut sums: HashMap<&Id, f64> = HashMap::with_capacity(all.len());
        let reckoned = self.kinships(&pairs)?;
        for (of, (one, other)) in reckoned.iter().zip(&pairs) {
            kinship.insert((one, other), of.kinship);
            kinship.insert((other, one), of.kinship);
            *sums.entry(one).or_default() += of.kinship;
            if one != other {
                *sums.entry(other).or_default() += of.kinship;
            }
        }
        let mean = |of: &Id| sums.get(of).copied().unwrap_or_default() / all.len().max(1) as f64;
        let row = |female: &Id| males.iter().map(|male| kinship.get(&(female, male)).copied().unwrap_or_default()).collect();
        Ok(Breeders {
            kinship: females.iter().map(row).collect(),
            mean_of_females: females.iter().map(mean).collect(),
            mean_of_males: males.iter().map(mean).collect(),
            females: females.to_vec(),
            males: males.to_vec(),
        })
    }
}

impl<Id: Name> Breeders<Id> {
    /// Every pair, those with the least inbred young first; of equal ones first those whose two have the lower mean kinship,
    /// then by the female's and the male's name.
    #[must_use]
    pub fn best_pairs(&self) -> Vec<Pair<Id>> {
        let mut pairs = Vec::with_capacity(self.females.len() * self.males.len());
        for ((female, row), of_female) in self.females.iter().zip(&self.kinship).zip(&self.mean_of_females) {
            for ((male, inbreeding), of_male) in self.males.iter().zip(row).zip(&self.mean_of_males) {
                let mean_kinship = (of_female + of_male) / 2.0;
                pairs.push(Pair { female: female.clone(), male: male.clone(), inbreeding: *inbreeding, mean_kinship });
            }
        }
        // Equal but for rounding counts as equal.
        let step = |share: f64| (share * 1e12).round() as i64;
        pairs.sort_by(|one, other| {
            (step(one.inbreeding), step(one.mean_kinship), &one.female, &one.male).cmp(&(
                step(other.inbreeding),
                step(other.mean_kinship),
                &other.female,
                &other.male,
            ))
        });
        pairs
    }
}
