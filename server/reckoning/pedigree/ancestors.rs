//! Through which ancestors two animals are related.

use std::collections::{BTreeMap, HashMap};

use super::relationship::Relationship;
use super::{Inbreeding, NO_ONE, Name, PedigreeError};
use crate::reckoning::cells::Cells;

/// The most pairs of ancestors that are looked at for one answer.
const MOST_STEPS: usize = 300_000;

/// An ancestor that two animals have in common, or one of them if the other descends from it.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonAncestor<Id> {
    /// The ancestor.
    pub id: Id,
    /// What it adds to the inbreeding of an offspring of the two: the sum of (1/2)^(n1 + n2 + 1) (1 + F) over all pairs
    /// of paths of n1 and n2 steps that have no other animal in common (Wright 1922).
    pub contribution: f64,
    /// F of the ancestor.
    pub inbreeding: f64,
    /// The dam's side of the nearest pair of paths: from the dam to the ancestor, both named.
    pub nearest_path_dam_side: Vec<Id>,
    /// The sire's side of the nearest pair of paths: from the sire to the ancestor, both named.
    pub nearest_path_sire_side: Vec<Id>,
    /// How many pairs of paths lead to it; `u64::MAX` for that many or more.
    pub paths: u64,
}

/// Through which ancestors a dam and a sire are related.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonAncestors<Id> {
    /// Dam and sire, as asked.
    pub pair: (Id, Id),
    /// Their kinship, which is the F of their offspring; what all ancestors contribute together.
    pub kinship: f64,
    /// What they are to each other.
    pub relationship: Relationship,
    /// The largest contributions first, no more than asked.
    pub ancestors: Vec<CommonAncestor<Id>>,
    /// How many were found that are not listed.
    pub more: usize,
    /// What those that are not listed contribute together.
    pub more_contribution: f64,
    /// Whether every ancestor was found. If not, the older ones are in `more_contribution` but not in `more`.
    pub complete: bool,
    /// What is not listed, in words; empty if nothing.
    pub and_more: String,
}

impl<Id: Name> Inbreeding<'_, Id> {
    /// The ancestors through which a dam and a sire are related, the largest contribution first, at most `limit` of them.
    ///
    /// Two lines are followed from the pair; it is always the younger animal that gives way to its parents, so that two
    /// lines meet at the first animal that they have in common. At most 300,000 pairs of ancestors are looked at.
    ///
    /// # Errors
    /// An animal that is not in the pedigree.
    pub fn common_ancestors(&self, dam: &Id, sire: &Id, limit: usize) -> Result<CommonAncestors<Id>, PedigreeError> {
        let (dam_place, sire_place) = (self.pedigree.place(dam)?, self.pedigree.place(sire)?);
        let kinship = self.kinship(dam, sire)?;
        let mut lines = Lines::from(self, dam_place, sire_place);
        let complete = lines.follow(self);
        let mut met: Vec<(usize, f64, Met)> =
            lines.met.iter().map(|(place, met)| (*place, self.contribution(*place, *met), *met)).collect();
        met.sort_by(|one, other| other.1.total_cmp(&one.1).then_with(|| self.pedigree.id(one.0).cmp(&self.pedigree.id(other.0))));
        let ancestors: Vec<CommonAncestor<Id>> =
            met.iter().take(limit).filter_map(|(place, contribution, met)| self.told(&lines, *place, *contribution, *met)).collect();
        let more = met.len().saturating_sub(ancestors.len());
        let listed: f64 = ancestors.iter().map(|ancestor| ancestor.contribution).sum();
        let more_contribution = if more == 0 && complete { 0.0 } else { (kinship - listed).max(0.0) };
        let relationship = self.relationship(dam_place, sire_place, &ancestors);
        let and_more = and_more(more, more_contribution, complete);
        let pair = (dam.clone(), sire.clone());
        Ok(CommonAncestors { pair, kinship, relationship, ancestors, more, more_contribution, complete, and_more })
    }

    fn contribution(&self, place: usize, met: Met) -> f64 {
        met.chance * (1.0 + self.coefficients.at(place)) / 2.0
    }

    fn told(&self, lines: &Lines, place: usize, contribution: f64, met: Met) -> Option<CommonAncestor<Id>> {
        let [dam_side, sire_side] = lines.path(met.nearest, place);
        let names = |path: Vec<usize>| path.into_iter().filter_map(|place| self.pedigree.id(place).cloned()).collect();
        Some(CommonAncestor {
            id: self.pedigree.id(place)?.clone(),
            contribution,
            inbreeding: self.coefficients.at(place),
            nearest_path_dam_side: names(dam_side),
            nearest_path_sire_side: names(sire_side),
            paths: met.paths,
        })
    }

    fn relationship(&self, one: usize, other: usize, ancestors: &[CommonAncestor<Id>]) -> Relationship {
        if let Some((tie, sentence)) = self.pedigree.tie(one, other) {
            return Relationship { tie: Some(tie), sentence };
        }
        let sentence = match ancestors.first() {
            Some(first) => format!("related, most through {}", super::shown(&first.id)),
            None => "no common ancestor on record".to_owned(),
        };
        Relationship { tie: None, sentence }
    }
}

