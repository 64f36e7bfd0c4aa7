//! Prey for the coming days: what is needed against what is on hand, what to order, and what to prepare today.

use silkward::rounds::store::prey::prey_today;

use super::stock::{CALM, LARGE_CRICKET, animal, cohort, give_all, house, plan, prey_list};
use crate::support::number;

#[tokio::test]
async fn without_a_list_what_was_offered_last_is_added_up() {
    let house = house().await;
    let id = animal(&house, CALM, 1).await;
    cohort(&house, CALM, 40).await;
    for day in ["2026-04-02", "2026-04-05"] {
        sqlx::query("INSERT INTO meal (animal_id, day, offered_at, prey, outcome, at) VALUES (?, ?, ?2 || 'T09:00:00+00:00', 'cricket', 'took', ?2 || 'T09:00:00+00:00')")
            .bind(id)
            .bind(day)
            .execute(&house.app.database.writer)
            .await
            .unwrap();
    }
    plan(&house).await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let mut bo = house.person("Bo", "keeper").await;
    let page = bo.get("/today/prey").await.ok().says("cricket").says("prey (kind not noted)").says("four times out of five");
    page.says("Nothing needs ordering").says("not on the list");
    assert!(bo.get("/today/prey.csv").await.ok().text().starts_with("day,prey,size,animals,to prepare,"));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before);
}

#[tokio::test]
async fn what_is_needed_is_held_against_the_book_and_ordered_in_packs() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    cohort(&house, CALM, 40).await;
    prey_list(&house).await;
    plan(&house).await;
    let mut lea = house.person("Lea", "lead keeper").await;
    let page = lea.get("/today/prey").await.ok().says("cricket, large (22 mm)").says("fruit fly, flightless (3 mm)").says("Order list");
    // Pre-killed: 40 vials at every feed, whatever they take.
    let words = page.words();
    assert!(words.contains("to prepare") && words.contains("order"), "{words}");
    let csv = lea.get("/today/prey/order.csv").await.ok().text();
    assert!(csv.starts_with("prey,size,"), "{csv}");
    let flies = csv.lines().find(|line| line.starts_with("fruit fly")).unwrap_or_else(|| panic!("{csv}"));
    let cells: Vec<&str> = flies.split(',').collect();
    let (needed, pack, packs): (u64, u64, u64) = (cells[4].parse().unwrap(), cells[5].parse().unwrap(), cells[6].parse().unwrap());
    // A spiderling of this slow species is fed every 5 to 7 days: 17 days hold three or four feeds of 40.
    assert!(needed.is_multiple_of(40) && (120..=160).contains(&needed), "{flies}");
    assert_eq!((pack, packs), (200, 1));
    // A count fills the stock, and nothing is to be ordered any more.
    let kinds: Vec<String> = (1..=11).map(|kind| kind.to_string()).collect();
    let mut form: Vec<(&str, &str)> = kinds.iter().map(|kind| ("kind", kind.as_str())).collect();
    form.extend(kinds.iter().map(|_| ("counted", "500")));
    lea.submit("/today/prey/count", &form).await.sent_to();
    lea.get("/today/prey").await.ok().says("Nothing needs ordering").says("lasts to the last feeding");
    // For longer, with a mistake kept.
    let again = lea.get("/today/prey?cover_days=many").await.is(422);
    assert_eq!(again.value("input[name=cover_days]"), "many");
    lea.get("/today/prey?cover_days=28").await.ok().says("To last 28 days");
}

#[tokio::test]
async fn todays_prey_is_told_by_kind_rack_and_person() {
    let house = house().await;
    for shelf in [1, 1, 2] {
        animal(&house, CALM, shelf).await;
    }
    cohort(&house, CALM, 40).await;
    prey_list(&house).await;
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    give_all(&house, bo.id()).await;
    let app = &house.app;
    let lines = prey_today(&mut app.read().await.unwrap(), app.now(), app.site().zone).await.unwrap();
    let told: Vec<_> = lines.iter().map(|line| (line.prey.as_str(), line.place.as_str(), line.quantity, line.feeds, line.killed)).collect();
    let mut expected =
        vec![("cricket, large (22 mm)", "Quiet room · B", 3, 3, false), ("fruit fly, flightless (3 mm)", "Quiet room · B", 40, 1, true)];
    let mut sorted = told.clone();
    sorted.sort();
    expected.sort();
    assert_eq!(sorted, expected);
    assert!(lines.iter().all(|line| line.person.as_deref() == Some("Bo")));
    bo.get("/today/prey").await.ok().says("Prey to prepare today").says("fruit fly, flightless (3 mm), pre-killed");
    bo.get("/round").await.ok().says("Prey: 1 × cricket, large (22 mm)").says("Prey: 1 × fruit fly, flightless (3 mm), pre-killed");
    // A held feed needs nothing today.
    sqlx::query("UPDATE duty SET held = 'held' WHERE cohort_id IS NOT NULL").execute(&app.database.writer).await.unwrap();
    let lines = prey_today(&mut app.read().await.unwrap(), app.now(), app.site().zone).await.unwrap();
    assert_eq!(lines.len(), 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM prey_line").await, 0, "{LARGE_CRICKET}");
}
