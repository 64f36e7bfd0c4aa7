//! A care profile as a table, and what differs between two of them.

use super::rules::{RULES, Rule, fast_words};
use crate::reckoning::words::LifeStage;
use crate::species::model::StageCare;
use crate::species::starter::StarterCare;

/// How figures without a source are marked.
pub const NO_SOURCE: &str = "common practice, no source";

/// One line of the table: what it is about, and its value for each life stage in order.
pub struct CareRow {
    /// What it is about.
    pub label: &'static str,
    /// Spiderling, juvenile, adult.
    pub values: [String; 3],
}

/// One difference between two revisions.
pub struct Changed {
    /// The life stage, or the whole species.
    pub stage: &'static str,
    /// What it is about.
    pub label: &'static str,
    /// As it was.
    pub before: String,
    /// As it became.
    pub after: String,
}

/// Reads one value of a life stage in words.
type InWords = fn(&StageCare) -> String;

const ROWS: [(&str, InWords); 15] = [
    ("Days between meals", |care| range(care.feed_min_days, care.feed_max_days)),
    ("Days between moults", |care| range(care.moult_min_days, care.moult_max_days)),
    ("Day temperature, °C", |care| range(care.day_min_c, care.day_max_c)),
    ("Relative humidity, %", |care| range(care.rh_min, care.rh_max)),
    ("Prey", |care| care.prey.clone()),
    ("Hours until uneaten prey is out", |care| care.uneaten_hours.to_string()),
    ("Water", |care| care.water.clone()),
    ("Days between waterings", |care| care.water_days.to_string()),
    ("Substrate", |care| care.substrate.clone()),
    ("Ventilation", |care| care.ventilation.clone()),
    ("Hide", |care| care.hide.clone()),
    ("Days between spot cleans", |care| care.clean_days.to_string()),
    ("Days between moult checks", |care| care.moult_check_days.to_string()),
    ("Days between cohort counts", |care| care.count_days.to_string()),
    ("Rests on", |care| care.basis.clone()),
];

fn range(least: impl std::fmt::Display, most: impl std::fmt::Display) -> String {
    format!("{least} to {most}")
}

/// The table of a revision, the rules that duties are planned by last.
pub fn rows(care: &StarterCare) -> Vec<CareRow> {
    let row = |(label, words): &(&'static str, InWords)| CareRow {
        label,
        values: [words(&care.spiderling), words(&care.juvenile), words(&care.adult)],
    };
    let stages = [&care.spiderling, &care.juvenile, &care.adult];
    let rule = |rule: &Rule| CareRow { label: rule.label, values: stages.map(|stage| rule.words(&stage.rules)) };
    ROWS.iter().map(row).chain(RULES.iter().map(rule)).collect()
}

/// The rules of the whole species: what each is about, and its value.
pub fn whole(care: &StarterCare) -> Vec<(&'static str, String)> {
    let rules = &care.whole;
    let or_house = |figure: Option<u32>| figure.map_or_else(|| "the house's settings".to_owned(), |figure| figure.to_string());
    let sac_after = rules.incubation.sac_after.map_or_else(|| "as its group".to_owned(), |(from, to)| format!("{from} to {to}"));
    let (least, most, risky) = rules.incubation.limits();
    vec![
        ("Days without food after a moult, by leg span", fast_words(&rules.fast)),
        ("Hours that a threat holds opening", or_house(rules.threat_open_hours)),
        ("Days that a threat holds rehousing", or_house(rules.threat_hands_in_days)),
        ("Days between checks of a pulled sac", rules.sacs.pulled_days.to_string()),
        ("Days between checks of a sac with its dam", rules.sacs.with_dam_days.to_string()),
        ("Turns of a pulled sac a day, until legs are out", rules.sacs.turns.to_string()),
        ("Days from pairing to sac", sac_after),
        ("A sac is kept from, to, and at risk above, °C", format!("{least}, {most}, {risky}")),
    ]
}

/// Whether every stage rests on common practice alone.
pub fn without_source(care: &StarterCare) -> bool {
    LifeStage::ALL.iter().all(|stage| care.of(*stage).basis == NO_SOURCE)
}

/// What differs, in the order of the table.
pub fn changes(before: &StarterCare, after: &StarterCare) -> Vec<Changed> {
    let mut found = Vec::new();
    for &stage in LifeStage::ALL {
        for &(label, words) in &ROWS {
            let (before, after) = (words(before.of(stage)), words(after.of(stage)));
            if before != after {
                found.push(Changed { stage: stage.label(), label, before, after });
            }
        }
        for rule in &RULES {
            let (before, after) = (rule.words(&before.of(stage).rules), rule.words(&after.of(stage).rules));
            if before != after {
                found.push(Changed { stage: stage.label(), label: rule.label, before, after });
            }
        }
    }
    let both = whole(before).into_iter().zip(whole(after)).filter(|(before, after)| before != after);
    found.extend(both.map(|((label, before), (_, after))| Changed { stage: "whole species", label, before, after }));
    found
}
