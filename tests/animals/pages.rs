//! The animal's page and the forms that it leads to.

use super::support::{animal, cleared, house, tag_of};
use crate::support::number;

const NEW: [(&str, &str); 10] = [
    ("species", "mitis antiqua"),
    ("started_on", "2026-04-14"),
    ("sex", "female"),
    ("sex_basis", "exuvium"),
    ("span_mm", "66"),
    ("span_method", "measured"),
    ("supplier", "A breeder"),
    ("source", "C/O"),
    ("shelf", "2"),
    ("length_mm", "150"),
];

#[tokio::test]
async fn a_keeper_adds_a_bought_in_animal_under_a_former_name() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let there = keeper.submit("/animals/new", &NEW).await.sent_to();
    assert_eq!(there, "/animals/1");
    let shown = keeper.get(&there).await.ok().says("“Mitis antiqua” is a former name of Mitis lenta.");
    // 66 mm in a box 150 mm long: 0.44, more than a third (common practice, no source).
    let shown = shown.says("Sex female shed skin").says("66 mm").says("outgrown: needs at least 19.8 cm × 13.2 cm").says("not known");
    shown.says("C/O, pre-Convention").says("Quiet room · B · shelf 2").says("Came into the book as");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open' AND kind = 'rehouse'").await, 1);
}

#[tokio::test]
async fn an_ambiguous_name_is_asked_about_and_never_taken_silently() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let mut form = NEW.to_vec();
    form[0] = ("species", "Mitis dubia");
    let again = keeper.submit("/animals/new", &form).await.is(422).says("it is also a valid species");
    assert_eq!(again.value("#species"), "Mitis dubia");
    assert_eq!(again.count("#species_id option"), 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal").await, 0);
    form.push(("species_id", "1"));
    keeper.submit("/animals/new", &form).await.sent_to();
}

#[tokio::test]
async fn the_page_begins_with_the_cautions() {
    let house = house().await;
    let id = animal(&house, 2).await;
    sqlx::query("INSERT INTO caution (animal_id, level, text, at) VALUES (?, 3, 'sits under the lid', '2026-04-15T12:00:00+00:00')")
        .bind(id)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    sqlx::query(
        "INSERT INTO hold (animal_id, kind, blocks, from_at, until_at, reason) VALUES (?, 'agitated', 'open', '2026-04-15T11:00:00+00:00',
            '2026-04-16T11:00:00+00:00', 'threat display')",
    )
    .bind(id)
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    let mut keeper = house.person("Bo", "keeper").await;
    let shown = keeper.get("/animals/1").await.ok().says("Band 3: dangerous").says("sits under the lid");
    let shown = shown.says("Hold on opening until 16 Apr 2026, 11:00: agitated (threat display).").says("Why this band:");
    let text = shown.text();
    assert!(text.find("class=\"caution").unwrap() < text.find("class=\"deeds\"").unwrap(), "cautions stand before the buttons");
    shown_links(
        &mut keeper,
        "/animals/1",
        &["/handling/cautions/new?animal=1", "/handling/holds/new?animal=1", "/handling/incidents/new?animal=1"],
    )
    .await;
    let mut lead = house.person("Ada", "lead").await;
    shown_links(&mut lead, "/animals/1", &["/handling/cautions/1/end", "/handling/holds/1/lift"]).await;
    keeper.get("/animals/1/moved").await.ok().says("Band 3: dangerous");
}

#[tokio::test]
async fn a_moult_stops_feeding_for_the_fast_and_opens_a_window() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let form = [("day", "2026-04-14"), ("skin_kept", "yes"), ("span_mm", "66"), ("span_method", "estimated"), ("note", "on its back at 9")];
    let there = keeper.submit("/animals/1/moulted", &form).await.sent_to();
    let shown = keeper.get(&there).await.ok().says("Moulted, skin kept. on its back at 9").says("instar 7").says("66 mm estimated");
    // 40 to below 80 mm: ten days without food (common practice, no source). The profile's 60 to 120 days to the next moult,
    // √(5/4) times as wide about √7200: day 58 to day 125 (57.6 to 125.0, as in `coming.rs`).
    shown.says("Next feed from 24 Apr 2026").says("11 Jun 2026 to 17 Aug 2026").says("from the usual 60 to 120 days");
}

