//! Cautions about one animal.

use super::stock::{CALM, animal, asked, assessor, clearance, duty, granted, house, plan, today};
use crate::support::number;

#[tokio::test]
async fn a_caution_raises_the_band_and_takes_duties_from_those_not_cleared() {
    let house = house().await;
    let olga = assessor(&house).await;
    let mut bo = house.person("Bo", "keeper").await;
    granted(&house, olga.id(), &clearance(bo.id(), 1, "")).await;
    let id = animal(&house, CALM).await;
    plan(&house).await;
    let rehouse = duty(&house, id, "rehouse").await;
    assert_eq!(asked(&house, rehouse).await, (1, 1, 1));
    sqlx::query("UPDATE duty SET assigned_to = ?, assigned_on = ? WHERE id = ?")
        .bind(bo.id())
        .bind(today())
        .bind(rehouse)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let path = format!("/handling/cautions/new?animal={id}");
    let there = bo.submit(&path, &[("level", "3"), ("text", "bolts to the lid")]).await.sent_to();
    assert_eq!(there, format!("/animals/{id}"));
    assert_eq!(asked(&house, rehouse).await, (3, 3, 2));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE assigned_to IS NOT NULL").await, 0);
    bo.get("/handling/cautions").await.ok().says("bolts to the lid").says("Band 3: dangerous").lacks("End");
}

#[tokio::test]
async fn a_caution_never_lowers_and_a_lead_ends_it() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    plan(&house).await;
    let rehouse = duty(&house, id, "rehouse").await;
    let mut lead = house.person("Ada", "lead").await;
    let path = format!("/handling/cautions/new?animal={id}");
    lead.submit(&path, &[("level", "0"), ("text", "calm")]).await.sent_to();
    assert_eq!(asked(&house, rehouse).await, (1, 1, 1));
    lead.submit(&path, &[("level", "2"), ("text", "strikes")]).await.sent_to();
    assert_eq!(asked(&house, rehouse).await, (2, 2, 1));
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get("/handling/cautions/2/end").await.is(403);
    keeper.submit_at("/handling", "/handling/cautions/2/end", &[("why", "calm now")]).await.is(403);
    lead.submit("/handling/cautions/2/end", &[("why", "calm now")]).await.sent_to();
    assert_eq!(asked(&house, rehouse).await, (1, 1, 1));
    lead.submit_at("/handling", "/handling/cautions/2/end", &[("why", "calm now")]).await.is(409);
    lead.get("/handling/cautions/99/end").await.is(404);
}

#[tokio::test]
async fn bad_cautions_are_named_and_kept_on_the_page() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/cautions/new?animal={id}");
    let long = "x".repeat(401);
    for (level, text, wrong) in
        [("4", "fast", "level"), ("", "fast", "level"), ("1", "", "text"), ("1", long.as_str(), "text"), ("1", "a\u{202e}b", "text")]
    {
        let again = bo.submit(&path, &[("level", level), ("text", text)]).await.is(422);
        assert!(again.text().contains(&format!("{wrong}-error")));
        assert!(again.text().contains(text));
    }
    bo.get("/handling/cautions/new?animal=99").await.is(404);
    bo.get("/handling/cautions/new").await.is(404);
    bo.get("/handling/cautions/new?animal=cat").await.is(400);
    bo.submit_at("/handling", "/handling/cautions/new?animal=99", &[("level", "1"), ("text", "fast")]).await.is(404);
    sqlx::query("UPDATE animal SET status = 'sold', status_on = '2026-04-01', shelf_id = NULL")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    bo.submit(&path, &[("level", "1"), ("text", "fast")]).await.is(422).says("no longer in the house");
    let mut counter = house.person("Di", "counter").await;
    counter.get(&path).await.is(403);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM caution").await, 0);
}

#[tokio::test]
async fn a_double_click_adds_one_caution() {
    let house = house().await;
    let id = animal(&house, CALM).await;
    let mut bo = house.person("Bo", "keeper").await;
    let path = format!("/handling/cautions/new?animal={id}");
    let (csrf, once) = bo.get(&path).await.ok().tokens();
    let form = [("csrf", csrf.as_str()), ("once", once.as_str()), ("level", "2"), ("text", "strikes")];
    let first = bo.post_raw(&path, &form).await.sent_to();
    assert_eq!(bo.post_raw(&path, &form).await.sent_to(), first);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM caution").await, 1);
}
