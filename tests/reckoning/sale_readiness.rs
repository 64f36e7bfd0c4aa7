use silkward::reckoning::planner::HoldFacts;
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::reckon;
use silkward::reckoning::sale_readiness::{Lot, SaleFacts, may_leave, readiness, readiness_to_send};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{Exposure, HoldKind, LifeStage, MoultState};

use super::on;

/// A juvenile that may leave on 1 June 2026.
fn ready() -> SaleFacts {
    SaleFacts {
        not_available: None,
        stage: Some(Stage::Instar(6)),
        life_stage: LifeStage::Juvenile,
        span_mm: Some(50),
        last_moult: Some(on("2026-05-01")),
        ate_since_moult: true,
        moult_state: MoultState::Normal,
        holds: Vec::new(),
        guarding_sac: false,
        held_back: false,
        listed: true,
        source: check_source("C").ok(),
        has_papers: true,
        missing_papers: Vec::new(),
        last_fed: Some(on("2026-05-25")),
        prey_left_in: false,
        lot: None,
        fast: Vec::new(),
    }
}

/// The texts of the findings on 1 June 2026, and whether it may leave.
fn found(facts: &SaleFacts) -> (String, bool) {
    let findings = readiness(facts, on("2026-06-01"));
    let texts: Vec<&str> = findings.iter().map(|finding| finding.text.as_str()).collect();
    (texts.join("; "), may_leave(&findings))
}

#[test]
fn an_animal_without_findings_may_leave() {
    assert_eq!(found(&ready()), (String::new(), true));
}

/// Each case has one reason against it, and that one blocks.
fn blocked(cases: Vec<(SaleFacts, &str)>) {
    for (facts, text) in cases {
        let (texts, leaves) = found(&facts);
        assert!(texts.contains(text), "{text}: {texts}");
        assert_eq!(readiness(&facts, on("2026-06-01")).len(), 1, "{texts}");
        assert!(!leaves, "{text}");
    }
}

#[test]
fn moults_block() {
    let moulted = Some(on("2026-05-23"));
    blocked(vec![
        (SaleFacts { ate_since_moult: false, ..ready() }, "not accepted a meal since"),
        (SaleFacts { last_moult: moulted, ..ready() }, "may leave from 2 June 2026"),
        (SaleFacts { moult_state: MoultState::PreMoult, ..ready() }, "in pre-moult"),
        (SaleFacts { moult_state: MoultState::Moulting, ..ready() }, "moulting now"),
    ]);
}

#[test]
fn holds_block() {
    let hold = |kind, until: Option<&str>| {
        vec![HoldFacts { kind, from: on("2026-05-30"), blocks: Exposure::HandsIn, until: until.map(on), reason: "new arrival".to_owned() }]
    };
    let quarantine = hold(HoldKind::Quarantine, Some("2026-06-30"));
    let agitated = hold(HoldKind::Agitated, None);
    let in_quarantine = "in quarantine until 30 June 2026: new arrival";
    blocked(vec![
        (SaleFacts { holds: quarantine, ..ready() }, in_quarantine),
        (SaleFacts { holds: agitated, ..ready() }, "agitated: new arrival"),
    ]);
}

#[test]
fn status_and_papers_block() {
    let dead = Some("dead".to_owned());
    let too_many = Some(Lot { asked: 40, free: 22, recent: 0 });
    blocked(vec![
        (SaleFacts { not_available: dead, ..ready() }, "not available: dead"),
        (SaleFacts { stage: Some(Stage::Instar(1)), ..ready() }, "still first instar"),
        (SaleFacts { guarding_sac: true, ..ready() }, "guarding an egg sac"),
        (SaleFacts { held_back: true, ..ready() }, "held back"),
        (SaleFacts { source: None, ..ready() }, "without a source code"),
        (SaleFacts { has_papers: false, ..ready() }, "without papers"),
        (SaleFacts { lot: too_many, ..ready() }, "40 asked for, 22 free"),
    ]);
}

// Common practice, no source: the longer end of the fast and one accepted meal.
#[test]
fn the_sale_hold_ends_on_the_last_day_of_the_fast() {
    let facts = SaleFacts { last_moult: Some(on("2026-05-22")), ..ready() };
    assert_eq!(found(&facts), (String::new(), true));
}

