//! The days ahead, held against the planner day by day, and against the worked values of fasts and pull windows (common
//! practice, no source).

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{
    AnimalFacts, CohortFacts, ComingDuty, HoldFacts, LastMeal, LeftIn, MOST_DAYS, PlannedDuty, SiteRules, Subject, coming_feeds,
    left_in_share, look_ahead, plan,
};
use silkward::reckoning::reckon;
use silkward::reckoning::words::{DutyKind, Exposure, HoldKind, MealOutcome, MoultState};

use super::on;
use super::planner_properties::{any_day, any_house};
use super::subjects::{care, juvenile, sac, vials};

fn ahead(from: &str, days: u32, subject: impl Into<Subject>, left_in: LeftIn) -> Vec<ComingDuty> {
    look_ahead(on(from), days, &[subject.into()], &SiteRules::default(), &ExposureTable::default(), left_in)
}

/// The days of a kind.
fn days_of(coming: &[ComingDuty], kind: DutyKind) -> Vec<String> {
    coming.iter().filter(|coming| coming.duty.kind == kind).map(|coming| coming.day.to_string()).collect()
}

#[test]
fn a_juvenile_that_is_fed_every_seven_days_is_fed_every_seven_days() {
    let coming = ahead("2026-03-01", 30, juvenile(), LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::Feed), ["2026-03-08", "2026-03-15", "2026-03-22", "2026-03-29"]);
    assert!(coming.iter().all(|coming| coming.expected == 1.0));
    let cohort = ahead("2026-03-01", 14, vials(), LeftIn::NEVER);
    assert_eq!(days_of(&cohort, DutyKind::Feed), ["2026-03-05", "2026-03-09", "2026-03-13"]);
    assert!(cohort.iter().all(|coming| coming.mouths == 90));
}

#[test]
fn what_is_overdue_comes_on_the_first_day() {
    let coming = ahead("2026-04-01", 1, juvenile(), LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::Feed), ["2026-04-01"]);
    assert_eq!(coming[0].duty.due_on, on("2026-03-08"));
}

// Worked value: a moult on 1 March 2026 at 12 mm fasts until 6 March, at 140 mm until 22 March (common practice, no source).
#[test]
fn a_fast_is_waited_out() {
    for (span, free) in [(12, "2026-03-06"), (140, "2026-03-22")] {
        let facts = AnimalFacts {
            last_moult: Some(on("2026-03-01")),
            span_mm: Some(span),
            last_meal: Some(LastMeal { day: on("2026-02-01"), outcome: MealOutcome::Took }),
            enclosure_length_mm: Some(600),
            ..juvenile()
        };
        assert_eq!(days_of(&ahead("2026-03-01", 25, facts, LeftIn::NEVER), DutyKind::Feed)[0], free);
    }
}

// Worked value: a sac of 1 April 2026 is pulled from 29 April to 6 May (common practice, no source).
#[test]
fn a_sac_is_pulled_when_its_window_opens_and_looked_at_daily_after() {
    let coming = ahead("2026-04-20", 14, sac(), LeftIn::NEVER);
    let days = days_of(&coming, DutyKind::SacCheck);
    assert_eq!(days, ["2026-04-20", "2026-04-27", "2026-04-29", "2026-04-30", "2026-05-01", "2026-05-02", "2026-05-03"]);
    let hands_in: Vec<&ComingDuty> = coming.iter().filter(|coming| coming.duty.exposure == Exposure::HandsIn).collect();
    assert_eq!((hands_in.len(), hands_in[0].day), (1, on("2026-04-29")));
}

#[test]
fn a_held_duty_comes_on_the_first_free_day() {
    let hold = HoldFacts {
        kind: HoldKind::Agitated,
        from: on("2026-03-05"),
        blocks: Exposure::Open,
        until: Some(on("2026-03-11")),
        reason: String::new(),
    };
    let coming = ahead("2026-03-05", 14, AnimalFacts { holds: vec![hold], ..juvenile() }, LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::Feed), ["2026-03-11", "2026-03-18"]);
}

