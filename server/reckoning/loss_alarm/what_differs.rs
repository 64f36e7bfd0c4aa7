//! What is different about a cohort that is losing too many: the cause, the rack, the climate, the feeding, the sac. Only
//! what the figures show is said.
//!
//! Several things are looked at, so each must be rarer than [`NAMED_BY_CHANCE`] divided by their number (Bonferroni):
//! where nothing differs, something is named in at most that share of cohorts.

use serde::{Deserialize, Serialize};

use super::baseline::Usual;
use super::window::{chance_words, few};
use crate::reckoning::rates::{beta_binomial_upper_tail, binomial_upper_tail};
use crate::reckoning::words::LossCause;

/// How often something at most is named where nothing differs.
pub const NAMED_BY_CHANCE: f64 = 0.05;
/// Fewer than this many are never named.
const LEAST: u64 = 3;
/// Days out of range come in spells, so that one day tells little beside the next: so many count as one.
const SPELL_DAYS: u64 = 3;

/// The losses by one cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseCount {
    /// The cause.
    pub cause: LossCause,
    /// How many in the window.
    pub lost: u32,
    /// How many in the baseline.
    pub usual: u32,
}

/// Cohorts that share something with this one, but not this one itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// What they share, in words: “rack B”, “sac S-12”.
    pub name: String,
    /// How many they lost in the window.
    pub lost: u32,
    /// How many are usual.
    pub usual: Usual,
    /// How many all other cohorts of the house lost in the window, and how many are usual.
    pub elsewhere: Option<Elsewhere>,
}

/// The cohorts that share nothing of the kind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Elsewhere {
    /// How many they lost in the window.
    pub lost: u32,
    /// How many are usual.
    pub usual: f64,
}

/// Days on which the rack's climate was out of range.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClimateDays {
    /// What was out, in words: “below 22 °C”.
    pub what: String,
    /// How many days in the window.
    pub out: u32,
    /// Of how many with readings.
    pub of: u32,
    /// How many days before the window.
    pub out_before: u32,
    /// Of how many with readings.
    pub of_before: u32,
}

/// Days between feedings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FeedingGap {
    /// The longest between two feedings in the window.
    pub longest: u32,
    /// The most that the care profile has.
    pub usual_most: u32,
}

/// What is known about a cohort's losses. What is not known is left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {
    /// Its losses by cause, in the window and in the baseline; each cause once.
    pub causes: Vec<CauseCount>,
    /// The other cohorts of its rack or shelf.
    pub rack: Option<Group>,
    /// The other cohorts of its sac, or of its supplier's batch.
    pub sac: Option<Group>,
    /// The climate of its rack.
    pub climate: Option<ClimateDays>,
    /// Its feedings.
    pub feeding: Option<FeedingGap>,
}

/// What differs, a sentence each, with its figures; nothing when the figures show nothing.
///
/// Cause: its share of the window's losses against its share of the baseline's, that share as uncertain as its count
/// leaves it (beta-binomial tail). Rack and sac: their losses against the usual (negative binomial tail), and against
/// those elsewhere, so that a house that loses everywhere does not blame a rack (binomial tail). Climate: its days out of
/// range against those before, three days as one. Feeding: a gap of more than one and a half times the most, and two days
/// beyond it (common practice, no source); it is no test and has no chance.
pub fn what_differs(evidence: &Evidence) -> Vec<String> {
    let told = |count: &&CauseCount| !matches!(count.cause, LossCause::Unknown | LossCause::Escape);
    let causes: Vec<&CauseCount> = evidence.causes.iter().filter(told).filter(|count| count.lost.max(count.usual) > 0).collect();
    let groups = [&evidence.rack, &evidence.sac].into_iter().flatten();
    let tests = causes.len() + groups.clone().count() + usize::from(evidence.climate.is_some());
    let limit = NAMED_BY_CHANCE / tests.max(1) as f64;
    let all = |count: fn(&CauseCount) -> u32| {
        evidence.causes.iter().filter(|count| count.cause != LossCause::Escape).map(|cause| u64::from(count(cause))).sum()
    };
    let (lost, usual) = (all(|count| count.lost), all(|count| count.usual));
    let mut found: Vec<(f64, String)> = causes.iter().filter_map(|count| by_cause(count, lost, usual)).collect();
    found.extend(groups.filter_map(in_group));
    found.extend(evidence.climate.as_ref().and_then(by_climate));
    found.retain(|(chance, _)| *chance < limit);
    found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let sentences = found.into_iter().map(|(chance, sentence)| format!("{sentence} (chance {})", chance_words(chance)));
    sentences.chain(evidence.feeding.and_then(by_feeding)).collect()
}

fn by_cause(count: &CauseCount, lost: u64, usual: u64) -> Option<(f64, String)> {
    let (here, before) = (u64::from(count.lost), u64::from(count.usual));
    let chance = beta_binomial_upper_tail(here, lost, before, usual - before).ok().filter(|_| here >= LEAST)?;
    Some((chance, format!("{}: {here} of {lost}, where {before} of {usual} are usual", count.cause)))
}

fn in_group(group: &Group) -> Option<(f64, String)> {
    let lost = u64::from(group.lost);
    if lost < LEAST {
        return None;
    }
    let beyond_usual = group.usual.chance(lost);
    let beyond_elsewhere = group.elsewhere.and_then(|elsewhere| {
        let share = group.usual.mean / (group.usual.mean + elsewhere.usual);
        binomial_upper_tail(lost, lost + u64::from(elsewhere.lost), share).ok()
    });
    let words = format!("{}: its other cohorts lost {lost}, where {} are usual", group.name, few(group.usual.mean));
    let words = match group.elsewhere {
        Some(elsewhere) => format!("{words}; elsewhere {} were lost, where {} are usual", elsewhere.lost, few(elsewhere.usual)),
        None => words,
    };
    Some((beyond_elsewhere.unwrap_or(0.0).max(beyond_usual), words))
}

fn by_climate(days: &ClimateDays) -> Option<(f64, String)> {
    let ClimateDays { what, out, of, out_before, of_before } = days;
    let spells = |days: &u32| u64::from(*days) / SPELL_DAYS;
    let (spells_out, spells_before) = (spells(out), u64::from(*out_before).div_ceil(SPELL_DAYS));
    let in_range_before = spells(of_before).saturating_sub(spells_before);
    let chance = beta_binomial_upper_tail(spells_out, spells(of), spells_before, in_range_before).ok().filter(|_| spells_out > 0)?;
    Some((chance, format!("climate: {what} on {out} of {of} days, and on {out_before} of {of_before} before")))
}

fn by_feeding(gap: FeedingGap) -> Option<String> {
    let FeedingGap { longest, usual_most } = gap;
    let beyond = u64::from(longest) * 2 > u64::from(usual_most) * 3 && longest >= usual_most.saturating_add(2);
    beyond.then(|| format!("feeding: {longest} days between two feedings, where at most {usual_most} are usual"))
}
