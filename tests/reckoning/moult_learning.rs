//! What a house learns of its moults: worked cases of the rules in `reckoning/moult/learn.rs`, and houses of known truth.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use silkward::reckoning::moult::belief::Belief;
use silkward::reckoning::moult::history::{History, Moult};
use silkward::reckoning::moult::learn::{DayWindow, LearnError, Learned, MoultForecast, OWN_WEIGHT, UsualRanges};
use silkward::reckoning::words::LifeStage::{self, Adult, Juvenile, Spiderling};

use super::on;
use super::simulated::{House, normal};

fn usual() -> UsualRanges {
    BTreeMap::from([(Spiderling, (30, 60)), (Juvenile, (90, 180))])
}

fn moult(day: NaiveDate, stage: LifeStage) -> Moult {
    Moult { on: day, recorded_on: day, stage }
}

/// Moults of a spiderling from a day on, so many days apart.
fn spiderling(from: &str, days_apart: &[u64]) -> History {
    let mut day = on(from);
    let mut moults = vec![moult(day, Spiderling)];
    for apart in days_apart {
        day = day + Days::new(*apart);
        moults.push(moult(day, Spiderling));
    }
    History::new(moults, None)
}

fn forecast(histories: &[History], which: usize, today: &str) -> MoultForecast {
    Learned::new(&usual(), histories).unwrap().forecast(&histories[which], on(today)).unwrap()
}

fn days(window: &DayWindow, since: &str) -> (i64, i64, i64) {
    let of = |day: NaiveDate| (day - on(since)).num_days();
    (of(window.from), of(window.likely), of(window.to))
}

/// The window of 30 to 60 usual days is 28.80 to 62.51 (`moult_belief.rs`): the whole days in it are 29 to 62.
#[test]
fn with_nothing_learnt_the_window_is_the_usual_range_and_the_doubt_about_the_mean() {
    let alone = [spiderling("2026-01-01", &[])];
    let got = forecast(&alone, 0, "2026-01-01");
    assert_eq!(days(&got.at_moult, "2026-01-01"), (29, 42, 62));
    assert_eq!((got.from, got.likely, got.to), (got.at_moult.from, got.at_moult.likely, got.at_moult.to));
    assert_eq!((got.own, got.house, got.prior_weight, got.own_weight), (0, 0, 1.0, OWN_WEIGHT));
    assert_eq!(got.basis, "from the usual 30 to 60 days");
}

/// The middle √(least × most), and √(5/4) times the range's width in logarithms, half to each side: in whole days.
#[test]
fn the_first_window_of_every_usual_range_is_wider_by_the_doubt_about_the_mean() {
    let day = on("2026-01-01");
    for least in (7_u32..400).step_by(3) {
        for most in [least + 5, 2 * least, 3 * least + 1] {
            let usual = BTreeMap::from([(Spiderling, (least, most))]);
            let alone = spiderling("2026-01-01", &[]);
            let window = Learned::new(&usual, &[]).unwrap().forecast(&alone, day).unwrap().at_moult;
            let (middle, ratio) = (f64::from(least * most).sqrt(), f64::from(most) / f64::from(least));
            let aside = ratio.powf(1.25_f64.sqrt() / 2.0);
            // A range narrower than any house keeps to is widened more.
            if ratio > 1.16 {
                let whole = ((middle / aside).ceil() as u64, (middle * aside).floor() as u64);
                assert_eq!((window.from, window.to), (day + Days::new(whole.0), day + Days::new(whole.1)), "{least} to {most}");
            }
        }
    }
}

#[test]
fn as_days_pass_without_a_moult_the_window_moves_on_and_the_first_one_stays() {
    let alone = [spiderling("2026-01-01", &[])];
    let late = forecast(&alone, 0, "2026-03-22");
    assert_eq!(days(&late.at_moult, "2026-01-01"), (29, 42, 62));
    assert!(late.from > on("2026-03-22") && late.from < late.likely && late.likely < late.to);
    let later = forecast(&alone, 0, "2026-05-01");
    assert!(later.from > late.from && later.likely > late.likely && later.to > late.to);
}

