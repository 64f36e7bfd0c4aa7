//! Rules set apart for one animal, and the planner's account of why something is due.

use chrono::{TimeZone, Utc};
use proptest::prelude::*;
use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{
    AnimalFacts, ApartKind, Care, CohortFacts, Outlook, RehouseNeed, SetApart, SiteRules, Standing, Subject, explain, plan,
};
use silkward::reckoning::words::{DutyKind, MoultState};

use super::on;
use super::planner_properties::{any_day, any_subject};
use super::subjects::{care, due_on, duty, juvenile, vials};

fn rule(kind: ApartKind, days: Option<u32>) -> SetApart {
    SetApart { kind, days, from: on("2026-03-01"), until: on("2026-03-20"), reason: "thin after laying".to_owned(), by: "Ines".to_owned() }
}

fn with(kind: ApartKind, days: Option<u32>) -> AnimalFacts {
    AnimalFacts { apart: vec![rule(kind, days)], ..juvenile() }
}

#[test]
fn a_rule_set_apart_moves_meals_until_its_last_day_and_says_by_whom() {
    let sooner = with(ApartKind::FeedEvery, Some(3));
    let feed = duty(sooner.clone(), DutyKind::Feed, "2026-03-04").unwrap();
    assert_eq!(feed.reason, "last meal on 1 March 2026; fed every 3 days until 20 March 2026 (thin after laying, by Ines)");
    assert!(duty(sooner.clone(), DutyKind::Feed, "2026-03-20").unwrap().due_on == on("2026-03-04"));
    assert!(duty(sooner, DutyKind::Feed, "2026-03-21").unwrap().due_on == on("2026-03-08"), "it has ended by itself");
    let group = CohortFacts { apart: vec![rule(ApartKind::FeedEvery, Some(2))], ..vials() };
    assert_eq!(duty(group, DutyKind::Feed, "2026-03-03").unwrap().due_on, on("2026-03-03"));

    let not_fed = with(ApartKind::NoFeed, None);
    assert_eq!(duty(not_fed.clone(), DutyKind::Feed, "2026-03-20"), None);
    assert!(duty(not_fed, DutyKind::Feed, "2026-03-21").is_some());
    // Not even a rule feeds an animal in its fast.
    let moulted = AnimalFacts { last_moult: Some(on("2026-03-02")), ..with(ApartKind::FeedEvery, Some(1)) };
    assert_eq!(duty(moulted, DutyKind::Feed, "2026-03-11"), None);
}

#[test]
fn no_rule_stops_a_look_a_count_or_the_taking_out_of_prey() {
    let looked = |days| AnimalFacts { care: care(), last_moult_check: Some(on("2026-03-02")), ..with(ApartKind::CheckEvery, Some(days)) };
    assert_eq!(duty(looked(2), DutyKind::MoultCheck, "2026-03-04").unwrap().due_on, on("2026-03-04"));
    assert_eq!(due_on(looked(90), DutyKind::MoultCheck), Some(on("2026-03-09")), "a look never comes later than the profile says");
    let left = Utc.with_ymd_and_hms(2026, 3, 2, 9, 0, 0).unwrap();
    for kind in ApartKind::ALL {
        let days = kind.has_days().then_some(180);
        let facts = AnimalFacts { care: care(), left_in_at: Some(left), ..with(*kind, days) };
        assert!(duty(facts.clone(), DutyKind::ClearUneaten, "2026-03-03").is_some(), "{kind}");
        assert!(duty(facts, DutyKind::MoultCheck, "2026-03-10").is_some(), "{kind}");
        let group = CohortFacts { care: care(), apart: vec![rule(*kind, days)], ..vials() };
        assert!(duty(group, DutyKind::CohortCount, "2026-03-10").is_some(), "{kind}");
    }
}

