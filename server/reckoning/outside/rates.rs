//! Proportions, rates and exact tails.

use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::rates::{self, RateError};

pub(super) const RATES: Entry = Entry {
    names: &["proportion_and_rate", "rates"],
    about: "a proportion or rate with its limits, or the chance of a count at least so large",
    input: r#"{"method": "wilson", "count": 81, "total": 263, "confidence": 0.95}
"method" is one of
  wilson, clopper_pearson: "count" of "total", "confidence"
  poisson_exact: "count" in an "exposure" (any unit), "confidence"
  poisson_upper_tail: "count", "mean"
  binomial_upper_tail: "count", "total", "probability"
"confidence" is 0.95 unless given. Counts are whole numbers up to 100000000."#,
    output: r#"{"estimate", "lower", "upper"}: proportions from 0 to 1, or rates per unit of exposure; {"probability"} of a tail"#,
    formula: "wilson: (2np + z² ± z √(z² + 4np(1 − p))) ÷ 2(n + z²). clopper_pearson, poisson_exact: the probability or mean under which the count, or more extreme, has a chance of (1 − confidence)/2. Upper tails: P(X ≥ count).",
    source: "Newcombe, Stat. Med. 17: 857-872, 1998; Clopper & Pearson, Biometrika 26: 404-413, 1934; Garwood, Biometrika 28: 437-442, 1936; masses by Loader, 2000 (from memory)",
    run: |text| run(text, reckon),
};

#[derive(Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Method {
    Wilson,
    ClopperPearson,
    PoissonExact,
    PoissonUpperTail,
    BinomialUpperTail,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    method: Method,
    count: u64,
    total: Option<u64>,
    exposure: Option<f64>,
    mean: Option<f64>,
    probability: Option<f64>,
    confidence: Option<f64>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    use Method::{BinomialUpperTail, ClopperPearson, PoissonExact, PoissonUpperTail, Wilson};
    refuse_unused(&given)?;
    let confidence = given.confidence.unwrap_or(0.95);
    let refused = |error: RateError| ReckonError::field(error.field(), error);
    let total = || needed("total", given.total);
    let limits = match given.method {
        Wilson => rates::wilson(given.count, total()?, confidence),
        ClopperPearson => rates::clopper_pearson(given.count, total()?, confidence),
        PoissonExact => rates::poisson_exact(given.count, needed("exposure", given.exposure)?, confidence),
        PoissonUpperTail => return tail(rates::poisson_upper_tail(given.count, needed("mean", given.mean)?)),
        BinomialUpperTail => {
            return tail(rates::binomial_upper_tail(given.count, total()?, needed("probability", given.probability)?));
        }
    };
    limits.map(|limits| json!(limits)).map_err(refused)
}

fn tail(probability: Result<f64, RateError>) -> Result<Value, ReckonError> {
    let probability = probability.map_err(|error| ReckonError::field(error.field(), error))?;
    Ok(json!({ "probability": probability }))
}

fn needed<T>(field: &str, given: Option<T>) -> Result<T, ReckonError> {
    given.ok_or_else(|| ReckonError::field(field, "is missing"))
}

/// A field that the method does not use is a misunderstanding, so it is refused.
fn refuse_unused(given: &Given) -> Result<(), ReckonError> {
    use Method::{BinomialUpperTail, ClopperPearson, PoissonExact, PoissonUpperTail, Wilson};
    let method = given.method;
    let unused = [
        ("total", given.total.is_some() && matches!(method, PoissonExact | PoissonUpperTail)),
        ("exposure", given.exposure.is_some() && method != PoissonExact),
        ("mean", given.mean.is_some() && method != PoissonUpperTail),
        ("probability", given.probability.is_some() && method != BinomialUpperTail),
        ("confidence", given.confidence.is_some() && !matches!(method, Wilson | ClopperPearson | PoissonExact)),
    ];
    match unused.iter().find(|(_, misplaced)| *misplaced) {
        Some((field, _)) => Err(ReckonError::field(*field, "is not used by this method; leave it out")),
        None => Ok(()),
    }
}
