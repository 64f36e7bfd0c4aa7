//! Reviewing care-sheet texts: by somebody else, once, and for good.

use super::book::stocked;
use super::text::{ENGLISH, write};
use crate::support::{Page, Person, TestHouse, number};

/// Sends a text for review; gives its page.
async fn sent(lead: &mut Person, over: &[(&str, &str)]) -> String {
    write(lead, ENGLISH, "send", over).await.sent_to()
}

async fn review(person: &mut Person, page: &str) -> Page {
    let version = person.get(page).await.ok().value(&format!("form[action='{page}/review'] input[name=version]"));
    person.submit_at(page, &format!("{page}/review"), &[("version", &version)]).await
}

async fn refused(house: &TestHouse, change: &'static str) {
    assert!(sqlx::query(change).execute(&house.app.database.writer).await.is_err(), "{change}");
}

#[tokio::test]
async fn somebody_else_reviews_and_then_it_is_printed_for_good() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "lead").await;
    let page = sent(&mut ada, &[]).await;
    bo.get("/species/texts").await.ok().says("Waiting for a review").says("Brachypelma hamorii , English, revision 2 , by Ada");
    // Against the revision that is printed, in marks and not by colour alone.
    let shown = bo.get(&page).await.ok().says("Against revision 1").says("[−").says("{+").says("Sent for review");
    assert!(shown.count(".difference del") > 3 && shown.count(".difference ins") > 3);
    // Its writer can't, by the page or beneath it.
    ada.get(&page).await.ok().says("another lead or an owner reviews it");
    ada.submit_at("/species/texts", &format!("{page}/review"), &[("version", "2")]).await.is(409).says("You wrote at this text");
    refused(&house, "UPDATE care_text SET state = 'reviewed', reviewer_id = 1, reviewed_on = '2026-04-15', alone = 1 WHERE state = 'sent'")
        .await;
    refused(
        &house,
        "UPDATE care_text SET state = 'reviewed', reviewer_id = 2, reviewed_on = '2026-04-15', about = 'x' WHERE state = 'sent'",
    )
    .await;

    assert_eq!(review(&mut bo, &page).await.sent_to(), "/species/4/text");
    bo.get(&page).await.ok().says("Reviewed. Written by Ada, 15 Apr 2026; reviewed by Bo on 15 Apr 2026");
    bo.get("/species/4/text").await.ok().says("Printed: revision 2 , reviewed by Bo on 15 Apr 2026").lacks("Worked at");
    for change in [
        "UPDATE care_text SET about = 'other' WHERE state = 'reviewed'",
        "UPDATE care_text SET state = 'draft', reviewer_id = NULL, reviewed_on = NULL WHERE state = 'reviewed'",
        "UPDATE care_text SET reviewer_id = 1 WHERE state = 'reviewed'",
        "DELETE FROM care_text WHERE state = 'reviewed'",
        "UPDATE care_text SET about = 'other' WHERE state = 'starter'",
        "UPDATE care_text SET state = 'draft', author_id = 1 WHERE state = 'starter'",
        "DELETE FROM care_text WHERE state = 'starter'",
        "DELETE FROM care_text_writer",
        "UPDATE care_text_writer SET member_id = 2",
    ] {
        refused(&house, change).await;
    }
    // The next change is the next revision.
    write(&mut bo, ENGLISH, "save", &[]).await.sent_to();
    bo.get("/species/4/text").await.ok().says("Printed: revision 2").says("Worked at: revision 3 , draft, Bo");
}

#[tokio::test]
async fn of_two_reviews_at_once_one_counts() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "lead").await;
    let mut cy = house.person("Cy", "owner").await;
    let page = sent(&mut ada, &[]).await;
    let version = bo.get(&page).await.ok().value(&format!("form[action='{page}/review'] input[name=version]"));
    let (csrf, once) = cy.get(&page).await.tokens();
    review(&mut bo, &page).await.sent_to();
    let late = [("version", version.as_str()), ("csrf", &csrf), ("once", &once)];
    cy.post_raw(&format!("{page}/review"), &late).await.is(409).says("not waiting for a review any more");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'care-text.reviewed'").await, 1);
}

#[tokio::test]
async fn what_changed_since_it_was_read_is_not_reviewed() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "lead").await;
    let page = sent(&mut ada, &[]).await;
    let read = bo.get(&page).await.ok().value(&format!("form[action='{page}/review'] input[name=version]"));
    sent(&mut ada, &[("about", "Something else.")]).await;
    bo.submit_at(&page, &format!("{page}/review"), &[("version", &read)]).await.is(409).says("has changed meanwhile");
    // Whoever wrote at it, however little and long ago, does not review it.
    write(&mut bo, ENGLISH, "send", &[("help", "Ask Bo.")]).await.sent_to();
    write(&mut ada, ENGLISH, "send", &[("help", "Ask Ada.")]).await.sent_to();
    bo.get(&page).await.ok().says("another lead or an owner reviews it");
}