#[test]
fn the_house_and_the_animal_are_told_apart_in_words() {
    let houses = [spiderling("2025-01-01", &[50, 52, 49]), spiderling("2025-02-01", &[50, 51]), spiderling("2025-03-01", &[47])];
    let got = forecast(&houses, 0, "2026-03-01");
    assert_eq!((got.own, got.house), (3, 3));
    assert_eq!(got.basis, "from 3 of its own intervals, 3 of others of its species as a spiderling here, and the usual 30 to 60 days");
    assert!((got.prior_weight - 4.0 / 7.0).abs() < 1e-12);
    assert_eq!(forecast(&houses[..1], 0, "2026-03-01").basis, "from 3 of its own intervals and the usual 30 to 60 days");
    let newcomer = [spiderling("2026-02-01", &[]), houses[1].clone()];
    assert_eq!(
        forecast(&newcomer, 0, "2026-03-01").basis,
        "from 2 of others of its species as a spiderling here and the usual 30 to 60 days"
    );
}

/// The next interval of a usual range of 30 to 60 days has its 97.5 % point at 42.43 exp(2.306 × 0.2774) = 80.4 days (t
/// with 8 degrees of freedom: 1.3968 and 2.3060, any table; 0.38748 / 1.3968 = 0.2774), so an interval counts from the
/// 81st day after its beginning, 23 March.
#[test]
fn an_interval_counts_only_once_a_long_one_would_have_ended() {
    let house = [spiderling("2026-01-01", &[35])];
    let learned = Learned::new(&usual(), &house).unwrap();
    let counted = |day: &str| learned.kind(Spiderling, on(day)).unwrap().house;
    assert_eq!((counted("2026-02-05"), counted("2026-03-22")), (0, 0));
    assert_eq!((counted("2026-03-23"), counted("2027-01-01")), (1, 1));
    let slow = Learned::new(&usual(), &[spiderling("2026-01-01", &[100])]).unwrap();
    let counted = |day: &str| slow.kind(Spiderling, on(day)).unwrap().house;
    assert_eq!((counted("2026-04-10"), counted("2026-04-11")), (0, 1));
}

#[test]
fn an_animal_that_left_before_a_long_interval_would_have_shown_does_not_count() {
    let of = |left: &str| {
        let stayed = spiderling("2026-01-01", &[35]);
        let history = History::new(stayed.moults().to_vec(), Some(on(left)));
        Learned::new(&usual(), &[history]).unwrap().kind(Spiderling, on("2027-01-01")).unwrap().house
    };
    assert_eq!((of("2026-03-22"), of("2026-03-23")), (0, 1));
}

#[test]
fn what_was_written_down_later_was_not_known_before() {
    let late = Moult { recorded_on: on("2026-06-01"), ..moult(on("2026-02-10"), Spiderling) };
    let history = History::new(vec![moult(on("2026-01-01"), Spiderling), late], None);
    let learned = Learned::new(&usual(), std::slice::from_ref(&history)).unwrap();
    let before = learned.forecast(&history, on("2026-05-31")).unwrap();
    assert_eq!((before.own, days(&before.at_moult, "2026-01-01")), (0, (29, 42, 62)));
    let after = learned.forecast(&history, on("2026-06-01")).unwrap();
    assert_eq!(after.own, 1);
    // Told on 1 June, when 111 days had passed since that moult.
    assert!(after.at_moult.from > on("2026-06-01"));
}

