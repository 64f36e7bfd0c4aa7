//! Erasing a buyer: the number stays, the person is gone from every table and from the raw file, and stays gone when an older
//! backup is put back.

use std::path::Path;

use silkward::house::app::App;
use silkward::house::backup;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;
use silkward::house::erased;
use silkward::house::ids::BuyerId;
use silkward::records::{restore, verify};

use super::stock::{self, CALM, house};
use crate::support::{Person, TestHouse, noon, number};

/// Every word that must be gone, as it was typed and as the search keeps it.
const CANARIES: [&str; 9] = [
    "Quillon Canaryfeather",
    "quillon canaryfeather",
    "羽金絲雀",
    "canary@feather.example",
    "1995550101",
    "9 Canary Wharfside",
    "canary-in-a-note",
    "canary-in-a-reason",
    "canary-in-an-outcome",
];

const NAME: &str = "Quillon Canaryfeather 羽金絲雀";
const CONTACT: &str = "+1 (0)99 555-0101 canary@feather.example";

fn at(folder: &Path) -> Config {
    Config::new(folder.join("data"), "127.0.0.1:7373".parse().unwrap(), None).unwrap()
}

/// The canaries that stand in any file of a data folder, as raw bytes.
fn found_raw(data: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(data).unwrap() {
        let path = entry.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        let holds = |canary: &&&str| bytes.windows(canary.len()).any(|window| window == canary.as_bytes());
        found.extend(CANARIES.iter().filter(holds).map(|canary| format!("{canary} in {}", path.display())));
    }
    found
}

/// A house whose first buyer left a trace in every table.
async fn traced() -> (TestHouse, Person, i64) {
    let house = house().await;
    let mut owner = house.person("Ada", "owner").await;
    let buyer = stock::buyer(&mut owner, NAME, CONTACT, "9 Canary Wharfside").await;
    let (animal, risky) = (stock::animal(&house, CALM).await, stock::animal(&house, stock::LISTED).await);
    let cohort = stock::cohort(&house, CALM, 40).await;
    let done = stock::hand_to(&house, &mut owner, buyer, "canary-in-a-note", &[animal], &[(cohort, "5")]).await;
    assert_eq!(done, "/handovers/1");
    // A second one, which a lead let go against the check.
    let draft = owner.submit("/handovers/new", &[("buyer", buyer.to_string().as_str()), ("note", "canary-in-a-note")]).await.sent_to();
    stock::add_animal(&house, &mut owner, &draft, risky).await;
    stock::hand_over(&mut owner, &draft, "canary-in-a-reason").await.sent_to();
    let writer = &house.app.database.writer;
    for state in ["open", "cancelled"] {
        sqlx::query(
            "INSERT INTO sale_order (buyer_id, note, state, created_by, created_at, ended_at)
             VALUES (?1, 'canary-in-a-note', ?2, 1, '2026-04-15T10:00:00+00:00', CASE ?2 WHEN 'open' THEN NULL ELSE '2026-04-15T10:00:00+00:00' END)",
        )
        .bind(buyer)
        .bind(state)
        .execute(writer)
        .await
        .unwrap();
    }
    for (by, of) in [("buyer_id", buyer), ("order_id", 1)] {
        for ended in [false, true] {
            let statement = format!(
                "INSERT INTO reservation (cohort_id, stage, quantity, {by}, until, note, made_on, made_at, ended_as, ended_at)
                 VALUES (?, 'i2', 1, ?, '2026-05-01', 'canary-in-a-note', '2026-04-15', '2026-04-15T10:00:00+00:00', ?, ?)"
            );
            sqlx::query(sqlx::AssertSqlSafe(statement))
                .bind(cohort)
                .bind(of)
                .bind(ended.then_some("released"))
                .bind(ended.then_some("2026-04-15T10:00:00+00:00"))
                .execute(writer)
                .await
                .unwrap();
        }
    }
    let code: String = sqlx::query_scalar("SELECT code FROM cohort WHERE id = ?").bind(cohort).fetch_one(writer).await.unwrap();
    let fields = [("of", code.as_str()), ("mates", "yes"), ("reason", "mites"), ("words", "Mites on the ground."), ("step", "record")];
    let recall = owner.submit("/recall/new", &fields).await.sent_to();
    owner.submit_at(&recall, &format!("{recall}/letters"), &[]).await.sent_to();
    let outcome = [("what", "not-reached"), ("note", "canary-in-an-outcome")];
    owner.submit_at(&recall, &format!("{recall}/buyers/{buyer}"), &outcome).await.sent_to();
    let hold = [("keep", "yes"), ("until", "2026-04-20"), ("reason", "canary-in-a-reason"), ("version", "1")];
    owner.submit(&format!("/buyers/{buyer}/keep"), &hold).await.sent_to();
    (house, owner, buyer)
}

