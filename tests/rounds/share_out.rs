//! Sharing the whole day out.

use super::stock::{CALM, RISKY, animal, clear, house, plan};
use crate::support::{Person, TestHouse, number};

async fn planned_house() -> (TestHouse, Person) {
    let house = house().await;
    for shelf in [1, 1, 2, 3] {
        animal(&house, CALM, shelf).await;
    }
    animal(&house, RISKY, 2).await;
    plan(&house).await;
    let lead = house.person("Ada", "lead").await;
    (house, lead)
}

fn fields(people: &[(&Person, &str, bool)]) -> Vec<(&'static str, String)> {
    let mut fields = Vec::new();
    for (person, minutes, present) in people {
        fields.push(("member", person.id().to_string()));
        fields.push(("minutes", (*minutes).to_owned()));
        if *present {
            fields.push(("present", person.id().to_string()));
        }
    }
    fields
}

async fn share(lead: &mut Person, people: &[(&Person, &str, bool)], more: &[(&str, &str)]) -> crate::support::Page {
    let own = fields(people);
    let mut all: Vec<(&str, &str)> = own.iter().map(|(name, value)| (*name, value.as_str())).collect();
    all.extend_from_slice(more);
    lead.submit_at("/today/share", "/today/share", &all).await
}

/// A sum over somebody's open duties.
async fn has(house: &TestHouse, person: &Person, sum: &str) -> i64 {
    let statement = format!("SELECT {sum} FROM duty WHERE state = 'open' AND assigned_to = ?");
    let of = sqlx::query_scalar(sqlx::AssertSqlSafe(statement)).bind(person.id());
    of.fetch_one(&house.app.database.writer).await.unwrap()
}

async fn above_clearance(house: &TestHouse) -> i64 {
    number(
        house,
        "SELECT COUNT(*) FROM duty WHERE state = 'open' AND assigned_to IS NOT NULL AND clearance > COALESCE(
             (SELECT MAX(level) FROM clearance_standing AS c WHERE c.member_id = duty.assigned_to), 0)",
    )
    .await
}

#[tokio::test]
async fn everything_goes_to_somebody_who_may_and_nobody_is_much_fuller() {
    let (house, mut lead) = planned_house().await;
    let bo = house.keeper("Bo", 1).await;
    let cy = house.keeper("Cyprian", 3).await;
    clear(&house, lead.id(), 2, "2027-12-31").await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    lead.get("/today/share").await.ok().says("Who is in today").says("Cyprian (clearance 3)");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before, "looking changes nothing");
    let me = lead.clone();
    share(&mut lead, &[(&me, "0", false), (&bo, "240", true), (&cy, "240", true)], &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND held IS NULL AND assigned_to IS NULL").await, 0);
    assert_eq!(above_clearance(&house).await, 0);
    let (bo_has, cy_has) = (has(&house, &bo, "SUM(seconds) / 60").await, has(&house, &cy, "SUM(seconds) / 60").await);
    assert!((bo_has - cy_has).abs() <= 4, "{bo_has} and {cy_has} minutes");
    lead.get("/today").await.ok().says("The fullest day is");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work WHERE present").await, 0, "the rota has them in");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work WHERE NOT present").await, 1, "of the lead it has something else");
}

#[tokio::test]
async fn what_nobody_can_do_is_named_with_the_reason() {
    let (house, mut lead) = planned_house().await;
    let bo = house.keeper("Bo", 1).await;
    let id = bo.id();
    let shown = lead.get(&format!("/today/share?member={id}&minutes=240&present={id}")).await.ok();
    shown.says("With nobody").says("clearance 2");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await, 0, "a proposal changes nothing");
}

