//! The pages of cohorts, as a keeper uses them.

use crate::cohorts::stock::{cohort, library, species};
use crate::support::{Page, Person, TestHouse, number};
use silkward::reckoning::stage::Stage;

const EWL: Stage = Stage::PostEmbryo;
const I1: Stage = Stage::Instar(1);
const I2: Stage = Stage::Instar(2);

/// A house with the library, and a keeper at a browser.
pub async fn staffed() -> (TestHouse, Person) {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let keeper = house.person("Bo", "keeper").await;
    (house, keeper)
}

/// Sends the form of a deed page of cohort 1.
async fn deed(keeper: &mut Person, name: &str, fields: &[(&str, &str)]) -> Page {
    keeper.submit(&format!("/cohorts/1/{name}"), fields).await
}

#[tokio::test]
async fn the_worked_brood_is_entered_and_read_through_the_pages() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(EWL, 240)]).await;
    let lost = |n, stage, cause, day| [("quantity", n), ("stage", stage), ("cause", cause), ("day", day)];
    let moulted = |n, stage, to, day| [("quantity", n), ("stage", stage), ("to", to), ("day", day)];
    deed(&mut keeper, "lost", &lost("9", "ewl", "mould", "2026-04-02")).await.sent_to();
    deed(&mut keeper, "moulted", &moulted("231", "ewl", "i1", "2026-04-03")).await.sent_to();
    deed(&mut keeper, "lost", &lost("12", "i1", "failed-moult", "2026-04-04")).await.sent_to();
    deed(&mut keeper, "moulted", &moulted("219", "i1", "i2", "2026-04-05")).await.sent_to();
    let counted = [("day", "2026-04-06"), ("count_stage", "i2"), ("count", "219"), ("second", "219")];
    deed(&mut keeper, "separated", &counted).await.sent_to();
    deed(&mut keeper, "lost", &lost("31", "i2", "desiccation", "2026-04-07")).await.sent_to();
    deed(&mut keeper, "lost", &lost("1", "i2", "escape", "2026-04-08")).await.sent_to();
    deed(&mut keeper, "held-back", &[("quantity", "20"), ("day", "2026-04-09"), ("note", "the largest")]).await.sent_to();
    let page = keeper.get("/cohorts/1").await.ok().says("91.25 % , 219 of 240").says("187 alive: 167 free, 20 held back");
    page.says("escaped 1").says("dried out 31");
    keeper.get("/cohorts/1?on=2026-04-04").await.ok().says("Count on 4 Apr 2026").says("first instar 219");
    keeper.get("/cohorts").await.ok().says("BHAM-26-1").says("187").says("second instar");
}

#[tokio::test]
async fn a_mistake_names_the_figure_and_keeps_what_was_typed() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I2, 37)]).await;
    let fields = [("quantity", "38"), ("stage", "i2"), ("cause", "mites"), ("day", "2026-04-03"), ("note", "white dots")];
    let again = deed(&mut keeper, "lost", &fields).await.is(422).says("Only 37 stand at second instar on 3 Apr 2026");
    assert_eq!((again.value("#quantity"), again.value("#day")), ("38".to_owned(), "2026-04-03".to_owned()));
    assert_eq!(again.value("#cause option[selected]"), "mites");
    assert!(again.text().contains("white dots") && again.text().contains("<title>Error: "));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line").await, 1);
}

