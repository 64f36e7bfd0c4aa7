//! What happens to an animal, as it is kept and as it is taken back.

use silkward::animals::model::{AnimalStatus, NewMeal, NewMoult, NewMove, NewSpan};
use silkward::animals::store;
use silkward::house::audit::Change;
use silkward::house::errors::AppError;
use silkward::house::ids::{AnimalId, ShelfId, SignoffId};
use silkward::house::write::Write;
use silkward::reckoning::words::{LifeStage, LossCause, MealOutcome, MoultState, SpanKind, SpanMethod};

use super::support::{animal, day, house};
use crate::support::{TestHouse, number};

/// A sign-off of a duty of the animal, as the rounds would leave it.
async fn signoff(write: &mut Write, id: AnimalId, member: i64) -> SignoffId {
    let duty: i64 = sqlx::query_scalar(
        "INSERT INTO duty (kind, animal_id, due_on, late_after, seconds, exposure, band, clearance, persons, reason, planned_at)
         VALUES ('feed', ?, '2026-04-15', '2026-04-15', 60, 'open', 0, 0, 1, 'test', '2026-04-15T00:00:00+00:00') RETURNING id",
    )
    .bind(id)
    .fetch_one(write.db())
    .await
    .unwrap();
    sqlx::query_scalar(
        "INSERT INTO signoff (duty_id, member_id, at, day, outcome, clearance, persons)
         VALUES (?, ?, '2026-04-15T12:00:00+00:00', '2026-04-15', 'took', 0, 1) RETURNING id",
    )
    .bind(duty)
    .bind(member)
    .fetch_one(write.db())
    .await
    .unwrap()
}

async fn save(write: Write) {
    write.commit(Change::new("test.done", "animal", ""), "/").await.unwrap();
}

fn meal(on: &str, outcome: MealOutcome, signoff: Option<SignoffId>) -> NewMeal {
    NewMeal { day: day(on), prey: "cricket".to_owned(), outcome, signoff }
}

fn moult(on: &str, mm: i64, signoff: Option<SignoffId>) -> NewMoult {
    let span = Some(NewSpan { kind: SpanKind::LegSpan, mm, method: SpanMethod::Measured });
    NewMoult { day: day(on), skin_kept: true, note: String::new(), span, signoff }
}

async fn last_outcome(house: &TestHouse) -> Option<MealOutcome> {
    sqlx::query_scalar("SELECT outcome FROM meal_standing ORDER BY day DESC, id DESC LIMIT 1")
        .fetch_optional(&house.app.database.writer)
        .await
        .unwrap()
}

#[tokio::test]
async fn a_moult_adds_an_instar_and_outdates_the_signs_before_it() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    store::record_sign(&mut write, id, MoultState::PreMoult, day("2026-04-01"), None).await.unwrap();
    assert_eq!(store::require(write.db(), id).await.unwrap().moult_state, MoultState::PreMoult);
    store::record_moult(&mut write, id, &moult("2026-04-10", 66, None)).await.unwrap();
    let now = store::require(write.db(), id).await.unwrap();
    assert_eq!((now.instar(), now.span_mm, now.moult_state), (Some(7), Some(66), MoultState::Normal));
    assert_eq!((now.last_moult_on, now.moults_here), (Some(day("2026-04-10")), 1));
    let twice = store::record_moult(&mut write, id, &moult("2026-04-10", 66, None)).await;
    assert!(matches!(twice, Err(AppError::Refused(_))));
}

#[tokio::test]
async fn striking_out_a_sign_off_takes_back_all_that_it_brought() {
    let house = house().await;
    let member = house.person("Bo", "keeper").await.id().0;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    let by = signoff(&mut write, id, member).await;
    store::record_meal(&mut write, id, &meal("2026-04-15", MealOutcome::Took, Some(by))).await.unwrap();
    store::record_moult(&mut write, id, &moult("2026-04-15", 66, Some(by))).await.unwrap();
    store::record_sign(&mut write, id, MoultState::Normal, day("2026-04-15"), Some(by)).await.unwrap();
    store::strike_out(&mut write, by).await.unwrap();
    let now = store::require(write.db(), id).await.unwrap();
    assert_eq!((now.span_mm, now.moults_here, now.last_meal_id, now.last_sign_id), (Some(50), 0, None, None));
    save(write).await;
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 2, "the entry and its striking out both stay");
}