#[test]
fn a_moult_written_down_late_parts_the_interval_that_the_book_showed() {
    let middle = Moult { recorded_on: on("2026-06-01"), ..moult(on("2026-02-10"), Spiderling) };
    let history = History::new(vec![moult(on("2026-01-01"), Spiderling), moult(on("2026-03-20"), Spiderling), middle], None);
    let shown: Vec<(f64, NaiveDate, Option<NaiveDate>)> =
        history.intervals().iter().map(|interval| (interval.days(), interval.known_from, interval.known_until)).collect();
    let parted = on("2026-06-01");
    assert_eq!(shown, [(78.0, on("2026-03-20"), Some(parted)), (40.0, parted, None), (38.0, parted, None)]);
    let learned = Learned::new(&usual(), &[history]).unwrap();
    let mean = |day: &str| learned.kind(Spiderling, on(day)).unwrap();
    assert_eq!((mean("2026-05-31").house, mean("2026-06-04").house), (1, 2));
    let prior = Belief::from_usual_range(30, 60).unwrap();
    assert!((mean("2026-05-31").belief.mean - prior.updated(&[78.0]).unwrap().mean).abs() < 1e-12);
    let both = prior.updated(&[40.0, 38.0]).unwrap();
    assert!((mean("2026-06-04").belief.mean - both.mean).abs() < 1e-12);
    assert!((mean("2026-06-04").belief.beta - both.beta).abs() < 1e-12);
}

#[test]
fn a_slow_animal_is_forecast_later_than_its_steady_sisters() {
    let mut house: Vec<History> = (0..30).map(|at| spiderling("2025-01-01", &[44 + at % 3, 45, 46])).collect();
    house.push(spiderling("2025-01-01", &[58, 60, 59]));
    let sister = forecast(&house, 0, "2025-05-16");
    let slow = forecast(&house, 30, "2025-06-27");
    assert_eq!((days(&sister.at_moult, "2025-05-16").1 - 45).abs().min(2), (days(&sister.at_moult, "2025-05-16").1 - 45).abs());
    let (from, likely, to) = days(&slow.at_moult, "2025-06-27");
    assert!(likely > 50 && likely < 60 && from > 35 && to < 80, "{from} {likely} {to}");
}

/// Own intervals of another life stage are scaled: an animal a fifth slower as a spiderling is forecast slower than its
/// sisters as a juvenile, though all its intervals were far shorter than a juvenile's.
#[test]
fn what_an_animal_did_as_a_spiderling_tells_of_it_as_a_juvenile() {
    let animal = |factor: f64| {
        let mut day = on("2024-01-01");
        let mut moults = vec![moult(day, Spiderling)];
        for (stage, apart) in [(Spiderling, 42.4), (Spiderling, 42.4), (Spiderling, 42.4), (Juvenile, 42.4), (Juvenile, 127.3)] {
            day = day + Days::new((apart * factor) as u64);
            moults.push(moult(day, stage));
        }
        History::new(moults, None)
    };
    let mut house: Vec<History> = (0..20).map(|_| animal(1.0)).collect();
    // The slow one has just become a juvenile.
    let slow = animal(1.2);
    let young = History::new(slow.moults()[..5].to_vec(), None);
    house.push(young.clone());
    let learned = Learned::new(&usual(), &house).unwrap();
    let became = young.moults()[4].on;
    let got = learned.forecast(&young, became).unwrap();
    let likely = (got.likely - became).num_days();
    let of_kind = learned.kind(Juvenile, became).unwrap().belief.mean.exp();
    assert_eq!(got.own, 4);
    // Four intervals against the weight of the kind bring it a good part of the way from 127 to 153 days.
    assert!(likely as f64 > 1.05 * of_kind && likely < 153, "{likely} for {of_kind}");
}