#[tokio::test]
async fn an_unlikely_growth_is_asked_about_and_taken_with_a_tick() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let form = [("day", "2026-04-14"), ("span_mm", "95"), ("span_method", "measured")];
    let again = keeper.submit("/animals/1/moulted", &form).await.is(422).says("check the measurement: from 50 mm to 95 mm");
    assert_eq!((again.value("#span_mm"), again.count("#confirm")), ("95".to_owned(), 1));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult").await, 0);
    let mut ticked = form.to_vec();
    ticked.push(("confirm", "yes"));
    keeper.submit("/animals/1/moulted", &ticked).await.sent_to();
    assert_eq!(number(&house, "SELECT mm FROM measurement ORDER BY id DESC").await, 95);
}

#[tokio::test]
async fn a_length_taken_days_after_a_moult_is_held_against_the_one_before_it() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/animals/1/moulted", &[("day", "2026-04-10"), ("span_mm", "")]).await.sent_to();
    let form = [("day", "2026-04-14"), ("kind", "dls"), ("span_mm", "500"), ("span_method", "measured")];
    keeper.submit("/animals/1/measured", &form).await.is(422).says("from 1 to 400");
    let form = [("day", "2026-04-14"), ("kind", "dls"), ("span_mm", "100"), ("span_method", "measured")];
    keeper.submit("/animals/1/measured", &form).await.is(422).says("check the measurement");
    let form = [("day", "2026-04-14"), ("kind", "bl"), ("span_mm", "30"), ("span_method", "measured")];
    keeper.submit("/animals/1/measured", &form).await.sent_to();
    keeper.get("/animals/1").await.ok().says("body length: 30 mm, measured");
}

#[tokio::test]
async fn feeding_outside_the_round_asks_for_the_same_clearance_as_a_duty() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let form = [("day", "2026-04-15"), ("prey", "small cricket"), ("outcome", "left-in")];
    keeper.submit("/animals/1/fed", &form).await.is(403).says("this needs clearance 1");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 0);
    cleared(&house, keeper.id(), 1).await;
    keeper.submit("/animals/1/fed", &form).await.sent_to();
    keeper.get("/animals/1").await.ok().says("small cricket offered: prey left in").says("prey is still in: clear it first");
    keeper.submit("/animals/1/fed", &form).await.is(422).says("is not cleared yet");
    keeper.submit("/animals/1/cleared", &[("outcome", "refused")]).await.sent_to();
    keeper.get("/animals/1").await.ok().says("refused, prey taken out").lacks("offered: prey left in");
    keeper.get("/animals/1/cleared").await.is(409);
}

#[tokio::test]
async fn a_dangerous_rehouse_is_not_noted_past_the_two_people_rule() {
    let house = house().await;
    animal(&house, 2).await;
    let mut keeper = house.person("Bo", "keeper lead").await;
    let plain = [("day", "2026-04-15"), ("shelf", "2"), ("position", "7")];
    let mut into_box = plain.to_vec();
    into_box.extend([("rehoused", "yes"), ("length_mm", "300")]);
    keeper.submit("/animals/1/moved", &into_box).await.is(403).says("clearance 3");
    cleared(&house, keeper.id(), 3).await;
    keeper.submit("/animals/1/moved", &into_box).await.is(403).says("two people and a checklist");
    keeper.submit("/animals/1/moved", &plain).await.sent_to();
    keeper.get("/animals/1").await.ok().says("From Quiet room · B · shelf 1 to Quiet room · B · shelf 2, position 7");
    assert_eq!(number(&house, "SELECT enclosure_length_mm FROM animal").await, 200);
}

#[tokio::test]
async fn a_held_box_is_not_opened_by_another_way() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    cleared(&house, keeper.id(), 1).await;
    sqlx::query(
        "INSERT INTO hold (animal_id, kind, blocks, from_at, reason) VALUES (1, 'quarantine', 'open', '2026-04-15T11:00:00+00:00', 'new')",
    )
    .execute(&house.app.database.writer)
    .await
    .unwrap();
    let form = [("day", "2026-04-15"), ("prey", "cricket"), ("outcome", "took")];
    let again = keeper.submit("/animals/1/fed", &form).await.is(422).says("quarantine");
    assert_eq!(again.value("#prey"), "cricket");
}

