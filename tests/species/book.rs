//! The library in the book: names, listings, stages and revisions as the other rooms read them.

use silkward::house::audit::Change;
use silkward::reckoning::hazard::assess;
use silkward::reckoning::words::{LifeStage, Venom};
use silkward::species::names::NameMatch;
use silkward::species::store;

use crate::support::{TestHouse, number};

/// A house with the starter library.
pub async fn stocked() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    assert_eq!(store::seed_library(&mut write).await.unwrap(), 24);
    write.commit(Change::new("library.seeded", "species", "24 species"), "/species").await.unwrap();
    house
}

#[tokio::test]
async fn seeding_twice_adds_nothing() {
    let house = stocked().await;
    let mut write = house.app.write(None).await.unwrap();
    assert_eq!(store::seed_library(&mut write).await.unwrap(), 0);
    drop(write);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM care_stage").await, 24 * 3);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM species WHERE breeding_basis = '' OR law_note = ''").await, 0);
}

#[tokio::test]
async fn what_was_seeded_is_read_back_typed() {
    let house = stocked().await;
    let mut db = house.app.read().await.unwrap();
    let NameMatch::Accepted(id) = store::find_name(&mut db, "P. vittata").await.unwrap() else { panic!() };
    let species = store::require(&mut db, id).await.unwrap();
    assert_eq!((species.accepted_name.as_str(), species.venom), ("Poecilotheria vittata", Venom::Significant));
    assert_eq!(assess(&species.hazard_facts(LifeStage::Spiderling, Vec::new())).band.level(), 3);
    let listings = store::listings(&mut db, id).await.unwrap();
    assert!(listings.iter().any(|listing| listing.scheme == "CITES" && listing.entry == "Appendix II"));
    let care = store::care(&mut db, id, LifeStage::Spiderling).await.unwrap();
    assert_eq!((care.revision, care.stage, care.planner_care(Vec::new()).uneaten_hours), (1, LifeStage::Spiderling, 24));
    assert_eq!(store::care_in(&mut db, care.profile_id, LifeStage::Adult).await.unwrap().stage, LifeStage::Adult);
    assert_eq!(store::stock(&mut db, id).await.unwrap().animals, 0);
    assert_eq!(store::all(&mut db).await.unwrap().len(), 24);
}

#[tokio::test]
async fn a_span_tells_the_life_stage() {
    let house = stocked().await;
    let mut db = house.app.read().await.unwrap();
    let NameMatch::Accepted(id) = store::find_name(&mut db, "Avicularia avicularia").await.unwrap() else { panic!() };
    let species = store::require(&mut db, id).await.unwrap();
    let stages: Vec<LifeStage> =
        [Some(39), Some(40), Some(119), Some(120), None].into_iter().map(|span| species.life_stage(span, false)).collect();
    let juvenile = LifeStage::Juvenile;
    assert_eq!(stages, [LifeStage::Spiderling, juvenile, juvenile, LifeStage::Adult, juvenile]);
    assert_eq!(species.life_stage(Some(60), true), LifeStage::Adult);
}

#[tokio::test]
async fn a_new_house_has_the_library_from_its_first_start_and_keeps_what_it_made_of_it() {
    let house = TestHouse::start().await;
    assert_eq!(store::texts::bring_texts(&house.app).await.unwrap(), 24);
    let count = "SELECT COUNT(*) FROM species WHERE EXISTS (SELECT 1 FROM care_text WHERE care_text.species_id = species.id)";
    assert_eq!(number(&house, count).await, 24);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'species.seeded'").await, 1);
    // The second start adds nothing.
    assert_eq!(store::texts::bring_texts(&house.app).await.unwrap(), 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM species").await, 24);
}
