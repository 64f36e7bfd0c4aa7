//! Reconciling what was taken along to sell: out = sold + returned + dead + missing, for each line and in total
//! (common practice, no source).

use serde::{Deserialize, Serialize};

/// One line of what went out, with what became of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// What it is: a tag, or a cohort's code and stage.
    #[serde(default)]
    pub label: String,
    /// How many went out.
    pub out: u32,
    /// How many were sold.
    pub sold: u32,
    /// How many came back alive.
    pub returned: u32,
    /// How many died.
    pub dead: u32,
    /// How many were found missing; none: as many as are not accounted for otherwise.
    pub missing: Option<u32>,
}

/// A line, or the total, as it adds up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Sum {
    /// What it is.
    pub label: String,
    /// How many went out.
    pub out: u64,
    /// How many were sold.
    pub sold: u64,
    /// How many came back alive.
    pub returned: u64,
    /// How many died.
    pub dead: u64,
    /// How many are missing.
    pub missing: u64,
    /// Out less all the others: above 0 so many are not accounted for, below 0 so many more are than went out.
    pub difference: i64,
    /// The same in words.
    pub text: String,
}

/// What became of everything that went out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reconciled {
    /// Whether every line adds up.
    pub reconciled: bool,
    /// The lines, in the order given.
    pub lines: Vec<Sum>,
    /// All lines together.
    pub total: Sum,
}

/// Adds up what became of each line and of all together. Two lines whose differences cancel out are two differences.
pub fn reconcile(lines: &[Line]) -> Reconciled {
    let lines: Vec<Sum> = lines.iter().map(line).collect();
    let all = |of: fn(&Sum) -> u64| lines.iter().map(of).sum::<u64>();
    let total = sum(
        "all".to_owned(),
        all(|line| line.out),
        [all(|line| line.sold), all(|line| line.returned), all(|line| line.dead), all(|line| line.missing)],
    );
    Reconciled { reconciled: lines.iter().all(|line| line.difference == 0), lines, total }
}

fn line(line: &Line) -> Sum {
    let known = u64::from(line.sold) + u64::from(line.returned) + u64::from(line.dead);
    let missing = line.missing.map_or_else(|| u64::from(line.out).saturating_sub(known), u64::from);
    sum(line.label.clone(), line.out.into(), [line.sold.into(), line.returned.into(), line.dead.into(), missing])
}

fn sum(label: String, out: u64, [sold, returned, dead, missing]: [u64; 4]) -> Sum {
    let accounted = sold + returned + dead + missing;
    let whole = |number: u64| i64::try_from(number).unwrap_or(i64::MAX);
    let difference = whole(out).saturating_sub(whole(accounted));
    let told = format!("sold {sold} + returned {returned} + dead {dead} + missing {missing}");
    let text = match difference {
        0 => format!("out {out} = {told}"),
        short @ 1.. => format!("out {out}, but {told} = {accounted}: {short} not accounted for"),
        over => format!("out {out}, but {told} = {accounted}: {} more than went out", over.saturating_neg()),
    };
    Sum { label, out, sold, returned, dead, missing, difference, text }
}