#[tokio::test]
async fn when_somebody_is_ill_only_their_duties_move() {
    let (house, mut lead) = planned_house().await;
    let (bo, cy, di) = (house.keeper("Bo", 3).await, house.keeper("Cyprian", 3).await, house.keeper("Di", 3).await);
    share(&mut lead, &[(&bo, "240", true), (&cy, "240", true), (&di, "240", true)], &[("keep", "yes")]).await.sent_to();
    let of_cy = has(&house, &cy, "COUNT(*)").await;
    let staying =
        "SELECT group_concat(id || ':' || assigned_to) FROM (SELECT id, assigned_to FROM duty WHERE assigned_to IS NOT NULL ORDER BY id)";
    let before: String = sqlx::query_scalar(staying).fetch_one(&house.app.database.writer).await.unwrap();
    share(&mut lead, &[(&bo, "240", true), (&cy, "240", false), (&di, "240", true)], &[("keep", "yes")]).await.sent_to();
    let after: String = sqlx::query_scalar(staying).fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(has(&house, &cy, "COUNT(*)").await, 0);
    let moved = before.split(',').zip(after.split(',')).filter(|(one, next)| one != next).count();
    assert_eq!(i64::try_from(moved).unwrap(), of_cy, "{before}\n{after}");
}

#[tokio::test]
async fn nonsense_is_named_and_kept() {
    let (house, mut lead) = planned_house().await;
    let bo = house.keeper("Bo", 1).await;
    let again = share(&mut lead, &[(&bo, "soon", true)], &[]).await.is(422).says("Enter a whole number from 0 to 1440.");
    assert_eq!(again.value(&format!("#minutes-{}", bo.id())), "soon");
    share(&mut lead, &[(&bo, "200", false)], &[]).await.is(422).says("Tick at least one person who is in today.");
    share(&mut lead, &[(&bo, "200", true)], &[("level", "3")]).await.is(400);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await, 0);
}

#[tokio::test]
async fn the_second_of_two_people_is_another_who_is_nearly_cleared() {
    let (house, _) = planned_house().await;
    let (bo, cy) = (house.keeper("Bo", 3).await, house.keeper("Cyprian", 1).await);
    let risky = "UPDATE duty SET clearance = 3, persons = 2, assigned_to = ?1, assigned_on = '2026-04-15' WHERE id = 1";
    sqlx::query(risky).bind(bo.id()).execute(&house.app.database.writer).await.unwrap();
    for second in [bo.id(), cy.id()] {
        let refused = sqlx::query("UPDATE duty SET second_to = ? WHERE id = 1").bind(second).execute(&house.app.database.writer).await;
        assert!(refused.is_err(), "{second}");
    }
    clear(&house, cy.id(), 2, "2027-12-31").await;
    sqlx::query("UPDATE duty SET second_to = ? WHERE id = 1").bind(cy.id()).execute(&house.app.database.writer).await.unwrap();
    sqlx::query("UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = 1").execute(&house.app.database.writer).await.unwrap();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE second_to IS NOT NULL").await, 0, "the second goes with the first");
}

/// The one with the lower number is the less cleared of the two, so that the order of the answer can't decide.
#[tokio::test]
async fn a_risky_rehouse_is_shared_out_to_two_with_the_cleared_one_first() {
    let (house, mut lead) = planned_house().await;
    let (second, first) = (house.keeper("Bo", 2).await, house.keeper("Cyprian", 3).await);
    sqlx::query("UPDATE animal SET rehouse_note = 'mould' WHERE species_id = (SELECT id FROM species WHERE accepted_name = ?)")
        .bind(RISKY)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    plan(&house).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'rehouse' AND persons = 2 AND clearance = 3").await, 1);
    share(&mut lead, &[(&second, "240", true), (&first, "240", true)], &[]).await.sent_to();
    let hands: (i64, i64) = sqlx::query_as("SELECT assigned_to, second_to FROM duty WHERE kind = 'rehouse'")
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
    assert_eq!(hands, (first.id().0, second.id().0));
    house.person("Di", "keeper").await;
    let mut cy = first;
    cy.get("/round").await.ok().says("Cyprian with Bo");
}

