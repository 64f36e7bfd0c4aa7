//! The store of cohorts: what the book takes, what it refuses, and the figure that each refusal names.

use std::collections::BTreeMap;

use silkward::cohorts::model::{NewLine, NewSplit, NewTags};
use silkward::cohorts::store;
use silkward::house::audit::Change;
use silkward::house::ids::ShelfId;
use silkward::reckoning::ledger::{Bucket, survival_to};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post, refusal, reverse};
use crate::support::TestHouse;

const EWL: Stage = Stage::PostEmbryo;
const I1: Stage = Stage::Instar(1);
const I2: Stage = Stage::Instar(2);

/// 240 post-embryos, 231 first instar, 219 separated second instar; 140 sold, 31 dead, 1 escaped, 5 traded:
/// 42 on hand, 20 held back, 22 free; 91.25 % reached the second instar (arithmetic on the rule; common practice, no source).
#[tokio::test]
async fn the_worked_value_of_a_brood_comes_out() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(EWL, 240)]).await;
    let lines = [
        NewLine::lost(april(2), EWL, 9, LossCause::Mould),
        NewLine::moulted(april(3), EWL, I1, 231),
        NewLine::lost(april(4), I1, 12, LossCause::FailedMoult),
        NewLine::moulted(april(5), I1, I2, 219),
        NewLine::sold(april(6), I2, 140),
        NewLine::lost(april(7), I2, 31, LossCause::Desiccation),
        NewLine::lost(april(8), I2, 1, LossCause::Escape),
        NewLine::sold(april(9), I2, 5).with_note("traded"),
    ];
    for line in &lines {
        post(&house.app, id, line).await.unwrap();
    }
    let mut write = house.app.write(None).await.unwrap();
    store::hold_back(&mut write, id, april(10), 20, "for breeding").await.unwrap();
    write.commit(Change::new("test.held", "cohort 1", ""), "/").await.unwrap();
    let mut db = house.app.read().await.unwrap();
    assert_eq!((store::alive(&mut db, id).await.unwrap(), store::held_back(&mut db, id).await.unwrap()), (42, 20));
    let reached = survival_to(&store::lines(&mut db, id).await.unwrap(), I2);
    assert_eq!(reached.ratio(), Some(0.9125));
    drop(db);
    let said = refusal(post(&house.app, id, &NewLine::sold(april(10), I2, 23)).await);
    assert_eq!(said, "Only 22 are free to go: 42 alive, 20 held back for breeding.");
    post(&house.app, id, &NewLine::sold(april(10), I2, 22)).await.unwrap();
}

#[tokio::test]
async fn a_shortage_names_the_figure_the_stage_and_the_day() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(I2, 40)]).await;
    post(&house.app, id, &NewLine::lost(april(3), I2, 3, LossCause::Unknown)).await.unwrap();
    let said = refusal(post(&house.app, id, &NewLine::sold(april(3), I2, 38)).await);
    assert_eq!(said, "Only 37 stand at second instar on 3 Apr 2026; 38 can't be taken from there.");
    let said = refusal(post(&house.app, id, &NewLine::sold(april(2), I2, 38)).await);
    assert_eq!(said, "Only 37 stand at second instar on 3 Apr 2026, after what was entered for later days; 38 can't be taken from there.");
    let said = refusal(post(&house.app, id, &NewLine::sold(april(16), I2, 1)).await);
    assert!(said.starts_with("This day is still to come"), "{said}");
    let said = refusal(post(&house.app, id, &NewLine::sold("2026-03-31".parse().unwrap(), I2, 1)).await);
    assert_eq!(said, "This cohort began on 1 Apr 2026; enter that day or a later one.");
}

#[tokio::test]
async fn a_line_is_taken_back_once_and_only_while_its_spiderlings_are_there() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(I1, 10)]).await;
    let moult = post(&house.app, id, &NewLine::moulted(april(2), I1, I2, 10)).await.unwrap();
    let loss = post(&house.app, id, &NewLine::lost(april(3), I2, 1, LossCause::Mites)).await.unwrap();
    let said = refusal(reverse(&house.app, id, moult).await);
    assert!(said.starts_with("Only 9 stand at second instar on 3 Apr 2026"), "{said}");
    let reversal = reverse(&house.app, id, loss).await.unwrap();
    assert_eq!(refusal(reverse(&house.app, id, loss).await), "This line has been taken back already.");
    assert!(refusal(reverse(&house.app, id, reversal).await).contains("takes another back"));
    reverse(&house.app, id, moult).await.unwrap();
    let mut db = house.app.read().await.unwrap();
    let standing = store::standing(&mut db, id).await.unwrap();
    assert_eq!(standing.iter().map(|count| (count.stage, count.quantity)).collect::<Vec<_>>(), [(I1, 10)]);
}

#[tokio::test]
async fn a_split_is_one_count_in_two_books_and_goes_back_in_both() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(I2, 30)]).await;
    let new =
        NewSplit { day: april(4), stage: I2, quantity: 12, code: None, shelf: Some(ShelfId(2)), position: Some(4), note: String::new() };
    let mut write = house.app.write(None).await.unwrap();
    let child = store::split(&mut write, id, &new).await.unwrap();
    write.commit(Change::new("test.split", "cohort 1", ""), "/").await.unwrap();
    let mut db = house.app.read().await.unwrap();
    assert_eq!((store::alive(&mut db, id).await.unwrap(), store::alive(&mut db, child).await.unwrap()), (18, 12));
    let arrival = store::entered(&mut db, child).await.unwrap()[0].id;
    drop(db);
    reverse(&house.app, child, arrival).await.unwrap();
    let mut db = house.app.read().await.unwrap();
    assert_eq!((store::alive(&mut db, id).await.unwrap(), store::alive(&mut db, child).await.unwrap()), (30, 0));
}

#[tokio::test]
async fn tagged_spiderlings_become_animals_and_their_line_stays() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(I2, 30)]).await;
    let new = NewTags { day: april(4), stage: I2, quantity: 3, shelf: Some(ShelfId(1)), note: String::new() };
    let mut write = house.app.write(None).await.unwrap();
    let animals = store::separate_and_tag(&mut write, id, &new).await.unwrap();
    write.commit(Change::new("test.tagged", "cohort 1", ""), "/").await.unwrap();
    assert_eq!(animals.len(), 3);
    let mut db = house.app.read().await.unwrap();
    let line = store::line_of(&mut db, id, animals[0]).await.unwrap();
    assert_eq!(store::tagged_by(&mut db, id, line).await.unwrap().len(), 3);
    drop(db);
    assert!(refusal(reverse(&house.app, id, line).await).contains("carry tags now"));
}

#[tokio::test]
async fn a_recount_becomes_variance_lines() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(I1, 20), (I2, 30)]).await;
    let mut write = house.app.write(None).await.unwrap();
    let counted = BTreeMap::from([(I1, 22), (I2, 27)]);
    assert_eq!(store::recount(&mut write, id, april(4), &counted, "second count").await.unwrap(), 2);
    write.commit(Change::new("test.recounted", "cohort 1", ""), "/").await.unwrap();
    let mut db = house.app.read().await.unwrap();
    let balance = store::balance_on(&mut db, id, april(4)).await.unwrap();
    assert_eq!((balance.of(Bucket::Stage(I1)), balance.of(Bucket::Stage(I2)), balance.of(Bucket::Variance)), (22, 27, 1));
    assert!(balance.conserved());
    assert_eq!(store::balance_on(&mut db, id, april(3)).await.unwrap().alive(), 50);
}
