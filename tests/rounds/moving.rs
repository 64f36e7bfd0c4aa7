//! The list behind the figures, and moving one duty with every refusal in words.

use silkward::house::ids::DutyId;

use super::stock::{CALM, RISKY, animal, clear, house, open_duty, plan};
use crate::support::{Page, Person, TestHouse, number};

/// A calm animal, a risky one, a lead, and a keeper with clearance 3 who has nothing yet.
async fn open_day() -> (TestHouse, Person, Person, [DutyId; 2]) {
    let house = house().await;
    let (calm, risky) = (animal(&house, CALM, 1).await, animal(&house, RISKY, 2).await);
    plan(&house).await;
    let (lead, bo) = (house.person("Ada", "lead").await, house.keeper("Bo", 3).await);
    let duties = [open_duty(&house, calm, "feed").await.unwrap(), open_duty(&house, risky, "feed").await.unwrap()];
    (house, lead, bo, duties)
}

async fn give(lead: &mut Person, duty: DutyId, fields: &[(&str, &str)]) -> Page {
    lead.submit_at("/today/duties", &format!("/today/duties/{duty}/move"), fields).await
}

async fn has(house: &TestHouse, duty: DutyId) -> (Option<i64>, Option<i64>) {
    sqlx::query_as("SELECT assigned_to, second_to FROM duty WHERE id = ?").bind(duty).fetch_one(&house.app.database.writer).await.unwrap()
}

#[tokio::test]
async fn the_list_says_what_it_lists_with_its_work_and_why_nobody_has_it() {
    let (house, mut lead, bo, [calm, risky]) = open_day().await;
    let all = lead.get("/today/duties").await.ok().says("Open duties");
    let count = number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open'").await;
    assert_eq!(i64::try_from(all.count("tbody tr")).unwrap(), count);
    all.says(&format!("{count} duties, ")).says("not shared out yet").says("of work.");
    let id = bo.id().to_string();
    give(&mut lead, calm, &[("to", &id), ("who", "nobody")]).await.sent_to();
    let list = lead.get(&format!("/today/duties?who={id}&kind=feed")).await.ok().says("Open duties: feed, of Bo").says("1 duty, ");
    assert_eq!(list.count("tbody tr"), 1);
    lead.get("/today/duties?who=nobody&rack=1").await.ok().says("Open duties: with nobody, in Quiet room · B").lacks(": Bo, instead of");
    lead.get("/today/duties?only=unassigned&kind=water").await.ok().says("Duties that nobody has: water");
    sqlx::query("UPDATE duty SET late_after = '2026-04-01', held = 'agitated until 16 Apr 2026 (threat)' WHERE id = ?")
        .bind(risky)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let late = number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND late_after < '2026-04-15'").await;
    let shown = lead.get("/today/duties?only=late").await.ok().says("Late duties");
    let counted = [shown.count("tbody tr"), shown.count("tbody .late-mark")].map(|count| i64::try_from(count).unwrap());
    assert_eq!(counted, [late, late]);
    let held = lead.get("/today/duties?only=held").await.ok().says("Duties on hold");
    assert_eq!(held.says("on hold: agitated until 16 Apr 2026 (threat)").count("tbody tr"), 1);
    lead.get("/today/duties?only=two").await.ok().says("Duties for two people").says("No open duty fits this.");
    lead.get("/today/duties?who=77&rack=x&only=").await.ok().says("of somebody who is not here");
    house.keeper("Cyprian", 1).await.get("/today/duties").await.is(403);
}

#[tokio::test]
async fn a_move_leaves_one_audit_row_and_keeps_the_list_that_it_came_from() {
    let (house, mut lead, bo, [calm, _]) = open_day().await;
    let cy = house.keeper("Cyprian", 1).await;
    let before = number(&house, "SELECT COUNT(*) FROM audit").await;
    let (bo, cy) = (bo.id().to_string(), cy.id().to_string());
    let there = give(&mut lead, calm, &[("to", &bo), ("kind", "feed"), ("only", "unassigned")]).await.sent_to();
    assert_eq!(there, "/today/duties?kind=feed&only=unassigned");
    lead.get(&there).await.ok().says("Feed T-1: Bo, instead of nobody.");
    give(&mut lead, calm, &[("to", &bo)]).await.sent_to();
    lead.get("/today/duties").await.ok().says("Feed T-1 stands as it was.");
    give(&mut lead, calm, &[("to", &cy)]).await.sent_to();
    lead.get("/today/duties").await.ok().says("Feed T-1: Cyprian, instead of Bo.");
    give(&mut lead, calm, &[("to", "nobody")]).await.sent_to();
    assert_eq!(has(&house, calm).await, (None, None));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 3);
    give(&mut lead, calm, &[("to", "")]).await.is(422).says("Choose somebody, or that nobody has it.");
    give(&mut lead, calm, &[("to", "77")]).await.is(422).says("Choose somebody who looks after animals here.");
    give(&mut lead, calm, &[("to", &bo), ("clearance", "0")]).await.is(400);
    give(&mut lead, DutyId(9999), &[("to", &bo)]).await.is(404);
}

