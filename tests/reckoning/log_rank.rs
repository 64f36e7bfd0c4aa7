//! The log-rank test: held against Freireich et al. (Blood 21: 699-716, 1963: chi-square 16.79), against seeded cohorts
//! reckoned by an independent library, and against the textbook's matrix solved in full.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::reckon;
use silkward::reckoning::survival::{
    End, Followed, Group, LogRank, LogRankError, MOST_GROUPS, MOST_ROWS, Observation, SurvivalError, Verdict, log_rank,
};

use super::oracles::{cases, near};
use super::survival::{Animal, any_animals, followed, freireich_treated, plain};

fn group(label: &str, followed: Followed) -> Group {
    Group { label: label.to_owned(), followed }
}

fn compare(groups: &[Followed]) -> LogRank {
    let named = groups.iter().enumerate().map(|(at, followed)| group(&format!("group {at}"), followed.clone()));
    log_rank(&named.collect::<Vec<_>>()).unwrap()
}

fn said(found: &LogRank, index: usize) -> String {
    found.verdict(index).unwrap().to_string()
}

#[test]
fn the_reference_comparisons_are_met() {
    let all = cases("log_rank");
    assert_eq!(all.len(), 4);
    for case in all {
        let got: Value = serde_json::from_str(&reckon("log_rank", &case["input"].to_string()).unwrap()).unwrap();
        for (field, expected) in case["expected"].as_object().unwrap() {
            let pairs = match expected {
                Value::Array(list) => list.iter().zip(got[field].as_array().unwrap()).collect(),
                _ => vec![(expected, &got[field])],
            };
            assert!(expected.as_array().is_none_or(|list| list.len() == got[field].as_array().unwrap().len()));
            for (expected, got) in pairs {
                assert!(near(&case, got.as_f64().unwrap(), expected.as_f64().unwrap()), "{} {field}: {got} {expected}", case["id"]);
            }
        }
    }
}

fn freireich() -> LogRank {
    let placebo = [(1, 2), (2, 2), (3, 1), (4, 2), (5, 2), (8, 4), (11, 2), (12, 2), (15, 1), (17, 1), (22, 1), (23, 1)];
    let placebo = plain(&placebo.map(|(day, count)| (day, count, End::Lost)));
    log_rank(&[group("6-MP", freireich_treated()), group("placebo", placebo)]).unwrap()
}

// Freireich et al. 1963: chi-square 16.79; 9 lost where 19.25 were expected, and 21 where 10.75 were.
#[test]
fn the_patients_of_1963() {
    let found = freireich();
    assert!((found.chi_square.unwrap() - 16.79).abs() < 0.005);
    assert_eq!((found.degrees_of_freedom, found.groups[0].observed, found.groups[1].observed), (1, 9, 21));
    assert!((found.groups[0].expected - 19.25).abs() < 0.005 && (found.groups[1].expected - 10.75).abs() < 0.005);
    assert_eq!(said(&found, 0), "dying slower than its sisters, p < 0.001");
    assert_eq!(said(&found, 1), "dying faster than its sisters, p < 0.001");
    assert_eq!(found.verdict(2), None);
    assert_eq!(found.summary(), "the groups die at different speeds: log-rank chi-square 16.79 on 1 degree of freedom, p < 0.001");
}

/// So many lost out of so many, evenly over a hundred days.
fn steady(lost: u32, of: u32) -> Followed {
    let daily = (1..=lost).map(|nth| (nth * 100 / lost, 1, End::Lost)).chain([(101, of - lost, End::Left)]);
    plain(&daily.collect::<Vec<_>>())
}

#[test]
fn cohorts_that_do_not_differ_are_not_told_apart() {
    let found = compare(&[steady(20, 100), steady(20, 100), steady(21, 100)]);
    for index in 0..3 {
        assert!(said(&found, index).starts_with("no difference that these numbers can show, p = 0."), "{}", said(&found, index));
    }
    assert!(found.summary().starts_with("no difference that these numbers can show: log-rank chi-square "));
    assert!(found.summary().contains("on 2 degrees of freedom"));
}