#[test]
fn an_outgrown_box_is_changed_once_and_the_animal_settles_before_it_is_fed() {
    let facts = AnimalFacts { enclosure_length_mm: Some(100), span_mm: Some(60), ..juvenile() };
    let coming = ahead("2026-03-03", 30, facts, LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::Rehouse), ["2026-03-03"]);
    // A juvenile settles five days in a new box: its feed of 8 March is due on that day anyway.
    assert_eq!(days_of(&coming, DutyKind::Feed)[0], "2026-03-08");
}

#[test]
fn nothing_is_fed_in_pre_moult_however_long() {
    let facts = AnimalFacts { moult_state: MoultState::PreMoult, moult_state_since: Some(on("2026-03-01")), ..juvenile() };
    let coming = ahead("2026-03-01", MOST_DAYS, facts, LeftIn::NEVER);
    assert!(days_of(&coming, DutyKind::Feed).is_empty());
    assert!(!days_of(&coming, DutyKind::MoultCheck).is_empty());
}

#[test]
fn clearing_is_expected_a_day_after_each_meal_by_its_share() {
    let coming = ahead("2026-03-01", 14, juvenile(), LeftIn { animals: 0.25, cohorts: 0.5 });
    let clear: Vec<&ComingDuty> = coming.iter().filter(|coming| coming.duty.kind == DutyKind::ClearUneaten).collect();
    assert_eq!((clear.len(), clear[0].day, clear[0].expected), (1, on("2026-03-09"), 0.25));
    assert_eq!(clear[0].minutes(), 0.25);
    let cohort = ahead("2026-03-01", 9, vials(), LeftIn { animals: 0.25, cohorts: 0.5 });
    let clear: Vec<&ComingDuty> = cohort.iter().filter(|coming| coming.duty.kind == DutyKind::ClearUneaten).collect();
    // 90 vials at 20 minutes for a hundred: 18 minutes, half of which are expected.
    assert_eq!((clear[0].day, clear[0].minutes()), (on("2026-03-06"), 9.0));
    let none = ahead("2026-03-01", 14, juvenile(), LeftIn { animals: f64::NAN, cohorts: -1.0 });
    assert!(days_of(&none, DutyKind::ClearUneaten).is_empty());
}

#[test]
fn prey_that_is_in_now_is_cleared_for_certain_and_feeding_goes_on() {
    let facts = AnimalFacts {
        left_in_at: Some("2026-03-01T18:00:00Z".parse().unwrap()),
        last_meal: Some(LastMeal { day: on("2026-03-01"), outcome: MealOutcome::LeftIn }),
        ..juvenile()
    };
    let coming = ahead("2026-03-02", 10, facts, LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::ClearUneaten), ["2026-03-02"]);
    // Taken out counts as refused: offered again after half the least interval, rounded up.
    assert_eq!(days_of(&coming, DutyKind::Feed)[0], "2026-03-05");
}

#[test]
fn the_share_that_is_left_in_is_drawn_towards_the_usual() {
    assert!((left_in_share(0, 0) - 0.05).abs() < 1e-12);
    assert!((left_in_share(90, 10) - 0.105).abs() < 1e-12);
    assert!((left_in_share(10, 1000) - 0.525).abs() < 1e-12);
}

