//! Check characters of tags.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::{ReckonError, tag};

pub(super) const CHECK_DIGIT: Entry = Entry {
    names: &["check_digit", "tag"],
    about: "the check character of a tag, and whether a typed tag holds",
    input: r#"{"body": "A12"} or {"code": "A12M"}: figures 0-9 and letters A-Z, at least one"#,
    output: r#"{"check": "M"} for a body: the character to append; {"valid": true} for a whole code"#,
    formula: "ISO/IEC 7064 MOD 37,36: from 36, for each character with value a: add a, take modulo 36 (36 for 0), double, take modulo 37; the check makes the sum 1 modulo 36.",
    source: "ISO/IEC 7064:2003, hybrid system MOD 37,36",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    body: Option<String>,
    code: Option<String>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    match (given.body, given.code) {
        (Some(body), None) => {
            let check = tag::check_character(&body).map_err(|error| ReckonError::field("body", error))?;
            Ok(json!({ "check": check }))
        }
        (None, Some(code)) => Ok(json!({ "valid": tag::holds(&code) })),
        _ => Err(ReckonError::input("give either “body” or “code”")),
    }
}
