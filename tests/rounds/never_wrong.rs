//! Never the wrong person: every person against every duty by every route gets the answer of the one rule.

use silkward::animals::model::Enclosure;
use silkward::handling::model::week::Moment;
use silkward::handling::model::{IncidentKind, NewIncident, NewPlan};
use silkward::house::audit::Change;
use silkward::house::errors::AppError;
use silkward::house::ids::{MemberId, RackId};
use silkward::reckoning::together::Span;
use silkward::reckoning::who_may::{Part, Standing, missing};
use silkward::reckoning::words::DutyKind;
use silkward::rounds::model::{Detail, Duty, NewSignoff, Outcome, RackReading};
use silkward::rounds::store::{self, When};

use super::stock::{CALM, RISKY, animal, clear, house, plan};
use crate::support::{TestHouse, number};

/// A person with what the rule knows of them.
struct Somebody {
    name: &'static str,
    id: MemberId,
    standing: Standing,
}

/// No clearance, each level, one that ran out, one that rests, a counter, and somebody who has left.
async fn people(house: &TestHouse) -> Vec<Somebody> {
    let mut people = Vec::new();
    for (name, roles, level, until, counts) in [
        ("Ann", "keeper", 0, "", 0),
        ("Bo", "keeper", 1, "2027-01-01", 1),
        ("Cy", "lead", 2, "2027-01-01", 2),
        ("Dee", "keeper", 3, "2026-04-15", 3),
        ("Gus", "keeper", 3, "2026-04-14", 0),
        ("Hal", "keeper", 3, "2027-01-01", 0),
        ("Fay", "counter", 3, "2027-01-01", 3),
        ("Ivo", "keeper", 3, "2027-01-01", 0),
    ] {
        let id = house.person(name, roles).await.id();
        if level > 0 {
            clear(house, id, level, until).await;
        }
        let standing = Standing { looks_after: !matches!(name, "Fay" | "Ivo"), suspended: name == "Hal", level: counts };
        people.push(Somebody { name, id, standing });
    }
    let mut write = house.app.write(Some(people[5].id)).await.unwrap();
    let incident = NewIncident { kind: IncidentKind::Bite, animal: None, cohort: None, duty: None };
    silkward::handling::store::record_incident(&mut write, &incident).await.unwrap();
    write.commit(Change::new("incident.recorded", "incident 1", ""), "/").await.unwrap();
    sqlx::query("UPDATE member SET disabled_at = '2026-04-15T10:00:00+00:00' WHERE name = 'Ivo'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    people
}

/// Animals of bands 1, 2 and 3 in boxes that they have outgrown, planned; and somebody who may be anybody's second.
async fn stocked() -> (TestHouse, Vec<Somebody>, Vec<Duty>, MemberId) {
    let house = house().await;
    for species in [CALM, "Monocentropus balfouri", RISKY] {
        animal(&house, species, 1).await;
    }
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    // The house asks for two also at band 1, so that a second without any clearance occurs.
    sqlx::query("INSERT INTO exposure_rule (band, exposure, clearance, persons) VALUES (1, 'hands-in', 1, 2)")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    plan(&house).await;
    let people = people(&house).await;
    let zed = house.keeper("Zed", 3).await.id();
    let duties = store::open(&mut house.app.read().await.unwrap()).await.unwrap();
    let clearances: std::collections::BTreeSet<i64> = duties.iter().map(|duty| duty.clearance).collect();
    assert!(clearances.is_superset(&[1, 2, 3].into()), "{clearances:?}");
    (house, people, duties, zed)
}

/// A sign-off that lacks nothing but perhaps the right person.
async fn answer(house: &TestHouse, duty: &Duty, second: MemberId) -> NewSignoff {
    let outcome = match duty.kind {
        DutyKind::Feed => Outcome::Took,
        DutyKind::MoultCheck => Outcome::Normal,
        _ => Outcome::Done,
    };
    let mut new = NewSignoff::plain(duty.id, outcome);
    if duty.kind == DutyKind::Rehouse {
        let when = When { at: house.app.now(), today: house.app.today(), zone: house.app.site().zone };
        new.checklist = store::checklist_of(&mut house.app.read().await.unwrap(), duty, when).await.unwrap();
        let enclosure = Enclosure { length_mm: 250, width_mm: Some(180), fall_gap_mm: Some(60) };
        new.detail = Detail::Rehouse { enclosure, shelf: None, position: None, despite: String::new(), assessed: None };
        new.second = Some(second);
    }
    if duty.kind == DutyKind::RoomReading {
        new.detail = Detail::Readings(vec![RackReading { rack: RackId(1), decicelsius: Some(240), humidity: Some(60) }]);
    }
    new
}

fn may(duty: &Duty, part: Part, who: &Somebody) -> bool {
    missing(duty.asked(), part, who.standing).is_none()
}

/// Whether it was done. Whatever is not a refusal of this house fails the test; nothing is kept.
fn done<T: std::fmt::Debug>(result: Result<T, AppError>) -> bool {
    match result {
        Ok(_) => true,
        Err(AppError::Forbidden(_) | AppError::Refused(_)) => false,
        Err(other) => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn signing_taking_giving_and_planning_follow_the_one_rule() {
    let (house, people, duties, zed) = stocked().await;
    let before = number(&house, "SELECT COUNT(*) FROM signoff").await;
    let today = house.app.today();
    let mut checked = 0;
    for who in &people {
        for duty in &duties {
            let what = format!("{} at {}", who.name, duty.name());
            let new = answer(&house, duty, zed).await;
            let mut write = house.app.write(Some(who.id)).await.unwrap();
            assert_eq!(done(store::sign_off(&mut write, &new).await), may(duty, Part::First, who), "{what}: signing");
            drop(write);
            let mut write = house.app.write(Some(zed)).await.unwrap();
            assert_eq!(done(store::assign(&mut write, duty.id, who.id).await), may(duty, Part::First, who), "{what}: giving");
            drop(write);
            if duty.kind == DutyKind::Rehouse {
                let span = Span { from: 13 * 60, to: 13 * 60 + 15 };
                let second = duty.takes_two().then_some(zed);
                let mut write = house.app.write(Some(zed)).await.unwrap();
                let plan = NewPlan { first: who.id, second, day: today, span };
                let planned = silkward::handling::store::plan_rehouse(&mut write, duty.id, &plan).await;
                assert_eq!(done(planned), may(duty, Part::First, who), "{what}: planning");
                drop(write);
                checked += second_of(&house, who, duty, zed, &what).await;
            }
            checked += 2;
        }
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, before);
    assert!(checked > 100, "{checked}");
}

/// The same person as the second: of a sign-off, and of a plan.
async fn second_of(house: &TestHouse, who: &Somebody, duty: &Duty, zed: MemberId, what: &str) -> usize {
    if !duty.takes_two() {
        return 0;
    }
    let new = NewSignoff { second: Some(who.id), ..answer(house, duty, zed).await };
    let mut write = house.app.write(Some(zed)).await.unwrap();
    assert_eq!(done(store::sign_off(&mut write, &new).await), may(duty, Part::Second, who), "{what}: second of a sign-off");
    drop(write);
    let mut write = house.app.write(Some(zed)).await.unwrap();
    let span = Span { from: 13 * 60, to: 13 * 60 + 15 };
    let plan = NewPlan { first: zed, second: Some(who.id), day: Moment::of(&write).today, span };
    let planned = silkward::handling::store::plan_rehouse(&mut write, duty.id, &plan).await;
    assert_eq!(done(planned), may(duty, Part::Second, who), "{what}: second of a plan");
    2
}

#[tokio::test]
async fn forged_requests_of_whoever_may_not_change_nothing() {
    let (house, people, duties, zed) = stocked().await;
    let mut lead = house.person("Lea", "lead").await;
    for who in people.iter().filter(|who| who.name != "Ivo") {
        let mut person = house.sign_in(who.id).await;
        for duty in duties.iter().filter(|duty| !may(duty, Part::First, who)) {
            let page = format!("/round/duties/{}", duty.id);
            let new = answer(&house, duty, zed).await;
            let forged = if duty.kind == DutyKind::Rehouse {
                let mut fields = vec![("length_mm", "250"), ("width_mm", "180"), ("fall_gap_mm", "60")];
                fields.extend(new.checklist.iter().map(|line| ("ticked", line.as_str())));
                person.submit_at("/account", &format!("{page}/hands-in"), &fields).await
            } else {
                person.submit_at("/account", &page, &[("outcome", new.outcome.code())]).await
            };
            assert!(matches!(forged.status.as_u16(), 403 | 422), "{} at {}: {}", who.name, duty.name(), forged.text());
            person.submit_at("/account", &format!("{page}/take"), &[]).await.is(403);
            let given = lead.submit_at("/today", &format!("/today/duties/{}/assign", duty.id), &[("member", &who.id.to_string())]).await;
            assert!(matches!(given.status.as_u16(), 403 | 422), "{} at {}: {}", who.name, duty.name(), given.text());
        }
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL OR second_to IS NOT NULL").await, 0);
}

#[tokio::test]
async fn sharing_out_gives_each_alone_exactly_what_they_may() {
    let (house, people, duties, _) = stocked().await;
    let today = house.app.today();
    let mut db = house.app.read().await.unwrap();
    for who in &people {
        let mut alone = store::share::at_work(&mut db, today).await.unwrap();
        alone.retain(|person| person.member == who.id);
        for person in &mut alone {
            (person.minutes, person.present) = (600, true);
        }
        let shared = store::share::plan(&mut db, today, &alone, false).await.unwrap();
        for duty in duties.iter().filter(|duty| duty.due_on <= today && duty.held.is_none()) {
            let given = shared.rota.assignments.iter().any(|given| given.duty == duty.id.to_string());
            assert_eq!(given, duty.persons == 1 && may(duty, Part::First, who), "{} at {}", who.name, duty.name());
        }
    }
}
