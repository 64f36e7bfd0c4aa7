//! Sharing out a coming day, of which only the amount of work is known well.
//!
//! Work for one person at the same rack and clearance is added up and cut into pieces of at most twenty minutes, so that
//! chances of work (prey that may have to be cleared) count by their share, and so that many days are reckoned quickly.
//! Work for two stays as it is.

use std::collections::BTreeMap;

use super::{Duty, Load, Person, Rota, RotaError, share_out};

/// Pieces of work are at most so long, in minutes.
const PIECE_MINUTES: u32 = 20;

/// Work of a coming day.
#[derive(Debug, Clone, PartialEq)]
pub struct ComingWork {
    /// What it is, for messages.
    pub label: String,
    /// The rack that it is at.
    pub rack: String,
    /// Minutes for each of those who do it, on average.
    pub minutes: f64,
    /// The clearance that it needs. If it takes two, the second person may have one less.
    pub required_clearance: u8,
    /// How many people it takes: 1 or 2.
    pub people: u8,
}

/// Work for two that nobody would do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotDone {
    /// What it is.
    pub label: String,
    /// Why.
    pub reason: String,
    /// No two people of the clearance that it needs are in on that day.
    pub never_together: bool,
}

/// A coming day, shared out.
#[derive(Debug, Clone, PartialEq)]
pub struct ComingDay {
    /// Minutes of work, those of both people where it takes two.
    pub needed: f64,
    /// Minutes that people have.
    pub there: u64,
    /// Minutes of work that would be left undone: beyond what people have, or above their clearance.
    pub undone: u64,
    /// What everybody who is in would have to do, by person.
    pub loads: Vec<Load>,
    /// Work for two that would be left.
    pub not_done: Vec<NotDone>,
}

/// Shares out a coming day.
///
/// # Errors
/// As for [`share_out`].
pub fn share_coming(people: &[Person], work: &[ComingWork]) -> Result<ComingDay, RotaError> {
    let duties = pieces(work);
    let rota = share_out(people, &duties)?;
    let minutes_of = |id: &str| duties.iter().find(|duty| duty.id == id).map_or(0, |duty| u64::from(duty.minutes) * u64::from(duty.people));
    Ok(ComingDay {
        needed: work.iter().map(|work| minutes(work) * f64::from(work.people)).sum(),
        there: people.iter().filter(|person| person.present).map(|person| u64::from(person.minutes)).sum(),
        undone: rota.unassigned.iter().map(|left| minutes_of(&left.duty)).sum(),
        not_done: not_done(people, work, &rota),
        loads: rota.loads,
    })
}

/// Minutes that make sense.
fn minutes(work: &ComingWork) -> f64 {
    if work.minutes.is_finite() { work.minutes.clamp(0.0, 100_000.0) } else { 0.0 }
}

/// The id of work for two: its place in the list.
fn id_of_two(at: usize) -> String {
    format!("two-{at}")
}

fn pieces(work: &[ComingWork]) -> Vec<Duty> {
    let mut alone: BTreeMap<(&str, u8), f64> = BTreeMap::new();
    let mut duties = Vec::new();
    for (at, work) in work.iter().enumerate() {
        if work.people == 1 {
            *alone.entry((&work.rack, work.required_clearance)).or_default() += minutes(work);
            continue;
        }
        // At most a hundred thousand minutes: they fit.
        let each = minutes(work).ceil() as u32;
        duties.push(duty(id_of_two(at), &work.rack, (work.required_clearance, work.people), each));
    }
    for ((rack, clearance), minutes) in alone {
        // Work of a day is far below the largest number there is; more is cut off there.
        let mut left = minutes.ceil().min(f64::from(u32::MAX)) as u32;
        let mut piece = 0;
        while left > 0 {
            let part = left.min(PIECE_MINUTES);
            duties.push(duty(format!("{rack}-{clearance}-{piece:06}"), rack, (clearance, 1), part));
            left -= part;
            piece += 1;
        }
    }
    duties
}

fn duty(id: String, rack: &str, (required_clearance, people): (u8, u8), minutes: u32) -> Duty {
    let urgency = minutes.saturating_mul(u32::from(people));
    Duty { id, minutes, required_clearance, people, rack: rack.to_owned(), urgency, pinned_to: None }
}

fn not_done(people: &[Person], work: &[ComingWork], rota: &Rota) -> Vec<NotDone> {
    let left = |at: usize| rota.unassigned.iter().find(|left| left.duty == id_of_two(at));
    let for_two = work.iter().enumerate().filter(|(_, work)| work.people == 2);
    for_two
        .filter_map(|(at, work)| {
            let never_together = !are_in_together(people, work.required_clearance);
            Some(NotDone { label: work.label.clone(), reason: left(at)?.reason.clone(), never_together })
        })
        .collect()
}

/// Whether two people are in, one with the clearance and another with at most one less.
fn are_in_together(people: &[Person], clearance: u8) -> bool {
    let in_with = |least: u8| people.iter().filter(|person| person.present && person.clearance >= least).count();
    in_with(clearance) >= 1 && in_with(clearance.saturating_sub(1)) >= 2
}
