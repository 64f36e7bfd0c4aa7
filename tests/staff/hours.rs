//! The pages of the rota: a week from a day on, absences, and the week of everybody.

use crate::support::{Page, Person, TestHouse, number};

/// A lead, a keeper, and the page of the keeper's hours.
async fn house() -> (TestHouse, Person, Person, String) {
    let house = TestHouse::start().await;
    let (lead, bo) = (house.person("Ada", "lead").await, house.person("Bo", "keeper").await);
    let page = format!("/staff/members/{}/hours", bo.id());
    (house, lead, bo, page)
}

/// The fields of a week: from when to when on which days, with so many minutes.
fn week<'a>(from: &'a str, works: &[&'a str], rows: &[(&'a str, &'a str, &'a str); 7]) -> Vec<(&'a str, &'a str)> {
    let mut fields = vec![("valid_from", from)];
    fields.extend(works.iter().map(|weekday| ("works", *weekday)));
    for (starts, ends, minutes) in rows {
        fields.extend([("starts", *starts), ("ends", *ends), ("minutes", *minutes)]);
    }
    fields
}

const PLAIN: [(&str, &str, &str); 7] = [("07:00", "13:00", "300"); 7];

#[tokio::test]
async fn a_week_is_entered_from_a_day_on_and_the_rota_follows_it() {
    let (house, mut lead, _, page) = house().await;
    lead.get(&page).await.ok().says("counts as in from 08:00 to 17:00").says("Tuesday");
    let fields = week("2026-04-16", &["1", "2", "3", "4", "5"], &PLAIN);
    lead.submit(&page, &fields).await.sent_to();
    let shown = lead.get(&page).await.ok();
    let shown = shown.says("From 16 Apr 2026: Monday to Friday 07:00–13:00, 300 min").lacks("(holds now)");
    assert_eq!(shown.count("input[name=works][checked]"), 7, "until then the usual days stand");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'member.week_set'").await, 1);
    lead.get("/staff/rota").await.ok().says("08:00–17:00 240 min").says("07:00–13:00 300 min").says("does not work on Sundays");
    lead.get("/staff/rota?week=2026-04-08").await.ok().lacks("07:00–13:00");
    house.set_clock("2026-04-20T12:00:00Z");
    let mut lead = house.sign_in(lead.id()).await;
    let shown = lead.get(&page).await.ok().says("(holds now)");
    assert_eq!(shown.count("input[name=works][checked]"), 5);
    assert_eq!(shown.value("#starts-3"), "07:00");
    let fields = week("2026-04-20", &[], &PLAIN);
    lead.submit(&page, &fields).await.sent_to();
    lead.get(&page).await.ok().says("From 20 Apr 2026: no working day (holds now)").says("From 16 Apr 2026");
}

#[tokio::test]
async fn a_bad_week_names_every_mistake_and_keeps_what_was_typed() {
    let (house, mut lead, _, page) = house().await;
    let rows = [
        ("17:00", "08:00", "60"),
        ("08:00", "09:00", "61"),
        ("25:00", "26:00", "10"),
        ("08:00", "12:00", "-5"),
        ("eight", "12:00", "60"),
        ("08:00", "12:00", "soon"),
        ("99:99", "nonsense", "x"),
    ];
    let fields = week("2026-01-02", &["1", "2", "3", "4", "5", "6"], &rows);
    let again = lead.submit(&page, &fields).await.is(422);
    let again = again
        .says("Monday: the end must be later than the beginning")
        .says("Tuesday: 61 minutes for duties do not fit into the 60 between 08:00 and 09:00.")
        .says("Wednesday: enter a time")
        .says("Thursday: enter the minutes")
        .says("Friday: enter a time")
        .says("Saturday: enter the minutes")
        .says("Enter a day from 2026-02-14 on")
        .lacks("Sunday: ");
    assert_eq!(
        (again.value("#starts-3"), again.value("#minutes-4"), again.value("#ends-7")),
        ("25:00".into(), "-5".into(), "nonsense".into())
    );
    assert_eq!((again.value("#valid_from").as_str(), again.count("input[name=works][checked]")), ("2026-01-02", 6));
    assert!(again.attribute("title", "id").is_empty() && again.text().contains("<title>Error: "));
    let fields = week("2026-04-16", &["1"], &[("00:00", "24:00", "1440"); 7]);
    lead.submit(&page, &fields).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM work_pattern").await, 1);
}

