//! What several forms about cohorts ask for: counts by stage (one box a stage, empty where nobody counted), and a code.

use crate::house::forms::Check;
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

/// Reads the boxes: the stages that were counted, with how many. Every mistake is noted at the field `count`.
pub fn read(check: &mut Check, typed_stages: &[String], typed_counts: &[String]) -> Vec<(Stage, u32)> {
    if typed_stages.len() != typed_counts.len() {
        check.add("count", "The counts came without their stages. Open the page again.");
        return Vec::new();
    }
    let mut found: Vec<(Stage, u32)> = Vec::new();
    for (stage, count) in typed_stages.iter().zip(typed_counts) {
        let Ok(stage) = stage.parse::<Stage>() else {
            check.add("count", "One count is of a stage that the book does not know. Open the page again.");
            continue;
        };
        if found.iter().any(|(seen, _)| *seen == stage) {
            check.add("count", format!("Each stage is counted once; {stage} is here twice."));
        } else if !count.trim().is_empty() {
            match count.trim().parse::<u32>() {
                Ok(number) if number <= MOST => found.push((stage, number)),
                _ => check.add("count", format!("At {stage}: enter a whole number from 0 to {MOST}, or leave it empty.")),
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