/// The whole of it once by hand, from the stated rules and the conjugate update that the reference file holds.
#[test]
fn an_animals_forecast_is_its_kinds_belief_updated_by_its_own_scaled_intervals() {
    let of = |stages: &[(LifeStage, u64)]| {
        let mut day = on("2024-01-01");
        let mut moults = Vec::new();
        for (stage, apart) in stages {
            moults.push(moult(day, *stage));
            day = day + Days::new(*apart);
        }
        History::new(moults, None)
    };
    // Spiderlings here take less than is usual, juveniles more. The last entry only tells the stage after the last moult.
    let others = [
        of(&[(Spiderling, 31), (Spiderling, 35), (Juvenile, 160), (Juvenile, 1)]),
        of(&[(Spiderling, 33), (Spiderling, 28), (Juvenile, 171), (Juvenile, 1)]),
        of(&[(Spiderling, 36), (Juvenile, 149), (Juvenile, 150), (Juvenile, 1)]),
    ];
    let animal = of(&[(Spiderling, 40), (Spiderling, 38), (Juvenile, 190), (Juvenile, 1)]);
    let house = [&others[..], std::slice::from_ref(&animal)].concat();
    let today = animal.moults()[3].on + Days::new(400);
    let got = Learned::new(&usual(), &house).unwrap().forecast(&animal, today).unwrap();

    let young = Belief::from_usual_range(30, 60).unwrap().updated(&[31.0, 35.0, 33.0, 28.0, 36.0]).unwrap();
    let kind = Belief::from_usual_range(90, 180).unwrap().updated(&[160.0, 171.0, 149.0, 150.0]).unwrap();
    let scaled = (kind.mean - young.mean).exp();
    let kappa = 1.0 / (1.0 / got.own_weight + 1.0 / kind.kappa);
    let beta = kind.beta * (kind.kappa + 1.0) / kind.kappa * kappa / (kappa + 1.0);
    let own = Belief { kappa, beta, ..kind }.updated(&[40.0 * scaled, 38.0 * scaled, 190.0]).unwrap();
    let window = own.forecast(400.0).unwrap().conditional;
    let day = |days: f64| animal.moults()[3].on + Days::new(days as u64);
    assert_eq!((got.own, got.house), (3, 4));
    assert_eq!(
        (got.from, got.likely, got.to),
        (day(window.p10_days.ceil()), day(window.median_days.round()), day(window.p90_days.floor()))
    );
}

/// In a large house of wavering animals, one that has kept to the same days for a dozen moults gets a window of its own.
#[test]
fn the_steadiness_of_one_animal_is_not_swamped_by_the_house() {
    let mut house: Vec<History> = (0..300).map(|at| spiderling("2024-01-01", &[30 + at % 31, 60 - at % 29, 35 + at % 17])).collect();
    house.push(spiderling("2024-01-01", &[45; 12]));
    house.push(spiderling("2025-12-01", &[]));
    let learned = Learned::new(&usual(), &house).unwrap();
    let width = |which: usize| {
        let window = learned.forecast(&house[which], on("2026-01-01")).unwrap().at_moult;
        (window.to - window.from).num_days() as f64
    };
    assert!(width(300) < 0.85 * width(301), "{} of {}", width(300), width(301));
}

#[test]
fn a_new_animal_is_forecast_as_its_kind_however_large_the_house() {
    let mut house = vec![spiderling("2026-01-01", &[])];
    house.extend((0..200).map(|at| spiderling("2024-01-01", &[40 + at % 9, 45, 47])));
    let learned = Learned::new(&usual(), &house).unwrap();
    let kind = learned.kind(Spiderling, on("2026-01-01")).unwrap();
    let window = kind.belief.forecast(0.0).unwrap();
    let got = learned.forecast(&house[0], on("2026-01-01")).unwrap();
    assert_eq!(kind.house, 600);
    assert_eq!(
        days(&got.at_moult, "2026-01-01"),
        (window.p10_days.ceil() as i64, window.median_days.round() as i64, window.p90_days.floor() as i64)
    );
}

