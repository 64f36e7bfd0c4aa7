//! Choosing which of a brood to hold back for breeding: so many, spread over size, of both sexes.
//!
//! Common practice, no source: 5 to 20 of a brood, from the small to the large and not only the largest, and as many males
//! as females as far as their sex is known. Sizes are leg spans, mm; one that nobody has measured is judged by its instar.

use std::cmp::Ordering;

use super::words::Sex;

/// The fewest that are usually held back of a brood (common practice, no source).
pub const USUAL_LEAST: u32 = 5;
/// The most that are usually held back of a brood (common practice, no source).
pub const USUAL_MOST: u32 = 20;

/// One animal, or so many of a cohort that are alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// The leg span, mm, measured or estimated; nothing where nobody has looked.
    pub span_mm: Option<u32>,
    /// The instar, where it is known: says how large one is that has no span.
    pub instar: Option<u32>,
    /// What it is known to be.
    pub sex: Sex,
    /// How many there are of it: 1 for a tagged animal.
    pub count: u32,
    /// Of these, how many are held back already.
    pub held: u32,
}

/// What is proposed of one candidate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The candidate, by its place in the list given.
    pub candidate: usize,
    /// How many of it to hold back beside those that are held already.
    pub take: u32,
    /// Why, in words.
    pub reason: String,
}

/// A proposal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spread {
    /// What to hold back, in the order of the candidates.
    pub choices: Vec<Choice>,
    /// How many are held already.
    pub held: u32,
    /// How many of those wanted can't be found: there are no more.
    pub missing: u32,
    /// What was weighed, in sentences without their stops.
    pub notes: Vec<String>,
}

/// One of a candidate.
#[derive(Debug, Clone, Copy)]
struct One {
    candidate: usize,
    size: Size,
    held: bool,
}

/// How large one is: by its span, else by its instar, else nobody knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Size {
    /// Leg span, mm.
    Span(u32),
    Instar(u32),
    Unknown,
}

/// Proposes which to hold back so that `wanted` are held altogether.
///
/// Of those with a known sex half may be female and half male; places that one sex can't fill go to the unsexed and then
/// to the other sex. In each of the three groups the places are the middles of so many equal parts of the group in order of
/// size, so that neither the runts nor the largest alone are kept; those held already fill the places nearest to them.
#[must_use]
pub fn spread(candidates: &[Candidate], wanted: u32) -> Spread {
    let mut groups = [Sex::Female, Sex::Male, Sex::Unknown].map(|sex| (sex, group(candidates, sex)));
    let there = groups.iter().map(|(_, group)| count(group.len())).fold(0, u32::saturating_add);
    let held = candidates.iter().map(|candidate| candidate.held.min(candidate.count)).fold(0, u32::saturating_add);
    let quotas = quotas(&groups, wanted.max(held).min(there));
    let mut choices: Vec<Choice> = Vec::new();
    let mut notes = vec![told_quotas(&groups, &quotas)];
    for ((sex, group), quota) in groups.iter_mut().zip(quotas) {
        group.sort_by(|one, other| one.size.cmp(&other.size).then(one.candidate.cmp(&other.candidate)));
        for (place, of, one) in picked(group, quota) {
            let reason = reason(*sex, one.size, place, of);
            match choices.iter_mut().find(|choice| choice.candidate == one.candidate) {
                Some(choice) => choice.take += 1,
                None => choices.push(Choice { candidate: one.candidate, take: 1, reason }),
            }
        }
    }
    choices.sort_by_key(|choice| choice.candidate);
    notes.extend(doubts(candidates));
    Spread { choices, held, missing: wanted.saturating_sub(there), notes }
}

fn group(candidates: &[Candidate], sex: Sex) -> Vec<One> {
    let of_sex = candidates.iter().enumerate().filter(|(_, candidate)| candidate.sex == sex);
    let ones = of_sex.flat_map(|(place, candidate)| {
        let size = candidate.span_mm.map(Size::Span).or(candidate.instar.map(Size::Instar)).unwrap_or(Size::Unknown);
        (0..candidate.count).map(move |number| One { candidate: place, size, held: number < candidate.held })
    });
    ones.collect()
}

