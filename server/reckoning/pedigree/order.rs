//! Finding the parents of each animal, and an order in which parents come before their offspring.

use std::collections::HashMap;

use super::{Individual, NO_ONE, Name, Parent, Parents, PedigreeError, shown};
use crate::reckoning::cells::Cells;

/// The parents of each animal, as positions in the list.
pub(super) fn linked<Id: Name>(animals: &[Individual<Id>]) -> Result<Vec<Parents>, PedigreeError> {
    let mut positions: HashMap<&Id, usize> = HashMap::with_capacity(animals.len());
    for (at, animal) in animals.iter().enumerate() {
        if positions.insert(&animal.id, at).is_some() {
            return Err(PedigreeError::GivenTwice(shown(&animal.id)));
        }
    }
    let find = |animal: &Individual<Id>, parent: Parent, named: Option<&Id>| match named {
        None => Ok(NO_ONE),
        Some(named) if *named == animal.id => Err(PedigreeError::OwnParent { animal: shown(&animal.id), parent }),
        Some(named) => positions.get(named).copied().ok_or_else(|| PedigreeError::ParentNotListed {
            animal: shown(&animal.id),
            parent,
            named: shown(named),
        }),
    };
    animals
        .iter()
        .map(|animal| Ok([find(animal, Parent::Dam, animal.dam.as_ref())?, find(animal, Parent::Sire, animal.sire.as_ref())?]))
        .collect()
}

/// A level for each animal, above those of all its ancestors. An animal stands as high as its offspring let it, so that
/// a founder that was bought in late comes just before its first offspring.
///
/// # Errors
/// The positions of animals that form a circle.
pub(super) fn levels(parents: &[Parents]) -> Result<Vec<usize>, Vec<usize>> {
    let offspring = Offspring::of(parents);
    let mut waits_for: Vec<usize> = parents.iter().map(|of| of.iter().filter(|parent| **parent != NO_ONE).count()).collect();
    let mut order: Vec<usize> = waits_for.iter().enumerate().filter(|(_, count)| **count == 0).map(|(at, _)| at).collect();
    let mut depths: Vec<usize> = vec![0; parents.len()];
    let mut next = 0;
    while let Some(animal) = order.get(next).copied() {
        next += 1;
        for child in offspring.of_animal(animal) {
            depths.put(*child, depths.at(*child).max(depths.at(animal) + 1));
            waits_for.put(*child, waits_for.at(*child).saturating_sub(1));
            if waits_for.at(*child) == 0 {
                order.push(*child);
            }
        }
    }
    if order.len() < parents.len() {
        return Err(circle(parents, &waits_for));
    }
    for animal in order.into_iter().rev() {
        if let Some(first) = offspring.of_animal(animal).iter().map(|child| depths.at(*child)).min() {
            depths.put(animal, first.saturating_sub(1));
        }
    }
    Ok(depths)
}

/// A circle among the animals that still wait for a parent: going from each to such a parent comes round.
fn circle(parents: &[Parents], waits_for: &[usize]) -> Vec<usize> {
    let mut seen_at: Vec<Option<usize>> = vec![None; parents.len()];
    let mut walk = Vec::new();
    let mut animal = waits_for.iter().position(|count| *count > 0).unwrap_or(NO_ONE);
    while let Some(of) = parents.get(animal) {
        if let Some(first) = seen_at.at(animal) {
            return walk.split_off(first);
        }
        seen_at.put(animal, Some(walk.len()));
        walk.push(animal);
        animal = of.iter().copied().find(|parent| waits_for.at(*parent) > 0).unwrap_or(NO_ONE);
    }
    walk
}

/// The offspring of each animal, in one list.
struct Offspring {
    starts: Vec<usize>,
    children: Vec<usize>,
}

impl Offspring {
    fn of(parents: &[Parents]) -> Self {
        let mut starts = vec![0; parents.len() + 1];
        for parent in parents.iter().flatten() {
            starts.put(*parent, starts.at(*parent) + usize::from(*parent != NO_ONE));
        }
        let mut sum = 0;
        for start in &mut starts {
            sum += std::mem::replace(start, sum);
        }
        let mut free = starts.clone();
        let mut children = vec![0; sum];
        for (child, parent) in parents.iter().enumerate().flat_map(|(child, of)| of.iter().map(move |parent| (child, *parent))) {
            if parent != NO_ONE {
                children.put(free.at(parent), child);
                free.put(parent, free.at(parent) + 1);
            }
        }
        Self { starts, children }
    }

    fn of_animal(&self, animal: usize) -> &[usize] {
        self.children.get(self.starts.at(animal)..self.starts.at(animal + 1)).unwrap_or_default()
    }
}
