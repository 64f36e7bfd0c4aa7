//! Two counters and the last spiderlings: exactly one wins, the other keeps its form and is told who has them.

use super::stock::{self, CALM, add_lot, begin, hand_over, house};
use super::trade::{add_packs, add_tags, order};
use crate::support::{Page, number};

/// The one that was not sent on.
fn loser(pages: Vec<Page>, status: u16) -> Page {
    let won = pages.iter().filter(|page| page.status.as_u16() == 303).count();
    assert_eq!(won, 1, "{:?}", pages.iter().map(|page| page.status).collect::<Vec<_>>());
    pages.into_iter().find(|page| page.status.as_u16() != 303).unwrap().is(status)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_two_orders_for_the_last_spiderlings_one_keeps_them() {
    let house = house().await;
    let cohort = stock::cohort(&house, CALM, 12).await;
    let mut people = Vec::new();
    for name in ["Cyprian", "Dee"] {
        let mut person = house.person(name, "counter").await;
        let address = order(&mut person).await;
        people.push((person, address));
    }
    let tasks: Vec<_> = people
        .into_iter()
        .map(|(mut person, address)| tokio::spawn(async move { add_packs(&mut person, &address, cohort, "2", "5").await }))
        .collect();
    let mut pages = Vec::new();
    for task in tasks {
        pages.push(task.await.unwrap());
    }
    let told = loser(pages, 422);
    assert_eq!((told.value("#quantity"), told.value("#pack_of")), ("2".to_owned(), "5".to_owned()));
    told.says("Only 2 are free of cohort").says("10 are reserved until 22 Apr 2026 for order");
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM reservation WHERE ended_as IS NULL").await, 10);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM sale_line").await, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_two_handovers_of_the_last_spiderlings_one_is_done_and_the_other_names_it() {
    let house = house().await;
    let cohort = stock::cohort(&house, CALM, 60).await;
    let (mut one, mut two) = (house.person("Cyprian", "lead").await, house.person("Dee", "lead").await);
    let (first, second) = (begin(&mut one).await, begin(&mut two).await);
    add_lot(&mut one, &first, cohort, "40").await;
    add_lot(&mut two, &second, cohort, "40").await;
    let tasks = [
        tokio::spawn(async move { hand_over(&mut one, &first, "typed before I was told").await }),
        tokio::spawn(async move { hand_over(&mut two, &second, "typed before I was told").await }),
    ];
    let mut pages = Vec::new();
    for task in tasks {
        pages.push(task.await.unwrap());
    }
    let told = loser(pages, 409);
    told.says("40 asked for, but cohort").says("has 20 free").says("handed 40 over on 15 Apr 2026, 12:00 (handover");
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'sold'").await, 40);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM handover WHERE state = 'draft'").await, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn an_order_and_a_handover_race_for_one_animal() {
    let house = house().await;
    let animal = stock::animal(&house, CALM).await;
    let tag = stock::tag(&house, animal).await;
    let (mut one, mut two) = (house.person("Cyprian", "counter").await, house.person("Dee", "counter").await);
    let other = begin(&mut two).await;
    stock::add_animal(&house, &mut two, &other, animal).await;
    let mine = one.submit("/orders/new", &[("name", "Somebody else"), ("way", "collection"), ("until", "2026-04-22")]).await.sent_to();
    let tags = tag.clone();
    let tasks = [
        tokio::spawn(async move { add_tags(&mut one, &mine, &tags).await }),
        tokio::spawn(async move { hand_over(&mut two, &other, "").await }),
    ];
    let mut pages = Vec::new();
    for task in tasks {
        pages.push(task.await.unwrap());
    }
    let won: Vec<u16> = pages.iter().map(|page| page.status.as_u16()).collect();
    match won.as_slice() {
        [303, 409] => drop(pages.remove(1).says("reserved for somebody else until 22 Apr 2026 for order 1 (by Cyprian)")),
        [422, 303] => drop(pages.remove(0).says("Dee handed it over on 15 Apr 2026, 12:00 (handover 1)").says(&tag)),
        other => panic!("{other:?}"),
    }
    let sold = number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'sold'").await;
    let kept = number(&house, "SELECT COUNT(*) FROM reservation WHERE ended_as IS NULL").await;
    assert_eq!(sold + kept, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_eight_counters_for_ten_packs_never_more_are_kept_than_there_are() {
    let house = house().await;
    let cohort = stock::cohort(&house, CALM, 50).await;
    let mut tasks = Vec::new();
    for counter in 0..8 {
        let mut person = house.person(&format!("Counter{counter}"), "counter").await;
        let address = order(&mut person).await;
        tasks.push(tokio::spawn(async move {
            let mut sent = 0;
            for _ in 0..4 {
                sent += i64::from(add_packs(&mut person, &address, cohort, "1", "5").await.status.as_u16() == 303);
            }
            sent
        }));
    }
    let mut won = 0;
    for task in tasks {
        won += task.await.unwrap();
    }
    assert_eq!(won, 10);
    assert_eq!(number(&house, "SELECT SUM(quantity) FROM reservation WHERE ended_as IS NULL").await, 50);
}
