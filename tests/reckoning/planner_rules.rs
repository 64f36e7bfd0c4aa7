//! The figures of a care profile move what is planned; the defaults are the worked values of common practice (no source).

use chrono::{TimeDelta, TimeZone, Utc};
use silkward::reckoning::condition::{Condition, Scored};
use silkward::reckoning::enclosure::BoxRules;
use silkward::reckoning::moult::FastClass;
use silkward::reckoning::planner::{
    AnimalFacts, Care, CohortFacts, CountOff, RoomFacts, SacFacts, SacRules, SiteRules, StageRules, feed_allowed,
};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{DutyKind, LifeStage};

use super::on;
use super::subjects::{due_on, duty, juvenile, planned, refused, sac, vials};

fn rules() -> StageRules {
    StageRules::usual(LifeStage::Juvenile, 7)
}

fn with(rules: StageRules, facts: AnimalFacts) -> AnimalFacts {
    AnimalFacts { care: Care { rules: Some(rules), ..facts.care }, ..facts }
}

/// Long unfed, so that only the fast decides.
fn moulted(span_mm: u32) -> AnimalFacts {
    let mut facts = AnimalFacts { span_mm: Some(span_mm), last_moult: Some(on("2026-03-01")), ..juvenile() };
    facts.last_meal.as_mut().unwrap().day = on("2026-01-20");
    facts
}

#[test]
fn after_a_moult_food_waits_for_the_houses_day_of_its_size() {
    // Worked values: moult on 1 March 2026; 1.2 cm: earliest 4 March, house 6 March; 14 cm: 15 and 22 March; 4.0 cm is in
    // the class of 7 to 10 days.
    for (span, earliest, house) in [(12, 3, "2026-03-06"), (140, 14, "2026-03-22"), (40, 7, "2026-03-11"), (39, 5, "2026-03-08")] {
        let facts = moulted(span);
        assert_eq!(facts.care.fast_of(facts.span_mm, facts.life_stage).min_days, earliest, "{span} mm");
        assert_eq!(due_on(facts, DutyKind::Feed), Some(on(house)), "{span} mm");
    }
    let mut own = moulted(40);
    own.care.fast = vec![
        FastClass { from_mm: 0, min_days: 2, max_days: 3 },
        FastClass { from_mm: 40, min_days: 20, max_days: 30 },
        FastClass { from_mm: 41, min_days: 40, max_days: 50 },
    ];
    assert_eq!(due_on(own.clone(), DutyKind::Feed), Some(on("2026-03-31")));
    own.span_mm = Some(39);
    assert_eq!(due_on(own, DutyKind::Feed), Some(on("2026-03-04")));
}

#[test]
fn a_sac_is_pulled_in_its_window_and_turned_until_legs_are_out() {
    // Laid on 1 April 2026: 29 April to 6 May.
    let pull = duty(SacFacts { last_check: Some(on("2026-04-25")), ..sac() }, DutyKind::SacCheck, "2026-04-29").unwrap();
    assert_eq!((pull.due_on, pull.late_after), (on("2026-04-29"), on("2026-05-06")));
    assert_eq!(duty(sac(), DutyKind::SacTurn, "2026-04-29"), None, "its mother turns it");

    let pulled = SacFacts { with_dam: false, pulled_on: Some(on("2026-04-29")), last_check: Some(on("2026-04-29")), ..sac() };
    assert_eq!(duty(pulled.clone(), DutyKind::SacTurn, "2026-04-29").unwrap().due_on, on("2026-04-29"));
    let at = Utc.with_ymd_and_hms(2026, 4, 30, 8, 0, 0).unwrap();
    let turned = |last_turn, turns| SacFacts {
        last_turn: Some(last_turn),
        rules: Some(SacRules { turns, ..SacRules::default() }),
        ..pulled.clone()
    };
    let again = duty(turned(at, 3), DutyKind::SacTurn, "2026-04-30").unwrap();
    assert_eq!((again.due_at, again.late_after), (Some(at + TimeDelta::hours(8)), on("2026-04-30")));
    // The last turn of a day lets it rest until the next.
    let evening = at + TimeDelta::hours(9);
    assert_eq!(duty(turned(evening, 3), DutyKind::SacTurn, "2026-04-30"), None);
    assert_eq!(duty(turned(evening, 3), DutyKind::SacTurn, "2026-05-01").unwrap().due_on, on("2026-05-01"));
    assert_eq!(duty(turned(at, 0), DutyKind::SacTurn, "2026-05-09"), None, "not turned at all");
    assert_eq!(duty(SacFacts { legs_out: true, ..pulled.clone() }, DutyKind::SacTurn, "2026-05-09"), None);
    assert!(duty(SacFacts { legs_out: true, ..pulled.clone() }, DutyKind::SacCheck, "2026-05-09").is_some(), "checks go on");
    let seldom = SacFacts { rules: Some(SacRules { pulled_days: 3, ..SacRules::default() }), ..pulled };
    assert_eq!(due_on(seldom, DutyKind::SacCheck), Some(on("2026-05-02")));
}

