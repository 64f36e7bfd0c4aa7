//! Prey eaten, held against every outcome written out (each animal takes its prey or leaves it) and against tables of
//! the binomial distribution.

use std::time::{Duration, Instant};

use proptest::prelude::*;
use silkward::reckoning::prey::{
    Feeding, Method, PlannedFeed, PreyError, acceptance, acceptance_in_words, days_of_stock, forecast, need, period_need,
};

use super::on;
use super::oracles::cases;

fn feedings(list: &[(f64, u32)]) -> Vec<Feeding> {
    list.iter().map(|(probability, prey)| Feeding { probability: *probability, prey: *prey }).collect()
}

/// A number of feedings that are alike.
fn alike(count: usize, probability: f64, prey: u32) -> Vec<Feeding> {
    vec![Feeding { probability, prey }; count]
}

/// The chance of each total, with every outcome written out.
fn written_out(feedings: &[Feeding]) -> Vec<f64> {
    let most: u32 = feedings.iter().map(|feeding| feeding.prey).sum();
    let mut chances = vec![0.0; most as usize + 1];
    for outcome in 0_u32..1 << feedings.len() {
        let (mut total, mut chance) = (0, 1.0);
        for (at, feeding) in feedings.iter().enumerate() {
            let takes = outcome >> at & 1 == 1;
            total += if takes { feeding.prey } else { 0 };
            chance *= if takes { feeding.probability } else { 1.0 - feeding.probability };
        }
        chances[total as usize] += chance;
    }
    chances
}

/// The smallest total whose cumulative chance is at least a share.
fn quantile(chances: &[f64], share: f64) -> u64 {
    let mut cumulative = 1e-12;
    chances
        .iter()
        .position(|chance| {
            cumulative += chance;
            cumulative >= share
        })
        .unwrap() as u64
}

fn any_feeding() -> impl Strategy<Value = Feeding> {
    (0_u32..=20, 0_u32..=6).prop_map(|(twentieths, prey)| Feeding { probability: f64::from(twentieths) / 20.0, prey })
}

proptest! {
    #[test]
    fn a_forecast_agrees_with_every_outcome_written_out(feedings in prop::collection::vec(any_feeding(), 0..10)) {
        let chances = written_out(&feedings);
        let mean: f64 = chances.iter().enumerate().map(|(total, chance)| total as f64 * chance).sum();
        let variance: f64 = chances.iter().enumerate().map(|(total, chance)| (total as f64 - mean).powi(2) * chance).sum();
        let got = forecast(&feedings).unwrap();
        prop_assert_eq!((got.p05, got.p50, got.p95), (quantile(&chances, 0.05), quantile(&chances, 0.5), quantile(&chances, 0.95)));
        prop_assert!((got.mean - mean).abs() < 1e-9 && (got.variance - variance).abs() < 1e-9);
        prop_assert_eq!(got.method, Method::Exact);
    }

    #[test]
    fn the_order_of_feedings_makes_no_difference(mut feedings in prop::collection::vec(any_feeding(), 0..60)) {
        let one = forecast(&feedings).unwrap();
        feedings.reverse();
        let other = forecast(&feedings).unwrap();
        prop_assert_eq!((one.p05, one.p50, one.p95, one.most), (other.p05, other.p50, other.p95, other.most));
    }
}

// The reference file accepts an approximation within 2 for its 3,000 feedings; the convolution must not need it.
#[test]
fn thousands_of_feedings_are_exact() {
    for case in cases("prey_forecast") {
        let events = case["input"]["events"].as_array().unwrap();
        let event = |value: &serde_json::Value| (value["probability"].as_f64().unwrap(), value["prey"].as_u64().unwrap() as u32);
        let got = forecast(&feedings(&events.iter().map(event).collect::<Vec<_>>())).unwrap();
        assert_eq!(got.method, Method::Exact);
        for (name, value) in [("p05", got.p05), ("p50", got.p50), ("p95", got.p95)] {
            assert_eq!(case["expected"][name], value, "{} {name}", case["id"]);
        }
    }
}