#[tokio::test]
async fn every_deed_refuses_bad_input_and_changes_nothing() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I1, 5), (I2, 37)]).await;
    let long = "x".repeat(500);
    let good =
        [("quantity", "1"), ("stage", "i2"), ("to", "i3"), ("cause", "mites"), ("day", "2026-04-03"), ("shelf", "2"), ("position", "1")];
    let wrong: [(&str, &[(&str, &str)]); 9] = [
        ("quantity", &[("quantity", "")]),
        ("quantity", &[("quantity", "-1")]),
        ("quantity", &[("quantity", "many")]),
        ("quantity", &[("quantity", "4000000000000")]),
        ("day", &[("day", "2026-04-16")]),
        ("day", &[("day", "2026-03-31")]),
        ("day", &[("day", "1900-01-01")]),
        ("day", &[("day", "31/3/26")]),
        ("stage", &[("stage", "L1")]),
    ];
    for name in ["moulted", "lost", "tagged", "split"] {
        for (field, bad) in wrong {
            let fields: Vec<_> = good
                .iter()
                .copied()
                .filter(|(key, _)| bad.iter().all(|(other, _)| other != key) && (name != "tagged" || *key != "position"))
                .chain(bad.iter().copied())
                .collect();
            let again = deed(&mut keeper, name, &fields).await.is(422);
            assert!(again.text().contains(&format!("{field}-error")), "{name} {bad:?}: {}", again.words());
        }
        for note in [long.as_str(), "a\u{7}b", "a\u{202e}b"] {
            let fields: Vec<_> = good.iter().copied().chain([("note", note)]).collect();
            deed(&mut keeper, name, &fields).await.is(422);
        }
        deed(&mut keeper, name, &[]).await.is(422);
    }
    let with = |extra: &[(&'static str, &'static str)]| {
        good.iter().copied().filter(|(key, _)| extra.iter().all(|(other, _)| other != key)).chain(extra.iter().copied()).collect::<Vec<_>>()
    };
    deed(&mut keeper, "moulted", &with(&[("to", "i1")])).await.is(422).says("A moult leads to a later stage than second instar.");
    deed(&mut keeper, "lost", &with(&[("cause", "bad luck")])).await.is(422);
    deed(&mut keeper, "moved", &with(&[("shelf", "99")])).await.is(422).says("This shelf is not in the book.");
    deed(&mut keeper, "moved", &with(&[("shelf", "")])).await.is(422);
    deed(&mut keeper, "split", &with(&[("code", "!")])).await.is(422);
    deed(&mut keeper, "split", &with(&[("code", "BHAM-26-1")])).await.is(422).says("Another cohort has this code.");
    deed(&mut keeper, "held-back", &[("quantity", "43"), ("day", "2026-04-03")]).await.is(422).says("Only 42 are free to hold back");
    let mut lead = house.person("Ada", "lead").await;
    deed(&mut lead, "released", &[("quantity", "1"), ("day", "2026-04-03")]).await.is(422).says("Only 0 are held back");
    deed(&mut keeper, "lost", &[("quantity", "1"), ("colour", "red")]).await.is(400);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 2);
    deed(&mut keeper, "lost", &good.map(|(key, value)| (key, if key == "quantity" { "1" } else { value }))).await.sent_to();
}

#[tokio::test]
async fn a_foreign_id_is_not_found() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I2, 5)]).await;
    let second = cohort(&house.app, &[(I2, 5)]).await;
    for path in ["/cohorts/1/dissolved", "/cohorts/99", "/cohorts/x", "/cohorts/99/lost", "/cohorts/99/recounted", "/cohorts/99/labels"] {
        keeper.get(path).await.is(404);
    }
    // The second cohort's line is not the first one's.
    assert_eq!(second.0, 2);
    keeper.get("/cohorts/1/lines/2/taken-back").await.is(404);
    keeper.get("/cohorts/1/labels?line=2").await.is(404);
    let (csrf, once) = keeper.get("/cohorts/1/lost").await.ok().tokens();
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("reason", "wrong")];
    keeper.post_raw("/cohorts/1/lines/2/taken-back", &fields).await.is(404);
}

#[tokio::test]
async fn a_double_click_posts_one_line_and_a_stale_page_is_told() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I2, 5)]).await;
    let (csrf, once) = keeper.get("/cohorts/1/lost").await.ok().tokens();
    let fields =
        [("csrf", csrf.as_str()), ("once", once.as_str()), ("quantity", "2"), ("stage", "i2"), ("cause", "mites"), ("day", "2026-04-03")];
    assert_eq!(keeper.post_raw("/cohorts/1/lost", &fields).await.sent_to(), keeper.post_raw("/cohorts/1/lost", &fields).await.sent_to());
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line").await, 2);
    // Somebody else takes the line back while this page stands open.
    let (_, once) = keeper.get("/cohorts/1/lines/2/taken-back").await.ok().tokens();
    keeper.submit("/cohorts/1/lines/2/taken-back", &[("reason", "")]).await.is(422);
    keeper.submit("/cohorts/1/lines/2/taken-back", &[("reason", "it was one")]).await.sent_to();
    let fields = [("csrf", csrf.as_str()), ("once", once.as_str()), ("reason", "mine too")];
    keeper.post_raw("/cohorts/1/lines/2/taken-back", &fields).await.is(422).says("This line has been taken back already.");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM ledger_line").await, 3);
}

