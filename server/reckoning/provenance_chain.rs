//! Whether the provenance of an animal or brood is complete: every ancestor up to those that came from outside has its papers, and
//! each source code can be. That papers of both parents are on file for the young of a listed species is common practice, no source;
//! source codes after CITES Res. Conf. 12.3, wild-mated dams after CITES Notification 1998/14. It records; it does not decide law.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fmt;
use std::hash::{Hash, Hasher};

use serde::{Deserialize, Serialize};

use super::pedigree::{Generation, Individual, Origin, Recorded, captive_generations};
use super::provenance::{Source, SourceCode, check_brood};
use super::rows;

/// The most candidates for sire that are followed one by one when generations are worked out.
const MOST_ROUNDS: usize = 64;

/// A paper on file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnFile {
    /// The paper in words: kind, number, issuer, day.
    pub what: String,
    /// Whether an authority issued it for this very animal or brood (a permit, a birth certificate): it then stands for all that
    /// came before.
    #[serde(default)]
    pub official: bool,
}

/// A sac's parents as they are recorded.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Brood {
    /// The sac in words.
    pub sac: String,
    /// The dam, when she is on record.
    #[serde(default)]
    pub dam: Option<String>,
    /// What is said of a dam that is not on record.
    #[serde(default)]
    pub dam_stated: String,
    /// The sire, or every one that he may be.
    #[serde(default, deserialize_with = "rows::read")]
    pub sires: Vec<String>,
    /// What is said of a sire that is not on record.
    #[serde(default)]
    pub sire_stated: String,
    /// Whether the dam was mated in the wild.
    #[serde(default)]
    pub dam_mated_in_wild: bool,
}

/// An animal, or a number of spiderlings that is counted together. One that is neither out of another nor a brood came from outside.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Node {
    /// What it is called by in this chain.
    pub id: String,
    /// Its name in words.
    pub name: String,
    /// Its source.
    pub source: Source,
    /// What it was taken out of: an animal out of its cohort, a cohort out of another.
    #[serde(default)]
    pub out_of: Option<String>,
    /// The sac that it hatched from.
    #[serde(default)]
    pub brood: Option<Brood>,
    /// Its papers.
    #[serde(default, deserialize_with = "rows::read")]
    pub papers: Vec<OnFile>,
}

impl Node {
    /// Whether it came into the house from outside.
    pub fn acquired(&self) -> bool {
        self.out_of.is_none() && self.brood.is_none()
    }

    /// Whether an authority's paper stands for all that came before it.
    pub fn closed(&self) -> bool {
        self.papers.iter().any(|paper| paper.official)
    }
}

coded_enum! {
    /// What an ancestor is to the step after it.
    Role, "role" {
        Itself = "itself", "itself";
        OutOf = "out-of", "it came out of this";
        Dam = "dam", "dam";
        Sire = "sire", "sire";
        PossibleSire = "possible-sire", "possible sire";
    }
}

/// One step of the chain: each animal and brood once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Who.
    pub id: String,
    /// How many generations back.
    pub back: u32,
    /// What it is to `of`.
    pub role: Role,
    /// Whom it is that to; nothing for the first.
    pub of: Option<String>,
}

/// One thing that is missing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Gap {
    /// Whose: the animal or brood at which it is to be put right.
    pub about: String,
    /// What, in words without a capital or a full stop.
    pub text: String,
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// A chain of provenance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Chain {
    /// Everybody in it, the subject first, then generation by generation.
    pub steps: Vec<Step>,
    /// What is missing; empty when it is complete.
    pub missing: Vec<Gap>,
}

impl Chain {
    /// Whether nothing is missing.
    pub fn complete(&self) -> bool {
        self.missing.is_empty()
    }
}

/// Why a chain can't be followed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChainError {
    /// An animal that is named and not given.
    #[error("“{0}” is named, but is not among the animals and broods given")]
    NotGiven(String),
    /// One that is given twice.
    #[error("“{0}” is given more than once")]
    Twice(String),
    /// One that descends from itself.
    #[error("“{0}” would be an ancestor of itself")]
    Circle(String),
}

