//! Who may be cleared by whom, for what, until when.

use silkward::handling::store;
use silkward::house::errors::AppError;

use super::stock::{RISKY, animal, assessor, clearance, duty, granted, house, level, plan, ready, refused, today};
use crate::support::{Person, TestHouse, number};

const GRANT: [(&str, &str); 3] = [("level", "2"), ("evidence", "rehoused three under supervision"), ("valid_until", "2027-04-15")];

fn grant_path(whom: &Person) -> String {
    format!("/handling/people/{}/grant", whom.id())
}

/// Sends the grant form with one field changed.
async fn send(who: &mut Person, whom: &Person, field: &str, value: &str) -> crate::support::Page {
    let fields: Vec<(&str, &str)> = GRANT.iter().map(|(name, usual)| (*name, if *name == field { value } else { *usual })).collect();
    who.submit_at("/handling", &grant_path(whom), &fields).await
}

#[tokio::test]
async fn the_first_one_is_assessed_outside_and_later_ones_by_them() {
    let house = house().await;
    let mut owner = house.person("Olga", "owner").await;
    let (me, path) = (owner.clone(), grant_path(&owner));
    let fields =
        [("level", "3"), ("evidence", "a day at their house"), ("valid_until", "2028-04-15"), ("outside_assessor", "R. Elm, Elmhouse")];
    let there = owner.submit(&path, &fields).await.sent_to();
    owner.get(&there).await.ok().says("Holds clearance 3 until 15 Apr 2028.").says("R. Elm, Elmhouse");
    // Somebody holds the level now, so nobody is assessed outside any more.
    let bo = ready(&house, "Bo").await;
    let again = owner.submit_at("/handling", &grant_path(&bo), &fields).await.is(422);
    assert!(again.says("Somebody in the house holds this level today").text().contains("Error: "));
    send(&mut owner, &bo, "", "").await.sent_to();
    assert_eq!((level(&house, bo.id()).await, level(&house, me.id()).await), (2, 3));
}

#[tokio::test]
async fn an_assessor_grants_no_more_than_they_hold() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let mut bo = ready(&house, "Bo").await;
    let cy = ready(&house, "Cyprian").await;
    send(&mut bo, &cy, "level", "1").await.is(422).says("You hold no clearance today");
    send(&mut olga, &bo, "", "").await.sent_to();
    send(&mut bo, &cy, "level", "3").await.is(422).says("You hold clearance 2 today");
    // A keeper who holds the level may assess; roles have nothing to do with it.
    send(&mut bo, &cy, "level", "2").await.sent_to();
    assert_eq!(level(&house, cy.id()).await, 2);
    // A lead without a clearance may not.
    let mut ada = house.person("Ada", "lead").await;
    send(&mut ada, &cy, "level", "1").await.is(422);
}

#[tokio::test]
async fn nobody_clears_themselves() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let me = olga.clone();
    olga.get(&grant_path(&me)).await.ok().says("Nobody assesses themselves");
    send(&mut olga, &me, "level", "1").await.is(403);
    let mut write = house.app.write(Some(me.id())).await.unwrap();
    let own = store::grant(&mut write, &clearance(me.id(), 1, "")).await;
    assert!(matches!(own, Err(AppError::Forbidden(_))), "{own:?}");
}

#[tokio::test]
async fn an_outside_assessment_is_an_owners_to_record() {
    let house = house().await;
    let mut ada = house.person("Ada", "lead").await;
    let bo = ready(&house, "Bo").await;
    let fields = [("level", "1"), ("evidence", "seen"), ("valid_until", "2027-04-15"), ("outside_assessor", "A friend")];
    ada.submit_at("/handling", &grant_path(&bo), &fields).await.is(403);
    let mut write = house.app.write(Some(ada.id())).await.unwrap();
    let forged = store::grant(&mut write, &clearance(bo.id(), 1, "A friend")).await;
    assert!(matches!(forged, Err(AppError::Forbidden(_))), "{forged:?}");
    drop(write);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM clearance").await, 0);
}

#[tokio::test]
async fn a_clearance_that_ran_out_counts_no_more_also_with_the_page_open() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    let cy = ready(&house, "Cyprian").await;
    send(&mut olga, &bo, "valid_until", "2026-04-15").await.sent_to();
    house.set_clock("2026-04-15T23:55:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    assert_eq!(level(&house, bo.id()).await, 2);
    let (csrf, once) = bo.get(&grant_path(&cy)).await.ok().says("You hold clearance 2 today").tokens();
    house.set_clock("2026-04-16T00:05:00Z");
    assert_eq!((level(&house, bo.id()).await, level(&house, olga.id()).await), (0, 3));
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("level", "1"), ("evidence", "seen"), ("valid_until", "2027-03-01")];
    bo.post_raw(&grant_path(&cy), &fields).await.is(422).says("You hold no clearance today");
    bo.get(&format!("/handling/people/{}", bo.id())).await.ok().says("ran out").says("Holds no clearance today.");
}

