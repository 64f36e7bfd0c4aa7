//! What is said to differ about a cohort that loses too many, and that nothing is said where nothing differs. Tails by
//! scipy 1.17.

use serde_json::{Value, json};
use silkward::reckoning::loss_alarm::{
    CauseCount, ClimateDays, Elsewhere, Evidence, FeedingGap, Group, NAMED_BY_CHANCE, Usual, what_differs,
};
use silkward::reckoning::reckon;
use silkward::reckoning::words::LossCause;

use super::house_of_cohorts::Dice;

fn causes(counts: &[(LossCause, u32, u32)]) -> Vec<CauseCount> {
    counts.iter().map(|(cause, lost, usual)| CauseCount { cause: *cause, lost: *lost, usual: *usual }).collect()
}

fn group(lost: u32, mean: f64, elsewhere: Option<(u32, f64)>) -> Group {
    let elsewhere = elsewhere.map(|(lost, usual)| Elsewhere { lost, usual });
    Group { name: "rack B".to_owned(), lost, usual: Usual { mean, weight: 25.0 }, elsewhere }
}

fn climate(out: u32, out_before: u32, of_before: u32) -> ClimateDays {
    ClimateDays { what: "below 22 °C".to_owned(), out, of: 28, out_before, of_before }
}

// betabinom.sf(7, 9, 3, 9) = 0.0027387.
#[test]
fn a_cause_is_named_with_its_figures() {
    let counts = [(LossCause::Desiccation, 8, 2), (LossCause::FailedMoult, 1, 8)];
    let evidence = Evidence { causes: causes(&counts), ..Evidence::default() };
    assert_eq!(what_differs(&evidence), ["dried out: 8 of 9, where 2 of 10 are usual (chance 0.0027)"]);
    let usual = [(LossCause::Desiccation, 3, 4), (LossCause::FailedMoult, 6, 8)];
    assert!(what_differs(&Evidence { causes: causes(&usual), ..Evidence::default() }).is_empty());
}

#[test]
fn a_cause_is_not_named_for_want_of_knowledge_or_of_losses() {
    let all_of = |counts: &[(LossCause, u32, u32)]| what_differs(&Evidence { causes: causes(counts), ..Evidence::default() });
    // No earlier losses to hold it against; nobody knows; an escape is no death; two are too few.
    assert!(all_of(&[(LossCause::Mould, 9, 0)]).is_empty());
    assert!(all_of(&[(LossCause::Unknown, 9, 1), (LossCause::Mites, 0, 60)]).is_empty());
    assert!(all_of(&[(LossCause::Escape, 9, 1), (LossCause::Mites, 0, 60)]).is_empty());
    assert!(all_of(&[(LossCause::Mould, 2, 0), (LossCause::Mites, 0, 900)]).is_empty());
    assert_eq!(all_of(&[(LossCause::Mould, 3, 0), (LossCause::Mites, 0, 900)]).len(), 1);
}

// nbinom.sf(9, 25, 25 ÷ 27.1) = 0.00017988 against the usual; binom.sf(9, 17, 2.1 ÷ 10.5) = 0.00049325 against the rest.
#[test]
fn a_rack_is_named_unless_the_whole_house_loses() {
    let rack = |group| what_differs(&Evidence { rack: Some(group), ..Evidence::default() });
    let named = rack(group(10, 2.1, Some((7, 8.4))));
    assert_eq!(
        named,
        ["rack B: its other cohorts lost 10, where 2.1 are usual; elsewhere 7 were lost, where 8.4 are usual (chance 0.0005)"]
    );
    assert!(rack(group(10, 2.1, Some((40, 8.4)))).is_empty());
    assert!(rack(group(3, 2.1, Some((7, 8.4)))).is_empty());
    assert_eq!(rack(group(10, 2.1, None)), ["rack B: its other cohorts lost 10, where 2.1 are usual (chance 0.0002)"]);
    let sac = Group { name: "sac S-12".to_owned(), ..group(10, 2.1, None) };
    assert!(what_differs(&Evidence { sac: Some(sac), ..Evidence::default() })[0].starts_with("sac S-12: "));
}

