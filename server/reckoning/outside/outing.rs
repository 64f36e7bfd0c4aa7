//! Reconciling an outing.

use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::outing::{Line, Reconciled, reconcile};

pub(super) const OUTING: Entry = Entry {
    names: &["outing"],
    about: "whether what was taken along to sell adds up: out = sold + returned + dead + missing",
    input: r#"{"lines": [{"label": "C-3, second instar", "out": 120, "sold": 74, "returned": 44, "dead": 1, "missing": 1}]}
Numbers of animals. Without "missing", those that are not accounted for otherwise are missing. "label" may be left out."#,
    output: r#"{"reconciled": true, "lines": [{"label", "out", "sold", "returned", "dead", "missing", "difference", "text"}],
"total": the same for all lines}: difference is out less the others, so 3 are not accounted for at 3, and 3 too many are at -3"#,
    formula: "out = sold + returned + dead + missing, for each line and in total; it is reconciled when every line is.",
    source: "common practice, no source",
    run: |text| run(text, |given: Given| Ok::<Reconciled, _>(reconcile(&given.lines))),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    lines: Rows<Line>,
}