#[tokio::test]
async fn every_mistake_is_named_and_nothing_typed_is_lost() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    let again = send(&mut olga, &bo, "level", "4").await.is(422);
    assert_eq!(again.value("#level"), "4");
    assert!(again.text().contains("rehoused three under supervision"));
    let long = "x".repeat(601);
    for (field, value) in [
        ("level", ""),
        ("level", "0"),
        ("evidence", "  "),
        ("evidence", long.as_str()),
        ("evidence", "hid\u{7}den"),
        ("valid_until", "2026-04-14"),
        ("valid_until", "2028-04-16"),
        ("valid_until", "9999-99-99"),
        ("valid_until", "tomorrow"),
    ] {
        let again = send(&mut olga, &bo, field, value).await.is(422);
        assert!(again.text().contains(&format!("{field}-error")), "{field} = {value}");
    }
    olga.get("/handling/people/999/grant").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM clearance").await, 1);
}

#[tokio::test]
async fn a_double_click_grants_once() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    let (csrf, once) = olga.get(&grant_path(&bo)).await.ok().tokens();
    let mut fields = vec![("csrf", csrf.as_str()), ("once", once.as_str())];
    fields.extend(GRANT);
    let first = olga.post_raw(&grant_path(&bo), &fields).await.sent_to();
    assert_eq!(olga.post_raw(&grant_path(&bo), &fields).await.sent_to(), first);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM clearance").await, 2);
}

#[tokio::test]
async fn a_withdrawal_takes_effect_at_once_and_frees_duties() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    granted(&house, olga.id(), &clearance(bo.id(), 3, "")).await;
    let id = animal(&house, RISKY).await;
    plan(&house).await;
    let rehouse = duty(&house, id, "rehouse").await;
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ?")
        .bind(bo.id())
        .bind(today())
        .bind(rehouse)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    olga.get(&format!("/handling/people/{}", bo.id())).await.ok().says("Withdraw it");
    olga.submit("/handling/clearances/2/withdraw", &[("why", "")]).await.is(422);
    olga.submit("/handling/clearances/2/withdraw", &[("why", "worked alone")]).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await, 0);
    olga.get(&format!("/handling/people/{}", bo.id())).await.ok().says("withdrawn").says("Holds no clearance today.");
    olga.submit_at("/handling", "/handling/clearances/2/withdraw", &[("why", "again")]).await.is(409);
    olga.get("/handling/clearances/99/withdraw").await.is(404);
}

#[tokio::test]
async fn the_database_keeps_clearances_as_they_were_granted() {
    let house = house().await;
    let olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    granted(&house, olga.id(), &clearance(bo.id(), 1, "")).await;
    refused(&house, "UPDATE clearance SET level = 3 WHERE id = 2").await;
    refused(&house, "UPDATE clearance SET valid_until = '2028-01-01' WHERE id = 2").await;
    refused(&house, "UPDATE clearance SET member_id = 2 WHERE id = 1").await;
    refused(&house, "DELETE FROM clearance").await;
    let forged = "INSERT INTO clearance (member_id, level, granted_by, evidence, valid_from, valid_until, granted_at)
                  VALUES (1, 3, 2, 'none', '2026-04-15', '2027-04-15', '2026-04-15T12:00:00+00:00')";
    assert!(refused(&house, forged).await.contains("does not hold this level"));
    let ten_years = "INSERT INTO clearance (member_id, level, granted_by, evidence, valid_from, valid_until, granted_at)
                     VALUES (2, 3, 1, 'seen', '2026-04-15', '2036-04-15', '2026-04-15T12:00:00+00:00')";
    assert!(refused(&house, ten_years).await.contains("two_years"));
    let replaced = "INSERT OR REPLACE INTO clearance (id, member_id, level, granted_by, evidence, valid_from, valid_until, granted_at)
                    VALUES (2, 2, 3, 2, 'none', '2026-04-15', '2027-04-15', '2026-04-15T12:00:00+00:00')";
    refused(&house, replaced).await;
}

#[tokio::test]
async fn nobody_is_given_or_signs_what_they_are_not_cleared_for() {
    let house = house().await;
    let olga = assessor(&house).await;
    let bo = ready(&house, "Bo").await;
    granted(&house, olga.id(), &clearance(bo.id(), 2, "")).await;
    let id = animal(&house, RISKY).await;
    plan(&house).await;
    let rehouse = duty(&house, id, "rehouse").await;
    let given = sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ?")
        .bind(bo.id())
        .bind(today())
        .bind(rehouse)
        .execute(&house.app.database.writer)
        .await;
    assert!(given.unwrap_err().to_string().contains("not cleared"));
    assert!(sign(&house, rehouse.0, bo.id().0).await.unwrap_err().to_string().contains("not cleared"));
}

/// Signs a duty by straight SQL, as a forged request would wish to.
async fn sign(house: &TestHouse, duty: i64, member: i64) -> Result<(), sqlx::Error> {
    sqlx::query("INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons) VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', 'done', 0, 1)")
        .bind(duty)
        .bind(member)
        .execute(&house.app.database.writer)
        .await
        .map(|_| ())
}

#[tokio::test]
async fn a_counter_grants_nothing_and_a_keeper_withdraws_nothing() {
    let house = house().await;
    assessor(&house).await;
    let mut counter = house.person("Di", "counter").await;
    let mut keeper = ready(&house, "Bo").await;
    let whom = keeper.clone();
    counter.get(&grant_path(&whom)).await.is(403);
    send(&mut counter, &whom, "", "").await.is(403);
    keeper.get("/handling/clearances/1/withdraw").await.is(403);
    keeper.submit_at("/handling", "/handling/clearances/1/withdraw", &[("why", "because")]).await.is(403);
    keeper.get("/handling/people/1").await.ok().lacks("Withdraw it");
    house.visitor().get("/handling").await.is(303);
}
