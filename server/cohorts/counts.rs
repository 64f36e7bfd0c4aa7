//! What several forms about cohorts ask for: counts by stage (one box a stage, empty where nobody counted), and a code.

use crate::house::forms::Check;
use crate::reckoning::breeding::counts::Tally;
use crate::reckoning::ledger::{Bucket, Line};
use crate::reckoning::stage::Stage;

/// More than any sac or batch holds at one stage.
pub const MOST: u32 = 3000;

/// One box of a count.
#[derive(Debug, Clone)]
pub struct CountBox {
    /// The stage.
    pub stage: Stage,
    /// What was typed, or stands there.
    pub typed: String,
}

/// Every stage that the cohort has had, and the one after the last.
#[must_use]
pub fn stages(lines: &[Line]) -> Vec<Stage> {
    let seen: Vec<Stage> = Stage::all().filter(|stage| lines.iter().any(|line| line.to == Bucket::Stage(*stage))).collect();
    let next = seen.last().and_then(|last| last.next());
    seen.into_iter().chain(next).collect()
}

/// The boxes for these stages, with what was typed in each.
#[must_use]
pub fn boxes(stages: &[Stage], typed_stages: &[String], typed_counts: &[String]) -> Vec<CountBox> {
    stages
        .iter()
        .map(|stage| {
            let code = stage.code();
            let typed = typed_stages.iter().zip(typed_counts).find(|(typed, _)| **typed == code).map(|(_, count)| count.clone());
            CountBox { stage: *stage, typed: typed.unwrap_or_default() }
        })
        .collect()
}

/// Whether anything was typed in any of the boxes.
#[must_use]
pub fn any_typed(boxes: &[CountBox]) -> bool {
    boxes.iter().any(|one| !one.typed.trim().is_empty())
}

/// Reads the boxes: the stages that were counted, with how many. Every mistake is noted at the field `count`.
pub fn read(check: &mut Check, typed_stages: &[String], typed_counts: &[String]) -> Vec<(Stage, u32)> {
    read_at(check, "count", typed_stages, typed_counts)
}

/// The same with every mistake noted at another field, where a form holds several counts.
pub fn read_at(check: &mut Check, field: &'static str, typed_stages: &[String], typed_counts: &[String]) -> Vec<(Stage, u32)> {
    if typed_stages.len() != typed_counts.len() {
        check.add(field, "The counts came without their stages. Open the page again.");
        return Vec::new();
    }
    let mut found: Vec<(Stage, u32)> = Vec::new();
    for (stage, count) in typed_stages.iter().zip(typed_counts) {
        let Ok(stage) = stage.parse::<Stage>() else {
            check.add(field, "One count is of a stage that the book does not know. Open the page again.");
            continue;
        };
        if found.iter().any(|(seen, _)| *seen == stage) {
            check.add(field, format!("Each stage is counted once; {stage} is here twice."));
        } else if !count.trim().is_empty() {
            match count.trim().parse::<u32>() {
                Ok(number) if number <= MOST => found.push((stage, number)),
                _ => check.add(field, format!("At {stage}: enter a whole number from 0 to {MOST}, or leave it empty.")),
            }
        }
    }
    found
}

/// A code as typed, in capitals; none when it was left empty.
pub fn code(check: &mut Check, typed: &str) -> Option<String> {
    let code = check.optional_text("code", typed, 20)?.to_uppercase();
    if code.is_empty() {
        return None;
    }
    if code.chars().count() < 2 || !code.chars().all(|letter| letter.is_ascii_alphanumeric() || "-./".contains(letter)) {
        check.add("code", "A code has 2 to 20 letters, digits, hyphens, dots or strokes. Leave it empty and one is made.");
        return None;
    }
    Some(code)
}

/// Two counts by stage, and a third where those did not agree, as typed: one box a stage and count.
#[derive(Debug, Default, Clone)]
pub struct Twice<'a> {
    /// The stages of the boxes, in their order.
    pub stages: &'a [String],
    /// What was typed for each count: first, second, third.
    pub counts: [&'a [String]; 3],
}

/// The boxes of a form that asks for two counts, and for a third where they do not agree.
#[derive(Debug, Clone)]
pub struct Boxes {
    /// Those of the first count.
    pub first: Vec<CountBox>,
    /// Those of the second.
    pub second: Vec<CountBox>,
    /// Those of the third.
    pub third: Vec<CountBox>,
}

/// The counts that agree.
#[derive(Debug, Clone)]
pub struct Counted {
    /// How many were alive in all, by each count.
    pub tally: Tally,
    /// How many at each stage, by the count that is taken: the last.
    pub counts: Vec<(Stage, u32)>,
}

/// The fields of the three counts.
const COUNTS: [&str; 3] = ["count", "second", "third"];

impl Twice<'_> {
    /// The boxes of all counts for these stages.
    #[must_use]
    pub fn boxes(&self, stages: &[Stage]) -> Boxes {
        let [first, second, third] = self.counts.map(|counts| boxes(stages, self.stages, counts));
        Boxes { first, second, third }
    }

    /// Whether a count was made at all.
    fn made(&self, which: usize) -> bool {
        self.counts.get(which).is_some_and(|counts| counts.iter().any(|count| !count.trim().is_empty()))
    }

    /// Reads the counts; a third one is asked for when the first two do not agree. Every mistake is noted at its count.
    pub fn read(&self, check: &mut Check) -> Option<Counted> {
        let mut read = Vec::new();
        for (which, field) in COUNTS.into_iter().enumerate() {
            let typed = self.counts.get(which).copied().unwrap_or_default();
            // A count that was not made sends no boxes at all, or empty ones.
            let counted = if which == 0 || self.made(which) { read_at(check, field, self.stages, typed) } else { Vec::new() };
            read.push(counted);
        }
        if !check.ok() {
            return None;
        }
        if !self.made(1) && self.made(0) {
            check.add("second", "Count a second time, without looking at the first, and enter it.");
            return None;
        }
        let total = |which: usize| read.get(which).map_or(0, |counts| counts.iter().map(|(_, count)| count).sum::<u32>());
        let tally = Tally { first: total(0), second: total(1), third: self.made(2).then(|| total(2)) };
        if let Some(ask) = tally.ask() {
            check.add("third", ask);
            return None;
        }
        Some(Counted { tally, counts: read.into_iter().nth(if self.made(2) { 2 } else { 1 }).unwrap_or_default() })
    }
}