// Binomial tables, n = 20 and p = 1/2: P(X <= 5) = 0.0207, P(X <= 6) = 0.0577, P(X <= 13) = 0.9423, P(X <= 14) = 0.9793.
#[test]
fn twenty_even_chances_come_out_as_in_the_tables() {
    let got = forecast(&alike(20, 0.5, 1)).unwrap();
    assert_eq!((got.p05, got.p50, got.p95), (6, 10, 14));
    assert_eq!(got.summary, "10 of at most 20 prey eaten at 20 feedings; 9 times in 10 from 6 to 14");
}

#[test]
fn what_is_certain_needs_no_distribution() {
    let got = forecast(&feedings(&[(1.0, 4_000_000_000), (0.0, 9), (1.0, 4_000_000_000), (0.5, 3)])).unwrap();
    assert_eq!((got.p05, got.p50, got.p95, got.most), (8_000_000_000, 8_000_000_000, 8_000_000_003, 8_000_000_003));
    let nothing = forecast(&[]).unwrap();
    assert_eq!((nothing.mean, nothing.p95, nothing.most), (0.0, 0, 0));
}

#[test]
fn a_share_that_is_reached_exactly_is_not_missed_by_rounding() {
    // 0.3 + 0.2 is 0.5: the median is the second smallest total.
    let got = forecast(&feedings(&[(0.7, 2), (0.4, 1)])).unwrap();
    assert_eq!(got.p50, quantile(&written_out(&feedings(&[(0.7, 2), (0.4, 1)])), 0.5));
    assert_eq!(forecast(&alike(1, 0.95, 1)).unwrap().p05, 0);
    assert_eq!(forecast(&alike(1, 0.05, 1)).unwrap().p95, 0);
}

// The quantiles of the binomial distribution with n = 200,000 and p = 0.85, by summing its chances (from log-factorials).
#[test]
fn a_sum_too_large_is_approximated_well() {
    let got = forecast(&alike(200_000, 0.85, 1)).unwrap();
    assert_eq!(got.method, Method::Normal);
    for (got, exact) in [(got.p05, 169_737), (got.p50, 170_000), (got.p95, 170_262)] {
        assert!(got.abs_diff(exact) <= 1, "{got} {exact}");
    }
    // Five prey each: only multiples of five can be eaten.
    let fives = forecast(&[alike(200_000, 0.85, 5), alike(1, 1.0, 2)].concat()).unwrap();
    for (got, ones) in [(fives.p05, got.p05), (fives.p50, got.p50), (fives.p95, got.p95)] {
        assert_eq!(got, ones * 5 + 2);
    }
}

// Half of 100,000 even chances: at least 50,000 with a chance of just over a half, which the continuity correction keeps.
#[test]
fn a_stock_for_more_animals_than_can_be_exact_lasts_as_long() {
    let feeds: Vec<PlannedFeed> = (0..3).flat_map(|day| vec![feed(day, 0.5, 2); 50_000]).collect();
    let lasts = days_of_stock(100_000, &feeds).unwrap();
    assert_eq!((lasts.method, lasts.likely, lasts.possible), (Method::Normal, Some(on("2026-03-02")), Some(on("2026-03-02"))));
    // One more than can be eaten at the mean, but only even numbers are eaten: as good as two more.
    let more = days_of_stock(100_001, &feeds).unwrap();
    assert_eq!((more.likely, more.possible), (Some(on("2026-03-03")), Some(on("2026-03-02"))));
}