// Four spells of nine against one of thirty: betabinom.sf(3, 9, 2, 30) = 0.0061.
#[test]
fn a_climate_is_named_when_it_was_out_of_range_much_more_than_before() {
    let named = |climate| what_differs(&Evidence { climate: Some(climate), ..Evidence::default() });
    assert_eq!(named(climate(12, 1, 90)), ["climate: below 22 °C on 12 of 28 days, and on 1 of 90 before (chance 0.0061)"]);
    for quiet in [climate(0, 0, 90), climate(4, 0, 90), climate(12, 40, 90), climate(12, 0, 0)] {
        assert!(named(quiet).is_empty());
    }
}

#[test]
fn a_gap_between_feedings_is_named_when_it_is_far_beyond_the_most() {
    let named = |longest, usual_most| {
        !what_differs(&Evidence { feeding: Some(FeedingGap { longest, usual_most }), ..Evidence::default() }).is_empty()
    };
    assert_eq!([named(10, 10), named(15, 10), named(16, 10), named(2, 1), named(3, 1)], [false, false, true, false, true]);
    let said = what_differs(&Evidence { feeding: Some(FeedingGap { longest: 19, usual_most: 10 }), ..Evidence::default() });
    assert_eq!(said, ["feeding: 19 days between two feedings, where at most 10 are usual"]);
}

#[test]
fn the_more_things_are_looked_at_the_rarer_each_must_be() {
    let counts = [(LossCause::Desiccation, 5, 3), (LossCause::FailedMoult, 1, 9)];
    let alone = Evidence { causes: causes(&counts), ..Evidence::default() };
    assert_eq!(what_differs(&alone).len(), 1);
    let others = [LossCause::Mould, LossCause::Mites, LossCause::Fall, LossCause::Climate].map(|cause| (cause, 0, 1));
    let among_many = Evidence { causes: causes(&[&counts[..], &others[..]].concat()), rack: Some(group(2, 2.0, None)), ..alone };
    assert!(what_differs(&among_many).is_empty());
}

#[test]
fn the_rarest_is_said_first() {
    let counts = [(LossCause::Desiccation, 8, 2), (LossCause::FailedMoult, 1, 8)];
    let evidence = Evidence {
        causes: causes(&counts),
        rack: Some(group(20, 2.1, None)),
        feeding: Some(FeedingGap { longest: 19, usual_most: 10 }),
        ..Evidence::default()
    };
    let said = what_differs(&evidence);
    let starts: Vec<&str> = said.iter().filter_map(|sentence| sentence.split_once(':').map(|(start, _)| start)).collect();
    assert_eq!(starts, ["rack B", "dried out", "feeding"]);
}

/// Evidence about a cohort that differs in nothing: causes drawn from the shares of the baseline, groups that lose as
/// they usually do, a climate whose spells come as they came before.
fn of_no_difference(dice: &mut Dice) -> Evidence {
    let weights: Vec<f64> = (0..6).map(|_| dice.unit().powi(2)).collect();
    let whole: f64 = weights.iter().sum();
    let mut counts: Vec<(LossCause, u32, u32)> = LossCause::ALL.iter().take(6).map(|cause| (*cause, 0, 0)).collect();
    let (window, before) = (3 + dice.below(20), dice.below(80));
    for number in 0..window + before {
        let mut at = dice.unit() * whole;
        let cause = weights
            .iter()
            .position(|weight| {
                at -= weight;
                at < 0.0
            })
            .unwrap_or(0);
        if number < window { counts[cause].1 += 1 } else { counts[cause].2 += 1 }
    }
    let mut draw = |usual: f64| {
        let mut lost = |usual: f64| {
            let true_mean = usual * (0.2 * dice.normal()).exp();
            dice.poisson(true_mean)
        };
        group(lost(usual), usual, Some((lost(4.0 * usual), 4.0 * usual)))
    };
    let (rack, sac) = (draw(3.0), draw(1.5));
    let (begins, lasts) = (dice.between(0.0, 0.05), dice.between(0.5, 0.75));
    let (mut out, mut days) = (false, [0, 0]);
    for day in 0..118 {
        out = dice.unit() < if out { lasts } else { begins };
        days[usize::from(day >= 90)] += u32::from(out);
    }
    Evidence { causes: causes(&counts), rack: Some(rack), sac: Some(sac), climate: Some(climate(days[1], days[0], 90)), feeding: None }
}

