//! Sheets in the buyer's language, and what they say when that is not there.

use silkward::house::audit::Change;
use silkward::papers::wording::{Tongue, Wording, emergency_lines};
use silkward::reckoning::hazard::{HazardFacts, IndividualCaution, assess, cautions_text};
use silkward::reckoning::provenance::SourceCode;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{Habit, LifeStage, Moisture, Setae, Sex, SexBasis, Venom};
use silkward::species::model::text::TextSection;

use crate::sales::stock::{self, CALM, RISKY, add_animal, add_lot, begin, day, hand_over, house};
use crate::support::{Page, Person, TestHouse};

async fn reads(house: &TestHouse, language: &str) {
    sqlx::query("UPDATE buyer SET language = ?").bind(language).execute(&house.app.database.writer).await.unwrap();
}

/// The sheet of an animal for a buyer who reads a language.
async fn sheet_for(house: &TestHouse, seller: &mut Person, species: &str, language: &str) -> Page {
    let address = begin(seller).await;
    reads(house, language).await;
    let animal = stock::animal(house, species).await;
    add_animal(house, seller, &address, animal).await;
    hand_over(seller, &address, "").await.sent_to();
    let papers: i64 = sqlx::query_scalar("SELECT MAX(id) FROM paper WHERE kind = 'care-sheet'").fetch_one(&house.app.database.writer).await.unwrap();
    seller.get(&format!("/papers/{papers}")).await.ok()
}

#[test]
fn no_word_is_missing_in_any_language_and_none_is_left_in_english() {
    let english = Wording::english().words();
    assert!(english.len() > 80);
    let german = Wording::in_tongue(Tongue::German).words();
    // The same in both.
    const SAME: [&str; 0] = [];
    for ((name, english), (other, german)) in english.iter().zip(&german) {
        assert_eq!(name, other);
        assert!(!english.trim().is_empty() && !german.trim().is_empty(), "{name}");
        assert!(english != german || SAME.contains(name), "{name} is “{german}” in both");
        assert_eq!(english.ends_with('.'), german.ends_with('.'), "{name}");
    }
}

#[test]
fn coded_words_are_there_in_every_language() {
    let (english, german) = (Wording::english(), Wording::in_tongue(Tongue::German));
    let differ = |one: String, other: String| assert!(!other.is_empty() && one != other, "{one} = {other}");
    for stage in LifeStage::ALL {
        differ((english.life_stage)(*stage).to_owned(), (german.life_stage)(*stage).to_owned());
    }
    for section in TextSection::ALL {
        differ(english.heading(section).to_owned(), german.heading(section).to_owned());
    }
    for stage in Stage::all().filter(|stage| *stage != Stage::PostEmbryo) {
        differ((english.stage)(stage), (german.stage)(stage));
    }
    for source in SourceCode::ALL {
        let words = (german.source)(*source, true);
        differ((english.source)(*source, true), words.clone());
        assert!(words.starts_with(&format!("{}/O: ", source.code())));
    }
    for (habit, moisture) in Habit::ALL.iter().flat_map(|habit| Moisture::ALL.iter().map(move |moisture| (*habit, *moisture))) {
        differ((english.lives)(habit, moisture), (german.lives)(habit, moisture));
    }
    for (sex, basis) in
        [(Sex::Unknown, SexBasis::None), (Sex::Female, SexBasis::Exuvium), (Sex::Male, SexBasis::Mature), (Sex::Male, SexBasis::Suspected)]
    {
        differ((english.sex)(sex, basis), (german.sex)(sex, basis));
    }
    for venom in Venom::ALL {
        differ((english.venom)(*venom).to_owned(), (german.venom)(*venom).to_owned());
    }
    for band in 0..=3 {
        differ((english.band)(band).to_owned(), (german.band)(band).to_owned());
    }
}

#[test]
fn every_caution_and_reason_is_given_in_every_language_one_for_one() {
    let german = Wording::in_tongue(Tongue::German);
    let caution = IndividualCaution { level: silkward::reckoning::hazard::Band::new(3).unwrap(), text: "bites the forceps".to_owned() };
    for venom in Venom::ALL {
        for setae in Setae::ALL {
            for stage in LifeStage::ALL {
                for bits in 0..16_u8 {
                    let bit = |at: u8| bits >> at & 1 == 1;
                    let facts = HazardFacts {
                        venom: *venom,
                        setae: *setae,
                        defensive: bit(0),
                        very_fast: bit(1),
                        adult_span_max_mm: if bit(2) { 250 } else { 130 },
                        life_stage: *stage,
                        cautions: if bit(3) { vec![caution.clone()] } else { Vec::new() },
                    };
                    assert_eq!((german.cautions)(&facts).len(), cautions_text(&facts).len(), "{facts:?}");
                    assert_eq!((german.reasons)(&facts).len(), assess(&facts).reasons.len(), "{facts:?}");
                    assert_eq!((Wording::english().cautions)(&facts), cautions_text(&facts));
                    let cramps = (german.cautions)(&facts).iter().any(|line| line.contains("Krämpfe"));
                    assert_eq!(cramps, *venom == Venom::Significant);
                }
            }
        }
    }
}

