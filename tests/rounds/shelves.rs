//! A shelf's feeding in one request.

use super::stock::{CALM, RISKY, animal, give_all, house, open_duty, plan, sign};
use crate::support::number;

#[tokio::test]
async fn all_took_it_with_exceptions_in_one_request() {
    let house = house().await;
    let animals = [animal(&house, CALM, 1).await, animal(&house, CALM, 1).await, animal(&house, CALM, 1).await];
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round/shelves/1/feed").await.ok().says("T-1").says("T-3");
    let (csrf, once) = page.tokens();
    let mut duties = Vec::new();
    for animal in animals {
        duties.push(open_duty(&house, animal, "feed").await.unwrap().to_string());
    }
    let exception = format!("outcome-{}", duties[1]);
    let form = [
        ("csrf", csrf.as_str()),
        ("once", once.as_str()),
        ("duty", duties[0].as_str()),
        ("duty", duties[1].as_str()),
        ("duty", duties[2].as_str()),
        (exception.as_str(), "left-in"),
    ];
    bo.post_raw("/round/shelves/1/feed", &form).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'took'").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'left-in'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'shelf.fed'").await, 1);
    bo.get("/round").await.ok().says("1 prey left in, 2 took it");
}

#[tokio::test]
async fn one_tap_for_a_shelf_and_who_was_faster_is_named() {
    let house = house().await;
    let first = animal(&house, CALM, 1).await;
    animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let mut cy = house.keeper("Cyprian", 2).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round").await.ok().says("All 2 took it");
    let (csrf, once) = page.tokens();
    let html = page.text();
    let feed = open_duty(&house, first, "feed").await.unwrap();
    sign(&mut cy, feed, &[("outcome", "refused")]).await.sent_to();
    let ids: Vec<String> = super::stock::hidden(&html, "form[action=\"/round/shelves/1/feed\"] input[name=duty]");
    assert_eq!(ids.len(), 2);
    let mut form = vec![("csrf", csrf.as_str()), ("once", once.as_str())];
    form.extend(ids.iter().map(|id| ("duty", id.as_str())));
    bo.post_raw("/round/shelves/1/feed", &form).await.sent_to();
    bo.get("/round").await.ok().says("1 took it").says("Feed T-1 was already done by Cyprian").says("Do not feed again.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 2);
}

#[tokio::test]
async fn dangerous_animals_are_read_by_name_first() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    animal(&house, RISKY, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    give_all(&house, bo.id()).await;
    bo.get("/round").await.ok().lacks("All 2 took it").says("Feed the shelf: 2");
    let page = bo.get("/round/shelves/1/feed").await.ok();
    assert_eq!(page.count(".caution-3 li"), 1);
    page.says("cramps may come hours after a bite");
}

#[tokio::test]
async fn a_duty_of_another_kind_or_shelf_is_refused() {
    let house = house().await;
    let here = animal(&house, CALM, 1).await;
    let there = animal(&house, CALM, 2).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    for duty in [open_duty(&house, there, "feed").await.unwrap(), open_duty(&house, here, "moult-check").await.unwrap()] {
        let id = duty.to_string();
        let answer = bo.submit_at("/round", "/round/shelves/1/feed", &[("duty", id.as_str())]).await;
        assert!(answer.status.is_client_error(), "{}", answer.status);
    }
    bo.submit_at("/round", "/round/shelves/1/feed", &[("duty", "99999")]).await.is(404);
    bo.get("/round/shelves/99/feed").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}
