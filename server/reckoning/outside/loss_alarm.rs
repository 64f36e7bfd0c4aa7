//! Whether a cohort is dying faster than it should.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::loss_alarm::{
    Baseline, CauseCount, ClimateDays, Day, DaysError, Elsewhere, Evidence, FeedingGap, Group, Series, Stratum, Tally, Watched, judge,
    seen_before, what_differs,
};
use crate::reckoning::stage::Stage;

pub(super) const LOSS_ALARM: Entry = Entry {
    names: &["loss_alarm"],
    about: "whether a cohort is dying faster than is usual for its species and stage, and what differs about it",
    input: r#"{"today": "2026-07-10",
"stages": [{"stage": "i2", "days": [{"day": "2026-06-01", "at_risk": 180, "lost": 0, "missing": 0}],
  "others": {"lost": 34, "exposure": 20100}, "usual_rate": 0.0015}],
"looks": ["2026-06-01"], "looked_into": null, "evidence": {
  "causes": [{"cause": "desiccation", "lost": 8, "usual": 2}],
  "rack": {"name": "rack B", "lost": 5, "usual": {"mean": 2.1, "weight": 25}, "elsewhere": {"lost": 7, "usual": 8.4}}, "sac": as "rack",
  "climate": {"what": "below 22 °C", "out": 12, "of": 28, "out_before": 1, "of_before": 90},
  "feeding": {"longest": 19, "usual_most": 10}}}
"at_risk" are those left at the end of the day and those lost in it; a day not listed has those that the listed day before it left.
"others": losses and spiderling-days of the species' other cohorts at the stage; "usual_rate": losses per spiderling-day before any were seen.
"looks": days on which losses could be found, every day if empty. Only "today" and "stages" with "stage" and "days" are needed."#,
    output: r#"{"level": quiet, watch or alarm, "sentence", "reasons", "week", "month": {"days", "from", "to", "lost", "missing", "of", "exposure"
(spiderling-days), "usual": {"mean", "weight"}, "poisson", "binomial", "chance"}, "drift": {"sum", "threshold", "usual_a_day", "since", "lost",
"usual"}, "days_to_false_signal", "baselines": [{"stage", "rate" (losses per spiderling-day), "weight", "prior_rate", "seen"}], "differs": [sentences]}"#,
    formula: "rate = (5 + lost) ÷ (5 ÷ usual rate + exposure), from others and from own days older than 28 days. poisson, binomial: P(X ≥ lost) at that rate; chance: negative binomial, the rate as uncertain as min(5 + lost, 25) losses make it. Alarm: 3 or more lost and a chance below 0.0004 in 7 days or 0.0008 in 28, or the cumulative sum of lost − 1.82 × usual above its threshold.",
    source: "gamma-Poisson shrinkage, common practice; Lucas, Technometrics 27: 129-144, 1985; Brook & Evans, Biometrika 59: 539-549, 1972; limits set by simulation",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    today: NaiveDate,
    stages: Rows<GivenStage>,
    #[serde(default)]
    looks: Rows<NaiveDate>,
    looked_into: Option<NaiveDate>,
    #[serde(default)]
    evidence: GivenEvidence,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct GivenEvidence {
    causes: Option<Rows<CauseCount>>,
    rack: Option<Group>,
    sac: Option<Group>,
    climate: Option<ClimateDays>,
    feeding: Option<FeedingGap>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GivenStage {
    stage: Stage,
    days: Rows<Day>,
    #[serde(default)]
    others: Tally,
    usual_rate: Option<f64>,
}

fn reckon(given: Given) -> Result<Value, ReckonError> {
    let Given { today, stages: Rows(stages), looks, looked_into, evidence } = given;
    let GivenEvidence { causes, rack, sac, climate, feeding } = evidence;
    let evidence = Evidence { causes: causes.map_or_else(Vec::new, |causes| causes.0), rack, sac, climate, feeding };
    check(&evidence)?;
    if let Some(place) = second(stages.iter().map(|stage| stage.stage)) {
        return Err(ReckonError::field(format!("stages[{place}].stage"), "is given twice; put its days together"));
    }
    let strata = stages.into_iter().enumerate().map(|(place, stage)| stratum(place, stage, today));
    let strata = strata.collect::<Result<Vec<_>, _>>()?;
    let verdict = judge(&Watched { strata: &strata, looks: &looks, looked_into }, today);
    let baselines = strata.iter().map(|Stratum { stage, baseline, .. }| {
        let Baseline { rate, weight, prior_rate, seen } = baseline;
        json!({ "stage": stage, "rate": rate, "weight": weight, "prior_rate": prior_rate, "seen": seen })
    });
    Ok(json!({
        "level": verdict.level, "sentence": verdict.sentence, "reasons": verdict.reasons, "week": verdict.week,
        "month": verdict.month, "drift": verdict.drift, "days_to_false_signal": verdict.drift.days_to_false_signal(),
        "baselines": baselines.collect::<Vec<_>>(), "differs": what_differs(&evidence),
    }))
}

/// The place of the first that is there already.
fn second<T: Ord>(of: impl Iterator<Item = T>) -> Option<usize> {
    let mut seen = BTreeSet::new();
    of.enumerate().find_map(|(place, item)| (!seen.insert(item)).then_some(place))
}

fn stratum(place: usize, given: GivenStage, today: NaiveDate) -> Result<Stratum, ReckonError> {
    let GivenStage { stage, days: Rows(days), others, usual_rate } = given;
    let field = |name: &str| format!("stages[{place}].{name}");
    if others.lost > others.exposure {
        return Err(ReckonError::field(field("others"), "more lost than there were spiderling-days"));
    }
    let days = Series::new(days).map_err(|error| {
        let (at, name) = match error {
            DaysError::Order { place, .. } => (place, "day"),
            DaysError::MoreThanThere { place, .. } => (place, "lost"),
        };
        ReckonError::field(field(&format!("days[{at}].{name}")), error)
    })?;
    let seen = seen_before(&days, others, today);
    let baseline = match usual_rate {
        None => Baseline::new(stage, seen),
        Some(rate) => Baseline::with_usual(rate, seen)
            .map_err(|_| ReckonError::field(field("usual_rate"), "must be a number above 0 and at most 1"))?,
    };
    Ok(Stratum { stage, days, baseline })
}

fn check(evidence: &Evidence) -> Result<(), ReckonError> {
    let refused = |field: &str, problem: &str| Err(ReckonError::field(format!("evidence.{field}"), problem));
    if let Some(place) = second(evidence.causes.iter().map(|count| count.cause)) {
        return refused(&format!("causes[{place}].cause"), "is given twice; add its losses up");
    }
    for (name, group) in [("rack", &evidence.rack), ("sac", &evidence.sac)] {
        let Some(Group { usual, elsewhere, .. }) = group else { continue };
        if !(usual.mean.is_finite() && usual.mean >= 0.0) {
            return refused(&format!("{name}.usual.mean"), "must be a number from 0 up");
        }
        if !(0.1..=1e8).contains(&usual.weight) {
            return refused(&format!("{name}.usual.weight"), "must be a number from 0.1 to 100000000");
        }
        if elsewhere.is_some_and(|Elsewhere { usual, .. }| !(usual.is_finite() && usual >= 0.0)) {
            return refused(&format!("{name}.elsewhere.usual"), "must be a number from 0 up");
        }
    }
    if let Some(days) = &evidence.climate {
        if days.out > days.of {
            return refused("climate.out", "is more than the days with readings");
        }
        if days.out_before > days.of_before {
            return refused("climate.out_before", "is more than the days with readings");
        }
    }
    Ok(())
}
