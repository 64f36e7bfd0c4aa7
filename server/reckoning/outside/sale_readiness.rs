//! Whether an animal or lot may leave.

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, run};
use crate::reckoning::ReckonError;
use crate::reckoning::sale_readiness::{SaleFacts, may_leave, readiness, readiness_to_send};

pub(super) const SALE_READINESS: Entry = Entry {
    names: &["sale_readiness"],
    about: "whether an animal, or a number out of a cohort, may leave on a day, with the reasons against it",
    input: r#"{"day": "2026-06-01", "facts": {"life_stage": "juvenile", "stage": "i6", "span_mm": 50, "last_moult": "2026-05-01",
  "ate_since_moult": true, "moult_state": "normal", "guarding_sac": false, "held_back": false, "listed": true,
  "source": {"code": "C", "pre_convention": false}, "has_papers": true, "last_fed": "2026-05-25", "prey_left_in": false, "not_available": null, "lot": null,
  "holds": [{"kind": "quarantine", "from": "2026-05-30", "blocks": "hands-in", "until": "2026-06-30", "reason": "new arrival"}]}}
life_stage: spiderling, juvenile, adult. moult_state: normal, pre-moult, moulting. kind: agitated, moulting, just-moulted, quarantine.
"fast" [{from_mm, min_days, max_days}] may give the species' own fast. "not_available" is a status such as "sold"; "lot" is {"asked", "free", "recent"}, numbers of animals. Null and empty ones may be left out.
"sent": true beside "day" asks whether it may be sent on a journey."#,
    output: r#"{"may_leave": true, "findings": [{"blocks": true, "text"}]}: the reasons against it, those that stop the sale first"#,
    formula: "A sale waits for the stage (second instar), the post-moult fast by leg span and a meal after it, pre-moult, holds, a guarded sac, breeding stock, numbers, and papers of listed species; a meal in the last two days is a warning, and a reason against when it is sent.",
    source: "common practice, no source; source codes: CITES Res. Conf. 12.3",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    day: NaiveDate,
    facts: SaleFacts,
    #[serde(default)]
    sent: bool,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let findings = if given.sent { readiness_to_send(&given.facts, given.day) } else { readiness(&given.facts, given.day) };
    Ok(json!({ "may_leave": may_leave(&findings), "findings": findings }))
}
