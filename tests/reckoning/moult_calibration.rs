//! How honest past forecasts were: worked logs, and houses of known truth whose 80 % windows must hold about 80 %.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::moult::calibration::{Outcomes, SpeciesLog, calibrate};
use silkward::reckoning::moult::history::{History, Moult};
use silkward::reckoning::reckon;
use silkward::reckoning::words::LifeStage::{Juvenile, Spiderling};

use super::on;
use super::simulated::House;

/// One animal of 30 to 60 usual days, whose moults were written down on their days.
fn log(days: &[&str], left: Option<&str>) -> SpeciesLog {
    let moults = days.iter().map(|day| Moult { on: on(day), recorded_on: on(day), stage: Spiderling }).collect();
    let usual = BTreeMap::from([(Spiderling, (30, 60))]);
    SpeciesLog { species: "Brachypelma hamorii".to_owned(), usual, histories: vec![History::new(moults, left.map(on))] }
}

fn judged(log: SpeciesLog, today: &str) -> Outcomes {
    calibrate(&[log], on(today)).unwrap().total
}

// Worked by hand: with nothing learnt the window of 30 to 60 usual days is 28.80 to 62.51 (√1800 / and × 2^(√1.25 / 2), as
// the house's own mean is not known), so day 29 to day 62, 30 January to 4 March, both days in it.
#[test]
fn a_window_is_judged_once_it_has_closed_and_not_before() {
    let outcome = |next: &str, today: &str| judged(log(&["2026-01-01", next], None), today);
    let first = |outcomes: Outcomes| (outcomes.inside, outcomes.early, outcomes.late);
    // The second moult begins a window of its own, which is open.
    assert_eq!(first(outcome("2026-01-30", "2026-03-05")), (1, 0, 0));
    assert_eq!(first(outcome("2026-03-04", "2026-03-05")), (1, 0, 0));
    assert_eq!(first(outcome("2026-01-29", "2026-03-05")), (0, 1, 0));
    assert_eq!(first(outcome("2026-03-05", "2026-03-05")), (0, 0, 1));
    for next in ["2026-01-15", "2026-02-10"] {
        let open = outcome(next, "2026-03-04");
        assert_eq!((open.closed(), open.open), (0, 2), "{next}");
    }
}

#[test]
fn an_animal_that_has_not_moulted_by_the_end_of_its_window_is_late() {
    assert_eq!(judged(log(&["2026-01-01"], None), "2026-03-04"), Outcomes { open: 1, ..Outcomes::default() });
    assert_eq!(judged(log(&["2026-01-01"], None), "2026-03-05"), Outcomes { late: 1, ..Outcomes::default() });
}

#[test]
fn a_window_that_closed_after_the_animal_left_is_not_judged_whatever_came_of_it() {
    for moults in [&["2026-01-01"][..], &["2026-01-01", "2026-02-10"][..], &["2026-01-01", "2026-01-12"][..]] {
        let outcomes = judged(log(moults, Some("2026-03-03")), "2027-01-01");
        assert_eq!((outcomes.closed(), outcomes.left), (0, moults.len()));
    }
    assert_eq!(judged(log(&["2026-01-01"], Some("2026-03-04")), "2027-01-01").late, 1);
}

#[test]
fn a_forecast_made_when_the_next_moult_had_come_is_none() {
    let written = |recorded: &str| {
        let mut log = log(&[], None);
        let first = Moult { on: on("2026-01-01"), recorded_on: on(recorded), stage: Spiderling };
        let next = Moult { on: on("2026-02-10"), recorded_on: on("2026-02-10"), stage: Spiderling };
        log.histories = vec![History::new(vec![first, next], None)];
        let outcomes = judged(log, "2026-03-15");
        (outcomes.closed(), outcomes.open)
    };
    assert_eq!(written("2026-02-09"), (1, 1));
    assert_eq!(written("2026-02-10"), (0, 1));
    assert_eq!(written("2026-02-11"), (0, 1));
}

/// Written down on day 50 without a moult so far, the window is one of those that are longer than 50 days.
#[test]
fn a_forecast_is_that_of_the_day_on_which_the_moult_was_written_down() {
    let mut late = log(&[], None);
    late.histories = vec![History::new(vec![Moult { on: on("2026-01-01"), recorded_on: on("2026-02-20"), stage: Spiderling }], None)];
    assert_eq!(judged(late.clone(), "2026-03-05").open, 1);
    assert_eq!(judged(late, "2026-04-30").late, 1);
}

