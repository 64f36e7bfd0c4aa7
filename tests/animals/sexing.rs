//! A weak basis never overwrites a strong one.

use silkward::animals::model::sexing::{Verdict, judge};
use silkward::reckoning::words::{Sex, SexBasis};

use super::support::{animal, house};
use crate::support::Person;

async fn sexed(person: &mut Person, sex: &str, basis: &str) -> crate::support::Page {
    let version = person.get("/animals/1/sexed").await.ok().value("input[name=version]");
    person.submit("/animals/1/sexed", &[("sex", sex), ("basis", basis), ("version", version.as_str())]).await
}

#[tokio::test]
async fn a_stronger_basis_takes_the_place_of_a_weaker_one_only() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    sexed(&mut keeper, "male", "suspected").await.sent_to();
    sexed(&mut keeper, "female", "exuvium").await.sent_to();
    keeper.get("/animals/1").await.ok().says("Sexed: female, shed skin");
    let again = sexed(&mut keeper, "male", "suspected").await.is(422);
    again.says("It is in the book as female, shed skin. That is a stronger basis than suspected");
    sexed(&mut keeper, "male", "exuvium").await.is(422).says("tick the box");
    let version = keeper.get("/animals/1/sexed").await.ok().value("input[name=version]");
    let form = [("sex", "male"), ("basis", "exuvium"), ("confirm", "yes"), ("version", version.as_str())];
    keeper.submit("/animals/1/sexed", &form).await.sent_to();
    sexed(&mut keeper, "male", "mature").await.sent_to();
    keeper.get("/animals/1").await.ok().says("mature male (palpal bulbs)").says("cared for as adult");
}

#[tokio::test]
async fn a_lead_withdraws_a_wrong_sexing_and_a_keeper_does_not() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    sexed(&mut keeper, "female", "exuvium").await.sent_to();
    sexed(&mut keeper, "unknown", "none").await.is(422).says("withdrawn by the lead");
    let mut lead = house.person("Ada", "lead").await;
    sexed(&mut lead, "unknown", "none").await.sent_to();
    lead.get("/animals/1").await.ok().says("Sex unsexed not sexed");
}

#[tokio::test]
async fn a_stale_sexing_shows_what_it_reads_now() {
    let house = house().await;
    animal(&house, 1).await;
    let mut keeper = house.person("Bo", "keeper").await;
    sexed(&mut keeper, "female", "exuvium").await.sent_to();
    let form = [("sex", "male"), ("basis", "suspected"), ("version", "1")];
    let again = keeper.submit("/animals/1/sexed", &form).await.is(422);
    again.says("It now reads female, shed skin; yours is male, suspected");
}

#[test]
fn palpal_bulbs_are_never_a_females_and_nothing_is_said_twice() {
    let refused = |known, new| matches!(judge(known, new), Verdict::Refuse(_));
    assert!(refused((Sex::Unknown, SexBasis::None), (Sex::Female, SexBasis::Mature)));
    assert!(refused((Sex::Unknown, SexBasis::None), (Sex::Female, SexBasis::None)));
    assert!(refused((Sex::Female, SexBasis::Exuvium), (Sex::Female, SexBasis::Exuvium)));
    assert!(refused((Sex::Female, SexBasis::Exuvium), (Sex::Female, SexBasis::Suspected)));
    assert!(refused((Sex::Male, SexBasis::Mature), (Sex::Female, SexBasis::Exuvium)));
}