/// A cohort's page tells the days of an animal of its kind: one rule, one rounding.
#[test]
fn the_window_of_a_kind_is_that_of_a_new_animal_of_it() {
    let mut house = vec![spiderling("2026-01-01", &[])];
    house.extend((0..40).map(|at| spiderling("2024-01-01", &[36 + at % 19, 45, 47])));
    let learned = Learned::new(&usual(), &house).unwrap();
    for day in ["2025-12-31", "2026-01-01", "2026-02-03", "2026-03-20", "2027-01-01"] {
        let window = learned.kind(Spiderling, on(day)).unwrap().window(on("2026-01-01"), on(day)).unwrap();
        assert!(window.from <= window.likely && window.likely <= window.to && (day < "2026-01-01" || window.from > on(day)), "{window:?}");
        if day >= "2026-01-01" {
            let got = learned.forecast(&house[0], on(day)).unwrap();
            assert_eq!(window, DayWindow { from: got.from, likely: got.likely, to: got.to }, "{day}");
        }
    }
}

/// The first own interval must not make the window jump: with one exactly at the mean of its kind it stays much as it was.
#[test]
fn a_first_own_interval_as_expected_hardly_changes_the_window() {
    let others: Vec<History> = (0..300).map(|at| spiderling("2024-01-01", &[38 + at % 17, 40 + at % 12, 50 - at % 9])).collect();
    let with = |animal: History| {
        let mut house = others.clone();
        house.push(animal);
        let learned = Learned::new(&usual(), &house).unwrap();
        let got = learned.forecast(&house[300], on("2026-03-01")).unwrap();
        (got.at_moult.to - got.at_moult.from).num_days()
    };
    let (before, after) = (with(spiderling("2026-03-01", &[])), with(spiderling("2026-01-15", &[45])));
    assert!((before - after).abs() <= 1, "{before} and {after}");
}

#[test]
fn what_is_missing_is_said() {
    let learned = Learned::new(&usual(), &[]).unwrap();
    let adult = History::new(vec![moult(on("2026-01-01"), Adult)], None);
    assert_eq!(learned.forecast(&adult, on("2026-02-01")), Err(LearnError::NoRange(Adult)));
    assert_eq!(learned.forecast(&adult, on("2025-12-31")), Err(LearnError::NoMoult));
    assert_eq!(learned.forecast(&History::default(), on("2026-02-01")), Err(LearnError::NoMoult));
    let wrong = BTreeMap::from([(Juvenile, (90, 30))]);
    let message = Learned::new(&wrong, &[]).unwrap_err().to_string();
    assert!(message.starts_with("juvenile: 90 to 30 days is not a range"), "{message}");
}

/// How much animals differ is learnt: where all of the variance lies within animals their own history counts for little,
/// where most lies between them it counts for much. 0.20 and 0.10 is where it begins.
#[test]
fn the_weight_of_an_animals_own_history_is_learnt() {
    let weight = |within: f64, between: f64| {
        let house = House { leaving: 0.0, ..House::of(within, between, 3) };
        let log = house.log();
        let learned = Learned::new(&log.usual, &log.histories).unwrap();
        learned.forecast(&log.histories[0], house.today()).unwrap().own_weight
    };
    assert!(weight(0.25, 0.0) > 8.0);
    assert!((2.0..8.0).contains(&weight(0.20, 0.10)));
    assert!(weight(0.10, 0.20) < 1.0);
}

