//! Choosing what of a cohort is held back, and releasing it. That it is spread over size and balanced is common practice, no
//! source.

use silkward::animals::model::AnimalStatus;
use silkward::cohorts::model::NewTags;
use silkward::cohorts::store as cohorts;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId};
use silkward::reckoning::stage::Stage;

use super::stock::{april, cohort, library, refusal};
use crate::support::{Person, TestHouse, number};

/// A cohort of 60 at the third and 40 at the fourth instar, out of which six were tagged: 31 to 36 mm, two of either sex.
async fn brood() -> (TestHouse, Person) {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(Stage::Instar(3), 60), (Stage::Instar(4), 46)]).await;
    let mut write = house.app.write(None).await.unwrap();
    let tags = NewTags { day: april(2), stage: Stage::Instar(4), quantity: 6, shelf: None, note: String::new() };
    let animals = cohorts::separate_and_tag(&mut write, id, &tags).await.unwrap();
    for (animal, (span, sex, basis)) in animals.iter().zip([
        (31, "female", "exuvium"),
        (32, "unknown", "none"),
        (33, "male", "suspected"),
        (34, "female", "exuvium"),
        (35, "unknown", "none"),
        (36, "male", "exuvium"),
    ]) {
        sqlx::query("INSERT INTO measurement (animal_id, day, kind, mm, method, at) VALUES (?, '2026-04-10', 'dls', ?, 'measured', '2026-04-10T08:00:00+00:00')")
            .bind(animal)
            .bind(span)
            .execute(write.db())
            .await
            .unwrap();
        sqlx::query("UPDATE animal SET sex = ?, sex_basis = ? WHERE id = ?")
            .bind(sex)
            .bind(basis)
            .bind(animal)
            .execute(write.db())
            .await
            .unwrap();
    }
    write.commit(Change::new("test.brood", "cohort 1", ""), "/").await.unwrap();
    let keeper = house.person("Bo", "keeper").await;
    (house, keeper)
}

#[tokio::test]
async fn a_spread_over_sizes_and_sexes_is_proposed_with_its_reasons() {
    let (_house, mut keeper) = brood().await;
    let page = keeper.get("/cohorts/1/holdbacks?wanted=12").await.ok();
    let page =
        page.says("0 held already, 12 more proposed").says("2 females, 2 males and 8 unsexed. ").lacks("fewer males are known than would");
    let page = page.says("31 mm, measured female: shed skin proposed: 31 mm: from the smallest of the females");
    let page = page.says("60 third instar: hold back 5").says("40 4th instar: hold back 3");
    assert_eq!(page.value("#untagged"), "8");
    let counter = _house.person("Cyprian", "counter").await.get("/cohorts/1/holdbacks").await.ok();
    assert_eq!(counter.count("main button"), 1, "who does not keep sees the proposal only");
    keeper.get("/cohorts/1/holdbacks?wanted=0").await.ok().says("Enter a whole number from 1 to 500.");
    keeper.get("/cohorts/9/holdbacks").await.is(404);
}

#[tokio::test]
async fn what_is_chosen_is_held_back_in_one_change_and_a_lead_releases_it() {
    let (house, mut keeper) = brood().await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let fields = [("animal", "1"), ("animal", "6"), ("untagged", "8"), ("reason", "breeding stock, spread over size")];
    let there = keeper.submit_at("/cohorts/1/holdbacks?wanted=12", "/cohorts/1/holdbacks?wanted=12", &fields).await.sent_to();
    let page = keeper.get(&there).await.ok().says("10 held already").says("held back breeding stock, spread over size");
    assert_eq!(page.count("input[name=animal]"), 4, "those held can't be ticked again");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 1);
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM holdback").await, 8);
    keeper
        .get("/animals/1")
        .await
        .ok()
        .says("Held back for breeding since 15 Apr 2026 breeding stock, spread over size")
        .lacks("Release for sale");
    keeper.get("/animals/1/released").await.is(403);
    keeper.get("/cohorts/1/released").await.is(403);
    let mut lead = house.person("Ada", "lead").await;
    lead.get("/animals/1").await.ok().says("Release for sale");
    lead.submit("/animals/1/released", &[("reason", "")]).await.is(422).says("Fill this in.");
    lead.submit("/animals/1/released", &[("reason", "enough females")]).await.sent_to();
    lead.get("/animals/1").await.ok().lacks("Held back for breeding");
    lead.get("/animals/1/held-back")
        .await
        .ok()
        .says("held back by Bo: breeding stock, spread over size")
        .says("released by Ada: enough females");
    lead.submit("/animals/1/released", &[("reason", "again")]).await.is(422).says("This animal is not held back.");
    lead.submit("/cohorts/1/released", &[("quantity", "3"), ("day", "2026-04-15")]).await.sent_to();
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM holdback").await, 5);
}