fn and_more(more: usize, contribution: f64, complete: bool) -> String {
    match (more, complete) {
        (0, true) => String::new(),
        (1, true) => format!("and 1 more ancestor, which adds {contribution:.6}"),
        (more, true) => format!("and {more} more ancestors, which add {contribution:.6}"),
        (_, false) => format!("and more ancestors further back, which add {contribution:.6}"),
    }
}

/// How two lines came to a pair of animals.
#[derive(Debug, Clone, Copy)]
struct Met {
    /// The sum of (1/2)^(steps) over all ways.
    chance: f64,
    /// How many ways.
    paths: u64,
    /// The fewest steps of both lines together.
    steps: usize,
    /// The last pair on the way with the fewest steps.
    nearest: Option<usize>,
}

impl Met {
    /// Adds other ways to the same pair.
    fn add(&mut self, other: Self) {
        self.chance += other.chance;
        self.paths = self.paths.saturating_add(other.paths);
        if other.steps < self.steps {
            (self.steps, self.nearest) = (other.steps, other.nearest);
        }
    }
}

/// Two lines on different animals: the younger place, the older place, and whether the younger is on the dam's side.
/// Stepping up makes a pair smaller, so that going from the largest down meets each pair after all ways to it.
type Two = (usize, usize, bool);

/// The lines that are followed up from a dam and a sire.
struct Lines {
    waiting: BTreeMap<Two, Met>,
    met: HashMap<usize, Met>,
    /// Pairs that were left, as (dam's side, sire's side, the pair before).
    left: Vec<(usize, usize, Option<usize>)>,
    /// By place: whether the line may still meet the other one.
    leads: Vec<bool>,
}

impl Lines {
    fn from<Id: Name>(of: &Inbreeding<'_, Id>, dam: usize, sire: usize) -> Self {
        let parents = &of.pedigree.parents;
        let (mut ancestors_of_dam, mut ancestors_of_sire) = (vec![false; parents.len()], vec![false; parents.len()]);
        ancestors_of_dam.put(dam, true);
        ancestors_of_sire.put(sire, true);
        for (place, of) in parents.iter().enumerate().rev() {
            for parent in of {
                ancestors_of_dam.put(*parent, ancestors_of_dam.at(*parent) || ancestors_of_dam.at(place));
                ancestors_of_sire.put(*parent, ancestors_of_sire.at(*parent) || ancestors_of_sire.at(place));
            }
        }
        let mut leads: Vec<bool> = ancestors_of_dam.iter().zip(&ancestors_of_sire).map(|(one, other)| *one && *other).collect();
        for (place, of) in parents.iter().enumerate() {
            let up = of.iter().any(|parent| leads.at(*parent));
            leads.put(place, leads.at(place) || up);
        }
        let mut lines = Self { waiting: BTreeMap::new(), met: HashMap::new(), left: Vec::new(), leads };
        lines.come(dam, sire, Met { chance: 1.0, paths: 1, steps: 0, nearest: None });
        lines
    }

    /// Two lines come to two animals, which may be one.
    fn come(&mut self, dam_side: usize, sire_side: usize, met: Met) {
        if !(self.leads.at(dam_side) && self.leads.at(sire_side)) {
            return;
        }
        if dam_side == sire_side {
            self.met.entry(dam_side).and_modify(|known| known.add(met)).or_insert(met);
        } else {
            let two = (dam_side.max(sire_side), dam_side.min(sire_side), dam_side > sire_side);
            self.waiting.entry(two).and_modify(|known| known.add(met)).or_insert(met);
        }
    }

    /// Follows the lines; whether to the end.
    fn follow<Id: Name>(&mut self, of: &Inbreeding<'_, Id>) -> bool {
        while let Some(((young, old, young_on_dam_side), met)) = self.waiting.pop_last() {
            if self.left.len() == MOST_STEPS {
                return false;
            }
            let (dam_side, sire_side) = if young_on_dam_side { (young, old) } else { (old, young) };
            let here = Some(self.left.len());
            self.left.push((dam_side, sire_side, met.nearest));
            for parent in of.pedigree.parents_of(young) {
                let step = Met { chance: met.chance / 2.0, paths: met.paths, steps: met.steps + 1, nearest: here };
                if parent != NO_ONE && young_on_dam_side {
                    self.come(parent, old, step);
                } else if parent != NO_ONE {
                    self.come(old, parent, step);
                }
            }
        }
        true
    }

    /// Both sides of the nearest pair of paths, from dam and sire to where they meet.
    fn path(&self, last: Option<usize>, met_at: usize) -> [Vec<usize>; 2] {
        let mut sides = [vec![met_at], vec![met_at]];
        let mut at = last;
        while let Some((dam_side, sire_side, before)) = at.and_then(|at| self.left.get(at)) {
            for (side, place) in sides.iter_mut().zip([*dam_side, *sire_side]) {
                if side.last() != Some(&place) {
                    side.push(place);
                }
            }
            at = *before;
        }
        sides.map(|side| side.into_iter().rev().collect())
    }
}