/// What a sign-off does to the facts, written out anew.
fn sign(subject: &mut Subject, kind: DutyKind, day: NaiveDate, hands_in: bool) {
    let took = Some(LastMeal { day, outcome: MealOutcome::Took });
    let cleared = |meal: LastMeal| match meal.outcome {
        MealOutcome::LeftIn => LastMeal { outcome: MealOutcome::Refused, ..meal },
        _ => meal,
    };
    match (subject, kind) {
        (Subject::Animal(facts), DutyKind::Feed) => (facts.last_meal, facts.refusals_in_row) = (took, 0),
        (Subject::Animal(facts), DutyKind::ClearUneaten) => (facts.left_in_at, facts.last_meal) = (None, facts.last_meal.map(cleared)),
        (Subject::Animal(facts), DutyKind::MoultCheck) => facts.last_moult_check = Some(day),
        (Subject::Animal(facts), DutyKind::Water) => facts.last_water = Some(day),
        (Subject::Animal(facts), DutyKind::SpotClean) => facts.last_clean = Some(day),
        (Subject::Animal(facts), DutyKind::Rehouse) => {
            (facts.rehoused_on, facts.needs_rehouse) = (Some(day), None);
            facts.enclosure_length_mm = Some(facts.enclosure_length_mm.unwrap().max(3 * facts.span_mm.unwrap()));
        }
        (Subject::Cohort(facts), DutyKind::Feed) => facts.last_meal = took,
        (Subject::Cohort(facts), DutyKind::ClearUneaten) => (facts.left_in_at, facts.last_meal) = (None, facts.last_meal.map(cleared)),
        (Subject::Cohort(facts), DutyKind::MoultCheck) => facts.last_moult_check = Some(day),
        (Subject::Cohort(facts), DutyKind::Water) => facts.last_water = Some(day),
        (Subject::Cohort(facts), DutyKind::SpotClean) => facts.last_clean = Some(day),
        (Subject::Cohort(facts), DutyKind::CohortCount) => facts.last_count = Some(day),
        (Subject::Sac(facts), DutyKind::SacCheck) => {
            facts.last_check = Some(day);
            if facts.with_dam && hands_in {
                (facts.with_dam, facts.pulled_on) = (false, Some(day));
            }
        }
        // In the default rules' zone, UTC, a day's last turn is a minute before midnight.
        (Subject::Sac(facts), DutyKind::SacTurn) => facts.last_turn = Some(day.and_hms_opt(23, 59, 0).unwrap().and_utc()),
        (Subject::Room(facts), DutyKind::RoomReading) => facts.last_reading = Some(day),
        (_, kind) => panic!("no subject of this house has a duty “{kind}”"),
    }
}