#[tokio::test]
async fn what_cannot_be_held_back_is_refused_with_all_that_was_typed() {
    let (house, mut keeper) = brood().await;
    let page = "/cohorts/1/holdbacks";
    keeper.submit(page, &[("untagged", "0"), ("reason", "x")]).await.is(422).says("Nothing is chosen.");
    let again = keeper.submit(page, &[("animal", "2"), ("untagged", "101"), ("reason", "")]).await.is(422);
    let again = again.says("Only 100 untagged ones are free to hold back.").says("Fill this in.");
    assert_eq!((again.count("input[name=animal][checked]"), again.value("#untagged")), (1, "101".to_owned()));
    assert_eq!(again.attribute("input[name=animal][checked]", "value"), "2");
    keeper
        .submit(page, &[("animal", "99"), ("untagged", "-1"), ("reason", "x")])
        .await
        .is(422)
        .says("is not of this cohort")
        .says("Enter a whole number");
    keeper.submit(page, &[("animal", "1"), ("reason", "a\u{202e}b")]).await.is(422).says("characters that can't be seen");
    keeper.submit("/animals/1/held-back", &[("reason", "for its size")]).await.sent_to();
    keeper.submit("/animals/1/held-back", &[("reason", "twice")]).await.is(422).says("This animal is held back already.");
    keeper.submit(page, &[("animal", "1"), ("reason", "x")]).await.is(422).says("is held back already");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal_holdback").await, 1);
}

#[tokio::test]
async fn no_way_leads_past_a_holdback() {
    let (house, mut keeper) = brood().await;
    keeper.submit("/animals/1/held-back", &[("reason", "for its size")]).await.sent_to();
    // By the store that sells.
    let mut write = house.app.write(None).await.unwrap();
    let sold = silkward::animals::store::record_leaving(&mut write, AnimalId(1), AnimalStatus::Sold, None, april(15)).await;
    assert!(refusal(sold).contains("held back for breeding"), "the trigger says why");
    drop(write);
    let refused = async |sql: &'static str| sqlx::query(sql).execute(&house.app.database.writer).await.unwrap_err().to_string();
    // By the database itself.
    let sell = "UPDATE animal SET status = 'sold', status_on = '2026-04-15', shelf_id = NULL WHERE id = 1";
    assert!(refused(sell).await.contains("animal: it is held back for breeding"));
    let bo = keeper.id();
    let released =
        sqlx::query("INSERT INTO animal_holdback (animal_id, day, held, reason, member_id, at) VALUES (1, '2026-04-15', 0, 'x', ?, '')")
            .bind(bo)
            .execute(&house.app.database.writer)
            .await;
    assert!(released.unwrap_err().to_string().contains("only a lead releases"));
    cohorts::hold_back(&mut house.app.write(None).await.unwrap(), CohortId(1), april(15), 5, "x").await.unwrap();
    let mut write = house.app.write(Some(bo)).await.unwrap();
    cohorts::hold_back(&mut write, CohortId(1), april(15), 5, "x").await.unwrap();
    assert!(refusal(cohorts::hold_back(&mut write, CohortId(1), april(15), -1, "x").await).contains("Only a lead releases"));
    drop(write);
    for (change, says) in [
        ("UPDATE animal_holdback SET reason = 'y'", "holdbacks are never changed"),
        ("DELETE FROM animal_holdback", "holdbacks are never removed"),
        ("INSERT INTO animal_holdback (animal_id, day, held, reason, at) VALUES (1, '2026-04-15', 1, 'x', '')", "held back already"),
        ("INSERT INTO animal_holdback (animal_id, day, held, reason, at) VALUES (2, '2026-04-15', 0, 'x', '')", "is not held back"),
        ("INSERT INTO animal_holdback (animal_id, day, held, reason, at) VALUES (2, '2026-04-15', 1, '', '')", "has_reason"),
        (
            "REPLACE INTO animal_holdback (id, animal_id, day, held, reason, at) VALUES (1, 2, '2026-04-15', 1, 'x', '')",
            "in the book already",
        ),
    ] {
        assert!(refused(change).await.contains(says), "{change}");
    }
    // It may die, and is no longer anybody's holdback to release by mistake.
    keeper.submit("/animals/1/left", &[("how", "dead"), ("cause", "unknown"), ("day", "2026-04-15")]).await.sent_to();
    keeper.get("/animals/1/held-back").await.is(409);
    keeper.get("/cohorts/1/holdbacks").await.ok().says("0 held already");
}
