//! How broods fared.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::ledger::replay;
use crate::reckoning::scorecard::{Brood, Scorecard, beside, best_year, scorecard, years};

pub(super) const SCORECARD: Entry = Entry {
    names: &["scorecard"],
    about: "how broods fared: hatch rate, survival to second instar and to sale, days at each stage, losses by cause; each against the earlier ones, and the best year",
    input: r#"{"today": "2026-11-26", "broods": [{"code": "A", "started_on": "2026-03-01", "days": {"laid": null, "separated": null},
  "lines": [{"id": 1, "day": "2026-03-01", "from": "in", "to": "ewl", "quantity": 240, "kind": "received"}],
  "tagged": [{"line": 4, "died_on": null, "left_on": "2026-08-01"}]}]}: lines as for ledger; "died_on" is [day, cause]"#,
    output: r#"{"broods": [scorecard], "beside": [[one for each measure] for each brood], "years": [...], "best_year": {"year", "broods", "to_second",
"others", "stands"}}: shares from 0 to 1 with 95 % limits, days in whole days, null where not defined"#,
    formula: "Hatched ÷ (hatched + bad eggs); reached second instar ÷ (reached it + died on the way); survival S(t) since the second instar to the day by
which half of those sold had left, and to day 90; yearly loss 1 − e^(−deaths ÷ animal-years); days at a stage between the median days of coming to it and
to the next.",
    source: "Wilson: Newcombe 1998; Kaplan & Meier 1958, Greenwood 1926, log-log limits: Kalbfleisch & Prentice 1980; Garwood 1936; Mantel 1966 (survival from memory). What is compared with what is common practice, no source.",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    today: NaiveDate,
    broods: Rows<Brood>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    for (index, brood) in given.broods.iter().enumerate() {
        replay(&brood.lines).map_err(|error| ReckonError::field(format!("broods[{index}].lines"), error))?;
    }
    let cards: Vec<Scorecard> = given.broods.iter().map(|brood| scorecard(brood, given.today)).collect();
    let best = best_year(&cards).map(|best| {
        json!({
            "year": best.year, "broods": best.broods, "to_second": best.to_second, "others": best.others, "stands": best.stands,
            "verdict": best.verdict.map(|verdict| verdict.to_string()),
        })
    });
    let others: Vec<_> = cards.iter().map(|card| beside(card, &cards)).collect();
    Ok(json!({ "broods": cards, "beside": others, "years": years(&cards), "best_year": best }))
}
