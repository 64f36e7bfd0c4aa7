//! The rules of a care profile, from their page to the day's duties.

use silkward::house::ids::AnimalId;

use super::stock::{CALM, animal, cohort, house, open_cohort_duty, open_duty, plan, sign};
use crate::support::{Page, Person, TestHouse, number};

const PAGE: &str = "/species/4/rules";

/// A field, which of those of its name, and what is typed in it.
type Changed<'a> = (&'a str, usize, &'a str);

/// What a form holds, with some fields changed; the n-th of those that have a name several times.
pub fn filled(page: &Page, over: &[Changed<'_>]) -> Vec<(String, String)> {
    let document = scraper::Html::parse_document(&page.text());
    let selector = scraper::Selector::parse("main form input[name]").unwrap();
    let fields = document.select(&selector).filter(|field| !matches!(field.attr("name"), Some("csrf" | "once")));
    let mut fields: Vec<(String, String)> =
        fields.map(|field| (field.attr("name").unwrap().to_owned(), field.attr("value").unwrap_or_default().to_owned())).collect();
    for (name, line, value) in over {
        match fields.iter_mut().filter(|(known, _)| known == name).nth(*line) {
            Some(field) => (*value).clone_into(&mut field.1),
            None => fields.push(((*name).to_owned(), (*value).to_owned())),
        }
    }
    fields
}

async fn send(person: &mut Person, over: &[Changed<'_>]) -> Page {
    let mut over = over.to_vec();
    over.push(("why", 0, "Ours do better so."));
    let fields = filled(&person.get(PAGE).await.ok(), &over);
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    person.submit(PAGE, &fields).await
}

async fn held_until(house: &TestHouse, animal: AnimalId, blocks: &str) -> String {
    sqlx::query_scalar("SELECT until_at FROM hold WHERE animal_id = ? AND blocks = ?")
        .bind(animal)
        .bind(blocks)
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap()
}

#[tokio::test]
async fn changing_a_rule_plans_open_duties_again_and_says_how_many_changed() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    assert_eq!(open_duty(&house, animal, "rehouse").await, None);
    let mut lead = house.person("Ada", "lead").await;
    // 60 mm in a box of 300 mm: five spans. When the profile asks for six, it is outgrown; juveniles are the second stage.
    let there = send(&mut lead, &[("length_spans", 1, "6"), ("most_length_spans", 1, "9")]).await.sent_to();
    let made = lead.get(&there).await.ok().says("revision 2").says("Planned again: 1 duties opened, 0 changed, 0 no longer due.");
    made.says("juvenile Least box length, in leg spans 3 6");
    assert!(open_duty(&house, animal, "rehouse").await.is_some());
    let there = send(&mut lead, &[("length_spans", 1, "3")]).await.sent_to();
    lead.get(&there).await.ok().says("0 duties opened, 0 changed, 1 no longer due");
    assert_eq!(open_duty(&house, animal, "rehouse").await, None);
    // The care page says so too: another interval is another reason of the same open feed.
    let feed = open_duty(&house, animal, "feed").await;
    let care = "/species/4/care/juvenile";
    let form = lead.get(care).await.ok();
    let area = |name: &str| form.attribute(&format!("#{name}"), "name");
    let words = ["prey", "water", "substrate", "ventilation", "hide"].map(|name| (area(name), "As before.".to_owned()));
    let mut fields = filled(&form, &[("feed_min_days", 0, "3"), ("basis", 0, "Our own records")]);
    fields.extend(words);
    fields.push(("why".to_owned(), "Hungrier.".to_owned()));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let there = lead.submit(care, &fields).await.sent_to();
    lead.get(&there).await.ok().says("Planned again: 0 duties opened, 1 changed, 0 no longer due.").says("juvenile");
    assert_eq!(open_duty(&house, animal, "feed").await, feed, "overdue carries over and never doubles");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'care.revised'").await, 3);
}

#[tokio::test]
async fn every_wrong_rule_is_named_and_kept() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let wrong = [
        ("retry_days", 0, "0"),
        ("look_after", 2, "soon"),
        ("settle_min_days", 1, "20"),
        ("fall_gap_spans", 0, ""),
        ("sac_turns", 0, "99"),
        ("threat_open_hours", 0, "500"),
    ];
    let again = send(&mut lead, &wrong).await.is(422);
    assert_eq!(again.count(".mistakes li"), 6, "{}", again.words());
    assert_eq!((again.value("#retry_days"), again.value("#look_after-2")), ("0".to_owned(), "soon".to_owned()));
    // Sizes rise, begin at nothing, and a larger spider never fasts for less time.
    let fasts: [(&[Changed<'_>], &str); 4] = [
        (&[("fast_from", 0, "5")], "begins at 0 mm"),
        (&[("fast_from", 1, "0")], "larger leg span than the one before"),
        (&[("fast_max", 2, "2")], "must not come before the earliest"),
        (&[("fast_min", 1, "1"), ("fast_max", 1, "1")], "never fasts for less time"),
    ];
    for (over, says) in fasts {
        send(&mut lead, over).await.is(422).says(says);
    }
    send(&mut lead, &[]).await.is(422).says("Nothing differs from revision 1");
    send(&mut lead, &[("colour", 0, "red")]).await.is(400);
    send(&mut lead, &[("revision", 0, "7"), ("retry_days", 0, "4")]).await.is(422).says("Meanwhile the program saved revision 1");
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.get(PAGE).await.is(403);
    keeper.get("/species/4").await.ok().says("5 to 7 from 15 mm").says("the house's practice").lacks("Change the rules");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM care_profile WHERE species_id = 4").await, 1);
}

#[tokio::test]
async fn a_threat_is_left_alone_for_as_long_as_its_species_needs() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut lead = house.person("Ada", "lead").await;
    send(&mut lead, &[("threat_open_hours", 0, "48")]).await.sent_to();
    let mut bo = house.keeper("Bo", 2).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    sign(&mut bo, feed, &[("outcome", "threat")]).await.sent_to();
    // Noon on 15 April: two days by the profile; the days for hands in are the house's, three.
    assert!(held_until(&house, animal, "open").await.starts_with("2026-04-17T12:00"));
    assert!(held_until(&house, animal, "hands-in").await.starts_with("2026-04-18T12:00"));
}

#[tokio::test]
async fn a_moult_holds_for_the_fast_of_the_profile() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let mut lead = house.person("Ada", "lead").await;
    send(&mut lead, &[("fast_min", 2, "9"), ("fast_max", 2, "13")]).await.sent_to();
    let mut bo = house.keeper("Bo", 2).await;
    let look = open_duty(&house, animal, "moult-check").await.unwrap();
    let fields = [("day", "2026-04-15"), ("skin_kept", "yes")];
    bo.submit_at(&format!("/round/duties/{look}"), &format!("/round/duties/{look}/moult"), &fields).await.sent_to();
    assert!(held_until(&house, animal, "hands-in").await.starts_with("2026-04-28"), "60 mm: 13 days");
    house.set_clock("2026-04-27T12:00:00Z");
    plan(&house).await;
    assert_eq!(open_duty(&house, animal, "feed").await, None);
    house.set_clock("2026-04-28T12:00:00Z");
    plan(&house).await;
    assert!(open_duty(&house, animal, "feed").await.is_some());
}