// Newcombe 1998, Stat. Med. 17: 857-872, table I: 81 of 263 by Wilson's method gives 0.2553 to 0.3662.
#[test]
fn the_share_has_wilsons_interval() {
    let outcomes = Outcomes { inside: 81, early: 100, late: 82, open: 7, left: 1 };
    let share = outcomes.share().unwrap();
    assert!((share.value - 81.0 / 263.0).abs() < 1e-12);
    assert!((share.low - 0.2553).abs() < 5e-5 && (share.high - 0.3662).abs() < 5e-5, "{share:?}");
    assert_eq!(
        outcomes.told(),
        "81 of 263 windows of 80 % held (31 %, 95 % interval 26 to 37 %); 100 moults came early, 82 late or not yet; 7 windows still open"
    );
    assert_eq!(Outcomes::default().share(), None);
    assert_eq!(Outcomes::default().told(), "no forecast can be judged yet; 0 still open");
}

#[test]
fn species_are_told_apart_and_added_up() {
    let other = SpeciesLog { species: "Monocentropus balfouri".to_owned(), ..log(&["2026-01-01"], None) };
    let found = calibrate(&[log(&["2026-01-01", "2026-02-10"], None), other], on("2026-03-10")).unwrap();
    assert_eq!(found.species[0].1, Outcomes { inside: 1, open: 1, ..Outcomes::default() });
    assert_eq!(found.species[1], ("Monocentropus balfouri".to_owned(), Outcomes { late: 1, ..Outcomes::default() }));
    assert_eq!(found.total, Outcomes { inside: 1, late: 1, open: 1, ..Outcomes::default() });
}

#[test]
fn a_stage_without_a_usual_range_is_said_with_its_species() {
    let mut wrong = log(&["2026-01-01"], None);
    wrong.usual = BTreeMap::from([(Juvenile, (90, 180))]);
    let message = calibrate(&[wrong], on("2026-03-10")).unwrap_err().to_string();
    assert_eq!(message, "Brachypelma hamorii: no usual days between moults are given for a spiderling: add them to its care profile");
}

#[test]
fn the_outside_reckoning_answers_the_same() {
    let input = json!({"today": "2026-03-05", "species": [{"species": "Brachypelma hamorii", "usual": {"spiderling": [30, 60]}, "animals": [
        {"moults": [{"on": "2026-01-01", "stage": "spiderling"}, {"on": "2026-02-10", "recorded_on": "2026-02-12", "stage": "spiderling"}]},
        {"moults": [{"on": "2026-01-01", "stage": "spiderling"}], "left_on": "2026-02-01"},
    ]}]});
    let got: Value = serde_json::from_str(&reckon("moult_calibration", &input.to_string()).unwrap()).unwrap();
    assert_eq!((&got["total"]["inside"], &got["total"]["open"], &got["total"]["left"]), (&json!(1), &json!(1), &json!(1)));
    assert_eq!(got["species"][0]["species"], "Brachypelma hamorii");
    assert!(got["total"]["share"]["low"].as_f64().unwrap() > 0.2);
    let wrong = input.to_string().replace("[30,60]", "[60,30]");
    assert!(
        reckon("moult_calibration", &wrong).unwrap_err().to_string().starts_with("species: Brachypelma hamorii: spiderling: 60 to 30 days")
    );
}

/// What several houses of one kind found together, over the whole book, or over its second half only.
fn together(house: House, houses: u64, second_half: bool) -> Outcomes {
    let mut sum = Outcomes::default();
    for seed in 0..houses {
        let house = House { seed, ..house };
        let log = [house.log()];
        let whole = calibrate(&log, house.today()).unwrap().total;
        let first = if second_half { calibrate(&log, house.today() - Days::new(house.days)).unwrap().total } else { Outcomes::default() };
        sum.inside += whole.inside - first.inside;
        sum.early += whole.early - first.early;
        sum.late += whole.late - first.late;
    }
    sum
}

fn holds_its_word(house: House, houses: u64, second_half: bool) {
    let found = together(house, houses, second_half);
    let share = found.share().unwrap().value;
    assert!(found.closed() > 400, "{found:?}");
    assert!((0.75..=0.85).contains(&share), "{share}: {found:?}");
}

/// The spread within an animal and between animals, in logarithms of days. All have about 0.21 to 0.25 together.
const MIXES: [(f64, f64); 3] = [(0.20, 0.10), (0.15, 0.15), (0.25, 0.0)];

