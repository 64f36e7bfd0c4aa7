//! Lines: which closed group of the house an animal or a brood belongs to.
//!
//! The rule is common practice, no source: young of two parents of one line are of that line; young of two lines are mixed
//! of both; where one parent is of no line, or is not known, the young are of the other's line only in part. What somebody
//! said of an animal or a cohort goes before what follows from its parents.

use std::collections::BTreeSet;

/// Of which lines one is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Strains {
    /// The lines.
    pub lines: BTreeSet<i64>,
    /// Whether a part is of no line, or of an ancestor that nobody knows.
    pub outside: bool,
}

impl Strains {
    /// Of one line.
    #[must_use]
    pub fn of_line(line: i64) -> Self {
        Self { lines: BTreeSet::from([line]), outside: false }
    }

    /// Of none.
    #[must_use]
    pub fn none() -> Self {
        Self { lines: BTreeSet::new(), outside: true }
    }

    /// The one line that all of it is of, if there is one.
    #[must_use]
    pub fn pure(&self) -> Option<i64> {
        if self.outside || self.lines.len() > 1 { None } else { self.lines.first().copied() }
    }

    /// In words, such as “Colima”, “mixed of Colima and Jalisco”, “Colima in part”, “no line”. `name` tells what a line is called.
    #[must_use]
    pub fn told(&self, name: impl Fn(i64) -> String) -> String {
        let names: Vec<String> = self.lines.iter().map(|line| name(*line)).collect();
        match (names.as_slice(), self.outside) {
            ([], _) => "no line".to_owned(),
            ([one], false) => one.clone(),
            ([one], true) => format!("{one} in part, the rest of no line"),
            ([first @ .., last], outside) => {
                let rest = if outside { ", the rest of no line" } else { "" };
                format!("mixed of {} and {last}{rest}", first.join(", "))
            }
        }
    }

    fn and(mut self, other: &Self) -> Self {
        self.lines.extend(&other.lines);
        self.outside |= other.outside;
        self
    }
}

/// Where one comes from. Numbers are places in the list that is asked about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Came {
    /// From outside: bought in.
    Outside,
    /// Out of another one, which it is a part of: tagged out of a cohort, split off a cohort.
    OutOf(usize),
    /// From a sac: its dam if she is known, and every male that may have sired it.
    Sac {
        /// The dam.
        dam: Option<usize>,
        /// The males.
        sires: Vec<usize>,
    },
}

/// An animal or a cohort.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// What was said last: of a line, or (`Some(None)`) of none. Nothing where nobody said anything.
    pub said: Option<Option<i64>>,
    /// Where it comes from.
    pub came: Came,
}

/// Of which lines the young of a dam and of the males that may have sired them are. An unknown parent is of no line.
#[must_use]
pub fn young(dam: Option<&Strains>, sires: &[&Strains]) -> Strains {
    let of_dam = dam.cloned().unwrap_or_else(Strains::none);
    if sires.is_empty() {
        return of_dam.and(&Strains::none());
    }
    sires.iter().fold(of_dam, |so_far, sire| so_far.and(sire))
}

/// Of which lines each one is, in the order given. Whoever would descend from itself is of none.
#[must_use]
pub fn strains(members: &[Member]) -> Vec<Strains> {
    let mut known: Vec<Option<Strains>> = vec![None; members.len()];
    for place in 0..members.len() {
        settle(members, &mut known, place);
    }
    known.into_iter().map(Option::unwrap_or_default).collect()
}

/// Works one out, its ancestors first, without going in circles: what is being worked out already counts as of none.
fn settle(members: &[Member], known: &mut [Option<Strains>], place: usize) {
    let mut waiting = vec![place];
    let mut open = BTreeSet::new();
    while let Some(now) = waiting.last().copied() {
        let Some(member) = members.get(now).filter(|_| known.get(now).is_some_and(Option::is_none)) else {
            waiting.pop();
            continue;
        };
        let first = open.insert(now);
        let unknown = |of: &usize| known.get(*of).is_some_and(Option::is_none) && !open.contains(of);
        let needed: Vec<usize> = needed(member).into_iter().filter(|of| first && unknown(of)).collect();
        if needed.is_empty() {
            let answer = reckoned(member, known);
            if let Some(cell) = known.get_mut(now) {
                *cell = Some(answer);
            }
            waiting.pop();
        } else {
            waiting.extend(needed);
        }
    }
}

fn needed(member: &Member) -> Vec<usize> {
    match (&member.said, &member.came) {
        (Some(_), _) | (None, Came::Outside) => Vec::new(),
        (None, Came::OutOf(of)) => vec![*of],
        (None, Came::Sac { dam, sires }) => dam.iter().chain(sires).copied().collect(),
    }
}

fn reckoned(member: &Member, known: &[Option<Strains>]) -> Strains {
    let of = |place: &usize| known.get(*place).and_then(Option::as_ref);
    match (&member.said, &member.came) {
        (Some(Some(line)), _) => Strains::of_line(*line),
        (Some(None), _) | (None, Came::Outside) => Strains::none(),
        (None, Came::OutOf(from)) => of(from).cloned().unwrap_or_else(Strains::none),
        (None, Came::Sac { dam, sires }) => {
            let sires: Vec<&Strains> = sires.iter().filter_map(of).collect();
            young(dam.as_ref().and_then(of), &sires)
        }
    }
}