#[test]
fn one_cohort_of_three_stands_out() {
    let found = compare(&[steady(20, 100), steady(60, 100), steady(18, 100)]);
    assert!(matches!(found.verdict(1), Some(Verdict::Faster(p)) if p < 0.001));
    assert!(matches!(found.verdict(2), Some(Verdict::Slower(_))));
}

// 20 or 33 lost of 100, to a p value near 0.04; 32 lost, to one just above 0.05.
#[test]
fn a_difference_is_named_at_five_in_a_hundred() {
    let found = compare(&[steady(20, 100), steady(33, 100)]);
    assert!((0.03..0.05).contains(&found.p_value.unwrap()), "{:?}", found.p_value);
    assert!(matches!(found.verdict(1), Some(Verdict::Faster(_))) && matches!(found.verdict(0), Some(Verdict::Slower(_))));
    let found = compare(&[steady(20, 100), steady(32, 100)]);
    assert!((0.05..0.07).contains(&found.p_value.unwrap()), "{:?}", found.p_value);
    assert!(matches!(found.verdict(1), Some(Verdict::NoDifference(_))));
}

#[test]
fn four_losses_are_too_few_and_five_are_not() {
    assert_eq!(compare(&[steady(4, 50), steady(4, 50)]).verdict(0), Some(Verdict::TooFew));
    assert!(matches!(compare(&[steady(5, 50), steady(5, 50)]).verdict(0), Some(Verdict::NoDifference(_))));
    // Few among the others are too few as well, and a cohort that dies out against few expected is not.
    assert_eq!(compare(&[steady(40, 50), plain(&[(3, 1, End::Lost), (9, 1, End::Left)])]).verdict(0), Some(Verdict::TooFew));
    let dying_out = compare(&[steady(10, 11), steady(10, 1000)]);
    assert!(dying_out.groups[0].expected < 5.0);
    // Nor are none at all, where many were expected: in the cohort, or in its sisters.
    let one_sided = compare(&[plain(&[(101, 100, End::Left)]), steady(40, 100)]);
    assert_eq!(said(&one_sided, 0), "dying slower than its sisters, p < 0.001");
    assert_eq!(said(&one_sided, 1), "dying faster than its sisters, p < 0.001");
    assert_eq!(said(&dying_out, 0), "dying faster than its sisters, p < 0.001");
}

#[test]
fn p_values_are_written_with_the_places_that_matter() {
    let written = [0.000_4, 0.01, 0.012_3, 0.049_6, 0.41, 0.999].map(|p| Verdict::Slower(p).to_string());
    let ends = ["p < 0.001", "p = 0.01", "p = 0.012", "p = 0.05", "p = 0.41", "p = 1.00"];
    for (written, end) in written.iter().zip(ends) {
        assert!(written.ends_with(end), "{written}");
    }
}

#[test]
fn groups_that_were_never_at_risk_together_are_not_compared() {
    let early: Vec<Animal> = (0..8).map(|day| (0, day, End::Lost)).collect();
    let late: Vec<Animal> = (20..28).map(|day| (20, day, End::Lost)).collect();
    let found = compare(&[followed(&early), followed(&late)]);
    assert_eq!((found.chi_square, found.p_value, found.degrees_of_freedom), (None, None, 0));
    assert_eq!(found.groups[0].p_value, None);
    assert_eq!(said(&found, 0), "too few losses to compare");
    assert!(found.summary().starts_with("the groups were never at risk together"));

    // Two pairs that never met: each pair is compared, and their statistics add up.
    let early_too: Vec<Animal> = (0..8).map(|day| (0, day / 2, End::Lost)).collect();
    let late_too: Vec<Animal> = (20..28).map(|day| (20, day + 9, End::Lost)).collect();
    let (early, late, early_too, late_too) = (followed(&early), followed(&late), followed(&early_too), followed(&late_too));
    let both = compare(&[early.clone(), late.clone(), early_too.clone(), late_too.clone()]);
    assert_eq!(both.degrees_of_freedom, 2);
    let sum = compare(&[early, early_too]).chi_square.unwrap() + compare(&[late, late_too]).chi_square.unwrap();
    assert!((both.chi_square.unwrap() - sum).abs() < 1e-9);
}

