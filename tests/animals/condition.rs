//! How well fed an animal looks: noted, reckoned from two widths, struck out, and what it moves.

use super::support::{animal, house};
use crate::support::number;

#[tokio::test]
async fn a_score_is_noted_or_reckoned_from_two_widths() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let page = format!("/animals/{id}/condition");
    keeper.get(&page).await.ok().says("water first, then call a senior").says("common practice, no source");
    // 8.2 mm against 5.0 mm: 1.64, heavy (common practice, no source).
    keeper.submit(&page, &[("day", "2026-04-15"), ("condition", ""), ("abdomen", "8,2"), ("carapace", "5")]).await.sent_to();
    let shown = keeper.get(&format!("/animals/{id}")).await.ok().says("Condition 4, heavy");
    shown.says("Condition: 4, heavy. abdomen 8.2 mm, carapace 5.0 mm wide");
    keeper.submit(&page, &[("day", "2026-04-15"), ("condition", "shrunken"), ("abdomen", ""), ("carapace", "")]).await.sent_to();
    keeper.get(&format!("/animals/{id}")).await.ok().says("Condition 1, shrunken: water first, then call a senior");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'animal.scored'").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM body_condition_standing").await, 2);
    // A slip is struck out by a later entry; the one before counts again.
    let strike = format!("/animals/{id}/entries/condition/2/correct");
    keeper.submit(&strike, &[("reason", "another animal")]).await.sent_to();
    let shown = keeper.get(&format!("/animals/{id}")).await.ok().says("Condition 4, heavy").says("struck out by Bo: another animal");
    shown.lacks("then call a senior");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM body_condition").await, 3);
}

#[tokio::test]
async fn widths_that_do_not_add_up_are_named_and_kept() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let page = format!("/animals/{id}/condition");
    let day = ("day", "2026-04-15");
    let wrong: [(&[(&str, &str)], &str); 5] = [
        (&[day], "Choose a score, or enter both widths."),
        (&[day, ("abdomen", "8.2")], "Enter both widths"),
        (&[day, ("condition", "lean"), ("abdomen", "8.2"), ("carapace", "5")], "The widths say 4, heavy."),
        (&[day, ("abdomen", "wide"), ("carapace", "0")], "at most one decimal place"),
        (&[("day", "2026-04-16"), ("condition", "fat")], ""),
    ];
    for (fields, says) in wrong {
        keeper.submit(&page, fields).await.is(422).says(says);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM body_condition").await, 0);
    // The book itself refuses a score that its widths do not bear out, and changes none.
    let writer = &house.app.database.writer;
    let lie = "INSERT INTO body_condition (animal_id, day, condition, abdomen_tenths, carapace_tenths, at)
               VALUES (1, '2026-04-15', 'good', 82, 50, '2026-04-15T12:00:00+00:00')";
    assert!(sqlx::query(lie).execute(writer).await.is_err());
    let truth = "INSERT INTO body_condition (animal_id, day, condition, at) VALUES (1, '2026-04-15', 'good', '2026-04-15T12:00:00+00:00')";
    sqlx::query(truth).execute(writer).await.unwrap();
    assert!(sqlx::query("UPDATE body_condition SET condition = 'obese'").execute(writer).await.is_err());
    assert!(sqlx::query("DELETE FROM body_condition").execute(writer).await.is_err());
}
