//! The pages of species: search, the species, its revisions, and changing its care.

use super::book::stocked;
use crate::support::{Page, Person, TestHouse, number};

const EDIT: &str = "/species/1/care/spiderling";
const CHANGED: [(&str, &str); 20] = [
    ("revision", "1"),
    ("why", "Ours took prey more often."),
    ("feed_min_days", "3"),
    ("feed_max_days", "6"),
    ("moult_min_days", "30"),
    ("moult_max_days", "60"),
    ("day_min_c", "23"),
    ("day_max_c", "27"),
    ("rh_min", "65"),
    ("rh_max", "80"),
    ("prey", "Cut prey."),
    ("water", "Mist weekly."),
    ("substrate", "3 cm."),
    ("ventilation", "High."),
    ("hide", "A tube."),
    ("uneaten_hours", "24"),
    ("water_days", "7"),
    ("clean_days", "14"),
    ("moult_check_days", "7"),
    ("count_days", "30"),
];

async fn send(person: &mut Person, over: &[(&'static str, &'static str)]) -> Page {
    let mut fields: Vec<(&str, &str)> = CHANGED.to_vec();
    fields.push(("basis", "Records of this house, 2026"));
    for (name, value) in over {
        fields.retain(|(known, _)| known != name);
        fields.push((name, value));
    }
    person.submit(EDIT, &fields).await
}

async fn profiles(house: &TestHouse) -> i64 {
    number(house, "SELECT COUNT(*) FROM care_profile WHERE species_id = 1").await
}

#[tokio::test]
async fn a_search_goes_there_says_the_new_name_asks_or_offers_what_is_near() {
    let house = stocked().await;
    let mut keeper = house.person("Bo", "keeper").await;
    assert_eq!(keeper.get("/species?q=P.+vittata").await.sent_to(), "/species/17");
    let former = keeper.get("/species?q=avicularia+VERSICOLOR").await.ok();
    former.says("Avicularia versicolor is now called Caribena versicolor");
    keeper.get("/species?q=cobalt+blue").await.ok().says("is a common name of Cyriopagopus lividus");
    let ambiguous = keeper.get("/species?q=Brachypelma+smithi").await.ok();
    let ambiguous = ambiguous.says("may mean more than one species").says("valid species").lacks("is now called");
    assert_eq!(ambiguous.count("section.note a[href='/species/4']"), 1);
    keeper.get("/species?q=Gramostola+pulcra").await.ok().says("No species in this book goes by").says("Grammostola pulchra");
    keeper.get("/species?q=%00%3Cscript%3E").await.ok().says("Check the spelling");
    keeper.get(&format!("/species?q={}", "x".repeat(5000))).await.ok();
}

#[tokio::test]
async fn a_species_page_tells_risk_law_care_and_what_they_rest_on() {
    let house = stocked().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let page = keeper.get("/species/17").await.ok();
    let page = page.says("Band 3: dangerous").says("Appendix II").says("25 Nov 2026").says("It does not decide law");
    let page = page.says("common practice, no source").says("Revision 1").says("0 tagged animals").lacks("Change the care");
    assert_eq!(page.count(".caution"), 3);
    keeper.get("/species/16").await.ok().says("not verified");
    keeper.get("/species/9999").await.is(404);
    keeper.get("/species/profiles/9999").await.is(404);
    keeper.get("/species").await.ok().says("Poecilotheria vittata");
    keeper.get(EDIT).await.is(403);
}

#[tokio::test]
async fn saving_care_makes_a_revision_and_keeps_the_old_one() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let there = send(&mut lead, &[]).await.sent_to();
    lead.get(&there)
        .await
        .ok()
        .says("revision 2")
        .says("Before Now spiderling Days between meals 4 to 6 3 to 6")
        .says("Ours took prey more often.");
    lead.get("/species/profiles/1").await.ok().says("4 to 6").says("This is an old revision").says("This is the first revision.");
    lead.get("/species/1").await.ok().says("Ada: Ours took prey more often.").says("Records of this house, 2026");
    // The stages that were not changed came along.
    assert_eq!(
        number(&house, "SELECT COUNT(*) FROM care_stage JOIN care_profile ON care_profile.id = profile_id WHERE species_id = 1").await,
        6
    );
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'care.revised'").await, 1);
}

