//! Survival curves, and the comparison of groups.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::survival::{self, Followed, Group, LEVEL_NOTE, LogRank, LogRankError, Observation, SurvivalError};

pub(super) const KAPLAN_MEIER: Entry = Entry {
    names: &["kaplan_meier", "survival"],
    about: "the share of a group alive day by day, with limits, median and mean",
    input: r#"{"observations": [{"day": 6, "count": 3, "event": "lost"}, {"day": 9, "count": 1, "event": "left"}],
  "entries": [{"day": 0, "count": 4}], "tau": 30}
"day" in whole days since day 0; "event" is lost or left. "entries" (all from day 0) and "tau" (the last day observed) may be left out."#,
    output: r#"{"times", "at_risk", "lost", "survival", "std_error", "lower_95", "upper_95"}: one place for each day with a loss; shares from 0 to 1, null
where not defined. "median", "restricted_mean", "restricted_mean_tau", "last_day": days. "entered", "total_lost", "total_left": animals.
"summary", "cautions": words"#,
    formula: "S(t) = product of 1 − d/n over days up to t, d lost of n at risk; losses before leavings on a day. Standard error: S·√(Σ d/(n(n − d))).
Limits: S^exp(±1.959964·√(Σ d/(n(n − d)))/|ln S|). Median: first day with S ≤ 0.5. Restricted mean: area under S from 0 to tau.
With entries, those in on or before a day are at risk on it.",
    source: "Kaplan & Meier 1958; Greenwood 1926; Kalbfleisch & Prentice 1980; Klein & Moeschberger, Survival Analysis (from memory)",
    run: |text| run(text, curve),
};

pub(super) const LOG_RANK: Entry = Entry {
    names: &["log_rank"],
    about: "whether groups die at different speeds",
    input: r#"{"groups": [{"label": "A", "observations": [{"day": 6, "count": 3, "event": "lost"}]},
  {"label": "B", "observations": [{"day": 2, "count": 1, "event": "lost"}, {"day": 9, "count": 8, "event": "left"}]}]}
2 to 100 groups, each as for kaplan_meier, with "entries" if they came in later than day 0."#,
    output: r#"{"chi_square", "p_value"} (null when the groups were never at risk together), "degrees_of_freedom", "observed_losses", "expected_losses" in
the order of the groups, "groups": [{"label", "observed", "expected", "p_value", "verdict"}], "summary", "level": words"#,
    formula:
        "Expected losses of a group: Σ d·n₁/n over days with d lost of n at risk, n₁ of them in the group. Chi-square: excesses over their
hypergeometric covariance; degrees of freedom: groups − 1. A group's p value is that of the group against all the others.",
    source: "Mantel 1966; Peto & Peto 1972; Klein & Moeschberger, Survival Analysis (from memory)",
    run: |text| run(text, compared),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GivenCurve {
    observations: Rows<Observation>,
    entries: Option<Rows<survival::Entry>>,
    tau: Option<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GivenGroup {
    label: String,
    observations: Rows<Observation>,
    entries: Option<Rows<survival::Entry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GivenGroups {
    groups: Rows<GivenGroup>,
}

fn followed(entries: Option<Rows<survival::Entry>>, ends: Rows<Observation>) -> Followed {
    Followed { entries: entries.map_or_else(Vec::new, |rows| rows.0), ends: ends.0 }
}

fn curve(given: GivenCurve) -> Result<survival::Survival, ReckonError> {
    survival::kaplan_meier(&followed(given.entries, given.observations), given.tau).map_err(|error| refused("", error))
}

fn compared(given: GivenGroups) -> Result<Value, ReckonError> {
    let groups = given.groups.0.into_iter();
    let groups = groups.map(|group| Group { label: group.label, followed: followed(group.entries, group.observations) });
    let groups: Vec<Group> = groups.collect();
    let found = survival::log_rank(&groups).map_err(|error| match error {
        LogRankError::Group { index, error, .. } => refused(&format!("groups[{index}]."), error),
        _ => ReckonError::field("groups", error),
    })?;
    Ok(show(&found))
}

fn show(found: &LogRank) -> Value {
    let observed: Vec<u32> = found.groups.iter().map(|group| group.observed).collect();
    let expected: Vec<f64> = found.groups.iter().map(|group| group.expected).collect();
    let groups = found.groups.iter().enumerate().map(|(index, group)| {
        json!({
            "label": group.label, "observed": group.observed, "expected": group.expected, "p_value": group.p_value,
            "verdict": found.verdict(index).map(|verdict| verdict.to_string()),
        })
    });
    json!({
        "chi_square": found.chi_square, "degrees_of_freedom": found.degrees_of_freedom, "p_value": found.p_value,
        "observed_losses": observed, "expected_losses": expected, "groups": groups.collect::<Vec<_>>(),
        "summary": found.summary(), "level": LEVEL_NOTE,
    })
}

/// A fault with the field it lies in.
fn refused(inside: &str, error: SurvivalError) -> ReckonError {
    let field = match error {
        SurvivalError::NoCount { row } => format!("observations[{row}].count"),
        SurvivalError::NoEntryCount { row } => format!("entries[{row}].count"),
        SurvivalError::Unbalanced { .. } | SurvivalError::GoneBeforeEntry { .. } => "entries".to_owned(),
        SurvivalError::Nothing | SurvivalError::TooMany => "observations".to_owned(),
        SurvivalError::NoTau => "tau".to_owned(),
    };
    ReckonError::field(format!("{inside}{field}"), error)
}