/// Does every duty that the planner gives and that is not held, until it gives no other, and names them.
fn work_through(day: NaiveDate, house: &mut [Subject]) -> Vec<PlannedDuty> {
    let (mut done, mut named) = (BTreeSet::new(), Vec::new());
    loop {
        let due: Vec<PlannedDuty> = plan(day, house, &SiteRules::default(), &ExposureTable::default())
            .into_iter()
            .filter(|duty| duty.held.is_none() && done.insert((duty.subject, duty.kind)))
            .collect();
        if due.is_empty() {
            named.sort_by_key(|duty: &PlannedDuty| (duty.subject, duty.kind));
            return named;
        }
        for duty in due {
            let subject = house.iter_mut().find(|subject| subject.key() == duty.subject).unwrap();
            sign(subject, duty.kind, day, duty.exposure == Exposure::HandsIn);
            named.push(duty);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn each_day_is_what_the_planner_says_when_all_before_was_done(subjects in any_house(), from in any_day()) {
        let coming = look_ahead(from, 14, &subjects, &SiteRules::default(), &ExposureTable::default(), LeftIn::NEVER);
        let mut house = subjects.clone();
        let mut seen = 0;
        for day in from.iter_days().take(14) {
            let said: Vec<PlannedDuty> = coming.iter().filter(|coming| coming.day == day).map(|coming| coming.duty.clone()).collect();
            prop_assert_eq!(&said, &work_through(day, &mut house), "on {}", day);
            seen += said.len();
        }
        prop_assert_eq!(seen, coming.len());
    }

    #[test]
    fn nothing_doubles_and_nothing_is_forgotten(subjects in any_house(), from in any_day(), share in 0.0_f64..1.0) {
        let left_in = LeftIn { animals: share, cohorts: share };
        let (rules, table) = (SiteRules::default(), ExposureTable::default());
        let coming = look_ahead(from, 20, &subjects, &rules, &table, left_in);
        let certain: Vec<_> = coming.iter().filter(|coming| coming.expected >= 1.0).collect();
        let keys: BTreeSet<_> = certain.iter().map(|coming| (coming.day, coming.duty.subject, coming.duty.kind)).collect();
        prop_assert_eq!(keys.len(), certain.len());
        // Whatever is due at the start and not held comes on the first day.
        for duty in plan(from, &subjects, &rules, &table).iter().filter(|duty| duty.held.is_none()) {
            prop_assert!(keys.contains(&(from, duty.subject, duty.kind)));
        }
        // Looking less far ahead, or at a part of the house, says the same of what is in it.
        let short = look_ahead(from, 7, &subjects, &rules, &table, left_in);
        let week = from + Days::new(7);
        prop_assert_eq!(short, coming.iter().filter(|coming| coming.day < week).cloned().collect::<Vec<_>>());
        let mut backwards = subjects.clone();
        backwards.reverse();
        prop_assert_eq!(look_ahead(from, 20, &backwards, &rules, &table, left_in), coming.clone());
        let feeds = coming_feeds(from, 20, &subjects, &rules, &table).len();
        prop_assert_eq!(feeds, certain.iter().filter(|coming| coming.duty.kind == DutyKind::Feed && coming.mouths > 0).count());
    }
}

#[test]
fn it_is_run_on_data_from_outside_with_mistakes_named() {
    let subject = r#"{"kind": "animal", "id": 1, "life_stage": "juvenile", "hazard": {"venom": "mild", "setae": "none", "defensive": false,
        "very_fast": false, "adult_span_max_mm": 150, "life_stage": "juvenile", "cautions": []}, "care": {"feed_min_days": 7,
        "feed_max_days": 10, "uneaten_hours": 24, "moult_min_days": 60, "moult_max_days": 150, "moult_check_days": 900, "water_days": 900,
        "clean_days": 900, "count_days": 900}, "started_on": "2026-01-01", "last_meal": {"day": "2026-03-01", "outcome": "took"},
        "refusals_in_row": 0, "moult_state": "normal", "guarding_sac": false}"#;
    let input = |rest: &str| format!(r#"{{"day": "2026-03-01", "subjects": [{subject}], {rest}}}"#);
    let got: serde_json::Value =
        serde_json::from_str(&reckon("look_ahead", &input(r#""days": 14, "left_in": {"animals": 0.1, "cohorts": 0}"#)).unwrap()).unwrap();
    let duties = got["duties"].as_array().unwrap();
    assert_eq!(duties.len(), 2);
    assert_eq!((&duties[0]["day"], &duties[0]["kind"], &duties[0]["mouths"]), (&"2026-03-08".into(), &"feed".into(), &1.into()));
    assert_eq!((&duties[1]["kind"], &duties[1]["expected"]), (&"clear-uneaten".into(), &0.1.into()));
    for (rest, mistake) in [
        (r#""days": 0"#, "days: give a whole number from 1 to 60"),
        (r#""days": 61"#, "days: give a whole number from 1 to 60"),
        (r#""days": 7, "left_in": {"animals": 1.5, "cohorts": 0}"#, "left_in.animals: a share must be a number from 0 to 1"),
        (r#""days": 7, "left_in": {"animals": 0.5}"#, "left_in.cohorts: is missing"),
        (r#""days": 7, "weeks": 2"#, "weeks: unknown field"),
    ] {
        let got = reckon("look_ahead", &input(rest)).unwrap_err().to_string();
        assert!(got.starts_with(mistake), "{got}");
    }
}

#[test]
fn a_cohort_without_care_days_does_not_stop_it() {
    let facts = CohortFacts { care: silkward::reckoning::planner::Care { feed_min_days: 0, water_days: 0, ..care() }, ..vials() };
    let coming = ahead("2026-03-02", 5, facts, LeftIn::NEVER);
    assert_eq!(days_of(&coming, DutyKind::Feed).len(), 5);
    assert_eq!(days_of(&coming, DutyKind::Water).len(), 5);
}