// Common practice, no source: what is packed must have hardened and eaten; others of the cohort need not have.
#[test]
fn a_number_may_leave_when_enough_others_have_hardened() {
    let moulted = SaleFacts { last_moult: Some(on("2026-05-30")), ate_since_moult: false, ..ready() };
    let enough = SaleFacts { lot: Some(Lot { asked: 40, free: 60, recent: 20 }), ..moulted.clone() };
    assert!(found(&enough).1, "{}", found(&enough).0);
    assert!(found(&enough).0.contains("20 of them moulted lately"));
    let short = SaleFacts { lot: Some(Lot { asked: 41, free: 60, recent: 20 }), ..moulted };
    assert!(!found(&short).1);
}

#[test]
fn some_reasons_only_warn() {
    let fed = SaleFacts { last_fed: Some(on("2026-05-30")), ..ready() };
    assert!(found(&fed).0.contains("not sent before 2 June 2026") && found(&fed).1);
    let unlisted = SaleFacts { listed: false, source: None, has_papers: false, ..ready() };
    assert_eq!(found(&unlisted), ("no source code on record".to_owned(), true));
    let small = SaleFacts { stage: None, life_stage: LifeStage::Spiderling, span_mm: Some(12), ..ready() };
    assert!(found(&small).0.contains("instar not recorded") && found(&small).1);
}

#[test]
fn holds_that_are_over_or_still_to_come_do_not_count() {
    let hold = |from: &str, until: &str| HoldFacts {
        kind: HoldKind::Agitated,
        from: on(from),
        blocks: Exposure::Open,
        until: Some(on(until)),
        reason: String::new(),
    };
    let holds = vec![hold("2026-05-01", "2026-06-01"), hold("2026-06-02", "2026-06-05")];
    assert!(found(&SaleFacts { holds, ..ready() }).1);
}

#[test]
fn prey_that_was_left_in_is_named_before_it_travels_along() {
    let left_in = SaleFacts { prey_left_in: true, ..ready() };
    let findings = readiness(&left_in, on("2026-06-01"));
    assert!(may_leave(&findings), "{findings:?}");
    assert!(findings.iter().any(|finding| finding.text.contains("live prey is in with it")), "{findings:?}");
}

// Common practice, no source: what was fed in the last two to three days, is in pre-moult, within the fast or on a sac does not travel.
#[test]
fn a_journey_waits_longer_than_a_sale() {
    let fed = |day: &str| SaleFacts { last_fed: Some(on(day)), ..ready() };
    let sent = |facts: &SaleFacts| readiness_to_send(facts, on("2026-06-01"));
    for day in ["2026-06-01", "2026-05-31", "2026-05-30"] {
        assert!(!may_leave(&sent(&fed(day))), "{day}");
        assert!(found(&fed(day)).1, "{day}: a sale over the counter only warns");
    }
    let third = sent(&fed("2026-05-29"));
    assert!(may_leave(&third) && third[0].text.contains("3 days before the journey"), "{third:?}");
    assert!(sent(&fed("2026-05-28")).is_empty());
    for facts in [
        SaleFacts { moult_state: MoultState::PreMoult, ..ready() },
        SaleFacts { last_moult: Some(on("2026-05-23")), ..ready() },
        SaleFacts { guarding_sac: true, ..ready() },
    ] {
        assert!(!may_leave(&sent(&facts)), "{facts:?}");
    }
}

#[test]
fn an_input_from_before_journeys_is_read_as_it_was() {
    let facts = serde_json::to_value(SaleFacts { last_fed: Some(on("2026-05-31")), ..ready() }).unwrap();
    let ask = |sent: Option<bool>| {
        let mut input = serde_json::json!({"day": "2026-06-01", "facts": facts});
        if let Some(sent) = sent {
            input["sent"] = sent.into();
        }
        let answer: serde_json::Value = serde_json::from_str(&reckon("sale_readiness", &input.to_string()).unwrap()).unwrap();
        answer["may_leave"].as_bool().unwrap()
    };
    assert!(ask(None) && ask(Some(false)));
    assert!(!ask(Some(true)));
}