#[tokio::test]
async fn a_refused_move_names_the_reason_and_keeps_the_choice() {
    let (house, mut lead, bo, [_, risky]) = open_day().await;
    let cy = house.keeper("Cyprian", 1).await.id();
    let chosen = cy.to_string();
    let again = give(&mut lead, risky, &[("to", &chosen), ("only", "unassigned")]).await.is(422);
    let again = again.says("Feed T-2 needs clearance 2, and Cyprian holds clearance 1.").says("Duties that nobody has");
    assert_eq!(again.value("#to option[selected]"), chosen);
    clear(&house, cy, 2, "2026-04-14").await;
    sqlx::query("UPDATE clearance SET withdrawn_at = '2026-04-15T08:00:00+00:00', withdrawn_by = 1 WHERE member_id = ? AND level = 1")
        .bind(cy)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    give(&mut lead, risky, &[("to", &chosen)]).await.is(422).says("the clearance of Cyprian ran out on 14 Apr 2026");
    let ill = format!("/today/people/{}/not-in", bo.id());
    lead.submit_at("/today", &ill, &[]).await.sent_to();
    let bo = bo.id().to_string();
    give(&mut lead, risky, &[("to", &bo)]).await.is(422).says("Bo is not in today: ill.");
    assert_eq!(has(&house, risky).await, (None, None));
}

#[tokio::test]
async fn suspended_clearances_are_said_to_rest() {
    let (house, mut lead, bo, [_, risky]) = open_day().await;
    let writer = &house.app.database.writer;
    for statement in [
        "INSERT INTO incident (kind, member_id, at, day) VALUES ('bite', ?, '2026-04-15T09:00:00+00:00', '2026-04-15')",
        "INSERT INTO suspension (member_id, incident_id, since) VALUES (?, 1, '2026-04-15T09:00:00+00:00')",
    ] {
        sqlx::query(statement).bind(bo.id()).execute(writer).await.unwrap();
    }
    lead.get("/today").await.ok().says("nobody holds it today; the clearances of Bo rest");
    let bo = bo.id().to_string();
    give(&mut lead, risky, &[("to", &bo)]).await.is(422).says("the clearances of Bo rest until a lead has reviewed their incident");
}

#[tokio::test]
async fn more_than_their_minutes_is_a_warning_that_the_lead_can_override() {
    let (house, mut lead, bo, [calm, risky]) = open_day().await;
    sqlx::query("INSERT INTO at_work (day, member_id, present, minutes) VALUES ('2026-04-15', ?, 1, 2)")
        .bind(bo.id())
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query("UPDATE duty SET seconds = 300 WHERE id IN (?, ?)")
        .bind(calm)
        .bind(risky)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let id = bo.id().to_string();
    let again = give(&mut lead, calm, &[("to", &id)]).await.is(422);
    let again = again.says("Feed T-1 takes 5 min, and Bo has 2 left: Bo 0 of 2 min.").says("Give it anyway");
    assert_eq!(again.count("input[name=anyway]"), 1);
    give(&mut lead, calm, &[("to", &id), ("anyway", "yes")]).await.sent_to();
    assert_eq!(has(&house, calm).await.0, Some(bo.id().0));
    let over = give(&mut lead, risky, &[("to", &id)]).await.is(422);
    over.says("Bo has 0 left: Bo 5 of 2 min.");
    // A tick does not override what is not allowed.
    let cy = house.keeper("Cyprian", 1).await.id().to_string();
    give(&mut lead, risky, &[("to", &cy), ("anyway", "yes")]).await.is(422).says("needs clearance 2");
    // What is on hold takes none of their day yet.
    sqlx::query("UPDATE duty SET held = 'agitated until tomorrow' WHERE id = ?")
        .bind(risky)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    give(&mut lead, risky, &[("to", &id)]).await.sent_to();
    assert_eq!(has(&house, risky).await.0, Some(bo.id().0));
}