#[test]
fn a_box_is_outgrown_above_the_share_of_the_profile() {
    // DLS 6 cm: length at least 18, width at least 12, fall gap at most 9 cm; a 15 cm box is outgrown, an 18 cm box is not.
    let needed = BoxRules::default().needed(60);
    assert_eq!((needed.length_mm, needed.width_mm, needed.fall_gap_mm), (180, 120, 90));
    let boxed = |length, boxes| {
        with(StageRules { boxes, ..rules() }, AnimalFacts { span_mm: Some(60), enclosure_length_mm: Some(length), ..juvenile() })
    };
    let due = |length, boxes| duty(boxed(length, boxes), DutyKind::Rehouse, "2026-03-20").map(|duty| duty.reason);
    assert!(due(150, BoxRules::default()).unwrap().contains("0.40; more than a third"));
    assert_eq!(due(180, BoxRules::default()), None);
    let tight = BoxRules { length_tenths: 25, ..BoxRules::default() };
    assert_eq!(due(150, tight), None);
    assert!(due(149, tight).unwrap().contains("more than 1 in 2.5"));
}

#[test]
fn prey_left_in_comes_out_a_day_later_and_nothing_before_the_second_instar_is_fed() {
    // Fed at 18:00 on day 1: out by 18:00 on day 2.
    let six = Utc.with_ymd_and_hms(2026, 3, 10, 18, 0, 0).unwrap();
    let clear = duty(AnimalFacts { left_in_at: Some(six), ..juvenile() }, DutyKind::ClearUneaten, "2026-03-11").unwrap();
    assert_eq!(clear.due_at, Some(six + TimeDelta::hours(24)));
    for stage in [Stage::Egg, Stage::PostEmbryo, Stage::Instar(1)] {
        assert!(feed_allowed(stage).is_err());
        let cohort = CohortFacts { counts: [(stage, 50)].into(), last_meal: None, ..vials() };
        assert_eq!(duty(cohort, DutyKind::Feed, "2026-12-01"), None);
    }
}

#[test]
fn every_figure_of_a_life_stage_moves_what_it_says() {
    let again = with(StageRules { retry_days: 9, ..rules() }, refused("2026-03-01", 1));
    assert_eq!(due_on(again, DutyKind::Feed), Some(on("2026-03-10")));
    let twice = with(StageRules { refusals_check: 2, ..rules() }, refused("2026-03-01", 2));
    assert_eq!(due_on(twice, DutyKind::MoultCheck), Some(on("2026-03-02")));
    let looked = AnimalFacts { last_moult_check: Some(on("2026-03-10")), ..refused("2026-03-01", 4) };
    assert_eq!(due_on(with(StageRules { close_check_days: 5, ..rules() }, looked), DutyKind::MoultCheck), Some(on("2026-03-15")));

    let late = AnimalFacts { last_moult: Some(on("2025-10-01")), last_moult_check: Some(on("2026-03-14")), ..juvenile() };
    let reason = |tenths, facts: &AnimalFacts| {
        duty(with(StageRules { look_after_tenths: tenths, ..rules() }, facts.clone()), DutyKind::MoultCheck, "2026-03-20").unwrap().reason
    };
    assert!(reason(15, &late).contains("a moult is usual from"));
    assert!(reason(11, &late).contains("more than 1.1 × the usual 150 days"));

    let moved = AnimalFacts { rehoused_on: Some(on("2026-03-06")), ..juvenile() };
    let settled = with(StageRules { settle_min_days: 12, settle_max_days: 20, ..rules() }, moved);
    assert_eq!(due_on(settled, DutyKind::Feed), Some(on("2026-03-18")));

    let tight = AnimalFacts { enclosure_length_mm: Some(100), last_moult: Some(on("2026-02-25")), ..juvenile() };
    let rested = with(StageRules { after_moult_days: Some(1), after_meal_days: 6, ..rules() }, tight.clone());
    assert_eq!(due_on(rested, DutyKind::Rehouse), Some(on("2026-03-07")));
    assert_eq!(due_on(with(rules(), tight), DutyKind::Rehouse), Some(on("2026-03-07")), "as long as the fast: 10 days");
}