#[test]
fn groups_without_a_loss_are_not_compared() {
    let found = compare(&[plain(&[(9, 5, End::Left)]), plain(&[(3, 5, End::Left)])]);
    assert_eq!((found.chi_square, found.degrees_of_freedom), (None, 0));
    // All lost at once: nothing is left to chance.
    let found = compare(&[plain(&[(9, 50, End::Lost)]), plain(&[(9, 20, End::Lost)])]);
    assert_eq!((found.chi_square, found.verdict(0)), (None, Some(Verdict::TooFew)));
}

#[test]
fn comparisons_that_cannot_be_are_refused() {
    let sound = group("A", steady(5, 50));
    assert_eq!(log_rank(std::slice::from_ref(&sound)), Err(LogRankError::TooFewGroups));
    assert_eq!(log_rank(&vec![sound.clone(); MOST_GROUPS + 1]), Err(LogRankError::TooManyGroups));
    let row = Observation { day: 1, count: 1, event: End::Lost };
    let long = group("long", Followed { entries: Vec::new(), ends: vec![row; MOST_ROWS] });
    assert_eq!(log_rank(&[sound.clone(), long]), Err(LogRankError::TooManyRows));
    let empty = log_rank(&[sound, group("B", Followed::default())]).unwrap_err();
    assert_eq!(empty, LogRankError::Group { index: 1, label: "B".to_owned(), error: SurvivalError::Nothing });
    assert_eq!(empty.to_string(), "B: nobody was followed; give at least one observation");

    let refused = |input: Value| reckon("log_rank", &input.to_string()).unwrap_err().to_string();
    let group = json!({"label": "A", "observations": [{"day": 4, "count": 1, "event": "lost"}]});
    let nobody = json!({"label": "B", "observations": [{"day": 4, "count": 0, "event": "lost"}]});
    assert!(refused(json!({"groups": [group]})).starts_with("groups: a comparison needs at least two groups"));
    assert!(refused(json!({"groups": [group, nobody]})).starts_with("groups[1].observations[0].count:"));
    assert!(refused(json!({"groups": [{"observations": []}]})).starts_with("groups[0].label: is missing"));
}

#[test]
fn a_hundred_groups_of_many_days_are_compared() {
    let groups: Vec<Group> = (0..100)
        .map(|at| {
            let ends =
                (0..300).map(|row| ((row * 37 + at * 11) % 900, 1 + (row + at) % 3, if row % 4 == 0 { End::Left } else { End::Lost }));
            group(&at.to_string(), plain(&ends.collect::<Vec<_>>()))
        })
        .collect();
    let found = log_rank(&groups).unwrap();
    assert_eq!(found.degrees_of_freedom, 99);
    assert!((0.0..=1.0).contains(&found.p_value.unwrap()));
}