#[test]
fn where_nothing_differs_something_is_seldom_named() {
    let (mut dice, tries) = (Dice(7), 4000);
    let mut named = std::collections::BTreeMap::<&str, usize>::new();
    let mut cohorts = 0;
    for _ in 0..tries {
        let said = what_differs(&of_no_difference(&mut dice));
        cohorts += usize::from(!said.is_empty());
        for sentence in &said {
            let what = if sentence.starts_with("rack") {
                "rack or sac"
            } else if sentence.starts_with("climate") {
                "climate"
            } else {
                "cause"
            };
            *named.entry(what).or_default() += 1;
        }
    }
    let share = f64::from(u32::try_from(cohorts).unwrap()) / f64::from(tries);
    println!("something was named in {:.1} % of {tries} cohorts in which nothing differs: {named:?}", share * 100.0);
    assert!(share < NAMED_BY_CHANCE && share > 0.001);
}

fn example() -> Value {
    json!({"today": "2026-07-10",
        "stages": [{"stage": "i2", "days": [{"day": "2026-06-01", "at_risk": 180, "lost": 0}, {"day": "2026-07-10", "at_risk": 180, "lost": 9}],
            "others": {"lost": 34, "exposure": 20100}}],
        "looks": [], "looked_into": null,
        "evidence": {"causes": [{"cause": "desiccation", "lost": 8, "usual": 2}, {"cause": "mites", "lost": 1, "usual": 8}]}})
}

#[test]
fn the_outside_reckoning_judges_and_tells_what_differs() {
    let got: Value = serde_json::from_str(&reckon("loss_alarm", &example().to_string()).unwrap()).unwrap();
    assert_eq!((&got["level"], &got["week"]["lost"], &got["month"]["of"]), (&json!("alarm"), &json!(9), &json!(180)));
    // 39 losses in 5 ÷ 0.001484 + 20 100 + 12 × 180 spiderling-days.
    let rate = 39.0 / (5.0 / 0.001_484 + 20_100.0 + 12.0 * 180.0);
    assert!((got["baselines"][0]["rate"].as_f64().unwrap() - rate).abs() < 1e-12);
    assert!(got["differs"][0].as_str().unwrap().starts_with("dried out: 8 of 9"));
    assert!(got["days_to_false_signal"].as_f64().unwrap() > 10_000.0);
    let least = json!({"today": "2026-07-10", "stages": []});
    assert!(reckon("loss_alarm", &least.to_string()).unwrap().contains(r#""level":"quiet""#));
}

#[test]
fn the_outside_reckoning_names_what_it_refuses() {
    let with = |path: &str, value: Value| {
        let mut input = example();
        *input.pointer_mut(path).unwrap() = value;
        reckon("loss_alarm", &input.to_string()).unwrap_err().to_string()
    };
    let rack = json!({"rack": {"name": "B", "lost": 5, "usual": {"mean": -1, "weight": 25}, "elsewhere": null}});
    let mistakes = [
        (with("/stages/0/days/1/day", json!("2026-06-01")), "stages[0].days[1].day: 1 June 2026 is not after"),
        (with("/stages/0/days/1/lost", json!(181)), "stages[0].days[1].lost: 181 lost"),
        (with("/stages/0/days/0/at_risk", json!(-1)), "stages[0].days[0].at_risk:"),
        (with("/stages/0/others/lost", json!(30_000)), "stages[0].others: more lost"),
        (with("/stages/0/stage", json!("L1")), "stages[0].stage:"),
        (with("/evidence", rack), "evidence.rack.usual.mean: must be"),
        (
            with("/evidence", json!({"climate": {"what": "", "out": 9, "of": 8, "out_before": 0, "of_before": 0}})),
            "evidence.climate.out: is more",
        ),
        (with("/stages", json!([{"stage": "i2", "days": []}, {"stage": "i2", "days": []}])), "stages[1].stage: is given twice"),
        (with("/evidence/causes/1/cause", json!("desiccation")), "evidence.causes[1].cause: is given twice"),
        (with("/looked_into", json!("never")), "looked_into:"),
    ];
    for (message, start) in mistakes {
        assert!(message.starts_with(start), "{message}");
    }
}
