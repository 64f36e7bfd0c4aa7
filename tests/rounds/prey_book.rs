//! The book of prey: what meals take, what comes and is lost, counts, and what is refused.

use super::stock::{
    CALM, FRUIT_FLY, LARGE_CRICKET, animal, cohort, give_all, house, on_hand, open_cohort_duty, open_duty, plan, prey_list, sign,
};
use crate::support::{Person, TestHouse, number};

async fn stocked() -> (TestHouse, Person) {
    let house = house().await;
    prey_list(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    for (kind, many) in [("6", "50"), ("2", "400")] {
        enter(&mut bo, &[("what", "delivered"), ("kind", kind), ("day", "2026-04-10"), ("quantity", many)]).await.sent_to();
    }
    (house, bo)
}

async fn enter(person: &mut Person, fields: &[(&str, &str)]) -> crate::support::Page {
    person.submit("/today/prey/enter", fields).await
}

#[tokio::test]
async fn one_tap_takes_one_and_taking_it_back_gives_it_back() {
    let (house, mut bo) = stocked().await;
    let fed = animal(&house, CALM, 1).await;
    plan(&house).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, fed, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 49);
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 50);
    // Refused live prey goes back.
    let feed = open_duty(&house, fed, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "refused")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 50);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM prey_line WHERE what = 'used'").await, 2);
}

#[tokio::test]
async fn prey_that_was_left_in_is_used_whether_eaten_or_taken_out() {
    for outcome in ["took", "refused"] {
        let (house, mut bo) = stocked().await;
        let fed = animal(&house, CALM, 1).await;
        plan(&house).await;
        give_all(&house, bo.id()).await;
        let feed = open_duty(&house, fed, "feed").await.unwrap();
        sign(&mut bo, feed, &[("outcome", "left-in")]).await.sent_to();
        assert_eq!(on_hand(&house, LARGE_CRICKET).await, 49);
        house.set_clock("2026-04-16T12:00:00Z");
        plan(&house).await;
        let mut bo = house.sign_in(bo.id()).await;
        let clear = open_duty(&house, fed, "clear-uneaten").await.unwrap();
        sign(&mut bo, clear, &[("outcome", outcome)]).await.sent_to();
        assert_eq!(on_hand(&house, LARGE_CRICKET).await, 49, "{outcome}");
        bo.submit_at("/round", "/round/sign-offs/2/undo", &[]).await.sent_to();
        assert_eq!(on_hand(&house, LARGE_CRICKET).await, 49, "{outcome} taken back");
    }
}

#[tokio::test]
async fn a_cohort_takes_one_for_each_mouth_and_what_is_pre_killed_never_goes_back() {
    let (house, mut bo) = stocked().await;
    let young = cohort(&house, CALM, 40).await;
    plan(&house).await;
    give_all(&house, bo.id()).await;
    let feed = open_cohort_duty(&house, young, "feed").await.unwrap();
    let figures = format!("/round/duties/{feed}/figures");
    let form = [("took", "30"), ("refused", "8"), ("left_in", "2")];
    bo.submit_at(&format!("/round/duties/{feed}"), &figures, &form).await.sent_to();
    assert_eq!(on_hand(&house, FRUIT_FLY).await, 360);
    bo.submit_at("/round", "/round/sign-offs/1/undo", &[]).await.sent_to();
    assert_eq!(on_hand(&house, FRUIT_FLY).await, 400);
    // At 20 mm it takes live prey: what was refused goes back, what lay there overnight does not.
    sqlx::query("UPDATE cohort SET span_mm = 20").execute(&house.app.database.writer).await.unwrap();
    let feed = open_cohort_duty(&house, young, "feed").await.unwrap();
    bo.submit_at(&format!("/round/duties/{feed}"), &format!("/round/duties/{feed}/figures"), &form).await.sent_to();
    assert_eq!(on_hand(&house, FRUIT_FLY).await, 368);
    house.set_clock("2026-04-16T12:00:00Z");
    plan(&house).await;
    let mut bo = house.sign_in(bo.id()).await;
    let clear = open_cohort_duty(&house, young, "clear-uneaten").await.unwrap();
    sign(&mut bo, clear, &[("outcome", "refused")]).await.sent_to();
    assert_eq!(on_hand(&house, FRUIT_FLY).await, 368);
    bo.submit_at("/round", "/round/sign-offs/4/undo", &[]).await.sent_to();
    assert_eq!(on_hand(&house, FRUIT_FLY).await, 368);
}

