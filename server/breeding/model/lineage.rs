//! The lineage of an animal or a cohort: four generations up and four down, as a tree.

use std::collections::{BTreeMap, BTreeSet};

use super::Kin;
use super::kindred::{KinSac, Kindred};
use crate::house::ids::{AnimalId, CohortId, SacId};
use crate::reckoning::lineage::{Side, Tree};
use crate::reckoning::provenance::SourceCode;

/// How many generations are followed either way.
pub const GENERATIONS: u32 = 4;
/// The most relatives that are followed altogether.
const MOST: usize = 1500;
/// The most boxes that are drawn beside one box; the others are one box that counts them.
const MOST_BESIDE: usize = 12;
/// The most boxes that are drawn altogether.
const MOST_DRAWN: usize = 300;

coded_enum! {
    /// As what a relative stands beside its neighbour.
    Role, "role" {
        Dam = "dam", "dam";
        Sire = "sire", "sire";
        PossibleSire = "possible-sire", "possible sire";
        Brood = "brood", "brood";
        SplitOff = "split", "split off";
        Tagged = "tagged", "tagged out of it";
    }
}

/// Who a relative is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// A tagged animal.
    Animal(AnimalId),
    /// A cohort as one.
    Cohort(CohortId),
    /// A sac that no cohort came from, or not yet.
    Sac(SacId),
    /// A parent that is not ours, as it is described.
    Outside(String),
    /// A parent of whom nothing is known, or both; says which.
    Unknown(&'static str),
    /// So many more that are not drawn.
    More(usize),
}

/// One of the relatives. The first is the one that is asked about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Relative {
    /// Who it is.
    pub who: Who,
    /// As what it stands beside its neighbour; nothing for the first.
    pub role: Option<Role>,
    /// Its neighbour nearer to the first, by its place in the list.
    pub next_to: usize,
    /// On which side of the first.
    pub side: Side,
    /// How many generations up or down; 0 for what is part of the first.
    pub generation: u32,
    /// Whether it stands further up in the list already, with all that hangs on it.
    pub again: bool,
}

/// A lineage.
#[derive(Debug, Clone)]
pub struct Lineage {
    /// The relatives, each after its neighbour.
    pub relatives: Vec<Relative>,
    /// Whether there were more than are followed.
    pub cut_off: bool,
}

/// Follows the kin of one both ways.
#[must_use]
pub fn lineage(kin: &Kindred, of: Kin) -> Lineage {
    let mut walk = Walk { kin, breeders: kin.breeders(), seen: BTreeSet::from([of]), found: Vec::new(), cut_off: false };
    let (who, cohort, source) = match of {
        Kin::Animal(id) => {
            let animal = kin.animals.get(&id);
            (Who::Animal(id), animal.and_then(|animal| animal.cohort_id), animal.map(|animal| animal.source_code))
        }
        Kin::Cohort(id) => (Who::Cohort(id), Some(id), kin.cohorts.get(&id).map(|cohort| cohort.source_code)),
    };
    walk.found.push(Relative { who, role: None, next_to: 0, side: Side::Up, generation: 0, again: false });
    walk.parents(0, cohort, source, 0);
    match of {
        Kin::Animal(id) => walk.broods(0, id, 0),
        Kin::Cohort(id) => walk.parts(0, id, 0),
    }
    Lineage { relatives: walk.found, cut_off: walk.cut_off }
}

struct Walk<'a> {
    kin: &'a Kindred,
    breeders: BTreeSet<AnimalId>,
    /// Those that are followed down already.
    seen: BTreeSet<Kin>,
    found: Vec<Relative>,
    cut_off: bool,
}

