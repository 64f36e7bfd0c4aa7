//! Every form of the room, given what no form should be given: 422 with what to change, the input kept, nothing written.

use super::support::{animal, cleared, house};
use crate::support::{Person, TestHouse, number};

/// A form that would be saved, by its address.
type Good = (&'static str, Vec<(&'static str, &'static str)>);

fn forms() -> Vec<Good> {
    vec![
        ("/animals/1/moulted", vec![("day", "2026-04-14"), ("span_mm", "66"), ("span_method", "measured"), ("note", "quick")]),
        ("/animals/1/measured", vec![("day", "2026-04-14"), ("kind", "dls"), ("span_mm", "52"), ("span_method", "measured")]),
        ("/animals/1/fed", vec![("day", "2026-04-14"), ("prey", "cricket"), ("outcome", "took")]),
        ("/animals/1/moved", vec![("day", "2026-04-14"), ("shelf", "2"), ("position", "3"), ("length_mm", "")]),
        ("/animals/1/sexed", vec![("sex", "female"), ("basis", "exuvium"), ("version", "1")]),
        ("/animals/1/needs-rehouse", vec![("need", "mould"), ("detail", "corner"), ("version", "1")]),
        ("/animals/1/edit", vec![("locality", "North"), ("note", "shy"), ("version", "1")]),
        ("/animals/1/entries/measurement/1/correct", vec![("reason", "wrong box")]),
        ("/animals/1/left", vec![("how", "dead"), ("cause", "unknown"), ("day", "2026-04-14")]),
        ("/animals/new", new()),
    ]
}

fn new() -> Vec<(&'static str, &'static str)> {
    vec![
        ("species", "Mitis lenta"),
        ("tag", ""),
        ("started_on", "2026-04-14"),
        ("born_on", "2025-01-01"),
        ("sex", "unknown"),
        ("sex_basis", "none"),
        ("span_mm", "40"),
        ("span_method", "estimated"),
        ("instar", "5"),
        ("supplier", "A breeder"),
        ("papers", "invoice 3"),
        ("source", "C"),
        ("locality", "North"),
        ("shelf", "1"),
        ("position", "2"),
        ("length_mm", "120"),
        ("width_mm", "80"),
        ("fall_gap_mm", "50"),
        ("note", "calm"),
    ]
}

async fn keeper_at_work() -> (TestHouse, Person) {
    let house = house().await;
    animal(&house, 1).await;
    let keeper = house.person("Ada", "lead keeper").await;
    cleared(&house, keeper.id(), 1).await;
    (house, keeper)
}

/// Sends a good form with one field spoiled, and expects a refusal that keeps the other fields and writes nothing.
async fn spoiled(at: &mut (TestHouse, Person), field: &'static str, value: &str) {
    let (house, keeper) = at;
    for (path, fields) in forms() {
        if !fields.iter().any(|(name, _)| *name == field) {
            continue;
        }
        let before = number(house, "SELECT COUNT(*) FROM audit").await;
        let sent: Vec<(&str, &str)> = fields.iter().map(|(name, good)| (*name, if *name == field { value } else { *good })).collect();
        let again = keeper.submit(path, &sent).await.is(422);
        assert!(again.count(".mistakes li") > 0, "{path} says nothing about {field}");
        assert!(again.text().contains("<title>Error: "), "{path} does not say Error in its title");
        for (name, good) in sent.iter().filter(|(name, good)| !matches!(*name, "version" | "note" | "papers") && !good.contains('\0')) {
            if again.count(&format!("input#{name}")) == 1 {
                assert_eq!(again.value(&format!("input#{name}")), *good, "{path} lost {name}");
            }
        }
        assert_eq!(number(house, "SELECT COUNT(*) FROM audit").await, before, "{path} wrote with a spoiled {field}");
    }
}

#[tokio::test]
async fn good_forms_are_saved_so_that_the_spoiled_ones_mean_something() {
    for (path, fields) in forms() {
        let (_house, mut keeper) = keeper_at_work().await;
        keeper.submit(path, &fields).await.sent_to();
    }
}

#[tokio::test]
async fn empty_forms_name_what_is_missing() {
    let (house, mut keeper) = keeper_at_work().await;
    for (path, _) in forms() {
        let before = number(&house, "SELECT COUNT(*) FROM audit").await;
        let again = keeper.submit(path, &[]).await.is(422);
        assert!(again.count(".mistakes li") > 0, "{path}");
        assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before, "{path}");
    }
}

