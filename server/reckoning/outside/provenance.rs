//! Source codes.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::provenance::{Source, SourceError, check_brood, check_source};

pub(super) const PROVENANCE: Entry = Entry {
    names: &["provenance"],
    about: "whether a source code can be a spider's, given where its dam was mated",
    input: r#"{"source": "C/O", "dam_mated_in_wild": false}: the source as typed, O beside it for pre-Convention; false may be left out"#,
    output: r#"{"accepted": true, "code": "C", "pre_convention": true, "meaning", "reason": null}; where it is not accepted, the reason,
and null for the rest"#,
    formula: "W, R, C, F, U and I are codes of spiders; A, Y, X and D never are; O stands beside another code. The brood of a dam that was mated in the wild is not C or F.",
    source: "CITES Res. Conf. 12.3 and 50 CFR 23.24; CITES Notification 1998/14",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    source: String,
    #[serde(default)]
    dam_mated_in_wild: bool,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    Ok(match accepted(&given) {
        Ok(Source { code, pre_convention }) => json!({
            "accepted": true, "code": code, "pre_convention": pre_convention, "meaning": code.label(), "reason": null,
        }),
        Err(reason) => json!({
            "accepted": false, "code": null, "pre_convention": null, "meaning": null, "reason": reason.to_string(),
        }),
    })
}

fn accepted(given: &Given) -> Result<Source, SourceError> {
    let source = check_source(&given.source)?;
    check_brood(source.code, given.dam_mated_in_wild)?;
    Ok(source)
}
