//! Supervised rehouses, what a clearance takes, the text on safe work, and the house's own lines of the list.

use silkward::handling::store;
use silkward::house::errors::AppError;

use super::stock::{assessor, clearance, has_read, house, level, refused, today};
use crate::support::number;

const SEEN: [(&str, &str); 4] = [("band", "1"), ("outcome", "passed"), ("day", "2026-04-15"), ("note", "calm hands")];

fn seen<'a>(field: &'a str, value: &'a str) -> Vec<(&'a str, &'a str)> {
    SEEN.iter().map(|(name, usual)| (*name, if *name == field { value } else { *usual })).collect()
}

#[tokio::test]
async fn a_clearance_waits_for_practice_and_reading() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let mut bo = house.person("Bo", "keeper").await;
    let (person, grant) = (format!("/handling/people/{}", bo.id()), format!("/handling/people/{}/grant", bo.id()));
    let fields = [("level", "2"), ("evidence", "seen at work"), ("valid_until", "2027-04-15")];
    let missing = "Clearance 2: still missing 2 more supervised rehouses of band 2 or above (0 of 2 passed in two years), and reading the current text on safe work.";
    olga.get(&person).await.ok().says(missing);
    olga.get(&grant).await.ok().says(missing);
    let again = olga.submit(&grant, &fields).await.is(422).says(missing);
    assert_eq!(again.value("#valid_until"), "2027-04-15");
    // The store refuses too, and beneath it the database.
    let mut write = house.app.write(Some(olga.id())).await.unwrap();
    let granted = store::grant(&mut write, &clearance(bo.id(), 2, "")).await;
    assert!(matches!(&granted, Err(AppError::Refused(_))), "{granted:?}");
    drop(write);
    let forged = "INSERT INTO clearance (member_id, level, granted_by, evidence, valid_from, valid_until, granted_at)
                  VALUES (2, 1, 1, 'seen', '2026-04-15', '2027-04-15', '2026-04-15T12:00:00+00:00')";
    assert!(refused(&house, forged).await.contains("supervised rehouses are still missing"));
    let assess = format!("{person}/assess");
    for outcome in ["more-practice", "stopped", "passed"] {
        let mut fields = seen("band", "2");
        fields[1].1 = outcome;
        olga.submit(&assess, &fields).await.sent_to();
    }
    bo.get(&person).await.ok().says("1 more supervised rehouse of band 2").says("needs more practice").says("stopped by the assessor");
    olga.submit(&assess, &seen("band", "3")).await.sent_to();
    assert!(refused(&house, forged).await.contains("has not been read"));
    olga.submit(&grant, &fields).await.is(422).says("still missing reading the current text on safe work.");
    bo.submit_at("/handling/safe-work", "/handling/safe-work/read", &[("version", "1")]).await.sent_to();
    olga.get(&person).await.ok().says("Clearance 2: nothing is missing");
    olga.submit(&grant, &fields).await.sent_to();
    assert_eq!(level(&house, bo.id()).await, 2);
}

#[tokio::test]
async fn an_assessor_holds_the_band_and_is_somebody_else() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let mut bo = house.person("Bo", "keeper").await;
    let (own, his) = (format!("/handling/people/{}/assess", olga.id()), format!("/handling/people/{}/assess", bo.id()));
    olga.submit_at(&his, &own, &SEEN).await.is(422).says("Nobody assesses themselves");
    let back = bo.submit_at("/handling/safe-work", &own, &SEEN).await.is(422);
    back.says("holds at least clearance 1 on that day, and Bo holds none");
    for (field, value) in [("band", "0"), ("band", "4"), ("outcome", "good"), ("day", "2026-04-16"), ("day", "2026-01-01"), ("note", " ")] {
        let again = olga.submit(&his, &seen(field, value)).await.is(422);
        assert!(again.text().contains(&format!("{field}-error")), "{field} = {value}");
    }
    // Before her clearance began she assessed nobody.
    olga.submit(&his, &seen("day", "2026-04-14")).await.is(422).says("holds at least clearance 1 on that day");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM assessment").await, 0);
    let forged = "INSERT INTO assessment (member_id, assessor_id, band, outcome, day, recorded_by, at)
                  VALUES (1, 2, 3, 'passed', '2026-04-15', 2, '2026-04-15T12:00:00+00:00')";
    assert!(refused(&house, forged).await.contains("assessor does not hold this level"));
    let for_another = "INSERT INTO assessment (member_id, assessor_id, band, outcome, day, recorded_by, at)
                       VALUES (2, 1, 3, 'passed', '2026-04-15', 2, '2026-04-15T12:00:00+00:00')";
    assert!(refused(&house, for_another).await.contains("recorded by the assessor"));
}