/// Follows the provenance of `subject` through all generations.
///
/// Missing are: the acquisition paper of whatever came from outside without one; a dam or sire that is neither known nor stated, or
/// only stated with no paper on file with their brood; and a source code that cannot be (C or F of a wild-mated dam's brood, U
/// without a paper that justifies it). An authority's paper for a bred animal or brood stands for its ancestors, who are then shown
/// and not asked for. Each of several possible sires is asked for.
///
/// # Errors
/// Animals that are named and not given, or given twice, and circles.
pub fn follow(subject: &str, nodes: &[Node]) -> Result<Chain, ChainError> {
    let known = by_id(nodes)?;
    no_circle(subject, &known)?;
    let mut chain = Chain { steps: Vec::new(), missing: Vec::new() };
    let mut asked = BTreeSet::new();
    let mut seen = BTreeSet::from([subject]);
    let mut queue = VecDeque::from([(subject, 0, Role::Itself, None::<&str>, true)]);
    while let Some((id, back, role, of, wanted)) = queue.pop_front() {
        let node = known.get(id).copied().ok_or_else(|| ChainError::NotGiven(id.to_owned()))?;
        chain.steps.push(Step { id: id.to_owned(), back, role, of: of.map(str::to_owned) });
        if wanted && asked.insert(id) {
            gaps(node, role, &mut chain.missing);
        }
        let wanted = wanted && !node.closed();
        for (next, step, role) in before(node) {
            if seen.insert(next) {
                queue.push_back((next, back + step, role, Some(id), wanted));
            }
        }
    }
    Ok(chain)
}

fn by_id(nodes: &[Node]) -> Result<BTreeMap<&str, &Node>, ChainError> {
    let mut known = BTreeMap::new();
    for node in nodes {
        if known.insert(node.id.as_str(), node).is_some() {
            return Err(ChainError::Twice(node.id.clone()));
        }
    }
    Ok(known)
}

/// What stands before a node: whom, how many generations back, and as what.
fn before(node: &Node) -> Vec<(&str, u32, Role)> {
    let mut all: Vec<(&str, u32, Role)> = node.out_of.iter().map(|id| (id.as_str(), 0, Role::OutOf)).collect();
    if let Some(brood) = &node.brood {
        all.extend(brood.dam.iter().map(|id| (id.as_str(), 1, Role::Dam)));
        let role = if brood.sires.len() > 1 { Role::PossibleSire } else { Role::Sire };
        all.extend(brood.sires.iter().map(|id| (id.as_str(), 1, role)));
    }
    all
}

/// Refuses whoever would descend from themselves; walks with a stack of its own, so that no depth is too deep.
fn no_circle<'a>(subject: &'a str, known: &BTreeMap<&'a str, &'a Node>) -> Result<(), ChainError> {
    let mut done = BTreeSet::new();
    let mut open = BTreeSet::new();
    let mut stack = vec![(subject, false)];
    while let Some((id, leaving)) = stack.pop() {
        if leaving {
            open.remove(id);
            done.insert(id);
            continue;
        }
        if open.contains(id) {
            return Err(ChainError::Circle(id.to_owned()));
        }
        if done.contains(id) {
            continue;
        }
        open.insert(id);
        stack.push((id, true));
        let node = known.get(id).copied().ok_or_else(|| ChainError::NotGiven(id.to_owned()))?;
        stack.extend(before(node).into_iter().map(|(next, _, _)| (next, false)));
    }
    Ok(())
}

/// What is missing at one node itself.
fn gaps(node: &Node, role: Role, missing: &mut Vec<Gap>) {
    let mut add = |text: String| missing.push(Gap { about: node.id.clone(), text });
    let who = match role {
        Role::Dam | Role::Sire | Role::PossibleSire => format!("{role} {}", node.name),
        Role::Itself | Role::OutOf => node.name.clone(),
    };
    let code = node.source.code;
    if node.acquired() && node.papers.is_empty() {
        add(format!("the acquisition paper of {who} (bought in, source {}) is missing", code.code()));
    } else if code == SourceCode::Unknown && node.papers.is_empty() {
        add(format!("the source of {who} is not known (code U): a paper that justifies it is missing"));
    }
    let Some(brood) = &node.brood else { return };
    if check_brood(code, brood.dam_mated_in_wild).is_err() {
        add(format!("source code {} of {who} cannot be: its dam was mated in the wild, so it is W or R", code.code()));
    }
    if node.closed() {
        return;
    }
    let mut parent = |what: &str, known: bool, stated: &str| match (known, stated.trim()) {
        (true, _) => {}
        (false, "") => add(format!("the {what} of {} is not known and not stated", brood.sac)),
        (false, stated) if node.papers.is_empty() => {
            add(format!("a paper of the {what} of {} (not one of this house's; stated: {stated}) is missing", brood.sac));
        }
        (false, _) => {}
    };
    parent("dam", brood.dam.is_some(), &brood.dam_stated);
    parent("sire", !brood.sires.is_empty(), &brood.sire_stated);
}

