use silkward::reckoning::planner::{AnimalFacts, HoldFacts, LastMeal, RehouseNeed, RehouseState, SiteRules, rehouse_state};
use silkward::reckoning::words::{DutyKind, Exposure, HoldKind, LifeStage, MealOutcome, MoultState, Venom};

use super::on;
use super::subjects::{due_on, duty, hazard, juvenile, planned, refused};

// Common practice, no source: 3 refusals for a spiderling, 4 for a juvenile, 6 for an adult.
#[test]
fn refusals_in_a_row_raise_a_moult_check() {
    for (life_stage, limit) in [(LifeStage::Spiderling, 3), (LifeStage::Juvenile, 4), (LifeStage::Adult, 6)] {
        let with = |in_row| AnimalFacts { life_stage, ..refused("2026-03-01", in_row) };
        assert_eq!(duty(with(limit - 1), DutyKind::MoultCheck, "2026-03-20"), None);
        let check = duty(with(limit), DutyKind::MoultCheck, "2026-03-20").unwrap();
        assert_eq!(check.due_on, on("2026-03-02"));
        assert!(check.reason.starts_with(&format!("{limit} meals refused in a row")));
        let looked = AnimalFacts { last_moult_check: Some(on("2026-03-01")), ..with(limit) };
        assert!(due_on(looked, DutyKind::MoultCheck) > Some(on("2026-03-02")));
    }
}

#[test]
fn moult_checks_draw_closer_inside_the_window() {
    let mut facts = juvenile();
    facts.care.moult_check_days = 14;
    facts.last_moult = Some(on("2026-01-01"));
    let due_after = |check: &str| {
        let facts = AnimalFacts { last_moult_check: Some(on(check)), ..facts.clone() };
        due_on(facts, DutyKind::MoultCheck).unwrap()
    };
    assert_eq!(due_after("2026-02-01"), on("2026-02-15"));
    assert_eq!(due_after("2026-02-25"), on("2026-03-02"));
    assert_eq!(due_after("2026-03-10"), on("2026-03-13"));
    facts.last_moult_check = Some(on("2026-12-01"));
    let overdue = duty(facts, DutyKind::MoultCheck, "2026-12-04").unwrap();
    assert!(overdue.reason.contains("more than 1.5 ×"), "{}", overdue.reason);
}

#[test]
fn pre_moult_is_looked_at_often_and_a_moult_every_day() {
    let state = |moult_state| AnimalFacts {
        moult_state,
        moult_state_since: Some(on("2026-03-01")),
        last_moult_check: Some(on("2026-03-02")),
        ..juvenile()
    };
    assert_eq!(due_on(state(MoultState::PreMoult), DutyKind::MoultCheck), Some(on("2026-03-05")));
    let spiderling = AnimalFacts { life_stage: LifeStage::Spiderling, ..state(MoultState::PreMoult) };
    assert_eq!(due_on(spiderling, DutyKind::MoultCheck), Some(on("2026-03-04")));
    let daily = duty(state(MoultState::Moulting), DutyKind::MoultCheck, "2026-03-03").unwrap();
    assert_eq!((daily.due_on, daily.exposure), (on("2026-03-03"), Exposure::Look));
}

#[test]
fn water_and_cleaning_come_round_and_wait_while_it_moults() {
    let mut facts = juvenile();
    facts.care.water_days = 7;
    facts.last_water = Some(on("2026-03-01"));
    let water = duty(facts.clone(), DutyKind::Water, "2026-03-08").unwrap();
    assert_eq!((water.due_on, water.held), (on("2026-03-08"), None));
    facts.moult_state = MoultState::Moulting;
    let held = duty(facts, DutyKind::Water, "2026-03-08").unwrap().held.unwrap();
    assert!(held.contains("moulting now"));
}

#[test]
fn a_threat_display_holds_opening_for_a_day_and_hands_in_for_three() {
    let holds = SiteRules::default().agitation_holds(on("2026-03-10"), "stood up at the lid");
    let facts = AnimalFacts {
        holds: holds.to_vec(),
        enclosure_length_mm: Some(100),
        last_meal: Some(LastMeal { day: on("2026-03-01"), outcome: MealOutcome::Took }),
        ..juvenile()
    };
    let held = |kind, day: &str| duty(facts.clone(), kind, day).unwrap().held;
    let feed = held(DutyKind::Feed, "2026-03-10").unwrap();
    assert_eq!(feed, "agitated until 11 March 2026 (stood up at the lid)");
    assert_eq!(held(DutyKind::Feed, "2026-03-11"), None);
    assert!(held(DutyKind::Rehouse, "2026-03-10").unwrap().contains("until 13 March"));
    assert!(held(DutyKind::Rehouse, "2026-03-12").is_some());
    assert_eq!(held(DutyKind::Rehouse, "2026-03-13"), None);
}