#[tokio::test]
async fn days_that_are_to_come_or_absurd_are_refused() {
    let mut at = keeper_at_work().await;
    for value in ["2026-04-16", "1926-04-15", "2026-02-30", "yesterday", "99999-01-01", "-0001-01-01", ""] {
        spoiled(&mut at, "day", value).await;
        spoiled(&mut at, "started_on", value).await;
    }
    spoiled(&mut at, "born_on", "2026-04-15").await;
}

#[tokio::test]
async fn numbers_of_the_wrong_kind_or_size_are_refused() {
    let mut at = keeper_at_work().await;
    for value in ["many", "-1", "1e3", "99999999999999999999", "4,5"] {
        spoiled(&mut at, "span_mm", value).await;
        spoiled(&mut at, "position", value).await;
        spoiled(&mut at, "length_mm", value).await;
        spoiled(&mut at, "instar", value).await;
        spoiled(&mut at, "version", value).await;
    }
}

#[tokio::test]
async fn choices_that_are_not_on_the_list_are_refused() {
    let mut at = keeper_at_work().await;
    for value in ["nothing of the kind", "999"] {
        for field in ["kind", "outcome", "shelf", "sex", "basis", "sex_basis", "need", "how", "cause", "source", "species"] {
            spoiled(&mut at, field, value).await;
        }
    }
    spoiled(&mut at, "span_method", "guessed").await;
    spoiled(&mut at, "source", "A").await;
    spoiled(&mut at, "tag", "0001X0").await;
    spoiled(&mut at, "tag", "no tag at all, this").await;
}

#[tokio::test]
async fn overlong_texts_and_unseen_characters_are_refused() {
    let mut at = keeper_at_work().await;
    let long = "x".repeat(2001);
    for value in [long.as_str(), "bell\u{7}", "turned\u{202e}round"] {
        for field in ["prey", "note", "locality", "detail", "reason", "supplier", "papers"] {
            spoiled(&mut at, field, value).await;
        }
    }
    for field in ["prey", "locality", "detail", "reason", "supplier"] {
        spoiled(&mut at, field, "two\nlines").await;
    }
}

#[tokio::test]
async fn a_double_click_writes_once() {
    for (path, fields) in forms() {
        let (house, mut keeper) = keeper_at_work().await;
        let (csrf, once) = keeper.get(path).await.ok().tokens();
        let mut all = vec![("csrf", csrf.as_str()), ("once", once.as_str())];
        all.extend(fields);
        let before = number(&house, "SELECT COUNT(*) FROM audit").await;
        let first = keeper.post_raw(path, &all).await.sent_to();
        let second = keeper.post_raw(path, &all).await.sent_to();
        assert_eq!(first, second, "{path}");
        assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, before + 1, "{path}");
    }
}

#[tokio::test]
async fn another_animals_number_that_does_not_exist_is_not_found() {
    let (_house, mut keeper) = keeper_at_work().await;
    let (csrf, once) = keeper.get("/animals/1/edit").await.ok().tokens();
    for (path, fields) in forms().into_iter().filter(|(path, _)| path.starts_with("/animals/1")) {
        for number in ["77", "0", "-1", "x", "99999999999999999999"] {
            let path = path.replacen("/animals/1", &format!("/animals/{number}"), 1);
            keeper.get(&path).await.is(404);
            let mut all = vec![("csrf", csrf.as_str()), ("once", once.as_str())];
            all.extend(fields.iter());
            keeper.post_raw(&path, &all).await.is(404);
        }
    }
}

#[tokio::test]
async fn fields_that_no_page_sends_are_refused() {
    let (house, mut keeper) = keeper_at_work().await;
    for (path, mut fields) in forms() {
        fields.push(("status", "sold"));
        keeper.submit(path, &fields).await.is(400);
    }
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE status = 'alive'").await, 1);
}

#[tokio::test]
async fn a_taken_tag_is_named_at_its_field() {
    let (house, mut keeper) = keeper_at_work().await;
    let tag: String = sqlx::query_scalar("SELECT lower(tag) FROM animal").fetch_one(&house.app.database.writer).await.unwrap();
    let mut fields = new();
    fields[1] = ("tag", tag.as_str());
    let again = keeper.submit("/animals/new", &fields).await.is(422).says("already on another animal");
    assert!(again.text().contains("tag-error"));
}