/// How many of each group: females, males, unsexed. Never fewer than are held of it already.
fn quotas(groups: &[(Sex, Vec<One>); 3], wanted: u32) -> [u32; 3] {
    let there = groups.each_ref().map(|(_, group)| count(group.len()));
    let mut quotas = groups.each_ref().map(|(_, group)| count(group.iter().filter(|one| one.held).count()));
    let mut left = wanted.saturating_sub(quotas.iter().fold(0, |sum: u32, held| sum.saturating_add(*held)));
    let half = [wanted.div_ceil(2), wanted / 2, u32::MAX];
    // First the sexed up to half each, then the unsexed, then whoever is left.
    for most in [half, there] {
        for ((quota, there), most) in quotas.iter_mut().zip(there).zip(most) {
            let more = there.min(most).saturating_sub(*quota).min(left);
            *quota += more;
            left -= more;
        }
    }
    quotas
}

/// The places of a group that nobody fills yet, each with who fills it: (place from 1, of how many, who).
fn picked(group: &[One], quota: u32) -> Vec<(u32, u32, One)> {
    let length = count(group.len());
    let mut free: Vec<(u32, One)> = (0..length).zip(group.iter().copied()).filter(|(_, one)| !one.held).collect();
    let mut places: Vec<(u32, u32)> = (0..quota).map(|number| (number + 1, middle(number, quota, length))).collect();
    for (at, _) in (0..length).zip(group).filter(|(_, one)| one.held) {
        if let Some(nearest) = (0..places.len()).min_by_key(|place| places.get(*place).map(|(_, wanted)| wanted.abs_diff(at))) {
            places.remove(nearest);
        }
    }
    let mut picked = Vec::new();
    for (place, wanted) in places {
        let nearest = (0..free.len()).min_by_key(|number| free.get(*number).map(|(at, _)| at.abs_diff(wanted)));
        if let Some(number) = nearest {
            picked.push((place, quota, free.remove(number).1));
        }
    }
    picked
}

/// The middle of the n-th of so many equal parts of a list.
fn middle(number: u32, parts: u32, length: u32) -> u32 {
    let middle = (2 * u64::from(number) + 1) * u64::from(length) / (2 * u64::from(parts.max(1)));
    u32::try_from(middle).unwrap_or(u32::MAX).min(length.saturating_sub(1))
}

fn reason(sex: Sex, size: Size, place: u32, of: u32) -> String {
    let among = match sex {
        Sex::Female => "females",
        Sex::Male => "males",
        Sex::Unknown => "unsexed",
    };
    let size = match size {
        Size::Span(mm) => format!("{mm} mm"),
        Size::Instar(instar) => format!("instar {instar}, no span"),
        Size::Unknown => "size not known".to_owned(),
    };
    match (place, of) {
        (_, 1) => format!("{size}: the middle of the {among}"),
        (1, _) => format!("{size}: from the smallest of the {among}"),
        _ if place == of => format!("{size}: from the largest of the {among}"),
        _ => format!("{size}: place {place} of {of} from small to large among the {among}"),
    }
}

fn told_quotas(groups: &[(Sex, Vec<One>); 3], quotas: &[u32; 3]) -> String {
    let [females, males, unsexed] = quotas;
    let sexed: usize = groups.iter().filter(|(sex, _)| *sex != Sex::Unknown).map(|(_, group)| group.len()).sum();
    let balance = match females.cmp(males) {
        _ if sexed == 0 => "; none is sexed, so the sexes will be as chance has them: hold back more rather than fewer",
        Ordering::Equal => "",
        Ordering::Greater | Ordering::Less if females.abs_diff(*males) == 1 => "",
        Ordering::Greater => "; fewer males are known than would balance them",
        Ordering::Less => "; fewer females are known than would balance them",
    };
    format!("{females} females, {males} males and {unsexed} unsexed{balance}")
}

fn doubts(candidates: &[Candidate]) -> Vec<String> {
    let any = |test: fn(&&Candidate) -> bool| candidates.iter().filter(test).map(|of| of.count).fold(0, u32::saturating_add);
    let no_span = any(|of| of.span_mm.is_none() && of.instar.is_some());
    let unknown = any(|of| of.span_mm.is_none() && of.instar.is_none());
    let mut notes = Vec::new();
    if no_span > 0 {
        notes.push(format!("{no_span} have no leg span and are placed by their instar, after those that have one"));
    }
    if unknown > 0 {
        notes.push(format!("{unknown} have neither span nor instar and come last: measure them to place them"));
    }
    notes
}

fn count(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}
