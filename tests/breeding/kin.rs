//! A small pedigree in a house: founders, a sac with its cohort, tags out of it.

use silkward::cohorts::model::{NewLine, NewTags};
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, CohortId};
use silkward::reckoning::stage::Stage;

use crate::cohorts::stock::april;

/// A sac of two animals, opened into a cohort of ten, out of which so many are tagged: of either sex by turns, females first.
pub async fn brood(app: &App, code: &str, dam: i64, sire: Option<i64>, laid: &str, tags: u32) -> (CohortId, Vec<AnimalId>) {
    let mut write = app.write(None).await.unwrap();
    let sac: i64 = sqlx::query_scalar(
        "INSERT INTO sac (species_id, dam_id, sire_id, laid_on, incubation, state, ended_on, created_at)
         SELECT species_id, ?, ?, ?, 'with-dam', 'opened', date(?, '+40 days'), '2026-01-01T08:00:00+00:00' FROM animal WHERE id = 1 RETURNING id",
    )
    .bind(dam)
    .bind(sire)
    .bind(laid)
    .bind(laid)
    .fetch_one(write.db())
    .await
    .unwrap();
    let cohort: CohortId = sqlx::query_scalar(
        "INSERT INTO cohort (code, species_id, origin, sac_id, source_code, started_on, created_at)
         SELECT ?, species_id, 'sac', ?, 'C', date(?, '+40 days'), '2026-01-01T08:00:00+00:00' FROM animal WHERE id = 1 RETURNING id",
    )
    .bind(code)
    .bind(sac)
    .bind(laid)
    .fetch_one(write.db())
    .await
    .unwrap();
    let line = NewLine::received(april(1), Stage::Instar(4), 10);
    silkward::cohorts::store::post(&mut write, cohort, &line).await.unwrap();
    let mut animals = Vec::new();
    if tags > 0 {
        let new = NewTags { day: april(2), stage: Stage::Instar(4), quantity: tags, shelf: None, note: String::new() };
        animals = silkward::cohorts::store::separate_and_tag(&mut write, cohort, &new).await.unwrap();
    }
    for (animal, (sex, basis)) in animals.iter().zip([("female", "exuvium"), ("male", "mature")].into_iter().cycle()) {
        sqlx::query("UPDATE animal SET sex = ?, sex_basis = ? WHERE id = ?")
            .bind(sex)
            .bind(basis)
            .bind(animal)
            .execute(write.db())
            .await
            .unwrap();
    }
    write.commit(Change::new("test.brood", format!("cohort {cohort}"), code), "/").await.unwrap();
    (cohort, animals)
}

/// The tag of an animal.
pub async fn tag(app: &App, id: i64) -> String {
    sqlx::query_scalar("SELECT tag FROM animal WHERE id = ?").bind(id).fetch_one(&app.database.writer).await.unwrap()
}
