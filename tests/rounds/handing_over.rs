//! Somebody calls in sick: one action passes their duties on, and nobody else's.

use std::collections::BTreeMap;

use super::stock::{CALM, RISKY, animal, clear, house, plan};
use crate::support::{Page, Person, TestHouse, number};

/// Three keepers cleared for everything among whom a day is shared out, and the lead, who is not in.
async fn shared_day() -> (TestHouse, Person, [Person; 3]) {
    let house = house().await;
    for shelf in [1, 1, 1, 2, 2, 2, 3, 3, 3] {
        animal(&house, CALM, shelf).await;
    }
    animal(&house, RISKY, 2).await;
    plan(&house).await;
    let mut lead = house.person("Ada", "lead").await;
    let people = [house.keeper("Bo", 3).await, house.keeper("Cyprian", 3).await, house.keeper("Di", 3).await];
    let me = lead.id().to_string();
    lead.submit_at("/today", &format!("/today/people/{me}/not-in"), &[]).await.sent_to();
    share_out(&mut lead).await;
    (house, lead, people)
}

/// Shares out as the page proposes it.
async fn share_out(lead: &mut Person) {
    let form = lead.get("/today/share").await.ok();
    let of = |name: &str| super::stock::hidden(&form.text(), &format!("input[name={name}]"));
    let ticked = super::stock::hidden(&form.text(), "input[name=present][checked]");
    let mut fields: Vec<(&str, String)> = Vec::new();
    for (member, minutes) in of("member").into_iter().zip(of("minutes")) {
        fields.extend([("member", member), ("minutes", minutes)]);
    }
    fields.extend(ticked.into_iter().map(|member| ("present", member)));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).chain([("keep", "yes")]).collect();
    lead.submit_at("/today/share", "/today/share", &fields).await.sent_to();
}

async fn whose(house: &TestHouse) -> BTreeMap<i64, Option<i64>> {
    let rows: Vec<(i64, Option<i64>)> = sqlx::query_as("SELECT id, assigned_to FROM duty WHERE state = 'open' ORDER BY id")
        .fetch_all(&house.app.database.writer)
        .await
        .unwrap();
    rows.into_iter().collect()
}

async fn not_in(lead: &mut Person, person: &Person) -> Page {
    lead.submit_at("/today", &format!("/today/people/{}/not-in", person.id()), &[]).await
}

#[tokio::test]
async fn one_action_passes_on_their_duties_and_only_theirs() {
    let (house, mut lead, [bo, cy, di]) = shared_day().await;
    let before = whose(&house).await;
    let theirs = before.values().filter(|who| **who == Some(cy.id().0)).count();
    assert!(theirs >= 3, "{before:?}");
    let audit = number(&house, "SELECT COUNT(*) FROM audit").await;
    let there = not_in(&mut lead, &cy).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, audit + 1);
    let after = whose(&house).await;
    for (duty, had) in &before {
        if *had == Some(cy.id().0) {
            let (bo, di) = (bo.id().0, di.id().0);
            assert!(after[duty].is_some_and(|now| now == bo || now == di), "duty {duty} has {:?}", after[duty]);
        } else {
            assert_eq!(after[duty], *had, "duty {duty} was not Cyprian's");
        }
    }
    let shown = lead.get(&there).await.ok().says("Cyprian is not in today").says("In the book: ill.");
    shown.says(&format!("{theirs} duties passed on: Bo ")).says("To Bo (").says("To Di (");
    lead.get(&there).await.ok().says("To Di (").lacks("Nobody could take");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE kind = 'ill' AND first_day = last_day").await, 2);
    let loads: Vec<i64> =
        sqlx::query_scalar("SELECT SUM(seconds) / 60 FROM duty WHERE state = 'open' AND assigned_to IS NOT NULL GROUP BY assigned_to")
            .fetch_all(&house.app.database.writer)
            .await
            .unwrap();
    assert!(loads.len() == 2 && (loads[0] - loads[1]).abs() <= 4, "{loads:?}");
}