#[tokio::test]
async fn bad_input_is_named_all_at_once_and_kept() {
    let (house, mut bo) = stocked().await;
    let before = number(&house, "SELECT COUNT(*) FROM prey_line").await;
    let form = [
        ("what", "delivered"),
        ("kind", "999"),
        ("day", "2026-04-16"),
        ("quantity", "-5"),
        ("cost", "12.345"),
        ("note", "from the morning"),
    ];
    let page = enter(&mut bo, &form).await.is(422);
    let page = page.says("not in the book").says("still to come").says("whole number from 1 to 1000000").says("at most two decimal places");
    for (field, typed) in [("day", "2026-04-16"), ("quantity", "-5"), ("cost", "12.345"), ("note", "from the morning")] {
        assert_eq!(page.value(&format!("input[name={field}]")), typed);
    }
    let fine = [("what", "delivered"), ("kind", "6"), ("day", "2026-04-15")];
    let with = |more: &[(&'static str, &'static str)]| [&fine[..], more].concat();
    enter(&mut bo, &with(&[("quantity", "1000000000000")])).await.is(422).says("whole number from 1 to 1000000");
    enter(&mut bo, &with(&[("quantity", "5"), ("packs", "2")])).await.is(422).says("not both");
    enter(&mut bo, &with(&[])).await.is(422);
    enter(&mut bo, &with(&[("packs", "0")])).await.is(422);
    enter(&mut bo, &[("what", "used"), ("kind", "6"), ("day", "2026-04-15"), ("quantity", "5")])
        .await
        .is(422)
        .says("Choose one of the list");
    enter(&mut bo, &[("what", "died"), ("kind", "6"), ("day", "2026-04-15"), ("quantity", "5"), ("cost", "1")])
        .await
        .is(422)
        .says("Only a delivery");
    enter(&mut bo, &[("what", "died"), ("kind", "6"), ("day", "2026-04-15"), ("quantity", "51")]).await.is(422).says("The book has 50");
    let count = [("kind", "6"), ("counted", "-1"), ("kind", "2"), ("counted", "12")];
    let page = bo.submit("/today/prey/count", &count).await.is(422);
    assert_eq!(page.value("#counted-6"), "-1");
    assert_eq!(page.value("#counted-2"), "12");
    bo.submit("/today/prey/count", &[("kind", "6"), ("counted", "")]).await.is(422).says("at least one kind");
    bo.submit("/today/prey/count", &[("kind", "77"), ("counted", "4")]).await.is(422);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM prey_line").await, before);
    // Packs and a cost, as they should be.
    enter(&mut bo, &with(&[("packs", "2"), ("cost", "12,5")])).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 150);
    assert_eq!(number(&house, "SELECT cost_minor FROM prey_line ORDER BY id DESC LIMIT 1").await, 1250);
}

#[tokio::test]
async fn more_used_than_there_was_is_written_and_doubted_and_a_count_settles_it() {
    let (house, mut bo) = stocked().await;
    let fed = animal(&house, CALM, 1).await;
    plan(&house).await;
    give_all(&house, bo.id()).await;
    bo.submit("/today/prey/count", &[("kind", "6"), ("counted", "0")]).await.sent_to();
    let feed = open_duty(&house, fed, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, -1);
    bo.get("/today/prey").await.ok().says("1 more used than there were: counted wrong?");
    bo.get("/today/prey/book/6").await.ok().says("0 on hand").says("counted wrong?");
    let said = bo.submit("/today/prey/count", &[("kind", "6"), ("counted", "7")]).await.sent_to();
    bo.get(&said).await.ok().says("8 more than the book had").lacks("counted wrong?");
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 7);
}

