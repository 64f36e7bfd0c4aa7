use chrono::{Duration, TimeZone, Utc};
use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{AnimalFacts, Care, FeedState, LastMeal, SiteRules, feed_state, plan};
use silkward::reckoning::words::{DutyKind, Exposure, MealOutcome, MoultState};

use super::on;
use super::subjects::{due_on, duty, juvenile, refused};

#[test]
fn a_feed_is_due_after_the_least_interval_and_late_after_the_most() {
    assert_eq!(duty(juvenile(), DutyKind::Feed, "2026-03-07"), None);
    let feed = duty(juvenile(), DutyKind::Feed, "2026-03-08").unwrap();
    assert_eq!((feed.due_on, feed.late_after), (on("2026-03-08"), on("2026-03-11")));
    assert_eq!(feed.reason, "last meal on 1 March 2026; every 7 to 10 days");
    assert_eq!((feed.exposure, feed.held), (Exposure::Open, None));
}

#[test]
fn an_overdue_feed_carries_over_with_its_own_day() {
    let today = duty(juvenile(), DutyKind::Feed, "2026-03-08");
    let later = duty(juvenile(), DutyKind::Feed, "2026-03-30");
    assert_eq!(today, later);
}

#[test]
fn without_a_meal_on_record_a_feed_is_due_from_the_first_day() {
    let fresh = AnimalFacts { last_meal: None, ..juvenile() };
    assert_eq!(due_on(fresh, DutyKind::Feed), Some(on("2026-01-01")));
}

// Common practice, no source: half the interval, at least two days.
#[test]
fn a_refused_meal_is_offered_again_sooner() {
    assert_eq!(due_on(refused("2026-03-01", 1), DutyKind::Feed), Some(on("2026-03-05")));
    let mut often = refused("2026-03-01", 1);
    often.care = Care { feed_min_days: 2, ..often.care };
    assert_eq!(due_on(often, DutyKind::Feed), Some(on("2026-03-03")));
}

// Worked value, seen from the planner: moult on 1 March, house maximum 6 March at 12 mm, 22 March at 140 mm.
#[test]
fn nothing_is_fed_before_the_end_of_the_post_moult_fast() {
    let moulted = |span_mm| AnimalFacts {
        span_mm: Some(span_mm),
        enclosure_length_mm: None,
        last_moult: Some(on("2026-03-01")),
        last_meal: Some(LastMeal { day: on("2026-02-10"), outcome: MealOutcome::Took }),
        ..juvenile()
    };
    for (span, day_before, first) in [(12, "2026-03-05", "2026-03-06"), (140, "2026-03-21", "2026-03-22")] {
        assert_eq!(duty(moulted(span), DutyKind::Feed, day_before), None, "{span}");
        assert_eq!(due_on(moulted(span), DutyKind::Feed), Some(on(first)));
        let state = feed_state(&moulted(span), on(day_before));
        let FeedState::NotBefore { day, reason } = state else { panic!("{state:?}") };
        assert_eq!(day, Some(on(first)));
        assert!(reason.contains("moulted on 1 March 2026"), "{reason}");
    }
}

#[test]
fn nothing_is_fed_in_pre_moult_while_moulting_or_on_a_sac() {
    let bars: [(AnimalFacts, &str); 4] = [
        (AnimalFacts { moult_state: MoultState::PreMoult, ..juvenile() }, "pre-moult"),
        (AnimalFacts { moult_state: MoultState::Moulting, ..juvenile() }, "moulting"),
        (AnimalFacts { guarding_sac: true, ..juvenile() }, "sac"),
        (AnimalFacts { left_in_at: Some(Utc.with_ymd_and_hms(2026, 3, 20, 9, 0, 0).unwrap()), ..juvenile() }, "prey"),
    ];
    for (facts, word) in bars {
        let state = feed_state(&facts, on("2026-06-01"));
        assert!(matches!(&state, FeedState::NotBefore { day: None, reason } if reason.contains(word)));
        assert_eq!(due_on(facts, DutyKind::Feed), None, "{word}");
    }
}

#[test]
fn a_new_box_is_settled_into_before_the_first_feed() {
    let moved = AnimalFacts { rehoused_on: Some(on("2026-03-06")), ..juvenile() };
    assert_eq!(due_on(moved.clone(), DutyKind::Feed), Some(on("2026-03-11")));
    let ate = Some(LastMeal { day: on("2026-03-12"), outcome: MealOutcome::Took });
    assert_eq!(due_on(AnimalFacts { last_meal: ate, ..moved }, DutyKind::Feed), Some(on("2026-03-19")));
}

// Worked value: arithmetic on the stated rule; common practice, no source.
#[test]
fn prey_left_in_at_six_is_due_out_by_six_the_next_day() {
    let six = Utc.with_ymd_and_hms(2026, 3, 1, 18, 0, 0).unwrap();
    let left = AnimalFacts { left_in_at: Some(six), ..juvenile() };
    assert_eq!(duty(left.clone(), DutyKind::ClearUneaten, "2026-03-01"), None);
    let clear = duty(left, DutyKind::ClearUneaten, "2026-03-02").unwrap();
    assert_eq!(clear.due_at, Some(six + Duration::hours(24)));
    assert_eq!((clear.due_on, clear.late_after), (on("2026-03-02"), on("2026-03-02")));
}

#[test]
fn the_day_of_clearing_is_the_local_one() {
    let late = Utc.with_ymd_and_hms(2026, 7, 1, 23, 30, 0).unwrap();
    let left = AnimalFacts { left_in_at: Some(late), ..juvenile() };
    let rules = SiteRules { zone: chrono_tz::Europe::London, ..SiteRules::default() };
    let duties = plan(on("2026-07-03"), &[left.into()], &rules, &ExposureTable::default());
    let clear = duties.iter().find(|duty| duty.kind == DutyKind::ClearUneaten).unwrap();
    assert_eq!(clear.due_on, on("2026-07-03"));
}

#[test]
fn prey_comes_out_at_once_when_the_spider_moults() {
    let left = AnimalFacts {
        left_in_at: Some(Utc.with_ymd_and_hms(2026, 3, 1, 18, 0, 0).unwrap()),
        moult_state: MoultState::Moulting,
        moult_state_since: Some(on("2026-03-01")),
        ..juvenile()
    };
    let clear = duty(left, DutyKind::ClearUneaten, "2026-03-01").unwrap();
    assert_eq!((clear.due_on, clear.due_at, clear.held), (on("2026-03-01"), None, None));
    assert!(clear.reason.contains("at once"));
}