async fn finish_everything(house: &TestHouse, owner: &mut Person, buyer: i64) {
    sqlx::query("UPDATE sale_order SET state = 'cancelled', ended_at = '2026-04-15T11:00:00+00:00' WHERE state = 'open'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let version = owner.get(&format!("/buyers/{buyer}/keep")).await.ok().value("input[name=version]");
    owner.submit(&format!("/buyers/{buyer}/keep"), &[("version", &version)]).await.sent_to();
}

async fn erase(owner: &mut Person, buyer: i64) {
    let page = format!("/buyers/{buyer}/erase");
    assert_eq!(owner.submit(&page, &[("sure", "yes")]).await.sent_to(), format!("/buyers/{buyer}"));
}

#[tokio::test]
async fn the_person_goes_from_every_table_and_from_the_raw_file() {
    let (house, mut owner, buyer) = traced().await;
    let data = house.app.config.data.clone();
    finish_everything(&house, &mut owner, buyer).await;
    assert!(found_raw(&data).len() >= 7, "the test has lost its canaries: {:?}", found_raw(&data));
    let paper = number(&house, "SELECT MAX(id) FROM paper WHERE kind = 'recall-letter'").await;
    let letter = owner.get(&format!("/papers/{paper}")).await.ok().says("Quillon Canaryfeather");
    assert!(letter.text().contains("recall letter") || letter.words().contains("Recall letter"));
    let links = number(&house, "SELECT COUNT(*) FROM buyer_link WHERE revoked_at IS NULL").await;
    assert_eq!(links, 3);
    erase(&mut owner, buyer).await;
    assert_eq!(found_raw(&data), Vec::<String>::new());

    owner
        .get(&format!("/buyers/{buyer}"))
        .await
        .ok()
        .says("Erased buyer 1")
        .says("S-2026-0001")
        .says("The number 1 stays")
        .lacks("Begin a handover");
    owner.get("/handovers/1").await.ok().says("Erased buyer 1").says("S-2026-0001");
    owner.get("/handovers/2").await.ok().says("(erased with the buyer)").says("Ada");
    owner.get("/papers/1").await.ok().says("S-2026-0001");
    owner.get(&format!("/papers/{paper}")).await.ok().says("What named the buyer was erased").says("Mites on the ground").lacks("Quillon");
    owner.get("/recall/1").await.ok().says("This buyer was erased").says("S-2026-0002");
    owner.get("/buyers?q=S-2026-0001").await.ok().says("Erased buyer 1");
    owner.get("/buyers?q=quillon").await.ok().says("Nobody in the book has");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer_link WHERE revoked_at IS NULL").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM paper_person").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM reservation WHERE buyer_id = 1 AND ended_as IS NULL").await, 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'buyer.erased' AND subject = 'buyer 1'").await, 1);
    assert_eq!(verify::run(&house.app).await.unwrap().findings, Vec::<String>::new());
    let json = owner.get(&format!("/buyers/{buyer}/data.json")).await.ok().text();
    assert!(CANARIES.iter().all(|canary| !json.contains(canary)), "{json}");
}

