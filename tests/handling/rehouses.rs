//! The board of rehouses: who could do each and when, and reserving two people and a time.

use silkward::handling::model::{HoldSubject, PlanEnd};
use silkward::handling::store;
use silkward::house::audit::Change;
use silkward::house::ids::{DutyId, MemberId};

use super::stock::{CALM, RISKY, animal, duty, house, plan, refused};
use crate::rounds::stock::clear;
use crate::support::{Page, Person, TestHouse, number};

/// A house with a lead, a first (3), a second (2), and one dangerous animal to rehouse. It is noon on 15 April 2026, UTC, and
/// people are in from 08:00 to 17:00.
async fn risky() -> (TestHouse, Person, MemberId, MemberId, DutyId) {
    let house = house().await;
    let lead = house.person("Ada", "lead").await;
    let bo = house.person("Bo", "keeper").await.id();
    let cy = house.person("Cyprian", "keeper").await.id();
    clear(&house, bo, 3, "2026-04-20").await;
    clear(&house, cy, 2, "2027-04-15").await;
    let risky = animal(&house, RISKY).await;
    plan(&house).await;
    let rehouse = duty(&house, risky, "rehouse").await;
    (house, lead, bo, cy, rehouse)
}

async fn ask(lead: &mut Person, duty: DutyId, people: (MemberId, &str), (day, starts, minutes): (&str, &str, &str)) -> Page {
    let (path, first) = (format!("/handling/board/{duty}/plan"), people.0.to_string());
    let fields = [("first", first.as_str()), ("second", people.1), ("day", day), ("starts", starts), ("minutes", minutes)];
    lead.submit_at("/handling/board", &path, &fields).await
}

async fn away(house: &TestHouse, who: MemberId, first: &str, last: &str) {
    sqlx::query(
        "INSERT INTO absence (member_id, first_day, last_day, kind, entered_at) VALUES (?, ?, ?, 'leave', '2026-04-15T09:00:00+00:00')",
    )
    .bind(who)
    .bind(first)
    .bind(last)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
}

async fn ends(house: &TestHouse) -> Vec<Option<PlanEnd>> {
    sqlx::query_scalar("SELECT ended FROM rehouse_plan ORDER BY id").fetch_all(&house.app.database.writer).await.unwrap()
}

async fn hands(house: &TestHouse, duty: DutyId) -> (Option<MemberId>, Option<MemberId>) {
    sqlx::query_as("SELECT assigned_to, second_to FROM duty WHERE id = ?").bind(duty).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn the_board_says_who_could_be_first_and_second_and_when_both_are_in() {
    let (house, mut lead, ..) = risky().await;
    away(&house, MemberId(3), "2026-04-16", "2026-04-17").await;
    let page = lead.get("/handling/board").await.ok();
    let page = page.says("Could be first Bo").says("Could be second Bo, Cyprian").says("span 60 mm, box 120 mm long");
    let page = page.says("today, 15 Apr 2026: Bo with Cyprian, 12:00–17:00").says("in 3 days, 18 Apr 2026: Bo with Cyprian, 08:00–17:00");
    // On leave on the 16th and 17th; and on the 21st Bo is no longer cleared.
    page.lacks("16 Apr 2026: Bo").lacks("17 Apr 2026: Bo").lacks("21 Apr 2026: Bo").says("Medically significant venom").says("Plan it");
    let mut counter = house.person("Di", "counter").await;
    counter.get("/handling/board").await.ok().says("Could be first Bo").lacks("Plan it");
    counter.get("/handling/board/1/plan").await.is(403);
}

#[tokio::test]
async fn what_nobody_can_do_says_why() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let risky = animal(&house, RISKY).await;
    plan(&house).await;
    lead.get("/handling/board")
        .await
        .ok()
        .says("Nobody is cleared for it today: it needs clearance 3. Nobody who looks after animals holds a clearance");
    let bo = house.person("Bo", "keeper").await.id();
    clear(&house, bo, 2, "2027-01-01").await;
    lead.get("/handling/board").await.ok().says("it needs clearance 3. Bo holds clearance 2.");
    clear(&house, bo, 3, "2027-01-01").await;
    lead.get("/handling/board").await.ok().says("Only Bo could be first today, and nobody else could be second: that takes clearance 2.");
    let cy = house.person("Cyprian", "keeper").await.id();
    clear(&house, cy, 2, "2027-01-01").await;
    away(&house, cy, "2026-04-10", "2026-05-10").await;
    lead.get("/handling/board")
        .await
        .ok()
        .says("Bo, Cyprian are not in together and free for")
        .says("Cyprian is on leave until 10 May today.");
    sqlx::query("UPDATE absence SET cancelled_at = '2026-04-15T10:00:00+00:00'").execute(&house.app.database.writer).await.unwrap();
    let mut write = house.app.write(None).await.unwrap();
    let hold = silkward::handling::model::NewHold {
        subject: HoldSubject::Animal(risky),
        kind: silkward::reckoning::words::HoldKind::Quarantine,
        blocks: silkward::reckoning::words::Exposure::HandsIn,
        until_at: Some("2026-06-01T00:00:00Z".parse().unwrap()),
        reason: "new arrival".to_owned(),
        signoff: None,
    };
    store::add_hold(&mut write, &hold).await.unwrap();
    write.commit(Change::new("hold.added", "animal 1", ""), "/").await.unwrap();
    plan(&house).await;
    lead.get("/handling/board").await.ok().says("It is held beyond the next 7 days.").says("quarantine until 1 Jun 2026");
}