#[test]
fn no_list_takes_long() {
    let started = Instant::now();
    let million = forecast(&alike(1_000_000, 0.5, 3)).unwrap();
    // Each doubles the number of different totals.
    let doubling: Vec<Feeding> = (0..32).map(|power| Feeding { probability: 0.5, prey: 1 << power }).collect();
    let doubled = forecast(&doubling).unwrap();
    let many: Vec<PlannedFeed> = (0..200_000).map(|at| feed(at / 32, 0.5, 1 << (at % 32))).collect();
    let days = need(&many).unwrap();
    assert_eq!((million.method, doubled.method), (Method::Normal, Method::Normal));
    assert_eq!(days.len(), 200_000 / 32);
    assert!(days_of_stock(4_000_000_000, &many).unwrap().likely.is_some());
    assert!(started.elapsed() < Duration::from_secs(60), "{:?}", started.elapsed());
}

#[test]
fn what_is_no_chance_is_refused_by_place() {
    for probability in [f64::NAN, f64::INFINITY, -0.01, 1.01] {
        let list = feedings(&[(0.5, 1), (probability, 1)]);
        assert_eq!(forecast(&list), Err(PreyError::Probability { at: 1 }), "{probability}");
        let planned = [feed(0, 0.5, 1), feed(0, probability, 1)];
        assert_eq!(need(&planned), Err(PreyError::Probability { at: 1 }));
        assert_eq!(days_of_stock(1, &planned).unwrap_err(), PreyError::Probability { at: 1 });
    }
    let short = PlannedFeed { offered: 1, ..feed(0, 0.5, 2) };
    assert_eq!(period_need(&[short]), Err(PreyError::Offered { at: 0 }));
}

/// A feeding so many days after 1 March 2026.
fn feed(day: u64, probability: f64, prey: u32) -> PlannedFeed {
    let day = on("2026-03-01") + chrono::Days::new(day);
    PlannedFeed { day, kind: "cricket".to_owned(), size: "small".to_owned(), probability, prey, offered: prey }
}

#[test]
fn what_must_be_prepared_stands_beside_what_will_be_eaten() {
    let roach = |mut feed: PlannedFeed| {
        feed.kind = "roach".to_owned();
        feed
    };
    let spare = PlannedFeed { offered: 3, ..feed(0, 0.5, 2) };
    let feeds = [feed(1, 0.9, 2), spare, roach(feed(0, 0.85, 1)), feed(0, 1.0, 4)];
    let days = need(&feeds).unwrap();
    let short: Vec<(&str, u64, f64, u64, u64, usize)> =
        days.iter().map(|day| (day.kind.as_str(), day.offered, day.mean, day.p05, day.p95, day.animals)).collect();
    assert_eq!(short, [("cricket", 7, 5.0, 4, 6, 2), ("roach", 1, 0.85, 0, 1, 1), ("cricket", 2, 1.8, 0, 2, 1)]);
    assert_eq!(days[0].day, on("2026-03-01"));
    let period = period_need(&feeds).unwrap();
    let cricket = &period[0];
    assert_eq!((cricket.from, cricket.to, cricket.offered, cricket.feedings), (on("2026-03-01"), on("2026-03-02"), 9, 3));
    assert_eq!((cricket.mean, cricket.p05, cricket.p95), (6.8, 4, 8));
    assert_eq!((period.len(), need(&[]).unwrap().len()), (2, 0));
}