/// One keeper with a single duty of ten minutes, and ten minutes in all.
async fn full_day() -> (TestHouse, Person, Person) {
    let (house, lead) = planned_house().await;
    let bo = house.keeper("Bo", 3).await;
    let writer = &house.app.database.writer;
    sqlx::query("UPDATE duty SET state = 'dropped' WHERE NOT (animal_id = 1 AND kind = 'feed')").execute(writer).await.unwrap();
    sqlx::query(
        "UPDATE duty SET seconds = 600, late_after = '2026-04-20', assigned_to = ?, assigned_on = '2026-04-15' WHERE state = 'open'",
    )
    .bind(bo.id())
    .execute(writer)
    .await
    .unwrap();
    sqlx::query("INSERT INTO at_work (day, member_id, present, minutes) VALUES ('2026-04-15', ?, 1, 10), ('2026-04-15', ?, 0, 0)")
        .bind(bo.id())
        .bind(lead.id())
        .execute(writer)
        .await
        .unwrap();
    (house, lead, bo)
}

#[tokio::test]
async fn what_people_keep_gives_way_to_nothing_however_urgent() {
    let (house, mut lead, bo) = full_day().await;
    sqlx::query("INSERT INTO duty (kind, animal_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at) VALUES ('clear-uneaten', 1, '2026-04-15', '2026-04-15', 600, 'open', 0, 0, 1, 'left in', '2026-04-15T10:00:00+00:00')")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    share(&mut lead, &[(&bo, "10", true)], &[("keep", "yes")]).await.sent_to();
    assert_eq!(has(&house, &bo, "COUNT(*)").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE kind = 'feed' AND state = 'open' AND assigned_to IS NOT NULL").await, 1);
    let form = format!("/today/share?member={0}&minutes=10&present={0}&keep=yes", bo.id());
    lead.get(&form).await.ok().says("takes 10 min, and everybody who may do it and is in is full: Bo 10 of 10 min").says("1 with nobody");
    share(&mut lead, &[(&bo, "10", true)], &[]).await.sent_to();
    let urgent = "SELECT COUNT(*) FROM duty WHERE kind = 'clear-uneaten' AND assigned_to IS NOT NULL";
    assert_eq!(number(&house, urgent).await, 1, "without the tick the urgent one comes first");
}

#[tokio::test]
async fn somebody_over_their_minutes_keeps_what_they_have_and_the_page_says_so() {
    let (house, mut lead, bo) = full_day().await;
    sqlx::query("UPDATE duty SET seconds = 900 WHERE state = 'open'").execute(&house.app.database.writer).await.unwrap();
    let form = format!("/today/share?member={0}&minutes=10&present={0}&keep=yes", bo.id());
    lead.get(&form).await.ok().says("since people keep what they have: Bo 15 of 10 min").says("Nothing changes hands.");
}

#[tokio::test]
async fn what_was_done_today_makes_the_rest_of_the_day_shorter() {
    let (house, mut lead, mut bo) = full_day().await;
    let duty: i64 = number(&house, "SELECT id FROM duty WHERE state = 'open'").await;
    bo.submit_at("/round", &format!("/round/duties/{duty}"), &[("outcome", "took")]).await.sent_to();
    let team = silkward::rounds::store::share::at_work(&mut house.app.read().await.unwrap(), house.app.today()).await.unwrap();
    let at = team.iter().find(|person| person.member == bo.id()).unwrap();
    assert_eq!((at.minutes, at.done, at.left()), (10, 10, 0));
    lead.get("/today/share").await.ok().says("10 min done today");
    house.set_clock("2026-04-16T09:00:00Z");
    let team = silkward::rounds::store::share::at_work(&mut house.app.read().await.unwrap(), house.app.today()).await.unwrap();
    assert!(team.iter().all(|person| person.done == 0), "the next day begins anew");
}