#[tokio::test]
async fn what_is_not_finished_is_named_and_nothing_is_erased() {
    let (house, mut owner, buyer) = traced().await;
    let draft = owner.submit("/handovers/new", &[("buyer", buyer.to_string().as_str())]).await.sent_to();
    let page = format!("/buyers/{buyer}/erase");
    owner.get(&page).await.ok().says("Order 1 is open").says("Handover 3 is being made ready").says("kept until 20 Apr 2026");
    let again = owner.submit(&page, &[("sure", "yes")]).await.is(422).says("Order 1 is open: hand it over or cancel it first.");
    assert_eq!(again.count(".mistakes li"), 3);
    owner.submit(&page, &[]).await.is(422).says("Tick this");
    // The database refuses the same by itself.
    let writer = &house.app.database.writer;
    let blank =
        "UPDATE buyer SET name = 'Erased buyer 1', contact = '', address = '', language = '', search = '', digits = '', kept_until = NULL,
                 kept_reason = '', erased_at = '2026-04-15T12:00:00+00:00'";
    assert!(sqlx::query(blank).execute(writer).await.unwrap_err().to_string().contains("kept for a reason"));
    sqlx::query("UPDATE buyer SET kept_until = NULL, kept_reason = ''").execute(writer).await.unwrap();
    assert!(sqlx::query(blank).execute(writer).await.unwrap_err().to_string().contains("an order of this buyer is open"));
    sqlx::query("UPDATE sale_order SET state = 'cancelled', ended_at = '2026-04-15T11:00:00+00:00' WHERE state = 'open'")
        .execute(writer)
        .await
        .unwrap();
    assert!(sqlx::query(blank).execute(writer).await.unwrap_err().to_string().contains("is being made ready"));
    owner.submit_at(&draft, &format!("{draft}/cancel"), &[]).await.sent_to();
    let half = "UPDATE buyer SET erased_at = '2026-04-15T12:00:00+00:00'";
    assert!(sqlx::query(half).execute(writer).await.unwrap_err().to_string().contains("only the number is kept"));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM buyer WHERE erased_at IS NOT NULL").await, 0);
    assert!(sqlx::query("DELETE FROM paper_person").execute(writer).await.is_err());
    assert!(sqlx::query("UPDATE handover SET note = '' WHERE state = 'done'").execute(writer).await.is_err());
    assert!(sqlx::query("UPDATE reservation SET note = '' WHERE ended_as IS NOT NULL").execute(writer).await.is_err());
    assert!(sqlx::query("UPDATE recall_contact SET note = ''").execute(writer).await.is_err());
    assert!(sqlx::query("DELETE FROM buyer").execute(writer).await.is_err());
}

#[tokio::test]
async fn nothing_more_is_written_of_somebody_who_was_erased() {
    let (house, mut owner, buyer) = traced().await;
    finish_everything(&house, &mut owner, buyer).await;
    erase(&mut owner, buyer).await;
    let id = buyer.to_string();
    let again = owner.submit("/handovers/new", &[("buyer", id.as_str()), ("note", "typed long")]).await.is(422).says("was erased");
    again.says("typed long");
    owner.get(&format!("/buyers/{buyer}/edit")).await.is(409);
    owner.get(&format!("/buyers/{buyer}/erase")).await.is(409);
    owner.get(&format!("/buyers/{buyer}/keep")).await.is(409);
    let other = "/buyers/new";
    for path in ["edit", "erase", "keep"] {
        let fields = [("version", "9"), ("name", "Back again"), ("sure", "yes"), ("keep", "yes")];
        let wanted: &[(&str, &str)] = match path {
            "edit" => &fields[..2],
            "erase" => &fields[2..3],
            _ => &fields[..1],
        };
        owner.submit_at(other, &format!("/buyers/{buyer}/{path}"), wanted).await.is(409);
    }
    owner.submit_at("/recall/1", &format!("/recall/1/buyers/{buyer}"), &[("what", "reached")]).await.is(409);
    let writer = &house.app.database.writer;
    for statement in [
        "UPDATE buyer SET name = 'Back again' WHERE id = 1",
        "INSERT INTO handover (buyer_id, created_by, created_at) VALUES (1, 1, '2026-04-15')",
        "INSERT INTO sale_order (buyer_id, created_by, created_at) VALUES (1, 1, '2026-04-15')",
        "INSERT INTO reservation (cohort_id, stage, quantity, buyer_id, until, made_on, made_at) VALUES (1, 'i2', 1, 1, '2026-05-01', '2026-04-15', '2026-04-15')",
        "UPDATE handover SET note = 'back again' WHERE id = 1",
        "UPDATE handover SET day = '2026-01-01' WHERE id = 1",
        "UPDATE reservation SET note = 'back again'",
        "UPDATE recall_contact SET note = 'back again'",
    ] {
        assert!(sqlx::query(statement).execute(writer).await.is_err(), "{statement}");
    }
}

