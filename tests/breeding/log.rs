//! The log beside a sac. Figures of warmth and humidity are common practice, no source.

use super::{breeders, lay};

#[tokio::test]
async fn readings_are_noted_warned_of_charted_and_struck_out() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-04-11").await;
    let log = format!("{sac}/log");
    keeper.get(&log).await.ok().says("No reading yet.").says("Kept from 25 to 28 °C; above 30 °C it is at risk");
    keeper.get(&format!("{sac}/log.csv")).await.is(404);
    let with = |day: &'static str, celsius: &'static str, humidity: &'static str| {
        [("day", day), ("time", "08:00"), ("celsius", celsius), ("humidity", humidity)]
    };
    for (fields, says) in [
        (with("2026-04-10", "26", ""), "laid on 11 Apr 2026"),
        (with("2026-04-16", "26", ""), "still to come"),
        (with("2026-04-12", "", "80"), "Enter the temperature."),
        (with("2026-04-12", "warm", ""), "Enter a number"),
        (with("2026-04-12", "61", ""), "Enter a number"),
        (with("2026-04-12", "26.5", "0"), "Enter a whole number from 1 to 100."),
    ] {
        keeper.submit(&log, &fields).await.is(422).says(says);
    }
    keeper.submit(&log, &with("2026-04-12", "26,0", "78")).await.sent_to();
    keeper.submit(&log, &with("2026-04-14", "31", "")).await.sent_to();
    // 11 to 13 April at 26, 14 and 15 April at 31, above 15 °C: 33 + 32.
    let page = keeper.get(&log).await.ok().says("65 degree-days above 15").says("2 of 5 days have a reading");
    let page = page.says("so warm that the eggs are at risk").says("Temperature beside the sac");
    assert_eq!(page.count("figure.chart"), 2);
    keeper.get(&sac).await.ok().says("65 degree-days").says("at risk");
    let csv = keeper.get(&format!("{sac}/log.csv")).await.ok().text();
    assert!(csv.contains("2026-04-12 08:00") || csv.contains("2026-04-12 "), "{csv}");
    assert!(csv.contains("26.0") && csv.contains("78"), "{csv}");
    assert!(keeper.get(&format!("{sac}/warmth.csv")).await.ok().text().contains("2026-04-15"));
    keeper.submit_at(&log, &format!("{log}/2/strike"), &[]).await.sent_to();
    keeper.get(&log).await.ok().says("55 degree-days").lacks("so warm");
    keeper.submit_at(&log, &format!("{log}/2/strike"), &[]).await.is(404);
    for statement in ["UPDATE sac_reading SET decicelsius = 1", "DELETE FROM sac_reading", "DELETE FROM sac_seen WHERE id = 1"] {
        let done = sqlx::query(statement).execute(&house.app.database.writer).await;
        assert!(done.is_err() || statement.contains("sac_seen"), "{statement}");
    }
}

#[tokio::test]
async fn the_base_is_the_sacs_own_and_the_limits_the_species_own() {
    let (house, mut keeper) = breeders().await;
    let fields = [("dam", "1"), ("laid_on", "2026-04-15"), ("base_c", "20")];
    let sac = keeper.submit("/breeding/sacs/new", &fields).await.sent_to();
    keeper.submit("/breeding/sacs/new", &[("dam", "1"), ("laid_on", "2026-04-15"), ("base_c", "40")]).await.is(422).says("from 0 to 25");
    keeper.submit(&format!("{sac}/log"), &[("day", "2026-04-15"), ("time", "08:00"), ("celsius", "24")]).await.sent_to();
    keeper.get(&sac).await.ok().says("4 degree-days above 20").says("too cool");
    let species = crate::cohorts::stock::species(&house.app, "Brachypelma hamorii").await;
    let mut lead = house.person("Ada", "lead").await;
    let rules = format!("/species/{species}/rules");
    let page = lead.get(&rules).await.ok();
    let html = scraper::Html::parse_document(&page.text());
    let typed: Vec<(String, String)> = html
        .select(&scraper::Selector::parse("main form.sheet input[type=text], main form.sheet input[type=hidden][name=revision]").unwrap())
        .map(|input| (input.value().attr("name").unwrap().to_owned(), input.value().attr("value").unwrap_or_default().to_owned()))
        .collect();
    let send = |changes: &[(&str, &str)]| {
        let mut fields: Vec<(String, String)> = typed.clone();
        for (name, value) in changes {
            for field in fields.iter_mut().filter(|(known, _)| known == name) {
                field.1 = (*value).to_owned();
            }
        }
        fields.push(("why".to_owned(), "this line is kept cooler".to_owned()));
        fields
    };
    let borrowed = |fields: &[(String, String)]| fields.iter().map(|(name, value)| (name.clone(), value.clone())).collect::<Vec<_>>();
    for (changes, says) in [
        ([("sac_after_from", "40"), ("sac_after_to", "")], "Give both days"),
        ([("sac_after_from", "40"), ("sac_after_to", "30")], "the first before the last"),
        ([("incubate_min_c", "29"), ("incubate_max_c", "")], "These must rise: 29, 28, 30 °C."),
    ] {
        let fields = borrowed(&send(&changes));
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        lead.submit(&rules, &fields).await.is(422).says(says);
    }
    let fields = borrowed(&send(&[("incubate_min_c", "22"), ("sac_after_from", "30"), ("sac_after_to", "60")]));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    lead.submit(&rules, &fields).await.sent_to();
    keeper.get(&sac).await.ok().lacks("too cool");
    super::pair(&mut keeper, "2", "2026-04-15").await;
    keeper.get("/breeding/pairings/1").await.ok().says("the usual 30 to 60 days");
}

/// From the stop of a sac's duty the log and the stages are one link away.
#[tokio::test]
async fn a_sacs_stop_leads_to_its_log_and_its_stages() {
    let (house, mut keeper) = breeders().await;
    let sac = lay(&mut keeper, "2026-02-01").await;
    keeper.submit(&format!("{sac}/pulled"), &[("day", "2026-03-20"), ("note", "")]).await.sent_to();
    let duty: i64 = sqlx::query_scalar("SELECT id FROM duty WHERE sac_id = 1 AND kind = 'sac-check' AND state = 'open'")
        .fetch_one(&house.app.database.writer)
        .await
        .unwrap();
    let page = keeper.get(&format!("/round/duties/{duty}")).await.ok().says("Note a reading");
    assert_eq!(page.count(&format!("a[href='{sac}/log'], a[href='{sac}/seen']")), 2);
}
