//! Life tables by stage: held against the reference tables (formulas of Berkson & Gage 1950), and against cohorts
//! worked by hand.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::ledger::{Line, LineKind, Stage, replay, survival_to};
use silkward::reckoning::life_table::{CauseCount, LifeTableError, StageRow, life_table, stages_of_ledger};
use silkward::reckoning::reckon;
use silkward::reckoning::words::LossCause;

use super::ledger::{line, reversal, worked};
use super::ledger_histories::any_ledger;
use super::oracles::{cases, near};

/// Every number and word of the expected value is in what was got.
fn holds(case: &Value, got: &Value, expected: &Value) -> bool {
    match expected {
        Value::Object(fields) => fields.iter().all(|(field, expected)| holds(case, &got[field], expected)),
        Value::Array(list) => {
            let got = got.as_array().unwrap();
            got.len() == list.len() && got.iter().zip(list).all(|(got, expected)| holds(case, got, expected))
        }
        Value::Number(number) => near(case, got.as_f64().unwrap(), number.as_f64().unwrap()),
        _ => got == expected,
    }
}

#[test]
fn the_reference_tables_are_met() {
    let all = cases("life_table");
    assert_eq!(all.len(), 4);
    for case in all {
        let got: Value = serde_json::from_str(&reckon("life_table", &case["input"].to_string()).unwrap()).unwrap();
        assert!(holds(&case, &got, &case["expected"]), "{}: {got}", case["id"]);
    }
}

fn row(stage: u8, entered: u32, lost: &[(LossCause, u32)], left: u32) -> StageRow {
    let lost = lost.iter().map(|(cause, count)| CauseCount { cause: *cause, count: *count }).collect();
    StageRow { stage: Stage::Instar(stage), entered, lost, left }
}

// Worked value: 240 post-embryos, 231 first instar, 219 second instar; arithmetic.
#[test]
fn a_cohort_from_post_embryo_to_sale() {
    let rows = stages_of_ledger(&worked()).unwrap();
    let entered: Vec<(String, u32, u32)> = rows.iter().map(|row| (row.stage.code(), row.entered, row.left)).collect();
    // Of the second instars 31 died; 140 were sold, 1 escaped, 5 were moved and 42 are there still.
    assert_eq!(entered, [("ewl".to_owned(), 240, 0), ("i1".to_owned(), 231, 0), ("i2".to_owned(), 219, 188)]);
    assert_eq!(rows[2].lost, [CauseCount { cause: LossCause::Unknown, count: 31 }]);
    let table = life_table(&rows).unwrap();
    assert_eq!(table.stages[0].l_crude, Some(1.0));
    assert!((table.stages[2].l_crude.unwrap() - 0.9125).abs() < 1e-12);
    assert!((table.stages[2].q_actuarial.unwrap() - 31.0 / (219.0 - 94.0)).abs() < 1e-12);
    assert!((table.l_end_actuarial.unwrap() - 0.9125 * (1.0 - 31.0 / 125.0)).abs() < 1e-12);
    assert_eq!(
        table.summary,
        "68.6 % of those that entered post-embryo lived through second instar, those that left counting half; \
         hardest was second instar, where 31 of 219 were lost"
    );
}

#[test]
fn a_line_over_two_moults_passes_through_the_stage_between() {
    let mut lines = vec![
        line(1, "2026-03-01", LineKind::Received, "in > i1", 100),
        line(2, "2026-04-01", LineKind::Moulted, "i1 > i2", 40),
        line(3, "2026-04-20", LineKind::Lost, "i2 > lost", 8),
        line(4, "2026-05-01", LineKind::Moulted, "i1 > i3", 60),
    ];
    let rows = stages_of_ledger(&lines).unwrap();
    assert_eq!(rows[1], row(2, 100, &[(LossCause::Unknown, 8)], 32));
    assert_eq!(rows[2], row(3, 60, &[], 60));
    // Taken back, the line has taken none anywhere.
    lines.push(reversal(5, "2026-05-01", &lines[3]));
    let rows = stages_of_ledger(&lines).unwrap();
    assert_eq!(rows, [row(1, 100, &[], 60), row(2, 40, &[(LossCause::Unknown, 8)], 32)]);
}

#[test]
fn those_that_come_in_later_count_from_their_own_stage() {
    let rows = [row(1, 100, &[(LossCause::Mould, 50)], 0), row(2, 150, &[(LossCause::Fall, 15)], 0)];
    let table = life_table(&rows).unwrap();
    assert_eq!((table.stages[1].l_crude, table.stages[1].q_crude), (Some(0.5), Some(0.1)));
    assert!((table.l_end_crude.unwrap() - 0.45).abs() < 1e-12);
}

#[test]
fn after_a_stage_that_none_entered_nothing_is_known() {
    let table = life_table(&[row(1, 10, &[(LossCause::Mould, 1)], 9), row(2, 0, &[], 0), row(3, 4, &[(LossCause::Fall, 1)], 0)]).unwrap();
    assert_eq!((table.stages[1].q_crude, table.stages[1].l_crude), (None, Some(0.9)));
    assert_eq!((table.stages[2].q_crude, table.stages[2].l_crude, table.l_end_actuarial), (Some(0.25), None, None));
    assert!(table.summary.starts_with("none entered one of the stages"));
    let all_lost = life_table(&[row(1, 10, &[(LossCause::Mould, 10)], 0)]).unwrap();
    assert_eq!((all_lost.l_end_crude, all_lost.l_end_actuarial), (Some(0.0), Some(0.0)));
}

