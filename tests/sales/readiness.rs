//! What stops a sale, and who may let it go all the same.

use silkward::animals::model::NewMoult;
use silkward::house::audit::Change;
use silkward::house::ids::AnimalId;
use silkward::reckoning::words::MoultState;

use super::stock::{self, CALM, LISTED, add_animal, begin, day, hand_over, house};
use crate::support::{TestHouse, number};

async fn moulted(house: &TestHouse, animal: AnimalId, on: &str) {
    let mut write = house.app.write(None).await.unwrap();
    let moult = NewMoult { day: day(on), skin_kept: true, note: String::new(), span: None, signoff: None };
    silkward::animals::store::record_moult(&mut write, animal, &moult).await.unwrap();
    write.commit(Change::new("test.moult", "animal", ""), "/").await.unwrap();
}

#[tokio::test]
async fn a_fresh_moult_stops_a_sale_and_only_a_leads_reason_lets_it_go() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    moulted(&house, animal, "2026-04-12").await;
    let address = begin(&mut seller).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let page = seller.get(&address).await.ok();
    assert_eq!(page.count("textarea"), 0);
    page.says("Stops it: moulted on 12 April 2026; may leave from 22 April 2026").says("has not accepted a meal since its moult");
    hand_over(&mut seller, &address, "").await.is(422).says("may leave from 22 April 2026");
    hand_over(&mut seller, &address, "it looks fine").await.is(403).says("Only a lead");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper").await, 0);

    let mut lead = house.person("Ada", "lead").await;
    assert_eq!(lead.get(&address).await.ok().count("textarea#override_reason"), 1);
    hand_over(&mut lead, &address, "   ").await.is(422).says("Not saved yet");
    hand_over(&mut lead, &address, "fangs are black, buyer is a colleague").await.sent_to();
    lead.get(&address).await.ok().says("Ada, against the readiness check: fangs are black, buyer is a colleague");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'").await, 1);
}

#[tokio::test]
async fn a_reason_is_kept_only_where_one_was_needed() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let animal = stock::animal(&house, CALM).await;
    let address = begin(&mut lead).await;
    add_animal(&house, &mut lead, &address, animal).await;
    hand_over(&mut lead, &address, "to be on the safe side").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover WHERE override_reason = '' AND override_by IS NULL").await, 1);
}

#[tokio::test]
async fn pre_moult_quarantine_and_missing_papers_stop_a_sale() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, LISTED).await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::animals::store::record_sign(&mut write, animal, MoultState::PreMoult, day("2026-04-14"), None).await.unwrap();
    write.commit(Change::new("test.sign", "animal", ""), "/").await.unwrap();
    sqlx::query("INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (?, 'quarantine', 'hands-in', '2026-04-01T08:00:00+00:00', '2026-05-01T08:00:00+00:00', 'new arrival')")
        .bind(animal)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let address = begin(&mut seller).await;
    add_animal(&house, &mut seller, &address, animal).await;
    let page = seller.get(&address).await.ok();
    page.says("in pre-moult")
        .says("in quarantine until")
        .says("new arrival")
        .says("listed species without papers of its origin: the acquisition paper of animal");
}

#[tokio::test]
async fn papers_of_both_parents_are_papers_of_the_brood() {
    let house = house().await;
    let (dam, sire) = (stock::animal(&house, LISTED).await, stock::animal(&house, LISTED).await);
    let cohort = stock::cohort(&house, LISTED, 30).await;
    let writer = &house.app.database.writer;
    sqlx::query("INSERT INTO sac (species_id, dam_id, sire_id, laid_on, pulled_on, incubation, state, ended_on, created_at) SELECT species_id, ?, ?, '2026-01-01', '2026-02-01', 'pulled', 'opened', '2026-03-01', '2026-01-01T08:00:00+00:00' FROM animal LIMIT 1")
        .bind(dam).bind(sire).execute(writer).await.unwrap();
    sqlx::query("UPDATE cohort SET origin = 'sac', sac_id = 1 WHERE id = ?").bind(cohort).execute(writer).await.unwrap();
    sqlx::query("UPDATE animal SET papers = 'certificate 1' WHERE id = ?").bind(dam).execute(writer).await.unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    stock::add_lot(&mut seller, &address, cohort, "5").await;
    seller.get(&address).await.ok().says("listed species without papers");
    sqlx::query("UPDATE animal SET papers = 'certificate 2' WHERE id = ?").bind(sire).execute(writer).await.unwrap();
    seller.get(&address).await.ok().lacks("listed species without papers").says("Ready to leave today");
}

#[tokio::test]
async fn held_back_spiderlings_are_not_sold() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let cohort = stock::cohort(&house, CALM, 30).await;
    let address = begin(&mut lead).await;
    stock::add_lot(&mut lead, &address, cohort, "25").await;
    let mut write = house.app.write(None).await.unwrap();
    silkward::cohorts::store::hold_back(&mut write, cohort, day("2026-04-15"), 10, "breeding").await.unwrap();
    write.commit(Change::new("test.holdback", "cohort", ""), "/").await.unwrap();
    lead.get(&address).await.ok().says("25 asked for, 20 free").says("Enter fewer");
    hand_over(&mut lead, &address, "sell them all the same").await.is(409).says("20 free");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line WHERE kind = 'sold'").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper").await, 0);
}

/// Held back for breeding: no reason of a lead lets it go, only its release does.
#[tokio::test]
async fn an_animal_that_is_held_back_is_not_handed_over_by_anybody() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let animal = stock::animal(&house, CALM).await;
    let address = begin(&mut lead).await;
    add_animal(&house, &mut lead, &address, animal).await;
    let mut write = house.app.write(Some(lead.id())).await.unwrap();
    silkward::animals::store::hold_back(&mut write, animal, "for its size").await.unwrap();
    write.commit(Change::new("test.held", "animal", ""), "/").await.unwrap();
    lead.get(&address).await.ok().says("Stops it: held back for breeding; release it first");
    hand_over(&mut lead, &address, "a good customer").await.is(409).says("is held back for breeding: a lead releases it first");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'").await, 0);
    lead.submit(&format!("/animals/{animal}/released"), &[("reason", "enough of them")]).await.sent_to();
    hand_over(&mut lead, &address, "").await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'").await, 1);
}