#[tokio::test]
async fn a_death_is_final_and_an_escape_is_not() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let tag = tag_of(&house, id).await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/animals/1/left", &[("how", "dead"), ("cause", ""), ("day", "2026-04-14")]).await.is(422).says("Say what it died of");
    keeper
        .submit("/animals/1/left", &[("how", "sold"), ("cause", ""), ("day", "2026-04-14")])
        .await
        .is(422)
        .says("leaves through a handover");
    keeper.submit("/animals/1/left", &[("how", "escaped"), ("cause", ""), ("day", "2026-04-13")]).await.sent_to();
    keeper.get("/animals/1").await.ok().says("escaped, 13 Apr 2026").says("Found again");
    keeper.submit("/animals/1/found", &[("day", "2026-04-12"), ("shelf", "1")]).await.is(422).says("before it escaped");
    keeper.submit("/animals/1/found", &[("day", "2026-04-14"), ("shelf", "1")]).await.sent_to();
    let dead = [("how", "dead"), ("cause", "failed-moult"), ("day", "2026-04-15")];
    let stale = keeper.get("/animals/1/left").await.ok().tokens();
    keeper.submit("/animals/1/left", &dead).await.sent_to();
    keeper.get("/animals/1").await.ok().says(&format!("{tag} is in the book as dead: failed moult.")).lacks("Found again");
    let mut late = vec![("csrf", stale.0.as_str()), ("once", stale.1.as_str())];
    late.extend(dead);
    keeper.post_raw("/animals/1/left", &late).await.is(409).says("It can't leave twice.");
    keeper.get("/animals/1/moulted").await.is(409).says("dead since 15 Apr 2026");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM duty WHERE state = 'open'").await, 0);
}

#[tokio::test]
async fn a_box_with_mites_is_rehoused_soon() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    let version = keeper.get("/animals/1/needs-rehouse").await.ok().value("input[name=version]");
    let form = [("need", "mites"), ("detail", "on the cork"), ("version", version.as_str())];
    keeper.submit("/animals/1/needs-rehouse", &form).await.sent_to();
    keeper.get("/animals/1").await.ok().says("mites: on the cork").says("Rehouse");
    let stale = keeper.submit("/animals/1/needs-rehouse", &[("need", "none"), ("version", version.as_str())]).await.is(422);
    let stale = stale.says("now reads “mites: on the cork”; yours is “nothing”");
    let fresh = stale.value("input[name=version]");
    keeper.submit("/animals/1/needs-rehouse", &[("need", "none"), ("version", fresh.as_str())]).await.sent_to();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM animal WHERE rehouse_note = ''").await, 1);
}

#[tokio::test]
async fn a_stale_note_keeps_what_was_typed_and_shows_both() {
    let house = house().await;
    animal(&house, 1).await;
    let mut one = house.person("Bo", "keeper").await;
    let mut two = house.person("Cyprian", "keeper").await;
    let version = one.get("/animals/1/edit").await.ok().value("input[name=version]");
    let of = |note: &'static str| vec![("locality", "North"), ("note", note), ("version", "1")];
    assert_eq!(version, "1");
    one.submit("/animals/1/edit", &of("shy")).await.sent_to();
    let again = two.submit("/animals/1/edit", &of("bold")).await.is(422);
    let again = again.says("The note now reads “shy”; yours is “bold”.");
    assert!(again.text().contains(">bold</textarea>"));
    assert_eq!(again.value("input[name=version]"), "2");
    two.submit("/animals/1/edit", &[("locality", "North"), ("note", "bold"), ("version", "2")]).await.sent_to();
    two.get("/animals/1").await.ok().says("Note bold");
}

#[tokio::test]
async fn the_counter_reads_and_does_not_change() {
    let house = house().await;
    animal(&house, 1).await;
    let mut counter = house.person("Di", "counter").await;
    counter.get("/animals").await.ok().lacks("Add a bought-in animal");
    counter.get("/animals/1").await.ok().lacks("Moulted").lacks("Strike out");
    counter.get("/animals/1/moulted").await.is(403);
    house.visitor().get("/animals/1").await.is(303);
}

#[tokio::test]
async fn a_moult_long_overdue_asks_for_a_look() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/animals/1/moulted", &[("day", "2026-04-15")]).await.sent_to();
    // One and a half times the longest usual interval of 120 days.
    house.set_clock("2026-10-12T12:00:00Z");
    let mut keeper = house.sign_in(keeper.id()).await;
    keeper.get("/animals/1").await.ok().lacks("late: have a look");
    house.set_clock("2026-10-13T12:00:00Z");
    let mut keeper = house.sign_in(keeper.id()).await;
    keeper.get("/animals/1").await.ok().says("late: have a look");
}

/// Each address is a link on the page, and leads somewhere.
async fn shown_links(person: &mut crate::support::Person, page: &str, links: &[&str]) {
    let shown = person.get(page).await.ok();
    for link in links {
        assert_eq!(shown.count(&format!("main a[href=\"{link}\"]")), 1, "{link} is not linked");
        person.get(link).await.ok();
    }
}
