//! What is given: by the house's rule, as somebody chose for one animal, or as was said at the meal; and the lists behind it.

use super::stock::{CALM, LARGE_CRICKET, animal, cohort, give_all, house, on_hand, open_duty, plan, prey_list, sign};
use crate::support::number;

#[tokio::test]
async fn what_was_chosen_for_an_animal_is_given_until_it_is_by_the_rule_again() {
    let house = house().await;
    let fed = animal(&house, CALM, 1).await;
    prey_list(&house).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let page = format!("/today/prey/usual/animals/{fed}");
    bo.get(&page).await.ok().says("1 × cricket, large (22 mm)").says("Leg span 60 mm: prey up to 24 mm (from 4 cm on).");
    let again = bo.submit(&page, &[("kind", "99"), ("each", "many"), ("note", "missing a fang")]).await.is(422);
    assert_eq!(again.value("input[name=note]"), "missing a fang");
    bo.submit(&page, &[("kind", "4"), ("each", "3"), ("note", "missing a fang")]).await.sent_to();
    bo.get("/round").await.ok().says("Prey: 3 × cricket, small (6 mm)");
    let feed = open_duty(&house, fed, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "took")]).await.sent_to();
    assert_eq!((on_hand(&house, 4).await, on_hand(&house, LARGE_CRICKET).await), (-3, 0));
    bo.submit(&page, &[("kind", ""), ("each", "1"), ("note", "grown back")]).await.sent_to();
    bo.get(&page).await.ok().says("1 × cricket, large (22 mm)");
    // A kind that the house gives up is not given any more.
    bo.submit(&page, &[("kind", "4"), ("each", "3"), ("note", "")]).await.sent_to();
    sqlx::query("UPDATE prey_kind SET active = 0 WHERE id = 4").execute(&house.app.database.writer).await.unwrap();
    bo.get(&page).await.ok().says("1 × cricket, large (22 mm)");
    bo.get("/today/prey/usual/plants/1").await.is(404);
    bo.get("/today/prey/usual/animals/77").await.is(404);
}

#[tokio::test]
async fn another_kind_or_nothing_from_stock_can_be_said_at_the_meal() {
    let house = house().await;
    let (one, other) = (animal(&house, CALM, 1).await, animal(&house, CALM, 1).await);
    let young = cohort(&house, CALM, 10).await;
    prey_list(&house).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let feed = open_duty(&house, one, "feed").await.unwrap();
    bo.get(&format!("/round/duties/{feed}")).await.ok().says("From stock").says("nothing from stock");
    bo.submit_at(&format!("/round/duties/{feed}"), &format!("/round/duties/{feed}"), &[("outcome", "took"), ("from_stock", "77")])
        .await
        .is(422);
    bo.submit_at(&format!("/round/duties/{feed}"), &format!("/round/duties/{feed}"), &[("outcome", "took"), ("from_stock", "8")])
        .await
        .sent_to();
    assert_eq!((on_hand(&house, 8).await, on_hand(&house, LARGE_CRICKET).await), (-1, 0));
    let page = format!("/animals/{other}/fed");
    bo.get(&page).await.ok().says("as usual: 1 × cricket, large (22 mm)");
    bo.submit(&page, &[("day", "2026-04-15"), ("outcome", "took"), ("from_stock", "77")]).await.is(422);
    bo.submit(&page, &[("day", "2026-04-15"), ("outcome", "took"), ("from_stock", "none"), ("prey", "a waxworm")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM prey_line").await, 1);
    let feed = super::stock::open_cohort_duty(&house, young, "feed").await.unwrap();
    let (page, figures) = (format!("/round/duties/{feed}"), format!("/round/duties/{feed}/figures"));
    bo.submit_at(&page, &figures, &[("took", "10"), ("from_stock", "none")]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM prey_line").await, 1);
}

#[tokio::test]
async fn leads_keep_the_list_and_the_rules() {
    let house = house().await;
    let mut lea = house.person("Lea", "lead keeper").await;
    let list = "/today/prey/kinds";
    lea.get(list).await.ok().says("no list yet");
    lea.submit_at(list, "/today/prey/kinds/usual", &[]).await.sent_to();
    let bad = lea.submit(list, &[("name", ""), ("size", "small"), ("length_mm", "0"), ("per_pack", "1e3")]).await.is(422);
    let bad = bad.says("Fill this in").says("from 1 to 100.").says("from 1 to 100000.");
    assert_eq!(bad.value("input[name=per_pack]"), "1e3");
    let twice = [("name", "cricket"), ("size", "small"), ("length_mm", "7"), ("per_pack", "9"), ("staple", "yes"), ("active", "yes")];
    lea.submit(list, &twice).await.is(422).says("on the list already");
    let new = [("name", "waxworm"), ("size", "one size"), ("length_mm", "20"), ("per_pack", "50"), ("active", "yes")];
    lea.submit(list, &new).await.sent_to();
    lea.get(list).await.ok().says("waxworm").says("only where chosen");
    let change = [("name", "waxworm"), ("size", "large"), ("length_mm", "24"), ("per_pack", "40"), ("active", "yes"), ("version", "1")];
    lea.submit("/today/prey/kinds/12", &change).await.sent_to();
    lea.submit("/today/prey/kinds/12", &change).await.is(409);
    let rules = "/today/prey/rules";
    let form = |percent: &'static str, lead: &'static str| {
        let mut form = Vec::new();
        for class in ["small", "sling", "larger", "mature-male"] {
            form.extend([("class", class), ("most_percent", percent), ("each", "2")]);
        }
        form.extend([("killed", "small"), ("lead_days", lead), ("cover_days", "10")]);
        form
    };
    let bad = lea.submit(rules, &form("0", "99")).await.is(422).says("from 1 to 200").says("from 0 to 30");
    assert_eq!(bad.value("input[name=lead_days]"), "99");
    lea.submit(rules, &form("30", "5")).await.sent_to();
    lea.get("/today/prey").await.ok().says("To last 10 days after a delivery, which takes 5 days");
    let fed = animal(&house, CALM, 1).await;
    // 30 % of 60 mm are 18 mm: the medium cockroach, two at a meal.
    lea.get(&format!("/today/prey/usual/animals/{fed}")).await.ok().says("2 × cockroach, medium (18 mm)");
}
