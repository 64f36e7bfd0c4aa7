//! Writing care-sheet texts: the editor, its preview, and two people at once.

use super::book::stocked;
use crate::support::{Page, Person, TestHouse, number};

/// A text that may be sent.
pub const TEXT: [(&str, &str); 7] = [
    ("about", "{{name}} is black with orange knees."),
    ("housing", "Give it a hide.\n- ground: deep\n- lid: locked"),
    ("climate", "By day {{temperature.adult}} °C."),
    ("feeding", "Every {{feed.adult}} days, and nothing over {{uneaten.adult}} hours."),
    ("moulting", "Every {{moult-months.adult}} months."),
    ("safety", "Do not handle it. Call a clinician after a bite."),
    ("help", "Ask when it leaks."),
];
/// The species that it is written for: Brachypelma hamorii.
pub const ENGLISH: &str = "/species/4/text/en";

/// Opens the editor and sends its form with other words, as its hidden fields stand there.
pub async fn write(person: &mut Person, page: &str, deed: &str, over: &[(&str, &str)]) -> Page {
    write_at(person, page, page, deed, over).await
}

async fn write_at(person: &mut Person, page: &str, action: &str, deed: &str, over: &[(&str, &str)]) -> Page {
    let shown = person.get(page).await.ok();
    let seen = ["draft", "version", "newest"].map(|name| (name, shown.value(&format!("input[name={name}]"))));
    let mut fields: Vec<(&str, &str)> = seen.iter().map(|(name, value)| (*name, value.as_str())).collect();
    fields.extend(TEXT.iter().filter(|(name, _)| over.iter().all(|(other, _)| other != name)));
    fields.extend_from_slice(over);
    fields.push(("deed", deed));
    let (csrf, once) = shown.tokens();
    fields.extend([("csrf", csrf.as_str()), ("once", once.as_str())]);
    person.post_raw(action, &fields).await
}

/// What a textarea of a page holds.
fn typed(page: &Page, name: &str) -> String {
    let html = scraper::Html::parse_document(&page.text());
    let selector = scraper::Selector::parse(&format!("textarea[name={name}]")).unwrap();
    html.select(&selector).next().unwrap().text().collect()
}

async fn texts(house: &TestHouse) -> i64 {
    number(house, "SELECT COUNT(*) FROM care_text").await
}

#[tokio::test]
async fn a_draft_is_saved_and_printed_by_nobody() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let page = lead.get(ENGLISH).await.ok();
    page.says("Below stands revision 1").says("Fields").says("{{feed.adult}}").says("days between meals, adult");
    assert_eq!(write(&mut lead, ENGLISH, "save", &[("house", "We keep ours in oak boxes.")]).await.sent_to(), ENGLISH);
    let page = lead.get(ENGLISH).await.ok().says("Revision 2, draft; last written by Ada, 15 Apr 2026");
    assert_eq!(typed(&page, "house"), "We keep ours in oak boxes.");
    assert_eq!(typed(&page, "housing"), TEXT[1].1);
    let all = lead.get("/species/4/text").await.ok();
    all.says("English the house's language").says("Printed: revision 1 , starter text").says("Worked at: revision 2 , draft, Ada");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'care-text.saved'").await, 1);
}

#[tokio::test]
async fn a_preview_shows_how_it_prints_and_saves_nothing() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let (before, rows) = (texts(&house).await, number(&house, "SELECT COUNT(*) FROM audit").await);
    let own = [("about", "{{name}} has <b>orange</b> knees{{practice}}.\n- one\n- two"), ("housing", "half a sen")];
    let page = write_at(&mut lead, ENGLISH, &format!("{ENGLISH}/preview"), "", &own).await.ok();
    assert_eq!(
        (page.count("#preview h3"), page.count("#preview li"), page.count("#preview b"), page.count("#preview i[lang=la]")),
        (7, 2, 0, 1)
    );
    let page = page
        .says("Brachypelma hamorii has <b>orange</b> knees *")
        .says("Every 21–30 * days")
        .says("* The house's practice: common practice, no source.");
    assert_eq!((typed(&page, "about").as_str(), typed(&page, "housing").as_str()), (own[0].1, own[1].1));
    assert_eq!(page.count("h1"), 1);
    // The whole sheet.
    let sheet = write_at(&mut lead, ENGLISH, &format!("{ENGLISH}/sheet"), "", &own).await.ok();
    assert_eq!((sheet.count("h1"), sheet.count("form, nav, script, .strip, .sign")), (1, 0));
    sheet
        .says("Specimen: not issued")
        .says("has <b>orange</b> knees")
        .says("Text: revision 2, written by Ada on 15 April 2026, not yet reviewed");
    assert_eq!((texts(&house).await, number(&house, "SELECT COUNT(*) FROM audit").await), (before, rows));
    // From the preview the form goes on as it was.
    assert_eq!(page.value("input[name=newest]"), "1");
}

#[tokio::test]
async fn other_scientific_names_are_set_as_such() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let own = [("about", "Long sold as {{latin:Brachypelma smithi}}.")];
    let page = write_at(&mut lead, ENGLISH, &format!("{ENGLISH}/preview"), "", &own).await.ok();
    assert_eq!(page.count("#preview i[lang=la]"), 1);
    page.says("Long sold as Brachypelma smithi .");
    for wrong in ["{{latin:}}", "{{latin:<b>x</b>}}", "{{latin:smithi}}"] {
        write(&mut lead, ENGLISH, "save", &[("about", wrong)]).await.is(422).says("There is no field");
    }
}