#[test]
fn a_hold_without_an_end_stays_until_it_is_lifted_and_leaves_looking_free() {
    let quarantine =
        HoldFacts { kind: HoldKind::Quarantine, from: on("2026-01-01"), blocks: Exposure::HandsIn, until: None, reason: String::new() };
    let mut facts = AnimalFacts { holds: vec![quarantine], enclosure_length_mm: Some(100), ..juvenile() };
    facts.care.moult_check_days = 7;
    let held = |kind| duty(facts.clone(), kind, "2027-01-01").unwrap().held;
    assert_eq!(held(DutyKind::Rehouse).unwrap(), "quarantine until it is lifted");
    assert_eq!((held(DutyKind::Feed), held(DutyKind::MoultCheck)), (None, None));
}

// Worked value, seen from the planner: 60 mm in 150 mm is due, in 180 mm it is not.
#[test]
fn a_rehouse_is_due_when_the_span_is_more_than_a_third_of_the_box() {
    let in_box = |length| AnimalFacts { span_mm: Some(60), enclosure_length_mm: Some(length), ..juvenile() };
    assert_eq!(due_on(in_box(180), DutyKind::Rehouse), None);
    let rehouse = duty(in_box(150), DutyKind::Rehouse, "2026-03-04").unwrap();
    assert_eq!((rehouse.due_on, rehouse.exposure), (on("2026-03-03"), Exposure::HandsIn));
    assert!(rehouse.reason.contains("60 mm in a box 150 mm long (0.40"));
    assert_eq!(duty(in_box(150), DutyKind::Rehouse, "2026-03-02"), None);
}

#[test]
fn a_rehouse_waits_for_moults_and_sacs_and_an_emergency_only_overrides_the_sac() {
    let mites = |emergency| RehouseNeed { since: on("2026-03-10"), reason: "mites".to_owned(), emergency };
    let rules = SiteRules::default();
    let state = |facts: &AnimalFacts| rehouse_state(facts, &rules, on("2026-03-12"));
    let guarding = |emergency| AnimalFacts { guarding_sac: true, needs_rehouse: Some(mites(emergency)), ..juvenile() };
    assert!(matches!(state(&guarding(false)), RehouseState::NotBefore { day: None, .. }));
    assert!(matches!(state(&guarding(true)), RehouseState::Due { due_on, .. } if due_on == on("2026-03-10")));
    for moult_state in [MoultState::PreMoult, MoultState::Moulting] {
        let facts = AnimalFacts { moult_state, needs_rehouse: Some(mites(true)), ..juvenile() };
        assert!(matches!(state(&facts), RehouseState::NotBefore { day: None, .. }));
    }
    let soft = AnimalFacts { last_moult: Some(on("2026-03-08")), needs_rehouse: Some(mites(true)), ..juvenile() };
    assert!(matches!(state(&soft), RehouseState::NotBefore { day, .. } if day == Some(on("2026-03-18"))));
    assert_eq!(state(&juvenile()), RehouseState::NotNeeded);
}

#[test]
fn duties_carry_the_clearance_of_their_band_and_exposure() {
    let dangerous = AnimalFacts {
        hazard: hazard(Venom::Significant, LifeStage::Juvenile),
        enclosure_length_mm: Some(100),
        care: super::subjects::care(),
        ..juvenile()
    };
    let needs = |kind| {
        let duty = duty(dangerous.clone(), kind, "2026-04-01").unwrap();
        (duty.band.level(), duty.clearance, duty.persons)
    };
    assert_eq!(needs(DutyKind::MoultCheck), (3, 0, 1));
    assert_eq!(needs(DutyKind::Feed), (3, 2, 1));
    assert_eq!(needs(DutyKind::Rehouse), (3, 3, 2));
}

#[test]
fn every_duty_says_why() {
    let busy = AnimalFacts { enclosure_length_mm: Some(90), care: super::subjects::care(), ..juvenile() };
    let duties = planned(busy, "2026-06-01");
    assert_eq!(duties.len(), 5);
    assert!(duties.iter().all(|duty| duty.reason.contains(char::is_numeric) && duty.minutes > 0));
}

#[test]
fn a_moult_counts_as_a_look_and_ends_the_refusals_before_it() {
    let moulted = AnimalFacts { last_moult: Some(on("2026-03-05")), ..refused("2026-03-01", 4) };
    let without_a_moult = AnimalFacts { last_moult: None, ..moulted.clone() };
    assert!(duty(without_a_moult, DutyKind::MoultCheck, "2026-03-20").is_some());
    assert_eq!(duty(moulted.clone(), DutyKind::MoultCheck, "2026-03-20"), None);
    let mut often = AnimalFacts { refusals_in_row: 0, ..moulted };
    often.care.moult_check_days = 14;
    assert_eq!(due_on(often, DutyKind::MoultCheck), Some(on("2026-03-19")));
}

#[test]
fn a_new_box_is_clean() {
    let mut facts = AnimalFacts { rehoused_on: Some(on("2026-03-06")), ..juvenile() };
    facts.care.clean_days = 30;
    facts.last_clean = Some(on("2026-02-20"));
    assert_eq!(due_on(facts, DutyKind::SpotClean), Some(on("2026-04-05")));
}
