//! The starter texts of care sheets: whole, careful, and never at odds with the care profile.

use silkward::reckoning::prose::{Block, Piece, blocks};
use silkward::reckoning::words::{Setae, Venom};
use silkward::species::model::drawn::{DrawnBlock, DrawnPiece, draw, trouble};
use silkward::species::model::text::{Sections, TextFigures, TextSection};
use silkward::species::starter::{StarterSpecies, library as species};
use silkward::species::store::texts;
use silkward::species::texts::{StarterTexts, library};

use super::book::stocked;
use crate::support::number;

fn of_language(tag: &str) -> StarterTexts {
    library().unwrap().into_iter().find(|texts| texts.language.code() == tag).unwrap()
}

/// Each text with its species, in both languages.
fn each(look: impl Fn(&str, &StarterSpecies, &Sections)) {
    let all = species().unwrap();
    for texts in library().unwrap() {
        for text in &texts.texts {
            let of = all.iter().find(|one| one.accepted_name == text.species).unwrap_or_else(|| panic!("{} is no species", text.species));
            look(texts.language.code(), of, &text.sections);
        }
    }
}

fn whole(sections: &Sections) -> String {
    TextSection::ALL.iter().map(|section| sections.of(*section)).collect::<Vec<_>>().join("\n")
}

#[test]
fn every_species_has_every_section_in_english_and_those_most_sold_have_it_in_german() {
    let names = |texts: &StarterTexts| texts.texts.iter().map(|text| text.species.clone()).collect::<Vec<_>>();
    let all: Vec<String> = species().unwrap().into_iter().map(|species| species.accepted_name).collect();
    assert_eq!(all.len(), 24);
    assert_eq!(names(&of_language("en")), all);
    let german = names(&of_language("de"));
    assert!(german.len() >= 6, "{german:?}");
    let significant = species().unwrap().into_iter().filter(|one| one.venom == Venom::Significant && german.contains(&one.accepted_name));
    assert!(significant.count() >= 2);
    each(|language, of, sections| {
        for section in TextSection::ALL.iter().filter(|section| !section.optional()) {
            let length = sections.of(*section).chars().count();
            assert!((120..=2000).contains(&length), "{language}, {}, {section}: {length}", of.accepted_name);
        }
        assert_eq!(sections.house, "", "a house writes its own");
    });
}

#[test]
fn setae_are_spoken_of_where_the_species_has_them_and_only_there() {
    each(|language, of, sections| {
        let (has, any) = if language == "en" { ("Its urticating setae", "setae") } else { ("Ihre Brennhaare", "Brennhaar") };
        let text = whole(sections);
        assert_eq!(sections.safety.contains(has), of.setae != Setae::None, "{language}, {}", of.accepted_name);
        assert_eq!(text.contains(any), of.setae != Setae::None, "{language}, {}", of.accepted_name);
        assert_eq!(sections.safety.contains("on the palps"), language == "en" && of.setae == Setae::Palps, "{}", of.accepted_name);
    });
    // Domain facts: none in two species of the New World, and in none of the Old World.
    let none = |name: &str| species().unwrap().into_iter().find(|one| one.accepted_name == name).unwrap().setae == Setae::None;
    assert!(none("Psalmopoeus irminia") && none("Dolichothele diamantinensis") && !none("Ephebopus cyanognathus"));
}

#[test]
fn medically_significant_species_ask_for_two_people_and_warn_of_cramps() {
    each(|language, of, sections| {
        let significant = of.venom == Venom::Significant;
        let (two, cramps) = if language == "en" { ("takes two people", "muscle cramps") } else { ("zwei Personen", "Muskelkrämpfe") };
        assert_eq!(sections.safety.contains(two), significant, "{language}, {}", of.accepted_name);
        assert!(!significant || sections.safety.contains(cramps), "{language}, {}", of.accepted_name);
        let hours = if language == "en" { "24 to 72 hours" } else { "24 bis 72 Stunden" };
        assert_eq!(sections.safety.contains(hours), significant, "{language}, {}", of.accepted_name);
    });
}

#[test]
fn every_text_sends_people_to_help_and_none_plays_danger_down() {
    each(|language, of, sections| {
        let musts = match language {
            "en" => [
                "call your local emergency number, poison centre or clinician",
                "Do not handle it",
                "Never offer live mice or other vertebrates",
            ],
            _ => [
                "den örtlichen Notruf, eine Giftnotrufzentrale oder eine Ärztin",
                "Nehmen Sie sie nicht in die Hand",
                "Verfüttern Sie niemals lebende Mäuse",
            ],
        };
        let text = whole(sections);
        for must in musts {
            assert!(text.contains(must), "{language}, {}: {must}", of.accepted_name);
        }
        let low = text.to_lowercase();
        for never in
            ["harmless", "antiven", "cannot kill", "can't kill", "harmlos", "gegengift", "ungefährlich", "not dangerous", "safe to handle"]
        {
            assert!(!low.contains(never), "{language}, {}: {never}", of.accepted_name);
        }
    });
}

