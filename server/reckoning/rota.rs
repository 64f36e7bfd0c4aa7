//! Sharing out a day's duties.
//!
//! First as little urgency as can be is left unassigned; then nobody has a greater share of their minutes than needed;
//! then, where that changes neither, as few duties as can be change hands and each person goes to few racks. Nobody is
//! given a duty above their clearance, nor more than their minutes.
//!
//! Small rotas are searched completely; larger ones are filled, then improved by moving duties between people (common
//! practice: longest processing time first, Graham 1969, then exchanges). How far a rota can be from the best is told
//! by bounds, and there is neither clock nor chance in it, so that the same day is always shared out alike.

mod bounds;
mod coming;
mod desk;
mod exact;
mod fill;
mod knapsack;
mod plan;
mod problem;
mod reasons;
mod rework;
mod share;
mod solve;
mod tidy;

use std::collections::{BTreeMap, BTreeSet};

pub use coming::{ComingDay, ComingWork, NotDone, share_coming};
use problem::{Crew, Problem};
use share::Share;
use solve::Solved;

use super::cells::Cells;

/// Somebody who may take duties.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// The person.
    pub id: String,
    /// Their clearance.
    pub clearance: u8,
    /// The minutes that they have today.
    pub minutes: u32,
    /// Whether they are in today.
    pub present: bool,
}

/// A duty of the day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Duty {
    /// The duty.
    pub id: String,
    /// How long it takes, in minutes, each of those who do it.
    pub minutes: u32,
    /// The clearance that it needs. If it takes two, the second person may have one less.
    pub required_clearance: u8,
    /// How many people it takes: 1 or 2.
    pub people: u8,
    /// The rack that it is at.
    pub rack: String,
    /// How much is lost by leaving it unassigned; urgencies add up.
    pub urgency: u32,
    /// Somebody who must be among those who do it.
    pub pinned_to: Option<String>,
}

/// Why duties can't be shared out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RotaError {
    /// An id that stands for two people.
    #[error("{0} is listed twice; list each person once")]
    PersonTwice(String),
    /// An id that stands for two duties.
    #[error("{0} is listed twice; list each duty once")]
    DutyTwice(String),
    /// A duty that takes nobody, or more than two.
    #[error("{duty} takes {people} people; give 1 or 2")]
    People {
        /// The duty.
        duty: String,
        /// How many it was given.
        people: u8,
    },
}

/// A duty and those who do it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assigned {
    /// The duty.
    pub duty: String,
    /// One person, or two.
    pub people: Vec<String>,
}

/// A duty that nobody does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unassigned {
    /// The duty.
    pub duty: String,
    /// Why nobody does it.
    pub reason: String,
}

/// What somebody has to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// The person.
    pub person: String,
    /// Minutes of duties.
    pub minutes: u64,
    /// Out of the minutes that they have.
    pub of: u64,
    /// The one divided by the other; 0 for somebody without minutes.
    pub share: f64,
    /// The racks that they go to.
    pub racks: Vec<String>,
}

/// A day's duties shared out.
#[derive(Debug, Clone, PartialEq)]
pub struct Rota {
    /// Who does what, by duty.
    pub assignments: Vec<Assigned>,
    /// What nobody does, by duty, with the reason.
    pub unassigned: Vec<Unassigned>,
    /// The urgency of what nobody does.
    pub unassigned_weight: u64,
    /// No rota leaves less urgency unassigned.
    pub unassigned_weight_lower_bound: u64,
    /// The greatest share that anybody has of their minutes.
    pub max_load_share: f64,
    /// No rota that leaves as little unassigned has a lower greatest share.
    pub lower_bound: f64,
    /// Both values are as low as they can be.
    pub proven: bool,
    /// How many duties have other people than before, of those whose people could have kept them.
    pub moved: usize,
    /// What everybody who is in has to do, by person.
    pub loads: Vec<Load>,
}

/// Shares out a day's duties.
///
/// # Errors
/// A person or a duty listed twice; a duty that takes neither one nor two people.
pub fn share_out(people: &[Person], duties: &[Duty]) -> Result<Rota, RotaError> {
    share_out_near(people, duties, &BTreeMap::new())
}

/// Shares out a day's duties again. Of equally good rotas it takes one that is near an earlier one, given as the people
/// of each duty; what can't stay as it was is shared out anew.
///
/// # Errors
/// As for [`share_out`].
pub fn share_out_near(people: &[Person], duties: &[Duty], before: &BTreeMap<String, Vec<String>>) -> Result<Rota, RotaError> {
    let mut all: Vec<&Person> = people.iter().collect();
    all.sort_by(|one, other| one.id.cmp(&other.id));
    let mut duties: Vec<&Duty> = duties.iter().collect();
    duties.sort_by(|one, other| one.id.cmp(&other.id));
    check(&all, &duties)?;
    let present: Vec<&Person> = all.iter().filter(|person| person.present).copied().collect();
    let (problem, jobs) = Problem::new(&present, &duties);
    let day = Day { all, present, duties, jobs };
    let before = day.crews(&problem, before);
    let solved = solve::solve(&problem, &before);
    Ok(day.told(&solved, &before))
}

