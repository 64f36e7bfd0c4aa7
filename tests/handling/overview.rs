//! The first page of the room, and venom classes as it shows them.

use super::stock::{CALM, RISKY, animal, assessor, clearance, granted, house, plan};
use crate::support::number;

#[tokio::test]
async fn the_board_names_who_could_do_each_rehouse_today() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = house.person("Bo", "keeper").await;
    granted(&house, olga.id(), &clearance(bo.id(), 2, "")).await;
    animal(&house, RISKY).await;
    animal(&house, CALM).await;
    plan(&house).await;
    let page = olga.get("/handling").await.ok();
    assert_eq!(page.count(".card"), 2);
    page.says("Cleared today: Olga.")
        .says("Cleared today: Bo, Olga.")
        .says("clearance 3, 2 people")
        .says("Band 3: dangerous")
        .says("Band 1: take care");
    // Looking leaves no trace.
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    olga.get("/handling").await.ok();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before);
}

#[tokio::test]
async fn nobody_cleared_is_said_plainly() {
    let house = house().await;
    animal(&house, RISKY).await;
    plan(&house).await;
    let mut lead = house.person("Ada", "lead").await;
    lead.get("/handling").await.ok().says("Nobody is cleared for this today.").says("no clearance");
}

/// Hauke & Herzig 2021 for the classes by subfamily; the bands that follow are this house's own.
#[tokio::test]
async fn venom_classes_of_the_library() {
    let house = house().await;
    let classes = [
        ("significant", &["Poecilotheria", "Heteroscodra", "Stromatopelma", "Pterinochilus"][..]),
        ("moderate", &["Monocentropus", "Hysterocrates", "Cyriopagopus", "Chilobrachys", "Psalmopoeus", "Ephebopus"][..]),
        ("mild", &["Brachypelma"][..]),
    ];
    for (class, genera) in classes {
        for genus in genera {
            let found: Vec<String> = sqlx::query_scalar("SELECT DISTINCT venom FROM species WHERE accepted_name LIKE ? || ' %'")
                .bind(genus)
                .fetch_all(&house.app.database.writer)
                .await
                .unwrap();
            assert_eq!(found, [class], "{genus}");
        }
    }
}

#[tokio::test]
async fn the_venom_class_gives_the_band_that_the_pages_show() {
    let house = house().await;
    let mut bo = house.person("Bo", "keeper").await;
    for (species, band) in [(RISKY, "Band 3: dangerous"), ("Monocentropus balfouri", "Band 2: risky"), (CALM, "Band 1: take care")] {
        let id = animal(&house, species).await;
        let there = bo.submit(&format!("/handling/incidents/new?animal={id}"), &[("kind", "near-miss")]).await.sent_to();
        bo.get(&there).await.ok().says(band).says(species);
    }
}