#[tokio::test]
async fn planning_reserves_two_people_and_a_time() {
    let (house, mut lead, bo, cy, rehouse) = risky().await;
    let path = format!("/handling/board/{rehouse}/plan");
    let offered = lead.get(&path).await.ok().says("Bo with Cyprian, 12:00–17:00");
    assert_eq!((offered.value("#day").as_str(), offered.value("#starts").as_str()), ("2026-04-15", "12:00"));
    ask(&mut lead, rehouse, (bo, &cy.to_string()), ("2026-04-16", "10:00", "30")).await.sent_to();
    assert_eq!(hands(&house, rehouse).await, (Some(bo), Some(cy)));
    lead.get("/handling/board").await.ok().says("Planned: Bo with Cyprian, 16 Apr 2026, 10:00–10:30").says("by Ada.");
    let mut db = house.app.read().await.unwrap();
    let day = "2026-04-16".parse().unwrap();
    assert_eq!(store::planned_on(&mut db, day).await.unwrap().len(), 1);
    assert_eq!(store::planned_for(&mut db, cy, house.app.today()).await.unwrap()[0].words(), "Bo with Cyprian, 16 Apr 2026, 10:00–10:30");
    assert_eq!(store::planned_for(&mut db, cy, "2026-04-17".parse().unwrap()).await.unwrap().len(), 0);
    drop(db);
    ask(&mut lead, rehouse, (bo, &cy.to_string()), ("2026-04-17", "10:00", "30")).await.is(409).says("planned already");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'rehouse.planned'").await, 1);
    // An absence that comes between is said on the board.
    away(&house, cy, "2026-04-16", "2026-04-16").await;
    lead.get("/handling/board").await.ok().says("Cyprian is not in on 16 Apr 2026: on leave.");
    // After its day it says so, and can be planned anew.
    house.set_clock("2026-04-17T08:00:00Z");
    let mut lead = house.sign_in(lead.id()).await;
    lead.get("/handling/board").await.ok().says("The planned day is over.");
    ask(&mut lead, rehouse, (bo, &cy.to_string()), ("2026-04-17", "10:00", "30")).await.sent_to();
    assert_eq!(ends(&house).await, [Some(PlanEnd::Passed), None]);
}

