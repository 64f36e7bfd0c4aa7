//! Counts that are made twice, at the opening of a sac and at separation. The rule is common practice, no source.

use silkward::reckoning::stage::Stage;

use super::{breeders, lay};
use crate::cohorts::stock::cohort;
use crate::support::{Page, Person, number};

async fn open(keeper: &mut Person, sac: &str, counts: &[(&str, &str)]) -> Page {
    let mut fields = vec![("day", "2026-04-10"), ("source", "C"), ("housing", "communal"), ("count_stage", "ewl"), ("count_stage", "i1")];
    fields.extend_from_slice(counts);
    keeper.submit(&format!("{sac}/opened"), &fields).await
}

#[tokio::test]
async fn two_counts_that_differ_ask_for_a_third_and_keep_what_was_typed() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-02-20").await;
    let two = [("count", "230"), ("count", "10"), ("second", "226"), ("second", "10")];
    let again = open(&mut keeper, &sac, &two).await.is(422).says("The two counts differ by 4 (240 and 236)").says("Third count");
    assert_eq!((again.value("#count-ewl"), again.value("#second-i1")), ("230".to_owned(), "10".to_owned()));
    let none = [two[0], two[1], two[2], two[3], ("third", "222"), ("third", "10")];
    open(&mut keeper, &sac, &none).await.is(422).says("The third count, 232, agrees with neither 240 nor 236.");
    let three = [two[0], two[1], two[2], two[3], ("third", "227"), ("third", "10")];
    let cohort = open(&mut keeper, &sac, &three).await.sent_to();
    keeper.get(&cohort).await.ok().says("237 alive").says("counted 240 and 236, then 237 on 10 Apr 2026: taken 237");
    keeper.get(&sac).await.ok().says("Counted twice").says("taken 237");
    let kept = "SELECT COUNT(*) FROM count_check WHERE first = 240 AND second = 236 AND third = 237 AND accepted = 237 AND difference = 1 AND what = 'opening'";
    assert_eq!(number(&house, kept).await, 1);
}

#[tokio::test]
async fn two_counts_that_agree_are_enough_and_the_later_is_taken() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-02-20").await;
    open(&mut keeper, &sac, &[("count", "150"), ("count", "")]).await.is(422).says("Count a second time");
    open(&mut keeper, &sac, &[("count", "0"), ("count", ""), ("second", "0"), ("second", "")])
        .await
        .is(422)
        .says("Nothing alive is counted.");
    open(&mut keeper, &sac, &[("count", "150"), ("count", ""), ("second", "many"), ("second", "")])
        .await
        .is(422)
        .says("enter a whole number");
    // A difference of 3 of 150 is exactly 2 %.
    let cohort = open(&mut keeper, &sac, &[("count", "150"), ("count", ""), ("second", "147"), ("second", "")]).await.sent_to();
    keeper.get(&cohort).await.ok().says("147 alive").lacks("Third count");
    assert_eq!(number(&house, "SELECT difference FROM count_check").await, 3);
    for (first, second, third, accepted) in
        [(100, 97, "NULL", 97), (1000, 996, "NULL", 996), (100, 98, "NULL", 100), (240, 230, "235", 235)]
    {
        let told = sqlx::query(sqlx::AssertSqlSafe(format!(
            "INSERT INTO count_check (cohort_id, what, day, first, second, third, accepted, difference, at)
             VALUES (1, 'opening', '2026-04-10', {first}, {second}, {third}, {accepted}, 1, 'x')"
        )))
        .execute(&house.app.database.writer)
        .await;
        assert!(told.is_err(), "{first} {second} {third}");
    }
}

/// 240 post-embryos, 231 first instar, and 222 second instar by the book, of which 219 are found at separation: 91.25 % of 240. The
/// difference is a correction, not a death.
#[tokio::test]
async fn at_separation_what_differs_from_the_book_becomes_a_correction() {
    let (house, mut keeper) = breeders().await;
    let id = cohort(&house.app, &[(Stage::Instar(2), 222)]).await;
    let page = format!("/cohorts/{id}/separated");
    keeper.get(&page).await.ok().says("The book has 222 second instar");
    let with = |first: &'static str, second: &'static str| {
        [
            ("day", "2026-04-10"),
            ("count_stage", "i2"),
            ("count", first),
            ("count_stage", "i3"),
            ("count", ""),
            ("second", second),
            ("second", ""),
        ]
    };
    keeper.submit(&page, &with("219", "")).await.is(422).says("Count a second time");
    keeper.submit(&page, &with("219", "210")).await.is(422).says("Count a third time");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort WHERE housing = 'vials'").await, 0);
    let there = keeper.submit(&page, &with("218", "219")).await.sent_to();
    let told =
        keeper.get(&there).await.ok().says("in vials since 10 Apr 2026").says("the book had 222, the difference of 3 is a correction");
    told.says("219 alive");
    let lines =
        "SELECT COUNT(*) FROM ledger_line WHERE kind = 'recounted' AND from_bucket = 'i2' AND to_bucket = 'variance' AND quantity = 3";
    assert_eq!(number(&house, lines).await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line WHERE kind = 'lost'").await, 0);
    assert_eq!(number(&house, "SELECT book FROM count_check WHERE what = 'separation'").await, 222);
    keeper.submit(&page, &with("219", "219")).await.is(422).says("has stood in vials since");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM count_check").await, 1);
}
