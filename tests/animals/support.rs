//! A house with two species, a rack and the means to put an animal in the book.

use chrono::NaiveDate;
use silkward::animals::model::{NewAnimal, NewOrigin, NewSpan};
use silkward::animals::store;
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, SpeciesId};
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::words::{SpanKind, SpanMethod};

use crate::support::TestHouse;

/// A day.
pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A house with one room, one rack of two shelves (1 and 2), a calm species (1) and a dangerous one (2).
pub async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    for statement in [
        "INSERT INTO room (name, walk_order) VALUES ('Quiet room', 1)",
        "INSERT INTO rack (room_id, name, walk_order) VALUES (1, 'B', 1)",
        "INSERT INTO shelf (rack_id, number) VALUES (1, 1), (1, 2)",
        "INSERT INTO species (accepted_name, authority, world, range, habit, moisture, adult_span_min_mm, adult_span_max_mm, setae, venom,
            venom_basis, defensive, very_fast, temper, pace, clutch_min, clutch_max, pull_from_day, pull_to_day, post_embryo_from,
            post_embryo_to, first_instar_from, first_instar_to, second_instar_from, second_instar_to)
         VALUES ('Mitis lenta', 'Test, 2020', 'new', 'nowhere', 'terrestrial', 'dry', 120, 150, 'kicked', 'mild', 'none', 0, 0, 'calm',
            'slow', 100, 200, 28, 35, 20, 30, 35, 50, 50, 75),
           ('Celer acer', 'Test, 2021', 'old', 'nowhere', 'arboreal', 'dry', 120, 160, 'none', 'significant', 'none', 1, 1, 'fast',
            'fast', 100, 200, 20, 28, 20, 30, 35, 50, 50, 75)",
        "INSERT INTO species_name (species_id, name, kind) VALUES (1, 'Mitis antiqua', 'former')",
        "INSERT INTO species_name (species_id, name, kind, ambiguous_with) VALUES (1, 'Mitis dubia', 'former', 'it is also a valid species')",
        "INSERT INTO care_profile (species_id, revision, why, created_at) VALUES (1, 1, 'first', '2026-01-01T00:00:00+00:00'),
            (2, 1, 'first', '2026-01-01T00:00:00+00:00')",
        "INSERT INTO care_stage (profile_id, stage, feed_min_days, feed_max_days, moult_min_days, moult_max_days, day_min_c, day_max_c, rh_min,
            rh_max, prey, water, substrate, ventilation, hide, uneaten_hours, water_days, clean_days, moult_check_days, count_days, basis)
         SELECT profile.id, stage.name, 7, 10, 60, 120, 22, 27, 50, 70, 'small', 'dish', 'dry', 'medium', 'hide', 24, 7, 30, 30, 30,
            'common practice'
         FROM care_profile AS profile, (SELECT 'spiderling' AS name UNION SELECT 'juvenile' UNION SELECT 'adult') AS stage",
    ] {
        sqlx::query(statement).execute(&house.app.database.writer).await.unwrap();
    }
    house
}

/// A bought-in animal of a species, 50 mm in leg span, in a box 200 mm long on shelf 1, since 1 January 2026.
pub async fn animal(house: &TestHouse, species: i64) -> AnimalId {
    let source = check_source("C").unwrap();
    let origin = NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: String::new() };
    let mut new = NewAnimal::new(SpeciesId(species), origin, source, day("2026-01-01"));
    new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: 50, method: SpanMethod::Measured });
    new.instar = Some(6);
    new.shelf = Some(silkward::house::ids::ShelfId(1));
    new.enclosure = Some(silkward::animals::model::Enclosure { length_mm: 200, width_mm: Some(150), fall_gap_mm: None });
    let mut write = house.app.write(None).await.unwrap();
    let id = store::insert(&mut write, &new).await.unwrap();
    write.commit(Change::new("animal.added", "animal", ""), "/").await.unwrap();
    id
}

/// Clears a member up to a level, by an assessor from outside; for the first clearance of a house only.
pub async fn cleared(house: &TestHouse, member: silkward::house::ids::MemberId, level: i64) {
    let owner = house.person("Ona", "owner").await.id();
    sqlx::query(
        "INSERT INTO clearance (member_id, level, granted_by, outside_assessor, evidence, valid_from, valid_until, granted_at)
         VALUES (?, ?, ?, 'An assessor', 'seen at work', '2026-01-01', '2027-01-01', '2026-01-01T00:00:00+00:00')",
    )
    .bind(member)
    .bind(level)
    .bind(owner)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
}

/// The tag of an animal.
pub async fn tag_of(house: &TestHouse, id: AnimalId) -> String {
    store::require(&mut house.app.read().await.unwrap(), id).await.unwrap().tag
}