#[tokio::test]
async fn clearing_prey_corrects_the_meal_and_undoing_it_brings_the_prey_back() {
    let house = house().await;
    let member = house.person("Bo", "keeper").await.id().0;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    let fed = signoff(&mut write, id, member).await;
    let cleared = signoff(&mut write, id, member).await;
    store::record_meal(&mut write, id, &meal("2026-04-14", MealOutcome::LeftIn, Some(fed))).await.unwrap();
    store::clear_left_in(&mut write, id, MealOutcome::Took, Some(cleared)).await.unwrap();
    let again = store::clear_left_in(&mut write, id, MealOutcome::Took, Some(cleared)).await;
    assert!(matches!(again, Err(AppError::Conflict(_))));
    save(write).await;
    assert_eq!(last_outcome(&house).await, Some(MealOutcome::Took));
    let mut write = house.app.write(None).await.unwrap();
    store::strike_out(&mut write, cleared).await.unwrap();
    save(write).await;
    assert_eq!(last_outcome(&house).await, Some(MealOutcome::LeftIn));
    let mut write = house.app.write(None).await.unwrap();
    store::strike_out(&mut write, fed).await.unwrap();
    save(write).await;
    assert_eq!(last_outcome(&house).await, None);
}

#[tokio::test]
async fn a_move_keeps_where_it_stood_and_a_rehouse_its_new_box() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    let to =
        NewMove { day: day("2026-04-15"), shelf: Some(ShelfId(2)), position: Some(4), rehoused: false, enclosure: None, signoff: None };
    store::record_move(&mut write, id, &to).await.unwrap();
    let now = store::require(write.db(), id).await.unwrap();
    assert_eq!((now.shelf_id, now.position, now.enclosure_length_mm), (Some(ShelfId(2)), Some(4), Some(200)));
    save(write).await;
    let labels: (String, String) =
        sqlx::query_as("SELECT from_label, to_label FROM stock_move").fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(labels, ("Quiet room · B · shelf 1".to_owned(), "Quiet room · B · shelf 2, position 4".to_owned()));
}

#[tokio::test]
async fn nothing_leaves_twice_and_only_an_escape_comes_back() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    let dead = store::record_leaving(&mut write, id, AnimalStatus::Dead, None, day("2026-04-10")).await;
    assert!(matches!(dead, Err(AppError::Refused(_))), "a death needs a cause");
    store::record_leaving(&mut write, id, AnimalStatus::Escaped, None, day("2026-04-10")).await.unwrap();
    store::record_return(&mut write, id, day("2026-04-12"), Some(ShelfId(1)), None).await.unwrap();
    store::record_leaving(&mut write, id, AnimalStatus::Dead, Some(LossCause::Fall), day("2026-04-13")).await.unwrap();
    let twice = store::record_leaving(&mut write, id, AnimalStatus::Sold, None, day("2026-04-14")).await;
    let Err(AppError::Conflict(why)) = twice else { panic!("sold after death: {twice:?}") };
    assert_eq!(why, "This animal is in the book as dead since 13 Apr 2026. It can't leave twice.");
    let fed = store::record_meal(&mut write, id, &meal("2026-04-14", MealOutcome::Took, None)).await;
    assert!(matches!(fed, Err(AppError::Refused(_))));
    let back = store::record_return(&mut write, id, day("2026-04-14"), None, None).await;
    assert!(matches!(back, Err(AppError::Conflict(_))));
}

#[tokio::test]
async fn the_band_rises_with_an_individual_caution() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut write = house.app.write(None).await.unwrap();
    let (facts, hazard) = store::hazard(write.db(), id).await.unwrap();
    assert_eq!((facts.life_stage, hazard.band.level()), (LifeStage::Juvenile, 1));
    sqlx::query("INSERT INTO caution (animal_id, level, text, at) VALUES (?, 2, 'bolts at the lid', '2026-04-15T12:00:00+00:00')")
        .bind(id)
        .execute(write.db())
        .await
        .unwrap();
    assert_eq!(store::hazard(write.db(), id).await.unwrap().1.band.level(), 2);
}

#[tokio::test]
async fn a_growth_that_nobody_would_believe_is_doubted() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut db = house.app.read().await.unwrap();
    // Common practice, no source: × 1.05 to × 1.70 over one moult is plausible.
    assert_eq!(store::span_doubt(&mut db, id, day("2026-04-10"), 66).await.unwrap(), None);
    assert!(store::span_doubt(&mut db, id, day("2026-04-10"), 90).await.unwrap().unwrap().contains("check the measurement"));
    assert!(store::span_doubt(&mut db, id, day("2026-04-10"), 50).await.unwrap().is_some());
    assert_eq!(store::span_doubt(&mut db, id, day("2025-12-31"), 90).await.unwrap(), None, "nothing was measured before that day");
}

#[tokio::test]
async fn a_tag_is_made_that_holds_and_is_found_however_it_is_typed() {
    let house = house().await;
    let first = animal(&house, 1).await;
    let second = animal(&house, 2).await;
    let mut db = house.app.read().await.unwrap();
    let tag = store::require(&mut db, second).await.unwrap().tag;
    assert!(silkward::reckoning::tag::holds(&tag));
    assert_ne!(tag, store::require(&mut db, first).await.unwrap().tag);
    let typed = format!(" {}-{} ", tag[..2].to_lowercase(), &tag[2..]);
    assert_eq!(store::find_by_tag(&mut db, &typed).await.unwrap(), Some(second));
}
