//! Provenance: what is on file, what is missing, and what a listed species waits for.

use silkward::animals::model::{NewAnimal, NewOrigin};
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId};
use silkward::reckoning::provenance::check_source;

use crate::sales::stock::{self, LISTED, add_lot, begin, day, hand_over, house};
use crate::support::{Person, TestHouse, number};

/// An animal that was bought in with a source code, and with papers noted as a text or not.
pub async fn founder(house: &TestHouse, code: &str, papers: &str) -> AnimalId {
    let species = stock::species(house, LISTED).await;
    let origin = NewOrigin::Bought { supplier: "Canary Supplier".to_owned(), papers: papers.to_owned() };
    let new = NewAnimal::new(species, origin, check_source(code).unwrap(), day("2024-01-10"));
    let mut write = house.app.write(None).await.unwrap();
    let id = silkward::animals::store::insert(&mut write, &new).await.unwrap();
    write.commit(Change::new("test.founder", "animal", ""), "/").await.unwrap();
    id
}

/// A cohort of thirty at the second instar out of a sac of this house, ready to leave.
pub async fn brood(house: &TestHouse, dam: AnimalId, sire: Option<AnimalId>, wild_mated: bool) -> CohortId {
    let cohort = stock::cohort(house, LISTED, 30).await;
    let writer = &house.app.database.writer;
    let sac: i64 = sqlx::query_scalar(
        "INSERT INTO sac (species_id, dam_id, sire_id, dam_wild_mated, laid_on, pulled_on, incubation, state, ended_on, created_at)
         SELECT species_id, ?, ?, ?, '2026-01-01', '2026-02-01', 'pulled', 'opened', '2026-02-20', '2026-01-01T08:00:00+00:00'
         FROM animal WHERE id = ? RETURNING id",
    )
    .bind(dam)
    .bind(sire)
    .bind(wild_mated)
    .bind(dam)
    .fetch_one(writer)
    .await
    .unwrap();
    sqlx::query("UPDATE cohort SET origin = 'sac', sac_id = ?, supplier = '' WHERE id = ?")
        .bind(sac)
        .bind(cohort)
        .execute(writer)
        .await
        .unwrap();
    cohort
}

pub async fn put_on_file(lead: &mut Person, whose: &str, kind: &str, number: &str) {
    let page = format!("/papers/documents/new?{whose}");
    let (name, id) = whose.split_once('=').unwrap();
    let fields = [("kind", kind), ("number", number), ("issuer", "Ministry of Reeds"), ("dated_on", "2024-01-09"), (name, id)];
    lead.submit_at(&page, "/papers/documents/new", &fields).await.sent_to();
}

#[tokio::test]
async fn a_listed_brood_waits_for_the_papers_of_each_founder_by_name() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let (dam, sire) = (founder(&house, "C", "").await, founder(&house, "W", "").await);
    let cohort = brood(&house, dam, Some(sire), false).await;
    let (dam_tag, sire_tag) = (stock::tag(&house, dam).await, stock::tag(&house, sire).await);
    let address = begin(&mut lead).await;
    add_lot(&mut lead, &address, cohort, "5").await;
    let page = lead.get(&address).await.ok();
    page.says(&format!("Stops it: listed species without papers of its origin: the acquisition paper of dam animal {dam_tag} (bought in, source C) is missing"))
        .says(&format!("sire animal {sire_tag} (bought in, source W) is missing"));
    hand_over(&mut lead, &address, "").await.is(422).says(&dam_tag).says(&sire_tag);
    let page = lead.get(&format!("/papers/provenance?cohort={cohort}")).await.ok();
    assert_eq!(page.count(&format!("a[href='/papers/provenance?animal={dam}']")), 2);
    page.says("Not complete")
        .says("nothing of it leaves before this is put right")
        .says("Unknown: the generation of dam animal")
        .lacks("Canary Supplier");
}

#[tokio::test]
async fn papers_put_on_file_let_it_leave_and_struck_ones_stop_it_again() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let (dam, sire) = (founder(&house, "C", "").await, founder(&house, "C", "certificate in the red folder").await);
    let cohort = brood(&house, dam, Some(sire), false).await;
    put_on_file(&mut lead, &format!("animal={dam}"), "declaration", "D-77").await;
    let address = begin(&mut lead).await;
    add_lot(&mut lead, &address, cohort, "5").await;
    lead.get(&address).await.ok().says("Ready to leave today");
    let chain = format!("/papers/provenance?cohort={cohort}");
    lead.get(&chain)
        .await
        .ok()
        .says("Complete")
        .says("breeder's declaration no. D-77 of 9 Jan 2024, Ministry of Reeds")
        .says("as noted: certificate in the red folder");
    let strike = "/papers/documents/1/strike";
    lead.submit(strike, &[("why", " ")]).await.is(422).says("Fill this in");
    lead.submit(strike, &[("why", "entered at the wrong animal")]).await.sent_to();
    lead.submit_at(&chain, strike, &[("why", "again")]).await.is(409).says("struck out already");
    lead.get(&address).await.ok().says("is missing");
    lead.get(&format!("/papers/provenance?animal={dam}")).await.ok().says("struck out: entered at the wrong animal");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action LIKE 'document.%'").await, 2);
    for change in ["UPDATE origin_document SET number = 'x'", "DELETE FROM origin_document", "DELETE FROM origin_document_struck"] {
        assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
    }
}

