//! Which source code a statement of origin gives.

use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::captive_code::{CodeFacts, stated};

pub(super) const CAPTIVE_CODE: Entry = Entry {
    names: &["captive-code", "captive_code"],
    about: "which CITES source code a statement of origin gives: C against F by the test of the breeding stock",
    input: r#"{"recorded": {"code": "C", "pre_convention": false}, "bred_here": true, "generation": 1, "dam_mated_in_wild": false,
"grounds": "managed", "has_papers": false}
generation: 0 for W, 1 for F1 and on, null where it is not known. grounds: second-generation, managed, or null."#,
    output: r#"{"code": "C", "pre_convention": false, "basis": one sentence}"#,
    formula: "C of this house's own brood stands from F2 on, or for F1 with a lead's statement that the stock meets the test; else it is F. The brood of a wild-mated dam is W. Other codes stand as recorded; none is raised.",
    source: "50 CFR 23.63 (carries CITES Res. Conf. 10.16); CITES Res. Conf. 12.3; CITES Notification 1998/14",
    run: |text| run(text, reckon),
};

fn reckon(given: CodeFacts) -> Result<Value, ReckonError> {
    let stated = stated(&given);
    Ok(json!({ "code": stated.source.code, "pre_convention": stated.source.pre_convention, "basis": stated.basis }))
}
