//! The lineage of animals and cohorts: picture, table, file.

use super::kin::{brood, tag};
use super::{breeders, pair};
use crate::support::{Page, Person, TestHouse};

/// Three generations: 1 and 2 had cohort ONE with sibs 4 (female) and 5 (male), whose cohort TWO was split, and out of
/// which 6 was tagged; 4 had a further sac of nobody knows whom.
async fn family() -> (TestHouse, Person) {
    let (house, keeper) = breeders().await;
    brood(&house.app, "ONE", 1, Some(2), "2025-06-10", 2).await;
    brood(&house.app, "TWO", 4, Some(5), "2025-10-01", 1).await;
    brood(&house.app, "ODD", 4, None, "2026-01-01", 0).await;
    (house, keeper)
}

fn boxes(page: &Page) -> usize {
    page.count("svg.lineage-chart .outline")
}

#[tokio::test]
async fn an_animal_stands_between_its_ancestors_and_its_descendants() {
    let (house, mut keeper) = family().await;
    let page = keeper.get("/animals/4/lineage").await.ok();
    // Itself; dam and sire, each of parents not known; its two broods.
    assert_eq!(boxes(&page), 7, "{}", page.text());
    let (dam, sire, other) = (tag(&house.app, 1).await, tag(&house.app, 2).await, tag(&house.app, 5).await);
    let page = page.says(&format!("−1: parents {dam} dam female, alive")).says(&format!("−1: parents {sire} sire male, alive"));
    let page = page.says("−2: grandparents parents not known parents not on record");
    let page = page.says(&format!("+1: young TWO with {other} 10 in, 9 alive, 1 tagged")).says("+1: young ODD with a male not known");
    for (link, count) in [("/animals/1", 1), ("/animals/2", 1), ("/cohorts/2", 1), ("/animals/4", 1)] {
        assert_eq!(page.count(&format!("svg a[href='{link}']")), count, "{link}");
    }
    assert_eq!(page.attribute("svg.lineage-chart", "aria-labelledby"), "lineage-title lineage-desc");
    assert_eq!(page.count("#lineage-title") + page.count("#lineage-desc"), 2);
    assert_eq!(page.count(".scroller > svg.lineage-chart"), 1);
    assert_eq!(page.count("svg [style], svg script, svg [fill]"), 0, "coloured by the style sheet alone");
    keeper.get("/animals/4").await.ok().says("Lineage chart, up and down");
}

#[tokio::test]
async fn four_generations_are_followed_both_ways_and_whoever_comes_in_twice_is_drawn_twice() {
    let (house, mut keeper) = family().await;
    // 6 is of the sibs 4 and 5: both of its grandparents come in on two ways.
    let page = keeper.get("/animals/6/lineage").await.ok();
    assert_eq!((page.count("svg a[href='/animals/1']"), page.count("svg a[href='/animals/2']")), (2, 2));
    // From the founder down: ONE, its two that bred, TWO of both (drawn again for the second), ODD.
    let page = keeper.get("/animals/1/lineage").await.ok();
    assert_eq!(page.count("svg a[href='/cohorts/2']"), 2);
    let page = page.says("drawn before").says("+1: young ONE").says("+2: young of its young TWO");
    assert_eq!(page.count("svg .unknown"), 1, "her own parents");
    drop(house);
}

#[tokio::test]
async fn a_cohort_is_one_node_with_its_parts_and_those_of_it_that_bred() {
    let (_house, mut keeper) = family().await;
    keeper
        .submit("/cohorts/2/split", &[("day", "2026-04-12"), ("stage", "i4"), ("quantity", "3"), ("shelf", "1"), ("code", "TWO-B")])
        .await
        .sent_to();
    let page = keeper.get("/cohorts/2/lineage").await.ok();
    let page = page.says("0: itself TWO cohort 10 in, 6 alive").says("0: part of it TWO-B split off 3 in, 3 alive");
    assert_eq!(page.count("svg a[href='/animals/6']"), 0, "6 has not bred");
    let page = keeper.get("/cohorts/1/lineage").await.ok();
    assert_eq!(page.count("svg a[href='/animals/4']") + page.count("svg a[href='/animals/5']"), 2, "both bred");
    // From a part the way leads up through its cohort's sac.
    keeper.get("/cohorts/4/lineage").await.ok().says("−1: parents").says("−2: grandparents");
    keeper.get("/cohorts/2").await.ok().says("Lineage chart");
}