#[test]
fn a_rehouse_is_held_back_but_for_an_emergency() {
    let tight = AnimalFacts { enclosure_length_mm: Some(100), ..with(ApartKind::NoRehouse, None) };
    assert_eq!(duty(tight.clone(), DutyKind::Rehouse, "2026-03-20"), None);
    assert!(duty(tight.clone(), DutyKind::Rehouse, "2026-03-21").is_some());
    let mites = Some(RehouseNeed { since: on("2026-03-05"), reason: "mites".to_owned(), emergency: true });
    assert!(duty(AnimalFacts { needs_rehouse: mites, ..tight }, DutyKind::Rehouse, "2026-03-06").is_some());
}

fn told(facts: &AnimalFacts, day: &str, kind: DutyKind) -> Outlook {
    let subject = Subject::Animal(facts.clone());
    let all = explain(on(day), &subject, &SiteRules::default(), &ExposureTable::default());
    assert_eq!(all.len(), 6, "every kind of duty of an animal is told of");
    all.into_iter().find(|outlook| outlook.kind == kind).unwrap()
}

#[test]
fn the_account_names_each_rule_with_its_figures_in_order() {
    let facts = AnimalFacts { last_moult: Some(on("2026-03-05")), span_mm: Some(42), care: care(), ..juvenile() };
    let feed = told(&facts, "2026-03-10", DutyKind::Feed);
    assert_eq!(feed.standing, Standing::From { day: on("2026-03-15") });
    assert_eq!(
        feed.rules,
        [
            "last meal on 1 March 2026; every 7 to 10 days, so from 8 March 2026",
            "moulted on 5 March 2026: 10 days without food at this size (42 mm), so not before 15 March 2026",
        ]
    );
    let due = told(&facts, "2026-03-16", DutyKind::Feed);
    assert_eq!(due.standing, Standing::Due { since: on("2026-03-15"), late_after: on("2026-03-18") });
    let rehouse = told(&facts, "2026-03-16", DutyKind::Rehouse);
    assert!(matches!(rehouse.standing, Standing::NotNeeded { .. }), "{rehouse:?}");
    assert_eq!(rehouse.rules, ["leg span 42 mm in a box 200 mm long (0.210): a box of 3 spans does"]);
    let waits = told(&AnimalFacts { moult_state: MoultState::PreMoult, ..facts.clone() }, "2026-03-16", DutyKind::Feed);
    assert!(matches!(waits.standing, Standing::Waits { reason } if reason.contains("in pre-moult")));
    let holds = SiteRules::default().agitation_holds(on("2026-03-16"), "stood up").to_vec();
    let held = told(&AnimalFacts { holds, ..facts }, "2026-03-16", DutyKind::Water);
    assert_eq!(held.held.as_deref(), Some("agitated until 17 March 2026 (stood up)"));
    let hidden = AnimalFacts { care: Care { water_days: 7, ..care() }, ..juvenile() };
    assert_eq!(told(&hidden, "2026-01-02", DutyKind::Water).standing, Standing::From { day: on("2026-01-08") });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn the_account_says_what_the_plan_does(subject in any_subject(), day in any_day()) {
        let (rules, table) = (SiteRules::default(), ExposureTable::default());
        let planned = plan(day, std::slice::from_ref(&subject), &rules, &table);
        let accounted: Vec<_> = explain(day, &subject, &rules, &table)
            .into_iter()
            .filter_map(|outlook| match outlook.standing {
                Standing::Due { since, late_after } => Some((outlook.kind, since, late_after, outlook.held)),
                Standing::From { day: from } => { assert!(from > day && !outlook.rules.is_empty()); None }
                Standing::Waits { reason } | Standing::NotNeeded { reason } => { assert!(!reason.is_empty()); None }
            })
            .collect();
        prop_assert_eq!(planned.len(), accounted.len());
        for duty in planned {
            prop_assert!(accounted.contains(&(duty.kind, duty.due_on, duty.late_after, duty.held.clone())), "{:?}", duty);
        }
    }
}
