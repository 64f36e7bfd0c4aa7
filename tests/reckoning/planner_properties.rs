//! Whatever the facts, planning is a pure function of them and never doubles.

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate, TimeZone, Utc};
use proptest::prelude::*;
use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{AnimalFacts, Care, CohortFacts, LastMeal, PlannedDuty, SacFacts, SiteRules, Subject, plan};
use silkward::reckoning::words::{DutyKind, LifeStage, MealOutcome, MoultState};

use super::on;
use super::subjects::{care, juvenile, sac, vials};

pub fn any_day() -> impl Strategy<Value = NaiveDate> {
    (0_u64..200).prop_map(|ahead| on("2026-01-01") + Days::new(ahead))
}

fn any_meal() -> impl Strategy<Value = Option<LastMeal>> {
    let outcome = prop::sample::select(MealOutcome::ALL.to_vec());
    prop::option::of((any_day(), outcome).prop_map(|(day, outcome)| LastMeal { day, outcome }))
}

fn any_animal() -> impl Strategy<Value = Subject> {
    let state = prop::sample::select(MoultState::ALL.to_vec());
    let life_stage = prop::sample::select(LifeStage::ALL.to_vec());
    let days = (prop::option::of(any_day()), prop::option::of(any_day()), prop::option::of(any_day()), prop::option::of(any_day()));
    (0_i64..50, life_stage, state, any_meal(), 0_u32..8, days, 5_u32..250, any::<[bool; 2]>()).prop_map(
        |(id, life_stage, moult_state, last_meal, refusals_in_row, days, span, [guarding_sac, left])| {
            Subject::Animal(AnimalFacts {
                id,
                life_stage,
                moult_state,
                last_meal,
                refusals_in_row,
                last_moult: days.0,
                moult_state_since: days.1,
                last_moult_check: days.2,
                rehoused_on: days.3,
                span_mm: Some(span),
                guarding_sac,
                left_in_at: left.then(|| Utc.with_ymd_and_hms(2026, 5, 1, 9, 0, 0).unwrap()),
                care: care(),
                ..juvenile()
            })
        },
    )
}

fn any_cohort_or_sac() -> impl Strategy<Value = Subject> {
    let cohort = (0_i64..50, any_meal(), prop::option::of(any_day()), 0_u32..90).prop_map(|(id, last_meal, last_moult, moulted_then)| {
        let care = Care { count_days: 30, ..care() };
        Subject::Cohort(CohortFacts { id, last_meal, last_moult, moulted_then, care, ..vials() })
    });
    let sac = (0_i64..50, any_day(), any::<bool>(), prop::option::of(any_day()))
        .prop_map(|(id, laid_on, with_dam, last_check)| Subject::Sac(SacFacts { id, laid_on, with_dam, last_check, ..sac() }));
    prop_oneof![cohort, sac]
}

/// Any animal, cohort or sac.
pub fn any_subject() -> impl Strategy<Value = Subject> {
    prop_oneof![2 => any_animal(), 1 => any_cohort_or_sac()]
}

pub fn any_house() -> impl Strategy<Value = Vec<Subject>> {
    prop::collection::vec(any_subject(), 0..12).prop_map(|subjects| {
        let mut seen = BTreeSet::new();
        subjects.into_iter().filter(|subject| seen.insert(subject.key())).collect()
    })
}

fn run(day: NaiveDate, subjects: &[Subject]) -> Vec<PlannedDuty> {
    plan(day, subjects, &SiteRules::default(), &ExposureTable::default())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn planning_again_in_any_order_gives_the_same(subjects in any_house(), day in any_day()) {
        let mut backwards = subjects.clone();
        backwards.reverse();
        prop_assert_eq!(run(day, &subjects), run(day, &subjects));
        prop_assert_eq!(run(day, &subjects), run(day, &backwards));
    }

    #[test]
    fn what_is_due_stays_due_with_the_same_day(subjects in any_house(), day in any_day(), later in 1_u64..60) {
        let key = |duty: &PlannedDuty| (duty.subject, duty.kind, duty.due_on);
        let before: BTreeSet<_> = run(day, &subjects).iter().map(key).collect();
        let after: BTreeSet<_> = run(day + Days::new(later), &subjects).iter().map(key).collect();
        prop_assert!(before.is_subset(&after), "{before:?} then {after:?}");
    }

    #[test]
    fn one_duty_for_one_subject_and_kind_and_none_before_its_day(subjects in any_house(), day in any_day()) {
        let duties = run(day, &subjects);
        let keys: BTreeSet<_> = duties.iter().map(|duty| (duty.subject, duty.kind)).collect();
        prop_assert_eq!(keys.len(), duties.len());
        for duty in &duties {
            prop_assert!(duty.due_on <= day && duty.due_on <= duty.late_after);
            prop_assert!(duty.minutes > 0 && !duty.reason.is_empty());
        }
    }

    #[test]
    fn nobody_is_fed_in_pre_moult_or_moulting(subjects in any_house(), day in any_day()) {
        for duty in run(day, &subjects).iter().filter(|duty| duty.kind == DutyKind::Feed) {
            let fed = subjects.iter().any(|subject| matches!(subject, Subject::Animal(facts)
                if facts.id == duty.subject.id && duty.subject.kind.code() == "animal"
                    && (facts.moult_state != MoultState::Normal || facts.guarding_sac)));
            prop_assert!(!fed);
        }
    }
}