#[tokio::test]
async fn several_males_are_drawn_as_possible_sires_and_dead_and_sold_are_told_in_words_and_outline() {
    let (house, mut keeper) = breeders().await;
    pair(&mut keeper, "2", "2026-01-10").await;
    pair(&mut keeper, "3", "2026-01-20").await;
    let (cohort, _) = brood(&house.app, "MAY", 1, None, "2026-02-20", 0).await;
    for (id, change) in
        [(1, "status = 'dead', loss_cause = 'unknown'"), (2, "status = 'sold'"), (3, "status = 'escaped', loss_cause = 'escape'")]
    {
        let sql = format!("UPDATE animal SET {change}, status_on = '2026-04-01', shelf_id = NULL WHERE id = {id}");
        sqlx::query(sqlx::AssertSqlSafe(sql)).execute(&house.app.database.writer).await.unwrap();
    }
    let page = keeper.get(&format!("/cohorts/{cohort}/lineage")).await.ok();
    assert_eq!((page.count("svg .unsure .outline"), page.count("svg .edge.unsure")), (2, 2));
    let page =
        page.says("possible sire male, sold 1 Apr 2026").says("possible sire male, escaped 1 Apr 2026").says("dam female, dead 1 Apr 2026");
    assert_eq!((page.count("svg a.dead"), page.count("svg a.sold"), page.count("svg a.escaped")), (1, 1, 1));
    // Down from one of the two: perhaps.
    keeper.get("/animals/3/lineage").await.ok().says("MAY possibly, with");
    // One male alone since her moult is the sire.
    let (sure, _) = brood(&house.app, "SURE", 1, None, "2026-01-15", 0).await;
    let page = keeper.get(&format!("/cohorts/{sure}/lineage")).await.ok();
    assert_eq!(page.count("svg .unsure"), 0);
    page.says(&format!("{} sire", tag(&house.app, 2).await));
}

#[tokio::test]
async fn the_table_can_be_saved_and_what_is_not_there_is_not_found() {
    let (house, mut keeper) = family().await;
    let file = keeper.get("/animals/4/lineage.csv").await.ok();
    assert!(file.headers["content-type"].to_str().unwrap().starts_with("text/csv"));
    let text = file.text();
    let dam = tag(&house.app, 1).await;
    assert!(text.starts_with("generation,who,what,state,of\r\n0: itself,"), "{text}");
    assert!(text.contains(&format!("−1: parents,{dam},dam,\"female, alive\",")), "{text}");
    assert_eq!(text.lines().count(), 8);
    assert!(keeper.get("/cohorts/1/lineage.csv").await.ok().text().contains("ONE"));
    for path in ["/animals/99/lineage", "/cohorts/99/lineage", "/animals/99/lineage.csv", "/cohorts/x/lineage"] {
        keeper.get(path).await.is(404);
    }
}

/// Many broods of one female: the picture stays small, the table holds them all.
#[tokio::test]
async fn many_broods_are_counted_in_one_box_and_listed_in_the_table() {
    let (house, mut keeper) = breeders().await;
    for number in 1..=15 {
        brood(&house.app, &format!("B-{number}"), 1, Some(2), &format!("2025-07-{number:02}"), 0).await;
    }
    let page = keeper.get("/animals/1/lineage").await.ok().says("and 3 more see the table");
    assert_eq!((boxes(&page), page.count("table tbody tr")), (1 + 1 + 12 + 1, 1 + 1 + 15));
}