/// A node in a pedigree: known by its id, told by its name.
#[derive(Debug, Clone)]
struct Called {
    id: String,
    name: String,
}

impl Called {
    fn of(node: &Node) -> Self {
        Self { id: node.id.clone(), name: node.name.clone() }
    }
}

impl PartialEq for Called {
    fn eq(&self, other: &Self) -> bool {
        self.id == other.id
    }
}

impl Eq for Called {}

impl PartialOrd for Called {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Called {
    fn cmp(&self, other: &Self) -> Ordering {
        self.id.cmp(&other.id)
    }
}

impl Hash for Called {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.id.hash(state);
    }
}

impl fmt::Display for Called {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}

/// The captive generation of each node, with the reason (CITES Res. Conf. 10.16). One of several possible sires counts only when all of
/// them are of one generation; else the generation is not known. A circle makes every generation unknown.
pub fn generations(nodes: &[Node]) -> BTreeMap<String, (Generation, String)> {
    let known: BTreeMap<&str, &Node> = nodes.iter().map(|node| (node.id.as_str(), node)).collect();
    // The sire who stands for all candidates of a brood, once they are known to be of one generation.
    let mut settled: BTreeMap<&str, &str> = BTreeMap::new();
    let mut told = BTreeMap::new();
    for _ in 0..MOST_ROUNDS {
        let recorded: Vec<Recorded<Called>> = nodes.iter().map(|node| recorded(node, &known, &settled)).collect();
        let Ok(all) = captive_generations(&recorded) else { return BTreeMap::new() };
        told = all.into_iter().map(|of| (of.id.id, (of.generation, of.reason))).collect();
        let more: Vec<(&str, &str)> =
            nodes.iter().filter(|node| !settled.contains_key(node.id.as_str())).filter_map(|node| agreed(node, &told)).collect();
        if more.is_empty() {
            break;
        }
        settled.extend(more);
    }
    told
}

fn recorded(node: &Node, known: &BTreeMap<&str, &Node>, settled: &BTreeMap<&str, &str>) -> Recorded<Called> {
    let root = root(node, known);
    let brood = root.brood.as_ref();
    let sire = brood.and_then(|brood| match brood.sires.as_slice() {
        [one] => Some(one.clone()),
        _ => settled.get(root.id.as_str()).map(|id| (*id).to_owned()),
    });
    let given = |id: Option<String>| id.and_then(|id| known.get(id.as_str()).copied()).map(Called::of);
    let origin = match node.source.code {
        SourceCode::Wild | SourceCode::Ranched => Origin::Wild,
        SourceCode::Captive | SourceCode::Born => Origin::Captive,
        SourceCode::Unknown | SourceCode::Seized => Origin::Unknown,
    };
    Recorded {
        individual: Individual { id: Called::of(node), dam: given(brood.and_then(|brood| brood.dam.clone())), sire: given(sire) },
        origin,
        mated_in_wild: brood.is_some_and(|brood| brood.dam_mated_in_wild),
    }
}

/// What a node was first counted as: the brood, or the batch that was bought.
fn root<'a>(node: &'a Node, known: &BTreeMap<&str, &'a Node>) -> &'a Node {
    let mut root = node;
    for _ in 0..known.len() {
        match root.out_of.as_ref().and_then(|id| known.get(id.as_str())) {
            Some(before) => root = before,
            None => break,
        }
    }
    root
}

/// The first of several possible sires, when all are of one known generation.
fn agreed<'a>(node: &'a Node, told: &BTreeMap<String, (Generation, String)>) -> Option<(&'a str, &'a str)> {
    let brood = node.brood.as_ref().filter(|brood| brood.sires.len() > 1)?;
    let mut all = brood.sires.iter().map(|sire| told.get(sire).map_or(Generation::Unknown, |(generation, _)| *generation));
    let first = all.next().filter(|generation| *generation != Generation::Unknown)?;
    all.all(|generation| generation == first).then_some(())?;
    Some((node.id.as_str(), brood.sires.first()?.as_str()))
}