#[tokio::test]
async fn a_plan_is_refused_with_words_and_nothing_typed_is_lost() {
    let (house, mut lead, bo, cy, rehouse) = risky().await;
    let second = cy.to_string();
    let with = (bo, second.as_str());
    let again = ask(&mut lead, rehouse, with, ("2026-04-21", "10:00", "30")).await.is(422);
    let again = again.says("On 21 Apr 2026 this takes clearance 3, and the clearance of Bo ran out on 20 Apr 2026.");
    assert_eq!((again.value("#day").as_str(), again.value("#minutes").as_str()), ("2026-04-21", "30"));
    ask(&mut lead, rehouse, (cy, &bo.to_string()), ("2026-04-16", "10:00", "30")).await.is(422).says("Cyprian holds clearance 2");
    ask(&mut lead, rehouse, (bo, &bo.to_string()), ("2026-04-16", "10:00", "30")).await.is(422).says("somebody else than the first");
    ask(&mut lead, rehouse, (bo, ""), ("2026-04-16", "10:00", "30")).await.is(422).says("This takes two people.");
    ask(&mut lead, rehouse, with, ("2026-04-15", "11:59", "30")).await.is(422).says("This time has passed.");
    ask(&mut lead, rehouse, with, ("2026-04-14", "10:00", "30")).await.is(422).text();
    ask(&mut lead, rehouse, with, ("2026-04-16", "16:45", "30"))
        .await
        .is(422)
        .says("Bo is in from 08:00 to 17:00")
        .says("Cyprian is in from");
    ask(&mut lead, rehouse, with, ("2026-04-16", "25:00", "0")).await.is(422).says("such as 10:30").says("from 5 to 480");
    away(&house, cy, "2026-04-16", "2026-04-16").await;
    let both = ask(&mut lead, rehouse, with, ("2026-04-16", "07:00", "30")).await.is(422);
    both.says("Bo is in from 08:00 to 17:00 on 16 Apr 2026.").says("Cyprian is not in on 16 Apr 2026: on leave.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM rehouse_plan").await, 0);
    ask(&mut lead, DutyId(999), with, ("2026-04-16", "10:00", "30")).await.is(404);
}

#[tokio::test]
async fn nobody_is_reserved_twice_at_overlapping_times_nor_while_it_is_held() {
    let (house, mut lead, bo, cy, rehouse) = risky().await;
    let calm = animal(&house, CALM).await;
    plan(&house).await;
    let other = duty(&house, calm, "rehouse").await;
    ask(&mut lead, rehouse, (bo, &cy.to_string()), ("2026-04-16", "10:00", "30")).await.sent_to();
    let again = ask(&mut lead, other, (cy, ""), ("2026-04-16", "10:29", "15")).await.is(422);
    again.says("Cyprian is reserved for the rehouse of T-1 from 10:00–10:30.");
    let twice = "INSERT INTO rehouse_plan (duty_id, first_id, day, starts, minutes, made_by, made_at)
                 SELECT id, 3, '2026-04-16', 629, 15, 1, '2026-04-15T12:00:00+00:00' FROM duty WHERE kind = 'rehouse' AND animal_id = 2";
    assert!(refused(&house, twice).await.contains("reserved for another rehouse"));
    ask(&mut lead, other, (cy, ""), ("2026-04-16", "10:30", "15")).await.sent_to();
    lead.submit_at("/handling/board", &format!("/handling/board/{other}/cancel"), &[("why", "")]).await.is(422);
    lead.submit_at("/handling/board", &format!("/handling/board/{other}/cancel"), &[("why", "Cyprian is ill")]).await.sent_to();
    assert_eq!(hands(&house, other).await, (None, None));
    lead.submit(&format!("/handling/holds/new?animal={calm}"), &[("kind", "agitated"), ("reason", "reared up")]).await.sent_to();
    let held = ask(&mut lead, other, (cy, ""), ("2026-04-16", "14:00", "15")).await.is(422);
    held.says("T-2 is held until 18 Apr 2026, 12:00: agitated (reared up)");
    ask(&mut lead, other, (cy, ""), ("2026-04-18", "12:00", "15")).await.sent_to();
}

