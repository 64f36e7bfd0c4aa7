//! Prey that will be eaten.

use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::prey::{Feeding, Forecast, PreyError, forecast};

pub(super) const PREY_FORECAST: Entry = Entry {
    names: &["prey_forecast", "prey"],
    about: "how many prey will be eaten at planned feedings, with a range",
    input: r#"{"events": [{"probability": 0.85, "prey": 2}]}: for each feeding the chance (0 to 1) that the animal takes its prey, and
how many it then eats"#,
    output: r#"{"feedings", "most", "mean", "variance", "p05", "p50", "p95", "method", "summary"}: numbers of prey (the variance in prey
squared); "method" is "exact" or "normal""#,
    formula: "Prey eaten = the sum of prey × Bernoulli(probability), by exact convolution. p05, p50 and p95 are the smallest totals whose cumulative probability is at least 0.05, 0.5 and 0.95. Past twenty million steps of work or a million different totals a normal approximation with continuity correction stands in.",
    source: "elementary probability; the Poisson binomial distribution with weights",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    events: Rows<Feeding>,
}

fn reckon(given: Given) -> Result<Forecast, ReckonError> {
    forecast(&given.events).map_err(|error| {
        let field = match error {
            PreyError::Probability { at } => format!("events[{at}].probability"),
            PreyError::Offered { at } | PreyError::Mixed { at } => format!("events[{at}]"),
        };
        ReckonError::field(field, error)
    })
}