#[tokio::test]
async fn a_form_with_mistakes_comes_back_with_all_of_them_and_what_was_typed() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let dam = founder(&house, "C", "").await;
    let page = format!("/papers/documents/new?animal={dam}");
    let name = "ן".repeat(300);
    let fields = [
        ("animal", dam.to_string()),
        ("kind", "papyrus".to_owned()),
        ("number", "7".to_owned()),
        ("issuer", name.clone()),
        ("dated_on", "2031-01-01".to_owned()),
    ];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let again = lead.submit_at(&page, "/papers/documents/new", &fields).await.is(422);
    assert_eq!((again.value("#number"), again.value("#issuer")), ("7".to_owned(), name));
    again.says("Choose one of the list").says("This has 300 characters").says("still to come");
    for nowhere in
        ["/papers/documents/new?animal=99", "/papers/documents/new", "/papers/provenance?animal=1&cohort=1", "/papers/provenance?cohort=77"]
    {
        lead.get(nowhere).await.is(404);
    }
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get(&page).await.is(403);
    keeper.get(&format!("/papers/provenance?animal={dam}")).await.ok().lacks("Put a paper on file");
}

#[tokio::test]
async fn an_unknown_sire_is_said_and_several_possible_ones_are_all_asked_for() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let dam = founder(&house, "C", "paper 1").await;
    let cohort = brood(&house, dam, None, false).await;
    let chain = format!("/papers/provenance?cohort={cohort}");
    lead.get(&chain).await.ok().says("the sire of sac 1 is not known and not stated").says("Unknown: no sire on record");
    // As those were that stood in the book before there was an hour.
    sqlx::query("DROP TRIGGER introduction_can_be").execute(&house.app.database.writer).await.unwrap();
    for paired in ["2025-10-01", "2025-11-01"] {
        let sire = founder(&house, "C", "").await;
        let pairing: i64 = sqlx::query_scalar(
            "INSERT INTO pairing (dam_id, sire_id, paired_on, at) VALUES (?, ?, ?, '2025-11-01T08:00:00+00:00') RETURNING id",
        )
        .bind(dam)
        .bind(sire)
        .bind(paired)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
        sqlx::query(
            "INSERT INTO introduction (pairing_id, day, insertion, outcome, band, clearance, persons, at)
             VALUES (?, ?, 'unknown', 'unknown', 0, 0, 1, '2025-11-01T08:00:00+00:00')",
        )
        .bind(pairing)
        .bind(paired)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    }
    let page = lead.get(&chain).await.ok();
    assert_eq!(page.words().matches("the acquisition paper of possible sire animal").count(), 4);
    page.lacks("is not known and not stated");
}

#[tokio::test]
async fn an_unlisted_species_may_leave_with_an_open_chain_that_its_statement_names() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    let id: i64 =
        sqlx::query_scalar("SELECT id FROM paper WHERE kind = 'origin-statement'").fetch_one(&house.app.database.writer).await.unwrap();
    seller.get(&format!("/papers/{id}")).await.ok().says("the acquisition paper of animal").says("unknown to this house");
}

#[tokio::test]
async fn statements_on_breeding_stock_are_a_leads_and_are_withdrawn_not_changed() {
    let house = house().await;
    let (mut lead, mut keeper) = (house.person("Ada", "lead").await, house.person("Bo", "keeper").await);
    let species = stock::species(&house, LISTED).await.to_string();
    let page = "/papers/stock-statements";
    keeper.get(page).await.ok().lacks("State it of a species");
    lead.submit(page, &[("species", "9999"), ("grounds", "hope"), ("why", "")])
        .await
        .is(422)
        .says("Choose one of the list")
        .says("Say what shows it");
    lead.submit(page, &[("species", "9999"), ("grounds", "managed"), ("why", "x")]).await.is(422).says("not in the book");
    lead.submit(page, &[("species", &species), ("grounds", "managed"), ("why", "three founders' broods since 2019")]).await.sent_to();
    lead.get(page).await.ok().says("managed in a way shown").says("three founders' broods since 2019");
    let refused = sqlx::query("INSERT INTO stock_statement (species_id, grounds, why, stated_on, stated_by, stated_at) VALUES (1, 'managed', 'x', '2026-01-01', ?, 'x')")
        .bind(keeper.id())
        .execute(&house.app.database.writer)
        .await;
    assert!(refused.unwrap_err().to_string().contains("a lead or an owner states"));
    lead.submit("/papers/stock-statements/1/withdraw", &[("why", "")]).await.is(422);
    lead.submit("/papers/stock-statements/1/withdraw", &[("why", "one founder was no founder")]).await.sent_to();
    lead.get(page).await.ok().says("Withdrawn: one founder was no founder");
    assert!(sqlx::query("UPDATE stock_statement SET withdrawn_at = NULL").execute(&house.app.database.writer).await.is_err());
}
