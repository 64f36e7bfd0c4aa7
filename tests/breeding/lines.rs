//! Lines of the house, and who is of them. The rule of young of two lines is common practice, no source.

use silkward::breeding::store;
use silkward::house::ids::{AnimalId, CohortId};

use super::kin::brood;
use super::{breeders, grown};
use crate::support::{Person, TestHouse, number};
use silkward::reckoning::words::{Sex, SexBasis};

/// A house of three founders (dam 1, sires 2 and 3), a lead, and two lines: Colima (1) and Jalisco (2).
async fn two_lines() -> (TestHouse, Person) {
    let (house, _keeper) = breeders().await;
    let mut lead = house.person("Ada", "lead").await;
    let species = number(&house, "SELECT species_id FROM animal WHERE id = 1").await.to_string();
    for name in ["Colima", "Jalisco"] {
        let fields = [("species", species.as_str()), ("name", name), ("founded_on", "2024-03-01"), ("note", "two pairs of one import")];
        lead.submit("/breeding/lines/new", &fields).await.sent_to();
    }
    (house, lead)
}

async fn say(lead: &mut Person, of: &str, line: &str) {
    lead.submit(&format!("{of}/line"), &[("line", line), ("day", "2026-04-01"), ("note", "")]).await.sent_to();
}

async fn told(house: &TestHouse, animal: i64) -> String {
    store::line_of(&mut house.app.read().await.unwrap(), AnimalId(animal)).await.unwrap().told()
}

#[tokio::test]
async fn young_of_one_line_are_of_it_and_of_two_lines_mixed() {
    let (house, mut lead) = two_lines().await;
    for (animal, line) in [("1", "1"), ("2", "1"), ("3", "2")] {
        say(&mut lead, &format!("/animals/{animal}"), line).await;
    }
    let (colima, tagged) = brood(&house.app, "COL-1", 1, Some(2), "2025-08-01", 2).await;
    let (mixed, crossed) = brood(&house.app, "MIX-1", 1, Some(3), "2025-10-01", 1).await;
    lead.get(&format!("/cohorts/{colima}")).await.ok().says("Line Colima from its parents");
    lead.get(&format!("/cohorts/{mixed}")).await.ok().says("Line mixed of Colima and Jalisco from its parents");
    lead.get(&format!("/animals/{}", tagged[0])).await.ok().says("Line Colima from its parents");
    assert_eq!(told(&house, crossed[0].0).await, "mixed of Colima and Jalisco");
    // An unknown sire is of no line.
    let (half, _) = brood(&house.app, "HALF-1", 1, None, "2025-12-01", 0).await;
    let of = store::line_of_cohort(&mut house.app.read().await.unwrap(), half).await.unwrap();
    assert_eq!((of.told(), of.pure()), ("Colima in part, the rest of no line".to_owned(), None));
    let species = silkward::house::ids::SpeciesId(number(&house, "SELECT species_id FROM animal WHERE id = 1").await);
    let mut db = house.app.read().await.unwrap();
    let planned = store::line_of_young(&mut db, species, Some(AnimalId(1)), &[AnimalId(2), AnimalId(3)]).await.unwrap();
    assert_eq!((planned.told(), planned.basis()), ("mixed of Colima and Jalisco".to_owned(), "from its parents"));
    drop(db);
    // What is said last counts, for the young too, and what was said stays.
    say(&mut lead, "/animals/3", "1").await;
    assert_eq!(told(&house, crossed[0].0).await, "Colima");
    say(&mut lead, &format!("/cohorts/{mixed}"), "none").await;
    assert_eq!(told(&house, crossed[0].0).await, "no line");
    let page =
        lead.get("/animals/3/line").await.ok().says("Since 1 Apr 2026: Colima, entered by Ada Since 1 Apr 2026: Jalisco, entered by Ada");
    page.says("What was entered last counts.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM line_entry").await, 5);
}

#[tokio::test]
async fn a_line_shows_its_animals_cohorts_founders_and_inbreeding() {
    let (house, mut lead) = two_lines().await;
    for animal in ["1", "2"] {
        say(&mut lead, &format!("/animals/{animal}"), "1").await;
    }
    let (_, sibs) = brood(&house.app, "COL-1", 1, Some(2), "2025-08-01", 2).await;
    let (_, young) = brood(&house.app, "COL-2", sibs[0].0, Some(sibs[1].0), "2025-12-01", 1).await;
    let mut counter = house.person("Cyprian", "counter").await;
    // F of the young of full sibs 1/4 (Falconer & Mackay 1996): the mean of the five living is 0.05. Both founders gave half.
    let page = counter
        .get("/breeding/lines/1")
        .await
        .ok()
        .says("Living animals 5 Mean inbreeding 0.0500 (5.0 %)")
        .says("Founders 2; as good as 2.0");
    let page = page.says("0.2500").says("50.0 %").says("COL-1").says("COL-2");
    assert_eq!(page.count(&format!("a[href='/animals/{}/lineage']", young[0])), 1);
    counter.get("/breeding/lines").await.ok().says("Colima Brachypelma hamorii 1 Mar 2024 5 17 2");
    counter.get("/breeding").await.ok().says("Lines");
    counter.get("/breeding/lines/9").await.is(404);
}