#[tokio::test]
async fn a_stale_page_is_told_and_loses_nothing() {
    let house = stocked().await;
    let (mut ada, mut bea) = (house.person("Ada", "lead").await, house.person("Bea", "lead").await);
    send(&mut ada, &[("water", "Mist twice a week.")]).await.sent_to();
    let again = send(&mut bea, &[("prey", "Fruit flies.")]).await.is(422);
    let again = again.says("Meanwhile Ada saved revision 2 (Ours took prey more often)").says("Fruit flies.");
    assert_eq!((again.value("input[name=revision]").as_str(), profiles(&house).await), ("2", 2));
    send(&mut bea, &[("prey", "Fruit flies."), ("revision", "2")]).await.sent_to();
    assert_eq!(profiles(&house).await, 3);
}

#[tokio::test]
async fn every_wrong_figure_is_named_and_kept() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let wrong =
        [("feed_min_days", "9"), ("rh_max", "101"), ("day_min_c", "warm"), ("why", " "), ("hide", "a\u{202e}b"), ("uneaten_hours", "0")];
    let again = send(&mut lead, &wrong).await.is(422);
    assert_eq!(again.count(".mistakes li"), 6, "{}", again.words());
    assert_eq!((again.value("#day_min_c"), again.value("#feed_min_days")), ("warm".to_owned(), "9".to_owned()));
    send(&mut lead, &[("revision", "soon")]).await.is(422);
    send(&mut lead, &[("colour", "red")]).await.is(400);
    lead.get("/species/1/care/elder").await.is(404);
    assert_eq!(profiles(&house).await, 1);
}

#[tokio::test]
async fn saving_without_a_change_is_refused() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    send(&mut lead, &[]).await.sent_to();
    send(&mut lead, &[("revision", "2")]).await.is(422).says("Nothing differs from revision 2.");
    assert_eq!(profiles(&house).await, 2);
}

const NEW: [(&str, &str); 14] = [
    ("accepted_name", "Aphonopelma  seemanni"),
    ("authority", "(F. O. Pickard-Cambridge, 1897)"),
    ("world", "new"),
    ("range", "Costa Rica"),
    ("habit", "fossorial"),
    ("moisture", "half-damp"),
    ("adult_span_min_mm", "120"),
    ("adult_span_max_mm", "150"),
    ("setae", "kicked"),
    ("venom", "mild"),
    ("venom_basis", "common practice, no source"),
    ("temper", "Hides."),
    ("pace", "medium"),
    ("like", "4"),
];

#[tokio::test]
async fn a_species_is_added_with_care_copied_from_one_that_lives_alike() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let there = lead.submit("/species/new", &NEW).await.sent_to();
    let page =
        lead.get(&there).await.ok().says("Aphonopelma seemanni").says("Copied from Brachypelma hamorii: common practice, no source.");
    page.says("Band 1: take care").says("First profile, copied from Brachypelma hamorii.");
    assert_eq!(lead.get("/species?q=A.+seemanni").await.sent_to(), there);
    lead.submit("/species/new", &NEW).await.is(422).says("is in the book already as Aphonopelma seemanni");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM species").await, 25);
}

#[tokio::test]
async fn a_species_form_with_mistakes_names_them_all_and_chooses_no_caution_by_itself() {
    let house = stocked().await;
    let mut lead = house.person("Ada", "lead").await;
    let empty = lead.submit("/species/new", &[]).await.is(422);
    assert_eq!(empty.count(".mistakes li"), 14, "{}", empty.words());
    assert_eq!(empty.attribute("#venom option[selected]", "value"), "");
    let mut former = NEW.to_vec();
    former.retain(|(name, _)| !matches!(*name, "accepted_name" | "like" | "adult_span_min_mm"));
    former.extend([("accepted_name", "Haplopelma lividum"), ("like", "4"), ("adult_span_min_mm", "120")]);
    let again = lead.submit("/species/new", &former).await.is(422).says("is another name of Cyriopagopus lividus");
    assert_eq!(again.value("#range"), "Costa Rica");
    former.retain(|(name, _)| !matches!(*name, "accepted_name" | "like" | "adult_span_min_mm"));
    former.extend([("accepted_name", "seemanni"), ("like", "999"), ("adult_span_min_mm", "200")]);
    lead.submit("/species/new", &former).await.is(422).says("Write genus and species").says("must be at least the least");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM species").await, 24);
}