#[test]
fn days_are_written_as_each_language_writes_them() {
    let german = Wording::in_tongue(Tongue::German);
    assert_eq!((Wording::english().day)(day("2026-03-04")), "4 March 2026");
    assert_eq!((german.day)(day("2026-03-04")), "4. März 2026");
    assert_eq!((german.long_day)(day("2026-04-15")), "Mittwoch, 15. April 2026");
    assert_eq!((german.long_day)(day("2024-02-29")), "Donnerstag, 29. Februar 2024");
    assert_eq!(emergency_lines(&["de", "en", "de", "tlh", "fr"]).iter().map(|(tag, _)| *tag).collect::<Vec<_>>(), ["de", "en", "fr"]);
}

#[tokio::test]
async fn a_sheet_is_in_the_buyers_language_if_the_text_is_there() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let page = sheet_for(&house, &mut seller, CALM, "de").await;
    assert_eq!(page.attribute("html", "lang"), "de");
    let page = page
        .says("Nummer S-2026-0001 · Fassung 1 · ausgestellt am Mittwoch, 15. April 2026")
        .says("Pflegeblatt: Grammostola pulchra")
        .says("Jungtier, 6. Häutungsstadium")
        .says("60 mm, gemessen am 10. Januar 2026")
        .says("zugekauft; im Haus seit 10. Januar 2026")
        .says("C: in Gefangenschaft gezüchtet")
        .says("Text: Fassung 1, Ausgangstext, geschrieben am 15. April 2026, von diesem Haus noch nicht geprüft.")
        .says("Halten Sie den Bodengrund trocken")
        .says("alle 21–30 * Tage")
        .says("Praxis des Hauses: allgemeine Praxis, ohne Quelle.")
        .says("Dieses Papier im Netz")
        .lacks("keinen geprüften Text");
    // None of the fixed words is left in English, and the emergency line is there once on each page.
    let text = page.words();
    for (name, english) in Wording::english().words().iter().filter(|(_, english)| english.len() > 12) {
        assert!(!text.contains(english), "{name}: {english}");
    }
    assert_eq!((page.count("tfoot span[lang]"), page.count("tfoot span[lang=de]")), (1, 1));
    // What the book itself says in English is marked so.
    assert!(page.count("[lang=en]") >= 3);
    let language: String = sqlx::query_scalar("SELECT language FROM paper WHERE kind = 'care-sheet'").fetch_one(&house.app.database.writer).await.unwrap();
    assert_eq!(language, "de");
}

#[tokio::test]
async fn without_a_text_in_it_the_sheet_falls_back_and_says_so() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    // Fixed words are there in German, the text is not.
    let page = sheet_for(&house, &mut seller, "Theraphosa stirmi", "de-AT").await;
    assert_eq!(page.attribute("html", "lang"), "de");
    let page = page.says("Zu dieser Art gibt es keinen geprüften Text auf Deutsch; dies ist der Text auf Englisch, Fassung 1.");
    let page = page.says("Its urticating setae").says("Vorsicht");
    assert_eq!(page.count("section.text div[lang=en][dir=ltr]"), 7);
    // Whom to call stands in both languages, on every page and in the cautions.
    assert_eq!((page.count("tfoot span[lang=de]"), page.count("tfoot span[lang=en]")), (1, 1));
    assert_eq!((page.count(".cautions p[lang=de]"), page.count(".cautions p[lang=en]")), (1, 1));
    // Neither fixed words nor text are there in French.
    let page = sheet_for(&house, &mut seller, CALM, "fr").await;
    assert_eq!(page.attribute("html", "lang"), "en-GB");
    let page = page.says("There is no reviewed text in Français; this is the English text, revision 1.");
    assert_eq!((page.count("tfoot span[lang=en]"), page.count("tfoot span[lang=fr]")), (1, 1));
    page.says("un centre antipoison");
    // A language that is not known to be one at all.
    sheet_for(&house, &mut seller, CALM, "not a language").await.lacks("There is no reviewed text").says("Care sheet");
}

#[tokio::test]
async fn buyers_of_whom_nothing_was_said_get_the_houses_language() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    lead.submit_at("/species/texts", "/species/texts/language", &[("language", "de")]).await.sent_to();
    let page = sheet_for(&house, &mut lead, CALM, "").await;
    assert_eq!(page.attribute("html", "lang"), "de");
    let page = sheet_for(&house, &mut lead, CALM, "en").await;
    assert_eq!(page.attribute("html", "lang"), "en-GB");
    page.says("Keep the ground dry").lacks("There is no reviewed text");
}

#[tokio::test]
async fn a_species_without_any_text_says_so_and_gives_its_whole_profile() {
    let house = house().await;
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER care_text_loses_none").execute(writer).await.unwrap();
    sqlx::query("DELETE FROM care_text").execute(writer).await.unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    let page = sheet_for(&house, &mut seller, CALM, "de").await;
    let page = page.says("noch keinen geprüften Text, weder auf Deutsch noch in einer anderen Sprache").says("Bodengrund");
    assert!(page.count(".care td span[lang=en]") >= 8, "the profile's own words are marked as English");
    sheet_for(&house, &mut seller, CALM, "").await.says("There is no reviewed text on this species yet").says("A hide it fits under");
}