impl Walk<'_> {
    /// Adds a relative and gives its place; nothing once there are too many.
    fn add(&mut self, who: Who, role: Role, next_to: usize, side: Side, generation: u32) -> Option<usize> {
        if self.found.len() >= MOST {
            self.cut_off = true;
            return None;
        }
        let of = match who {
            Who::Animal(id) => Some(Kin::Animal(id)),
            Who::Cohort(id) => Some(Kin::Cohort(id)),
            _ => None,
        };
        let again = side == Side::Down && of.is_some_and(|of| !self.seen.insert(of));
        self.found.push(Relative { who, role: Some(role), next_to, side, generation, again });
        if again { None } else { Some(self.found.len() - 1) }
    }

    /// The parents of what came out of a cohort, and theirs.
    fn parents(&mut self, young: usize, cohort: Option<CohortId>, source: Option<SourceCode>, generation: u32) {
        if generation >= GENERATIONS {
            return;
        }
        let up = generation + 1;
        let Some(sac) = cohort.and_then(|cohort| self.kin.sac_of(cohort)).cloned() else {
            let wild = matches!(source, Some(SourceCode::Wild));
            let who = Who::Unknown(if wild { "from the wild" } else { "parents not known" });
            self.add(who, Role::Dam, young, Side::Up, up);
            return;
        };
        let dam = match sac.dam_id {
            Some(dam) => Who::Animal(dam),
            None if sac.dam_note.is_empty() => Who::Unknown("dam not known"),
            None => Who::Outside(sac.dam_note.clone()),
        };
        self.parent(young, dam, Role::Dam, up);
        match self.kin.sires_of(sac.id) {
            [] if sac.sire_note.is_empty() => self.parent(young, Who::Unknown("sire not known"), Role::Sire, up),
            [] => self.parent(young, Who::Outside(sac.sire_note.clone()), Role::Sire, up),
            [sire] => self.parent(young, Who::Animal(*sire), Role::Sire, up),
            several => {
                for sire in several {
                    // Which of them it was nobody knows, so their own ancestors are not followed.
                    self.add(Who::Animal(*sire), Role::PossibleSire, young, Side::Up, up);
                }
            }
        }
    }

    fn parent(&mut self, young: usize, who: Who, role: Role, generation: u32) {
        let id = if let Who::Animal(id) = who { Some(id) } else { None };
        let Some(place) = self.add(who, role, young, Side::Up, generation) else { return };
        if let Some(animal) = id.and_then(|id| self.kin.animals.get(&id)) {
            self.parents(place, animal.cohort_id, Some(animal.source_code), generation);
        }
    }

    /// The broods of an animal, and what came of them.
    fn broods(&mut self, parent: usize, animal: AnimalId, generation: u32) {
        if generation >= GENERATIONS {
            return;
        }
        let sacs: Vec<KinSac> = self.kin.sacs_by(animal).into_iter().cloned().collect();
        for sac in sacs {
            let who = sac.cohort_id.map_or(Who::Sac(sac.id), Who::Cohort);
            let place = self.add(who, Role::Brood, parent, Side::Down, generation + 1);
            if let Some((place, cohort)) = place.zip(sac.cohort_id) {
                self.parts(place, cohort, generation + 1);
            }
        }
    }

    /// What was split off a cohort, and the animals out of it that bred.
    fn parts(&mut self, of: usize, cohort: CohortId, generation: u32) {
        let kin = self.kin;
        for part in kin.split_off(cohort) {
            if let Some(place) = self.add(Who::Cohort(part.id), Role::SplitOff, of, Side::Down, generation) {
                self.parts(place, part.id, generation);
            }
        }
        for animal in kin.tagged_out_of(cohort) {
            if !self.breeders.contains(&animal.id) {
                continue;
            }
            if let Some(place) = self.add(Who::Animal(animal.id), Role::Tagged, of, Side::Down, generation) {
                self.broods(place, animal.id, generation);
            }
        }
    }
}

impl Lineage {
    /// The boxes to draw, and who is in each. Where many stand beside one box the last is a box that counts the others.
    #[must_use]
    pub fn drawn(&self) -> (Tree, Vec<Relative>) {
        let (mut tree, mut boxes) = (Tree::new(), Vec::new());
        let mut numbers: BTreeMap<usize, usize> = BTreeMap::new();
        let mut beside: BTreeMap<(usize, bool), usize> = BTreeMap::new();
        let mut left_out: BTreeMap<(usize, bool), usize> = BTreeMap::new();
        for (place, relative) in self.relatives.iter().enumerate() {
            if place == 0 {
                numbers.insert(0, 0);
                boxes.push(relative.clone());
                continue;
            }
            let Some(near) = numbers.get(&relative.next_to).copied() else { continue };
            let key = (near, relative.side == Side::Up);
            let count = beside.entry(key).or_default();
            if *count >= MOST_BESIDE || boxes.len() >= MOST_DRAWN {
                *left_out.entry(key).or_default() += 1;
                continue;
            }
            *count += 1;
            numbers.insert(place, tree.add(near, relative.side));
            boxes.push(Relative { next_to: near, ..relative.clone() });
        }
        for ((near, up), count) in left_out {
            let side = if up { Side::Up } else { Side::Down };
            tree.add(near, side);
            let generation = boxes.get(near).map_or(0, |of: &Relative| of.generation);
            boxes.push(Relative { who: Who::More(count), role: None, next_to: near, side, generation, again: false });
        }
        (tree, boxes)
    }
}