#[tokio::test]
async fn in_after_all_cancels_the_absence_and_tears_nothing_back() {
    let (house, mut lead, [_, cy, _]) = shared_day().await;
    not_in(&mut lead, &cy).await.sent_to();
    let after = whose(&house).await;
    let (page, back) = (format!("/today/people/{}/not-in", cy.id()), format!("/today/people/{}/in", cy.id()));
    assert_eq!(lead.submit_at(&page, &back, &[]).await.sent_to(), "/today");
    lead.get("/today").await.ok().says("Cyprian is in today after all.");
    assert_eq!(whose(&house).await, after);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE cancelled_at IS NOT NULL").await, 1);
    lead.submit_at("/today", &back, &[]).await.is(409).says("Cyprian is in today already.");
    lead.get(&page).await.ok().says("Cyprian is in today").says("duties passed on");
    lead.submit_at("/staff/rota", &back, &[("back", "https://elsewhere.example/")]).await.is(409);
}

#[tokio::test]
async fn what_nobody_can_take_is_named_with_the_exact_reason() {
    let (house, mut lead, [bo, cy, di]) = shared_day().await;
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = '2026-04-15' WHERE clearance >= 2")
        .bind(cy.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("UPDATE clearance SET withdrawn_at = '2026-04-15T10:00:00+00:00', withdrawn_by = 1 WHERE member_id IN (?, ?)")
        .bind(bo.id())
        .bind(di.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    clear(&house, bo.id(), 1, "2027-12-31").await;
    let there = not_in(&mut lead, &cy).await.sent_to();
    lead.get(&there).await.ok().says("Nobody could take these (").says("needs clearance 2: nobody who holds it is in today (Cyprian: ill)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND clearance >= 2 AND assigned_to IS NOT NULL").await, 0);
    lead.get("/today").await.ok().says("nobody who holds it is in today (Cyprian: ill)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty_passed_on WHERE to_member IS NULL AND why = ''").await, 0);
}

#[tokio::test]
async fn full_days_keep_what_they_have_and_the_rest_is_said_to_be_too_much() {
    let (house, mut lead, [bo, cy, di]) = shared_day().await;
    for (person, minutes) in [(&bo, 1), (&di, 1)] {
        sqlx::query("INSERT INTO at_work (day, member_id, present, minutes) VALUES ('2026-04-15', ?, 1, ?)")
            .bind(person.id())
            .bind(minutes)
            .execute(&house.app.database.writer)
            .await
            .unwrap();
    }
    let before = whose(&house).await;
    let there = not_in(&mut lead, &cy).await.sent_to();
    let after = whose(&house).await;
    for (duty, had) in &before {
        let wanted = had.filter(|who| *who != cy.id().0);
        assert_eq!(after[duty], wanted, "duty {duty}");
    }
    lead.get(&there).await.ok().says("None of their duties could be passed on.").says("everybody who may do it and is in is full: Bo ");
}

#[tokio::test]
async fn what_nobody_had_stays_with_nobody_and_duties_of_two_keep_the_other_person() {
    let (house, mut lead, [bo, cy, di]) = shared_day().await;
    let writer = &house.app.database.writer;
    sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = 1").execute(writer).await.unwrap();
    let risky = "UPDATE duty SET clearance = 3, persons = 2, assigned_to = ?, assigned_on = '2026-04-15' WHERE id = ?";
    for (duty, first, second) in [(2, &cy, &bo), (3, &bo, &cy), (4, &bo, &di)] {
        sqlx::query(risky).bind(first.id()).bind(duty).execute(writer).await.unwrap();
        sqlx::query("UPDATE duty SET second_to = ? WHERE id = ?").bind(second.id()).bind(duty).execute(writer).await.unwrap();
    }
    not_in(&mut lead, &cy).await.sent_to();
    assert_eq!(whose(&house).await[&1], None);
    let hands: Vec<(i64, i64)> =
        sqlx::query_as("SELECT assigned_to, second_to FROM duty WHERE id IN (2, 3, 4) ORDER BY id").fetch_all(writer).await.unwrap();
    let (bo, di) = (bo.id().0, di.id().0);
    for (first, second) in &hands[..2] {
        assert!((*first == bo && *second == di) || (*first == di && *second == bo), "{hands:?}");
    }
    assert_eq!(hands[2], (bo, di));
}