fn check(people: &[&Person], duties: &[&Duty]) -> Result<(), RotaError> {
    let twice =
        |ids: Vec<&String>| ids.windows(2).find_map(|two| (two.first() == two.last()).then(|| two.first().map(|id| shown(id))).flatten());
    if let Some(id) = twice(people.iter().map(|person| &person.id).collect()) {
        return Err(RotaError::PersonTwice(id));
    }
    if let Some(id) = twice(duties.iter().map(|duty| &duty.id).collect()) {
        return Err(RotaError::DutyTwice(id));
    }
    match duties.iter().find(|duty| !matches!(duty.people, 1 | 2)) {
        Some(duty) => Err(RotaError::People { duty: shown(&duty.id), people: duty.people }),
        None => Ok(()),
    }
}

/// An id as it is shown in a message: one line, at most 40 characters.
fn shown(id: &str) -> String {
    id.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// The people and the duties in the order of their ids.
struct Day<'a> {
    all: Vec<&'a Person>,
    present: Vec<&'a Person>,
    duties: Vec<&'a Duty>,
    /// By duty, its job.
    jobs: Vec<Option<usize>>,
}

impl Day<'_> {
    /// The crews of an earlier rota, by job. A crew that may no longer do its job counts as none.
    fn crews(&self, problem: &Problem, before: &BTreeMap<String, Vec<String>>) -> Vec<Crew> {
        let numbers: BTreeMap<&str, usize> = self.present.iter().enumerate().map(|(at, person)| (person.id.as_str(), at)).collect();
        let mut crews = vec![Crew::Nobody; problem.jobs.len()];
        for (duty, job) in self.duties.iter().zip(&self.jobs) {
            let people = before.get(&duty.id).map(Vec::as_slice).unwrap_or_default();
            let members: Vec<usize> = people.iter().filter_map(|id| numbers.get(id.as_str()).copied()).collect();
            let crew = match members.as_slice() {
                [one] => Crew::One(*one),
                [one, other] => Crew::two(*one, *other),
                _ => Crew::Nobody,
            };
            if let Some(job) = job.filter(|job| members.len() == people.len() && problem.may_do(&problem.jobs.at(*job), crew)) {
                crews.put(job, crew);
            }
        }
        crews
    }

    fn told(&self, solved: &Solved<'_>, before: &[Crew]) -> Rota {
        let plan = &solved.plan;
        let reasons = reasons::Reasons::new(&self.all, &self.present, &plan.loads);
        let never: u64 = self.duties.iter().zip(&self.jobs).filter(|(_, job)| job.is_none()).map(|(duty, _)| u64::from(duty.urgency)).sum();
        let (mut assignments, mut unassigned) = (Vec::new(), Vec::new());
        let mut racks: Vec<BTreeSet<&str>> = vec![BTreeSet::new(); self.present.len()];
        for (duty, job) in self.duties.iter().zip(&self.jobs) {
            let crew = job.map(|job| plan.crews.at(job)).unwrap_or_default();
            if crew == Crew::Nobody {
                unassigned.push(Unassigned { duty: duty.id.clone(), reason: reasons.why(duty) });
                continue;
            }
            let people = crew.members().filter_map(|member| self.present.get(member)).map(|person| person.id.clone()).collect();
            assignments.push(Assigned { duty: duty.id.clone(), people });
            for member in crew.members() {
                racks.get_mut(member).map(|racks| racks.insert(&duty.rack));
            }
        }
        let loads = self.present.iter().zip(&plan.loads).zip(racks).map(|((person, load), racks)| Load {
            person: person.id.clone(),
            minutes: *load,
            of: u64::from(person.minutes),
            share: Share::new(*load, u64::from(person.minutes)).value(),
            racks: racks.into_iter().map(str::to_owned).collect(),
        });
        Rota {
            assignments,
            unassigned,
            unassigned_weight: plan.weight + never,
            unassigned_weight_lower_bound: solved.weight_bound + never,
            max_load_share: plan.share().value(),
            lower_bound: solved.share_bound.value(),
            proven: plan.weight <= solved.weight_bound && plan.share() <= solved.share_bound,
            moved: tidy::moved(plan, before),
            loads: loads.collect(),
        }
    }
}