/// The statistic as the textbooks write it, each animal counted on its own, with the last group left out of the matrix
/// and the rest of it solved in full. Nothing when the matrix can't be solved.
fn in_full(groups: &[Vec<Animal>]) -> Option<f64> {
    let size = groups.len();
    let (mut excess, mut covariance) = (vec![0.0; size], vec![vec![0.0; size]; size]);
    for day in 0..100 {
        let count = |of: &[Animal], test: fn(&Animal, u32) -> bool| of.iter().filter(|animal| test(animal, day)).count() as f64;
        let at_risk: Vec<f64> = groups.iter().map(|of| count(of, |animal, day| animal.0 <= day && day <= animal.1)).collect();
        let lost: Vec<f64> = groups.iter().map(|of| count(of, |animal, day| animal.1 == day && animal.2 == End::Lost)).collect();
        let (n, d) = (at_risk.iter().sum::<f64>(), lost.iter().sum::<f64>());
        if d == 0.0 {
            continue;
        }
        for one in 0..size {
            excess[one] += lost[one] - d * at_risk[one] / n;
            for other in 0..size {
                let same = f64::from(u8::from(one == other));
                covariance[one][other] +=
                    if n > 1.0 { d * (n - d) / (n - 1.0) * at_risk[one] / n * (same - at_risk[other] / n) } else { 0.0 };
            }
        }
    }
    // Gauss-Jordan elimination with the largest pivot.
    let kept = size - 1;
    let mut rows: Vec<Vec<f64>> = (0..kept).map(|at| [&covariance[at][..kept], &excess[at..=at]].concat()).collect();
    for column in 0..kept {
        let pivot = (column..kept).max_by(|one, other| rows[*one][column].abs().total_cmp(&rows[*other][column].abs()))?;
        rows.swap(column, pivot);
        if rows[column][column].abs() < 1e-9 {
            return None;
        }
        for row in (0..kept).filter(|row| *row != column) {
            let (pivot, factor) = (rows[column].clone(), rows[row][column] / rows[column][column]);
            rows[row].iter_mut().zip(&pivot).for_each(|(value, pivot)| *value -= factor * pivot);
        }
    }
    Some((0..kept).map(|at| excess[at] * rows[at][kept] / rows[at][at]).sum())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn the_statistic_is_that_of_the_whole_matrix(groups in prop::collection::vec(any_animals(25), 2..6)) {
        let found = compare(&groups.iter().map(|animals| followed(animals)).collect::<Vec<_>>());
        let expected = in_full(&groups);
        prop_assert_eq!(expected.is_some(), found.degrees_of_freedom as usize == groups.len() - 1);
        if let Some(expected) = expected {
            let got = found.chi_square.unwrap();
            prop_assert!((got - expected).abs() < 1e-7 * expected.max(1.0), "{got} {expected}");
        }
        let observed: f64 = found.groups.iter().map(|group| f64::from(group.observed)).sum();
        let expected: f64 = found.groups.iter().map(|group| group.expected).sum();
        prop_assert!((observed - expected).abs() < 1e-9);
    }

    #[test]
    fn the_order_of_the_groups_does_not_matter(groups in prop::collection::vec(any_animals(25), 2..6), turn in 0_usize..6) {
        let mut groups: Vec<Followed> = groups.iter().map(|animals| followed(animals)).collect();
        let one = compare(&groups);
        let by = turn % groups.len();
        groups.rotate_left(by);
        let other = compare(&groups);
        prop_assert_eq!(one.degrees_of_freedom, other.degrees_of_freedom);
        prop_assert!((one.chi_square.unwrap_or(0.0) - other.chi_square.unwrap_or(0.0)).abs() < 1e-8);
        prop_assert_eq!(one.groups[by].observed, other.groups[0].observed);
        prop_assert_eq!(one.groups[by].p_value.is_some(), other.groups[0].p_value.is_some());
    }

    #[test]
    fn a_group_against_the_others_is_a_test_of_two(groups in prop::collection::vec(any_animals(25), 3..5)) {
        let found = compare(&groups.iter().map(|animals| followed(animals)).collect::<Vec<_>>());
        let others = groups[1..].concat();
        let two = compare(&[followed(&groups[0]), followed(&others)]);
        prop_assert_eq!(found.groups[0].p_value.is_some(), two.p_value.is_some());
        if let (Some(one), Some(two)) = (found.groups[0].p_value, two.p_value) {
            prop_assert!((one - two).abs() < 1e-8, "{one} {two}");
        }
    }
}