#[tokio::test]
async fn a_struck_assessment_counts_no_more_and_stays_readable() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let bo = house.person("Bo", "keeper").await;
    has_read(&house, bo.id()).await;
    let person = format!("/handling/people/{}", bo.id());
    olga.submit(&format!("{person}/assess"), &SEEN).await.sent_to();
    olga.get(&person).await.ok().says("Clearance 1: nothing is missing");
    olga.submit("/handling/assessments/1/strike", &[("why", "")]).await.is(422);
    olga.submit("/handling/assessments/1/strike", &[("why", "it was Cyprian")]).await.sent_to();
    olga.get(&person).await.ok().says("struck out").says("it was Cyprian").says("Clearance 1: still missing 1 more supervised rehouse");
    olga.submit_at("/handling", "/handling/assessments/1/strike", &[("why", "again")]).await.is(409);
    refused(&house, "UPDATE assessment SET outcome = 'stopped'").await;
    refused(&house, "DELETE FROM assessment").await;
}

#[tokio::test]
async fn an_owner_asks_for_more_practice_and_never_for_less() {
    let house = house().await;
    let mut olga = assessor(&house).await;
    let mut ada = house.person("Ada", "lead").await;
    ada.get("/handling/practice").await.ok().says("3 supervised rehouses; the least is 3.").lacks("Change");
    ada.submit_at("/handling", "/handling/practice", &[("level", "3"), ("passes", "5")]).await.is(403);
    olga.submit("/handling/practice", &[("level", "3"), ("passes", "5")]).await.sent_to();
    olga.get("/handling/practice").await.ok().says("5 supervised rehouses; the least is 3.");
    let again = olga.submit("/handling/practice", &[("level", "3"), ("passes", "2")]).await.is(422).says("from 3 to 20");
    assert_eq!(again.value("#passes-3"), "2");
    assert!(refused(&house, "UPDATE practice_rule SET passes = 0 WHERE level = 1").await.contains("practice_rule_range"));
    refused(&house, "UPDATE practice_rule SET least = 0, passes = 0 WHERE level = 1").await;
}

#[tokio::test]
async fn a_new_version_of_the_text_is_for_everybody_to_read() {
    let house = house().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "keeper").await;
    let page = bo.get("/handling/safe-work").await.ok().says("2 people have not read this version.");
    let (csrf, once) = page.tokens();
    bo.submit_at("/handling/safe-work", "/handling/safe-work/read", &[("version", "1")]).await.sent_to();
    bo.get("/handling/safe-work").await.ok().says("You have confirmed").says("1 person has not read").lacks("Change the text");
    bo.get("/handling/safe-work/new").await.is(403);
    let (new, text) = ("/handling/safe-work/new", "Read the band first. Close the lid at any doubt.");
    ada.submit(new, &[("version", "1"), ("text", "short")]).await.is(422).says("too short");
    ada.submit(new, &[("version", "1"), ("text", text)]).await.sent_to();
    // Somebody who changed the same version meanwhile does not write over it.
    ada.submit(new, &[("version", "1"), ("text", "Another text that is long enough.")]).await.is(409);
    bo.get("/handling/safe-work").await.ok().says("Version 2, by Ada").says("last read version 1").says("I have read this");
    // A page that was open with the old text confirms nothing.
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("version", "1")];
    bo.post_raw("/handling/safe-work/read", &fields).await.is(409);
    assert!(!store::has_read_current(&mut house.app.read().await.unwrap(), bo.id()).await.unwrap());
    refused(&house, "UPDATE safe_work_text SET text = 'nothing at all to say here'").await;
    refused(&house, "DELETE FROM safe_work_read").await;
    assert_eq!(today(), house.app.today());
}

#[tokio::test]
async fn the_house_adds_lines_to_the_list_and_takes_them_off() {
    let house = house().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "keeper").await;
    bo.get("/handling/checklist").await.ok().says("telephone at hand").lacks("Add a line");
    bo.submit_at("/handling/checklist", "/handling/checklist", &[("text", "radio off"), ("from_band", "3")]).await.is(403);
    let add = "/handling/checklist";
    ada.submit(add, &[("text", ""), ("from_band", "7")]).await.is(422).says("Fill this in.").says("from 0 to 3");
    ada.submit(add, &[("text", "radio off"), ("from_band", "3")]).await.sent_to();
    ada.submit(add, &[("text", "radio off"), ("from_band", "1")]).await.is(422).says("on the list already");
    ada.submit_at(add, "/handling/checklist/1/retire", &[]).await.sent_to();
    ada.submit_at(add, "/handling/checklist/1/retire", &[]).await.is(409);
    ada.get(add).await.ok().says("Off the list since");
    assert_eq!(store::house_lines(&mut house.app.read().await.unwrap(), 3).await.unwrap(), Vec::<String>::new());
    refused(&house, "UPDATE checklist_line SET text = 'other words'").await;
    refused(&house, "DELETE FROM checklist_line").await;
}
