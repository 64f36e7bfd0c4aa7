//! What a duty weighs, and why nobody has it: each reason exactly, with names and figures.

use chrono::NaiveDate;
use silkward::house::ids::{AnimalId, DutyId, MemberId};
use silkward::reckoning::words::{DutyKind, Exposure};
use silkward::rounds::model::share::{AtWork, asked, keep_pinned, minutes, urgency};
use silkward::rounds::model::{Duty, DutyState};
use silkward::rounds::store::why_unassigned;

fn today() -> NaiveDate {
    "2026-04-15".parse().unwrap()
}

fn duty(clearance: i64, minutes: i64, persons: i64) -> Duty {
    Duty {
        id: DutyId(1),
        kind: DutyKind::Feed,
        animal_id: Some(AnimalId(1)),
        cohort_id: None,
        sac_id: None,
        label: "T-1".to_owned(),
        species: String::new(),
        place: None,
        shelf_id: None,
        rack_id: None,
        position: None,
        due_on: today(),
        late_after: today(),
        due_at: None,
        seconds: minutes * 60,
        exposure: Exposure::Open,
        band: clearance,
        clearance,
        persons,
        reason: "because".to_owned(),
        held: None,
        state: DutyState::Open,
        assigned_to: None,
        assigned_name: None,
        second_to: None,
        second_name: None,
    }
}

fn person(id: i64, name: &str, level: i64) -> AtWork {
    AtWork {
        member: MemberId(id),
        name: name.to_owned(),
        level,
        suspended: false,
        present: true,
        why_not: None,
        hours: "08:00–17:00".to_owned(),
        minutes: 240,
        done: 0,
        load: 0,
    }
}

fn away(id: i64, name: &str, level: i64, why: &str) -> AtWork {
    AtWork { present: false, why_not: Some(why.to_owned()), ..person(id, name, level) }
}

fn with_load(load: u32, person: AtWork) -> AtWork {
    AtWork { load, ..person }
}

#[test]
fn nobody_holds_the_clearance() {
    let team = [person(1, "Bo", 1), away(2, "Cy", 2, "ill")];
    assert_eq!(why_unassigned(&duty(3, 10, 1), &team), "needs clearance 3: nobody holds it today");
    let rests = AtWork { suspended: true, ..person(3, "Di", 0) };
    let why = why_unassigned(&duty(3, 10, 1), &[rests]);
    assert_eq!(why, "needs clearance 3: nobody holds it today; the clearances of Di rest until a lead has reviewed their incident");
}

#[test]
fn those_who_hold_it_are_not_in_and_each_is_named_with_the_reason() {
    let team = [person(1, "Bo", 1), away(2, "Cy", 3, "on leave until 3 December"), away(3, "Di", 2, "does not work on Wednesdays")];
    let why = why_unassigned(&duty(2, 10, 1), &team);
    assert_eq!(why, "needs clearance 2: nobody who holds it is in today (Cy: on leave until 3 December; Di: does not work on Wednesdays)");
    assert_eq!(why_unassigned(&duty(0, 10, 1), &team[1..2]), "nobody is in today (Cy: on leave until 3 December)");
}

#[test]
fn those_who_are_in_have_no_minutes_left_and_the_figures_are_given() {
    let team = [person(1, "Bo", 1), with_load(235, person(2, "Cy", 2)), AtWork { done: 100, ..with_load(135, person(3, "Di", 2)) }];
    let why = why_unassigned(&duty(2, 10, 1), &team);
    assert_eq!(
        why,
        "needs clearance 2: takes 10 min, and everybody who may do it and is in is full: Cy 235 of 240 min, Di 235 of 240 min, 100 done"
    );
    assert!(why_unassigned(&duty(2, 5, 1), &team).contains("not shared out yet"), "five minutes fit exactly");
}

#[test]
fn a_hold_comes_first_and_a_missing_clearance_is_said_with_it() {
    let held = |clearance| Duty { held: Some("agitated until 16 Apr 2026, 14:00 (threat display)".to_owned()), ..duty(clearance, 10, 1) };
    let team = [person(1, "Bo", 1)];
    assert_eq!(why_unassigned(&held(1), &team), "on hold: agitated until 16 Apr 2026, 14:00 (threat display)");
    let why = why_unassigned(&held(2), &team);
    assert_eq!(why, "on hold: agitated until 16 Apr 2026, 14:00 (threat display); and it needs clearance 2: nobody holds it today");
}

#[test]
fn otherwise_it_is_not_shared_out_yet_and_those_who_may_are_named() {
    let team = [person(1, "Bo", 1), person(2, "Cy", 2), away(3, "Di", 3, "ill")];
    assert_eq!(why_unassigned(&duty(1, 10, 1), &team), "needs clearance 1: not shared out yet; Bo and Cy may do it");
    let many = [1, 2, 3, 4].map(|id| person(id, "Bo", 1));
    assert_eq!(why_unassigned(&duty(0, 10, 1), &many), "not shared out yet; 4 people may do it");
}

#[test]
fn a_duty_for_two_says_what_is_missing_of_the_second() {
    let two = duty(3, 20, 2);
    let team = [person(1, "Bo", 1), person(2, "Cy", 3)];
    assert_eq!(why_unassigned(&two, &team), "needs two people with clearance 2 or more: only Cy is there");
    let team = [away(1, "Bo", 2, "ill"), person(2, "Cy", 3)];
    assert_eq!(why_unassigned(&two, &team), "needs two people with clearance 2 or more: only Cy is in today (Bo: ill)");
    let team = [with_load(230, person(1, "Bo", 2)), person(2, "Cy", 3)];
    let why = why_unassigned(&two, &team);
    assert!(why.contains("takes 20 min") && why.contains("Bo 230 of 240 min"), "{why}");
    let team = [person(1, "Bo", 2), person(2, "Cy", 3)];
    let has_first = Duty { assigned_to: Some(MemberId(2)), ..two };
    assert_eq!(why_unassigned(&has_first, &team), "needs clearance 3: a second person is not named yet; Cy may do it");
}

/// Common practice, no source: what can't wait, then what is late, then what fell due today.
#[test]
fn what_cannot_wait_weighs_more_than_what_is_late_and_that_more_than_today() {
    let plain = duty(0, 10, 1);
    let late = Duty { late_after: "2026-04-14".parse().unwrap(), ..plain.clone() };
    let prey_left = Duty { kind: DutyKind::ClearUneaten, ..plain.clone() };
    let both = Duty { kind: DutyKind::SacCheck, ..late.clone() };
    let weights = [&plain, &late, &prey_left, &both].map(|duty| urgency(duty, today()));
    assert_eq!(weights, [1, 3, 5, 7]);
}

#[test]
fn minutes_are_rounded_up_and_never_none() {
    assert_eq!([0, 1, 59, 60, 61].map(|seconds| minutes(&Duty { seconds, ..duty(0, 1, 1) })), [1, 1, 1, 1, 2]);
}

#[test]
fn what_is_pinned_outweighs_everything_else_together() {
    let pinned = asked(&duty(0, 10, 1), today(), Some(MemberId(1)));
    let urgent = asked(&Duty { kind: DutyKind::SacCheck, ..duty(0, 10, 1) }, today(), None);
    let mut duties = vec![pinned, urgent.clone(), urgent];
    keep_pinned(&mut duties);
    assert!(duties[0].urgency > duties[1].urgency + duties[2].urgency, "{duties:?}");
}