#[tokio::test]
async fn every_mistake_is_named_at_once_and_nothing_typed_is_lost() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let before = texts(&house).await;
    let long = "x".repeat(3001);
    let wrong = [
        ("about", "every {{feed.giant}} and {{nonsense}}"),
        ("housing", "{{feed.adult"),
        ("climate", long.as_str()),
        ("feeding", ""),
        ("help", "- \n- two"),
    ];
    let page = write(&mut lead, ENGLISH, "send", &wrong).await.is(422);
    let page =
        page.says("There is no field {{feed.giant}}, {{nonsense}}").says("is opened or closed only").says("This has 3001 characters");
    let page = page.says("“Feeding” is empty").says("A line of a list is empty");
    for (name, own) in wrong.iter().filter(|(name, _)| *name != "feeding") {
        assert_eq!(typed(&page, name), *own, "{name}");
        assert_eq!(page.attribute(&format!("#{name}"), "aria-invalid"), "true");
    }
    // A preview of it says the same and shows what can be shown.
    let page = write_at(&mut lead, ENGLISH, &format!("{ENGLISH}/preview"), "", &wrong).await.is(422);
    page.says("{{nonsense}}").says("Preview: not saved");
    // A draft may be short of a section, but not of sense.
    write(&mut lead, ENGLISH, "save", &[("safety", "{{venom}}")]).await.is(422).says("There is no field {{venom}}");
    write(&mut lead, ENGLISH, "shred", &[]).await.is(400);
    write(&mut lead, ENGLISH, "save", &[("newest", "many"), ("draft", "")]).await.is(400);
    write(&mut lead, ENGLISH, "save", &[("colour", "red")]).await.is(400);
    assert_eq!(texts(&house).await, before);
    write(&mut lead, ENGLISH, "save", &[("safety", "")]).await.sent_to();
}

#[tokio::test]
async fn of_two_who_write_at_once_the_second_keeps_their_words_and_sees_the_others() {
    let house = stocked().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "owner").await;
    let page = bo.get(ENGLISH).await.ok();
    let (csrf, once) = page.tokens();
    write(&mut ada, ENGLISH, "save", &[("about", "Ada wrote this here.")]).await.sent_to();
    let mut fields: Vec<(&str, &str)> = TEXT.to_vec();
    fields.retain(|(name, _)| *name != "about");
    fields.extend([("about", "Bo wrote this here."), ("newest", "1"), ("draft", ""), ("deed", "save"), ("csrf", &csrf), ("once", &once)]);
    let page = bo.post_raw(ENGLISH, &fields).await.is(409);
    assert_eq!(typed(&page, "about"), "Bo wrote this here.");
    let page = page.says("Somebody else saved this text meanwhile. There now stands revision 2 in English, Ada");
    assert_eq!((page.count("#meanwhile p.difference del"), page.count("#meanwhile p.difference ins")), (1, 1));
    let page = page.says("[−Ada−]").says("{+Bo+}");
    // Saving it again is a decision.
    let over = ["draft", "version", "newest"].map(|name| (name, page.value(&format!("input[name={name}]"))));
    let (csrf, once) = page.tokens();
    let mut fields: Vec<(&str, &str)> = TEXT.to_vec();
    fields.retain(|(name, _)| *name != "about");
    fields.extend(over.iter().map(|(name, value)| (*name, value.as_str())));
    fields.extend([("about", "Bo wrote this here."), ("deed", "save"), ("csrf", &csrf), ("once", &once)]);
    assert_eq!(bo.post_raw(ENGLISH, &fields).await.sent_to(), ENGLISH);
    assert_eq!(typed(&ada.get(ENGLISH).await.ok().says("last written by Bo"), "about"), "Bo wrote this here.");
}

#[tokio::test]
async fn a_text_in_another_language_is_written_beside_the_one_that_is_there() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    assert_eq!(lead.get("/species/4/text?language=fr").await.sent_to(), "/species/4/text/fr");
    assert_eq!(lead.get("/species/4/text?language=fr&tag=ZH-hant").await.sent_to(), "/species/4/text/zh-Hant");
    lead.get("/species/4/text?tag=klingonese").await.is(422).says("Write a tag such as fr");
    let page = lead.get("/species/4/text/ar").await.ok();
    assert_eq!((page.attribute("textarea", "dir"), page.attribute("textarea", "lang")), ("rtl".to_owned(), "ar".to_owned()));
    assert_eq!(typed(&page, "about"), "");
    page.says("There is no text in العربية yet").says("revision 1 in English to write by").says("About the animal in English");
    lead.get("/species/4/text/not-a-tag-at-all").await.is(404);
    lead.get("/species/999/text/en").await.is(404);
    // The house's language.
    let other = lead.submit_at("/species/texts", "/species/texts/language", &[("language", "de")]).await.sent_to();
    lead.get(&other).await.ok().says("else in Deutsch");
    lead.submit_at("/species/texts", "/species/texts/language", &[("language", "x")]).await.is(422);
    assert_eq!(house.app.site().language.code(), "de");
}

#[tokio::test]
async fn texts_are_for_leads_and_owners() {
    let house = stocked().await;
    for role in ["keeper", "counter", "keeper counter"] {
        let mut person = house.person(role, role).await;
        for path in ["/species/texts", "/species/4/text", ENGLISH, "/species/texts/1", "/species/texts/1/sheet"] {
            person.get(path).await.is(403);
        }
        person.get("/species/4").await.ok().lacks("Care-sheet texts");
    }
    let mut owner = house.person("Ola", "owner").await;
    owner.get("/species/texts").await.ok().says("Brachypelma hamorii").says("Deutsch 1 (starter)");
    owner.get("/species/4").await.ok().says("Care-sheet texts");
}