/// In a young book only the short intervals have ended. The mean of what ended is far too short; what the house has
/// learnt by the rule is not (length-biased sampling).
#[test]
fn a_young_book_does_not_learn_that_moults_come_fast() {
    let (mut rng, today) = (StdRng::seed_from_u64(11), on("2026-04-20"));
    let mut histories = Vec::new();
    let (mut ended, mut sum) = (0.0, 0.0);
    // Of 8000, some 1300 count by then: a standard error of 0.3 / √1300 = 0.008.
    for _ in 0..8000 {
        let first = on("2026-01-01") + Days::new(rng.random_range(0..109));
        let apart = (45.0_f64.ln() + 0.3 * normal(&mut rng)).exp();
        let next = first + Days::new(apart.round() as u64);
        let mut moults = vec![moult(first, Spiderling)];
        if next <= today {
            moults.push(moult(next, Spiderling));
            ended += 1.0;
            sum += apart.ln();
        }
        histories.push(History::new(moults, None));
    }
    let learned = Learned::new(&BTreeMap::from([(Spiderling, (31, 66))]), &histories).unwrap();
    let kind = learned.kind(Spiderling, today).unwrap();
    let (naive, truth) = (sum / ended, 45.0_f64.ln());
    assert!(naive < truth - 0.05, "as many ended as were short: {naive}");
    assert!((kind.belief.mean - truth).abs() < 0.025, "{} for {truth}", kind.belief.mean);
    assert!(kind.house > 800 && (kind.house as f64) < ended);
}

#[test]
fn two_moults_on_one_day_are_one() {
    let day = on("2026-01-01");
    let twice = History::new(vec![moult(day, Juvenile), Moult { recorded_on: on("2026-01-09"), ..moult(day, Spiderling) }], None);
    assert_eq!(twice.moults().len(), 1);
    assert_eq!(twice.moults()[0].stage, Juvenile);
    assert!(twice.intervals().is_empty());
}

fn any_history() -> impl Strategy<Value = History> {
    let one = (0_u64..900, 0_u64..200, prop::sample::select(vec![Spiderling, Juvenile]));
    let moults = prop::collection::vec(one, 0..12).prop_map(|moults| {
        moults.into_iter().map(|(at, late, stage)| {
            let day = on("2024-01-01") + Days::new(at);
            Moult { on: day, recorded_on: day + Days::new(late), stage }
        })
    });
    (moults, prop::option::of(0_u64..1200))
        .prop_map(|(moults, left)| History::new(moults.collect(), left.map(|at| on("2024-01-01") + Days::new(at))))
}

/// A history as it stood in the book on a day.
fn as_known(history: &History, day: NaiveDate) -> History {
    let known = history.moults().iter().filter(|moult| moult.known_on() <= day).copied();
    History::new(known.collect(), history.left_on())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// The running sums give the same as learning afresh from what the book held on that day.
    #[test]
    fn a_forecast_as_of_a_day_needs_nothing_that_came_later(histories in prop::collection::vec(any_history(), 1..8), at in 0_u64..1300) {
        let day = on("2024-01-01") + Days::new(at);
        let learned = Learned::new(&usual(), &histories).unwrap();
        let then: Vec<History> = histories.iter().map(|history| as_known(history, day)).collect();
        let afresh = Learned::new(&usual(), &then).unwrap();
        for (history, known) in histories.iter().zip(&then) {
            match (learned.forecast(history, day), afresh.forecast(known, day)) {
                (Ok(got), Ok(expected)) => {
                    prop_assert_eq!((got.own, got.house, got.from, got.likely, got.to), (expected.own, expected.house, expected.from, expected.likely, expected.to));
                    prop_assert_eq!(got.at_moult, expected.at_moult);
                }
                (got, expected) => prop_assert_eq!(got, expected),
            }
        }
    }

    #[test]
    fn windows_are_in_order_and_never_over(histories in prop::collection::vec(any_history(), 1..8), at in 0_u64..3000) {
        let day = on("2024-01-01") + Days::new(at);
        let learned = Learned::new(&usual(), &histories).unwrap();
        for history in &histories {
            if let Ok(got) = learned.forecast(history, day) {
                prop_assert!(day < got.from && got.from <= got.likely && got.likely <= got.to, "{:?}", got);
                prop_assert!(got.at_moult.from <= got.at_moult.likely && got.at_moult.likely <= got.at_moult.to);
                prop_assert!((0.0..=1.0).contains(&got.probability_within_7_days) && got.own_weight > 0.0);
            }
        }
    }
}