#[test]
fn a_score_follows_from_two_widths_with_each_limit_in_its_own_class() {
    use Condition::{Good, Heavy, Lean, Obese, Shrunken};
    let scores = [(79, Shrunken), (80, Lean), (109, Lean), (110, Good), (149, Good), (150, Heavy), (200, Heavy), (201, Obese)];
    for (abdomen, score) in scores {
        assert_eq!(Condition::of_widths(abdomen, 100), Some(score), "{abdomen}");
    }
    assert_eq!(Condition::of_widths(10, 0), None);
    assert_eq!(Condition::of_widths(u32::MAX, u32::MAX), Some(Lean));
}

#[test]
fn how_well_fed_it_looks_moves_its_meals() {
    let looks = |condition| AnimalFacts { condition: Some(Scored { condition, day: on("2026-03-03") }), ..juvenile() };
    let fed = |condition| duty(looks(condition), DutyKind::Feed, "2026-12-01").unwrap();
    assert_eq!(fed(Condition::Good).due_on, on("2026-03-08"));
    assert_eq!(fed(Condition::Lean).due_on, on("2026-03-08"));
    let shrunken = fed(Condition::Shrunken);
    assert_eq!((shrunken.due_on, shrunken.late_after), (on("2026-03-05"), on("2026-03-08")));
    assert!(shrunken.reason.contains("water first, then call a senior"), "{}", shrunken.reason);
    let look = duty(looks(Condition::Shrunken), DutyKind::MoultCheck, "2026-03-04").unwrap();
    assert!(look.due_on == on("2026-03-04") && look.reason.contains("water first, then call a senior"));
    let heavy = fed(Condition::Heavy);
    assert_eq!((heavy.due_on, heavy.late_after), (on("2026-03-11"), on("2026-03-14")));
    let obese = fed(Condition::Obese);
    assert!(obese.due_on == on("2026-03-17") && obese.reason.contains("no feed for 14 days or until a lower score"), "{obese:?}");
    // Another skin is another spider: a score from before the moult counts no more.
    let moulted = AnimalFacts { last_moult: Some(on("2026-03-04")), span_mm: Some(12), ..looks(Condition::Obese) };
    assert_eq!(due_on(moulted, DutyKind::Feed), Some(on("2026-03-09")));
}

#[test]
fn a_count_that_was_off_is_done_again() {
    let cohort = |by, alive| CohortFacts {
        counts: [(Stage::Instar(2), alive)].into(),
        last_count: Some(on("2026-03-10")),
        count_off: Some(CountOff { day: on("2026-03-10"), by }),
        ..vials()
    };
    let again = |by, alive| duty(cohort(by, alive), DutyKind::CohortCount, "2026-03-11").is_some();
    // Over three animals, or over two in a hundred.
    assert!(again(4, 1_000) && !again(3, 1_000) && again(3, 100) && !again(2, 100) && again(1, 40) && !again(0, 10));
    let since = CohortFacts { last_count: Some(on("2026-03-11")), ..cohort(9, 90) };
    assert_eq!(duty(since, DutyKind::CohortCount, "2026-03-20"), None);
}

#[test]
fn a_room_that_holds_stock_is_read_every_day() {
    let room = |last_reading, racks| RoomFacts { id: 1, racks, last_reading, since: on("2026-03-05") };
    assert_eq!(planned(room(Some(on("2026-03-10")), 4), "2026-03-10"), []);
    let due = duty(room(Some(on("2026-03-10")), 4), DutyKind::RoomReading, "2026-03-13").unwrap();
    assert_eq!((due.due_on, due.late_after, due.minutes, due.clearance), (on("2026-03-11"), on("2026-03-11"), 4, 0));
    assert_eq!(duty(room(None, 4), DutyKind::RoomReading, "2026-03-05").unwrap().due_on, on("2026-03-05"));
    assert_eq!(planned(room(None, 0), "2026-03-05"), []);
}

#[test]
fn where_a_profile_is_silent_the_house_decides() {
    let site = SiteRules { refusals_juvenile: 2, close_check_other_days: 5, rehouse_after_meal_days: 9, ..SiteRules::default() };
    let care = juvenile().care;
    let silent = site.for_stage(&care, LifeStage::Juvenile);
    assert_eq!((silent.refusals_check, silent.close_check_days, silent.after_meal_days), (2, 5, 9));
    let said = site.for_stage(&Care { rules: Some(rules()), ..care }, LifeStage::Juvenile);
    assert_eq!((said.refusals_check, said.close_check_days, said.after_meal_days), (4, 3, 2));
}