#[tokio::test]
async fn a_duty_for_two_takes_a_second_person_who_is_nearly_cleared() {
    let (house, mut lead, bo, [calm, risky]) = open_day().await;
    sqlx::query("UPDATE duty SET clearance = 3, persons = 2 WHERE id = ?").bind(risky).execute(&house.app.database.writer).await.unwrap();
    let (cy, di) = (house.keeper("Cyprian", 1).await.id().to_string(), house.keeper("Di", 2).await.id().to_string());
    let id = bo.id().to_string();
    let page = lead.get("/today/duties?only=two").await.ok();
    assert_eq!((page.count("select[name=second]"), page.count("tbody tr")), (1, 1));
    for (to, second, says) in [
        (id.as_str(), cy.as_str(), "The second person of Feed T-2 needs clearance 2 or more, and Cyprian holds clearance 1."),
        (&id, &id, "The second person must be somebody else."),
        ("nobody", &di, "Choose who does it before the second person."),
        (&di, &id, "Feed T-2 needs clearance 3, and Di holds clearance 2."),
    ] {
        let again = give(&mut lead, risky, &[("to", to), ("second", second)]).await.is(422).says(says);
        assert_eq!(again.value("#second option[selected]"), second);
    }
    give(&mut lead, calm, &[("to", &id), ("second", &di)]).await.is(422).says("This takes one person.");
    give(&mut lead, risky, &[("to", &id), ("second", &di)]).await.sent_to();
    lead.get("/today/duties").await.ok().says("Feed T-2: Bo with Di, instead of nobody.");
    assert_eq!(has(&house, risky).await, (Some(bo.id().0), di.parse().ok()));
    give(&mut lead, risky, &[("to", &id)]).await.sent_to();
    assert_eq!(has(&house, risky).await, (Some(bo.id().0), None));
    lead.get("/today/duties?only=two").await.ok().says("a second person is not named yet");
}

#[tokio::test]
async fn a_duty_that_was_done_meanwhile_moves_nowhere() {
    let (house, mut lead, mut bo, [calm, _]) = open_day().await;
    let id = bo.id().to_string();
    give(&mut lead, calm, &[("to", &id)]).await.sent_to();
    super::stock::sign(&mut bo, calm, &[("outcome", "took")]).await.sent_to();
    give(&mut lead, calm, &[("to", "nobody")]).await.is(409).says("Bo");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'done' AND assigned_to IS NOT NULL").await, 1);
}

/// Two clock changes in the house's zone: a daily duty stands once for each local day (IANA zone data; the days are those of
/// `tests/oracles/calendar.json`).
#[tokio::test]
async fn over_both_clock_changes_a_day_is_planned_and_shared_out_once() {
    for (zone, days) in
        [("Europe/Berlin", ["2026-03-28", "2026-03-29", "2026-03-30"]), ("Europe/Berlin", ["2026-10-24", "2026-10-25", "2026-10-26"])]
    {
        let house = house().await;
        sqlx::query("UPDATE site SET zone = ?").bind(zone).execute(&house.app.database.writer).await.unwrap();
        house.app.refresh_site().await.unwrap();
        let stock = animal(&house, CALM, 1).await;
        sqlx::query("UPDATE animal SET started_on = '2026-01-01'").execute(&house.app.database.writer).await.unwrap();
        let bo = house.keeper("Bo", 1).await;
        for day in days {
            // Just after midnight, in the hour that is skipped or comes twice, and late in the evening, by the clock on the wall.
            for hour in ["00:10", "02:30", "03:30", "23:50"] {
                let local = chrono::NaiveDateTime::parse_from_str(&format!("{day} {hour}"), "%Y-%m-%d %H:%M").unwrap();
                let zone: chrono_tz::Tz = zone.parse().unwrap();
                let Some(at) = chrono::TimeZone::from_local_datetime(&zone, &local).earliest() else { continue };
                house.app.clock.set(at.to_utc());
                assert_eq!(house.app.today().to_string(), day);
                plan(&house).await;
                let feeds = "SELECT COUNT(*) FROM duty WHERE kind = 'feed' AND state = 'open'";
                assert!(number(&house, feeds).await <= 1, "{day} {hour}");
                let team = silkward::rounds::store::share::at_work(&mut house.app.read().await.unwrap(), house.app.today()).await.unwrap();
                assert_eq!(team.iter().map(|one| (one.member, one.minutes)).collect::<Vec<_>>(), [(bo.id(), 240)], "{day} {hour}");
            }
            assert!(open_duty(&house, stock, "feed").await.is_some(), "{day}");
            let due: String =
                sqlx::query_scalar("SELECT MAX(due_on) FROM duty WHERE kind = 'feed'").fetch_one(&house.app.database.writer).await.unwrap();
            assert!(due.as_str() <= day, "{due}");
        }
    }
}