#[test]
fn with_a_right_usual_range_the_windows_hold_over_the_whole_book() {
    for (within, between) in MIXES {
        holds_its_word(House { leaving: 0.0, ..House::of(within, between, 0) }, 4, false);
        holds_its_word(House::of(within, between, 0), 6, false);
    }
}

/// Few animals of each species learn little, so that it is the usual range alone that must be right.
#[test]
fn with_a_right_usual_range_they_hold_in_a_house_of_few_animals_too() {
    for (within, between) in MIXES {
        for animals in [6, 20] {
            holds_its_word(House { animals, leaving: 0.0, ..House::of(within, between, 0) }, 480 / animals as u64, false);
        }
    }
}

#[test]
fn with_a_usual_range_a_tenth_too_narrow_they_hold_over_the_whole_book() {
    for (within, between) in MIXES {
        holds_its_word(House { wide: 0.9, leaving: 0.0, ..House::of(within, between, 0) }, 4, false);
    }
}

#[test]
fn with_a_usual_range_too_short_by_30_percent_they_hold_once_the_house_has_learnt() {
    for (within, between) in MIXES {
        holds_its_word(House { off: 0.7, leaving: 0.0, ..House::of(within, between, 0) }, 4, true);
    }
}

#[test]
fn with_a_usual_range_half_as_wide_again_they_hold_once_the_house_has_learnt() {
    for (within, between) in MIXES {
        holds_its_word(House { wide: 1.5, leaving: 0.0, ..House::of(within, between, 0) }, 8, true);
    }
}

/// A usual range that is far too wide makes windows that hold too often. A hundred intervals at each life stage must be
/// seen before they are as narrow as they say, and the wide range also makes the house wait longer until one counts: in
/// six years a house of 120 animals does not get there, in ten one of 600 does.
#[test]
fn a_usual_range_two_and_a_half_times_too_wide_takes_years_to_mend() {
    let small = House { wide: 2.5, leaving: 0.0, ..House::of(0.20, 0.10, 0) };
    assert!(together(small, 3, true).share().unwrap().value > 0.87);
    holds_its_word(House { animals: 600, days: 5 * 365, ..small }, 1, true);
}

/// Were an animal without a moult left out until it moults, or one judged at once when it moults, late or early moults
/// would be favoured. As it is, about as many come early as late.
#[test]
fn early_and_late_moults_are_judged_alike() {
    for leaving in [0.0, 0.16, 0.5] {
        let found = together(House { leaving, ..House::of(0.20, 0.10, 0) }, 8, false);
        let (early, late) = (found.early as f64, found.late as f64);
        assert!((early - late).abs() < 3.5 * (early + late).sqrt(), "{leaving}: {found:?}");
    }
}

fn any_animal() -> impl Strategy<Value = History> {
    (prop::collection::vec((1_u64..120, 0_u64..40), 0..10), prop::option::of(0_u64..900)).prop_map(|(moults, left)| {
        let mut day = on("2024-01-01");
        let moults = moults.into_iter().map(|(apart, late)| {
            day = day + Days::new(apart);
            Moult { on: day, recorded_on: day + Days::new(late), stage: Spiderling }
        });
        History::new(moults.collect(), left.map(|at| on("2024-01-01") + Days::new(at)))
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Every moult on record is judged, open, left, or was no forecast; and what is written down later changes nothing.
    #[test]
    fn what_is_written_down_later_changes_nothing(histories in prop::collection::vec(any_animal(), 1..8), at in 0_u64..1200) {
        let today: NaiveDate = on("2024-01-01") + Days::new(at);
        let of = |histories: &[History]| {
            let log = SpeciesLog { histories: histories.to_vec(), ..log(&[], None) };
            calibrate(&[log], today).unwrap().total
        };
        let known: Vec<History> = histories
            .iter()
            .map(|history| History::new(history.moults().iter().filter(|moult| moult.known_on() <= today).copied().collect(), history.left_on()))
            .collect();
        let outcomes = of(&histories);
        prop_assert_eq!(outcomes, of(&known));
        let moults: usize = known.iter().map(|history| history.moults().len()).sum();
        prop_assert!(outcomes.closed() + outcomes.open + outcomes.left <= moults);
        let mut backwards = histories.clone();
        backwards.reverse();
        prop_assert_eq!(outcomes, of(&backwards));
    }
}