#[test]
fn a_stock_lasts_until_as_many_are_eaten_as_there_were() {
    // Four a day at 0.9: on the third day 12 in all, and at least 9 of 12 are likely.
    let feeds: Vec<PlannedFeed> = (0..5).flat_map(|day| vec![feed(day, 0.9, 1); 4]).collect();
    let lasts = days_of_stock(9, &feeds).unwrap();
    assert_eq!((lasts.possible, lasts.likely), (Some(on("2026-03-03")), Some(on("2026-03-03"))));
    assert_eq!(lasts.summary, "9 on hand: used up on 3 March 2026 (chance over 50 %)");
    // P(all 12 taken) = 0.9^12 = 0.28; P(at least 12 of 16) = 0.983.
    let twelve = days_of_stock(12, &feeds).unwrap();
    assert_eq!((twelve.possible, twelve.likely), (Some(on("2026-03-03")), Some(on("2026-03-04"))));
    assert_eq!(twelve.summary, "12 on hand: used up by 4 March 2026 (chance over 50 %), perhaps on 3 March 2026 (over 5 %)");
    // P(all 20 taken) = 0.9^20 = 0.12.
    let twenty = days_of_stock(20, &feeds).unwrap();
    assert_eq!((twenty.possible, twenty.likely), (Some(on("2026-03-05")), None));
    assert!(twenty.summary.contains("lasts to the last feeding on 5 March 2026, but may be used up on 5 March 2026"));
    let plenty = days_of_stock(21, &feeds).unwrap();
    assert_eq!((plenty.possible, plenty.likely, plenty.planned_to), (None, None, Some(on("2026-03-05"))));
    assert_eq!(days_of_stock(5, &[]).unwrap().summary, "5 on hand; no feeding is planned");
    assert_eq!(days_of_stock(0, &feeds).unwrap().likely, Some(on("2026-03-01")));
}

#[test]
fn a_stock_of_one_kind_is_not_held_against_another() {
    let large = PlannedFeed { size: "large".to_owned(), ..feed(0, 0.5, 1) };
    assert_eq!(days_of_stock(5, &[feed(0, 0.5, 1), large]).unwrap_err(), PreyError::Mixed { at: 1 });
}

proptest! {
    #[test]
    fn the_days_of_a_stock_agree_with_every_outcome_written_out(
        feedings in prop::collection::vec((0_u64..4, any_feeding()), 1..10), on_hand in 1_u32..20,
    ) {
        let planned: Vec<PlannedFeed> = feedings.iter().map(|(day, one)| feed(*day, one.probability, one.prey)).collect();
        let lasts = days_of_stock(on_hand, &planned).unwrap();
        let first_over = |share: f64| (0..4).find(|day| {
            let until: Vec<Feeding> = feedings.iter().filter(|(other, _)| other <= day).map(|(_, feeding)| *feeding).collect();
            let fed = feedings.iter().any(|(other, _)| other == day);
            fed && written_out(&until).iter().skip(on_hand as usize).sum::<f64>() > share + 1e-12
        }).map(|day| feed(day, 0.0, 0).day);
        // Chances that lie on the limit itself may fall to either side.
        let steady = |share: f64| first_over(share) == first_over(share - 2e-12);
        prop_assert!(!steady(0.5) || lasts.likely == first_over(0.5));
        prop_assert!(!steady(0.05) || lasts.possible == first_over(0.05));
    }
}

// Common practice, no source: 0.85 with the weight of six offers.
#[test]
fn an_animals_acceptance_is_drawn_towards_the_usual_one() {
    let near = |got: f64, expected: f64| assert!((got - expected).abs() < 1e-12, "{got} {expected}");
    near(acceptance(0, 0), 0.85);
    near(acceptance(6, 0), 5.1 / 12.0);
    near(acceptance(4, 4), 9.1 / 10.0);
    near(acceptance(1_000_000, 500_000), 500_005.1 / 1_000_006.0);
    near(acceptance(2, 9), acceptance(2, 2));
    assert_eq!(acceptance_in_words(4, 4), "91 %: took 4 of 4 offers, drawn towards the usual 85 %");
    assert_eq!(acceptance_in_words(0, 0), "85 %: no offers on record, so the usual share");
}

proptest! {
    #[test]
    fn acceptance_lies_between_its_own_and_the_usual_share(offered in 1_u32.., part in 0.0..=1.0) {
        let taken = (f64::from(offered) * part) as u32;
        let own = f64::from(taken) / f64::from(offered);
        let got = acceptance(offered, taken);
        prop_assert!((own.min(0.85) - 1e-12..=own.max(0.85) + 1e-12).contains(&got));
    }
}