#[tokio::test]
async fn tagging_leads_to_labels_with_a_code_for_each_animal() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I2, 30)]).await;
    let there = deed(&mut keeper, "tagged", &[("quantity", "4"), ("stage", "i2"), ("day", "2026-04-10"), ("shelf", "1")]).await.sent_to();
    assert_eq!(there, "/cohorts/1/labels?line=2");
    let sheet = keeper.get(&there).await.ok().says("B. hamorii").says("BHAM-26-1").says("second instar").says("10 Apr 2026");
    assert_eq!((sheet.count(".label"), sheet.count(".label svg")), (4, 4));
    let tag: String = sqlx::query_scalar("SELECT tag FROM animal ORDER BY id LIMIT 1").fetch_one(&house.app.database.writer).await.unwrap();
    sheet.says(&tag);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE start_instar = 2 AND source_code = 'C'").await, 4);
    let vials = keeper.get("/cohorts/1/labels").await.ok();
    assert_eq!((vials.count(".label"), vials.count(".label svg")), (27, 1));
    keeper.get("/cohorts/1/lines/2/taken-back").await.ok().says("made tagged animals");
}

#[tokio::test]
async fn a_recount_a_split_and_a_move_are_entered() {
    let (house, mut keeper) = staffed().await;
    cohort(&house.app, &[(I1, 10), (I2, 30)]).await;
    let fields = [("day", "2026-04-10"), ("count_stage", "i1"), ("count", "8"), ("count_stage", "i2"), ("count", ""), ("note", "by two")];
    deed(&mut keeper, "recounted", &fields).await.sent_to();
    keeper.get("/cohorts/1").await.ok().says("The difference stands in 1 line of the ledger.").says("counted wrong 2").says("by two");
    deed(&mut keeper, "recounted", &[("day", "2026-04-10"), ("count_stage", "i1"), ("count", "eight")])
        .await
        .is(422)
        .says("At first instar");
    deed(&mut keeper, "recounted", &[("day", "2026-04-10"), ("count_stage", "i1"), ("count", "")]).await.is(422);
    deed(&mut keeper, "recounted", &[("day", "2026-04-10"), ("count", "3")]).await.is(422);
    let there = deed(&mut keeper, "split", &[("quantity", "12"), ("stage", "i2"), ("day", "2026-04-11"), ("shelf", "2"), ("code", "b-2")])
        .await
        .sent_to();
    keeper.get(&there).await.ok().says("B-2").says("split from cohort BHAM-26-1").says("shelf 2");
    deed(&mut keeper, "moved", &[("day", "2026-04-12"), ("shelf", "3"), ("position", "7")]).await.sent_to();
    keeper.get("/cohorts/1").await.ok().says("shelf 3 · position 7");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM stock_move WHERE to_label LIKE '%shelf 3 · 7'").await, 1);
}

#[tokio::test]
async fn a_bought_batch_becomes_a_cohort() {
    let (house, mut keeper) = staffed().await;
    let id = species(&house.app, "Poecilotheria regalis").await.to_string();
    let good = [
        ("species", id.as_str()),
        ("supplier", "A friend"),
        ("papers", "note 12"),
        ("source", "f"),
        ("day", "2026-04-10"),
        ("housing", "vials"),
        ("count_stage", "i2"),
        ("count", "25"),
        ("shelf", "1"),
    ];
    let with = |key: &'static str, value: &'static str| {
        good.iter().copied().map(|(name, old)| (name, if name == key { value } else { old })).collect::<Vec<_>>()
    };
    for (field, value, says) in [
        ("species", "", "Choose one of the list."),
        ("species", "999", "This species is not in the book."),
        ("supplier", "", "Fill this in."),
        ("source", "A", "plants"),
        ("source", "O", "together with another code"),
        ("source", "CB", "not a CITES source code"),
        ("day", "2026-04-16", "still to come"),
        ("housing", "cupboard", "Choose one of the list."),
        ("count", "", "Enter how many came in"),
        ("count", "0", "Enter how many came in"),
        ("count", "3001", "from 0 to 3000"),
        ("count_stage", "L1", "does not know"),
        ("shelf", "77", "This shelf is not in the book."),
    ] {
        let again = keeper.submit("/cohorts/new", &with(field, value)).await.is(422).says(says);
        assert!(again.text().contains("A friend") || field == "supplier");
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort").await, 0);
    let there = keeper.submit("/cohorts/new", &good).await.sent_to();
    keeper.get(&there).await.ok().says("PREG-26-1").says("Supplier A friend").says("note 12").says("F: born in captivity").says("Band 3");
}

#[tokio::test]
async fn reading_is_for_all_and_changing_for_keepers() {
    let (house, _) = staffed().await;
    cohort(&house.app, &[(I2, 30)]).await;
    let mut counter = house.person("Cyprian", "counter").await;
    counter.get("/cohorts").await.ok().lacks("Enter a bought batch");
    counter.get("/cohorts/1").await.ok().lacks("Take back");
    counter.get("/cohorts/1/lost").await.is(403);
    counter.get("/cohorts/1/lines/1/taken-back").await.is(403);
}
