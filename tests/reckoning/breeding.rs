use std::time::{Duration, Instant};

use proptest::prelude::*;
use silkward::reckoning::breeding::{Pairing, PullWindow, SacGroup, Sire, expected_stages, parentage, stands};
use silkward::reckoning::stage::Stage;

use super::on;

fn pairing(id: i64, sire: i64, day: &str) -> Pairing {
    Pairing { id, sire, on: on(day) }
}

// Worked value: arithmetic on the stated rule; common practice, no source.
#[test]
fn the_default_pull_window() {
    let window = PullWindow::default().days(on("2026-04-01"));
    assert_eq!(window, (on("2026-04-29"), on("2026-05-06")));
}

// Common practice, no source.
#[test]
fn the_stages_that_a_dwarf_sac_is_expected_to_reach() {
    let group = SacGroup::Dwarf;
    assert_eq!(group.pull_window(), PullWindow { from_day: 20, to_day: 28 });
    let stages = expected_stages(on("2026-04-01"), group.stage_days(), group.label());
    assert_eq!(stages.len(), 3);
    assert_eq!(stages[0].stage, Stage::PostEmbryo);
    assert_eq!((stages[0].from, stages[0].to), (on("2026-04-19"), on("2026-04-29")));
    assert_eq!(stages[2].to, on("2026-05-31"));
    assert!(stages[2].basis.contains("day 42 to 60 after laying: New World, dwarf"));
}

#[test]
fn every_group_has_its_stages_in_order() {
    for group in SacGroup::ALL {
        let days = group.stage_days();
        let all = [days.post_embryo, days.first_instar, days.second_instar];
        assert!(all.iter().all(|(first, last)| first < last), "{group}");
        assert!(all.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1), "{group}");
    }
}

// Worked value: arithmetic on the stated rule; general references, no single source.
#[test]
fn a_moult_after_pairing_makes_it_void_and_the_sac_infertile() {
    let found = parentage(&[pairing(1, 8, "2026-01-10")], &[on("2026-03-02")], on("2026-04-20"));
    assert_eq!((found.standing, found.void), (vec![], vec![1]));
    assert_eq!(found.sire, Sire::ExpectedInfertile);
    assert!(found.reason.contains("2 March 2026"));
}

// Worked value: the same rule.
#[test]
fn two_sacs_without_a_moult_between_keep_the_sire() {
    for laid in ["2026-03-01", "2026-05-20"] {
        let found = parentage(&[pairing(1, 8, "2026-01-10")], &[on("2025-11-01")], on(laid));
        assert_eq!(found.sire, Sire::Known { sire: 8 }, "{laid}");
        assert_eq!(found.standing, [1]);
    }
}

#[test]
fn several_males_in_one_intermoult_are_all_candidates() {
    let pairings = [pairing(2, 9, "2026-02-01"), pairing(1, 8, "2026-01-10"), pairing(3, 8, "2026-02-09")];
    let found = parentage(&pairings, &[], on("2026-04-01"));
    assert_eq!(found.sire, Sire::SeveralCandidates { sires: vec![8, 9] });
}

#[test]
fn pairing_again_after_the_moult_gives_the_new_sire() {
    let pairings = [pairing(1, 8, "2026-01-10"), pairing(2, 9, "2026-04-10")];
    let found = parentage(&pairings, &[on("2026-03-02"), on("2026-09-01")], on("2026-06-01"));
    assert_eq!((found.standing, found.void), (vec![2], vec![1]));
    assert_eq!(found.sire, Sire::Known { sire: 9 });
}

#[test]
fn a_pairing_after_the_sac_says_nothing_about_it() {
    let found = parentage(&[pairing(1, 8, "2026-06-10")], &[], on("2026-04-20"));
    assert_eq!(found.sire, Sire::NotKnown);
}

#[test]
fn a_moult_on_the_day_of_a_pairing_or_after_the_sac_does_not_void_it() {
    let moults = [on("2026-01-10"), on("2026-04-21")];
    assert_eq!(parentage(&[pairing(1, 8, "2026-01-10")], &moults, on("2026-04-20")).standing, [1]);
    assert_eq!(parentage(&[pairing(1, 8, "2026-01-10")], &moults, on("2026-04-21")).void, [1]);
}

proptest! {
    #[test]
    fn the_pairings_that_stand_are_those_without_a_moult_in_between(
        pairings in prop::collection::vec(0_u64..30, 0..8), moults in prop::collection::vec(0_u64..30, 0..4), laid in 0_u64..30,
    ) {
        let day = |number: u64| on("2026-01-01") + chrono::Days::new(number);
        let moults: Vec<chrono::NaiveDate> = moults.into_iter().map(day).collect();
        let pairings: Vec<Pairing> = (1..).zip(pairings).map(|(id, number)| Pairing { id, sire: id % 3, on: day(number) }).collect();
        let found = parentage(&pairings, &moults, day(laid));
        for pairing in &pairings {
            let free = !moults.iter().any(|moult| pairing.on < *moult && *moult <= day(laid));
            let expected = pairing.on <= day(laid) && free;
            prop_assert_eq!(found.standing.contains(&pairing.id), expected);
            prop_assert_eq!(stands(pairing.on, &moults, day(laid)), expected);
        }
    }
}

#[test]
fn a_long_book_is_read_at_once() {
    let pairings: Vec<Pairing> = (0..300_000).map(|id| Pairing { id, sire: id, on: on("2026-01-10") }).collect();
    let started = Instant::now();
    let found = parentage(&pairings, &vec![on("2026-01-09"); 300_000], on("2026-04-20"));
    assert!(matches!(found.sire, Sire::SeveralCandidates { sires } if sires.len() == 300_000));
    assert!(started.elapsed() < Duration::from_secs(10), "{:?}", started.elapsed());
}