#[tokio::test]
async fn a_plan_lapses_with_a_clearance_a_duty_or_its_people_and_says_so() {
    let (house, mut lead, bo, cy, rehouse) = risky().await;
    let second = cy.to_string();
    let time = ("2026-04-16", "10:00", "30");
    ask(&mut lead, rehouse, (bo, &second), time).await.sent_to();
    lead.submit("/handling/clearances/2/withdraw", &[("why", "worked alone")]).await.sent_to();
    assert_eq!(ends(&house).await, [Some(PlanEnd::Clearance)], "the second's clearance went");
    lead.get("/handling/board").await.ok().says("Plans that lapsed").says("one of the two is no longer cleared for it");
    clear(&house, cy, 2, "2027-01-01").await;
    ask(&mut lead, rehouse, (bo, &second), time).await.sent_to();
    let mut bo_there = house.sign_in(bo).await;
    bo_there.submit("/handling/incidents/new", &[("kind", "near-miss")]).await.sent_to();
    assert_eq!(ends(&house).await[1], Some(PlanEnd::Clearance), "the first's clearances rest");
    lead.submit_at("/handling/incidents/1", "/handling/incidents/1/review", &[("review", "longer forceps from now on")]).await.sent_to();
    ask(&mut lead, rehouse, (bo, &second), time).await.sent_to();
    sqlx::query("UPDATE member SET disabled_at = '2026-04-15T12:00:00+00:00' WHERE id = ?")
        .bind(cy)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(ends(&house).await[2], Some(PlanEnd::Clearance), "the second has left");
    sqlx::query("UPDATE member SET disabled_at = NULL").execute(&house.app.database.writer).await.unwrap();
    ask(&mut lead, rehouse, (bo, &second), time).await.sent_to();
    // Moulting bars a rehouse, so it is no longer due.
    sqlx::query("UPDATE duty SET state = 'dropped' WHERE id = ?").bind(rehouse).execute(&house.app.database.writer).await.unwrap();
    assert_eq!(ends(&house).await[3], Some(PlanEnd::NoLongerDue));
    refused(&house, "UPDATE rehouse_plan SET ended = 'done' WHERE id = 1").await;
    refused(&house, "UPDATE rehouse_plan SET first_id = 1 WHERE id = 1").await;
    refused(&house, "DELETE FROM rehouse_plan").await;
}

#[tokio::test]
async fn a_planned_rehouse_stays_with_its_people() {
    let (house, mut lead, bo, cy, rehouse) = risky().await;
    let eve = house.person("Eve", "keeper").await.id();
    clear(&house, eve, 3, "2027-01-01").await;
    ask(&mut lead, rehouse, (bo, &cy.to_string()), ("2026-04-16", "10:00", "30")).await.sent_to();
    let to = [("member", eve.to_string())];
    let to: Vec<(&str, &str)> = to.iter().map(|(name, value)| (*name, value.as_str())).collect();
    lead.submit_at("/today", &format!("/today/duties/{rehouse}/assign"), &to)
        .await
        .is(409)
        .says("Cancel the plan on the rehouse board first.");
    lead.submit_at("/today", &format!("/today/duties/{rehouse}/unassign"), &[]).await.is(409);
    let mut all = to.clone();
    all.push(("from_others", "yes"));
    lead.submit_at("/today", "/today/racks/1/assign", &all).await.sent_to();
    assert_eq!(hands(&house, rehouse).await, (Some(bo), Some(cy)));
    // By whatever way it changes hands all the same, the plan does not stand on.
    sqlx::query("UPDATE duty SET assigned_to = ? WHERE id = ?").bind(eve).bind(rehouse).execute(&house.app.database.writer).await.unwrap();
    assert_eq!(ends(&house).await, [Some(PlanEnd::GivenAway)]);
}
