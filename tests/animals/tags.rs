//! What a label's code leads to.

use silkward::reckoning::tag::{corrections, holds};

use super::support::{animal, house, tag_of};

#[tokio::test]
async fn a_label_leads_to_its_animal_however_it_is_typed() {
    let house = house().await;
    let id = animal(&house, 1).await;
    let tag = tag_of(&house, id).await;
    let mut counter = house.person("Di", "counter").await;
    let spaced = format!("/t/{}-{}%20", tag[..3].to_lowercase(), &tag[3..]);
    for path in [format!("/t/{tag}"), spaced] {
        assert_eq!(counter.get(&path).await.sent_to(), "/animals/1");
    }
    assert_eq!(counter.get(&format!("/animals?text={tag}")).await.sent_to(), "/animals/1", "a whole tag in the search goes straight there");
    house.visitor().get(&format!("/t/{tag}")).await.is(303);
}

#[tokio::test]
async fn a_mistyped_tag_says_which_character_is_suspect() {
    let house = house().await;
    let mut tags = Vec::new();
    for _ in 0..3 {
        let id = animal(&house, 1).await;
        tags.push(tag_of(&house, id).await);
    }
    let mut keeper = house.person("Bo", "keeper").await;
    let wrong = format!("O{}", &tags[2][1..]);
    assert!(!holds(&wrong));
    let shown =
        keeper.get(&format!("/t/{wrong}")).await.is(404).says("character 1 is “0”, not “O”").says("at least one character is mistyped");
    assert_eq!(shown.value("#text"), wrong);
    assert_eq!(shown.attribute("main ul a.tag", "href"), format!("/t/{}", tags[2]));
    let others = corrections(&wrong).into_iter().filter(|correction| !tags.contains(&correction.tag)).count();
    assert!(others > 0, "there are further corrections that hold");
    let in_house = corrections(&wrong).into_iter().filter(|correction| tags.contains(&correction.tag)).count();
    assert_eq!(shown.count("main ul a.tag"), in_house, "only those in the house are offered");
}

#[tokio::test]
async fn a_tag_that_holds_but_is_nobodys_says_so() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let tag = silkward::reckoning::tag::from_serial(4711);
    let shown = keeper.get(&format!("/t/{tag}")).await.is(404).says("well formed, but it is on no animal");
    assert_eq!(shown.value("#text"), tag);
}

#[tokio::test]
async fn absurd_tags_are_answered_and_not_echoed_as_markup() {
    let house = house().await;
    let mut keeper = house.person("Bo", "keeper").await;
    let long = "A".repeat(3000);
    for path in [format!("/t/{long}"), "/t/%3Cscript%3E".to_owned(), "/t/%00%07x".to_owned(), "/t/%20".to_owned()] {
        let shown = keeper.get(&path).await.is(404);
        assert!(!shown.text().contains("<script>"));
    }
    keeper.get("/t/%ff").await.is(404);
}
