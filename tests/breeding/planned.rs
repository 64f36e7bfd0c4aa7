//! What the young of a planned pairing would be.

use silkward::cohorts::model::NewTags;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{Sex, SexBasis};

use super::{breeders, grown};
use crate::cohorts::stock::april;
use crate::support::TestHouse;

/// Two sibs (animals 4 and 5), tagged out of a cohort of dam 1 and sire 2.
pub(super) async fn sibs(house: &TestHouse) {
    let app = &house.app;
    let mut write = app.write(None).await.unwrap();
    sqlx::query(
        "INSERT INTO sac (species_id, dam_id, sire_id, laid_on, incubation, pulled_on, state, ended_on, created_at)
         SELECT species_id, 1, 2, '2025-09-01', 'pulled', '2025-10-01', 'opened', '2025-10-20', '2025-09-01T08:00:00+00:00' FROM animal WHERE id = 1",
    )
    .execute(write.db())
    .await
    .unwrap();
    sqlx::query(
        "INSERT INTO cohort (code, species_id, origin, sac_id, source_code, started_on, created_at)
         SELECT 'SIB-1', species_id, 'sac', 1, 'C', '2025-10-20', '2025-10-20T08:00:00+00:00' FROM animal WHERE id = 1",
    )
    .execute(write.db())
    .await
    .unwrap();
    let cohort = silkward::house::ids::CohortId(1);
    let line = silkward::cohorts::model::NewLine::received(april(1), Stage::Instar(4), 10);
    silkward::cohorts::store::post(&mut write, cohort, &line).await.unwrap();
    let tags = NewTags { day: april(2), stage: Stage::Instar(4), quantity: 2, shelf: None, note: String::new() };
    silkward::cohorts::store::separate_and_tag(&mut write, cohort, &tags).await.unwrap();
    for (id, sex, basis) in [(4, "female", "exuvium"), (5, "male", "mature")] {
        sqlx::query("UPDATE animal SET sex = ?, sex_basis = ? WHERE id = ?")
            .bind(sex)
            .bind(basis)
            .bind(id)
            .execute(write.db())
            .await
            .unwrap();
    }
    write.commit(silkward::house::audit::Change::new("test.sibs", "cohort 1", ""), "/").await.unwrap();
}

/// Full sibs: 1/4 (Falconer & Mackay 1996).
#[tokio::test]
async fn young_of_full_sibs_are_inbred_by_a_quarter_and_the_parents_are_named() {
    let (house, mut keeper) = breeders().await;
    sibs(&house).await;
    let page = keeper.get("/breeding/planned?dam=4&sire=5").await.ok().says("full sibs").says("0.2500 (25 %)").says("Common ancestors");
    assert_eq!(page.count("table tbody tr"), 2);
    let page = page.says("The two together, look out : Full sibs");
    // Dam and sire of both were bought in as captive-bred without parents on record.
    page.says("generation");
}

#[tokio::test]
async fn parent_and_offspring_and_strangers() {
    let (house, mut keeper) = breeders().await;
    sibs(&house).await;
    keeper.get("/breeding/planned?dam=1&sire=5").await.ok().says("parent and offspring").says("0.2500");
    keeper.get("/breeding/planned?dam=1&sire=3").await.ok().says("0.0000").says("no ancestor in common on record");
}

#[tokio::test]
async fn two_species_are_warned_of() {
    let (house, mut keeper) = breeders().await;
    let other = grown(&house.app, "Acanthoscurria geniculata", Sex::Male, SexBasis::Mature).await;
    keeper.get(&format!("/breeding/planned?dam=1&sire={other}")).await.ok().says("These are two species");
    sqlx::query("UPDATE animal SET locality = 'Colima' WHERE id = 1").execute(&house.app.database.writer).await.unwrap();
    let page = keeper.get(&format!("/breeding/planned?dam=1&sire={other}")).await.ok().says("These are two species");
    page.says("differ (Colima and not known)").lacks("Begin this pairing");
    keeper.get("/breeding/planned?dam=1&sire=999").await.is(404);
    keeper.get("/breeding/planned?dam=&sire=x").await.ok();
}
