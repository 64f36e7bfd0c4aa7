//! A rack's duties of one kind in one request.

use silkward::house::ids::AnimalId;

use super::stock::{CALM, RISKY, animal, give_all, hidden, house, open_duty, plan, sign};
use crate::support::{Page, Person, TestHouse, number};

const FEED: &str = "/round/racks/1/feed";

/// Sends the batch of the round's page as it stands there, with what was chosen instead.
async fn sign_all(person: &mut Person, page: &Page, path: &str, chosen: &[(String, &str)]) -> Page {
    let html = page.text();
    let (csrf, once) = page.tokens();
    let form = format!("form[action=\"{path}\"]");
    let mut fields = vec![("csrf".to_owned(), csrf), ("once".to_owned(), once)];
    for id in hidden(&html, &format!("{form} input[name=duty]")) {
        fields.push(("duty".to_owned(), id.clone()));
        let name = format!("outcome-{id}");
        let marked = hidden(&html, &format!("{form} input[name={name}][checked]"));
        if let Some((_, other)) = chosen.iter().find(|(field, _)| *field == name) {
            fields.push((name, (*other).to_owned()));
        } else if let Some(value) = marked.first() {
            fields.push((name, value.clone()));
        }
    }
    fields.extend(chosen.iter().filter(|(field, _)| field == "shelf").map(|(field, value)| (field.clone(), (*value).to_owned())));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    person.post_raw(path, &fields).await
}

async fn chosen(house: &TestHouse, animal: AnimalId, kind: &str) -> String {
    format!("outcome-{}", open_duty(house, animal, kind).await.unwrap())
}

#[tokio::test]
async fn all_took_it_with_exceptions_in_one_request() {
    let house = house().await;
    let animals = [animal(&house, CALM, 1).await, animal(&house, CALM, 2).await, animal(&house, CALM, 1).await];
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round").await.ok().says("All 3 took it").says("T-1").says("T-3");
    let exceptions = [(chosen(&house, animals[1], "feed").await, "left-in"), (chosen(&house, animals[2], "feed").await, "leave")];
    sign_all(&mut bo, &page, FEED, &exceptions).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'took'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE outcome = 'left-in'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'rack.signed'").await, 1);
    bo.get("/round").await.ok().says("1 prey left in, 1 took it").says("2 of ");
    assert!(open_duty(&house, animals[2], "feed").await.is_some(), "what was left for later stands open");
}

#[tokio::test]
async fn one_shelf_of_the_rack_is_signed_by_its_own_button() {
    let house = house().await;
    let (first, second) = (animal(&house, CALM, 1).await, animal(&house, CALM, 2).await);
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round").await.ok().says("Sign only this shelf (1)");
    sign_all(&mut bo, &page, FEED, &[("shelf".to_owned(), "2")]).await.sent_to();
    assert!(open_duty(&house, first, "feed").await.is_some());
    assert!(open_duty(&house, second, "feed").await.is_none());
}

#[tokio::test]
async fn looks_and_water_go_together_too_and_pre_moult_is_not_taken_for_no_change() {
    let house = house().await;
    let animals = [animal(&house, CALM, 1).await, animal(&house, CALM, 1).await];
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let check = open_duty(&house, animals[0], "moult-check").await.unwrap();
    sign(&mut bo, check, &[("outcome", "pre-moult")]).await.sent_to();
    house.set_clock("2026-04-30T12:00:00Z");
    let mut bo = house.sign_in(bo.id()).await;
    plan(&house).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round").await.ok().says("Still in pre-moult").says("Water (2)").lacks("No change in all");
    sign_all(&mut bo, &page, "/round/racks/1/moult-check", &[]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult_sign_standing WHERE state = 'pre-moult'").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult_sign_standing WHERE state = 'normal'").await, 1);
}

#[tokio::test]
async fn one_tap_for_a_rack_and_who_was_faster_is_named() {
    let house = house().await;
    let first = animal(&house, CALM, 1).await;
    animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let mut cy = house.keeper("Cyprian", 2).await;
    give_all(&house, bo.id()).await;
    let page = bo.get("/round").await.ok().says("All 2 took it");
    let feed = open_duty(&house, first, "feed").await.unwrap();
    sign(&mut cy, feed, &[("outcome", "refused")]).await.sent_to();
    sign_all(&mut bo, &page, FEED, &[]).await.sent_to();
    bo.get("/round").await.ok().says("1 took it").says("Feed T-1 was already done by Cyprian").says("Do not feed again.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 2);
}

#[tokio::test]
async fn dangerous_animals_are_looked_at_one_by_one() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    let risky = animal(&house, RISKY, 1).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    give_all(&house, bo.id()).await;
    let page =
        bo.get("/round").await.ok().lacks("All 2 took it").says("1 to look at one by one").says("cramps may come hours after a bite");
    assert_eq!(page.count(&format!("form[action=\"{FEED}\"] .vial.caution-3")), 1);
    // Nothing is marked for it, and without a look nothing is written at all; what was chosen for the other stays.
    let calm = hidden(&page.text(), "input[name=duty]")[0].clone();
    let name = format!("outcome-{calm}");
    let again = sign_all(&mut bo, &page, FEED, &[(name.clone(), "refused")]).await.is(422).says("Look at each of these").says("T-2");
    assert_eq!(hidden(&again.text(), &format!("input[name={name}][checked]")), ["refused"]);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    let looked = (chosen(&house, risky, "feed").await, "took");
    sign_all(&mut bo, &again, FEED, &[looked]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing").await, 2);
}

#[tokio::test]
async fn a_duty_of_another_kind_or_rack_is_refused() {
    let house = house().await;
    let here = animal(&house, CALM, 1).await;
    let there = animal(&house, CALM, 3).await;
    sqlx::query("INSERT INTO rack (id, room_id, name, walk_order) VALUES (2, 1, 'Other', 2)")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("UPDATE shelf SET rack_id = 2 WHERE id = 3").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    for duty in [open_duty(&house, there, "feed").await.unwrap(), open_duty(&house, here, "moult-check").await.unwrap()] {
        let (id, outcome) = (duty.to_string(), format!("outcome-{duty}"));
        let answer = bo.submit_at("/round", FEED, &[("duty", id.as_str()), (outcome.as_str(), "took")]).await;
        assert!(answer.status.is_client_error(), "{}", answer.status);
    }
    bo.submit_at("/round", FEED, &[("duty", "99999")]).await.is(404);
    bo.submit_at("/round", FEED, &[]).await.is(409).says("Nothing was chosen");
    bo.get("/round/racks/99/feed").await.is(404);
    bo.get("/round/racks/1/tea-break").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
}
