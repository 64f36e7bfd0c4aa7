//! What a care sheet says.

use silkward::animals::model::NewMoult;
use silkward::house::audit::Change;

use crate::sales::stock::{self, CALM, LISTED, RISKY, add_animal, add_lot, begin, day, hand_over, house};

#[tokio::test]
async fn an_animals_sheet_holds_its_own_facts() {
    let house = house().await;
    sqlx::query("UPDATE site SET name = 'Webbed House', address = '1 Silk Street' || char(10) || 'Anytown'")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    let address = begin(&mut seller).await;
    let animal = stock::animal(&house, CALM).await;
    add_animal(&house, &mut seller, &address, animal).await;
    hand_over(&mut seller, &address, "").await.sent_to();
    let page = seller.get("/papers/1").await.ok();
    assert_eq!(page.attribute("html", "lang"), "en-GB");
    assert_eq!(page.count("h1"), 1);
    let tag = stock::tag(&house, animal).await;
    page.says("Webbed House 1 Silk Street Anytown")
        .says("Number S-2026-0001 · revision 1 · issued Wednesday 15 April 2026")
        .says("Grammostola pulchra Mello-Leitão, 1921")
        .says(&format!("Tag {tag}"))
        .says("juvenile, 6th instar")
        .says("60 mm, measured on 10 January 2026")
        .says("bought in; in this house since 10 January 2026")
        .says("C: bred in captivity")
        .says("5 April 2026: one cricket")
        .says("not sexed")
        .says("every 10 to 14 days")
        .says("revision 1")
        .says("common practice, no source")
        .says("No live vertebrate prey")
        .says("Setae in an eye: do not rub")
        .says("this sheet decides nothing")
        .says("Received by");
}

#[tokio::test]
async fn a_lots_sheet_counts_them_and_gives_care_for_every_stage_to_come() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, RISKY, 60).await;
    let address = begin(&mut seller).await;
    add_lot(&mut seller, &address, cohort, "40").await;
    hand_over(&mut seller, &address, "").await.sent_to();
    let page = seller.get("/papers/1").await.ok();
    assert_eq!(page.count(".care thead th"), 3);
    page.says("How many 40")
        .says("spiderling, second instar")
        .says("12 mm, estimated over the cohort")
        .says("8 April 2026: fruit flies")
        .says("Band 3: dangerous")
        .says("cramps may come hours after a bite")
        .says("Call your local emergency number, a poison centre or a clinician")
        .lacks("Setae in an eye: do not rub");
}

#[tokio::test]
async fn a_listed_species_sheet_names_each_listing_with_its_source_and_day() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let animal = stock::animal(&house, LISTED).await;
    let mut write = house.app.write(None).await.unwrap();
    let moult = NewMoult { day: day("2026-03-01"), skin_kept: false, note: String::new(), span: None, signoff: None };
    silkward::animals::store::record_moult(&mut write, animal, &moult).await.unwrap();
    write.commit(Change::new("test.moult", "animal", ""), "/").await.unwrap();
    let address = begin(&mut lead).await;
    add_animal(&house, &mut lead, &address, animal).await;
    hand_over(&mut lead, &address, "papers follow by post").await.sent_to();
    let page = lead.get("/papers/1").await.ok();
    page.says("CITES: Appendix II").says("last checked 25 November 2026, not verified").says("1 March 2026").says("7th instar");
}

#[tokio::test]
async fn what_staff_typed_stands_on_the_sheet_as_text() {
    let house = house().await;
    let typed = "</head><!--strip-1--><script>alert(1)</script>";
    sqlx::query("UPDATE site SET name = ?").bind(typed).execute(&house.app.database.writer).await.unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    stock::done(&house, &mut seller).await;
    let page = seller.get("/papers/1").await.ok();
    assert_eq!((page.count("script"), page.count("head > link"), page.count(".strip")), (0, 1, 1));
    page.says(typed);
}