#[tokio::test]
async fn what_cannot_be_is_refused_and_kept_as_typed() {
    let (house, mut lead) = two_lines().await;
    let other = grown(&house.app, "Poecilotheria regalis", Sex::Male, SexBasis::Mature).await;
    let species = number(&house, "SELECT species_id FROM animal WHERE id = 1").await.to_string();
    let new = "/breeding/lines/new";
    let again = lead.submit(new, &[("species", ""), ("name", ""), ("founded_on", "2027-01-01"), ("note", "kept")]).await.is(422);
    let again = again.says("Choose one of the list.").says("Fill this in.").says("still to come");
    assert!(again.text().contains("kept"));
    let fields = |name: &'static str| [("species", species.clone()), ("name", name.to_owned()), ("founded_on", "2024-03-01".to_owned())];
    for (name, says) in [("colima", "has this name already"), ("x".repeat(61).leak() as &str, "at most 60 fit")] {
        let typed = fields(name);
        let typed: Vec<(&str, &str)> = typed.iter().map(|(key, value)| (*key, value.as_str())).collect();
        lead.submit(new, &typed).await.is(422).says(says);
    }
    let of = |line, day| [("line", line), ("day", day), ("note", "")];
    lead.submit("/animals/1/line", &of("", "2026-04-01")).await.is(422).says("Choose one of the list.");
    lead.submit("/animals/1/line", &of("9", "2026-04-01")).await.is(422).says("This is no line of its species.");
    lead.submit(&format!("/animals/{other}/line"), &of("1", "2026-04-01")).await.is(422).says("This is no line of its species.");
    lead.submit("/animals/1/line", &of("1", "2025-01-01")).await.is(422).says("before it was in the house");
    lead.submit("/animals/1/line", &of("1", "2026-05-01")).await.is(422).says("still to come");
    lead.get("/animals/99/line").await.is(404);
    let mut keeper = house.person("Ina", "keeper").await;
    for page in ["/breeding/lines/new", "/breeding/lines/1/edit", "/animals/1/line"] {
        keeper.get(page).await.is(403);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM line_entry").await, 0);
    // By the database itself.
    let refused = async |sql: &'static str| sqlx::query(sql).execute(&house.app.database.writer).await.unwrap_err().to_string();
    let foreign = "INSERT INTO line_entry (line_id, animal_id, day, at) VALUES (1, 4, '2026-04-01', '')";
    assert!(refused(foreign).await.contains("line: the line is of another species"));
    assert!(refused("INSERT INTO line_entry (day, at) VALUES ('2026-04-01', '')").await.contains("line_entry_of_one"));
    sqlx::query("INSERT INTO line_entry (line_id, animal_id, day, at) VALUES (1, 1, '2026-04-01', '')")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    for (sql, says) in [
        ("UPDATE line_entry SET line_id = 2", "never changed"),
        ("DELETE FROM line_entry", "never removed"),
        ("DELETE FROM line", "never removed"),
        ("REPLACE INTO line_entry (id, line_id, animal_id, day, at) VALUES (1, 2, 1, '2026-04-01', '')", "in the book already"),
        ("UPDATE line SET species_id = species_id + 1", "keeps its species"),
    ] {
        assert!(refused(sql).await.contains(says), "{sql}");
    }
}

#[tokio::test]
async fn a_line_is_changed_against_the_version_that_was_seen() {
    let (house, mut lead) = two_lines().await;
    let seen = lead.get("/breeding/lines/1/edit").await.ok();
    assert_eq!((seen.value("#name"), seen.value("input[name=version]")), ("Colima".to_owned(), "1".to_owned()));
    let fields =
        |name: &'static str, version: &'static str| [("name", name), ("founded_on", "2024-03-02"), ("note", ""), ("version", version)];
    lead.submit("/breeding/lines/1/edit", &fields("Colima coast", "1")).await.sent_to();
    lead.submit("/breeding/lines/1/edit", &fields("Colima hills", "1")).await.is(409);
    lead.submit("/breeding/lines/1/edit", &fields("Jalisco", "2")).await.is(422).says("has this name already");
    lead.get("/breeding/lines/1").await.ok().says("Colima coast").says("Founded 2 Mar 2024");
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    say(&mut lead, "/animals/1", "1").await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 1);
    assert!(store::line_of_cohort(&mut house.app.read().await.unwrap(), CohortId(9)).await.is_err());
}