#[tokio::test]
async fn the_only_lead_reviews_alone_and_it_is_said() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    house.person("Kim", "keeper counter").await;
    let page = sent(&mut ada, &[]).await;
    ada.get(&page).await.ok().says("Nobody else here could review it");
    refused(&house, "UPDATE care_text SET state = 'reviewed', reviewer_id = 1, reviewed_on = '2026-04-15' WHERE state = 'sent'").await;
    refused(&house, "UPDATE care_text SET state = 'reviewed', reviewer_id = 2, reviewed_on = '2026-04-15' WHERE state = 'sent'").await;
    review(&mut ada, &page).await.sent_to();
    ada.get(&page).await.ok().says("reviewed by Ada on 15 Apr 2026, who wrote it too");
    ada.get(&format!("{page}/sheet"))
        .await
        .ok()
        .says("reviewed by Ada, who wrote it too, on 15 April 2026: nobody else was there who could");
}

#[tokio::test]
async fn a_starter_text_is_reviewed_by_any_lead_as_it_is() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    house.person("Bo", "owner").await;
    let page = "/species/texts/4";
    ada.get(page).await.ok().says("Starter text, not yet reviewed by this house. Written by the program (starter text)");
    ada.get(&format!("{page}/sheet"))
        .await
        .ok()
        .says("Text: revision 1, starter text, written on 15 April 2026, not yet reviewed by this house.");
    review(&mut ada, page).await.sent_to();
    ada.get(&format!("{page}/sheet")).await.ok().says("starter text, written on 15 April 2026, reviewed by Ada on 15 April 2026.");
    assert_eq!(number(&house, "SELECT alone FROM care_text WHERE state = 'reviewed'").await, 0);
}

#[tokio::test]
async fn what_is_given_back_is_a_draft_with_a_remark_and_may_be_thrown_away() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "lead").await;
    let page = sent(&mut ada, &[]).await;
    let version = bo.get(&page).await.ok().value(&format!("form[action='{page}/review'] input[name=version]"));
    let back = format!("{page}/give-back");
    bo.submit_at(&page, &back, &[("version", &version), ("remark", " ")]).await.is(422).says("Say what should change");
    let long = "y".repeat(601);
    let again = bo.submit_at(&page, &back, &[("version", &version), ("remark", &long)]).await.is(422).says("at most 600 fit");
    assert!(again.text().contains(&long), "what was typed is kept");
    bo.submit_at(&page, &back, &[("version", &version), ("remark", "Name the source.")]).await.sent_to();
    ada.get(ENGLISH).await.ok().says("The reviewer asks for:").says("Name the source.");
    bo.submit_at("/species/texts", &format!("{page}/review"), &[("version", "3")]).await.is(409);
    let version = ada.get(&page).await.ok().value(&format!("form[action='{page}/discard'] input[name=version]"));
    ada.submit_at(&page, &format!("{page}/discard"), &[("version", "1")]).await.is(409);
    ada.submit_at(&page, &format!("{page}/discard"), &[("version", &version)]).await.sent_to();
    ada.get(&page).await.is(404);
    ada.get("/species/4/text").await.ok().says("Printed: revision 1").lacks("Worked at");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM care_text_writer").await, 0);
    ada.submit_at("/species/texts", "/species/texts/4/discard", &[("version", "1")]).await.is(409);
}

#[tokio::test]
async fn markup_in_a_text_is_text_wherever_it_is_shown() {
    const PAYLOADS: [&str; 6] = [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "</textarea><svg onload=alert(1)>",
        "<!--strip-2--></head><!--person-1-->",
        "[x](javascript:alert(1)) <a href=javascript:alert(1)>y</a>",
        "{{name}}<b>{{practice}}</b>{% include %}&lt;i&gt;",
    ];
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("<b>Bo</b>", "lead").await;
    let all = PAYLOADS.join("\n");
    let over: Vec<(&str, &str)> =
        ["about", "housing", "climate", "feeding", "moulting", "safety", "help", "house"].map(|name| (name, all.as_str())).into();
    let page = sent(&mut ada, &over).await;
    for path in [ENGLISH.to_owned(), page.clone(), format!("{page}/sheet")] {
        let shown = bo.get(&path).await.ok();
        assert_eq!(shown.count("main script, main img, main svg, main b, main a[href^=javascript], .strip"), 0, "{path}");
        assert_eq!((shown.count("head > link[href*='style'], head > link[href*='sheet-2']"), shown.count("h1")), (1, 1), "{path}");
        shown.says("alert(1)");
    }
    review(&mut bo, &page).await.sent_to();
    bo.get(&format!("{page}/sheet")).await.ok().says("reviewed by <b>Bo</b> on");
}
