//! The days ahead: hours needed against hours there, by person, and what can't be done.

use super::stock::{CALM, RISKY, animal, clear, cohort, house, plan};
use crate::support::number;

#[tokio::test]
async fn fourteen_days_are_shown_with_hours_by_person_and_nothing_is_changed() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    cohort(&house, CALM, 40).await;
    plan(&house).await;
    let mut lea = house.person("Lea", "lead keeper").await;
    clear(&house, lea.id(), 3, "2027-12-31").await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let page = lea.get("/today/ahead").await.ok().says("The days ahead").says("nothing moults meanwhile").says("Lea");
    assert_eq!(page.count("section.note"), 0, "all of it can be done");
    let page = page.says("Hours of duties against the hours that people have").says("Wed 15 Apr").says("Tue 28 Apr");
    assert_eq!(page.count("table tbody tr th a"), 28);
    let csv = lea.get("/today/ahead.csv").await.ok().text();
    assert_eq!(csv.lines().count(), 15);
    assert!(csv.starts_with("day,duties,hours needed,hours there,hours undone,\"Lea, hours\""), "{csv}");
    // Each day needs as much as its people do and leave.
    for line in csv.lines().skip(1) {
        let cells: Vec<f64> = line.split(',').skip(2).take(4).map(|cell| cell.parse().unwrap()).collect();
        let [needed, there, undone, done] = cells[..] else { panic!("{line}") };
        assert!((done + undone - needed).abs() < 0.1 && done <= there, "{line}");
    }
    // Today's list is what stands open, and each day has its list.
    let open = number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open'").await;
    lea.get("/today/ahead/2026-04-15").await.ok().says(&format!("{open} duties will fall due")).says("Quiet room · B");
    lea.get("/today/ahead/2026-04-28").await.ok();
    for path in ["2026-04-14", "2026-04-29", "soon"] {
        lea.get(&format!("/today/ahead/{path}")).await.is(404);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before);
}

#[tokio::test]
async fn a_day_without_people_is_over_capacity_and_an_absence_says_why() {
    let house = house().await;
    cohort(&house, CALM, 400).await;
    plan(&house).await;
    let mut lea = house.person("Lea", "lead keeper").await;
    sqlx::query(
        "INSERT INTO absence (member_id, first_day, last_day, kind, note, entered_by, entered_at)
         VALUES (?1, '2026-04-20', '2026-04-20', 'leave', '', ?1, '2026-04-15T08:00:00+00:00')",
    )
    .bind(lea.id())
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    let csv = lea.get("/today/ahead.csv").await.ok().text();
    let away: Vec<&str> = csv.lines().find(|line| line.starts_with("2026-04-20")).unwrap().split(',').collect();
    assert_eq!(away[3], "0.00");
    assert_eq!(away[5], "0.00");
    lea.get("/today/ahead").await.ok().says("on leave");
    // Nobody works at all: every day with work is over.
    sqlx::query("INSERT INTO work_pattern (member_id, valid_from, entered_by, entered_at) VALUES (?1, '2026-01-01', ?1, '2026-04-15T08:00:00+00:00')")
        .bind(lea.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    lea.get("/today/ahead").await.ok().says("More work than can be done").says("does not work on Wednesdays");
}

#[tokio::test]
async fn a_risky_rehouse_that_two_are_never_in_for_is_named() {
    let house = house().await;
    animal(&house, RISKY, 1).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100").execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let mut lea = house.person("Lea", "lead keeper").await;
    clear(&house, lea.id(), 3, "2027-12-31").await;
    lea.get("/today/ahead").await.ok().says("For two people, and can't be done on its day").says("Rehouse T-1").says("never in together");
    house.keeper("Bo", 2).await;
    lea.get("/today/ahead").await.ok().lacks("For two people, and can't be done on its day");
}
