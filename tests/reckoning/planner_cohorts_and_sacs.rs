use std::collections::BTreeMap;

use silkward::reckoning::planner::{Care, CohortFacts, FeedState, SacFacts, cohort_feed_state, feed_allowed};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{DutyKind, Exposure};

use super::on;
use super::subjects::{due_on, duty, planned, sac, vials};

// Worked value: arithmetic on the stated rule; common practice, no source.
#[test]
fn a_feed_before_the_second_instar_is_rejected() {
    for stage in [Stage::Egg, Stage::PostEmbryo, Stage::Instar(1)] {
        let refused = feed_allowed(stage).unwrap_err().to_string();
        assert!(refused.contains("feeding starts at the second instar"));
        let cohort = CohortFacts { counts: BTreeMap::from([(stage, 90)]), last_meal: None, ..vials() };
        assert_eq!(due_on(cohort.clone(), DutyKind::Feed), None, "{stage}");
        let state = cohort_feed_state(&cohort, on("2027-01-01"));
        assert!(matches!(state, FeedState::NotBefore { day: None, .. }));
    }
    assert_eq!(feed_allowed(Stage::Instar(2)), Ok(()));
}

#[test]
fn a_cohort_is_fed_as_a_group_and_its_minutes_follow_the_count() {
    let feed = duty(vials(), DutyKind::Feed, "2026-03-05").unwrap();
    assert_eq!((feed.due_on, feed.late_after), (on("2026-03-05"), on("2026-03-07")));
    assert_eq!(feed.minutes, 32);
    assert_eq!((feed.band.level(), feed.clearance), (0, 0));
    let few = CohortFacts { counts: BTreeMap::from([(Stage::Instar(2), 2)]), ..vials() };
    assert_eq!(duty(few, DutyKind::Feed, "2026-03-05").unwrap().minutes, 1);
    let together = CohortFacts { in_vials: false, ..vials() };
    assert_eq!(duty(together, DutyKind::Feed, "2026-03-05").unwrap().minutes, 5);
}

#[test]
fn only_those_that_feed_are_counted_for_the_feed() {
    let counts = BTreeMap::from([(Stage::Instar(1), 30), (Stage::Instar(2), 60)]);
    let feed = duty(CohortFacts { counts, ..vials() }, DutyKind::Feed, "2026-03-05").unwrap();
    assert_eq!(feed.minutes, 21);
    assert!(feed.reason.starts_with("60 of 90 take prey"));
}

#[test]
fn a_group_that_has_just_moulted_waits_and_a_few_are_left_out() {
    let moulted = |count| CohortFacts { last_moult: Some(on("2026-03-04")), moulted_then: count, ..vials() };
    assert_eq!(due_on(moulted(60), DutyKind::Feed), Some(on("2026-03-09")));
    let feed = duty(moulted(8), DutyKind::Feed, "2026-03-05").unwrap();
    assert_eq!(feed.due_on, on("2026-03-05"));
    assert!(feed.reason.contains("leave out the 8 that moulted on 4 March 2026, until 9 March 2026"));
}

#[test]
fn counts_come_round_and_an_empty_cohort_needs_nothing() {
    let mut cohort = vials();
    cohort.care.count_days = 30;
    cohort.last_count = Some(on("2026-02-01"));
    let count = duty(cohort.clone(), DutyKind::CohortCount, "2026-03-03").unwrap();
    assert_eq!((count.due_on, count.exposure, count.minutes), (on("2026-03-03"), Exposure::Look, 21));
    cohort.counts = BTreeMap::from([(Stage::Instar(2), 0)]);
    assert_eq!(planned(cohort, "2028-01-01"), []);
}

#[test]
fn moult_rounds_draw_closer_from_the_next_usual_moult() {
    let cohort = CohortFacts {
        care: Care { moult_check_days: 7, moult_min_days: 25, moult_max_days: 45, ..vials().care },
        last_moult: Some(on("2026-03-01")),
        last_moult_check: Some(on("2026-03-28")),
        ..vials()
    };
    assert_eq!(due_on(cohort.clone(), DutyKind::MoultCheck), Some(on("2026-03-30")));
    let early = CohortFacts { last_moult_check: Some(on("2026-03-05")), ..cohort };
    assert_eq!(due_on(early, DutyKind::MoultCheck), Some(on("2026-03-12")));
}

#[test]
fn a_sac_with_its_dam_is_looked_at_weekly() {
    let check = duty(sac(), DutyKind::SacCheck, "2026-04-08").unwrap();
    assert_eq!((check.due_on, check.exposure), (on("2026-04-08"), Exposure::Look));
    assert_eq!((check.band.level(), check.clearance), (3, 0));
    assert_eq!(duty(sac(), DutyKind::SacCheck, "2026-04-07"), None);
}

// Worked value, seen from the planner.
#[test]
fn the_pull_window_brings_its_own_check_with_hands_in() {
    let facts = SacFacts { last_check: Some(on("2026-04-25")), ..sac() };
    assert_eq!(duty(facts.clone(), DutyKind::SacCheck, "2026-04-28"), None);
    let pull = duty(facts, DutyKind::SacCheck, "2026-04-29").unwrap();
    assert_eq!((pull.due_on, pull.late_after), (on("2026-04-29"), on("2026-05-06")));
    assert_eq!((pull.exposure, pull.clearance, pull.persons), (Exposure::HandsIn, 3, 2));
    assert!(pull.reason.contains("29 April 2026 to 6 May 2026"));
    let left = SacFacts { pull: None, last_check: Some(on("2026-04-25")), ..sac() };
    assert_eq!(due_on(left, DutyKind::SacCheck), Some(on("2026-05-02")));
}

#[test]
fn a_pulled_sac_is_checked_daily_without_the_dams_hazard() {
    let pulled = SacFacts { with_dam: false, pulled_on: Some(on("2026-04-29")), last_check: Some(on("2026-04-30")), ..sac() };
    let check = duty(pulled.clone(), DutyKind::SacCheck, "2026-05-01").unwrap();
    assert_eq!((check.due_on, check.late_after), (on("2026-05-01"), on("2026-05-01")));
    assert_eq!((check.band.level(), check.exposure), (0, Exposure::Open));
    assert_eq!(planned(SacFacts { opened: true, ..pulled }, "2026-06-01"), []);
}
