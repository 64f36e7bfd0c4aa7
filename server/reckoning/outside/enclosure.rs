//! Sizes of enclosures.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::enclosure::{needed_size, rehouse_due, too_large_for_spiderling};

pub(super) const ENCLOSURE: Entry = Entry {
    names: &["enclosure"],
    about: "what an enclosure must measure for a leg span, and whether one is outgrown",
    input: r#"{"span_mm": 60, "length_mm": 150}: diagonal leg span, and the inner floor length of its enclosure, which may be left out"#,
    output: r#"{"needed": {"length_mm": 180, "width_mm": 120, "fall_gap_mm": 90}, "due": true, "too_large_for_spiderling": false}:
least length and width, greatest gap from substrate to lid; the rest is null without a length"#,
    formula: "Length 3 × span, width 2 × span, gap 1.5 × span rounded down. A rehouse is due when the span is more than a third of the length; a box is too large for a spiderling when it is over 8 × span long.",
    source: "common practice, no source",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    span_mm: u32,
    length_mm: Option<u32>,
}

fn reckon(Given { span_mm, length_mm }: Given) -> Result<Value, ReckonError> {
    if span_mm == 0 {
        return Err(ReckonError::field("span_mm", "a leg span must be at least 1 mm"));
    }
    Ok(json!({
        "needed": needed_size(span_mm),
        "due": length_mm.map(|length| rehouse_due(span_mm, length)),
        "too_large_for_spiderling": length_mm.map(|length| too_large_for_spiderling(span_mm, length)),
    }))
}