#[tokio::test]
async fn somebody_away_by_the_rota_only_passes_their_duties_on() {
    let (house, mut lead, [_, cy, _]) = shared_day().await;
    let hours = format!("/staff/members/{}/absences", cy.id());
    let leave = [("first_day", "2026-04-15"), ("last_day", "2026-04-20"), ("kind", "leave")];
    lead.submit_at("/today", &hours, &leave).await.sent_to();
    lead.get("/today").await.ok().says("on leave until 20 April").says("Pass on their duties");
    let there = not_in(&mut lead, &cy).await.sent_to();
    lead.get(&there).await.ok().says("on leave until 20 April").says("duties passed on");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE member_id = 3").await, 1);
    not_in(&mut lead, &cy).await.is(409).says("Cyprian is not in today already");
    lead.submit_at("/today", &format!("/today/people/{}/in", cy.id()), &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE member_id = 3 AND cancelled_at IS NULL").await, 1, "the leave goes on");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work WHERE member_id = 3 AND present").await, 1);
    not_in(&mut lead, &cy).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work WHERE member_id = 3").await, 0);
    lead.get("/today").await.ok().says("on leave until 20 April");
}

#[tokio::test]
async fn only_leads_hand_over_and_nonsense_is_refused() {
    let (house, mut lead, [mut bo, cy, _]) = shared_day().await;
    not_in(&mut lead, &cy).await.sent_to();
    let back = format!("/today/people/{}/in", cy.id());
    bo.submit_at("/round", &back, &[]).await.is(403);
    bo.submit_at("/round", &format!("/today/people/{}/not-in", bo.id()), &[]).await.is(403);
    lead.submit_at("/today", "/today/people/77/not-in", &[]).await.is(404);
    let counter = house.person("Ed", "counter").await;
    not_in(&mut lead, &counter).await.is(404);
    lead.submit_at("/today", &format!("/today/people/{}/not-in", bo.id()), &[("kind", "bored")]).await.is(422);
    lead.submit_at("/today", &format!("/today/people/{}/not-in", bo.id()), &[("kind", "training")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE kind = 'training'").await, 1);
}

#[tokio::test]
async fn what_was_passed_on_is_never_changed() {
    let (house, mut lead, [_, cy, _]) = shared_day().await;
    not_in(&mut lead, &cy).await.sent_to();
    for statement in ["UPDATE duty_passed_on SET why = 'x'", "DELETE FROM duty_passed_on"] {
        assert!(sqlx::query(statement).execute(&house.app.database.writer).await.is_err(), "{statement}");
    }
}

#[tokio::test]
async fn sharing_out_again_moves_nothing_and_one_more_duty_moves_one() {
    let (house, mut lead, _) = shared_day().await;
    let before = whose(&house).await;
    share_out(&mut lead).await;
    assert_eq!(whose(&house).await, before);
    lead.get("/today").await.ok().says("Nothing changes hands.");
    sqlx::query("INSERT INTO duty (kind, animal_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at) VALUES ('cohort-count', 1, '2026-04-15', '2026-04-16', 60, 'look', 0, 0, 1, 'dry', '2026-04-15T10:00:00+00:00')")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let plan = |keep: bool| {
        let app = house.app.clone();
        async move {
            let mut db = app.read().await.unwrap();
            let today = app.today();
            let people = silkward::rounds::store::share::at_work(&mut db, today).await.unwrap();
            silkward::rounds::store::share::plan(&mut db, today, &people, keep).await.unwrap()
        }
    };
    // Whether people keep what they have, or only as little as can be moves: the new one is given, nothing else.
    for keep in [true, false] {
        let changes = plan(keep).await.changes();
        assert_eq!((changes.given, changes.moved, changes.freed), (1, 0, 0), "keep: {keep}");
    }
    share_out(&mut lead).await;
    let after = whose(&house).await;
    assert_eq!(after.iter().filter(|(duty, who)| before.get(duty) != Some(who)).count(), 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work").await, 0, "nothing was said that the rota does not have");
}