#[test]
fn figures_come_from_the_profile_are_marked_as_practice_or_name_their_source() {
    each(|language, of, sections| {
        for section in TextSection::ALL {
            for line in sections.of(*section).lines() {
                let read = blocks(line).unwrap();
                let pieces: Vec<&Piece> = read
                    .iter()
                    .flat_map(|block| match block {
                        Block::Paragraph(pieces) => pieces.iter().collect::<Vec<_>>(),
                        Block::List(items) => items.iter().flatten().collect(),
                    })
                    .collect();
                let digits = pieces
                    .iter()
                    .any(|piece| matches!(piece, Piece::Words(words) if words.contains(|letter: char| letter.is_ascii_digit())));
                let marked = pieces.iter().any(|piece| matches!(piece, Piece::Field(name) if name == "practice"));
                let year = ["19", "20"].iter().any(|century| {
                    line.match_indices(century).any(|(at, _)| line[at..].chars().take(4).filter(char::is_ascii_digit).count() == 4)
                });
                assert!(!digits || marked || year, "{language}, {}, {section}: {line}", of.accepted_name);
            }
        }
    });
}

#[tokio::test]
async fn every_field_stands_for_a_figure_of_that_species() {
    let house = stocked().await;
    let mut db = house.app.read().await.unwrap();
    let rows: Vec<(i64, String)> = sqlx::query_as("SELECT id, accepted_name FROM species").fetch_all(&mut *db).await.unwrap();
    for texts in library().unwrap() {
        for text in &texts.texts {
            let id = rows.iter().find(|(_, name)| *name == text.species).unwrap().0;
            let figures = texts::text_figures(&mut db, silkward::house::ids::SpeciesId(id)).await.unwrap();
            for section in TextSection::ALL {
                assert_eq!(trouble(text.sections.of(*section), &figures), None, "{}, {section}", text.species);
            }
            let drawn = draw(&text.sections, &figures, &texts.language);
            assert_eq!(drawn.sections.len(), 7);
            assert!(drawn.notes.len() == 1 && drawn.notes[0].is_common_practice(), "{:?}", drawn.notes);
        }
    }
}

/// The text of a section as it prints, without marks.
fn printed(sections: &Sections, figures: &TextFigures, section: TextSection, language: &str) -> String {
    let drawn = draw(sections, figures, &language.parse().unwrap());
    let part = drawn.sections.into_iter().find(|part| part.section == section).unwrap();
    let lines = part.blocks.into_iter().flat_map(|block| match block {
        DrawnBlock::Paragraph(line) => vec![line],
        DrawnBlock::List(lines) => lines,
    });
    lines
        .flatten()
        .map(|piece| match piece {
            DrawnPiece::Words(words) | DrawnPiece::Figure(words, _) | DrawnPiece::Name(words) | DrawnPiece::Unknown(words) => words,
            DrawnPiece::Mark(_) => String::new(),
        })
        .collect()
}

#[tokio::test]
async fn the_figures_that_print_are_those_of_common_practice() {
    // Common practice, no source: ranges by species, days between meals (spiderling, juvenile, adult female), months between
    // moults of adult females, and the leg span of adults in cm.
    const PRACTICE: [(&str, [&str; 5]); 5] = [
        ("Brachypelma hamorii", ["5–7", "10–14", "21–30", "12–24", "13–15"]),
        ("Cyriocosmus elegans", ["3–5", "5–8", "8–12", "7–11", "2.5–5"]),
        ("Aphonopelma chalcodes", ["6–8", "12–16", "25–40", "15–30", "8–13"]),
        ("Poecilotheria regalis", ["3–5", "6–9", "10–16", "9–14", "15–18"]),
        ("Theraphosa stirmi", ["4–6", "7–10", "12–20", "11–16", "22–28"]),
    ];
    let house = stocked().await;
    let mut db = house.app.read().await.unwrap();
    for (name, [sling, juvenile, adult, months, size]) in PRACTICE {
        let id = sqlx::query_scalar("SELECT id FROM species WHERE accepted_name = ?").bind(name).fetch_one(&mut *db).await.unwrap();
        let figures = texts::text_figures(&mut db, id).await.unwrap();
        let text = of_language("en").texts.into_iter().find(|text| text.species == name).unwrap().sections;
        let feeding = printed(&text, &figures, TextSection::Feeding, "en");
        for days in [sling, juvenile, adult] {
            assert!(feeding.contains(&format!("every {days} days")), "{name}: {days}\n{feeding}");
        }
        let moulting = printed(&text, &figures, TextSection::Moulting, "en");
        assert!(moulting.contains(&format!("about every {months} months")), "{name}: {moulting}");
        assert!(printed(&text, &figures, TextSection::About, "en").contains(&format!("{size} cm")), "{name}");
    }
}

#[tokio::test]
async fn a_new_house_begins_with_them_and_an_older_one_gets_those_that_it_lacks() {
    let house = stocked().await;
    let (english, german) = (of_language("en").texts.len() as i64, of_language("de").texts.len() as i64);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM care_text WHERE state = 'starter' AND number = 1").await, english + german);
    let rows = number(&house, "SELECT COUNT(*) FROM audit").await;
    assert_eq!(texts::bring_texts(&house.app).await.unwrap(), 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, rows, "nothing was done");
    // A book from before the texts.
    let writer = &house.app.database.writer;
    sqlx::query("DROP TRIGGER care_text_loses_none").execute(writer).await.unwrap();
    sqlx::query("DELETE FROM care_text WHERE species_id <> 4").execute(writer).await.unwrap();
    let left = number(&house, "SELECT COUNT(*) FROM care_text").await;
    assert_eq!(texts::bring_texts(&house.app).await.unwrap() as i64, english + german - left);
    assert_eq!(texts::bring_texts(&house.app).await.unwrap(), 0);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'care-text.seeded'").await, 1);
}