#[tokio::test]
async fn only_a_lead_erases_and_only_an_owner_keeps_longer() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let mut lead = house.person("Ada", "lead").await;
    let buyer = stock::buyer(&mut seller, "Somebody", "", "").await;
    seller.get(&format!("/buyers/{buyer}")).await.ok().lacks("Erase this person");
    seller.get(&format!("/buyers/{buyer}/erase")).await.is(403);
    lead.get(&format!("/buyers/{buyer}/keep")).await.is(403);
    lead.get("/buyers/rule").await.ok().lacks("Save the rule");
    lead.submit_at("/buyers/new", "/buyers/rule", &[("months", "1"), ("version", "1")]).await.is(403);
    erase(&mut lead, buyer).await;
    lead.submit_at("/buyers", &format!("/buyers/{buyer}/erase"), &[("sure", "yes")]).await.is(409);
}

#[tokio::test]
async fn an_older_backup_brings_nobody_back() {
    let (house, mut owner, buyer) = traced().await;
    let folder = tempfile::tempdir().unwrap();
    let monday = folder.path().join("monday.backup");
    backup::write(&house.app.config, &monday).await.unwrap();
    house.set_clock("2026-04-15T12:30:00Z");
    finish_everything(&house, &mut owner, buyer).await;
    erase(&mut owner, buyer).await;
    let tuesday = folder.path().join("tuesday.backup");
    backup::write(&house.app.config, &tuesday).await.unwrap();

    // With the journal of the folder that is replaced: what was open then is given up.
    let journal = erased::file(&house.app.config.data);
    let said = restore::run(&at(folder.path()), &monday, std::slice::from_ref(&journal)).await.unwrap();
    assert!(said.contains("1 buyer(s)"), "{said}");
    assert_eq!(found_raw(&at(folder.path()).data), Vec::<String>::new());
    let restored = App::open(at(folder.path()), Clock::standing_at(noon()), Durability::Full).await.unwrap();
    assert_eq!(verify::run(&restored).await.unwrap().findings, Vec::<String>::new());
    let (name, orders): (String, i64) =
        sqlx::query_as("SELECT name, (SELECT COUNT(*) FROM sale_order WHERE state = 'open') FROM buyer WHERE id = 1")
            .fetch_one(&restored.database.reader)
            .await
            .unwrap();
    assert_eq!((name.as_str(), orders), ("Erased buyer 1", 0));
    assert_eq!(silkward::sales::keep(&restored).await.unwrap().again, Vec::<BuyerId>::new());
    restored.database.close().await;

    // A journal that stands in the folder is met too, at the restore and at every start.
    let second = tempfile::tempdir().unwrap();
    std::fs::create_dir_all(at(second.path()).data).unwrap();
    std::fs::copy(&journal, erased::file(&at(second.path()).data)).unwrap();
    restore::run(&at(second.path()), &monday, &[]).await.unwrap();
    assert_eq!(found_raw(&at(second.path()).data), Vec::<String>::new());
    let third = tempfile::tempdir().unwrap();
    restore::run(&at(third.path()), &monday, &[]).await.unwrap();
    assert!(!found_raw(&at(third.path()).data).is_empty(), "no journal, nobody is erased");
    std::fs::copy(&journal, erased::file(&at(third.path()).data)).unwrap();
    let started = App::open(at(third.path()), Clock::standing_at(noon()), Durability::Full).await.unwrap();
    assert_eq!(silkward::sales::keep(&started).await.unwrap().again, [BuyerId(buyer)]);
    assert_eq!(found_raw(&at(third.path()).data), Vec::<String>::new());
    started.database.close().await;

    // A backup carries the journal on: what comes from Tuesday's, put beside Monday's, is met.
    std::fs::copy(erased::beside_backup(&tuesday), erased::beside_backup(&monday)).unwrap();
    let fourth = tempfile::tempdir().unwrap();
    restore::run(&at(fourth.path()), &monday, &[]).await.unwrap();
    assert_eq!(found_raw(&at(fourth.path()).data), Vec::<String>::new());
}