#[tokio::test]
async fn a_count_that_was_off_by_more_than_three_is_done_again() {
    let house = house().await;
    let cohort = cohort(&house, CALM, 100).await;
    house.set_clock("2026-05-02T12:00:00Z");
    plan(&house).await;
    let mut bo = house.keeper("Bo", 2).await;
    let count = open_cohort_duty(&house, cohort, "cohort-count").await.unwrap();
    let fields = [("stage", "i2"), ("counted", "95")];
    bo.submit_at(&format!("/round/duties/{count}"), &format!("/round/duties/{count}/count"), &fields).await.sent_to();
    assert_eq!(open_cohort_duty(&house, cohort, "cohort-count").await, None);
    house.set_clock("2026-05-03T12:00:00Z");
    plan(&house).await;
    let mut bo = house.sign_in(bo.id()).await;
    let again = open_cohort_duty(&house, cohort, "cohort-count").await.unwrap();
    bo.get(&format!("/round/duties/{again}")).await.ok().says("the count of 2 May 2026 was off by 5");
    bo.submit_at(&format!("/round/duties/{again}"), &format!("/round/duties/{again}/count"), &fields).await.sent_to();
    house.set_clock("2026-05-04T12:00:00Z");
    plan(&house).await;
    assert_eq!(open_cohort_duty(&house, cohort, "cohort-count").await, None);
}
