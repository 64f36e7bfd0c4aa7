//! The tabular method, kept to the animals that are still to breed.

use super::{NO_ONE, Parents};
use crate::reckoning::cells::Cells;

/// For each animal the place of its last offspring; 0 for those without, since no offspring stands at place 0.
pub(super) fn last_offspring(parents: &[Parents]) -> Vec<usize> {
    let mut last = vec![0; parents.len()];
    for (child, of) in parents.iter().enumerate() {
        for parent in of {
            last.put(*parent, child);
        }
    }
    last
}

/// The most animals that are in the table at once.
pub(super) fn width(parents: &[Parents], last: &[usize]) -> usize {
    let (mut now, mut most) = (0_usize, 0);
    for (place, of) in parents.iter().enumerate() {
        now = now.saturating_sub(leaving(place, *of, last).count()) + usize::from(last.at(place) > 0);
        most = most.max(now);
    }
    most
}

/// The parents of an animal that have no later offspring.
fn leaving(place: usize, [dam, sire]: Parents, last: &[usize]) -> impl Iterator<Item = usize> {
    let sire = if sire == dam { NO_ONE } else { sire };
    [dam, sire].into_iter().filter(move |parent| *parent != NO_ONE && last.at(*parent) == place)
}

/// F of every animal, parents first (Henderson 1976: the relationship of an animal with an older one is the mean of
/// those of its parents with it). A row is given up after the last offspring of its animal, so that a long line takes
/// no more room than a short one. `width` is from [`width`].
pub(super) fn inbreeding(parents: &[Parents], last: &[usize], width: usize) -> Vec<f64> {
    let mut table = Table { width, cells: vec![0.0; width * width] };
    let mut rows: Vec<Option<usize>> = vec![None; parents.len()];
    let mut free: Vec<usize> = (0..width).rev().collect();
    let mut row = vec![0.0; width];
    let mut all = Vec::with_capacity(parents.len());
    for (place, of) in parents.iter().enumerate() {
        let [dam, sire] = of.map(|parent| rows.at(parent));
        let inbreeding = dam.zip(sire).map_or(0.0, |(dam, sire)| table.between(dam, sire) / 2.0);
        all.push(inbreeding);
        let breeds = last.at(place) > 0;
        if breeds {
            table.mean(dam, sire, &mut row);
        }
        for parent in leaving(place, *of, last) {
            free.extend(rows.at(parent));
        }
        if let Some(at) = breeds.then(|| free.pop()).flatten() {
            row.put(at, 1.0 + inbreeding);
            table.write(at, &row);
            rows.put(place, Some(at));
        }
    }
    all
}

/// Relationships of the animals that are still to breed, each by its row.
struct Table {
    width: usize,
    cells: Vec<f64>,
}

impl Table {
    fn row(&self, at: usize) -> &[f64] {
        self.cells.get(at * self.width..(at + 1) * self.width).unwrap_or_default()
    }

    fn between(&self, one: usize, other: usize) -> f64 {
        self.row(one).at(other)
    }

    /// Half the sum of the rows of the known parents.
    fn mean(&self, dam: Option<usize>, sire: Option<usize>, row: &mut [f64]) {
        match (dam, sire) {
            (None, None) => row.fill(0.0),
            (Some(known), None) | (None, Some(known)) => {
                row.iter_mut().zip(self.row(known)).for_each(|(cell, of)| *cell = of / 2.0);
            }
            (Some(dam), Some(sire)) => {
                row.iter_mut().zip(self.row(dam).iter().zip(self.row(sire))).for_each(|(cell, (one, other))| *cell = (one + other) / 2.0);
            }
        }
    }

    /// Writes a row and the column that mirrors it.
    fn write(&mut self, at: usize, row: &[f64]) {
        for (cell, value) in self.cells.iter_mut().skip(at).step_by(self.width).zip(row) {
            *cell = *value;
        }
        if let Some(own) = self.cells.get_mut(at * self.width..(at + 1) * self.width) {
            own.copy_from_slice(row);
        }
    }
}
