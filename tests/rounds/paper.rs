//! The round on paper: printed in walking order, typed in afterwards, and marked as such.

use super::stock::{CALM, RISKY, animal, give_all, house, open_duty, plan};
use crate::support::number;

#[tokio::test]
async fn a_sheet_has_every_stop_with_its_boxes_and_hands_in_work_stays_in_the_book() {
    let house = house().await;
    animal(&house, CALM, 1).await;
    let risky = animal(&house, RISKY, 2).await;
    sqlx::query("UPDATE animal SET enclosure_length_mm = 100 WHERE id = ?").bind(risky).execute(&house.app.database.writer).await.unwrap();
    plan(&house).await;
    let mut bo = house.keeper("Bo", 3).await;
    give_all(&house, bo.id()).await;
    let sheet = bo.get("/round/paper").await.ok().says("Round of Bo").says("☐ Took it").says("call your local emergency number");
    let stops = number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND assigned_to = 1").await;
    assert_eq!(i64::try_from(sheet.count("tbody tr")).unwrap(), stops);
    sheet.says("Rehouse").says("in the book");
    let mut cy = house.keeper("Cyprian", 0).await;
    cy.get("/round/paper?who=1").await.is(403);
    house.person("Lea", "lead").await.get("/round/paper?who=1").await.ok().says("Round of Bo");
}

#[tokio::test]
async fn what_was_marked_is_entered_with_the_time_of_the_round() {
    let house = house().await;
    let (first, second) = (animal(&house, CALM, 1).await, animal(&house, CALM, 2).await);
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    give_all(&house, bo.id()).await;
    let (one, two) = (open_duty(&house, first, "feed").await.unwrap(), open_duty(&house, second, "feed").await.unwrap());
    let (one_text, two_text, mark_one, mark_two) = (one.to_string(), two.to_string(), format!("outcome-{one}"), format!("outcome-{two}"));
    let form = |day: &'static str, hour: &'static str| {
        vec![
            ("day", day),
            ("hour", hour),
            ("duty", one_text.as_str()),
            ("duty", two_text.as_str()),
            (mark_one.as_str(), "refused"),
            (mark_two.as_str(), "leave"),
        ]
    };
    let enter = "/round/paper/enter";
    // What can't be is said, and every mark stays.
    for (day, hour, why) in [
        ("2026-04-15", "13:30", "still to come"),
        ("2026-04-15", "half past", "such as 18:30"),
        ("2026-04-11", "09:00", "more than two days ago"),
        ("yesterday", "09:00", "Enter a day"),
    ] {
        let again = bo.submit(enter, &form(day, hour)).await.is(422).says(why);
        assert_eq!(again.count(&format!("input[name={mark_one}][value=refused][checked]")), 1, "{why}");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 0);
    bo.submit(enter, &form("2026-04-14", "22:15")).await.sent_to();
    assert_eq!(
        number(&house, "SELECT COUNT(*) FROM signoff WHERE entered = 'paper' AND made_at LIKE '2026-04-14T%' AND day = '2026-04-14'").await,
        1
    );
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal_standing WHERE day = '2026-04-14' AND outcome = 'refused'").await, 1);
    assert!(open_duty(&house, second, "feed").await.is_some(), "what was not marked stays due");
    // Typed in twice: somebody has done it already.
    bo.submit(enter, &form("2026-04-14", "22:15")).await.is(422).says("already done by Bo");
}
