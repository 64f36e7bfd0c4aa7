//! Relationships of a few animals with any others, through their ancestors only.

use super::{NO_ONE, Parents};
use crate::reckoning::cells::Cells;

/// How many animals are followed at once.
pub(super) const LANES: usize = 8;

/// The most ancestors that are walked through for one answer: about a minute's work.
const MOST_VISITS: u64 = 4_000_000_000;

/// Columns of A = T D T' (Henderson 1976), several at once: first up, how much of each animal comes from each ancestor;
/// then, with the ancestors' own Mendelian variance, down again (Colleau 2002; Sargolzaei, Iwaisaki & Colleau 2005).
pub(super) struct Columns<'a> {
    parents: &'a [Parents],
    /// By place, zero between uses.
    parts: Vec<[f64; LANES]>,
    /// One bit a place, zero between uses.
    marked: Vec<u64>,
    /// The places in use, youngest first.
    walked: Vec<usize>,
    visits: u64,
}

impl<'a> Columns<'a> {
    pub(super) fn new(parents: &'a [Parents]) -> Self {
        let (parts, marked) = (vec![[0.0; LANES]; parents.len()], vec![0; parents.len() / 64 + 1]);
        Self { parents, parts, marked, walked: Vec::new(), visits: 0 }
    }

    /// Whether the work has grown beyond what is sensible.
    pub(super) fn is_too_much(&self) -> bool {
        self.visits > MOST_VISITS
    }

    /// A of up to [`LANES`] animals with others: for each of `asked`, the number of the animal in `few`, and the other.
    /// `inbreeding` must hold F of every ancestor of the few.
    pub(super) fn relate(&mut self, few: &[usize], asked: impl Iterator<Item = (usize, usize)> + Clone, inbreeding: &[f64]) -> Vec<f64> {
        for (lane, place) in few.iter().enumerate().take(LANES) {
            self.mark(*place);
            if let Some(part) = self.parts.get_mut(*place) {
                part.put(lane, part.at(lane) + 1.0);
            }
        }
        asked.clone().for_each(|(_, place)| self.mark(place));
        self.up();
        self.down(inbreeding);
        let answers = asked.map(|(lane, place)| self.parts.at(place).at(lane)).collect();
        for place in self.walked.drain(..) {
            self.parts.put(place, [0.0; LANES]);
        }
        answers
    }

    fn mark(&mut self, place: usize) {
        if place != NO_ONE
            && let Some(word) = self.marked.get_mut(place / 64)
        {
            *word |= 1 << (place % 64);
        }
    }

    /// Walks from the youngest marked animal to the oldest ancestor; parents stand before their offspring.
    fn up(&mut self) {
        for word in (0..self.marked.len()).rev() {
            while let Some(bit) = self.marked.at(word).checked_ilog2() {
                self.marked.put(word, self.marked.at(word) & !(1 << bit));
                let place = word * 64 + bit as usize;
                self.walked.push(place);
                let half = self.parts.at(place).map(|part| part / 2.0);
                for parent in self.parents.at(place) {
                    self.mark(parent);
                    if let Some(parts) = self.parts.get_mut(parent) {
                        parts.iter_mut().zip(half).for_each(|(part, half)| *part += half);
                    }
                }
            }
        }
        self.visits += self.walked.len() as u64;
    }

    fn down(&mut self, inbreeding: &[f64]) {
        for place in self.walked.iter().rev() {
            let of = self.parents.at(*place);
            let own = mendelian_variance(of, inbreeding);
            let [dam, sire] = of.map(|parent| self.parts.at(parent));
            if let Some(parts) = self.parts.get_mut(*place) {
                parts.iter_mut().zip(dam.iter().zip(sire)).for_each(|(part, (dam, sire))| *part = *part * own + (dam + sire) / 2.0);
            }
        }
    }
}

/// The part of an animal's variance that its parents do not explain: 1/2 − (F of dam + F of sire)/4; with an unknown
/// parent 3/4 − F/4, with none known 1 (Henderson 1976).
fn mendelian_variance(of: Parents, inbreeding: &[f64]) -> f64 {
    of.iter().filter(|parent| **parent != NO_ONE).fold(1.0, |left, parent| left - (1.0 + inbreeding.at(*parent)) / 4.0)
}