#[tokio::test]
async fn a_text_in_the_readers_language_of_another_country_goes_before_one_in_another_language() {
    let house = house().await;
    let mut ada = house.person("Ada", "lead").await;
    let mut bo = house.person("Bo", "lead").await;
    let path = "/species/6/text/fr-CA";
    let page = crate::species::text::write(&mut ada, path, "send", &[("about", "Une mygale noire.")]).await.sent_to();
    // Not before it was reviewed.
    sheet_for(&house, &mut ada, CALM, "fr").await.says("this is the English text, revision 1");
    let version = bo.get(&page).await.ok().value(&format!("form[action='{page}/review'] input[name=version]"));
    bo.submit_at(&page, &format!("{page}/review"), &[("version", &version)]).await.sent_to();
    let sheet = sheet_for(&house, &mut ada, CALM, "fr").await.says("Une mygale noire.").lacks("There is no reviewed text");
    assert!(sheet.count("section.text div[lang=fr-CA]") >= 7);
    sheet.says("Text: revision 1, written by Ada on 15 April 2026, reviewed by Bo on 15 April 2026.");
}

#[tokio::test]
async fn figures_follow_the_profile_and_issued_sheets_do_not() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let first = sheet_for(&house, &mut seller, CALM, "").await.says("every 21–30 * days").says("common practice, no source");
    let species = stock::species(&house, CALM).await;
    let mut write = house.app.write(None).await.unwrap();
    let newest = silkward::species::store::newest_profile(write.db(), species).await.unwrap();
    let mut care = silkward::species::store::care_of_all_stages(write.db(), newest.id).await.unwrap();
    (care.adult.feed_min_days, care.adult.feed_max_days) = (18, 18);
    care.adult.basis = "Records of this house, 2026".to_owned();
    silkward::species::store::insert_profile(&mut write, species, "ours", &care).await.unwrap();
    write.commit(Change::new("test.care", "species", ""), "/").await.unwrap();
    let later = sheet_for(&house, &mut seller, CALM, "").await;
    later.says("every 18 † days").says("† Basis: Records of this house, 2026").says("* The house's practice");
    assert_eq!(seller.get("/papers/1").await.ok().bytes, first.bytes);
}

#[tokio::test]
async fn names_in_any_script_stand_by_themselves() {
    let house = house().await;
    let writer = &house.app.database.writer;
    sqlx::query(
        "INSERT INTO species_name (species_id, name, kind) SELECT id, '智利黑丝绒捕鸟蛛', 'common' FROM species WHERE accepted_name = ?",
    )
    .bind(CALM)
    .execute(writer)
    .await
    .unwrap();
    sqlx::query("DELETE FROM species_name WHERE name = 'Brazilian black tarantula'").execute(writer).await.unwrap();
    sqlx::query("UPDATE site SET name = 'بيت العناكب', address = 'דרך המשי 1'").execute(writer).await.unwrap();
    let mut seller = house.person("Cyprian", "counter").await;
    let animal = stock::animal(&house, CALM).await;
    sqlx::query("UPDATE animal SET locality = 'ריו גרנדה דו סול (1)' WHERE id = ?").bind(animal).execute(writer).await.unwrap();
    let address = begin(&mut seller).await;
    add_animal(&house, &mut seller, &address, animal).await;
    hand_over(&mut seller, &address, "").await.sent_to();
    let page = seller.get("/papers/1").await.ok().says("智利黑丝绒捕鸟蛛").says("דרך המשי 1").lacks("�");
    let own: Vec<String> = scraper::Html::parse_document(&page.text())
        .select(&scraper::Selector::parse("bdi").unwrap())
        .map(|name| name.text().collect())
        .collect();
    for name in ["智利黑丝绒捕鸟蛛", "بيت العناكب", "דרך המשי 1", "ריו גרנדה דו סול (1)"] {
        assert!(own.iter().any(|own| own == name), "{name}: {own:?}");
    }
}

#[tokio::test]
async fn cautions_come_first_and_the_text_of_a_lot_is_that_of_its_species() {
    let house = house().await;
    let mut seller = house.person("Cyprian", "counter").await;
    let cohort = stock::cohort(&house, RISKY, 60).await;
    let address = begin(&mut seller).await;
    reads(&house, "de").await;
    add_lot(&mut seller, &address, cohort, "40").await;
    hand_over(&mut seller, &address, "").await.sent_to();
    let page = seller
        .get("/papers/1")
        .await
        .ok()
        .says("40 aus Gelege")
        .says("Anzahl 40")
        .says("zwei Personen")
        .says("Stufe 3 auf der Skala von 0 bis 3: gefährlich");
    let text = page.words();
    let place = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(place("Vorsicht") < place("Nach einem Biss oder bei Brennhaaren im Auge oder auf der Haut"));
    assert!(
        place("Giftnotrufzentrale") < place("Diese Tiere")
            && place("Diese Tiere") < place("Haltung")
            && place("Haltung") < place("Pflege nach Alter")
    );
}