#[tokio::test]
async fn the_journal_meets_nobody_else() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let gone = stock::buyer(&mut lead, NAME, "", "").await;
    house.set_clock("2026-04-15T12:30:00Z");
    erase(&mut lead, gone).await;
    let journal = erased::read(&erased::file(&house.app.config.data)).unwrap();
    let told = std::fs::read_to_string(erased::file(&house.app.config.data)).unwrap();
    assert_eq!(told.lines().count(), 1);
    assert!(told.ends_with(" 1 2026-04-15T12:30:00+00:00\n"), "{told}");

    // Another house with a buyer of that number.
    let other = TestHouse::start().await;
    other.set_clock("2026-04-15T12:00:01Z");
    let mut theirs = other.person("Bo", "lead").await;
    stock::buyer(&mut theirs, "Of Another House", "", "").await;
    erased::join(&other.app.config.data, &journal).unwrap();
    assert_eq!(silkward::sales::keep(&other.app).await.unwrap().again, Vec::<BuyerId>::new());
    theirs.get("/buyers/1").await.ok().says("Of Another House");

    // The same house, where an older book gave the number to somebody who came later.
    let writer = &house.app.database.writer;
    for statement in ["DROP TRIGGER buyer_erased_stays", "DROP TRIGGER buyer_erased_is_blank"] {
        sqlx::query(statement).execute(writer).await.unwrap();
    }
    sqlx::query("UPDATE buyer SET erased_at = NULL, name = 'Came later', created_at = '2026-04-15T12:30:01+00:00'")
        .execute(writer)
        .await
        .unwrap();
    assert_eq!(silkward::sales::replay(&house.app).await.unwrap(), Vec::<BuyerId>::new());
    sqlx::query("UPDATE buyer SET created_at = '2026-04-15T12:30:00+00:00'").execute(writer).await.unwrap();
    assert_eq!(silkward::sales::replay(&house.app).await.unwrap(), [BuyerId(gone)]);
}

#[tokio::test]
async fn a_damaged_journal_is_named_and_forgets_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let journal = erased::file(folder.path());
    assert!(erased::read(&journal).unwrap().is_empty());
    for damaged in ["x 1 2026-04-16T09:00:00Z\n", "\u{0}\n", &format!("{} one 2026-04-16T09:00:00Z\n", "a".repeat(64)), &"a".repeat(64)] {
        std::fs::write(&journal, damaged).unwrap();
        let refused = erased::read(&journal).unwrap_err().to_string();
        assert!(refused.contains("line 1 of"), "{refused}");
    }
    let house = TestHouse::start().await;
    std::fs::write(erased::file(&house.app.config.data), "damaged\n").unwrap();
    assert!(silkward::sales::keep(&house.app).await.is_err());
    let file = folder.path().join("a.backup");
    backup::write(&house.app.config, &file).await.unwrap();
    let target = at(folder.path());
    assert!(restore::run(&target, &file, &[]).await.is_err());
    assert!(!target.database_file().exists(), "a journal that can't be read stops the restore");
    assert!(restore::run(&target, &file, &[folder.path().join("nowhere")]).await.is_err());
}

/// What one process could not finish, the next look does.
#[tokio::test]
async fn an_erasure_that_was_cut_short_is_finished_later() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    stock::buyer(&mut lead, NAME, CONTACT, "").await;
    let mut write = house.app.write(Some(lead.id())).await.unwrap();
    silkward::sales::store::erasure::erase(&mut write, BuyerId(1)).await.unwrap();
    write.commit(silkward::house::audit::Change::new("buyer.erased", "buyer 1", ""), "/").await.unwrap();
    assert!(!erased::file(&house.app.config.data).exists());
    silkward::sales::keep(&house.app).await.unwrap();
    assert_eq!(found_raw(&house.app.config.data), Vec::<String>::new());
    assert!(erased::file(&house.app.config.data).exists());
}