#[test]
fn tables_that_do_not_add_up_are_refused() {
    let refused = |rows: &[StageRow]| life_table(rows).unwrap_err();
    assert_eq!(refused(&[]), LifeTableError::NoStages);
    assert_eq!(refused(&[row(1, 5, &[], 0), row(1, 5, &[], 0)]), LifeTableError::StageTwice { row: 1 });
    let twice = row(1, 5, &[(LossCause::Mould, 1), (LossCause::Fall, 1), (LossCause::Mould, 1)], 0);
    assert_eq!(refused(&[twice]), LifeTableError::CauseTwice { row: 0, cause: 2 });
    let more = LifeTableError::MoreThanEntered { row: 1, gone: 6, entered: 5 };
    assert_eq!(refused(&[row(1, 9, &[], 4), row(2, 5, &[(LossCause::Mould, 2)], 4)]), more);
    let flood = row(1, 5, &[(LossCause::Mould, u32::MAX), (LossCause::Fall, u32::MAX)], u32::MAX);
    assert!(matches!(refused(&[flood]), LifeTableError::MoreThanEntered { .. }));

    let outside = |input: Value| reckon("life_table", &input.to_string()).unwrap_err().to_string();
    let short = json!({"stages": [{"stage": "i1", "entered": 3, "lost": [{"cause": "x", "count": 4}], "left": 0}]});
    assert_eq!(outside(short), "stages[0]: 4 were lost or left, but only 3 entered");
    assert!(outside(json!({"stages": []})).starts_with("stages: give at least one stage"));
    assert!(outside(json!({"stages": [{"stage": "i1", "entered": 3.5, "lost": [], "left": 0}]})).starts_with("stages[0].entered:"));
    let repeated =
        json!({"stages": [{"stage": "i1", "entered": 3, "lost": [{"cause": "x", "count": 1}, {"cause": "x", "count": 1}], "left": 0}]});
    assert!(outside(repeated).starts_with("stages[0].lost[1].cause: this cause is given twice"));
}

/// How many a stage was entered by straight from the lines, whichever stages a moult passed through.
fn entered(lines: &[Line], stage: Stage) -> i64 {
    use silkward::reckoning::ledger::Bucket;
    let at = |bucket: Bucket| match bucket {
        Bucket::Stage(at) => Some(at),
        _ => None,
    };
    let sign = |line: &Line| if line.kind == LineKind::Reversal { -1 } else { 1 };
    let passes = |line: &Line| {
        let (from, to) = if line.kind == LineKind::Reversal { (line.to, line.from) } else { (line.from, line.to) };
        match (at(from), at(to)) {
            (Some(from), Some(to)) => from < stage && stage <= to,
            (None, Some(to)) => to == stage,
            _ => false,
        }
    };
    lines.iter().filter(|line| passes(line)).map(|line| sign(line) * i64::from(line.quantity)).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn the_stages_of_any_ledger_add_up(lines in any_ledger()) {
        let rows = stages_of_ledger(&lines).unwrap();
        let book = replay(&lines).unwrap();
        for row in &rows {
            prop_assert_eq!(i64::from(row.entered), entered(&lines, row.stage), "{}", row.stage);
        }
        let lost: u32 = rows.iter().flat_map(|row| &row.lost).map(|of| of.count).sum();
        let deaths: u32 = book.lost_by_cause().iter().filter(|(cause, _)| **cause != LossCause::Escape).map(|(_, count)| count).sum();
        prop_assert_eq!(lost, deaths);
        if !rows.is_empty() {
            let table = life_table(&rows).unwrap();
            let mut before = (1.0, 1.0);
            for row in &table.stages {
                let now = (row.l_crude.unwrap(), row.l_actuarial.unwrap());
                prop_assert!(now.0 <= before.0 && now.1 <= before.1 && now.1 <= now.0 + 1e-12 && now.1 >= 0.0);
                before = now;
            }
        }
    }

    #[test]
    fn without_leavings_or_late_comers_the_table_is_the_share_that_reached_each_stage(
        losses in prop::collection::vec(0_u32..30, 1..8),
    ) {
        let mut lines = vec![line(1, "2026-01-01", LineKind::Received, "in > i1", 1000)];
        let mut alive = 1000;
        for (at, lost) in losses.iter().enumerate() {
            let (now, next, id) = (at + 1, at + 2, 10 * (at as i64 + 1));
            if *lost > 0 {
                lines.push(line(id, "2026-01-02", LineKind::Lost, &format!("i{now} > lost"), *lost));
            }
            alive -= lost;
            lines.push(line(id + 1, "2026-01-02", LineKind::Moulted, &format!("i{now} > i{next}"), alive));
        }
        let table = life_table(&stages_of_ledger(&lines).unwrap()).unwrap();
        for row in &table.stages {
            let reached = survival_to(&lines, row.stage).ratio().unwrap();
            prop_assert!((row.l_crude.unwrap() - reached).abs() < 1e-12, "{}", row.stage);
        }
    }
}