async fn absent(lead: &mut Person, page: &str, first: &str, last: &str, kind: &str) -> Page {
    let action = page.replace("/hours", "/absences");
    lead.submit_at(page, &action, &[("first_day", first), ("last_day", last), ("kind", kind), ("note", "at the sea")]).await
}

#[tokio::test]
async fn absences_are_noted_shown_and_cancelled() {
    let (house, mut lead, mut bo, page) = house().await;
    absent(&mut lead, &page, "2026-04-16", "2026-04-18", "leave").await.sent_to();
    lead.get(&page).await.ok().says("16 Apr 2026 to 18 Apr 2026: on leave (at the sea)").says("by Ada");
    lead.get("/staff/rota").await.ok().says("on leave until 18 April").says("Bo: on leave, 16 Apr 2026 to 18 Apr 2026 (at the sea)");
    bo.get("/staff/rota").await.ok().says("at the sea").lacks("Not in today");
    let mut cy = house.person("Cyprian", "counter").await;
    cy.get("/staff/rota").await.ok().says("on leave").lacks("at the sea");
    lead.submit_at(&page, "/staff/absences/1/cancel", &[]).await.sent_to();
    lead.get(&page).await.ok().says("cancelled");
    lead.get("/staff/rota").await.ok().lacks("on leave until").says("Away this week Nobody.");
    lead.submit_at(&page, "/staff/absences/1/cancel", &[]).await.is(409).says("cancelled already");
    lead.submit_at(&page, "/staff/absences/77/cancel", &[]).await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence").await, 1);
}

#[tokio::test]
async fn bad_absences_are_refused_in_words_and_keep_what_was_typed() {
    let (house, mut lead, _, page) = house().await;
    absent(&mut lead, &page, "2026-04-16", "2026-04-18", "leave").await.sent_to();
    let again = absent(&mut lead, &page, "2026-04-18", "2026-04-20", "ill").await.is(422);
    let again = again.says("They are on leave already, from 16 Apr 2026 to 18 Apr 2026.");
    assert_eq!((again.value("#first_day").as_str(), again.value("#note").as_str()), ("2026-04-18", "at the sea"));
    absent(&mut lead, &page, "2026-05-02", "2026-05-01", "ill").await.is(422).says("The last day is before the first.");
    absent(&mut lead, &page, "2026-05-01", "2027-05-02", "ill").await.is(422).says("This is 367 days.");
    absent(&mut lead, &page, "2026-05-01", "2027-05-01", "ill").await.sent_to();
    absent(&mut lead, &page, "2026-02-13", "2026-02-13", "ill").await.is(422).says("Enter a day from 2026-02-14 on");
    absent(&mut lead, &page, "2026-02-14", "", "ill").await.sent_to();
    absent(&mut lead, &page, "2026-04-31", "x", "tired").await.is(422).says("Choose one of the list.").says("or nothing for a single day");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence").await, 3);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence WHERE first_day = '2026-02-14' AND last_day = first_day").await, 1);
}

#[tokio::test]
async fn everybody_reads_the_rota_and_only_leads_change_it() {
    let (house, mut lead, mut bo, page) = house().await;
    bo.get(&page).await.is(403);
    let id = lead.id();
    bo.submit_at("/staff/rota", &page, &week("2026-04-16", &[], &PLAIN)).await.is(403);
    bo.submit_at("/staff/rota", &format!("/staff/members/{id}/absences"), &[("first_day", "2026-04-16")]).await.is(403);
    bo.get("/account").await.ok().says("Rota");
    bo.get("/staff/rota?week=soon").await.ok().says("Monday 13 April 2026 to Sunday 19 April 2026");
    bo.get("/staff/rota?week=9999-12-31").await.ok().says("Monday 13 April 2026");
    let counter = house.person("Cyprian", "counter").await.id();
    lead.get(&format!("/staff/members/{counter}/hours")).await.is(404);
    lead.get("/staff/members/77/hours").await.is(404);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM absence").await + number(&house, "SELECT COUNT(*) FROM work_pattern").await, 0);
}
