//! The forecast of a sac and its stages: against mpmath (`tests/oracles/sac_forecast.json`, run by `reference_files`), against a
//! textbook's worked example of the same analysis, and by simulation of how often its windows hold.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use silkward::reckoning::breeding::forecast::{OfGroup, forecast, usual_belief};
use silkward::reckoning::breeding::{ANY_DAYS_TO_SAC, SacGroup};
use silkward::reckoning::moult::belief::Belief;

use super::on;
use super::simulated::normal;

// Hoff 2009, A First Course in Bayesian Statistical Methods, section 5.3 (midge wing lengths of Grogan & Wirth 1981; from memory):
// prior mean 1.9 worth one observation, prior variance 0.01 worth one; nine lengths; posterior mean 1.814, variance 0.015, worth ten.
#[test]
fn the_update_gives_the_worked_example_of_a_textbook() {
    let lengths = [1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08_f64];
    let prior = Belief { mean: 1.9, kappa: 1.0, alpha: 0.5, beta: 0.005 };
    let posterior = prior.updated(&lengths.map(f64::exp)).unwrap();
    assert!((posterior.mean - 1.814).abs() < 0.0005, "{}", posterior.mean);
    assert_eq!((posterior.kappa, posterior.alpha), (10.0, 5.0));
    let variance = posterior.beta / posterior.alpha;
    assert!((variance - 0.015).abs() < 0.0005, "{variance}");
}

#[test]
fn without_sacs_of_its_own_the_forecast_is_the_usual_range() {
    for group in SacGroup::ALL {
        let days = group.stage_days();
        for usual in [group.days_to_sac(), days.post_embryo, days.first_instar, days.second_instar, ANY_DAYS_TO_SAC] {
            let told = forecast(usual, &[], &[]).unwrap();
            assert!((told.p10_days - f64::from(usual.0)).abs() < 1e-6 && (told.p90_days - f64::from(usual.1)).abs() < 1e-6, "{told:?}");
            assert_eq!((told.own_weight, told.range_weight), (0.0, 1.0));
            assert!(told.basis.contains("no finished sac of our own yet"), "{}", told.basis);
        }
    }
}

#[test]
fn the_weight_of_own_sacs_grows_and_is_told_in_words() {
    let three = forecast((25, 40), &[31.0, 29.0, 33.0], &[]).unwrap();
    assert!((three.own_weight - 0.6).abs() < 1e-12);
    assert!(three.basis.contains("3 own sacs of the species: 60 %"), "{}", three.basis);
    assert!(three.basis.contains("the usual 25 to 40 days (common practice, no source): 40 %"), "{}", three.basis);
    let group = [OfGroup { days: 27.0, usual: (20, 30) }];
    let one = forecast((25, 40), &[], &group).unwrap();
    assert!((one.group_weight - 0.2).abs() < 1e-12);
    assert!(one.basis.contains("1 own sac of its breeding group: 20 %"), "{}", one.basis);
    let late: Vec<f64> = (0..30).map(|more| 44.0 + f64::from(more) * 0.1).collect();
    let learnt = forecast((25, 40), &late, &[]).unwrap();
    assert!((44.0..47.0).contains(&learnt.median_days) && learnt.p90_days < 55.0, "{learnt:?}");
    assert!(learnt.p10_days < learnt.median_days && learnt.median_days < learnt.p90_days);
}

#[test]
fn a_window_counts_from_its_day() {
    let window = forecast((25, 40), &[], &[]).unwrap().window(on("2026-04-01"));
    assert_eq!((window.from, window.to), (on("2026-04-26"), on("2026-05-11")));
    assert_eq!(window.likely, on("2026-05-03"));
}

#[test]
fn what_can_not_be_is_refused() {
    assert!(usual_belief((0, 10)).is_err() && usual_belief((10, 9)).is_err());
    for days in [0.0, -3.0, f64::NAN, f64::INFINITY] {
        assert!(forecast((25, 40), &[30.0, days], &[]).is_err());
        assert!(forecast((25, 40), &[], &[OfGroup { days, usual: (20, 30) }]).is_err());
    }
    assert!(forecast((25, 40), &[], &[OfGroup { days: 20.0, usual: (0, 30) }]).is_err());
}

/// A gamma variate of a whole shape: the sum of exponential ones.
fn gamma(shape: u32, rng: &mut StdRng) -> f64 {
    (0..shape).map(|_| -rng.random_range(f64::MIN_POSITIVE..1.0).ln()).sum()
}

// Houses drawn from the belief itself: whatever each has seen so far, its 80 % window holds the next sac in 80 of 100 houses. The
// sampling error of 20,000 houses is 0.28 %; four of it are allowed.
#[test]
fn the_windows_of_houses_drawn_from_the_belief_hold_as_often_as_they_say() {
    let mut rng = StdRng::seed_from_u64(7);
    let prior = usual_belief((60, 180)).unwrap();
    for seen in [0, 1, 4, 12] {
        let houses = 20_000;
        let held = (0..houses)
            .filter(|_| {
                let variance = prior.beta / gamma(4, &mut rng);
                let mean = prior.mean + (variance / prior.kappa).sqrt() * normal(&mut rng);
                let mut draw = || (mean + variance.sqrt() * normal(&mut rng)).exp();
                let own: Vec<f64> = (0..seen).map(|_| draw()).collect();
                let next = draw();
                let told = forecast((60, 180), &own, &[]).unwrap();
                (told.p10_days..=told.p90_days).contains(&next)
            })
            .count();
        let share = held as f64 / f64::from(houses);
        assert!((share - 0.8).abs() < 0.0113, "{seen} sacs: {share}");
    }
}

// After 25 sacs a house's window is about where its own sacs are. In a house within the usual range it holds as often as it says; in
// one far outside it holds more often, as the distance from what is usual is taken for spread until there are more sacs.
#[test]
fn a_house_is_learnt_whether_it_is_as_usual_or_not() {
    let mut rng = StdRng::seed_from_u64(11);
    let tries = 4_000;
    for (middle, least, most) in [(32.0_f64, 0.76, 0.86), (55.0, 0.80, 0.97)] {
        let (mut inside, mut near) = (0, 0);
        for _ in 0..tries {
            let mut draw = || (middle.ln() + 0.14 * normal(&mut rng)).exp();
            let own: Vec<f64> = (0..25).map(|_| draw()).collect();
            let next = draw();
            let told = forecast((25, 40), &own, &[]).unwrap();
            inside += u32::from((told.p10_days..=told.p90_days).contains(&next));
            near += u32::from((told.median_days / middle - 1.0).abs() < 0.11);
        }
        let share = |count: u32| f64::from(count) / f64::from(tries);
        assert!((least..most).contains(&share(inside)), "{middle}: {}", share(inside));
        assert!(share(near) > 0.95, "{middle}: {}", share(near));
    }
}