#[tokio::test]
async fn what_is_entered_late_for_a_day_before_the_count_is_in_the_count() {
    let (house, mut bo) = stocked().await;
    let fed = animal(&house, CALM, 1).await;
    bo.submit("/today/prey/count", &[("kind", "6"), ("counted", "30")]).await.sent_to();
    let page = format!("/animals/{fed}/fed");
    bo.submit(&page, &[("day", "2026-04-12"), ("outcome", "took")]).await.sent_to();
    enter(&mut bo, &[("what", "delivered"), ("kind", "6"), ("day", "2026-04-11"), ("quantity", "100")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 30);
    assert_eq!(number(&house, "SELECT -SUM(quantity) FROM prey_line WHERE what = 'used'").await, 1);
    enter(&mut bo, &[("what", "thrown"), ("kind", "6"), ("day", "2026-04-15"), ("quantity", "30")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 0);
}

#[tokio::test]
async fn a_line_is_taken_back_once_with_a_reason_and_never_changed() {
    let (house, mut bo) = stocked().await;
    let book = "/today/prey/book/6";
    let back = format!("{book}/lines/1/back");
    bo.submit_at(book, &back, &[("why", "")]).await.is(422).says("Fill this in");
    bo.submit_at(book, &back, &[("why", "typed twice")]).await.sent_to();
    assert_eq!(on_hand(&house, LARGE_CRICKET).await, 0);
    bo.get(book).await.ok().says("taken back").says("typed twice");
    bo.submit_at("/today/prey/enter", &back, &[("why", "again")]).await.is(409);
    bo.submit_at("/today/prey/enter", "/today/prey/book/2/lines/1/back", &[("why", "another kind")]).await.is(404);
    let writer = &house.app.database.writer;
    for statement in [
        "UPDATE prey_line SET quantity = 5",
        "DELETE FROM prey_line",
        "DELETE FROM prey_kind",
        "DELETE FROM prey_balance",
        "INSERT INTO prey_line (kind_id, day, what, quantity, at) VALUES (6, '2026-04-15', 'died', -1, '2026-04-15T08:00:00+00:00')",
        "INSERT INTO prey_line (kind_id, day, what, quantity, at) VALUES (6, '2026-04-15', 'delivered', -1, '2026-04-15T08:00:00+00:00')",
        "INSERT INTO prey_line (kind_id, day, what, quantity, at) VALUES (6, '2026-04-15', 'used', -1, '2026-04-15T08:00:00+00:00')",
        "INSERT INTO prey_line (kind_id, day, what, quantity, reverses_id, at) VALUES (2, '2026-04-10', 'reversed', -399, 2, '2026-04-15T08:00:00+00:00')",
        "UPDATE prey_usual SET each = 2",
    ] {
        let done = sqlx::query(statement).execute(writer).await;
        assert!(done.is_err() || done.unwrap().rows_affected() == 0, "{statement}");
    }
}

#[tokio::test]
async fn the_book_is_verified_and_exported() {
    let (house, mut bo) = stocked().await;
    let fed = animal(&house, CALM, 1).await;
    bo.submit(&format!("/animals/{fed}/fed"), &[("day", "2026-04-15"), ("outcome", "took")]).await.sent_to();
    assert_eq!(silkward::records::verify::run(&house.app).await.unwrap().findings, Vec::<String>::new());
    // Without words of its own the meal carries those of the list.
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal WHERE prey = 'cricket, large'").await, 1);
    let writer = &house.app.database.writer;
    sqlx::query("UPDATE prey_balance SET quantity = 51 WHERE kind_id = 6").execute(writer).await.unwrap();
    let findings = silkward::records::verify::run(&house.app).await.unwrap().findings;
    assert_eq!(findings, ["prey, cricket, large: the balance says 51, its lines sum to 49; 1 were used by its lines, 1 by the meals"]);
}
